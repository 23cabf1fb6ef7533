"""Where the window gets roads, weather and places: the rooms below, opened late and only when needed."""

from __future__ import annotations

import math
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.model.records import Site
from planner.store.tripfile import TripFile
from planner.ui.look import strings as s
from planner.ui.map.map_ground import Ground
from planner.ui.trip.place_edit import Suggestion
from planner.ui.work.keys import with_keys

if TYPE_CHECKING:
    from planner.app.plan.inputs import Beside, Ready, Sources
    from planner.model.records import Weather
    from planner.services.geocoding.gazetteer import Town
    from planner.store.climates import Near

TOWNS_FROM_PEOPLE = 5000
OFFERED, LOOKED_AT = 8, 80
"""So many places are offered while a name is typed, the best of so many looked at."""
CLOSE_DEG = 0.05
NEAR_KM = 60.0
AT_HOME, EXACT = 2.5, 1.5
"""What the user's own country, and just the name typed, count for beside tenfold more people, which count for 1."""


class DataSource:
    """The real sources; everything it does may take long and runs on worker threads."""

    def __init__(self) -> None:
        self._sources: Sources | None = None
        self._opening = threading.Lock()

    def gather(self, file: TripFile, *, refresh: bool, should_stop: Callable[[], bool]) -> Ready:
        """Road and weather for a trip, from its own file or the services. Raises SkepwayError."""
        from planner.app.plan.inputs import ready

        sources = self._open()
        asking = replace(sources, client=replace(sources.client, refresh=refresh, cancel=should_stop))
        return ready(file, asking, now_s=time.time())

    def tolerance(self) -> tuple[float | None, float | None]:
        """How much harm the user accepts where a trip does not say: of 100 variants, of 100 boxes."""
        own = self._open().settings.tolerance
        return own.harm_of_100, own.boxes_of_100

    def members(self, given: Ready, should_stop: Callable[[], bool]) -> tuple[Weather, ...]:
        """The members of the ensemble forecast along a planned trip. Raises SkepwayError."""
        from planner.app.plan.inputs import ensemble_members

        sources = self._open()
        asking = replace(sources, client=replace(sources.client, cancel=should_stop))
        return ensemble_members(given, asking)

    def typical(self, path: Path, draft: Mapping[str, Any]) -> dict[str, Any]:
        """The weather part of a trip out of the file of a typical year. Raises SkepwayError."""
        from planner.app.asking.typical import typical_table

        return typical_table(path, draft)

    def carried_year(self, start: Mapping[str, Any]) -> Near | None:
        """The typical year that is carried for near a place of the draft and how far off, if there is one."""
        from planner.store.climates import nearest

        if "lat" not in start or "lon" not in start:
            return None
        near = nearest(float(start["lat"]), float(start["lon"]))
        return near if near.serves else None

    def beside(self, given: Ready, should_stop: Callable[[], bool]) -> Beside | None:
        """The forecast to both sides of a trip's road, or None where there is none. Raises SkepwayError."""
        from planner.app.plan.inputs import beside

        sources = self._open()
        asking = replace(sources, client=replace(sources.client, cancel=should_stop))
        return beside(given, asking, now_s=time.time())

    def close(self) -> None:
        """Shut the connections and the cache."""
        if self._sources is not None:
            self._sources.close()

    def _open(self) -> Sources:
        from planner.app.plan.inputs import Sources

        with self._opening:
            if self._sources is None:
                opened = Sources.open()
                self._sources = replace(opened, settings=with_keys(opened.settings))
        return self._sources

    def agent(self) -> str:
        """How the program names itself to servers, with the user's contact."""
        return str(self._open().client.transport.agent)

    def tile_folder(self) -> Path:
        """Where street tiles are kept."""
        from planner.folders import cache_dir

        return cache_dir() / "tiles"

    def ground(self) -> Ground:
        """Land, borders and towns for the map. Raises StorageError."""
        from planner.services.geocoding.gazetteer import gazetteer
        from planner.store.basemap import read_basemap

        base = read_basemap()
        names, lat_deg, lon_deg, people = gazetteer().larger_than(TOWNS_FROM_PEOPLE)
        return Ground(base.land, base.borders, tuple(names), lat_deg, lon_deg, people)

    def suggest(
        self, text: str, near: Sequence[tuple[float, float]] = (), country: str = ""
    ) -> list[Suggestion]:
        """Places like ``text``: coordinates, the user's own, then towns by name, country, nearness and size.

        Parameters
        ----------
        near : latitude and longitude of the places the trip has already
        country : two letters of the country whose towns are meant before their namesakes
        """
        from planner.app.asking.place_names import suggest
        from planner.services.geocoding.gazetteer import gazetteer

        own = [one for one in suggest(text, near) if one.origin != "gazetteer"]
        told = [
            _point(one.site) if one.origin == "coordinates" else Suggestion(one.title, _place(one.site))
            for one in own
        ]
        towns = gazetteer().search(text, LOOKED_AT)
        wanted = text.partition(",")[0].strip().casefold()
        ranked = sorted(towns, key=lambda town: -_weight(town, wanted, near, country))
        found = [Suggestion(town.title, _place(town.site()), _region(town)) for town in ranked]
        return [*told, *found][:OFFERED]

    def find(
        self, text: str, near: Sequence[tuple[float, float]] = (), country: str = ""
    ) -> list[Suggestion]:
        """Places for a text that is complete: as suggested, else asked online where the user has switched that on."""
        from planner.services.geocoding.geocode import geocode, geocoding_is_on

        found = self.suggest(text, near, country)
        sources = self._open()
        if found or not geocoding_is_on(sources.settings):
            return found
        return [
            Suggestion(title, _place(site)) for title, site in geocode(sources.client, sources.settings, text)
        ]

    def find_all(
        self, texts: Sequence[str], near: Sequence[tuple[float, float]] = (), country: str = ""
    ) -> dict[str, dict[str, Any]]:
        """The best place for each of several texts; each found one helps to tell the namesakes of the next."""
        known: dict[str, dict[str, Any]] = {}
        points = list(near)
        for text in dict.fromkeys(texts):
            found = self.find(text, points, country)
            if found:
                known[text] = found[0].place
                points.append((found[0].place["lat"], found[0].place["lon"]))
        return known

    def region(self, place: dict[str, Any]) -> str:
        """The region and country a place lies in, by the nearest town of its name, else by the nearest of all."""
        from planner.services.geocoding.gazetteer import gazetteer

        lat, lon = float(place["lat"]), float(place["lon"])
        namesakes = gazetteer().search(str(place.get("name") or ""), LOOKED_AT)
        close = [town for town in namesakes if abs(town.lat_deg - lat) + abs(town.lon_deg - lon) < CLOSE_DEG]
        return _region(close[0] if close else gazetteer().nearest(lat, lon)[0])

    def remember(self, place: dict[str, Any]) -> None:
        """Keep a place under its name. Raises SkepwayError."""
        from planner.services.geocoding.saved import save_place

        save_place(
            Site(place["name"], place["lat"], place["lon"], place.get("zone", ""), place.get("elevation_m"))
        )

    def import_road(self, path: Path, draft: dict[str, Any]) -> dict[str, Any]:
        """The parts of ``draft`` that a recorded track changes: its road, and the ends where none are set."""
        from planner.services.roads.tracks import load_track, road_along
        from planner.store.roadfile import road_table

        track = load_track(path)
        changed: dict[str, Any] = {}
        for part, at in (("origin", 0), ("destination", -1)):
            if "lat" not in (draft.get(part) or {}):
                changed[part] = self.suggest(f"{track.lat_deg[at]:.5f}, {track.lon_deg[at]:.5f}")[0].place
        held = {**draft, **changed}
        places = [held["origin"], *(held.get("stops") or []), held["destination"]]
        sites = tuple(
            Site(str(p.get("name")), float(p["lat"]), float(p["lon"]), "") for p in places if "lat" in p
        )
        return {**changed, "road": road_table(road_along(track, sites))}


