"""What the model leaves out, and what it is worth: one table of ours."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.bundled import resource_path
from planner.store.documents import read_toml

FILE = "left_out.toml"


@dataclass(frozen=True)
class LeftOut:
    """An effect, the kelvin it is worth from least to most, what it makes the box beside what we say, and why."""

    name: str
    what: str
    least_k: float
    most_k: float
    makes: Literal["cooler", "warmer", "either"]
    why: str


def left_out() -> tuple[LeftOut, ...]:
    """Every effect left out, what is worth most first. Raises StorageError or InputError when the file is damaged."""
    rows = read_toml(resource_path(FILE), "what is left out")
    found = [LeftOut(name, **row) for name, row in rows.items()]
    return tuple(sorted(found, key=lambda row: -row.most_k))
