"""How the stand-in speaks the forecast services' formats, about invented weather."""

from __future__ import annotations

import math
import time
from collections.abc import Callable
from datetime import UTC, datetime
from email.utils import formatdate
from typing import Any

from tests.services.standin import HOUR_S, Seen, StandIn, speaks


def weather_at(time_s: float, lat_deg: float, lon_deg: float) -> dict[str, float]:
    """The invented weather at one hour and place, SI units; cooler to the north, hot in the afternoon."""
    hour = (time_s / HOUR_S + lon_deg / 15.0) % 24.0
    air_c = 20.0 - 0.5 * (lat_deg - 50.0) + 8.0 * math.sin((hour - 9.0) / 24.0 * 2.0 * math.pi)
    sun = max(0.0, 800.0 * math.sin((hour - 5.5) / 14.0 * math.pi)) if 5.5 < hour < 19.5 else 0.0
    return {
        "air_c": round(air_c, 1),
        "dew_c": 9.0,
        "wind_ms": 3.0,
        "wind_from_deg": 270.0,
        "gust_ms": 6.0,
        "cloud_share": 0.25,
        "ghi_w_m2": round(sun, 1),
        "pressure_pa": 100_000.0,
        "rain_mm": 0.0,
    }


_OPEN_METEO = {
    "temperature_2m": ("°C", lambda w: w["air_c"]),
    "dew_point_2m": ("°C", lambda w: w["dew_c"]),
    "relative_humidity_2m": ("%", lambda _w: 50.0),
    "wind_speed_10m": ("m/s", lambda w: w["wind_ms"]),
    "wind_direction_10m": ("°", lambda w: w["wind_from_deg"]),
    "wind_gusts_10m": ("m/s", lambda w: w["gust_ms"]),
    "cloud_cover": ("%", lambda w: 100.0 * w["cloud_share"]),
    "shortwave_radiation": ("W/m²", lambda w: w["ghi_w_m2"]),
    "direct_normal_irradiance": ("W/m²", lambda w: 0.8 * w["ghi_w_m2"]),
    "diffuse_radiation": ("W/m²", lambda w: 0.3 * w["ghi_w_m2"]),
    "surface_pressure": ("hPa", lambda w: w["pressure_pa"] / 100.0),
    "precipitation": ("mm", lambda w: w["rain_mm"]),
}


def _refusal(reason: str) -> tuple[int, Any, dict[str, str]]:
    return 400, {"error": True, "reason": reason}, {}


