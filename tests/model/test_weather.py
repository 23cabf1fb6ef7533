"""Hourly weather brought to any instant: who looks at which hour."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model import sky, sun
from planner.model.records import Floats, Weather
from planner.model.weather import OutsideWeather, air_stood_in_c, clearness, outside_weather
from tests.model import scenarios
from tests.model.scenarios import HOUR_S, ORIGIN, SPRING, SUMMER, hourly, replace, steady, vehicle_at

HOURS = SUMMER + np.arange(49) * HOUR_S


def made(**columns: Floats | float) -> Weather:
    usual = {"air_c": 20.0, "dew_c": 10.0, "ghi_w_m2": 0.0, "wind_ms": 3.0}
    return hourly(HOURS, **(usual | columns))


def seen(weather: Weather, *hour: float, **states: float) -> OutsideWeather:
    return outside_weather(weather, vehicle_at(SUMMER + np.array(hour) * HOUR_S, **states), np.array(0.2))


def clear_hours() -> Floats:
    """Means of the hour before each stamp under a cloudless sky."""
    place = [np.array([one]) for one in (ORIGIN.lat_deg, ORIGIN.lon_deg, 200.0)]
    return sky.sun_of_hour_before_w_m2(HOURS, *place, np.zeros((HOURS.size, 1)))[:, 0]


@pytest.mark.parametrize("hour", [6.5, 7.5, 12.5, 17.5])
def test_radiation_of_the_hour_before_the_stamp_comes_back_as_the_clear_sky_it_was(hour: float) -> None:
    """The convention of the records: the value stamped 08:00 is the sun of 07:30, and not that of 08:30."""
    time_s = np.array([SUMMER + hour * HOUR_S])
    zenith = sun.sun_position(time_s, ORIGIN.lat_deg, ORIGIN.lon_deg).zenith_deg
    expected = float(sun.clear_sky(time_s, zenith, 200.0)[0][0])
    assert seen(made(ghi_w_m2=clear_hours()), hour).ghi_w_m2[0, 0] == pytest.approx(expected, rel=0.02)


def test_the_hour_of_a_value_ends_at_its_stamp() -> None:
    """Only the hour that ends at ten has sun: at 09:01 and at 10:00 it shines, at 08:59 and 10:01 it does not."""
    lit = np.where(HOURS == SUMMER + 10.0 * HOUR_S, 500.0, 0.0)
    shines = seen(made(ghi_w_m2=lit), 9.0 - 1 / 60, 9.0 + 1 / 60, 10.0, 10.0 + 1 / 60).ghi_w_m2[:, 0] > 100.0
    assert shines.tolist() == [False, True, True, False]


def test_clearness_is_a_share_of_the_sun_outside_and_no_cloud_doubles_it() -> None:
    dark, bright = made(ghi_w_m2=0.0), made(ghi_w_m2=5000.0)
    by_day = 11
    assert clearness(dark)[0][by_day, 0] == 0.0
    assert clearness(bright)[0][by_day, 0] == pytest.approx(1.1)
    assert clearness(bright)[0][0, 0] == 0.0


def test_the_diffuse_share_is_that_of_the_service_where_it_gives_one() -> None:
    """100 of 400 W/m2 are diffuse: the beam on the lid carries the rest; by night there is no share."""
    given = made(ghi_w_m2=400.0, dhi_w_m2=100.0)
    share = clearness(given)[1]
    assert share[11, 0] == pytest.approx(0.25)
    assert np.isnan(clearness(made(ghi_w_m2=0.0, dhi_w_m2=0.0))[1][11, 0])
    noon = seen(given, 11.5)
    assert noon.lid_diffuse_w_m2[0, 0] == pytest.approx(0.25 * noon.ghi_w_m2[0, 0])
    assert noon.lid_beam_w_m2[0, 0] == pytest.approx(0.75 * noon.ghi_w_m2[0, 0])


def test_missing_radiation_stays_unknown_even_where_its_diffuse_part_is_known() -> None:
    hole = seen(made(ghi_w_m2=np.nan, dhi_w_m2=100.0), 11.5)
    for name in ("ghi_w_m2", "lid_beam_w_m2", "lid_diffuse_w_m2", "flank_beam_w_m2", "side_diffuse_w_m2"):
        assert np.isnan(getattr(hole, name)[0, 0]), name


def test_instants_lie_straight_between_the_hours_and_are_unknown_outside() -> None:
    rising = made(air_c=np.arange(49.0), dew_c=-20.0)
    air_c = seen(rising, -0.1, 0.0, 3.25, 48.0, 48.1).air_c[:, 0]
    np.testing.assert_allclose(air_c, [np.nan, 0.0, 3.25, 48.0, np.nan])


def test_radiation_of_the_first_hour_reaches_an_hour_back() -> None:
    ghi = seen(made(), -1.1, -0.9, 48.0, 48.1).ghi_w_m2[:, 0]
    assert np.isnan(ghi).tolist() == [True, False, False, True]


def test_a_missing_hour_spoils_only_what_leans_on_it() -> None:
    air_c = np.where(np.arange(49) == 5, np.nan, 20.0)
    assert np.isnan(seen(made(air_c=air_c), 4.0, 4.5, 5.5, 6.0).air_c[:, 0]).tolist() == [
        False,
        True,
        True,
        False,
    ]


def test_weather_lies_straight_between_points_of_the_road_and_ends_with_them() -> None:
    one = made()
    two = {
        name: np.repeat(getattr(one, name), 2, axis=1)
        for name in (
            "dew_c",
            "wind_east_ms",
            "wind_north_ms",
            "ghi_w_m2",
            "dni_w_m2",
            "dhi_w_m2",
            "cloud_share",
            "pressure_pa",
        )
    }
    air_c = np.broadcast_to([10.0, 30.0], (49, 2))
    place = {"lat_deg": np.full(2, 45.0), "lon_deg": np.full(2, 8.0), "elevation_m": np.zeros(2)}
    both = replace(one, km=np.array([0.0, 100.0]), air_c=air_c, **two, **place)
    at = [float(seen(both, 5.0, km=km).air_c[0, 0]) for km in (-10.0, 0.0, 25.0, 100.0, 120.0)]
    assert at == pytest.approx([10.0, 10.0, 15.0, 30.0, 30.0])


def test_dew_point_never_exceeds_the_air_and_wind_is_the_length_of_its_parts() -> None:
    fog = replace(made(dew_c=25.0), wind_north_ms=np.full((49, 1), -4.0))
    now = seen(fog, 5.0)
    assert now.dew_c[0, 0] == 20.0
    assert now.wind_ms[0, 0] == pytest.approx(5.0)
    assert (now.wind_east_ms[0, 0], now.wind_north_ms[0, 0]) == (3.0, -4.0)


def test_a_cubic_metre_of_air_carries_some_twelve_hundred_joules_and_nine_grams_of_vapour() -> None:
    """20 C, dew point 10 C, 990 hPa: 1.172 kg/m3 of 1006 J/kgK; 1228 Pa of vapour, 9.07 g/m3 (ideal gas)."""
    now = seen(made(), 5.0)
    assert now.heat_j_m3k[0, 0] == pytest.approx(1006.0 * 1.171, rel=2e-3)
    assert now.vapour_kg_m3[0, 0] == pytest.approx(0.00907, rel=5e-3)


def test_combs_carry_the_air_of_the_hours_before() -> None:
    """Cold at dawn and warm at dusk; after hours of one temperature they stand in it; without weather unknown."""
    swinging = scenarios.weather(10.0, 30.0)
    dawn_s, dusk_s = SPRING + (24.0 + 5.0) * 3600.0, SPRING + (24.0 + 19.0) * 3600.0
    km = np.zeros(2)
    stood = air_stood_in_c(swinging, km, np.array([dawn_s, dusk_s]), 5.0)
    now = air_stood_in_c(swinging, km, np.array([dawn_s, dusk_s]), 1e-3)
    assert stood[0] > now[0] + 1.0
    assert stood[1] > now[1] + 1.0
    assert air_stood_in_c(steady(17.0), km[:1], np.array([dawn_s]), 5.0) == pytest.approx(17.0)
    assert np.isnan(air_stood_in_c(steady(17.0), km[:1], np.array([SPRING - 90.0 * 86_400.0]), 5.0)).all()
