"""The air of a loading place, from rows stated here and one instant of weather."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from planner.model.loading_places import LocalAir, air_around
from planner.model.records import LoadingPlace
from planner.model.weather import OutsideWeather
from tests.model.scenarios import SUMMER, place, replace, typical, vehicle_at

WIND_2M = 0.748
"""Share of the wind at 10 m that blows at 2 m over grass (FAO Irrigation and Drainage Paper 56)."""

SHED = LoadingPlace(
    "shed",
    "a shed on wheels",
    "van",
    volume_m3=10.0,
    sun_area_m2=2.0,
    ua_parked_w_k=30.0,
    ua_moving_w_k=50.0,
    ach_parked_base=4.0,
    ach_parked_per_wind=2.0,
    ach_parked_min=5.0,
    ach_parked_max=12.0,
    ach_moving_base=10.0,
    ach_moving_per_speed=3.0,
    ach_moving_min=20.0,
    ach_moving_max=60.0,
    ach_doors_open=25.0,
    fan_m3_h=0.0,
    people=2.0,
    set_point_c=np.nan,
    still_air_ms=0.1,
)
DECK = LoadingPlace(
    "deck",
    "an open deck",
    "trailer",
    offset_moving_k=0.5,
    offset_parked_sun_k=4.5,
    speed_factor=0.2,
    wind_factor=0.5,
    still_air_ms=0.3,
    pressure_difference=0.25,
    sun_direct=0.9,
    sun_diffuse=0.5,
)


def around(
    where: LoadingPlace,
    *,
    wind_ms: float = 0.0,
    ghi_w_m2: float = 0.0,
    air_c: float = 20.0,
    boxes: float = 1.0,
    net: bool = False,
    **states: float,
) -> dict[str, float]:
    """Conditions at the first instant, just come to be loaded."""
    vehicle = vehicle_at(np.array([SUMMER]), **({"on_board": 1.0} | states))
    table = {f.name: np.zeros((1, 1)) for f in fields(OutsideWeather)}
    given = {"air_c": air_c, "wind_ms": wind_ms, "ghi_w_m2": ghi_w_m2, "heat_j_m3k": 1200.0}
    given |= {"lid_beam_w_m2": 0.6 * ghi_w_m2, "lid_diffuse_w_m2": 0.4 * ghi_w_m2}
    given |= {"flank_beam_w_m2": 100.0, "end_beam_w_m2": 50.0, "side_diffuse_w_m2": 30.0}
    outside = OutsideWeather(**table | {name: np.full((1, 1), value) for name, value in given.items()})
    found: LocalAir = air_around(
        vehicle,
        outside,
        np.zeros(1, dtype=int),
        [where],
        np.array([boxes]),
        place("ground_sun"),
        net,
        typical(),
    )
    return {f.name: float(getattr(found, f.name)[0, 0]) for f in fields(LocalAir)}


def changes_per_h(where: LoadingPlace = SHED, **more: float) -> float:
    return around(where, **more)["change_per_s"] * 3600.0


def test_a_parked_place_changes_its_air_by_leaks_and_wind_within_its_bounds() -> None:
    """4 + 2 per m/s of wind at the height of a vehicle, at least 5, at most 12."""
    assert changes_per_h(wind_ms=2.0) == pytest.approx(4.0 + 2.0 * 2.0 * WIND_2M, rel=1e-3)
    assert changes_per_h(wind_ms=0.0) == pytest.approx(5.0)
    assert changes_per_h(wind_ms=20.0) == pytest.approx(12.0)


def test_a_moving_place_changes_its_air_by_its_speed_within_its_bounds() -> None:
    """10 + 3 per m/s, at least 20, at most 60, whatever the wind."""
    assert changes_per_h(moving=1.0, speed_ms=10.0, wind_ms=9.0) == pytest.approx(40.0)
    slow = replace(SHED, ach_moving_per_speed=1.0)
    assert changes_per_h(slow, moving=1.0, speed_ms=5.0) == pytest.approx(20.0)
    assert changes_per_h(moving=1.0, speed_ms=30.0) == pytest.approx(60.0)


def test_open_doors_let_in_their_air_on_top() -> None:
    assert changes_per_h(doors_open=1.0) == pytest.approx(5.0 + 25.0)


@pytest.mark.parametrize("name", ["cabin_windows_open"])
def test_open_windows_keep_a_least_change_in_still_air(name: str) -> None:
    """The row's own least change, for somebody moves and air rises even without wind."""
    where = place(name)
    assert changes_per_h(where) == pytest.approx(
        min(max(where.ach_parked_min, where.ach_parked_base), where.ach_parked_max)
    )
    lively = replace(where, ach_parked_min=where.ach_parked_base + 3.0)
    assert changes_per_h(lively) == pytest.approx(where.ach_parked_base + 3.0)


