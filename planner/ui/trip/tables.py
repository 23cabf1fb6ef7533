"""A list of the draft as rows and columns: values typed, pasted, filled down, several rows set at once.

A table decides nothing: it hands the whole list as it shall be, and where each row came from, to whoever owns it.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from PySide6.QtCore import (
    QAbstractTableModel,
    QByteArray,
    QMimeData,
    QModelIndex,
    QPersistentModelIndex,
    Qt,
    Signal,
)

from planner.ui.look import strings as s

Index = QModelIndex | QPersistentModelIndex
Row = dict[str, Any]
ROWS_MIME = "application/x-skepway-rows"
ROLE = Qt.ItemDataRole


@dataclass(frozen=True)
class Column:
    """One column: ``show`` writes a row's value, ``take`` gives the row with a typed text and raises ValueError.

    ``words`` are the choices of a column that has any (value to text); ``tick`` a column of yes and no.
    ``letters`` is the width to ask for; ``stretch`` takes what room is left, that width at least. A ``spare`` column
    is left out where it would take that from it: what it says can be read and set elsewhere. ``brief`` writes the value
    as the cell shows it where the whole of it is too long; the tip, the editor and what is copied have the whole.
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
    brief: Callable[[Row], str] | None = None


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
        if role == ROLE.DisplayRole and column.brief:
            return column.brief(row)
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


def number_in(text: str, low: float, high: float, *, whole: bool = False) -> float | int:
    """A number typed, with a comma or a point, its unit left off; ValueError outside its range."""
    letters = text.strip().replace(",", ".")
    end = next((at for at, sign in enumerate(letters) if sign not in "+-.0123456789"), len(letters))
    value = float(letters[:end])
    if not low <= value <= high:
        raise ValueError(text)
    return round(value) if whole else value
