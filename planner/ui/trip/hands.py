"""What keys and wheel may do to the editors: the wheel nothing, Ctrl+Z one step back wherever the keyboard is."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QDropEvent, QKeyEvent, QKeySequence
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QLineEdit, QWidget

from planner.ui.trip.document import Document

UNDO, REDO = ("Ctrl+Z",), ("Ctrl+Shift+Z", "Ctrl+Y")
"""The keys on every desktop: whichever of them a hand knows."""


class _Still(QObject):
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Hand the wheel on to whatever scrolls around the editor."""
        if event.type() == QEvent.Type.Wheel:
            event.ignore()
            return True
        return False


INNER_PX = (5, 0, 5, 0)
"""How far a figure stands from the edges of its field, as words do in theirs."""


def still(editor: QWidget) -> None:
    """Let no turn of the wheel change ``editor``, which is entered by click or key alone."""
    editor.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    editor.installEventFilter(_Still(editor))


def take_copy(event: QDropEvent) -> None:
    """Accept files as copies, whatever is offered: who gave them for moving would throw the user's own away."""
    event.setDropAction(Qt.DropAction.CopyAction)
    event.accept()


def commit_typing() -> None:
    """Let what is typed into the field with the keyboard, and not yet left, count: before undo, saving, closing."""
    editor = QApplication.focusWidget()
    if isinstance(editor, QAbstractSpinBox):
        editor.interpretText()
    elif isinstance(editor, QLineEdit) and editor.isModified():
        editor.editingFinished.emit()


class UndoKeys(QObject):
    """Takes the keys before a line of text does; what is typed and not yet left counts first.

    Listens at the one widget that has the keyboard: a filter over every event of the program would cost each of them.
    """

    def __init__(self, window: QWidget, document: Document) -> None:
        super().__init__(window)
        self._window, self.document = window, document
        app = QApplication.instance()
        if isinstance(app, QApplication):
            app.focusChanged.connect(self._follow)

    def _follow(self, before: QWidget | None, now: QWidget | None) -> None:
        if before is not None:
            before.removeEventFilter(self)
        if now is not None and now.window() is self._window:
            now.installEventFilter(self)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        if event.type() != QEvent.Type.ShortcutOverride or not isinstance(event, QKeyEvent):
            return False
        if QKeySequence(event.keyCombination()).toString() not in (*UNDO, *REDO):
            return False
        event.ignore()  # so that the line does not keep the key for itself, and the menu gets it
        return True

    def undo(self) -> None:
        commit_typing()
        self.document.stack.undo()

    def redo(self) -> None:
        commit_typing()
        self.document.stack.redo()
