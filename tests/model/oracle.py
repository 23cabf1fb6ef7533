"""An independent integrator for whole trips: scipy's Radau on the very same ``balance.rates``.

Forces are sampled every ten seconds and carried by cubic splines between the events of a trip (closing,
loading, leaving, arriving, opening, full hours, bends of the road, mistings); the algebraic part of the
balance is iterated until it stands still; the worker dose, the moisture of an enclosure and its carbon
dioxide are states of their own. One scenario at a time, all its boxes together. At the end a formula that the
program has no use for.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline

from planner.model import balance
from planner.model.balance import LATENT_J_KG, EnclosureSum, Forcing, State, rates
from planner.model.bees import alive_share
from planner.model.cases import CaseGrid, SimulatedBatch
from planner.model.integrate import Cases, Histories, dose_rate, prepare, start
from planner.model.loading_places import LocalAir, air_around
from planner.model.march import march
from planner.model.records import Floats
from planner.model.sun import SUNRISE_DEG
from planner.model.timeline import GRID_S, Timeline, VehicleState, follow, waypoint_drive_s
from planner.model.weather import outside_weather

FINE_S = 10.0
STATES = 8
SAME = 1e-12


@dataclass(frozen=True)
class Resampled:
    """One departure of a fan on another time step."""

    vehicle: VehicleState
    local_air: LocalAir
    step_s: float


def resample(grid: CaseGrid, timeline: Timeline, step_s: float) -> Resampled:
    """Where and in what the boxes of the first place are, every ``step_s`` of the first departure."""
    length_s = float(timeline.end_s[0] - timeline.start_s[0])
    time_s = timeline.start_s + (np.arange(round(length_s / step_s))[:, None] + 0.5) * step_s
    vehicle = follow(grid.trip, grid.road, timeline, time_s)
    typical = grid.table.typical()
    counts = np.array([float(group.count) for group in grid.trip.groups])
    places = grid.place_of[0]
    local_air = air_around(
        vehicle,
        outside_weather(grid.weather, vehicle, typical.ground_albedo),
        np.arange(places.size),
        [grid.places[i] for i in places],
        np.array([counts[places == i].sum() for i in places]),
        grid.ground,
        grid.trip.net,
        typical,
        step_s,
    )
    return Resampled(vehicle, local_air, step_s)


def integrate_by(simulated: SimulatedBatch, grid: CaseGrid, timeline: Timeline, step_s: float) -> Histories:
    """The same cases integrated by another step, by the march in use."""
    fine = resample(grid, timeline, step_s)
    return march(simulated.cases, fine.vehicle, fine.local_air, simulated.parameters, step_s=step_s)


@dataclass(frozen=True)
class Truth:
    """Temperatures (time, case) at the nodes of the integration."""

    core_c: Floats
    stores_c: Floats


def solve(simulated: SimulatedBatch, grid: CaseGrid, timeline: Timeline, rtol: float = 1e-8) -> Truth:
    """One scenario integrated from closing to opening, read at the nodes of ``integrated``."""
    fine = resample(grid, timeline, FINE_S)
    scenario = _World(simulated.cases, fine, simulated)
    nodes = timeline.start_s[0] + np.arange(simulated.seen.core_c.shape[0]) * GRID_S
    state = scenario.first()
    read = [state]
    for piece in scenario.pieces(_events(grid, timeline)):
        state = piece.mist(state)
        inner = nodes[(nodes > piece.start_s) & (nodes <= piece.end_s)]
        solved = solve_ivp(
            piece.slope,
            (piece.start_s, piece.end_s),
            state,
            method="Radau",
            rtol=rtol,
            atol=piece.tolerance(rtol),
            t_eval=np.union1d(inner, piece.end_s),
            max_step=1800.0,
        )
        assert solved.success, solved.message
        read += list(solved.y.T[: inner.size])
        state = piece.in_the_open(solved.y[:, -1], piece.end_s)
    cases = simulated.cases.track.size
    table = np.array(read).reshape(len(read), STATES, cases)
    return Truth(core_c=table[:, 0], stores_c=table[:, 1])


def _events(grid: CaseGrid, timeline: Timeline) -> Floats:
    """Every instant at which a force may jump or bend."""
    start_s, end_s = timeline.start_s[0], timeline.end_s[0]
    per_call = [timeline.closed_s, timeline.boarded_s, timeline.unloaded_s, timeline.opened_s]
    waypoints = [timeline.arrive_s, timeline.leave_s]
    at = [instants[0] for instants in (*per_call, *waypoints)]
    driven = waypoint_drive_s(grid.road)
    drive_knots = np.stack((driven, driven), axis=1).ravel()
    clock_knots = np.stack((timeline.arrive_s[0], timeline.leave_s[0]), axis=1).ravel()
    for leg in range(1, clock_knots.size - 2, 2):
        on_leg = (grid.road.drive_s > drive_knots[leg]) & (grid.road.drive_s < drive_knots[leg + 1])
        share = (grid.road.drive_s[on_leg] - drive_knots[leg]) / (drive_knots[leg + 1] - drive_knots[leg])
        at.append(clock_knots[leg] + share * (clock_knots[leg + 1] - clock_knots[leg]))
    at.append(np.arange(np.ceil(start_s / 3600.0), end_s / 3600.0) * 3600.0)
    for group, boarded in zip(grid.trip.groups, timeline.boarded_s[0], strict=True):
        if group.misting:
            at.append(np.arange(boarded + group.misting.first_s, end_s, group.misting.every_s))
    instants = np.unique(np.concatenate([np.ravel(values) for values in at]))
    inside = instants[(instants > start_s + 1.0) & (instants < end_s - 1.0)]
    kept = inside[np.append(True, np.diff(inside) > 1.0)]
    return np.concatenate(([start_s], kept, [end_s]))


class _World:
    """Forces of a scenario on a fine grid, cut into pieces."""

    def __init__(self, cases: Cases, fine: Resampled, simulated: SimulatedBatch) -> None:
        self.cases, self.p, self._fine = cases, simulated.parameters, fine
        everything = slice(0, fine.vehicle.time_s.shape[0])
        rows = list(prepare(cases, fine.vehicle, fine.local_air, everything, self.p, fine.step_s).rows())
        self.forces = {name: np.array([getattr(row, name) for row in rows]) for name in rows[0]._fields}
        self.forces["change_per_s"] = fine.local_air.change_per_s[:, cases.local_air]
        self.time_s = fine.vehicle.time_s[:, 0]
        self.coefficients = balance.coefficients_of(cases.boxes, self.p)
        self.enclosure_sum = EnclosureSum(cases.enclosure)

    def first(self) -> Floats:
        begun = start(self.cases, self._fine.vehicle, self._fine.local_air, self.p)
        parts = (begun.core_c, begun.stores_c, begun.water_kg, begun.mist_kg, begun.fuel_j, begun.worker_dose)
        parts = (*parts, begun.around_kg_m3, begun.co2_share)
        return np.concatenate([np.asarray(part, dtype=np.float64) for part in parts])

    def pieces(self, events: Floats) -> Iterator[_Piece]:
        for start_s, end_s in itertools.pairwise(events):
            yield _Piece(self, float(start_s), float(end_s))


class _Piece:
    """A stretch of a trip without jumps."""

    def __init__(self, scenario: _World, start_s: float, end_s: float) -> None:
        self._world, self.start_s, self.end_s = scenario, start_s, end_s
        self._cases = scenario.cases.track.size
        inside = np.flatnonzero((scenario.time_s > start_s) & (scenario.time_s < end_s))
        thin = inside[:: max(1, inside.size // 120)]
        self._misted = scenario.forces["mist_kg"][inside].sum(axis=0)
        self._active = scenario.forces["active_s"][inside[inside.size // 2]] > 0.0
        sampled = {
            name: scenario.forces[name][thin] for name in (*Forcing._fields, "vapour_kg_m3", "change_per_s")
        }
        sampled["inverse_m3"] = scenario.forces["vapour_gain"][thin] * np.where(
            np.isfinite(sampled["change_per_s"]), sampled["change_per_s"], 0.0
        )
        self._open = np.isinf(sampled["change_per_s"]).any(axis=0)
        sampled["change_per_s"] = np.where(self._open, 0.0, sampled["change_per_s"])
        names, tables = list(sampled), np.stack(list(sampled.values()), axis=1)
        at = scenario.time_s[thin] - start_s
        self._names = names
        self._curve = CubicSpline(at, tables) if at.size > 1 else lambda _: tables[0]
        self._held = np.zeros((STATES, self._cases))
        self._guess: tuple[Floats, Floats] | None = None
        self._skin: Floats | None = None

    def mist(self, state: Floats) -> Floats:
        """The state with the water misted at the start of the piece; boxes still open stay as they are."""
        out = state.copy().reshape(STATES, self._cases)
        out[3] += self._misted
        self._held = out
        return self.in_the_open(out.ravel(), self.start_s)

    def in_the_open(self, state: Floats, time_s: float) -> Floats:
        """The state with the outside moisture around the boxes that stand in the open."""
        out = state.copy().reshape(STATES, self._cases)
        out[6] = np.where(self._open & self._active, self._forces(time_s)["vapour_kg_m3"], out[6])
        out[7] = np.where(self._open & self._active, self._world.p.ambient_co2_share, out[7])
        return out.ravel()

    def tolerance(self, rtol: float) -> Floats:
        scale = np.array([1e-1, 1e-1, 1e-3, 1e-3, 1e3, 1e-2, 1e-3, 1e-3])
        return np.repeat(scale * rtol, self._cases)

    def slope(self, time_s: float, flat: Floats) -> Floats:
        scenario, force = self._world, self._forces(time_s)
        known = np.where(self._active, flat.reshape(STATES, self._cases), self._held)
        core, stores, water, mist, fuel, dose, around, co2 = known
        around = np.where(self._open, force["vapour_kg_m3"], around)
        ambient = scenario.p.ambient_co2_share
        co2 = np.where(self._open, ambient, co2)
        warming, shared = self._guess or (np.full(self._cases, 5.0), np.zeros(self._cases))
        forcing = Forcing(*(force[name] for name in Forcing._fields))
        alive = alive_share(np.maximum(dose, 0.0), scenario.p)
        zero = np.zeros(self._cases)
        skin = zero + 1.0 if self._skin is None else self._skin
        state = State(core, stores, water, mist, fuel, dose, around, warming, shared, zero, skin, co2)
        now = rates(
            state, forcing, alive, scenario.cases.boxes, scenario.coefficients, scenario.enclosure_sum
        )
        for _ in range(40):
            moved = np.max(np.abs(now.warming_k - state.warming_k)) + np.max(
                np.abs(now.shared_w - state.shared_w)
            )
            moved += 1e3 * np.max(np.abs(now.skin_kg_m3 - state.skin_kg_m3))
            if moved < SAME:
                break
            state = state._replace(warming_k=now.warming_k, shared_w=now.shared_w, skin_kg_m3=now.skin_kg_m3)
            now = rates(
                state, forcing, alive, scenario.cases.boxes, scenario.coefficients, scenario.enclosure_sum
            )
        self._guess, self._skin = (now.warming_k, now.shared_w), now.skin_kg_m3
        given_off = scenario.enclosure_sum.total(forcing.weight * now.evaporation_w) / LATENT_J_KG
        condensed = forcing.skin_m3_s * np.maximum(around - now.skin_kg_m3, 0.0)
        exchanged = force["change_per_s"] * (force["vapour_kg_m3"] - around)
        made_w = scenario.enclosure_sum.total(forcing.weight * (now.adults_w + now.brood_w))
        breathed = made_w * scenario.p.co2_m3_per_j + forcing.breath_m3_s
        stale = force["change_per_s"] * (ambient - co2) + breathed * force["inverse_m3"]
        moisture = exchanged + (given_off - condensed) * force["inverse_m3"]
        slopes = np.stack(
            (
                now.core_k_s,
                now.stores_k_s,
                now.water_kg_s,
                now.mist_kg_s,
                now.fuel_w,
                dose_rate(core, state, now, scenario.cases.boxes, scenario.p),
                np.where(self._open, 0.0, moisture),
                np.where(self._open, 0.0, stale),
            )
        )
        return (slopes * self._active).ravel()

    def _forces(self, time_s: float) -> dict[str, Floats]:
        return dict(zip(self._names, self._curve(time_s - self.start_s), strict=True))


# -- formulas that only tests ask ----------------------------------------------------------------


def refraction_deg(
    elevation_deg: Floats | float, pressure_pa: Floats | float, air_c: Floats | float
) -> Floats:
    """How far the air lifts the sun, degrees, to be added to its elevation; none once it is well down.

    Source: Saemundsson 1986 in Meeus 1998, Astronomical Algorithms, 2nd ed., eq. 16.4.
    """
    elevation = np.asarray(elevation_deg, dtype=np.float64)
    seen = np.maximum(elevation, SUNRISE_DEG)
    lift = 1.02 / 60.0 / np.tan(np.radians(seen + 10.3 / (seen + 5.11)))
    thickness = pressure_pa / 101_000.0 * 283.0 / (273.15 + air_c)
    return np.where(elevation < SUNRISE_DEG, 0.0, lift * thickness)
