"""Temperature loggers' CSV files: times and one or more temperatures, however the maker writes them.

Delimiter, decimal comma, order of the date, unit and time zone are read from the file where it says so. What it
does not say is asked for, never guessed; a log that cannot be true is refused.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Literal, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from planner.errors import Fault, InputError
from planner.model.records import Bools, Floats
from planner.reading import reading_file
from planner.store.clocks import require_zone
from planner.store.documents import MAX_TABLE_BYTES, read_text
from planner.words import say

Unit = Literal["C", "F"]
DateOrder = Literal["day_first", "month_first"]

DELIMITERS = (";", "\t", ",", "|")
MOST_ROWS = 200_000
LONGEST_LINE = 100_000
FEWEST_READINGS = 12
SHORTEST_S = 1800.0
WIDEST_SPACING_S = 900.0
COLDEST_C, HOTTEST_C = -30.0, 85.0
MOST_JUMP_K, JUMP_WITHIN_S = 25.0, 360.0
FLAT_K, FLAT_S = 0.02, 4 * 3600.0
"""Limits of what a logger in a box can show (estimates, grade D); nature is slower than these."""

SURE_C_BELOW, SURE_F_ABOVE = 45.0, 60.0
"""Median of a log beside bees without a unit: below 45 it can only be C, above 60 only F."""

UNITS = {"C": (1.0, 0.0), "F": (1.0 / 1.8, -32.0 / 1.8)}


@dataclass(frozen=True, slots=True)
class LoggerHints:
    """What the user says where the file does not: zone of its clock, unit, order of day and month, columns."""

    zone: str | None = None
    unit: Unit | None = None
    dates: DateOrder | None = None
    columns: tuple[str, ...] = ()


@dataclass(frozen=True)
class LoggerLog:
    """A temperature log: ``time_s`` (reading,) POSIX increasing, ``temps_c`` (reading, sensor), NaN for gaps.

    ``notes`` say what was read from the file and how, in plain words.
    """

    time_s: Floats
    temps_c: Floats
    sensors: tuple[str, ...]
    notes: tuple[str, ...]


def read_log(path: Path, hints: LoggerHints | None = None) -> LoggerLog:
    """A logger's file. Raises InputError with what is missing or cannot be true, StorageError when unreadable."""
    return parse_log(read_text(path, MAX_TABLE_BYTES, "a logger's CSV", "cp1252"), path.name, hints)


def parse_log(text: str, where: str, hints: LoggerHints | None = None) -> LoggerLog:
    """As ``read_log`` from text."""
    with reading_file(where, "a logger's CSV"):
        return _parsed(text, where, hints or LoggerHints())


def _parsed(text: str, where: str, hints: LoggerHints) -> LoggerLog:
    table = _table(text, where)
    stamps = _Stamps(table, hints, where)
    sensors = _sensors(table, hints, stamps.columns, where)
    temps = np.array([[_number(row[at]) for at in sensors] for row in table.rows])
    names = tuple(table.names[at] for at in sensors)
    temps, unit_notes = _in_celsius(temps, names, hints, where)
    time_s, kept, notes = _in_order(stamps.seconds(), table, where)
    log = LoggerLog(time_s, temps[kept], names, (*stamps.notes, *unit_notes, *notes))
    faults = _absurd(log, [table.lines[i] for i in np.flatnonzero(kept)])
    if faults:
        raise InputError(faults, where)
    return log


# -- the table ---------------------------------------------------------------------------------------


class _Table(NamedTuple):
    """Rows of data with their lines, the column names over them, and the text before."""

    names: tuple[str, ...]
    rows: list[list[str]]
    lines: list[int]
    preamble: str
    delimiter: str


_DATE = r"(?P<a>\d{1,4})(?P<s>[-/.])(?P<b>\d{1,2})(?P=s)(?P<c>\d{2,4})"
_CLOCK = r"(?P<h>\d{1,2}):(?P<m>\d\d)(?::(?P<sec>\d\d)(?:[.,]\d+)?)?\s*(?P<half>[AaPp]\.?[Mm]\.?)?"
_OFFSET = r"\s*(?P<z>Z|UTC|[+-]\d\d:?\d\d)?"
STAMP = re.compile(rf"{_DATE}[T ,]+{_CLOCK}{_OFFSET}")
DATE = re.compile(_DATE)
CLOCK = re.compile(rf"{_CLOCK}{_OFFSET}")
EPOCH = re.compile(r"[12]\d{9}(?:\d{3})?(?:\.\d+)?")
NUMBER = re.compile(r"\s*(-?\d+(?:[.,]\d+)?)\s*(?:°?\s*[CF])?\s*")


