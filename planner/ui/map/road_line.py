"""The road as a line on the map: a casing, darker where the vehicle drives by night, and the coloured line above it."""

from __future__ import annotations

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import Qt
from PySide6.QtGui import QColor, QPainter, QPainterPath

from planner.model.records import Bools, Floats, Ints
from planner.ui.look import colours, theme
from planner.ui.map.map_ground import cosmetic


class RoadLine:
    """Painted in Mercator with pens whose width stays in pixels."""

    def __init__(self) -> None:
        self._casing = QPainterPath()
        self._night = QPainterPath()
        self._parts: list[tuple[QColor | None, QPainterPath]] = []

    def set_line(
        self, x: Floats, y: Floats, shade_index: Ints | None = None, night: Bools | None = None
    ) -> None:
        self._casing = _path(x, y)
        self._night, self._parts = QPainterPath(), []
        if night is not None:
            self._night = _pieces(x, y, night[:-1])
        if shade_index is not None:
            shades = colours.shades()
            for index in np.unique(shade_index[:-1]):
                ink = shades[index] if index >= 0 else None
                self._parts.append((ink, _pieces(x, y, shade_index[:-1] == index)))

    def paint(self, painter: QPainter) -> None:
        look = theme.current()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.setPen(cosmetic(look.night, 13, alpha=0.34))
        painter.drawPath(self._night)
        for name, width, alpha in ((look.panel, 9.0, 1.0), (look.ink, 6.2, 0.62)):
            painter.setPen(cosmetic(name, width, alpha=alpha))
            painter.drawPath(self._casing)
        if not self._parts:
            painter.setPen(cosmetic(look.ink_soft, 3.4))
            painter.drawPath(self._casing)
        for ink, part in self._parts:
            painter.setPen(cosmetic(ink.name() if ink else look.unknown, 4.2))
            painter.drawPath(part)


def _path(x: Floats, y: Floats) -> QPainterPath:
    path: QPainterPath = pg.arrayToQPath(np.asarray(x, float), np.asarray(y, float))
    return path


def _pieces(x: Floats, y: Floats, wanted: Bools) -> QPainterPath:
    """The segments of a line where ``wanted`` holds (one flag for each segment), each run of them in one stroke."""
    index = np.flatnonzero(wanted)
    if not len(index):
        return QPainterPath()
    new_run = np.diff(index, prepend=-2) > 1
    points = np.insert(index + 1, np.flatnonzero(new_run), index[new_run])  # a run begins with its first end
    ends = np.zeros(len(x), dtype=bool)
    ends[index[np.append(new_run[1:], True)] + 1] = True
    joined = (~ends[points]).astype(np.int32)
    path: QPainterPath = pg.arrayToQPath(x[points].astype(float), y[points].astype(float), connect=joined)
    return path
