"""How far the edge is: heat made against heat that can be lost, at a moment of a trip and all along it.

Everything is asked as if the moment lasted: weather, speed and place stay, bees have settled from the last jolt,
and none has died.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.app.common.progress import Progress, Stop
from planner.app.plan.plan import single_candidate, vehicle_track
from planner.app.plan.results import TYPICAL, Choice, Plan
from planner.errors import Cancelled, Fault, InputError
from planner.model.balance import Forcing, State
from planner.model.boxes import Boxes
from planner.model.cases import Batch, CaseGrid, build_cases, set_apart
from planner.model.catalogue import Catalogue
from planner.model.integrate import prepare
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints
from planner.model.standstill import checkpoints
from planner.model.timeline import GRID_S, Timeline
from planner.model.tipping import (
    FrozenState,
    Tipping,
    balance_curve,
    core_grid,
    equilibria,
    headroom_w,
    liveable_c,
    tipping,
)

SPACING_S = 900.0
ALONG_SPACING_K, HALVING_SPACING_K = 0.5, 0.25
BATCH_CASES = 20_000
SETTLED_S = 1e9


@dataclass(frozen=True)
class TippingAt:
    """The balance of every box at one moment.

    ``core_c`` (temp,); ``made_w``, ``lost_w`` (temp, agitation, group); ``now_c`` (agitation, group) core at
    the moment; ``points`` balance points and headroom, (agitation, group).
    """

    choice: Choice
    time_s: float
    km: float
    groups: tuple[str, ...]
    core_c: Floats
    made_w: Floats
    lost_w: Floats
    now_c: Floats
    equilibria: Tipping

    def tightest(self, agitation: int = TYPICAL) -> int:
        """The group with the least headroom in watts per box."""
        return int(np.argmin(np.nan_to_num(self.equilibria.headroom_w[agitation], nan=np.inf)))


@dataclass(frozen=True)
class HeadroomAlong:
    """Balance points and headroom every so often: ``time_s``, ``km`` (moment,), the rest (moment, agitation, group)."""

    time_s: Floats
    km: Floats
    stable_c: Floats
    unstable_c: Floats
    headroom_w: Floats

    def tightest(self, agitation: int = TYPICAL) -> int | None:
        """The moment with the least headroom of any group, None when nothing is known."""
        least = np.nan_to_num(self.headroom_w[:, agitation], nan=np.inf).min(axis=-1)
        return int(np.argmin(least)) if np.isfinite(least).any() else None


def tipping_at(plan: Plan, choice: Choice, catalogue: Catalogue, time_s: float) -> TippingAt:
    """The balance curves of one candidate at an instant. Raises InputError for one at which no box is shut."""
    grid, timeline, night = single_candidate(plan, choice, catalogue)
    way = build_cases(grid, timeline, night)
    node = round((time_s - float(timeline.start_s[0])) / GRID_S)
    if not 0 <= node < way.time_s.shape[0]:
        remedy = "Choose an instant between closing and opening"
        raise InputError([Fault("at", "", "no box is shut then", remedy)])
    moment = frozen_states(grid, timeline, way, np.array([node]))
    core_c = core_grid()
    curve = balance_curve(moment, core_c)
    fine, coarse = tipping_points(moment, core_c), tipping(moment, core_grid(spacing_k=HALVING_SPACING_K))
    shape = (1, len(grid.agitations), timeline.groups)

    def own(values: Floats) -> Floats:
        first: Floats = _own_probe(values, *shape)[0]
        return first

    found = Tipping(*(own(values) for values in (*fine, coarse.headroom_k)))
    along, _ = vehicle_track(plan, timeline, np.array([[time_s]]))
    return TippingAt(
        choice=choice,
        time_s=float(timeline.start_s[0]) + node * GRID_S,
        km=float(along.km[0, 0]),
        groups=tuple(group.label for group in plan.trip.groups),
        core_c=core_c,
        made_w=np.stack([own(row) for row in curve.made_w]),
        lost_w=np.stack([own(row) for row in curve.lost_w]),
        now_c=own(moment.state.core_c),
        equilibria=found,
    )


def tipping_points(moment: FrozenState, core_c: Floats) -> tuple[Floats, Floats, Floats]:
    """Stable and unstable point and headroom in watts of the probed cases, each (case,)."""
    curve, lives = balance_curve(moment, core_c), liveable_c(moment)
    return *equilibria(curve, lives), headroom_w(curve, lives)


def headroom_along(
    plan: Plan,
    choice: Choice,
    catalogue: Catalogue,
    *,
    spacing_s: float = SPACING_S,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> HeadroomAlong:
    """Balance points and headroom in watts from the first closing to the last opening."""
    grid, timeline, night = single_candidate(plan, choice, catalogue)
    way = build_cases(grid, timeline, night)
    nodes = np.arange(0, way.time_s.shape[0], max(1, round(spacing_s / GRID_S)))
    core_c = core_grid(spacing_k=ALONG_SPACING_K)
    size = max(1, BATCH_CASES // (core_c.size * way.cases.track.size * timeline.groups))
    parts: list[tuple[Floats, ...]] = []
    for first in range(0, nodes.size, size):
        if should_stop and should_stop():
            raise Cancelled
        batch = nodes[first : first + size]
        found = tipping_points(frozen_states(grid, timeline, way, batch), core_c)
        parts.append(
            tuple(_own_probe(values, batch.size, len(grid.agitations), timeline.groups) for values in found)
        )
        if on_progress:
            on_progress(min(1.0, (first + size) / nodes.size))
    time_s = np.asarray(timeline.start_s[0] + nodes * GRID_S, dtype=np.float64)
    stable, unstable, watts = (np.concatenate(column) for column in zip(*parts, strict=True))
    along, _ = vehicle_track(plan, timeline, time_s[:, None])
    return HeadroomAlong(time_s, along.km[:, 0], stable, unstable, watts)


def _own_probe(values: Floats, moments: int, agitations: int, groups: int) -> Floats:
    """What each group's own probe says, (moment, agitation, group), from cases (moment, probe, agitation, group)."""
    table = values.reshape(moments, groups, agitations, groups)
    return np.stack([table[:, g, :, g] for g in range(groups)], axis=-1)