def test_walls_air_and_fan_carry_heat_together() -> None:
    """Parked: 30 W/K of walls and 5 x 10 m3/h of 1200 J/m3K; moving 50 W/K and 25 x 10; a fan of 90 m3/h more."""
    assert 1.0 / around(SHED)["resistance_k_w"] == pytest.approx(30.0 + 1200.0 * 50.0 / 3600.0)
    driven = around(SHED, moving=1.0, speed_ms=5.0)["resistance_k_w"]
    assert 1.0 / driven == pytest.approx(50.0 + 1200.0 * 250.0 / 3600.0)
    fanned = around(replace(SHED, fan_m3_h=90.0))["resistance_k_w"]
    assert 1.0 / fanned == pytest.approx(30.0 + 1200.0 * 140.0 / 3600.0)


def test_sun_and_people_warm_an_enclosure_by_what_carries_heat_off() -> None:
    """2 m2 of glass in 500 W/m2 over the conductance; two people of 75 W while it moves; 15 % of the sun in shade.

    Without lag the first step's mean lies half way from the share of the sun that arrives with it.
    """
    parked, driven = 30.0 + 1200.0 * 50.0 / 3600.0, 50.0 + 1200.0 * 250.0 / 3600.0
    prompt = replace(SHED, sun_glass_m2=2.0, sun_lag_factor=1e-6)
    half_way = 0.5 * (1.0 + float(typical().arrival_sun_share))
    assert around(prompt, ghi_w_m2=500.0)["sun_rise_k"] == pytest.approx(half_way * 1000.0 / parked)
    shaded = 0.5 * (float(typical().shade_share) + float(typical().arrival_sun_share))
    assert around(prompt, ghi_w_m2=500.0, shade=1.0)["sun_rise_k"] == pytest.approx(shaded * 1000.0 / parked)
    assert around(SHED, moving=1.0, speed_ms=5.0)["base_c"] == pytest.approx(20.0 + 150.0 / driven)
    assert around(SHED)["base_c"] == 20.0


def test_an_opaque_skin_lets_less_sun_through_as_air_moves_along_it() -> None:
    """ISO 6946 films, 4 + 4 v + 4.6 and 0.13 inside: at 1.5 m/s 0.345 of the sun goes inwards, at 10 m/s 0.137."""
    prompt = replace(SHED, sun_lag_factor=1e-6, ua_moving_w_k=30.0, ach_moving_min=5.0, ach_moving_max=5.0)
    at_rest, slow, fast, faster = (
        around(prompt, ghi_w_m2=500.0, moving=1.0, speed_ms=v)["sun_rise_k"] for v in (1.5, 5.0, 10.0, 20.0)
    )
    arrived = float(typical().arrival_sun_share) * fast / (1.0 + float(typical().arrival_sun_share))
    assert (fast - arrived) / (at_rest - arrived) == pytest.approx(0.1367 / 0.3451, rel=1e-3)
    assert at_rest > slow > fast == faster


def test_air_conditioning_holds_its_set_point_while_the_engine_runs() -> None:
    """22 C plus an offset of 1.5 K whatever the sun, its power to spare, and at least the fresh air it draws."""
    cooled = replace(
        SHED, set_point_c=22.0, set_point_offset_k=1.5, ach_fresh_base=8.0, ach_fresh_per_speed=4.0
    )
    on = around(cooled, engine_on=1.0, ghi_w_m2=500.0)
    assert on["least_c"] == pytest.approx(23.5)
    assert on["base_c"] + on["sun_rise_k"] < 23.5
    assert on["change_per_s"] * 3600.0 == pytest.approx(8.0)
    assert changes_per_h(cooled, engine_on=1.0, moving=1.0, speed_ms=15.0) == pytest.approx(68.0)
    off = around(replace(cooled, set_point_c=np.nan), ghi_w_m2=500.0, air_c=20.0)
    assert off["base_c"] == 20.0
    assert off["sun_rise_k"] > 0.0
    assert around(cooled)["change_per_s"] * 3600.0 == pytest.approx(5.0)
    assert np.isnan(around(cooled, engine_on=1.0, air_c=np.nan)["base_c"])


