"""Shut spaces on the road and at rest: sun, arrival, a roof fan, moisture and bad air against balances by hand.

The figures come from sol-air, mass and vapour balances made apart from this program, +-20 %; where a table was
measured it is named.
"""

from __future__ import annotations

import re
from dataclasses import fields
from typing import NamedTuple

import numpy as np
import pytest

from planner.model import openings, walls
from planner.model.balance import (
    LATENT_J_KG,
    EnclosureSum,
    between_boxes,
    coefficients_of,
    onto_skin,
    rates,
    saturation_kg_m3,
)
from planner.model.cases import run
from planner.model.integrate import WHOLE_STEP, Histories, moisture, prepare, settle, stale, start
from planner.model.loading_places import LocalAir, air_around
from planner.model.march import march
from planner.model.parameters import Parameters
from planner.model.records import Floats, LoadingPlace, Misting
from planner.model.timeline import VehicleState
from planner.model.weather import OutsideWeather, outside_weather
from tests.model import oracle
from tests.model.scenarios import (
    DAY_S,
    HIVE,
    HOUR_S,
    NUC,
    SPRING,
    SUMMER,
    catalogue,
    grid_of,
    place,
    replace,
    road,
    simulated_case,
    staged,
    steady,
    still_boxes,
    trip,
    typical,
    vehicle_at,
)

FULL_SUN_W_M2 = 900.0
ROAD_MS = 80.0 / 3.6
ENCLOSED = (
    "base_c",
    "sun_rise_k",
    "least_c",
    "resistance_k_w",
    "outside_c",
    "skin_share",
    "skin_m3_s",
    "change_per_s",
    "volume_m3",
)


def empty_vehicle(
    loading_place: LoadingPlace,
    minutes: int,
    *,
    air_c: float = 24.0,
    ghi_w_m2: Floats | float = FULL_SUN_W_M2,
    speed_ms: Floats | float = 0.0,
    wind_ms: float = 2.0,
    boxes: float = 0.0,
    **states: Floats | float,
) -> LocalAir:
    """A vehicle without the heat of its boxes minute by minute, loaded from the first on."""
    column = np.ones((minutes, 1))

    def filled(value: Floats | float) -> Floats:
        return column * np.reshape(value, (-1, 1))

    driven = np.where(np.asarray(speed_ms) > 0.0, 1.0, 0.0)
    given = {"on_board": 1.0, "moving": driven, "speed_ms": speed_ms} | states
    vehicle = VehicleState(
        **{f.name: filled(given.get(f.name, 0.0)) for f in fields(VehicleState) if f.type == "Floats"},
        **{f.name: filled(given.get(f.name, 0.0)) > 0.0 for f in fields(VehicleState) if f.type == "Bools"},
        **{f.name: column.astype(int) * 0 for f in fields(VehicleState) if f.type == "Ints"},
    )
    outside = replace(
        OutsideWeather(**{f.name: 0.0 * column for f in fields(OutsideWeather)}),
        air_c=filled(air_c),
        heat_j_m3k=column * 1006.0 * 101_325.0 / (287.0 * (air_c + 273.15)),
        wind_ms=filled(wind_ms),
        ghi_w_m2=filled(ghi_w_m2),
    )
    here = np.zeros(1, dtype=np.int64)
    return air_around(
        vehicle, outside, here, [loading_place], np.full(1, boxes), place("ground_shade"), False, typical()
    )


def rise_k(seen: LocalAir, air_c: float = 24.0) -> Floats:
    """Warming of the enclosure's air minute by minute, (time,)."""
    return (seen.base_c + seen.sun_rise_k)[:, 0] - air_c


# -- E1 to E4: sun and arrival -------------------------------------------------------------------


@pytest.mark.parametrize(("colour", "expected_k"), [("white", 1.9), ("dark", 5.5)])
def test_e1_moving_air_carries_off_most_of_the_sun_on_an_opaque_van(colour: str, expected_k: float) -> None:
    """E1. Sol-air temperature with the film of the moving skin, ISO 6946; 80 km/h, full sun, shut; +-2.5 K.

    Measured: 2.1 white, 5.6 dark, against 4.8 and 13.2 with the film of a parked van.
    """
    driven = empty_vehicle(place(f"van_shut_{colour}"), 5 * 60, speed_ms=ROAD_MS)
    assert rise_k(driven)[-1] == pytest.approx(expected_k, abs=2.5)


@pytest.mark.parametrize("name", ["cabin_shut_white", "cabin_shut_dark", "estate_shut_dark"])
def test_e2_a_car_that_arrived_aired_heats_from_there(name: str) -> None:
    """E2. 4-13 K at 10 min and 9-26 K at 60 min by colour, from its aired start.

    The tables of McLaren, Null & Quinn 2005, Pediatrics 116:e109; Grundstein et al. 2010 and Vanos et al. 2018
    (from memory) bound the spread between cars.
    """
    rise = rise_k(empty_vehicle(place(name), 61))
    begun = rise[0]
    assert begun <= 9.0
    assert 4.0 <= rise[10] - begun <= 13.0
    assert 9.0 <= rise[60] - begun <= 26.0


