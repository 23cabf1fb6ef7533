"""The heat and water balance of a box at one instant: what is made, what is carried off, how fast it warms.

One function, ``rates``, holds all the physics of a step; ``march`` walks it through time and the tests hand
the very same function to an independent integrator. Box air has no capacity worth keeping: it is solved
inside, together with the air of the enclosure that all its boxes warm. All arrays are ``(case,)``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from planner.model.boxes import Boxes
from planner.model.parameters import Parameters
from planner.model.records import Floats, Ints

LATENT_J_KG = 2.41e6
"""Heat of evaporation near 38 C (2.41 MJ/kg, ASHRAE steam tables); 1 % off over 25-50 C."""

VAPOUR_GAS_CONSTANT = 461.5
SMALL = 1e-12


class State(NamedTuple):
    """What has a memory: temperatures C, water kg, heat dose of workers, vapour kg/m3 around the box.

    ``warming_k`` (box air over local air) and ``shared_w`` (heat of all boxes into the enclosure) are only the
    last solution, kept as the first guess of the next; ``vapour_kg_s``
    is what all boxes of the enclosure gave off in the last step.
    """

    core_c: Floats
    stores_c: Floats
    water_kg: Floats
    mist_kg: Floats
    worker_dose: Floats
    around_kg_m3: Floats
    warming_k: Floats
    shared_w: Floats
    vapour_kg_s: Floats


class Step(NamedTuple):
    """Forces of one step, ``(case,)``; see ``march.prepare`` for how they come about."""

    base_c: Floats
    resistance_k_w: Floats
    weight: Floats
    walls_w_k: Floats
    sun_w: Floats
    wind_m6_s2: Floats
    activity: Floats
    heat_j_m3k: Floats


class Rates(NamedTuple):
    """Result of one evaluation: slopes per second and the flows behind them in W, m3/s, kg/s."""

    core_k_s: Floats
    stores_k_s: Floats
    water_kg_s: Floats
    mist_kg_s: Floats
    warming_k: Floats
    shared_w: Floats
    box_air_c: Floats
    local_c: Floats
    flow_m3_s: Floats
    adults_w: Floats
    brood_w: Floats
    evaporation_w: Floats
    saturated_kg_m3: Floats
    wanted_w: Floats


class Law(NamedTuple):
    """Parameters of the balance with the divisions done once, scalars or ``(case,)``."""

    rest_per_k: Floats
    rest_low_c: Floats
    rest_plateau_c: Floats
    agitation_start_c: Floats
    agitation_per_k: Floats
    agitation_more: Floats
    hold_per_k: Floats
    brood_log_per_k: Floats
    brood_level_c: Floats
    fan_start_c: Floats
    fan_per_k: Floats
    evaporation_start_c: Floats
    evaporation_per_k: Floats
    water_end_w_kg: Floats
    mist_w_kg: Floats
    exit_saturation: Floats


def law(p: Parameters) -> Law:
    """Prepare the parameters for the loop."""
    return Law(
        rest_per_k=p.rest_heat_per_k,
        rest_low_c=p.rest_low_c,
        rest_plateau_c=p.rest_plateau_c,
        agitation_start_c=p.agitation_start_c,
        agitation_per_k=1.0 / p.agitation_span_k,
        agitation_more=p.agitation_gain - 1.0,
        hold_per_k=1.0 / p.hold_band_k,
        brood_log_per_k=0.1 * np.log(p.brood_q10),
        brood_level_c=p.brood_constant_above_c,
        fan_start_c=p.fan_start_c,
        fan_per_k=1.0 / (p.fan_full_c - p.fan_start_c),
        evaporation_start_c=p.evaporation_start_c,
        evaporation_per_k=1.0 / (p.evaporation_full_c - p.evaporation_start_c),
        water_end_w_kg=LATENT_J_KG / p.water_last_s,
        mist_w_kg=LATENT_J_KG / p.mist_evaporation_s,
        exit_saturation=p.exit_saturation,
    )


class Sharing:
    """Which cases breathe the same enclosure: sums over them, or nothing to do when each has its own."""

    def __init__(self, enclosure: Ints | None) -> None:
        self._enclosure = enclosure
        self._size = 0 if enclosure is None else int(enclosure.max(initial=-1)) + 1

    def total(self, values: Floats) -> Floats:
        """Sum of ``values`` over all cases of the enclosure of each case."""
        if self._enclosure is None:
            return values
        sums: Floats = np.bincount(self._enclosure, values, self._size).astype(np.float64)
        return sums[self._enclosure]


def saturation_kg_m3(temp_c: Floats) -> Floats:
    """Vapour density at saturation: Alduchov & Eskridge 1996 eq. 21 over the ideal gas law, within 0.3 %."""
    pressure = 610.94 * np.exp(17.625 * temp_c / (temp_c + 243.04))
    return pressure / (VAPOUR_GAS_CONSTANT * (temp_c + 273.15))


def rates(state: State, step: Step, alive: Floats, boxes: Boxes, law: Law, sharing: Sharing) -> Rates:
    """Slopes of the state under the forces of a step.

    Parameters
    ----------
    state, step, boxes, law : ``(case,)``
    alive : (case,) share of workers alive, slow enough to be held over a step
    sharing : which cases warm the same enclosure

    The air flow needs the warming of the box air and the other way round: one Newton step from the last
    warming, then the air is solved exactly for that flow, so that energy is kept to rounding.
    """
    core, stores = state.core_c, state.stores_c
    adults_w = alive * _adult_heat(core, step.activity, boxes, law)
    brood_w = boxes.brood_w * np.exp(law.brood_log_per_k * np.minimum(core - law.brood_level_c, 0.0))
    tight = np.minimum(np.maximum((boxes.tighten_from_c - core) / boxes.tighten_span_k, 0.0), 1.0)
    fanned = alive * _unit_ramp((core - law.fan_start_c) * law.fan_per_k)
    film = boxes.core_w_k - (boxes.core_w_k - boxes.tight_w_k) * tight + boxes.spread_w_k * fanned
    steady = np.minimum(fanned * boxes.fan_flow_m3_s, boxes.fan_m3_s) + boxes.leak_m3_s
    comb = film + boxes.stores_w_k
    warm = film * core + boxes.stores_w_k * stores

    flow = _flow(state, comb, warm, steady, step, boxes)
    out = step.walls_w_k + step.heat_j_m3k * flow
    inverse = 1.0 / (comb + out)
    own = (warm + step.sun_w) * inverse
    kept = out * comb * inverse
    given = sharing.total(step.weight * (out * own - step.sun_w))
    felt = sharing.total(step.weight * kept)
    local = (step.base_c + step.resistance_k_w * given) / (1.0 + step.resistance_k_w * felt)
    box_air = own + out * inverse * local

    saturated = saturation_kg_m3(box_air)
    carry = np.maximum(flow * (law.exit_saturation * saturated - state.around_kg_m3), 0.0) * LATENT_J_KG
    wanted = (
        alive * boxes.evaporation_w * _unit_ramp((core - law.evaporation_start_c) * law.evaporation_per_k)
    )
    drunk = np.minimum(wanted, np.maximum(state.water_kg, 0.0) * law.water_end_w_kg)
    misted = np.minimum(
        np.maximum(state.mist_kg, 0.0) * law.mist_w_kg, _drying_w(core, film, flow, state, step)
    )
    offered = drunk + misted + boxes.cuticle_w
    passed = np.minimum(carry / (offered + SMALL), 1.0)
    evaporation = offered * passed

    between = boxes.between_w_k * (core - stores)
    to_air = film * (core - box_air)
    return Rates(
        core_k_s=(adults_w + brood_w - evaporation - to_air - between) / boxes.core_j_k,
        stores_k_s=(between - boxes.stores_w_k * (stores - box_air)) / boxes.stores_j_k,
        water_kg_s=drunk * passed / -LATENT_J_KG,
        mist_kg_s=misted * passed / -LATENT_J_KG,
        warming_k=box_air - local,
        shared_w=given - felt * local,
        box_air_c=box_air,
        local_c=local,
        flow_m3_s=flow,
        adults_w=adults_w,
        brood_w=brood_w,
        evaporation_w=evaporation,
        saturated_kg_m3=saturated,
        wanted_w=wanted,
    )


def _drying_w(core_c: Floats, film_w_k: Floats, flow_m3_s: Floats, state: State, step: Step) -> Floats:
    """Most that wet bees and combs can evaporate, W; nothing cools below the wet bulb.

    Vapour leaves the surface as heat would (Lewis relation: film over the heat of air, m3/s), then with the
    air flow; both in series, between saturation at the core and the air around.
    """
    surface = film_w_k / step.heat_j_m3k
    through = surface * flow_m3_s / (surface + flow_m3_s)
    return LATENT_J_KG * through * np.maximum(saturation_kg_m3(core_c) - state.around_kg_m3, 0.0)


def _unit_ramp(value: Floats) -> Floats:
    return np.minimum(np.maximum(value, 0.0), 1.0)


def _adult_heat(core_c: Floats, activity: Floats, boxes: Boxes, law: Law) -> Floats:
    """Heat of all adults, W: resting x activity x agitation, at least the shivering the cold asks for."""
    valid = np.minimum(np.maximum(core_c, law.rest_low_c), law.rest_plateau_c)
    resting = boxes.rest_w * np.exp(law.rest_per_k * (valid - 30.0))
    agitated = 1.0 + law.agitation_more * _unit_ramp((core_c - law.agitation_start_c) * law.agitation_per_k)
    shivering = boxes.shiver_w * _unit_ramp((boxes.hold_c - core_c) * law.hold_per_k)
    return np.maximum(np.minimum(resting * activity * agitated, boxes.ceiling_w), shivering)


def _flow(state: State, comb: Floats, warm: Floats, steady: Floats, step: Step, boxes: Boxes) -> Floats:
    """Air flow m3/s that closes the balance of the box air, by one Newton step from the last warming.

    The residual ``x (comb + walls + rc Q(x)) - source`` is convex in the warming ``x``, so the step never
    lands on the wrong side of the root for long; the air around is guessed from the last shared heat.
    """
    guess = state.warming_k
    size = np.abs(guess)
    driven = np.sqrt(boxes.buoyant_m6_s2_k * size + step.wind_m6_s2 + SMALL)
    around = step.base_c + step.resistance_k_w * state.shared_w
    conductance = comb + step.walls_w_k + step.heat_j_m3k * (driven + steady)
    residual = guess * conductance - (warm + step.sun_w - comb * around)
    slope = conductance + 0.5 * step.heat_j_m3k * boxes.buoyant_m6_s2_k * size / driven
    warming = guess - residual / slope
    return np.sqrt(boxes.buoyant_m6_s2_k * np.abs(warming) + step.wind_m6_s2 + SMALL) + steady
