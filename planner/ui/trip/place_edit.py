"""One place of the route: its name with suggestions while typing, its region, the map, places remembered."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from PySide6.QtCore import QModelIndex, QObject, QSignalBlocker, QStringListModel, Qt, QTimer, Signal
from PySide6.QtWidgets import QCompleter, QLineEdit, QListView

from planner.errors import Fault
from planner.ui.look import strings as s
from planner.ui.look.icons import SignButton
from planner.ui.look.panel import label
from planner.ui.trip import edits
from planner.ui.trip.document import Document, FieldPath
from planner.ui.trip.fields import Field

WAIT_MS = 90


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A place offered while typing: the line shown, the place it stands for, and the region it lies in."""

    text: str
    place: dict[str, Any]
    region: str = ""


class Search(Protocol):
    """Asks for places; answers arrive later on the GUI thread, or never."""

    def __call__(
        self, text: str, answer: Callable[[list[Suggestion]], None], *, complete: bool = False
    ) -> None:
        """Places like a text."""

    def find_all(self, texts: Sequence[str], answer: Callable[[Mapping[str, dict[str, Any]]], None]) -> None:
        """The best place for each of several texts; those not known are left out."""

    def region(self, spot: FieldPath, place: dict[str, Any], answer: Callable[[str], None]) -> None:
        """The region a place lies in."""


class Suggestions(QObject):
    """A list under a line of text, filled while it is typed; ``take`` is told the one chosen."""

    def __init__(self, line: QLineEdit, search: Search, take: Callable[[Suggestion], None]) -> None:
        super().__init__(line)
        self.line, self._search, self._take = line, search, take
        self.offered: list[Suggestion] = []
        self._model = QStringListModel(self)
        self.completer = QCompleter(self._model, self)
        self.completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        self.completer.setMaxVisibleItems(9)
        self.completer.activated.connect(self._chosen)
        self._popup = QListView()
        self.completer.setPopup(self._popup)
        self._popup.setTextElideMode(Qt.TextElideMode.ElideNone)
        line.setCompleter(self.completer)
        self.timer = QTimer(self, singleShot=True, interval=WAIT_MS)
        self.timer.timeout.connect(self._ask)
        line.textEdited.connect(self.timer.start)

    def _ask(self) -> None:
        text = self.line.text().strip()
        if len(text) >= 2:
            self._search(text, self._offer)

    def _offer(self, found: list[Suggestion]) -> None:
        self.offered = found
        self._model.setStringList([suggestion.text for suggestion in found])
        if found and self.line.hasFocus():
            self._popup.setMinimumWidth(
                self._popup.sizeHintForColumn(0) + 28
            )  # the region at the end is what tells them apart
            self.completer.complete()
            self._popup.setCurrentIndex(
                QModelIndex()
            )  # Qt marks what begins as typed, not what is ranked first

    def _chosen(self, text: str) -> None:
        chosen = next((suggestion for suggestion in self.offered if suggestion.text == text), None)
        if chosen:
            self._take(chosen)

    def pointed(self) -> bool:
        """Whether a line of the list is marked, so that Enter takes that one; else the list goes away."""
        if self._popup.isVisible() and self._popup.currentIndex().isValid():
            return True
        self._popup.hide()
        return False


NOT_KNOWN = "\u00a0"
"""Keeps the line of the region free: nothing below moves from under the hand once it is known."""


