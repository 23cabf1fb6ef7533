"""How far the edge is: heat made against heat that can be lost, at a moment of a trip and all along it.

Everything is asked as if the moment lasted: weather, speed and place stay, bees have settled from the last jolt,
and none has died.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from planner.app.common.progress import Progress, Stop
from planner.app.plan.plan import alone, vehicle
from planner.app.plan.results import CENTRAL, Choice, Plan
from planner.errors import Cancelled, Fault, InputError
from planner.model.balance import State, Step
from planner.model.boxes import Boxes
from planner.model.cases import Fan, Layout, lay
from planner.model.catalogue import Catalogue
from planner.model.integrate import prepare
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints
from planner.model.standstill import memories
from planner.model.timeline import GRID_S, Timeline
from planner.model.tipping import (
    Moment,
    Tipping,
    balance_curve,
    core_grid,
    headroom_w,
    liveable_c,
    points,
    tipping,
)

SPACING_S = 900.0
ALONG_SPACING_K, HALVING_SPACING_K = 0.5, 0.25
BATCH_CASES = 20_000
SETTLED_S = 1e9


@dataclass(frozen=True)
class TippingAt:
    """The balance of every box at one moment.

    ``core_c`` (temp,); ``made_w``, ``lost_w`` (temp, temper, group); ``now_c`` (temper, group) core temperature at
    the moment; ``points`` balance points and headroom, (temper, group).
    """

    choice: Choice
    time_s: float
    km: float
    groups: tuple[str, ...]
    core_c: Floats
    made_w: Floats
    lost_w: Floats
    now_c: Floats
    points: Tipping

    def tightest(self, temper: int = CENTRAL) -> int:
        """The group with the least headroom in watts per box."""
        return int(np.argmin(np.nan_to_num(self.points.headroom_w[temper], nan=np.inf)))


@dataclass(frozen=True)
class HeadroomAlong:
    """Balance points and headroom every so often: ``time_s``, ``km`` (moment,), the rest (moment, temper, group)."""

    time_s: Floats
    km: Floats
    stable_c: Floats
    unstable_c: Floats
    headroom_w: Floats

    def tightest(self, temper: int = CENTRAL) -> int | None:
        """The moment with the least headroom of any group, None when nothing is known."""
        least = np.nan_to_num(self.headroom_w[:, temper], nan=np.inf).min(axis=-1)
        return int(np.argmin(least)) if np.isfinite(least).any() else None


def tipping_at(plan: Plan, choice: Choice, catalogue: Catalogue, time_s: float) -> TippingAt:
    """The balance curves of one candidate at an instant. Raises InputError for one at which no box is shut."""
    fan, timeline, night = alone(plan, choice, catalogue)
    way = lay(fan, timeline, night)
    node = round((time_s - float(timeline.start_s[0])) / GRID_S)
    if not 0 <= node < way.time_s.shape[0]:
        remedy = "Choose an instant between closing and opening"
        raise InputError([Fault("at", "", "no box is shut then", remedy)])
    moment = moments_of(fan, timeline, way, np.array([node]))
    grid = core_grid()
    curve = balance_curve(moment, grid)
    fine, coarse = tipping_points(moment, grid), tipping(moment, core_grid(spacing_k=HALVING_SPACING_K))
    shape = (1, len(fan.tempers), timeline.groups)

    def own(values: Floats) -> Floats:
        first: Floats = _own_probe(values, *shape)[0]
        return first

    found = Tipping(*(own(values) for values in (*fine, coarse.headroom_k)))
    along, _ = vehicle(plan, timeline, np.array([[time_s]]))
    return TippingAt(
        choice=choice,
        time_s=float(timeline.start_s[0]) + node * GRID_S,
        km=float(along.km[0, 0]),
        groups=tuple(group.label for group in plan.trip.groups),
        core_c=grid,
        made_w=np.stack([own(row) for row in curve.made_w]),
        lost_w=np.stack([own(row) for row in curve.lost_w]),
        now_c=own(moment.state.core_c),
        points=found,
    )


def tipping_points(moment: Moment, grid: Floats) -> tuple[Floats, Floats, Floats]:
    """Stable and unstable point and headroom in watts of the probed cases, each (case,)."""
    curve, lives = balance_curve(moment, grid), liveable_c(moment)
    return *points(curve, lives), headroom_w(curve, lives)


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
    fan, timeline, night = alone(plan, choice, catalogue)
    way = lay(fan, timeline, night)
    nodes = np.arange(0, way.time_s.shape[0], max(1, round(spacing_s / GRID_S)))
    grid = core_grid(spacing_k=ALONG_SPACING_K)
    size = max(1, BATCH_CASES // (grid.size * way.cases.track.size * timeline.groups))
    parts: list[tuple[Floats, ...]] = []
    for first in range(0, nodes.size, size):
        if should_stop and should_stop():
            raise Cancelled
        batch = nodes[first : first + size]
        found = tipping_points(moments_of(fan, timeline, way, batch), grid)
        parts.append(
            tuple(_own_probe(values, batch.size, len(fan.tempers), timeline.groups) for values in found)
        )
        if on_progress:
            on_progress(min(1.0, (first + size) / nodes.size))
    time_s = np.asarray(timeline.start_s[0] + nodes * GRID_S, dtype=np.float64)
    stable, unstable, watts = (np.concatenate(column) for column in zip(*parts, strict=True))
    along, _ = vehicle(plan, timeline, time_s[:, None])
    return HeadroomAlong(time_s, along.km[:, 0], stable, unstable, watts)


def _own_probe(values: Floats, moments: int, tempers: int, groups: int) -> Floats:
    """What each group's own probe says, (moment, temper, group), from cases (moment, probe, temper, group)."""
    table = values.reshape(moments, groups, tempers, groups)
    return np.stack([table[:, g, :, g] for g in range(groups)], axis=-1)


