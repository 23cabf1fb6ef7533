"""Where the sun stands and what it puts on a box: position, radiation split, clear sky, sunrise and sunset.

Every function takes scalars or arrays that broadcast together; instants are POSIX seconds UTC, angles
degrees, azimuths clockwise from north, irradiances W/m2.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from planner.model.air import STANDARD_PRESSURE_PA, pressure_at_pa
from planner.model.arrays import floats, floats_alike
from planner.model.records import Bools, Floats

DAY_S = 86_400.0
J2000_S = 946_728_000.0
"""POSIX seconds of 2000-01-01 12:00 UTC."""
CLOCK_LAG_S = 69.0
"""Terrestrial time minus UTC; it drifts by a few seconds in a decade, 4 s move the sun by 0.00005 deg."""
SOLAR_CONSTANT_W_M2 = 1360.8
"""Kopp & Lean 2011, Geophys Res Lett 38:L01706."""
SUNRISE_DEG = -0.8333
"""Elevation of the sun's centre when its upper edge touches a flat horizon (16' radius, 34' refraction)."""
CIVIL_TWILIGHT_DEG = -6.0
"""By definition: the sun six degrees down."""
LOW_SUN_UP = float(np.cos(np.radians(87.0)))
"""Cosine of the zenith angle three degrees above the horizon; lower, a beam is a ratio of two small numbers."""


@dataclass(frozen=True, slots=True)
class SunPosition:
    """Angles of the sun's centre, degrees: from overhead, and clockwise from north."""

    zenith_deg: Floats
    azimuth_deg: Floats

    @property
    def elevation_deg(self) -> Floats:
        return 90.0 - self.zenith_deg


@dataclass(frozen=True, slots=True)
class BoxSun:
    """Irradiance on the outside of a box that stands square to its heading, W/m2 of each face.

    The beam lights at most one of two opposite faces: ``flank_beam_w_m2`` falls on the lit one of the two
    sides along the heading, ``end_beam_w_m2`` on the lit one of front and back; the opposite face gets none
    of it. ``side_diffuse_w_m2`` (sky and ground) falls on all four upright faces. ``from_right`` is true
    where the sun stands on the right of the heading, which tells the sunny row of a load from the shaded.
    """

    lid_beam_w_m2: Floats
    lid_diffuse_w_m2: Floats
    flank_beam_w_m2: Floats
    end_beam_w_m2: Floats
    side_diffuse_w_m2: Floats
    from_right: Bools


def sun_position(time_s: ArrayLike, lat_deg: ArrayLike, lon_deg: ArrayLike) -> SunPosition:
    """Angles of the sun as geometry gives them, without refraction, good to 0.01 deg from 1950 to 2100.

    Cheapest when ``time_s`` keeps its own axis (``time[:, None]`` against ``(case,)`` places).
    Source: Meeus 1998, Astronomical Algorithms, 2nd ed., ch. 13, 22, 25 (low accuracy) with the five periodic
    terms of his Astronomical Formulae for Calculators, ch. 18; parallax to first order. UT1 is taken to be UTC.
    """
    time_s = floats(time_s)
    right_ascension, sin_decl, cos_decl = _equatorial(time_s)
    lat = np.radians(floats(lat_deg))
    hour_angle = _greenwich_sidereal(time_s) - right_ascension + np.radians(floats(lon_deg))
    sin_lat, cos_lat = np.sin(lat), np.cos(lat)
    south = cos_decl * np.cos(hour_angle)
    west = cos_decl * np.sin(hour_angle)
    up = sin_lat * sin_decl + cos_lat * south
    north = cos_lat * sin_decl - sin_lat * south
    flat = np.hypot(north, west)
    zenith = np.arctan2(flat, up) + np.radians(8.794 / 3600.0) * flat
    return SunPosition(np.degrees(zenith), 180.0 + np.degrees(np.arctan2(west, -north)))


