"""Every way a buyer could be served, judged in common samples: drives in classes, knots of the day, kinds of boxes.

A ride is a drive rounded up, with or without a stop, in one loading place with so many boxes; a knot is a slot about an
hour from the next, and slots between two knots lie between their figures. Every kind of box rides every ride shut in
every way with every set-up, all in the same samples. What is chosen in the end is judged as it is (``chosen.py``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial

import numpy as np

from planner.app.chance.race import NARROWED, scenario_of
from planner.app.chance.samples import STEP_S, Sample, SampleSpace, Scenario, variations_of
from planner.app.common.executors import map_unordered
from planner.app.common.progress import Progress, Stop
from planner.app.day.serving.drives import (
    closings,
    drive_times,
    planned_drive_s,
    road_of,
    rounded_up_s,
    trip_of,
)
from planner.app.day.serving.kinds import Kind, kinds_of, strength
from planner.app.plan.plan import shut_at_night
from planner.model.batches import together
from planner.model.cases import Passage, cases_of, lay_out, passage, simulate
from planner.model.catalogue import Catalogue
from planner.model.limits import HARM, UNKNOWN
from planner.model.parameters import ParameterTable
from planner.model.preparations import ALL, SetUp
from planner.model.records import BoxType, Floats, Group, Ints, Weather
from planner.model.timeline import Timeline, build_timeline
from planner.store.dayrecords import CLOSINGS, Day
from planner.store.forecast_error import load_forecast_error
from planner.store.posterior import bundled_posterior

KNOT_S = 3600.0
MOST_SAMPLES = 1024
NOT_TRIED = -2
"""In a table of harm: 1 harmed, 0 not, -1 unknown for want of weather, -2 not tried."""
UNKNOWN_HARM = -1


MOST_CASES = 2000
LONGER = 1.5
"""Cases that last longer than the shortest of a batch by this factor get a batch of their own."""

Work = tuple[Scenario, Timeline, Floats, Ints, Passage]
Unit = tuple[Ints, Work, float]
"""Cells of the table, what they need, and hours."""


@dataclass(frozen=True, slots=True, order=True)
class Ride:
    """A drive of a class, with a stop or not, in one loading place with so many boxes."""

    drive_s: float
    with_stop: bool
    place: str
    boxes: int


@dataclass(frozen=True)
class Asked:
    """A day with everything its figures rest on.

    ``ride`` (buyer,) row of ``rides``; ``knots`` (knot,) numbers of slots; ``weight`` (closing, slot, knot) of how the
    slots lie between the knots, nothing where a closing is no way of its own; ``closed_s`` (closing, slot).
    """

    day: Day
    weather: Weather
    catalogue: Catalogue
    drive_s: Floats
    rides: tuple[Ride, ...]
    ride: Ints
    kinds: tuple[Kind, ...]
    setups: tuple[SetUp, ...]
    slot_s: Floats
    knots: Ints
    closed_s: Floats
    weight: Floats


def asked_of(day: Day, weather: Weather, catalogue: Catalogue) -> Asked:
    """Sort buyers into rides and boxes into kinds. Raises InputError for places nobody knows."""
    drive_s = drive_times(day)
    rides = [
        Ride(rounded_up_s(planned_drive_s(b, float(d))), b.first_timer, b.rides, b.boxes)
        for b, d in zip(day.buyers, drive_s, strict=True)
    ]
    distinct = tuple(sorted(set(rides)))
    slot_s = np.array(day.slots.begin_s)
    closed_s, own = closings(day, slot_s)
    knots = knots_of(slot_s, day.slots.lasts_s)
    return Asked(
        day=day,
        weather=weather,
        catalogue=catalogue,
        drive_s=drive_s,
        rides=distinct,
        ride=np.array([distinct.index(ride) for ride in rides], dtype=np.int64),
        kinds=kinds_of(day.boxes_that_may_go, day.buyers),
        setups=tuple(setup for setup in ALL if setup.name in day.setups),
        slot_s=slot_s,
        knots=knots,
        closed_s=closed_s,
        weight=_weights(slot_s, knots, own),
    )


def knots_of(slot_s: Floats, lasts_s: float) -> Ints:
    """Slots about KNOT_S apart, with the first and the last of every span without a break."""
    breaks = np.flatnonzero(np.diff(slot_s) > lasts_s + 1.0)
    firsts, lasts = np.concatenate(([0], breaks + 1)), np.append(breaks, slot_s.size - 1)
    every = max(1, round(KNOT_S / lasts_s))
    runs = [[*range(a, b, every), b] for a, b in zip(firsts.tolist(), lasts.tolist(), strict=True)]
    return np.array([knot for run in runs for knot in run], dtype=np.int64)


def _weights(slot_s: Floats, knots: Ints, own: np.ndarray) -> Floats:
    """How every slot lies between its knots, (closing, slot, knot); knots of another way of closing have no say."""
    at = slot_s[knots]
    high = np.clip(np.searchsorted(at, slot_s), 0, knots.size - 1)
    low = np.where(at[high] > slot_s, np.maximum(high - 1, 0), high)
    share = np.where(high > low, (slot_s - at[low]) / np.maximum(at[high] - at[low], 1.0), 0.0)
    plain = np.zeros((slot_s.size, knots.size))
    rows = np.arange(slot_s.size)
    plain[rows, low] += 1.0 - share
    plain[rows, high] += share
    weight = plain[None] * own[:, None, knots] * own[:, :, None]
    total = weight.sum(axis=2, keepdims=True)
    return np.asarray(np.divide(weight, total, out=np.zeros_like(weight), where=total > 0.0))


@dataclass(frozen=True)
class Table:
    """What happened: ``harm`` (ride, knot, closing, kind, set-up, sample), int8 as NOT_TRIED says."""

    harm: np.ndarray

    @property
    def samples(self) -> int:
        return int(self.harm.shape[-1])

    def shares(self, asked: Asked, count: int) -> tuple[Floats, Floats]:
        """Share of the first samples with harm, (ride, closing, slot, kind, set-up), NaN unknown; and how many met."""
        met = (self.harm[..., :count] >= 0).sum(axis=-1)
        hits = (self.harm[..., :count] == 1).sum(axis=-1)
        share = np.divide(hits, met, out=np.full(hits.shape, np.nan), where=met > 0)
        lost = (self.harm[..., :count] == UNKNOWN_HARM).any(axis=-1)
        share = np.where(lost, np.nan, share)
        known: Floats = np.nan_to_num(share, nan=0.0)
        between = np.einsum("csk,rkcju->rcsju", asked.weight, known)
        unknown = np.einsum("csk,rkcju->rcsju", asked.weight, np.isnan(share).astype(float))
        tried = asked.weight.sum(axis=2)[None, :, :, None, None] > 0.0
        of = np.einsum("csk,rkcju->rcsju", asked.weight, met.astype(float))
        return np.asarray(np.where(tried & (unknown < 1e-9), between, np.nan)), np.asarray(of)


class Judge:
    """Fills the table round by round, so that a first board comes at once."""

    def __init__(self, asked: Asked, generator: np.random.Generator, samples: int) -> None:
        self.asked = asked
        shape = (
            len(asked.rides),
            asked.knots.size,
            len(CLOSINGS),
            len(asked.kinds),
            len(asked.setups),
            samples,
        )
        self.table = Table(np.full(shape, NOT_TRIED, dtype=np.int8))
        self.places = tuple(sorted({ride.place for ride in asked.rides}))
        self.space = self._space()
        self._scenarios: dict[tuple[Ride, tuple[int, ...]], tuple[Scenario, Timeline, Floats]] = {}
        self._passages: dict[tuple[int, str, int], Passage] = {}
        self.sample = self.space.sample(max(samples, MOST_SAMPLES), generator)

    def _space(self) -> SampleSpace:
        """One space for the whole day: the same bees, boxes and weather for everybody."""
        asked = self.asked
        longest = max((ride.drive_s for ride in asked.rides), default=0.0)
        last = float(asked.slot_s.max()) + longest + asked.day.slots.opening_s + 2 * KNOT_S
        return SampleSpace(
            scenario_table(asked.catalogue),
            self.places,
            float(asked.closed_s.min()),
            last,
            load_forecast_error(),
            posterior=bundled_posterior() if NARROWED else None,
        )

    def fill(
        self,
        rows: slice,
        wanted: np.ndarray,
        executor: Executor | None = None,
        on_progress: Progress | None = None,
        should_stop: Stop | None = None,
    ) -> None:
        """Try cells in some samples, the telling ones first.

        Between the strongest and the weakest of kinds that differ in nothing else nothing is tried where these two fare
        alike in every sample: what lies between them does too. Nor is a set-up tried where it has nothing to mend.

        Parameters
        ----------
        wanted : (ride, knot, closing, kind, set-up)
        """
        if rows.stop <= rows.start:
            return
        plain, ends = np.zeros(wanted.shape[3:], dtype=bool), self._ends()
        plain[:, 0] = True
        steps = (
            (plain & ends[:, None], 0.5),
            (plain & ~ends[:, None], 0.7),
            (~plain & ends[:, None], 0.9),
            (~plain & ~ends[:, None], 1.0),
        )
        done = 0.0
        for which, until in steps:
            cells = wanted & which & ~self._copied(rows, wanted & which)
            self._try(rows, cells, executor, _part(on_progress, done, until), should_stop)
            done = until

    def _ends(self) -> np.ndarray:
        """Which kinds are the strongest or the weakest of those that differ in nothing else, (kind,)."""
        ends = np.ones(len(self.asked.kinds), dtype=bool)
        for row in self._rows_of_kinds():
            ends[row[1:-1]] = False
        return ends

    def _rows_of_kinds(self) -> list[list[int]]:
        """Kinds that differ only in strength, the strongest first."""
        found: dict[tuple[object, ...], list[int]] = {}
        for number, kind in enumerate(self.asked.kinds):
            g = kind.group
            found.setdefault((g.box_type, g.floor, g.roof, g.entrance, g.comb, kind.buyer), []).append(number)
        return [sorted(row, key=lambda k: -strength(self.asked.kinds[k].group)) for row in found.values()]

    def _copied(self, rows: slice, wanted: np.ndarray) -> np.ndarray:
        """Cells that need no trying, because others tell of them: filled in."""
        harm = self.table.harm[..., rows]
        copied = np.zeros(wanted.shape, dtype=bool)
        fine = (harm[..., :1, :] == 0).all(axis=-1) & wanted  # the load as declared is fine already
        fine[..., 0] = False
        harm[fine] = 0
        for row in self._rows_of_kinds():
            strong, weak = harm[..., row[0], :, :], harm[..., row[-1], :, :]
            alike = ((strong == weak) & (strong >= 0)).all(axis=-1)
            for kind in row[1:-1]:
                copied[..., kind, :] = alike & wanted[..., kind, :]
                harm[..., kind, :, :] = np.where(copied[..., kind, :, None], strong, harm[..., kind, :, :])
        return np.asarray(copied | fine)

    def _try(
        self,
        rows: slice,
        wanted: np.ndarray,
        executor: Executor | None,
        on_progress: Progress | None,
        should_stop: Stop | None,
    ) -> None:
        bundles = _bundled(list(self._units(rows, wanted)), rows.stop - rows.start)
        sample = self.sample.take(rows)
        jobs = (
            ([cells for cells, _, _ in bundle], [work for _, work, _ in bundle], sample) for bundle in bundles
        )
        done = map_unordered(_work, jobs, executor, should_stop)
        for number, ((parts, _, _), harm) in enumerate(done, 1):
            for cells, found in zip(parts, harm, strict=True):
                ride, knot, closing, kind, setup = cells.T
                self.table.harm[ride, knot, closing, kind, setup, rows] = found
            if on_progress:
                on_progress(number / len(bundles))

    def _units(self, rows: slice, wanted: np.ndarray) -> Iterator[Unit]:
        """Cells of one ride and one type of box that are alike in length, what they need, how long they last."""
        asked, samples = self.asked, rows.stop - rows.start
        box_types = sorted({kind.group.box_type for kind in asked.kinds})
        for ride, row in enumerate(asked.rides):
            for box_type in box_types:
                kinds = [k for k, kind in enumerate(asked.kinds) if kind.group.box_type == box_type]
                cells = np.argwhere(wanted[ride][:, :, kinds])
                if not cells.size:
                    continue
                scenario, timeline, night = self._scenario(row, kinds)
                cells[:, 2] = np.array(kinds)[cells[:, 2]]
                line = cells[:, 1] * asked.knots.size + cells[:, 0]
                local = np.array([kinds.index(k) for k in cells[:, 2]]) * len(asked.setups) + cells[:, 3]
                candidates = np.stack((line, np.zeros_like(line), local), axis=1)
                length_h = (timeline.end_s - timeline.start_s)[line] / 3600.0
                bins = np.floor(2.0 * np.log2(np.maximum(length_h, 0.5)))
                for bin_ in np.unique(bins):
                    whole = np.flatnonzero(bins == bin_)
                    for part in np.array_split(whole, max(1, round(whole.size * samples / MOST_CASES))):
                        around = self._passage((ride, box_type, int(bin_)), scenario, timeline, line[whole])
                        work = scenario, timeline, night, candidates[part], around
                        yield (
                            np.column_stack((np.full(part.size, ride), cells[part])),
                            work,
                            float(length_h[part].max()),
                        )

    def _passage(
        self, key: tuple[int, str, int], scenario: Scenario, timeline: Timeline, lines: Ints
    ) -> Passage:
        """What surrounds the boxes of a ride at some of its rows; worked out once, for it costs more than they do."""
        lines = np.unique(lines)
        known = self._passages.get(key)
        if known is None or not np.isin(lines, known.rows).all():
            none = np.zeros_like(lines)
            table = cases_of(np.stack((lines, none, none), axis=1), 1, scenario.grid.groups)
            known = self._passages[key] = passage(scenario.grid, timeline, table, STEP_S)
        return known

    def _scenario(self, ride: Ride, kinds: Sequence[int]) -> tuple[Scenario, Timeline, Floats]:
        """A ride with some kinds of boxes in every set-up; rows of the timeline are closings by knots."""
        key = ride, tuple(kinds)
        if key not in self._scenarios:
            self._scenarios[key] = self._new_scenario(ride, kinds)
        return self._scenarios[key]

    def _new_scenario(self, ride: Ride, kinds: Sequence[int]) -> tuple[Scenario, Timeline, Floats]:
        asked = self.asked
        groups = [asked.kinds[k].group for k in kinds]
        setups = [
            SetUp(f"{k} {setup.name}", "", partial(_as_kind, group, setup), setup.effort)
            for k, group in enumerate(groups)
            for setup in asked.setups
        ]
        slot_s = np.tile(asked.slot_s[asked.knots], len(CLOSINGS))
        closed_s = asked.closed_s[:, asked.knots].ravel()
        return scenario_at(
            asked, [replace(groups[0], count=ride.boxes)], ride, setups, slot_s, closed_s, self.space.places
        )


def _part(on_progress: Progress | None, first: float, last: float) -> Progress | None:
    return (lambda share: on_progress(first + (last - first) * share)) if on_progress else None


def scenario_at(
    asked: Asked,
    groups: Sequence[Group],
    ride: Ride,
    setups: Sequence[SetUp],
    slot_s: Floats,
    closed_s: Floats,
    places: tuple[str, ...],
) -> tuple[Scenario, Timeline, Floats]:
    """Groups on a ride at some slots (row,), shut at ``closed_s`` (row,), ready to be sampled."""
    trip = trip_of(asked.day, groups, (ride.place,), ride.with_stop)
    road = road_of(asked.day.yard, ride.drive_s, ride.with_stop)
    leave_s = slot_s + asked.day.slots.loading_s
    scenario, _, _ = scenario_of(
        trip, road, (asked.weather,), leave_s[:1], (ride.place,), asked.catalogue, setups
    )
    timeline = build_timeline(trip, road, leave_s, np.repeat(closed_s[:, None], len(groups), axis=1))
    return replace(scenario, place_names=places), timeline, shut_at_night(trip, timeline.closed_s)


def _as_kind(group: Group, setup: SetUp, of: Group, box: BoxType) -> Group:
    """The box of a kind with a set-up, as many of them as ride together."""
    return replace(setup.change(group, box), count=of.count)


def scenario_table(catalogue: Catalogue) -> ParameterTable:
    """The parameters as scenarios take them."""
    return catalogue.parameters


def _bundled(units: list[Unit], samples: int) -> list[list[Unit]]:
    """Units of like length together, about MOST_CASES cases each: the calls are the cost while cases are few."""
    bundles: list[list[Unit]] = []
    cases = 0
    for unit in sorted(units, key=lambda one: one[2]):
        more = len(unit[0]) * samples
        if not bundles or cases + more > MOST_CASES or unit[2] > LONGER * bundles[-1][0][2] + 0.5:
            bundles.append([])
            cases = 0
        bundles[-1].append(unit)
        cases += more
    return bundles


def _work(job: tuple[list[Ints], list[Work], Sample]) -> list[np.ndarray]:
    """Harm of every cell in every sample, (cell, sample), of each unit."""
    _, works, sample = job
    batches = []
    for scenario, timeline, night, candidates, around in works:
        table = cases_of(candidates, sample.samples, scenario.grid.groups)
        varied = variations_of(scenario, sample, 0.5 * (timeline.start_s + timeline.end_s))
        batches.append(lay_out(scenario.grid, timeline, night, table, varied, around, STEP_S))
    verdict = simulate(together(batches), STEP_S).assessed(STEP_S).verdict
    ends = np.cumsum([len(candidates) * sample.samples for _, _, _, candidates, _ in works])
    parts = np.split(verdict, ends[:-1])
    return [harm_of(part.reshape(-1, sample.samples, part.shape[-1])) for part in parts]


def harm_of(verdict: np.ndarray) -> np.ndarray:
    """1 harmed, 0 not, UNKNOWN_HARM, from the five verdicts on the last axis."""
    worst = verdict.max(axis=-1)
    return np.where(worst == UNKNOWN, UNKNOWN_HARM, worst == HARM).astype(np.int8)
