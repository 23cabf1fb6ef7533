"""The weather a user expects: a line for each day of the window, at one or at both ends of the route."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime, timedelta
from typing import Any

from PySide6.QtCore import QSignalBlocker
from PySide6.QtWidgets import QCheckBox, QComboBox, QDoubleSpinBox, QGridLayout, QVBoxLayout, QWidget

from planner.ui.look import strings as s
from planner.ui.look.icons import Choices
from planner.ui.look.panel import label
from planner.ui.trip.document import MISSING, Document, FieldPath
from planner.ui.trip.fields import Field
from planner.ui.trip.hands import still
from planner.units import METRIC, UnitSystem

SKY_LETTERS = 5
MOST_DAYS = 5
USUAL: dict[str, Any] = {
    "dawn_low_c": 10.0,
    "afternoon_high_c": 20.0,
    "dew_point_c": 8.0,
    "sky": "clear",
    "wind_ms": 2.0,
}
"""Put in until the user says better, and never called the user's own."""
ASSUMED = ("weather", "assumed")
TEMPS = ("dawn_low_c", "afternoon_high_c", "dew_point_c")
NUMBERS = (*TEMPS, "wind_ms")
HEADS = (s.OWN_LOW, s.OWN_HIGH, s.OWN_DEW, s.OWN_WIND)
MOST_WIND_MS = 60.0
START, END = 0, 1


