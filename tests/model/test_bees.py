"""The law of the bees at temperatures that can be worked out by hand, with the typical rows of the table."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model import bees
from planner.model.bees import bee_coefficients, bee_responses, metabolic_heat
from tests.model.scenarios import NUC, still_boxes, typical

BOXES = still_boxes(
    NUC,
    rest_w=10.0,
    brood_w=6.0,
    shiver_w=40.0,
    core_w_k=5.0,
    spread_w_k=8.0,
    fan_flow_m3_s=0.004,
    evaporation_w=60.0,
)
LAW = bee_coefficients(BOXES, typical())
RESTLESS, SHIVERING, TIGHTNESS, SPREADING, FANNING, DRINKING, BEARD = range(7)


def response(which: int, *core_c: float) -> list[float]:
    return [float(bee_responses(np.array([one]), LAW)[which, 0]) for one in core_c]


def test_hot_bees_grow_restless_from_thirty_nine_and_a_half_over_two_kelvin() -> None:
    """Up to twice the heat: one more share."""
    assert response(RESTLESS, 39.5, 40.5, 41.5, 45.0) == pytest.approx([0.0, 0.5, 1.0, 1.0])


def test_bees_shiver_below_what_they_defend_over_one_kelvin() -> None:
    assert response(SHIVERING, 34.0, 33.75, 33.0, 20.0) == pytest.approx([0.0, 10.0, 40.0, 40.0])


def test_bees_close_up_from_half_a_kelvin_above_that() -> None:
    assert response(TIGHTNESS, 34.5, 34.0, 33.5, 20.0) == pytest.approx([0.0, 0.5, 1.0, 1.0])


def test_a_fifth_of_the_bees_hangs_out_from_thirty_six_over_one_kelvin() -> None:
    assert response(BEARD, 36.0, 36.5, 37.0, 44.0) == pytest.approx([0.0, 0.1, 0.2, 0.2])


def test_bees_spread_and_fan_a_degree_before_they_drink() -> None:
    assert response(SPREADING, 35.0, 36.0, 39.0, 44.0) == pytest.approx([0.0, 2.0, 8.0, 8.0])
    assert response(FANNING, 35.0, 36.0, 39.0, 44.0) == pytest.approx([0.0, 0.001, 0.004, 0.004])
    assert response(DRINKING, 36.0, 37.0, 40.0, 44.0) == pytest.approx([0.0, 15.0, 60.0, 60.0])


def heat_w(bees_c: float, core_c: float) -> list[float]:
    return metabolic_heat(np.array([bees_c]), np.array([core_c]), LAW)[:, 0].tolist()


def test_resting_heat_is_stated_at_thirty_and_held_below_twelve_and_above_thirty_seven() -> None:
    """7.7 W/kg at 30 C, 6.65 % more each kelvin, at the temperature of the bees and not of the core."""
    adults = [heat_w(one, 20.0)[0] for one in (30.0, 31.0, 12.0, 5.0, 37.0, 50.0)]
    slope = 0.0665
    expected = 10.0 * np.exp(slope * np.array([0.0, 1.0, -18.0, -18.0, 7.0, 7.0]))
    np.testing.assert_allclose(adults, expected)


def test_brood_heat_falls_to_a_third_in_ten_kelvin_and_is_held_above_thirty_four() -> None:
    brood = [heat_w(20.0, one)[1] for one in (34.0, 24.0, 14.0, 40.0)]
    assert brood == pytest.approx([6.0, 2.0, 6.0 / 9.0, 6.0])


def test_a_jolt_decays_to_the_base() -> None:
    """From 5 towards 2 by a factor e in 20 minutes."""
    base, p = np.array(2.0), typical()
    just, later = (bees.jolt_left(np.array(seconds), p) for seconds in (0.0, 1200.0))
    assert bees.activity(base, just, p) == pytest.approx(5.0)
    assert bees.activity(base, later, p) == pytest.approx(2.0 + 3.0 / np.e)


def test_half_of_the_workers_are_dead_at_dose_one() -> None:
    """And one in seventeen at a half."""
    p = typical()
    assert bees.alive_share(np.array([0.0, 0.5, 1.0]), p) == pytest.approx([1.0, 16.0 / 17.0, 0.5])


def test_a_ramp_is_flat_on_both_sides() -> None:
    value = np.array([0.5, 0.6, 0.7, 0.8, 0.9])
    assert bees.ramp(value, np.array(0.6), np.array(0.2)) == pytest.approx([0.0, 0.0, 0.5, 1.0, 1.0])
