"""A stretch of whole hours that weather is asked for."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from datetime import UTC, datetime

from planner.services.http import UnreadableError
from planner.words import say

DAY_S = 86_400.0
HOUR_S = 3600.0


@dataclass(frozen=True, slots=True)
class Span:
    """Whole UTC hours from first to last, both included; POSIX seconds."""

    first_s: float
    last_s: float

    def text(self, pattern: str) -> tuple[str, str]:
        """Both ends written by a pattern of ``strftime``."""
        first, last = (datetime.fromtimestamp(t, UTC).strftime(pattern) for t in (self.first_s, self.last_s))
        return first, last


def instant_s(moment: datetime) -> float:
    """POSIX seconds of a time a service gives; raises UnreadableError for one without a zone.

    Every service documents its times with an offset; without one they could be anybody's.
    """
    if moment.tzinfo is None:
        raise UnreadableError(say("services.time_answer_names", value=str(moment.isoformat())))
    return moment.timestamp()


def since(span: Span, issued_s: float) -> Span:
    """What a forecast must tell of a span: no hour before it was made; one that claims to come from later came now."""
    return Span(max(span.first_s, min(issued_s, time.time())), span.last_s)


def whole_days(first_s: float, last_s: float) -> Span:
    """The whole UTC days that hold every hour from ``first_s`` to ``last_s`` and one hour after."""
    start_s = math.floor(first_s / DAY_S) * DAY_S
    return Span(start_s, math.ceil((last_s + HOUR_S) / DAY_S) * DAY_S - HOUR_S)
