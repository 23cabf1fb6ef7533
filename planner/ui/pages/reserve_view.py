"""The standstill reserve on the screen: its lanes read at the cursor, and the road with its worst spot."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QWidget

from planner.app.common.chart import Chart, Rule
from planner.app.standing.pictures import (
    AGITATED_BEES,
    TYPICAL_BEES,
    left_text,
    reserve_chart,
    reserve_columns,
    reserve_scale,
    told,
    worst_moment,
)
from planner.model.records import Floats, Road
from planner.ui.look import clock, colours, theme
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look.chart_view import ChartView
from planner.units import UnitSystem

if TYPE_CHECKING:
    from planner.app.plan.results import Plan
    from planner.app.standing.reserve import Reserve

MOST_NAME_PX = 130.0
KEYS = {Qt.Key.Key_Left: -1, Qt.Key.Key_Right: 1}


class ReserveView(ChartView):
    """One lane for each way to stand; announces the cursor, at which the lanes are read."""

    cursor_moved = Signal(float)

    def __init__(self) -> None:
        super().__init__()
        self.found: Reserve | None = None
        self.zone = "UTC"
        self.cursor_s = float("nan")
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(300, 120)
        self.setAccessibleName(s.say(s.STAND_RESERVE))

    def show_reserve(self, found: Reserve, plan: Plan, units: UnitSystem) -> None:
        """Show how long the vehicle may stand along a candidate of ``plan``."""
        self.found, self.zone = found, plan.trip.origin.zone
        self.show_chart(reserve_chart(plan, found, units))
        self._tell()

    def set_cursor(self, time_s: float) -> None:
        """Read the lanes at an instant."""
        self.cursor_s = time_s
        self._tell()

    def top_s(self) -> float:
        """What the height of a lane stands for."""
        return reserve_scale(self.found).first if self.found is not None else 0.0

    def moment(self) -> int:
        """The moment under the cursor, the worst one while the cursor lies elsewhere."""
        if self.found is None:
            return 0
        time = self.found.time_s
        if np.isfinite(self.cursor_s) and time[0] <= self.cursor_s <= time[-1]:
            return int(np.argmin(np.abs(time - self.cursor_s)))
        return worst_moment(self.found) or 0

    def readings(self) -> list[tuple[str, str, str]]:
        """Each way to stand with its time left at the cursor: typical and agitated bees."""
        found, at = self.found, self.moment()
        if found is None:
            return []
        return [
            (
                variant.title,
                left_text(float(found.shortest_s(v, TYPICAL_BEES)[at]), found.horizon_s),
                left_text(float(found.shortest_s(v, AGITATED_BEES)[at]), found.horizon_s),
            )
            for v, variant in enumerate(found.variants)
        ]

    def table(self) -> p.Cells:
        """Each way to stand and how long it may last, at every moment."""
        found, chart = self.found, self.chart
        if found is None or chart is None:
            return (self.heading(),), ()
        heads = (self.heading(), *(variant.title for variant in found.variants))
        rows = tuple(
            (
                clock.day_hour(float(found.time_s[at]), self.zone),
                *(
                    left_text(float(found.shortest_s(v, AGITATED_BEES)[at]), found.horizon_s)
                    for v in range(len(found.variants))
                ),
            )
            for at in range(found.time_s.size)
        )
        return heads, rows

    def painted(self) -> Chart | None:
        if self.chart is None or self.found is None:
            return None
        chart = replace(self.chart, columns=reserve_columns(self.found, self.moment()))
        return (
            chart.with_marks(Rule(self.cursor_s, "x", "accent", 1.2)) if np.isfinite(self.cursor_s) else chart
        )

    def _tell(self) -> None:
        self.setAccessibleDescription(
            ", ".join(
                told(
                    self.found,
                    "standing.reading_by_bees",
                    "standing.reading_by_variants",
                    title=title,
                    usual=usual,
                    least=least,
                )
                for title, usual, least in self.readings()
                if self.found is not None
            )
        )
        self.update()

    # -- hands -----------------------------------------------------------------------------------

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        frame = self.frame()
        if frame is not None:
            self._set(frame.x_at(event.position().x()))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = KEYS.get(Qt.Key(event.key()))
        if step is None or self.found is None:
            super().keyPressEvent(event)
            return
        at = min(max(self.moment() + step, 0), len(self.found.time_s) - 1)
        self._set(float(self.found.time_s[at]))

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
        """Show where along the road of ``plan`` standing is worst."""
        self.found, self.plan = found, plan
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        if self.found is None or self.plan is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        look, found, road = theme.current(), self.found, self.plan.road
        place = self._placing(road)
        paint.setPen(QPen(theme.colour(look.line), 7, c=Qt.PenCapStyle.RoundCap, j=Qt.PenJoinStyle.RoundJoin))
        paint.drawPolyline(place(road.lat_deg, road.lon_deg))
        along = place(found.lat_deg, found.lon_deg)
        index, shades = reserve_scale(found).steps(found.shortest_s(0, AGITATED_BEES)), colours.shades()
        for i in range(len(index) - 1):
            ink = shades[index[i]] if index[i] >= 0 else theme.colour(look.unknown)
            paint.setPen(QPen(ink, 4, c=Qt.PenCapStyle.RoundCap))
            paint.drawLine(along[i], along[i + 1])
        taken: list[QRectF] = []
        worst = worst_moment(found)
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

    def _placing(self, road: Road) -> Callable[[Floats, Floats], list[QPointF]]:
        """Latitude and longitude to pixels, fitted to the widget, east and north in one scale."""
        lat, lon = road.lat_deg, np.unwrap(road.lon_deg, period=360.0)
        squeeze = float(np.cos(np.radians(lat.mean())))
        box = self.rect().toRectF().adjusted(26, 18, -26, -18)
        wide, high = max(float(np.ptp(lon)) * squeeze, 1e-6), max(float(np.ptp(lat)), 1e-6)
        scale = min(box.width() / wide, box.height() / high)
        middle = box.center()

        def place(lat_deg: Floats, lon_deg: Floats) -> list[QPointF]:
            east = (
                np.unwrap(np.append(lon[0], lon_deg), period=360.0)[1:] - (lon.min() + lon.max()) / 2
            ) * squeeze
            north = np.asarray(lat_deg) - (lat.min() + lat.max()) / 2
            return [
                QPointF(middle.x() + float(x) * scale, middle.y() - float(y) * scale)
                for x, y in zip(east, north, strict=True)
            ]

        return place
