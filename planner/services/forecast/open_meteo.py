"""Open-Meteo: forecast, all ensemble members, archive and elevation, on the public, a paid or one's own server.

All points of a road go into one request. Instants and means follow the service's documentation: temperature,
humidity, wind, cloud and pressure at the stamp; radiation as mean, rain as sum, gusts as highest of the hour
before it, which is what Weather wants. Format: https://open-meteo.com/en/docs and the server's own source.
Data CC BY 4.0; the free address is for non-commercial use.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from urllib.parse import urlsplit, urlunsplit

import msgspec
import numpy as np

from planner.model.air import dew_point_from_humidity_c
from planner.model.records import Floats, Weather
from planner.services.forecast.assemble import Series, assemble, check_covers, dated, possible_heights_m
from planner.services.forecast.points import Points
from planner.services.forecast.registry import OPEN_METEO
from planner.services.forecast.span import Span
from planner.services.forecast.wire_units import to_si, wind_components
from planner.services.http import Client, UnreadableError, json_as
from planner.services.settings import Settings
from planner.words import say

SERVICE = OPEN_METEO.title
PAST_DAYS = 90
ELEVATIONS_AT_ONCE = 100

_UNIT_OF = {
    "temperature_2m": "temperature",
    "dew_point_2m": "temperature",
    "relative_humidity_2m": "share",
    "wind_speed_10m": "speed",
    "wind_direction_10m": "angle",
    "wind_gusts_10m": "speed",
    "cloud_cover": "share",
    "shortwave_radiation": "irradiance",
    "direct_normal_irradiance": "irradiance",
    "diffuse_radiation": "irradiance",
    "surface_pressure": "pressure",
    "precipitation": "rain",
}
_PLAIN = {
    "temperature_2m": "air_c",
    "dew_point_2m": "dew_c",
    "wind_gusts_10m": "gust_ms",
    "cloud_cover": "cloud_share",
    "shortwave_radiation": "ghi_w_m2",
    "direct_normal_irradiance": "dni_w_m2",
    "diffuse_radiation": "dhi_w_m2",
    "surface_pressure": "pressure_pa",
    "precipitation": "rain_mm",
}
FORECAST = tuple(name for name in _UNIT_OF if name != "relative_humidity_2m")
ENSEMBLE = (
    "temperature_2m",
    "relative_humidity_2m",
    "wind_speed_10m",
    "wind_direction_10m",
    "shortwave_radiation",
    "cloud_cover",
)
_MEMBER = re.compile(r"^(?P<name>.+?)(?:_member(?P<member>\d{2,3}))?$")


class _Location(msgspec.Struct):
    latitude: float
    longitude: float
    hourly_units: dict[str, str]
    hourly: dict[str, list[float | None]]
    elevation: float | None = None


class _Heights(msgspec.Struct):
    elevation: list[float | None]


def forecast(client: Client, settings: Settings, points: Points, span: Span) -> Weather:
    """The forecast for every point, in one request."""
    first, last = span.text("%Y-%m-%dT%H:%M")
    return _weather(
        client,
        settings,
        f"{_base(settings.forecast.open_meteo_url, settings.forecast.key)}/v1/forecast",
        points,
        {"hourly": ",".join(FORECAST), "start_hour": first, "end_hour": last},
        [span],
        kind="forecast",
        source="Open-Meteo forecast",
    )[0]


def archive(client: Client, settings: Settings, points: Points, span: Span) -> Weather:
    """What the weather was (reanalysis, from 1940 to about five days ago), in one request."""
    return archives(client, settings, points, [span])[0]


def archives(client: Client, settings: Settings, points: Points, spans: Sequence[Span]) -> list[Weather]:
    """The same for several spans of equal length at once: every point is asked once for each span."""
    texts = [span.text("%Y-%m-%d") for span in spans]
    dates = {
        "start_date": ",".join(first for first, _ in texts for _ in range(len(points))),
        "end_date": ",".join(last for _, last in texts for _ in range(len(points))),
    }
    if len(spans) == 1:
        dates = {"start_date": texts[0][0], "end_date": texts[0][1]}
    return _weather(
        client,
        settings,
        f"{_base(settings.forecast.archive_url, settings.forecast.key)}/v1/archive",
        points,
        {"hourly": ",".join(FORECAST), **dates},
        spans,
        kind="archive",
        source="Open-Meteo archive",
        keep_s=86_400.0,
    )


def ensemble(
    client: Client, settings: Settings, points: Points, span: Span, models: str = "ecmwf_ifs025_ensemble"
) -> tuple[Weather, ...]:
    """Every member of an ensemble forecast, the control first; see :func:`call_weight` for what it costs."""
    first, last = span.text("%Y-%m-%dT%H:%M")
    asked = {"hourly": ",".join(ENSEMBLE), "models": models, "start_hour": first, "end_hour": last}
    url = f"{_base(settings.forecast.ensemble_url, settings.forecast.key)}/v1/ensemble"

    def read(body: bytes) -> list[Weather]:
        locations = _locations(body)
        members = sorted({_member(key) for key in locations[0].hourly if key != "time"}) if locations else []
        if not members or len(locations) != len(points):
            raise UnreadableError("the answer holds no members of the ensemble for these places")
        return [
            assemble(
                points,
                _covering(points, locations, member, span),
                source=say("services.open_meteo_ensemble", models=str(models), member=str(member)),
                attribution=OPEN_METEO.attribution,
                issued_s=float("nan"),
                kind="ensemble",
            )
            for member in members
        ]

    answer = client.get(
        f"{SERVICE} ensemble", url, read, params=_params(points, asked), headers=_headers(settings)
    )
    return tuple(dated(member, answer.fetched_s, answer.notes) for member in answer.value)


def elevations_m(client: Client, settings: Settings, lat_deg: Floats, lon_deg: Floats) -> Floats:
    """Heights of up to 100 places from the service's 90 m terrain model, in one request."""
    asked = {"latitude": _numbers(lat_deg), "longitude": _numbers(lon_deg)}

    def read(body: bytes) -> Floats:
        heights = _floats(json_as(_Heights)(body).elevation)
        if heights.size != lat_deg.size:
            raise UnreadableError(
                say("services.heights_came_places", size=str(heights.size), size_2=str(lat_deg.size))
            )
        heights = possible_heights_m(heights)
        if not np.isfinite(heights).any():
            raise UnreadableError("the answer holds no heights")
        return heights

    url = f"{_base(settings.forecast.open_meteo_url, settings.forecast.key)}/v1/elevation"
    return client.get(
        f"{SERVICE} elevation", url, read, params=asked, headers=_headers(settings), keep_s=365 * 86_400.0
    ).value


