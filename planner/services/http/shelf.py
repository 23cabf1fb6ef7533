"""The shelf of kept answers: one SQLite file that every use waits for only briefly, and may do without.

A full disk, a file held by another program or a damaged one costs what would have been kept, never the answer:
what cannot be written stays in memory for as long as we run. The library's own SQLite room waits for ever.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from requests_cache.backends.base import BaseCache, BaseStorage
from requests_cache.serializers import pickle_serializer

from planner.errors import StorageError
from planner.files import PRIVATE, made_private

WAIT_S = 0.3
"""How long one use waits for whoever holds the file."""
SHUT_FOR_S = 10.0
"""How long the file is left alone after it could not be used."""


class Shelf(BaseCache):
    """Kept answers and the addresses that led to them."""

    def __init__(self, file: Path | None) -> None:
        super().__init__("answers")
        door = _Door(file)
        self.responses = _Table(door, "responses", pickle_serializer)
        self.redirects = _Table(door, "redirects", None)


class _Door:
    """The way to the file; shut for a while after it failed."""

    def __init__(self, file: Path | None) -> None:
        self._file, self._open_from_s = file, 0.0

    @contextmanager
    def open(self) -> Iterator[sqlite3.Connection]:
        """A connection for one use; raises sqlite3.Error where there is none to be had."""
        if self._file is None or time.monotonic() < self._open_from_s:
            raise sqlite3.OperationalError("no file")
        try:
            with closing(self._connected(self._file)) as book, book:
                yield book
        except (sqlite3.Error, UnicodeDecodeError, OSError, StorageError) as fault:
            self._open_from_s = time.monotonic() + SHUT_FOR_S
            damaged = (sqlite3.DatabaseError, UnicodeDecodeError)  # told in bytes that are no text
            if isinstance(fault, damaged) and not isinstance(fault, sqlite3.OperationalError):
                self._begin_anew(self._file)
            raise sqlite3.OperationalError(str(fault)) from fault

    def _begin_anew(self, file: Path) -> None:
        """A damaged file holds nothing; it may be deleted at any time."""
        try:
            file.unlink(missing_ok=True)
            self._open_from_s = 0.0
        except OSError:
            return

    @staticmethod
    def _connected(file: Path) -> sqlite3.Connection:
        if not file.exists():
            made_private(file.parent)
            file.touch(mode=PRIVATE)
        book = sqlite3.connect(file, timeout=WAIT_S)
        for table in ("responses", "redirects"):
            book.execute(
                f"create table if not exists {table} (key text primary key, value blob, expires integer)"
            )
        return book


class _Table(BaseStorage[str, Any]):
    """One table of the file, over what could not be written to it."""

    def __init__(self, door: _Door, name: str, serializer: Any) -> None:
        super().__init__(serializer=serializer)
        self._door, self._name = door, name
        self._unwritten: dict[str, Any] = {}

    def __getitem__(self, key: str) -> Any:
        if key in self._unwritten:
            return self.deserialize(key, self._unwritten[key])
        rows = self._rows(f"select value from {self._name} where key = ?", (key,))
        if not rows:
            raise KeyError(key)
        return self.deserialize(key, rows[0][0])

    def deserialize(self, key: str, value: Any) -> Any:
        """The answer as it was kept; KeyError where its bytes are damaged."""
        try:
            found = super().deserialize(key, value)
        except Exception as fault:  # unpickling damaged bytes raises whatever it likes
            raise KeyError(key) from fault
        if found is None:
            raise KeyError(key)
        return found

    def __setitem__(self, key: str, value: Any) -> None:
        packed, expires = self.serialize(value), getattr(value, "expires_unix", None)
        try:
            with self._door.open() as book:
                book.execute(f"insert or replace into {self._name} values (?, ?, ?)", (key, packed, expires))
            self._unwritten.pop(key, None)
        except sqlite3.Error:
            self._unwritten[key] = packed

    def __delitem__(self, key: str) -> None:
        if self._unwritten.pop(key, None) is None and key not in iter(self):
            raise KeyError(key)
        try:
            with self._door.open() as book:
                book.execute(f"delete from {self._name} where key = ?", (key,))
        except sqlite3.Error:
            return

    def __iter__(self) -> Iterator[str]:
        yield from self._unwritten
        for (key,) in self._rows(f"select key from {self._name}", ()):
            if key not in self._unwritten:
                yield key

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def clear(self) -> None:
        self._unwritten.clear()
        for key in list(self):
            del self[key]

    def _rows(self, question: str, values: tuple[str, ...]) -> list[Any]:
        try:
            with self._door.open() as book:
                return book.execute(question, values).fetchall()
        except sqlite3.Error:
            return []
