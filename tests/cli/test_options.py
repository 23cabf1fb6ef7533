"""Numbers on the command line: each is asked for in words, with its bounds, before any work begins."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.cli.main import COMMANDS, main
from planner.cli.options import figure, whole

TRIP = str(resource_path("demo", "swarm-run.toml"))
PLACES = {"route": ["A", "B"], "forecast": ["A"], "place": [], "fit": [TRIP, "log.csv"]}
SEASON = ["--weather", "year.csv"]


def numbered() -> Iterator[tuple[str, str]]:
    """Every (command, option) that reads its text into something other than text and files."""
    for name in COMMANDS:
        parser = argparse.ArgumentParser()
        import_module(f"planner.cli.{name.replace('-', '_')}").configure(parser)
        for action in parser._actions:
            if action.option_strings and action.type not in (None, Path) and action.dest != "delay":
                yield name, action.option_strings[0]


def refusal(capsys: pytest.CaptureFixture[str], *argv: str) -> str:
    """What the command line says when it refuses its arguments."""
    with pytest.raises(SystemExit) as stopped:
        main(list(argv))
    assert stopped.value.code == 2
    return capsys.readouterr().err.splitlines()[-1]


def given(command: str) -> list[str]:
    return [command, *PLACES.get(command, [TRIP]), *(SEASON if command == "season" else [])]


@pytest.mark.parametrize(("command", "option"), list(numbered()))
def test_a_word_in_the_place_of_a_number_is_refused_in_words(
    command: str, option: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """argparse's own refusal names the function that read the text ("invalid int value")."""
    said = refusal(capsys, *given(command), option, "abc")
    assert f"argument {option}: give a " in said
    assert "invalid" not in said


@pytest.mark.parametrize("command", ["sure", "helps", "water", "plan"])
def test_a_seed_below_zero_is_refused_in_words(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = refusal(capsys, *given(command), "--seed", "-1")
    assert said.endswith("argument --seed: give a whole number, 0 or more")


@pytest.mark.parametrize("command", ["sure", "helps", "water"])
def test_an_answer_by_variants_needs_at_least_one(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    said = refusal(capsys, *given(command), "--draws", "0")
    assert said.endswith("argument --draws: give a whole number from 1 to 16384")


@pytest.mark.parametrize(
    ("command", "option", "value", "bounds"),
    [
        ("plan", "--rows", "-3", "a whole number, 0 or more"),
        ("plan", "--draws", "-1", "a whole number from 1 to 16384"),
        ("plan", "--boxes", "0", "a whole number from 1 to 5000"),
        ("plan", "--frames", "0", "a number from 0.1 to 60"),
        ("plan", "--low", "nan", "a number from -40 to 45"),
        ("plan", "--high", "inf", "a number from -40 to 55"),
        ("plan", "--wind", "-2", "a number from 0 to 60"),
        ("season", "--jobs", "0", "a whole number, 1 or more"),
        ("fit", "--load", "0", "a whole number, 1 or more"),
        ("place", "--most", "-8", "a whole number, 1 or more"),
        ("forecast", "--days", "31", "a whole number from 1 to 30"),
        ("route", "--alternatives", "-1", "a whole number, 0 or more"),
        ("route", "--factor", "0", "a number from 0.3 to 5"),
        ("route", "--height", "-4", "a number from 0.1 to 20"),
        ("route", "--weight", "1.5.2", "a number from 0.1 to 200"),
    ],
)
def test_the_refusal_names_the_bounds(
    command: str, option: str, value: str, bounds: str, capsys: pytest.CaptureFixture[str]
) -> None:
    said = refusal(capsys, *given(command), option, value)
    assert said.endswith(f"argument {option}: give {bounds}")


def test_bounds_belong_to_the_range() -> None:
    assert [whole(0, 3)(text) for text in ("0", "3")] == [0, 3]
    assert [figure(-40.0, 45.0)(text) for text in ("-40", "45", "7.5")] == [-40.0, 45.0, 7.5]
    for text in ("4", "-1", "1.5", ""):
        with pytest.raises(argparse.ArgumentTypeError, match="give a whole number from 0 to 3"):
            whole(0, 3)(text)


def test_no_rows_is_no_table(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--rows", "0", "--draws", "8"]) == 0
    out = capsys.readouterr().out
    assert "Harm of 100" not in out
    assert "\n\nWhy\n" in out
    assert "\n\n\n" not in out
