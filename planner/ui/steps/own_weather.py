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
from planner.ui.trip.document import Document, FieldPath
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
        self._confirmed = False
        self.both = QCheckBox(s.say(s.OWN_BOTH))
        self.both.toggled.connect(lambda _: self._write_rows())
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
        """Whether nobody has said these figures: they are as put in, and nobody has called them right."""
        rows = self.document.get(self.spot) or []
        if self.document.get(("weather", "source")) != "own" or self._confirmed:
            return False
        return all(isinstance(row, dict) and {**row, **USUAL} == row for row in rows)

    def confirm(self) -> None:
        """The user says that the figures are right as they stand."""
        self._confirmed = True
        self.document.changed.emit(self.spot)

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
            self._confirmed = False
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
            row = {**USUAL, **(told.get((end, day)) or told.get((START, day)) or {})}
            for key, box in zip(NUMBERS, numbers, strict=True):
                self._show(box, key, float(row[key]))
            with QSignalBlocker(sky):
                sky.setCurrentIndex(max(sky.findData(row["sky"]), 0))
        if {day for _, day in told} != set(days):
            self._write_rows()

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
        sky.activated.connect(lambda _: self._write_rows())
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
        box.valueChanged.connect(lambda _: self._write_rows())
        return box

    # -- written ---------------------------------------------------------------------------------

    def _write_rows(self) -> None:
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
        if rows:
            self.write(rows)

    def _read(self, key: str, box: QDoubleSpinBox, before: Mapping[str, Any]) -> float:
        """The figure in the units of the file; one that nobody touched stays as it was, to the last digit."""
        held = float(before.get(key, USUAL[key]))
        wind = key == "wind_ms"
        if round(self.units.speed(held) if wind else self.units.temp(held)) == box.value():
            return held
        if wind:
            return min(round(box.value() / self.units.speed(1.0), 2), MOST_WIND_MS)
        return round(self.units.temp_from(box.value()), 2)
