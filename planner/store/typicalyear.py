"""Weather of a typical year from files people download: PVGIS CSV, TMY3 CSV, or a weather file of our own.

A typical year is twelve months of different years put together. Here it becomes one nominal year that runs round:
its last days come again before the first and its first after the last, so that trips over New Year find weather.
PVGIS layout: user manual of the European Commission's Joint Research Centre. TMY3 layout: Wilcox & Marion 2008,
Users Manual for TMY3 Data Sets, NREL/TP-581-43156.
"""

from __future__ import annotations

import csv
import gzip
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

from planner.errors import Fault, InputError
from planner.model.air import dew_point_from_humidity_c
from planner.model.records import Floats, Weather
from planner.reading import reading_file
from planner.store.documents import MAX_TABLE_BYTES, read_bytes, read_text
from planner.store.weatherfile import parse_weather
from planner.words import say

HOUR_S = 3600.0
YEAR_HOURS = 8760
ROUND_HOURS = 96
"""Hours repeated at both ends of the year; a trip from closing to opening must not be longer."""

NOMINAL_YEAR = 2027
"""The year a typical year is said to be: no leap day, and clocks that change by the rules of today."""

MOST_FAULTS = 20


@dataclass(frozen=True)
class _Layout:
    """How one kind of file names a quantity: column and factor to SI; the range that makes sense."""

    column: str
    factor: float
    low: float
    high: float
    required: bool = True


_PVGIS = {
    "air_c": _Layout("T2m", 1.0, -80.0, 60.0),
    "humidity": _Layout("RH", 0.01, 0.0, 1.05),
    "ghi_w_m2": _Layout("G(h)", 1.0, -5.0, 1600.0),
    "dni_w_m2": _Layout("Gb(n)", 1.0, -5.0, 1400.0, required=False),
    "dhi_w_m2": _Layout("Gd(h)", 1.0, -5.0, 1200.0, required=False),
    "wind_ms": _Layout("WS10m", 1.0, 0.0, 100.0),
    "wind_from_deg": _Layout("WD10m", 1.0, 0.0, 360.0, required=False),
    "pressure_pa": _Layout("SP", 1.0, 30_000.0, 110_000.0),
}

_TMY3 = {
    "air_c": _Layout("Dry-bulb (C)", 1.0, -80.0, 60.0),
    "dew_c": _Layout("Dew-point (C)", 1.0, -90.0, 40.0),
    "ghi_w_m2": _Layout("GHI (W/m^2)", 1.0, 0.0, 1600.0),
    "dni_w_m2": _Layout("DNI (W/m^2)", 1.0, 0.0, 1400.0, required=False),
    "dhi_w_m2": _Layout("DHI (W/m^2)", 1.0, 0.0, 1200.0, required=False),
    "wind_ms": _Layout("Wspd (m/s)", 1.0, 0.0, 100.0),
    "wind_from_deg": _Layout("Wdir (degrees)", 1.0, 0.0, 360.0, required=False),
    "pressure_pa": _Layout("Pressure (mbar)", 100.0, 30_000.0, 110_000.0),
    "cloud_share": _Layout("TotCld (tenths)", 0.1, 0.0, 1.0, required=False),
}


