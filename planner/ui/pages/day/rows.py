"""Buyers and boxes as a table: pasted over, or written cell by cell."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QEvent, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import QTableWidget, QTableWidgetItem

from planner.store.daytable import KINDS, NO, YES, columns_of

TABLE_PX, SHOWN_ROWS = 260, 400


class RowsTable(QTableWidget):
    """Rows of the draft with all columns they may have, those that say something first.

    ``pasted`` is called where somebody pastes into it; ``typed`` tells row, column and text of a cell that was written.
    """

    typed = Signal(int, str, str)
    pasted: Callable[[], None]

    def __init__(self, what: str, name: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self._known = tuple(columns_of(KINDS[what]))
        self._showing = self._typing = False
        self.setAccessibleName(name)
        self.setAlternatingRowColors(True)
        self.setMinimumWidth(TABLE_PX)
        self.setTabKeyNavigation(False)
        self.itemChanged.connect(self._changed)

    def event(self, event: QEvent) -> bool:
        if isinstance(event, QKeyEvent) and event.matches(QKeySequence.StandardKey.Paste):
            if event.type() == QEvent.Type.KeyPress:
                self.pasted()
            event.accept()
            return True
        return super().event(event)

    def show_rows(self, rows: list[dict[str, Any]]) -> None:
        """Show these; while a cell is being written every cell stays where it is."""
        self._showing = True
        try:
            if not self._typing:
                self._lay_out(rows)
            for at, row in enumerate(rows[:SHOWN_ROWS]):
                for column, name in enumerate(self.names):
                    item = self.item(at, column)
                    if item is not None:
                        item.setText(cell_text(row.get(name, "")))
        finally:
            self._showing = False
        if not self._typing:
            self.resizeColumnsToContents()

    def _lay_out(self, rows: list[dict[str, Any]]) -> None:
        said = list(dict.fromkeys(key for row in rows for key in row))
        self.names = [*said, *(name for name in self._known if name not in said)] if rows else []
        self.clear()
        self.setRowCount(min(len(rows), SHOWN_ROWS))
        self.setColumnCount(len(self.names))
        self.setHorizontalHeaderLabels(self.names)
        for at in range(self.rowCount()):
            for column in range(len(self.names)):
                self.setItem(at, column, QTableWidgetItem())

    def _changed(self, item: QTableWidgetItem) -> None:
        if self._showing:
            return
        self._typing = True
        try:
            self.typed.emit(item.row(), self.names[item.column()], item.text())
        finally:
            self._typing = False


def cell_text(value: Any) -> str:
    """A cell as people write it, and as it can be pasted again."""
    return (YES[0] if value else NO[0]) if isinstance(value, bool) else str(value)
