"""Air, dew point, sun, wind, speed and height along the trip: thin lanes under the curves, on the same time."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QMouseEvent, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from planner.app.plan.results import Curves
from planner.model.records import Floats
from planner.ui.look import clock, theme
from planner.ui.look import strings as s
from planner.ui.look.paint import Cells
from planner.ui.plan.curve_view import margins
from planner.units import METRIC, UnitSystem
from planner.words import Voice, height

Span = TypeVar("Span", float, Floats)


@dataclass(frozen=True, slots=True)
class _Lane:
    name: str
    values: Floats
    floor: float | None
    write: Callable[[float], str]
    brief: str = ""


class RoadStrip(QWidget):
    """Shows one trip's surroundings; follows the curves' span and cursor and announces its own cursor."""

    cursor_moved = Signal(float)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.curves: Curves | None = None
        self.zone = "UTC"
        self.span = (0.0, 1.0)
        self.cursor_s = float("nan")
        self.setMouseTracking(True)
        self.setMinimumHeight(96)
        self.setAccessibleName(s.say(s.STRIP_TITLE))

    def show_curves(self, curves: Curves) -> None:
        """Show a trip's surroundings over the span last set; over the whole trip where none was."""
        self.curves = curves
        if self.span == (0.0, 1.0):
            self.span = (float(curves.time_s[0]), float(curves.time_s[-1]))
        self._tell()

    def set_span(self, left: float, right: float) -> None:
        self.span = (left, right)
        self.update()

    def set_cursor(self, time_s: float) -> None:
        self.cursor_s = time_s
        self._tell()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._tell()

    def _lanes(self) -> list[_Lane]:
        c, units = self.curves, self.units
        if c is None:
            return []
        voice = Voice(units=units)
        return [
            _Lane(s.STRIP_AIR, c.outside_c, None, units.temp_text),
            _Lane(s.STRIP_DEW, c.dew_c, None, units.temp_text, s.STRIP_DEW_BRIEF),
            _Lane(s.STRIP_SUN, c.ghi_w_m2, 0.0, lambda v: s.say(s.STRIP_SUN_VALUE, value=f"{v:.0f}")),
            _Lane(s.STRIP_WIND, c.wind_ms, 0.0, units.speed_text),
            _Lane(s.STRIP_SPEED, c.speed_ms, 0.0, units.speed_text),
            _Lane(s.STRIP_HEIGHT, c.elevation_m, None, lambda v: voice.text(height(v))),
        ]

    def heading(self) -> str:
        return s.say(s.STRIP_TITLE)

    def table(self) -> Cells:
        """Every lane each half hour."""
        if self.curves is None:
            return (), ()
        lanes, time_s = self._lanes(), self._time_s()
        every = max(int(1800 / max(float(np.median(np.diff(time_s))), 1.0)), 1)
        heads = (s.say(s.READ_TIME), *(s.say(lane.name) for lane in lanes))
        rows = tuple(
            (clock.day_hour(float(time_s[at]), self.zone), *(_read(lane, at) for lane in lanes))
            for at in range(0, len(time_s), every)
        )
        return heads, rows

    def _tell(self) -> None:
        if self.curves is not None and np.isfinite(self.cursor_s):
            at = self._index()
            self.setAccessibleDescription(
                ", ".join(f"{s.say(lane.name)} {_read(lane, at)}" for lane in self._lanes())
            )
        self.update()

    def _index(self) -> int:
        """The step of the histories under the cursor."""
        time_s = self._time_s()
        return int(np.clip(np.searchsorted(time_s, self.cursor_s), 0, len(time_s) - 1))

    def _time_s(self) -> Floats:
        return self.curves.time_s if self.curves is not None else np.zeros(1)

    # -- painting --------------------------------------------------------------------------------

    def paintEvent(self, event: QEvent) -> None:
        if self.curves is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setFont(theme.font(-1.0))
        lanes = self._lanes()
        high = self.height() / len(lanes)
        left, right = margins()
        field = QRectF(left, 0, max(self.width() - left - right, 10), self.height())
        for row, lane in enumerate(lanes):
            self._paint_lane(paint, lane, QRectF(field.left(), row * high, field.width(), high))
        if np.isfinite(self.cursor_s):
            x = self._x(self.cursor_s, field)
            if field.left() <= x <= field.right():
                paint.setPen(QPen(theme.colour(theme.current().accent), 1.2))
                paint.drawLine(QPointF(x, 0), QPointF(x, self.height()))

    def _x(self, time_s: Span, field: QRectF) -> Span:
        left, right = self.span
        return field.left() + (time_s - left) / max(right - left, 1e-9) * field.width()

    def _paint_lane(self, paint: QPainter, lane: _Lane, box: QRectF) -> None:
        look, metrics = theme.current(), QFontMetricsF(paint.font())
        paint.setPen(QPen(theme.colour(look.line), 1))
        paint.drawLine(QPointF(box.left(), box.bottom() - 0.5), QPointF(box.right(), box.bottom() - 0.5))
        paint.setPen(theme.colour(look.ink_soft))
        name = s.say(lane.name)
        if lane.brief and metrics.horizontalAdvance(name) > box.left() - 6:
            name = s.say(lane.brief)
        name = metrics.elidedText(name, Qt.TextElideMode.ElideRight, box.left() - 6)
        paint.drawText(
            QRectF(0, box.top(), box.left() - 6, box.height()),
            Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
            name,
        )
        if not np.isfinite(lane.values).any():
            paint.drawText(box, Qt.AlignmentFlag.AlignCenter, s.say(s.UNKNOWN_VALUE))
            return
        paint.setPen(theme.colour(look.ink))
        if np.isfinite(self.cursor_s):
            side = QRectF(box.right() + 6, box.top(), self.width() - box.right() - 8, box.height())
            paint.drawText(
                side, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, _read(lane, self._index())
            )
        self._paint_line(paint, lane, box)

    def _paint_line(self, paint: QPainter, lane: _Lane, box: QRectF) -> None:
        look = theme.current()
        inside = box.adjusted(0, 4, 0, -3)
        low = lane.floor if lane.floor is not None else float(np.nanmin(lane.values))
        high = max(float(np.nanmax(lane.values)), low + 1e-6)
        every = max(len(lane.values) // max(int(box.width()), 1), 1)
        time, values = self._time_s()[::every], lane.values[::every]
        known = np.isfinite(values)
        xs = self._x(time[known], box)
        ys = inside.bottom() - (values[known] - low) / (high - low) * inside.height()
        line = pg.functions.arrayToQPolygonF(np.ascontiguousarray(xs), np.ascontiguousarray(ys))
        paint.save()
        paint.setClipRect(box)
        under = QPolygonF(line)
        under.append(QPointF(float(xs[-1]), box.bottom()))
        under.append(QPointF(float(xs[0]), box.bottom()))
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(look.ink, 0.06))
        paint.drawPolygon(under)
        paint.setPen(QPen(theme.colour(look.ink_soft), 1.2))
        paint.drawPolyline(line)
        paint.restore()

    # -- hands -----------------------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self.curves is None:
            return
        edge, margin = margins()
        share = (event.position().x() - edge) / max(self.width() - edge - margin, 1)
        left, right = self.span
        time_s = float(np.clip(left + share * (right - left), self.curves.time_s[0], self.curves.time_s[-1]))
        self.set_cursor(time_s)
        self.cursor_moved.emit(time_s)


def _read(lane: _Lane, at: int) -> str:
    value = float(lane.values[at])
    return lane.write(value) if np.isfinite(value) else s.say(s.UNKNOWN_VALUE)
