"""Buyers and boxes as a table: pasted over, or written cell by cell."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QEvent, QObject, QTimer, Signal
from PySide6.QtGui import QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableWidget,
    QTableWidgetItem,
    QWidget,
)

from planner.store.daytable import KINDS, NO, YES, columns_of, head_of
from planner.ui.trip.place_edit import Search, Suggestion, Suggestions
from planner.ui.trip.tables import Index
from planner.ui.work.place_search import Near
from planner.words import say

TABLE_PX, SHOWN_ROWS = 260, 400
PLACE = "place"


class RowsTable(QTableWidget):
    """Rows of the draft with all columns they may have, those that say something first.

    ``pasted`` is called where somebody pastes into it; ``typed`` tells row, column and text of a cell that was written.
    """

    typed = Signal(int, str, str)
    pasted: Callable[[], None]

    def __init__(self, what: str, name: str) -> None:
        super().__init__()
        self.names: list[str] = []
        self._kind = KINDS[what]
        self._known = tuple(columns_of(self._kind))
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
        self.names = [*said, *(name for name in self._known if name not in said)]
        self.clear()
        self.setRowCount(min(len(rows), SHOWN_ROWS))
        self.setColumnCount(len(self.names))
        for column, name in enumerate(self.names):
            head = QTableWidgetItem(head_of(self._kind, name))
            head.setToolTip(say("day.page_column", name=name))
            self.setHorizontalHeaderItem(column, head)
        for at in range(self.rowCount()):
            for column in range(len(self.names)):
                self.setItem(at, column, QTableWidgetItem())

    def _changed(self, item: QTableWidgetItem) -> None:
        if self._showing:
            return
        self._typing, column = True, item.column()
        try:
            self.typed.emit(item.row(), self.names[column], item.text())
        finally:
            self._typing = False
        self.resizeColumnToContents(column)


class PlaceCells(QStyledItemDelegate):
    """Offers places while one is written where boxes go; any other column opens as it does."""

    def __init__(self, table: RowsTable, search: Search, near: Near) -> None:
        super().__init__(table)
        self._table, self._search, self._near = table, search, near

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        line = super().createEditor(parent, option, index)
        if isinstance(line, QLineEdit) and self._table.names[index.column()] == PLACE:
            Suggestions(line, self._search, lambda found: self._take(line, found))
        return line

    def eventFilter(self, line: QObject, event: QEvent) -> bool:
        """A cell whose list of places has the keys is not left for it."""
        if (
            event.type() == QEvent.Type.FocusOut
            and isinstance(line, QLineEdit)
            and line.completer() is not None
        ):
            offers = line.completer().popup()
            if offers is not None and offers.isVisible():
                return False
        return super().eventFilter(line, event)

    def _take(self, line: QLineEdit, found: Suggestion) -> None:
        from planner.app.asking.place_names import named_from

        text = named_from(self._near(), *(found.place[key] for key in ("name", "lat", "lon")))
        QTimer.singleShot(
            0, line, lambda: self._put(line, text)
        )  # the completer writes its own line after us

    def _put(self, line: QLineEdit, text: str) -> None:
        line.setText(text)
        self.commitData.emit(line)
        self.closeEditor.emit(line, QStyledItemDelegate.EndEditHint.NoHint)


def cell_text(value: Any) -> str:
    """A cell as people write it, and as it can be pasted again."""
    return (YES[0] if value else NO[0]) if isinstance(value, bool) else str(value)
