"""The checks of the model as they stood when they were last written down: one generated file."""

from __future__ import annotations

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
    return tuple(Check(name, **table) for name, table in read_toml(file, "a list of checks").items())
