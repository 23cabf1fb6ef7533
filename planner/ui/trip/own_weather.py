"""The weather a user expects: one line for each day of the window, the same along the whole way."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any

from PySide6.QtCore import QSignalBlocker, Qt
from PySide6.QtWidgets import QComboBox, QDoubleSpinBox, QGridLayout, QLabel, QWidget

from planner.ui.look import strings as s
from planner.ui.look.icons import Choices
from planner.ui.look.panel import label
from planner.ui.trip.document import Document, FieldPath
from planner.ui.trip.fields import Field
from planner.units import METRIC, UnitSystem

MOST_DAYS = 5
USUAL = {"dawn_low_c": 10.0, "afternoon_high_c": 20.0, "dew_point_c": 8.0, "sky": "clear", "wind_ms": 2.0}
NUMBERS = ("dawn_low_c", "afternoon_high_c", "dew_point_c")


class OwnWeatherField(Field):
    """Writes ``weather.own`` for both ends of the trip; from the day before the window to the day after."""

    def __init__(self, document: Document, units: UnitSystem = METRIC) -> None:
        self.table = QWidget()
        super().__init__(document, ("weather", "own"), "", self.table)
        self.units = units
        self.grid = QGridLayout(self.table)
        self.grid.setContentsMargins(0, 0, 0, 0)
        self.grid.setHorizontalSpacing(5)
        self.grid.setVerticalSpacing(4)
        self.grid.setColumnStretch(4, 1)
        for column, text in enumerate(("", s.OWN_LOW, s.OWN_HIGH, s.OWN_DEW, s.OWN_SKY)):
            self.grid.addWidget(label(s.say(text) if text else "", "field"), 0, column)
        self.rows: dict[str, tuple[list[QDoubleSpinBox], QComboBox]] = {}
        self._names: list[QLabel] = []

    def touches(self, spot: FieldPath) -> bool:
        return not spot or spot[0] in ("weather", "window", "origin", "destination")

    def show_value(self, value: Any) -> None:
        own = self.document.get(("weather", "source")) == "own"
        self.setVisible(own)
        if not own:
            return
        days = self._days()
        if list(self.rows) != days:
            self._build(days)
        told = {row["date"]: row for row in value or [] if isinstance(row, dict) and "date" in row}
        for day, (numbers, sky) in self.rows.items():
            row = {**USUAL, **told.get(day, {})}
            for key, box in zip(NUMBERS, numbers, strict=True):
                with QSignalBlocker(box):
                    box.setSuffix(f" {self.units.temp_unit}")
                    box.setValue(self.units.temp(float(row[key])))
            with QSignalBlocker(sky):
                sky.setCurrentIndex(max(sky.findData(row["sky"]), 0))
        if set(told) != set(days):
            self._write_rows()

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
        for numbers, sky in self.rows.values():
            for box in (*numbers, sky):
                self.grid.removeWidget(box)
                box.deleteLater()
        for head in self._names:
            head.deleteLater()
        self.rows, self._names = {}, []
        for number, day in enumerate(days, start=1):
            moment = date.fromisoformat(day)
            name = s.say(s.OWN_DAY, weekday=s.say(s.WEEKDAYS[moment.weekday()]), day=moment.day)
            self._names.append(label(name, "soft"))
            self.grid.addWidget(self._names[-1], number, 0)
            numbers = [self._number(name, heading) for heading in (s.OWN_LOW, s.OWN_HIGH, s.OWN_DEW)]
            sky = Choices()
            sky.setAccessibleName(s.say(s.OWN_SKY))
            for key, text in s.SKIES.items():
                sky.addItem(s.say(text), key)
            sky.activated.connect(lambda _: self._write_rows())
            for column, box in enumerate((*numbers, sky), start=1):
                self.grid.addWidget(box, number, column)
            self.rows[day] = (numbers, sky)

    def _number(self, day: str, heading: str) -> QDoubleSpinBox:
        box = QDoubleSpinBox()
        box.setRange(-50, 130)
        box.setDecimals(0)
        box.setFixedWidth(62)
        box.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        box.lineEdit().setTextMargins(3, 0, 0, 0)
        box.setAccessibleName(s.say(s.OWN_CELL, day=day, what=s.say(heading)))
        box.valueChanged.connect(lambda _: self._write_rows())
        return box

    def _write_rows(self) -> None:
        """The same figures at both ends; places are named by their number, so that names may change."""
        last = len(self.document.get(("stops",)) or []) + 1
        rows = []
        for day, (numbers, sky) in self.rows.items():
            told = {
                key: round(self.units.temp_from(box.value()), 2)
                for key, box in zip(NUMBERS, numbers, strict=True)
            }
            for place in (0, last):
                rows.append(
                    {
                        "place": place,
                        "date": day,
                        **told,
                        "sky": sky.currentData(),
                        "wind_ms": USUAL["wind_ms"],
                    }
                )
        self.write(rows)
