"""A copy of the trip being edited, written a moment after each change and taken away when it is safe.

Each running window keeps its own copy, so two windows never overwrite each other's; a copy found at
start-up whose window no longer runs is what a crash left behind.
"""

from __future__ import annotations

import json
import os
import time
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QLockFile, QObject, QTimer

from planner.errors import SkepwayError
from planner.files import made_private, sweep, write_text
from planner.ui.trip.document import Document
from planner.ui.work.runner import Runner

WAIT_MS = 700
DAY_S = 86400.0


@dataclass(frozen=True)
class Left:
    """What a crash left behind: the draft, the file it belonged to and when it was written."""

    draft: dict[str, Any]
    path: Path | None
    base_folder: Path | None
    written_s: float
    file: Path


class Recovery(QObject):
    """Keeps the copy of one document in ``folder`` up to date; ``trouble`` says why it keeps none."""

    def __init__(self, document: Document, runner: Runner, folder: Path) -> None:
        super().__init__(document)
        self.document, self.runner = document, runner
        self.trouble: SkepwayError | None = None
        try:
            made_private(folder)
        except SkepwayError as error:  # a home that may only be read: there is a window all the same
            self.trouble = error
        self.file = folder / f"open-{os.getpid()}-{time.time_ns()}.json"
        self._lock = QLockFile(str(_lock_of(self.file)))
        self._lock.setStaleLockTime(0)
        self._lock.tryLock(0)
        self._timer = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._timer.timeout.connect(self._write)
        document.changed.connect(lambda _: self._timer.start())

    def _write(self) -> None:
        document = self.document
        if self.trouble is not None:
            return
        if not document.dirty:
            self._unlink()
            return
        kept = json.dumps(
            {
                "draft": document.draft,
                "path": str(document.path) if document.path else None,
                "base_folder": str(document.base_folder) if document.base_folder else None,
                "written_s": time.time(),
            },
            default=str,
        )
        self.runner.start("recovery", lambda _: write_text(self.file, kept, private=True), lambda _: None)

    def drop(self) -> None:
        """Nothing is left to lose: the trip was saved, or given up on purpose."""
        self._timer.stop()
        self.runner.stop("recovery")
        self._unlink()

    def _unlink(self) -> None:
        with suppress(OSError):
            self.file.unlink(missing_ok=True)

    def close(self) -> None:
        """The window closes in good order; call after the runner has ended."""
        self.drop()
        self._lock.unlock()


def left_behind(folder: Path, keep_days: int = 30, sort: str = "open") -> list[Left]:
    """Copies in ``folder`` whose window no longer runs, newest first; damaged ones are passed over, old ones go.

    ``sort`` begins their names: trips are "open", collection days "day".
    """
    sweep(folder)
    oldest_s = time.time() - keep_days * DAY_S
    for alone in folder.glob(f"{sort}-*.lock"):
        if not alone.with_suffix(".json").exists():  # a window that was killed before it had anything to keep
            _is_left(alone)
    found = []
    for file in folder.glob(f"{sort}-*.json"):
        if not _is_left(_lock_of(file)) or (left := _read(file)) is None:
            continue
        if left.written_s < oldest_s:
            file.unlink(missing_ok=True)
        else:
            found.append(left)
    return sorted(found, key=lambda left: -left.written_s)


def _is_left(lock_file: Path) -> bool:
    """Whether nobody holds this lock any more; it is then gone."""
    lock = QLockFile(str(lock_file))
    lock.setStaleLockTime(0)
    if not lock.tryLock(0):
        return False
    lock.unlock()
    return True


def _read(file: Path) -> Left | None:
    try:
        kept = json.loads(file.read_text("utf-8"))
        return Left(
            dict(kept["draft"]),
            Path(kept["path"]) if kept["path"] else None,
            Path(kept["base_folder"]) if kept.get("base_folder") else None,
            float(kept["written_s"]),
            file,
        )
    except (OSError, ValueError, KeyError, TypeError, RecursionError, OverflowError):
        return None


def _lock_of(file: Path) -> Path:
    return file.with_suffix(".lock")