def test_e3_a_parked_white_insulated_van_warms_by_its_walls_its_glass_and_less_under_its_fan() -> None:
    """E3. Noon, 24 C: 6-7 K opaque, 9-10 K with 0.4 m2 of upright glass (0.4 of the sun on the ground meets it, 0.8
    passes), and 2.5-4 K left by a roof fan of 160-325 m3/h: one camper test from memory, and a balance.

    Measured: 6.8, 9.8; 4.1 at 160 and 2.5 at 325 m3/h, just at the ends of the range.
    """
    van = place("van_insulated_white")
    glass_m2 = 0.4 * 0.4 * 0.8
    glazed = replace(van, sun_area_m2=van.sun_area_m2 + glass_m2, sun_glass_m2=glass_m2)
    steady = {
        fan: rise_k(empty_vehicle(replace(glazed, fan_m3_h=fan), 8 * 60))[-1] for fan in (0.0, 160.0, 325.0)
    }
    assert 6.0 <= rise_k(empty_vehicle(van, 8 * 60))[-1] <= 7.0
    assert 9.0 <= steady[0.0] <= 10.0
    assert 2.4 <= steady[325.0] < steady[160.0] <= 4.2


def test_e3_the_catalogue_takes_a_roof_fan_of_400_m3_h() -> None:
    assert {place(name).fan_m3_h for name in ("van_roof_fan_dark", "van_roof_fan_white")} == {400.0}


def test_e4_a_trip_begins_neither_soaked_nor_as_cool_as_the_air() -> None:
    """E4. An enclosure begins between outside and its state on arrival; got before: soaked from the first minute."""
    car = place("cabin_shut_dark")
    begun, driven = rise_k(empty_vehicle(car, 3))[0], rise_k(empty_vehicle(car, 300, speed_ms=ROAD_MS))[-1]
    assert 0.0 < begun < 0.5 * driven


def test_e4_until_it_is_loaded_a_vehicle_is_not_soaked_by_standing_where_the_boxes_wait() -> None:
    """It comes for them: three hours of waiting on the ground leave it as it would come at once."""
    late = np.where(np.arange(200) < 180, 0.0, 1.0)
    waited = rise_k(empty_vehicle(place("cabin_shut_dark"), 200, on_board=late))
    at_once = rise_k(empty_vehicle(place("cabin_shut_dark"), 20))
    np.testing.assert_allclose(waited[180:], at_once, rtol=1e-12)


# -- E5: condensation ----------------------------------------------------------------------------

VAN_HIVES = 20
NIGHT_C, NIGHT_DEW_C = 10.0, 8.0


class Moist(NamedTuple):
    """A shut van at night: humidity of its air, share of the vapour that ends on its skin, its warmth."""

    humidity: float
    onto_skin: float
    warmer_k: float


def shut_van(grams_h: float, *, heat_w: float = 50.0, hours: float = 6.0) -> Moist:
    """Twenty hives of so much dry heat each that give off so much vapour each, followed by the program's own laws."""
    van = place("van_shut_white")
    seen = empty_vehicle(van, 2, air_c=NIGHT_C, ghi_w_m2=0.0)
    outside_kg_m3 = float(
        saturation_kg_m3(np.array(NIGHT_DEW_C)) * (NIGHT_DEW_C + 273.15) / (NIGHT_C + 273.15)
    )
    stage = staged(still_boxes(NUC), NIGHT_C, hours=0.1, riding=True, vapour_kg_m3=outside_kg_m3)
    box = {name: np.full((6, 1), getattr(seen, name)[-1, 0]) for name in ENCLOSED}
    stage = stage._replace(local_air=replace(stage.local_air, **box))
    forcing = next(prepare(*stage[:3], slice(0, 1), stage.p).rows())
    coefficients = coefficients_of(stage.cases.boxes, stage.p)
    given_off = np.array([VAN_HIVES * grams_h / 3.6e6])
    state = start(*stage)
    local = np.array([NIGHT_C])
    for _ in range(round(hours * 60)):
        skin, latent_w = onto_skin(local, state, forcing, coefficients)
        local = forcing.base_c + forcing.resistance_k_w * (VAN_HIVES * heat_w + latent_w)
        around = moisture(state._replace(skin_kg_m3=skin), given_off, forcing, WHOLE_STEP)
        state = state._replace(around_kg_m3=around, skin_kg_m3=skin)
    condensed = float(forcing.skin_m3_s[0] * max(state.around_kg_m3[0] - skin[0], 0.0))
    dry_k = float(forcing.resistance_k_w[0]) * VAN_HIVES * heat_w
    return Moist(
        float(state.around_kg_m3[0] / saturation_kg_m3(local)[0]),
        condensed / float(given_off[0]),
        float(local[0]) - NIGHT_C - dry_k,
    )


