"""The items of one box as large rows: a key or a thumb answers one item and goes on to the next."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QEvent, QRect, QSize, Qt, Signal
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QGridLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QSizePolicy,
    QWidget,
)

from planner.ui.look import paint as p
from planner.ui.look.panel import label
from planner.words import say

if TYPE_CHECKING:
    from planner.app.inspect.round import Item, Round, State

THUMB_PX = 46
"""Height of a button that a gloved thumb finds."""
TITLE_LETTERS = 22
"""What a title needs beside its buttons."""
LEAST_ITEMS = 3
"""So many items are in sight at once, however low the window: the page scrolls."""
STATES: tuple[tuple[State, Qt.Key], ...] = (
    ("ok", Qt.Key.Key_1),
    ("not_ok", Qt.Key.Key_2),
    ("not_looked", Qt.Key.Key_3),
)
"""The three answers and the key of each."""


class ItemList(QScrollArea):
    """A row an item with three large buttons; 1, 2, 3 answer the item in focus and go on, a figure follows the 2."""

    answered = Signal(object, object, object)
    done = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(say("checks.page_items"))
        self.setMinimumHeight(LEAST_ITEMS * (THUMB_PX + 8))
        self._items: tuple[Item, ...] = ()
        self._buttons: list[dict[State, QPushButton]] = []
        self._figures: list[QLineEdit | None] = []
        self._marks: list[QLabel] = []
        self.at = 0

    def show_items(self, items: tuple[Item, ...]) -> None:
        """Lay the rows out, anew where a box is asked about other things than the one before."""
        if self._items == items:
            return
        self._items = items
        self._buttons, self._figures, self._marks = [], [], []
        page = p.named("page")
        self._grid = grid = QGridLayout(page)
        self._above: bool | None = None
        grid.setColumnStretch(0, 1)
        for number, item in enumerate(self._items):
            mark = label(item.title)
            mark.setWordWrap(True)
            self._marks.append(mark)
            group = QButtonGroup(page)
            group.setExclusive(True)
            row: dict[State, QPushButton] = {}
            for column, (state, key) in enumerate(STATES, 1):
                button = thumb(f"{chr(int(key))}  {say(f'checks.page_{state}')}")
                button.setCheckable(True)
                button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
                button.setAccessibleName(f"{item.title}: {say(f'checks.page_{state}')}")
                button.clicked.connect(lambda _=False, n=number, st=state: self._press(n, st))
                group.addButton(button)
                grid.addWidget(button, 2 * number + 1, column)
                row[state] = button
            self._buttons.append(row)
            figure = Figure() if item.figure else None
            if figure is not None:
                figure.setMinimumHeight(THUMB_PX)
                figure.setMaximumWidth(90)
                figure.setAccessibleName(f"{item.title}: {say(f'checks.measure_{item.figure}')}")
                figure.returnPressed.connect(lambda n=number: self._figure(n))
                grid.addWidget(figure, 2 * number + 1, 4)
                unit = label(say(f"checks.measure_{item.figure}"), "soft")
                grid.addWidget(unit, 2 * number + 1, 5)
            self._figures.append(figure)
        self.setWidget(page)
        self._place_titles()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._place_titles()

    def _place_titles(self) -> None:
        """Beside the buttons of an item; above them where that would leave a title a few letters a line."""
        if not self._items:
            return
        beside = (self._grid.cellRect(1, column).width() for column in range(1, self._grid.columnCount()))
        wanted = sum(beside) + self.fontMetrics().averageCharWidth() * TITLE_LETTERS
        above = self.viewport().width() < wanted
        if above == self._above:
            return
        self._above = above
        for number, mark in enumerate(self._marks):
            self._grid.removeWidget(mark)
            if above:
                self._grid.addWidget(mark, 2 * number, 0, 1, self._grid.columnCount())
            else:
                self._grid.addWidget(mark, 2 * number + 1, 0)
        self._grid.activate()
        self._mark()

    def show_findings(self, round_: Round) -> None:
        """Show what was found on the box."""
        for number, item in enumerate(self._items):
            finding = round_.state_of(item)
            for state, button in self._buttons[number].items():
                button.setChecked(finding.state == state)
            figure = self._figures[number]
            if figure is not None and not figure.hasFocus():
                figure.setText("" if finding.value is None else f"{finding.value:g}")
        self._mark()

    def first(self) -> None:
        """Back to the first item."""
        self.at = 0
        self._mark()
        self.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        states = {key: state for state, key in STATES}
        key = Qt.Key(event.key())
        if key in states and self.at < len(self._items):
            self._press(self.at, states[key])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.done.emit()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Backspace, Qt.Key.Key_Down):
            step = 1 if key == Qt.Key.Key_Down else -1
            self.at = min(max(self.at + step, 0), len(self._items))
            self._mark()
        else:
            super().keyPressEvent(event)

    def _press(self, number: int, state: State) -> None:
        self.at = number
        figure = self._figures[number]
        self.answered.emit(self._items[number], state, None)
        if state == "not_ok" and figure is not None:
            figure.clear()
            figure.setFocus()
            return
        self._go_to(number + 1)

    def _figure(self, number: int) -> None:
        figure = self._figures[number]
        assert figure is not None
        try:
            value = float(figure.text().replace(",", "."))
        except ValueError:
            value = float("nan")
        self.answered.emit(self._items[number], "not_ok", value)
        self._go_to(number + 1)

    def _go_to(self, number: int) -> None:
        self.at = min(number, len(self._items))
        self.setFocus()
        self._mark()

    def _mark(self) -> None:
        for number, mark in enumerate(self._marks):
            font = mark.font()
            font.setBold(number == self.at)
            mark.setFont(font)
            mark.setText(f"▸ {self._items[number].title}" if number == self.at else self._items[number].title)
            mark.setAccessibleDescription(say("checks.page_here") if number == self.at else "")
        if self.at < len(self._marks):
            self.ensureWidgetVisible(self._marks[self.at], 0, THUMB_PX)


class Figure(QLineEdit):
    """A field for a figure; Enter ends it and is no Enter for the box."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.returnPressed.emit()
            event.accept()
        else:
            super().keyPressEvent(event)


