"""The compiled march as a library: found, checked against its source and the numpy march, or refused in words."""

from __future__ import annotations

import ctypes
import hashlib
import os
import sys
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from planner.model.kernel import terms

FOLDER = terms.FOLDER
SOURCES = ("*.c", "*.h", "terms.txt", "judging.txt")
NAME = "march.dll" if sys.platform == "win32" else "march.so"
SWITCH = "SKEPWAY_MARCH"
"""Environment variable: ``numpy`` leaves the compiled march aside."""

TABLES = (
    "cases",
    "boxes",
    "parameters",
    "judged_boxes",
    "judged_parameters",
    "air",
    "formed",
    "vehicle",
    "state",
    "forcing",
    "rates",
    "nodes",
    "steps",
    "outcomes",
)
"""What is handed over and back; the library says by name what it wants in each."""


@dataclass(frozen=True)
class Library:
    """A library that may be used, and the names of what it takes and gives, by table.

    ``judges`` whether it also knows the present terms of judging; else histories are judged by numpy.
    """

    handle: ctypes.CDLL
    fields: dict[str, tuple[str, ...]]
    judges: bool


@dataclass(frozen=True)
class Refused:
    """Why there is no compiled march: one sentence without its full stop."""

    reason: str


def source_hash(folder: Path = FOLDER) -> str:
    """Of all that a library is made from."""
    whole = hashlib.sha256()
    for path in sorted(path for pattern in SOURCES for path in folder.glob(pattern)):
        whole.update(path.name.encode() + path.read_bytes().replace(b"\r\n", b"\n"))
    return whole.hexdigest()[:16]


@cache
def library() -> Library | Refused:
    """The compiled march of this installation, looked for once."""
    if os.environ.get(SWITCH) == "numpy":
        return Refused(f"{SWITCH} asks for the other one")
    return opened(FOLDER / NAME)


def in_use() -> str:
    """One sentence: which march is in use and, if it is not the compiled one, why."""
    found = library()
    if isinstance(found, Refused):
        return f"The numpy march is in use, which gives the same answers more slowly; the compiled one: {found.reason}."
    return "The compiled march is in use."


def opened(path: Path) -> Library | Refused:
    """The library at a path, if it is whole, made of the present source, and of the terms of the numpy march."""
    if not path.is_file():
        return Refused("it was not built here")
    try:
        found = ctypes.CDLL(str(path))
        made_of = _text(found, "made_of")
        fields = {table: tuple(_text(found, f"fields_of_{table}").split()) for table in TABLES}
    except (OSError, AttributeError) as error:
        return Refused(f"it cannot be loaded ({type(error).__name__})")
    if made_of != source_hash():
        return Refused("it was built from another source")
    if changed := terms.changed(terms.told()):
        return Refused(f"it does not know the present {', '.join(changed[:3])}")
    found.march.argtypes, found.march.restype = [ctypes.c_void_p], ctypes.c_int
    return Library(found, fields, not terms.changed(terms.told(terms.JUDGING)))


def _text(found: ctypes.CDLL, name: str) -> str:
    function = getattr(found, name)
    function.argtypes, function.restype = [], ctypes.c_char_p
    return bytes(function()).decode()