def test_e5_most_vapour_of_wetted_hives_ends_on_the_skin_of_a_bare_van() -> None:
    """E5. 20 wetted hives at night: 80-95 % on the skin, humidity 0.80-0.90 at 10-25 g/h a hive, about 1 from 50.

    By the Lewis relation, a balance made apart (grade D). 50 W of dry heat a hive, 10 C outside at 87 %. Measured:
    0.84, 0.90, 1.00 and 85, 92, 94 %.
    """
    little, more, much = (shut_van(grams_h) for grams_h in (10.0, 25.0, 50.0))
    assert 0.80 <= little.humidity < more.humidity <= 0.905
    assert 0.95 <= much.humidity <= 1.02
    for van in (little, more, much):
        assert 0.80 <= van.onto_skin <= 0.95


def test_e5_latent_heat_warms_the_skin_and_through_it_the_air() -> None:
    """1.25 kg/h at 2.41 MJ/kg are 837 W; of those the share of the skin's inner film, a third to a half, comes back.

    Measured: 2.1 K more at 141 W/K with 50 g/h a hive.
    """
    van = shut_van(50.0)
    latent_w = VAN_HIVES * 0.05 / HOUR_S * LATENT_J_KG * van.onto_skin
    assert 0.3 * latent_w <= van.warmer_k * (138.0 + 2.4) <= 0.5 * latent_w


def night_in_a_van(misting: Misting | None, air_c: float = 20.0) -> Histories:
    """Twenty shut hives of ten frames on six hours of road in a bare van at night."""
    hives = replace(
        HIVE,
        count=VAN_HIVES,
        box_type="langstroth10_single_pine",
        frames_of_bees=10.0,
        open_brood_frames=2.0,
        sealed_brood_frames=3.0,
        stores_frames=3.0,
        misting=misting,
    )
    night = trip(hives, "van_shut_white", leave_s=SUMMER + DAY_S + 21.0 * HOUR_S)
    sky = steady(air_c, dew_c=air_c - 3.0, start_s=SUMMER)
    return simulated_case(night, road(6.0), sky).seen


def test_e5_the_air_of_a_van_is_never_more_than_saturated() -> None:
    """Got before: up to 1.9. Half a step may carry the air past the temperature it was judged at: 0.5 %."""
    for misting in (None, Misting(250.0, 1800.0, 3600.0)):
        seen = night_in_a_van(misting)
        assert np.max(seen.around_kg_m3 / saturation_kg_m3(seen.local_c)) <= 1.005


def test_misting_in_a_shut_van_at_night_is_of_use() -> None:
    """The skin takes the water up, so that more can leave the boxes; got before: a gain of 0.0 K.

    Measured at the end of the night, when the crops are empty: 39.2 C dry, 38.2 C misted at 15.5 C outside. At 20 C
    both die of the first hour, before any water: closed and jolted in the stale air of the van (they reached 44.6 C
    while stale air alone stirred no bee).
    """
    dry, misted = (night_in_a_van(given, 15.5) for given in (None, Misting(250.0, 1800.0, 3600.0)))
    assert misted.core_c[-60:].max() < dry.core_c[-60:].max() - 0.5


def test_the_air_of_an_enclosure_balances_with_what_its_boxes_and_its_skin_give_it() -> None:
    """Air over outside = resistance x (heat of all boxes + latent heat from the skin), at every step, as solved."""
    hives = replace(HIVE, count=6, misting=Misting(100.0, 600.0, 1800.0))
    stay = trip(hives, "van_shut_white", leave_s=SUMMER + DAY_S + 21.0 * HOUR_S)
    batch = simulated_case(stay, road(3.0), steady(15.0, dew_c=13.0, start_s=SUMMER))
    seen, cases = batch.seen, batch.cases
    coefficients, together = coefficients_of(cases.boxes, batch.parameters), EnclosureSum(None)
    rows = slice(60, 180)
    forces = list(prepare(cases, batch.vehicle, batch.local_air, rows, batch.parameters).rows())
    state = settle(
        start(cases, batch.vehicle, batch.local_air, batch.parameters),
        forces[0],
        cases.boxes,
        coefficients,
        together,
    )
    state = state._replace(core_c=seen.core_c[60], around_kg_m3=np.array([0.016]), mist_kg=np.array([0.1]))
    for _ in range(40):
        now = rates(state, forces[0], None, cases.boxes, coefficients, together)
        state = state._replace(warming_k=now.warming_k, shared_w=now.shared_w, skin_kg_m3=now.skin_kg_m3)
    force = forces[0]
    dry_w = 6.0 * (
        force.walls_w_k * now.warming_k + force.heat_j_m3k * now.flow_m3_s * now.warming_k - force.sun_w
    )
    onto_kg_s = force.skin_m3_s * (0.016 - now.skin_kg_m3)
    assert onto_kg_s[0] > 0.0
    back_w = force.skin_share * LATENT_J_KG * onto_kg_s
    np.testing.assert_allclose(now.local_c - force.base_c, force.resistance_k_w * (dry_w + back_w), rtol=1e-6)