def _table(text: str, where: str) -> _Table:
    """The table by the delimiter that finds most rows with a time and a number."""
    lines = text.splitlines()
    found = [table for each in DELIMITERS if (table := _split(lines, each)) is not None]
    if not found:
        problem = "no rows with a time and a temperature were found"
        raise InputError([Fault("", "", problem, "Choose a CSV with a time column and temperatures")], where)
    best = max(found, key=lambda table: (len(table.rows), -len(table.names)))
    if len(best.rows) > MOST_ROWS:
        raise InputError(
            [Fault("", "", say("files.too_many_readings", most_rows=str(MOST_ROWS)), "Cut it to the trip")],
            where,
        )
    return best


def _split(lines: Sequence[str], delimiter: str) -> _Table | None:
    rows: list[list[str]] = []
    at: list[int] = []
    for number, line in enumerate(lines, 1):
        cells = _cells(line, delimiter)
        if _is_data([cell.strip() for cell in cells]):
            rows.append([cell.strip() for cell in cells])
            at.append(number)
    if not rows:
        return None
    width = max(len(row) for row in rows)
    rows = [row + [""] * (width - len(row)) for row in rows]
    head = _cells(lines[at[0] - 2], delimiter) if at[0] > 1 else []
    names = [name.strip() for name in head] + [""] * width
    titled = tuple(name or f"column {i + 1}" for i, name in enumerate(names[:width]))
    return _Table(titled, rows, at, "\n".join(lines[: at[0] - 1]), delimiter)


def _cells(line: str, delimiter: str) -> list[str]:
    """The cells of a line; none of a line that is longer than any logger's."""
    return next(csv.reader([line], delimiter=delimiter), []) if len(line) <= LONGEST_LINE else []


def _is_data(cells: Sequence[str]) -> bool:
    timed = any(STAMP.fullmatch(cell) or EPOCH.fullmatch(cell) for cell in cells)
    timed = timed or (any(map(DATE.fullmatch, cells)) and any(map(CLOCK.fullmatch, cells)))
    return timed and any(NUMBER.fullmatch(cell) and not EPOCH.fullmatch(cell) for cell in cells)


def _number(cell: str) -> float:
    found = NUMBER.fullmatch(cell)
    return float(found[1].replace(",", ".")) if found else float("nan")


# -- times -------------------------------------------------------------------------------------------


class _Stamps:
    """The time column or columns of a table, brought to POSIX seconds."""

    def __init__(self, table: _Table, hints: LoggerHints, where: str) -> None:
        self._table, self._hints, self._where = table, hints, where
        self.columns = self._find()
        self.notes: list[str] = []

    def _find(self) -> tuple[int, ...]:
        first = self._table.rows[0]
        for pattern in (STAMP, EPOCH):
            for at, cell in enumerate(first):
                if pattern.fullmatch(cell):
                    return (at,)
        date = next(at for at, cell in enumerate(first) if DATE.fullmatch(cell))
        clock = next(at for at, cell in enumerate(first) if CLOCK.fullmatch(cell))
        return date, clock

    def seconds(self) -> Floats:
        texts = [" ".join(row[at] for at in self.columns) for row in self._table.rows]
        if EPOCH.fullmatch(texts[0]):
            scale = 1e-3 if len(texts[0].split(".")[0]) == 13 else 1.0
            return np.array([float(text) * scale if EPOCH.fullmatch(text) else np.nan for text in texts])
        found = [STAMP.fullmatch(text) for text in texts]
        day_first = self._day_first([each for each in found if each])
        clocks = [self._clock(each, day_first) if each else None for each in found]
        return self._posix(clocks, [each["z"] if each else None for each in found])

    def _day_first(self, found: Sequence[re.Match[str]]) -> bool:
        """Whether days stand before months; always so with dots, never with the year in front."""
        if not found or len(found[0]["a"]) == 4:
            return False
        if found[0]["s"] == ".":
            return True
        if any(int(each["a"]) > 12 for each in found):
            return True
        if any(int(each["b"]) > 12 for each in found):
            return False
        if self._hints.dates is None:
            remedy = "Say which: day_first or month_first"
            raise InputError(
                [Fault("dates", found[0][0], "day and month could be either", remedy)], self._where
            )
        return self._hints.dates == "day_first"

    def _clock(self, found: re.Match[str], day_first: bool) -> datetime | None:
        a, b, c = (int(found[part]) for part in "abc")
        year, month, day = (a, b, c) if len(found["a"]) == 4 else (c, b, a) if day_first else (c, a, b)
        hour = int(found["h"])
        if found["half"]:
            hour = hour % 12 + (12 if found["half"].lower().startswith("p") else 0)
        try:
            return datetime(
                year + 2000 * (year < 100), month, day, hour, int(found["m"]), int(found["sec"] or 0)
            )
        except ValueError:
            return None

    def _posix(self, clocks: Sequence[datetime | None], offsets: Sequence[str | None]) -> Floats:
        if all(offset for offset, clock in zip(offsets, clocks, strict=True) if clock):
            self.notes.append("every time carries its own offset")
            return np.array(
                [
                    clock.replace(tzinfo=_offset(offset or "Z")).timestamp() if clock else np.nan
                    for clock, offset in zip(clocks, offsets, strict=True)
                ]
            )
        named = self._named_offset()
        if self._hints.zone is not None:
            self.notes.append(say("files.times_taken_you", zone=str(self._hints.zone)))
            return _local(clocks, ZoneInfo(require_zone(self._hints.zone, "zone")))
        if named is None:
            remedy = "Say the zone of the logger's clock, such as Europe/London or UTC"
            raise InputError([Fault("zone", "", "the file does not say its time zone", remedy)], self._where)
        self.notes.append(say("files.times_taken_file", named=str(named)))
        return _local(clocks, _offset(named))

    def _named_offset(self) -> str | None:
        """UTC or GMT with or without an offset, from the column's name or the lines above the table."""
        names = " ".join(self._table.names[at] for at in self.columns)
        for text in (names, self._table.preamble):
            found = re.search(r"\b(?:UTC|GMT)\s*([+-]\s*\d{1,2}(?::?\d\d)?)?", text)
            if found:
                return found[0].strip()
        return None


