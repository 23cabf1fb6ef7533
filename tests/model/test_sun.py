"""The sun, held against the NREL worked example and pvlib over places from pole to pole."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta, timezone

import numpy as np
import pandas as pd
import pvlib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.model import sun
from planner.model.records import Floats
from tests.model.oracle import refraction_deg

DAY_S = 86_400.0
PLACES = [
    pytest.param(52.2, 0.1, id="fens"),
    pytest.param(38.6, -121.5, id="valley"),
    pytest.param(-33.9, 151.2, id="southern"),
    pytest.param(0.0, 180.0, id="antimeridian"),
    pytest.param(64.1, -21.9, id="subarctic"),
    pytest.param(78.2, 15.6, id="arctic"),
    pytest.param(-77.8, -179.9, id="antarctic"),
]


def posix(*when: int) -> float:
    return datetime(*when, tzinfo=UTC).timestamp()


def year_of_instants(count: int = 1500) -> Floats:
    """Instants scattered over 2000 to 2060 at every hour of day."""
    return np.random.default_rng(7).uniform(posix(2000, 1, 1), posix(2060, 1, 1), count)


def as_index(time_s: Floats) -> pd.DatetimeIndex:
    return pd.DatetimeIndex(pd.to_datetime(time_s, unit="s", utc=True))


def turn_deg(first: Floats, second: Floats) -> Floats:
    """Difference of two directions, -180 to 180."""
    return np.asarray((first - second + 180.0) % 360.0 - 180.0)


def test_position_meets_the_nrel_worked_example() -> None:
    """Reda & Andreas 2008, Solar position algorithm, NREL/TP-560-34302, table A5.1; refraction included."""
    when = datetime(2003, 10, 17, 12, 30, 30, tzinfo=timezone(timedelta(hours=-7))).timestamp()
    found = sun.sun_position(when, 39.742476, -105.1786)
    seen_zenith = found.zenith_deg - refraction_deg(found.elevation_deg, 82_000.0, 11.0)
    assert seen_zenith == pytest.approx(50.11162, abs=0.01)
    assert found.azimuth_deg == pytest.approx(194.34024, abs=0.01)


@pytest.mark.parametrize(("lat", "lon"), PLACES)
def test_position_is_within_a_hundredth_of_a_degree_of_spa(lat: float, lon: float) -> None:
    """Oracle: pvlib.solarposition.spa_python (NREL SPA), true zenith and azimuth."""
    time_s = year_of_instants()
    spa = pvlib.solarposition.spa_python(as_index(time_s), lat, lon, delta_t=sun.CLOCK_LAG_S)
    found = sun.sun_position(time_s, lat, lon)
    assert np.max(np.abs(found.zenith_deg - spa["zenith"])) < 0.01
    sideways = turn_deg(found.azimuth_deg, spa["azimuth"].to_numpy()) * np.sin(np.radians(found.zenith_deg))
    assert np.max(np.abs(sideways)) < 0.01


def test_refraction_agrees_with_spa_above_the_horizon() -> None:
    """Oracle: apparent minus true elevation of pvlib's SPA at 1013 hPa and 12 C."""
    time_s = posix(2026, 6, 21) + np.arange(0.0, DAY_S, 300.0)
    spa = pvlib.solarposition.spa_python(as_index(time_s), 52.2, 0.1, pressure=101_325.0, temperature=12.0)
    up = spa["elevation"].to_numpy() > 0.0
    lift = (spa["apparent_elevation"] - spa["elevation"]).to_numpy()[up]
    found = refraction_deg(spa["elevation"].to_numpy()[up], 101_325.0, 12.0)
    np.testing.assert_allclose(found, lift, atol=0.002)


def test_instants_and_places_broadcast() -> None:
    """A (time, 1) axis against (case,) places equals each pair alone."""
    time_s, lat, lon = year_of_instants(5), np.array([10.0, -40.0, 70.0]), np.array([0.0, 179.0, -90.0])
    grid = sun.sun_position(time_s[:, None], lat, lon)
    for row, when in enumerate(time_s):
        for case in range(3):
            alone = sun.sun_position(when, lat[case], lon[case])
            assert grid.zenith_deg[row, case] == pytest.approx(float(alone.zenith_deg), abs=1e-10)
            assert grid.azimuth_deg[row, case] == pytest.approx(float(alone.azimuth_deg), abs=1e-10)


def test_extraterrestrial_follows_the_earths_distance() -> None:
    """Oracle: pvlib get_extra_radiation, method nrel (SPA's earth radius vector)."""
    time_s = year_of_instants()
    expected = pvlib.irradiance.get_extra_radiation(
        as_index(time_s), solar_constant=sun.SOLAR_CONSTANT_W_M2, method="nrel"
    )
    np.testing.assert_allclose(sun.extraterrestrial_w_m2(time_s), expected, rtol=3e-4)