def _moment(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def _open_meteo(seen: Seen, columns: Callable[[str, float, float], dict[str, Any]]) -> Any:
    """One object for one place, an array for several, as the real server does."""
    lats, lons = ([float(x) for x in seen.query[name].split(",")] for name in ("latitude", "longitude"))
    if len(lats) != len(lons):
        return _refusal("Parameter 'latitude' and 'longitude' must have the same number of elements")
    if len(lats) > 1000:
        return _refusal("Only up to 1000 locations can be requested at once")
    names = seen.query["hourly"].split(",")
    for name in names:
        if name not in _OPEN_METEO:
            return _refusal(f"Data corrupted at path ''. Cannot initialize from invalid String value {name}.")
    starts = seen.query.get("start_hour", seen.query.get("start_date", "")).split(",")
    ends = seen.query.get("end_hour", seen.query.get("end_date", "")).split(",")
    whole_days = 0 if "start_hour" in seen.query else 23 * HOUR_S
    documents = []
    for index, (lat, lon) in enumerate(zip(lats, lons, strict=True)):
        one = index if len(starts) > 1 else 0
        first, last = _moment(starts[one]), _moment(ends[one]) + whole_days
        times = [first + HOUR_S * hour for hour in range(round((last - first) / HOUR_S) + 1)]
        units, hourly = {"time": "unixtime"}, {"time": [int(t) for t in times]}
        for name in names:
            for key, values in columns(name, lat, lon).items():
                units[key] = _OPEN_METEO[name][0]
                hourly[key] = [values(t) for t in times]
        document = {
            "latitude": round(lat, 1),
            "longitude": round(lon, 1),
            "generationtime_ms": 0.2,
            "utc_offset_seconds": 0,
            "timezone": "GMT",
            "timezone_abbreviation": "GMT",
            "elevation": 98.0,
            "hourly_units": units,
            "hourly": hourly,
        }
        documents.append(document if index == 0 else {**document, "location_id": index})
    return documents if len(documents) > 1 else documents[0]


def _plain_columns(name: str, lat: float, lon: float) -> dict[str, Any]:
    return {name: lambda t: _OPEN_METEO[name][1](weather_at(t, lat, lon))}


@speaks("/v1/forecast")
def _forecast(world: StandIn, seen: Seen) -> Any:
    return _open_meteo(seen, _plain_columns)


@speaks("/v1/archive")
def _archive(world: StandIn, seen: Seen) -> Any:
    def columns(name: str, lat: float, lon: float) -> dict[str, Any]:
        """Later years are warmer by half a degree each, so that tests can tell them apart."""

        def value(t: float) -> float:
            warm = 0.5 * (datetime.fromtimestamp(t, UTC).year - 2020)
            return _OPEN_METEO[name][1](weather_at(t, lat, lon)) + (warm if name == "temperature_2m" else 0.0)

        return {name: value}

    return _open_meteo(seen, columns)


@speaks("/v1/ensemble")
def _ensemble(world: StandIn, seen: Seen) -> Any:
    """A control and four members, each half a degree warmer than the one before."""

    def columns(name: str, lat: float, lon: float) -> dict[str, Any]:
        def member(number: int) -> Any:
            extra = 0.5 * number if name == "temperature_2m" else 0.0
            return lambda t: _OPEN_METEO[name][1](weather_at(t, lat, lon)) + extra

        return {name if n == 0 else f"{name}_member{n:02d}": member(n) for n in range(5)}

    return _open_meteo(seen, columns) if "models" in seen.query else _refusal("models is missing")


@speaks("/v1/elevation")
def _elevation(world: StandIn, seen: Seen) -> Any:
    lats = [float(x) for x in seen.query["latitude"].split(",")]
    if len(lats) > 100:
        return _refusal("Parameter count must be between 1 and 100.")
    return {"elevation": [round(100.0 + 500.0 * math.sin(7.0 * lat) ** 2, 1) for lat in lats]}


@speaks("/weatherapi/locationforecast/2.0/complete")
def _met_norway(world: StandIn, seen: Seen) -> Any:
    """Hourly for 54 hours from the start of today, then six-hourly to ten days."""
    if "Skepway" not in seen.headers.get("User-Agent", "") or "(" not in seen.headers.get("User-Agent", ""):
        return 403, b"", {}
    if any(len(seen.query[name].partition(".")[2]) > 4 for name in ("lat", "lon")):
        return 403, b"", {}
    lat, lon = float(seen.query["lat"]), float(seen.query["lon"])
    start = world.today_s
    offsets = [*range(54), *range(54, 241, 6)]
    rows = []
    for hours in offsets:
        told = weather_at(start + hours * HOUR_S, lat, lon)
        instant = {
            "air_temperature": told["air_c"],
            "dew_point_temperature": told["dew_c"],
            "relative_humidity": 50.0,
            "wind_speed": told["wind_ms"],
            "wind_from_direction": told["wind_from_deg"],
            "wind_speed_of_gust": told["gust_ms"],
            "cloud_area_fraction": 100.0 * told["cloud_share"],
            "air_pressure_at_sea_level": 1013.0,
        }
        data: dict[str, Any] = {"instant": {"details": instant}}
        coming = [weather_at(start + (hours + k) * HOUR_S, lat, lon)["air_c"] for k in range(7)]
        if hours < 54:
            data["next_1_hours"] = {"summary": {}, "details": {"precipitation_amount": 0.5}}
        if hours < offsets[-1]:
            data["next_6_hours"] = {
                "summary": {},
                "details": {
                    "air_temperature_max": max(coming),
                    "air_temperature_min": min(coming),
                    "precipitation_amount": 3.0,
                },
            }
        stamp = datetime.fromtimestamp(start + hours * HOUR_S, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
        rows.append({"time": stamp, "data": data})
    units = {
        "air_temperature": "celsius",
        "air_temperature_max": "celsius",
        "air_temperature_min": "celsius",
        "dew_point_temperature": "celsius",
        "relative_humidity": "%",
        "wind_speed": "m/s",
        "wind_from_direction": "degrees",
        "wind_speed_of_gust": "m/s",
        "cloud_area_fraction": "%",
        "air_pressure_at_sea_level": "hPa",
        "precipitation_amount": "mm",
    }
    document = {
        "type": "Feature",
        "geometry": {"type": "Point", "coordinates": [lon, lat, float(seen.query.get("altitude", 0))]},
        "properties": {
            "meta": {
                "updated_at": datetime.fromtimestamp(start - 1800, UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
                "units": units,
            },
            "timeseries": rows,
        },
    }
    stamp = formatdate(start - 1800, usegmt=True)
    return 200, document, {"Last-Modified": stamp, "Expires": formatdate(time.time() + 1800, usegmt=True)}


@speaks(r"/points/(-?[\d.]+),(-?[\d.]+)")
def _nws_point(world: StandIn, seen: Seen, lat: str, lon: str) -> Any:
    if not 24.0 < float(lat) < 50.0 or not -125.0 < float(lon) < -66.0:
        problem = {
            "type": "urn:noaa:nws:api:InvalidPoint",
            "title": "Data Unavailable For Requested Point",
            "status": 404,
            "detail": f"Unable to provide data for requested point {lat},{lon}",
        }
        return 404, problem, {"Content-Type": "application/problem+json"}
    return {"properties": {"forecastGridData": f"{world.url}/gridpoints/INV/{lat},{lon}", "gridId": "INV"}}


@speaks(r"/gridpoints/INV/(-?[\d.]+),(-?[\d.]+)")
def _nws_grid(world: StandIn, seen: Seen, lat: str, lon: str) -> Any:
    """Seven days; temperature by the hour, wind and cloud in stretches of three hours, rain of six."""

    def layer(name: str, unit: str, step: int, scale: float) -> dict[str, Any]:
        values = []
        for hours in range(0, 168, step):
            begin = world.today_s + hours * HOUR_S
            stamp = datetime.fromtimestamp(begin, UTC).isoformat()
            value = scale * weather_at(begin, float(lat), float(lon)).get(name, 3.0)
            values.append({"validTime": f"{stamp}/PT{step}H", "value": value})
        return {"uom": unit, "values": values}

    return {
        "properties": {
            "updateTime": datetime.fromtimestamp(world.today_s - 3600, UTC).isoformat(),
            "elevation": {"unitCode": "wmoUnit:m", "value": 250.0},
            "temperature": layer("air_c", "wmoUnit:degC", 1, 1.0),
            "dewpoint": layer("dew_c", "wmoUnit:degC", 3, 1.0),
            "relativeHumidity": layer("humidity", "wmoUnit:percent", 1, 15.0),
            "skyCover": layer("cloud_share", "wmoUnit:percent", 3, 100.0),
            "windSpeed": layer("wind_ms", "wmoUnit:km_h-1", 3, 3.6),
            "windDirection": layer("wind_from_deg", "wmoUnit:degree_(angle)", 3, 1.0),
            "windGust": layer("gust_ms", "wmoUnit:km_h-1", 3, 3.6),
            "quantitativePrecipitation": layer("rain", "wmoUnit:mm", 6, 1.0),
            "pressure": {"values": []},
        }
    }
