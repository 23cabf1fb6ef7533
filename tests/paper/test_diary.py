"""The calendar: the same instants after two parsers, short lines, names that last, an alarm for each entry."""

from __future__ import annotations

import json
import subprocess
from dataclasses import replace
from datetime import UTC, datetime

import icalendar
import pytest
import vobject

from planner.app.sheets.facts import TripFacts
from planner.app.sheets.stuck import entries
from planner.paper.diary import calendar
from planner.words import languages
from tests.paper.judges import node, package
from tests.paper.made import LEAVE_S, facts, random_facts, without_figures

READ_BY_JS = """
const fs = require("fs");
import(process.argv[1]).then(({default: ICAL}) => {
  const tree = new ICAL.Component(ICAL.parse(fs.readFileSync(0, "utf8")));
  console.log(JSON.stringify(tree.getAllSubcomponents("vevent").map((one) => {
    const event = new ICAL.Event(one);
    const seconds = (time) => time.toJSDate().getTime() / 1000;
    const alarms = one.getAllSubcomponents("valarm").length;
    return [event.uid, event.summary, seconds(event.startDate), seconds(event.endDate), alarms];
  })));
});
"""


def written(trip: TripFacts, language: str = "en", sequence: int = 0) -> bytes:
    return calendar(entries(trip), language, trip.trip_key, stamp_s=trip.proof.printed_s, sequence=sequence)


def read_back(data: bytes) -> list[icalendar.Event]:
    return list(icalendar.Calendar.from_ical(data).walk("VEVENT"))


@pytest.mark.parametrize("language", languages())
def test_entries_come_back_at_the_same_instants(language: str) -> None:
    trip = facts()
    events = read_back(written(trip, language))
    expected = [(entry.begin_s, entry.end_s) for entry in entries(trip)]
    assert [(e.start.timestamp(), e.end.timestamp()) for e in events] == expected
    assert all(e.start.tzinfo is not None and e.start.utcoffset() == UTC.utcoffset(None) for e in events)


def told(data: bytes) -> list[list[object]]:
    """Name, title, begin, end and alarms of every entry, as icalendar reads them."""
    return [
        [str(e["uid"]), str(e["summary"]), e.start.timestamp(), e.end.timestamp(), 1] for e in read_back(data)
    ]


def some_diaries() -> list[bytes]:
    """The usual trip and twenty random ones, in a language with letters of more than one octet."""
    trips = [facts(), *(replace(random_facts(seed), decision="go") for seed in range(20))]
    return [written(trip, "pl") for trip in trips]


def test_another_parser_reads_the_same() -> None:
    """vobject, an independent reader of RFC 5545."""
    for data in some_diaries():
        read = getattr(vobject.readOne(data.decode("utf-8")), "vevent_list", [])
        assert told(data) == [
            [
                event.uid.value,
                event.summary.value,
                event.dtstart.value.timestamp(),
                event.dtend.value.timestamp(),
                len(event.valarm_list),
            ]
            for event in read
        ]


@pytest.mark.slow
def test_a_third_parser_of_another_language_reads_the_same() -> None:
    """ical.js, as calendars in browsers use it."""
    ical = package("ical.js") / "dist" / "ical.js"
    for data in some_diaries():
        done = subprocess.run(
            [node(), "-e", READ_BY_JS, str(ical)], input=data, capture_output=True, check=True
        )
        assert json.loads(done.stdout) == told(data)


@pytest.mark.parametrize("seed", range(20))
def test_lines_are_short_and_end_as_the_standard_asks(seed: int) -> None:
    """RFC 5545, 3.1: at most 75 octets before CRLF; a folded line is no broken letter."""
    trip = replace(random_facts(seed), decision="go", destination="Żelazna Góra " * 12)
    data = written(trip, "pl")
    assert data.endswith(b"\r\n")
    assert b"\n" not in data.replace(b"\r\n", b"")
    assert max(len(line) for line in data.split(b"\r\n")) <= 75
    data.decode("utf-8")


def test_names_last_over_a_hundred_exports_and_plans() -> None:
    """The same trip planned again moves its entries; it does not add new ones."""
    first = [str(event["uid"]) for event in read_back(written(facts()))]
    assert len(set(first)) == len(first)
    for k in range(1, 100):
        later = facts(leave_s=LEAVE_S + 60.0 * k, stand_min=float(k))
        assert str(read_back(written(later, sequence=k))[0]["uid"]) == first[0]
    assert {str(e["sequence"]) for e in read_back(written(facts(), sequence=7))} == {"7"}
    assert not set(first) & {str(e["uid"]) for e in read_back(written(facts(trip_key="another")))}


def test_every_entry_rings() -> None:
    trip = facts()
    events = read_back(written(trip))
    assert all(len(list(event.walk("VALARM"))) == 1 for event in events)
    roles = {str(event["uid"]).split("-", 1)[1].split("@")[0].split("-")[0] for event in events}
    assert roles == {"leave", "mist", "break", "listen", "arrive", "open"}
    leave = events[0]
    (alarm,) = leave.walk("VALARM")
    assert leave.start == datetime.fromtimestamp(trip.leave_from_s or 0.0, UTC)
    assert alarm["trigger"].dt.total_seconds() == -1800.0


def test_a_trip_not_to_be_made_rings_nothing() -> None:
    assert read_back(written(without_figures())) == []