def test_air_mass_agrees_with_kasten_and_young() -> None:
    """Oracle: pvlib get_relative_airmass, model kastenyoung1989; twice the air at twice the pressure."""
    zenith = np.linspace(0.0, 90.0, 181)
    expected = pvlib.atmosphere.get_relative_airmass(zenith, model="kastenyoung1989")
    np.testing.assert_allclose(sun.air_mass(zenith), expected, rtol=1e-9)
    np.testing.assert_allclose(sun.air_mass(zenith, 50_662.5), expected / 2.0, rtol=1e-9)
    assert np.isnan(sun.air_mass(90.5))


def test_split_agrees_with_erbs() -> None:
    """Oracle: pvlib.irradiance.erbs, which also gives all to diffuse beyond 87 degrees."""
    zenith, ghi = np.meshgrid(np.linspace(0.0, 86.9, 40), np.linspace(0.0, 1100.0, 45))
    july_10 = 191
    expected = pvlib.irradiance.erbs(
        ghi.ravel(), zenith.ravel(), np.full(zenith.size, july_10), min_cos_zenith=0.0, max_zenith=87.0
    )
    above = pvlib.irradiance.get_extra_radiation(july_10)
    dni, dhi = sun.split_global(ghi.ravel(), zenith.ravel(), above)
    possible = ghi.ravel() <= above * np.cos(np.radians(zenith.ravel()))
    np.testing.assert_allclose(dhi[possible], expected["dhi"][possible], rtol=1e-6, atol=1e-6)
    np.testing.assert_allclose(dni[possible], expected["dni"][possible], rtol=1e-6, atol=1e-4)


@given(ghi=st.floats(-50.0, 1500.0), zenith=st.floats(0.0, 180.0))
def test_a_split_always_adds_up_again(ghi: float, zenith: float) -> None:
    dni, dhi = sun.split_global(ghi, zenith, 1360.0)
    up = max(math.cos(math.radians(zenith)), 0.0)
    assert dni >= 0.0
    assert dhi >= 0.0
    assert float(dni * up + dhi) == pytest.approx(max(ghi, 0.0), abs=1e-6)


@pytest.mark.parametrize("elevation_m", [0.0, 450.0, 2400.0])
@pytest.mark.parametrize("turbidity", [2.0, 3.0, 5.0])
def test_clear_sky_agrees_with_ineichen(elevation_m: float, turbidity: float) -> None:
    """Oracle: pvlib.clearsky.ineichen at the same turbidity and absolute air mass."""
    time_s = posix(2026, 6, 21) + np.arange(0.0, DAY_S, 900.0)
    zenith = sun.sun_position(time_s, 44.0, 8.0).zenith_deg
    found = np.array(sun.clear_sky(time_s, zenith, elevation_m, turbidity))
    up = zenith < 88.0
    pressure = pvlib.atmosphere.alt2pres(elevation_m)
    expected = pvlib.clearsky.ineichen(
        zenith[up],
        pvlib.atmosphere.get_relative_airmass(zenith[up]) * pressure / 101_325.0,
        turbidity,
        altitude=elevation_m,
        dni_extra=sun.extraterrestrial_w_m2(time_s[up]),
    )
    wanted = np.array([expected[name] for name in ("ghi", "dni", "dhi")])
    np.testing.assert_allclose(found[:, up], wanted, rtol=5e-3, atol=0.5)
    assert np.all(found[:, zenith >= 90.0] == 0.0)


def test_cloud_lets_a_quarter_through_and_never_adds() -> None:
    """Kasten & Czeplak 1980, Solar Energy 24:177: G/G0 = 1 - 0.75 (N/8)^3.4; at N = 4 oktas 0.929."""
    passed = sun.cloudy_global(800.0, np.array([0.0, 0.5, 1.0, 1.2, -0.1]))
    np.testing.assert_allclose(passed, [800.0, 743.16, 200.0, 200.0, 800.0], atol=0.05)
    assert np.all(np.diff(sun.cloudy_global(800.0, np.linspace(0, 1, 50))) <= 0.0)


@pytest.mark.parametrize("heading", [0.0, 37.0, 90.0, 201.0, 315.0])
def test_faces_of_a_box_see_what_tilted_planes_see(heading: float) -> None:
    """Oracle: pvlib.irradiance.get_total_irradiance, isotropic sky, on lid and four upright faces."""
    time_s = posix(2026, 5, 3) + np.arange(0.0, DAY_S, 1800.0)
    position = sun.sun_position(time_s, 48.0, 11.0)
    ghi, dni, dhi = sun.clear_sky(time_s, position.zenith_deg)
    faces = sun.box_sun(dni, dhi, position, heading, albedo=0.25)

    def plane(tilt: float, facing: float) -> Floats:
        seen = pvlib.irradiance.get_total_irradiance(
            tilt, facing, position.zenith_deg, position.azimuth_deg, dni, ghi, dhi, albedo=0.25
        )
        return np.asarray(seen["poa_global"])

    right, left = plane(90.0, heading + 90.0), plane(90.0, heading - 90.0)
    front, back = plane(90.0, heading), plane(90.0, heading + 180.0)
    lit, shaded = np.where(faces.from_right, right, left), np.where(faces.from_right, left, right)
    np.testing.assert_allclose(faces.lid_beam_w_m2 + faces.lid_diffuse_w_m2, plane(0.0, 0.0), atol=1e-6)
    np.testing.assert_allclose(faces.flank_beam_w_m2 + faces.side_diffuse_w_m2, lit, atol=1e-6)
    np.testing.assert_allclose(faces.side_diffuse_w_m2, shaded, atol=1e-6)
    np.testing.assert_allclose(faces.end_beam_w_m2 + 2 * faces.side_diffuse_w_m2, front + back, atol=1e-6)


