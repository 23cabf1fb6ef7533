"""Editors bound to one spot of the draft: they show it, write it as undoable steps and carry its faults."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from PySide6.QtCore import QEvent, QSignalBlocker, Qt
from PySide6.QtWidgets import (
    QAbstractSpinBox,
    QCheckBox,
    QComboBox,
    QDoubleSpinBox,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from planner.errors import Fault
from planner.store.schema import field_name
from planner.ui.look import strings as s
from planner.ui.look.icons import Choices, MomentEdit
from planner.ui.look.panel import label
from planner.ui.trip import moments
from planner.ui.trip.document import MISSING, Document, FieldPath
from planner.ui.trip.hands import INNER_PX, still

LABEL_LETTERS, VALUE_LETTERS = 19, 9
"""Room for the label beside a slider and for its value, in average letters of the type in use."""


class Field(QWidget):
    """A labelled editor; ``above`` puts the label over it, else it stands to the left in a column.

    A value counts once its editor is left, or Enter is pressed: half a number is never planned with.
    """

    def __init__(
        self, document: Document, spot: FieldPath, name: str, editor: QWidget, *, above: bool = True
    ) -> None:
        super().__init__()
        self.document, self.spot, self.editor = document, spot, editor
        self._also: tuple[str, ...] = ()
        self.name = label(name, "field" if above else "soft")
        self.name.setBuddy(editor)
        editor.setAccessibleName(name)
        self.line = QHBoxLayout()
        self.line.setContentsMargins(0, 0, 0, 0)
        self.line.setSpacing(6)
        self.column = column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2)
        if name and above:
            column.addWidget(self.name)
        elif name:
            self.name.setWordWrap(True)
            self.line.addWidget(self.name)
        else:
            self.name.hide()
        self.line.addWidget(editor, 1)
        column.addLayout(self.line)
        self.fault = label("", "fault")
        self.fault.setWordWrap(True)
        self.fault.hide()
        column.addWidget(self.fault)
        if isinstance(editor, QComboBox | QAbstractSpinBox | QSlider):
            still(editor)
        self._above = above
        self._fit()

    def _fit(self) -> None:
        """Columns as wide as their words in the type in use."""
        letter = self.fontMetrics().averageCharWidth()
        if not self._above:
            self.name.setFixedWidth(letter * LABEL_LETTERS)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "_above"):
            self._fit()

    def also(self, *names: str) -> Field:
        """Carry the faults of further fields, by name."""
        self._also = names
        return self

    def rebind(self, spot: FieldPath) -> None:
        self.spot = spot
        self.refresh()

    def refresh(self) -> None:
        """Show what the draft says now."""
        value = self.document.get(self.spot)
        with QSignalBlocker(self.editor):
            self.show_value(value)

    def show_value(self, value: Any) -> None:
        raise NotImplementedError

    def write(self, value: Any) -> None:
        self.document.edit(self.spot, value, self.name.text())

    def touches(self, spot: FieldPath) -> bool:
        """Whether a change at ``spot`` may change what is shown here."""
        short = min(len(spot), len(self.spot))
        return spot[:short] == self.spot[:short]

    def covers(self, fault_field: str) -> int:
        """How closely this editor belongs to a fault's field: 0 not at all, else the length of the match."""
        names = (field_name(self.spot), *self._also)
        return max(
            (
                len(name)
                for name in names
                if fault_field == name or fault_field.startswith((f"{name}.", f"{name}["))
            ),
            default=0,
        )

    def set_faults(self, faults: Sequence[Fault]) -> None:
        """Show what is wrong here, beside the editor; none takes the marks away."""
        self.show_fault("\n".join(fault_text(fault) for fault in faults[:2]))

    def show_fault(self, text: str) -> None:
        """Words under the editor, and its outline in the colour of harm; none takes both away."""
        self.fault.setText(text)
        self.fault.setVisible(bool(text))
        if self.editor.property("faulty") != bool(text):
            self.editor.setProperty("faulty", bool(text))
            self.editor.style().polish(self.editor)
        self.editor.setAccessibleDescription(text)


def fault_text(fault: Fault) -> str:
    """A fault in words: what is wrong, and what to do."""
    return s.say(s.FAULT, problem=_capital(fault.problem), remedy=fault.remedy)


