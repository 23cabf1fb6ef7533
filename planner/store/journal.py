"""The journal of plans made: a table of the logbook that answers "what changed since"; the newest few of each trip."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from planner.errors import StorageError
from planner.reading import net
from planner.store.logbook.database import default_path, opened
from planner.store.logbook.identity import trip_key
from planner.words import say

__all__ = ["KEEP_PER_TRIP", "Journal", "default_path", "trip_key", "trip_place"]

KEEP_PER_TRIP = 20


class Journal:
    """Plans by trip, in the order they were written down: a clock that jumps changes nothing about which is the last.

    Every call opens and closes the file, so that any thread may ask.

    Raises StorageError when the file cannot be read or written, or was made by a later version.
    """

    def __init__(self, path: Path | None = None) -> None:
        self._path = path or default_path()

    def keep(self, trip: str, made_s: float, document: Mapping[str, Any]) -> None:
        """Write one plan down; the oldest beyond KEEP_PER_TRIP are let go."""
        text = json.dumps(document)
        with opened(self._path) as book:
            book.execute(
                "insert into recheck (trip, made_s, document) values (?, ?, ?)", (trip, made_s, text)
            )
            book.execute(
                "delete from recheck where trip = ? and id not in "
                "(select id from recheck where trip = ? order by id desc limit ?)",
                (trip, trip, KEEP_PER_TRIP),
            )

    def last(self, *trips: str) -> dict[str, Any] | None:
        """The newest plan of a trip by whichever of its names, or None."""
        marks = ",".join("?" * len(trips))
        with opened(self._path, writing=False) as book:
            row = book.execute(
                f"select document from recheck where trip in ({marks}) order by id desc limit 1",
                trips,
            ).fetchone()
        if row is None:
            return None
        with net(self._unreadable):
            return dict(json.loads(row[0]))

    def _unreadable(self, fault: Exception) -> StorageError:
        return StorageError(say("logbook.damaged", path=str(self._path), reason=str(fault)))


def trip_place(path: Path) -> str:
    """What a trip was known by before its file had an id: where it lies."""
    return str(path.resolve())
