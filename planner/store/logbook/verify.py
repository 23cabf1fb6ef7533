"""Is the logbook as it was written? Every event, plan, picture and person is held against its mark."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator

from planner.store.logbook.book import Logbook, unpacked
from planner.store.logbook.chain import COLUMNS, FIRST, hash_of
from planner.store.logbook.evidence import file_hash
from planner.store.logbook.people import everybody, sum_of
from planner.words import say


def faults(logbook: Logbook) -> tuple[str, ...]:
    """What is not as it was written down, each named; none: all is. Raises StorageError."""
    return logbook.asked(lambda book: tuple(_faults(logbook, book)))


def _faults(logbook: Logbook, book: sqlite3.Connection) -> Iterator[str]:
    for (said,) in book.execute("pragma integrity_check"):
        if said != "ok":
            yield say("logbook.file_damaged", reason=str(said))
    yield from _events(book)
    for mark, code, packed in book.execute("select id, code, snapshot from plan order by made_s"):
        text = unpacked(packed)
        if text is None or hashlib.sha256(text).hexdigest() != mark:
            yield say("logbook.plan_changed", code=str(code))
    for (mark,) in book.execute("select hash from media order by hash"):
        found = file_hash(logbook.evidence.path(mark))
        if found is None:
            yield say("logbook.picture_missing", mark=mark)
        elif found != mark:
            yield say("logbook.picture_changed", mark=mark)
    sums = dict(book.execute("select key, sum from person"))
    for person in everybody(book):
        if sums[person.key] != sum_of(person):
            yield say("logbook.person_changed", person=person.key)


def _events(book: sqlite3.Connection) -> Iterator[str]:
    ends = {chain: (number, mark) for chain, number, mark in book.execute("select * from chain")}
    chain, number, before = "", 0, FIRST
    reached: dict[str, tuple[int, str]] = {}
    for row in book.execute(f"select {','.join(COLUMNS)} from event order by book, number"):
        if row[0] != chain:
            chain, number, before = row[0], 0, FIRST
        name = f"{chain[:8]}/{row[1]}"
        if row[1] != number + 1:
            yield say("logbook.event_missing", event=f"{chain[:8]}/{number + 1}")
        elif row[-2] != before or hash_of(before, row[:-2]) != row[-1]:
            yield say("logbook.event_changed", event=name)
        number, before = row[1], row[-1]
        reached[chain] = (number, before)
    for chain, end in ends.items():
        if reached.get(chain, (0, FIRST)) != end:
            yield say("logbook.chain_cut", event=f"{chain[:8]}/{end[0]}")


def strays(logbook: Logbook) -> tuple[str, ...]:
    """Pictures that lie there and belong to nothing: kept by somebody who was cut off before the entry."""
    known = logbook.asked(lambda book: {mark for (mark,) in book.execute("select hash from media")})
    return tuple(mark for mark in logbook.evidence.marks() if mark not in known)
