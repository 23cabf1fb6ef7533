"""scipy's LSODA on one case at a time, on the model's own ``rates``: the way without a batch and without a kernel.

Forces run straight from mid-minute to mid-minute; the integration starts afresh wherever they jump. The
algebraic part of the balance is iterated until it stands still, as the integration's single Newton step nearly does;
carbon dioxide is left as it was, for it moves slowly.
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
from tests.benchmarks.batch import only

JUMPY = (
    "active_s",
    "weight",
    "walls_w_k",
    "activity",
    "resistance_k_w",
    "stack_share",
    "vapour_keep_half",
    "vapour_gain",
)
JUMP_SHARE = 0.05
SAME_K = 1e-10
STATES = 7
ATOL = np.array([1.0, 1.0, 1e-3, 1e-3, 1e3, 1e-2, 1e-3])
"""Of core, stores, water, mist, honey, dose and moisture, times the relative tolerance."""

Slope = Callable[[float, Floats, "Case"], Floats]


class Case:
    """One case with its forces ``(minute, force)`` and the pieces between jumps."""

    def __init__(self, laid: Batch, number: int) -> None:
        self.cases, self.p = only(laid, number)
        everything = slice(0, laid.vehicle.time_s.shape[0])
        block = prepare(self.cases, laid.vehicle, laid.local_air, everything, self.p)
        self.forces = np.concatenate(block, axis=1)
        self.coefficients = coefficients_of(self.cases.boxes, self.p)
        begun = start(self.cases, laid.vehicle, laid.local_air, self.p)
        self.begun = np.array([values[0] for values in begun[:STATES]])
        self.guess = np.array([5.0, 0.0, begun.skin_kg_m3[0]])
        self.co2 = begun.co2_share
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


def _force(time_s: float, forces: Floats, first: int, last: int) -> Floats:
    at = min(max(time_s / GRID_S - 0.5, first), last)
    low = min(int(at), max(last - 1, first))
    return np.asarray(forces[low] + (at - low) * (forces[min(low + 1, last)] - forces[low]))


def model_slope(time_s: float, y: Floats, case: Case) -> Floats:
    """Slope by the model's own ``rates``, on rows of one."""
    forcing = Forcing(*_force(time_s, case.forces, case.first, case.last)[:, None])
    if not forcing.active_s[0] > 0.0:
        return np.zeros(STATES)
    core, stores, water, mist, fuel, dose, around = y[:, None]
    opened = forcing.vapour_gain[0] <= 0.0
    around = forcing.vapour_kg_m3 if opened else around
    alive = alive_share(np.maximum(dose, 0.0), case.p)
    warming, shared, skin = (case.guess[i : i + 1] for i in range(3))
    zero = np.zeros(1)
    for _ in range(40):
        state = State(core, stores, water, mist, fuel, dose, around, warming, shared, zero, skin, case.co2)
        now = rates(state, forcing, alive, case.cases.boxes, case.coefficients, EnclosureSum(None))
        moved = abs(now.warming_k - warming) + abs(now.shared_w - shared)
        warming, shared, skin = now.warming_k, now.shared_w, now.skin_kg_m3
        if moved[0] < SAME_K:
            break
    case.guess[:] = warming[0], shared[0], skin[0]
    given = forcing.weight * now.evaporation_w / LATENT_J_KG
    condensed = forcing.skin_m3_s * np.maximum(around - skin, 0.0)
    moisture = 0.0 * around
    if not opened:
        change = -np.log(forcing.vapour_keep_half) / (0.5 * GRID_S)
        moisture = change * (forcing.vapour_kg_m3 - around + (given - condensed) * forcing.vapour_gain)
    slopes = (
        now.core_k_s,
        now.stores_k_s,
        now.water_kg_s,
        now.mist_kg_s,
        now.fuel_w,
        dose_rate(core, state, now, case.cases.boxes, case.p),
        moisture,
    )
    return np.concatenate(slopes)