def extraterrestrial_w_m2(time_s: ArrayLike) -> Floats:
    """Irradiance above the air on a plane that faces the sun, 1315 to 1408 W/m2 (Meeus 1998, eq. 25.4)."""
    t = _centuries(floats(time_s))
    anomaly = _anomaly(t)
    eccentric = 0.016708634 - 4.2037e-5 * t
    distance_au = 1.0 + eccentric**2 / 2.0 * (1.0 - np.cos(2.0 * anomaly)) - eccentric * np.cos(anomaly)
    return SOLAR_CONSTANT_W_M2 / distance_au**2


def air_mass(zenith_deg: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA) -> Floats:
    """Air the beam crosses, relative to the zenith at sea level; NaN while the sun is down.

    Source: Kasten & Young 1989, Applied Optics 28:4735, eq. 3, scaled by pressure.
    """
    zenith = floats(zenith_deg)
    seen = np.minimum(zenith, 90.0)
    relative = 1.0 / (np.cos(np.radians(seen)) + 0.50572 * (96.07995 - seen) ** -1.6364)
    return np.where(zenith > 90.0, np.nan, relative * floats(pressure_pa) / STANDARD_PRESSURE_PA)


def split_global(
    ghi_w_m2: ArrayLike, zenith_deg: ArrayLike, extraterrestrial: ArrayLike
) -> tuple[Floats, Floats]:
    """Split global radiation into beam on a plane facing the sun and diffuse on the flat: ``(dni, dhi)``.

    Within 3 degrees of the horizon all counts as diffuse.
    Source: Erbs, Klein & Duffie 1982, Solar Energy 28:293, eq. 1 (hourly values, US stations).
    """
    ghi = np.maximum(floats(ghi_w_m2), 0.0)
    up = np.cos(np.radians(floats(zenith_deg)))
    high = up > LOW_SUN_UP
    safe_up = np.where(high, up, 1.0)
    clearness = np.clip(ghi / (floats(extraterrestrial) * safe_up), 0.0, 1.0)
    dhi = ghi * np.where(high, _diffuse_share(clearness), 1.0)
    return (ghi - dhi) / safe_up, dhi


def clear_sky(
    time_s: ArrayLike, zenith_deg: ArrayLike, elevation_m: ArrayLike = 0.0, linke_turbidity: ArrayLike = 3.0
) -> tuple[Floats, Floats, Floats]:
    """Radiation under a cloudless sky: ``(ghi, dni, dhi)``; zero while the sun is down.

    ``linke_turbidity`` counts clean dry atmospheres: 2 in mountain air, 3 in clean country air (the default),
    5 over a hazy city. Source: Ineichen & Perez 2002, Solar Energy 73:151.
    """
    zenith = floats(zenith_deg)
    height = floats(elevation_m)
    haze = floats(linke_turbidity)
    day = zenith < 90.0
    up = np.where(day, np.cos(np.radians(zenith)), 1.0)
    above = extraterrestrial_w_m2(time_s)
    air = air_mass(np.where(day, zenith, 0.0), pressure_at_pa(height))
    low, lower = np.exp(-height / 8000.0), np.exp(-height / 1250.0)
    dimming = (3.92e-5 * height + 0.0387) * air * (low + lower * (haze - 1.0))
    ghi = (5.09e-5 * height + 0.868) * above * up * np.exp(-dimming)
    beam = (0.664 + 0.163 / low) * above * np.exp(-0.09 * air * (haze - 1.0))
    most = ghi / up * np.maximum(1.0 - (0.1 - 0.2 * np.exp(-haze)) / (0.1 + 0.882 / low), 0.0)
    dni = np.minimum(beam, most)
    return np.where(day, ghi, 0.0), np.where(day, dni, 0.0), np.where(day, ghi - dni * up, 0.0)


