"""Every way a buyer could be served, judged in common samples: drives in classes, knots of the day, kinds of boxes.

A ride is a drive rounded up, with or without a stop, in one loading place with so many boxes; a knot is a slot about an
hour from the next, and slots between two knots lie between their figures. Every kind of box rides every ride shut in
every way with every set-up, all in the same samples. What is chosen in the end is judged as it is (``chosen.py``).
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from planner.app.answer.records import Tolerance
from planner.app.answer.tally import interval
from planner.app.chance.race import NARROWED
from planner.app.chance.samples import Sample, SampleSpace
from planner.app.common.executors import map_unordered
from planner.app.common.progress import Progress, Stop
from planner.app.day.serving.drives import (
    closings,
    drive_times,
    planned_drive_s,
    require_both,
    require_room,
    rounded_up_s,
)
from planner.app.day.serving.kinds import Kind, kinds_of, strength
from planner.app.day.serving.ways import Layout, Piece, Ride, Ways, Yard
from planner.model.catalogue import Catalogue
from planner.model.limits import HARM, UNKNOWN
from planner.model.parameters import ParameterTable
from planner.model.preparations import ALL, SetUp
from planner.model.records import Bools, Floats, Ints, Weather
from planner.store.dayrecords import CLOSINGS, Day
from planner.store.forecast_error import load_forecast_error
from planner.store.posterior import bundled_posterior

KNOT_S = 3600.0
MOST_SAMPLES = 1024
NOT_TRIED = -2
"""In a table of harm: 1 harmed, 0 not, -1 unknown for want of weather, -2 not tried."""
UNKNOWN_HARM = -1

NO_COLD_C = 10.0
"""Where the air never is colder than this, cold harms no box: what is longer shut or stronger fares no better."""


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
    """Sort buyers into rides and boxes into kinds. Raises InputError: places nobody knows, no room, nobody, no box."""
    require_both(day)
    require_room(day, catalogue)
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
    """Fills the table round by round, so that a first board comes at once.

    ``asked`` changes with every upset; ``kinds`` stay those the table was filled for, whatever box has failed since.
    """

    def __init__(self, asked: Asked, generator: np.random.Generator, samples: int) -> None:
        self.asked, self.kinds = asked, asked.kinds
        shape = (
            len(asked.rides),
            asked.knots.size,
            len(CLOSINGS),
            len(asked.kinds),
            len(asked.setups),
            samples,
        )
        self.table = Table(np.full(shape, NOT_TRIED, dtype=np.int8))
        self.looked: dict[Tolerance, dict[Any, Any]] = {}
        """What was looked at closely, by tolerance: an upset asks most of it again."""
        self.places = tuple(sorted({ride.place for ride in asked.rides}))
        self.space = self._space()
        self._counts = sorted({ride.boxes for ride in asked.rides})
        self._count = np.array([self._counts.index(ride.boxes) for ride in asked.rides], dtype=np.int64)
        self.layout = _laid(asked, self.places, self._counts)
        self._way = way_of(asked)
        self._depths()
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
        """Try cells in some samples, the worst first: what they bear a milder one bears, and need not try.

        Milder are a set-up beside none, a drive of the same place that is no longer, a closing no earlier, a weaker
        box; how far that goes depends on whether the cold can do any harm (``_dominators``). Between the strongest and
        the weakest of kinds that differ in nothing else nothing is tried where these two fare alike.

        Parameters
        ----------
        wanted : (ride, knot, closing, kind, set-up)
        """
        if rows.stop <= rows.start:
            return
        depth = self._depth[None, None, :, :, :] + self._ride_depth[:, None, None, None, None]
        left = int(wanted.sum())
        done = 0
        for level in range(int(depth.max()) + 1):
            now = wanted & (depth == level)
            last, done = done, done + int(now.sum())
            part = _part(on_progress, last / max(left, 1), done / max(left, 1))
            self._try(rows, now[..., None] & ~self._spared(rows, now), executor, part, should_stop)

    def tried(self, count: int) -> Bools:
        """Cells tried in so many samples."""
        return np.asarray((self.table.harm[..., :count] != NOT_TRIED).all(axis=-1))

    def open(self, count: int, tolerance: Tolerance) -> Bools:
        """Cells tried in so many samples whose lower end does not lie above the tolerance yet."""
        hits = (self.table.harm[..., :count] == 1).sum(axis=-1)
        lows = np.array([interval(float(hit), count)[0] for hit in range(count + 1)])
        allowed = min(tolerance.harm_of_100, tolerance.boxes_of_100)
        return np.asarray(self.tried(count) & (100.0 * lows[hits] <= allowed))

    def _rows_of_kinds(self) -> list[list[int]]:
        """Kinds that differ only in strength, the strongest first."""
        found: dict[tuple[object, ...], list[int]] = {}
        for number, kind in enumerate(self.asked.kinds):
            g = kind.group
            found.setdefault((g.box_type, g.floor, g.roof, g.entrance, g.comb, kind.buyer), []).append(number)
        return [sorted(row, key=lambda k: -strength(self.asked.kinds[k].group)) for row in found.values()]

    def _depths(self) -> None:
        """How many steps milder each cell is than the worst of its like, and which ride is the worst of each."""
        asked = self.asked
        self._warm = float(np.nanmin(np.append(asked.weather.air_c[:, 0], np.inf))) >= NO_COLD_C
        self._worst_ride = np.array([self._worse_ride(ride) for ride in asked.rides], dtype=np.int64)
        self._ride_depth = (self._worst_ride != np.arange(len(asked.rides))).astype(np.int64)
        self._row = self._rows_of_kinds()
        inner = np.zeros(len(asked.kinds), dtype=np.int64)
        for row in self._row:
            inner[row[1:] if self._warm else row[1:-1]] = 1
        closing = np.array([1 if self._warm else 0, 0, 1 if self._warm else 0])
        setup = np.minimum(np.arange(len(asked.setups)), 1)
        self._depth = closing[:, None, None] + inner[None, :, None] + setup[None, None, :]

    def _worse_ride(self, ride: Ride) -> int:
        """The longest drive to the same place that is worse in every way; where the cold may harm, alike in boxes."""
        worse = [
            (other.drive_s, other.with_stop, other.boxes, number)
            for number, other in enumerate(self.asked.rides)
            if other.place == ride.place
            and other.drive_s >= ride.drive_s
            and other.with_stop >= ride.with_stop
            and (other.boxes >= ride.boxes if self._warm else other.boxes == ride.boxes)
        ]
        return max(worse)[-1]

    def _spared(self, rows: slice, wanted: np.ndarray) -> np.ndarray:
        """Samples of wanted cells that need no trying, because others tell of them: filled in."""
        harm = self.table.harm[..., rows]
        fine = harm[self._worst_ride] == 0
        fine[self._ride_depth == 0] = False
        fine[..., 1:, :] |= harm[..., :1, :] == 0
        evening, dawn, handover = range(3)
        if self._warm:  # a night to calm down after being shut is worth as much as it is long
            fine[:, :, [evening, handover]] |= harm[:, :, [dawn]] == 0
        alike = np.full(harm.shape, NOT_TRIED, dtype=np.int8)
        for row in self._row:
            strong, weak = harm[..., row[:1], :, :], harm[..., row[-1:], :, :]
            if self._warm:
                fine[..., row[1:], :, :] |= strong == 0
            else:
                both = np.where(strong == weak, strong, NOT_TRIED)
                alike[..., row[1:-1], :, :] = np.where(both >= 0, both, NOT_TRIED)
        told = np.where(fine, np.int8(0), alike)
        spared = wanted[..., None] & (told != NOT_TRIED) & (harm == NOT_TRIED)
        harm[spared] = told[spared]
        return np.asarray(harm != NOT_TRIED)

    def _try(
        self,
        rows: slice,
        wanted: np.ndarray,
        executor: Executor | None,
        on_progress: Progress | None,
        should_stop: Stop | None,
    ) -> None:
        """March cells in samples, (ride, knot, closing, kind, set-up, sample)."""
        cells = np.argwhere(wanted)
        if not cells.size:
            return
        ride, knot, closing, kind, setup, at = cells.T
        way = self._way[ride, closing, knot]
        variant = (kind * len(self.asked.setups) + setup) * len(self._counts) + self._count[ride]
        pieces = self.layout.pieces(way, variant, at)
        sample = self.sample.take(rows)
        harm = self.table.harm[..., rows]
        done = map_unordered(partial(_work, self.layout, sample), pieces, executor, should_stop)
        for number, (piece, found) in enumerate(done, 1):
            harm[tuple(cells[piece.case].T)] = found
            if on_progress:
                on_progress(number / len(pieces))


def way_of(asked: Asked) -> Ints:
    """Numbers of the ways, (ride, closing, knot), -1 where a closing is none of its own."""
    own = (asked.weight.sum(axis=1) > 0.0)[None] & np.ones((len(asked.rides), 1, 1), dtype=bool)
    return np.where(own, np.cumsum(own).reshape(own.shape) - 1, -1)


def _laid(asked: Asked, places: tuple[str, ...], counts: Sequence[int]) -> Layout:
    """Every ride shut in every way at every knot, and every kind set up in every way, as many as ride together."""
    ride, closing, knot = np.nonzero(way_of(asked) >= 0)
    ways = Ways(
        ride=tuple(asked.rides[number] for number in ride),
        slot_s=asked.slot_s[asked.knots[knot]],
        closed_s=asked.closed_s[closing, asked.knots[knot]],
    )
    variants = [
        replace(setup.change(kind.group, asked.catalogue.box_types[kind.group.box_type]), count=count)
        for kind in asked.kinds
        for setup in asked.setups
        for count in counts
    ]
    return Layout(Yard(asked.day, asked.weather, asked.catalogue, places), ways, variants)


def _part(on_progress: Progress | None, first: float, last: float) -> Progress | None:
    return (lambda share: on_progress(first + (last - first) * share)) if on_progress else None


def scenario_table(catalogue: Catalogue) -> ParameterTable:
    """The parameters as scenarios take them."""
    return catalogue.parameters


def _work(layout: Layout, sample: Sample, piece: Piece) -> np.ndarray:
    """Harm of every case, (case,)."""
    return harm_of(layout.verdicts(piece, sample))


def harm_of(verdict: np.ndarray) -> np.ndarray:
    """1 harmed, 0 not, UNKNOWN_HARM, from the five verdicts on the last axis."""
    worst = verdict.max(axis=-1)
    return np.where(worst == UNKNOWN, UNKNOWN_HARM, worst == HARM).astype(np.int8)