def read_year(path: Path) -> Weather:
    """Weather for a season chart: a typical year in one point, or years of our own weather CSV as they are;
    packed by gzip as well, as those we carry.

    Raises InputError for a file of no known kind or with cells that cannot be, StorageError when unreadable.
    """
    what = "a typical-year or weather CSV"
    if path.suffix.lower() != ".gz":
        return parse_year(read_text(path, MAX_TABLE_BYTES, what), path.name)
    packed = read_bytes(path, MAX_TABLE_BYTES, what)
    with reading_file(path.name, what), gzip.GzipFile(fileobj=io.BytesIO(packed)) as stream:
        text = stream.read(MAX_TABLE_BYTES + 1)
        if len(text) > MAX_TABLE_BYTES:
            raise _unusable(path.name, say("files.unfolds_too_long", most=str(MAX_TABLE_BYTES // 1_000_000)))
        return _parsed(text.decode("utf-8-sig"), path.name)


def parse_year(text: str, where: str) -> Weather:
    """As ``read_year`` from text."""
    with reading_file(where, "a typical-year or weather CSV"):
        return _parsed(text, where)


def _parsed(text: str, where: str) -> Weather:
    lines = text.splitlines()
    if lines[0].startswith("Latitude (decimal degrees)"):
        return _pvgis(lines, where)
    if len(lines) > 1 and "Date (MM/DD/YYYY)" in lines[1]:
        return _tmy3(lines, where)
    return parse_weather(text, where)


def _pvgis(lines: Sequence[str], where: str) -> Weather:
    head = {key.strip(): value.strip() for key, _, value in (line.partition(":") for line in lines[:8])}
    first = next((i for i, line in enumerate(lines) if line.startswith("time(UTC)")), None)
    if first is None:
        raise _unusable(where, "the line of column names that starts with time(UTC) is missing")
    last = next((i for i in range(first, len(lines)) if not lines[i].strip()), len(lines))
    rows = list(csv.DictReader(lines[first:last]))
    columns, faults = _columns(rows, _PVGIS, first + 2)
    hours = np.array([_pvgis_hour(row["time(UTC)"], first + 2 + i, faults) for i, row in enumerate(rows)])
    if faults:
        raise InputError(faults[:MOST_FAULTS], where)
    delay_h = _number(head.get("Irradiance Time Offset (h)", "0"), "Irradiance Time Offset (h)", where)
    dew = dew_point_from_humidity_c(columns["air_c"], np.clip(columns.pop("humidity"), 0.01, 1.0))
    place = [
        _number(head.get(name, ""), name, where)
        for name in ("Latitude (decimal degrees)", "Longitude (decimal degrees)", "Elevation (m)")
    ]
    year = _around(hours, {**columns, "dew_c": dew}, where)
    for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2"):
        year[name] = _preceding_mean(np.maximum(year[name], 0.0), delay_h)
    return _weather(
        year, place, say("files.pvgis_typical_year", where=str(where)), "PVGIS (c) European Union"
    )


def _pvgis_hour(text: str, line: int, faults: list[Fault]) -> int:
    found = re.fullmatch(r"(\d{4})(\d\d)(\d\d):(\d\d)\d\d", text.strip())
    return _hour_of_year(found, (2, 3, 4), f"line {line}, time(UTC)", text, faults)


def _tmy3(lines: Sequence[str], where: str) -> Weather:
    head = next(csv.reader(lines[:1]))
    if len(head) < 7:
        raise _unusable(
            where, "the first line must give station, name, state, zone, latitude, longitude, height"
        )
    zone_h, lat, lon, height = (_number(head[i], f"line 1, cell {i + 1}", where) for i in (3, 4, 5, 6))
    rows = list(csv.DictReader(lines[1:]))
    columns, faults = _columns(rows, _TMY3, 3)
    hours = np.array(
        [
            _tmy3_hour(f"{row['Date (MM/DD/YYYY)']} {row.get('Time (HH:MM)')}", 3 + i, faults)
            for i, row in enumerate(rows)
        ]
    )
    if faults:
        raise InputError(faults[:MOST_FAULTS], where)
    shifted = (hours - round(zone_h)) % YEAR_HOURS
    source = say("files.tmy_typical_year", value=head[1].strip(), where=str(where))
    return _weather(_around(shifted, columns, where), [lat, lon, height], source, "NREL TMY3")


def _tmy3_hour(text: str, line: int, faults: list[Fault]) -> int:
    found = re.fullmatch(r"(\d\d?)/(\d\d?)/\d{4} (\d\d?):\d\d", text.strip())
    return _hour_of_year(found, (1, 2, 3), f"line {line}, date and time", text, faults)


def _hour_of_year(
    found: re.Match[str] | None, parts: tuple[int, int, int], field: str, text: str, faults: list[Fault]
) -> int:
    """Hour from the beginning of the nominal year; 24:00 is the first hour of the next day."""
    try:
        month, day, hour = (int(found[part]) for part in parts) if found else (0, 0, 0)
        start = datetime(NOMINAL_YEAR, month, day, tzinfo=UTC) - datetime(NOMINAL_YEAR, 1, 1, tzinfo=UTC)
    except ValueError:
        faults.append(
            Fault(field, text[:60], "no such time", "Download the file again; leap days are left out")
        )
        return 0
    return (start.days * 24 + hour) % YEAR_HOURS


def _columns(
    rows: Sequence[Mapping[str, str]], layout: Mapping[str, _Layout], first_line: int
) -> tuple[dict[str, Floats], list[Fault]]:
    """Every quantity in SI; missing optional columns are NaN."""
    faults: list[Fault] = []
    out: dict[str, Floats] = {}
    for name, rule in layout.items():
        if not rows or rule.column not in rows[0]:
            if rule.required:
                faults.append(
                    Fault(f"column {rule.column}", "", "this column is missing", "Download it again")
                )
            out[name] = np.full(len(rows), np.nan)
            continue
        cells = [_cell(row[rule.column]) * rule.factor for row in rows]
        out[name] = np.array(cells, dtype=np.float64)
        bad = ~((out[name] >= rule.low) & (out[name] <= rule.high))
        if rule.required:
            faults += [
                Fault(
                    f"line {first_line + int(i)}, {rule.column}",
                    str(rows[i][rule.column])[:30],
                    say(
                        "files.hour_out_of_bounds",
                        value=f"{rule.low / rule.factor:g}",
                        value_2=f"{rule.high / rule.factor:g}",
                    ),
                    "Mend the cell, or download the file again",
                )
                for i in np.flatnonzero(bad)[:MOST_FAULTS]
            ]
        out[name][bad] = np.nan
    return out, faults


def _cell(text: str | None) -> float:
    try:
        return float(text or "nan")
    except ValueError:
        return float("nan")


def _number(text: str, field: str, where: str) -> float:
    value = _cell(text)
    if not np.isfinite(value):
        raise InputError([Fault(field, text[:30], "this is not a number", "Download the file again")], where)
    return value


def _unusable(where: str, problem: str) -> InputError:
    return InputError([Fault("", "", problem, "Download the file again")], where)


def _around(hours: np.ndarray, columns: Mapping[str, Floats], where: str) -> dict[str, Floats]:
    """Columns on the hours of the nominal year with its ends repeated; every hour must be there once."""
    if not np.array_equal(np.sort(hours), np.arange(YEAR_HOURS)):
        missing = YEAR_HOURS - np.unique(hours).size
        raise _unusable(
            where, say("files.hours_year_missing", missing=str(missing), year_hours=str(YEAR_HOURS))
        )
    row = np.argsort(hours)[np.arange(-ROUND_HOURS, YEAR_HOURS + ROUND_HOURS) % YEAR_HOURS]
    return {name: values[row] for name, values in columns.items()}


def _preceding_mean(instants: Floats, delay_h: float) -> Floats:
    """Means of the hour before each stamp from values read ``delay_h`` after each stamp."""
    index = np.arange(instants.size, dtype=np.float64)
    return np.interp(index - 0.5, index + delay_h, instants)


def _weather(year: Mapping[str, Floats], place: Sequence[float], source: str, attribution: str) -> Weather:
    first_s = datetime(NOMINAL_YEAR, 1, 1, tzinfo=UTC).timestamp() - ROUND_HOURS * HOUR_S
    count = year["air_c"].size
    nothing = np.full(count, np.nan)
    toward = np.radians(np.nan_to_num(year["wind_from_deg"])) + np.pi

    def column(values: Floats) -> Floats:
        return np.asarray(values, dtype=np.float64).reshape(-1, 1)

    return Weather(
        time_s=np.asarray(first_s + np.arange(count) * HOUR_S, dtype=np.float64),
        km=np.zeros(1),
        lat_deg=np.array([place[0]]),
        lon_deg=np.array([place[1]]),
        elevation_m=np.array([place[2]]),
        air_c=column(year["air_c"]),
        dew_c=column(np.minimum(year["dew_c"], year["air_c"])),
        wind_east_ms=column(year["wind_ms"] * np.sin(toward)),
        wind_north_ms=column(year["wind_ms"] * np.cos(toward)),
        gust_ms=column(nothing),
        ghi_w_m2=column(year["ghi_w_m2"]),
        dni_w_m2=column(year["dni_w_m2"]),
        dhi_w_m2=column(year["dhi_w_m2"]),
        cloud_share=column(year.get("cloud_share", nothing)),
        pressure_pa=column(year["pressure_pa"]),
        rain_mm=column(nothing),
        source=source,
        attribution=attribution,
        kind="typical",
        notes=("typical year: twelve typical months of different years, not a forecast",),
    )
