"""Papers of a parcel: the receiver reads the days of the answer, every box has a label, no go has no papers."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from planner.app.answer.records import DecisionName
from planner.app.lane.calendar import Posting
from planner.app.lane.records import LaneAnswer, Way
from planner.app.lane.words import message
from planner.paper.folder import Wanted
from planner.paper.lanefolder import lane_facts, lane_labels, receiver_page, write_lane_papers
from planner.paper.plain import sheet_text
from tests.app import lanes
from tests.app.lanes import catalogue, spring, spring_weather

PRINTED_S = 1_800_000_000.0


def answered(decision: DecisionName = "go_if") -> LaneAnswer:
    """Posted on Monday 19 April with roof screens, due on Tuesday; by hand."""
    at = Posting(date(2027, 4, 19), date(2027, 4, 20), date(2027, 4, 21), 0, 0)
    return lanes.answered(Way(at, "roof_screen", lanes.LITTLE, "within", 400), decision=decision)


def page_of(answer: LaneAnswer) -> str:
    assert answer.best is not None
    facts = lane_facts(answer, answer.best, spring_weather(), catalogue(), PRINTED_S, "Ruth", "0151 1")
    return sheet_text(receiver_page(answer.best, facts, "en"))


def test_the_receiver_reads_when_it_is_due_and_what_to_do() -> None:
    told = page_of(answered())
    assert "Tuesday 20 April" in told
    assert "Wednesday 21 April" in told
    assert "OPEN THE ENTRANCE" in told
    assert "Screens off" in told
    assert "Call 112 (DE)" in told
    assert "0151 1" in told
    (said,) = message(answered())
    assert "20 April 2027" in said
    assert "21 April 2027" in said


def test_who_gets_a_package_is_told_to_let_it_into_a_hive() -> None:
    """It has neither an entrance to open nor a roof screen to take off."""
    answer = answered()
    cage = replace(answer.lane.group, box_type="package_cage", bees_kg=1.4, syrup_can_kg=1.0)
    told = page_of(replace(answer, lane=replace(answer.lane, group=cage)))
    assert "LET THEM INTO THEIR HIVE" in told
    assert "A hive with frames ready" in told
    assert "OPEN THE ENTRANCE" not in told
    assert "Screens off" not in told


def test_cold_is_told_where_cold_harms() -> None:
    assert "out of the wind, entrance away" in page_of(replace(answered(), cold_share=0.9))
    assert "out of the wind, entrance away" not in page_of(answered())


def test_every_box_of_the_parcel_has_a_label_of_its_own() -> None:
    labels = lane_labels(answered())
    assert len({one.box for one in labels}) == spring().boxes == 10
    assert all(len(one.lines) == 4 for one in labels)
    assert lane_labels(answered())[0].code == labels[0].code


@pytest.mark.parametrize("decision", ["do_not_go", "cannot_tell"])
def test_a_parcel_that_is_not_to_go_has_no_papers(decision: str, tmp_path: Path) -> None:
    folder = tmp_path / "papers"
    assert write_lane_papers(folder, answered(decision), spring_weather(), catalogue(), PRINTED_S) == ((), ())
    assert not folder.exists()


@pytest.mark.slow
def test_all_papers_of_a_parcel_are_written(tmp_path: Path) -> None:
    paths, remarks = write_lane_papers(
        tmp_path / "papers", answered(), spring_weather(), catalogue(), PRINTED_S
    )
    assert {path.name for path in paths} == {"labels.pdf", "receiver.pdf", "receiver.html", "message.txt"}
    assert not remarks
    assert all(path.stat().st_size > 100 for path in paths)


def test_the_message_is_in_the_language_of_the_papers(tmp_path: Path) -> None:
    write_lane_papers(tmp_path, answered(), spring_weather(), catalogue(), PRINTED_S, Wanted("pl"))
    told = (tmp_path / "message.txt").read_text(encoding="utf-8")
    assert "żywymi pszczołami" in told
    assert "wtorek 20 kwietnia 2027" in told
