"""Sheets and the logbook: what was found stands on the receipt, what was printed is kept, nobody's name with it."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from planner.app.advice.changes import box_changes
from planner.app.inspect.decide import Decision
from planner.app.inspect.items import OK, Finding
from planner.app.inspect.judge import BATTENS
from planner.app.inspect.pinned import pinned_before
from planner.app.inspect.records import write_decision, write_findings
from planner.app.plan.results import Choice
from planner.app.sheets.facts import BoxFound, TripFacts
from planner.app.sheets.issued import issued, with_findings
from planner.app.sheets.records import Sheet
from planner.app.sheets.stay import receipt_sheet, yard_sheet
from planner.bundled import resource_path
from planner.paper.pdf import sheet_pdf
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry
from planner.store.people import Person
from planner.store.tripfile import read_draft
from planner.words import Moment, Voice, languages, minutes, sentence, volume
from tests.app.chancy import planned
from tests.model.scenarios import catalogue
from tests.paper.made import BUYER, LEAVE_S, facts, people

FIRST, SECOND = BUYER.boxes
REASON = "the buyer takes it at the risk of his own, " + "and has been told twice, " * 6


@pytest.fixture
def logbook(tmp_path: Path) -> Logbook:
    return Logbook(tmp_path / "l.sqlite")


def said(sheet: Sheet, name: str = "found") -> list[str]:
    voice = Voice(sheet.language)
    return [voice.text(row.cells[0]) for block in sheet.blocks if block.name == name for row in block.rows]


def checked_trip(logbook: Logbook) -> TripFacts:
    """The first box goes against advice, the second is released, the rest nobody has looked at."""
    write_findings(logbook, "t", FIRST, {"straps": Finding(OK)}, at_s=LEAVE_S)
    write_decision(logbook, "t", FIRST, Decision("held", override=REASON), at_s=LEAVE_S + 1)
    write_decision(logbook, "t", SECOND, Decision("released"), at_s=LEAVE_S + 2)
    logbook.add(Entry("closed", LEAVE_S - 600.0, "box", FIRST, {}, "t"))
    return with_findings(facts(), logbook, "t")


def test_nothing_is_said_of_checks_before_anybody_looked(logbook: Logbook) -> None:
    trip = with_findings(facts(), logbook, "t")
    assert trip.found == ()
    assert said(receipt_sheet(trip, BUYER, "en")) == []


def test_a_receipt_tells_the_typed_reason_whole_and_what_nobody_looked_at(logbook: Logbook) -> None:
    trip = checked_trip(logbook)
    theirs = said(receipt_sheet(trip, BUYER, "en"))
    assert theirs[0] == "1 box was checked and released."
    assert FIRST in theirs[1]
    assert " ".join(REASON.split()) in " ".join(theirs[1].split())
    assert len(theirs) == 2
    assert said(receipt_sheet(trip, None, "en"))[-1] == "10 boxes were not checked."


def test_a_receipt_has_the_hour_at_which_a_box_was_shut(logbook: Logbook) -> None:
    trip = checked_trip(logbook)
    rows = next(block for block in receipt_sheet(trip, BUYER, "en").blocks if block.name == "handed").rows
    assert rows[0].cells[1] == Moment(LEAVE_S - 600.0, trip.zone)
    planned_at = Moment(trip.groups[0].closed_s, trip.zone)
    assert rows[1].cells[1] == sentence("sheets.receipt_planned", at=planned_at)


@pytest.mark.parametrize(
    ("outcome", "begins"),
    [("held", "was held"), ("released_with", "mended"), ("released_under", "short drives")],
)
def test_every_outcome_but_released_names_its_box(outcome: str, begins: str) -> None:
    found = (BoxFound(FIRST, outcome, "Released with: battens."),)
    (line,) = said(receipt_sheet(replace(facts(), found=found), BUYER, "en"))
    assert FIRST in line
    assert begins in line


@pytest.mark.parametrize("language", languages())
def test_what_a_box_is_released_with_is_said_in_the_language_of_the_receipt(
    logbook: Logbook, language: str
) -> None:
    """Whoever decided wrote it down in another language than the buyer reads."""
    write_decision(
        logbook,
        "t",
        FIRST,
        Decision("released_with", fixes=("set it on battens", "misted"), fix_names=("battens", "mist_20")),
        at_s=LEAVE_S,
    )
    write_decision(logbook, "t", SECOND, Decision("released_under", minutes=90), at_s=LEAVE_S)
    receipt = receipt_sheet(with_findings(facts(), logbook, "t"), BUYER, language)
    with_fixes, under = said(receipt)
    voice = Voice(language)
    for key, gaps in (("fix_battens", {}), ("fix_mist", {"volume": volume(20.0)})):
        assert voice.say(f"sheets.{key}", **gaps) in with_fixes
    assert FIRST in with_fixes
    assert SECOND in under
    assert voice.text(minutes(90)) in under
    if language != "en":
        assert "battens" not in with_fixes
        assert "Released" not in with_fixes + under


def test_the_yard_page_says_what_was_found_on_the_boxes() -> None:
    """Whoever loads has the yard page in hand: the receipt alone said that a floor has to be scraped."""
    found = (BoxFound(FIRST, "released_with", "", fixes=("clean_floor",)), BoxFound(SECOND, "held"))
    rows = said(yard_sheet(replace(facts(), found=found), (), "en"))
    assert [name in row for name, row in zip((FIRST, SECOND), rows, strict=True)] == [True, True]
    assert "found" not in {block.name for block in yard_sheet(facts(), (), "en").blocks}


def test_boxes_of_which_the_same_is_said_are_told_together() -> None:
    """Sixty floors glued shut found no room on one side, and no sheet was printed at all."""
    named = [f"B{number:03d}X" for number in range(150)]
    found = tuple(BoxFound(name, "released_with", "", fixes=("clean_floor",)) for name in named)
    trip = replace(facts(), found=(*found, BoxFound(FIRST, "held")))
    lines = said(yard_sheet(trip, (), "en"))
    assert len(lines) == 2
    assert all(name in lines[0] for name in named)
    sheet_pdf(yard_sheet(trip, people(80), "de"))
    sheet_pdf(receipt_sheet(trip, None, "de"))


def test_every_change_a_box_is_released_with_has_a_name_on_the_receipt() -> None:
    for change in (*box_changes(), BATTENS):
        found = (BoxFound(FIRST, "released_with", "said then", fixes=(change.name,)),)
        (line,) = said(receipt_sheet(replace(facts(), found=found), BUYER, "de"))
        assert "said then" not in line


def test_a_change_that_no_receipt_has_a_name_of_is_told_as_it_was_said() -> None:
    found = (BoxFound(FIRST, "released_with", "Released with: a lift.", fixes=("lift", "battens")),)
    (line,) = said(receipt_sheet(replace(facts(), found=found), BUYER, "en"))
    assert "Released with: a lift." in line


def test_what_was_found_does_not_change_the_code_of_the_plan(logbook: Logbook) -> None:
    assert checked_trip(logbook).code == facts().code


def test_the_plan_a_paper_came_from_is_kept_whole_and_nobodys_name_in_it(logbook: Logbook) -> None:
    draft = dict(read_draft(resource_path("demo", "nuc-pickup.toml")))
    draft["people"] = [{"name": "Ada Moss", "phone": "+44 1"}]
    trip = replace(facts(), proof=replace(facts().proof, replaces="QXKT"))
    numbers = catalogue()
    kept = issued(trip, planned(), Choice(0, 0, 0), logbook=logbook, trip="t", draft=draft, catalogue=numbers)
    assert "Ada" not in repr(kept.snapshot)
    assert pinned_before(logbook, "t", draft, numbers) is not None
    (paper,) = logbook.events(kinds=["paper"])
    assert paper.plan == kept.id
    assert paper.body == {"code": trip.code, "replaces": "QXKT"}
    assert Person("Ada Moss").name not in repr(paper)
