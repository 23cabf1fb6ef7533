"""A trip laid out to be judged: departures, arrangements of places, set-ups and closings, in samples, unit by unit.

A *unit* is the boxes of one load that share air: the groups in one enclosed or crowded place, or one group alone. What
happens to a unit does not depend on the rest of the load, so that each is judged once for each departure, place, set-up
and closing, and loads are put together from units afterwards. Every unit meets the same samples.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from dataclasses import field as made
from functools import cached_property, reduce
from typing import Any

import numpy as np

from planner.app.answer.records import Key
from planner.app.chance.race import NARROWED, space_of
from planner.app.chance.samples import STEP_S, Sample, Scenario, variations_of
from planner.app.common.executors import map_unordered, places_of
from planner.app.common.progress import Stop
from planner.app.plan.closings import Closings
from planner.app.plan.plan import shut_at_night
from planner.model.cases import (
    CaseGrid,
    CaseTable,
    Passage,
    SimulatedBatch,
    case_grid,
    lay_out,
    passage,
    simulate,
)
from planner.model.catalogue import Catalogue
from planner.model.headroom import turn_from_now
from planner.model.limits import UNKNOWN, VERDICTS
from planner.model.preparations import AS_DECLARED, SetUp
from planner.model.records import Floats, Ints, Road, Trip, Weather
from planner.model.timeline import Timeline, build_timeline, schedule
from planner.store.forecast_error import load_forecast_error

BATCH_CELLS, LEAST_CELLS = 600_000, 200_000
"""Cases times steps that are judged at once: at most, about 85 MB; and so few that to share them out gains nothing."""

MOST_AGITATED = 0.25
"""Of the samples, so many count as those with the most agitated bees."""

SHIFTS_K = (-10.0, -4.0, 4.0, 10.0)
CLOSER_SHIFTS_K = (-20.0, -15.0, -10.0, -7.0, -4.5, -2.5, -1.0, 1.0, 2.5, 4.5, 7.0, 10.0, 15.0, 20.0)
"""Shifts of the outside air between which headroom is read: of every candidate, of those shown first."""

BAND = (0.05, 0.5, 0.95)
"""Shares of samples between which a curve is drawn, with its middle."""

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


@dataclass
class Judged:
    """What happened to a unit so far; arrays (part, sample), ``level`` with a last axis of the five verdicts.

    ``harm_h`` hours from closing to the first harm, NaN where there is none. ``kept`` (KEPT, part, sample). ``shifted``
    by shift of the air, what was to spare (2, part, sample) towards heat and cold. ``headroom`` as read from them, by
    which parts counted.
    """

    level: np.ndarray
    ruined: np.ndarray
    harm_h: np.ndarray
    kept: np.ndarray
    shifted: dict[float, np.ndarray]
    headroom: dict[tuple[bool, ...], tuple[np.ndarray, bool]] = made(default_factory=dict)

    @property
    def samples(self) -> int:
        return int(self.level.shape[1])


class Field:
    """What is judged and what is known of it.

    Parameters
    ----------
    trip, road : with the legal breaks put in
    weathers : one, or the members of an ensemble
    departures_s : (departure,) POSIX seconds
    arrangements : place ids of every group, one row for each way to place the load
    setups : tried for groups, the load as declared first
    span_s : instants between which forecasts are used; of the samples, the same for fields that are compared
    places : ids in the order of the samples' columns
    """

    def __init__(
        self,
        trip: Trip,
        road: Road,
        weathers: Sequence[Weather],
        catalogue: Catalogue,
        departures_s: Floats,
        closings: Closings,
        arrangements: Sequence[tuple[str, ...]],
        setups: Sequence[SetUp],
        *,
        samples: int,
        seed: int,
        places: Sequence[str] = (),
        executor: Executor | None = None,
        should_stop: Stop | None = None,
    ) -> None:
        self.trip, self.road, self.catalogue = trip, road, catalogue
        self.weathers, self.departures_s, self.closings = tuple(weathers), departures_s, closings
        self.setups, self.seed, self.most = tuple(setups), seed, samples
        self._executor, self._should_stop = executor, should_stop
        names = dict.fromkeys((*places, *(name for each in arrangements for name in each)))
        self.places = tuple(names)
        self.arrangements = [tuple(self.places.index(name) for name in each) for each in arrangements]
        self._changes = [[self._alters(setup, g) for g in range(self.groups)] for setup in self.setups]
        arrive, _ = schedule(trip, road, departures_s)
        self.arrive_s, self._lifted_s = arrive[:, -1], arrive
        self._middle_s = 0.5 * (departures_s + self.arrive_s)
        self.scenario = self._open()
        self.opened_s = self._timeline([(d, {}) for d in range(departures_s.size)]).end_s
        first = float(np.nanmin(closings.closed_s))
        whole = replace(self._timeline([(0, {})]))
        self.space = space_of(
            self.scenario,
            replace(
                whole,
                closed_s=np.array([[first]]),
                opened_s=np.array([[float(self.opened_s.max())]]),
            ),
            narrowed=NARROWED,
        )
        self.uniform = self.space.uniform(samples, np.random.default_rng(seed))
        self.sample = self.space.at(self.uniform)
        self.judged: dict[Unit, Judged] = {}
        self.looks = 0
        """Goes up with every look: what was read before it may have changed, what was read since has not."""
        self._units: dict[Key, list[Unit]] = {}
        self._agitated: dict[int, np.ndarray] = {}

    def most_agitated(self, count: int) -> np.ndarray:
        """Which of the first samples are those with the most agitated bees, (sample,)."""
        upper = self._agitated.get(count)
        if upper is None:
            agitation = self.sample.agitation[:count]
            upper = self._agitated[count] = agitation >= np.quantile(agitation, 1.0 - MOST_AGITATED)
        return upper

    def work_here(self) -> None:
        """What is still to be judged is judged here and now, and nobody stops it any more."""
        self._executor = self._should_stop = None

    # -- what there is ---------------------------------------------------------------------------

    @property
    def groups(self) -> int:
        return len(self.trip.groups)

    @cached_property
    def counts(self) -> Floats:
        """Boxes of each group."""
        return np.array([group.count for group in self.trip.groups], dtype=np.float64)

    def alters(self, setup: int, group: int) -> bool:
        """Whether a set-up changes anything about a group."""
        return self._changes[setup][group]

    def _alters(self, setup: SetUp, group: int) -> bool:
        boxes = self.trip.groups[group]
        return setup.change(boxes, self.catalogue.box_types[boxes.box_type]) != boxes

    def add_arrangement(self, names: tuple[str, ...]) -> int:
        """The row of a way to place the load; its places must be among the field's."""
        row = tuple(self.places.index(name) for name in names)
        if row not in self.arrangements:
            self.arrangements.append(row)
            grid = replace(self.scenario.grid, place_of=np.array(self.arrangements))
            self.scenario = replace(self.scenario, grid=grid)
        return self.arrangements.index(row)

    def units_of(self, key: Key) -> list[Unit]:
        """The units a load is put together from; found once, for the race asks again and again."""
        units = self._units.get(key)
        if units is None:
            units = self._units[key] = self._put_together(key)
        return units

    def _put_together(self, key: Key) -> list[Unit]:
        places = self.arrangements[key.arrangement]
        parts = [Part(g, places[g], key.setups[g], key.closings[g]) for g in range(self.groups)]
        shared: dict[int, list[Part]] = {}
        units = []
        for part in parts:
            if self.shares_air(part.place):
                shared.setdefault(part.place, []).append(part)
            else:
                units.append(Unit(key.departure, (part,)))
        return units + [Unit(key.departure, tuple(each)) for each in shared.values()]

    def shares_air(self, place: int) -> bool:
        """Whether boxes of several groups in a place feel each other: in an enclosure, or in a crowded open row."""
        row = self.scenario.grid.places[place]
        return bool(row.volume_m3 > 0.0 or any(row.neighbour_w_k))

    def _open(self) -> Scenario:
        trip = replace(self.trip, groups=tuple(replace(g, loading_place=None) for g in self.trip.groups))
        table = self.catalogue.parameters
        grid: CaseGrid = case_grid(
            trip, self.road, self.weathers[0], self.catalogue, self.places, self.setups, table=table
        )
        grid = replace(grid, place_of=np.array(self.arrangements, dtype=np.int64))
        leaks = [self.catalogue.box_types[g.box_type].leak_l_s for _ in self.setups for g in trip.groups]
        return Scenario(grid, self.weathers, np.array(leaks), self.places, load_forecast_error())

    # -- judging ---------------------------------------------------------------------------------

    def judge(self, keys: Iterable[Key], count: int) -> None:
        """See that every unit of these loads is judged in the first ``count`` samples."""
        units = dict.fromkeys(unit for key in keys for unit in self.units_of(key))
        begun: dict[int, list[Unit]] = {}
        for unit in units:
            met = self.judged[unit].samples if unit in self.judged else 0
            if met < count:
                begun.setdefault(met, []).append(unit)
        for met, late in begun.items():
            self._run(late, slice(met, count), (0.0,))

    def judge_shifted(
        self, keys: Iterable[Key], count: int, shifts_k: Sequence[float], step_s: float = STEP_S
    ) -> None:
        """The same in shifted air, for headroom; in longer steps where it is only read."""
        units = dict.fromkeys(unit for key in keys for unit in self.units_of(key))
        late = [
            unit
            for unit in units
            if any(
                shift not in self.judged[unit].shifted or self.judged[unit].shifted[shift].shape[2] < count
                for shift in shifts_k
            )
        ]
        self._run(late, slice(0, count), tuple(shifts_k), step_s)

    def bands(self, key: Key, samples: int) -> tuple[Floats, Floats, int]:
        """Core temperatures that 5, 50 and 95 of 100 samples stay below, (3, time, group), at (time,) POSIX seconds.

        NaN while a group's boxes are open. The last figure is how many samples.
        """
        sample = self.sample.take(slice(0, min(samples, self.most)))
        units = self.units_of(key)
        shut_s = float(min(self.closings.closed_s[c, key.departure, g] for g, c in enumerate(key.closings)))
        time_s = np.arange(shut_s, float(self.opened_s[key.departure]) + STEP_S, STEP_S)
        bands = np.full((len(BAND), time_s.size, self.groups), np.nan)
        for unit in units:
            laid = self._laid([unit])
            batch, shape, _ = _simulated(self.scenario, laid, sample, (0.0,))
            core = 0.5 * (batch.seen.core_c[:-1] + batch.seen.core_c[1:]).reshape(-1, *shape)[:, :, 0]
            closed = batch.seen.closed.reshape(-1, *shape)[:, :, 0, 0]
            for slot, part in enumerate(unit.parts):
                at = batch.time_s[:, 0]
                for out, level in zip(bands, np.quantile(core[:, slot], BAND, axis=1), strict=True):
                    band = np.where(closed[:, slot], level, np.nan)
                    out[:, part.group] = np.interp(time_s, at, band, np.nan, np.nan)
        return time_s, bands, sample.samples

    def _run(
        self, units: Sequence[Unit], rows: slice, shifts_k: tuple[float, ...], step_s: float = STEP_S
    ) -> None:
        self.looks += 1
        firsts = range(rows.start, rows.stop, _MOST_AT_ONCE)
        samples = [self.sample.take(slice(first, min(first + _MOST_AT_ONCE, rows.stop))) for first in firsts]
        jobs = [
            (self.scenario, self._laid(part), samples, shifts_k, step_s)
            for part in self._cut(units, rows, shifts_k, step_s)
        ]
        for (_, laid, *_), found in map_unordered(_judge, jobs, self._executor, self._should_stop):
            for unit, result in zip(laid.units, found, strict=True):
                if shifts_k != (0.0,):
                    self.judged[unit].shifted |= result.shifted
                    self.judged[unit].headroom.clear()
                elif unit in self.judged:
                    self.judged[unit] = _joined(self.judged[unit], result)
                else:
                    self.judged[unit] = result

    def _cut(
        self, units: Sequence[Unit], rows: slice, shifts_k: Sequence[float], step_s: float
    ) -> Iterator[list[Unit]]:
        """Units of like duration, cut so that cases times steps stay bounded and all that can work have work."""
        lasts = {unit: self._lasts_s(unit) for unit in units}
        times = min(rows.stop - rows.start, _MOST_AT_ONCE) * len(shifts_k)
        whole = sum(len(unit.parts) * lasts[unit] for unit in units) * times / step_s
        share = whole / ((places_of(self._executor) if self._executor else None) or 1)
        most = min(max(share, LEAST_CELLS), BATCH_CELLS)
        batch: list[Unit] = []
        cases = 0
        for unit in sorted(units, key=lambda one: lasts[one]):
            more = len(unit.parts) * times
            if batch and (cases + more) * lasts[unit] / step_s > most:
                yield batch
                batch, cases = [], 0
            batch.append(unit)
            cases += more
        if batch:
            yield batch

    def _lasts_s(self, unit: Unit) -> float:
        shut = min(self.closings.closed_s[part.closing, unit.departure, part.group] for part in unit.parts)
        return float(self.opened_s[unit.departure] - shut)

    def _timeline(self, rows: Sequence[tuple[int, Mapping[int, int]]]) -> Timeline:
        """One row for each departure with the closings of some groups; the others are shut when lifted."""
        departures = np.array([d for d, _ in rows])
        load = [group.load_waypoint for group in self.trip.groups]
        closed = self._lifted_s[departures][:, load]
        for row, (d, closings) in enumerate(rows):
            for group, closing in closings.items():
                closed[row, group] = self.closings.closed_s[closing, d, group]
        return build_timeline(self.trip, self.road, self.departures_s[departures], closed)

    def _laid(self, units: list[Unit]) -> _Laid:
        """Units with the rows they ride in; those of one departure that begin together share a row where they can."""
        rows: list[tuple[int, dict[int, int]]] = []
        alike: dict[tuple[int, float], list[int]] = {}
        row_of = []
        for unit in units:
            same = alike.setdefault((unit.departure, self._begins_s(unit)), [])
            own = {part.group: part.closing for part in unit.parts}
            row = next((row for row in same if _agree(rows[row][1], own)), None)
            if row is None:
                row = len(rows)
                same.append(row)
                rows.append((unit.departure, {}))
            rows[row][1].update(own)
            row_of.append(row)
        timeline = self._timeline(rows)
        return _Laid(
            units=tuple(units),
            row=np.array(row_of),
            timeline=timeline,
            night=shut_at_night(self.trip, timeline.closed_s),
            middle_s=self._middle_s[[departure for departure, _ in rows]],
        )

    def _begins_s(self, unit: Unit) -> float:
        """When the first box is shut if nobody but this unit is shut before being lifted."""
        shut_s = self._lifted_s[unit.departure, [group.load_waypoint for group in self.trip.groups]]
        for part in unit.parts:
            at = self.closings.closed_s[part.closing, unit.departure, part.group]
            shut_s[part.group] = min(at, shut_s[part.group])
        return float(shut_s.min())


