"""A trip in time: papers from before it had an id are its own, an outcome is said in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.app.lessons.timeline import claims, text_of, timeline
from planner.model.box_names import box_name
from planner.model.catalogue import Catalogue
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry, KnownTrip

OTHER = box_name(2)


def test_papers_printed_before_a_trip_had_an_id_stand_on_its_timeline(
    tmp_path: Path, catalogue: Catalogue
) -> None:
    """Printing leaves the file alone; the first check gives it an id."""
    logbook = Logbook(tmp_path / "l.sqlite")
    path = str(tmp_path / "a.toml")
    logbook.add(
        Entry("paper", 1.0, "trip", "", {"code": "QXKT"}, path),
        Entry("note", 2.0, "trip", "", {"text": "not of this trip"}, path),
        Entry("paper", 3.0, "trip", "", {"code": "ABCD"}, str(tmp_path / "b.toml")),
        Entry("check", 4.0, "box", "B001N", {"item": "straps", "state": "ok"}, "id"),
    )
    assert [event.kind for event in timeline(logbook, "id", "", catalogue).events] == ["check"]
    logbook.know_trip(KnownTrip("id", "Trip", "Yard", "2027-05-14", "load", path))
    events = timeline(logbook, "id", "", catalogue).events
    assert [event.kind for event in events] == ["paper", "check"]
    assert events[0].body["code"] == "QXKT"


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"lost": True}, "lost"),
        ({"lost": False, "text": "strong"}, "alive, strong"),
        ({"lost": True, "mesh": "gummed"}, "lost, mesh gummed"),
        ({"lost": "perhaps"}, "lost perhaps"),
    ],
)
def test_an_outcome_is_said_in_words(tmp_path: Path, body: dict[str, object], said: str) -> None:
    logbook = Logbook(tmp_path / "l.sqlite")
    (event,) = logbook.add(Entry("outcome", 1.0, "box", "B001N", body, "id"))
    assert text_of(event) == said


def test_a_claim_is_open_until_it_is_settled_and_then_says_how(tmp_path: Path) -> None:
    logbook = Logbook(tmp_path / "l.sqlite")
    events = logbook.add(
        Entry("claim", 3600.0, "box", "B001N", {"text": "wax down"}, "id"),
        Entry("claim", 3600.0, "box", OTHER, {"text": "no queen"}, "id"),
        Entry("settled", 7200.0, "box", "B001N", {"text": "one nuc given"}, "id"),
        Entry("note", 9000.0, "box", OTHER, {"text": "rang twice"}, "id"),
    )
    settled, still = claims(events, "UTC")
    assert "B001N" in settled
    assert "settled" in settled
    assert "one nuc given" in settled
    assert "02:00" in settled
    assert OTHER in still
    assert "open" in still
    assert "no queen" in still
