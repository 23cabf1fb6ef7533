"""Sentences that are still put together outside the catalogue: counted, and none may join them.

A sentence here is an f-string with a gap and two words or more. Those that remain are fragments of a longer sentence,
queries of a database, names of fields, or wait to be moved; whoever moves one lowers the number of its room.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from pathlib import Path

import pytest

from planner.words import catalogue

PLANNER = Path(catalogue.__file__).resolve().parent.parent
LEFT = {
    ".": 12,
    "app/advice": 25,
    "app/answer": 2,
    "app/asking": 1,
    "app/chance": 2,
    "app/common": 15,
    "app/day": 1,
    "app/explain": 8,
    "app/fit": 4,
    "app/inspect": 6,
    "app/plan": 3,
    "app/season": 4,
    "app/sheets": 2,
    "app/standing": 16,
    "app/trade": 1,
    "cli": 6,
    "model": 6,
    "paper": 5,
    "services": 10,
    "store": 42,
    "ui": 7,
    "words": 5,
}
"""How many each room may still have; a room that is not named here has none."""
SLACK = 12
"""So many may have been moved without the numbers being lowered."""


def room_of(path: Path) -> str:
    """``app/standing`` of a room of the use cases, else ``store``."""
    parts = path.relative_to(PLANNER).parts
    return "/".join(parts[:2]) if parts[0] == "app" else parts[0] if len(parts) > 1 else "."


def put_together(text: str) -> list[str]:
    """The f-strings of a module that are sentences or parts of one."""
    found = []
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.JoinedStr) and any(isinstance(v, ast.FormattedValue) for v in node.values):
            plain = "".join(str(v.value) if isinstance(v, ast.Constant) else " " for v in node.values)
            if len(re.findall(r"[A-Za-z]{2,}", plain)) >= 2 and " " in plain.strip():
                found.append(plain)
    return found


def counted() -> Counter[str]:
    found: Counter[str] = Counter()
    for path in sorted(PLANNER.rglob("*.py")):
        found[room_of(path)] += len(put_together(path.read_text(encoding="utf-8")))
    return +found


def test_no_room_puts_more_sentences_together_than_it_did() -> None:
    """Ask the catalogue instead: a line in resources/words/en and ``say``."""
    more = {
        room: (count, LEFT.get(room, 0)) for room, count in counted().items() if count > LEFT.get(room, 0)
    }
    assert more == {}


def test_the_numbers_follow_what_was_moved() -> None:
    assert sum(LEFT.values()) - sum(counted().values()) <= SLACK


@pytest.mark.parametrize(
    ("source", "count"),
    [
        ('f"{n} boxes are held"', 1),
        ('f"{n}-{m}"', 0),
        ('f"no gap at all"', 0),
        ('say("checks.held", count=n)', 0),
        ('f"box {n}"', 0),
    ],
)
def test_what_counts_as_a_sentence(source: str, count: int) -> None:
    assert len(put_together(source)) == count
