"""Remedies are joined to their problems by a full stop and end without one, here as in the files' faults."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import planner.services
from planner.errors import Fault, ServiceError

ERRORS = {"Fault", "_fault", "fault", "ServiceError"}


def _remedies(tree: ast.AST) -> list[str]:
    """The last text in every call that makes a fault."""
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and node.args]
    last = [call.args[-1] for call in calls if ast.unparse(call.func) in ERRORS]
    texts = [arg.values[-1] if isinstance(arg, ast.JoinedStr) else arg for arg in last]
    return [str(text.value) for text in texts if isinstance(text, ast.Constant)]


@pytest.mark.parametrize(
    "path", sorted(Path(planner.services.__path__[0]).rglob("*.py")), ids=lambda path: path.stem
)
def test_no_remedy_ends_with_a_full_stop(path: Path) -> None:
    assert not [text for text in _remedies(ast.parse(path.read_text("utf-8"))) if text.endswith(".")]


def test_an_error_of_a_service_reads_like_a_fault_of_a_file() -> None:
    assert str(ServiceError("X", "answered 503", "Try again later")) == "X: answered 503. Try again later"
    assert str(Fault("km", "7", "too far", "Go back")) == "km = 7: too far. Go back"
