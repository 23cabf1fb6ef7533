"""Collects Python's circular garbage on the GUI thread only.

Left to itself the collector runs on whichever thread happens to allocate; a worker would then delete
widgets that lay in a circle, off the GUI thread, and the program would crash while painting.
"""

from __future__ import annotations

import gc
from collections.abc import Callable

from PySide6.QtCore import QObject, QTimer

EVERY_MS = 1500
YOUNG, MIDDLE = 700, 10


class GuiThreadGc(QObject):
    """Takes the automatic collector's place while it lives; sweeps the old generation only when asked to rest."""

    def __init__(self, parent: QObject, idle: Callable[[], bool]) -> None:
        super().__init__(parent)
        self._idle = idle
        gc.disable()
        gc.freeze()
        self._timer = QTimer(self, interval=EVERY_MS)
        self._timer.timeout.connect(self.sweep)
        self._timer.start()

    def sweep(self) -> None:
        """Collect what is due; everything only while no work is under way."""
        young, middle, old = gc.get_count()
        if old > MIDDLE and self._idle():
            gc.collect(2)
        elif middle > MIDDLE:
            gc.collect(1)
        elif young > YOUNG:
            gc.collect(0)

    def close(self) -> None:
        self._timer.stop()
        gc.enable()
