"""Weather along a road as a readable CSV file: one row for each hour and point, units in the names.

Wind is written as people say it: speed, and the direction it comes FROM (0 north, 90 east).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from planner.errors import Fault, InputError
from planner.model.records import Bools, Floats, Weather
from planner.reading import reading_file
from planner.store.documents import MAX_TABLE_BYTES, read_text, write_text
from planner.store.tables import Column, Table, read_table
from planner.words import say

HOUR_S = 3600.0
KINDS = ("forecast", "archive", "typical", "own", "assumed", "invented", "ensemble")


def _stamp_s(text: str) -> float:
    """POSIX seconds of an ISO time; without an offset it is UTC, as the column's name says."""
    moment = datetime.fromisoformat(text)
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


_YEAR_1900_S, _YEAR_2200_S = -2_208_988_800.0, 7_258_118_400.0

COLUMNS = {
    "time_utc": Column(_YEAR_1900_S, _YEAR_2200_S, parse=_stamp_s, example="2027-05-12T18:00Z"),
    "km": Column(0.0, 50_000.0),
    "lat_deg": Column(-90.0, 90.0),
    "lon_deg": Column(-180.0, 180.0),
    "elevation_m": Column(-450.0, 6000.0, required=False, gaps=True),
    "air_c": Column(-80.0, 60.0, gaps=True),
    "dew_c": Column(-90.0, 40.0, gaps=True),
    "wind_ms": Column(0.0, 100.0, gaps=True),
    "wind_from_deg": Column(0.0, 360.0, required=False, gaps=True),
    "gust_ms": Column(0.0, 120.0, required=False, gaps=True),
    "ghi_w_m2": Column(0.0, 1600.0, required=False, gaps=True),
    "dni_w_m2": Column(0.0, 1400.0, required=False, gaps=True),
    "dhi_w_m2": Column(0.0, 1200.0, required=False, gaps=True),
    "cloud_percent": Column(0.0, 100.0, required=False, gaps=True),
    "pressure_hpa": Column(300.0, 1100.0, required=False, gaps=True),
    "rain_mm": Column(0.0, 500.0, required=False, gaps=True),
}
"""Instants at the stamp; radiation, gust and rain belong to the hour before it."""

_PLACE = ("lat_deg", "lon_deg", "elevation_m")
_MAX_GRID = 2_000_000


def read_weather(path: Path) -> Weather:
    """A weather CSV. Raises InputError with every bad cell, StorageError when it cannot be read."""
    return parse_weather(read_text(path, MAX_TABLE_BYTES, "a weather CSV"), path.name)


def parse_weather(text: str, where: str) -> Weather:
    """Weather from CSV text; hours missing between the first and the last stay NaN and are noted."""
    with reading_file(where, "a weather CSV"):
        return _parsed(text, where)


def _parsed(text: str, where: str) -> Weather:
    table = read_table(text, COLUMNS, where)
    faults = [*_time_faults(table), *_point_faults(table), *_air_faults(table)]
    if faults:
        raise InputError(faults[:50], where)
    return _gridded(table, where)


def write_weather(weather: Weather, path: Path) -> None:
    """Write a weather CSV in one step. Raises StorageError."""
    write_text(path, weather_text(weather))


def weather_text(weather: Weather) -> str:
    """The CSV text of a weather record, seven digits to each number."""
    head = [
        f"# source: {_one_line(weather.source)}",
        f"# attribution: {_one_line(weather.attribution)}",
        f"# kind: {weather.kind}",
        *([f"# issued: {_stamp(weather.issued_s)}"] if math.isfinite(weather.issued_s) else []),
        *(f"# note: {_one_line(note)}" for note in weather.notes),
        ",".join(COLUMNS),
    ]
    columns = _columns(weather)
    times = [_stamp(second) for second in weather.time_s]
    rows = [
        ",".join([times[hour], *(_cell(column[hour, point]) for column in columns)])
        for hour in range(weather.time_s.size)
        for point in range(weather.km.size)
    ]
    return "\n".join([*head, *rows]) + "\n"


def _columns(weather: Weather) -> list[Floats]:
    """Every column but the time as (hour, point), in file order."""
    shape = weather.air_c.shape
    east, north = weather.wind_east_ms, weather.wind_north_ms
    fixed = [np.broadcast_to(v, shape) for v in (weather.km, weather.lat_deg, weather.lon_deg)]
    return [
        *fixed,
        np.broadcast_to(weather.elevation_m, shape),
        weather.air_c,
        weather.dew_c,
        np.hypot(east, north),
        np.mod(np.degrees(np.arctan2(-east, -north)), 360.0),
        weather.gust_ms,
        weather.ghi_w_m2,
        weather.dni_w_m2,
        weather.dhi_w_m2,
        weather.cloud_share * 100.0,
        weather.pressure_pa / 100.0,
        weather.rain_mm,
    ]


