"""The journal of plans made: one SQLite file that later answers "what changed since"; versioned, opens for ever."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from planner.errors import StorageError
from planner.files import PRIVATE, made_private
from planner.folders import data_dir
from planner.reading import net

VERSION = 1
KEEP_PER_TRIP = 20
LOCKED_FOR_S = 5.0
"""How long another window or program may hold the file before it is told."""
_TABLES = """
create table if not exists plans (
    id integer primary key,
    trip text not null,
    made_s real not null,
    document text not null
);
create index if not exists plans_of_trip on plans (trip, made_s);
"""


def default_path() -> Path:
    """Where the journal lives for this user."""
    return data_dir() / "journal.sqlite"


class Journal:
    """Plans by trip, newest last. Every call opens and closes the file, so that any thread may ask.

    Raises StorageError when the file cannot be read or written, or was made by a later version.
    """

    def __init__(self, path: Path | None = None) -> None:
        self._path = path or default_path()

    def keep(self, trip: str, made_s: float, document: Mapping[str, Any]) -> None:
        """Write one plan down; the oldest beyond KEEP_PER_TRIP are let go."""
        with self._open() as book:
            book.execute(
                "insert into plans (trip, made_s, document) values (?, ?, ?)",
                (trip, made_s, json.dumps(document)),
            )
            book.execute(
                "delete from plans where trip = ? and id not in "
                "(select id from plans where trip = ? order by made_s desc, id desc limit ?)",
                (trip, trip, KEEP_PER_TRIP),
            )

    def last(self, trip: str) -> dict[str, Any] | None:
        """The newest plan of a trip, or None."""
        with self._open() as book:
            row = book.execute(
                "select document from plans where trip = ? order by made_s desc, id desc limit 1", (trip,)
            ).fetchone()
        if row is None:
            return None
        with net(self._unreadable):
            return dict(json.loads(row[0]))

    def _unreadable(self, fault: Exception) -> StorageError:
        return StorageError(
            f"{self._path} could not be used: {fault}. Move the file away; a new one is made."
        )

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        try:
            made_private(self._path.parent)
            if not self._path.exists():
                self._path.touch(mode=PRIVATE)
            book = sqlite3.connect(self._path, timeout=LOCKED_FOR_S)
        except (OSError, sqlite3.Error) as error:
            raise StorageError(
                f"{self._path} could not be opened: {error}. Check the folder and its rights."
            ) from error
        try:
            with book:
                self._prepare(book)
                yield book
        except sqlite3.OperationalError as error:  # locked, full, read-only: the file itself may be whole
            raise StorageError(
                f"{self._path} could not be used: {error}. Check its folder, the disk, and what else uses it."
            ) from error
        except sqlite3.Error as error:
            raise self._unreadable(error) from error
        finally:
            book.close()

    def _prepare(self, book: sqlite3.Connection) -> None:
        version = int(book.execute("pragma user_version").fetchone()[0])
        if version > VERSION:
            raise StorageError(
                f"{self._path} was written by a later Skepway (version {version}). Use that one."
            )
        if version < VERSION:
            book.executescript(_TABLES)
            book.execute(f"pragma user_version = {VERSION}")


def trip_key(path: Path) -> str:
    """What a trip is known by in the journal: where its file lies."""
    return str(path.resolve())
