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
from planner.model.bees import BeeCoefficients, bee_coefficients, bee_responses, metabolic_heat, ramp
from planner.model.boxes import Boxes
from planner.model.parameters import Parameters
from planner.model.records import Floats, Ints
from planner.units import KELVIN_AT_ZERO_C

LATENT_J_KG = 2.41e6
"""Heat of evaporation near 38 C (2.41 MJ/kg, ASHRAE Fundamentals 2017, ch. 1, table 3); 1 % off over 25-50 C."""

VAPOUR_GAS_CONSTANT = 461.5
"""J/kgK, as rounded with the vapour density of :func:`saturation_kg_m3`."""

MEAN_DROP = np.array(0.6)
"""How far the mean of an evenly heated ball lies below its middle, as a share of the way to its surface: 3/5."""

ROW_ROUNDS = 4
"""Newton steps for the air of a row: exact to 2 in 100,000 where it is warmed twelvefold what is stated."""

SMALL = 1e-12
"""Keeps quotients of nothing by nothing finite."""

ZERO, ONE, TWO, THREE = np.array(0.0), np.array(1.0), np.array(2.0), np.array(3.0)
KELVIN_AT_ZERO = np.array(KELVIN_AT_ZERO_C)
KG_PER_J = np.array(1.0 / LATENT_J_KG)
MINUS_KG_PER_J = np.array(-1.0 / LATENT_J_KG)
LATENT = np.array(LATENT_J_KG)
"""Constants of the loop are arrays: numpy takes twice as long to meet a Python float on a short row."""

MAGNUS_C = np.array(air.MAGNUS_C)
MAGNUS_SLOPE = np.array(air.MAGNUS_SLOPE * air.MAGNUS_C)
MAGNUS_TOP = np.array(np.log(air.MAGNUS_PA / VAPOUR_GAS_CONSTANT) + air.MAGNUS_SLOPE)


class State(NamedTuple):
    """What has a memory: temperatures C, water kg, honey within reach J, heat dose of workers, vapour kg/m3 and CO2
    around the box.

    ``warming_k`` (box air over local air), ``shared_w`` (heat of all boxes into the enclosure) and ``skin_kg_m3``
    (saturation at the enclosure's cold skin) are only the last solution, kept as the first guess of the next;
    ``vapour_kg_s`` is what all boxes of the enclosure gave off in the last step.
    """

    core_c: Floats
    stores_c: Floats
    water_kg: Floats
    mist_kg: Floats
    fuel_j: Floats
    worker_dose: Floats
    around_kg_m3: Floats
    warming_k: Floats
    shared_w: Floats
    vapour_kg_s: Floats
    skin_kg_m3: Floats
    co2_share: Floats


class Forcing(NamedTuple):
    """Forces of one step, ``(case,)``; see ``integrate.prepare`` for how they come about.

    The balance needs those up to ``fetch_kg_s``; the rest moves vapour, misted water and the clock. ``tight_w_k``
    is the conductance of the bees drawn together in this draught, ``drop_share`` how much of it lies inside them;
    ``jolt`` what is left of the last one; ``inside`` the share of bees that is at home, ``free`` 1 where they may
    hang out, ``fan_share`` what the road leaves of fanning. A run of steps is the same with ``(step, case)``;
    ``rows`` takes it apart.
    """

    base_c: Floats
    least_c: Floats
    resistance_k_w: Floats
    stack_share: Floats
    skin_base_c: Floats
    skin_share: Floats
    skin_m3_s: Floats
    weight: Floats
    walls_w_k: Floats
    sun_w: Floats
    wind_m6_s2: Floats
    activity: Floats
    heat_j_m3k: Floats
    tight_w_k: Floats
    drop_share: Floats
    jolt: Floats
    inside: Floats
    free: Floats
    fan_share: Floats
    fetch_kg_s: Floats
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
    """Result of one evaluation: slopes per second and the flows behind them in W, m3/s, kg/s.

    ``mantle_c`` is the temperature of the outermost bees; ``between_w_k`` what joins core and stores: bees that
    have drawn together leave the neighbouring comb alone.
    """

    core_k_s: Floats
    stores_k_s: Floats
    water_kg_s: Floats
    mist_kg_s: Floats
    fuel_w: Floats
    warming_k: Floats
    shared_w: Floats
    mantle_c: Floats
    skin_kg_m3: Floats
    box_air_c: Floats
    local_c: Floats
    flow_m3_s: Floats
    adults_w: Floats
    brood_w: Floats
    evaporation_w: Floats
    saturated_kg_m3: Floats
    wanted_w: Floats
    between_w_k: Floats