class Thumbs(QWidget):
    """Large buttons beside each other, over as many lines as a narrow room needs."""

    GAP_PX = 6

    def __init__(self, *buttons: QPushButton) -> None:
        super().__init__()
        self._buttons = buttons
        for button in buttons:
            button.setParent(self)
        rule = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        rule.setHeightForWidth(True)
        self.setSizePolicy(rule)

    def hasHeightForWidth(self) -> bool:
        return True

    def heightForWidth(self, width: int) -> int:
        return max((box.bottom() + 1 for _, box in self._places(width)), default=0)

    def sizeHint(self) -> QSize:
        return QSize(0, self.heightForWidth(max(self.width(), 1)))

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def event(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.LayoutRequest:
            self._lay_out()
        return super().event(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._lay_out()

    def _lay_out(self) -> None:
        for button, box in self._places(self.width()):
            button.setGeometry(box)
        self.updateGeometry()

    def _places(self, width: int) -> list[tuple[QPushButton, QRect]]:
        places: list[tuple[QPushButton, QRect]] = []
        x = y = 0
        for button in self._buttons:
            if button.isHidden():
                continue
            wide = min(button.sizeHint().width(), max(width, 1))
            if x and x + wide > width:
                x, y = 0, y + THUMB_PX + self.GAP_PX
            places.append((button, QRect(x, y, wide, THUMB_PX)))
            x += wide + self.GAP_PX
        return places


def thumb(text: str) -> QPushButton:
    button = QPushButton(text)
    button.setMinimumHeight(THUMB_PX)
    return button