class OwnWeatherField(Field):
    """Writes ``weather.own`` for both ends of the trip; from the day before the window to the day after."""

    def __init__(self, document: Document, units: UnitSystem = METRIC) -> None:
        self.table = QWidget()
        super().__init__(document, ("weather", "own"), "", self.table)
        self.units = units
        self.both = QCheckBox(s.say(s.OWN_BOTH))
        self.both.toggled.connect(lambda _: self._set_rows())
        outer = QVBoxLayout(self.table)
        outer.setContentsMargins(0, 0, 0, 0)
        outer.setSpacing(6)
        outer.addWidget(self.both)
        self.grids: list[QGridLayout] = []
        self.names = []
        for _ in (START, END):
            name, holder = label("", "title"), QWidget()
            grid = QGridLayout(holder)
            grid.setContentsMargins(0, 0, 0, 0)
            grid.setHorizontalSpacing(4)
            grid.setVerticalSpacing(4)
            grid.setColumnStretch(len(NUMBERS) + 1, 1)
            outer.addWidget(name)
            outer.addWidget(holder)
            self.names.append(name)
            self.grids.append(grid)
        self.rows: dict[tuple[int, str], tuple[list[QDoubleSpinBox], QComboBox]] = {}

    # -- what is assumed -------------------------------------------------------------------------

    @property
    def assumed(self) -> bool:
        """Whether nobody has said these figures: they were put in, and nobody has set one or called them right.

        The draft says so itself, so that a file saved and opened again says it too, and no other file does.
        """
        own = self.document.get(("weather", "source")) == "own"
        return own and bool(self.document.get(ASSUMED))

    def confirm(self) -> None:
        """The user says that the figures are right as they stand."""
        self.document.edit(ASSUMED, MISSING, s.say(s.OWN_RIGHT))

    def words(self) -> str:
        """For example ``10 / 20 °C assumed: set it``."""
        low, high = (self.units.temp(float(USUAL[key])) for key in TEMPS[:2])
        return s.say(s.OWN_ASSUMED, low=f"{low:.0f}", high=f"{high:.0f}", unit=self.units.temp_unit)

    # -- shown -----------------------------------------------------------------------------------

    def touches(self, spot: FieldPath) -> bool:
        return not spot or spot[0] in ("weather", "window", "origin", "destination", "stops")

    def show_value(self, value: Any) -> None:
        own = self.document.get(("weather", "source")) == "own"
        self.setVisible(own)
        if not own:
            return
        days = self._days()
        told = self._told(value)
        differs = any(told.get((END, day)) not in (None, told.get((START, day))) for day in days)
        with QSignalBlocker(self.both):
            if differs:
                self.both.setChecked(True)
        if [day for end, day in self.rows if end == START] != days:
            self._build(days)
        for end, part in enumerate(("origin", "destination")):
            self.names[end].setText(
                str(self.document.get((part, "name")) or s.say((s.ROUTE_FROM, s.ROUTE_TO)[end]))
            )
            shown = end == START or self.both.isChecked()
            self.names[end].setVisible(self.both.isChecked())
            holder = self.grids[end].parentWidget()
            if holder is not None:
                holder.setVisible(shown)
        for (end, day), (numbers, sky) in self.rows.items():
            row = {**USUAL, **_nearest(told, end, day)}
            for key, box in zip(NUMBERS, numbers, strict=True):
                self._show(box, key, float(row[key]))
            with QSignalBlocker(sky):
                sky.setCurrentIndex(max(sky.findData(row["sky"]), 0))
        if self.rows and {day for _, day in told} != set(days):
            wanted: dict[FieldPath, Any] = {self.spot: self._rows()}
            if not told:
                wanted[ASSUMED] = True
            self.document.edit_many(wanted, s.say(s.ROUTE_WEATHER_HEAD))

    def _told(self, value: Any) -> dict[tuple[int, str], dict[str, Any]]:
        """What the draft says, by end and day; places other than the two ends are left alone elsewhere."""
        names = {0: START, self.document.get(("origin", "name")): START}
        last = len(self.document.get(("stops",)) or []) + 1
        names |= {last: END, self.document.get(("destination", "name")): END}
        rows = [row for row in value or [] if isinstance(row, dict) and "date" in row]
        return {
            (names[row.get("place")], row["date"]): {key: row[key] for key in (*NUMBERS, "sky") if key in row}
            for row in rows
            if row.get("place") in names
        }

    def _show(self, box: QDoubleSpinBox, key: str, value: float) -> None:
        wind = key == "wind_ms"
        with QSignalBlocker(box):
            unit = "" if wind else f" {self.units.temp_unit}"
            box.setSuffix(unit)
            box.setValue(self.units.speed(value) if wind else self.units.temp(value))

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self.refresh()

    def _days(self) -> list[str]:
        try:
            first, last = (
                datetime.fromisoformat(self.document.get(("window", key))).date() for key in ("from", "to")
            )
        except (TypeError, ValueError):
            return []
        count = min(max((last - first).days, 0) + 3, MOST_DAYS)
        return [str(first + timedelta(days=step - 1)) for step in range(count)]

    def _build(self, days: list[str]) -> None:
        for grid in self.grids:
            while (item := grid.takeAt(0)) is not None:
                part = item.widget()
                if part:
                    part.hide()
                    part.deleteLater()
        self.rows = {}
        for end, grid in enumerate(self.grids):
            for column, text in enumerate((*HEADS, s.OWN_SKY), start=1):
                said = s.say(text, unit=self.units.speed_unit) if text == s.OWN_WIND else s.say(text)
                grid.addWidget(label(said, "field"), 0, column)
            for number, day in enumerate(days, start=1):
                self._build_day(grid, end, number, day)

    def _build_day(self, grid: QGridLayout, end: int, number: int, day: str) -> None:
        moment = date.fromisoformat(day)
        name = s.say(s.OWN_DAY, weekday=s.say(s.WEEKDAYS[moment.weekday()]), day=moment.day)
        grid.addWidget(label(name, "soft"), number, 0)
        numbers = [self._number(name, head) for head in HEADS]
        sky = Choices()
        sky.setAccessibleName(s.say(s.OWN_CELL, day=name, what=s.say(s.OWN_SKY)))
        sky.setMinimumContentsLength(SKY_LETTERS)
        still(sky)
        for key, text in s.SKIES.items():
            sky.addItem(s.say(text), key)
        sky.activated.connect(lambda _: self._set_rows())
        for column, box in enumerate((*numbers, sky), start=1):
            grid.addWidget(box, number, column)
        self.rows[end, day] = (numbers, sky)

    def _number(self, day: str, head: str) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        wind = head == s.OWN_WIND
        box.setRange(0 if wind else -50, 220 if wind else 130)
        box.setDecimals(0)
        box.setKeyboardTracking(False)
        box.setFixedWidth(self.fontMetrics().averageCharWidth() * (7 if wind else 10))
        still(box)
        box.lineEdit().setTextMargins(1, 0, 0, 0)
        box.setAccessibleName(s.say(s.OWN_CELL, day=day, what=s.say(head, unit=self.units.speed_unit)))
        box.valueChanged.connect(lambda _: self._set_rows())
        return box

    # -- written ---------------------------------------------------------------------------------

    def _set_rows(self) -> None:
        """What the hand has just set: from now on the figures are the user's."""
        if self.rows:
            self.document.edit_many({self.spot: self._rows(), ASSUMED: MISSING}, s.say(s.ROUTE_WEATHER_HEAD))

    def _rows(self) -> list[dict[str, Any]]:
        """Both ends for every day; places are named by their number, so that names may change."""
        last = len(self.document.get(("stops",)) or []) + 1
        known = self._told(self.document.get(self.spot))
        rows = []
        for day in dict.fromkeys(day for _, day in self.rows):
            for end, place in ((START, 0), (END, last)):
                numbers, sky = self.rows[end if self.both.isChecked() else START, day]
                before = known.get((end, day)) or USUAL
                told = {key: self._read(key, box, before) for key, box in zip(NUMBERS, numbers, strict=True)}
                rows.append({"place": place, "date": day, **told, "sky": sky.currentData()})
        return rows

    def _read(self, key: str, box: QDoubleSpinBox, before: Mapping[str, Any]) -> float:
        """The figure in the units of the file; one that nobody touched stays as it was, to the last digit."""
        held = float(before.get(key, USUAL[key]))
        wind = key == "wind_ms"
        if round(self.units.speed(held) if wind else self.units.temp(held)) == box.value():
            return held
        if wind:
            return min(round(box.value() / self.units.speed(1.0), 2), MOST_WIND_MS)
        return round(self.units.temp_from(box.value()), 2)


def _nearest(told: Mapping[tuple[int, str], dict[str, Any]], end: int, day: str) -> Mapping[str, Any]:
    """What is told of a day at an end, else at the start; else of the last day before it, or of the first of all.

    A window that moves on takes the user's figures along.
    """
    days = sorted({held for _, held in told})
    before = [held for held in days if held < day]
    near = before[-1:] or days[:1]
    spots = [(at, held) for held in (day, *near) for at in (end, START)]
    return next((told[spot] for spot in spots if spot in told), {})