_MOST_AT_ONCE = 64


def _agree(first: Mapping[int, int], second: Mapping[int, int]) -> bool:
    """Whether the closings of some groups and those of others can stand in one row."""
    return all(first.get(group, closing) == closing for group, closing in second.items())


@dataclass(frozen=True)
class _Laid:
    """Units with their rows of a timeline; ``row`` (unit,), ``night`` (row, group), ``middle_s`` (row,)."""

    units: tuple[Unit, ...]
    row: Ints
    timeline: Timeline
    night: Floats
    middle_s: Floats


def _judge(job: tuple[Scenario, _Laid, Sequence[Sample], tuple[float, ...], float]) -> list[Judged]:
    """One piece of work, wherever it is done: some units in some samples, in the air as it is or shifted."""
    scenario, laid, samples, shifts_k, step_s = job
    around: dict[int, Passage] = {}
    found = [_judge_at_once(scenario, laid, sample, shifts_k, around, step_s) for sample in samples]
    if len(found) == 1:
        return found[0]
    return [reduce(_joined, each) for each in zip(*found, strict=True)]


def _judge_at_once(
    scenario: Scenario,
    laid: _Laid,
    sample: Sample,
    shifts_k: tuple[float, ...],
    around: dict[int, Passage],
    step_s: float,
) -> list[Judged]:
    """Some units in some samples; ``around`` keeps the passage under each weather for the samples that follow."""
    tables = []
    for member, weather in enumerate(scenario.weathers):
        rows = np.flatnonzero(sample.member == member)
        if rows.size:
            under = replace(scenario, grid=replace(scenario.grid, weather=weather))
            if member not in around:
                around[member] = _passage(under.grid, laid, step_s)
            found = _judged_in(under, laid, sample.take(rows), shifts_k, around[member], step_s)
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
    return _by_unit(laid, whole, shifts_k)


