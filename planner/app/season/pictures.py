"""A season as a chart: weeks across, hours down, coloured by the share of variants without harm."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import numpy as np

from planner.app.common.chart import Axis, Chart, Key, Ramp, Tick, Tile
from planner.app.common.scale import SAFE_SHARE
from planner.app.common.svg import chart_svg
from planner.app.common.wording import MONTHS
from planner.app.season.chart import HOURS, WEEKS, Season
from planner.app.season.words import weather_text
from planner.model.records import Bools
from planner.words import say

UNKNOWN_OPACITY = 0.35


def season_svg(found: Season) -> str:
    """The chart on paper."""
    return chart_svg(season_chart(found), 960.0, 470.0)


def season_chart(found: Season, *, agitated: bool = False) -> Chart:
    """Pale is little harm; a spot marks what is within what is accepted, a ring hours at which no variant is harmed.

    ``agitated`` colours by the share of days on which not even the most agitated variant is harmed.
    """
    shares = found.robust_share if agitated else found.safe_share
    whose = "days without any harm" if agitated else "variants without harm"
    return Chart(
        title=say(
            "season.share_of_by_week",
            whose=whose,
            weather=weather_text(found),
            variants=found.variants,
            source=found.source,
        ),
        x=Axis(0.0, float(WEEKS), (_months(),)),
        y=Axis(float(HOURS), 0.0, (tuple(Tick(h + 0.5, f"{h:02d}:00") for h in range(0, HOURS, 3)),)),
        marks=(*_unknown(np.asarray((found.days > 0).any(axis=1))), *_cells(found, shares)),
        legend=(
            Ramp(SAFE_SHARE, tuple(f"{100 * mark:.0f} %" for mark in SAFE_SHARE.marks), whose),
            Key(say("season.key_within"), SAFE_SHARE.step(1.0), "spot"),
            Key(say("season.key_none"), SAFE_SHARE.step(1.0), "ring"),
            Key("not known", "unknown", hatched=True),
        ),
    )


def _cells(found: Season, shares: np.ndarray) -> Iterator[Tile]:
    steps = SAFE_SHARE.steps(shares)
    for week, hour in np.argwhere(found.days > 0).tolist():
        none = found.robust_share[week, hour] == 1.0
        sign = "" if not found.within[week, hour] else "ring" if none else "spot"
        yield Tile(week, week + 1, hour, hour + 1, int(steps[week, hour]), sign=sign, gap=1.0)


def _unknown(known: Bools) -> Iterator[Tile]:
    """One hatched field for every run of weeks of which no day is known."""
    edges = np.flatnonzero(np.diff(np.concatenate(([True], known, [True])).astype(np.int8)))
    for first, last in zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True):
        yield Tile(first, last, 0, HOURS, "unknown", UNKNOWN_OPACITY, hatched=True)


def _months() -> tuple[Tick, ...]:
    """The month's name in its middle; of a common year."""
    begins = [(date(2027, month, 1) - date(2027, 1, 1)).days / 7.0 for month in range(1, 13)]
    ends = [*begins[1:], 365.0 / 7.0]
    return tuple(Tick((one + two) / 2.0, name) for one, two, name in zip(begins, ends, MONTHS, strict=True))
