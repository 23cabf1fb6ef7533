"""The weather of a lane: of its week from a file, one's own words or a forecast; or years of weather beside it."""

from __future__ import annotations

from dataclasses import replace

from planner.app.lane.journeys import road_of, trip_of
from planner.app.plan.inputs import Sources, ready
from planner.model.records import Weather
from planner.store.lanerecords import ParcelLane
from planner.store.tripfile import TripFile
from planner.store.typicalyear import read_year


def weather_of_lane(lane: ParcelLane, sources: Sources | None = None, *, now_s: float = 0.0) -> Weather:
    """The weather along the way.

    Raises
    ------
    InputError, StorageError, ServiceError, Cancelled
    """
    if lane.weather is None:
        assert lane.year is not None
        return read_year(lane.year)
    if lane.weather.weather is not None:
        return lane.weather.weather
    whole = trip_of(lane, [0] * len(lane.stages))
    trip = replace(
        whole, groups=(lane.group,)
    )  # for its weather alone: when each stage begins is drawn, not known
    return ready(TripFile(trip, road_of(lane), lane.weather), sources, now_s=now_s).weather
