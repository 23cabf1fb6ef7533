"""Days made from few numbers: a temperature curve from low and high, sun from a share of cloud."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from planner.model.arrays import floats
from planner.model.records import Floats
from planner.model.sun import clear_sky, cloudy_global, sun_position

HOUR_S = 3600.0
HIGH_AFTER_NOON_S, LOW_AFTER_SUNRISE_S, NIGHT_DECAY = 1.86 * HOUR_S, -0.17 * HOUR_S, 2.20
"""Parton & Logan 1981 for air at 150 cm over short grass: their a, c (hours) and b; hourly error about 2 K."""

_MIDDLES_S = (np.arange(6) + 0.5) / 6.0 * HOUR_S
"""Middles of the sixths of an hour."""


def day_curve_c(
    time_s: ArrayLike, rise_s: ArrayLike, set_s: ArrayLike, low_c: ArrayLike, high_c: ArrayLike
) -> Floats:
    """Air temperature at ``time_s`` (time,) from the dawn low and afternoon high of consecutive days (day,).

    A sine from the low near sunrise over the high to sunset, an exponential fall to the next low at night.
    Before the first dawn the day before, after the last dusk the day after, is taken to be the same.
    Source: Parton & Logan 1981, Agric Meteorol 23:205, eq. 1 and 2; the night's fall is stretched to reach
    the next low exactly (Goudriaan & van Laar 1994, Modelling Potential Crop Growth Processes), where the
    original leaves a step of a tenth of the day's range at dawn.
    """
    time = floats(time_s)
    rise, dusk, low, high = (floats(days) for days in (rise_s, set_s, low_c, high_c))
    rise, dusk = _with_neighbours(rise, 86_400.0), _with_neighbours(dusk, 86_400.0)
    low, high = _with_neighbours(low, 0.0), _with_neighbours(high, 0.0)
    dawn = rise + LOW_AFTER_SUNRISE_S
    half_wave = (dusk - rise) + 2.0 * HIGH_AFTER_NOON_S
    dusk_c = low + (high - low) * np.sin(np.pi * (dusk - dawn) / half_wave)
    day = np.clip(np.searchsorted(dawn, time, side="right") - 1, 0, dawn.size - 2)
    lit = low[day] + (high - low)[day] * np.sin(np.pi * (time - dawn[day]) / half_wave[day])
    share = (time - dusk[day]) / (dawn[day + 1] - dusk[day])
    fall = (np.exp(-NIGHT_DECAY * share) - np.exp(-NIGHT_DECAY)) / (1.0 - np.exp(-NIGHT_DECAY))
    dark = low[day + 1] + (dusk_c[day] - low[day + 1]) * fall
    return np.where(time < dusk[day], lit, dark)


def sun_of_hour_before_w_m2(
    time_s: ArrayLike, lat_deg: ArrayLike, lon_deg: ArrayLike, elevation_m: ArrayLike, cloud_share: ArrayLike
) -> Floats:
    """Mean global radiation of the hour before each stamp, estimated from cloud; (hour, point).

    Clear sky times the share that cloud lets through (:func:`planner.model.sun.cloudy_global`), averaged over
    six instants. ``time_s`` (hour,), places (point,), ``cloud_share`` (hour, point); NaN cloud stays NaN.
    """
    time = floats(time_s)[:, None]
    total = np.zeros(np.broadcast_shapes(time.shape, np.shape(lat_deg)))
    for back_s in _MIDDLES_S:
        zenith = sun_position(time - back_s, lat_deg, lon_deg).zenith_deg
        total = total + clear_sky(time - back_s, zenith, elevation_m)[0]
    return cloudy_global(total / _MIDDLES_S.size, cloud_share)


def _with_neighbours(days: Floats, step: float) -> Floats:
    return np.concatenate(([days[0] - step], days, [days[-1] + step]))
