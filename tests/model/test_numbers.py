"""Every number of the heat model stands in its table; what may stand in the code is listed here."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from planner import model

FILES = {path.stem: path for path in Path(model.__file__).parent.glob("*.py")}
SMALL_NUMBERS = {0.0, 0.5, 1.0, 2.0, 3.0, 4.0, 10.0}
UNITS = {1e-3, 60.0, 90.0, 180.0, 360.0, 1000.0, 1800.0, 3600.0, 86_400.0}
GUARDS = {1e-12, 1e-9, 1e9}
BOOK_SCIENCE = {"air", "geo", "openings", "sky", "sun"}
"""Formulas of the books are kept whole: a function (or the constant before it) that cites its source may hold them."""

DATED = re.compile(r"\b(?:18|19|20)\d\d\b|\b(?:eq\.|ch\.|table) \d")
DEFAULTS = {"records"}
"""Defaults of files that were written before a key existed; no physics."""


def loose_numbers(name: str, tree: ast.Module) -> Iterator[str]:
    """Floats that are neither small, nor a unit's, nor named and explained, nor part of a cited formula."""
    for statement, explained in zip(tree.body, [*map(_text, tree.body[1:]), ""], strict=True):
        cited = name in BOOK_SCIENCE and any(
            DATED.search(ast.get_docstring(node) or "")
            for node in ast.walk(statement)
            if isinstance(node, ast.FunctionDef | ast.ClassDef)
        )
        if cited or (isinstance(statement, ast.Assign) and explained):
            continue
        for node in ast.walk(statement):
            is_float = isinstance(node, ast.Constant) and isinstance(node.value, float)
            if is_float and node.value not in SMALL_NUMBERS | UNITS | GUARDS:
                yield f"{name}:{node.lineno}: {node.value}"


def _text(statement: ast.stmt) -> str:
    """What a string that stands alone says."""
    is_text = isinstance(statement, ast.Expr) and isinstance(statement.value, ast.Constant)
    return str(statement.value.value) if is_text else ""


@pytest.mark.parametrize("name", sorted(FILES.keys() - DEFAULTS))
def test_no_number_of_the_model_hides_in_its_code(name: str) -> None:
    """It belongs into the table of parameters with range, grade and source, or into a constant that says why not."""
    loose = list(loose_numbers(name, ast.parse(FILES[name].read_text(encoding="utf-8"))))
    assert not loose, "\n".join(loose)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("def f(x):\n    return x * 4.84", ["a:2: 4.84"]),
        ("LIMIT_C = 36.5", ["a:1: 36.5"]),
        ('LIMIT_C = 36.5\n"""Why."""', []),
        ("def f(x):\n    'Kovac 2014.'\n    return x * 4.84", ["a:3: 4.84"]),
        ("def f(x):\n    return 2.0 * x / 3600.0", []),
    ],
)
def test_the_search_finds_what_it_is_for(text: str, found: list[str]) -> None:
    assert list(loose_numbers("a", ast.parse(text))) == found


def test_a_cited_formula_of_the_books_is_left_whole() -> None:
    assert not list(loose_numbers("sun", ast.parse("def f(x):\n    'Meeus 1998.'\n    return x * 4.84")))
    assert list(loose_numbers("sun", ast.parse("def f(x):\n    'Meeus.'\n    return x * 4.84")))