def call_weight(points: int, days: float, variables: int = len(FORECAST), members: int = 1) -> float:
    """How many calls a request counts for; free are 600 a minute, 5 000 an hour, 10 000 a day.

    Source: the service's published pricing rule, also in its server's rate limiter.
    """
    share = variables * members / 10.0
    return points * max(1.0, share, days / 14.0 * share)


def _weather(
    client: Client,
    settings: Settings,
    url: str,
    points: Points,
    asked: dict[str, str],
    spans: Sequence[Span],
    *,
    kind: str,
    source: str,
    keep_s: float = 3600.0,
) -> list[Weather]:
    rounds = len(spans)

    def read(body: bytes) -> list[Weather]:
        locations = _locations(body)
        if len(locations) != rounds * len(points):
            raise UnreadableError(
                say(
                    "services.other_places",
                    count=len(locations),
                    rounds=str(rounds * len(points)),
                )
            )
        return [
            assemble(
                points,
                _covering(points, locations[start : start + len(points)], 0, spans[start // len(points)]),
                source=source,
                attribution=OPEN_METEO.attribution,
                issued_s=float("nan"),
                kind=kind,
            )
            for start in range(0, len(locations), len(points))
        ]

    params = _params(points, asked, rounds)
    answer = client.get(source, url, read, params=params, headers=_headers(settings), keep_s=keep_s)
    return [dated(weather, answer.fetched_s, answer.notes) for weather in answer.value]


def _locations(body: bytes) -> list[_Location]:
    """One place comes as an object, several as an array, always in the order asked for."""
    said = json_as(_Location | list[_Location])(body)  # type: ignore[arg-type]
    return said if isinstance(said, list) else [said]


def _covering(points: Points, locations: Sequence[_Location], member: int, span: Span) -> list[Series]:
    """The series of each place, which must be about the span asked."""
    found = [_series(location, member) for location in locations]
    for one, km in zip(found, points.km, strict=True):
        check_covers(one, span, float(km))
    return found


def _series(location: _Location, member: int) -> Series:
    """One place's hours; a member's columns carry its number in their names, the control's none."""
    columns = {
        match["name"]: to_si(_floats(values), location.hourly_units.get(key, ""), _UNIT_OF[match["name"]])
        for key, values in location.hourly.items()
        if (match := _MEMBER.match(key)) and match["name"] in _UNIT_OF and _member(key) == member
    }
    values = {field: columns[name] for name, field in _PLAIN.items() if name in columns}
    if "dew_c" not in values and "relative_humidity_2m" in columns and "air_c" in values:
        values["dew_c"] = dew_point_from_humidity_c(values["air_c"], columns["relative_humidity_2m"])
    if "wind_speed_10m" in columns and "wind_direction_10m" in columns:
        values["wind_east_ms"], values["wind_north_ms"] = wind_components(
            columns["wind_speed_10m"], columns["wind_direction_10m"]
        )
    if "time" not in location.hourly:
        raise UnreadableError("the answer holds no time stamps")
    height = float("nan") if location.elevation is None else location.elevation
    return Series(_floats(location.hourly["time"]), values, location.latitude, location.longitude, height)


def _member(key: str) -> int:
    match = _MEMBER.match(key)
    return int(match["member"] or 0) if match else 0


def _floats(values: Sequence[float | None]) -> Floats:
    return np.array([np.nan if value is None else value for value in values], dtype=np.float64)


def _params(points: Points, asked: dict[str, str], rounds: int = 1) -> dict[str, str]:
    return {
        "latitude": ",".join([_numbers(points.lat_deg)] * rounds),
        "longitude": ",".join([_numbers(points.lon_deg)] * rounds),
        **asked,
        "wind_speed_unit": "ms",
        "timeformat": "unixtime",
        "timezone": "GMT",
    }


def _numbers(degrees: Floats) -> str:
    return ",".join(f"{value:.4f}" for value in degrees)


def _headers(settings: Settings) -> dict[str, str]:
    return {"X-Api-Key": settings.forecast.key} if settings.forecast.key else {}


def _base(url: str, key: str) -> str:
    """The address to ask; with a key the service's own hosts become their paid twins."""
    parts = urlsplit(url.rstrip("/"))
    if key and parts.netloc.endswith(".open-meteo.com") and not parts.netloc.startswith("customer-"):
        parts = parts._replace(netloc=f"customer-{parts.netloc}")
    return urlunsplit(parts)
