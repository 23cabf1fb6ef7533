"""What the logbook says of every box in a line each: for the page that goes with a bundle that is handed on.

Sentences, not texts: whoever is handed the page may read another language.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from planner.app.inspect.records import CheckedBox, checked
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Body, Event
from planner.words import Moment, Sentence, sentence

MOST_BOXES = 400
"""Of the newest trips; the tables beside the page hold everything."""


Said = Sentence | str
"""A sentence of ours, or what somebody typed."""


@dataclass(frozen=True)
class BoxLine:
    """One box: what its check came to before the start (None: nobody has looked), what was found afterwards, claims."""

    box: str
    before: CheckedBox | None = None
    after: tuple[Said, ...] = ()
    claim: tuple[Said, ...] = ()


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
        lines = tuple(_lines(logbook.told(trip=trip.key), checked(logbook, trip.key)))
        left_out += max(0, len(lines) - room)
        found.append(TripLines(trip.day, trip.title, lines[:room]))
        room -= len(lines)
    return Summary(tuple(found), left_out)


def _boxes(logbook: Logbook, trip: str) -> int:
    text = "select count(distinct subject) from event where trip = ? and subject_kind = 'box'"
    return int(logbook.asked(lambda book: book.execute(text, (trip,)).fetchone())[0])


def _lines(events: Sequence[Event], known: Mapping[str, CheckedBox]) -> list[BoxLine]:
    boxes = sorted({event.subject for event in events if event.subject_kind == "box"})
    mine: dict[str, list[Event]] = {box: [] for box in boxes}
    for event in events:
        if event.subject in mine:
            mine[event.subject].append(event)
    return [BoxLine(box, known.get(box), _after(own), tuple(_claims(own))) for box, own in mine.items()]


def _after(events: Sequence[Event]) -> tuple[Said, ...]:
    """What became of a box, by the last word on it."""
    outcomes = [event.body for event in events if event.kind == "outcome"]
    if not outcomes:
        return ()
    lost, text = outcomes[-1].get("lost"), str(outcomes[-1].get("text") or "")
    said = [sentence("summary.lost") if lost else sentence("summary.alive")] if isinstance(lost, bool) else []
    return (*said, *([text] if text else []))


def _claims(events: Sequence[Event]) -> Iterator[Said]:
    """A box's claims from asked to settled, each with what was found, asked for and given."""
    end = next((event for event in reversed(events) if event.kind == "settled"), None)
    for event in events:
        if event.kind != "claim":
            continue
        asked = Moment(event.at_s, "UTC", "stamp")
        if end is None:
            yield sentence("summary.open", asked=asked)
        else:
            yield sentence("summary.settled", asked=asked, given=Moment(end.at_s, "UTC", "stamp"))
        yield from _told(event.body)
        yield from _told(end.body if end else {})


def _told(body: Body) -> Iterator[Said]:
    if body.get("text"):
        yield str(body["text"])
    if isinstance(body.get("dead_mm"), int | float):
        yield sentence("summary.dead", mm=f"{body['dead_mm']:g}")
    if body.get("asked"):
        yield sentence("summary.wants", amount=str(body["asked"]))
    if body.get("given"):
        yield sentence("summary.gave", amount=str(body["given"]))