@pytest.mark.slow
def test_p14_a_misted_van_at_night_agrees_with_an_independent_integrator() -> None:
    """P14 with condensing: scipy's Radau on the same balance, within 0.05 K everywhere. Measured: 0.00 K."""
    hives = replace(HIVE, count=6, misting=Misting(100.0, 600.0, 3600.0))
    stay = trip(hives, "van_shut_white", leave_s=SUMMER + DAY_S + 21.0 * HOUR_S, open_after_s=600.0)
    planned = stay, road(2.0), steady(18.0, dew_c=16.0, start_s=SUMMER)
    simulated = simulated_case(*planned)
    truth = oracle.solve(simulated, *grid_of(*planned), rtol=1e-7)
    np.testing.assert_allclose(simulated.seen.core_c, truth.core_c, atol=0.05, rtol=0.0)


# -- E6, E7: one flow for heat, vapour and carbon dioxide ----------------------------------------


@pytest.mark.parametrize("states", [{}, {"speed_ms": ROAD_MS}], ids=["parked", "moving"])
def test_e7_a_roof_fan_moves_heat_vapour_and_carbon_dioxide_alike(states: dict[str, float]) -> None:
    """E7. Got before: heat only. 400 m3/h are 40 changes of 10 m3 an hour on top of the leaks."""
    still = empty_vehicle(place("van_roof_fan_white", fan_m3_h=0.0), 2, **states)
    fanned = empty_vehicle(place("van_roof_fan_white"), 2, **states)
    more_w_k = 1.0 / fanned.resistance_k_w - 1.0 / still.resistance_k_w
    assert (fanned.change_per_s - still.change_per_s)[-1, 0] == pytest.approx(40.0 / 3600.0)
    assert more_w_k[-1, 0] == pytest.approx(400.0 / 3600.0 * still.heat_j_m3k[-1, 0])


def bad_air(
    name: str,
    boxes: int,
    box_w: float,
    hours: tuple[float, float],
    speed_ms: float = ROAD_MS,
    **changes: float,
) -> tuple[float, float]:
    """Carbon dioxide of the enclosure after some hours of driving and after some more parked shut, shares.

    Boxes of a stated heat in the program's own law and its own air changes.
    """
    level, found = float(typical().ambient_co2_share), []
    for span_h, speed in zip(hours, (speed_ms, 0.0), strict=True):
        air = empty_vehicle(place(name, **changes), 2, speed_ms=speed, ghi_w_m2=0.0)
        stage = staged(still_boxes(NUC), 20.0, hours=0.1, riding=True)
        inside = ("change_per_s", "volume_m3", "breath_m3_s")
        shut = {field: np.full((6, 1), getattr(air, field)[-1, 0]) for field in inside}
        stage = stage._replace(local_air=replace(stage.local_air, **shut))
        forcing = next(prepare(*stage[:3], slice(0, 1), stage.p).rows())
        share = np.array([level])
        for _ in range(round(span_h * 60)):
            share = stale(share, np.array([boxes * box_w]), forcing, stage.p)
        level = float(share[0])
        found.append(level)
    return found[0], found[1]


@pytest.mark.parametrize(
    ("boxes", "driven", "parked"), [(2, 0.016, 0.043), (4, 0.031, 0.086)], ids=["two", "four"]
)
def test_e6_carbon_dioxide_of_a_boot_goes_with_the_number_of_boxes(
    boxes: int, driven: float, parked: float
) -> None:
    """E6. Mass balance: boot of 0.45 m3, boxes of 30 W, two hours at 80 km/h and two more parked."""
    found = bad_air("boot_dark", boxes, 30.0, (2.0, 2.0))
    assert found == pytest.approx((driven, parked), rel=0.05)


def test_e6_a_cabin_with_four_nuclei_and_its_driver() -> None:
    """E6. Mass balance, 30 W a nucleus, driver 20 L/h: 0.34 % at 80 km/h, 0.7-1.2 % slow or tight, past 1.5 %
    after an hour and a half parked shut with the driver in it."""
    driven, parked = bad_air("cabin_shut_dark", 4, 30.0, (2.0, 1.5))
    assert driven == pytest.approx(0.0034, rel=0.05)
    assert parked > 0.015
    slow, _ = bad_air("cabin_shut_dark", 4, 30.0, (2.0, 0.0), 30.0 / 3.6)
    tight, _ = bad_air("cabin_shut_dark", 4, 30.0, (2.0, 0.0), ach_moving_base=0.1, ach_moving_per_speed=0.06)
    assert 0.007 <= slow <= 0.012
    assert 0.007 <= tight <= 0.012