def _judged_in(
    scenario: Scenario,
    laid: _Laid,
    sample: Sample,
    shifts_k: tuple[float, ...],
    around: Passage,
    step_s: float,
) -> dict[str, np.ndarray]:
    """Tables (part, shift, sample, ...) of every part of every unit under one weather."""
    batch, shape, table = _simulated(scenario, laid, sample, shifts_k, around, step_s)
    judged = batch.assessed(step_s)

    def cut(values: np.ndarray, kind: Any = np.float32) -> np.ndarray:
        return values.astype(kind).reshape((*shape, *values.shape[1:]))

    if shifts_k != (0.0,):
        return {name: cut(getattr(judged, name)) for name in ("hotter_k", "colder_k")}
    shut_s = laid.timeline.closed_s[table.departure, table.group]
    return {
        "level": cut(judged.verdict, np.int8),
        "ruined": cut(judged.ruined, np.bool_),
        "harm_h": cut((judged.first_harm_s - shut_s) / 3600.0),
        **{name: cut(getattr(judged, name)) for name in KEPT},
    }


def _passage(grid: CaseGrid, laid: _Laid, step_s: float) -> Passage:
    """Way, weather and air of some units: the same in every sample."""
    return passage(grid, laid.timeline, _table(grid, laid, 1, 1), step_s)


