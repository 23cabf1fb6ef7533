"""What opens in a cell of a table to write in: a line, or a line with the choices below it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from PySide6.QtCore import QAbstractItemModel, QEvent, QObject, QStringListModel, Qt, QTimer
from PySide6.QtGui import QFont, QFontMetrics
from PySide6.QtWidgets import (
    QCompleter,
    QLineEdit,
    QListView,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QWidget,
)

from planner.ui.look import strings as s
from planner.ui.look.panel import SMALLER
from planner.ui.trip.tables import ROLE, Index, RowsModel

CELL_EDGES_PX, FIGURE_LETTERS = 20, 5


def fitting(text: str, choices: Iterable[str]) -> list[str]:
    """The choices meant by a text: the one so called, else those that begin with it, else those with all its words."""
    wanted = text.strip().lower()
    words, known = wanted.split(), list(choices)
    exact = [choice for choice in known if choice.lower() == wanted]
    begun = [choice for choice in known if choice.lower().startswith(wanted)]
    held = [choice for choice in known if all(word in choice.lower() for word in words)]
    return exact or [*begun, *(choice for choice in held if choice not in begun)] if wanted else []


class ChoiceLine(QLineEdit):
    """One of several texts, found by any words of it; the list stands open from the start."""

    def __init__(self, choices: Sequence[str], parent: QWidget, done: Callable[[QWidget], None]) -> None:
        super().__init__(parent)
        self.choices, self._done = list(choices), done
        self._offered = QStringListModel(self.choices, self)
        completer = QCompleter(self._offered, self)
        completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        completer.setMaxVisibleItems(14)
        self.popup = QListView()
        completer.setPopup(self.popup)
        self.popup.setTextElideMode(Qt.TextElideMode.ElideNone)
        self.setCompleter(completer)
        self.textEdited.connect(self._offer)
        self.returnPressed.connect(self._entered)
        completer.activated.connect(lambda _: self._done(self))
        QTimer.singleShot(0, self, self._open)

    def chosen(self) -> str:
        """The choice meant by what stands there; the text itself where none fits."""
        found = fitting(self.text(), self.choices)
        return found[0] if found else self.text()

    def _open(self) -> None:
        """All there is to choose from, unless the hand has begun to type."""
        if self.isVisible() and self.text() in ("", *self.choices):
            self._show(self.choices)

    def _offer(self, text: str) -> None:
        found = fitting(text, self.choices) if text.strip() else self.choices
        if found:
            self._show(found)
        else:
            self.popup.hide()

    def _show(self, choices: Sequence[str]) -> None:
        self._offered.setStringList(list(choices))
        self.popup.setMinimumWidth(self.popup.sizeHintForColumn(0) + 28)
        self.completer().complete()

    def _entered(self) -> None:
        """A line of the list that is marked is taken by the list itself."""
        if not (self.popup.isVisible() and self.popup.currentIndex().isValid()):
            self.popup.hide()
            QTimer.singleShot(
                0, self, lambda: self._done(self)
            )  # the table itself may hear Enter too, and first


class CellEditor(QStyledItemDelegate):
    """A line for typed cells, with a list for choices; ``dress`` lets the owner add suggestions to a column's line."""

    def __init__(self, model: RowsModel, parent: QObject) -> None:
        super().__init__(parent)
        self.dress: dict[str, Callable[[QLineEdit], None]] = {}
        self._model = model

    def createEditor(self, parent: QWidget, option: QStyleOptionViewItem, index: Index) -> QWidget:
        column = self._model.columns[index.column()]
        words = column.words(self._model.rows[index.row()]) if column.words else None
        if words is not None:
            editor: QLineEdit = ChoiceLine([s.say(text) for text in words.values()], parent, self._done)
        else:
            editor = QLineEdit(parent)
            if dress := self.dress.get(column.key):
                dress(editor)
        editor.setAccessibleName(s.say(column.title))
        return editor

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """An editor that was left has said what it had to say; the keyboard leaving it too says it no second time."""
        if event.type() == QEvent.Type.FocusOut and watched.property("left"):
            return False
        return super().eventFilter(watched, event)

    def _done(self, editor: QWidget) -> None:
        if editor.property("left"):
            return
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, QStyledItemDelegate.EndEditHint.NoHint)

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        if isinstance(editor, QLineEdit):
            editor.setText(str(index.data(ROLE.EditRole)))
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: QAbstractItemModel, index: Index) -> None:
        editor.setProperty(
            "left", True
        )  # a table that changes under it takes the keyboard away: no second word
        text = editor.chosen() if isinstance(editor, ChoiceLine) else getattr(editor, "text", str)()
        model.setData(index, text)

    def initStyleOption(self, option: QStyleOptionViewItem, index: Index) -> None:
        super().initStyleOption(option, index)
        widest = max((str(index.data() or "")).split(), key=len, default="")
        room = option.rect.width() - CELL_EDGES_PX
        for smaller in SMALLER:  # a name of one long word is not to be cut for the want of a few pixels
            face = QFont(option.font)
            face.setPointSizeF(option.font.pointSizeF() * smaller)
            if len(widest) <= FIGURE_LETTERS or QFontMetrics(face).horizontalAdvance(widest) <= room:
                break
        option.font = face
        if index.data(ROLE.UserRole):
            option.font.setUnderline(True)