def test_e6_the_integration_breathes_with_all_boxes_of_the_load() -> None:
    """Four boxes against two in a boot: twice as much above the outside air; in the open nothing adds up.

    More than twice, for beyond 1 % they fan in vain and breathe for that as well.
    """
    sky = steady(12.0)
    above = {}
    for name, count in (("boot_dark", 2), ("boot_dark", 4), ("open_trailer", 4)):
        seen = simulated_case(trip(replace(NUC, count=count), name), road(2.0), sky).seen
        above[name, count] = float(seen.around_co2_share.max() - typical().ambient_co2_share)
    assert 1.85 < above["boot_dark", 4] / above["boot_dark", 2] < 3.2
    assert above["boot_dark", 2] > 0.01
    assert above["open_trailer", 4] == 0.0


# -- spaces kept cool or warm --------------------------------------------------------------------


def test_a_cooled_cabin_warms_up_within_ten_minutes_of_the_engine_stopping() -> None:
    """It comes cooled, is held at 22 C on the road, and goes its way in 5 to 10 min once the engine stops."""
    on = np.where(np.arange(121) < 60, 1.0, 0.0)
    cabin = place("cabin_seat_cooled")
    seen = empty_vehicle(cabin, 121, air_c=30.0, engine_on=on, speed_ms=on * ROAD_MS)
    warmth = seen.empty_c[:, 0]
    assert warmth[0] == pytest.approx(22.0, abs=0.5)
    assert warmth[59] == pytest.approx(22.0, abs=0.01)
    parked = empty_vehicle(replace(cabin, set_point_c=np.nan), 121, air_c=30.0, speed_ms=on * ROAD_MS)
    gone = (warmth[60:] - 22.0) / (parked.empty_c[60:, 0] - 22.0)
    assert gone[4] < 0.55
    assert gone[9] >= 0.6
    assert gone[30] > 0.95


def test_cooling_has_a_power_and_no_more() -> None:
    """One kilowatt at some 60 W/K of skin and leaks takes 18 K off, whatever the set point."""
    cabin = place("cabin_seat_cooled", cooling_w=1000.0, set_point_c=5.0)
    weak = empty_vehicle(cabin, 240, air_c=40.0, ghi_w_m2=0.0, engine_on=1.0, speed_ms=ROAD_MS)
    free = replace(cabin, set_point_c=np.nan, ach_moving_max=1e4)
    alone = empty_vehicle(free, 240, air_c=40.0, ghi_w_m2=0.0, engine_on=1.0, speed_ms=ROAD_MS)
    assert weak.empty_c[-1, 0] == pytest.approx(
        alone.empty_c[-1, 0] - 1000.0 * weak.resistance_k_w[-1, 0], abs=1.5
    )
    assert weak.empty_c[-1, 0] > 15.0


def test_a_load_too_hot_for_its_cooling_warms_it() -> None:
    """Eighty boxes against one and a half kilowatts: warmer than the set point; one box is not felt."""
    sky = steady(28.0, dew_c=12.0)
    local = {}
    for count in (1, 80):
        grid, timeline = grid_of(trip(replace(NUC, count=count), "cabin_seat_cooled"), road(2.0), sky)
        grid = replace(grid, places=(place("cabin_seat_cooled", cooling_w=1500.0),))
        local[count] = run(grid, timeline, np.zeros(timeline.closed_s.shape), detail=True).seen.local_c[60, 0]
    assert local[1] == pytest.approx(22.0, abs=0.2)
    assert local[80] > 25.0


def test_m21_a_shut_cabin_is_heated_in_cold_weather() -> None:
    """20 to 24 C by default while the engine runs; the heater never cools, and an open window is not heated."""
    driven = {"engine_on": 1.0, "speed_ms": ROAD_MS, "ghi_w_m2": 0.0}
    for air_c in (-10.0, 5.0):
        warm = empty_vehicle(place("cabin_shut_dark"), 60, air_c=air_c, **driven).empty_c
        assert 20.0 <= warm[-1, 0] <= 24.0
        assert (
            empty_vehicle(place("cabin_windows_open"), 60, air_c=air_c, **driven).empty_c[-1, 0] < air_c + 2.0
        )
    hot = empty_vehicle(place("cabin_shut_dark"), 60, air_c=30.0, **driven).empty_c[-1, 0]
    assert hot == pytest.approx(
        empty_vehicle(place("cabin_shut_dark", heated_c=np.nan), 60, air_c=30.0, **driven).empty_c[-1, 0]
    )


# -- M13, M14, M22, M24: air on the deck and at open windows ---------------------------------------


def test_m22_creeping_counts_as_parked_for_air() -> None:
    """Under 15 km/h no more air is driven in than when parked: enclosures and open decks alike."""
    van = place("van_bulkhead_open_white")
    creeping, rolling, parked = (
        empty_vehicle(van, 2, speed_ms=v).change_per_s[-1, 0] for v in (4.0, 5.0, 0.0)
    )
    assert creeping == parked < rolling
    deck = place("open_trailer", offset_parked_sun_k=3.0)
    slow, fast = (empty_vehicle(deck, 240, speed_ms=v).base_c[-1, 0] for v in (4.0, 5.0))
    assert slow > fast + 2.0


