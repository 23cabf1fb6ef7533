"""The day file: a collection day as TOML, its buyers and boxes in it or in CSV files beside it, checked in full."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Site, Tolerated
from planner.reading import reading_file
from planner.store import dayparts
from planner.store.clocks import day_of, require_zone
from planner.store.dayrecords import CLOSINGS, Day
from planner.store.daytable import KINDS, SCHEMA, read_rows
from planner.store.documents import MAX_TABLE_BYTES, Document, read_text, read_toml, write_text
from planner.store.roadfile import file_beside
from planner.store.schema import schema_faults, shown
from planner.store.tomltext import toml_text
from planner.store.tripparts import Calls, FaultList, weather_of
from planner.words import say
from planner.zones import zone_at

VERSION = 1
TOLERATED = ("harm_of_100", "boxes_of_100")
USUAL_SETUPS = ("as_declared", "roof_screen")
Lines = dict[str, tuple[str, int, tuple[int, ...]]]
"""Of buyers and boxes: the file their later rows came from, how many stood in the day file, the lines of the rest."""


def load_day(path: Path, catalogue: Catalogue) -> Day:
    """A day file with the tables and the weather beside it. Raises InputError with every fault, StorageError."""
    return resolve_day(read_day(path), catalogue, path.parent)


def read_day(path: Path) -> Document:
    """The draft in a day file. Raises InputError or StorageError."""
    draft = read_toml(path, "a day file")
    version = draft.get("version")
    if isinstance(version, int) and not isinstance(version, bool) and version > VERSION:
        problem = say("day.too_new", version=shown(version), known=VERSION)
        raise InputError([Fault("version", shown(version), problem, say("day.too_new_remedy"))])
    return draft


def write_day(draft: Document, path: Path) -> None:
    """Replace a day file in one step. Raises StorageError; the old file is then untouched."""
    write_text(path, toml_text(draft, path))


def resolve_day(draft: Document, catalogue: Catalogue, base_folder: Path | None = None) -> Day:
    """The day a draft states; without a folder no other file is read. Raises InputError with every fault."""
    with reading_file("day", "a day file"):
        whole, lines = _with_tables(draft, base_folder)
        found, parts = _read(whole, catalogue, base_folder)
        if found:
            raise InputError([_as_in_file(fault, lines) for fault in found])
        return _day(whole, parts)


def whole_draft(draft: Document, base_folder: Path) -> Document:
    """The draft with the rows of its CSV files in it, needing no other file for them. Raises InputError."""
    whole, _ = _with_tables(draft, base_folder)
    return {key: value for key, value in whole.items() if key not in ("buyers_file", "boxes_file")}


def empty_day() -> Document:
    """The bundled day without its people and boxes: something to change; its weather is nobody's word yet."""
    draft = read_day(resource_path("demo", "day", "collection-day.toml"))
    kept = {key: value for key, value in draft.items() if key not in ("buyers_file", "boxes_file")}
    return {**kept, "weather": {**kept["weather"], "assumed": True}}


def _with_tables(draft: Document, base_folder: Path | None) -> tuple[Document, Lines]:
    """The draft with the rows of its CSV files behind its own."""
    whole, lines, faults = dict(draft), Lines(), FaultList()
    for key, kind in KINDS.items():
        name = draft.get(f"{key}_file")
        if not isinstance(name, str) or base_folder is None:
            continue
        own = draft.get(key, [])
        with faults.caught():
            path = file_beside(name, base_folder, f"{key}_file")
            rows = read_rows(
                read_text(path, MAX_TABLE_BYTES, say("files.a_csv_of", key_name=str(key)), "cp1252"),
                kind,
                name,
            )
            if isinstance(own, list):
                whole[key] = [*own, *rows.tables]
                lines[key] = name, len(own), rows.lines
    faults.raise_any()
    return whole, lines


