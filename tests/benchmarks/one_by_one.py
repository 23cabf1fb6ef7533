"""scipy's LSODA on one case at a time, on the compiled slopes and on the model's own ``rates``.

Forces run straight from mid-minute to mid-minute; the integration starts afresh wherever they jump. The
algebraic part of the balance is iterated until it stands still, as the integration's single Newton step nearly does.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from scipy.integrate import solve_ivp

from planner.model.balance import LATENT_J_KG, EnclosureSum, Forcing, State, coefficients_of, rates
from planner.model.bees import alive_share
from planner.model.cases import Batch
from planner.model.integrate import dose_rate, prepare, start
from planner.model.records import Floats
from planner.model.timeline import GRID_S
from tests.benchmarks import compiled
from tests.benchmarks.batch import only

JUMPY = ("active_s", "weight", "walls_w_k", "activity", "resistance_k_w", "vapour_keep_half", "vapour_gain")
JUMP_SHARE = 0.05
SAME_K = 1e-10
ATOL = np.array([1.0, 1.0, 1e-3, 1e-3, 1e-2, 1e-3])
"""Of core, stores, water, mist, dose and moisture, times the relative tolerance."""

Slope = Callable[[float, Floats, "Case"], Floats]


class Case:
    """One case with its forces ``(minute, force)`` and the pieces between jumps."""

    def __init__(self, laid: Batch, number: int) -> None:
        self.cases, self.p = only(laid, number)
        everything = slice(0, laid.vehicle.time_s.shape[0])
        block = prepare(self.cases, laid.vehicle, laid.local_air, everything, self.p)
        self.forces = np.concatenate(block, axis=1)
        self.columns = compiled.columns_of(self.cases, self.p)
        self.coefficients = coefficients_of(self.cases.boxes, self.p)
        self.begun = np.array(start(self.cases, laid.vehicle, laid.local_air, self.p))[:6, 0]
        self.guess = np.array([5.0, 0.0])
        jumps = self.forces[:, Forcing._fields.index("mist_kg")] > 0.0
        for name in JUMPY:
            values = self.forces[:, Forcing._fields.index(name)]
            jumps[1:] |= np.abs(np.diff(values)) > JUMP_SHARE * np.abs(values[:-1])
        self.edges = np.concatenate(([0], np.flatnonzero(jumps[1:]) + 1, [len(jumps)]))

    def core_c(self, slope: Slope, rtol: float) -> Floats:
        """Core temperature at every minute."""
        state, out = self.begun.copy(), [self.begun[0]]
        for first, last in zip(self.edges[:-1], self.edges[1:], strict=True):
            state[3] += self.forces[first, Forcing._fields.index("mist_kg")]
            minutes = np.arange(first + 1, last + 1) * GRID_S
            self.first, self.last = first, last - 1
            solved = solve_ivp(
                slope,
                (first * GRID_S, last * GRID_S),
                state,
                method="LSODA",
                rtol=rtol,
                atol=rtol * ATOL,
                t_eval=minutes,
                args=(self,),
            )
            state = solved.y[:, -1].copy()
            out += list(solved.y[0])
        return np.array(out)


def compiled_slope(time_s: float, y: Floats, case: Case) -> Floats:
    """Slope by the compiled loop's own functions."""
    return _slope(time_s, y, case.forces, case.first, case.last, case.columns, case.guess)


@compiled.fast
def _force(time_s, forces, first, last):
    at = min(max(time_s / 60.0 - 0.5, first), last)
    low = min(int(at), max(last - 1, first))
    return forces[low] + (at - low) * (forces[min(low + 1, last)] - forces[low])


@compiled.fast
def _slope(time_s, y, forces, first, last, q, guess):
    f = _force(time_s, forces, first, last)
    core, stores, water, mist, dose, around = y
    opened = f[9] <= 0.0
    if opened:
        around = f[8]
    alive = 1.0 / (1.0 + max(dose, 0.0) ** q.death_steepness[0])
    warming, shared = guess
    force = (f[0], f[1], f[2], f[3], f[4], f[5], f[6], f[7])
    for _ in range(40):
        slope, now = compiled.slopes(
            q, 0, *force, alive, (core, stores, water, mist, around), warming, shared
        )
        moved = abs(now[0] - warming) + abs(now[1] - shared)
        warming, shared = now[0], now[1]
        if moved < SAME_K:
            break
    guess[0], guess[1] = warming, shared
    out = np.zeros(6)
    if f[11] > 0.0:
        out[0], out[1], out[2], out[3] = slope
        out[4] = compiled.dose_rate(q, 0, core, water + mist, around, now[4], now[2], now[5])
        if not opened:
            change = -np.log(f[10]) / 30.0
            out[5] = change * (f[8] - around + f[2] * now[4] / LATENT_J_KG * f[9])
    return out


def model_slope(time_s: float, y: Floats, case: Case) -> Floats:
    """Slope by the model's own ``rates``, on rows of one."""
    f = _force(time_s, case.forces, case.first, case.last)
    forcing = Forcing(*f[:, None])
    if not forcing.active_s[0] > 0.0:
        return np.zeros(6)
    core, stores, water, mist, dose, around = y[:, None]
    opened = forcing.vapour_gain[0] <= 0.0
    around = forcing.vapour_kg_m3 if opened else around
    alive = alive_share(np.maximum(dose, 0.0), case.p)
    warming, shared = case.guess[:1], case.guess[1:]
    for _ in range(40):
        state = State(core, stores, water, mist, dose, around, warming, shared, core)
        now = rates(state, forcing, alive, case.cases.boxes, case.coefficients, EnclosureSum(None))
        moved = abs(now.warming_k - warming) + abs(now.shared_w - shared)
        warming, shared = now.warming_k, now.shared_w
        if moved[0] < SAME_K:
            break
    case.guess[:] = warming[0], shared[0]
    given = forcing.weight * now.evaporation_w / LATENT_J_KG * forcing.vapour_gain
    moisture = (
        0.0 * around
        if opened
        else -np.log(forcing.vapour_keep_half) / 30.0 * (forcing.vapour_kg_m3 - around + given)
    )
    slopes = (
        now.core_k_s,
        now.stores_k_s,
        now.water_kg_s,
        now.mist_kg_s,
        dose_rate(core, state, now, case.p),
        moisture,
    )
    return np.concatenate(slopes)