class PlaceField(Field):
    """Writes ``name``, ``lat``, ``lon`` (and zone, height where known) of a place as one undoable step."""

    from_map = Signal(object)
    remember = Signal(object)
    made_of: type[QLineEdit] = QLineEdit

    def __init__(self, document: Document, spot: FieldPath, name: str, search: Search) -> None:
        self.box = self.made_of()
        self.box.setPlaceholderText(s.say(s.ROUTE_PLACE_HINT))
        super().__init__(document, spot, name, self.box)
        self._search = search
        self.suggestions = Suggestions(self.box, search, self._take_chosen)
        self._typed = False
        self._region_of: tuple[Any, Any] | None = None
        self.box.textEdited.connect(self._edited)
        self.box.returnPressed.connect(self._take_first)
        self.box.editingFinished.connect(self.take_if_left)
        self.region = label(NOT_KNOWN, "small")
        self.region.setWordWrap(True)
        self.column.insertWidget(self.column.count() - 1, self.region)
        self.line.setSpacing(2)
        self.pin = self._button("pin", s.ROUTE_FROM_MAP, lambda: self.from_map.emit(self))
        self.star = self._button("keep", s.ROUTE_SAVE_PLACE, lambda: self.remember.emit(self.place()))

    def _button(self, sign: str, name: str, act: Callable[[], None]) -> SignButton:
        button = SignButton(sign, s.say(name), act)
        self.line.addWidget(button)
        return button

    def place(self) -> dict[str, Any]:
        """The place as the draft knows it; empty where it is not set."""
        held = self.document.get(self.spot) or {}
        return {key: held[key] for key in edits.WHERE if key in held}

    def _edited(self) -> None:
        self._typed = True

    def show_value(self, value: Any) -> None:
        text = str((value or {}).get("name", "")) if isinstance(value, dict) else ""
        if not (self.box.hasFocus() and self._typed) and text != self.box.text():
            self.box.setText(text)
            self.box.setCursorPosition(0)
        known = isinstance(value, dict) and _numbers(value)
        self.star.setEnabled(known)
        self.box.setToolTip(f"{value['lat']:.4f}, {value['lon']:.4f}" if known else "")
        where = (value["lat"], value["lon"]) if known else None
        if where != self._region_of:
            self._region_of = where
            self.show_region("")
            if known:
                self._search.region(self.spot, value, self.show_region)

    def show_region(self, text: str) -> None:
        """Where in the world the place lies: what tells one Ludlow from another."""
        self.region.setText(text or NOT_KNOWN)

    def set_faults(self, faults: Sequence[Fault]) -> None:
        """A name nobody knows is told as that, not as missing degrees."""
        held = self.document.get(self.spot)
        named = isinstance(held, dict) and bool(held.get("name")) and "lat" not in held
        if named and faults:
            self.show_fault(s.say(s.PLACE_UNKNOWN, name=held["name"]))
        else:
            super().set_faults(faults)

    def take(self, place: dict[str, Any]) -> None:
        """Set the place, keeping whatever else stands there."""
        self.suggestions.timer.stop()
        self._typed = False
        self.box.setModified(False)
        self.document.edit_places(
            {str(self.spot[0]): {key: place[key] for key in edits.WHERE if key in place}}, self.name.text()
        )
        self.refresh()

    def take_if_left(self) -> None:
        """A text left without choosing a place is looked for as it stands."""
        self.suggestions.timer.stop()
        if self._typed and self.box.text().strip() and self.box.text() != self.place().get("name", ""):
            self._search(self.box.text(), self._take_answer, complete=True)

    def _take_chosen(self, found: Suggestion) -> None:
        with QSignalBlocker(self.box):
            self.box.setText(found.place["name"])
        self.take(found.place)
        if found.region:
            self.show_region(found.region)
        QTimer.singleShot(0, self, self.refresh)  # the completer writes its own line into the box after us

    def _take_first(self) -> None:
        if self.suggestions.pointed():
            return
        self.suggestions.timer.stop()
        if self.box.text().strip():
            self._search(self.box.text(), self._take_answer, complete=True)

    def _take_answer(self, found: list[Suggestion]) -> None:
        if found:
            self.take(found[0].place)
        elif self._typed and self.box.text().strip() != self.place().get("name", ""):
            self._typed = False
            self.document.edit_places(
                {str(self.spot[0]): {"name": self.box.text().strip()}}, self.name.text()
            )


def _numbers(place: Mapping[str, Any]) -> bool:
    return all(isinstance(place.get(key), int | float) for key in ("lat", "lon"))
