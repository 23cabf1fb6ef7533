"""The cautions every answer travels with, and the signs a driver can hear and see."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QDialog,
    QGridLayout,
    QLabel,
    QPushButton,
    QScrollArea,
    QTableWidget,
    QTableWidgetItem,
    QVBoxLayout,
    QWidget,
)

from planner.app.common.cautions import ALWAYS, SIGNS
from planner.ui.look import strings as s
from planner.ui.look.panel import label, named


class Sheet(QDialog):
    """A scrolling sheet of headed paragraphs beside the window; never blocks it."""

    def __init__(self, parent: QWidget, title: str, lead: str = "") -> None:
        super().__init__(parent)
        self.setWindowTitle(title)
        self.resize(620, 640)
        page = named(QWidget(), "page")
        self.column = QVBoxLayout(page)
        self.column.setContentsMargins(22, 18, 22, 18)
        self.column.setSpacing(9)
        self.column.addWidget(label(title, "head"))
        if lead:
            self.column.addWidget(_wrapped(lead, "lead"))
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setWidget(page)
        close = QPushButton(s.say(s.CLOSE))
        close.clicked.connect(self.accept)
        outer = QVBoxLayout(self)
        outer.setContentsMargins(0, 0, 12, 12)
        outer.addWidget(scroll, 1)
        outer.addWidget(close, 0, Qt.AlignmentFlag.AlignRight)

    def add_head(self, text: str) -> None:
        made = label(text, "title")
        made.setContentsMargins(0, 10, 0, 0)
        self.column.addWidget(made)

    def add_lines(self, lines: Sequence[str]) -> None:
        for line in lines:
            self.column.addWidget(_wrapped(line))

    def add_table(self, rows: Sequence[Sequence[str]]) -> None:
        grid = QGridLayout()
        grid.setHorizontalSpacing(16)
        grid.setVerticalSpacing(8)
        for row, cells in enumerate(rows):
            for column, text in enumerate(cells):
                grid.addWidget(
                    _wrapped(text, "field" if row == 0 else ""), row, column, Qt.AlignmentFlag.AlignTop
                )
                grid.setColumnStretch(column, (3, 3, 5)[column])
        self.column.addLayout(grid)

    def add_grid(self, heads: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
        """A table of figures, copied by the keys as text; the sheet grows with it."""
        grid = QTableWidget(len(rows), len(heads))
        grid.setHorizontalHeaderLabels(list(heads))
        grid.verticalHeader().hide()
        grid.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        for at, cells in enumerate(rows):
            for column, text in enumerate(cells):
                grid.setItem(at, column, QTableWidgetItem(text))
        grid.resizeColumnsToContents()
        grid.setMinimumHeight(420)
        self.column.addWidget(grid, 1)

    def finish(self) -> Sheet:
        self.column.addStretch(1)
        return self


def cautions_sheet(parent: QWidget, own: Sequence[str]) -> Sheet:
    """All cautions: those of this answer first, then those that always hold, then the driver's signs."""
    sheet = Sheet(parent, s.say(s.CAUTIONS_TITLE), s.say(s.CAUTIONS_LEAD))
    own = [text for text in own if text not in ALWAYS]
    if own:
        sheet.add_head(s.say(s.CAUTIONS_OWN))
        sheet.add_lines(own)
    sheet.add_head(s.say(s.CAUTIONS_ALWAYS_HEAD))
    sheet.add_lines([s.say(text) for text in ALWAYS])
    sheet.add_head(s.say(s.SIGNS_TITLE))
    sheet.add_table([[s.say(cell) for cell in row] for row in (s.SIGNS_HEADS, *SIGNS)])
    return sheet.finish()


def reasons_sheet(parent: QWidget, headline: str, reasons: Sequence[str], notes: Sequence[str]) -> Sheet:
    """Why the answer is what it is, and what was assumed or missing."""
    sheet = Sheet(parent, s.say(s.WHY_TITLE), headline)
    sheet.add_head(s.say(s.WHY_REASONS))
    sheet.add_lines(reasons)
    if notes:
        sheet.add_head(s.say(s.WHY_NOTES))
        sheet.add_lines(notes)
    return sheet.finish()


def _wrapped(text: str, role: str = "") -> QLabel:
    made = label(text, role)
    made.setWordWrap(True)
    made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return made
