"""A trip laid out to be judged: departures, arrangements of places, set-ups and closings, in samples, unit by unit.

A *unit* is the boxes of one load that share air: the groups in one enclosed or crowded place, or one group alone. What
happens to a unit does not depend on the rest of the load, so that each is judged once for each departure, place, set-up
and closing, and loads are put together from units afterwards. Every unit meets the same samples.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from functools import cached_property
from itertools import pairwise

import numpy as np

from planner.app.answer.records import Key
from planner.app.chance.race import NARROWED, space_of
from planner.app.chance.samples import STEP_S, Sample, Scenario
from planner.app.chance.units import (
    COLDER,
    HOTTER,
    Job,
    Judged,
    Laid,
    Now,
    Part,
    Passages,
    Unit,
    joined,
    judge_units,
    read_headroom,
    simulated,
)
from planner.app.common.executors import map_unordered, places_of
from planner.app.common.progress import Stop
from planner.app.plan.closings import Closings
from planner.app.plan.plan import shut_at_night
from planner.model.cases import CaseGrid, case_grid, on_ways
from planner.model.catalogue import Catalogue
from planner.model.preparations import SetUp
from planner.model.records import Floats, Road, Trip, Weather
from planner.model.timeline import Timeline, build_timeline, schedule
from planner.model.ways import likely_ways
from planner.store.forecast_error import load_forecast_error

BATCH_CELLS, LEAST_CELLS = 600_000, 200_000
"""Cases times steps that are judged at once: at most, about 85 MB; and so few that to share them out gains nothing."""

FIRST_LOOK, FIRST_STEP_S = 8, 240.0
"""Up to so many samples are walked in longer steps, and anew where more are asked for: they choose who goes on and
decide nothing. Of 100 cases of the demos 0.3 to 1 turn against steps of a minute, as many as in steps of STEP_S."""

KEPT_BATCHES, KEPT_CELLS = 12, 12_000
"""So many batches of few loads stay laid out, for those are judged in ever more samples, in the same air; cells of one
sample, so that together they hold 50 MB at most."""

MOST_AGITATED = 0.25
"""Of the samples, so many count as those with the most agitated bees."""

_Kept = tuple[tuple[float, int], dict[Unit, int], Laid, Passages]

BAND = (0.05, 0.5, 0.95)
"""Shares of samples between which a curve is drawn, with its middle."""


class Field:
    """What is judged and what is known of it.

    Parameters
    ----------
    trip, road : with the legal breaks put in
    weathers : one, or the members of an ensemble
    departures_s : (departure,) POSIX seconds
    arrangements : place ids of every group, one row for each way to place the load
    setups : tried for groups, the load as declared first
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
        self._follows = [not np.isfinite(place.set_point_c) for place in self.scenario.grid.places]
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
            ways=[weight for *_, weight in self.likely],
            steady=True,
        )
        self.uniform = self.space.uniform(samples, np.random.default_rng(seed))
        self.sample = self.space.at(self.uniform)
        self.judged: dict[Unit, Judged] = {}
        self.looked: dict[int, int] = {}
        """The last look at each departure."""

        self.looks = 0
        """Goes up with every look: what was read before it may have changed, what was read since has not."""
        self._units: dict[Key, list[Unit]] = {}
        self._agitated: dict[int, np.ndarray] = {}
        self._kept: deque[_Kept] = deque(maxlen=KEPT_BATCHES)

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

    def sample_for(self, places: Sequence[str], first_s: float, last_s: float) -> Sample:
        """The same samples for other places and hours too: those that a trip meets which is changed to have them."""
        space = self.space.over(places, first_s, last_s)
        return space.at(space.uniform(self.most, np.random.default_rng(self.seed)))

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
        self.likely = likely_ways(trip)
        ways = [(on_ways(grid, settled, self.catalogue), lean) for settled, lean, _ in self.likely]
        error = load_forecast_error()
        open_ways = tuple(ways) if len(ways) > 1 else ()
        return Scenario(grid, self.weathers, np.array(leaks), self.places, error, open_ways)

    # -- judging ---------------------------------------------------------------------------------

    def judge(self, keys: Iterable[Key], count: int) -> None:
        """See that every unit of these loads is judged in the first ``count`` samples."""
        units = dict.fromkeys(unit for key in keys for unit in self.units_of(key))
        step_s = FIRST_STEP_S if count <= FIRST_LOOK < self.most else STEP_S
        begun: dict[int, list[Unit]] = {}
        for unit in units:
            known = self.judged.get(unit)
            if known and known.samples < count and known.step_s > step_s:
                known = None
            met = known.samples if known else 0
            if met < count:
                begun.setdefault(met, []).append(unit)
        for met, late in begun.items():
            self._run(late, slice(met, count), (0.0,), step_s)

    def judge_shifted(
        self, keys: Iterable[Key], count: int, shifts_k: Sequence[float], step_s: float = STEP_S
    ) -> None:
        """The same in shifted air, for headroom; in longer steps where it is only read.

        What was tried before in other shifts or fewer samples is forgotten: headroom is read in samples that all
        shifts have met.
        """
        units = dict.fromkeys(unit for key in keys for unit in self.units_of(key))
        late = [unit for unit in units if not self._tried(unit, count, shifts_k)]
        self._run(late, slice(0, count), tuple(shifts_k), step_s)
        read_headroom((self.judged[unit], self.counted(unit)) for unit in late)

    def _tried(self, unit: Unit, count: int, shifts_k: Sequence[float]) -> bool:
        """Whether a unit was judged in these shifts, or in more of them, in so many samples."""
        shifted = self.judged[unit].shifted
        more = len(shifted) > len(shifts_k) or all(shift in shifted for shift in shifts_k)
        return more and all(table.shape[2] >= count for table in shifted.values())

    def counted(self, unit: Unit) -> tuple[bool, ...]:
        """The parts of a unit whose air follows the outside."""
        return tuple(self._follows[part.place] for part in unit.parts)

    def bands(self, key: Key, samples: int) -> tuple[Floats, Floats, int]:
        """Core temperatures that 5, 50 and 95 of 100 samples stay below, (3, time, group), at (time,) POSIX seconds.

        NaN while a group's boxes are open. The last figure is how many samples. Where nobody knows which way boxes go,
        all of them on the likeliest, its stages as long as usual: a curve has one place at a time.
        """
        sample = self.sample.take(slice(0, min(samples, self.most)))
        units = self.units_of(key)
        shut_s = float(min(self.closings.closed_s[c, key.departure, g] for g, c in enumerate(key.closings)))
        time_s = np.arange(shut_s, float(self.opened_s[key.departure]) + STEP_S, STEP_S)
        bands = np.full((len(BAND), time_s.size, self.groups), np.nan)
        for unit in units:
            laid = self._laid([unit])
            batch, shape, _ = simulated(self.scenario, laid, sample, (0.0,))
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
        self.looked |= dict.fromkeys((unit.departure for unit in units), self.looks)
        pieces = self._pieces(units, rows, shifts_k, step_s)
        found: dict[Unit, dict[int, Judged]] = {unit: {} for unit in units}
        for job, results in map_unordered(judge_units, pieces, self._executor, self._should_stop):
            for unit, result in zip(job.laid.units, results, strict=True):
                found[unit][job.first] = result
        for unit, runs in found.items():
            new = [runs[first] for first in sorted(runs)]
            if shifts_k != (0.0,):
                (only,) = new
                self.judged[unit].shifted = only.shifted
                self.judged[unit].headroom.clear()
            elif rows.start:
                self.judged[unit] = joined([self.judged[unit], *new])
            else:
                whole = joined(new)
                if unit in self.judged:
                    whole.shifted |= self.judged[unit].shifted
                self.judged[unit] = whole

    def _pieces(
        self, units: Sequence[Unit], rows: slice, shifts_k: tuple[float, ...], step_s: float
    ) -> list[Job]:
        """The work cut in like pieces, by units and, where these are few, by samples: all that can work have work."""
        count = rows.stop - rows.start
        lasts = {unit: self._lasts_s(unit) for unit in units}
        cells = sum(len(unit.parts) * lasts[unit] for unit in units) * count * len(shifts_k) / step_s
        share = cells / ((places_of(self._executor) if self._executor else None) or 1)
        most = min(max(share, LEAST_CELLS), BATCH_CELLS)
        alone = shifts_k != (0.0,)  # few samples, and a search that goes on in all of them
        pieces = []
        for part in self._cut(units, lasts, min(count, _MOST_AT_ONCE) * len(shifts_k), step_s, most):
            own = sum(len(unit.parts) for unit in part) * lasts[part[-1]] / step_s
            laid, around = (
                self._laid_out(part, step_s) if own < KEPT_CELLS else (self._laid(part), Passages())
            )
            times = 1 if alone else min(math.ceil(own * count / most), count)
            for first, last in pairwise(rows.start + count * np.arange(times + 1) // times):
                now = self._now(part, rows, shifts_k)
                sample = self.sample.take(slice(first, last))
                pieces.append(Job(self.scenario, laid, sample, shifts_k, step_s, now, around, int(first)))
        return pieces

    def _now(self, units: Sequence[Unit], rows: slice, shifts_k: tuple[float, ...]) -> Now | None:
        """What units that are to be tried in shifted air have to spare in the air as it is."""
        if shifts_k == (0.0,):
            return None
        each = []
        for unit in units:
            spare_k = self.judged[unit].kept[[HOTTER, COLDER], :, : rows.stop]
            counts = np.array(self.counted(unit))[None, :, None]
            each.append(np.where(counts, spare_k, np.inf))
        return Now(np.concatenate(each, axis=1))

    @staticmethod
    def _cut(
        units: Sequence[Unit], lasts: Mapping[Unit, float], times: int, step_s: float, most: float
    ) -> Iterator[list[Unit]]:
        """Units of like duration, each met so many times, cut so that cases times steps stay bounded."""
        batch: list[Unit] = []
        cases = 0
        for unit in sorted(units, key=lasts.__getitem__):
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

    def _laid(self, units: list[Unit]) -> Laid:
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
        return Laid(
            units=tuple(units),
            row=np.array(row_of),
            timeline=timeline,
            night=shut_at_night(self.trip, timeline.closed_s),
            middle_s=self._middle_s[[departure for departure, _ in rows]],
        )

    def _laid_out(self, units: list[Unit], step_s: float) -> tuple[Laid, Passages]:
        """Units laid out, with their passage; that of a while ago where they were among the units laid out then."""
        kind = step_s, len(self.arrangements)
        for known, row_of, laid, around in self._kept:
            if known == kind and all(unit in row_of for unit in units):
                rows = np.array([row_of[unit] for unit in units])
                return replace(laid, units=tuple(units), row=rows), around
        laid, around = self._laid(units), Passages()
        row_of = dict(zip(units, laid.row.tolist(), strict=True))
        self._kept.appendleft((kind, row_of, laid, around))
        return laid, around

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
