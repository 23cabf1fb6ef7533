"""From what the user counts in a box (frames, mesh, roof) to what the integration needs (watts, joules, areas).

``describe`` turns one group in one box type into plain numbers; ``derive`` turns those, for all cases at
once and with per-case parameters, into the constants of the heat balance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np

from planner.model import openings, walls
from planner.model.parameters import Parameters
from planner.model.records import BoxType, Floats, FrameKind, Group, Ints

MEAN_AIR_K = 305.0
"""Mean absolute temperature in the buoyancy terms; 10 K off changes a flow by 1.6 %."""

MIN_CORE_FRAMES = 1.0
"""Fewest frames of a core: half a frame of bees still sits on a whole comb."""

TRACE = 1e-6
"""Frames or kilograms too little for any scale."""

LEAST_M3 = 1e-9
"""Volume of a cluster of no bees, so that its share of the way divides by something."""

BALL = 2.0 / 3.0
"""Of the law of an evenly heated ball, :func:`packed_w_m2k`."""

SPHERE = 4.84
"""Surface of a sphere over its volume to the power of 2/3: (36 pi)^(1/3), 4.836, rounded."""

LINING_W_K = 0.05
"""Film of the stores node where there is no comb: it follows the box air and weighs nothing in the balance."""

LINING_TAU_S = 3600.0
"""How fast that empty node follows: slow enough for any step, and read by nobody."""


@dataclass(frozen=True)
class BoxInputs:
    """What was counted and measured, as floats or ``(case,)`` arrays; lengths m, areas m2, masses kg."""

    count: Floats
    length_m: Floats
    width_m: Floats
    height_m: Floats
    wall_m: Floats
    wall_m2k_w: Floats
    lid_m2k_w: Floats
    frames_of_bees: Floats
    bees_kg: Floats
    bees_per_frame: Floats
    open_brood_frames: Floats
    sealed_brood_frames: Floats
    stores_frames: Floats
    thin_syrup_share: Floats
    syrup_can_kg: Floats
    wet_kg: Floats
    box_frames: Floats
    cells_per_frame: Floats
    honey_kg: Floats
    comb_side_m2: Floats
    wax_kg: Floats
    wood_kg: Floats
    gummed_share: Floats
    floor_mesh_m2: Floats
    roof_screen_m2: Floats
    roof_sunlit: Floats
    entrance_open_m2: Floats
    entrance_mesh_m2: Floats
    entrance_foam_m2: Floats
    vent_m2: Floats
    vent_height_m: Floats
    absorptance: Floats
    sun_transmittance: Floats
    leak_m3_s: Floats
    foam_water_kg: Floats
    mist_kg: Floats
    mist_first_s: Floats
    mist_every_s: Floats
    new_comb: Floats


def _more_than_a_trace(amount: float) -> float:
    """None where there is less than a millionth of a frame or kilogram: dividing by it breaks the arithmetic."""
    return 0.0 if amount < TRACE else amount


def describe(group: Group, box: BoxType, frame: FrameKind) -> BoxInputs:
    """One group of boxes as numbers, 0-d arrays."""
    mist = group.misting
    entrance = {"shut": 0.0, "open": 0.0, "mesh": 0.0, "foam": 0.0}
    entrance[group.entrance] = box.entrance_m2
    values = {
        "count": group.count,
        "length_m": box.inside_length_m,
        "width_m": box.inside_width_m,
        "height_m": box.inside_height_m,
        "wall_m": sum(thickness for thickness, _ in box.walls),
        "wall_m2k_w": walls.layers_resistance(box.walls),
        "lid_m2k_w": walls.layers_resistance(box.lid) if group.roof == "solid" else 0.0,
        "frames_of_bees": group.frames_of_bees,
        "bees_kg": group.bees_kg,
        "bees_per_frame": frame.bees,
        "open_brood_frames": _more_than_a_trace(group.open_brood_frames),
        "sealed_brood_frames": _more_than_a_trace(group.sealed_brood_frames),
        "stores_frames": _more_than_a_trace(group.stores_frames),
        "thin_syrup_share": group.thin_syrup_share,
        "syrup_can_kg": _more_than_a_trace(group.syrup_can_kg),
        "wet_kg": group.wet_bees_ml * 1e-3,
        "box_frames": box.frames,
        "cells_per_frame": frame.cells,
        "honey_kg": frame.honey_kg,
        "comb_side_m2": frame.comb_side_m2,
        "wax_kg": frame.wax_kg,
        "wood_kg": frame.wood_kg,
        "gummed_share": group.floor_blocked_share * (group.floor == "mesh"),
        "floor_mesh_m2": box.floor_mesh_m2 * (1.0 - group.floor_blocked_share) * (group.floor == "mesh"),
        "roof_screen_m2": box.roof_screen_m2 * (1.0 - group.roof_blocked_share) * (group.roof != "solid"),
        "roof_sunlit": float(group.roof == "screen"),
        "entrance_open_m2": entrance["open"],
        "entrance_mesh_m2": entrance["mesh"],
        "entrance_foam_m2": entrance["foam"],
        "vent_m2": box.side_vent_m2 * group.side_vents_open,
        "vent_height_m": box.vent_height_m,
        "absorptance": box.absorptance,
        "sun_transmittance": box.sun_transmittance,
        "leak_m3_s": box.leak_l_s[0] * 1e-3,
        "foam_water_kg": group.wet_foam_ml * 1e-3,
        "mist_kg": mist.ml * 1e-3 if mist else 0.0,
        "mist_first_s": mist.first_s if mist else np.inf,
        "mist_every_s": mist.every_s if mist else np.inf,
        "new_comb": float(group.comb == "new"),
    }
    return BoxInputs(**{name: np.asarray(value, dtype=np.float64) for name, value in values.items()})


def gather(rows: Sequence[BoxInputs], row_of_case: Ints) -> BoxInputs:
    """Stack described groups and lay them out on the case axis, ``row_of_case`` (case,)."""
    return BoxInputs(
        **{f.name: np.array([getattr(row, f.name) for row in rows])[row_of_case] for f in fields(BoxInputs)}
    )


@dataclass(frozen=True)
class Boxes:
    """Constants of the heat balance per case, all ``(case,)``.

    ``rest_w`` resting heat at 30 C, ``ceiling_w``, ``shiver_w``, ``vain_w`` of fanning in stale air,
    ``brood_w`` at 35 C, ``evaporation_w`` at full demand, ``cuticle_w``; heat capacities ``core_j_k``,
    ``stores_j_k``; conductances ``core_w_k`` (loose), ``spread_w_k`` (more once hot bees leave the combs),
    ``stores_w_k``, ``between_w_k``; of a cluster drawn together ``cluster_m2`` its surface and ``packed_w_m2k``
    what conduction through its bees lets reach it, while ``draught_m2`` is what the wind that blows through has
    to blow through, ``under_screen`` the share of the air speed outside that reaches bees right under an open
    screen; ``hold_c`` temperature the bees defend,
    ``tighten_from_c`` / ``tighten_span_k`` where they close up; walls ``lid_m2``, ``body_m2`` with their
    resistances; ``buoyant_m6_s2_k`` squared buoyant flow per kelvin, ``through_m2`` discharge-weighted area for
    wind, ``single_m2`` single-sided exchange area, ``fan_m3_s`` most that fanning can move, ``leak_m3_s``;
    ``dead_block_share`` of the flow lost when all bees lie dead on the floor; ``open_entrance`` 1 where bees come
    and go while the box stands, ``fetch_kg_s`` water they can then carry in; ``fuel_j`` of honey within reach;
    ``wet_kg`` of water on the bees when they are shut, ``soaked_kg`` with which they cannot draw together at all.
    ``brood_reach`` how near the outermost brood lies to the surface of the bees, 0 in their middle, 1 outermost.
    ``lid_sun_m2`` / ``long_sun_m2`` / ``short_sun_m2`` areas meeting the sun, ``screen_sun_m2`` direct gain.
    """

    count: Floats
    bees_kg: Floats
    number_of_bees: Floats
    has_brood: Floats
    brood_reach: Floats
    has_comb: Floats
    new_comb: Floats
    rest_w: Floats
    ceiling_w: Floats
    shiver_w: Floats
    vain_w: Floats
    brood_w: Floats
    evaporation_w: Floats
    cuticle_w: Floats
    core_j_k: Floats
    stores_j_k: Floats
    core_w_k: Floats
    cluster_m2: Floats
    packed_w_m2k: Floats
    draught_m2: Floats
    under_screen: Floats
    spread_w_k: Floats
    stores_w_k: Floats
    between_w_k: Floats
    hold_c: Floats
    tighten_from_c: Floats
    tighten_span_k: Floats
    lid_m2: Floats
    lid_m2k_w: Floats
    body_m2: Floats
    body_m2k_w: Floats
    long_side_m2: Floats
    short_side_m2: Floats
    absorptance: Floats
    sun_transmittance: Floats
    screen_sun_m2: Floats
    buoyant_m6_s2_k: Floats
    through_m2: Floats
    single_m2: Floats
    fan_m3_s: Floats
    fan_flow_m3_s: Floats
    leak_m3_s: Floats
    dead_block_share: Floats
    open_entrance: Floats
    fetch_kg_s: Floats
    fuel_j: Floats
    water_kg: Floats
    foam_water_kg: Floats
    wet_kg: Floats
    soaked_kg: Floats
    mist_kg: Floats
    mist_first_s: Floats
    mist_every_s: Floats
    start_core_c: Floats


def number_of_bees(box: BoxInputs, gain: Floats, p: Parameters) -> Floats:
    """Bees in the box: frames times bees per frame (night gain applied), or the stated mass as given."""
    by_frames = box.frames_of_bees * box.bees_per_frame * p.frame_bees_factor * gain
    return np.where(np.isnan(box.bees_kg), by_frames, np.nan_to_num(box.bees_kg) / p.bee_mass_kg)


def derive(box: BoxInputs, gain: Floats, p: Parameters) -> Boxes:
    """Constants of the heat balance for all cases.

    Parameters
    ----------
    box : inputs on the case axis
    gain : (case,) factor on frame-counted bees when closed outside flight hours, else 1
    p : parameters, scalar or (case,)
    """
    number = number_of_bees(box, gain, p)
    bees_kg = number * p.bee_mass_kg
    brood_frames = box.open_brood_frames + box.sealed_brood_frames
    has_brood = (brood_frames > 0.0).astype(np.float64)
    has_comb = (box.box_frames > 0.0).astype(np.float64)
    core_w_k = _loose_w_k(box, brood_frames, bees_kg, has_comb, p)
    cluster_m2 = _cluster_m2(box, brood_frames, bees_kg, has_brood, p)
    stores_w_k = p.film_w_m2k * 2.0 * box.comb_side_m2 * box.stores_frames
    no_stores = box.stores_frames * has_comb <= 0.0
    box = replace(box, leak_m3_s=box.leak_m3_s * (1.0 - p.gummed_crack_share * box.gummed_share))
    flows = _openings(box, p)
    faces = _faces(box)
    cells = box.cells_per_frame * p.brood_fill_share
    return Boxes(
        count=box.count,
        bees_kg=bees_kg,
        number_of_bees=number,
        has_brood=has_brood,
        brood_reach=_brood_reach(box, brood_frames, number),
        has_comb=np.where(no_stores, 0.0, 1.0),
        new_comb=box.new_comb,
        rest_w=bees_kg * p.rest_heat_w_kg,
        ceiling_w=bees_kg * p.heat_ceiling_w_kg,
        shiver_w=bees_kg * p.shiver_max_w_kg,
        vain_w=bees_kg * p.fan_share * p.fanning_w_kg,
        brood_w=cells
        * 1e-3
        * (box.open_brood_frames * p.larvae_w_per_1000 + box.sealed_brood_frames * p.sealed_w_per_1000),
        evaporation_w=bees_kg * p.evaporation_max_w_kg,
        cuticle_w=bees_kg * p.cuticle_w_kg,
        core_j_k=_core_capacity(box, brood_frames, cells, bees_kg, p),
        stores_j_k=np.where(no_stores, LINING_W_K * LINING_TAU_S, _stores_capacity(box, p)),
        core_w_k=core_w_k,
        cluster_m2=cluster_m2,
        packed_w_m2k=packed_w_m2k(cluster_m2, bees_kg, p),
        draught_m2=box.length_m * box.width_m * np.where(has_comb > 0.0, p.comb_gap_share, 1.0),
        under_screen=p.screen_draught_share
        * box.roof_sunlit
        * np.minimum(box.roof_screen_m2 / (box.length_m * box.width_m), 1.0),
        spread_w_k=bees_kg * p.spread_w_kgk,
        stores_w_k=np.where(no_stores, LINING_W_K, stores_w_k),
        between_w_k=np.where(
            no_stores, 0.0, p.comb_gap_w_m2k * box.comb_side_m2 * np.minimum(box.stores_frames, 2.0)
        ),
        hold_c=np.where(has_brood > 0.0, p.brood_hold_c, p.cluster_hold_c),
        tighten_from_c=np.where(has_brood > 0.0, p.brood_hold_c + 0.5 * p.hold_band_k, p.cluster_draw_c),
        tighten_span_k=np.where(has_brood > 0.0, p.hold_band_k, p.cluster_band_k),
        open_entrance=(box.entrance_open_m2 > 0.0).astype(np.float64),
        fetch_kg_s=bees_kg * p.fetch_g_h_kg / (1000.0 * 3600.0),
        fuel_j=p.honey_j_kg
        * (
            number * p.crop_honey_kg
            + box.stores_frames * box.honey_kg
            + box.syrup_can_kg * (1.0 - p.syrup_water_share)
        ),
        water_kg=number * np.where(has_comb > 0.0, p.crop_water_kg, p.gorged_water_kg)
        + (box.stores_frames * box.honey_kg * box.thin_syrup_share + box.syrup_can_kg) * p.syrup_water_share,
        foam_water_kg=box.foam_water_kg,
        wet_kg=box.wet_kg,
        soaked_kg=bees_kg * p.soaked_share + LEAST_M3,
        mist_kg=box.mist_kg,
        mist_first_s=box.mist_first_s,
        mist_every_s=box.mist_every_s,
        start_core_c=np.where(has_brood > 0.0, p.start_brood_c, p.start_broodless_c),
        absorptance=box.absorptance,
        sun_transmittance=box.sun_transmittance,
        screen_sun_m2=box.roof_screen_m2 * box.roof_sunlit * p.screen_sun_share,
        lid_m2k_w=box.lid_m2k_w + p.inside_film_m2k_w,
        body_m2k_w=box.wall_m2k_w + p.inside_film_m2k_w,
        fan_flow_m3_s=np.minimum(
            number * p.fan_share * p.fan_flow_m3_s, flows["fan_m3_s"] * p.fan_share / p.fan_draught_share
        ),
        leak_m3_s=box.leak_m3_s,
        **faces,
        **flows,
    )


def _core_frames(box: BoxInputs, brood_frames: Floats) -> Floats:
    """Frames that are warm with bees or brood and not stores."""
    free = np.maximum(box.box_frames - box.stores_frames, MIN_CORE_FRAMES)
    return np.maximum(np.maximum(brood_frames, np.minimum(box.frames_of_bees, free)), MIN_CORE_FRAMES)


def _loose_w_k(
    box: BoxInputs, brood_frames: Floats, bees_kg: Floats, has_comb: Floats, p: Parameters
) -> Floats:
    """Core to box air while the bees sit loosely, W/K."""
    comb_m2 = 2.0 * box.comb_side_m2 * _core_frames(box, brood_frames)
    hanging_m2 = SPHERE * (p.cluster_volume_m3_kg * bees_kg) ** (2.0 / 3.0) * p.loose_cluster_factor
    return np.asarray(p.film_w_m2k * np.where(has_comb > 0.0, comb_m2, hanging_m2))


def _cluster_m2(
    box: BoxInputs, brood_frames: Floats, bees_kg: Floats, has_brood: Floats, p: Parameters
) -> Floats:
    """Surface of the bees drawn together, m2: a ball, or the block of brood that they do not leave."""
    ball = SPHERE * (p.packed_volume_m3_kg * bees_kg) ** (2.0 / 3.0)
    faces = 2.0 * box.comb_side_m2 * np.minimum(brood_frames, 1.0)
    block = (faces + p.brood_frame_edge_m * p.brood_frame_pitch_m * brood_frames) * has_brood
    return np.asarray(np.maximum(ball, block))


def _brood_reach(box: BoxInputs, brood_frames: Floats, number: Floats) -> Floats:
    """How far the outermost brood lies from the middle of the bees to their surface, as a share of the fall of warmth.

    In a ball that makes heat evenly the fall goes with the square of the radius, and radii go with the cube root of
    what they hold: ``(brood / bees)^(2/3)``, both in frames.
    """
    covered = np.maximum(number / box.bees_per_frame, LEAST_M3)
    return np.asarray(np.minimum(brood_frames / covered, 1.0) ** BALL)


def packed_w_m2k(cluster_m2: Floats, bees_kg: Floats, p: Parameters) -> Floats:
    """Conductance from the core of a drawn-together cluster to its surface, W per m2 of surface and K.

    A ball that makes heat evenly is warmer in its middle than at its surface by ``q R^2 / (6 k)`` with q W/m3; with
    ``q = P / V`` and ``V = A R / 3`` that is ``P / (A (2/3) k A / V)``. The same with the surface of a block of
    brood says how thin its bees cover it. Carslaw & Jaeger 1959, Conduction of Heat in Solids, 9.5 (from memory).
    """
    volume_m3 = p.packed_volume_m3_kg * bees_kg
    return np.asarray(BALL * p.packed_w_mk * cluster_m2 / np.maximum(volume_m3, LEAST_M3))


def tight_w_k(cluster_m2: Floats, packed_w_m2k: Floats, film_w_m2k: Floats) -> Floats:
    """Core to box air of a drawn-together cluster, W/K: conduction through its bees, then the film outside."""
    return np.asarray(cluster_m2 * packed_w_m2k * film_w_m2k / (packed_w_m2k + film_w_m2k))


def _core_capacity(
    box: BoxInputs, brood_frames: Floats, cells: Floats, bees_kg: Floats, p: Parameters
) -> Floats:
    frames = np.where(box.box_frames > 0.0, _core_frames(box, brood_frames), 0.0)
    comb = frames * (box.wax_kg * p.wax_j_kgk + box.wood_kg * p.wood_j_kgk)
    return bees_kg * p.bees_j_kgk + brood_frames * cells * p.brood_mass_kg * p.brood_j_kgk + comb


def _stores_capacity(box: BoxInputs, p: Parameters) -> Floats:
    frame = box.honey_kg * p.honey_j_kgk + box.wax_kg * p.wax_j_kgk + box.wood_kg * p.wood_j_kgk
    return box.stores_frames * frame


def _faces(box: BoxInputs) -> dict[str, Floats]:
    """Mid-plane areas: half a wall thickness is added on every side."""
    length, width = box.length_m + box.wall_m, box.width_m + box.wall_m
    height = box.height_m + box.wall_m
    lid = length * width
    return {
        "lid_m2": lid,
        "long_side_m2": length * height,
        "short_side_m2": width * height,
        "body_m2": 2.0 * height * (length + width) + lid,
    }


def _openings(box: BoxInputs, p: Parameters) -> dict[str, Floats]:
    """Net areas of the low and high openings as flow constants; side vents count as a square on either side.

    A lone entrance breathes as an upright opening; cracks let the wind through from one side to the other.
    """
    net = p.mesh_porosity * (1.0 - p.bee_cover_share)
    entrance = box.entrance_open_m2 + box.entrance_mesh_m2 * net + box.entrance_foam_m2 * p.foam_porosity
    floor = box.floor_mesh_m2 * net
    low = floor + entrance
    roof, vent = box.roof_screen_m2 * net, box.vent_m2 * net
    high = roof + vent
    share = np.divide(roof, high, out=np.ones_like(high), where=high > 0.0)
    rise = share * box.height_m + (1.0 - share) * box.vent_height_m
    through = openings.effective_area(low, high)
    mean_k = np.asarray(MEAN_AIR_K)
    stack = openings.stack_flow_squared(p.discharge_mesh, through, rise, mean_k)
    top = openings.cooper_flow_squared(p.cooper, openings.circle_diameter(roof), mean_k)
    upright_m = np.minimum(np.sqrt(0.5 * box.vent_m2), box.height_m)
    side = openings.brown_solvason_flow_squared(p.discharge_mesh, vent, upright_m, mean_k)
    slot = openings.brown_solvason_flow_squared(p.discharge_open, entrance, p.entrance_height_m, mean_k)
    return {
        "buoyant_m6_s2_k": stack + top + side + slot,
        "through_m2": p.discharge_mesh * (through + 0.5 * p.crack_s_m * box.leak_m3_s),
        "single_m2": p.single_sided
        * (low + high - box.entrance_open_m2 * (1.0 - p.discharge_open / p.discharge_mesh)),
        "fan_m3_s": _fanning_m3_s(box, floor + high, p),
        "dead_block_share": p.dead_block_share
        * np.divide(floor, low, out=np.zeros_like(low), where=low > 0.0),
    }


def _fanning_m3_s(box: BoxInputs, mesh_m2: Floats, p: Parameters) -> Floats:
    """The most that fanning can move through each opening, m3/s.

    Fanners stand in rows across the entrance: so many find room, and the mean speed over the opening has its
    bound. Through mesh they move a share of it, through foam nothing.
    """
    width_m = (box.entrance_open_m2 + box.entrance_mesh_m2 * p.fan_mesh_share) / p.entrance_height_m
    standing = width_m * p.fan_places_per_m * p.fan_rows * p.fan_flow_m3_s
    entrance = np.minimum(standing, p.fan_face_speed_ms * width_m * p.entrance_height_m)
    mesh = np.minimum(p.fan_face_speed_ms * p.fan_mesh_share * mesh_m2, p.fan_max_m3_s)
    return np.asarray(entrance + mesh)
