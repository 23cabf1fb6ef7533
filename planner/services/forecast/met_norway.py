"""MET Norway Locationforecast 2.0: a second source, world-wide, one request for each point, no radiation.

Its terms want an agent with a contact, four decimals, no repeat before ``Expires`` and a conditional one after;
the HTTP client does the last two. Format: https://api.met.no/weatherapi/locationforecast/2.0/documentation.
Data CC BY 4.0 / NLOD.

Beyond about 2.5 days the rows are six hours apart: the hours between are interpolated linearly, with the
highest and lowest temperature the service gives for each six hours set into their middle where they lie
beyond both ends, so that an afternoon's high between two rows is not lost.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial

import msgspec
import numpy as np

from planner.errors import ServiceError
from planner.model.air import dew_point_from_humidity_c, station_pressure_pa
from planner.model.records import Floats, Weather
from planner.model.sky import sun_of_hour_before_w_m2
from planner.services.forecast.assemble import (
    Series,
    assemble,
    check_covers,
    check_length,
    check_places,
    dated,
)
from planner.services.forecast.points import Points
from planner.services.forecast.registry import MET_NORWAY
from planner.services.forecast.span import HOUR_S, Span, instant_s, since
from planner.services.forecast.wire_units import to_si, wind_components
from planner.services.http import Client, UnreadableError, json_as, unreadable
from planner.services.settings import Settings
from planner.words import say

SERVICE = MET_NORWAY.title
GAP_S = 0.06
"""Below 20 requests a second, which the terms allow for all installations together."""
LONGEST_STEP_H = 6.0

_DETAILS = {
    "air_temperature": "temperature",
    "dew_point_temperature": "temperature",
    "relative_humidity": "share",
    "wind_speed": "speed",
    "wind_from_direction": "angle",
    "wind_speed_of_gust": "speed",
    "cloud_area_fraction": "share",
    "air_pressure_at_sea_level": "pressure",
}


class _Details(msgspec.Struct):
    details: dict[str, float | None] = {}


class _Data(msgspec.Struct):
    instant: _Details
    next_1_hours: _Details | None = None
    next_6_hours: _Details | None = None


class _Row(msgspec.Struct):
    time: datetime
    data: _Data


class _Meta(msgspec.Struct):
    updated_at: datetime
    units: dict[str, str]


class _Properties(msgspec.Struct):
    meta: _Meta
    timeseries: list[_Row]


class _Geometry(msgspec.Struct):
    coordinates: list[float]


class _Reply(msgspec.Struct):
    geometry: _Geometry
    properties: _Properties


@dataclass(frozen=True)
class _Told:
    series: Series
    issued_s: float
    hourly_until_s: float


def forecast(client: Client, settings: Settings, points: Points, span: Span) -> Weather:
    """The forecast for every point, one request each; hours outside ``span`` are left out."""
    if not settings.contact:
        raise ServiceError(
            SERVICE, "this service answers only who names a contact", "Enter a contact in settings.toml"
        )
    url = f"{settings.forecast.met_norway_url.rstrip('/')}/weatherapi/locationforecast/2.0/complete"
    answers = [
        client.get(
            SERVICE, url, partial(_read, points.only(index), span), params=_place(points, index), gap_s=GAP_S
        )
        for index in range(len(points))
    ]
    told = [answer.value for answer in answers]
    issued_s = min(answer.made_s(answer.value.issued_s) for answer in answers)
    notes = [note for answer in answers for note in answer.notes]
    try:
        weather = assemble(
            points,
            [_within(one.series, span) for one in told],
            source="MET Norway Locationforecast",
            attribution=MET_NORWAY.attribution,
            issued_s=float("nan"),
            notes=("radiation estimated from sun height and cloud", *_coarse_notes(told, span)),
        )
    except UnreadableError as fault:
        raise unreadable(SERVICE, fault) from fault
    return dated(weather, issued_s, tuple(dict.fromkeys(notes)))


def _place(points: Points, index: int) -> dict[str, str]:
    place = {"lat": f"{points.lat_deg[index]:.4f}", "lon": f"{points.lon_deg[index]:.4f}"}
    height = points.elevation_m[index]
    return {**place, "altitude": f"{height:.0f}"} if np.isfinite(height) else place


def _read(place: Points, span: Span, body: bytes) -> _Told:
    reply = json_as(_Reply)(body)
    rows = _once(reply.properties.timeseries)
    if not rows:
        raise UnreadableError("the answer holds no hours at all")
    lon, lat, *height = reply.geometry.coordinates
    elevation_m = height[0] if height else float("nan")
    series = _hourly(rows, reply.properties.meta.units, lat, lon, elevation_m)
    check_places(place, [series])
    hourly = [row for row in rows if row.data.next_1_hours is not None] or rows[:1]
    issued_s = instant_s(reply.properties.meta.updated_at)
    check_covers(series, since(span, issued_s), place.km[0])
    return _Told(series, issued_s, instant_s(hourly[-1].time) + HOUR_S)


def _once(rows: list[_Row]) -> list[_Row]:
    """The rows in order, each hour once; none of an hour that is told in different ways."""
    at: dict[float, list[_Row]] = {}
    for row in rows:
        at.setdefault(instant_s(row.time), []).append(row)
    return [same[0] for _, same in sorted(at.items()) if all(row.data == same[0].data for row in same)]


def _hourly(
    rows: list[_Row], units: dict[str, str], lat_deg: float, lon_deg: float, elevation_m: float
) -> Series:
    stamps = np.array([instant_s(row.time) for row in rows])
    check_length(stamps[0], stamps[-1])
    instants = {
        name: to_si(_column(rows, name), units.get(name, ""), kind)
        for name, kind in _DETAILS.items()
        if any(name in row.data.instant.details for row in rows)
    }
    needed = {"air_temperature", "wind_speed", "wind_from_direction", "cloud_area_fraction"} - set(instants)
    if "dew_point_temperature" not in instants:
        needed |= {"relative_humidity"} - set(instants)
    if needed:
        raise UnreadableError(say("services.answer_lacks", names=", ".join(sorted(needed))))
    time_s = np.arange(stamps[0], stamps[-1] + 1.0, HOUR_S)
    east, north = wind_components(instants["wind_speed"], instants["wind_from_direction"])
    if "dew_point_temperature" in instants:
        dew = instants["dew_point_temperature"]
    else:
        dew = dew_point_from_humidity_c(instants["air_temperature"], instants["relative_humidity"])
    values = {
        "air_c": _between(time_s, *_with_extremes(stamps, instants["air_temperature"], rows, units)),
        "dew_c": _between(time_s, stamps, dew),
        "wind_east_ms": _between(time_s, stamps, east),
        "wind_north_ms": _between(time_s, stamps, north),
        "cloud_share": _between(time_s, stamps, instants["cloud_area_fraction"]),
        "rain_mm": _rain(time_s, rows, units),
    }
    height = elevation_m if np.isfinite(elevation_m) else 0.0
    if "air_pressure_at_sea_level" in instants:
        sea_level = _between(time_s, stamps, instants["air_pressure_at_sea_level"])
        values["pressure_pa"] = station_pressure_pa(sea_level, height, values["air_c"])
    cloud = values["cloud_share"][:, None]
    values["ghi_w_m2"] = sun_of_hour_before_w_m2(time_s, [lat_deg], [lon_deg], [height], cloud)[:, 0]
    return Series(time_s, values, lat_deg, lon_deg, elevation_m)


def _column(rows: list[_Row], name: str) -> Floats:
    found = [row.data.instant.details.get(name) for row in rows]
    return np.array([np.nan if value is None else value for value in found])


def _with_extremes(
    stamps: Floats, air_c: Floats, rows: list[_Row], units: dict[str, str]
) -> tuple[Floats, Floats]:
    """The knots of the temperature curve: the rows, and between six-hourly ones the extreme if beyond both.

    Across a shorter gap, where single hours are missing, the extreme of the six hours may lie anywhere else.
    """
    knots = list(zip(stamps, air_c, strict=True))
    for index in np.flatnonzero(np.diff(stamps) == LONGEST_STEP_H * HOUR_S):
        later = rows[index].data.next_6_hours
        middle, ends = (stamps[index] + stamps[index + 1]) / 2.0, air_c[index : index + 2]
        for name, beyond in (("air_temperature_max", np.greater), ("air_temperature_min", np.less)):
            said = later.details.get(name) if later is not None else None
            if said is not None:
                extreme = to_si(np.array([said]), units.get(name, units["air_temperature"]), "temperature")
                if np.all(beyond(extreme, ends)):
                    knots.append((middle, extreme[0]))
    knots.sort(key=lambda knot: float(knot[0]))
    return np.array([at for at, _ in knots]), np.array([value for _, value in knots])


def _between(time_s: Floats, stamps: Floats, values: Floats) -> Floats:
    """Linear between rows up to six hours apart; unknown across longer gaps."""
    known = np.isfinite(values)
    if not known.any():
        return np.full(time_s.shape, np.nan)
    at = stamps[known]
    filled = np.interp(time_s, at, values[known], left=np.nan, right=np.nan)
    after = np.clip(np.searchsorted(at, time_s, side="left"), 0, at.size - 1)
    before = np.clip(np.searchsorted(at, time_s, side="right") - 1, 0, at.size - 1)
    return np.where(at[after] - at[before] <= LONGEST_STEP_H * HOUR_S, filled, np.nan)


def _rain(time_s: Floats, rows: list[_Row], units: dict[str, str]) -> Floats:
    """Rain of the hour before each stamp; the service gives the hour after, or six hours after it together."""
    rain = np.full(time_s.shape, np.nan)
    for row in rows:
        for step, later in ((1, row.data.next_1_hours), (6, row.data.next_6_hours)):
            amount = later.details.get("precipitation_amount") if later is not None else None
            if amount is not None:
                first = round((instant_s(row.time) - time_s[0]) / HOUR_S) + 1
                rain[first : first + step] = amount / step
                break  # every hourly row also sums up the six hours that its followers tell one by one
    return to_si(rain, units.get("precipitation_amount", "mm"), "rain") if np.isfinite(rain).any() else rain


def _within(series: Series, span: Span) -> Series:
    inside = (series.time_s >= span.first_s) & (series.time_s <= span.last_s)
    values = {name: column[inside] for name, column in series.values.items()}
    return Series(series.time_s[inside], values, series.lat_deg, series.lon_deg, series.elevation_m)


def _coarse_notes(told: list[_Told], span: Span) -> tuple[str, ...]:
    until_s = min(one.hourly_until_s for one in told)
    if until_s >= span.last_s:
        return ()
    return (say("services.six_hourly", value=f"{datetime.fromtimestamp(until_s, UTC):%d %b %H:%M}"),)
