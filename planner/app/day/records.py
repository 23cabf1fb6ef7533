"""What a planned day is made of: frozen results that the board, the papers and the command line read.

Instants are POSIX seconds UTC; shares "of 100" as in the one answer.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.app.answer.records import DecisionName, Span, Tolerance
from planner.model.records import Weather
from planner.store.dayrecords import ClosingMode, Day

ShortSort = Literal["hands", "screens", "straps", "boxes", "evening", "dawn", "kind", "shade"]
SORTS: tuple[ShortSort, ...] = ("hands", "screens", "straps", "boxes", "evening", "dawn", "kind", "shade")
WhyName = Literal["short", "harm", "unknown", "times", "drive"]


@dataclass(frozen=True, slots=True)
class Appointment:
    """When a buyer comes, for which boxes, shut when and how.

    ``buyer`` numbers the day's; ``bays`` numbers of the shade from 1, none where the boxes never wait shut in the
    sun's hours; ``order`` counts in the slot from 1. ``harm_of_100`` share of samples with a box harmed,
    ``boxes_harmed`` expected. ``moved_from_s`` the slot told before, where it is another.
    """

    buyer: int
    slot_s: float
    boxes: tuple[str, ...]
    setup: str
    closing: ClosingMode
    closed_s: float
    leave_s: float
    arrive_s: float
    open_s: float
    decision: DecisionName
    harm_of_100: Span
    boxes_harmed: Span
    samples: int
    bays: tuple[int, ...] = ()
    order: int = 1
    moved_from_s: float | None = None

    @property
    def shut_h(self) -> float:
        """Hours from shutting to opening."""
        return (self.open_s - self.closed_s) / 3600.0


@dataclass(frozen=True, slots=True)
class PutOff:
    """A buyer who cannot come on the day: ``least_of_100`` harm in the best of the slots that suit, None unknown.

    ``samples`` behind that figure. ``next_day_s`` in the next day on which some slot is safe, None where none is found.
    """

    buyer: int
    decision: DecisionName
    why: WhyName
    least_of_100: float | None = None
    next_day_s: float | None = None
    samples: int = 0


@dataclass(frozen=True, slots=True)
class Short:
    """So much more of one thing would do; ``at_s`` of the slot, None for what counts all day."""

    sort: ShortSort
    amount: float
    at_s: float | None = None


@dataclass(frozen=True)
class DayPlan:
    """A whole day planned.

    ``appointments`` by time; ``short`` what would serve ``short_serves`` more; ``samples`` behind the table,
    ``finished``: this is the last and sharpest answer; ``exact``: proved that no fewer could be put off;
    ``days_ahead`` on which another slot was looked for, as far as the weather reaches, None where nobody looked yet.
    """

    day: Day
    weather: Weather
    tolerance: Tolerance
    appointments: tuple[Appointment, ...]
    put_off: tuple[PutOff, ...]
    short: tuple[Short, ...]
    short_serves: int
    samples: int
    seed: int
    finished: bool
    exact: bool
    days_ahead: int | None = None

    def of(self, buyer: int) -> Appointment | None:
        """The appointment of a buyer, None where put off."""
        return next((one for one in self.appointments if one.buyer == buyer), None)