def cloudy_global(clear_ghi_w_m2: ArrayLike, cloud_share: ArrayLike) -> Floats:
    """Global radiation under a share of cloud in 0..1; an estimate, a quarter passes a fully covered sky.

    Source: Kasten & Czeplak 1980, Solar Energy 24:177.
    """
    cloud = np.clip(floats(cloud_share), 0.0, 1.0)
    return floats(clear_ghi_w_m2) * (1.0 - 0.75 * cloud**3.4)


def box_sun(
    dni_w_m2: ArrayLike,
    dhi_w_m2: ArrayLike,
    sun: SunPosition,
    heading_deg: ArrayLike,
    albedo: ArrayLike = 0.2,
) -> BoxSun:
    """Irradiance on lid, flanks and ends of a box that points along ``heading_deg``.

    Sky and ground are taken as evenly bright (Liu & Jordan 1963, Solar Energy 7:53); ``albedo`` 0.2 is their
    bare ground, tarmac is near 0.1, snow near 0.7. Nothing shades the box here; the loading place does that.
    """
    dni = np.where(sun.zenith_deg < 90.0, floats(dni_w_m2), 0.0)
    dhi = floats(dhi_w_m2)
    zenith = np.radians(sun.zenith_deg)
    turn = np.radians(sun.azimuth_deg - floats(heading_deg))
    level = dni * np.sin(zenith)
    lid_beam = dni * np.cos(zenith)
    aside = np.sin(turn)
    side_diffuse = 0.5 * (dhi + floats(albedo) * (lid_beam + dhi))
    return BoxSun(
        lid_beam, dhi, level * np.abs(aside), level * np.abs(np.cos(turn)), side_diffuse, aside > 0.0
    )


def sun_events(
    lat_deg: ArrayLike, lon_deg: ArrayLike, day_start_s: ArrayLike, elevation_deg: float = SUNRISE_DEG
) -> tuple[Floats, Floats]:
    """Sunrise and sunset around the solar noon of one local day: ``(sunrise_s, sunset_s)``, POSIX seconds.

    ``day_start_s`` is the instant of local midnight. The noon within the following 24 hours is the day's; a
    midsummer sunset after midnight therefore still belongs to the day before. NaN where the sun does not pass
    ``elevation_deg`` on that side of noon (polar day or night). Good to a second of the geometry; hills and
    odd refraction shift what one sees by minutes.
    """
    lat, lon, day = floats_alike(lat_deg, lon_deg, day_start_s)
    noon = _solar_noon(lon, day)
    rise = _crossing(lat, lon, noon - DAY_S / 2, noon, elevation_deg)
    return rise, _crossing(lat, lon, noon + DAY_S / 2, noon, elevation_deg)


def _centuries(time_s: Floats) -> Floats:
    """Julian centuries of terrestrial time since 2000-01-01 12:00."""
    return (time_s + CLOCK_LAG_S - J2000_S) / (36_525.0 * DAY_S)


def _anomaly(t: Floats) -> Floats:
    """The earth's mean anomaly, rad (Meeus 1998, eq. 25.3)."""
    return np.radians(357.52911 + 35_999.05029 * t - 1.537e-4 * t**2)


def _equatorial(time_s: Floats) -> tuple[Floats, Floats, Floats]:
    """Right ascension (rad), sine and cosine of the sun's declination (Meeus 1998, ch. 25)."""
    t = _centuries(time_s)
    longitude = np.radians(_longitude_deg(t))
    tilt = np.radians(23.439291 - 0.0130042 * t + 0.00256 * np.cos(_node(t)))
    sin_long = np.sin(longitude)
    right_ascension = np.arctan2(np.cos(tilt) * sin_long, np.cos(longitude))
    sin_decl = np.sin(tilt) * sin_long
    return right_ascension, sin_decl, np.sqrt(1.0 - sin_decl**2)


