"""The wheel scrolls pages: over a slider, a number or a choice it changes nothing, focused or not."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtWidgets import QWidget


class _Still(QObject):
    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Hand the wheel on to whatever scrolls around the editor."""
        if event.type() == QEvent.Type.Wheel:
            event.ignore()
            return True
        return False


def still(editor: QWidget) -> None:
    """Let no turn of the wheel change ``editor``, which is entered by click or key alone."""
    editor.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    editor.installEventFilter(_Still(editor))
