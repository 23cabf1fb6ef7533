"""The same equations once more, written for one case at a time and compiled: the bound on speed.

An independent retelling of ``balance`` and ``integrate``; that both agree to a hundredth of a kelvin checks either.
It is handed its forces ready made and knows no shared enclosures, so it is a little better off than the integration.
"""

from __future__ import annotations

from collections import namedtuple
from math import exp, sqrt
from typing import NamedTuple

import numba
import numpy as np

from planner.model.balance import LATENT_J_KG, SMALL, Forcing
from planner.model.cases import Batch
from planner.model.integrate import Cases, prepare, start
from planner.model.parameters import Parameters
from planner.model.records import Floats

BOX_COLUMNS = (
    "rest_w",
    "ceiling_w",
    "shiver_w",
    "brood_w",
    "evaporation_w",
    "cuticle_w",
    "core_j_k",
    "stores_j_k",
    "core_w_k",
    "tight_w_k",
    "spread_w_k",
    "stores_w_k",
    "between_w_k",
    "hold_c",
    "tighten_from_c",
    "tighten_span_k",
    "buoyant_m6_s2_k",
    "fan_m3_s",
    "fan_flow_m3_s",
    "leak_m3_s",
)
PARAMETER_COLUMNS = (
    "rest_heat_per_k",
    "rest_low_c",
    "rest_plateau_c",
    "agitation_start_c",
    "agitation_span_k",
    "agitation_gain",
    "hold_band_k",
    "brood_q10",
    "brood_constant_above_c",
    "fan_start_c",
    "fan_full_c",
    "evaporation_start_c",
    "evaporation_full_c",
    "water_last_s",
    "mist_evaporation_s",
    "exit_saturation",
    "worker_t50_h",
    "worker_t50_c",
    "worker_t50_z_k",
    "worker_humid_factor",
    "death_steepness",
)
Columns = namedtuple("Columns", BOX_COLUMNS + PARAMETER_COLUMNS)
Here = namedtuple("Here", Forcing._fields)
NO_DEATH_DOSE = 0.03
WARM_UP = 4

fast = numba.njit(fastmath={"contract", "reassoc", "arcp", "nsz"}, error_model="numpy")


class Walked(NamedTuple):
    """What the compiled loop writes, ``(time + 1, case)`` and ``(time, case)``, as for verdicts."""

    core_c: Floats
    stores_c: Floats
    around_kg_m3: Floats
    evaporation_w: Floats
    wanted_w: Floats
    flow_m3_s: Floats
    adults_w: Floats
    saturated_kg_m3: Floats


def columns_of(cases: Cases, p: Parameters) -> Columns:
    """Boxes and parameters as ``(case,)`` columns."""
    n = cases.track.size
    rows = [getattr(cases.boxes, name) for name in BOX_COLUMNS] + [
        getattr(p, name) for name in PARAMETER_COLUMNS
    ]
    return Columns(*(np.array(np.broadcast_to(row, n)) for row in rows))


def forces_of(laid: Batch) -> Here:
    """Forces of the whole trip, ``(time, case)``."""
    everything = slice(0, laid.vehicle.time_s.shape[0])
    return Here(*prepare(laid.cases, laid.vehicle, laid.local_air, everything, laid.parameters))


def walk(laid: Batch, forces: Here, box: Columns) -> Walked:
    """Every case through its whole trip."""
    memory = start(laid.cases, laid.vehicle, laid.local_air, laid.parameters)
    steps, cases = forces.base_c.shape
    nodes = [np.empty((steps + 1, cases)) for _ in range(3)]
    seen = [np.empty((steps, cases)) for _ in range(5)]
    _walk(forces, box, np.array(memory), *nodes, *seen)
    return Walked(*nodes, *seen)


@fast
def saturation(temp_c):
    return 610.94 * exp(17.625 * temp_c / (temp_c + 243.04)) / (461.5 * (temp_c + 273.15))


@fast
def ramp(value):
    return min(max(value, 0.0), 1.0)


@fast
def alive_of(dose, steepness):
    return 1.0 if dose < NO_DEATH_DOSE else 1.0 / (1.0 + dose**steepness)


@fast
def flow_of(q, c, heat, base, resistance, walls, wind, comb, source, steady, warming, shared):
    squared = q.buoyant_m6_s2_k[c] * abs(warming)
    driven = sqrt(squared + wind)
    conductance = comb + walls + heat * (driven + steady)
    tail = 0.5 * heat * squared / driven
    around = base + resistance * shared
    better = (source - comb * around + warming * tail) / (conductance + tail)
    return sqrt(q.buoyant_m6_s2_k[c] * abs(better) + wind) + steady


