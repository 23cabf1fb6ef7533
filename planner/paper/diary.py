"""The trip as calendar entries (RFC 5545): the reminder that works on a phone without network."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from planner.app.sheets.records import Entry
from planner.paper.spoken import Speaker
from planner.units import METRIC, UnitSystem
from planner.words import Voice

if TYPE_CHECKING:
    from icalendar import Alarm

PRODUCT = "-//Skepway//Skepway//EN"
HOST = "skepway.invalid"


def calendar(
    entries: Sequence[Entry],
    language: str,
    trip_key: str,
    *,
    stamp_s: float,
    sequence: int = 0,
    units: UnitSystem = METRIC,
) -> bytes:
    """The entries as an iCalendar file, instants in UTC.

    ``trip_key`` makes the lasting names: the same trip exported again moves its entries instead of adding new
    ones; ``sequence`` has to rise when anything changed. ``stamp_s`` is when it was made.
    """
    from icalendar import Calendar, Event

    speaker = Speaker(Voice(language, units), on_paper=False)
    made = Calendar()
    made.add("prodid", PRODUCT)
    made.add("version", "2.0")
    made.add("calscale", "GREGORIAN")
    for entry in entries:
        event = Event()
        title = speaker.said(entry.title)
        event.add("uid", uid(trip_key, entry.role))
        event.add("sequence", sequence)
        event.add("dtstamp", _utc(stamp_s))
        event.add("dtstart", _utc(entry.begin_s))
        event.add("dtend", _utc(entry.end_s))
        event.add("summary", title)
        event.add("description", "\n".join(speaker.said(cell) for cell in entry.body))
        if entry.place:
            event.add("location", speaker.said(entry.place))
        event.add("transp", "TRANSPARENT")
        event.add_component(_alarm(title, entry.alarm_min))
        made.add_component(event)
    return bytes(made.to_ical())


def _alarm(title: str, before_min: int) -> Alarm:
    from icalendar import Alarm

    alarm = Alarm()
    alarm.add("action", "DISPLAY")
    alarm.add("description", title)
    alarm.add("trigger", timedelta(minutes=-before_min))
    return alarm


def uid(trip_key: str, role: str) -> str:
    """A name that lasts as long as trip and role are the same, and tells nobody where from and where to."""
    digest = hashlib.sha256(trip_key.encode("utf-8", "surrogatepass")).hexdigest()[:20]
    return f"{digest}-{role}@{HOST}"


def _utc(at_s: float) -> datetime:
    return datetime.fromtimestamp(round(at_s), UTC)
