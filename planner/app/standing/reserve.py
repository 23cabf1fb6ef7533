"""Standstill reserve: how long the vehicle may stand, from every moment of a trip, before something must be done.

The trip is integrated once and its state kept every few minutes; from each of those moments it is integrated on as
standing there, with the weather going on: shut, with open doors, in shade, misted. All of them are cases of a
few batches.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields, replace
from typing import Protocol, TypeVar

import numpy as np

from planner.app.chance.race import scenario_of, space_of
from planner.app.chance.samples import Sample, variations_of
from planner.app.common.progress import Progress, Stop
from planner.app.plan.plan import single_candidate, vehicle_track
from planner.app.plan.results import Choice, Plan
from planner.errors import Cancelled
from planner.model import boxes as box_model
from planner.model.balance import State
from planner.model.cases import (
    Batch,
    CaseGrid,
    air_in_places,
    boxes_in_place,
    build_cases,
    cases_of,
    enclosures,
    lay_out,
    simulate,
)
from planner.model.catalogue import Catalogue
from planner.model.integrate import Cases
from planner.model.limits import HARM
from planner.model.loading_places import LocalAir, remembered
from planner.model.parameters import Parameters
from planner.model.preparations import ALL, MIST_EVERY_S, MIST_ML
from planner.model.records import Bools, Floats, Ints
from planner.model.standstill import CAUSES, Checkpoint, Onset, checkpoints, time_to_action
from planner.model.timeline import GRID_S, Timeline, VehicleState, follow
from planner.model.weather import outside_weather
from planner.units import UnitSystem
from planner.words import Voice, current, minutes, volume

__all__ = ["CAUSES", "Reserve", "Variant", "reserve", "sampled_reserve"]

SPACING_S = 300.0
HORIZON_S = 6 * 3600.0
AGITATION_LEVELS = (0.0, 1.0)
BATCH_CASES = 1200
SAMPLES, SEED, SHORTER = 32, 1, 0.05
SAMPLED_SPACING_S = 900.0
"""Samples in which standing still is run, and how far apart the moments are then; 5 in 100 are shorter."""

KG_PER_ML = 1e-3

Table = TypeVar("Table", box_model.Boxes, Parameters)


class Drawn(Protocol):
    """Where samples come from: the places their columns name, and the samples."""

    @property
    def places(self) -> tuple[str, ...]: ...

    @property
    def sample(self) -> Sample: ...


@dataclass(frozen=True)
class Variant:
    """One way to stand."""

    name: str
    doors_open: bool = False
    shade: bool = False
    misted: bool = False
    engine_on: bool = False

    @property
    def title(self) -> str:
        """In the language and the units of whoever looks."""
        return self.titled(current().units)

    def titled(self, units: UnitSystem) -> str:
        """In the units given."""
        every = {"volume": volume(MIST_ML), "every": minutes(MIST_EVERY_S / 60.0)} if self.misted else {}
        return Voice(current().language, units).say(f"standing.way_{self.name}", **every)


SHUT = Variant("shut")
DOORS = Variant("doors", doors_open=True)
SHADE = Variant("shade", shade=True)
MISTED = Variant("misted", misted=True)
ENGINE = Variant("engine", engine_on=True)


@dataclass(frozen=True)
class Reserve:
    """How long the vehicle may stand at every moment.

    ``time_s``, ``km``, ``lat_deg``, ``lon_deg``, ``moving`` (moment,); ``after_s`` (moment, variant, agitation, group)
    seconds to the action level: 0 when it is reached already, inf beyond ``horizon_s``, NaN when unknown or not on
    board; ``cause`` likewise, index into CAUSES or -1. ``agitations`` names that axis: typical, agitated.
    ``load_s``, ``load_first`` (moment, variant, agitation): the same for the load, and its group that gives out first,
    where samples were run: the boxes that give out first differ from sample to sample, so that 5 in 100 loads fall
    short of less than each of their groups does. ``harmed`` of the ``samples`` come to harm where nobody stands
    anywhere; they are left out.
    """

    choice: Choice
    time_s: Floats
    km: Floats
    lat_deg: Floats
    lon_deg: Floats
    moving: Bools
    variants: tuple[Variant, ...]
    agitations: tuple[str, ...]
    groups: tuple[str, ...]
    after_s: Floats
    cause: Ints
    horizon_s: float
    samples: int = 0
    harmed: int = 0
    load_s: Floats | None = None
    load_first: Ints | None = None

    def shortest_s(self, variant: int = 0, agitation: int = 0) -> Floats:
        """Seconds of the group that gives out first, (moment,); NaN when any on board is unknown or none is."""
        if self.load_s is not None:
            return np.asarray(self.load_s[:, variant, agitation])
        here = self.after_s[:, variant, agitation]
        aboard = self.cause[:, variant, agitation] > OFF_BOARD
        least = np.where(aboard, here, np.inf).min(axis=-1)
        return np.where(aboard.any(axis=-1), least, np.nan)

    def worst(self, variant: int = 0, agitation: int = 0) -> int | None:
        """The moment with the shortest reserve, None when no moment is known to run out."""
        least = self.shortest_s(variant, agitation)
        known = np.where(np.isnan(least), np.inf, least)
        return int(np.argmin(known)) if np.isfinite(known).any() else None

    def first_group(self, moment: int, variant: int = 0, agitation: int = 0) -> int:
        """The group that gives out first."""
        if self.load_first is not None:
            return int(self.load_first[moment, variant, agitation])
        return int(np.argmin(np.nan_to_num(self.after_s[moment, variant, agitation], nan=np.inf)))


OFF_BOARD = -2
"""Cause of a group that is not on board at a moment."""


def reserve(
    plan: Plan,
    choice: Choice,
    catalogue: Catalogue,
    *,
    spacing_s: float = SPACING_S,
    horizon_s: float = HORIZON_S,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Reserve:
    """The standstill reserve along one candidate of a plan.

    Parameters
    ----------
    spacing_s : between the moments asked about, rounded to whole steps
    horizon_s : how long a standstill is followed
    """
    grid, timeline, night = single_candidate(plan, choice, catalogue, AGITATION_LEVELS)
    way = build_cases(grid, timeline, night)
    nodes = _nodes(timeline, spacing_s)
    standing = _Standing(plan, grid, timeline, way, nodes, horizon_s)
    after_s, cause = standing.onsets(on_progress, should_stop)
    return standing.reserve(choice, after_s, cause)


def sampled_reserve(
    plan: Plan,
    choice: Choice,
    catalogue: Catalogue,
    drawn: Drawn | None = None,
    *,
    samples: int = SAMPLES,
    spacing_s: float = SAMPLED_SPACING_S,
    horizon_s: float = HORIZON_S,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Reserve:
    """The standstill reserve in samples: the minutes that half of them, and that 95 in 100 of them, have.

    Parameters
    ----------
    drawn : where the samples come from, the field of an answer; by default samples of its own
    """
    setup = next(each for each in ALL if each.name == plan.setups[choice.setup])
    scenario, timeline, night = scenario_of(
        plan.trip,
        plan.road,
        (plan.weather,),
        plan.departures_s[[choice.departure]],
        [plan.loading_places[choice.loading_place]],
        catalogue,
        [setup],
    )
    if drawn is None:
        sample = space_of(scenario, timeline).sample(samples, np.random.default_rng(SEED))
    else:
        scenario, sample = replace(scenario, place_names=drawn.places), drawn.sample.take(slice(0, samples))
    middle_s = 0.5 * (timeline.departure_s + timeline.arrive_s[:, -1])
    table = cases_of(np.zeros((1, 3), dtype=np.int64), sample.samples, timeline.groups)
    way = lay_out(scenario.grid, timeline, night, table, variations_of(scenario, sample, middle_s))
    standing = _Standing(plan, scenario.grid, timeline, way, _nodes(timeline, spacing_s), horizon_s)
    after_s, cause = standing.onsets(on_progress, should_stop)
    lost = harmed_anyway(way, sample.samples)
    picked = ranked(after_s, lost)
    found = standing.reserve(
        choice, np.take_along_axis(after_s, picked, axis=2), np.take_along_axis(cause, picked, axis=2)
    )
    load_s, first = load_of(after_s, standing.off_board, lost)
    harmed = int(lost.any(axis=-1).sum())
    return replace(found, samples=sample.samples, harmed=harmed, load_s=load_s, load_first=first)


def harmed_anyway(way: Batch, samples: int) -> Bools:
    """Samples in which a box comes to harm on the trip as it is planned, (1, 1, sample, group).

    The same at every moment: were they left out from the harm on, a minute to stand early on the road would be none,
    and later all the time there is.
    """
    verdict = simulate(way).assessed().verdict
    return np.asarray((verdict == HARM).any(axis=-1).reshape(1, 1, samples, -1))


def ranked(after_s: Floats, lost: Bools) -> Ints:
    """Which samples, along the third axis, half of them and 5 in 100 of them fall short of, (.., rank, ..).

    Left out are samples that are ``lost``: harmed wherever one stands or not. The answer has counted them; where all
    are, one of those is told.
    """
    lost = np.broadcast_to(lost, after_s.shape)
    order = np.lexsort((after_s, lost), axis=2)
    count = (~lost).sum(axis=2, keepdims=True)
    ranks = [(count - 1) // 2, (SHORTER * (count - 1)).astype(np.int64)]
    return np.take_along_axis(order, np.maximum(np.concatenate(ranks, axis=2), 0), axis=2)


def load_of(after_s: Floats, off_board: Bools, lost: Bools) -> tuple[Floats, Ints]:
    """What a load has in half the samples and in 95 of 100, and its group that gives out first.

    Parameters
    ----------
    after_s, lost : (moment, variant, sample, group) seconds, and whether harm is done anyway
    off_board : (moment, 1, 1, group)

    Returns
    -------
    Both (moment, variant, rank); NaN where none is on board or one of those is unknown in any sample.
    """
    aboard = np.where(off_board, np.inf, after_s)
    first = np.argmin(aboard, axis=-1)
    least = aboard.min(axis=-1)
    picked = ranked(least, np.asarray(lost.any(axis=-1)))
    unknown = np.isnan(least).any(axis=2, keepdims=True) | off_board.all(axis=-1)
    return (
        np.where(unknown, np.nan, np.take_along_axis(least, picked, axis=2)),
        np.take_along_axis(first, picked, axis=2),
    )


def _nodes(timeline: Timeline, spacing_s: float) -> Ints:
    """Nodes of the integration from loading to arrival."""
    first, last = (
        round(float(at - timeline.start_s[0]) / GRID_S)
        for at in (timeline.boarded_s[0].min(), timeline.unloaded_s[0].max())
    )
    return np.arange(first, max(last, first + 1), max(1, round(spacing_s / GRID_S)))


def _variants(grid: CaseGrid) -> tuple[Variant, ...]:
    """The ways to stand that make sense where these boxes ride."""
    used = [grid.places[i] for i in np.unique(grid.place_of)]
    doors = (DOORS,) if any(place.ach_doors_open > 0.0 for place in used) else ()
    engine = (ENGINE,) if any(np.isfinite(place.set_point_c) for place in used) else ()
    return (SHUT, *doors, SHADE, MISTED, *engine)


def _rows(begin: Checkpoint, batch: Ints) -> Checkpoint:
    state = State(*(values[batch] for values in begin.state))
    return Checkpoint(state, begin.sperm_exponent[batch], begin.brood_dose[batch])


class _Standing:
    """Every moment of one candidate as the beginning of a standstill, run batch by batch."""

    def __init__(
        self, plan: Plan, grid: CaseGrid, timeline: Timeline, way: Batch, nodes: Ints, horizon_s: float
    ) -> None:
        self._grid, self._way, self._plan, self._timeline = grid, way, plan, timeline
        self._nodes, self._horizon_s = nodes, horizon_s
        self._levels = way.cases.track.size // grid.groups
        self.variants = _variants(grid)
        steps = max(1, round(horizon_s / GRID_S))
        self._after_s = (np.arange(steps)[:, None] + 0.5) * GRID_S
        time_s = timeline.start_s[0] + nodes[:, None] * GRID_S
        self.at = follow(grid.trip, grid.road, timeline, time_s)
        self.vehicle, _ = vehicle_track(plan, timeline, time_s)
        self._place_ids, self._first_group = np.unique(grid.place_of[0], return_index=True)
        self._places = [grid.places[i] for i in self._place_ids]
        self._typical = grid.table.typical()
        memory = remembered(
            way.vehicle, way.outside, self._first_group, self._places, grid.trip.net, self._typical
        )
        self._memory = memory[nodes]

    def onsets(self, on_progress: Progress | None, should_stop: Stop | None) -> tuple[Floats, Ints]:
        """When each standstill comes to the action level and by what, (moment, variant, level, group)."""
        way, nodes = self._way, self._nodes
        begin = checkpoints(way.cases, way.vehicle, way.local_air, way.parameters, nodes)
        found: list[Onset] = []
        for batch in self.batches():
            if should_stop and should_stop():
                raise Cancelled
            found.append(self.run(batch, _rows(begin, batch)))
            if on_progress:
                on_progress((int(batch[-1]) + 1) / nodes.size)
        shape = (nodes.size, len(self.variants), self._levels, self._timeline.groups)
        after_s = np.concatenate([onset.after_s for onset in found]).reshape(shape)
        return after_s, np.concatenate([onset.cause for onset in found]).reshape(shape)

    def reserve(self, choice: Choice, after_s: Floats, cause: Ints) -> Reserve:
        """What was found, along the road."""
        off = self.off_board
        along = self.vehicle
        return Reserve(
            choice=choice,
            time_s=self.at.time_s[:, 0],
            km=along.km[:, 0],
            lat_deg=along.lat_deg[:, 0],
            lon_deg=along.lon_deg[:, 0],
            moving=along.moving[:, 0],
            variants=self.variants,
            agitations=("typical", "agitated"),
            groups=tuple(group.label for group in self._plan.trip.groups),
            after_s=np.where(off, np.nan, after_s),
            cause=np.where(off, OFF_BOARD, cause),
            horizon_s=self._horizon_s,
        )

    @property
    def off_board(self) -> Bools:
        """Which groups are not on board, (moment, 1, 1, group)."""
        return np.asarray(~self.at.on_board.reshape(self._nodes.size, 1, 1, self._timeline.groups))

    @property
    def moments(self) -> int:
        return int(self.at.time_s.shape[0])

    def batches(self) -> Iterator[Ints]:
        """Runs of moments that make batches of a size that stays in cache."""
        cases = len(self.variants) * self._way.cases.track.size
        size = max(1, BATCH_CASES // cases)
        for first in range(0, self.moments, size):
            yield np.arange(first, min(first + size, self.moments))

    def run(self, moments: Ints, begin: Checkpoint) -> Onset:
        """Stand still from the given moments; cases on the axes (moment, variant, agitation, group)."""
        grid, n_place = self._grid, len(self._places)
        standing = np.stack(
            [axis.ravel() for axis in np.indices((moments.size, 1, len(self.variants)))], axis=1
        )
        table = cases_of(standing, self._levels, grid.groups)
        m, v, g = table.departure, table.setup, table.group
        main = table.sample * grid.groups + g
        place = grid.place_of[0, g]
        parameters = _of_cases(self._way.parameters, main)
        cases = Cases(
            track=(m * len(self.variants) + v) * grid.groups + g,
            local_air=(m * len(self.variants) + v) * n_place + np.searchsorted(self._place_ids, place),
            enclosure=enclosures(grid, table.enclosure, place),
            boxes=self._boxes(moments[m], v, main, g),
            **{
                name: np.broadcast_to(getattr(self._way.cases, name), self._way.cases.track.shape)[main]
                for name in ("place_offset_k", "air_offset_k", "sun_factor", "wind_factor")
            },
        )
        checkpoint = Checkpoint(
            State(*(values[m, main] for values in begin.state)),
            begin.sperm_exponent[m, main],
            begin.brood_dose[m, main],
        )
        return time_to_action(
            cases, self._boxes_stand(moments), self._environment(moments), parameters, checkpoint
        )

    def _boxes(self, moment: Ints, variant: Ints, main: Ints, group: Ints) -> box_model.Boxes:
        """Constants of the boxes, those to be misted with water due from this moment on."""
        boxes = _of_cases(self._way.cases.boxes, main)
        misted = np.array([v.misted for v in self.variants])[variant]
        ml = np.maximum(boxes.mist_kg, MIST_ML * KG_PER_ML)
        return replace(
            boxes,
            mist_kg=np.where(misted, ml, boxes.mist_kg),
            mist_first_s=np.where(misted, self.at.riding_s[moment, group], boxes.mist_first_s),
            mist_every_s=np.where(misted, MIST_EVERY_S, boxes.mist_every_s),
        )

    def _boxes_stand(self, moments: Ints) -> VehicleState:
        """The boxes as tracks (moment, variant, group): at rest, no new jolt, the clock runs on."""
        n_variant = len(self.variants)

        def still(values: np.ndarray) -> np.ndarray:
            flat = np.repeat(values[moments], n_variant, axis=0).ravel()
            return np.broadcast_to(flat, (self._after_s.size, flat.size))

        held = {name: still(getattr(self.at, name)) for name in VehicleState.__dataclass_fields__}
        aboard, running = held["on_board"], [variant.engine_on for variant in self.variants]
        engine_on = aboard & np.tile(np.repeat(running, self._grid.groups), moments.size)
        later = {name: held[name] + self._after_s for name in ("time_s", "since_jolt_s", "riding_s")}
        parked = {"closed": aboard, "moving": np.zeros_like(aboard), "felt_share": np.zeros(aboard.shape)}
        return VehicleState(**(held | later | parked | {"engine_on": engine_on}))

    def _environment(self, moments: Ints) -> LocalAir:
        """What surrounds the boxes, pairs (moment, variant, place)."""
        n_variant, n_place = len(self.variants), len(self._places)
        vehicle = self._vehicle_stands(moments)
        outside = outside_weather(self._grid.weather, vehicle, self._typical.ground_albedo)
        memory = np.repeat(self._memory[moments][:, None], n_variant, axis=1)
        stands = moments.size * n_variant
        return air_in_places(
            self._grid,
            vehicle,
            outside,
            np.repeat(np.arange(stands), n_place),
            np.tile(self._place_ids, stands),
            np.tile(boxes_in_place(self._grid)[0, self._first_group], stands),
            begin=memory.transpose(2, 0, 1, 3).reshape(memory.shape[2], -1),
        )

    def _vehicle_stands(self, moments: Ints) -> VehicleState:
        """The vehicle as tracks (moment, variant), stopped where it is."""
        n_variant = len(self.variants)

        def still(values: np.ndarray) -> np.ndarray:
            flat = np.repeat(values[moments, 0], n_variant)
            return np.broadcast_to(flat, (self._after_s.size, flat.size))

        def flag(name: str) -> np.ndarray:
            flags = np.tile([getattr(variant, name) for variant in self.variants], moments.size)
            return np.broadcast_to(flags, (self._after_s.size, flags.size))

        held = {name: still(getattr(self.vehicle, name)) for name in VehicleState.__dataclass_fields__}
        stopped = {"moving": ~(held["km"] >= 0.0), "on_board": held["km"] >= 0.0}
        flags = {name: flag(name) for name in ("shade", "engine_on", "doors_open")}
        now = {"time_s": held["time_s"] + self._after_s, "speed_ms": 0.0 * held["km"]}
        return VehicleState(**(held | stopped | flags | now))


def _of_cases(table: Table, main: Ints) -> Table:
    """The rows of some cases of a table of (case,) arrays; scalars stay."""
    picked = {f.name: getattr(table, f.name) for f in fields(table)}
    return replace(table, **{name: v[main] if v.ndim else v for name, v in picked.items()})