@fast
def slopes(q, c, base, resistance, weight, walls, sun, wind, activity, heat, alive, y, warming, shared):
    """Slopes of core, stores, water, mist; then warming, shared, flow, adults, evaporation, saturation, wanted."""
    core, stores, water, mist, around = y
    valid = min(max(core, q.rest_low_c[c]), q.rest_plateau_c[c])
    resting = q.rest_w[c] * exp(q.rest_heat_per_k[c] * (valid - 30.0))
    agitated = 1.0 + (q.agitation_gain[c] - 1.0) * ramp(
        (core - q.agitation_start_c[c]) / q.agitation_span_k[c]
    )
    shivering = q.shiver_w[c] * ramp((q.hold_c[c] - core) / q.hold_band_k[c])
    adults = alive * max(min(resting * activity * agitated, q.ceiling_w[c]), shivering)
    brood = q.brood_w[c] * q.brood_q10[c] ** (0.1 * min(core - q.brood_constant_above_c[c], 0.0))
    fanned = alive * ramp((core - q.fan_start_c[c]) / (q.fan_full_c[c] - q.fan_start_c[c]))
    closed_up = ramp((q.tighten_from_c[c] - core) / q.tighten_span_k[c])
    film = q.core_w_k[c] - (q.core_w_k[c] - q.tight_w_k[c]) * closed_up + q.spread_w_k[c] * fanned
    steady = min(fanned * q.fan_flow_m3_s[c], q.fan_m3_s[c]) + q.leak_m3_s[c]
    comb = film + q.stores_w_k[c]
    source = film * core + q.stores_w_k[c] * stores + sun

    flow = flow_of(q, c, heat, base, resistance, walls, wind, comb, source, steady, warming, shared)
    out = walls + heat * flow
    escape = out / (comb + out)
    given = weight * (escape * source - sun)
    felt = weight * escape * comb
    local = (base + resistance * given) / (1.0 + resistance * felt)
    box_air = source / (comb + out) + escape * local

    saturated = saturation(box_air)
    carry = max(flow * (q.exit_saturation[c] * saturated - around), 0.0) * LATENT_J_KG
    hot = ramp((core - q.evaporation_start_c[c]) / (q.evaporation_full_c[c] - q.evaporation_start_c[c]))
    wanted = alive * q.evaporation_w[c] * hot
    drunk = min(wanted, max(water, 0.0) * LATENT_J_KG / q.water_last_s[c])
    misted = 0.0
    if mist > 0.0:
        surface = film / heat
        most = surface * flow / (surface + flow) * max(saturation(core) - around, 0.0) * LATENT_J_KG
        misted = min(mist * LATENT_J_KG / q.mist_evaporation_s[c], most)
    offered = drunk + misted + q.cuticle_w[c] + SMALL
    passed = min(carry / offered, 1.0)
    evaporation = offered * passed

    between = q.between_w_k[c] * (core - stores)
    core_k_s = (adults + brood - evaporation - film * (core - box_air) - between) / q.core_j_k[c]
    stores_k_s = (between - q.stores_w_k[c] * (stores - box_air)) / q.stores_j_k[c]
    lost = passed / LATENT_J_KG
    slope = (core_k_s, stores_k_s, -drunk * lost, -misted * lost)
    return slope, (box_air - local, given - felt * local, flow, adults, evaporation, saturated, wanted)


@fast
def dose_rate(q, c, core, water, around, evaporation, flow, saturated):
    dry = 1.0 - min(max(water, 0.0) * 500.0, 1.0)
    inside = around + evaporation / (LATENT_J_KG * flow)
    humid = ramp((inside / saturated - 0.6) / 0.2)
    rate = 10.0 ** ((core - q.worker_t50_c[c]) / q.worker_t50_z_k[c]) / (q.worker_t50_h[c] * 3600.0)
    return rate * (1.0 + (q.worker_humid_factor[c] - 1.0) * dry * humid)


@fast
def _walk(f, q, memory, core_c, stores_c, around_kg_m3, evaporation_w, wanted_w, flow_m3_s, adults_w, sat):
    steps, cases = f.base_c.shape
    core_c[0], stores_c[0], around_kg_m3[0] = memory[0], memory[1], memory[5]
    for t in range(steps):
        for c in range(cases):
            core, stores, water, mist, dose, around, warming, shared, given = memory[:, c]
            base, resistance, weight = f.base_c[t, c], f.resistance_k_w[t, c], f.weight[t, c]
            walls, sun, wind = f.walls_w_k[t, c], f.sun_w[t, c], f.wind_m6_s2[t, c]
            activity, heat, dt = f.activity[t, c], f.heat_j_m3k[t, c], f.active_s[t, c]
            force = (base, resistance, weight, walls, sun, wind, activity, heat)
            keep, vapour, gain = f.vapour_keep_half[t, c], f.vapour_kg_m3[t, c], f.vapour_gain[t, c]
            settled = vapour + gain * given
            middle = settled + (around - settled) * keep
            mist += f.mist_kg[t, c]
            alive = alive_of(dose, q.death_steepness[c])
            y = (core, stores, water, mist, middle)
            if t == 0:
                for _ in range(WARM_UP):
                    _, now = slopes(q, c, *force, 1.0, (core, stores, water, mist, around), warming, shared)
                    warming, shared = now[0], now[1]
            k1, now = slopes(q, c, *force, alive, y, warming, shared)
            dose += dt * dose_rate(
                q, c, core + 0.5 * dt * k1[0], water + mist, middle, now[4], now[2], now[5]
            )
            ahead = (core + dt * k1[0], stores + dt * k1[1], water + dt * k1[2], mist + dt * k1[3], middle)
            alive = alive_of(dose, q.death_steepness[c])
            k2, later = slopes(q, c, *force, alive, ahead, now[0], now[1])
            core += 0.5 * dt * (k1[0] + k2[0])
            stores += 0.5 * dt * (k1[1] + k2[1])
            water += 0.5 * dt * (k1[2] + k2[2])
            mist += 0.5 * dt * (k1[3] + k2[3])
            given = 0.5 * weight * (now[4] + later[4]) / LATENT_J_KG
            settled = vapour + gain * given
            around = settled + (around - settled) * keep * keep
            warming, shared = later[0], later[1]
            core_c[t + 1, c], stores_c[t + 1, c] = core, stores
            around_kg_m3[t + 1, c] = around
            flow_m3_s[t, c], adults_w[t, c], evaporation_w[t, c] = now[2], now[3], now[4]
            sat[t, c], wanted_w[t, c] = now[5], now[6]
            memory[0, c], memory[1, c], memory[2, c], memory[3, c], memory[4, c] = (
                core,
                stores,
                water,
                mist,
                dose,
            )
            memory[5, c], memory[6, c], memory[7, c], memory[8, c] = around, warming, shared, given
