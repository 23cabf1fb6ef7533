"""Bees, brood and comb against measured colonies: heated hives, a cold cluster, packages on the road."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model import boxes as box_model
from planner.model.integrate import Histories
from planner.model.records import Floats, Group
from tests.model.scenarios import (
    DAY_S,
    HOUR_S,
    SPRING,
    bench,
    catalogue,
    described,
    replace,
    road,
    simulated_case,
    still_boxes,
    trip,
    typical,
    weather,
)

WATER_TO_HAND_KG = 1.0
OBSERVED = Group(
    "observation hive",
    1,
    "langstroth_nuc5_pine",
    frames_of_bees=2.0,
    open_brood_frames=0.4,
    sealed_brood_frames=0.6,
    stores_frames=1.0,
    floor="solid",
    entrance="open",
)
"""Three frames above one another behind glass with ventilated ends; strength and vents are our estimate."""

BEHIND_GLASS = {
    "box_frames": 3.0,
    "length_m": 0.48,
    "width_m": 0.06,
    "height_m": 0.75,
    "wall_m": 0.004,
    "wall_m2k_w": 0.004,
    "lid_m2k_w": 0.15,
    "vent_m2": 0.02,
    "vent_height_m": 0.7,
}

ROOM_C = np.array([25.6, 29.7, 39.8, 41.4, 43.0, 44.1, 44.8, 42.4, 33.7])
HONEY_C = np.array([25.9, 26.1, 30.5, 33.3, 35.5, 37.4, 38.6, 39.3, 37.6])
BROOD_C = np.array([34.3, 34.1, 35.7, 36.8, 37.5, 39.1, 39.2, 39.6, 37.0])


def heated_room() -> Histories:
    """The observation hive through the heated morning; its foragers fetch water."""
    boxes = box_model.derive(described(OBSERVED, **BEHIND_GLASS), np.ones(1), typical())
    boxes = replace(boxes, start_core_c=BROOD_C[:1], water_kg=np.array([WATER_TO_HAND_KG]))
    share = np.asarray((HONEY_C[0] - ROOM_C[0]) / (BROOD_C[0] - ROOM_C[0]))
    room_c = np.interp(np.arange(240) + 0.5, 30.0 * np.arange(9), ROOM_C)
    parameters = replace(typical(), start_stores_share=share)
    return bench(boxes, room_c, hours=4, vapour_kg_m3=0.010, parameters=parameters)


def test_h1_honey_comb_follows_a_heated_room_as_measured() -> None:
    """H1. Jhawar et al. 2023, PMC10581772: honey comb, half-hourly from 9.5 to 13.5 h, +-1.5 K."""
    np.testing.assert_allclose(heated_room().stores_c[::30, 0], HONEY_C, atol=1.5)


def test_h1_brood_follows_a_heated_room_as_measured() -> None:
    """H1. Jhawar et al. 2023, PMC10581772: brood comb, half-hourly from 9.5 to 13.5 h, +-1.5 K."""
    np.testing.assert_allclose(heated_room().core_c[::30, 0], BROOD_C, atol=1.5)


def test_h1_a_full_comb_lags_as_measured() -> None:
    """H1. Single heated honey combs lag by 1.5 h, 0.9 to 1.9 h (Jhawar et al. 2023).

    A calibration, no check: the film on the comb is fitted to this lag.
    """
    comb = still_boxes(replace(OBSERVED, stores_frames=1.0))
    assert 0.9 <= float((comb.stores_j_k / comb.stores_w_k)[0]) / HOUR_S <= 1.9


def demand_w(mass_kg: Floats) -> Floats:
    """Heat that tight clusters in still air lose from a core of 34 C at 2 C."""
    p = typical()
    ball_m2 = box_model.SPHERE * (p.packed_volume_m3_kg * mass_kg) ** (2.0 / 3.0)
    through = box_model.packed_w_m2k(ball_m2, mass_kg, p)
    return box_model.tight_w_k(ball_m2, through, p.mantle_film_w_m2k) * (34.0 - 2.0)


def test_h2_a_cold_cluster_needs_the_measured_heat() -> None:
    """H2. Southwick 1985, J Comp Physiol B 156:143 (units inferred): 1 kg at 2 C about 4.8 W; 10 %.

    No calibration any more: conduction through packed bees and the film of still air give 4.75 W.
    """
    assert float(demand_w(np.array(1.0))) == pytest.approx(4.8, rel=0.1)


def test_h2_small_clusters_need_more_heat_for_their_weight() -> None:
    """H2. Southwick 1985: demand per kg goes with mass to the power of -0.479, seen from 5 g to 1.2 kg.

    By the law of a ball the power goes from -1/3 (all the film) to -2/3 (all conduction) with the mass: -0.5 to
    -0.56 here, where the row was fitted before.
    """
    mass = np.array([0.25, 0.5, 1.0, 2.0])
    slopes = np.diff(np.log(demand_w(mass) / mass)) / np.diff(np.log(mass))
    np.testing.assert_allclose(slopes, -0.48, atol=0.09)


def under_the_lamp(lamp_w: float, watered: bool) -> Floats:
    """Core of a nest under a lamp, every minute for 2.5 h; the air of the room is at 24 C (our estimate)."""
    nest = replace(OBSERVED, stores_frames=0.5)
    boxes = box_model.derive(described(nest, **BEHIND_GLASS), np.ones(1), typical())
    boxes = replace(boxes, screen_sun_m2=np.ones(1), absorptance=np.zeros(1), start_core_c=np.array([35.0]))
    if watered:
        boxes = replace(boxes, water_kg=np.array([WATER_TO_HAND_KG]))
    return bench(boxes, 24.0, hours=2.5, lid_w_m2=lamp_w).core_c[:, 0]


def test_h3_water_holds_a_lamp_heated_nest_that_fails_without() -> None:
    """H3. Ostwald, Smith & Seeley 2016, JEB 219:2156: near 40 C with water, near 44 C after 2.5 h without.

    The heat that reached the nest is not stated: the lamp is the one unknown and must serve both; +-1.5 K.
    Measured: 39.5 C and 44.0 C with 128 W (38.6 and 45.3 before heat was held above 37 C).
    """
    lamps_w = np.arange(112.0, 144.0, 8.0)
    ends = np.array([[under_the_lamp(w, watered)[-1] for watered in (True, False)] for w in lamps_w])
    off = np.abs(ends - (40.0, 44.0)).max(axis=1)
    assert off.min() <= 1.5, ends[off.argmin()]


PACKAGE = Group("package", 400, "package_cage", bees_kg=1.36, floor="solid", entrance="shut")


@pytest.mark.parametrize("low_high_c", [(4.0, 12.0), (8.0, 18.0), (14.0, 22.0)])
def test_h4_packages_keep_their_queens_as_warm_as_measured_and_alike(low_high_c: tuple[float, float]) -> None:
    """H4. Withrow, Pettis & Tarpy 2019, J Econ Entomol 112(3): 29.9 to 31.2 C on average at the queen cages,
    variance 8.8 to 12.2 K2, no hot or cold zone across the truck.

    No calibration any more: where a cluster draws together is taken from clusters in the cold. The weather of those
    trips is not stated: spring nights stand for it. Mean within one standard deviation (3 K) of the measured
    band, places of the deck within 3 K of one another once the boxes have settled.
    """
    names = tuple(name for name, row in catalogue().loading_places.items() if row.vehicle == "flatbed")
    night = trip(PACKAGE, names, leave_s=SPRING + DAY_S + 18.0 * HOUR_S)
    simulated = simulated_case(night, road(9.0, 90.0), weather(*low_high_c))
    settled = simulated.vehicle.moving[:, 0] & (simulated.vehicle.since_jolt_s[:, 0] > HOUR_S)
    by_place = simulated.seen.core_c[1:][settled].mean(axis=0)
    assert 29.9 - 3.0 <= by_place.mean() <= 31.2 + 3.0
    assert np.ptp(by_place) < 3.0