def _offset(text: str) -> timezone:
    found = re.search(r"([+-])\s*(\d{1,2}):?(\d\d)?", text)
    if not found:
        return UTC
    minutes = int(found[2]) * 60 + int(found[3] or 0)
    return timezone(timedelta(minutes=-minutes if found[1] == "-" else minutes))


def _local(clocks: Sequence[datetime | None], zone: ZoneInfo | timezone) -> Floats:
    """POSIX seconds of local clocks; an hour that comes twice is told apart by the order of the readings."""
    out: list[float] = []
    before = -np.inf
    for clock in clocks:
        if clock is None:
            out.append(float("nan"))
            continue
        early, late = (clock.replace(tzinfo=zone, fold=fold).timestamp() for fold in (0, 1))
        out.append(early if early > before else max(early, late))
        before = out[-1]
    return np.array(out)


def _in_order(time_s: Floats, table: _Table, where: str) -> tuple[Floats, Bools, list[str]]:
    """Increasing times and the rows they belong to; repeated times are left out, times that go back refused."""
    notes, faults = [], []
    known = ~np.isnan(time_s)
    for i in np.flatnonzero(~known)[:5]:
        faults.append(Fault(f"line {table.lines[i]}", table.rows[i][0][:40], "no such time", "Mend the line"))
    back = np.flatnonzero(np.diff(time_s) < 0.0)
    for i in back[:5]:
        cell = " ".join(table.rows[i + 1])[:40]
        faults.append(Fault(f"line {table.lines[i + 1]}", cell, "the time goes back", "Mend or sort the log"))
    if faults:
        raise InputError(faults, where)
    kept = np.concatenate(([True], np.diff(time_s) > 0.0))
    if not kept.all():
        notes.append(say("files.readings_time_one", value=str(int(np.sum(~kept)))))
    return time_s[kept], kept, notes


# -- temperatures ------------------------------------------------------------------------------------

_TEMPERATURE = re.compile(r"temp|°\s*[CF]\b|\([CF]\)|celsius|fahrenheit|℃|℉", re.IGNORECASE)
_OTHER = re.compile(
    r"hum|%|\brh\b|dew|volt|batt|light|lux|press|hpa|weight|\bkg\b|^#|^no\.?$|index|record", re.IGNORECASE
)
_FAHRENHEIT = re.compile(r"°\s*F\b|\(F\)|fahrenheit|℉|[_ ]F$", re.IGNORECASE)
_CELSIUS = re.compile(r"°\s*C\b|\(C\)|celsius|℃|[_ ]C$", re.IGNORECASE)


def _sensors(table: _Table, hints: LoggerHints, times: Sequence[int], where: str) -> list[int]:
    """Columns that hold temperatures: those asked for, those named so, or all that could be."""
    if hints.columns:
        missing = [name for name in hints.columns if name not in table.names]
        if missing:
            remedy = "Choose among " + ", ".join(table.names)
            raise InputError([Fault("columns", name, "no such column", remedy) for name in missing], where)
        return [table.names.index(name) for name in hints.columns]
    free = [at for at in range(len(table.names)) if at not in times and not _OTHER.search(table.names[at])]
    numeric = [
        at for at in free if sum(bool(NUMBER.fullmatch(r[at])) for r in table.rows) > len(table.rows) // 2
    ]
    named = [at for at in numeric if _TEMPERATURE.search(table.names[at])]
    chosen = named or [at for at in numeric if not _counts(table, at)]
    if not chosen:
        remedy = "Name the temperature columns among " + ", ".join(table.names)
        raise InputError([Fault("columns", "", "no temperature column was found", remedy)], where)
    return chosen


