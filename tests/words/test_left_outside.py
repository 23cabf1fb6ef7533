"""Sentences that are still put together outside the catalogue: counted, and none may join them.

A sentence here is an f-string with a gap, two words or more and a space between: paths of fields and keys are none, and
neither are queries of a database, markup and styles. Those that can never be moved stand in ``BESIDE``, each with its
reason; the rest, in ``LEFT``, waits: whoever moves one lowers the number of its room.
"""

from __future__ import annotations

import ast
import re
from collections import Counter
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import pytest

from tests.sources import PLANNER, every_module, nodes

BESIDE = {
    "__main__.py": (1, "said when libraries are missing, before anything of ours can be relied on"),
    "bundled.py": (1, "said when the data files are missing, the catalogue among them"),
    "units.py": (1, "a number with its unit, for tables that stand in no sentence"),
    "app/chance/sobol.py": (1, "a mistake of ours, told to whoever wrote the call"),
    "app/trade/results.py": (1, "a line of TOML"),
    "model/kernel/library.py": (4, "the model stands below the words and says nothing of its own"),
    "model/ways.py": (1, "the model stands below the words and says nothing of its own"),
    "store/chunks.py": (1, "a mistake of ours, told to whoever wrote the call"),
    "store/posterior.py": (1, "a line of TOML"),
    "store/typicalyear.py": (3, "where in a file, as field of a fault"),
    "store/weatherfile.py": (4, "where in a file, as field of a fault"),
    "words/catalogue.py": (3, "a mistake of ours, told by the catalogue itself"),
    "words/voice.py": (2, "a mistake of ours, told by the catalogue itself"),
}
"""How many a file has that no catalogue can hold, and why."""
LEFT: dict[str, int] = {}
"""How many each room may still have; a room that is not named here has none."""
SLACK = 3
"""So many may have been moved without the numbers being lowered."""


def room_of(path: Path) -> str:
    """``app/standing`` of a room of the use cases, else ``store``."""
    parts = path.relative_to(PLANNER).parts
    return "/".join(parts[:2]) if parts[0] == "app" else parts[0] if len(parts) > 1 else "."


NO_WORDS = re.compile(
    r"</?\w|\w='|='\{|\{ [\w-]+:|^\[Desktop Entry"
    r"|^(?:select|insert|create|delete|pragma|kind in)\b|\bvalues \(|\border by\b"
)
"""Markup, styles, menu entries, queries of a database."""


def put_together(within: Iterable[ast.AST]) -> list[str]:
    """The f-strings of a module that are sentences or parts of one."""
    found = []
    for node in within:
        if isinstance(node, ast.JoinedStr) and any(isinstance(v, ast.FormattedValue) for v in node.values):
            plain = "".join(str(v.value) if isinstance(v, ast.Constant) else "\0" for v in node.values)
            words = re.findall(r"[A-Za-z]{2,}", plain)
            if len(words) >= 2 and re.search(r"\s", plain.strip()) and not NO_WORDS.search(plain):
                found.append(plain)
    return found


@cache
def counted() -> Counter[str]:
    found: Counter[str] = Counter()
    for path in every_module():
        beside, _ = BESIDE.get(str(path.relative_to(PLANNER)), (0, ""))
        found[room_of(path)] += max(0, len(put_together(nodes(path))) - beside)
    return +found


def test_no_room_puts_more_sentences_together_than_it_did() -> None:
    """Ask the catalogue instead: a line in resources/words/en and ``say``."""
    more = {
        room: (count, LEFT.get(room, 0)) for room, count in counted().items() if count > LEFT.get(room, 0)
    }
    assert more == {}


def test_the_numbers_follow_what_was_moved() -> None:
    assert sum(LEFT.values()) - sum(counted().values()) <= SLACK


def test_what_stands_beside_is_still_there() -> None:
    """A reason without its sentence would let another one in."""
    counts = {name: len(put_together(nodes(PLANNER / name))) for name in BESIDE}
    assert counts == {name: count for name, (count, _) in BESIDE.items()}


@pytest.mark.parametrize(
    ("source", "count"),
    [
        ('f"{n} boxes are held"', 1),
        ('f"{n}-{m}"', 0),
        ('f"no gap at all"', 0),
        ('say("checks.held", count=n)', 0),
        ('f"box {n}"', 0),
        ('f"load[{n}].boxes[{m}].name"', 0),
        ('f"select {a} from {b}"', 0),
        ('f"<b>{a}</b> and more"', 0),
    ],
)
def test_what_counts_as_a_sentence(source: str, count: int) -> None:
    assert len(put_together(ast.walk(ast.parse(source)))) == count