def _table(grid: CaseGrid, laid: _Laid, shifts: int, samples: int) -> CaseTable:
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


def _simulated(
    scenario: Scenario,
    laid: _Laid,
    sample: Sample,
    shifts_k: tuple[float, ...],
    around: Passage | None = None,
    step_s: float = STEP_S,
) -> tuple[SimulatedBatch, tuple[int, int, int], CaseTable]:
    """Every part of every unit in every sample and shift of the air, integrated; axes (part, shift, sample)."""
    grid = scenario.grid
    shape = sum(len(unit.parts) for unit in laid.units), len(shifts_k), sample.samples
    table = _table(grid, laid, *shape[1:])
    variations = variations_of(scenario, sample, laid.middle_s)
    batch = lay_out(grid, laid.timeline, laid.night, table, variations, around, step_s)
    if shifts_k != (0.0,):
        shift_k = np.broadcast_to(np.array(shifts_k)[:, None], shape).ravel()
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


def _by_unit(laid: _Laid, table: dict[str, np.ndarray], shifts_k: tuple[float, ...]) -> list[Judged]:
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
        out.append(Judged(part["level"], part["ruined"], part["harm_h"], kept, {}))
    return out


def _only_shifted(shifted: dict[float, np.ndarray]) -> Judged:
    none = np.empty((0, 0))
    return Judged(np.empty((0, 0, len(VERDICTS))), none, none, np.empty((0, 0, 0)), shifted)


