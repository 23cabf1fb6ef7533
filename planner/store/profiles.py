"""Profiles: what the user's own logs have said about a kind of box or a yard, kept as catalogue rows.

A profile is a catalogue file like any other of the user's, so that everything that takes one takes it, with a head
``[profile]`` that says what it is about, when it was made and from which trips.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from planner.errors import Fault, InputError
from planner.files import made
from planner.folders import data_dir
from planner.reading import reading_file
from planner.store.documents import Document, read_toml, write_text
from planner.store.tomltext import toml_text

About = Literal["box_type", "yard"]


@dataclass(frozen=True)
class Profile:
    """Rows laid over the catalogue, and where they come from.

    ``name`` a box type's id or a yard's name; ``made_on`` ISO date; ``trips`` in words, oldest first; ``rows`` as in
    a catalogue file: section, row, figures; ``table`` a mark of the parameters it was fitted under.
    """

    about: About
    name: str
    made_on: str
    trips: tuple[str, ...]
    rows: Mapping[str, Mapping[str, Mapping[str, object]]]
    notes: tuple[str, ...] = ()
    table: str = ""


def write_profile(profile: Profile, path: Path) -> None:
    """Write a profile in one step, its folder made where it is missing. Raises StorageError."""
    made(path.parent)
    write_text(path, toml_text(_document(profile), path))


def read_profile(path: Path) -> Profile:
    """A profile with its head. Raises InputError for a file that is none, StorageError when unreadable."""
    with reading_file(path.name, "a profile"):
        return _read(path)


def _read(path: Path) -> Profile:
    document = read_toml(path, "a profile")
    head = document.pop("profile", None)
    if not isinstance(head, dict) or head.get("about") not in ("box_type", "yard") or "name" not in head:
        remedy = "Choose a file that skepway fit has written"
        raise InputError([Fault("profile", "", "this file is no profile", remedy)], path.name)
    return Profile(
        about=head["about"],
        name=str(head["name"]),
        made_on=str(head.get("made_on", "")),
        trips=tuple(map(str, head.get("trips", ()))),
        rows=document,
        notes=tuple(map(str, head.get("notes", ()))),
        table=str(head.get("table", "")),
    )


def profile_path(folder: Path, about: About, name: str) -> Path:
    """Where the profile of a box type or yard is kept."""
    plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-") or "profile"
    return folder / f"{about.replace('_', '-')}-{plain}.toml"


def kept_profiles() -> tuple[Path, ...]:
    """The profiles that were kept with the user's own data: the next plan goes by them."""
    return tuple(sorted((data_dir() / "profiles").glob("*.toml")))


def _document(profile: Profile) -> Document:
    head: dict[str, Any] = {
        "about": profile.about,
        "name": profile.name,
        "made_on": profile.made_on,
        "trips": list(profile.trips),
    }
    if profile.table:
        head["table"] = profile.table
    if profile.notes:
        head["notes"] = list(profile.notes)
    rows = {
        section: {name: dict(row) for name, row in table.items()} for section, table in profile.rows.items()
    }
    return {"profile": head, **rows}
