"""The summary that goes with a bundle: a line a box, whatever was typed, the same bytes for the same logbook."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pypdf
import pytest

from planner.app.inspect.records import CheckedBox
from planner.app.lessons.summary import BoxLine, Summary, TripLines, summary
from planner.cli.main import main
from planner.model.box_names import box_name
from planner.paper.summary import summary_pdf
from planner.store.logbook import bundle
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry, KnownTrip
from tests.paper.test_hostile import NASTY
from tests.paper.test_pdf import flat, text_of

BOX, OTHER = box_name(1), box_name(2)


def written() -> Logbook:
    logbook = Logbook()
    for number, key in enumerate(("old", "new")):
        logbook.know_trip(KnownTrip(key, f"Trip {key}", "Oak Farm", f"2027-05-0{number + 1}", "", ""))
        logbook.add(
            Entry("released", 1.0, "box", BOX, {"outcome": "held", "text": f"Held, {key}."}, key),
            Entry("claim", 2.0, "box", BOX, {"text": "wax down", "asked": "one nuc"}, key),
            Entry("check", 1.0, "box", OTHER, {"item": "straps", "state": "ok"}, key),
        )
    return logbook


def test_every_box_has_a_line_and_the_newest_trip_comes_first() -> None:
    found = summary(written())
    assert [trip.title for trip in found.trips] == ["Trip new", "Trip old"]
    first, second = found.trips[0].boxes
    assert first.box == BOX
    assert first.before is not None
    assert first.before.outcome == "held"
    assert "wax down" in first.claim
    assert second.before is not None
    assert second.before.outcome == ""


@pytest.mark.parametrize(("most", "shown", "left"), [(4, 4, 0), (3, 3, 1), (2, 2, 2), (1, 1, 3)])
def test_what_has_no_room_is_counted(most: int, shown: int, left: int) -> None:
    found = summary(written(), most)
    assert sum(len(trip.boxes) for trip in found.trips) == shown
    assert found.left_out == left


def test_it_goes_with_the_bundle_which_is_sound_and_brings_nothing_twice(tmp_path: Path) -> None:
    written()
    for name in ("a.zip", "b.zip"):
        assert main(["logbook", "export", str(tmp_path / name)]) == 0
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "a.zip") as packed:
        text = text_of(packed.read("papers/summary.pdf"))
    assert flat("Held.") in text
    assert flat("wax down What is asked for: one nuc.") in text
    assert flat("Not everything was looked at.") in text
    assert list(bundle.faults(tmp_path / "a.zip")) == []
    assert bundle.take_in(Logbook(), tmp_path / "a.zip").nothing


def test_hostile_texts_fill_pages_and_break_none() -> None:
    boxes = tuple(
        BoxLine(BOX, CheckedBox({}, "released", override=text), (text[::-1],), (text,)) for text in NASTY * 6
    )
    data = summary_pdf(Summary((TripLines("2027-05-01", NASTY[3], boxes),), 7))
    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) > 1
    assert flat("7 more boxes") in text_of(data)


# -- in whose language -----------------------------------------------------------------------------

DECIDED = {
    "released": {},
    "held": {},
    "not_looked": {},
    "released_under": {"minutes": 90},
    "released_with": {"fixes": ["battens"], "text": "in the words of then"},
}
GERMAN = {
    "released": "Freigegeben.",
    "held": "Zurückgehalten.",
    "not_looked": "Es wurde nicht alles angesehen.",
    "released_under": "Nur für Fahrten unter 90 min freigegeben.",
    "released_with": "Nur damit freigegeben: auf Leisten gestellt.",
}


def decided(body: dict[str, object], *more: Entry) -> str:
    """The page of a logbook with one decision and what came after it, in German."""
    logbook = Logbook()
    logbook.know_trip(KnownTrip("t", "T", "", "2027-05-01", "", ""))
    logbook.add(Entry("released", 1.0, "box", BOX, body, "t"), *more)
    return text_of(summary_pdf(summary(logbook), "de"))


@pytest.mark.parametrize("outcome", DECIDED)
def test_a_decision_is_said_in_the_readers_language(outcome: str) -> None:
    text = decided({"outcome": outcome, **DECIDED[outcome]})
    assert flat(GERMAN[outcome]) in text
    assert flat("in the words of then") not in text


def test_a_change_that_nobody_translated_stands_in_the_words_of_then() -> None:
    text = decided({"outcome": "released_with", "fixes": ["battens", "a hat"], "text": "Only with a hat."})
    assert flat("Only with a hat.") in text


def test_what_came_of_a_box_and_its_claim_are_said_in_the_readers_language_too() -> None:
    text = decided(
        {"outcome": "released", "override": "keine Zeit"},
        Entry("outcome", 2.0, "box", BOX, {"lost": False}, "t"),
        Entry("outcome", 1.5, "box", BOX, {"lost": True, "text": "Waben unten", "drive": "over 5 h"}, "t"),
        Entry("claim", 3.0, "box", BOX, {"text": "x", "dead_mm": 20, "asked": "ein Volk"}, "t"),
        Entry("settled", 4.0, "box", BOX, {"text": "y", "given": 1}, "t"),
    )
    for said in (
        "Logbuch: jeder Kasten in einer Zeile", "Gegen den Rat freigegeben: keine Zeit", "Verloren. Waben unten",
        "Tote Bienen auf dem Boden, 20 mm hoch.", "Gefordert wird: ein Volk.", "Gegeben wurde: 1.", "erledigt am",
    ):  # fmt: skip
        assert flat(said) in text, said
    assert flat("over 5 h") not in text  # it stands in the tables


def test_the_command_writes_it_in_the_language_asked_for(tmp_path: Path) -> None:
    written()
    assert main(["logbook", "export", str(tmp_path / "a.zip"), "--lang", "fr"]) == 0
    with zipfile.ZipFile(tmp_path / "a.zip") as packed:
        assert flat("Avant le départ") in text_of(packed.read("papers/summary.pdf"))
