"""``skepway sure``, ``helps`` and ``water`` as a user runs them."""

from __future__ import annotations

import json

import pytest

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
