"""A list of the draft on the screen: cells typed, pasted from a spreadsheet, filled down, rows dragged."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QItemSelectionModel, QSize, Qt, Signal
from PySide6.QtGui import (
    QDragMoveEvent,
    QDropEvent,
    QFontMetrics,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractItemView, QHeaderView, QTableView

from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.steps.cells import CellEditor
from planner.ui.trip.tables import ROWS_MIME, RowsModel


class Grid(QTableView):
    """The table on the screen: arrows go from cell to cell, Enter or typing edits, Del removes rows.

    ``lines``: over how many lines a cell's words may run.
    """

    row_chosen = Signal(int)

    def __init__(self, model: RowsModel, name: str, *, lines: int = 1) -> None:
        super().__init__()
        self.rows, self.lines = model, lines
        self._wide: dict[int, int] = {}
        self.setModel(model)
        self.cells = CellEditor(model, self)
        self.setItemDelegate(self.cells)
        model.rows_chosen = self.chosen_rows
        self.setAccessibleName(name)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(triggers.DoubleClicked | triggers.AnyKeyPressed | triggers.EditKeyPressed)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setDragDropMode(QAbstractItemView.DragDropMode.DragDrop)
        self.setDefaultDropAction(Qt.DropAction.MoveAction)
        self.setDragDropOverwriteMode(False)
        self.setDropIndicatorShown(True)
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setAlternatingRowColors(True)
        self.setWordWrap(lines > 1)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAsNeeded)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.horizontalHeader().setMinimumSectionSize(20)
        self.horizontalHeader().setHighlightSections(False)  # bold, a title is wider than its column
        self._fit()
        self.selectionModel().currentChanged.connect(lambda now, _: self.row_chosen.emit(now.row()))

    def chosen_rows(self) -> list[int]:
        """The rows of which any cell is chosen, in order."""
        return sorted({index.row() for index in self.selectedIndexes()})

    def choose_row(self, row: int) -> None:
        """Put the cursor into a row, in the column where it is, and choose no other: whatever key is held down."""
        if 0 <= row < len(self.rows.rows) and self.currentIndex().row() != row:
            self.selectionModel().setCurrentIndex(
                self.rows.index(row, max(self.currentIndex().column(), 0)),
                QItemSelectionModel.SelectionFlag.ClearAndSelect,
            )

    # -- hands -----------------------------------------------------------------------------------

    def keyPressEvent(self, event: QKeyEvent) -> None:
        key, keys = Qt.Key(event.key()), QKeySequence.StandardKey
        rows, at = self.chosen_rows(), self.currentIndex()
        alt = bool(event.modifiers() & Qt.KeyboardModifier.AltModifier)
        if event.matches(keys.Copy):
            QGuiApplication.clipboard().setText(self.copied())
        elif event.matches(keys.Paste):
            self.paste_text(QGuiApplication.clipboard().text())
        elif (
            key == Qt.Key.Key_D and event.modifiers() == Qt.KeyboardModifier.ControlModifier and len(rows) > 1
        ):
            self.rows.fill_down(rows, sorted({i.column() for i in self.selectedIndexes()}), s.TABLE_FILL)
        elif key == Qt.Key.Key_Delete and rows:
            self.rows.remove(rows, s.TABLE_REMOVE)
        elif alt and key in (Qt.Key.Key_Up, Qt.Key.Key_Down) and rows:
            gap = min(rows) - 1 if key == Qt.Key.Key_Up else max(rows) + 2
            if 0 <= gap <= len(self.rows.rows):
                self.choose_row(self.rows.move(rows, gap, s.TABLE_MOVE))
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and at.isValid():
            if self.state() != QAbstractItemView.State.EditingState:
                self.edit(at)
        else:
            super().keyPressEvent(event)

    def copied(self) -> str:
        """The cells chosen as a spreadsheet takes them: columns by tabs, rows by lines."""
        columns = sorted({index.column() for index in self.selectedIndexes()})
        lines = []
        for row in self.chosen_rows():
            texts = [self._text(row, column) for column in columns]
            lines.append("\t".join(texts))
        return "\n".join(lines)

    def _text(self, row: int, column: int) -> str:
        one = self.rows.columns[column]
        if one.tick:
            return s.say(s.YES if self.rows.rows[row].get(one.key) else s.NO)
        return one.show(self.rows.rows[row])

    def paste_text(self, text: str) -> None:
        """Lines and tabs become rows and columns, from the current cell on; without one, below the last row."""
        lines = [line.rstrip("\r") for line in text.split("\n")]
        cells = [line.split("\t") for line in lines if line.strip()]
        if not cells:
            return
        at = self.currentIndex()
        start = (at.row(), at.column()) if at.isValid() else (len(self.rows.rows), 0)
        self.rows.paste(start, cells, s.TABLE_PASTE)

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        super().dragMoveEvent(event)
        if event.source() is self:
            event.setDropAction(Qt.DropAction.MoveAction)
            event.accept()

    def dropEvent(self, event: QDropEvent) -> None:
        if event.source() is not self:
            return
        taken = [int(part) for part in bytes(event.mimeData().data(ROWS_MIME).data()).decode().split(",")]
        self.drop_rows(taken, event.position().y())
        event.setDropAction(Qt.DropAction.IgnoreAction)
        event.accept()

    def drop_rows(self, taken: Sequence[int], y: float) -> None:
        """Rows let go at a height of the view go into the nearest gap."""
        high = max(self.verticalHeader().defaultSectionSize(), 1)
        gap = round((y + self.verticalOffset()) / high)
        self.choose_row(self.rows.move(taken, min(gap, len(self.rows.rows)), s.TABLE_MOVE))

    # -- room ------------------------------------------------------------------------------------

    def _fit(self) -> None:
        """Rows and columns for the type in use."""
        metrics = QFontMetrics(self.font())
        self.verticalHeader().setDefaultSectionSize(metrics.height() * self.lines + 9)
        self.verticalHeader().setFixedWidth(metrics.averageCharWidth() * 2 + 8)
        for number, column in enumerate(self.rows.columns):
            titled = QFontMetrics(theme.font(-0.7)).horizontalAdvance(s.say(column.title)) + 10
            self._wide[number] = max(column.letters * metrics.averageCharWidth() + 8, titled)
        self._share_out()

    def _share_out(self) -> None:
        """Widths of the columns in the room there is; where it is too narrow even so, the table scrolls."""
        columns, room = self.rows.columns, self.viewport().width()
        full = sum(self._wide.values()) <= room
        for number, column in enumerate(columns):
            self.setColumnHidden(number, column.spare and not full)
        shown = [number for number in range(len(columns)) if not self.isColumnHidden(number)]
        left = max(room - sum(self._wide[number] for number in shown), 0)
        for number in shown:
            self.setColumnWidth(number, self._wide[number] + (left if columns[number].stretch else 0))

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._share_out()

    def changeEvent(self, event: Any) -> None:
        super().changeEvent(event)
        if event.type() == event.Type.FontChange and hasattr(self, "rows"):
            self._fit()

    def rows_high(self, count: int) -> int:
        """Pixels for the head and so many rows."""
        high = self.verticalHeader().defaultSectionSize()
        return self.horizontalHeader().sizeHint().height() + count * high + 4

    def minimumSizeHint(self) -> QSize:
        return QSize(120, self.rows_high(2))

    def sizeHint(self) -> QSize:
        return QSize(320, self.rows_high(min(max(len(self.rows.rows), 2), 7)))
