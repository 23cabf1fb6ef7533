"""The weather of a collection day: from its file, from the user's own words, or from a forecast for the yard."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from planner.app.day.serving.drives import road_of, trip_of
from planner.app.plan.inputs import Sources, ready
from planner.model.records import DepartureWindow, Weather
from planner.store.dayrecords import Buyer, Day
from planner.store.tripfile import TripFile

AHEAD_DAYS = 7
"""So far ahead another day is looked for."""
DAY_S = 86_400.0
LONGEST_S = 4 * 3600.0


def weather_of_day(day: Day, sources: Sources | None = None, *, now_s: float = 0.0) -> Weather:
    """The weather at the yard from the evening before to the end of the week after.

    Raises
    ------
    InputError, ServiceError, Cancelled
    """
    if day.weather.weather is not None:
        return day.weather.weather
    groups = [day.boxes[0].group] if day.boxes else []
    trip = trip_of(day, groups, (), with_stop=False)
    first_s, last_s = day.slots.begin_s[0], day.slots.begin_s[-1] + AHEAD_DAYS * DAY_S
    trip = replace(trip, window=DepartureWindow(first_s, last_s, DAY_S))
    found = TripFile(trip, road_of(day.yard, LONGEST_S, with_stop=False), day.weather)
    return ready(found, sources, now_s=now_s).weather


def days_later(day: Day, days: int, buyers: tuple[Buyer, ...]) -> Day:
    """The same day so many days later with some of the buyers, none of whom was told anything."""

    def later(at_s: float) -> float:
        return at_s + days * DAY_S

    def spans(given: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((later(a), later(b)) for a, b in given)

    return replace(
        day,
        date=day.date + timedelta(days=days),
        slots=replace(day.slots, begin_s=tuple(map(later, day.slots.begin_s))),
        shade_spans=spans(day.shade_spans),
        boxes=tuple(replace(box, ready_s=float("nan")) for box in day.boxes),
        buyers=tuple(
            replace(b, spans=spans(b.spans), wish_s=later(b.wish_s), told_s=float("nan")) for b in buyers
        ),
    )
