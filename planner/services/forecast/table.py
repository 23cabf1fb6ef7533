"""Weather as a CSV table, out and in: one row for each hour and point, the origin of the data in # lines."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable
from datetime import UTC, datetime

import numpy as np

from planner.errors import Fault, InputError
from planner.model.records import Floats, Weather
from planner.services.forecast.assemble import PLAUSIBLE, Series, assemble
from planner.services.forecast.points import Points
from planner.services.http import UnreadableError

PLACE_COLUMNS = ("km", "lat_deg", "lon_deg", "elevation_m")
COLUMNS = ("time_utc", *PLACE_COLUMNS, *PLAUSIBLE)
NEEDED = ("time_utc", "km", "lat_deg", "lon_deg", "air_c", "dew_c")
MOST_BYTES = 64 * 1024 * 1024
MOST_FAULTS = 20


def write_table(weather: Weather) -> str:
    """The weather as CSV; unknown values are empty cells."""
    out = io.StringIO()
    for name in ("source", "attribution", "kind"):
        out.write(f"# {name}: {' '.join(getattr(weather, name).split())}\n")
    out.writelines(f"# note: {' '.join(note.split())}\n" for note in weather.notes)
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(COLUMNS)
    for hour, stamp in enumerate(weather.time_s):
        when = datetime.fromtimestamp(float(stamp), UTC).strftime("%Y-%m-%dT%H:%MZ")
        for point in range(weather.km.size):
            place = [_cell(float(getattr(weather, name)[point])) for name in PLACE_COLUMNS]
            writer.writerow(
                [when, *place, *(_cell(getattr(weather, name)[hour, point]) for name in PLAUSIBLE)]
            )
    return out.getvalue()


def read_table(text: str, name: str = "weather table") -> Weather:
    """Weather from such a table; the order of columns and rows is free, further columns are an error.

    Radiation, rain and gusts belong to the hour before the stamp. Raises InputError naming row and column.
    """
    if len(text) > MOST_BYTES:
        raise InputError(
            [Fault("", "", "the table is larger than 64 MB", "Cut it to the days needed.")], name
        )
    lines = text.lstrip("\ufeff").splitlines()
    about = [line.lstrip("# ").partition(":") for line in lines if line.startswith("#")]
    told = {key.strip(): value.strip() for key, _, value in about}
    rows = list(csv.reader(line for line in lines if line.strip() and not line.startswith("#")))
    _check_columns(rows, name)
    records, faults = _records(rows)
    if faults:
        raise InputError(faults[:MOST_FAULTS], name)
    points, series = _series(records)
    try:
        return assemble(
            points,
            series,
            source=told.get("source") or name,
            attribution=told.get("attribution", ""),
            issued_s=math.nan,
            kind=told.get("kind") or "own",
            notes=[value.strip() for key, _, value in about if key.strip() == "note"],
        )
    except UnreadableError as fault:
        raise InputError([Fault("", "", str(fault), "Correct the table.")], name) from fault


def _cell(value: float) -> str:
    return f"{value:.6g}" if math.isfinite(value) else ""


def _check_columns(rows: list[list[str]], name: str) -> None:
    head = [cell.strip() for cell in rows[0]] if rows else []
    faults = [
        Fault(column, "", "this column is unknown", f"Known are {', '.join(COLUMNS)}.")
        for column in head
        if column not in COLUMNS
    ]
    faults += [
        Fault(column, "", "this column is missing", "Add it.") for column in NEEDED if column not in head
    ]
    faults += [
        Fault(column, "", "this column comes twice", "Delete one.")
        for column in sorted({c for c in head if head.count(c) > 1})
    ]
    if len(rows) < 2:
        faults.append(Fault("", "", "the table holds no rows", "Add one for each hour and point."))
    if faults:
        raise InputError(faults[:MOST_FAULTS], name)


def _records(rows: list[list[str]]) -> tuple[list[dict[str, float]], list[Fault]]:
    head = [cell.strip() for cell in rows[0]]
    records, faults = [], []
    for number, row in enumerate(rows[1:], start=2):
        if len(row) != len(head):
            faults.append(
                Fault(f"row {number}", "", f"{len(row)} cells for {len(head)} columns", "Correct it.")
            )
            continue
        record = {}
        for column, cell in zip(head, row, strict=True):
            try:
                record[column] = _stamp(cell) if column == "time_utc" else _number(column, cell)
            except ValueError:
                remedy = "Write 2026-06-01T05:00Z." if column == "time_utc" else "Write a number, 12.5."
                faults.append(Fault(f"row {number}, {column}", cell, "this cannot be read", remedy))
        records.append(record)
    return records, faults


def _number(column: str, cell: str) -> float:
    """A cell's number; empty means unknown, except where the row belongs."""
    number = float(cell or "nan")
    if column in NEEDED[1:4] and not math.isfinite(number):
        raise ValueError(column)
    return number


def _stamp(cell: str) -> float:
    when = datetime.fromisoformat(cell.strip())
    return (when if when.tzinfo else when.replace(tzinfo=UTC)).timestamp()


def _series(records: list[dict[str, float]]) -> tuple[Points, list[Series]]:
    stations = sorted({record["km"] for record in records})
    groups = [[record for record in records if record["km"] == km] for km in stations]
    first = [group[0] for group in groups]
    points = Points(
        np.array(stations),
        _column(first, "lat_deg"),
        _column(first, "lon_deg"),
        _column(first, "elevation_m"),
    )
    return points, [
        Series(_column(group, "time_utc"), {name: _column(group, name) for name in PLAUSIBLE})
        for group in groups
    ]


def _column(records: Iterable[dict[str, float]], name: str) -> Floats:
    return np.array([record.get(name, math.nan) for record in records])