def _longitude_deg(t: Floats) -> Floats:
    """Apparent longitude of the sun along the ecliptic (Meeus 1998, ch. 25)."""
    sin_m, cos_m = np.sin(_anomaly(t)), np.cos(_anomaly(t))
    mean = 280.46646 + t * (36_000.76983 + 3.032e-4 * t)
    first = (1.914602 - 4.817e-3 * t - 1.4e-5 * t**2) * sin_m
    second = (0.019993 - 1.01e-4 * t) * 2.0 * sin_m * cos_m
    third = 2.89e-4 * sin_m * (3.0 - 4.0 * sin_m**2)
    return mean + first + second + third + _pulls_deg(t) - 0.00569 - 0.00478 * np.sin(_node(t))


def _node(t: Floats) -> Floats:
    """Ascending node of the moon's orbit, rad; it sets the main nutation term (Meeus 1998, ch. 25)."""
    return np.radians(125.04 - 1934.136 * t)


def _pulls_deg(t: Floats) -> Floats:
    """Pulls of Venus, Jupiter and the moon on the sun's longitude (Meeus, Formulae for Calculators, ch. 18)."""
    t = t + 1.0  # these terms count centuries from 1900
    venus, venus_2 = np.radians(153.23 + 22_518.7541 * t), np.radians(216.57 + 45_037.5082 * t)
    jupiter, moon = np.radians(312.69 + 32_964.3577 * t), np.radians(350.74 + 445_267.1142 * t)
    slow = np.radians(231.19 + 20.20 * t)
    return (
        0.00134 * np.cos(venus)
        + 0.00154 * np.cos(venus_2)
        + 0.00200 * np.cos(jupiter)
        + 0.00179 * np.sin(moon)
        + 0.00178 * np.sin(slow)
    )


def _greenwich_sidereal(time_s: Floats) -> Floats:
    """Apparent sidereal time at Greenwich, rad; Meeus 1998, eq. 12.4, with the main nutation term."""
    days = (time_s - J2000_S) / DAY_S
    t = days / 36_525.0
    nutation = -0.00478 * 0.91746 * np.sin(_node(t))
    return np.radians(280.46061837 + 360.98564736629 * days + 3.87933e-4 * t**2 + nutation)


def _diffuse_share(clearness: Floats) -> Floats:
    """Diffuse share of global radiation (Erbs, Klein & Duffie 1982, eq. 1)."""
    k = clearness
    middle = 0.9511 + k * (-0.1604 + k * (4.388 + k * (-16.638 + k * 12.336)))
    return np.where(k <= 0.22, 1.0 - 0.09 * k, np.where(k <= 0.80, middle, 0.165))


def _solar_noon(lon: Floats, day_start_s: Floats) -> Floats:
    """The instant within 24 hours after ``day_start_s`` at which the sun crosses the meridian."""
    noon = day_start_s + (DAY_S / 2 - _hour_angle_s(day_start_s + DAY_S / 2, lon)) % DAY_S
    return noon - _hour_angle_s(noon, lon)


def _hour_angle_s(time_s: Floats, lon: Floats) -> Floats:
    """Solar time since the nearest noon, -43200 to 43200 s."""
    angle = np.degrees(_greenwich_sidereal(time_s) - _equatorial(time_s)[0]) + lon
    return ((angle + 180.0) % 360.0 - 180.0) / 360.0 * DAY_S


def _crossing(lat: Floats, lon: Floats, night_s: Floats, noon_s: Floats, elevation_deg: float) -> Floats:
    """Bisect between lower and upper transit for the instant at ``elevation_deg``; NaN if never crossed.

    Bisection because it cannot fail where the sun only grazes the horizon.
    """

    def above(time_s: Floats) -> Bools:
        return np.asarray(sun_position(time_s, lat, lon).elevation_deg > elevation_deg)

    crosses = above(noon_s) & ~above(night_s)
    down, up = night_s, noon_s
    for _ in range(20):
        middle = 0.5 * (down + up)
        lit = above(middle)
        down, up = np.where(lit, down, middle), np.where(lit, middle, up)
    return np.where(crosses, 0.5 * (down + up), np.nan)
