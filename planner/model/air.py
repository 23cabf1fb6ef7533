"""Moist air: vapour, density, pressure with height, wind near the ground, heat of evaporation.

Every function takes scalars or arrays that broadcast together. Equation numbers are those of ASHRAE Handbook
Fundamentals 2017, ch. 1, unless a function says otherwise. The small enhancement factor of real moist air
(below 0.5 %) is left out throughout, as that chapter does.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.model.arrays import floats
from planner.model.records import Floats
from planner.units import KELVIN_AT_ZERO_C

GAS_CONSTANT_AIR_J_KGK = 287.042
"""Dry air, as the next: ASHRAE Handbook Fundamentals 2017, ch. 1, eq. 1 and 2."""
GAS_CONSTANT_VAPOUR_J_KGK = 461.524
"""Water vapour."""
STANDARD_PRESSURE_PA = 101_325.0
"""By definition."""
TRIPLE_POINT_K = 273.16
"""Where ice and water meet."""
LAPSE_K_M = 0.0065
"""Fall of the standard atmosphere with height, K per metre: ISO 2533:1975."""
SPECIFIC_HEAT_AIR_J_KGK = 1006.0
"""Dry air at constant pressure: 1.006 kJ/kgK, the chapter's eq. 28."""

_OVER_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
"""Terms of eq. 5: of 1/T, constant, T, T2, T3, T4, ln T."""

_OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)
"""Terms of eq. 6."""

MAGNUS_PA, MAGNUS_SLOPE, MAGNUS_C = 610.94, 17.625, 243.04
"""Alduchov & Eskridge 1996, J Appl Meteorol 35:601, eq. 21."""


def saturation_pressure_pa(temp_c: ArrayLike) -> Floats:
    """Vapour pressure over ice below 0.01 C and over water above, -100 to 200 C, within 0.03 % of the tables.

    Source: Hyland & Wexler 1983, ASHRAE Trans 89(2A):500, as eq. 5 and 6.
    """
    kelvin = floats(temp_c) + KELVIN_AT_ZERO_C
    return np.where(
        kelvin < TRIPLE_POINT_K, _hyland_wexler(kelvin, _OVER_ICE), _hyland_wexler(kelvin, _OVER_WATER)
    )


def saturation_pressure_fast_pa(temp_c: ArrayLike) -> Floats:
    """Vapour pressure over water by one exponential, for the time loop; 0 to 50 C within 0.25 %.

    Source: Alduchov & Eskridge 1996, J Appl Meteorol 35:601, eq. 21.
    """
    temp = floats(temp_c)
    return MAGNUS_PA * np.exp(MAGNUS_SLOPE * temp / (temp + MAGNUS_C))


def dew_point_c(vapour_pa: ArrayLike) -> Floats:
    """Temperature at which this vapour pressure saturates (frost point below 0 C); NaN for dry air.

    Inverts :func:`saturation_pressure_pa` by Newton's method from the Magnus form; exact to 1e-5 K.
    """
    vapour = floats(vapour_pa)
    log_vapour = np.log(np.where(vapour > 0.0, vapour, np.nan))
    log_ratio = log_vapour - np.log(MAGNUS_PA)
    temp: Floats = MAGNUS_C * log_ratio / (MAGNUS_SLOPE - log_ratio)
    for _ in range(4):
        miss = np.log(saturation_pressure_pa(temp)) - log_vapour
        temp = temp - miss / _log_slope_per_k(temp)
    return temp


def dew_point_from_humidity_c(temp_c: ArrayLike, humidity_share: ArrayLike) -> Floats:
    """Dew point of air at ``temp_c`` with relative humidity 0..1 (eq. 12 and 37)."""
    return dew_point_c(floats(humidity_share) * saturation_pressure_pa(temp_c))


def vapour_density_kg_m3(temp_c: ArrayLike, vapour_pa: ArrayLike) -> Floats:
    """Mass of vapour in a cubic metre, by the ideal gas law."""
    kelvin = floats(temp_c) + KELVIN_AT_ZERO_C
    return floats(vapour_pa) / (GAS_CONSTANT_VAPOUR_J_KGK * kelvin)


def air_density_kg_m3(
    temp_c: ArrayLike, pressure_pa: ArrayLike = STANDARD_PRESSURE_PA, vapour_pa: ArrayLike = 0.0
) -> Floats:
    """Density of moist air, by the ideal gas law for its two parts (eq. 1 and 4)."""
    kelvin = floats(temp_c) + KELVIN_AT_ZERO_C
    vapour = floats(vapour_pa)
    dry = (floats(pressure_pa) - vapour) / GAS_CONSTANT_AIR_J_KGK
    return (dry + vapour / GAS_CONSTANT_VAPOUR_J_KGK) / kelvin