def test_an_open_place_is_a_little_warmer_and_more_when_parked_in_the_sun() -> None:
    """0.5 K on the road; 4.5 K parked in 800 W/m2 or more, straight between; no enclosure at all.

    The deck warms with a lag of 15 min: after the first minute half of 1 - exp(-1/15), 0.0322, of its way.
    """
    begun = 0.5 * (1.0 - np.exp(-1.0 / 15.0))
    assert around(DECK, moving=1.0, speed_ms=9.0, ghi_w_m2=800.0)["base_c"] == pytest.approx(20.5)
    assert around(DECK)["base_c"] == pytest.approx(20.5)
    assert around(DECK, ghi_w_m2=400.0)["base_c"] == pytest.approx(20.5 + begun * 2.0)
    assert around(DECK, ghi_w_m2=1000.0)["base_c"] == pytest.approx(20.5 + begun * 4.0)
    open_air = around(DECK)
    assert np.isinf(open_air["change_per_s"])
    assert (open_air["resistance_k_w"], open_air["sun_rise_k"], open_air["volume_m3"]) == (0.0, 0.0, 1.0)


def test_air_passes_an_open_box_by_driving_or_by_wind_and_less_under_a_net() -> None:
    """0.2 of the speed or 0.5 of the wind, whichever is more, 0.6 of it netted; never less than still air."""
    assert around(DECK, moving=1.0, speed_ms=20.0, wind_ms=2.0)["speed_ms"] == pytest.approx(4.0)
    assert around(DECK, wind_ms=6.0)["speed_ms"] == pytest.approx(3.0)
    assert around(DECK, wind_ms=6.0, net=True)["speed_ms"] == pytest.approx(1.8)
    assert around(DECK)["speed_ms"] == pytest.approx(0.3)


def test_a_net_takes_pressure_and_sun_of_open_places_only() -> None:
    """Of the pressure 0.35, of the sun 0.7; inside a van there is no net."""
    assert around(DECK)["pressure_root"] == pytest.approx(0.5)
    assert around(DECK, net=True)["pressure_root"] == pytest.approx(0.5 * np.sqrt(0.35))
    bare, netted = (around(DECK, ghi_w_m2=500.0, net=net)["lid_w_m2"] for net in (False, True))
    assert netted == pytest.approx(0.7 * bare)
    assert around(SHED, ghi_w_m2=500.0, net=True) == around(SHED, ghi_w_m2=500.0)


def test_sun_falls_on_the_lid_and_on_both_sides_of_a_pair() -> None:
    """Beam 0.9, diffuse 0.5: lid of 300 + 200; the beam meets one of two sides, the sky both."""
    lit = around(DECK, ghi_w_m2=500.0)
    assert lit["lid_w_m2"] == pytest.approx(0.9 * 300.0 + 0.5 * 200.0)
    assert lit["flank_w_m2"] == pytest.approx(0.9 * 100.0 + 2.0 * 0.5 * 30.0)
    assert lit["end_w_m2"] == pytest.approx(0.9 * 50.0 + 2.0 * 0.5 * 30.0)
    lid_only = around(replace(DECK, sun_lid_only=True), ghi_w_m2=500.0)
    assert (lid_only["flank_w_m2"], lid_only["end_w_m2"]) == (0.0, 0.0)
    assert lid_only["lid_w_m2"] == lit["lid_w_m2"]


def test_boxes_packed_in_the_open_warm_the_air_between_them() -> None:
    """3 W/K and 2 more per m/s for each of ten boxes, at 0.3 m/s."""
    packed = replace(DECK, neighbour_w_k=(3.0, 2.0))
    assert 1.0 / around(packed, boxes=10.0)["resistance_k_w"] == pytest.approx(10.0 * (3.0 + 2.0 * 0.3))


def test_before_it_is_loaded_a_box_stands_on_the_ground() -> None:
    waiting = around(SHED, on_board=0.0)
    assert np.isinf(waiting["change_per_s"])
    assert waiting["on_board"] == 0.0
    assert around(SHED)["on_board"] == 1.0