class Coefficients(NamedTuple):
    """Boxes and parameters as the loop wants them, divisions done once; scalars or ``(case,)``.

    ``bees`` is their law; ``confined`` is 1 where they cannot leave; ``co2_restless`` and ``humid_restless`` are
    begin and span of what makes hot bees restless, ``co2_stale`` of what makes warm bees fan; ``skin_j_m3k_kg`` over
    the heat of air is how many kelvin a cold skin is warmed from inside by a kg/m3 of vapour above its saturation;
    ``per_stated_k`` is one over the warming for which the air of a row is stated; ``wetted`` says whether the bees of
    any box are ever wet.
    """

    bees: BeeCoefficients
    per_stated_k: Floats
    cuticle_w: Floats
    water_end_w_kg: Floats
    mist_w_kg: Floats
    fuel_end_per_s: Floats
    exit_saturation: Floats
    skin_j_m3k_kg: Floats
    bearded_fanning: Floats
    confined: Floats
    co2_m3_per_j: Floats
    co2_restless: tuple[Floats, Floats]
    co2_stale: tuple[Floats, Floats]
    humid_restless: tuple[Floats, Floats]
    wetted: bool


def coefficients_of(boxes: Boxes, p: Parameters) -> Coefficients:
    """Prepare boxes and parameters for the loop."""
    return Coefficients(
        bees=bee_coefficients(boxes, p),
        per_stated_k=1.0 / p.row_stated_k,
        cuticle_w=boxes.cuticle_w,
        water_end_w_kg=LATENT_J_KG / p.water_last_s,
        mist_w_kg=LATENT_J_KG / p.mist_evaporation_s,
        fuel_end_per_s=1.0 / p.fuel_last_s,
        exit_saturation=p.exit_saturation,
        skin_j_m3k_kg=LATENT_J_KG * p.skin_film_w_m2k * p.inside_film_m2k_w,
        bearded_fanning=(1.0 - p.fan_beard_share) / p.beard_share,
        confined=1.0 - boxes.open_entrance,
        co2_m3_per_j=p.co2_m3_per_j,
        co2_restless=(p.co2_alert_share, p.co2_restless_span),
        co2_stale=(p.stale_from_share, p.stale_span_share),
        humid_restless=(p.humid_from_share, p.humid_span_share),
        wetted=bool(np.any(boxes.mist_kg + boxes.wet_kg > 0.0)),
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
    warming, then the air is solved exactly for that flow, so that energy is kept to rounding. The air around goes
    along its tangent at the last shared heat.
    """
    core, stores = state.core_c, state.stores_c
    bees = coefficients.bees
    answer = bee_responses(core, bees)
    restless, shivering_w, tightness, spread_w_k, fanning_m3_s, wanted, beard, awake, vain_w, quiet = answer
    bearded = forcing.free * beard
    at_work = forcing.inside - bearded
    cuticle_w, breath = coefficients.cuticle_w, ONE
    if alive is not None:
        at_work, cuticle_w, tightness = alive * at_work, alive * cuticle_w, alive * tightness
        breath = ONE - (ONE - alive) * boxes.dead_block_share
    if coefficients.wetted:
        # wet bees cannot draw together
        tightness = tightness * (ONE - np.minimum(np.maximum(state.mist_kg, ZERO) / boxes.soaked_kg, ONE))
    film = boxes.core_w_k - tightness * (boxes.core_w_k - forcing.tight_w_k) + at_work * spread_w_k
    most_m3_s = boxes.fan_m3_s * forcing.fan_share * (ONE - bearded * coefficients.bearded_fanning)
    fanned_m3_s = np.minimum(at_work * fanning_m3_s, most_m3_s)
    steady = fanned_m3_s + boxes.leak_m3_s
    comb = film + boxes.stores_w_k
    source = film * core + boxes.stores_w_k * stores + forcing.sun_w

    rise_k, per_w = between_boxes(state.shared_w, forcing, coefficients)
    around_c = np.maximum(forcing.least_c, forcing.base_c + rise_k)
    skin, latent_w = onto_skin(around_c, state, forcing, coefficients)
    flow = _flow(state, comb, source, steady, breath, around_c, forcing, boxes)
    out = forcing.walls_w_k + forcing.heat_j_m3k * flow
    total = comb + out
    own, escape = source / total, out / total
    given = enclosure_sum.total(forcing.weight * (escape * source - forcing.sun_w)) + latent_w
    felt = enclosure_sum.total(forcing.weight * (escape * comb))
    free = (forcing.base_c + (rise_k - per_w * state.shared_w) + per_w * given) / (per_w * felt + ONE)
    local = np.maximum(forcing.least_c, free)
    box_air = own + escape * local

    saturated = saturation_kg_m3(box_air)
    carry = np.maximum(flow * (coefficients.exit_saturation * saturated - state.around_kg_m3), ZERO) * LATENT
    drunk = np.minimum(at_work * wanted, np.maximum(state.water_kg, ZERO) * coefficients.water_end_w_kg)
    misted = _misted_w(core, film, flow, state, forcing, coefficients) if coefficients.wetted else ZERO
    offered = drunk + misted + cuticle_w + SMALL
    evaporation = np.minimum(carry, offered)
    lost_kg_j = evaporation / offered * MINUS_KG_PER_J
    fetched = forcing.fetch_kg_s * (ONE - np.minimum(state.water_kg / (boxes.water_kg + SMALL), ONE))

    drop = forcing.drop_share * tightness * (core - box_air)
    resting_w, brood_w = metabolic_heat(core - MEAN_DROP * drop, core, bees)
    active_w = resting_w * forcing.activity
    stress = _stress(active_w, evaporation, flow, saturated, state, forcing, coefficients)
    agitation = restless * stress
    active_w = active_w - quiet * (ONE - np.maximum(stress, forcing.jolt)) * (active_w - resting_w)
    stale = _stale(active_w + brood_w, flow + most_m3_s - fanned_m3_s, state, coefficients)
    wanted_w = np.maximum(
        np.minimum(active_w * (agitation + ONE) + vain_w * stale, boxes.ceiling_w), shivering_w
    )
    adults_w = np.minimum(
        at_work * awake * wanted_w, np.maximum(state.fuel_j, ZERO) * coefficients.fuel_end_per_s
    )

    between_w_k = boxes.between_w_k * (ONE - tightness)
    between = between_w_k * (core - stores)
    to_air = film * (core - box_air)
    return Rates(
        core_k_s=(adults_w + brood_w - evaporation - to_air - between) / boxes.core_j_k,
        stores_k_s=(between - boxes.stores_w_k * (stores - box_air)) / boxes.stores_j_k,
        water_kg_s=drunk * lost_kg_j + fetched,
        mist_kg_s=misted * lost_kg_j,
        fuel_w=-adults_w,
        warming_k=box_air - local,
        shared_w=given - felt * local,
        skin_kg_m3=skin,
        mantle_c=core - drop,
        box_air_c=box_air,
        local_c=local,
        flow_m3_s=flow,
        adults_w=adults_w,
        brood_w=brood_w,
        evaporation_w=evaporation,
        saturated_kg_m3=saturated,
        wanted_w=at_work * wanted,
        between_w_k=between_w_k,
    )


def between_boxes(shared_w: Floats, forcing: Forcing, coefficients: Coefficients) -> tuple[Floats, Floats]:
    """By how much boxes that give off so much warm the air around them, K, and what a watt more adds, K/W.

    In an enclosure ``resistance_k_w`` times the heat. Between the boxes of an open row the warmth itself drives part of
    the air: the square of that flow goes with the warming, and the wind's adds to it (stack and wind, ASHRAE
    Fundamentals ch. 16). There ``resistance_k_w`` is stated for air warmed by ``row_stated_k``, and ``stack_share`` is
    the stack's part of the square. The flow over the stated one obeys ``r^3 = (1 - stack_share) r + pull``.
    """
    wind = ONE - forcing.stack_share
    stated = coefficients.per_stated_k * forcing.resistance_k_w * np.abs(shared_w)
    pull = forcing.stack_share * (stated + SMALL)
    flow = np.sqrt(wind + pull)
    for _ in range(ROW_ROUNDS):
        flow = (TWO * flow * flow * flow + pull) / (THREE * flow * flow - wind)
    resistance = forcing.resistance_k_w / flow
    return resistance * shared_w, resistance * TWO * flow * flow / (THREE * flow * flow - wind)


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


def humidity_share(
    around_kg_m3: Floats, evaporation_w: Floats, flow_m3_s: Floats, saturated_kg_m3: Floats
) -> Floats:
    """Relative humidity of the box air: the vapour around with what is evaporated into the air that leaves."""
    share: Floats = (around_kg_m3 + evaporation_w * KG_PER_J / flow_m3_s) / saturated_kg_m3
    return share


def _stress(
    active_w: Floats,
    evaporation_w: Floats,
    flow_m3_s: Floats,
    saturated_kg_m3: Floats,
    state: State,
    forcing: Forcing,
    coefficients: Coefficients,
) -> Floats:
    """How far hot bees that are shut in grow restless, 0 to 1: by damp air, by carbon dioxide or by a jolt.

    Hot air alone does not do it: a colony at liberty in 40 C makes no more heat than at 30 C (Kronenberg &
    Heller 1982, J Comp Physiol 148:65; sign only, read as an abstract). What does is an estimate (grade D).
    """
    humidity = humidity_share(state.around_kg_m3, evaporation_w, flow_m3_s, saturated_kg_m3)
    co2 = state.co2_share + active_w * coefficients.co2_m3_per_j / flow_m3_s
    damp, stuffy = ramp(humidity, *coefficients.humid_restless), ramp(co2, *coefficients.co2_restless)
    stress: Floats = coefficients.confined * np.maximum(np.maximum(damp, stuffy), forcing.jolt)
    return stress


def _stale(breath_w: Floats, most_m3_s: Floats, state: State, coefficients: Coefficients) -> Floats:
    """How far the air stays stale although bees fan all they can, 0 to 1; then more of them fan, in vain.

    Carbon dioxide alone makes bees fan, with nothing too warm (Seeley 1974, J Insect Physiol 20:2301: colonies keep
    0.1-4.3 %; bumblebees fan markedly at 1.6 %, Weidenmueller, Kleineidam & Tautz 2002, Anim Behav 63:1065). Where
    fanning moves no air its heat is all that comes of it. ``breath_w`` is what they breathe for before that, so the
    breath of fanning itself is left out: with it the answer would jump.
    """
    co2 = state.co2_share + breath_w * coefficients.co2_m3_per_j / most_m3_s
    return ramp(co2, *coefficients.co2_stale)


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
    breath: Floats,
    around_c: Floats,
    forcing: Forcing,
    boxes: Boxes,
) -> Floats:
    """Air flow m3/s that closes the balance of the box air, by one Newton step from the last warming.

    The residual ``x (comb + walls + rc Q(x)) + comb around - source`` is convex in the warming ``x``, so the
    step never lands on the wrong side of the root for long; the air around is guessed from the last shared
    heat. ``tail`` is what the slope of the flow adds to the conductance; ``breath`` what the dead leave of it.
    """
    buoyant, wind = boxes.buoyant_m6_s2_k * breath * breath, forcing.wind_m6_s2 * breath * breath
    squared = buoyant * np.abs(state.warming_k)
    driven = np.sqrt(squared + wind)
    conductance = comb + forcing.walls_w_k + forcing.heat_j_m3k * (driven + steady)
    tail = forcing.heat_j_m3k * squared / (driven + driven)
    warming = (source - comb * around_c + state.warming_k * tail) / (conductance + tail)
    flow: Floats = np.sqrt(buoyant * np.abs(warming) + wind) + steady
    return flow
