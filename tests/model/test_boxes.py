"""What a described box comes to, each constant worked out by hand from the rows of the catalogue."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from planner.model import boxes as box_model
from planner.model.boxes import Boxes
from planner.model.records import Misting
from tests.model.scenarios import NUC, Group, catalogue, described, replace, typical

SWARM = Group("swarm", 1, "swarm_box_ply", bees_kg=1.2)


def derived(group: Group, gain: float = 1.0, **changes: float) -> Boxes:
    return box_model.derive(described(group, **changes), np.array([gain]), typical())


def found(boxes: Boxes, **expected: float) -> None:
    for name, value in expected.items():
        assert getattr(boxes, name).tolist() == [pytest.approx(value, rel=1e-5)], name


def test_bees_are_counted_by_frames_or_taken_as_weighed() -> None:
    """5 frames of 2300 bees of 0.11 g; a third more when shut at night; a stated weight is what it is."""
    found(derived(NUC), number_of_bees=11_500.0, bees_kg=1.265)
    found(derived(NUC, gain=1.3), number_of_bees=14_950.0)
    found(derived(SWARM, gain=1.3), bees_kg=1.2, number_of_bees=1.2 / 0.00011)


def test_heat_and_water_go_by_the_weight_and_the_number_of_bees() -> None:
    """Per kg: rest 7.7, ceiling 150, shivering 35, evaporation 60, breath 2.5 W, spread 8 W/K; 0.01 g water a bee."""
    found(
        derived(NUC),
        rest_w=1.265 * 7.7,
        ceiling_w=1.265 * 150.0,
        shiver_w=1.265 * 35.0,
        evaporation_w=1.265 * 60.0,
        cuticle_w=1.265 * 2.5,
        spread_w_k=1.265 * 8.0,
        water_kg=0.115,
    )


def test_brood_makes_heat_by_its_cells() -> None:
    """6400 cells, 0.7 of them used; open brood 0.7 W, sealed 0.4 W per thousand: 4.48 (0.7 + 2 x 0.4)."""
    found(derived(NUC), brood_w=4.48 * 1.5)


def test_thin_syrup_is_water_at_hand() -> None:
    """2 frames of 3.2 kg, half of it thin, 0.4 of that water, beside the crops' 0.115 kg."""
    found(derived(replace(NUC, thin_syrup_share=0.5)), water_kg=0.115 + 2.0 * 3.2 * 0.5 * 0.4)


def test_the_core_is_bees_brood_and_the_combs_they_cover() -> None:
    """Three of five frames hold no stores; 3400, 3600 J/kgK; a comb of 0.1 kg wax and 0.28 kg wood: 766 J/K.

    Film 10 W/m2K on both sides of 0.0874 m2 three times; stores of 3.2 kg honey at 2400 on two frames; of their
    four faces two look on the nest over the gap of 3 W/m2K, one for a single frame of stores.
    """
    comb = 0.1 * 2900.0 + 0.28 * 1700.0
    nuc = derived(NUC)
    found(
        nuc,
        core_j_k=1.265 * 3400.0 + 3.0 * 4480.0 * 0.00013 * 3600.0 + 3.0 * comb,
        core_w_k=10.0 * 2.0 * 0.0874 * 3.0,
        stores_j_k=2.0 * (3.2 * 2400.0 + comb),
        stores_w_k=10.0 * 2.0 * 0.0874 * 2.0,
        between_w_k=3.0 * 0.0874 * 2.0,
    )
    found(derived(replace(NUC, stores_frames=1.0)), between_w_k=3.0 * 0.0874, stores_w_k=10.0 * 2.0 * 0.0874)
    found(derived(replace(NUC, stores_frames=4.0)), between_w_k=3.0 * 0.0874 * 2.0)


def test_few_bees_still_sit_on_one_comb_and_brood_keeps_its_own() -> None:
    film = 10.0 * 2.0 * 0.0874
    bare = replace(NUC, frames_of_bees=0.5, open_brood_frames=0.0, sealed_brood_frames=0.0)
    found(derived(bare), core_w_k=film)
    found(derived(replace(bare, frames_of_bees=2.0)), core_w_k=2.0 * film)
    found(derived(replace(bare, stores_frames=5.0)), core_w_k=film)
    found(derived(replace(NUC, frames_of_bees=1.0, sealed_brood_frames=3.0)), core_w_k=4.0 * film)


def test_bees_close_up_over_brood_or_as_a_ball() -> None:
    """Brood: two faces and a rim of 1.26 x 0.035 m a frame. A ball of 2 L per kg; 2/3 k A / V lets heat through it.

    Less than a frame of brood has so much less face. Loose, a swarm hangs as a ball of 4.5 L per kg with three
    times that surface.
    """
    block = 2.0 * 0.0874 + 1.26 * 0.035 * 3.0
    found(derived(NUC), cluster_m2=block, packed_w_m2k=2.0 / 3.0 * 0.12 * block / (0.002 * 1.265))
    third = derived(replace(NUC, frames_of_bees=0.5, open_brood_frames=0.3, sealed_brood_frames=0.0))
    found(third, cluster_m2=0.3 * (2.0 * 0.0874 + 1.26 * 0.035))
    ball = 4.84 * (0.002 * 1.2) ** (2.0 / 3.0)
    found(
        derived(SWARM),
        cluster_m2=ball,
        packed_w_m2k=2.0 / 3.0 * 0.12 * ball / (0.002 * 1.2),
        core_w_k=10.0 * 3.0 * 4.84 * (0.0045 * 1.2) ** (2.0 / 3.0),
        core_j_k=1.2 * 3400.0,
    )


