"""The week of a lane as a picture: harm of 100 by day of posting, the day advised standing out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date

import numpy as np

from planner.app.answer.records import CLASSES
from planner.app.common.chart import Axis, Chart, Line, Mark, Rule, Tick, Tile
from planner.app.common.scale import CLASS_STEPS
from planner.app.common.wording import of_100_words
from planner.app.lane.records import LaneAnswer, Way
from planner.app.lane.words import day_words
from planner.store.rules import answer_rules
from planner.words import say

LEAST_TOP = 10.0
STEPS = ((20.0, 5.0), (50.0, 10.0), (math.inf, 20.0))
"""Up to so much harm, lines so far apart."""

EDGE, BESIDE = 0.2, 0.08
"""What a bar leaves free of its day at either side, and how far within its edge the interval stands."""


def best_of_days(answer: LaneAnswer) -> list[Way]:
    """The way that is best on each day of posting, in the order of the days."""
    of: dict[date, Way] = {} if answer.best is None else {answer.best.posting.day: answer.best}
    for way in answer.ways:
        of.setdefault(way.posting.day, way)
    return [of[day] for day in sorted(of)]


def week_chart(answer: LaneAnswer) -> Chart:
    """A bar for each day as high as its harm, its interval as a line, the tolerance across."""
    ways = best_of_days(answer)
    highs = [way.harm_of_100.high for way in ways if way.harm_of_100 is not None]
    most = max([LEAST_TOP, 1.2 * answer.tolerance.harm_of_100, *highs])
    step = next(step for up_to, step in STEPS if most <= up_to)
    top = step * math.ceil(most / step)
    at = np.arange(0.0, top + step / 2.0, step).tolist()
    return Chart(
        title=say("parcel.week_title", title=answer.lane.title),
        x=Axis(
            0.0, float(len(ways)), (tuple(_days(answer, ways)), tuple(map(_harm, range(len(ways)), ways)))
        ),
        y=Axis(0.0, top, (tuple(Tick(y, f"{y:g}") for y in at),), grid=True),
        marks=tuple(_marks(answer, ways, top)),
    )


def _days(answer: LaneAnswer, ways: list[Way]) -> Iterator[Tick]:
    for number, way in enumerate(ways):
        best = answer.best is not None and way.posting.day == answer.best.posting.day
        yield Tick(number + 0.5, day_words(answer, way.posting.day).split()[0], strong=best)


def _harm(number: int, way: Way) -> Tick:
    """What stands below a day: its harm, where anything is known of it."""
    harm = way.harm_of_100
    return Tick(number + 0.5, say("parcel.week_unknown") if harm is None else of_100_words(harm.value))


def _marks(answer: LaneAnswer, ways: list[Way], top: float) -> Iterator[Mark]:
    for number, way in enumerate(ways):
        left, right = number + EDGE, number + 1.0 - EDGE
        harm = way.harm_of_100
        if harm is None:
            yield Tile(left, right, 0.0, top, "unknown", 0.35, hatched=True)
            continue
        fill = CLASS_STEPS[CLASSES.index(answer_rules().class_of(harm.value))]
        yield Tile(left, right, 0.0, max(harm.value, top / 100.0), fill)
        yield Line(np.full(2, right - BESIDE), np.array([harm.low, harm.high]), "ink", 2.0)
    tolerance = answer.tolerance.harm_of_100
    yield Rule(tolerance, "y", "ink_faint", dash="4 3", text=say("parcel.week_accepted"))
