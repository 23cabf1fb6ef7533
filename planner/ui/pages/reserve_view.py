"""Standstill reserve drawn: lanes of minutes along the trip, and the road with its worst spot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from planner.ui.look import clock, colours, theme
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.plan.results import Plan
    from planner.app.standing.reserve import Reserve

TYPICAL_LEVEL, DISTURBED_TEMPER = 0, 1
FOOT_PX, MOST_NAME_PX = 6.0, 130.0
SHORTEST_SHOWN_S = 2 * 3600.0
"""The scale reaches at least so far, so that a long reserve does not look short."""


class ReserveView(QWidget):
    """One lane for each way to stand: minutes left with usual bees (area) and agitated ones (line)."""

    cursor_moved = Signal(float)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.found: Reserve | None = None
        self.zone = "UTC"
        self.cursor_s = float("nan")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(300, 120)
        self.setAccessibleName(s.say(s.STAND_RESERVE))

    def show_reserve(self, found: Reserve, zone: str, units: UnitSystem) -> None:
        self.found, self.zone, self.units = found, zone, units
        self._tell()

    def set_cursor(self, time_s: float) -> None:
        self.cursor_s = time_s
        self._tell()

    def moment(self) -> int:
        """The moment under the cursor, the worst one while the cursor lies elsewhere."""
        time = self.found.time_s
        if np.isfinite(self.cursor_s) and time[0] <= self.cursor_s <= time[-1]:
            return int(np.argmin(np.abs(time - self.cursor_s)))
        return self._worst() or 0

    def readings(self) -> list[tuple[str, str, str]]:
        """Each way to stand with its minutes at the cursor: usual and agitated bees."""
        at, found = self.moment(), self.found
        return [
            (
                variant.title,
                span_text(found.shortest_s(v, TYPICAL_LEVEL)[at], found.horizon_s),
                span_text(found.shortest_s(v, DISTURBED_TEMPER)[at], found.horizon_s),
            )
            for v, variant in enumerate(found.variants)
        ]

    def _worst(self) -> int | None:
        worst = self.found.worst(0, TYPICAL_LEVEL)
        return self.found.worst(0, DISTURBED_TEMPER) if worst is None else worst

    def _tell(self) -> None:
        if self.found is not None:
            self.setAccessibleDescription(
                ", ".join(
                    s.say(s.STAND_READING, title=title, usual=usual, agitated=agitated)
                    for title, usual, agitated in self.readings()
                )
            )
        self.update()

    # -- painting --------------------------------------------------------------------------------

    def _field(self) -> QRectF:
        titles = [variant.title for variant in self.found.variants]
        left = min(max(p.wide(title) for title in titles) + 14, self.width() * 0.3)
        right = max(p.wide(s.say(s.STAND_HEAD_USUAL)), p.wide(s.say(s.STAND_BEYOND, hours=6))) + 14
        right += max(p.wide(s.say(s.STAND_HEAD_AGITATED)), p.wide(s.say(s.STAND_BEYOND, hours=6))) + 14
        head, foot = p.high() + 5, p.high() + 6
        return QRectF(left, head, max(self.width() - left - right, 60), self.height() - head - foot)

    def _x(self, time_s, field: QRectF):
        time = self.found.time_s
        return field.left() + (time_s - time[0]) / max(time[-1] - time[0], 1e-9) * field.width()

    def paintEvent(self, event) -> None:
        if self.found is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, field, found = theme.current(), self._field(), self.found
        top_s = self.top_s()
        readings = self.readings()
        row_px = field.height() / len(found.variants)
        usual_x, half = field.right() + 10, (self.width() - field.right() - 10) / 2
        p.write(paint, QRectF(usual_x, 0, half, field.top() - 3), s.say(s.STAND_HEAD_USUAL), look.ink_soft)
        p.write(
            paint,
            QRectF(usual_x + half, 0, half, field.top() - 3),
            s.say(s.STAND_HEAD_AGITATED),
            look.ink_soft,
        )
        for v, (title, usual, agitated) in enumerate(readings):
            lane = QRectF(field.left(), field.top() + v * row_px, field.width(), row_px)
            self._lane(paint, lane.adjusted(0, 4, 0, -1), v, top_s)
            p.rule(paint, field.left(), field.right(), lane.bottom())
            p.write(paint, QRectF(0, lane.top(), field.left() - 10, row_px), title, look.ink, align=p.RIGHT)
            p.write(paint, QRectF(usual_x, lane.top(), half - 4, row_px), usual, look.ink, bold=True)
            p.write(paint, QRectF(usual_x + half, lane.top(), half, row_px), agitated, look.ink_soft)
        self._hours(paint, field)
        self._marks(paint, field)

    def top_s(self) -> float:
        """What the height of a lane stands for."""
        known = self.found.after_s[np.isfinite(self.found.after_s)]
        whole_s = 3600.0 * float(np.ceil(known.max(initial=0.0) / 3600.0))
        return min(max(whole_s, SHORTEST_SHOWN_S), self.found.horizon_s)

    def _lane(self, paint: QPainter, lane: QRectF, variant: int, top_s: float) -> None:
        found, look = self.found, theme.current()
        xs = self._x(found.time_s, lane)
        usual = found.shortest_s(variant, TYPICAL_LEVEL)
        agitated = found.shortest_s(variant, DISTURBED_TEMPER)
        shades, index = colours.shades(), colours.steps(-np.minimum(usual, top_s), -top_s, 0.0)
        for i in range(len(xs)):
            right = xs[i + 1] if i + 1 < len(xs) else lane.right()
            box = QRectF(xs[i], lane.top(), right - xs[i] + 0.6, lane.height())
            if np.isnan(usual[i]):
                p.hatch(paint, box)
                continue
            high = min(float(usual[i]) / top_s, 1.0) * lane.height()
            paint.fillRect(QRectF(box.left(), lane.bottom() - high, box.width(), high), shades[index[i]])
        self._foot(paint, lane, xs, agitated, top_s)
        line = QPolygonF()
        for x, value in zip(xs, agitated, strict=True):
            if not np.isnan(value):
                line.append(QPointF(float(x), lane.bottom() - min(float(value) / top_s, 1.0) * lane.height()))
        paint.setBrush(Qt.BrushStyle.NoBrush)
        paint.setPen(QPen(theme.colour(look.ink), 1.3, Qt.PenStyle.DashLine))
        paint.drawPolyline(line)

    def _foot(self, paint: QPainter, lane: QRectF, xs, agitated, top_s: float) -> None:
        """A strip along the foot of a lane in the colours of agitated bees."""
        shades, index = colours.shades(), colours.steps(-np.minimum(agitated, top_s), -top_s, 0.0)
        for i in range(len(xs)):
            right = xs[i + 1] if i + 1 < len(xs) else lane.right()
            if index[i] >= 0:
                box = QRectF(xs[i], lane.bottom() - FOOT_PX, right - xs[i] + 0.6, FOOT_PX)
                paint.fillRect(box, shades[index[i]])

    def _hours(self, paint: QPainter, field: QRectF) -> None:
        time, look, right = self.found.time_s, theme.current(), 0.0
        for mark in clock.hours(float(time[0]), float(time[-1]), self.zone):
            x, text = self._x(mark, field), clock.hour(mark, self.zone)
            if x - p.wide(text) / 2 > right and x + p.wide(text) / 2 < field.right() + 20:
                box = QRectF(x - 30, field.bottom() + 3, 60, p.high())
                p.write(paint, box, text, look.ink_soft, align=p.MIDDLE)
                right = x + p.wide(text) / 2 + 10

    def _marks(self, paint: QPainter, field: QRectF) -> None:
        look, worst = theme.current(), self._worst()
        if worst is not None:
            x = self._x(float(self.found.time_s[worst]), field)
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(look.harm))
            tip = [
                QPointF(x - 5, field.top() - 6),
                QPointF(x + 5, field.top() - 6),
                QPointF(x, field.top() + 2),
            ]
            paint.drawPolygon(QPolygonF(tip))
            said, room = s.say(s.STAND_WORST), p.wide(s.say(s.STAND_WORST))
            left = x + 9 if x + room + 12 < field.right() else x - room - 13
            p.write(paint, QRectF(left, 0, room + 4, field.top() - 3), said, look.ink)
        if np.isfinite(self.cursor_s):
            x = self._x(self.cursor_s, field)
            if field.left() <= x <= field.right():
                paint.setPen(QPen(theme.colour(look.accent), 1.2))
                paint.drawLine(QPointF(x, field.top()), QPointF(x, field.bottom()))

    # -- hands -----------------------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        if self.found is not None:
            field = self._field()
            self._go((event.position().x() - field.left()) / max(field.width(), 1.0))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}.get(event.key())
        if step is None or self.found is None:
            super().keyPressEvent(event)
            return
        at = min(max(self.moment() + step, 0), len(self.found.time_s) - 1)
        self._set(float(self.found.time_s[at]))

    def _go(self, share: float) -> None:
        time = self.found.time_s
        self._set(float(time[0] + min(max(share, 0.0), 1.0) * (time[-1] - time[0])))

    def _set(self, time_s: float) -> None:
        self.set_cursor(time_s)
        self.cursor_moved.emit(time_s)


class SpotView(QWidget):
    """The road as it lies, coloured by the reserve of agitated bees, calls named and the worst spot marked."""

    def __init__(self) -> None:
        super().__init__()
        self.found: Reserve | None = None
        self.plan: Plan | None = None
        self.setMinimumSize(140, 110)
        self.setAccessibleName(s.say(s.STAND_WHERE))

    def show_reserve(self, found: Reserve, plan: Plan) -> None:
        self.found, self.plan = found, plan
        self.update()

    def paintEvent(self, event) -> None:
        if self.found is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, found, road = theme.current(), self.found, self.plan.road
        place = self._placing()
        paint.setPen(QPen(theme.colour(look.line), 7, c=Qt.PenCapStyle.RoundCap, j=Qt.PenJoinStyle.RoundJoin))
        paint.drawPolyline(place(road.lat_deg, road.lon_deg))
        along = place(found.lat_deg, found.lon_deg)
        after = found.shortest_s(0, DISTURBED_TEMPER)
        known = after[np.isfinite(after)]
        top_s = float(max(known.max(initial=0.0), SHORTEST_SHOWN_S))
        index, shades = colours.steps(-np.minimum(after, top_s), -top_s, 0.0), colours.shades()
        for i in range(len(after) - 1):
            ink = shades[index[i]] if index[i] >= 0 else theme.colour(look.unknown)
            paint.setPen(QPen(ink, 4, c=Qt.PenCapStyle.RoundCap))
            paint.drawLine(along[i], along[i + 1])
        taken: list[QRectF] = []
        worst = found.worst(0, TYPICAL_LEVEL)
        worst = found.worst(0, DISTURBED_TEMPER) if worst is None else worst
        if worst is not None:
            at = along[worst]
            paint.setPen(QPen(theme.colour(look.harm), 2.4))
            paint.setBrush(theme.colour(look.panel))
            paint.drawEllipse(at, 6, 6)
            self._name(paint, at, s.say(s.STAND_WORST), taken, bold=True)
        sites = self.plan.trip.waypoints
        for number, vertex in enumerate(road.waypoint_vertex):
            at = place(road.lat_deg[[vertex]], road.lon_deg[[vertex]])[0]
            paint.setPen(QPen(theme.colour(look.ink), 1.4))
            paint.setBrush(theme.colour(look.panel))
            paint.drawEllipse(at, 3.2, 3.2)
            self._name(paint, at, sites[number].name, taken)

    def _name(
        self, paint: QPainter, at: QPointF, text: str, taken: list[QRectF], *, bold: bool = False
    ) -> None:
        """A name beside its point, where it covers no other; left out where there is no room."""
        look, line = theme.current(), p.high(-1.0)
        room = min(p.wide(text, -1.0, bold=bold) + 4, MOST_NAME_PX)
        beside = [(8.0, -line / 2), (-room - 8, -line / 2)]
        spots = beside + [(dx, dy) for dy in (8.0, -line - 8) for dx in (8.0, -room - 8, -room / 2)]
        for dx, dy in spots:
            box = QRectF(at.x() + dx, at.y() + dy, room, line)
            inside = self.rect().toRectF().contains(box)
            if inside and not any(box.intersects(other) for other in taken):
                p.write(paint, box, text, look.ink if bold else look.ink_soft, bold=bold, step=-1.0)
                taken.append(box)
                return

    def _placing(self):
        """Latitude and longitude to pixels, fitted to the widget, east and north in one scale."""
        road = self.plan.road
        lat, lon = road.lat_deg, np.unwrap(road.lon_deg, period=360.0)
        squeeze = float(np.cos(np.radians(lat.mean())))
        box = self.rect().toRectF().adjusted(26, 18, -26, -18)
        wide, high = max(float(np.ptp(lon)) * squeeze, 1e-6), max(float(np.ptp(lat)), 1e-6)
        scale = min(box.width() / wide, box.height() / high)
        middle = box.center()

        def place(lat_deg, lon_deg) -> list[QPointF]:
            east = (
                np.unwrap(np.append(lon[0], lon_deg), period=360.0)[1:] - (lon.min() + lon.max()) / 2
            ) * squeeze
            north = np.asarray(lat_deg) - (lat.min() + lat.max()) / 2
            return [
                QPointF(middle.x() + float(x) * scale, middle.y() - float(y) * scale)
                for x, y in zip(east, north, strict=True)
            ]

        return place


def span_text(seconds: float, horizon_s: float) -> str:
    """A reserve in words: minutes, nothing left, beyond the horizon, or not known."""
    if np.isnan(seconds):
        return s.say(s.UNKNOWN_VALUE)
    if np.isinf(seconds):
        return s.say(s.STAND_BEYOND, hours=round(horizon_s / 3600))
    return s.say(s.STAND_NOTHING) if seconds < 60 else clock.span(float(seconds) - float(seconds) % 60)