def test_a_tight_cluster_loses_heat_through_its_bees_and_then_its_film() -> None:
    """0.1 m2: 3 W/m2K through the bees and 6 outside are 2 W/m2K together."""
    assert box_model.tight_w_k(np.array(0.1), np.array(3.0), np.array(6.0)) == pytest.approx(0.2)


def test_a_can_of_syrup_is_honey_and_water_within_reach() -> None:
    """A kilogram of syrup, 0.4 of it water, beside what gorged bees carry: 2 mg water, 10 mg honey of 12.7 MJ/kg."""
    number = 1.2 / 0.00011
    fed, unfed = (derived(replace(SWARM, syrup_can_kg=kg)) for kg in (1.0, 0.0))
    found(unfed, water_kg=number * 2e-6, fuel_j=number * 1e-5 * 12.7e6)
    found(fed, water_kg=number * 2e-6 + 0.4, fuel_j=(number * 1e-5 + 0.6) * 12.7e6)


def test_what_bees_defend_hangs_on_brood() -> None:
    """34 C from 34.5 C on with brood; 32.5 C without, drawn together over 2 K from 34.5 C down."""
    found(
        derived(NUC), hold_c=34.0, tighten_from_c=34.5, tighten_span_k=1.0, start_core_c=34.5, has_brood=1.0
    )
    found(
        derived(SWARM), hold_c=32.5, tighten_from_c=34.5, tighten_span_k=2.0, start_core_c=30.0, has_brood=0.0
    )


@pytest.mark.parametrize("group", [SWARM, replace(NUC, stores_frames=0.0)])
def test_where_there_is_no_stores_comb_its_node_weighs_nothing(group: Group) -> None:
    found(derived(group), has_comb=0.0, between_w_k=0.0, stores_w_k=0.05, stores_j_k=180.0)


def test_areas_lie_in_the_middle_of_the_walls() -> None:
    """Inside 0.467 x 0.2 x 0.244 m, walls of 19 mm."""
    length, width, height = 0.486, 0.219, 0.263
    found(
        derived(NUC),
        lid_m2=length * width,
        long_side_m2=length * height,
        short_side_m2=width * height,
        body_m2=2.0 * (length + width) * height + length * width,
        body_m2k_w=0.019 / 0.12 + 0.13,
    )


def test_a_screen_has_no_resistance_and_lets_the_sun_in_unless_it_is_shaded() -> None:
    box = replace(catalogue().box_types["swarm_box_ply"], roof_screen_m2=0.1)
    frame = catalogue().frame_kinds[box.frame_kind]
    solid, screen, shaded = (
        box_model.describe(replace(SWARM, roof=roof, roof_blocked_share=0.25), box, frame)
        for roof in ("solid", "screen", "shaded_screen")
    )
    assert [float(one.roof_screen_m2) for one in (solid, screen, shaded)] == pytest.approx(
        [0.0, 0.075, 0.075]
    )
    assert [float(one.roof_sunlit) for one in (solid, screen, shaded)] == [0.0, 1.0, 0.0]
    assert [float(one.lid_m2k_w) > 0.0 for one in (solid, screen, shaded)] == [True, False, False]
    open_to_sun = box_model.derive(box_model.gather([screen], np.zeros(1, dtype=int)), np.ones(1), typical())
    found(open_to_sun, screen_sun_m2=0.075 * 0.6, lid_m2k_w=0.13)


def test_what_is_counted_becomes_numbers_in_si() -> None:
    watered = replace(NUC, wet_foam_ml=30.0, misting=Misting(20.0, 600.0, 900.0), floor_blocked_share=0.2)
    box = catalogue().box_types[NUC.box_type]
    inputs = described(watered)
    assert inputs.foam_water_kg == pytest.approx(0.030)
    assert (inputs.mist_kg, inputs.mist_first_s, inputs.mist_every_s) == (pytest.approx(0.020), 600.0, 900.0)
    assert inputs.floor_mesh_m2 == pytest.approx(0.8 * box.floor_mesh_m2)
    assert inputs.leak_m3_s == pytest.approx(box.leak_l_s[0] / 1000.0)
    assert described(replace(watered, floor="solid")).floor_mesh_m2 == 0.0
    assert np.isinf(described(NUC).mist_first_s)
    assert np.isinf(described(NUC).mist_every_s)


