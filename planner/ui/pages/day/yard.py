"""The yard of a collection day, to be edited: its place and date, slots, hands, shade, stock, what is accepted."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QSignalBlocker, Qt, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QCheckBox, QFrame, QLineEdit, QScrollArea, QVBoxLayout, QWidget

from planner.errors import Fault
from planner.store.daytable import rule_of
from planner.store.schema import field_name
from planner.ui.look import strings as s
from planner.ui.look.paint import named
from planner.ui.look.panel import label
from planner.ui.pages.day.draft import ASSUMED, YARD_AT, DayDraft, typed
from planner.ui.trip.document import MISSING, FieldPath
from planner.ui.trip.fields import ChoiceField, Field, TickField, beside, heading, place_faults
from planner.ui.trip.place_edit import PlaceField, Search
from planner.units import METRIC, UnitSystem
from planner.words import say

DASH = re.compile(r"\s*[-\u2013]\s*")
SPOTS: dict[str, tuple[tuple[FieldPath, ...], ...]] = {
    "place": (
        (("title",),),
        (("date",), ("yard", "name")),
        (("yard",),),
        (("yard", "lat"), ("yard", "lon")),
        (("yard", "elevation_m"), ("yard", "zone")),
    ),
    "slots": (
        (("slots", "spans"),),
        (("slots", "minutes"), ("slots", "loading_minutes")),
        (("slots", "opening_minutes"),),
    ),
    "hands": (
        (("hands", "people"), ("hands", "minutes_per_box")),
        (("hands", "closing_minutes"), ("hands", "evening_minutes")),
        (("hands", "dawn_minutes"),),
    ),
    "stock": (
        (("stock", "roof_screens"), ("stock", "straps")),
        (("stock", "boxes"), ("shade", "bays")),
        (("shade", "spans"),),
    ),
    "accepted": ((("tolerance", "harm_of_100"), ("tolerance", "boxes_of_100")),),
}
"""The lines of each section, one or two spots of the day file on each."""
YARD_AT_NAMES = tuple(map(field_name, YARD_AT))
WEATHER = ("dawn_low_c", "afternoon_high_c", "dew_point_c")


class UndoingLine(QLineEdit):
    """A line that leaves the keys for undo to its page, which takes back what was typed last of all."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.matches(QKeySequence.StandardKey.Undo):
            event.ignore()
        else:
            super().keyPressEvent(event)


class SpotField(Field):
    """One line for a text, a number or spans, read as a cell of a table is."""

    def __init__(self, draft: DayDraft, spot: FieldPath, name: str, unit: str = "") -> None:
        self.box, self.rule, self.unit = UndoingLine(), rule_of(spot), label(unit, "soft")
        super().__init__(draft, spot, name, self.box)
        self.name.setWordWrap(True)
        self.line.addWidget(self.unit)
        if unit:
            self.box.setAccessibleName(say("day.yard_with_unit", name=name, unit=unit))
        self.box.setMinimumWidth(self.fontMetrics().averageCharWidth() * 6)
        if "default" in self.rule:
            self.box.setPlaceholderText(self.text_of(self.rule["default"]))
        self.box.editingFinished.connect(self._take)

    def text_of(self, value: Any) -> str:
        if isinstance(value, list):
            return "; ".join(map(str, value))
        return "" if value is None else f"{value:.10g}" if isinstance(value, float) else str(value)

    def read(self, text: str) -> Any:
        if self.rule["type"] == "array":
            spans = [DASH.sub("-", part.strip()) for part in re.split("[;,]", text) if part.strip()]
            return spans or MISSING
        return typed(text, self.rule)

    def _take(self) -> None:
        if not self.box.isModified():
            return
        self.box.setModified(False)
        self.write(self.read(self.box.text()))
        self.refresh()

    def show_value(self, value: Any) -> None:
        self.box.setText(self.text_of(value))
        self.box.setCursorPosition(0)


class YardPlace(PlaceField):
    """The place of the yard, found by its name as a place of the route is."""

    made_of = UndoingLine

    def __init__(self, draft: DayDraft, search: Search) -> None:
        super().__init__(draft, ("yard",), say("day.yard_yard"), search)
        self.pin.hide()  # the map is a trip's

    def covers(self, fault_field: str) -> int:
        """Where a name was not found, that is what is wrong, and not the degrees that are missing for it."""
        nowhere = "name" in self.place() and "lat" not in self.place()
        return len(fault_field) if nowhere and fault_field in YARD_AT_NAMES else super().covers(fault_field)


class WarmthField(SpotField):
    """A temperature, in the units that are shown."""

    def __init__(self, draft: DayDraft, spot: FieldPath, name: str, units: UnitSystem) -> None:
        self.units = units
        super().__init__(draft, spot, name, units.temp_unit)

    def text_of(self, value: Any) -> str:
        plain = isinstance(value, int | float) and not isinstance(value, bool)
        return f"{round(self.units.temp(value), 1):g}" if plain else super().text_of(value)

    def read(self, text: str) -> Any:
        value = super().read(text)
        return round(self.units.temp_from(value), 2) if isinstance(value, int | float) else value


