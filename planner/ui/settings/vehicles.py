"""Vehicles of one's own: like a known one, with its own name, colour, places and the boxes each place takes."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from PySide6.QtWidgets import (
    QCheckBox,
    QFormLayout,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QListWidget,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from planner.store.ownvehicles import (
    OwnVehicle,
    name_of,
    places_like,
    read_own_vehicles,
    write_own_vehicles,
)
from planner.ui.look import strings as s
from planner.ui.look.icons import Choices
from planner.ui.look.panel import label
from planner.ui.trip.hands import still

MOST_BOXES = 2000
COLOURS = {"": s.VEHICLE_EITHER, "dark": s.VEHICLE_DARK, "white": s.VEHICLE_WHITE}


class OwnVehicles(QWidget):
    """A list with its editor beside it; nothing is written before :meth:`keep`."""

    def __init__(self, path: Path, known: dict[str, str]) -> None:
        super().__init__()
        self.path, self.known = path, known
        self.vehicles = read_own_vehicles(path)
        self._before = list(self.vehicles)
        self.list = QListWidget()
        self.list.setAccessibleName(s.say(s.SETTINGS_OWN_VEHICLES))
        self.list.currentRowChanged.connect(self._show)
        self.add, self.remove = QPushButton(s.say(s.VEHICLE_ADD)), QPushButton(s.say(s.VEHICLE_REMOVE))
        self.add.clicked.connect(lambda _=False: self._add())
        self.remove.clicked.connect(lambda _=False: self._remove())
        self.title, self.like, self.colour = QLineEdit(), Choices(), Choices()
        for name, title in known.items():
            self.like.addItem(title, name)
        for colour, words in COLOURS.items():
            self.colour.addItem(s.say(words), colour)
        for combo in (self.like, self.colour):
            combo.setMinimumContentsLength(16)
            still(combo)
        self.title.textEdited.connect(lambda _: self._taken())
        self.like.activated.connect(lambda _: self._taken(other=True))
        self.colour.activated.connect(lambda _: self._taken(other=True))
        self.places: dict[str, tuple[QCheckBox, QSpinBox]] = {}
        self._lay_out()
        self._fill()

    def _lay_out(self) -> None:
        left = QVBoxLayout()
        left.addWidget(self.list, 1)
        buttons = QHBoxLayout()
        buttons.addWidget(self.add)
        buttons.addWidget(self.remove)
        left.addLayout(buttons)
        self.editor = QWidget()
        form = QFormLayout(self.editor)
        for words, part in (
            (s.VEHICLE_TITLE, self.title),
            (s.VEHICLE_LIKE, self.like),
            (s.VEHICLE_COLOUR, self.colour),
        ):
            part.setAccessibleName(s.say(words))
            form.addRow(s.say(words), part)
        self._rows = QWidget()
        self._grid = QGridLayout(self._rows)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(self._rows)
        form.addRow(label(s.say(s.VEHICLE_PLACES), "field"))
        form.addRow(area)
        row = QHBoxLayout(self)
        row.addLayout(left, 2)
        row.addWidget(self.editor, 3)

    # -- shown -----------------------------------------------------------------------------------

    @property
    def at(self) -> int:
        return self.list.currentRow()

    def _fill(self, row: int = 0) -> None:
        self.list.clear()
        self.list.addItems([one.title for one in self.vehicles])
        self.list.setCurrentRow(min(row, len(self.vehicles) - 1))
        self._show(self.at)

    def _show(self, row: int) -> None:
        """The vehicle chosen, in its editor."""
        on = 0 <= row < len(self.vehicles)
        self.editor.setEnabled(on)
        self.remove.setEnabled(on)
        if not on:
            self.title.clear()
            self._show_places(None)
            return
        one = self.vehicles[row]
        self.title.setText(one.title)
        self.like.setCurrentIndex(self.like.findData(one.like))
        self.colour.setCurrentIndex(self.colour.findData(one.colour))
        self._show_places(one)

    def _show_places(self, one: OwnVehicle | None) -> None:
        """A line for each place: whether the vehicle has it, and how many boxes it takes."""
        while (item := self._grid.takeAt(0)) is not None:
            part = item.widget()
            if part is not None:
                part.hide()
                part.deleteLater()
        self.places = {}
        if one is None:
            return
        held = one.places or {}
        for row, (name, title) in enumerate(places_like(one.like, one.colour).items()):
            tick, most = QCheckBox(title), QSpinBox()
            tick.setChecked(name in held)
            most.setRange(0, MOST_BOXES)
            most.setSpecialValueText(s.say(s.VEHICLE_BY_SIZE))
            most.setValue(held.get(name) or 0)
            most.setAccessibleName(s.say(s.VEHICLE_MOST, place=title))
            most.setKeyboardTracking(False)
            still(most)
            tick.toggled.connect(lambda _: self._taken())
            most.valueChanged.connect(lambda _: self._taken())
            self._grid.addWidget(tick, row, 0)
            self._grid.addWidget(most, row, 1)
            self.places[name] = (tick, most)
        self._grid.setRowStretch(len(self.places), 1)

    # -- changed ---------------------------------------------------------------------------------

    def _add(self) -> None:
        like = next(iter(self.known))
        title = s.say(s.VEHICLE_NEW, number=len(self.vehicles) + 1)
        name = name_of(title, [*self.known, *(one.name for one in self.vehicles)])
        self.vehicles.append(OwnVehicle(name, title, like, "", dict.fromkeys(places_like(like))))
        self._fill(len(self.vehicles) - 1)
        self.title.setFocus()
        self.title.selectAll()

    def _remove(self) -> None:
        if self.at >= 0:
            row = self.at
            del self.vehicles[row]
            self._fill(max(row - 1, 0))

    def _taken(self, *, other: bool = False) -> None:
        """What the editor says, into the list; ``other`` vehicle or colour, and so other places."""
        row = self.at
        if row < 0:
            return
        one = self.vehicles[row]
        places = {
            name: most.value() or None for name, (tick, most) in self.places.items() if tick.isChecked()
        }
        like, colour = str(self.like.currentData()), str(self.colour.currentData())
        if other:
            offered = places_like(like, colour)
            kept = {name: places[name] for name in offered if name in places}
            places = kept if like == one.like and kept else dict.fromkeys(offered)
        self.vehicles[row] = replace(one, title=self.title.text(), like=like, colour=colour, places=places)
        item = self.list.item(row)
        if item is not None:
            item.setText(self.title.text())
        if other:
            self._show_places(self.vehicles[row])

    def keep(self) -> bool:
        """Write them if they have changed; true where they have. Raises SkepwayError and writes nothing then."""
        if self.vehicles == self._before:
            return False
        write_own_vehicles(self.path, self.vehicles)
        self._before = list(self.vehicles)
        return True
