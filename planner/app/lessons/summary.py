"""What the logbook says of every box in a line each: for the page that goes with a bundle that is handed on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.app.lessons.timeline import claims, text_of
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Event
from planner.words import say

MOST_BOXES = 400
"""Of the newest trips; the tables beside the page hold everything."""


@dataclass(frozen=True)
class BoxLine:
    """One box: what became of it before the start, what was found afterwards, its claim; "" where nobody said."""

    box: str
    before: str
    after: str
    claim: str


@dataclass(frozen=True)
class TripLines:
    """One trip with its boxes."""

    day: str
    title: str
    boxes: tuple[BoxLine, ...]


@dataclass(frozen=True)
class Summary:
    """The newest trips, and how many boxes more have a line in the tables alone."""

    trips: tuple[TripLines, ...]
    left_out: int


def summary(logbook: Logbook, most: int = MOST_BOXES) -> Summary:
    """A line a box, trips from the newest back, one trip read at a time. Raises StorageError."""
    found: list[TripLines] = []
    room, left_out = most, 0
    for trip in logbook.trips()[::-1]:
        if room <= 0:
            left_out += _boxes(logbook, trip.key)
            continue
        lines = tuple(_lines(logbook.told(trip=trip.key)))
        left_out += max(0, len(lines) - room)
        found.append(TripLines(trip.day, trip.title, lines[:room]))
        room -= len(lines)
    return Summary(tuple(found), left_out)


def _boxes(logbook: Logbook, trip: str) -> int:
    text = "select count(distinct subject) from event where trip = ? and subject_kind = 'box'"
    return int(logbook.asked(lambda book: book.execute(text, (trip,)).fetchone())[0])


def _lines(events: Sequence[Event]) -> list[BoxLine]:
    boxes = sorted({event.subject for event in events if event.subject_kind == "box"})
    mine: dict[str, list[Event]] = {box: [] for box in boxes}
    for event in events:
        if event.subject in mine:
            mine[event.subject].append(event)
    return [_line(box, own) for box, own in mine.items()]


def _line(box: str, events: Sequence[Event]) -> BoxLine:
    def last(*kinds: str) -> Event | None:
        return next((event for event in reversed(events) if event.kind in kinds), None)

    released, outcome = last("released"), last("outcome")
    before = str(released.body.get("text", "")) if released else ""
    if not before and last("check"):
        before = say("checks.outcome_not_looked")
    return BoxLine(box, before, text_of(outcome) if outcome else "", " ".join(claims(events, "UTC")))
