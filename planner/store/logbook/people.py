"""People: who a key stands for, in one table that can be emptied without touching anything that happened."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import uuid
import zlib
from collections.abc import Iterator
from dataclasses import astuple, replace

from planner.errors import Fault, InputError
from planner.store.logbook.database import whole
from planner.store.logbook.records import Person
from planner.words import say

COLUMNS = ("key", "name", "phone", "address", "language", "erased_s", "sum")
TYPES = (str, str, str, str, str, (float, type(None)))
"""What the columns but the last hold; nobody is erased before they are."""
SHORTEST_SOUGHT = 2
"""Initials are sought as well when somebody is erased, a single letter is not."""


def sum_of(person: Person) -> str:
    """A mark of a person's row, so that a change of it is noticed."""
    return hashlib.sha256(json.dumps(astuple(person)).encode("utf-8", "surrogatepass")).hexdigest()


def keep(book: sqlite3.Connection, person: Person) -> None:
    """Write a person's row anew."""
    book.execute("insert or replace into person values (?,?,?,?,?,?,?)", (*astuple(person), sum_of(person)))


def key_of(book: sqlite3.Connection, name: str) -> str:
    """The key of whoever bears this name or these initials, given now where nobody does."""
    name = " ".join(name.split())
    if not name:
        return ""
    row = book.execute("select key from person where name = ? order by key", (name,)).fetchone()
    if row is None:
        person = Person(f"P{uuid.uuid4().hex[:12]}", name)
        keep(book, person)
        return person.key
    return str(row[0])


def everybody(book: sqlite3.Connection) -> list[Person]:
    """All people by key, the erased ones too."""
    rows = book.execute("select key, name, phone, address, language, erased_s from person order by key")
    return [Person(*whole(row, TYPES)) for row in rows]


def found(book: sqlite3.Connection, key_or_name: str) -> Person:
    """A person by key or name. Raises InputError for nobody, and for several of one name."""
    people = [one for one in everybody(book) if key_or_name in (one.key, one.name)]
    if len(people) == 1:
        return people[0]
    problem = say("logbook.nobody") if not people else say("logbook.several_people", count=len(people))
    raise InputError([Fault("person", key_or_name, problem, say("logbook.give_key"))])


def erase(book: sqlite3.Connection, person: Person, now_s: float) -> None:
    """Empty a person's row; the key stays."""
    keep(book, replace(Person(person.key), erased_s=now_s))


def merge(book: sqlite3.Connection, person: Person) -> bool:
    """Take a person from another logbook in; who is erased in either stays erased. True where that changed anything."""
    row = book.execute(
        "select key, name, phone, address, language, erased_s from person where key = ?", (person.key,)
    ).fetchone()
    if row is None or (person.erased_s is not None and row[-1] is None):
        keep(book, person)
        return True
    return False


def mentions(book: sqlite3.Connection, person: Person) -> Iterator[str]:
    """Where name, phone or address stand in free text: events by name, pinned plans by code."""
    words = [word for word in (person.name, person.phone, person.address) if len(word) >= SHORTEST_SOUGHT]
    if not words:
        return
    sought = [word.casefold() for word in words]
    for mark, number, body in book.execute("select book, number, body from event order by book, number"):
        if any(_mentioned(word, str(body).casefold()) for word in sought):
            yield say("logbook.mention_event", event=f"{mark[:8]}/{number}")
    for code, title, snapshot in book.execute("select code, title, snapshot from plan order by made_s"):
        text = f"{title}\n{_text(snapshot)}".casefold()
        if any(_mentioned(word, text) for word in sought):
            yield say("logbook.mention_plan", code=code)
    for key, title, origin, load in book.execute("select key, title, origin, load from trip"):
        if any(_mentioned(word, f"{title}\n{origin}\n{load}".casefold()) for word in sought):
            yield say("logbook.mention_trip", trip=key)


def _mentioned(word: str, text: str) -> bool:
    """Whether a word stands in a text and not inside a longer word."""
    at = text.find(word)
    while at >= 0:
        before, after = text[at - 1 : at], text[at + len(word) : at + len(word) + 1]
        if not (before.isalnum() or after.isalnum()):
            return True
        at = text.find(word, at + 1)
    return False


def _text(snapshot: bytes) -> str:
    try:
        return zlib.decompress(snapshot).decode("utf-8", "replace")
    except (zlib.error, TypeError):
        return ""
