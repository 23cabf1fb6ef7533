"""The limits of the one answer, from ``resources/limits.toml``: classes of harm, tolerance, closings, legal breaks."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from typing import Any

from planner.bundled import resource_path
from planner.units import whole


@dataclass(frozen=True, slots=True)
class BreakRule:
    """After so much driving the law asks for a break of so long, in these time zones.

    A name of ``zones`` that ends in a slash stands for all that begin with it. After ``daily_driving_s`` of driving in
    all, on some days after ``daily_longest_s``, it asks one driver for a rest of ``daily_rest_s``, by ``daily_law``.
    """

    zones: tuple[str, ...]
    driving_s: float
    break_s: float
    law: str
    daily_driving_s: float
    daily_longest_s: float
    daily_rest_s: float
    daily_law: str

    def holds_in(self, zone: str) -> bool:
        """Whether a time zone lies where this law holds."""
        return any(zone == name or (name.endswith("/") and zone.startswith(name)) for name in self.zones)


@dataclass(frozen=True)
class AnswerRules:
    """``classes`` names with the last share of 100 that belongs to each; delays in seconds."""

    classes: tuple[tuple[str, float], ...]
    harm_of_100: float
    boxes_of_100: float
    evening_s: float
    dawn_s: float
    foragers_weigh_h: float
    left_of_100: float
    no_flight_below_c: float
    breaks: tuple[BreakRule, ...]

    def breaks_in(self, zone: str) -> BreakRule | None:
        """The law on breaks where a time zone lies; None where none is known."""
        return next((rule for rule in self.breaks if rule.holds_in(zone)), None)

    def class_of(self, harm_of_100: float) -> str:
        """The word for a share of variants with harm, 0 to 100; the edges are those of the figure that is shown."""
        shown = whole(harm_of_100)
        return next(name for name, last in self.classes if shown <= last)


@cache
def answer_rules() -> AnswerRules:
    """The bundled limits."""
    table: dict[str, Any] = tomllib.loads(resource_path("limits.toml").read_text(encoding="utf-8"))
    closing, tolerance = table["closing"], table["tolerance"]
    return AnswerRules(
        classes=tuple((name, float(last)) for name, last in table["classes"].items()),
        harm_of_100=float(tolerance["harm_of_100"]),
        boxes_of_100=float(tolerance["boxes_of_100"]),
        evening_s=60.0 * closing["evening_minutes"],
        dawn_s=60.0 * closing["dawn_minutes"],
        foragers_weigh_h=float(closing["foragers_weigh_h"]),
        left_of_100=float(closing["left_of_100"]),
        no_flight_below_c=float(closing["no_flight_below_c"]),
        breaks=tuple(
            BreakRule(
                zones=tuple(row["zones"]),
                driving_s=3600.0 * row["driving_h"],
                break_s=60.0 * row["minutes"],
                law=row["law"],
                daily_driving_s=3600.0 * row["daily_driving_h"],
                daily_longest_s=3600.0 * row["daily_longest_h"],
                daily_rest_s=3600.0 * row["daily_rest_h"],
                daily_law=row["daily_law"],
            )
            for row in table["breaks"]
        ),
    )
