"""Vehicles of one's own in the user's catalogue file: one like a bundled one, with its colour, places and room.

A vehicle of one's own is a row like any other of the catalogue; its places are named after those they are like
(``my_van__van_shut_dark``), by which they are known again. Rows written by hand are left as they are.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.errors import Fault, InputError
from planner.files import made
from planner.store.catalogue import bundled_rows, load_catalogue
from planner.store.documents import Document, read_toml, write_text
from planner.store.tomltext import toml_text

LIKE = "__"
MOST_LETTERS = 40


@dataclass(frozen=True)
class OwnVehicle:
    """``name`` its id, ``title`` for people, ``like`` a bundled vehicle; ``colour`` of its body, "" where that is open.

    ``places`` : bundled loading places it has, each with the most boxes that ride there, None by their size
    """

    name: str
    title: str
    like: str
    colour: str = ""
    places: Mapping[str, int | None] | None = None


def places_like(vehicle: str, colour: str = "") -> dict[str, str]:
    """Bundled loading places of a bundled vehicle with a body of this colour: id and title."""
    rows = bundled_rows()["loading_places"]
    return {
        name: str(row["title"])
        for name, row in rows.items()
        if row["vehicle"] == vehicle and (not colour or row.get("colour", "") in ("", colour))
    }


def name_of(title: str, taken: Sequence[str] = ()) -> str:
    """An id for a title, unlike those ``taken``."""
    letters = re.sub(r"[^a-z0-9]+", "_", title.casefold()).strip("_")[:MOST_LETTERS]
    plain = letters if re.match(r"[a-z]", letters) else f"own_{letters}".rstrip("_")
    number, name = 2, plain
    while name in taken:
        name, number = f"{plain}_{number}", number + 1
    return name


def read_own_vehicles(path: Path) -> list[OwnVehicle]:
    """The vehicles of one's own in a catalogue file; none where there is no file. InputError, StorageError."""
    document = _document(path)
    known = bundled_rows()["loading_places"]
    found = []
    for name, row in document.get("vehicles", {}).items():
        places = _places_of(document, name)
        likes = {known[like]["vehicle"] for like in places if like in known}
        if len(likes) != 1 or name in bundled_rows()["vehicles"]:
            continue
        colours = {row.get("colour", "") for row in places.values()} - {""}
        held = {like: _whole(place.get("capacity_boxes")) for like, place in places.items()}
        colour = colours.pop() if len(colours) == 1 else ""
        found.append(OwnVehicle(name, str(row.get("title", name)), likes.pop(), colour, held))
    return found


def write_own_vehicles(path: Path, vehicles: Sequence[OwnVehicle]) -> None:
    """Let the file hold these vehicles of one's own, and whatever else it held.

    Raises
    ------
    InputError : for a vehicle without a name, a place or a number that cannot be; StorageError
    """
    document = _document(path)
    before = [one.name for one in read_own_vehicles(path)]
    held = {name: row for name, row in document.get("vehicles", {}).items() if name not in before}
    rows = {
        name: row
        for name, row in document.get("loading_places", {}).items()
        if name.partition(LIKE)[0] not in before or LIKE not in name
    }
    bundled = bundled_rows()
    for one in vehicles:
        if not one.title.strip() or not one.places:
            field, problem = (
                ("title", "it has no name") if not one.title.strip() else ("places", "it has no place")
            )
            raise InputError([Fault(f"vehicles.{one.name}.{field}", "", problem, "Name it and tick a place")])
        held[one.name] = {**bundled["vehicles"][one.like], "title": one.title.strip()}
        for like, most in one.places.items():
            row = {**bundled["loading_places"][like], "vehicle": one.name}
            row["title"] = f"{one.title.strip()}: {row['title']}"
            if most is not None:
                row["capacity_boxes"] = most
            rows[f"{one.name}{LIKE}{like}"] = row
    wanted = {**document, "vehicles": held, "loading_places": rows}
    _write_whole(path, {key: value for key, value in wanted.items() if value})


def _write_whole(path: Path, document: Document) -> None:
    """Only what the catalogue can be read with takes the place of the file."""
    made(path.parent)
    draft = path.with_name(f".{path.name}.draft")
    write_text(draft, toml_text(document, path))
    try:
        load_catalogue(draft)
    finally:
        text = draft.read_text("utf-8")
        draft.unlink(missing_ok=True)
    write_text(path, text)


def _document(path: Path) -> dict[str, Any]:
    return read_toml(path, "a catalogue file") if path.is_file() else {}


def _places_of(document: Mapping[str, Any], vehicle: str) -> dict[str, dict[str, Any]]:
    """What each place of a vehicle is like, and its row."""
    return {
        name.partition(LIKE)[2]: row
        for name, row in document.get("loading_places", {}).items()
        if name.startswith(vehicle + LIKE) and row.get("vehicle") == vehicle
    }


def _whole(number: object) -> int | None:
    return int(number) if isinstance(number, int | float) else None
