"""Weather where a track is: hourly values along the road brought to any instant and kilometre.

Instants are interpolated straight in time and along the road; radiation, a mean of the preceding hour,
is carried as clearness (its ratio to the sun outside the atmosphere), so that dawn and dusk keep their
shape. Missing values stay NaN all the way into the answer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.model import air, sun
from planner.model.records import Floats, Ints, Road, Weather
from planner.model.timeline import VehicleState

HOUR_S = 3600.0
STOOD_H = 24
"""Hours looked back for what combs still carry: four lags and more."""

SUBSAMPLES = 6
MAX_CLEARNESS = 1.1
"""Bright clouds beside the sun lift an hour above the clear sky, never much above the sky without air."""


@dataclass(frozen=True)
class OutsideWeather:
    """Outside conditions of every track; all ``(time, track)``.

    ``vapour_kg_m3`` outside vapour density, ``heat_j_m3k`` heat one cubic metre of air carries per kelvin,
    ``wind_ms`` at 10 m with its parts (the direction the air moves to); ``rain_mm_h`` (0 where unknown);
    irradiances on the lid and the sides, with the
    share of it that is diffuse (``*_diffuse``) kept apart; ``sky_w_m2`` heat that a black lid as warm as the air
    loses to the whole sky.
    """

    air_c: Floats
    dew_c: Floats
    vapour_kg_m3: Floats
    heat_j_m3k: Floats
    wind_ms: Floats
    wind_east_ms: Floats
    wind_north_ms: Floats
    ghi_w_m2: Floats
    rain_mm_h: Floats
    lid_beam_w_m2: Floats
    lid_diffuse_w_m2: Floats
    flank_beam_w_m2: Floats
    end_beam_w_m2: Floats
    side_diffuse_w_m2: Floats
    sun_elevation_deg: Floats
    sky_w_m2: Floats


def outside_weather(weather: Weather, vehicle: VehicleState, albedo: Floats) -> OutsideWeather:
    """Outside conditions at every instant and place of the tracks."""
    at = _Locator(weather, vehicle.time_s, vehicle.km)
    above_m = _above_station_m(weather, vehicle.elevation_m)
    air_c = at.instant(weather.air_c) - air.LAPSE_K_M * above_m
    dew_c = np.minimum(at.instant(weather.dew_c), air_c)
    east, north = at.instant(weather.wind_east_ms), at.instant(weather.wind_north_ms)
    pressure = at.instant(weather.pressure_pa) * air.pressure_at_pa(above_m) / air.STANDARD_PRESSURE_PA
    position = sun.sun_position(vehicle.time_s, vehicle.lat_deg, vehicle.lon_deg)
    ghi, dni, dhi = _radiation(weather, at, vehicle, position)
    faces = sun.box_sun(dni, dhi, position, vehicle.heading_deg, albedo)
    vapour_pa = air.saturation_pressure_fast_pa(dew_c)
    return OutsideWeather(
        air_c=air_c,
        dew_c=dew_c,
        vapour_kg_m3=air.vapour_density_kg_m3(air_c, vapour_pa),
        heat_j_m3k=air.SPECIFIC_HEAT_AIR_J_KGK * air.air_density_kg_m3(air_c, pressure, vapour_pa),
        wind_ms=np.hypot(east, north),
        wind_east_ms=east,
        wind_north_ms=north,
        ghi_w_m2=ghi,
        rain_mm_h=np.nan_to_num(at.preceding_hour(weather.rain_mm)),
        lid_beam_w_m2=faces.lid_beam_w_m2,
        lid_diffuse_w_m2=faces.lid_diffuse_w_m2,
        flank_beam_w_m2=faces.flank_beam_w_m2,
        end_beam_w_m2=faces.end_beam_w_m2,
        side_diffuse_w_m2=faces.side_diffuse_w_m2,
        sun_elevation_deg=position.elevation_deg,
        sky_w_m2=air.lost_to_sky_w_m2(air_c, dew_c, at.instant(weather.cloud_share)),
    )


def _above_station_m(weather: Weather, elevation_m: Floats) -> Floats:
    """Height of the road over the only point of a forecast, m; 0 where several points follow it, or unknown.

    The air is taken to fall with height as in the standard atmosphere, its dew point to stay below it.
    """
    if weather.km.size > 1:
        return np.zeros(elevation_m.shape)
    return np.asarray(np.nan_to_num(elevation_m - weather.elevation_m[0]))


def clearness(weather: Weather) -> tuple[Floats, Floats]:
    """Clearness of every preceding hour and its diffuse share (NaN where not offered), each (hour, point)."""
    ends = weather.time_s[:, None]
    steps = (np.arange(SUBSAMPLES) + 0.5) / SUBSAMPLES - 1.0
    outside = np.zeros(weather.ghi_w_m2.shape)
    for step in steps:
        time_s = ends + step * HOUR_S
        zenith = sun.sun_position(time_s, weather.lat_deg, weather.lon_deg).zenith_deg
        outside += _horizontal(time_s, zenith) / SUBSAMPLES
    lit = outside > 1.0
    ratio = np.divide(weather.ghi_w_m2, outside, out=np.zeros_like(outside), where=lit)
    ratio[np.isnan(weather.ghi_w_m2)] = np.nan
    bright = weather.ghi_w_m2 > 1.0
    diffuse = np.divide(weather.dhi_w_m2, weather.ghi_w_m2, out=np.full_like(outside, np.nan), where=bright)
    return np.clip(ratio, 0.0, MAX_CLEARNESS), np.clip(diffuse, 0.0, 1.0)


def _horizontal(time_s: Floats, zenith_deg: Floats) -> Floats:
    """Sun on a level surface outside the atmosphere, W/m2."""
    return sun.extraterrestrial_w_m2(time_s) * np.maximum(np.cos(np.radians(zenith_deg)), 0.0)


def _radiation(
    weather: Weather, at: _Locator, vehicle: VehicleState, position: sun.SunPosition
) -> tuple[Floats, Floats, Floats]:
    """Global, direct normal and diffuse radiation at the tracks."""
    ratio, diffuse = clearness(weather)
    outside = _horizontal(vehicle.time_s, position.zenith_deg)
    ghi = at.preceding_hour(ratio) * outside
    extraterrestrial = sun.extraterrestrial_w_m2(vehicle.time_s)
    dni_split, dhi_split = sun.split_global(np.nan_to_num(ghi), position.zenith_deg, extraterrestrial)
    share = at.preceding_hour(diffuse)
    up = np.maximum(np.cos(np.radians(position.zenith_deg)), sun.LOW_SUN_UP)
    known = ~np.isnan(share)
    dhi = np.where(known, np.nan_to_num(share) * ghi, dhi_split)
    dni = np.where(known, np.minimum((ghi - dhi) / up, extraterrestrial), dni_split)
    missing = np.isnan(ghi)
    dni[missing], dhi[missing] = np.nan, np.nan
    return ghi, dni, dhi


class _Locator:
    """Where each instant and kilometre falls between the hours and points of a forecast."""

    def __init__(self, weather: Weather, time_s: Floats, km: Floats) -> None:
        self._time, self._time_share = _between(weather.time_s, time_s)
        self._point, self._point_share = _between(weather.km, km)
        last = weather.time_s.size - 1
        self._outside = (time_s < weather.time_s[0]) | (time_s > weather.time_s[-1])
        before_first = time_s < weather.time_s[0] - HOUR_S
        self._hour = np.clip(np.searchsorted(weather.time_s, time_s, side="left"), 0, last)
        self._no_hour = before_first | (time_s > weather.time_s[-1])

    def instant(self, values: Floats) -> Floats:
        """Straight interpolation in time and along the road; NaN outside the hours."""
        low = self._along(values, self._time)
        high = self._along(values, np.minimum(self._time + 1, values.shape[0] - 1))
        share = self._time_share
        out = np.where(share > 0.0, low + (high - low) * share, low)
        return np.where(self._outside, np.nan, out)

    def preceding_hour(self, values: Floats) -> Floats:
        """The value of the hour that contains the instant."""
        return np.where(self._no_hour, np.nan, self._along(values, self._hour))

    def _along(self, values: Floats, hour: Ints) -> Floats:
        near = values[hour, self._point]
        if values.shape[1] == 1:
            return near
        far = values[hour, np.minimum(self._point + 1, values.shape[1] - 1)]
        return np.where(self._point_share > 0.0, near + (far - near) * self._point_share, near)


def _between(nodes: Floats, at: Floats) -> tuple[Ints, Floats]:
    """Index of the node below and the share of the way to the next one; clipped to the ends."""
    if nodes.size == 1:
        return np.zeros(at.shape, dtype=np.int64), np.zeros(at.shape)
    low = np.clip(np.searchsorted(nodes, at, side="right") - 1, 0, nodes.size - 2)
    share = (at - nodes[low]) / (nodes[low + 1] - nodes[low])
    return low, np.clip(share, 0.0, 1.0)


def air_stood_in_c(weather: Weather, km: Floats, before_s: Floats, lag_h: float) -> Floats:
    """Air that heavy combs still carry of the hours before an instant, C; of places along the road, both (place,).

    A mean over ``STOOD_H`` hours whose weight falls by e every ``lag_h``; hours without weather are left out, and
    NaN comes back where there is none at all.
    """
    back_h = np.arange(STOOD_H + 1)
    time_s = before_s - back_h[:, None] * HOUR_S
    found = _Locator(weather, time_s, np.broadcast_to(km, time_s.shape)).instant(weather.air_c)
    weight = np.where(np.isnan(found), 0.0, np.exp(-back_h / lag_h)[:, None])
    total = weight.sum(axis=0)
    mean = (np.nan_to_num(found) * weight).sum(axis=0)
    return np.asarray(np.divide(mean, total, out=np.full(total.shape, np.nan), where=total > 0.0))


def along_road(
    weather: Weather, road: Road, time_s: Floats, arrive_s: Floats, leave_s: Floats
) -> dict[str, Floats]:
    """Air, dew point, wind and sun where the vehicle is, each (time,).

    Parameters
    ----------
    time_s : (time,) POSIX seconds
    arrive_s, leave_s : (call,) of one departure
    """
    knots = np.stack((arrive_s, leave_s), axis=1).ravel()
    drive_s = np.interp(time_s, knots, np.repeat(road.drive_s[list(road.waypoint_vertex)], 2))
    at = _Locator(weather, time_s, np.interp(drive_s, road.drive_s, road.km))
    above_m = _above_station_m(weather, np.interp(drive_s, road.drive_s, road.elevation_m))
    air_c = at.instant(weather.air_c) - air.LAPSE_K_M * above_m
    east, north = at.instant(weather.wind_east_ms), at.instant(weather.wind_north_ms)
    return {
        "air_c": air_c,
        "dew_c": np.minimum(at.instant(weather.dew_c), air_c),
        "wind_ms": np.hypot(east, north),
        "ghi_w_m2": at.preceding_hour(weather.ghi_w_m2),
    }