def test_m24_a_hot_deck_stays_behind_for_a_while_after_a_stop() -> None:
    """It warms within a quarter of an hour and goes on warming the boxes after driving off; 1-3 K."""
    deck = place("flatbed_rear_outer", offset_parked_sun_k=3.0)
    speed = np.where((np.arange(180) >= 60) & (np.arange(180) < 120), 0.0, ROAD_MS)
    over_k = (
        empty_vehicle(deck, 180, speed_ms=speed, ghi_w_m2=900.0).base_c[:, 0] - 24.0 - deck.offset_moving_k
    )
    assert over_k[59] == 0.0
    assert over_k[75] == pytest.approx(2.5 * (1.0 - np.exp(-1.0)), rel=0.05)
    assert over_k[119] > 2.3
    assert 1.0 < over_k[125] < over_k[120]
    assert over_k[179] < 0.1


def test_m24_ground_in_the_sun_is_warm_from_the_first() -> None:
    sunny = empty_vehicle(place("open_trailer"), 2, on_board=0.0)
    assert sunny.base_c[0, 0] == pytest.approx(24.0 + place("ground_shade").offset_parked_sun_k)
    lit = place("ground_sun")
    hot = air_of_ground(lit)
    assert hot == pytest.approx(24.0 + lit.offset_parked_sun_k)


def air_of_ground(ground: LoadingPlace) -> float:
    """The air of boxes waiting on stated ground in full sun at 24 C."""
    one = np.ones((1, 1))
    vehicle = VehicleState(
        **{f.name: 0.0 * one for f in fields(VehicleState) if f.type == "Floats"},
        **{f.name: one < 0.0 for f in fields(VehicleState) if f.type == "Bools"},
        **{f.name: one.astype(int) * 0 for f in fields(VehicleState) if f.type == "Ints"},
    )
    outside = OutsideWeather(**{f.name: 0.0 * one for f in fields(OutsideWeather)})
    outside = replace(outside, air_c=24.0 * one, ghi_w_m2=900.0 * one, heat_j_m3k=1190.0 * one)
    here = np.zeros(1, dtype=np.int64)
    deck = place("open_trailer")
    return float(
        air_around(vehicle, outside, here, [deck], np.zeros(1), ground, False, typical()).base_c[0, 0]
    )


@pytest.mark.parametrize("name", ["flatbed_inner", "flatbed_front_inner", "flatbed_rear_inner"])
def test_m14_inner_rows_are_warmed_by_their_neighbours_for_one_box_as_for_four_hundred(name: str) -> None:
    """Whoever plans one box of an inner row plans it among its like: the same air and the same core."""
    sky = steady(24.0, dew_c=12.0)
    seen = {}
    for count in (1, 400):
        stay = trip(replace(HIVE, count=count, frames_of_bees=8.0), name)
        seen[count] = simulated_case(stay, road(2.0), sky).seen
    np.testing.assert_allclose(seen[1].core_c, seen[400].core_c, atol=1e-6)
    assert seen[1].local_c[100, 0] > 24.0 + 0.1


def test_m14_faces_that_touch_a_neighbour_pass_no_heat() -> None:
    """An inner row keeps half of its walls; worth 1.5 K and more of box air against the same row standing free."""
    sky = steady(24.0, dew_c=12.0)
    stay = trip(replace(HIVE, frames_of_bees=8.0), "flatbed_inner")
    grid, timeline = grid_of(stay, road(3.0), sky)
    night = np.zeros(timeline.closed_s.shape)
    core_c = {}
    for share in (1.0, place("flatbed_inner").bare_share):
        row = replace(grid, places=(place("flatbed_inner", bare_share=share),))
        core_c[share] = float(run(row, timeline, night, detail=True).seen.box_air_c[200, 0])
    assert core_c[0.5] > core_c[1.0] + 0.3


def test_m14_the_heat_of_a_row_is_its_own_and_not_a_fixed_offset() -> None:
    """Twice the bees, about twice the warming; got before: 2 K moving and 5 K parked whatever stood there."""
    sky = steady(20.0, dew_c=12.0)
    over_k = {}
    for frames in (4.0, 8.0):
        stay = trip(replace(HIVE, frames_of_bees=frames), "flatbed_front_inner")
        over_k[frames] = simulated_case(stay, road(2.0), sky).seen.local_c[120, 0] - 20.0
    assert 1.3 <= over_k[8.0] / over_k[4.0] <= 2.2


STATED_K = 5.0
"""Warming of the air between standing boxes at which the conductance of a row is stated (``loading_places.toml``)."""


