"""The heat and water balance of a box at one instant: what is made, what is carried off, how fast it warms.

One function, ``rates``, holds all the physics of a step; ``integrate`` walks it through time and the tests hand
the very same function to an independent integrator. Box air has no capacity worth keeping: it is solved
inside, together with the air of the enclosure that all its boxes warm. All arrays are ``(case,)``.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import NamedTuple, cast

import numpy as np

from planner.model import air
from planner.model.bees import BeeCoefficients, bee_coefficients, bee_responses, metabolic_heat
from planner.model.boxes import Boxes
from planner.model.parameters import Parameters
from planner.model.records import Floats, Ints
from planner.units import KELVIN_AT_ZERO_C

LATENT_J_KG = 2.41e6
"""Heat of evaporation near 38 C (2.41 MJ/kg, ASHRAE Fundamentals 2017, ch. 1, table 3); 1 % off over 25-50 C."""

VAPOUR_GAS_CONSTANT = 461.5
"""J/kgK, as rounded with the vapour density of :func:`saturation_kg_m3`."""

SMALL = 1e-12
"""Keeps quotients of nothing by nothing finite."""

ZERO, ONE = np.array(0.0), np.array(1.0)
KELVIN_AT_ZERO = np.array(KELVIN_AT_ZERO_C)
KG_PER_J = np.array(1.0 / LATENT_J_KG)
MINUS_KG_PER_J = np.array(-1.0 / LATENT_J_KG)
LATENT = np.array(LATENT_J_KG)
"""Constants of the loop are arrays: numpy takes twice as long to meet a Python float on a short row."""

MAGNUS_C = np.array(air.MAGNUS_C)
MAGNUS_SLOPE = np.array(air.MAGNUS_SLOPE * air.MAGNUS_C)
MAGNUS_TOP = np.array(np.log(air.MAGNUS_PA / VAPOUR_GAS_CONSTANT) + air.MAGNUS_SLOPE)


class State(NamedTuple):
    """What has a memory: temperatures C, water kg, heat dose of workers, vapour kg/m3 and CO2 around the box.

    ``warming_k`` (box air over local air), ``shared_w`` (heat of all boxes into the enclosure) and ``skin_kg_m3``
    (saturation at the enclosure's cold skin) are only the last solution, kept as the first guess of the next;
    ``vapour_kg_s`` is what all boxes of the enclosure gave off in the last step.
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
    skin_kg_m3: Floats
    co2_share: Floats


class Forcing(NamedTuple):
    """Forces of one step, ``(case,)``; see ``integrate.prepare`` for how they come about.

    The balance needs those up to ``heat_j_m3k``; the rest moves vapour, misted water and the clock. A run of
    steps is the same with ``(step, case)``; ``rows`` takes it apart.
    """

    base_c: Floats
    least_c: Floats
    resistance_k_w: Floats
    skin_base_c: Floats
    skin_share: Floats
    skin_m3_s: Floats
    weight: Floats
    walls_w_k: Floats
    sun_w: Floats
    wind_m6_s2: Floats
    activity: Floats
    heat_j_m3k: Floats
    vapour_kg_m3: Floats
    vapour_gain: Floats
    vapour_keep_half: Floats
    skin_keep_half: Floats
    breath_m3_s: Floats
    active_s: Floats
    mist_kg: Floats

    def rows(self) -> Iterator[Forcing]:
        """The steps of a run one by one."""
        return itertools.starmap(Forcing, zip(*self, strict=True))


class Rates(NamedTuple):
    """Result of one evaluation: slopes per second and the flows behind them in W, m3/s, kg/s."""

    core_k_s: Floats
    stores_k_s: Floats
    water_kg_s: Floats
    mist_kg_s: Floats
    warming_k: Floats
    shared_w: Floats
    skin_kg_m3: Floats
    box_air_c: Floats
    local_c: Floats
    flow_m3_s: Floats
    adults_w: Floats
    brood_w: Floats
    evaporation_w: Floats
    saturated_kg_m3: Floats
    wanted_w: Floats


class Coefficients(NamedTuple):
    """Boxes and parameters as the loop wants them, divisions done once; scalars or ``(case,)``.

    ``bees`` is their law; ``skin_j_m3k_kg`` over the heat of air is how many kelvin a cold skin is warmed from
    inside by a kg/m3 of vapour above its saturation; ``wetted`` says whether any box is ever misted.
    """

    bees: BeeCoefficients
    cuticle_w: Floats
    water_end_w_kg: Floats
    mist_w_kg: Floats
    exit_saturation: Floats
    skin_j_m3k_kg: Floats
    wetted: bool


def coefficients_of(boxes: Boxes, p: Parameters) -> Coefficients:
    """Prepare boxes and parameters for the loop."""
    return Coefficients(
        bees=bee_coefficients(boxes, p),
        cuticle_w=boxes.cuticle_w + SMALL,
        water_end_w_kg=LATENT_J_KG / p.water_last_s,
        mist_w_kg=LATENT_J_KG / p.mist_evaporation_s,
        exit_saturation=p.exit_saturation,
        skin_j_m3k_kg=LATENT_J_KG * p.skin_film_w_m2k * p.inside_film_m2k_w,
        wetted=bool(np.any(boxes.mist_kg > 0.0)),
    )


class EnclosureSum:
    """Which cases breathe the same enclosure: sums over them, or nothing to do when each has its own."""

    def __init__(self, enclosure: Ints | None) -> None:
        self._enclosure = enclosure
        self._size = 0 if enclosure is None else int(enclosure.max(initial=-1)) + 1

    def total(self, values: Floats) -> Floats:
        """Sum of ``values`` over all cases of the enclosure of each case."""
        if self._enclosure is None:
            return values
        sums = cast(Floats, np.bincount(self._enclosure, values, self._size))
        return sums[self._enclosure]


def saturation_kg_m3(temp_c: Floats) -> Floats:
    """Vapour density at saturation: Alduchov & Eskridge 1996, J Appl Meteorol 35:601, eq. 21, by the gas law: 0.3 %.

    ``610.94 exp(17.625 T / (T + 243.04)) / (461.5 (T + 273.15))`` with the fraction split to save a product.
    """
    density: Floats = np.exp(MAGNUS_TOP - MAGNUS_SLOPE / (temp_c + MAGNUS_C)) / (temp_c + KELVIN_AT_ZERO)
    return density


def rates(
    state: State,
    forcing: Forcing,
    alive: Floats | None,
    boxes: Boxes,
    coefficients: Coefficients,
    enclosure_sum: EnclosureSum,
) -> Rates:
    """Slopes of the state under the forces of a step.

    Parameters
    ----------
    state, forcing, boxes, coefficients : ``(case,)``
    alive : (case,) share of workers alive, slow enough to be held over a step; None while all are
    enclosure_sum : which cases warm the same enclosure

    The air flow needs the warming of the box air and the other way round: one Newton step from the last
    warming, then the air is solved exactly for that flow, so that energy is kept to rounding.
    """
    core, stores = state.core_c, state.stores_c
    bees = coefficients.bees
    agitation, shivering_w, closed_up_w_k, spread_w_k, fanning_m3_s, wanted = bee_responses(core, bees)
    resting_w, brood_w = metabolic_heat(core, bees)
    active_w = np.minimum(resting_w * forcing.activity * (agitation + ONE), boxes.ceiling_w)
    adults_w = np.maximum(active_w, shivering_w)
    if alive is not None:
        adults_w, wanted = alive * adults_w, alive * wanted
        spread_w_k, fanning_m3_s = alive * spread_w_k, alive * fanning_m3_s
    film = boxes.core_w_k - closed_up_w_k + spread_w_k
    steady = np.minimum(fanning_m3_s, boxes.fan_m3_s) + boxes.leak_m3_s
    comb = film + boxes.stores_w_k
    source = film * core + boxes.stores_w_k * stores + forcing.sun_w

    around_c = np.maximum(forcing.least_c, forcing.base_c + forcing.resistance_k_w * state.shared_w)
    skin, latent_w = onto_skin(around_c, state, forcing, coefficients)
    flow = _flow(state, comb, source, steady, around_c, forcing, boxes)
    out = forcing.walls_w_k + forcing.heat_j_m3k * flow
    total = comb + out
    own, escape = source / total, out / total
    given = enclosure_sum.total(forcing.weight * (escape * source - forcing.sun_w)) + latent_w
    felt = enclosure_sum.total(forcing.weight * (escape * comb))
    free = (forcing.base_c + forcing.resistance_k_w * given) / (forcing.resistance_k_w * felt + ONE)
    local = np.maximum(forcing.least_c, free)
    box_air = own + escape * local

    saturated = saturation_kg_m3(box_air)
    carry = np.maximum(flow * (coefficients.exit_saturation * saturated - state.around_kg_m3), ZERO) * LATENT
    drunk = np.minimum(wanted, np.maximum(state.water_kg, ZERO) * coefficients.water_end_w_kg)
    misted = _misted_w(core, film, flow, state, forcing, coefficients) if coefficients.wetted else ZERO
    offered = drunk + misted + coefficients.cuticle_w
    evaporation = np.minimum(carry, offered)
    lost_kg_j = evaporation / offered * MINUS_KG_PER_J

    between = boxes.between_w_k * (core - stores)
    to_air = film * (core - box_air)
    return Rates(
        core_k_s=(adults_w + brood_w - evaporation - to_air - between) / boxes.core_j_k,
        stores_k_s=(between - boxes.stores_w_k * (stores - box_air)) / boxes.stores_j_k,
        water_kg_s=drunk * lost_kg_j,
        mist_kg_s=misted * lost_kg_j,
        warming_k=box_air - local,
        shared_w=given - felt * local,
        skin_kg_m3=skin,
        box_air_c=box_air,
        local_c=local,
        flow_m3_s=flow,
        adults_w=adults_w,
        brood_w=brood_w,
        evaporation_w=evaporation,
        saturated_kg_m3=saturated,
        wanted_w=wanted,
    )


def onto_skin(
    around_c: Floats, state: State, forcing: Forcing, coefficients: Coefficients
) -> tuple[Floats, Floats]:
    """Saturation at the cold skin of the enclosure, kg/m3, and the latent heat that its water gives back inwards, W.

    Vapour goes to the skin as heat does (Lewis relation: convective film over the heat of air, m3/s). The skin lies
    between outside and inside air and is warmed by the condensing itself; of that heat the share goes back inwards
    by which the skin follows the inside. Left out: Lewis number to the power of 2/3 (0.9), the cold of the night
    sky on a roof, heat of fog.
    """
    over = np.maximum(state.around_kg_m3 - state.skin_kg_m3, ZERO)
    warmed = coefficients.skin_j_m3k_kg / forcing.heat_j_m3k * over
    skin = saturation_kg_m3(forcing.skin_base_c + forcing.skin_share * (around_c + warmed))
    condensed = forcing.skin_m3_s * np.maximum(state.around_kg_m3 - skin, ZERO)
    return skin, forcing.skin_share * condensed * LATENT


def _misted_w(
    core_c: Floats,
    film_w_k: Floats,
    flow_m3_s: Floats,
    state: State,
    forcing: Forcing,
    coefficients: Coefficients,
) -> Floats:
    """What misted water evaporates, W; never so much that wet bees and combs would cool below the wet bulb.

    Vapour leaves the surface as heat would (Lewis relation: film over the heat of air, m3/s), then with the
    air flow; both in series, between saturation at the core and the air around.
    """
    surface = film_w_k / forcing.heat_j_m3k
    through = surface * flow_m3_s / (surface + flow_m3_s)
    most: Floats = through * np.maximum(saturation_kg_m3(core_c) - state.around_kg_m3, ZERO) * LATENT
    soon: Floats = np.maximum(state.mist_kg, ZERO) * coefficients.mist_w_kg
    return np.minimum(soon, most)


def _flow(
    state: State,
    comb: Floats,
    source: Floats,
    steady: Floats,
    around_c: Floats,
    forcing: Forcing,
    boxes: Boxes,
) -> Floats:
    """Air flow m3/s that closes the balance of the box air, by one Newton step from the last warming.

    The residual ``x (comb + walls + rc Q(x)) + comb around - source`` is convex in the warming ``x``, so the
    step never lands on the wrong side of the root for long; the air around is guessed from the last shared
    heat. ``tail`` is what the slope of the flow adds to the conductance.
    """
    squared = boxes.buoyant_m6_s2_k * np.abs(state.warming_k)
    driven = np.sqrt(squared + forcing.wind_m6_s2)
    conductance = comb + forcing.walls_w_k + forcing.heat_j_m3k * (driven + steady)
    tail = forcing.heat_j_m3k * squared / (driven + driven)
    warming = (source - comb * around_c + state.warming_k * tail) / (conductance + tail)
    flow: Floats = np.sqrt(boxes.buoyant_m6_s2_k * np.abs(warming) + forcing.wind_m6_s2) + steady
    return flow
