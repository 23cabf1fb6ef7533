"""The commands ``day`` and ``lane``: words, JSON and picture from small files in few samples, faults in words."""

from __future__ import annotations

import json
from functools import partial
from pathlib import Path
from types import SimpleNamespace

import pytest

from planner.app.lane.plan import lane_answer
from planner.bundled import resource_path
from planner.cli.exits import Exit
from planner.cli.main import main
from planner.store.dayfile import write_day
from tests.app.small_day import small_draft


@pytest.fixture(autouse=True)
def _few_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.app.day.plan.FIRST_SAMPLES", 4)
    for name in ("plan.TABLE_SAMPLES",):
        monkeypatch.setattr(f"planner.app.day.{name}", 8)
    monkeypatch.setattr("planner.app.day.plan.CLOSE_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.serving.chosen.MOST_SAMPLES", 16)
    monkeypatch.setattr("planner.app.day.later.AHEAD_DAYS", 1)
    for name in ("FIRST_SAMPLES", "LATE_SAMPLES", "MOST_SAMPLES"):
        monkeypatch.setattr(f"planner.app.lane.plan.{name}", 8)
    monkeypatch.setattr("planner.cli.lane.lane_answer", partial(lane_answer, samples=8))


def test_a_day_is_written_as_json_alone_and_as_a_picture(tmp_path: Path, capfd) -> None:
    draft = small_draft()
    draft["buyers"] = draft["buyers"][:2]
    write_day(draft, tmp_path / "day.toml")
    assert main(["day", str(tmp_path / "day.toml"), "--json", "-", "--pictures", str(tmp_path)]) == Exit.FINE
    document = json.loads(capfd.readouterr().out)
    assert document["skepway_day"] == 1
    assert len(document["appointments"]) + len(document["put_off"]) == 2
    assert (tmp_path / "board.svg").read_text("utf-8").startswith("<svg")


def test_a_lane_is_said_in_words_and_has_no_papers_while_it_is_open(tmp_path: Path, capfd) -> None:
    lane = str(resource_path("demo", "lane", "parcel-spring.toml"))
    assert main(["lane", lane, "--papers", str(tmp_path / "papers")]) == Exit.FINE
    said = capfd.readouterr().out
    assert "of 100 variants" in said
    assert "No papers" in said, "so few variants leave it open"
    assert not (tmp_path / "papers").exists()


@pytest.mark.parametrize(
    ("best", "code"),
    [
        (None, Exit.SERVICE),
        (SimpleNamespace(harm_of_100=None), Exit.SERVICE),
        (SimpleNamespace(harm_of_100=0.0), Exit.FINE),
    ],
    ids=["no day", "no harm known", "harm known"],
)
def test_a_lane_of_which_nobody_can_tell_is_an_exit_code_of_its_own(
    best: object, code: Exit, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Of the answer only what the code goes by; its words are looked at elsewhere."""
    monkeypatch.setattr("planner.cli.lane.lane_answer", lambda *_, **__: SimpleNamespace(best=best))
    monkeypatch.setattr("planner.cli.lane.lane_words", lambda *_: ("said", ()))
    assert main(["lane", str(resource_path("demo", "lane", "parcel-spring.toml"))]) == code


@pytest.mark.slow
def test_a_lane_that_may_go_and_a_day_have_papers(tmp_path: Path, monkeypatch, capfd) -> None:
    for name in ("FIRST_SAMPLES", "LATE_SAMPLES", "MOST_SAMPLES"):
        monkeypatch.setattr(f"planner.app.lane.plan.{name}", 256)
    monkeypatch.setattr("planner.cli.lane.lane_answer", partial(lane_answer, samples=256))
    lane = str(resource_path("demo", "lane", "parcel-spring.toml"))
    assert main(["lane", lane, "--papers", str(tmp_path / "lane")]) == Exit.FINE
    assert (tmp_path / "lane" / "receiver.pdf").exists()
    draft = small_draft()
    draft["buyers"] = draft["buyers"][:1]
    draft["tolerance"] = {"harm_of_100": 50, "boxes_of_100": 50}
    write_day(draft, tmp_path / "day.toml")
    assert main(["day", str(tmp_path / "day.toml"), "--papers", str(tmp_path / "day")]) == Exit.FINE
    page = (tmp_path / "day" / "buyer-Ada.html").read_text("utf-8")
    assert "not known" not in page
    assert "written to" in capfd.readouterr().out


@pytest.mark.parametrize("command", ["day", "lane"])
def test_a_bad_file_is_refused_in_words(command: str, tmp_path: Path, capfd) -> None:
    path = tmp_path / "bad.toml"
    path.write_text("version = 1\n", "utf-8")
    assert main([command, str(path)]) == Exit.INPUT
    assert "title" in capfd.readouterr().err


def test_a_year_needs_years_of_weather(tmp_path: Path, capfd) -> None:
    lane = str(resource_path("demo", "lane", "parcel-spring.toml"))
    assert main(["lane", lane, "--year", str(tmp_path)]) == Exit.INPUT
    assert "years of weather" in capfd.readouterr().err
