"""``skepway sure``, ``helps`` and ``water`` as a user runs them."""

from __future__ import annotations

import json
import re

import pytest

from planner.bundled import resource_path
from planner.cli.main import main


@pytest.mark.parametrize("command", ["sure", "helps", "water"])
def test_the_answer_comes_first_and_the_cautions_last(
    trip: str, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([command, trip, "--draws", "16", "--units", "us"]) == 0
    out = capsys.readouterr().out
    first = out.splitlines()[0]
    assert first.startswith(("Go", "Do not go", "Cannot tell"))
    assert "°C" not in out
    assert out.index("\nCautions") > len(out) // 4


@pytest.mark.usefixtures("anew")
@pytest.mark.parametrize(
    "command", ["sure", *(pytest.param(each, marks=pytest.mark.slow) for each in ("helps", "water"))]
)
def test_json_to_the_screen_is_json_alone_and_the_same_again(
    trip: str, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    said = []
    for _ in range(2):
        assert main([command, trip, "--draws", "8", "--json", "-", "--seed", "7"]) == 0
        said.append(json.loads(capsys.readouterr().out))
    assert said[0][f"skepway_{command}"] == 1
    assert said[0] == said[1]


def test_a_drawn_plan_says_how_sure(trip: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", trip, "--draws", "16", "--rows", "2"]) == 0
    assert "of 100 variants" in capsys.readouterr().out.split("How sure")[1]


def test_a_file_that_is_not_there_has_its_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["helps", "not-there.toml"]) in (2, 4)
    assert capsys.readouterr().err


@pytest.mark.slow
def test_helps_says_of_which_start_it_speaks_and_can_be_asked_of_the_answers(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """As declared the night demo does least harm at another hour than with its screens on."""
    demo = str(resource_path("demo", "night-pollination.toml"))
    assert main(["helps", demo]) == 0
    said = capsys.readouterr().out
    assert "at its own best start" in said
    option = re.search(r"--leave (\S+)", said)
    assert option is not None
    assert main(["helps", demo, "--leave", option[1]]) == 0
    there = capsys.readouterr().out
    assert "at its own best start" not in there
    assert "(only " in there
