"""Boxes that share air, judged in samples: the pieces of work that loads are put together from.

A *unit* is the boxes of one load that share air on one departure. Units are laid out side by side on rows of a
timeline, every part in every shift of the air and sample, walked and judged at once, and taken apart again.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from dataclasses import field as made
from functools import reduce
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

COLD_IS_FAR_K = 12.0
"""What a box has to spare towards cold from which air up to 10 K colder harms it not: it cools at most as the air does,
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

    def matters(self, count: int) -> np.ndarray:
        """Whether harm may begin in warmer, in colder air, (2, sample), by what the first samples have to spare.

        Warmer where heat has not done harm yet, or cold has; colder the other way round, and where cold harm is near.
        """
        hotter, colder = self.kept[[HOTTER, COLDER], :, :count]
        unknown = np.isnan(hotter) | np.isnan(colder)
        warmer = (hotter >= 0.0) | (colder < 0.0) | unknown
        cooler = (hotter < 0.0) | (colder < COLD_IS_FAR_K) | unknown
        return np.asarray(np.stack((warmer, cooler)).any(axis=1))


@dataclass(frozen=True)
class Laid:
    """Units with their rows of a timeline; ``row`` (unit,), ``night`` (row, group), ``middle_s`` (row,)."""

    units: tuple[Unit, ...]
    row: Ints
    timeline: Timeline
    night: Floats
    middle_s: Floats


Job = tuple[Scenario, Laid, Sequence[Sample], tuple[float, ...], float, np.ndarray | None]


def judge_units(job: Job) -> list[Judged]:
    """One piece of work, wherever it is done: some units in some samples, in the air as it is or shifted.

    The last of a job says which shifts matter, (unit, way, sample) as of ``Judged.matters``; None where all do.
    """
    scenario, laid, samples, shifts_k, step_s, matters = job
    around: dict[tuple[int, int], Passage] = {}
    found, first = [], 0
    for sample in samples:
        own = None if matters is None else matters[:, :, first : first + sample.samples]
        first += sample.samples
        found.append(_judge_at_once(scenario, laid, sample, shifts_k, around, step_s, own))
    if len(found) == 1:
        return found[0]
    return [reduce(joined, each) for each in zip(*found, strict=True)]


def _judge_at_once(
    scenario: Scenario,
    laid: Laid,
    sample: Sample,
    shifts_k: tuple[float, ...],
    around: dict[tuple[int, int], Passage],
    step_s: float,
    matters: np.ndarray | None,
) -> list[Judged]:
    """Some units in some samples; ``around`` keeps the passage on each way under each weather for those that follow."""
    tables = []
    for way, takers in ways_of(sample):
        there, rides = on_its_way(scenario, laid, way)
        for member, weather in enumerate(scenario.weathers):
            rows = takers[sample.member[takers] == member]
            if rows.size:
                under = replace(there, grid=replace(there.grid, weather=weather))
                if (way, member) not in around:
                    around[way, member] = _passage(under.grid, rides, step_s)
                own = None if matters is None else matters[:, :, rows]
                passed = around[way, member]
                found = _judged_in(under, rides, sample.take(rows), shifts_k, passed, step_s, own)
                tables.append((rows, found))
    whole = {
        name: np.empty(
            (values.shape[0], values.shape[1], sample.samples, *values.shape[3:]), dtype=values.dtype
        )
        for name, values in tables[0][1].items()
    }
    for rows, table in tables:
        for name, values in table.items():
            whole[name][:, :, rows] = values
    return _by_unit(laid, whole, shifts_k, step_s)


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
    matters: np.ndarray | None,
) -> dict[str, np.ndarray]:
    """Tables (part, shift, sample, ...) of every part of every unit under one weather."""
    if shifts_k != (0.0,):
        return _shifted_in(scenario, laid, sample, shifts_k, around, step_s, matters)
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
    matters: np.ndarray | None,
) -> dict[str, np.ndarray]:
    """What there is to spare in shifted air, (part, shift, sample), walked only where it matters, else NaN."""
    parts = [len(unit.parts) for unit in laid.units]
    shape = sum(parts), len(shifts_k), sample.samples
    wanted = np.ones(shape, dtype=bool)
    if matters is not None:
        wanted = np.where(
            np.array(shifts_k)[:, None] > 0.0, *(np.repeat(matters[:, i, None], parts, 0) for i in (0, 1))
        )
    found = {name: np.full(shape, np.nan, dtype=np.float32) for name in ("hotter_k", "colder_k")}
    if wanted.any():
        batch, *_ = simulated(scenario, laid, sample, shifts_k, around, step_s, wanted)
        judged = batch.assessed(step_s)
        for name, values in found.items():
            values[wanted] = getattr(judged, name)
    return found


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


def joined(first: Judged, then: Judged) -> Judged:
    """The samples of a unit so far and those that followed."""
    return Judged(
        level=np.concatenate((first.level, then.level), axis=1),
        ruined=np.concatenate((first.ruined, then.ruined), axis=1),
        harm_h=np.concatenate((first.harm_h, then.harm_h), axis=1),
        kept=np.concatenate((first.kept, then.kept), axis=2),
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