@pytest.mark.parametrize("kind", ["open", "mesh", "foam", "shut"])
def test_an_entrance_counts_as_what_it_is(kind: str) -> None:
    inputs = described(replace(NUC, entrance=kind))
    area = catalogue().box_types[NUC.box_type].entrance_m2
    for name in ("open", "mesh", "foam"):
        assert getattr(inputs, f"entrance_{name}_m2") == (area if name == kind else 0.0)


CRACKS_M2 = 0.4 * 0.5 * 12.5 * 0.0001
"""0.1 L/s of leak are 12.5 cm2 of cracks, half of them to either side of the wind, at a discharge of 0.4."""


def test_one_sided_openings_exchange_by_wind_and_fanning_alone() -> None:
    """Floor mesh 0.65 open, a fifth of it covered; foam passes 5 %; 0.025 A v; fanning 0.25 x 0.4 m/s, at most 1 L/s.

    Fanning bees: a third of 11,500 at 0.07 L/s would move 0.3 m3/s; the draught asks 0.35 / 0.09 of what passes.
    Nothing goes up but through what foam leaves of the entrance, 20 mm high.
    """
    foam_m2 = 0.0036 * 0.05
    net_m2 = 0.075 * 0.65 * 0.8 + foam_m2
    found(
        derived(NUC),
        single_m2=0.025 * net_m2,
        through_m2=CRACKS_M2,
        buoyant_m6_s2_k=(0.65 / 3.0 * foam_m2) ** 2 * 9.81 * 0.02 / 305.0,
        fan_m3_s=0.001,
        fan_flow_m3_s=0.001 * 0.35 / 0.09,
    )
    found(derived(NUC, floor_mesh_m2=0.01), fan_m3_s=0.25 * 0.4 * 0.01 * 0.65 * 0.8)
    found(derived(NUC, bees_per_frame=1.0), fan_flow_m3_s=5.0 * 0.35 * 0.00007)


def test_a_lone_open_entrance_breathes_and_is_fanned() -> None:
    """S6 and M1: 25 x 2 cm. 12 fanners in each of 3 rows find room; one row of 12 moves 0.84 L/s, all 1.25 at most.

    Brown & Solvason at 10 K: about 0.1 L/s (0.12 asked); 0.2 L/s per m/s of wind (0.18 asked), 1.8 at 9 m/s (1.7).
    Meshed, the same entrance passes 0.4 of what fanning makes; foam passes nothing of it.
    """
    stand = replace(NUC, floor="solid", entrance="open")
    slot = {"entrance_open_m2": 0.005}
    boxes = derived(stand, **slot)
    assert 12 * float(typical().fan_flow_m3_s) == pytest.approx(0.00084)
    found(boxes, fan_m3_s=0.25 * 0.005)
    assert float(np.sqrt(boxes.buoyant_m6_s2_k[0] * 10.0)) == pytest.approx(0.0001, rel=0.15)
    assert float(boxes.single_m2[0]) == pytest.approx(0.0002, rel=0.1)
    meshed = derived(stand, entrance_open_m2=0.0, entrance_mesh_m2=0.005)
    found(meshed, fan_m3_s=0.4 * 0.25 * 0.005)
    found(derived(stand, entrance_open_m2=0.0, entrance_foam_m2=0.005), fan_m3_s=0.0)


def test_air_rises_from_the_floor_to_the_roof_and_to_the_side_vents() -> None:
    """Two openings in series, Cd 0.4, at 305 K; the height is weighted by area; each exchanges by itself too.

    Roof 0.02 m2 and vents 0.01 m2 net, floor 0.03 m2 net; height 0.244 m, vents at 0.1 m, 0.01 m2 gross each.
    """
    net = 0.65 * 0.8
    boxes = derived(
        NUC,
        entrance_foam_m2=0.0,
        floor_mesh_m2=0.03 / net,
        roof_screen_m2=0.02 / net,
        vent_m2=0.01 / net,
        vent_height_m=0.1,
    )
    area = 0.03 * 0.03 / np.hypot(0.03, 0.03)
    rise = (2.0 * 0.244 + 0.1) / 3.0
    stack = (0.4 * area) ** 2 * 2.0 * 9.81 * rise / 305.0
    roof = 0.055**2 * 9.81 / 305.0 * (4.0 * 0.02 / np.pi) ** 2.5
    upright = np.sqrt(0.5 * 0.01 / net)
    side = (0.4 / 3.0 * 0.01) ** 2 * 9.81 * upright / 305.0
    found(
        boxes, through_m2=0.4 * area + CRACKS_M2, single_m2=0.025 * 0.06, buoyant_m6_s2_k=stack + roof + side
    )


def test_a_trace_of_brood_and_stores_is_none() -> None:
    """A number a slip of the keys away from nought gave no temperatures at all."""
    names = ("open_brood_frames", "sealed_brood_frames", "stores_frames", "syrup_can_kg")
    none, trace = (described(replace(NUC, **dict.fromkeys(names, much))) for much in (0.0, 1e-310))
    for field in fields(none):
        assert np.array_equal(getattr(none, field.name), getattr(trace, field.name), equal_nan=True), (
            field.name
        )