def row_air(name: str, activity: float, wind_ms: float) -> tuple[float, float]:
    """Heat that one box of a standing row gives its air, W, and by how much that is warmed, K."""
    minutes = 180
    p = replace(typical(), activity_driving=np.asarray(activity))
    strong = still_boxes(replace(HIVE, frames_of_bees=12.0))
    stage = staged(strong, 15.0, hours=minutes / 60.0, riding=True, parameters=p)
    around = empty_vehicle(place(name), minutes, air_c=15.0, ghi_w_m2=0.0, wind_ms=wind_ms, boxes=1.0)
    around = replace(
        around,
        vapour_kg_m3=stage.local_air.vapour_kg_m3,
        heat_j_m3k=stage.local_air.heat_j_m3k,
        pressure_root=stage.local_air.pressure_root,
    )
    seen = march(*stage._replace(local_air=around))
    given_w = seen.walls_w[-1, 0] + seen.air_w[-1, 0] - seen.sun_w[-1, 0]
    return float(given_w), float(seen.local_c[-1, 0] - around.base_c[-1, 0])


@pytest.mark.parametrize("wind_ms", [0.0, 2.0])
@pytest.mark.parametrize("name", ["flatbed_inner", "flatbed_front_inner"])
def test_m14_air_rises_between_standing_rows_as_through_a_stack(name: str, wind_ms: float) -> None:
    """ASHRAE Handbook Fundamentals 2017, ch. 16: a stack's flow squared goes with its warming, the wind's adds.

    The gap is given the opening whose stack flow carries, at the warming of the statement, the stated heat in still
    air; got before: air as if that opening drew as much whatever its warming, 26 K at the 290 W of a jolted double
    where it is 15.
    """
    where, heat_j_m3k, height_m = place(name), 1180.0, 1.0
    base_w_k, per_speed = where.neighbour_w_k
    speed_ms = max(where.still_air_ms, where.wind_factor * wind_ms)
    mean_k = np.asarray(295.0)
    per_m4 = openings.stack_flow_squared(np.asarray(1.0), np.asarray(1.0), np.asarray(height_m), mean_k)
    opening_m2 = base_w_k / heat_j_m3k / np.sqrt(per_m4 * STATED_K)
    per_k = openings.stack_flow_squared(np.asarray(1.0), np.asarray(opening_m2), np.asarray(height_m), mean_k)
    stated = ((base_w_k + per_speed * speed_ms) / heat_j_m3k) ** 2
    warmed_k = []
    for activity in (0.3, 1.0, 3.0):
        given_w, over_k = row_air(name, activity, wind_ms)
        flow = np.sqrt(stated + per_k * (over_k - STATED_K))
        assert over_k == pytest.approx(given_w / (heat_j_m3k * flow), rel=1e-4)
        warmed_k.append(over_k)
    assert warmed_k[-1] > warmed_k[0] + 1.0


def test_m14_the_row_keeps_its_stated_figures_and_its_air_on_the_road() -> None:
    """5 K of 60 W standing, 1.5 K on the move; at any air speed the stated conductance where it is 5 K warmer."""
    p = typical()
    for speed_ms, over_k, within_k in ((0.1, 5.0, 0.3), (1.6, 1.5, 0.1)):
        assert row_rise_k(60.0, speed_ms, p) == pytest.approx(over_k, abs=within_k)
    for speed_ms in (0.0, 0.1, 0.5, 2.0):
        assert row_rise_k(STATED_K * (11.0 + 18.0 * speed_ms), speed_ms, p) == pytest.approx(STATED_K)
    for power_w in (20.0, 60.0, 150.0, 300.0):
        assert row_rise_k(power_w, 2.0, p) == pytest.approx(power_w / (11.0 + 18.0 * 2.0), rel=0.03)


def test_m14_more_heat_warms_the_row_more_and_more_air_less_and_without_wind_by_two_thirds() -> None:
    """Monotone in both and without a kink in still air; a colder box cools its row as a warmer one warms it."""
    p = typical()
    watts, speeds = np.linspace(-100.0, 600.0, 71), np.linspace(0.0, 2.0, 41)
    over_k = np.array([[row_rise_k(float(w), float(v), p) for w in watts] for v in speeds])
    assert (np.diff(over_k, axis=1) > 0.0).all()
    assert (np.diff(np.abs(over_k), axis=0)[:, watts != 0.0] < 0.0).all()
    assert row_rise_k(480.0, 0.0, p) == pytest.approx(4.0 * row_rise_k(60.0, 0.0, p), rel=1e-4)
    assert row_rise_k(-60.0, 0.1, p) == pytest.approx(-row_rise_k(60.0, 0.1, p))


def row_rise_k(power_w: float, speed_ms: float, p: Parameters) -> float:
    """Warming of the air between boxes of an inner row that give it so much each, by the law of the balance."""
    local_air = empty_vehicle(place("flatbed_inner", still_air_ms=speed_ms), 1, wind_ms=0.0, boxes=1.0)
    stage = staged(still_boxes(HIVE), 20.0, hours=1.0 / 60.0)
    boxes = stage.cases.boxes
    forcing = next(prepare(stage.cases, stage.vehicle, local_air, slice(0, 1), p).rows())
    rise_k, _ = between_boxes(np.array([power_w]), forcing, coefficients_of(boxes, p))
    return float(rise_k[0])