def test_no_beam_falls_on_a_box_by_night() -> None:
    faces = sun.box_sun(500.0, 0.0, sun.SunPosition(np.array([95.0]), np.array([10.0])), 0.0)
    assert faces.lid_beam_w_m2 == faces.flank_beam_w_m2 == faces.end_beam_w_m2 == 0.0


@pytest.mark.parametrize(("lat", "lon"), PLACES[:4])
def test_sunrise_and_sunset_agree_with_spa(lat: float, lon: float) -> None:
    """Oracle: pvlib sun_rise_set_transit_spa (NREL SPA's own sunrise method), every tenth day of a year.

    It fits the hour to the UTC day and may then name the date beside it, so dates are left out here.
    """
    zone = timezone(timedelta(hours=round(lon / 15.0)))
    midnights = [datetime(2026, 1, 1, tzinfo=zone) + timedelta(days=days) for days in range(0, 365, 10)]
    events = sun.sun_events(lat, lon, np.array([midnight.timestamp() for midnight in midnights]))
    for found, name in zip(events, ("sunrise", "sunset"), strict=True):
        forecast_error = [found - spa_event(name, midnights, lat, lon, shift) for shift in (-1, 0, 1)]
        of_day = np.abs((np.array(forecast_error) + DAY_S / 2) % DAY_S - DAY_S / 2)
        assert np.max(np.min(of_day, axis=0)) < 5.0


def spa_event(name: str, midnights: list[datetime], lat: float, lon: float, shift: int) -> Floats:
    """The oracle's event, POSIX seconds, ``shift`` days off."""
    days = pd.DatetimeIndex([midnight + timedelta(days=shift) for midnight in midnights])
    events = pvlib.solarposition.sun_rise_set_transit_spa(days, lat, lon)[name]
    return np.array([instant.timestamp() for instant in events])


@given(
    lat=st.floats(-90.0, 90.0),
    lon=st.floats(-180.0, 180.0),
    day=st.floats(posix(1990, 1, 1), posix(2060, 1, 1)),
)
def test_the_sun_stands_on_the_horizon_at_every_event(lat: float, lon: float, day: float) -> None:
    """Sunrise comes before its noon and sunset after; the sun's elevation there is the one asked for."""
    for elevation in (sun.SUNRISE_DEG, sun.CIVIL_TWILIGHT_DEG):
        rise, set_ = sun.sun_events(lat, lon, day, elevation)
        for instant in (rise, set_):
            if np.isfinite(instant):
                assert sun.sun_position(instant, lat, lon).elevation_deg == pytest.approx(elevation, abs=1e-3)
        if np.isfinite(rise) and np.isfinite(set_):
            assert rise < set_ < rise + DAY_S
            assert day - DAY_S / 2 < 0.5 * (rise + set_) < day + 1.5 * DAY_S


def test_polar_day_and_polar_night_have_no_sunrise() -> None:
    """Longyearbyen: no sunset on 21 June, no sunrise on 21 December (any almanac); no exception either."""
    summer, winter = posix(2026, 6, 21), posix(2026, 12, 21)
    events = sun.sun_events(78.2, 15.6, [summer, winter])
    assert np.all(np.isnan(events))
    assert sun.sun_position(summer, 78.2, 15.6).elevation_deg > 0.0
    assert sun.sun_position(winter + DAY_S / 2, 78.2, 15.6).elevation_deg < 0.0


def test_white_nights_have_sunset_but_no_end_of_twilight() -> None:
    """Reykjavik at midsummer: the sun sets after midnight, civil twilight lasts until it rises again."""
    rise, set_ = sun.sun_events(64.13, -21.9, posix(2026, 6, 21))
    assert set_ > posix(2026, 6, 22)
    assert np.all(np.isnan(sun.sun_events(64.13, -21.9, posix(2026, 6, 21), sun.CIVIL_TWILIGHT_DEG)))
    assert set_ - rise > 20 * 3600.0


def test_first_light_precedes_sunrise() -> None:
    """Greenwich, 21 March: civil twilight lasts 33 minutes at that latitude (any almanac), +-2."""
    day = posix(2026, 3, 21)
    rise, set_ = sun.sun_events(51.48, 0.0, day)
    first, last = sun.sun_events(51.48, 0.0, day, sun.CIVIL_TWILIGHT_DEG)
    assert (rise - first) / 60.0 == pytest.approx(33.0, abs=2.0)
    assert (last - set_) / 60.0 == pytest.approx(33.0, abs=2.0)
