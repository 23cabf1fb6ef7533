"""The US National Weather Service's grid: a third source, the United States only, no radiation.

Two requests for each point: which grid cell it lies in (kept for a month), then that cell's layers, whose
values hold for stated stretches of time. Format: https://www.weather.gov/documentation/services-web-api.
Public domain; wants an agent with a contact.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlsplit

import msgspec
import numpy as np

from planner.errors import ServiceError
from planner.model.air import dew_point_from_humidity_c, pressure_at_pa
from planner.model.records import Floats, Weather
from planner.model.sky import sun_of_hour_before_w_m2
from planner.services.forecast.assemble import LONGEST_H, Series, assemble, check_covers, dated
from planner.services.forecast.points import Points
from planner.services.forecast.registry import NWS
from planner.services.forecast.span import HOUR_S, Span, instant_s, since
from planner.services.forecast.wire_units import to_si, wind_components
from planner.services.http import CachedResponse, Client, UnreadableError, json_as, unreadable
from planner.services.settings import Settings
from planner.words import say

SERVICE = NWS.title
GAP_S = 0.1
MONTH_S = 30 * 86_400.0

_LAYERS = {
    "temperature": "temperature",
    "dewpoint": "temperature",
    "relativeHumidity": "share",
    "skyCover": "share",
    "windSpeed": "speed",
    "windDirection": "angle",
    "windGust": "speed",
    "quantitativePrecipitation": "rain",
}
_DURATION = re.compile(r"P(?:(\d{1,4})D)?(?:T(?:(\d{1,5})H)?)?$")


class _Cell(msgspec.Struct, frozen=True):
    forecastGridData: str  # noqa: N815 - the service's own name


class _CellReply(msgspec.Struct, frozen=True):
    properties: _Cell


class _Value(msgspec.Struct, frozen=True):
    validTime: str  # noqa: N815
    value: float | None


class _Layer(msgspec.Struct, frozen=True):
    values: list[_Value] = []
    uom: str = ""


class _Height(msgspec.Struct, frozen=True):
    value: float | None = None


class _Grid(msgspec.Struct, frozen=True):
    updateTime: datetime  # noqa: N815
    temperature: _Layer
    skyCover: _Layer  # noqa: N815
    windSpeed: _Layer  # noqa: N815
    windDirection: _Layer  # noqa: N815
    elevation: _Height = _Height()
    dewpoint: _Layer = _Layer()
    relativeHumidity: _Layer = _Layer()  # noqa: N815
    windGust: _Layer = _Layer()  # noqa: N815
    quantitativePrecipitation: _Layer = _Layer()  # noqa: N815


class _GridReply(msgspec.Struct, frozen=True):
    properties: _Grid


@dataclass(frozen=True)
class _Told:
    series: Series
    issued_s: float


def forecast(client: Client, settings: Settings, points: Points, span: Span) -> Weather:
    """The forecast for every point; hours the grid does not reach stay unknown."""
    if not settings.contact:
        raise ServiceError(
            SERVICE, "this service answers only who names a contact", "Enter a contact in settings.toml"
        )
    answers = [
        _ask(client, settings, span, *map(float, place))
        for place in zip(points.km, points.lat_deg, points.lon_deg, strict=True)
    ]
    try:
        weather = assemble(
            points,
            [answer.value.series for answer in answers],
            source="US National Weather Service grid forecast",
            attribution=NWS.attribution,
            issued_s=float("nan"),
            notes=("radiation estimated from sun height and cloud", "pressure taken from height"),
        )
    except UnreadableError as fault:
        raise unreadable(SERVICE, fault) from fault
    notes = tuple(dict.fromkeys(note for answer in answers for note in answer.notes))
    return dated(weather, min(answer.made_s(answer.value.issued_s) for answer in answers), notes)


def _ask(
    client: Client, settings: Settings, span: Span, km: float, lat_deg: float, lon_deg: float
) -> CachedResponse[_Told]:
    time_s = np.arange(span.first_s, span.last_s + 1.0, HOUR_S)

    def read(body: bytes) -> _Told:
        grid = json_as(_GridReply)(body).properties
        series, issued_s = _series(grid, time_s, lat_deg, lon_deg), instant_s(grid.updateTime)
        check_covers(series, since(span, issued_s), km)
        return _Told(series, issued_s)

    url = f"{settings.forecast.nws_url.rstrip('/')}/points/{lat_deg:.4f},{lon_deg:.4f}"
    grid = client.get(SERVICE, url, _grid_address, gap_s=GAP_S, keep_s=MONTH_S).value
    return client.get(SERVICE, grid, read, gap_s=GAP_S)


def _grid_address(body: bytes) -> str:
    """Where the grid of a point is asked for. Raises UnreadableError for what is no address."""
    address = json_as(_CellReply)(body).properties.forecastGridData
    parts = urlsplit(address)
    if parts.scheme not in ("http", "https") or not parts.hostname or not address.isprintable():
        raise UnreadableError("the address of the grid is none")
    return address


def _series(grid: _Grid, time_s: Floats, lat_deg: float, lon_deg: float) -> Series:
    held = {name: _hours(getattr(grid, name), name, time_s) for name in _LAYERS}
    values = {
        "air_c": held["temperature"],
        "cloud_share": held["skyCover"],
        "gust_ms": held["windGust"],
        "rain_mm": held["quantitativePrecipitation"],
    }
    humid = dew_point_from_humidity_c(held["temperature"], held["relativeHumidity"])
    values["dew_c"] = np.where(np.isfinite(held["dewpoint"]), held["dewpoint"], humid)
    values["wind_east_ms"], values["wind_north_ms"] = wind_components(
        held["windSpeed"], held["windDirection"]
    )
    height = grid.elevation.value or 0.0
    cloud = held["skyCover"][:, None]
    values["ghi_w_m2"] = sun_of_hour_before_w_m2(time_s, [lat_deg], [lon_deg], [height], cloud)[:, 0]
    values["pressure_pa"] = np.full(time_s.shape, float(pressure_at_pa(height)))
    return Series(time_s, values, elevation_m=height)


def _hours(layer: _Layer, name: str, time_s: Floats) -> Floats:
    """A layer's stretches laid onto the hours; rain is spread over its stretch and told at the end of an hour."""
    rain = name == "quantitativePrecipitation"
    hours = np.full(time_s.shape, np.nan)
    for said in layer.values:
        start_s, count = _stretch(said.validTime)
        if said.value is None:
            continue
        first = round((start_s - time_s[0]) / HOUR_S) + (1 if rain else 0)
        value = said.value / count if rain else said.value
        hours[max(first, 0) : max(first + count, 0)] = value
    return to_si(hours, layer.uom, _LAYERS[name]) if layer.values else hours


def _stretch(valid: str) -> tuple[float, int]:
    """Start and whole hours of ``2019-07-04T18:00:00+00:00/P1DT3H``."""
    start, _, duration = valid.partition("/")
    match = _DURATION.match(duration)
    try:
        start_s = instant_s(datetime.fromisoformat(start))
    except ValueError as fault:
        raise UnreadableError(say("services.time_not_understood", valid=str(repr(valid)))) from fault
    if match is None:
        raise UnreadableError(say("services.time_not_understood", valid=str(repr(valid))))
    hours = int(match[1] or 0) * 24 + int(match[2] or 0)
    if hours > LONGEST_H:
        raise UnreadableError(say("services.time_too_long", valid=str(repr(valid))))
    return start_s, max(1, hours)
