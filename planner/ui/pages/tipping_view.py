"""The tipping point drawn: heat made and the most that can be carried off over core temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from planner.app.plan.results import TYPICAL
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.standing.tipping import TippingAt

HEIGHT_OF_MADE = 2.2
"""The scale reaches this many times the heat made, so that the crossing stands in the middle."""


class TippingView(QWidget):
    """Two lines from 30 to 50 C; where they cross, the box can stay. Between the points: headroom."""

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.at: TippingAt | None = None
        self.group = 0
        self.setMinimumSize(260, 130)
        self.setAccessibleName(s.say(s.STAND_TIPPING))

    def show_tipping(self, at: TippingAt, group: int, units: UnitSystem) -> None:
        self.at, self.group, self.units = at, group, units
        self.update()

    def paintEvent(self, event) -> None:
        if self.at is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, at = theme.current(), self.at
        made, lost = (curve[:, TYPICAL, self.group] for curve in (at.made_w, at.lost_w))
        if not np.isfinite(made).any():
            paint.setPen(theme.colour(look.ink_soft))
            paint.drawText(self.rect(), p.MIDDLE | Qt.TextFlag.TextWordWrap, s.say(s.STAND_NO_BALANCE))
            return
        right = max(p.wide(s.say(text)) for text in (s.STAND_MADE, s.STAND_LOST)) + 12
        field = QRectF(46, 4, max(self.width() - 46 - right, 60), self.height() - 4 - p.high() - 10)
        low, high = self._span(made, lost)
        self._scales(paint, field, low, high)
        xs = self._x(at.core_c, field)
        ys = {name: self._y(values, field, low, high) for name, values in (("made", made), ("lost", lost))}
        paint.save()
        paint.setClipRect(field)
        self._between(paint, xs, ys["made"], ys["lost"], lost >= made)
        for name, ink, width in (("lost", look.stores, 2.0), ("made", look.core, 2.2)):
            paint.setPen(QPen(theme.colour(ink), width))
            paint.drawPolyline(QPolygonF([QPointF(x, y) for x, y in zip(xs, ys[name], strict=True)]))
        paint.restore()
        self._names(paint, field, xs, ys)
        self._points(paint, field, made, low, high)

    def _span(self, made: np.ndarray, lost: np.ndarray) -> tuple[float, float]:
        top = float(np.nanmax(made)) * HEIGHT_OF_MADE
        seen = lost[np.isfinite(lost)]
        return min(0.0, max(float(seen.min()), -top)), min(
            max(float(seen.max()), float(np.nanmax(made))), top
        ) * 1.08

    def _x(self, core_c, field: QRectF):
        grid = self.at.core_c
        return field.left() + (np.asarray(core_c) - grid[0]) / (grid[-1] - grid[0]) * field.width()

    def _y(self, watts, field: QRectF, low: float, high: float):
        return field.bottom() - (np.asarray(watts) - low) / max(high - low, 1e-9) * field.height()

    def _scales(self, paint: QPainter, field: QRectF, low: float, high: float) -> None:
        look = theme.current()
        step = next(
            step
            for step in (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 1e9)
            if (high - low) / step <= 5
        )
        for watts in np.arange(np.ceil(low / step) * step, high, step):
            y = float(self._y(watts, field, low, high))
            p.rule(paint, field.left(), field.right(), y)
            box = QRectF(0, y - p.high() / 2, field.left() - 6, p.high())
            p.write(paint, box, s.say(s.WATTS, watts=f"{watts:.0f}"), look.ink_soft, align=p.RIGHT)
        for core in range(30, 51, 5):
            x = float(self._x(core, field))
            box = QRectF(x - 34, field.bottom() + 6, 68, p.high())
            p.write(paint, box, self.units.temp_text(core, 0), look.ink_soft, align=p.MIDDLE)

    def _between(self, paint: QPainter, xs, made_y, lost_y, spare: np.ndarray) -> None:
        """Pale where more can be carried off than is made, red where the core warms."""
        look = theme.current()
        paint.setPen(Qt.PenStyle.NoPen)
        for value, ink in ((True, theme.colour(look.stores, 0.16)), (False, theme.colour(look.harm, 0.13))):
            edges = np.flatnonzero(np.diff(np.concatenate(([False], spare == value, [False])).astype(int)))
            for first, last in zip(edges[::2], edges[1::2], strict=True):
                rows = slice(max(first - 1, 0), last)
                upper = [QPointF(x, y) for x, y in zip(xs[rows], made_y[rows], strict=True)]
                lower = [QPointF(x, y) for x, y in zip(xs[rows], lost_y[rows], strict=True)]
                paint.setBrush(ink)
                paint.drawPolygon(QPolygonF([*upper, *lower[::-1]]))

    def _names(self, paint: QPainter, field: QRectF, xs, ys) -> None:
        """The name of each line at its right end, pushed apart."""
        look = theme.current()
        ends = sorted(
            (min(max(float(ys[name][-1]), field.top() + 6), field.bottom() - 6), text, ink)
            for name, text, ink in (("made", s.STAND_MADE, look.core), ("lost", s.STAND_LOST, look.stores))
        )
        above = field.top() - p.high()
        for y, text, ink in ends:
            top = max(y - p.high() / 2, above + p.high())
            p.write(
                paint,
                QRectF(field.right() + 8, top, self.width() - field.right() - 8, p.high()),
                s.say(text),
                ink,
            )
            above = top

    def _points(self, paint: QPainter, field: QRectF, made: np.ndarray, low: float, high: float) -> None:
        """A full dot where it settles, an open one where it tips, a tick where the core is now."""
        look, points = theme.current(), self.at.points
        now = float(self.at.now_c[TYPICAL, self.group])
        if self.at.core_c[0] <= now <= self.at.core_c[-1]:
            x = float(self._x(now, field))
            paint.setPen(QPen(theme.colour(look.ink_soft), 1, Qt.PenStyle.DashLine))
            paint.drawLine(QPointF(x, field.top()), QPointF(x, field.bottom()))
            self._tag(paint, field, x, field.bottom() - p.high() - 4, s.say(s.STAND_NOW))
        for core, full, text in (
            (float(points.stable_c[TYPICAL, self.group]), True, s.STAND_STABLE),
            (float(points.unstable_c[TYPICAL, self.group]), False, s.STAND_UNSTABLE),
        ):
            if not np.isfinite(core):
                continue
            x = float(self._x(core, field))
            y = float(self._y(np.interp(core, self.at.core_c, made), field, low, high))
            paint.setPen(QPen(theme.colour(look.ink), 1.8))
            paint.setBrush(theme.colour(look.ink if full else look.panel))
            paint.drawEllipse(QPointF(x, y), 5, 5)
            self._tag(paint, field, x, y - p.high() - 9, s.say(text))

    def _tag(self, paint: QPainter, field: QRectF, x: float, y: float, text: str) -> None:
        room = p.wide(text) + 8
        left = x + 5 if x + room + 5 < field.right() else x - room - 3
        top = min(max(y, field.top()), field.bottom() - p.high())
        p.write(paint, QRectF(left, top, room, p.high()), text, theme.current().ink)
