"""The logbook as everybody else uses it: write down, look up, pin a plan, keep a picture, know a person.

Every call opens and closes the file, so that any thread of any process may ask; what a call has written down when it
returns is on the disk.
"""

from __future__ import annotations

import hashlib
import json
import platform
import sqlite3
import zlib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

from planner.errors import Fault, InputError, StorageError
from planner.files import Passing
from planner.model.box_names import CHECK, fault_of
from planner.store.logbook import people
from planner.store.logbook.chain import COLUMNS, FIRST, hash_of, plain
from planner.store.logbook.database import BOOK, default_path, opened, whole
from planner.store.logbook.evidence import Evidence
from planner.store.logbook.records import (
    KINDS,
    SUBJECTS,
    Entry,
    Event,
    KnownTrip,
    Person,
    Picture,
    PinnedPlan,
)
from planner.words import say

T = TypeVar("T")
LONGEST_BODY = 1_000_000
CODE_FIGURES = 6
MOST_UNFOLDED = 64_000_000
"""Characters a pinned plan may unfold to."""


class Logbook:
    """What happened to trips and boxes. Raises StorageError where the file cannot be used.

    A passing folder that it lies in stays as long as somebody reads it: the logbook holds it.
    """

    def __init__(
        self, path: Path | None = None, device: str | None = None, lies_in: Passing | None = None
    ) -> None:
        self._lies_in = lies_in
        self.path = path or default_path()
        self.evidence = Evidence(self.path)
        self.device = platform.node()[:80] if device is None else device

    # -- what happened -----------------------------------------------------------------------------

    def add(self, *entries: Entry, pictures: Sequence[Picture] = ()) -> tuple[Event, ...]:
        """Write entries down, all or none; they are safe when this returns.

        Pictures are kept first, so that no entry names one that is not there; bodies name them by their hash under
        ``pictures``.

        Raises
        ------
        InputError : an entry of an unknown kind, a box's name that is none
        StorageError : nothing was written down
        """
        for entry in entries:
            _check(entry)
        marks = [(self.evidence.keep(picture.content), picture) for picture in pictures]
        with opened(self.path) as book:
            for mark, picture in marks:
                book.execute(
                    "insert or ignore into media values (?,?,?,?,?,?)",
                    (
                        mark,
                        picture.kind,
                        len(picture.content),
                        picture.taken_s,
                        picture.width,
                        picture.height,
                    ),
                )
            return tuple(self._appended(book, entry) for entry in entries)

    def _appended(self, book: sqlite3.Connection, entry: Entry) -> Event:
        own = own_chain(book)
        number, before = _end_of(book, own)
        body = plain(entry.body)
        row: tuple[Any, ...]
        row = (own, number + 1, float(entry.at_s), int(entry.offset_s), self.device, entry.who, entry.trip)
        row += (entry.subject_kind, entry.subject, entry.kind, body, entry.plan, entry.corrects)
        mark = hash_of(before, row)
        book.execute(f"insert into event values ({','.join('?' * len(COLUMNS))})", (*row, before, mark))
        book.execute("insert or replace into chain values (?,?,?)", (own, number + 1, mark))
        return event_of((*row, before, mark))

    def events(
        self, *, trip: str | None = None, subject: str | None = None, kinds: Sequence[str] = ()
    ) -> list[Event]:
        """Events in the order they happened, as given: of a trip, a subject, of some kinds."""
        where = {"trip": trip, "subject": subject}
        asked = [name for name, value in where.items() if value is not None]
        wheres = [f"{name} = ?" for name in asked]
        if kinds:
            wheres.append(f"kind in ({','.join('?' * len(kinds))})")
        text = f"select {','.join(COLUMNS)} from event" + (f" where {' and '.join(wheres)}" if wheres else "")
        values = [*(where[name] for name in asked), *kinds]
        with opened(self.path, writing=False) as book:
            rows = book.execute(f"{text} order by at_s, book, number", values)
            return [event_of(whole(row, EVENT_TYPES)) for row in rows]

    def standing(self, **asked: Any) -> list[Event]:
        """Events as ``events`` gives them, without those that a later one stands in for."""
        found = self.events(**asked)
        corrected = {event.corrects for event in found if event.corrects}
        return [event for event in found if event.hash not in corrected]

    def told(self, **asked: Any) -> list[Event]:
        """Events as ``standing`` gives them, in the order they were written down: for whoever goes by the last word.

        In a chain that is the order of its numbers, whatever its clock showed. Between chains the times decide; an
        entry that claims to come from later than the next of its own chain was dated by a clock that ran ahead, and
        goes by that one.
        """
        found = sorted(self.standing(**asked), key=lambda event: event.number)
        no_later_s: dict[str, float] = {}
        written_s: dict[str, float] = {}
        for event in reversed(found):
            at_s = min(event.at_s, no_later_s.get(event.book, event.at_s))
            no_later_s[event.book] = written_s[event.hash] = at_s
        return sorted(found, key=lambda event: (written_s[event.hash], event.book, event.number))

    # -- pinned plans ------------------------------------------------------------------------------

    def pin(
        self, snapshot: Mapping[str, Any], *, made_s: float, trip: str, title: str, inputs: str
    ) -> PinnedPlan:
        """Keep a plan whole for good; the same plan twice is one. ``inputs`` marks what it was made from."""
        text = plain(snapshot)
        packed = zlib.compress(text.encode("utf-8", "surrogatepass"), 9)
        mark = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
        program = str(snapshot.get("program", ""))
        row = (mark, plan_code(mark), made_s, trip, title, inputs, program, packed)
        with opened(self.path) as book:
            book.execute("insert or ignore into plan values (?,?,?,?,?,?,?,?)", row)
            kept = book.execute("select made_s from plan where id = ?", (mark,)).fetchone()
        return PinnedPlan(mark, row[1], float(kept[0]), trip, title, inputs, program, snapshot)

    def plan(self, id_or_code: str) -> PinnedPlan | None:
        """A pinned plan by id or code, the newest where two share a code; None where there is none."""
        with opened(self.path, writing=False) as book:
            row = book.execute(
                "select * from plan where id = ? or code = ? order by made_s desc",
                (id_or_code, id_or_code.upper()),
            ).fetchone()
            return None if row is None else pinned_of(whole(row, PLAN_TYPES))

    def plans(self, trip: str) -> list[PinnedPlan]:
        """The pinned plans of a trip, oldest first."""
        with opened(self.path, writing=False) as book:
            rows = book.execute("select * from plan where trip = ? order by made_s, id", (trip,)).fetchall()
            return [pinned_of(whole(row, PLAN_TYPES)) for row in rows]

    # -- trips, people, settings -------------------------------------------------------------------

    def known_trip(self, key: str) -> KnownTrip | None:
        """What a trip was last seen with; None where the logbook does not know it."""
        with opened(self.path, writing=False) as book:
            row = book.execute("select * from trip where key = ?", (key,)).fetchone()
            return None if row is None else KnownTrip(*whole(row, TRIP_TYPES))

    def trips(self) -> list[KnownTrip]:
        """Every trip that has an entry, by the day it was for."""
        with opened(self.path, writing=False) as book:
            rows = book.execute("select * from trip order by day, title, key")
            return [KnownTrip(*whole(row, TRIP_TYPES)) for row in rows]

    def know_trip(self, trip: KnownTrip) -> None:
        """Remember what a trip's file says now."""
        row = (trip.key, trip.title, trip.origin, trip.day, trip.load, trip.path)
        with opened(self.path) as book:
            book.execute("insert or replace into trip values (?,?,?,?,?,?)", row)

    def person_key(self, name: str) -> str:
        """The key of a name or of initials, given now where nobody bears it; "" for no name."""
        if not name.strip():
            return ""
        with opened(self.path) as book:
            return people.key_of(book, name)

    def people(self) -> list[Person]:
        """Everybody, the erased ones too."""
        with opened(self.path, writing=False) as book:
            return people.everybody(book)

    def keep_person(self, person: Person) -> None:
        """Write down who a key stands for."""
        with opened(self.path) as book:
            people.keep(book, person)

    def erase(self, key_or_name: str, now_s: float) -> tuple[Person, tuple[str, ...]]:
        """Take a person's name, phone and address out; give the person as they were and where free text names them.

        The events stay, and their chain with them; free text that names the person is shown, not changed.
        """
        with opened(self.path) as book:
            person = people.found(book, key_or_name)
            hits = tuple(people.mentions(book, person))
            people.erase(book, person, now_s)
            self._appended(book, Entry("erased", now_s, "person", person.key))
        self._forget_pages()
        return person, hits

    def _forget_pages(self) -> None:
        """Empty the write-ahead log, which still holds the pages as they were."""
        book = sqlite3.connect(self.path, timeout=1.0)
        try:
            book.execute("pragma wal_checkpoint(truncate)")
        except sqlite3.Error:
            pass  # somebody reads; the next one to close empties it
        finally:
            book.close()

    def setting(self, name: str) -> str | None:
        """A setting that belongs to the logbook, None where it was never made."""
        with opened(self.path, writing=False) as book:
            row = book.execute("select value from setting where name = ?", (name,)).fetchone()
        return None if row is None else str(row[0])

    def set_setting(self, name: str, value: str) -> None:
        """Make a setting."""
        with opened(self.path) as book:
            book.execute("insert or replace into setting values (?,?)", (name, value))

    # -- for those who look at all of it -----------------------------------------------------------

    def asked(self, question: Callable[[sqlite3.Connection], T]) -> T:
        """The answer of a function that reads."""
        with opened(self.path, writing=False) as book:
            return question(book)


