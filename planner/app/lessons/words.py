"""A season's lessons in words, as a table for machines and as a picture of chances against what came."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.app.common.chart import Axis, Chart, Dots, Line, Tick
from planner.app.common.svg import chart_svg
from planner.app.lessons.season import LEAST_BOXES, Lessons, Rate
from planner.words import say


@dataclass(frozen=True)
class LessonWords:
    """The season first, what stands out, all rates, the chances, cautions."""

    headline: str
    stands_out: tuple[str, ...]
    rates: tuple[str, ...]
    chances: tuple[str, ...]
    cautions: tuple[str, ...]


def in_words(found: Lessons) -> LessonWords:
    """Put a season into words."""
    whole = found.whole
    if not whole.boxes:
        return LessonWords(say("lessons.none"), (), (), (), ())
    few = sum(count for _, count in found.few)
    cautions = [say("lessons.caution_cause")]
    if found.few:
        cautions.append(say("lessons.few", count=len(found.few), boxes=few, least=LEAST_BOXES))
    return LessonWords(
        headline=say(
            "lessons.headline",
            count=whole.boxes,
            lost=whole.lost,
            low=_of_100(whole.low),
            high=_of_100(whole.high),
        ),
        stands_out=tuple(_standing_out(found)) or (say("lessons.nothing_stands_out"),),
        rates=tuple(_line(rate) for rate in found.rates),
        chances=tuple(_chances(found)),
        cautions=tuple(cautions),
    )


def _standing_out(found: Lessons) -> Iterator[str]:
    season = found.whole.middle
    for rate in found.rates:
        if rate.low > season:
            yield say("lessons.worse", level=title(rate), middle=_of_100(rate.middle), season=_of_100(season))
        elif rate.high < season:
            yield say(
                "lessons.better", level=title(rate), middle=_of_100(rate.middle), season=_of_100(season)
            )


def _line(rate: Rate) -> str:
    return say(
        "lessons.rate",
        level=title(rate),
        count=rate.boxes,
        lost=rate.lost,
        middle=_of_100(rate.middle),
        low=_of_100(rate.low),
        high=_of_100(rate.high),
    )


def title(rate: Rate) -> str:
    """A level with the factor it belongs to."""
    return say(f"lessons.factor_{rate.factor}", level=rate.level)


def _of_100(share: float) -> str:
    return f"{100.0 * share:.1f}"


def _chances(found: Lessons) -> Iterator[str]:
    if not found.bins:
        yield say("lessons.no_chances")
        return
    for each in found.bins:
        yield say(
            "lessons.bin",
            count=each.boxes,
            predicted=_of_100(each.predicted),
            came=_of_100(each.came),
            low=_of_100(each.low),
            high=_of_100(each.high),
        )
    key = "lessons.brier_better" if found.brier < found.brier_flat else "lessons.brier_no_better"
    yield say(key, brier=f"{found.brier:.4f}", flat=f"{found.brier_flat:.4f}")


def as_document(found: Lessons, said: LessonWords) -> dict[str, Any]:
    """A season for machines."""

    def plain(rate: Rate) -> dict[str, Any]:
        ends = {"low": round(rate.low, 5), "middle": round(rate.middle, 5), "high": round(rate.high, 5)}
        return {"factor": rate.factor, "level": rate.level, "boxes": rate.boxes, "lost": rate.lost, **ends}

    known = bool(np.isfinite(found.brier))
    return {
        "skepway_lessons": 1,
        "text": said.headline,
        "season": plain(found.whole),
        "rates": [plain(rate) for rate in found.rates],
        "few": [{"level": level, "boxes": boxes} for level, boxes in found.few],
        "bins": [
            {
                "boxes": b.boxes,
                "predicted": round(b.predicted, 4),
                "low": round(b.low, 4),
                "came": round(b.came, 4),
                "high": round(b.high, 4),
            }
            for b in found.bins
        ],
        "brier": round(found.brier, 5) if known else None,
        "brier_flat": round(found.brier_flat, 5) if known else None,
    }


def calibration_chart(found: Lessons) -> Chart:
    """The chance of no harm that boxes were given, across; the share that came to none, up; on the line is right."""
    shares = [each.predicted for each in found.bins] + [each.low for each in found.bins]
    low = min([0.9, *shares])
    low = np.floor(10.0 * low) / 10.0
    ticks = tuple(Tick(float(at), f"{100 * at:.0f}") for at in np.linspace(low, 1.0, 6))
    bars = tuple(
        Line(np.array([b.predicted, b.predicted]), np.array([b.low, b.high]), "ink_soft", 1.6)
        for b in found.bins
    )
    dots = Dots(
        np.array([b.predicted for b in found.bins]),
        np.array([b.came for b in found.bins]),
        "ink",
        4.0,
        say("lessons.dot"),
    )
    even = Line(np.array([low, 1.0]), np.array([low, 1.0]), "ink_faint", 1.0, "4 3", say("lessons.even"))
    return Chart(
        title=say("lessons.chart_title"),
        x=Axis(low, 1.0, (ticks,), say("lessons.chart_x"), grid=True),
        y=Axis(low, 1.0, (ticks,), say("lessons.chart_y"), grid=True),
        marks=(even, *bars, *((dots,) if found.bins else ())),
    )


def calibration_svg(found: Lessons) -> str:
    """The picture on paper."""
    return chart_svg(calibration_chart(found), 560.0, 480.0)
