"""CSV tables with ``# key: value`` remarks on top; every bad cell is a fault with its line and column."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from planner.errors import Fault, InputError
from planner.model.records import Floats
from planner.store.schema import did_you_mean, shown
from planner.words import say

MAX_ROWS = 300_000
MAX_FAULTS = 50


@dataclass(frozen=True, slots=True)
class Column:
    """A column of numbers: its range, whether it must be there, whether cells may be empty (NaN)."""

    low: float
    high: float
    required: bool = True
    gaps: bool = False
    parse: Callable[[str], float] = float
    example: str = "12.5"


@dataclass(frozen=True)
class Table:
    """Columns of equal length, the line of the file each row stands on, and the remarks on top."""

    columns: Mapping[str, Floats]
    lines: tuple[int, ...]
    remarks: Mapping[str, tuple[str, ...]]

    def first(self, key: str, default: str = "") -> str:
        """The first remark of a key."""
        return self.remarks.get(key, (default,))[0]


def read_table(text: str, known: Mapping[str, Column], where: str) -> Table:
    """Columns of a CSV text; unknown columns, bad cells and short rows are all reported at once."""
    remarks, body, first_line = _split_remarks(text)
    rows = _rows(body, where)
    if not rows:
        raise InputError([Fault("", "", "there is no table", "Start with a line of column names")], where)
    names = [name.strip() for name in rows[0][1]]
    _require_columns(names, known, where)
    if len(rows) == 1:
        raise InputError([Fault("", "", "the table has no rows", "Add rows below the column names")], where)
    faults: list[Fault] = []
    cells = [_read_row(line + first_line, row, names, known, faults) for line, row in rows[1:]]
    if faults:
        raise InputError(_capped(faults), where)
    values = np.array(cells, dtype=np.float64)
    columns = {name: values[:, place] for place, name in enumerate(names)}
    empty = np.full(len(cells), np.nan)
    return Table(
        {name: columns.get(name, empty) for name in known},
        tuple(line + first_line for line, _ in rows[1:]),
        remarks,
    )


def _split_remarks(text: str) -> tuple[dict[str, tuple[str, ...]], str, int]:
    """Leading ``# key: value`` lines, the rest of the text, and how many lines were taken off."""
    lines = text.splitlines()
    remarks: dict[str, tuple[str, ...]] = {}
    taken = 0
    for line in lines:
        if line.strip() and not line.startswith("#"):
            break
        key, colon, value = line.lstrip("# ").partition(":")
        if colon:
            remarks[key.strip()] = (*remarks.get(key.strip(), ()), value.strip())
        taken += 1
    return remarks, "\n".join(lines[taken:]), taken


def _rows(body: str, where: str) -> list[tuple[int, list[str]]]:
    """Rows that are not blank, each with its line number from 1."""
    reader = csv.reader(io.StringIO(body))
    rows: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                rows.append((reader.line_num, row))
            if len(rows) > MAX_ROWS:
                raise InputError(
                    [Fault("", "", say("files.too_many_rows", max_rows=str(MAX_ROWS)), "Shorten the table")],
                    where,
                )
    except csv.Error as error:
        fault = Fault(
            f"line {reader.line_num}", "", say("files.no_csv_line", error=str(error)), "Mend the line"
        )
        raise InputError([fault], where) from error
    return rows


def _require_columns(names: list[str], known: Mapping[str, Column], where: str) -> None:
    faults = [
        Fault(f"column {shown(name)}", "", "no such column", did_you_mean(name, known))
        for name in names
        if name not in known
    ]
    faults += [
        Fault(f"column {name}", "", "this column stands twice", "Take one of them out")
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    ]
    faults += [
        Fault(f"column {name}", "", "this column is missing", "Add it")
        for name, column in known.items()
        if column.required and name not in names
    ]
    if faults:
        raise InputError(_capped(faults), where)


def _read_row(
    line: int, row: list[str], names: list[str], known: Mapping[str, Column], faults: list[Fault]
) -> list[float]:
    """The numbers of one row; faults are added to the list and stand as NaN."""
    if len(row) != len(names):
        problem = say("files.cells_under_column", count=len(row), count_2=len(names))
        faults.append(Fault(f"line {line}", "", problem, "Give one cell for each column"))
        return [math.nan] * len(names)
    return [
        _read_cell(cell.strip(), known[name], (line, name), faults)
        for name, cell in zip(names, row, strict=True)
    ]


def _read_cell(cell: str, column: Column, at: tuple[int, str], faults: list[Fault]) -> float:
    """The number of one cell; words are made for bad ones only, as good ones come by the ten thousand."""
    if not cell:
        if not column.gaps:
            faults.append(_fault(at, "", "this is empty", column))
        return math.nan
    try:
        value = column.parse(cell)
    except (ValueError, OverflowError):
        faults.append(_fault(at, cell, "this cannot be read", column))
        return math.nan
    if not column.low <= value <= column.high:  # also catches NaN and infinity
        problem = say("files.cell_out_of_bounds", low=f"{column.low:g}", high=f"{column.high:g}")
        faults.append(_fault(at, cell, problem, column))
    return value


def _fault(at: tuple[int, str], cell: str, problem: str, column: Column) -> Fault:
    line, name = at
    example = str(column.example)
    number = column.parse is float
    remedy = (
        say("files.write_number_such", example=example)
        if number
        else say("files.write_time_such", example=example)
    )
    return Fault(
        f"line {line}, {name}", shown(cell), problem, remedy + (", or leave it empty" if column.gaps else "")
    )


def _capped(faults: list[Fault]) -> list[Fault]:
    if len(faults) <= MAX_FAULTS:
        return faults
    more = len(faults) - MAX_FAULTS
    return [
        *faults[:MAX_FAULTS],
        Fault("", "", say("files.more_faults_listed", more=str(more)), "Mend these first"),
    ]
