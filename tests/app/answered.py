"""Tiny trips answered: few departures, short roads, few samples; and random ones, always the same by their number."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from planner.app.answer.ask import Asked, ask
from planner.app.answer.records import Answer
from planner.app.answer.words import worded
from planner.model.records import Closing, Group, Road, Stop, Trip, Weather
from tests.model.scenarios import DAY_S, HIVE, HOUR_S, NUC, SUMMER, catalogue, road, trip, weather

FEW = (8, 32, 64)
"""Samples after each round of a test: enough to be within a tolerance where none is harmed."""

PLACES = ("open_trailer", "cabin_windows_open", "boot_dark", "pickup_canopy_shut_dark")
NIGHT = SUMMER + DAY_S + 21.0 * HOUR_S


def tiny(
    groups: Group | Sequence[Group] = NUC,
    places: str | Sequence[str] = "open_trailer",
    *,
    leave_s: float = NIGHT,
    departures: int = 2,
    closing: Closing | None = None,
    stops: Sequence[Stop] = (),
    **more: object,
) -> Trip:
    """A trip of a few hourly departures."""
    last_s = leave_s + (departures - 1) * HOUR_S
    return trip(groups, places, leave_s=leave_s, last_s=last_s, closing=closing, stops=stops, **more)


def asked(
    planned: Trip,
    low_c: float = 12.0,
    high_c: float = 22.0,
    *,
    way: Road | None = None,
    sky: Weather | None = None,
    counts: tuple[int, ...] = FEW,
    **more: object,
) -> Asked:
    """The trip asked about, on a road of an hour and in the same day over and over."""
    way = way or road(1.0, 60.0, waypoints=2 + len(planned.stops))
    sky = sky or weather(low_c, high_c, planned.window.first_s - planned.window.first_s % DAY_S - DAY_S)
    return ask(planned, way, sky, catalogue(), counts=counts, **more)


def answered(planned: Trip, low_c: float = 12.0, high_c: float = 22.0, **more: object) -> Answer:
    """The finished answer with its words."""
    return worded(asked(planned, low_c, high_c, **more).answer(finished=True), catalogue())


def drawn_trip(number: int) -> tuple[Trip, Road, Weather]:
    """A random trip of at most 60 candidates with its road and weather."""
    rng = np.random.default_rng(number)
    kinds = [NUC, replace(NUC, label="small", frames_of_bees=2.5), HIVE]
    picked = rng.choice(len(kinds), size=rng.integers(1, 3), replace=False)
    groups = [replace(kinds[i], count=int(rng.integers(1, 4))) for i in picked]
    pool = PLACES if HIVE not in [kinds[i] for i in picked] else PLACES[:1] + PLACES[3:]
    places = [str(name) for name in rng.choice(pool, size=rng.integers(1, 3), replace=False)]
    hours = float(rng.uniform(0.5, 2.0))
    leave_s = SUMMER + DAY_S + float(rng.integers(0, 24)) * HOUR_S
    low_c = float(rng.uniform(-2.0, 24.0))
    sky = weather(low_c, low_c + float(rng.uniform(4.0, 16.0)), SUMMER, days=4)
    rule = str(rng.choice(["after_sunset", "at_loading", "before_sunrise"]))
    planned = tiny(
        groups,
        places,
        leave_s=leave_s,
        departures=int(rng.integers(1, 4)),
        closing=Closing(rule, fixed=bool(rng.random() < 0.3)),  # type: ignore[arg-type]
    )
    return planned, road(hours, 70.0), sky
