"""What lies under the road: land, borders and towns."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import pyqtgraph as pg
from numpy.typing import NDArray
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPen, QPolygonF

from planner.model.records import Floats
from planner.ui.look import theme
from planner.ui.map.mercator import Sight, mercator

NONE = np.empty(0)
Line = tuple[NDArray[np.floating[Any]], NDArray[np.floating[Any]]]
"""Latitudes and longitudes in degrees along a line or around a ring."""


@dataclass(frozen=True)
class Ground:
    """What lies under the road: rings of land, lines of borders, towns with their weight."""

    land: tuple[Line, ...] = ()
    borders: tuple[Line, ...] = ()
    town_names: tuple[str, ...] = ()
    town_lat_deg: Floats = field(default_factory=lambda: NONE)
    town_lon_deg: Floats = field(default_factory=lambda: NONE)
    town_people: Floats = field(default_factory=lambda: NONE)

    @cached_property
    def towns(self) -> tuple[Floats, Floats]:
        """Where the towns lie in Mercator, worked out once."""
        return mercator(self.town_lat_deg, self.town_lon_deg)


class Land:
    """Land and borders, each ring with its frame so that only what is in sight is painted."""

    def __init__(self) -> None:
        self._rings: list[tuple[QRectF, QPolygonF]] = []
        self._lines: list[tuple[QRectF, QPolygonF]] = []

    def set_ground(self, ground: Ground) -> None:
        self._rings = [_framed(ring) for ring in ground.land]
        self._lines = [_framed(line) for line in ground.borders]

    def paint(self, painter: QPainter, sight: Sight) -> None:
        """The land in sight, on water."""
        look = theme.current()
        painter.setTransform(sight.transform(), combine=True)
        painter.setPen(cosmetic(look.border, 0.8))
        painter.setBrush(theme.colour(look.land))
        for frame, ring in self._rings:
            if frame.intersects(sight.view):
                painter.drawPolygon(ring)
        for frame, line in self._lines:
            if frame.intersects(sight.view):
                painter.drawPolyline(line)


def cosmetic(ink: str, width: float, alpha: float = 1.0) -> QPen:
    """A pen whose width stays in pixels, however far the map is zoomed."""
    solid, cap, join = Qt.PenStyle.SolidLine, Qt.PenCapStyle.RoundCap, Qt.PenJoinStyle.RoundJoin
    pen = QPen(theme.colour(ink, alpha), width, solid, cap, join)
    pen.setCosmetic(True)
    return pen


def _framed(line: Line) -> tuple[QRectF, QPolygonF]:
    polygon: QPolygonF = pg.functions.arrayToQPolygonF(*mercator(*line))
    return polygon.boundingRect(), polygon