def _as_in_file(fault: Fault, lines: Lines) -> Fault:
    """A fault of a row that came from a CSV, named by its line there."""
    found = re.match(r"(buyers|boxes)\[(\d+)\]\.?(\w*)", fault.field)
    if not found or found[1] not in lines:
        return fault
    name, own, at = lines[found[1]]
    number = int(found[2]) - own
    if number < 0:
        return fault
    field = say("day.cell_of", file=name, number=at[number], name=found[3])

    def line_of(row: re.Match[str]) -> str:
        """The row that a problem speaks of, by its line too where it has one."""
        other = int(row[1]) - own
        return say("day.line_of", file=name, number=at[other]) if other >= 0 else row[0]

    problem = re.sub(rf"{found[1]}\[(\d+)\]", line_of, fault.problem)
    return Fault(field, fault.value, problem, fault.remedy)


def _read(draft: Document, catalogue: Catalogue, base_folder: Path | None) -> tuple[FaultList, Document]:
    """Every part that can be read, and every fault of the rest; no part where the schema is not kept as a whole."""
    found = FaultList(schema_faults(draft, SCHEMA))
    broken = {fault.field.split(".")[0].split("[")[0] for fault in found}
    parts: Document = {}
    if "" in broken:
        return found, parts

    def part(name: str, sections: str, read: Callable[[], Any], *needs: str) -> None:
        if broken.isdisjoint(sections.split()) and all(need in parts for need in needs):
            with found.caught():
                parts[name] = read()

    part("yard", "yard", lambda: _yard(draft["yard"]))
    part("clock", "date", lambda: dayparts.clock_of(draft, parts["yard"]), "yard")
    part("slots", "slots", lambda: dayparts.slots_of(draft["slots"], parts["clock"]), "clock")
    part("hands", "hands", lambda: dayparts.hands_of(draft["hands"]))
    part("stock", "stock", lambda: dayparts.stock_of(draft.get("stock", {})))
    part("shade", "shade", lambda: _shade(draft, parts["clock"]), "clock")
    part(
        "boxes",
        "box boxes",
        lambda: dayparts.boxes_of(draft, parts["clock"], parts["yard"], catalogue),
        "clock",
    )
    part(
        "buyers",
        "buyers",
        lambda: dayparts.buyers_of(draft, parts["clock"], parts["slots"], catalogue),
        "slots",
    )
    part(
        "weather", "weather", lambda: weather_of(draft["weather"], _calls(parts["yard"]), base_folder), "yard"
    )
    if {"buyers", "boxes", "stock"} <= parts.keys():
        found += list(dayparts.together_faults(parts["buyers"], parts["boxes"], parts["stock"]))
    return found, parts


def _calls(yard: Site) -> Calls:
    return Calls(yard, (), yard)


def _yard(table: Document) -> Site:
    lat, lon = float(table["lat"]), float(table["lon"])
    zone = require_zone(table["zone"], "yard.zone") if "zone" in table else zone_at(lat, lon)
    elevation = table.get("elevation_m")
    return Site(table["name"], lat, lon, zone, None if elevation is None else float(elevation))


def _shade(draft: Document, clock: dayparts.Clock) -> tuple[tuple[float, float], ...]:
    return clock.spans(draft.get("shade", {}).get("spans", []), "shade.spans")


def _day(draft: Document, parts: Document) -> Day:
    tolerance = draft.get("tolerance", {})
    return Day(
        title=draft["title"],
        yard=parts["yard"],
        date=day_of(draft["date"], "date"),
        slots=parts["slots"],
        hands=parts["hands"],
        bays=int(draft.get("shade", {}).get("bays", 0)),
        shade_spans=parts["shade"],
        stock=parts["stock"],
        setups=tuple(draft.get("setups", USUAL_SETUPS)),
        closings=tuple(draft.get("closings", CLOSINGS)),
        buyers=parts["buyers"],
        boxes=parts["boxes"],
        weather=parts["weather"],
        tolerance=Tolerated(*(float(tolerance.get(key, math.nan)) for key in TOLERATED)),
        invented=draft.get("invented", False),
    )
