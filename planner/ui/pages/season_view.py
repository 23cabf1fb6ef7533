"""The season chart drawn: weeks across, hours of departure down, the share of days without harm as colour."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QWidget

from planner.app.common.scale import SAFE_SHARE
from planner.app.season.chart import HOURS, WEEKS
from planner.ui.look import colours, theme
from planner.ui.look import paint as p
from planner.ui.look import strings as s

if TYPE_CHECKING:
    from planner.app.common.scale import SAFE_SHARE
from planner.app.season.chart import Season

LEFT_PX, GAP_PX = 46.0, 1.0


class SeasonView(QWidget):
    """Shows a chart; mouse or arrow keys pick a cell, which is then told in words."""

    picked = Signal(int, int)

    def __init__(self) -> None:
        super().__init__()
        self.found: Season | None = None
        self.agitated = False
        self.cell = (21, 5)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(380, 200)
        self.setAccessibleName(s.say(s.SEASON_TITLE))

    def show_season(self, found: Season) -> None:
        self.found = found
        known = np.flatnonzero((found.days > 0).any(axis=1))
        if known.size and self.cell[0] not in known:
            self.cell = (int(known[known.size // 2]), self.cell[1])
        self.update()

    def set_agitated(self, on: bool) -> None:
        """Show the share of days without harm even when the bees are agitated."""
        self.agitated = on
        self.update()

    def shares(self) -> np.ndarray:
        """The shares drawn, (week, hour)."""
        return self.found.robust_share if self.agitated else self.found.safe_share

    # -- painting --------------------------------------------------------------------------------

    def _field(self) -> QRectF:
        foot = 2 * p.high() + 26
        return QRectF(LEFT_PX, p.high() + 6, self.width() - LEFT_PX - 2, self.height() - p.high() - 6 - foot)

    def _box(self, week: int, hour: int, field: QRectF) -> QRectF:
        wide, high = field.width() / WEEKS, field.height() / HOURS
        return QRectF(field.left() + week * wide, field.top() + hour * high, wide - GAP_PX, high - GAP_PX)

    def paintEvent(self, event) -> None:
        if self.found is None:
            return
        paint = QPainter(self)
        look, field, shares = theme.current(), self._field(), self.shares()
        shades, index = colours.shades(), SAFE_SHARE.steps(shares)
        for week in range(WEEKS):
            for hour in range(HOURS):
                box = self._box(week, hour, field)
                if index[week, hour] >= 0:
                    paint.fillRect(box, shades[index[week, hour]])
                else:
                    paint.fillRect(box, theme.colour(look.unknown, 0.35))
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        for week in range(WEEKS):
            if (self.found.days[week] == 0).all():
                p.hatch(paint, self._box(week, 0, field).united(self._box(week, HOURS - 1, field)))
        self._scales(paint, field)
        self._key(paint, field.bottom() + p.high() + 12)
        paint.setBrush(Qt.BrushStyle.NoBrush)
        paint.setPen(QPen(theme.colour(look.panel), 3.4))
        paint.drawRoundedRect(self._box(*self.cell, field).adjusted(-1, -1, 1, 1), 2, 2)
        paint.setPen(QPen(theme.colour(look.accent if self.hasFocus() else look.ink), 1.8))
        paint.drawRoundedRect(self._box(*self.cell, field).adjusted(-1, -1, 1, 1), 2, 2)

    def _scales(self, paint: QPainter, field: QRectF) -> None:
        look = theme.current()
        every = 3 if field.height() / HOURS * 3 > p.high() else 6
        for hour in range(0, HOURS, every):
            box = QRectF(0, self._box(0, hour, field).center().y() - p.high() / 2, LEFT_PX - 8, p.high())
            p.write(paint, box, f"{hour:02d}:00", look.ink_soft, align=p.RIGHT)
        p.write(paint, QRectF(field.left(), 0, field.width(), p.high()), s.say(s.SEASON_AXES), look.ink_soft)
        for month in range(12):
            first = (date(2027, month + 1, 1) - date(2027, 1, 1)).days / 7
            x = field.left() + first * field.width() / WEEKS
            paint.setPen(QPen(theme.colour(look.line), 1))
            paint.drawLine(int(x), int(field.bottom() + 1), int(x), int(field.bottom() + 6))
            box = QRectF(x + 3, field.bottom() + 3, field.width() / 12, p.high())
            p.write(paint, box, s.say(s.MONTHS[month]), look.ink_soft)

    def _key(self, paint: QPainter, y: float) -> None:
        look, shades = theme.current(), colours.shades()
        left, wide = LEFT_PX, 150.0
        for i, shade in enumerate(reversed(shades)):
            paint.fillRect(QRectF(left + i * wide / len(shades), y + 2, wide / len(shades) + 0.6, 8), shade)
        p.write(paint, QRectF(left, y + 11, 60, p.high()), s.say(s.PER_CENT, value=0), look.ink_soft)
        box = QRectF(left + wide - 60, y + 11, 60, p.high())
        p.write(paint, box, s.say(s.PER_CENT, value=100), look.ink_soft, align=p.RIGHT)
        said = s.say(s.SEASON_KEY)
        p.write(paint, QRectF(left + wide + 12, y - 3, p.wide(said) + 4, 18), said, look.ink_soft)
        x = left + wide + p.wide(said) + 40
        box = QRectF(x, y, 12, 12)
        paint.fillRect(box, theme.colour(look.unknown, 0.35))
        p.hatch(paint, box)
        p.write(paint, QRectF(x + 18, y - 3, 160, 18), s.say(s.LEGEND_UNKNOWN), look.ink_soft)

    # -- hands -----------------------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        field, at = self._field(), event.position()
        if self.found is not None and field.contains(at):
            week = int((at.x() - field.left()) / field.width() * WEEKS)
            self.pick(week, int((at.y() - field.top()) / field.height() * HOURS))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, -1),
            Qt.Key.Key_Down: (0, 1),
        }
        step = steps.get(event.key())
        if step is None:
            super().keyPressEvent(event)
        else:
            self.pick(self.cell[0] + step[0], self.cell[1] + step[1])

    def pick(self, week: int, hour: int) -> None:
        """Look at one cell."""
        self.cell = (min(max(week, 0), WEEKS - 1), min(max(hour, 0), HOURS - 1))
        self.update()
        self.picked.emit(*self.cell)
