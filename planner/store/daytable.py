"""Tables of buyers and of boxes as people have them: CSV from a spreadsheet, or what was copied out of one.

Columns are found by name, that of the file or the head that stands over them in the window in the language in force.
Cells are parted by tabs, semicolons or commas, numbers may have a decimal comma. A cell that cannot be read is a fault
with its line and column; what a value may be is said by the schema of the day file.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from planner.errors import Fault, InputError
from planner.store.documents import Document
from planner.store.schema import did_you_mean, schema, shown
from planner.words import say

SCHEMA = "day.schema.json"
KINDS = {"buyers": "buyer", "boxes": "box"}
"""What a row of each table of a day file is."""

SEPARATORS = "\t;,"
MAX_FAULTS = 50
YES, NO = ("yes", "y", "true", "x", "1"), ("no", "n", "false", "0")
COMMA_NUMBER = re.compile(r"[-+]?\d+,\d+")


@dataclass(frozen=True)
class Rows:
    """The tables of a CSV in its order, and the line of the text each stands on."""

    tables: tuple[Document, ...]
    lines: tuple[int, ...]


def columns_of(kind: str) -> Mapping[str, Document]:
    """What a ``buyer`` or a ``box`` may say, by column."""
    properties: Mapping[str, Document] = schema(SCHEMA)["$defs"][kind]["properties"]
    return properties


def head_of(kind: str, name: str) -> str:
    """What stands over a column on the screen, with its unit; over one nobody knows, its name."""
    return say(f"rows.head_{kind}_{name}") if name in columns_of(kind) else name


def rule_of(spot: Sequence[str | int]) -> Document:
    """What the schema says of one spot of a day file."""
    rule: Document = schema(SCHEMA)
    for part in spot:
        rule = rule["items"] if isinstance(part, int) else rule["properties"][part]
    return rule


def read_rows(text: str, kind: str, where: str = "") -> Rows:
    """The rows of a text with a line of column names.

    Parameters
    ----------
    kind : ``buyer`` or ``box``

    Raises InputError with every fault: other columns, too many rows, cells that cannot be read.
    """
    known = columns_of(kind)
    lines = list(_lines(text, where))
    if not lines:
        raise InputError([Fault("", "", say("day.no_table"), say("day.no_table_remedy"))], where)
    heads = {_folded(head_of(kind, name)): name for name in known}
    names = [name if name in known else heads.get(name, name) for name in map(_folded, lines[0][1])]
    _require_names(names, known, kind, where)
    most = _most(kind)
    if len(lines) - 1 > most:
        problem = say("day.too_many_rows", count=len(lines) - 1, most=most)
        raise InputError([Fault("", "", problem, say("day.too_many_rows_remedy"))], where)
    faults: list[Fault] = []
    tables = [_table(line, cells, names, known, faults) for line, cells in lines[1:]]
    if faults:
        raise InputError(faults[:MAX_FAULTS], where)
    return Rows(tuple(tables), tuple(line for line, _ in lines[1:]))


def _most(kind: str) -> int:
    """How many rows a day holds."""
    plural = next(name for name, each in KINDS.items() if each == kind)
    return int(schema(SCHEMA)["properties"][plural]["maxItems"])


def _lines(text: str, where: str) -> Iterator[tuple[int, list[str]]]:
    """Rows that are not blank and no remark, each with its line from 1."""
    first = next((line for line in text.splitlines() if line.strip() and not line.startswith("#")), "")
    separator = max(SEPARATORS, key=first.count)
    reader = csv.reader(io.StringIO(text.removeprefix("\ufeff")), delimiter=separator)
    try:
        for row in reader:
            if any(cell.strip() for cell in row) and not row[0].startswith("#"):
                yield reader.line_num, row
    except csv.Error as error:
        fault = Fault(
            say("day.line", number=reader.line_num),
            "",
            say("day.not_csv", reason=str(error)),
            say("day.not_csv_remedy"),
        )
        raise InputError([fault], where) from error


def _folded(name: str) -> str:
    return re.sub(r"[\s-]+", "_", name.strip().lower())


def _require_names(names: Sequence[str], known: Mapping[str, Document], kind: str, where: str) -> None:
    faults = [
        Fault(say("day.column", name=shown(name)), "", say("day.no_such_column"), did_you_mean(name, known))
        for name in names
        if name not in known
    ]
    faults += [
        Fault(say("day.column", name=name), "", say("day.column_twice"), say("day.column_twice_remedy"))
        for name in dict.fromkeys(names)
        if names.count(name) > 1 and name in known
    ]
    faults += [
        Fault(say("day.column", name=name), "", say("day.column_missing"), say("day.column_missing_remedy"))
        for name in schema(SCHEMA)["$defs"][kind]["required"]
        if name not in names
    ]
    if faults:
        raise InputError(faults[:MAX_FAULTS], where)


def _table(
    line: int, cells: Sequence[str], names: Sequence[str], known: Mapping[str, Document], faults: list[Fault]
) -> Document:
    """One row as the table it stands for; empty cells say nothing."""
    if len(cells) > len(names) and any(cell.strip() for cell in cells[len(names) :]):
        problem = say("day.cells", count=len(cells), names=len(names))
        faults.append(Fault(say("day.line", number=line), "", problem, say("day.cells_remedy")))
        return {}
    table: Document = {}
    for name, cell in zip(names, cells, strict=False):
        if cell.strip():
            try:
                table[name] = value_of(cell.strip(), known[name])
            except ValueError:
                problem, remedy = say("day.cannot_be_read"), str(known[name]["x-remedy"])
                faults.append(
                    Fault(say("day.cell", number=line, name=name), shown(cell.strip()), problem, remedy)
                )
    return table


def value_of(cell: str, rule: Mapping[str, Any]) -> Any:
    """A cell as the schema's type. Raises ValueError."""
    if rule["type"] in ("number", "integer"):
        value = float(cell.replace(",", ".") if COMMA_NUMBER.fullmatch(cell) else cell)
        return int(value) if value.is_integer() else value
    if rule["type"] == "boolean":
        if cell.lower() in YES or cell.lower() in NO:
            return cell.lower() in YES
        raise ValueError(cell)
    return cell