def frozen_states(grid: CaseGrid, timeline: Timeline, way: Batch, nodes: Ints) -> FrozenState:
    """Moments of a candidate as one batch; cases on the axes (moment, probe, agitation, group).

    One probe for each group, the others standing as they are: boxes that share a vehicle warm each other.
    """
    n_group, n_case = timeline.groups, way.cases.track.size
    checkpoint = checkpoints(way.cases, way.vehicle, way.local_air, way.parameters, nodes).state
    settled = replace(way.vehicle, since_jolt_s=np.full_like(way.vehicle.since_jolt_s, SETTLED_S))
    steps = [
        next(prepare(way.cases, settled, way.local_air, slice(node, node + 1), way.parameters).rows())
        for node in np.minimum(nodes, way.time_s.shape[0] - 1).tolist()
    ]
    group = np.arange(n_case) % n_group
    probe, case = (axis.ravel() for axis in np.indices((n_group, n_case)))
    shut = way.vehicle.closed[nodes][:, way.cases.track]
    air_held = _conditioned(grid, way, nodes)

    def spread(rows: np.ndarray) -> np.ndarray:
        return np.broadcast_to(rows, (nodes.size, n_case))[:, case].ravel()

    state = State(*(spread(values) for values in checkpoint))
    parameters = Parameters(**{name: spread(v) if v.ndim else v for name, v in vars(way.parameters).items()})
    return FrozenState(
        state=state,
        forcing=Forcing(*(spread(np.array(column)) for column in zip(*steps, strict=True))),
        alive=np.ones_like(state.core_c),
        boxes=Boxes(**{name: spread(values) for name, values in vars(way.cases.boxes).items()}),
        enclosure=set_apart(way.cases.enclosure, nodes.size * n_group),
        parameters=parameters,
        probed=np.tile(probe == group[case], nodes.size) & spread(shut),
        follows_outside=1.0 - spread(air_held.astype(np.float64)),
    )


def _conditioned(grid: CaseGrid, way: Batch, nodes: Ints) -> Bools:
    """Whether air conditioning holds the air of each case, (node, case)."""
    cases = way.cases
    place_of = grid.place_of[0][cases.track % grid.place_of.shape[1]]
    holds = np.isfinite([place.set_point_c for place in grid.places])[place_of]
    running = way.vehicle.engine_on[nodes][:, cases.track] & way.vehicle.on_board[nodes][:, cases.track]
    return np.asarray(running & holds)
