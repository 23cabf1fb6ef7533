"""Temperatures inside the box on the screen: a cursor shared by all pictures, a span to zoom into, exports."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import QPointF, Qt, Signal
from PySide6.QtGui import QKeyEvent, QMouseEvent, QPixmap, QWheelEvent

from planner.app.common.chart import Chart, Rule
from planner.app.common.wording import JSON_AGITATIONS
from planner.app.plan.pictures import curve_chart, whole_span_s
from planner.app.plan.results import TYPICAL, Curves
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.ui.look.chart_view import ChartView
from planner.units import METRIC, UnitSystem

LEFT_PX, RIGHT_PX = 52, 84
"""Room at the left and right, shared with the road strip so that time lines up."""
KEY_STEP_S = 300.0
NARROWEST_S = 1800.0
ZOOM_PER_STEP = 1.25
WHEEL_STEP = 120.0


class CurveView(ChartView):
    """Shows the history of the chosen candidate and, thinner, of those compared; announces cursor and span."""

    cursor_moved = Signal(float)
    span_changed = Signal(float, float)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.curves: Curves | None = None
        self.others: tuple[Curves, ...] = ()
        self.group, self.zone = 0, "UTC"
        self.span_s = (0.0, 1.0)
        self.cursor_s = float("nan")
        self._held: QPointF | None = None
        self.setAccessibleName(s.say(s.CURVES_TITLE))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(320, 110)

    # -- what is shown -------------------------------------------------------------------------

    def show_curves(self, curves: Curves, group: int, zone: str, others: Sequence[Curves] = ()) -> None:
        """Show box group ``group`` of ``curves``; ``others`` are drawn as thin lines of their core."""
        same_span = (
            self.curves is not None
            and np.array_equal(self.curves.time_s[[0, -1]], curves.time_s[[0, -1]])
            and len(others) == len(self.others)
        )
        self.curves, self.group, self.zone, self.others = curves, group, zone, tuple(others)
        if same_span:
            self._draw()
        else:
            self.reset_span()
        if not curves.time_s[0] <= self.cursor_s <= curves.time_s[-1]:
            self.set_cursor(_hottest_moment(curves, group))
            self.cursor_moved.emit(self.cursor_s)

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._draw()

    def set_cursor(self, time_s: float) -> None:
        """Put the cursor at an instant."""
        self.cursor_s = time_s
        self.update()

    def reset_span(self) -> None:
        """Show the whole trip, closing to opening."""
        if self.curves is not None:
            self._set_span(*whole_span_s(self.curves, self.others))

    def _set_span(self, first_s: float, last_s: float) -> None:
        self.span_s = (first_s, last_s)
        self._draw()
        self.span_changed.emit(first_s, last_s)

    def _draw(self) -> None:
        if self.curves is not None:
            chart = curve_chart(
                self.curves, self.group, self.zone, self.units, others=self.others, span_s=self.span_s
            )
            self.show_chart(replace(chart, margins=(LEFT_PX, RIGHT_PX)))

    def painted(self) -> Chart | None:
        if self.chart is None or not np.isfinite(self.cursor_s):
            return self.chart
        return self.chart.with_marks(Rule(self.cursor_s, "x", "accent", 1.2))

    # -- hands -----------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        self._held = event.position()

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self._held = None

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        """The cursor follows the mouse; with the button down the span does."""
        frame = self.frame()
        if frame is None:
            return
        if self._held is not None:
            moved_s = frame.x_at(self._held.x()) - frame.x_at(event.position().x())
            self._held = event.position()
            self._shift(moved_s)
        elif frame.at(event.position().x(), event.position().y()):
            self._go(frame.x_at(event.position().x()))

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Zoom in and out around the instant under the mouse."""
        frame = self.frame()
        if frame is None or self.curves is None:
            return
        about_s = frame.x_at(event.position().x())
        by = ZOOM_PER_STEP ** (-event.angleDelta().y() / WHEEL_STEP)
        first_s, last_s = (about_s + (edge - about_s) * by for edge in self.span_s)
        whole = whole_span_s(self.curves, self.others)
        if last_s - first_s >= NARROWEST_S:
            self._set_span(max(first_s, whole[0]), min(last_s, whole[1]))

    def mouseDoubleClickEvent(self, event: QMouseEvent) -> None:
        self.reset_span()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Left: -KEY_STEP_S, Qt.Key.Key_Right: KEY_STEP_S}.get(Qt.Key(event.key()))
        if step is None or self.curves is None:
            super().keyPressEvent(event)
        else:
            self._go(self.cursor_s + step)

    def _shift(self, by_s: float) -> None:
        """Move the span along, inside the trip."""
        if self.curves is not None:
            whole = whole_span_s(self.curves, self.others)
            held_s = min(max(by_s, whole[0] - self.span_s[0]), whole[1] - self.span_s[1])
            self._set_span(self.span_s[0] + held_s, self.span_s[1] + held_s)

    def _go(self, time_s: float) -> None:
        if self.curves is not None:
            self.set_cursor(float(np.clip(time_s, self.curves.time_s[0], self.curves.time_s[-1])))
            self.cursor_moved.emit(self.cursor_s)

    # -- export ----------------------------------------------------------------------------------

    def export_png(self, path: Path, width: int = 1800) -> None:
        """The view as it stands, as a picture ``width`` pixels wide."""
        picture = QPixmap(self.size() * (width / self.width()))
        picture.setDevicePixelRatio(width / self.width())
        self.render(picture)
        picture.save(str(path), "PNG")

    def export_svg(self, path: Path) -> None:
        """The chart with the span shown, as lines and letters, in the colours of paper."""
        if self.chart is not None:
            from planner.app.common.svg import chart_svg

            drawing = chart_svg(replace(self.chart, margins=None), float(self.width()), float(self.height()))
            path.write_text(drawing, encoding="utf-8")

    def export_csv(self, path: Path) -> None:
        """The histories as a table: one row a time step, SI units in the column names."""
        curves, group = self.curves, self.group
        if curves is None:
            return
        names = [
            "time_utc",
            *(f"core_{t}_c" for t in JSON_AGITATIONS.values()),
            *(f"stores_{t}_c" for t in JSON_AGITATIONS.values()),
            "outside_c",
            "km",
        ]
        columns = [
            *curves.core_c[:, :, group].T,
            *curves.stores_c[:, :, group].T,
            curves.outside_c,
            curves.km,
        ]
        with path.open("w", newline="", encoding="utf-8") as file:
            table = csv.writer(file)
            table.writerow(names)
            for time, *values in zip(curves.time_s, *columns, strict=True):
                stamp = clock.local(float(time), "UTC").strftime("%Y-%m-%dT%H:%M:%SZ")
                table.writerow([stamp, *(f"{value:.3f}" for value in values)])


def _hottest_moment(curves: Curves, group: int) -> float:
    core = curves.core_c[:, TYPICAL, group]
    at = int(np.nanargmax(core)) if np.isfinite(core).any() else 0
    return float(curves.time_s[at])
