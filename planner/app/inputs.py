"""What a plan needs beside the trip itself: a road and the weather along it, from the file or from outside."""

from __future__ import annotations

from dataclasses import dataclass

from planner.errors import Fault, InputError
from planner.model.records import Road, Trip, Weather
from planner.store.tripfile import TripFile


@dataclass(frozen=True)
class Ready:
    """A trip with everything needed to plan it."""

    trip: Trip
    road: Road
    weather: Weather
    remarks: tuple[str, ...] = ()


def ready(found: TripFile) -> Ready:
    """The trip with its road and weather. Raises InputError where one of them is missing."""
    faults = []
    if found.road is None:
        faults.append(Fault("legs", "", "there is no road", "Give legs, or a route with points"))
    if found.weather.weather is None:
        faults.append(Fault("weather", found.weather.source, "there is no weather", "Name a weather file"))
    if found.road is None or found.weather.weather is None:
        raise InputError(faults)
    return Ready(found.trip, found.road, found.weather.weather, found.remarks)
