"""The trip being edited: a draft in the words of the trip file, with undo for every change and a dirty mark."""

from __future__ import annotations

import copy
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtGui import QUndoCommand, QUndoStack

from planner.ui.trip import edits
from planner.ui.trip.edits import MISSING

__all__ = ["MISSING", "Document", "FieldPath"]

FieldPath = tuple[str | int, ...]
"""Where a value stands in a draft, e.g. ``("load", 0, "count")``."""

MERGE_S = 1.2
"""Edits of one spot closer together than this are one step of undo: a slider pulled, a word typed."""


class Document(QObject):
    """A draft with undo; ``changed`` carries the spot that was edited, the empty spot meaning everything."""

    changed = Signal(object)
    title_changed = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.stack = QUndoStack(self)
        self.stack.cleanChanged.connect(self.title_changed)
        self.draft: dict[str, Any] = {}
        self.path: Path | None = None
        self.base_folder: Path | None = None
        self.recovered = False

    def open(
        self,
        draft: dict[str, Any],
        path: Path | None,
        base_folder: Path | None = None,
        *,
        recovered: bool = False,
    ) -> None:
        """Replace everything; the undo history starts anew."""
        self.draft = copy.deepcopy(draft)
        self.path, self.recovered = path, recovered
        self.base_folder = base_folder or (path.parent if path else None)
        self.stack.clear()
        self.changed.emit(())
        self.title_changed.emit()

    def get(self, spot: FieldPath, default: Any = None) -> Any:
        """The value at ``spot``, or ``default`` where the draft says nothing."""
        return _get(self.draft, spot, default)

    def edit(self, spot: FieldPath, value: Any, words: str = "") -> None:
        """Set the value at ``spot`` (``MISSING`` takes it out) as one undoable step."""
        before = _get(self.draft, spot, MISSING)
        if before is not MISSING and value is not MISSING and before == value:
            return
        if before is MISSING and value is MISSING:
            return
        self.stack.push(_Edit(self, spot, copy.deepcopy(before), copy.deepcopy(value), words))

    def edit_many(self, changes: Mapping[FieldPath, Any], words: str = "") -> None:
        """Several values as one step of undo; ``MISSING`` takes one out."""
        changes = {spot: value for spot, value in changes.items() if self._differs(spot, value)}
        if not changes:
            return
        self.stack.beginMacro(words)
        for spot, value in changes.items():
            self.edit(spot, value, words)
        self.stack.endMacro()

    def edit_places(
        self, changes: Mapping[str, Any], words: str = "", came_from: Sequence[int | None] | None = None
    ) -> None:
        """Change origin, stops or destination; whatever names a place of the trip goes on meaning that place.

        ``came_from`` says for each new stop which old one it is; without it the stops stay in their order.
        """
        wanted = edits.with_places(self.draft, changes, came_from)
        self.edit_many({(part,): value for part, value in wanted.items()}, words)

    def _differs(self, spot: FieldPath, value: Any) -> bool:
        return bool(_get(self.draft, spot, MISSING) != value)

    def saved(self, path: Path) -> None:
        """The draft now stands in ``path`` as it is."""
        self.path, self.base_folder, self.recovered = path, path.parent, False
        self.stack.setClean()
        self.title_changed.emit()

    @property
    def dirty(self) -> bool:
        """Whether there is anything to lose."""
        return self.recovered or not self.stack.isClean()

    def put(self, spot: FieldPath, value: Any) -> None:
        """Set without a step of undo; only the undo steps themselves call this."""
        _put(self.draft, spot, copy.deepcopy(value))
        self.changed.emit(spot)


class _Edit(QUndoCommand):
    def __init__(self, document: Document, spot: FieldPath, before: Any, after: Any, words: str) -> None:
        super().__init__(words)
        self.document, self.spot, self.before, self.after = document, spot, before, after
        self.made_s = time.monotonic()

    def id(self) -> int:
        return abs(hash(self.spot)) % 2_000_000_000

    def mergeWith(self, other: QUndoCommand) -> bool:
        if not isinstance(other, _Edit):
            return False
        structural = isinstance(self.after, list | dict) or self.after is MISSING or self.before is MISSING
        if other.spot != self.spot or structural or other.made_s - self.made_s > MERGE_S:
            return False
        self.after, self.made_s = other.after, other.made_s
        return True

    def redo(self) -> None:
        self.document.put(self.spot, self.after)

    def undo(self) -> None:
        self.document.put(self.spot, self.before)


def _get(draft: Any, spot: FieldPath, default: Any) -> Any:
    here = draft
    for part in spot:
        inside = isinstance(here, dict) and part in here
        listed = isinstance(here, list) and isinstance(part, int) and part < len(here)
        if not (inside or listed):
            return default
        here = here[part]
    return here


def _put(draft: Any, spot: FieldPath, value: Any) -> None:
    here = draft
    for part in spot[:-1]:
        here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
    if value is MISSING:
        if isinstance(here, dict):
            here.pop(spot[-1], None)
    else:
        here[spot[-1]] = value