def pressure_at_pa(elevation_m: ArrayLike) -> Floats:
    """Pressure of the standard atmosphere, -5000 to 11000 m (eq. 3)."""
    return STANDARD_PRESSURE_PA * (1.0 - 2.25577e-5 * floats(elevation_m)) ** 5.2559


def station_pressure_pa(sea_level_pa: ArrayLike, elevation_m: ArrayLike, air_c: ArrayLike) -> Floats:
    """Pressure at a place from the sea level value of a forecast and the air temperature at the place.

    The barometric formula with 6.5 K/km between place and sea (ISO 2533:1975, standard atmosphere).
    """
    fall_k = LAPSE_K_M * floats(elevation_m)
    sea_level_k = floats(air_c) + KELVIN_AT_ZERO_C + fall_k
    return floats(sea_level_pa) * (1.0 - fall_k / sea_level_k) ** 5.2559


def wind_at_height_ms(wind_10m_ms: ArrayLike, height_m: ArrayLike) -> Floats:
    """Wind over short grass at ``height_m`` (0.2 to 10 m) from the forecast's 10 m value.

    Source: Allen et al. 1998, FAO Irrigation and Drainage Paper 56, eq. 47 (0.748 of it at 2 m, 0.635 at 1 m).
    """
    return floats(wind_10m_ms) * _log_profile(height_m) / _log_profile(10.0)


LATENT_HEAT_30C_J_KG = 2.43e6
"""Heat of evaporation near 30 C: ASHRAE Handbook Fundamentals 2017, ch. 1, table 3; 1 % off over 20-40 C."""


def latent_heat_j_kg(temp_c: ArrayLike) -> Floats:
    """Heat that a kilogram of water takes up when it evaporates at ``temp_c``, 0 to 60 C within 0.3 %.

    Source: the enthalpies of vapour and liquid water in eq. 33.
    """
    return 2.501e6 - 2326.0 * floats(temp_c)


def _hyland_wexler(kelvin: Floats, terms: tuple[float, ...]) -> Floats:
    """Saturation pressure of one phase (eq. 5 or 6)."""
    inverse, constant, first, second, third, fourth, logarithm = terms
    powers = kelvin * (first + kelvin * (second + kelvin * (third + kelvin * fourth)))
    return np.exp(inverse / kelvin + constant + powers + logarithm * np.log(kelvin))


def _log_slope_per_k(temp: Floats) -> Floats:
    """Relative growth of saturation pressure per kelvin (Clausius and Clapeyron), a slope for Newton only.

    Over ice 2.834 MJ/kg (table 3)."""
    heat = np.where(temp < 0.0, 2.834e6, latent_heat_j_kg(temp))
    return heat / (GAS_CONSTANT_VAPOUR_J_KGK * (temp + KELVIN_AT_ZERO_C) ** 2)


def _log_profile(height_m: ArrayLike) -> Floats:
    """What the wind grows by over short grass (FAO 56, eq. 47)."""
    return np.log(67.8 * np.maximum(floats(height_m), 0.2) - 5.42)


STEFAN_BOLTZMANN_W_M2K4 = 5.670374e-8
"""What a black face sends out, by the fourth power of its temperature in kelvin (CODATA 2018)."""

LOW_CLOUD_BLACK = 0.8
"""How far a sky covered by cloud of the common heights makes up for what the clear air lets out (estimate, grade D)."""

UNKNOWN_CLOUD = 0.5
"""Cloud where nobody says: between a sky that takes most and one that takes little."""


def lost_to_sky_w_m2(air_c: Floats, dew_c: Floats, cloud_share: Floats) -> Floats:
    """Heat W/m2 that a black level face as warm as the air loses to the whole sky, beyond what the sky sends back.

    The clear sky sends as a grey body of ``0.711 + 0.56 (d / 100) + 0.73 (d / 100)^2``, d the dew point in C
    (Berdahl & Martin 1984, Solar Energy 32:663, doi 10.1016/0038-092X(84)90144-0: nights at six places in the
    United States, -13 to 24 C, some 10 W/m2; from memory, grade B); cloud makes up for four fifths of the rest.

    >>> round(float(lost_to_sky_w_m2(np.array(10.0), np.array(5.0), np.array(0.0))))
    94
    """
    tenth = dew_c / 100.0
    clear = 0.711 + 0.56 * tenth + 0.73 * tenth**2
    cloud = LOW_CLOUD_BLACK * np.clip(np.nan_to_num(cloud_share, nan=UNKNOWN_CLOUD), 0.0, 1.0)
    return np.asarray(
        STEFAN_BOLTZMANN_W_M2K4 * (air_c + KELVIN_AT_ZERO_C) ** 4 * (1.0 - clear) * (1.0 - cloud)
    )
