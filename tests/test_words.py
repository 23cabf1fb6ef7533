"""The words readers meet: one name for each thing, degrees instead of kelvin, and no text that nobody is shown."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.units import METRIC, US
from tests.sources import PLANNER, nodes, text_of

STRINGS = PLANNER / "ui" / "look" / "strings.py"
OURS = r"\b(draws?|drawn worlds?|worlds|whence|doubts?|marched|temper|disturbed|central|kelvins?)\b"
"""Names the code has, or once had, for what readers know as variants, uncertainty, typical and agitated bees."""

DRAWS_A_MAP = "Skepway draws land, borders and towns by itself."


def sentences(path: Path) -> Iterator[str]:
    """The texts of a module that are more than one word: no names, no keys, no docstrings."""
    told = {id(node.value) for node in nodes(path) if isinstance(node, ast.Expr)}
    for node in nodes(path):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in told:
            yield node.value.replace(DRAWS_A_MAP, "") if " " in node.value.strip() else ""


def modules(*rooms: str) -> Iterator[Path]:
    for room in rooms:
        yield from sorted((PLANNER / room).rglob("*.py"))


def test_no_sentence_uses_a_name_of_ours() -> None:
    found = {(path.name, text) for path in modules("app", "cli", "ui") for text in sentences(path)}
    for name in ("new_trip.toml", "templates/report.html.j2"):
        found.add((name, resource_path(*name.split("/")).read_text("utf-8")))
    assert [pair for pair in sorted(found) if re.search(OURS, pair[1], re.IGNORECASE)] == []


def test_no_sentence_speaks_of_kelvin() -> None:
    """A difference of 3.8 K means nothing to most beekeepers."""
    for path in modules("app", "cli", "ui"):
        assert not re.search(r"[\d}] K\b", "\n".join(sentences(path))), path


@pytest.mark.parametrize(
    ("units", "step_k", "digits", "text", "cell"),
    [
        (METRIC, 3.8, 1, "3.8 degrees", "3.8 °C"),
        (METRIC, 1.0, 0, "1 degree", "1 °C"),
        (METRIC, 1.0, 1, "1.0 degrees", "1.0 °C"),
        (US, 3.8, 1, "6.8 °F", "6.8 °F"),
    ],
)
def test_differences_are_said_in_degrees(units, step_k: float, digits: int, text: str, cell: str) -> None:
    assert units.step_text(step_k, digits) == text
    assert units.step_cell(step_k, digits) == cell


def test_every_text_of_the_window_is_shown() -> None:
    """Texts nobody reads were features nobody was told of."""
    names = re.findall(r"^([A-Z][A-Z0-9_]*) = ", STRINGS.read_text("utf-8"), re.MULTILINE)
    used = {word for path in modules("ui") if path != STRINGS for word in re.findall(r"\w+", text_of(path))}
    assert len(names) > 300
    assert set(names) - used == set()


def test_units_beside_a_field_come_from_the_texts() -> None:
    for path in modules("ui"):
        if path != STRINGS:
            assert not re.search(r'suffix="[^"]*[a-z]|setSuffix\("', text_of(path)), path
