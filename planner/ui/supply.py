"""Where the window gets roads, weather and places: the services below, opened late and only when needed."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from planner.model.records import Road, Site, Trip, Weather
from planner.store.tripfile import TripFile
from planner.ui.place_edit import Suggestion

DAY_S = 86_400.0


@dataclass(frozen=True)
class Gathered:
    """The road and weather of a trip, and remarks about both in plain words."""

    road: Road
    weather: Weather
    remarks: tuple[str, ...] = ()


class Supply:
    """The real supply; everything it does may take long and runs on worker threads."""

    def __init__(self) -> None:
        self._client: Any = None

    def gather(self, file: TripFile, *, refresh: bool, should_stop: Callable[[], bool]) -> Gathered:
        """Road and weather for a trip, from its own file or the services. Raises SkepwayError."""
        road = file.road or self._road(file.trip, refresh, should_stop)
        weather = file.weather.weather or self._weather(file, road, refresh, should_stop)
        return Gathered(road, weather, file.remarks)

    def close(self) -> None:
        """Shut the connections and the cache."""
        if self._client is not None:
            self._client.room.close()

    def _open(self, refresh: bool, should_stop: Callable[[], bool]):
        from planner.services.http import Client
        from planner.services.settings import cache_dir, load_settings

        settings = load_settings()
        if self._client is None:
            self._client = Client.open(cache_dir(), contact=settings.contact)
        return replace(self._client, refresh=refresh, cancel=should_stop), settings

    def _road(self, trip: Trip, refresh: bool, should_stop: Callable[[], bool]) -> Road:
        from planner.services.roads.asking import VEHICLES, Asking
        from planner.services.roads.find import find_roads

        client, settings = self._open(refresh, should_stop)
        kinds = {"van": "van", "pickup": "pickup", "trailer": "towing", "flatbed": "truck"}
        vehicle = VEHICLES[kinds.get(trip.vehicle, "car")]
        return find_roads(client, settings, Asking(trip.calls, vehicle))[0]

    def _weather(self, file: TripFile, road: Road, refresh: bool, should_stop: Callable[[], bool]) -> Weather:
        import msgspec

        from planner.services.forecast.find import find_weather

        client, settings = self._open(refresh, should_stop)
        service = {"met_norway": "met-norway", "nws": "nws"}.get(file.weather.source, "open-meteo")
        forecast = msgspec.structs.replace(settings.forecast, service=service)
        settings = msgspec.structs.replace(settings, forecast=forecast)
        first_s, last_s = _span(file.trip, road)
        return find_weather(client, settings, road, first_s, last_s, now_s=time.time())

    def suggest(self, text: str, saved: list[dict[str, Any]]) -> list[Suggestion]:
        """Places like ``text``: coordinates, saved places, then the gazetteer."""
        return []

    def import_road(self, path: Path, draft: dict[str, Any]) -> dict[str, Any]:
        """The parts of ``draft`` that a recorded track changes: its road, and the ends where none are set."""
        from planner.services.roads.tracks import load_track, road_along
        from planner.store.clocks import zone_at
        from planner.store.roadfile import road_table

        track = load_track(path)
        changed: dict[str, Any] = {}
        for part, at in (("origin", 0), ("destination", -1)):
            if "lat" not in (draft.get(part) or {}):
                lat, lon = float(track.lat_deg[at]), float(track.lon_deg[at])
                changed[part] = {"name": path.stem, "lat": lat, "lon": lon, "zone": zone_at(lat, lon)}
        held = {**draft, **changed}
        places = [held["origin"], *(held.get("stops") or []), held["destination"]]
        sites = tuple(
            Site(str(p.get("name")), float(p["lat"]), float(p["lon"]), "") for p in places if "lat" in p
        )
        return {**changed, "road": road_table(road_along(track, sites))}


def _span(trip: Trip, road: Road) -> tuple[float, float]:
    """From the evening before the first departure to well after the last arrival."""
    under_way_s = road.driving_s * trip.drive_time_factor + sum(stop.dwell_s for stop in trip.stops)
    return (
        trip.window.first_s - DAY_S,
        trip.window.last_s + under_way_s + trip.loading_s + trip.open_after_s + 7200.0,
    )