def moments_of(fan: Fan, timeline: Timeline, way: Layout, nodes: Ints) -> Moment:
    """Moments of a candidate as one batch; cases on the axes (moment, probe, temper, group).

    One probe for each group, the others standing as they are: boxes that share a vehicle warm each other.
    """
    n_group, n_case = timeline.groups, way.cases.track.size
    memory = memories(way.cases, way.where, way.env, way.parameters, nodes).state
    settled = replace(way.where, since_jolt_s=np.full_like(way.where.since_jolt_s, SETTLED_S))
    steps = [
        next(prepare(way.cases, settled, way.env, slice(node, node + 1), way.parameters).rows())
        for node in np.minimum(nodes, way.time_s.shape[0] - 1).tolist()
    ]
    group = np.arange(n_case) % n_group
    probe, case = (axis.ravel() for axis in np.indices((n_group, n_case)))
    shut = way.where.closed[nodes][:, way.cases.track]
    air_held = _conditioned(fan, way, nodes)

    def spread(rows: np.ndarray) -> np.ndarray:
        return np.broadcast_to(rows, (nodes.size, n_case))[:, case].ravel()

    state = State(*(spread(values) for values in memory))
    parameters = Parameters(**{name: spread(v) if v.ndim else v for name, v in vars(way.parameters).items()})
    return Moment(
        state=state,
        step=Step(*(spread(np.array(column)) for column in zip(*steps, strict=True))),
        alive=np.ones_like(state.core_c),
        boxes=Boxes(**{name: spread(values) for name, values in vars(way.cases.boxes).items()}),
        enclosure=_enclosures(way, nodes.size, n_group),
        parameters=parameters,
        probed=np.tile(probe == group[case], nodes.size) & spread(shut),
        follows_outside=1.0 - spread(air_held.astype(np.float64)),
    )


def _enclosures(way: Layout, moments: int, probes: int) -> Ints | None:
    """Enclosures of every (moment, probe) of their own."""
    enclosure = way.cases.enclosure
    if enclosure is None:
        return None
    size = int(enclosure.max()) + 1
    return np.asarray((np.arange(moments * probes)[:, None] * size + enclosure).ravel())


def _conditioned(fan: Fan, way: Layout, nodes: Ints) -> Bools:
    """Whether air conditioning holds the air of each case, (node, case)."""
    cases = way.cases
    place_of = fan.place_of[0][cases.track % fan.place_of.shape[1]]
    holds = np.isfinite([place.set_point_c for place in fan.places])[place_of]
    running = way.where.engine_on[nodes][:, cases.track] & way.where.on_board[nodes][:, cases.track]
    return np.asarray(running & holds)
