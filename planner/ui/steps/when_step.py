"""Step three, when and weather: the window of departures, when boxes are shut, wishes for the arrival, the weather."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QWidget

from planner.ui.look import strings as s
from planner.ui.look.panel import label
from planner.ui.steps.own_weather import OwnWeatherField
from planner.ui.steps.page import Page
from planner.ui.trip import edits
from planner.ui.trip.document import Document, FieldPath
from planner.ui.trip.fields import (
    ChoiceField,
    ClockField,
    Field,
    MomentField,
    NumberField,
    TickField,
    beside,
    heading,
)
from planner.units import UnitSystem


class WindowField(MomentField):
    """One end of the window of departures; the other moves along rather than being overtaken."""

    def __init__(self, document: Document, key: str, name: str) -> None:
        super().__init__(document, ("window", key), name)
        self.other: FieldPath = ("window", "to" if key == "from" else "from")

    def write(self, value: Any) -> None:
        changes = {self.spot: value}
        before, other = (_moment(self.document.get(spot)) for spot in (self.spot, self.other))
        now = _moment(value)
        if now and other and before:
            crossed = now > other if self.spot[1] == "from" else now < other
            if crossed:
                changes[self.other] = f"{other + (now - before):%Y-%m-%dT%H:%M}"
        self.document.edit_many(changes, self.name.text())


class RuleField(ChoiceField):
    """Which rule shuts the boxes; it takes its own figures with it and leaves those of the others behind."""

    def __init__(self, document: Document) -> None:
        self.kept: dict[str, Any] = {}
        super().__init__(
            document, ("closing", "rule"), s.say(s.ROUTE_CLOSING), s.CLOSINGS, default="after_sunset"
        )

    def write(self, value: Any) -> None:
        held = self.document.get(("closing",)) or {}
        self.kept |= {key: held[key] for key in ("delay_minutes", "clock") if key in held}
        self.document.edit(("closing",), edits.closing_by(str(value), held, self.kept), self.name.text())


class WhenStep(Page):
    """Edits the time and the weather of the draft."""

    asked_again = Signal()

    def __init__(self, document: Document) -> None:
        super().__init__()
        self.document = document
        self.setAccessibleName(s.say(s.STEP_WHEN))
        self.first = WindowField(document, "from", s.say(s.ROUTE_FIRST))
        self.last = WindowField(document, "to", s.say(s.ROUTE_LAST))
        self.first.also("window")
        self.step = NumberField(
            document,
            ("window", "step_minutes"),
            s.say(s.ROUTE_STEP),
            1,
            1440,
            suffix=s.say(s.SUFFIX_MIN),
            default=30,
            step=5,
        )
        self.rule = RuleField(document)
        self.rule.also("closing")
        self.delay = NumberField(
            document,
            ("closing", "delay_minutes"),
            s.say(s.ROUTE_DELAY["after_sunset"]),
            -180,
            360,
            suffix=s.say(s.SUFFIX_MIN),
            step=5,
        )
        self.clock = ClockField(
            document, ("closing", "clock"), s.say(s.ROUTE_CLOCK), default=edits.USUAL_CLOCK
        )
        self.dark = TickField(document, ("arrival", "before_light"), s.say(s.ROUTE_BEFORE_LIGHT))
        self.latest = MomentField(
            document, ("arrival", "latest"), s.say(s.ROUTE_ARRIVAL), optional=s.say(s.ROUTE_LATEST)
        )
        self.shade = TickField(
            document, ("handling", "waiting_shade"), s.say(s.ROUTE_WAIT_SHADE), default=True
        )
        self.weather = ChoiceField(document, ("weather", "source"), s.say(s.ROUTE_WEATHER), s.WEATHERS).also(
            "weather"
        )
        self.own = OwnWeatherField(document)
        self.assumed = QPushButton(s.say(s.OWN_RIGHT))
        self.assumed.clicked.connect(lambda _=False: self.own.confirm())
        self._lay_out()
        document.changed.connect(self.refresh)

    def _lay_out(self) -> None:
        chip = QWidget()
        line = QHBoxLayout(chip)
        line.setContentsMargins(0, 0, 0, 0)
        self.assumed_words = label("", "assumed")
        self.assumed_words.setWordWrap(True)
        line.addWidget(self.assumed_words, 1)
        line.addWidget(self.assumed)
        self.chip = chip
        for part in (
            self.first,
            self.last,
            self.step,
            self.rule,
            beside(self.delay, self.clock),
            self.shade,
            heading(s.say(s.ROUTE_ARRIVAL)),
            self.dark,
            self.latest,
            heading(s.say(s.ROUTE_WEATHER_HEAD)),
            self.weather,
            chip,
            self.own,
        ):
            self.column.addWidget(part)
        self.column.addStretch(1)

    @property
    def fields(self) -> list[Field]:
        return [
            self.first,
            self.last,
            self.step,
            self.rule,
            self.delay,
            self.clock,
            self.dark,
            self.latest,
            self.shade,
            self.weather,
            self.own,
        ]

    def set_units(self, units: UnitSystem) -> None:
        self.own.set_units(units)
        self._settle()

    def refresh(self, spot: FieldPath) -> None:
        for field in self.fields:
            if field.touches(spot):
                field.refresh()
        if not spot:
            self.rule.kept.clear()
        self._settle()

    def _settle(self) -> None:
        """What the rule takes is in sight, and so is a figure of another rule that a file brought along."""
        held = self.document.get(("closing",)) or {}
        rule = held.get("rule", "after_sunset")
        need = edits.RULE_NEEDS.get(str(rule))
        self.delay.setVisible(need == "delay_minutes" or bool(held.get("delay_minutes")))
        self.delay.name.setText(s.say(s.ROUTE_DELAY.get(str(rule), s.ROUTE_DELAY["after_sunset"])))
        self.clock.setVisible(need == "clock" or bool(held.get("clock")))
        self.chip.setVisible(self.own.assumed)
        self.assumed_words.setText(self.own.words())


def _moment(value: Any) -> datetime | None:
    try:
        return datetime.fromisoformat(str(value)) if value else None
    except ValueError:
        return None
