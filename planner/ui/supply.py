"""Where the window gets roads, weather and places: the rooms below, opened late and only when needed."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.errors import InputError
from planner.model.records import Site
from planner.store.tripfile import TripFile
from planner.ui import strings as s
from planner.ui.map_view import Ground
from planner.ui.place_edit import Suggestion

if TYPE_CHECKING:
    from planner.app.inputs import Ready, Sources

TOWNS_FROM_PEOPLE = 5000
NEAR_KM = 25.0
OFFERED = 8


class Supply:
    """The real supply; everything it does may take long and runs on worker threads."""

    def __init__(self) -> None:
        self._sources: Sources | None = None
        self._opening = threading.Lock()

    def gather(self, file: TripFile, *, refresh: bool, should_stop: Callable[[], bool]) -> Ready:
        """Road and weather for a trip, from its own file or the services. Raises SkepwayError."""
        from planner.app.inputs import ready

        sources = self._open()
        asking = replace(sources, client=replace(sources.client, refresh=refresh, cancel=should_stop))
        return ready(file, asking, now_s=time.time())

    def close(self) -> None:
        """Shut the connections and the cache."""
        if self._sources is not None:
            self._sources.close()

    def _open(self) -> Sources:
        from planner.app.inputs import Sources

        with self._opening:
            if self._sources is None:
                self._sources = Sources.open()
        return self._sources

    def ground(self) -> Ground:
        """Land, borders and towns for the map. Raises StorageError."""
        from planner.services.places.gazetteer import gazetteer
        from planner.store.basemap import read_basemap

        base = read_basemap()
        names, lat_deg, lon_deg, people = gazetteer().larger_than(TOWNS_FROM_PEOPLE)
        return Ground(base.land, base.borders, tuple(names), lat_deg, lon_deg, people)

    def suggest(self, text: str, saved: list[dict[str, Any]]) -> list[Suggestion]:
        """Places like ``text``: coordinates, then saved places, then towns of the bundled gazetteer."""
        from planner.services.places.coordinates import looks_like_coordinates
        from planner.services.places.gazetteer import folded, gazetteer

        if looks_like_coordinates(text):
            return _point(text)
        kept = [place for place in saved if folded(text) in folded(str(place.get("name", "")))]
        own = [Suggestion(s.say(s.PLACE_SAVED, name=place["name"]), place) for place in kept]
        towns = [Suggestion(town.title, _place(town.site())) for town in gazetteer().search(text, OFFERED)]
        return [*own, *towns][:OFFERED]

    def import_road(self, path: Path, draft: dict[str, Any]) -> dict[str, Any]:
        """The parts of ``draft`` that a recorded track changes: its road, and the ends where none are set."""
        from planner.services.roads.tracks import load_track, road_along
        from planner.store.roadfile import road_table

        track = load_track(path)
        changed: dict[str, Any] = {}
        for part, at in (("origin", 0), ("destination", -1)):
            if "lat" not in (draft.get(part) or {}):
                changed[part] = _point(f"{track.lat_deg[at]:.5f}, {track.lon_deg[at]:.5f}")[0].place
        held = {**draft, **changed}
        places = [held["origin"], *(held.get("stops") or []), held["destination"]]
        sites = tuple(
            Site(str(p.get("name")), float(p["lat"]), float(p["lon"]), "") for p in places if "lat" in p
        )
        return {**changed, "road": road_table(road_along(track, sites))}


def _point(text: str) -> list[Suggestion]:
    """The place at typed coordinates, named after the nearest town."""
    from planner.services.places.coordinates import parse_coordinates
    from planner.services.places.gazetteer import gazetteer
    from planner.services.places.zone import zone_at

    try:
        lat, lon = parse_coordinates(text)
    except InputError:
        return []
    town, away_km = gazetteer().nearest(lat, lon)
    plain = f"{lat:.4f}, {lon:.4f}"
    name = s.say(s.PLACE_NEAR, town=town.name) if away_km < NEAR_KM else plain
    return [
        Suggestion(
            s.say(s.PLACE_POINT, name=name, point=plain), _place(Site(name, lat, lon, zone_at(lat, lon)))
        )
    ]


def _place(site: Site) -> dict[str, Any]:
    """A site in the words of the trip file."""
    held = {
        "name": site.name,
        "lat": round(site.lat_deg, 5),
        "lon": round(site.lon_deg, 5),
        "zone": site.zone,
    }
    return held if site.elevation_m is None else {**held, "elevation_m": site.elevation_m}