def _weight(town: Town, wanted: str, near: Sequence[tuple[float, float]], country: str) -> float:
    """How likely a town is the one meant: its name, its size, its country, its distance from the trip's places."""
    from planner.services.geocoding.gazetteer import folded

    away_km = min((_apart_km(town, *point) for point in near), default=NEAR_KM)
    at_home = AT_HOME if country and town.country_code == country else 0.0
    exact = EXACT if folded(town.name) == folded(wanted) else 0.0
    return math.log10(town.people + 500.0) + at_home + exact - 2.0 * math.log10(1.0 + away_km / NEAR_KM)


def _apart_km(town: Town, lat_deg: float, lon_deg: float) -> float:
    """Kilometres as the crow flies, near enough to rank by."""
    east = (town.lon_deg - lon_deg + 180.0) % 360.0 - 180.0
    return 111.2 * math.hypot(town.lat_deg - lat_deg, east * math.cos(math.radians(town.lat_deg)))


def _region(town: Town) -> str:
    return ", ".join(part for part in (town.region, town.country) if part)


def _point(site: Site) -> Suggestion:
    """A point given by coordinates, named after the nearest town."""
    from planner.app.asking.place_names import nearest_town

    town = nearest_town(site)
    if not town:
        return Suggestion(site.name, _place(site))
    named = replace(site, name=s.say(s.PLACE_NEAR, town=town))
    return Suggestion(s.say(s.PLACE_POINT, name=named.name, point=site.name), _place(named))


def _place(site: Site) -> dict[str, Any]:
    """A site in the words of the trip file."""
    held = {
        "name": site.name,
        "lat": round(site.lat_deg, 5),
        "lon": round(site.lon_deg, 5),
        "zone": site.zone,
    }
    return held if site.elevation_m is None else {**held, "elevation_m": site.elevation_m}