def _joined(first: Judged, then: Judged) -> Judged:
    """The samples of a unit so far and those that followed."""
    return Judged(
        level=np.concatenate((first.level, then.level), axis=1),
        ruined=np.concatenate((first.ruined, then.ruined), axis=1),
        harm_h=np.concatenate((first.harm_h, then.harm_h), axis=1),
        kept=np.concatenate((first.kept, then.kept), axis=2),
        shifted=first.shifted,
        headroom=first.headroom,
    )


def headroom_of(judged: Judged, counted: Sequence[bool]) -> tuple[np.ndarray, bool]:
    """Headroom of the worst counted part of a unit, (sample,), the smaller of hotter and colder; inf where none counts.

    Read between the shifts of the air that were tried. The flag says whether they were close.
    """
    counts = tuple(counted)
    if counts not in judged.headroom:
        judged.headroom[counts] = _read_headroom(judged, counts)
    return judged.headroom[counts]


def _read_headroom(judged: Judged, counted: Sequence[bool]) -> tuple[np.ndarray, bool]:
    shifts = sorted(judged.shifted)
    count = min((judged.shifted[shift].shape[2] for shift in shifts), default=0)
    if not shifts or not any(counted):
        return np.full(count, np.inf), bool(shifts)
    rows = np.array(counted)
    zero = judged.kept[[HOTTER, COLDER]][:, rows, :count]
    every = {0.0: zero} | {shift: judged.shifted[shift][:, rows, :count] for shift in shifts}
    order = np.array(sorted(every))
    spare = np.stack([every[shift] for shift in order]).min(axis=2)  # (shift, way, sample)
    hot = turn_from_now(order, spare[:, 0]).read()
    cold = turn_from_now(-order[::-1], spare[::-1, 1]).read()
    least, most = np.minimum(hot, cold), np.maximum(hot, cold)
    hopeless = (least < 0.0) & (-least >= most)
    return np.where(hopeless, -20.0, least), len(shifts) > len(SHIFTS_K)


def unknown(judged: Judged) -> bool:
    """Whether weather is missing for a unit."""
    return bool((judged.level == UNKNOWN).any())


__all__ = [
    "AS_DECLARED",
    "CLOSER_SHIFTS_K",
    "SHIFTS_K",
    "Field",
    "Judged",
    "Part",
    "Unit",
    "headroom_of",
    "unknown",
]
