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

from planner.app.chance.race import NARROWED, UNIT_CELLS, scenario_of
from planner.app.chance.samples import STEP_S, Sample, SampleSpace, Scenario, sampled
from planner.app.common.executors import map_unordered
from planner.app.common.progress import Progress, Stop
from planner.app.day.drives import closings, drive_times, planned_drive_s, road_of, rounded_up_s, trip_of
from planner.app.day.kinds import Kind, kinds_of
from planner.app.plan.plan import shut_at_night
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
        self.generator = generator
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
        """Try cells in some samples. ``wanted`` (ride, knot, closing, kind, set-up) says which."""
        units = list(self._units(rows, wanted))
        jobs = ((cells, (*work, self.sample.take(rows))) for cells, work in units)
        work = map_unordered(_work, jobs, executor, should_stop)
        for done, ((cells, _), harm) in enumerate(work, 1):
            ride, knot, closing, kind, setup = cells.T
            self.table.harm[ride, knot, closing, kind, setup, rows] = harm
            if on_progress:
                on_progress(done / len(units))

    def _units(
        self, rows: slice, wanted: np.ndarray
    ) -> Iterator[tuple[Ints, tuple[Scenario, Timeline, Floats, Ints]]]:
        """Cells with their scenario, cut so that cases times steps stay bounded, alike in length."""
        asked, samples = self.asked, rows.stop - rows.start
        for ride, row in enumerate(asked.rides):
            box_types = {kind.group.box_type for kind in asked.kinds}
            for box_type in sorted(box_types):
                kinds = [k for k, kind in enumerate(asked.kinds) if kind.group.box_type == box_type]
                cells = np.argwhere(wanted[ride][:, :, kinds])
                if not cells.size:
                    continue
                scenario, timeline, night = self._scenario(row, kinds)
                cells[:, 2] = np.array(kinds)[cells[:, 2]]
                line = cells[:, 1] * asked.knots.size + cells[:, 0]
                local = np.array([kinds.index(k) for k in cells[:, 2]]) * len(asked.setups) + cells[:, 3]
                candidates = np.stack((line, np.zeros_like(line), local), axis=1)
                length = (timeline.end_s - timeline.start_s)[line]
                order = np.argsort(length, kind="stable")
                most = UNIT_CELLS * STEP_S / samples
                first = 0
                while first < order.size:
                    cost = length[order[first:]] * np.arange(1, order.size - first + 1)
                    part = order[first : first + max(1, int(np.searchsorted(cost, most)))]
                    yield (
                        np.column_stack((np.full(part.size, ride), cells[part])),
                        (scenario, timeline, night, candidates[part]),
                    )
                    first += part.size

    def _scenario(self, ride: Ride, kinds: Sequence[int]) -> tuple[Scenario, Timeline, Floats]:
        """A ride with some kinds of boxes in every set-up; rows of the timeline are closings by knots."""
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
    return ParameterTable(dict(catalogue.parameters.rows))


def _work(job: tuple[Ints, tuple[Scenario, Timeline, Floats, Ints, Sample]]) -> np.ndarray:
    """Harm of every cell in every sample, (cell, sample)."""
    outcomes = sampled(*job[1])
    worst = outcomes.level.max(axis=-1)
    return np.where(worst == UNKNOWN, UNKNOWN_HARM, worst == HARM).astype(np.int8)
