"""The checks of the model as they stood when they were last written down: one generated file."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from planner.bundled import resource_path
from planner.store.documents import read_toml

FILE = "checks.toml"


@dataclass(frozen=True)
class Check:
    """What is checked against what; ``reason`` says why where it is not ``met``."""

    name: str
    says: str
    met: bool
    reason: str = ""


def kept_checks(path: Path | None = None) -> tuple[Check, ...]:
    """The checks kept; none where none are.

    Raises StorageError or InputError when the file is damaged.
    """
    file = path or resource_path(FILE)
    if not file.is_file():
        return ()
    tables = read_toml(file, "a list of checks")
    return tuple(Check(name, **table) for name, table in tables.items() if isinstance(table, dict))


def checks_mark(files: Iterable[Path]) -> str:
    """A mark of what was checked by what: the files of checks and the table of parameters."""
    digest = hashlib.sha256()
    for path in (*sorted(files), resource_path("parameters.toml")):
        digest.update(path.name.encode() + b"\0" + path.read_bytes().replace(b"\r\n", b"\n"))
    return digest.hexdigest()[:16]
