"""The summary that goes with a bundle: a line a box, whatever was typed, the same bytes for the same logbook."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pypdf
import pytest

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
    assert (first.box, first.before) == (BOX, "Held, new.")
    assert "wax down" in first.claim
    assert second.before == "Not everything was looked at."


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
    assert flat("Held, old.") in text
    assert list(bundle.faults(tmp_path / "a.zip")) == []
    assert bundle.take_in(Logbook(), tmp_path / "a.zip").nothing


def test_hostile_texts_fill_pages_and_break_none() -> None:
    boxes = tuple(BoxLine(BOX, text, text[::-1], text) for text in NASTY * 6)
    data = summary_pdf(Summary((TripLines("2027-05-01", NASTY[3], boxes),), 7))
    assert len(pypdf.PdfReader(io.BytesIO(data)).pages) > 1
    assert flat("7 more boxes") in text_of(data)
