"""One place of the way: its name with suggestions while typing, coordinates, places remembered, the map."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from PySide6.QtCore import QSignalBlocker, QStringListModel, QTimer, Signal
from PySide6.QtWidgets import QCompleter, QLineEdit

from planner.ui.look import strings as s
from planner.ui.look.icons import SignButton
from planner.ui.trip.document import Document, FieldPath
from planner.ui.trip.fields import Field

WAIT_MS = 90
KEYS = ("name", "lat", "lon", "zone", "elevation_m")


@dataclass(frozen=True, slots=True)
class Suggestion:
    """A place offered while typing: the line shown and the place it stands for."""

    text: str
    place: dict[str, Any]


class Search(Protocol):
    """Asks for places like a text; the answer arrives later on the GUI thread, or never."""

    def __call__(
        self, text: str, answer: Callable[[list[Suggestion]], None], *, complete: bool = False
    ) -> None: ...


class PlaceField(Field):
    """Writes ``name``, ``lat``, ``lon`` (and zone, height where known) of a place as one undoable step."""

    from_map = Signal(object)
    remember = Signal(object)

    def __init__(self, document: Document, spot: FieldPath, name: str, search: Search) -> None:
        self.box = QLineEdit()
        self.box.setPlaceholderText(s.say(s.ROUTE_PLACE_HINT))
        self.box.setClearButtonEnabled(False)
        super().__init__(document, spot, name, self.box)
        self._search = search
        self._offered: list[Suggestion] = []
        self._model = QStringListModel(self)
        self._completer = QCompleter(self._model, self)
        self._completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        self._completer.setMaxVisibleItems(9)
        self._completer.activated.connect(self._take_text)
        self.box.setCompleter(self._completer)
        self._timer = QTimer(self, singleShot=True, interval=WAIT_MS)
        self._timer.timeout.connect(self._ask)
        self._typed = False
        self.box.textEdited.connect(self._edited)
        self.box.returnPressed.connect(self._take_first)
        self.box.editingFinished.connect(self.refresh_if_left)
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
        return {key: held[key] for key in KEYS if key in held}

    def _edited(self) -> None:
        self._typed = True
        self._timer.start()

    def show_value(self, value: Any) -> None:
        text = str((value or {}).get("name", "")) if isinstance(value, dict) else ""
        if not (self.box.hasFocus() and self._timer.isActive()) and text != self.box.text():
            self.box.setText(text)
            self.box.setCursorPosition(0)
        known = isinstance(value, dict) and "lat" in value
        self.star.setEnabled(known)
        self.box.setToolTip(f"{value['lat']:.4f}, {value['lon']:.4f}" if known and _numbers(value) else "")

    def take(self, place: dict[str, Any]) -> None:
        """Set the place, keeping whatever else stands there (a stop's purpose and minutes)."""
        self._timer.stop()
        self._typed = False
        held = dict(self.document.get(self.spot) or {})
        kept = {key: value for key, value in held.items() if key not in KEYS}
        self.document.edit_way(
            self.spot, {**{key: place[key] for key in KEYS if key in place}, **kept}, self.name.text()
        )
        self.refresh()

    def refresh_if_left(self) -> None:
        """A text left without choosing a place gives way to what the draft says, unless it can be taken."""
        if self._timer.isActive():
            self._timer.stop()
        if self._typed and self.box.text().strip() and self.box.text() != self.place().get("name", ""):
            self._search(self.box.text(), self._take_answer, complete=True)

    def _ask(self) -> None:
        text = self.box.text().strip()
        if len(text) >= 2:
            self._search(text, self._offer)

    def _offer(self, found: list[Suggestion]) -> None:
        self._offered = found
        self._model.setStringList([suggestion.text for suggestion in found])
        if found and self.box.hasFocus():
            self._completer.complete()

    def _take_text(self, text: str) -> None:
        chosen = next((suggestion for suggestion in self._offered if suggestion.text == text), None)
        if chosen:
            with QSignalBlocker(self.box):
                self.box.setText(chosen.place["name"])
            self.take(chosen.place)
            QTimer.singleShot(
                0, self, self.refresh
            )  # the completer writes its own line into the box after us

    def _take_first(self) -> None:
        popup = self._completer.popup()
        if popup is not None:
            if popup.isVisible() and popup.currentIndex().isValid():
                return
            popup.hide()
        self._timer.stop()
        if self.box.text().strip():
            self._search(self.box.text(), self._take_answer, complete=True)

    def _take_answer(self, found: list[Suggestion]) -> None:
        if found:
            self.take(found[0].place)
        elif self._typed and self.box.text().strip() != self.place().get("name", ""):
            kept = {
                key: value for key, value in (self.document.get(self.spot) or {}).items() if key not in KEYS
            }
            self.document.edit_way(self.spot, {"name": self.box.text().strip(), **kept}, self.name.text())


def _numbers(place: dict[str, Any]) -> bool:
    return all(isinstance(place.get(key), int | float) for key in ("lat", "lon"))
