"""Moist air, held against the ASHRAE tables and PsychroLib."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.model import air

TEMPS_C = np.linspace(-30.0, 60.0, 13)


@pytest.fixture(autouse=True, scope="module")
def _si_units() -> None:
    psychrolib.SetUnitSystem(psychrolib.SI)


def test_saturation_pressure_meets_the_tables() -> None:
    """ASHRAE Handbook Fundamentals ch. 1, table 3: 5, 25 and 50 C; 0.03 %, the fast form 0.3 %."""
    table = [872.6, 3169.7, 12351.3]
    np.testing.assert_allclose(air.saturation_pressure_pa([5.0, 25.0, 50.0]), table, rtol=3e-4)
    np.testing.assert_allclose(air.saturation_pressure_fast_pa([5.0, 25.0, 50.0]), table, rtol=3e-3)


def test_saturation_pressure_agrees_with_psychrolib_over_ice_and_water() -> None:
    """Oracle: psychrolib.GetSatVapPres (Hyland & Wexler)."""
    expected = [psychrolib.GetSatVapPres(temp) for temp in TEMPS_C]
    np.testing.assert_allclose(air.saturation_pressure_pa(TEMPS_C), expected, rtol=1e-6)


def test_the_fast_form_stays_within_its_stated_error() -> None:
    """Against Hyland & Wexler, 0 to 50 C: 0.25 %, as the docstring promises."""
    temps = np.linspace(0.0, 50.0, 501)
    np.testing.assert_allclose(
        air.saturation_pressure_fast_pa(temps), air.saturation_pressure_pa(temps), rtol=2.5e-3
    )


@pytest.mark.parametrize("pressure", [101_325.0, 70_000.0])
@pytest.mark.parametrize("humidity", [0.05, 0.4, 0.95])
def test_humid_air_agrees_with_psychrolib(pressure: float, humidity: float) -> None:
    """Oracle: psychrolib, every way from relative humidity, -30 to 60 C."""
    vapour = humidity * air.saturation_pressure_pa(TEMPS_C)
    ratio = [psychrolib.GetHumRatioFromRelHum(temp, humidity, pressure) for temp in TEMPS_C]
    dew = [psychrolib.GetTDewPointFromRelHum(temp, humidity) for temp in TEMPS_C]
    density = [
        psychrolib.GetMoistAirDensity(temp, w, pressure) for temp, w in zip(TEMPS_C, ratio, strict=True)
    ]
    np.testing.assert_allclose(air.dew_point_from_humidity_c(TEMPS_C, humidity), dew, atol=0.002)
    np.testing.assert_allclose(air.air_density_kg_m3(TEMPS_C, pressure, vapour), density, rtol=1e-4)


@given(dew=st.floats(-60.0, 60.0))
def test_dew_point_undoes_saturation(dew: float) -> None:
    assert air.dew_point_c(air.saturation_pressure_pa(dew)) == pytest.approx(dew, abs=1e-5)


def test_dry_air_has_no_dew_point_and_no_warning() -> None:
    assert np.isnan(air.dew_point_c(0.0))


def test_vapour_density_at_saturation() -> None:
    """23.05 g/m3 at 25 C: from the specific volume of saturated steam, 43.34 m3/kg (steam tables), 0.2 %."""
    assert air.vapour_density_kg_m3(25.0, air.saturation_pressure_pa(25.0)) == pytest.approx(
        1.0 / 43.34, rel=2e-3
    )


def test_pressure_at_a_thousand_metres() -> None:
    """ASHRAE Handbook Fundamentals ch. 1, eq. 3 and table 1: 89.875 kPa."""
    assert air.pressure_at_pa(1000.0) == pytest.approx(89_875.0, abs=2.0)


@pytest.mark.parametrize("elevation", [-50.0, 0.0, 600.0, 2500.0])
def test_station_pressure_agrees_with_psychrolib_and_the_standard_atmosphere(elevation: float) -> None:
    """Oracle: psychrolib.GetStationPressure; in standard air it must equal eq. 3."""
    expected = psychrolib.GetStationPressure(102_000.0, elevation, 18.0)
    assert air.station_pressure_pa(102_000.0, elevation, 18.0) == pytest.approx(expected, rel=5e-4)
    standard_c = 15.0 - 0.0065 * elevation
    assert air.station_pressure_pa(101_325.0, elevation, standard_c) == pytest.approx(
        float(air.pressure_at_pa(elevation)), rel=1e-5
    )


def test_wind_near_the_ground() -> None:
    """FAO Irrigation and Drainage Paper 56, eq. 47: 0.748 of the 10 m wind at 2 m, 0.635 at 1 m."""
    np.testing.assert_allclose(air.wind_at_height_ms(10.0, [10.0, 2.0, 1.0]), [10.0, 7.48, 6.35], atol=0.005)
    assert air.wind_at_height_ms(10.0, 0.0) > 0.0


def test_latent_heat_meets_the_steam_tables() -> None:
    """Steam tables, h_fg: 2500.9 at 0 C, 2441.7 at 25 C, 2382.0 at 50 C, kJ/kg; 0.3 %."""
    np.testing.assert_allclose(
        air.latent_heat_j_kg([0.0, 25.0, 50.0]), [2.5009e6, 2.4417e6, 2.3820e6], rtol=3e-3
    )


def test_a_decilitre_an_hour_carries_67_watts() -> None:
    """Latent heat of water at 35 C, by hand: 0.1 kg x 2.42 MJ/kg / 3600 s."""
    assert 0.1 * air.latent_heat_j_kg(35.0) / 3600.0 == pytest.approx(67.0, abs=0.5)
