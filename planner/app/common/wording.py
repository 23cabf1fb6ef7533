"""Words and figures that every answer shares: clocks, spans of time, an answer's shape, arrays for JSON."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from planner.model.parameters import ParameterTable
from planner.model.records import Bools, Floats
from planner.units import ends, whole
from planner.words import Voice, current

JSON_AGITATIONS = {"calm": "calm", "typical": "central", "agitated": "disturbed"}
"""What documents for machines have called the bees since the first edition; they stay readable."""

NO_STOP_BELOW_MIN = 5
"""Who may stand for less than so many minutes is told not to stop, on paper and on the screen."""

MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True)
class Said:
    """An answer in words: one sentence first, then sections of lines."""

    headline: str
    sections: tuple[tuple[str, tuple[str, ...]], ...]


def of_100_words(of_100: float, voice: Voice | None = None) -> str:
    """A share of 100 as every answer says it: a whole number; what rounds to none without being none says so."""
    voice = voice or current()
    return voice.say("answer.fewer_than_one") if 0.0 < of_100 < 0.5 else voice.number(whole(of_100))


def span_words(low: float, value: float, high: float) -> dict[str, str]:
    """A share of 100 with its interval as the gaps ``harm``, ``low`` and ``high`` of a sentence."""
    first, last = ends(low, high)
    return {"harm": of_100_words(value), "low": str(first), "high": str(last)}


def local(time_s: float, zone: str) -> datetime:
    """An instant on the wall clock of a zone."""
    return datetime.fromtimestamp(time_s, ZoneInfo(zone))


def clock_text(time_s: float, zone: str) -> str:
    """Weekday and time of day, e.g. ``Thursday 21:30``."""
    at = local(time_s, zone)
    return f"{at:%A} {at:%H:%M}"


def duration_text(seconds: float) -> str:
    """Hours and minutes, e.g. ``3 h 20 min``."""
    minutes = round(seconds / 60.0)
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours} h {rest:02d} min" if rest else f"{hours} h"


def runs(flags: Bools) -> list[tuple[int, int]]:
    """First and last index of every run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(np.int8), [0]))))
    return [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]


def lower_first(text: str) -> str:
    """A title inside a sentence."""
    return text[:1].lower() + text[1:]


def upper_first(text: str) -> str:
    """A text at the head of a sentence."""
    return text[:1].upper() + text[1:]


def roughly(value: float) -> float:
    """A value that is told as about so much, to two figures."""
    return float(f"{value:.2g}")


def finished(text: str) -> str:
    """A text as a sentence of its own, with its full stop."""
    return text if text.endswith((".", "!", "?", ":")) else f"{text}."


def numbers(values: Floats) -> Any:
    """An array as nested lists for JSON, with None for what is unknown or without end."""
    if values.ndim == 0:
        return round(float(values), 4) if np.isfinite(values) else None
    return [numbers(row) for row in values]


HEAT_DOUBT = (
    "The heat of confined, shaken bees is known within a factor of {known:.1f}; from calm to agitated bees it goes "
    "over a factor of {told:.1f} of that."
)


def heat_doubt(table: ParameterTable) -> str:
    """How well the heat of bees on the road is known, and how much of that the bracket of an answer spans."""
    name = "activity_driving"
    calm, _, agitated = (float(table.agitation_values(level)[name]) for level in (-1.0, 0.0, 1.0))
    row = table.rows[name]
    return HEAT_DOUBT.format(known=row.high / row.low, told=agitated / calm)
