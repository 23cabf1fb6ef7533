"""The trip as a file: a new one, one opened, saved, left, or taken up again after a crash; asks before work is lost."""

from __future__ import annotations

import hashlib
import time
from pathlib import Path
from typing import Any

from PySide6.QtCore import QLockFile, QObject, Signal
from PySide6.QtWidgets import QFileDialog, QMessageBox, QWidget

from planner.errors import SkepwayError
from planner.store.logbook.identity import identified
from planner.store.tripfile import read_draft, write_draft
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.ui.trip import trips
from planner.ui.trip.document import Document
from planner.ui.trip.hands import commit_typing
from planner.ui.trip.preferences import Preferences
from planner.ui.work.recovery import Left, Recovery


class TripFiles(QObject):
    """One trip at a time; says what becomes of it and leaves it to the window to show that."""

    opening = Signal()
    """Another trip takes the place of the one before, whose answers are void."""
    opened = Signal()
    started = Signal()
    """The trip opened is a new one, with everything still to be said."""
    left = Signal()
    kept = Signal(str)
    """Saved: words for the status line."""
    recovered = Signal(str)
    """Taken up after a crash: words for the notice."""
    twice = Signal()
    """Another window has the same file open."""

    def __init__(
        self,
        window: QWidget,
        document: Document,
        recovery: Recovery,
        preferences: Preferences,
        left_by_crash: list[Left],
    ) -> None:
        super().__init__(window)
        self._window, self.document, self.recovery = window, document, recovery
        self.preferences, self.left_by_crash = preferences, left_by_crash
        self.on_trip = False
        self._lock: QLockFile | None = None

    # -- a trip comes ------------------------------------------------------------------------------

    def new_trip(self) -> None:
        if self.may_drop():
            self.open_draft(trips.new_draft(time.time()), None, None)
            self.started.emit()

    def browse(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self._window, s.say(s.DIALOG_OPEN), str(self._folder()), s.say(s.FILTER_TRIP)
        )
        if name:
            self.open_trip(Path(name))

    def open_trip(self, path: Path) -> None:
        if self.may_drop():
            self._read(path, keep_path=True)

    def open_demo(self, path: Path) -> None:
        """Open a bundled trip as an untitled copy, so that it stays as it is."""
        if self.may_drop():
            self._read(path, keep_path=False)

    def recover(self) -> None:
        """Take up the trip a crash left behind."""
        left = self.left_by_crash.pop(0)
        self.open_draft(left.draft, left.path, left.base_folder, recovered=True)
        left.file.unlink(missing_ok=True)
        age = clock.span(max(time.time() - left.written_s, 0))
        self.recovered.emit(s.say(s.RECOVERED, title=self.document.get(("title",), ""), age=age))

    def drop_left(self) -> None:
        """Give up the trip a crash left behind."""
        self.left_by_crash.pop(0).file.unlink(missing_ok=True)

    def _folder(self) -> Path:
        """Where trips are: beside the present one, else beside the last one, else at home."""
        if self.document.path is not None:
            return self.document.path.parent
        recent = self.preferences.recent_files()
        return recent[0].parent if recent else Path.home()

    def _read(self, path: Path, *, keep_path: bool) -> None:
        try:
            draft = read_draft(path)
        except SkepwayError as error:
            QMessageBox.warning(self._window, s.say(s.APP), str(error))
            return
        self.open_draft(draft, path if keep_path else None, path.parent)
        if keep_path:
            self.preferences.opened(path)
            self._claim(path)

    def _claim(self, path: Path) -> None:
        """Be known as the window that has this file open; say so where another one is."""
        self.close()
        mark = hashlib.sha256(str(path.resolve()).encode()).hexdigest()[:24]
        lock = QLockFile(str(self.recovery.file.parent / f"file-{mark}.lock"))
        lock.setStaleLockTime(0)
        if lock.tryLock(0):
            self._lock = lock
        elif lock.error() == QLockFile.LockError.LockFailedError:  # not: a folder that may only be read
            self.twice.emit()

    def close(self) -> None:
        """The file is open here no more."""
        if self._lock is not None:
            self._lock.unlock()
            self._lock = None

    def open_draft(
        self, draft: dict[str, Any], path: Path | None, base_folder: Path | None, *, recovered: bool = False
    ) -> None:
        """Make ``draft`` the trip being edited, whatever was there before."""
        self.on_trip = True
        self.close()
        self.opening.emit()
        self.document.open(draft, path, base_folder, recovered=recovered)
        self.opened.emit()

    # -- a trip is kept, or goes -------------------------------------------------------------------

    def save(self) -> bool:
        return self.save_to(self.document.path) if self.document.path else self.save_as()

    def save_as(self) -> bool:
        commit_typing()
        proposed = str(self._folder() / trips.file_name(self.document.draft))
        name, _ = QFileDialog.getSaveFileName(
            self._window, s.say(s.DIALOG_SAVE_AS), proposed, s.say(s.FILTER_TRIP)
        )
        return bool(name) and self.save_to(with_ending(Path(name), trips.ENDING))

    def save_to(self, path: Path) -> bool:
        """Write the trip and the files it names; true when they are safe."""
        commit_typing()
        try:
            trips.bring_files(self.document.draft, self.document.base_folder, path.parent)
            identified(self.document.draft)
            write_draft(self.document.draft, path)
        except SkepwayError as error:
            QMessageBox.warning(self._window, s.say(s.APP), str(error))
            return False
        self.document.saved(path)
        self.recovery.drop()
        self.preferences.opened(path)
        self._claim(path)
        self.kept.emit(s.say(s.SAVED, path=path))
        return True

    def leave_trip(self) -> None:
        """Back to the page without a trip."""
        if self.may_drop():
            self.close()
            self.on_trip = False
            self.recovery.drop()
            self.document.stack.setClean()
            self.document.recovered = False
            self.left.emit()

    def may_drop(self) -> bool:
        """Ask before changes are lost; true when the present trip may go."""
        commit_typing()
        if not self.on_trip or not self.document.dirty:
            return True
        title = self.document.get(("title",)) or s.say(s.UNTITLED)
        buttons = QMessageBox.StandardButton
        wish = QMessageBox.question(
            self._window,
            s.say(s.UNSAVED_TITLE),
            s.say(s.UNSAVED_TEXT, title=title),
            buttons.Save | buttons.Discard | buttons.Cancel,
        )
        return self.save() if wish == buttons.Save else wish == buttons.Discard


def with_ending(path: Path, ending: str) -> Path:
    """The file with an ending, which a name typed without one gets."""
    return path if path.suffix else path.with_name(path.name + ending)
