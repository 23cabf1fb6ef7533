"""``skepway`` without arguments opens the window, or says why it cannot."""

from __future__ import annotations

import sys

import pytest

from planner import __main__ as door
from planner.cli.exits import Exit


def test_without_the_window_the_command_line_is_named(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["skepway"])
    monkeypatch.setattr(door, "WINDOW", "planner.ui.not_there")
    assert door.main() == Exit.STORAGE
    assert "skepway --help" in capsys.readouterr().err


def test_a_bug_inside_the_window_is_not_taken_for_a_missing_one(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["skepway"])
    monkeypatch.setattr(door, "WINDOW", "planner.store.not_there_either.deeper")
    with pytest.raises(ModuleNotFoundError):
        door.main()
