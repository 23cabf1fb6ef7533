"""Marching all cases through time: Heun's method on one-minute steps, the only loop over physics.

Forces are taken at the middle of each step and events fall between steps, so the scheme keeps second
order across closing, loading and stops. What the loop needs but the state does not change is prepared for
a block of steps at once. Sources of the scheme: Hairer, Norsett & Wanner, Solving Ordinary Differential
Equations I, ch. II.1 (Heun's method of order 2).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from planner.model import bees, doses, walls
from planner.model.balance import (
    KG_PER_J,
    ONE,
    SMALL,
    ZERO,
    Coefficients,
    EnclosureSum,
    Forcing,
    Rates,
    State,
    coefficients_of,
    humidity_share,
    rates,
    saturation_kg_m3,
)
from planner.model.boxes import Boxes, tight_w_k
from planner.model.loading_places import LocalAir
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints
from planner.model.timeline import GRID_S, VehicleState

STEP_S = GRID_S
BLOCK_ELEMENTS = 60_000
WARM_UP = 4
FIRST_GUESS_K = 5.0
"""Warming of the box air from which its first solution is sought; any guess ends at the same one."""

LEAST_CHANGE_PER_S = 1e-9
"""Air changes below this count as this, so that a tight enclosure divides by something."""

NO_DEATH_DOSE = 0.03
"""Below this dose all workers count as alive, which saves a power a step: 1 in 10^6 are dead at the usual steepness."""

HALF = np.array(0.5)
HALF_STEP, WHOLE_STEP = 1, 2
HOUR_S = 3600.0


@dataclass(frozen=True)
class Cases:
    """Which track, env and enclosure each case belongs to, and how its weather differs; all ``(case,)``.

    ``enclosure`` numbers the air spaces shared by several cases, or None when each case has its own;
    ``air_offset_k``, ``sun_factor``, ``wind_factor`` shift the weather of a case, ``place_offset_k`` the air where
    it rides. ``boxes`` are the constants of the balance.
    """

    track: Ints
    local_air: Ints
    enclosure: Ints | None
    boxes: Boxes
    air_offset_k: Floats | float = 0.0
    place_offset_k: Floats | float = 0.0
    sun_factor: Floats | float = 1.0
    wind_factor: Floats | float = 1.0
    stood_in_c: Floats | None = None


@dataclass(frozen=True)
class Histories:
    """What the integration saw. Nodes are ``(time + 1, case)``, steps ``(time, case)``.

    ``core_c``, ``stores_c``, ``water_kg`` (crop, syrup and misted together) at nodes; ``mantle_c``, ``box_air_c``,
    ``local_c``, ``flow_m3_s``, ``adults_w``, ``brood_w``, ``sun_w``, ``evaporation_w``, ``wanted_w`` (evaporation
    the bees would use if water and air allowed), vapour densities of the air around and of saturated box air
    as means of steps; ``closed`` marks the steps that count. ``walls_w``, ``air_w`` heat carried
    off. ``worker_dose`` (case,) at the end.
    """

    core_c: Floats
    stores_c: Floats
    water_kg: Floats
    closed: Bools
    mantle_c: Floats
    box_air_c: Floats
    local_c: Floats
    flow_m3_s: Floats
    adults_w: Floats
    brood_w: Floats
    sun_w: Floats
    evaporation_w: Floats
    wanted_w: Floats
    walls_w: Floats
    air_w: Floats
    around_kg_m3: Floats
    around_co2_share: Floats
    saturated_kg_m3: Floats
    worker_dose: Floats


RATES_FIELDS = (
    "box_air_c",
    "local_c",
    "flow_m3_s",
    "adults_w",
    "brood_w",
    "evaporation_w",
    "wanted_w",
    "saturated_kg_m3",
    "mantle_c",
)
SUMMARY_FIELDS = ("mantle_c", "evaporation_w", "wanted_w", "flow_m3_s", "adults_w", "saturated_kg_m3")
NODE_FIELDS = ("core_c", "stores_c", "around_kg_m3", "co2_share")
WATER_FIELDS = ("water_kg", "mist_kg")
STEP_FIELDS = (*RATES_FIELDS, "sun_w", "walls_w", "air_w")


def prepare(
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    rows: slice,
    p: Parameters,
    step_s: float = STEP_S,
) -> Forcing:
    """Forces of the steps in ``rows``, ``(step, case)``; ``where`` and ``env`` are sampled at mid-step."""
    boxes, e, track = cases.boxes, cases.local_air, cases.track

    def here(values: Floats) -> Floats:
        return values[rows].take(e, axis=1)

    speed = here(local_air.speed_ms) * cases.wind_factor
    outside = walls.outside_film_m2k_w(speed, p)
    lid = boxes.lid_m2 / (boxes.lid_m2k_w + outside)
    per_body = 1.0 / (boxes.body_m2k_w + outside)
    through = boxes.through_m2 * here(local_air.pressure_root)
    single = boxes.single_m2
    change = local_air.change_per_s[rows]
    gain = np.where(
        np.isinf(change), 0.0, 1.0 / (local_air.volume_m3[rows] * np.maximum(change, LEAST_CHANGE_PER_S))
    )
    keep_half = np.exp(-0.5 * change * step_s)
    skin_change = local_air.skin_m3_s[rows] / local_air.volume_m3[rows]
    closed = vehicle.closed[rows].take(track, axis=1)
    wind_m6_s2 = speed**2 * (through**2 + single**2) + SMALL
    draught_ms = np.sqrt(wind_m6_s2) / boxes.draught_m2 + boxes.under_screen * speed
    film = p.mantle_film_w_m2k + p.mantle_film_per_root * np.sqrt(draught_ms)
    tight = np.minimum(tight_w_k(boxes.cluster_m2, boxes.packed_w_m2k, film), boxes.core_w_k)
    moving = vehicle.moving[rows].take(track, axis=1)
    free = boxes.open_entrance * ~vehicle.on_board[rows].take(track, axis=1)
    flying = free * _flying(here(local_air.ghi_w_m2), here(local_air.base_c), p)
    jolt = bees.jolt_left(vehicle.since_jolt_s[rows].take(track, axis=1), p)
    offset_k = cases.place_offset_k * here(local_air.on_board)
    base_c = here(local_air.base_c) + here(local_air.sun_rise_k) * cases.sun_factor + cases.air_offset_k
    least_c = here(local_air.least_c) + offset_k
    skin_share = here(local_air.skin_share)
    return Forcing(
        base_c=base_c + offset_k,
        least_c=least_c,
        resistance_k_w=here(local_air.resistance_k_w),
        stack_share=here(local_air.stack_share),
        skin_base_c=(1.0 - skin_share) * (here(local_air.outside_c) + cases.air_offset_k),
        skin_share=skin_share,
        skin_m3_s=here(local_air.skin_m3_s),
        weight=boxes.count * here(local_air.on_board) * closed,
        walls_w_k=lid + boxes.body_m2 * per_body * here(local_air.bare_share),
        sun_w=_sun(cases, local_air, rows, lid, per_body, outside)
        - (lid + boxes.body_m2 * per_body) * outside * _dried_w_m2(cases, local_air, rows, base_c, speed, p)
        - lid * outside * here(local_air.sky_w_m2),
        wind_m6_s2=wind_m6_s2,
        activity=bees.activity(_base_activity(vehicle, rows, track, free, p), jolt, p),
        heat_j_m3k=here(local_air.heat_j_m3k),
        tight_w_k=tight,
        drop_share=tight / (boxes.cluster_m2 * boxes.packed_w_m2k + SMALL),
        jolt=jolt,
        inside=1.0 - p.foragers_share * flying,
        free=free,
        fan_share=np.where(moving, p.fan_moving_share, 1.0),
        fetch_kg_s=flying * boxes.fetch_kg_s,
        vapour_kg_m3=here(local_air.vapour_kg_m3),
        vapour_gain=gain.take(e, axis=1),
        vapour_keep_half=keep_half.take(e, axis=1),
        skin_keep_half=np.exp(-0.5 * (change + skin_change) * step_s).take(e, axis=1),
        breath_m3_s=here(local_air.breath_m3_s),
        active_s=np.where(closed, step_s, 0.0),
        mist_kg=_mist(cases, vehicle, rows, np.maximum(base_c, least_c), p, step_s),
    )


def _dried_w_m2(
    cases: Cases, local_air: LocalAir, rows: slice, base_c: Floats, speed: Floats, p: Parameters
) -> Floats:
    """Heat that rain takes off the skins while it dries, W/m2; 0 on dry skins."""
    e = cases.local_air
    wet, vapour, heat = (
        getattr(local_air, name)[rows].take(e, axis=1) for name in ("wet_share", "vapour_kg_m3", "heat_j_m3k")
    )
    if not wet.any():
        return np.zeros_like(base_c)
    return np.asarray(wet * walls.wet_skin_w_m2(base_c, vapour, heat, speed, p))


def _base_activity(vehicle: VehicleState, rows: slice, track: Ints, free: Floats, p: Parameters) -> Floats:
    """Activity that bees settle to: at liberty, shut in and waiting, over a running engine, on the road."""
    idling = vehicle.engine_on[rows].take(track, axis=1) & vehicle.on_board[rows].take(track, axis=1)
    still = np.where(idling, p.activity_idling, np.where(free > 0.0, p.activity_resting, p.activity_waiting))
    shaking = vehicle.shaking[rows].take(track, axis=1)
    return np.asarray(still + (p.activity_driving - still) * shaking)


def _flying(ghi_w_m2: Floats, air_c: Floats, p: Parameters) -> Bools:
    """Whether bees at liberty are out: by daylight, in air warm enough to fly (common practice, no source)."""
    return np.asarray((ghi_w_m2 > p.flight_sun_w_m2) & (air_c > p.flight_from_c))


def _sun(
    cases: Cases, local_air: LocalAir, rows: slice, lid: Floats, per_body: Floats, outside: Floats
) -> Floats:
    """Sun that gets into the box, W: through walls by the sol-air rule, through clear walls and screens direct."""
    boxes, e = cases.boxes, cases.local_air
    on_lid, flank, end = (
        getattr(local_air, name)[rows].take(e, axis=1) for name in ("lid_w_m2", "flank_w_m2", "end_w_m2")
    )
    sides_w = flank * boxes.long_side_m2 + end * boxes.short_side_m2
    soaked = boxes.absorptance * outside * (lid * on_lid + per_body * sides_w)
    direct = boxes.sun_transmittance * (boxes.lid_m2 * on_lid + sides_w) + boxes.screen_sun_m2 * on_lid
    return np.asarray((soaked + direct) * cases.sun_factor)


def _mist(
    cases: Cases, vehicle: VehicleState, rows: slice, base_c: Floats, p: Parameters, step_s: float
) -> Floats:
    """Water misted onto each box during each step, kg; none below the temperature at which water chills."""
    boxes = cases.boxes
    if not np.any(boxes.mist_kg > 0.0):
        return np.zeros(base_c.shape)
    planned = boxes.mist_kg > 0.0
    first_s, every_s = np.where(planned, boxes.mist_first_s, 0.0), np.where(planned, boxes.mist_every_s, 1.0)
    riding_s = vehicle.riding_s[rows][:, cases.track]
    late = np.maximum((riding_s - first_s) / every_s, -1.0)
    before = np.maximum((riding_s - step_s - first_s) / every_s, -1.0)
    due = (np.floor(late) - np.floor(before)) * vehicle.on_board[rows][:, cases.track]
    return np.asarray(np.where(base_c >= p.no_mist_below_c, due * boxes.mist_kg, 0.0))


def blocks(n_steps: int, n_cases: int) -> Iterator[slice]:
    """Runs of steps small enough to stay in cache."""
    size = max(1, min(n_steps, BLOCK_ELEMENTS // max(n_cases, 1)))
    for first in range(0, n_steps, size):
        yield slice(first, min(first + size, n_steps))


def start(cases: Cases, vehicle: VehicleState, local_air: LocalAir, p: Parameters) -> State:
    """State when each box is shut: nest at its own temperature or that of warmer air, stores between air and nest."""
    boxes = cases.boxes
    shut = np.argmax(vehicle.closed, axis=0)[cases.track]
    here = shut, cases.local_air
    outside = np.maximum(local_air.base_c[here], local_air.least_c[here]) + cases.air_offset_k
    core = np.maximum(boxes.start_core_c, np.minimum(outside, p.start_most_c))
    stood = outside if cases.stood_in_c is None else cases.stood_in_c + cases.air_offset_k
    zero = np.zeros_like(outside)
    return State(
        core_c=core + zero,
        stores_c=stood + p.start_stores_share * (core - stood),
        water_kg=boxes.water_kg + boxes.foam_water_kg,
        mist_kg=boxes.wet_kg + zero,
        fuel_j=boxes.fuel_j + zero,
        worker_dose=zero,
        around_kg_m3=local_air.vapour_kg_m3[here] + zero,
        warming_k=zero + FIRST_GUESS_K,
        shared_w=zero,
        vapour_kg_s=zero,
        skin_kg_m3=saturation_kg_m3(outside + zero),
        co2_share=p.ambient_co2_share + zero,
    )


def settle(
    state: State, forcing: Forcing, boxes: Boxes, coefficients: Coefficients, enclosure_sum: EnclosureSum
) -> State:
    """The first guess of the box air brought to its solution."""
    for _ in range(WARM_UP):
        now = rates(state, forcing, None, boxes, coefficients, enclosure_sum)
        state = state._replace(warming_k=now.warming_k, shared_w=now.shared_w, skin_kg_m3=now.skin_kg_m3)
    return state


def advance(
    state: State,
    forcing: Forcing,
    boxes: Boxes,
    coefficients: Coefficients,
    enclosure_sum: EnclosureSum,
    p: Parameters,
) -> tuple[State, Rates, Rates]:
    """One Heun step; returns the new state and both evaluations.

    The moisture around is taken at mid-step, on its way to what the last step gave off; at the end of the step
    it is carried on exactly for what this one did.
    """
    dt, alive = forcing.active_s, _alive(state.worker_dose, p)
    around = moisture(state, state.vapour_kg_s, forcing, HALF_STEP)
    core, stores, water, mist = state.core_c, state.stores_c, state.water_kg, state.mist_kg + forcing.mist_kg
    now = State(
        core,
        stores,
        water,
        mist,
        state.fuel_j,
        state.worker_dose,
        around,
        state.warming_k,
        state.shared_w,
        state.vapour_kg_s,
        state.skin_kg_m3,
        state.co2_share,
    )
    first = rates(now, forcing, alive, boxes, coefficients, enclosure_sum)
    taken = dt * dose_rate(core + HALF * dt * first.core_k_s, now, first, boxes, p)
    dose = state.worker_dose + np.where(dt > 0.0, taken, 0.0)  # unknown air once a box is open adds nothing
    first_w = first.adults_w + first.brood_w
    ahead = State(
        core + dt * first.core_k_s,
        stores + dt * first.stores_k_s,
        water + dt * first.water_kg_s,
        mist + dt * first.mist_kg_s,
        state.fuel_j + dt * first.fuel_w,
        dose,
        around,
        first.warming_k,
        first.shared_w,
        state.vapour_kg_s,
        first.skin_kg_m3,
        stale(state.co2_share, enclosure_sum.total(forcing.weight * first_w), forcing, p),
    )
    second = rates(ahead, forcing, _alive(dose, p), boxes, coefficients, enclosure_sum)
    half = HALF * dt
    made_w = HALF * (first_w + second.adults_w + second.brood_w)
    given_off = (
        HALF * KG_PER_J * enclosure_sum.total(forcing.weight * (first.evaporation_w + second.evaporation_w))
    )
    new = State(
        core + half * (first.core_k_s + second.core_k_s),
        stores + half * (first.stores_k_s + second.stores_k_s),
        water + half * (first.water_kg_s + second.water_kg_s),
        mist + half * (first.mist_kg_s + second.mist_kg_s),
        state.fuel_j + half * (first.fuel_w + second.fuel_w),
        dose,
        np.minimum(
            moisture(state._replace(skin_kg_m3=second.skin_kg_m3), given_off, forcing, WHOLE_STEP),
            saturation_kg_m3(second.local_c),
        ),
        second.warming_k,
        second.shared_w,
        given_off,
        second.skin_kg_m3,
        stale(state.co2_share, enclosure_sum.total(forcing.weight * made_w), forcing, p),
    )
    return new, first, second


def moisture(state: State, given_off_kg_s: Floats, forcing: Forcing, halves: int) -> Floats:
    """Vapour around the boxes so many half steps later: carried off by the air, and by a skin that is colder.

    Each alone is a first-order fall, exact for what is held over the time; a skin takes nothing below its own
    saturation, and never leaves more than the air alone would.
    """
    around, skin = state.around_kg_m3, state.skin_kg_m3
    airy, wet = _settled_vapour(given_off_kg_s, skin, forcing)
    by_air = airy + (around - airy) * _kept(forcing.vapour_keep_half, halves)
    by_both = wet + (around - wet) * _kept(forcing.skin_keep_half, halves)
    return np.minimum(by_air, np.maximum(by_both, skin))


def _settled_vapour(given_off_kg_s: Floats, skin: Floats, forcing: Forcing) -> tuple[Floats, Floats]:
    """Where the vapour would end by the exchange of air alone, and by air and skin together."""
    airy = forcing.vapour_kg_m3 + forcing.vapour_gain * given_off_kg_s
    pull = forcing.vapour_gain * forcing.skin_m3_s
    return airy, (airy + pull * skin) / (pull + ONE)


def settled_vapour(given_off_kg_s: Floats, skin: Floats, forcing: Forcing) -> Floats:
    """Vapour around the boxes once it stands still, kg/m3; arguments as in ``rates``."""
    airy, wet = _settled_vapour(given_off_kg_s, skin, forcing)
    return np.minimum(airy, np.maximum(wet, skin))


def stale(co2_share: Floats, made_w: Floats, forcing: Forcing, p: Parameters) -> Floats:
    """Carbon dioxide around the boxes a step later: breath of all bees, brood and people into the same air."""
    settled = settled_co2_share(made_w, forcing, p)
    return settled + (co2_share - settled) * _kept(forcing.vapour_keep_half, WHOLE_STEP)


def settled_co2_share(made_w: Floats, forcing: Forcing, p: Parameters) -> Floats:
    """Carbon dioxide around the boxes once it stands still; arguments as in ``stale``."""
    share: Floats = p.ambient_co2_share + forcing.vapour_gain * (
        made_w * p.co2_m3_per_j + forcing.breath_m3_s
    )
    return share


def _kept(half: Floats, halves: int) -> Floats:
    return half * half if halves == WHOLE_STEP else half


def dose_rate(core_c: Floats, state: State, now: Rates, boxes: Boxes, p: Parameters) -> Floats:
    """Worker dose per second: of heat, faster in humid air without water, and of hunger (all grade D)."""
    left_kg = np.maximum(state.water_kg + state.mist_kg, ZERO)
    dry = ONE - np.minimum(left_kg / p.dry_below_kg, ONE)
    humidity = humidity_share(state.around_kg_m3, now.evaporation_w, now.flow_m3_s, now.saturated_kg_m3)
    humid = bees.ramp(humidity, p.humid_from_share, p.humid_span_share)
    faster = (p.worker_humid_factor - ONE) * dry * humid
    hungry = ONE - np.minimum(state.fuel_j / (p.hungry_j_kg * boxes.bees_kg + SMALL), ONE)
    per_s: Floats = doses.worker_heat(p).rate(core_c) * (faster + ONE) + hungry / (p.starving_h * HOUR_S)
    return per_s


def _alive(worker_dose: Floats, p: Parameters) -> Floats | None:
    """Share alive; all of them below a dose that matters to 1 in 10^6, None where that is so for the whole batch."""
    if worker_dose.max(initial=0.0) < NO_DEATH_DOSE:
        return None
    # the same rule case by case, so that no case depends on the others of its batch
    return np.where(worker_dose < NO_DEATH_DOSE, 1.0, bees.alive_share(worker_dose, p))


def integrate(
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    *,
    step_s: float = STEP_S,
    detail: bool = True,
) -> Histories:
    """Walk every case through its trip.

    Parameters
    ----------
    cases : what rides where, ``(case,)``
    where, env : ``(time, track)`` and ``(time, env)``, sampled at the middle of each step
    p : parameters, scalars or ``(case,)``
    step_s : length of a step
    detail : keep every field of the histories; otherwise only what verdicts need

    Returns
    -------
    Histories on nodes and steps. A case before its closing and after its opening stands still.
    """
    n_steps, n_cases = vehicle.time_s.shape[0], cases.track.size
    coefficients, enclosure_sum = coefficients_of(cases.boxes, p), EnclosureSum(cases.enclosure)
    nodes = _tables(NODE_FIELDS + (WATER_FIELDS if detail else ()), n_steps + 1, n_cases)
    seen = _tables(RATES_FIELDS if detail else SUMMARY_FIELDS, n_steps, n_cases)
    again = _tables(RATES_FIELDS if detail else (), n_steps, n_cases)
    forces = _tables(("sun_w", "walls_w_k", "heat_j_m3k") if detail else (), n_steps, n_cases)
    state = start(cases, vehicle, local_air, p)
    _put(nodes, 0, state)
    for rows in blocks(n_steps, n_cases):
        block = prepare(cases, vehicle, local_air, rows, p, step_s)
        _put(forces, rows, block)
        if rows.start == 0:
            state = settle(state, next(block.rows()), cases.boxes, coefficients, enclosure_sum)
        for index, forcing in enumerate(block.rows(), rows.start):
            state, first, second = advance(state, forcing, cases.boxes, coefficients, enclosure_sum, p)
            _put(nodes, index + 1, state)
            _put(seen, index, first)
            _put(again, index, second)
    steps = (
        _means(seen, again, forces) | {"water_kg": nodes["water_kg"] + nodes["mist_kg"]} if detail else seen
    )
    unseen = dict.fromkeys((*STEP_FIELDS, "water_kg"), np.empty((0, n_cases)))
    return Histories(
        core_c=nodes["core_c"],
        stores_c=nodes["stores_c"],
        around_kg_m3=nodes["around_kg_m3"][1:],
        around_co2_share=nodes["co2_share"][1:],
        closed=vehicle.closed.take(cases.track, axis=1),
        worker_dose=state.worker_dose,
        **(unseen | steps),
    )


def _tables(names: Sequence[str], times: int, cases: int) -> dict[str, Floats]:
    """Room for some fields of what the integration meets, each ``(time, case)``."""
    return {name: np.empty((times, cases)) for name in names}


def _put(tables: dict[str, Floats], at: int | slice, met: State | Rates | Forcing) -> None:
    """Keep the wanted fields of one step or of a run of them."""
    for name, table in tables.items():
        table[at] = getattr(met, name)


def _means(seen: dict[str, Floats], again: dict[str, Floats], forces: dict[str, Floats]) -> dict[str, Floats]:
    """Everything the steps did, as means of their two evaluations."""
    mean = {name: 0.5 * (first + again[name]) for name, first in seen.items()}
    warmer, later = (now["box_air_c"] - now["local_c"] for now in (seen, again))
    walls_w = 0.5 * forces["walls_w_k"] * (warmer + later)
    air_w = 0.5 * forces["heat_j_m3k"] * (seen["flow_m3_s"] * warmer + again["flow_m3_s"] * later)
    return mean | {"sun_w": forces["sun_w"], "walls_w": walls_w, "air_w": air_w}
