"""What the one answer is made of: frozen results that every face of the program reads and none computes.

Instants are POSIX seconds UTC, temperatures C, differences K, shares 0 to 1, "of 100" 0 to 100. A figure nobody knows
is ``None``, never NaN. ``documents.py`` writes these records for machines, ``words.py`` says them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from planner.app.plan.breaks import PutIn
from planner.app.plan.plan import MissName
from planner.model.limits import VERDICTS
from planner.model.records import Floats, Road, Trip, Weather

DecisionName = Literal["go", "go_if", "do_not_go", "cannot_tell"]
GO, GO_IF, DO_NOT_GO, CANNOT_TELL = "go", "go_if", "do_not_go", "cannot_tell"
DECISIONS = (GO, GO_IF, DO_NOT_GO, CANNOT_TELL)

ClassName = Literal["safe", "doubtful", "risky", "bad", "deadly"]
CLASSES: tuple[ClassName, ...] = ("safe", "doubtful", "risky", "bad", "deadly")
"""The five words of certainty, for the share of variants with a box harmed; edges in ``resources/limits.toml``."""

StandingName = Literal["within", "open", "above", "unknown"]
"""How a candidate stands to the tolerance: both upper ends at or below it, neither, a lower end over it, no figures."""

MissingName = Literal["weather", "road"]
HeadroomSide = Literal["warmer", "colder", "either", ""]
AS_DECLARED, MIXED = "as_declared", "mixed"
FATES = ("any", *VERDICTS)
"""What the share of harm of a group is told for: any of the five verdicts, then each."""


@dataclass(frozen=True, slots=True)
class Span:
    """A figure with the two ends of its 90 % interval."""

    low: float
    value: float
    high: float


@dataclass(frozen=True, slots=True)
class Band:
    """What 5, 50 and 95 of 100 variants stay below."""

    p5: float
    p50: float
    p95: float


@dataclass(frozen=True, slots=True)
class Tolerance:
    """How much harm the user accepts: of 100 variants those with a box harmed, of 100 boxes those harmed.

    ``source`` is where it was said: in the trip file, in the settings, or nowhere.
    """

    harm_of_100: float = 10.0
    boxes_of_100: float = 5.0
    source: Literal["trip", "settings", "default"] = "default"


@dataclass(frozen=True, slots=True)
class ClosingChoice:
    """When a group is shut and why: ``rule`` is one of the trip file's rules, or ``now``.

    ``fixed`` by the user; ``home_share`` how many of the bees that are out by day are home then, 0 to 1.
    """

    rule: str
    at_s: float
    fixed: bool
    home_share: float = 1.0


@dataclass(frozen=True, slots=True)
class GroupChoice:
    """What a candidate does with one group: where it rides (catalogue id), how it is set up, when it is shut."""

    label: str
    place: str
    setup: str
    closing: ClosingChoice


@dataclass(frozen=True)
class GroupFate:
    """What happens to the boxes of one group in the samples.

    ``harm_of_100`` by FATES; None where the box holds no such thing. ``peak_c``, ``low_c`` of the core.
    """

    label: str
    count: int
    place: str | None
    harm_of_100: Mapping[str, Span | None]
    peak_c: Band | None = None
    low_c: Band | None = None
    workers_dead_share: Band | None = None


@dataclass(frozen=True, slots=True)
class Key:
    """Which candidate: row of the departures, of the arrangements of places, set-up and closing of every group.

    ``setups`` and ``closings`` name, group by group, rows of ``Answer.setups`` and of the closings tried.
    """

    departure: int
    arrangement: int
    setups: tuple[int, ...]
    closings: tuple[int, ...]


@dataclass(frozen=True)
class Candidate:
    """One way to make the trip, judged in samples; figures are None where weather is missing.

    ``leave_from_s`` to ``leave_to_s``: departures that are alike. ``shut_s`` first box shut, ``open_s`` last box
    opened. ``place`` and ``setup`` say ``mixed`` where groups differ. ``harm_of_100`` share of samples in which at
    least one box is harmed, ``samples`` in how many it was tried, ``boxes_harmed_expected`` of all boxes.
    ``headroom_exact``: found in many samples, else read from few; ``headroom_side`` which way the air would have to go.
    ``agitated_of_100`` share of harm in the quarter of
    the samples with the most agitated bees, ``harm_agitated`` whether it is over the tolerance.
    ``changes`` things done otherwise than declared (set-ups, places, closings), ``work`` their effort. ``room`` e.g.
    ``fits 2 of 12``, empty where it fits. ``first_harm_h`` hours from closing to the first harm, median of those
    harmed. ``typical`` medians of the worst box by name, for tables. ``groups`` is filled for those looked at closely.
    """

    key: Key
    leave_s: float
    leave_from_s: float
    leave_to_s: float
    arrive_s: float
    shut_s: float
    open_s: float
    place: str
    setup: str
    by_group: tuple[GroupChoice, ...]
    samples: int
    harm_of_100: Span | None
    boxes_harmed_expected: Span | None
    workers_dead_share: Band | None
    headroom_k: Band | None
    groups: tuple[GroupFate, ...]
    fits: bool = True
    room: str = ""
    misses: tuple[MissName, ...] = ()
    standing: StandingName = "unknown"
    harm_class: ClassName | None = None
    headroom_exact: bool = False
    headroom_side: HeadroomSide = ""
    agitated_of_100: float | None = None
    harm_agitated: bool = False
    changes: int = 0
    work: int = 0
    ruined_share: float = 0.0
    first_harm_h: float | None = None
    typical: Mapping[str, float | None] = field(default_factory=dict)

    @property
    def shut_h(self) -> float:
        """Hours from the first box shut to the last one opened."""
        return (self.open_s - self.shut_s) / 3600.0

    @property
    def home_share(self) -> float:
        """Of the groups shut with most bees out: how many of those bees are home."""
        return min((one.closing.home_share for one in self.by_group), default=1.0)


@dataclass(frozen=True, slots=True)
class Samples:
    """How sharp the answer is: ``count`` samples of the best, and whether it sharpens any further."""

    count: int
    seed: int
    finished: bool


@dataclass(frozen=True)
class Curve:
    """How the boxes of one candidate fare through time.

    ``time_s`` (node,) POSIX seconds; ``core_c`` (node, group), ``core_low_c``, ``core_high_c`` what half, 5 and
    95 of 100 samples stay below; ``air_c`` (node,) outside; NaN while a group's boxes are open.
    """

    time_s: Floats
    core_c: Floats
    core_low_c: Floats
    core_high_c: Floats
    air_c: Floats
    samples: int


@dataclass(frozen=True)
class Comparison:
    """Two candidates in the same samples: of 100, those in which the first is better, alike, worse.

    ``less_harm`` 1 where the first is harmed in fewer samples, beyond chance, -1 where the second is, 0 where none is:
    where neither is harmed the one with more headroom is better, so that who is better in more samples may be harmed
    more often.
    """

    first: Candidate
    second: Candidate
    better_of_100: float
    alike_of_100: float
    worse_of_100: float
    samples: int
    sentence: str = ""
    less_harm: int = 0


@dataclass(frozen=True)
class Answer:
    """The one answer to a trip.

    ``candidates`` best first, ``best`` one of them, ``next`` a departure outside the window that a *do not go* names;
    ``looked_outside`` whether one was looked for; ``gummed`` the best, were every floor mesh shut; ``declared`` the
    best with everything as the user has it; ``board`` (departure, arrangement) the row in ``candidates`` of each
    departure and arrangement with the boxes as declared. ``places`` and ``setups`` (ids, the load as declared first)
    with titles. ``breaks`` says which legal breaks were put in, ``trip`` and ``road`` are as judged, with them.
    ``sentence`` and other words are in the units asked for.
    """

    decision: DecisionName
    sentence: str
    tolerance: Tolerance
    samples: Samples
    candidates: tuple[Candidate, ...]
    best: Candidate | None
    next: Candidate | None
    groups: tuple[GroupFate, ...]
    declared: Candidate | None = None
    looked_outside: bool = False
    gummed: Candidate | None = None
    missing: tuple[MissingName, ...] = ()
    settle: tuple[str, ...] = ()
    window: str = ""
    next_best: str = ""
    reasons: tuple[str, ...] = ()
    how_sure: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    trip: Trip | None = None
    road: Road | None = None
    weather: Weather | None = None
    departures_s: tuple[float, ...] = ()
    places: tuple[str, ...] = ()
    place_titles: tuple[str, ...] = ()
    setups: tuple[str, ...] = ()
    setup_titles: tuple[str, ...] = ()
    breaks: tuple[PutIn, ...] = ()
    board: Mapping[tuple[int, int], int] = field(default_factory=dict)

    def place_of(self, one: Candidate) -> str:
        """Where a candidate puts the boxes that the user pins to no place, the first of them where they ride apart."""
        assert self.trip is not None
        groups = zip(self.trip.groups, one.by_group, strict=True)
        free = [choice.place for group, choice in groups if group.loading_place is None]
        return (free or [one.by_group[0].place])[0]