def _counts(table: _Table, at: int) -> bool:
    """Whether a column only numbers the readings."""
    steps = np.diff([_number(row[at]) for row in table.rows])
    return steps.size > 0 and bool(np.all(steps == 1.0))


def _in_celsius(
    temps: Floats, names: Sequence[str], hints: LoggerHints, where: str
) -> tuple[Floats, list[str]]:
    """Every sensor in C; its unit from its name, from the user, or from values that can be only one of them."""
    out, notes = np.empty_like(temps), []
    for i, name in enumerate(names):
        unit, how = _unit(name, temps[:, i], hints, where)
        factor, shift = UNITS[unit]
        out[:, i] = temps[:, i] * factor + shift
        notes.append(f"{name}: {unit}, {how}")
    return out, notes


def _unit(name: str, values: Floats, hints: LoggerHints, where: str) -> tuple[Unit, str]:
    if _FAHRENHEIT.search(name):
        return "F", "as the file says"
    if _CELSIUS.search(name):
        return "C", "as the file says"
    if hints.unit is not None:
        return hints.unit, "as you said"
    middle = float(np.nanmedian(values)) if np.isfinite(values).any() else 0.0
    if middle > SURE_F_ABOVE:
        return "F", "no bees live at so many C"
    if 0.0 < middle < SURE_C_BELOW and np.nanmax(values) > 20.0 and np.nanmin(values) < 32.0:
        return "C", "in F water would freeze beside them"
    remedy = "Say the unit: C or F"
    raise InputError([Fault("unit", name, "the file does not say C or F", remedy)], where)


def _absurd(log: LoggerLog, lines: Sequence[int]) -> list[Fault]:
    """What cannot be true of a logger beside bees."""
    faults: list[Fault] = []
    if log.time_s.size < FEWEST_READINGS or log.time_s[-1] - log.time_s[0] < SHORTEST_S:
        problem = say(
            "files.only_readings_over",
            size=str(log.time_s.size),
            value=f"{(log.time_s[-1] - log.time_s[0]) / 60:.0f}",
        )
        return [Fault("", "", problem, "Give a log of at least half an hour")]
    year = datetime.fromtimestamp(float(log.time_s[0]), UTC).year
    if not 2000 <= year <= 2100:
        faults.append(Fault("time", str(year), "no trip was driven in this year", "Set the logger's clock"))
    spacing = float(np.median(np.diff(log.time_s)))
    if spacing > WIDEST_SPACING_S:
        problem = say("files.reading_every_minutes", spacing=f"{spacing / 60:.0f}")
        faults.append(Fault("time", "", problem, "Set the logger to ten minutes or less"))
    for i, name in enumerate(log.sensors):
        faults += _absurd_sensor(log.time_s, log.temps_c[:, i], name, lines)
    return faults[:20]


def _absurd_sensor(time_s: Floats, temps_c: Floats, name: str, lines: Sequence[int]) -> list[Fault]:
    known = np.flatnonzero(~np.isnan(temps_c))
    if known.size < max(FEWEST_READINGS, temps_c.size // 2):
        return [Fault(name, "", "most readings are missing", "Leave this column out")]
    faults = []
    t, temps = time_s[known], temps_c[known]
    outside = known[(temps < COLDEST_C) | (temps > HOTTEST_C)]
    if outside.size:
        at = outside[0]
        problem = say(
            "files.temperature_out_of_bounds", coldest_c=f"{COLDEST_C:g}", hottest_c=f"{HOTTEST_C:g}"
        )
        faults.append(
            Fault(f"{name}, line {lines[at]}", f"{temps_c[at]:g}", problem, "Check unit and sensor")
        )
    jump = (np.abs(np.diff(temps)) > MOST_JUMP_K) & (np.diff(t) < JUMP_WITHIN_S)
    if jump.any():
        at = known[1:][jump][0]
        problem = say("files.jumps_degrees_between", value=f"{np.max(np.abs(np.diff(temps))[jump]):.0f}")
        faults.append(Fault(f"{name}, line {lines[at]}", f"{temps_c[at]:g}", problem, "Check the sensor"))
    if np.ptp(temps) < FLAT_K and t[-1] - t[0] > FLAT_S:
        faults.append(Fault(name, f"{temps[0]:g}", "it never changes", "Check that the sensor works"))
    return faults
