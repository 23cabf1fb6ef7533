"""The logbook's file: opened by any thread and process, brought up to the present version, its faults told in words.

The file is in WAL mode with ``synchronous = FULL``: what was acknowledged is on the disk, what was not is not there.
Each version is one numbered file of SQL in ``resources/logbook``; a file is applied whole or not at all.
"""

from __future__ import annotations

import json
import sqlite3
import uuid
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from typing import Any

from planner.bundled import resource_path
from planner.errors import StorageError, reason_of
from planner.files import PRIVATE, holding, made_private
from planner.folders import data_dir
from planner.words import say

LOCKED_FOR_S = 5.0
"""How long another window or program may hold the file before it is told."""

OLD_JOURNAL = "journal.sqlite"
"""What plans were kept in before there was a logbook; it lies beside and is left as it is."""

BOOK = "book"
"""The row of ``about`` that names this machine's own chain of events."""

UNREADABLE = (sqlite3.DatabaseError, UnicodeDecodeError)
"""A damaged file: also texts of bytes that are none, those in which the database tells of the damage among them."""


def default_path() -> Path:
    """Where the logbook lies for this user."""
    return data_dir() / "logbook.sqlite"


def migrations() -> tuple[str, ...]:
    """The SQL of every version, in order."""
    files = sorted(resource_path("logbook").glob("[0-9][0-9][0-9][0-9]_*.sql"))
    return tuple(file.read_text("utf-8") for file in files)


@contextmanager
def opened(path: Path, *, writing: bool = True) -> Iterator[sqlite3.Connection]:
    """The logbook for one piece of work; all of it is kept, or nothing where an error comes out of the block.

    Parameters
    ----------
    writing : hold the file against other writers from the start; False reads, also where the folder is read-only

    Raises
    ------
    StorageError : it cannot be read or written, is no logbook, or was written by a later version
    """
    try:
        book = _connected(path, writing)
    except UNREADABLE as error:
        raise _in_words(path, error) from error
    except OSError as error:
        raise StorageError(say("logbook.not_opened", path=str(path), reason=reason_of(error))) from error
    try:
        with closing(book):
            book.execute("begin immediate" if writing else "begin")
            try:
                yield book
            except BaseException:
                with suppress(sqlite3.Error):
                    book.rollback()
                raise
            book.commit()
    except UNREADABLE as error:
        raise _in_words(path, error) from error


def whole(row: Sequence[Any], types: Sequence[type | tuple[type, ...]]) -> Sequence[Any]:
    """A row whose columns hold what they were made for; sqlite3.DatabaseError where a damaged page says otherwise.

    A page with a bit turned can give nothing for a column that is never empty, and the database does not mind.
    """
    if any(not isinstance(value, kind) for value, kind in zip(row, types, strict=True)):
        raise sqlite3.DatabaseError("a row holds something else than it was made for")
    return row


def _connected(path: Path, writing: bool) -> sqlite3.Connection:
    """A connection to a logbook of the present version, made where there is none."""
    if not writing and path.exists() and not _may_write(path.parent):
        return _read_only(path)
    made_private(path.parent)
    if not path.exists():
        path.touch(mode=PRIVATE)
    book = sqlite3.connect(path, timeout=LOCKED_FOR_S, isolation_level=None)
    try:
        book.execute("pragma synchronous = full")
        book.execute("pragma secure_delete = on")
        if _version(book) != len(migrations()):
            _bring_up(book, path)
    except BaseException:
        book.close()
        raise
    return book


def _read_only(path: Path) -> sqlite3.Connection:
    """A logbook in a folder nobody may write in: no other writes there either, so that it stands still."""
    still = "" if path.with_name(path.name + "-wal").exists() else "&immutable=1"
    book = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro{still}", uri=True, isolation_level=None)
    try:
        if _version(book) != len(migrations()):
            _refuse_newer(book, path)
            raise StorageError(say("logbook.older_read_only", path=str(path)))
    except BaseException:
        book.close()
        raise
    return book


def _may_write(folder: Path) -> bool:
    probe = folder / f".logbook-{uuid.uuid4().hex}"
    try:
        probe.touch(mode=PRIVATE)
    except OSError:
        return False
    probe.unlink(missing_ok=True)
    return True


def _version(book: sqlite3.Connection) -> int:
    return int(book.execute("pragma user_version").fetchone()[0])


def _refuse_newer(book: sqlite3.Connection, path: Path) -> None:
    found, known = _version(book), len(migrations())
    if found > known:
        raise StorageError(say("logbook.newer", path=str(path), version=found, known=known))


def _bring_up(book: sqlite3.Connection, path: Path) -> None:
    """Apply the versions that are missing, one writer at a time, each whole or not at all."""
    _refuse_newer(book, path)
    with holding(path.parent):
        book.execute("pragma journal_mode = wal")
        for number, sql in enumerate(migrations(), 1):
            if _version(book) >= number:
                continue
            book.execute("begin immediate")
            try:
                for statement in statements(sql):
                    book.execute(statement)
                if number == 1:
                    book.execute("insert into about values (?, ?)", (BOOK, uuid.uuid4().hex))
                    _take_in_journal(book, path.with_name(OLD_JOURNAL))
                book.execute(f"pragma user_version = {number}")
                book.commit()
            except BaseException:
                with suppress(sqlite3.Error):
                    book.rollback()
                raise


def statements(sql: str) -> Iterator[str]:
    """The statements of a file one by one: ``executescript`` would end the transaction they stand in."""
    begun = ""
    for line in sql.splitlines(keepends=True):
        begun += line
        if sqlite3.complete_statement(begun):
            yield begun
            begun = ""


def _take_in_journal(book: sqlite3.Connection, journal: Path) -> None:
    """The plans of the old journal, so that a trip planned before is compared all the same; a damaged one has none."""
    if not journal.is_file():
        return
    with suppress(*UNREADABLE):
        old = sqlite3.connect(f"{journal.resolve().as_uri()}?mode=ro", uri=True, timeout=LOCKED_FOR_S)
        with closing(old):
            rows = old.execute("select trip, made_s, document from plans order by id").fetchall()
        book.executemany("insert into recheck (trip, made_s, document) values (?, ?, ?)", _sound(rows))


def _sound(rows: list[tuple[object, object, object]]) -> Iterator[tuple[str, float, str]]:
    for trip, made_s, document in rows:
        with suppress(ValueError, TypeError, RecursionError):
            json.loads(document)  # type: ignore[arg-type]
            yield str(trip), float(made_s), str(document)  # type: ignore[arg-type]


def _in_words(path: Path, error: sqlite3.DatabaseError | UnicodeDecodeError) -> StorageError:
    if isinstance(error, sqlite3.OperationalError):  # locked, full, read-only: the file itself may be whole
        return StorageError(say("logbook.not_used", path=str(path), reason=str(error)))
    return StorageError(say("logbook.damaged", path=str(path), reason=str(error)))
