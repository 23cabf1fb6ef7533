"""The people of a trip: who collects which boxes, in which language they read; from the trip file or a CSV list."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.errors import Fault, InputError, StorageError, reason_of
from planner.reading import reading_file
from planner.words import languages, say

FIELDS = ("name", "phone", "language", "vehicle", "place", "boxes")
MOST_PEOPLE = 500
MOST_BYTES = 4_000_000


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who gets a sheet.

    ``language`` as in :func:`planner.words.languages`, empty: the language asked for. ``place`` is where their boxes
    ride, as the plan calls it. ``boxes`` names of boxes, or how many (``count``), 0 where nobody said.
    """

    name: str
    phone: str = ""
    language: str = ""
    vehicle: str = ""
    place: str = ""
    boxes: tuple[str, ...] = ()
    count: int = 0


def read_people(path: Path) -> tuple[Person, ...]:
    """The people of a CSV list with the columns name, phone, language, vehicle, place, boxes; only name is needed.

    Separated by commas, semicolons or tabs. Raises InputError with every fault, StorageError when it cannot be read.
    """
    try:
        with path.open("rb") as stream:
            data = stream.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        raise StorageError(say("sheets.people_unreadable", path=str(path), why=reason_of(error))) from error
    with reading_file(path.name, "a list of people"):
        return _people_of_csv(data, path.name)


def _people_of_csv(data: bytes, where: str) -> tuple[Person, ...]:
    if len(data) > MOST_BYTES:
        raise InputError(
            [Fault("", "", say("sheets.people_too_long"), say("sheets.people_too_long_remedy"))], where
        )
    text = data.decode("utf-8-sig", errors="replace").replace("\0", "�")
    first = text.split("\n", 1)[0]
    separator = max(",;\t", key=first.count)
    reader = csv.DictReader(io.StringIO(text, newline=None), delimiter=separator, strict=False)
    heads = [str(head or "").strip().lower() for head in reader.fieldnames or ()]
    if "name" not in heads:
        problem, remedy = say("sheets.people_no_name_column"), say("sheets.people_columns")
        raise InputError([Fault("", first[:80], problem, remedy)], where)
    unknown = sorted({head for head in heads if head} - set(FIELDS))
    if unknown:
        problem, remedy = say("sheets.people_unknown_column"), say("sheets.people_columns")
        raise InputError([Fault(head, "", problem, remedy) for head in unknown], where)
    reader.fieldnames = heads
    rows = [{key: str(value or "").strip() for key, value in row.items() if key in FIELDS} for row in reader]
    tables: list[dict[str, Any]] = [row for row in rows if any(row.values())]
    return people_of(tables, where)


def people_of(tables: Sequence[dict[str, Any]], where: str = "") -> tuple[Person, ...]:
    """People from the tables of a trip file or the rows of a list. Raises InputError with every fault."""
    faults: list[Fault] = []
    people = []
    if len(tables) > MOST_PEOPLE:
        problem = say("sheets.people_too_many", count=MOST_PEOPLE)
        faults.append(Fault("people", str(len(tables)), problem, say("sheets.people_too_many_remedy")))
    for at, table in enumerate(tables[:MOST_PEOPLE]):
        faults += _faults_of(table, f"people[{at}]")
        people.append(_person(table))
    if faults:
        raise InputError(faults, where)
    return tuple(people)


def _faults_of(table: dict[str, Any], field: str) -> list[Fault]:
    found = []
    if not str(table.get("name", "")).strip():
        found.append(
            Fault(f"{field}.name", "", say("sheets.person_no_name"), say("sheets.person_no_name_remedy"))
        )
    language = str(table.get("language", "")).strip()
    if language and language.lower() not in languages():
        problem = say("sheets.person_language")
        remedy = say("sheets.person_language_remedy", languages=", ".join(languages()))
        found.append(Fault(f"{field}.language", language[:40], problem, remedy))
    return found


def _person(table: dict[str, Any]) -> Person:
    names, count = _boxes(table.get("boxes", ""))
    texts = {key: str(table.get(key, "")).strip() for key in ("name", "phone", "vehicle", "place")}
    return Person(**texts, language=str(table.get("language", "")).strip().lower(), boxes=names, count=count)


def _boxes(given: object) -> tuple[tuple[str, ...], int]:
    """Names, or a count: ``3``, ``"3"``, ``"B001T B002R"``, ``["B001T"]``."""
    if isinstance(given, list | tuple):
        names = tuple(str(name).strip() for name in given if str(name).strip())
        return names, len(names)
    text = str(given).strip()
    if text.isascii() and text.isdigit() and len(text) < 6:
        return (), int(text)
    names = tuple(text.replace(",", " ").replace("+", " ").split())
    return names, len(names)