def own_chain(book: sqlite3.Connection) -> str:
    """The name of this file's own chain."""
    return str(book.execute("select value from about where name = ?", (BOOK,)).fetchone()[0])


def _end_of(book: sqlite3.Connection, chain: str) -> tuple[int, str]:
    row = book.execute("select number, hash from chain where book = ?", (chain,)).fetchone()
    return (0, FIRST) if row is None else (int(row[0]), str(row[1]))


EVENT_TYPES = (str, int, float, int, *[str] * 11)
PLAN_TYPES = (str, str, float, str, str, str, str, bytes)
TRIP_TYPES = (str,) * 6


def event_of(row: Sequence[Any]) -> Event:
    """An event from its row; a body that is no JSON (a changed file) is told by ``verify``, and empty here."""
    values = dict(zip(COLUMNS, row, strict=True))
    try:
        body = json.loads(values["body"])
    except (ValueError, RecursionError):
        body = {}
    return Event(**{**values, "body": body if isinstance(body, dict) else {}})


def pinned_of(row: Sequence[Any]) -> PinnedPlan:
    """A pinned plan from its row. Raises StorageError where its snapshot is damaged."""
    mark, code, made_s, trip, title, inputs, program, packed = row
    text = unpacked(packed)
    if text is None or hashlib.sha256(text).hexdigest() != mark:
        raise StorageError(say("logbook.plan_changed", code=str(code)))
    return PinnedPlan(mark, code, made_s, trip, title, inputs, program, json.loads(text))