class TextField(Field):
    """One line of text."""

    def __init__(
        self, document: Document, spot: FieldPath, name: str, hint: str = "", *, above: bool = True
    ) -> None:
        self.box = QLineEdit()
        self.box.setPlaceholderText(hint)
        super().__init__(document, spot, name, self.box, above=above)
        self.box.editingFinished.connect(self._take)

    def _take(self) -> None:
        if self.box.isModified():
            self.box.setModified(False)
            self.write(self.box.text())

    def show_value(self, value: Any) -> None:
        text = "" if value is None else str(value)
        if text != self.box.text():
            self.box.setText(text)
            self.box.setCursorPosition(0)


class NumberField(Field):
    """A number typed; ``factor`` is how many shown units one stored unit makes, ``default`` what a gap means."""

    def __init__(
        self,
        document: Document,
        spot: FieldPath,
        name: str,
        low: float,
        high: float,
        *,
        digits: int = 0,
        step: float = 1.0,
        suffix: str = "",
        default: float = 0.0,
        whole: bool = False,
        above: bool = True,
    ) -> None:
        self.box = QDoubleSpinBox()
        self.box.setRange(low, high)
        self.box.setDecimals(digits)
        self.box.setSingleStep(step)
        self.box.setSuffix(suffix)
        self.box.setKeyboardTracking(False)
        self.box.lineEdit().setTextMargins(*INNER_PX)
        self.default, self.whole = default, whole
        super().__init__(document, spot, name, self.box, above=above)
        self.box.valueChanged.connect(lambda value: self.write(round(value) if self.whole else float(value)))

    def show_value(self, value: Any) -> None:
        number = value if isinstance(value, int | float) and not isinstance(value, bool) else self.default
        if number != self.box.value():
            self.box.setValue(number)


