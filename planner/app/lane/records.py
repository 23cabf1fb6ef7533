"""What the answer about a lane is made of: frozen results."""

from __future__ import annotations

from dataclasses import dataclass

from planner.app.answer.records import DecisionName, Span, StandingName, Tolerance
from planner.app.lane.calendar import Posting
from planner.store.lanerecords import ParcelLane


@dataclass(frozen=True, slots=True)
class Way:
    """One day of posting with one set-up: harm in so many samples."""

    posting: Posting
    setup: str
    harm_of_100: Span | None
    standing: StandingName
    samples: int


@dataclass(frozen=True, slots=True)
class Blame:
    """Harmed journeys whose first harm came in a stage: so many of all that are harmed, and of 100."""

    stage: int
    harmed: int
    of: int

    @property
    def of_100(self) -> float:
        return round(100.0 * self.harmed / self.of, 1)


@dataclass(frozen=True, slots=True)
class Question:
    """What to ask the carrier: harm where the stage's place is this one, and where it is another."""

    stage: int
    place: str
    there: Span
    elsewhere: Span


@dataclass(frozen=True)
class LaneAnswer:
    """The answer for one week.

    ``ways`` of the best day, every set-up, and of the other days, the best of each; ``best`` the one advised.
    ``late_harm`` where it comes a day late. ``cold_share`` of harmed journeys harmed by cold alone. ``outside_c``
    (low, high) (sample, 2) of the air around the parcel, for public figures.
    """

    lane: ParcelLane
    tolerance: Tolerance
    decision: DecisionName
    best: Way | None
    ways: tuple[Way, ...]
    late_harm: Span | None
    late_ok: bool
    blame: tuple[Blame, ...]
    questions: tuple[Question, ...]
    cold_share: float
    ticked: bool
    hours: tuple[float, float, float]
    samples: int
    seed: int
    late_of_100: float
    source: str