def unpacked(packed: bytes) -> bytes | None:
    """A snapshot's text, None where it is damaged or unfolds beyond reason."""
    try:
        unfold = zlib.decompressobj()
        text = unfold.decompress(packed, MOST_UNFOLDED)
    except (zlib.error, TypeError):
        return None
    return text if unfold.eof else None


def plan_code(mark: str) -> str:
    """The short name of a pinned plan: five figures of its hash and a letter that catches a misheard one."""
    number = int(mark[:12], 16) % 10 ** (CODE_FIGURES - 1)
    return f"{number:0{CODE_FIGURES - 1}d}{CHECK[number % len(CHECK)]}"


def _check(entry: Entry) -> None:
    faults = []
    if entry.kind not in KINDS:
        faults.append(
            Fault(
                "kind",
                entry.kind,
                say("logbook.unknown_kind"),
                say("logbook.known_kinds", kinds=", ".join(KINDS)),
            )
        )
    if entry.subject_kind not in SUBJECTS:
        faults.append(
            Fault(
                "subject_kind",
                entry.subject_kind,
                say("logbook.unknown_kind"),
                say("logbook.known_kinds", kinds=", ".join(SUBJECTS)),
            )
        )
    if entry.subject_kind == "box" and (wrong := fault_of(entry.subject)):
        faults.append(Fault("box", entry.subject, wrong, say("logbook.give_box")))
    if len(plain(entry.body)) > LONGEST_BODY:
        faults.append(Fault("body", "", say("logbook.too_long"), say("logbook.attach_instead")))
    if faults:
        raise InputError(faults)
