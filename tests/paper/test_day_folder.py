"""Papers of a collection day: nobody and no box is missing, and what each reads is what was planned."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import partial
from pathlib import Path

import pytest

from planner.app.answer.records import Span, Tolerance
from planner.app.day import standing as standing_room
from planner.app.day.records import Appointment, DayPlan, PutOff
from planner.app.day.standing import standing_times
from planner.app.sheets.drive import buyer_sheet
from planner.app.sheets.records import Sheet
from planner.app.standing.reserve import sampled_reserve
from planner.paper.dayfolder import (
    day_entries,
    day_labels,
    facts_of,
    messages,
    person_of,
    write_day_papers,
    yard_pages,
)
from planner.paper.folder import Wanted
from planner.paper.pdf import Fit, Printed
from planner.paper.plain import sheet_text
from tests.app.small_day import catalogue, small_day, weather

HOUR_S = 3600.0
PRINTED_S = 1_800_000_000.0


def planned() -> DayPlan:
    """A day planned by hand: two come, one of them with two boxes shut beforehand in the shade; three are put off."""
    day = small_day()
    slots = day.slots.begin_s

    def served(buyer: int, slot: int, boxes: tuple[str, ...], setup: str, closing: str) -> Appointment:
        at_s = slots[slot]
        return Appointment(
            buyer=buyer,
            slot_s=at_s,
            boxes=boxes,
            setup=setup,
            closing=closing,  # type: ignore[arg-type]
            closed_s=at_s if closing == "at_handover" else slots[0] - HOUR_S,
            leave_s=at_s + 600.0,
            arrive_s=at_s + HOUR_S,
            open_s=at_s + 1.5 * HOUR_S,
            decision="go" if setup == "as_declared" else "go_if",
            harm_of_100=Span(0.0, 1.0, 2.0),
            boxes_harmed=Span(0.0, 0.01, 0.02),
            samples=256,
            bays=() if closing == "at_handover" else (1, 2),
        )

    names = [box.name for box in day.boxes]
    return DayPlan(
        day=day,
        weather=weather(),
        tolerance=Tolerance(10.0, 5.0, "usual"),
        appointments=(
            served(0, 0, (names[0],), "roof_screen", "at_handover"),
            served(1, 3, (names[1], names[2]), "as_declared", "before_first_flight"),
        ),
        put_off=(
            PutOff(2, "do_not_go", "harm", 12.0, slots[0] + 24 * HOUR_S),
            PutOff(3, "do_not_go", "harm", 30.0),
            PutOff(4, "do_not_go", "short"),
        ),
        short=(),
        short_serves=0,
        samples=256,
        seed=1,
        finished=True,
        exact=True,
    )


def test_the_yard_page_has_every_box_and_everybody_by_the_minute() -> None:
    plan = planned()
    pages = yard_pages(plan, PRINTED_S, "en")
    text = "\n".join(map(sheet_text, pages))
    for one in plan.appointments:
        assert plan.day.buyers[one.buyer].name in text
        assert all(box in text for box in one.boxes)
    assert "to shade 1, 2" in text
    assert all(plan.day.buyers[one.buyer].name in text for one in plan.put_off)
    rows = [line for line in text.splitlines() if re.match(r"- \w+ \d\d:\d\d \|", line)]
    assert len(rows) == 4
    assert rows == sorted(rows, key=lambda row: re.search(r"\d\d:\d\d", row)[0])  # type: ignore[index]


def test_a_long_day_takes_more_than_one_side(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("planner.paper.dayfolder.ROWS_A_PAGE", 3)
    first, last = yard_pages(planned(), PRINTED_S, "en")
    assert "part 1" in sheet_text(first) or "1 of 2" in sheet_text(first)
    assert [len(page.blocks[0].rows) for page in (first, last)] == [3, 1]


def test_every_box_gets_a_label_and_every_appointment_an_entry() -> None:
    plan = planned()
    boxes = [box for one in plan.appointments for box in one.boxes]
    told = {one: facts_of(plan, one, catalogue(), PRINTED_S) for one in plan.appointments}
    labels = list(day_labels(plan, told))
    assert [label.box for label in labels] == boxes
    assert all(len(label.lines) == 3 for label in labels)
    assert len(list(day_entries(plan))) >= len(plan.appointments) + 1


def test_everybody_is_written_to_and_nobody_put_off_is_told_to_come() -> None:
    plan = planned()
    told = messages(plan, Wanted()).split("\n\n")
    assert len(told) == len(plan.day.buyers)
    assert all("please come to" in text for text in told[:2])
    assert all("cannot travel safely" in text for text in told[2:])
    assert "next day that looks safe" in told[2]


def test_a_buyer_is_told_to_cool_and_how_long_he_may_stand(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the figures rest on stands on the sheet: air conditioning, the screen, and the minutes of standing."""
    monkeypatch.setattr(standing_room, "sampled_reserve", partial(sampled_reserve, samples=4))
    whole = planned()
    plan = replace(whole, appointments=whole.appointments[:1])
    told = standing_times(plan, catalogue())
    one = plan.appointments[0]
    facts = facts_of(plan, one, catalogue(), PRINTED_S, standing=told[one.buyer])
    assert facts.set_point_c == 22.0
    assert facts.groups[0].screen == "on"
    assert (facts.arrive_s, facts.open_s, facts.halts) == (one.arrive_s, one.open_s, ())
    assert facts.stand_min == min(stand.shut_min for stand in facts.stands)
    text = sheet_text(buyer_sheet(facts, person_of(plan, one), "en"))
    assert "not known" not in text
    assert "set it to 22" in text
    assert "Call 112 / 155 (CZ)" in text
    bare = facts_of(plan, one, catalogue(), PRINTED_S)
    assert "not known" in sheet_text(buyer_sheet(bare, person_of(plan, one), "en"))


@pytest.mark.slow
def test_all_papers_of_a_day_are_written(tmp_path: Path) -> None:
    paths, remarks = write_day_papers(tmp_path / "papers", planned(), catalogue(), PRINTED_S)
    names = {path.name for path in paths}
    assert {"yard.pdf", "yard.html", "messages.txt", "day.ics", "labels.pdf"} <= names
    assert {"buyer-Ada.pdf", "buyer-Bo.html", "receipt-Ada.pdf"} <= names
    assert not remarks
    assert all(path.stat().st_size > 100 for path in paths)


def test_how_a_sheet_finds_room_is_searched_once_for_each_kind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first buyer's page and the first receipt are laid out by trying; the others take that over."""
    searched: list[str] = []
    fit = Fit(9.5, 0, 0, 0, 1)

    def laid_out(sheet: Sheet, *_: object, like: Fit | None) -> Printed:
        assert like in (None, fit)
        searched.extend([sheet.kind] * (like is None))
        return Printed(b"%PDF", (), fit)

    monkeypatch.setattr("planner.paper.folder.sheet_pdf", laid_out)
    monkeypatch.setattr("planner.paper.folder._WORKERS", 1)
    plan = planned()
    one, two = plan.appointments
    third = replace(one, buyer=4, boxes=(plan.day.boxes[5].name,), slot_s=plan.day.slots.begin_s[5])
    write_day_papers(tmp_path, replace(plan, appointments=(one, two, third)), catalogue(), PRINTED_S)
    assert sorted(searched) == ["buyer", "receipt", "yard"]
