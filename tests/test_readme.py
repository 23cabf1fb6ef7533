"""What the README says of the program, beside what the program says of itself."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from planner.cli.exits import EXIT_HELP, Exit
from planner.cli.main import COMMANDS
from planner.cli.stopping import ASKS
from planner.store.rules import answer_rules
from planner.words import languages

ROOT = Path(__file__).resolve().parent.parent
README = (ROOT / "README.md").read_text(encoding="utf-8")
CALLED = {
    "en": "English",
    "de": "German",
    "fr": "French",
    "es": "Spanish",
    "it": "Italian",
    "pl": "Polish",
}


def test_the_harm_that_is_accepted_is_that_of_the_limits() -> None:
    (told,) = re.findall(r"Accepted is harm in (\d+) of 100 variants and to (\d+) of 100 boxes", README)
    rules = answer_rules()
    assert tuple(map(float, told)) == (rules.harm_of_100, rules.boxes_of_100)


def test_every_command_is_told_and_every_command_told_is_there() -> None:
    told = set(re.findall(r"`skepway ([a-z-]+)", README)) | set(re.findall(r"\$ skepway ([a-z-]+)", README))
    also = set(
        re.findall(r"`([a-z]+)[ `]", next(line for line in README.splitlines() if "`skepway route`" in line))
    )
    assert told <= set(COMMANDS)
    assert set(COMMANDS) <= told | also


@pytest.mark.parametrize("told", [README.split("\nExit codes: ")[-1].split("\n\n")[0], EXIT_HELP])
def test_every_exit_code_is_told_and_every_code_told_is_there(told: str) -> None:
    """In the README and in the help: the codes of answers, and those of every signal that a command heeds."""
    assert {*map(int, re.findall(r"\d+", told))} == {*map(int, Exit)} | {128 + number for number in ASKS}


def test_the_languages_of_the_sheets_are_told() -> None:
    assert set(CALLED) == set(languages())
    paragraph = README.split("## For the people who act on it")[1].split("##")[0]
    assert all(name in paragraph for name in CALLED.values())


@pytest.mark.slow
@pytest.mark.timeout(900)
def test_the_sample_answer_is_what_the_program_answers() -> None:
    """Decision, window, best start and place as printed; the shares move by a point with the terms of the model."""
    command, said = re.findall(r"\$ skepway (plan \S+)\n(.*?) harm in \d+ of 100", README)[0]
    done = subprocess.run(
        [sys.executable, "-m", "planner", *command.split(), "--offline"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    answer = " ".join(done.stdout.split())
    assert answer.startswith(" ".join(said.split())), answer[:300]
