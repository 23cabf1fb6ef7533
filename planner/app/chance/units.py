"""Boxes that share air, judged in samples: the pieces of work that loads are put together from.

A *unit* is the boxes of one load that share air on one departure. Units are laid out side by side on rows of a
timeline, every part in every shift of the air and sample, walked and judged at once, and taken apart again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from dataclasses import field as made
from functools import partial
from threading import Lock
from typing import Any

import numpy as np

from planner.app.chance.samples import STEP_S, Sample, Scenario, on_way, variations_of, ways_of
from planner.model.cases import CaseGrid, CaseTable, Passage, SimulatedBatch, lay_out, passage, simulate
from planner.model.headroom import turn_from_now
from planner.model.limits import VERDICTS
from planner.model.records import Floats, Ints
from planner.model.timeline import Timeline

SHIFTS_K = (-10.0, -4.0, 4.0, 10.0)
CLOSER_SHIFTS_K = (-20.0, -15.0, -10.0, -7.0, -4.5, -2.5, -1.0, 1.0, 2.5, 4.5, 7.0, 10.0, 15.0, 20.0)
"""Shifts of the outside air between which headroom is read: of every candidate, of those shown first."""

COLD_IS_FAR_K, FAR_ENOUGH_K = 12.0, 10.0
"""What a box has to spare towards cold, and air so much colder harms it not then: it cools at most as the air does,
with a reserve; of 18,000 cases of the demos none that had over 8.5 K was harmed. A rule of this program."""

KEPT = (
    "peak_core_c",
    "low_core_c",
    "peak_stores_c",
    "dead_share",
    "hotter_k",
    "colder_k",
    "water_ml",
    "water_short_ml",
    "peak_co2_share",
    "peak_around_co2_share",
)
"""What is kept of each box in each sample, beside the verdicts, ruin and the hour of the first harm."""

BEYOND = 99
"""Farther out than any shift that is tried, counted in shifts."""

HOTTER, COLDER = KEPT.index("hotter_k"), KEPT.index("colder_k")


@dataclass(frozen=True, slots=True)
class Part:
    """One group of a unit: which group, place (row of the field's places), set-up and closing."""

    group: int
    place: int
    setup: int
    closing: int


@dataclass(frozen=True, slots=True)
class Unit:
    """Boxes that share air on one departure."""

    departure: int
    parts: tuple[Part, ...]


Headroom = tuple[np.ndarray, bool, np.ndarray]


@dataclass
class Judged:
    """What happened to a unit so far; arrays (part, sample), ``level`` with a last axis of the five verdicts.

    ``harm_h`` hours from closing to the first harm, NaN where there is none. ``kept`` (KEPT, part, sample). ``shifted``
    by shift of the air, what was to spare (2, part, sample) towards heat and cold, NaN where harm cannot begin there.
    ``headroom`` as read from them, by which parts counted. ``step_s`` in which it was walked.
    """

    level: np.ndarray
    ruined: np.ndarray
    harm_h: np.ndarray
    kept: np.ndarray
    shifted: dict[float, np.ndarray]
    headroom: dict[tuple[bool, ...], Headroom] = made(default_factory=dict)
    step_s: float = STEP_S

    @property
    def samples(self) -> int:
        return int(self.level.shape[1])


@dataclass(frozen=True)
class Laid:
    """Units with their rows of a timeline; ``row`` (unit,), ``night`` (row, group), ``middle_s`` (row,)."""

    units: tuple[Unit, ...]
    row: Ints
    timeline: Timeline
    night: Floats
    middle_s: Floats


@dataclass(frozen=True)
class Now:
    """What every part has to spare in the air as it is, (way, part, sample) towards heat and cold.

    Parts that do not count, because their air does not follow the outside, have infinitely much.
    """

    spare_k: np.ndarray

    def take(self, rows: slice | Ints) -> Now:
        """Some of the samples."""
        return Now(self.spare_k[:, :, rows])


class Passages:
    """The passage of some units on each way under each weather, whoever asks for it first.

    Samples of the same units are judged beside each other; who comes second waits, for it would do the same work.
    """

    def __init__(self) -> None:
        self._known: dict[tuple[int, int], Passage] = {}
        self._working = Lock()

    def of(self, way: int, member: int, worked_out: Callable[[], Passage]) -> Passage:
        with self._working:
            if (way, member) not in self._known:
                self._known[way, member] = worked_out()
            return self._known[way, member]

    def __reduce__(self) -> tuple[type[Passages], tuple[()]]:
        return Passages, ()  # another process works them out for itself


@dataclass(frozen=True)
class Job:
    """One piece of work: some units in some samples, in the air as it is or shifted.

    ``now`` what there is to spare in these samples, so that only shifts that matter are tried; None where all do.
    ``first`` the number of the first sample; ``around`` is shared by all pieces of the same units.
    """

    scenario: Scenario
    laid: Laid
    sample: Sample
    shifts_k: tuple[float, ...]
    step_s: float
    now: Now | None
    around: Passages
    first: int


def judge_units(job: Job) -> list[Judged]:
    """One piece of work, wherever it is done."""
    sample, shifts_k, step_s, now = job.sample, job.shifts_k, job.step_s, job.now
    tables = []
    for way, takers in ways_of(sample):
        there, rides = on_its_way(job.scenario, job.laid, way)
        for member, weather in enumerate(job.scenario.weathers):
            rows = takers[sample.member[takers] == member]
            if rows.size:
                under = replace(there, grid=replace(there.grid, weather=weather))
                passed = job.around.of(way, member, partial(_passage, under.grid, rides, step_s))
                own = None if now is None else now.take(rows)
                found = _judged_in(under, rides, sample.take(rows), shifts_k, passed, step_s, own)
                tables.append((rows, found))
    if len(tables) == 1:
        return _by_unit(job.laid, tables[0][1], shifts_k, step_s)
    whole = {
        name: np.empty(
            (values.shape[0], values.shape[1], sample.samples, *values.shape[3:]), dtype=values.dtype
        )
        for name, values in tables[0][1].items()
    }
    for rows, table in tables:
        for name, values in table.items():
            whole[name][:, :, rows] = values
    return _by_unit(job.laid, whole, shifts_k, step_s)


def on_its_way(scenario: Scenario, laid: Laid, way: int) -> tuple[Scenario, Laid]:
    """The same units where boxes go one of the ways they may go, its stages as long as it has them."""
    under, timeline = on_way(scenario, laid.timeline, way)
    return under, replace(laid, timeline=timeline)


def _judged_in(
    scenario: Scenario,
    laid: Laid,
    sample: Sample,
    shifts_k: tuple[float, ...],
    around: Passage,
    step_s: float,
    now: Now | None,
) -> dict[str, np.ndarray]:
    """Tables (part, shift, sample, ...) of every part of every unit under one weather."""
    if shifts_k != (0.0,):
        return _shifted_in(scenario, laid, sample, shifts_k, around, step_s, now)
    batch, shape, table = simulated(scenario, laid, sample, shifts_k, around, step_s)
    judged = batch.assessed(step_s)

    def cut(values: np.ndarray, kind: Any = np.float32) -> np.ndarray:
        return values.astype(kind).reshape((*shape, *values.shape[1:]))

    shut_s = laid.timeline.closed_s[table.departure, table.group]
    return {
        "level": cut(judged.verdict, np.int8),
        "ruined": cut(judged.ruined, np.bool_),
        "harm_h": cut((judged.first_harm_s - shut_s) / 3600.0),
        **{name: cut(getattr(judged, name)) for name in KEPT},
    }


def _shifted_in(
    scenario: Scenario,
    laid: Laid,
    sample: Sample,
    shifts_k: tuple[float, ...],
    around: Passage,
    step_s: float,
    now: Now | None,
) -> dict[str, np.ndarray]:
    """What there is to spare in shifted air, (part, shift, sample), walked only where it matters, else NaN."""
    parts = [len(unit.parts) for unit in laid.units]
    shape = sum(parts), len(shifts_k), sample.samples
    found = {name: np.full(shape, np.nan, dtype=np.float32) for name in ("hotter_k", "colder_k")}

    def walk(wanted: np.ndarray) -> None:
        batch, *_ = simulated(scenario, laid, sample, shifts_k, around, step_s, wanted)
        judged = batch.assessed(step_s)
        for name, values in found.items():
            values[wanted] = getattr(judged, name)

    if now is None:
        walk(np.ones(shape, dtype=bool))
        return found
    search = Search.begun(now, parts, shifts_k)
    while search.open.any():
        asked = search.asked()
        walk(np.repeat(asked, parts, axis=0))
        search.told(found["hotter_k"], found["colder_k"])
    return found


@dataclass
class Search:
    """Where harm of heat and of cold begins or ends for each unit and sample, among the shifts of the air.

    Where it begins is found by halving the shifts that are left: the more air is shifted, the farther harm goes. Where
    it ends is looked for from the air as it is outwards, for beyond that the other harm begins (bees that shiver for
    long starve). Harm of heat begins in warmer and ends in colder air, harm of cold the other way round; its beginning
    is looked for only where it is near. Headroom is the nearer of both: where there is no harm yet neither is looked
    for beyond the other.

    ``warm`` (search, unit, sample) which way is looked; between ``low`` and ``high``, shifts counted from the air as it
    is (0) on, the turn lies; ``high`` one more than there are shifts where it may lie beyond; ``met``: it was found.
    """

    first: Ints
    counts: np.ndarray
    columns: tuple[Ints, Ints]
    fine: np.ndarray
    warm: np.ndarray
    low: Ints
    high: Ints
    met: np.ndarray

    @classmethod
    def begun(cls, now: Now, parts: Sequence[int], shifts_k: Sequence[float]) -> Search:
        """The search of units of so many parts, nothing tried yet."""
        first = np.cumsum([0, *parts[:-1]])
        here = np.minimum.reduceat(now.spare_k, first, axis=1)
        fine = here >= 0.0
        ranked = np.argsort(np.abs(shifts_k))
        columns = tuple(np.array([i for i in ranked if (shifts_k[i] > 0.0) == up]) for up in (False, True))
        warm = np.stack((fine[0], ~fine[1]))
        high = np.where(warm, columns[1].size, columns[0].size) + 1
        high[np.isinf(here) | np.isnan(here).any(axis=0)] = 1
        low = np.zeros_like(high)
        cool = np.abs(np.array(shifts_k))[columns[0]]
        reached = int((cool <= FAR_ENOUGH_K).sum())
        low[1][here[1] >= COLD_IS_FAR_K] = reached if reached == cool.size else max(reached - 1, 0)
        counts = np.isfinite(now.spare_k).any(axis=(0, 2))
        return cls(first, counts, (columns[0], columns[1]), fine, warm, low, high, high < 0)

    @property
    def open(self) -> np.ndarray:
        """What is looked for further, (search, unit, sample)."""
        return np.asarray(self.high - self.low > 1)

    @property
    def middle(self) -> Ints:
        """The shift to be tried next, counted from the air as it is."""
        return np.where(self.fine, (self.low + self.high + 1) // 2, self.low + 1)

    def asked(self) -> np.ndarray:
        """Which shifts are to be tried next, (unit, shift, sample)."""
        wanted = np.zeros(
            (self.low.shape[1], self.columns[0].size + self.columns[1].size, self.low.shape[2]), bool
        )
        for warm, columns in enumerate(self.columns):
            for place, column in enumerate(columns, 1):
                wanted[:, column] |= (self.open & (self.warm == bool(warm)) & (self.middle == place)).any(
                    axis=0
                )
        return wanted

    def told(self, hotter_k: np.ndarray, colder_k: np.ndarray) -> None:
        """Go on by what there is to spare in the shifts tried, each (part, shift, sample)."""
        opened, middle = self.open, self.middle
        for search, table in enumerate((hotter_k, colder_k)):
            counted = np.where(self.counts[:, None, None], table, np.inf)
            worst = np.minimum.reduceat(counted, self.first, axis=0)  # (unit, shift, sample)
            for warm, columns in enumerate(self.columns):
                for place, column in enumerate(columns, 1):
                    here = opened[search] & (self.warm[search] == bool(warm)) & (middle[search] == place)
                    turned = (worst[:, column] >= 0.0) != self.fine[search]
                    self.high[search][here & turned] = place
                    self.low[search][here & ~turned] = place
                    self.met[search][here & turned] = True
        met = np.where(self.met & self.fine.all(axis=0), self.high, BEYOND).min(axis=0)
        self.high = np.maximum(np.minimum(self.high, met + 1), self.low + 1)


def _passage(grid: CaseGrid, laid: Laid, step_s: float) -> Passage:
    """Way, weather and air of some units: the same in every sample."""
    return passage(grid, laid.timeline, _table(grid, laid, 1, 1), step_s)


def _table(grid: CaseGrid, laid: Laid, shifts: int, samples: int) -> CaseTable:
    """Every part of every unit in every shift of the air and sample, on the axes (part, shift, sample)."""
    unit_of = np.repeat(np.arange(len(laid.units)), [len(unit.parts) for unit in laid.units])
    parts = [part for unit in laid.units for part in unit.parts]
    slot, shift, nth = (axis.ravel() for axis in np.indices((len(parts), shifts, samples)))
    return CaseTable(
        departure=laid.row[unit_of][slot],
        group=np.array([part.group for part in parts])[slot],
        place=_arrangement_rows(grid, laid.units)[slot],
        setup=np.array([part.setup for part in parts])[slot],
        closing=np.zeros_like(slot),
        sample=nth,
        enclosure=(unit_of[slot] * shifts + shift) * samples + nth,
    )


def simulated(
    scenario: Scenario,
    laid: Laid,
    sample: Sample,
    shifts_k: tuple[float, ...],
    around: Passage | None = None,
    step_s: float = STEP_S,
    wanted: np.ndarray | None = None,
) -> tuple[SimulatedBatch, tuple[int, int, int], CaseTable]:
    """Every part of every unit in every sample and shift of the air, integrated; axes (part, shift, sample).

    ``wanted`` on these axes leaves the cases that it marks alone, in their order.
    """
    grid = scenario.grid
    shape = sum(len(unit.parts) for unit in laid.units), len(shifts_k), sample.samples
    table = _table(grid, laid, *shape[1:])
    if wanted is not None:
        table = CaseTable(**{name: column[wanted.ravel()] for name, column in vars(table).items()})
    variations = variations_of(scenario, sample, laid.middle_s)
    batch = lay_out(grid, laid.timeline, laid.night, table, variations, around, step_s)
    if shifts_k != (0.0,):
        shift_k = np.broadcast_to(np.array(shifts_k)[:, None], shape)
        shift_k = shift_k.ravel() if wanted is None else shift_k[wanted]
        offset = batch.cases.air_offset_k + shift_k
        batch = replace(batch, cases=replace(batch.cases, air_offset_k=offset))
    return simulate(batch, step_s), shape, table


def _arrangement_rows(grid: CaseGrid, units: Sequence[Unit]) -> Ints:
    """A row of the grid's arrangements in which each unit rides as it does, by itself in its place, (part,)."""
    rides_in: dict[tuple[int, tuple[int, ...]], int] = {}
    rows = []
    for unit in units:
        kind = unit.parts[0].place, tuple(part.group for part in unit.parts)
        if kind not in rides_in:
            rides_in[kind] = _arrangement_row(grid, *kind)
        rows += [rides_in[kind]] * len(unit.parts)
    return np.array(rows, dtype=np.int64)


def _arrangement_row(grid: CaseGrid, place: int, groups: tuple[int, ...]) -> int:
    inside = np.zeros(grid.groups, dtype=bool)
    inside[list(groups)] = True
    alone = ((grid.place_of == place) == inside).all(axis=1)
    rides = grid.place_of[:, groups[0]] == place
    return int(np.flatnonzero(alone if alone.any() else rides)[0])


def _by_unit(
    laid: Laid, table: dict[str, np.ndarray], shifts_k: tuple[float, ...], step_s: float
) -> list[Judged]:
    out, first = [], 0
    for unit in laid.units:
        own = slice(first, first + len(unit.parts))
        first = own.stop
        if shifts_k != (0.0,):
            both = np.stack((table["hotter_k"][own], table["colder_k"][own]))
            out.append(_only_shifted({shift: both[:, :, i] for i, shift in enumerate(shifts_k)}))
            continue
        part = {name: values[own, 0] for name, values in table.items()}
        kept = np.stack([part[name] for name in KEPT])
        out.append(Judged(part["level"], part["ruined"], part["harm_h"], kept, {}, step_s=step_s))
    return out


def _only_shifted(shifted: dict[float, np.ndarray]) -> Judged:
    none = np.empty((0, 0))
    return Judged(np.empty((0, 0, len(VERDICTS))), none, none, np.empty((0, 0, 0)), shifted)


def joined(runs: Sequence[Judged]) -> Judged:
    """What happened to a unit in samples that follow each other."""
    first = runs[0]
    if len(runs) == 1:
        return first
    return Judged(
        level=np.concatenate([each.level for each in runs], axis=1),
        ruined=np.concatenate([each.ruined for each in runs], axis=1),
        harm_h=np.concatenate([each.harm_h for each in runs], axis=1),
        kept=np.concatenate([each.kept for each in runs], axis=2),
        shifted=first.shifted,
        headroom=first.headroom,
        step_s=first.step_s,
    )


def headroom_of(judged: Judged, counted: Sequence[bool]) -> Headroom:
    """Headroom of the worst counted part of a unit, (sample,), the smaller of hotter and colder; inf where none counts.

    Read between the shifts of the air that were tried. The flag says whether they were close, the last array whether
    colder air uses it up sooner than warmer air, (sample,).
    """
    counts = tuple(counted)
    if counts not in judged.headroom:
        read_headroom([(judged, counts)])
    return judged.headroom[counts]


def read_headroom(wanted: Iterable[tuple[Judged, tuple[bool, ...]]]) -> None:
    """Read the headroom of units with the parts that count, those tried in the same shifts together."""
    alike: dict[tuple[tuple[float, ...], int], list[tuple[Judged, tuple[bool, ...]]]] = {}
    for judged, counts in wanted:
        shifts = tuple(sorted(judged.shifted))
        count = min((judged.shifted[shift].shape[2] for shift in shifts), default=0)
        if shifts and any(counts):
            alike.setdefault((shifts, count), []).append((judged, counts))
        else:
            judged.headroom[counts] = np.full(count, np.inf), bool(shifts), np.zeros(count, dtype=bool)
    for (shifts, count), units in alike.items():
        order = np.array(sorted((0.0, *shifts)))
        spare = np.concatenate(
            [_spare(*unit, order, count) for unit in units], axis=2
        )  # (shift, way, sample)
        hot = turn_from_now(order, spare[:, 0]).read()
        cold = turn_from_now(-order[::-1], spare[::-1, 1]).read()
        least, most = np.minimum(hot, cold), np.maximum(hot, cold)
        hopeless = (least < 0.0) & (-least >= most)
        found = np.where(hopeless, -20.0, least).reshape(len(units), count)
        colder = (cold < hot).reshape(len(units), count)
        for (judged, counts), each, by_cold in zip(units, found, colder, strict=True):
            judged.headroom[counts] = each, len(shifts) > len(SHIFTS_K), by_cold


def _spare(judged: Judged, counts: Sequence[bool], shifts_k: Floats, count: int) -> np.ndarray:
    """What the worst counted part has to spare, (shift, way, sample)."""
    zero = judged.kept[[HOTTER, COLDER]]
    every = [judged.shifted[shift] if shift else zero for shift in shifts_k]
    rows = np.array(counts)
    return np.asarray(np.stack([table[:, :, :count] for table in every])[:, :, rows].min(axis=2))