@pytest.mark.parametrize("name", ["cabin_windows_open", "cabin_back_windows_open", "estate_windows_open"])
def test_m13_air_moves_at_boxes_beside_open_windows(name: str) -> None:
    """0.9 m/s on the road and 0.2 in a light wind, against still air behind shut windows."""
    driven = empty_vehicle(place(name), 2, speed_ms=ROAD_MS).speed_ms[-1, 0]
    assert 0.5 <= driven <= 1.5
    assert 0.1 < empty_vehicle(place(name), 2).speed_ms[-1, 0] < driven
    assert empty_vehicle(place("cabin_shut_dark"), 2, speed_ms=ROAD_MS).speed_ms[-1, 0] == 0.1


SUPERLATIVE = re.compile(
    r"\b(?:hottest|coolest|coldest|warmest|first to fail|last to fail|best|worst)\b", re.I
)


def test_no_caution_claims_what_only_the_numbers_of_a_trip_can_say() -> None:
    """Got before: a caution called the front row the hottest that the model found among the coolest."""
    claims = {
        name: text
        for name, row in catalogue().loading_places.items()
        for text in row.cautions
        if SUPERLATIVE.search(text)
    }
    assert claims == {}


# -- M11, M16: height and rain -------------------------------------------------------------------


def test_m11_air_cools_over_a_pass_where_the_weather_has_one_point_only() -> None:
    """0.65 K per 100 m (ISO 2533): 1,000 m above the only point 6.5 K colder and 11 % thinner; unknown heights stay."""
    sky = steady(20.0, dew_c=17.0)
    at_s = np.array([SPRING + HOUR_S])
    low, high, unknown = (
        outside_weather(sky, vehicle_at(at_s, elevation_m=height_m), np.array(0.2))
        for height_m in (200.0, 1200.0, np.nan)
    )
    assert low.air_c[0, 0] == unknown.air_c[0, 0] == 20.0
    assert high.air_c[0, 0] == pytest.approx(13.5)
    assert high.dew_c[0, 0] == pytest.approx(13.5)
    assert high.heat_j_m3k[0, 0] / low.heat_j_m3k[0, 0] == pytest.approx(0.887 * 293.15 / 286.65, rel=5e-3)


def test_m11_a_forecast_with_points_of_its_own_is_left_alone() -> None:
    sky = steady(20.0)
    two = {
        f.name: np.repeat(value, 2, axis=-1)
        for f in fields(sky)
        if isinstance(value := getattr(sky, f.name), np.ndarray) and f.name != "time_s"
    }
    several = replace(sky, **two | {"km": np.array([0.0, 100.0])})
    seen = outside_weather(
        several, vehicle_at(np.array([SPRING + HOUR_S]), elevation_m=1200.0), np.array(0.2)
    )
    assert seen.air_c[0, 0] == 20.0


@pytest.mark.parametrize(
    ("air_c", "humidity", "speed_ms"), [(25.0, 0.35, 3.0), (32.0, 0.35, 3.0), (30.0, 0.4, 2.0)]
)
def test_m16_a_wet_skin_lies_five_to_eleven_degrees_below_a_dry_one(
    air_c: float, humidity: float, speed_ms: float
) -> None:
    """170-360 g/m2h, a balance made apart (grade D)."""
    p, speed = typical(), np.array(speed_ms)
    vapour = humidity * saturation_kg_m3(np.array(air_c))
    flux = walls.wet_skin_w_m2(np.array(air_c), vapour, np.array(1180.0), speed, p)
    assert 170.0 <= float(flux) / 2.43e6 * 3.6e6 <= 360.0
    assert 5.0 <= float(flux * walls.outside_film_m2k_w(speed, p)) <= 11.0


def rained_on(name: str, rain_mm: float) -> Histories:
    """Closed hives for three hours on the road at 26 C, with an hour of rain on the way or none."""
    sky = steady(26.0, dew_c=16.0)
    rain = np.zeros_like(sky.rain_mm)
    leave = SPRING + DAY_S + 10.0 * HOUR_S
    rain[np.searchsorted(sky.time_s, leave + 2.0 * HOUR_S)] = rain_mm
    hives = replace(HIVE, floor="solid", frames_of_bees=4.0, open_brood_frames=1.0, sealed_brood_frames=1.0)
    return simulated_case(trip(hives, name), road(4.0), replace(sky, rain_mm=rain)).seen


def test_m16_rain_cools_closed_boxes_in_the_open_and_nowhere_else() -> None:
    """A film that rain leaves and an hour dries: colder box air during and after it, the same again later."""
    wet, dry = (rained_on("open_trailer", mm).box_air_c[:, 0] for mm in (1.0, 0.0))
    colder_k = dry - wet
    assert colder_k[80] == 0.0
    assert colder_k[150] > 1.0
    assert 0.0 < colder_k[-30] < colder_k[150]
    under_roof = [rained_on("van_shut_white", mm).box_air_c[:260] for mm in (1.0, 0.0)]
    np.testing.assert_array_equal(*under_roof)
