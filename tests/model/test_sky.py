"""Temperature curves from low and high, sun from cloud."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.model.sky import HOUR_S, day_curve_c, sun_of_hour_before_w_m2
from planner.model.sun import clear_sky, sun_position

DAY_S = 86_400.0
RISE_S, SET_S = 5 * HOUR_S, 21 * HOUR_S


def curve(hours: np.ndarray, low: list[float], high: list[float]) -> np.ndarray:
    days = np.arange(len(low)) * DAY_S
    return day_curve_c(hours * HOUR_S, RISE_S + days, SET_S + days, low, high)


def test_low_comes_before_sunrise_and_high_after_noon_as_published() -> None:
    """Parton & Logan 1981, Agric Meteorol 23:205, air at 150 cm: c = -0.17 h, a = 1.86 h (day of 16 h, noon 13)."""
    hours = np.arange(0.0, 24.0, 0.01)
    temp = curve(hours, [10.0], [30.0])
    assert hours[np.argmin(temp)] == pytest.approx(5.0 - 0.17, abs=0.02)
    assert hours[np.argmax(temp)] == pytest.approx(13.0 + 1.86 - 0.17, abs=0.02)
    assert (temp.min(), temp.max()) == (pytest.approx(10.0, abs=0.01), pytest.approx(30.0, abs=0.001))


def test_each_night_falls_to_the_next_dawns_low_without_a_step() -> None:
    hours = np.arange(0.0, 72.0, 0.05)
    temp = curve(hours, [10.0, 16.0, 4.0], [25.0, 31.0, 20.0])
    assert np.abs(np.diff(temp)).max() < 0.35
    for day, low in enumerate([10.0, 16.0, 4.0]):
        dawn = curve(np.array([24.0 * day + 4.83 - 1e-6]), [10.0, 16.0, 4.0], [25.0, 31.0, 20.0])
        assert dawn[0] == pytest.approx(low, abs=1e-4)


@given(
    st.lists(st.tuples(st.floats(-30, 30), st.floats(0, 25)), min_size=1, max_size=5),
    st.floats(1.0, 11.0),
    st.floats(13.0, 23.0),
)
def test_the_curve_stays_between_the_lows_and_highs(
    days: list[tuple[float, float]], rise_h: float, set_h: float
) -> None:
    low = np.array([low for low, _ in days])
    high = low + np.array([span for _, span in days])
    noon_s = np.arange(len(days)) * DAY_S
    hours = np.arange(0.0, 24.0 * len(days), 0.5)
    temp = day_curve_c(hours * HOUR_S, rise_h * HOUR_S + noon_s, set_h * HOUR_S + noon_s, low, high)
    assert temp.min() >= low.min() - 1e-9
    assert temp.max() <= high.max() + 1e-9


def test_sun_of_the_hour_before_is_its_mean_and_cloud_dims_it() -> None:
    noon = 1_780_315_200.0
    stamps = noon + HOUR_S * np.arange(-12, 13)
    clear = sun_of_hour_before_w_m2(stamps, [52.0], [0.0], [100.0], np.zeros((25, 1)))
    fine = noon - np.arange(0.0, HOUR_S, 10.0)
    exact = clear_sky(fine, sun_position(fine, 52.0, 0.0).zenith_deg, 100.0)[0].mean()
    assert clear[12, 0] == pytest.approx(exact, rel=1e-3)
    assert clear[0, 0] == 0.0
    cover = sun_of_hour_before_w_m2(stamps, [52.0], [0.0], [100.0], np.ones((25, 1)))
    assert cover[12, 0] == pytest.approx(0.25 * clear[12, 0])
    assert np.isnan(sun_of_hour_before_w_m2(stamps, [52.0], [0.0], [100.0], np.full((25, 1), np.nan))).all()
