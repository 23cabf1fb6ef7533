"""The modules of the program, read and parsed once a process for all tests that look at how it is written."""

from __future__ import annotations

import ast
import gc
from functools import cache
from pathlib import Path

from planner.bundled import resource_path

PLANNER = Path(resource_path.__code__.co_filename).parent


@cache
def text_of(path: Path) -> str:
    return path.read_text(encoding="utf-8")


@cache
def tree_of(path: Path) -> ast.Module:
    return ast.parse(text_of(path))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """All of the tree, in no order that means anything."""
    return tuple(ast.walk(tree_of(path)))


@cache
def every_module() -> tuple[Path, ...]:
    """Every module of the program. Their trees stay, and the collector of garbage need not go through them again."""
    found = tuple(sorted(PLANNER.rglob("*.py")))
    for path in found:
        nodes(path)
    gc.collect()
    gc.freeze()
    return found


def last_name(node: ast.expr) -> str:
    """``say`` of ``words.say`` and of ``say``; nothing of what is no name."""
    if isinstance(node, ast.Attribute):
        return node.attr
    return node.id if isinstance(node, ast.Name) else ""