def _gridded(table: Table, where: str) -> Weather:
    """Rows laid out on (hour, point); every (hour, point) not in the table is NaN."""
    hours = np.round(table.columns["time_utc"] / HOUR_S).astype(np.int64)
    km, first, point = np.unique(table.columns["km"], return_index=True, return_inverse=True)
    count = int(hours.max() - hours.min()) + 1
    if count * km.size > _MAX_GRID:
        problem = say("files.so_many_hours", count=str(count), size=str(km.size))
        raise InputError([Fault("column time_utc", "", problem, "Keep to the days of the trip")], where)
    row = hours - hours.min()

    def grid(name: str) -> Floats:
        out = np.full((count, km.size), np.nan)
        out[row, point] = table.columns[name]
        return out

    place = {name: table.columns[name][first] for name in _PLACE}
    speed, toward = grid("wind_ms"), np.radians(grid("wind_from_deg")) + np.pi
    unknown_side = np.isnan(toward)
    toward = np.where(unknown_side, 0.0, toward)
    present = np.zeros((count, km.size), dtype=bool)
    present[row, point] = True
    return Weather(
        time_s=(hours.min() + np.arange(count)) * HOUR_S,
        km=km,
        lat_deg=place["lat_deg"],
        lon_deg=place["lon_deg"],
        elevation_m=place["elevation_m"],
        air_c=grid("air_c"),
        dew_c=grid("dew_c"),
        wind_east_ms=speed * np.sin(toward),
        wind_north_ms=speed * np.cos(toward),
        gust_ms=grid("gust_ms"),
        ghi_w_m2=grid("ghi_w_m2"),
        dni_w_m2=grid("dni_w_m2"),
        dhi_w_m2=grid("dhi_w_m2"),
        cloud_share=grid("cloud_percent") / 100.0,
        pressure_pa=grid("pressure_hpa") * 100.0,
        rain_mm=grid("rain_mm"),
        source=table.first("source", where),
        attribution=table.first("attribution"),
        issued_s=_issued_s(table, where),
        kind=_kind(table, where),
        notes=(*table.remarks.get("note", ()), *_gap_notes(present, km, unknown_side & (speed > 0))),
    )


def _gap_notes(present: Bools, km: Floats, unknown_side: Bools) -> Iterable[str]:
    for at, missing in enumerate(np.sum(~present, axis=0)):
        if missing:
            yield say("files.hours_missing", missing=str(missing), km=f"{km[at]:g}")
    if np.any(unknown_side):
        yield "wind without direction taken as from the south"


def _time_faults(table: Table) -> Iterable[Fault]:
    """Stamps off the full hour, and rows that say the same hour and point twice."""
    seen: dict[tuple[float, float], int] = {}
    for line, stamp, km in zip(table.lines, table.columns["time_utc"], table.columns["km"], strict=True):
        if stamp % HOUR_S:
            yield Fault(f"line {line}, time_utc", _stamp(stamp), "not a full hour", "Give hourly values")
        if (first := seen.setdefault((stamp, km), line)) != line:
            problem = say("files.hour_km_stand", first=str(first))
            yield Fault(f"line {line}, time_utc", _stamp(stamp), problem, "Take one of the rows out")


def _point_faults(table: Table) -> Iterable[Fault]:
    """Rows whose km was at another place in an earlier row."""
    seen: dict[float, tuple[str, ...]] = {}
    places = zip(*(table.columns[name] for name in _PLACE), strict=True)
    for line, km, place in zip(table.lines, table.columns["km"], places, strict=True):
        named = tuple(f"{value:.6f}" for value in place)
        if seen.setdefault(float(km), named) != named:
            problem = say("files.km_lay_elsewhere", km=f"{km:g}")
            yield Fault(
                f"line {line}, km", f"{km:g}", problem, "Keep lat, lon and elevation of a km the same"
            )


def _air_faults(table: Table) -> Iterable[Fault]:
    """Air moister than saturated: a swapped or mistaken column."""
    air, dew = table.columns["air_c"], table.columns["dew_c"]
    for at in np.flatnonzero(dew > air + 1.0):
        problem = say("files.dew_point_above", air=f"{air[at]:g}")
        yield Fault(f"line {table.lines[at]}, dew_c", f"{dew[at]:g}", problem, "Check both cells")


def _kind(table: Table, where: str) -> str:
    kind = table.first("kind", "own")
    if kind not in KINDS:
        fault = Fault("# kind", kind, "no such kind of weather", "Choose one of " + ", ".join(KINDS))
        raise InputError([fault], where)
    return kind


def _issued_s(table: Table, where: str) -> float:
    text = table.first("issued")
    if not text:
        return math.nan
    try:
        return _stamp_s(text)
    except ValueError as error:
        remedy = "Write a time such as 2027-05-12T06:00Z"
        raise InputError([Fault("# issued", text[:60], "no such time", remedy)], where) from error


def _stamp(second: float) -> str:
    return datetime.fromtimestamp(float(second), UTC).strftime("%Y-%m-%dT%H:%MZ")


def _cell(value: float) -> str:
    return "" if math.isnan(value) else f"{value:.7g}"


def _one_line(text: str) -> str:
    return " ".join(text.split())
