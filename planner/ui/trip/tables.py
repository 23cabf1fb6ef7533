"""A list of the draft as a table: cells typed, pasted from a spreadsheet, filled down, several rows set at once.

A table decides nothing: it hands the whole list as it shall be, and where each row came from, to whoever owns it.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import (
    QAbstractItemModel,
    QAbstractTableModel,
    QByteArray,
    QEvent,
    QMimeData,
    QModelIndex,
    QObject,
    QPersistentModelIndex,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QDragMoveEvent,
    QDropEvent,
    QFontMetrics,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from planner.ui.look import strings as s
from planner.ui.look import theme

Index = QModelIndex | QPersistentModelIndex
Row = dict[str, Any]
ROWS_MIME = "application/x-skepway-rows"
ROLE = Qt.ItemDataRole


@dataclass(frozen=True)
class Column:
    """One column: ``show`` writes a row's value, ``take`` gives the row with a typed text and raises ValueError.

    ``words`` are the choices of a column that has any (value to text); ``tick`` a column of yes and no.
    ``letters`` is the width to ask for; ``stretch`` takes what room is left, that width at least. A ``spare`` column
    is left out where it would take that from it: what it says can be read and set elsewhere.
    """

    key: str
    title: str
    show: Callable[[Row], str]
    take: Callable[[Row, str], Row] | None = None
    words: Callable[[Row], Mapping[Any, str]] | None = None
    tick: bool = False
    letters: int = 6
    stretch: bool = False
    spare: bool = False
    right: bool = False
    hint: str = ""


@dataclass(frozen=True)
class Kept:
    """The list as it shall be; ``came_from`` numbers the old row of each, None for a new one."""

    rows: list[Row]
    came_from: list[int | None]
    words: str


@dataclass
class Marks:
    """What is said about cells beside their value: faults by row and key."""

    faults: dict[tuple[int, str], str] = field(default_factory=dict)


class RowsModel(QAbstractTableModel):
    """Shows the rows it is told; every change leaves as a :class:`Kept`."""

    changed = Signal(object)

    def __init__(
        self,
        columns: Sequence[Column],
        blank: Callable[[Sequence[Row]], Row],
        name_row: Callable[[int], str] = lambda number: str(number + 1),
    ) -> None:
        super().__init__()
        self.columns, self.blank, self.name_row = tuple(columns), blank, name_row
        self.rows: list[Row] = []
        self.marks = Marks()
        self.rows_chosen: Callable[[], list[int]] = list

    # -- shown -----------------------------------------------------------------------------------

    def show_rows(self, rows: Sequence[Row]) -> None:
        """Show these; the view keeps its place where their number stays."""
        fresh = copy.deepcopy(list(rows))
        if len(fresh) == len(self.rows):
            self.rows = fresh
            if fresh:
                self.dataChanged.emit(self.index(0, 0), self.index(len(fresh) - 1, len(self.columns) - 1))
            return
        self.beginResetModel()
        self.rows = fresh
        self.endResetModel()

    def rowCount(self, parent: Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self.rows)

    def columnCount(self, parent: Index | None = None) -> int:
        return 0 if parent is not None and parent.isValid() else len(self.columns)

    def headerData(self, section: int, orientation: Qt.Orientation, role: int = ROLE.DisplayRole) -> Any:
        if orientation == Qt.Orientation.Vertical:
            return self.name_row(section) if role == ROLE.DisplayRole else None
        column = self.columns[section]
        if role == ROLE.DisplayRole:
            return s.say(column.title)
        if role == ROLE.ToolTipRole:
            return s.say(column.hint or column.title)
        if role == ROLE.TextAlignmentRole:
            side = Qt.AlignmentFlag.AlignRight if column.right else Qt.AlignmentFlag.AlignLeft
            return int(side | Qt.AlignmentFlag.AlignVCenter)
        return None

    def data(self, index: Index, role: int = ROLE.DisplayRole) -> Any:
        row, column = self.rows[index.row()], self.columns[index.column()]
        fault = self.marks.faults.get((index.row(), column.key), "")
        if role == ROLE.CheckStateRole and column.tick:
            return Qt.CheckState.Checked if row.get(column.key) else Qt.CheckState.Unchecked
        if role in (ROLE.DisplayRole, ROLE.EditRole) and not column.tick:
            return column.show(row)
        if role == ROLE.ToolTipRole:
            return fault or (column.show(row) if not column.tick else s.say(column.hint or column.title))
        if role == ROLE.AccessibleTextRole:
            shown = s.say(s.YES if row.get(column.key) else s.NO) if column.tick else column.show(row)
            return s.say(s.TABLE_CELL, column=s.say(column.title), value=shown)
        if role == ROLE.TextAlignmentRole and column.right:
            return int(Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter)
        if role == ROLE.UserRole:
            return fault
        return None

    def flags(self, index: Index) -> Qt.ItemFlag:
        if not index.isValid():
            return Qt.ItemFlag.ItemIsDropEnabled
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsDragEnabled
        column = self.columns[index.column()]
        if column.tick:
            return flags | Qt.ItemFlag.ItemIsUserCheckable
        return flags | Qt.ItemFlag.ItemIsEditable if column.take else flags

    # -- changed -----------------------------------------------------------------------------------

    def setData(self, index: Index, value: Any, role: int = ROLE.EditRole) -> bool:
        """One value typed, for this row or for all rows chosen in its column."""
        column, at = self.columns[index.column()], index.row()
        chosen = self.rows_chosen()
        targets = chosen if at in chosen and len(chosen) > 1 else [at]
        rows = copy.deepcopy(self.rows)
        if role == ROLE.CheckStateRole and column.tick:
            on = Qt.CheckState(value) == Qt.CheckState.Checked
            for target in targets:
                rows[target] = {**rows[target], column.key: on}
        elif column.take is None:
            return False
        else:
            try:
                for target in targets:
                    rows[target] = column.take(rows[target], str(value))
            except ValueError:
                return False
        if rows == self.rows:
            return False
        self._keep(rows, list(range(len(rows))), column.title)
        return True

    def append(self, count: int = 1, words: str = "") -> None:
        rows = copy.deepcopy(self.rows)
        for _ in range(count):
            rows.append(self.blank(rows))
        self._keep(rows, [*range(len(self.rows)), *[None] * count], words)

    def remove(self, gone: Sequence[int], words: str) -> None:
        left = [number for number in range(len(self.rows)) if number not in set(gone)]
        if len(left) < len(self.rows):
            self._keep([copy.deepcopy(self.rows[number]) for number in left], list(left), words)

    def move(self, taken: Sequence[int], gap: int, words: str) -> int:
        """Put rows into the gap before row ``gap``; gives the number of the first one then."""
        kept = [number for number in range(len(self.rows)) if number not in set(taken)]
        at = sum(1 for number in kept if number < gap)
        order = [*kept[:at], *sorted(taken), *kept[at:]]
        if order != list(range(len(order))):
            self._keep([copy.deepcopy(self.rows[number]) for number in order], list(order), words)
        return at

    def paste(self, at: tuple[int, int], cells: Sequence[Sequence[str]], words: str) -> None:
        """Put a block of texts in from a cell on; rows that are missing are added. What cannot be read is left."""
        rows, first = copy.deepcopy(self.rows), at[0]
        for number, texts in enumerate(cells):
            while first + number >= len(rows):
                rows.append(self.blank(rows))
            for offset, text in enumerate(texts):
                if at[1] + offset < len(self.columns):
                    rows[first + number] = self._taken(
                        self.columns[at[1] + offset], rows[first + number], text
                    )
        new = len(rows) - len(self.rows)
        self._keep(rows, [*range(len(self.rows)), *[None] * new], words)

    def fill_down(self, taken: Sequence[int], columns: Sequence[int], words: str) -> None:
        """Give every row chosen the values of the first."""
        rows = copy.deepcopy(self.rows)
        first = min(taken)
        for number in taken:
            for at in columns:
                column = self.columns[at]
                if column.tick:
                    rows[number][column.key] = bool(rows[first].get(column.key))
                else:
                    rows[number] = self._taken(column, rows[number], column.show(rows[first]))
        self._keep(rows, list(range(len(rows))), words)

    def _taken(self, column: Column, row: Row, text: str) -> Row:
        if column.tick:
            return {**row, column.key: text.strip().lower() in _yes()}
        if column.take is None:
            return row
        try:
            return column.take(row, text.strip())
        except ValueError:
            return row

    def _keep(self, rows: list[Row], came_from: list[int | None], words: str) -> None:
        if rows != self.rows:
            self.changed.emit(Kept(rows, came_from, s.say(words)))

    # -- carried -----------------------------------------------------------------------------------

    def mimeTypes(self) -> list[str]:
        return [ROWS_MIME]

    def mimeData(self, indexes: Sequence[QModelIndex]) -> QMimeData:
        data = QMimeData()
        rows = sorted({index.row() for index in indexes})
        data.setData(ROWS_MIME, QByteArray(",".join(map(str, rows)).encode()))
        return data

    def supportedDropActions(self) -> Qt.DropAction:
        return Qt.DropAction.MoveAction | Qt.DropAction.CopyAction


def _yes() -> tuple[str, ...]:
    return ("yes", "y", "x", "1", "true", s.say(s.YES).lower())


class CellEditor(QStyledItemDelegate):
    """A line for typed cells, a list for choices; ``dress`` lets the owner add suggestions to a column's line."""

    def __init__(self, owner: Grid) -> None:
        super().__init__(owner)
        self.dress: dict[str, Callable[[QLineEdit], None]] = {}
        self._owner = owner

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        model = self._owner.rows
        column = model.columns[index.column()]
        words = column.words(model.rows[index.row()]) if column.words else None
        editor: QLineEdit | QComboBox
        if words is None:
            editor = QLineEdit(parent)
            if dress := self.dress.get(column.key):
                dress(editor)
        else:
            editor = QComboBox(parent)
            editor.addItems([s.say(text) for text in words.values()])
            editor.activated.connect(lambda _: self._done(editor))
        editor.setAccessibleName(s.say(column.title))
        return editor

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """An editor that was left has said what it had to say; the keyboard leaving it too says it no second time."""
        if event.type() == QEvent.Type.FocusOut and watched.property("left"):
            return False
        return super().eventFilter(watched, event)

    def _done(self, editor: QWidget) -> None:
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, QStyledItemDelegate.EndEditHint.NoHint)

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        if isinstance(editor, QComboBox):
            editor.setCurrentText(str(index.data(ROLE.EditRole)))
        elif isinstance(editor, QLineEdit):
            editor.setText(str(index.data(ROLE.EditRole)))
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: Index) -> None:
        editor.setProperty(
            "left", True
        )  # a table that changes under it takes the keyboard away: no second word
        text = editor.currentText() if isinstance(editor, QComboBox) else getattr(editor, "text", str)()
        model.setData(index, text)

    def initStyleOption(self, option: QStyleOptionViewItem, index: Index) -> None:
        super().initStyleOption(option, index)
        if index.data(ROLE.UserRole):
            option.font.setUnderline(True)


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
        self.cells = CellEditor(self)
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
        self._fit()
        self.selectionModel().currentChanged.connect(lambda now, _: self.row_chosen.emit(now.row()))

    def chosen_rows(self) -> list[int]:
        """The rows of which any cell is chosen, in order."""
        return sorted({index.row() for index in self.selectedIndexes()})

    def choose_row(self, row: int) -> None:
        """Put the cursor into a row, in the column where it is."""
        if 0 <= row < len(self.rows.rows) and self.currentIndex().row() != row:
            self.setCurrentIndex(self.rows.index(row, max(self.currentIndex().column(), 0)))

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


def number_in(text: str, low: float, high: float, *, whole: bool = False) -> float | int:
    """A number typed, with a comma or a point, its unit left off; ValueError outside its range."""
    letters = text.strip().replace(",", ".")
    end = next((at for at, sign in enumerate(letters) if sign not in "+-.0123456789"), len(letters))
    value = float(letters[:end])
    if not low <= value <= high:
        raise ValueError(text)
    return round(value) if whole else value