class SliderField(Field):
    """A number set by hand: label, slider and value on one line."""

    def __init__(
        self,
        document: Document,
        spot: FieldPath,
        name: str,
        low: float,
        high: float,
        *,
        step: float,
        write_value: Callable[[float], str],
        default: float = 0.0,
    ) -> None:
        self.slider = QSlider(Qt.Orientation.Horizontal)
        self.step, self.default, self.write_value = step, default, write_value
        self.slider.setRange(round(low / step), round(high / step))
        self.slider.setPageStep(max(1, round((high - low) / step / 10)))
        self.slider.setMinimumHeight(20)
        super().__init__(document, spot, name, self.slider, above=False)
        self.value = label("", "value")
        self._fit()
        self.value.setAlignment(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        self.line.addWidget(self.value)
        self.slider.valueChanged.connect(self._slid)

    def _fit(self) -> None:
        super()._fit()
        if hasattr(self, "value"):
            self.value.setFixedWidth(self.fontMetrics().averageCharWidth() * VALUE_LETTERS)

    def set_high(self, high: float) -> None:
        with QSignalBlocker(self.slider):
            self.slider.setMaximum(round(high / self.step))

    def _slid(self, place: int) -> None:
        number = round(place * self.step, 6)
        self.value.setText(self.write_value(number))
        self.write(number)

    def show_value(self, value: Any) -> None:
        number = (
            float(value) if isinstance(value, int | float) and not isinstance(value, bool) else self.default
        )
        place = round(number / self.step)
        if place > self.slider.maximum():
            self.slider.setMaximum(place)
        self.slider.setValue(place)
        self.value.setText(self.write_value(number))


class ChoiceField(Field):
    """One of several words; ``none`` is the word for leaving it out of the draft."""

    def __init__(
        self,
        document: Document,
        spot: FieldPath,
        name: str,
        words: Mapping[Any, str],
        *,
        default: Any = None,
        none: str = "",
        above: bool = True,
    ) -> None:
        self.box = Choices()
        self.box.setSizeAdjustPolicy(QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon)
        self.box.setMinimumContentsLength(5)
        self.default, self.none = default, none
        super().__init__(document, spot, name, self.box, above=above)
        self.set_words(words)
        self.box.activated.connect(lambda index: self.write(self.box.itemData(index)))

    def set_words(self, words: Mapping[Any, str]) -> None:
        with QSignalBlocker(self.box):
            self.box.clear()
            if self.none:
                self.box.addItem(self.none, MISSING)
            for value, text in words.items():
                self.box.addItem(s.say(text), value)

    def show_value(self, value: Any) -> None:
        wanted = self.default if value is None else value
        for index in range(self.box.count()):
            data = self.box.itemData(index)
            if data is not MISSING and data == wanted:
                self.box.setCurrentIndex(index)
                return
        self.box.setCurrentIndex(0 if value is None and self.none else -1)
        if value is not None:
            self.box.setPlaceholderText(str(value))


class TickField(Field):
    """Yes or no."""

    def __init__(self, document: Document, spot: FieldPath, name: str, *, default: bool = False) -> None:
        self.box = QCheckBox(name)
        self.default = default
        super().__init__(document, spot, "", self.box)
        self.name.setText(name)
        self.box.setAccessibleName(name)
        self.box.toggled.connect(self.write)

    def show_value(self, value: Any) -> None:
        self.box.setChecked(self.default if value is None else bool(value))


class MomentField(Field):
    """A local date and time typed as people write it, kept as the text of the trip file."""

    def __init__(self, document: Document, spot: FieldPath, name: str, *, optional: str = "") -> None:
        self.box = MomentEdit()
        super().__init__(document, spot, "" if optional else name, self.box)
        self.tick: QCheckBox | None = None
        if optional:
            self.tick = QCheckBox(optional)
            self.line.insertWidget(0, self.tick)
            self.tick.toggled.connect(self._ticked)
            self.box.setAccessibleName(optional)
        self.moment = datetime(2027, 6, 1, 6, 0)
        self.box.editingFinished.connect(self._typed)
        self.box.stepped.connect(lambda by: self._take(self.moment + by))
        self.box.day_chosen.connect(
            lambda day: self._take(datetime.combine(day, self.moment.time().replace(second=0)))
        )

    def _ticked(self, on: bool) -> None:
        self.box.setEnabled(on)
        self.write(f"{self.moment:%Y-%m-%dT%H:%M}" if on else MISSING)

    def _typed(self) -> None:
        if not self.box.isModified():
            return
        self.box.setModified(False)
        moment = moments.read_moment(self.box.text(), self.moment)
        if moment is None:
            self.show_fault(s.say(s.MOMENT_FAULT, example=moments.written(self.moment)))
        else:
            self.show_fault("")
            self._take(moment)

    def _take(self, moment: datetime) -> None:
        self.write(f"{moment:%Y-%m-%dT%H:%M}")
        self.refresh()

    def show_value(self, value: Any) -> None:
        known = _moment(value)
        if self.tick is not None:
            with QSignalBlocker(self.tick):
                self.tick.setChecked(known is not None)
            self.box.setEnabled(known is not None)
        if known is None:
            known = _moment(self.document.get(("window", "to"))) or datetime(2027, 6, 1, 6, 0)
            known += timedelta(hours=8)
        self.moment = known
        self.box.setText(moments.written(known))
        self.box.show_day(known.date())


class ClockField(Field):
    """A time of day, kept as ``HH:MM``."""

    def __init__(self, document: Document, spot: FieldPath, name: str, default: str = "21:00") -> None:
        self.box = QLineEdit()
        self.default = default
        super().__init__(document, spot, name, self.box)
        self.box.editingFinished.connect(self._typed)

    def _typed(self) -> None:
        if not self.box.isModified():
            return
        self.box.setModified(False)
        clock = moments.read_clock(self.box.text())
        if clock is None:
            self.show_fault(s.say(s.CLOCK_FAULT))
        else:
            self.show_fault("")
            self.write(f"{clock:%H:%M}")
            self.refresh()

    def show_value(self, value: Any) -> None:
        self.box.setText(str(value or self.default)[:5])


def beside(*fields: QWidget) -> QWidget:
    """Several fields on one line, of equal width."""
    row = QWidget()
    line = QHBoxLayout(row)
    line.setContentsMargins(0, 0, 0, 0)
    line.setSpacing(8)
    for field in fields:
        line.addWidget(field, 1, Qt.AlignmentFlag.AlignTop)
    return row


def place_faults(fields: Sequence[Field], faults: Sequence[Fault]) -> list[Fault]:
    """Put each fault beside the editor it concerns most closely; hand back those that found no place."""
    homes: dict[int, list[Fault]] = {id(field): [] for field in fields}
    homeless = []
    for fault in faults:
        best = max(fields, key=lambda field: field.covers(fault.field), default=None)
        if best is None or best.covers(fault.field) == 0:
            homeless.append(fault)
        else:
            homes[id(best)].append(fault)
    for field in fields:
        field.set_faults(homes[id(field)])
    return homeless


def heading(text: str) -> QLabel:
    """A section heading inside a page."""
    made = label(text, "title")
    made.setContentsMargins(0, 6, 0, 0)
    return made


def _moment(value: Any) -> datetime | None:
    try:
        return datetime.fromisoformat(str(value)).replace(tzinfo=None) if value else None
    except ValueError:
        return None


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