class SomeField(Field):
    """Which of several are allowed, a tick for each."""

    def __init__(self, draft: DayDraft, key: str, usual: Sequence[str]) -> None:
        self.usual, self.ticks = tuple(usual), {}
        holder = QWidget()
        column = QVBoxLayout(holder)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        for one in rule_of((key, 0))["enum"]:
            tick = self.ticks[one] = QCheckBox(say(f"day.yard_{one}"))
            tick.toggled.connect(lambda _: self._take())
            column.addWidget(tick)
        super().__init__(draft, (key,), say(f"day.yard_{key}"), holder)

    def _take(self) -> None:
        self.write([one for one, tick in self.ticks.items() if tick.isChecked()])

    def show_value(self, value: Any) -> None:
        chosen = self.usual if value is None else value if isinstance(value, list) else ()
        for one, tick in self.ticks.items():
            with QSignalBlocker(tick):
                tick.setChecked(one in chosen)


def spot_field(draft: DayDraft, spot: FieldPath) -> SpotField:
    """The line of a spot by its name, with its unit."""
    last = str(spot[-1])
    unit = "min" if "minutes" in last else {"lat": "deg", "lon": "deg", "elevation_m": "m"}.get(last, "")
    name = say(f"day.yard_{'_'.join(map(str, spot))}")
    made = SpotField(draft, spot, name, say(f"day.unit_{unit}") if unit else "")
    made.also(str(spot[0]))  # what is wrong with a section as a whole stands beside its first field
    return made


class YardEditor(QScrollArea):
    """All of a day but its buyers and boxes, in fields that carry their faults; ``faulty`` tells how many there are."""

    faulty = Signal(int)

    def __init__(self, draft: DayDraft, search: Search, units: UnitSystem = METRIC) -> None:
        from planner.store.dayfile import USUAL_SETUPS
        from planner.store.dayrecords import CLOSINGS

        super().__init__()
        self.draft, self.units = draft, units
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(say("day.page_yard"))
        page = named("page")
        self.column = QVBoxLayout(page)
        self.column.setContentsMargins(0, 0, 8, 0)
        self.column.setSpacing(8)
        self.fixed: list[Field] = []
        self.place = YardPlace(draft, search)
        for section, lines in SPOTS.items():
            self.column.addWidget(heading(say(f"day.yard_{section}")))
            for line in lines:
                fields = [self.place if spot == self.place.spot else spot_field(draft, spot) for spot in line]
                self.fixed += fields
                self.column.addWidget(beside(*fields) if len(fields) > 1 else fields[0])
            if section == "place":
                self._add(TickField(draft, ("invented",), say("day.yard_invented")))
            if section == "hands":
                self._add(SomeField(draft, "closings", CLOSINGS))
                self._add(SomeField(draft, "setups", USUAL_SETUPS))
        self.column.addWidget(heading(say("day.yard_weather")))
        words = {source: s.say(text) for source, text in s.WEATHERS.items()}
        source = ChoiceField(draft, ("weather", "source"), say("day.yard_weather_source"), words)
        source.also("weather")
        self._add(source)
        self.assumed = TickField(draft, ASSUMED, say("day.yard_assumed"))
        self._add(self.assumed)
        self.own: list[Field] = []
        self._own_of: tuple[Any, ...] = ()
        self._days = QVBoxLayout()
        self._days.setSpacing(8)
        self.column.addLayout(self._days)
        self.column.addStretch(1)
        self.setWidget(page)

    def _add(self, field: Field) -> None:
        self.fixed.append(field)
        self.column.addWidget(field)

    @property
    def fields(self) -> list[Field]:
        return [*self.fixed, *self.own]

    def field(self, *spot: str | int) -> Field:
        """The field of a spot."""
        return next(field for field in self.fields if field.spot == spot)

    def show_draft(self, draft: dict[str, Any], faults: Sequence[Fault]) -> None:
        """Show a draft and what is wrong with it."""
        self.draft.draft = draft
        self._show_days()
        for field in self.fields:
            field.refresh()
        elsewhere = place_faults(self.fields, faults)
        self.faulty.emit(len(faults) - len(elsewhere))

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._own_of = ()
        self.show_draft(self.draft.draft, ())

    def _show_days(self) -> None:
        """A line of fields for every day of own weather; made anew only where other days are told."""
        rows = self.draft.get(("weather", "own"))
        own = self.draft.get(("weather", "source")) == "own" and isinstance(rows, list)
        self.assumed.setVisible(own and bool(self.draft.get(ASSUMED)))
        days = rows if own and all(isinstance(row, dict) for row in rows) else []
        told = tuple((str(row.get("date", "")), tuple(key for key in WEATHER if key in row)) for row in days)
        if told == self._own_of:
            return
        self._own_of, self.own = told, []
        while (item := self._days.takeAt(0)) is not None:
            gone = item.widget()
            if gone is not None:
                gone.hide()
                gone.deleteLater()
        for at, (day, keys) in enumerate(told):
            shown = [key for key in WEATHER if key in keys or key != "dew_point_c"]
            fields = [
                WarmthField(
                    self.draft,
                    ("weather", "own", at, key),
                    say("day.yard_of_day", what=say(f"day.yard_{key}"), day=day),
                    self.units,
                )
                for key in shown
            ]
            fields[0].also(f"weather.own[{at}]")
            self.own += fields
            self._days.addWidget(beside(*fields))
