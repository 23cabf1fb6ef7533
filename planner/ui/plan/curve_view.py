"""Temperatures inside the box from closing to opening, against the limits, with a cursor shared by all pictures."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QRectF, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QPainter, QPen, QPixmap
from PySide6.QtWidgets import QGraphicsItem

from planner.app.plan.results import AGITATIONS, TYPICAL, Curves
from planner.ui.look import clock, theme
from planner.ui.look import strings as s
from planner.units import METRIC, UnitSystem

LEFT_PX = 52
"""Width of the scale at the left, shared with the road strip so that time lines up."""
RIGHT_PX = 64
CLEAR_PEN = QPen(QColor(0, 0, 0, 0))
"""A fill between curves without any pen draws nothing at all, so the invisible edges keep a pen."""


@dataclass(frozen=True, slots=True)
class Limit:
    """One labelled line: its temperature, its sentence and how grave it is (1 caution, 2 harm)."""

    temp_c: float
    text: str
    level: int


LIMITS_SHOWN = (
    Limit(37.0, s.LIMIT_BROOD_CAUTION, 1),
    Limit(40.0, s.LIMIT_BROOD_DANGER, 2),
    Limit(45.0, s.LIMIT_WORKERS, 2),
    Limit(30.0, s.LIMIT_CHILL, 1),
)


class ClockAxis(pg.AxisItem):
    """A bottom scale in local clock time, right on daylight-saving nights."""

    def __init__(self) -> None:
        super().__init__("bottom")
        self.zone = "UTC"
        self.base_s = 0.0

    def tickValues(self, low: float, high: float, size: float) -> list:
        span_h = max((high - low) / 3600, 0.01)
        room = max(size / 58, 1)
        for every in (1, 2, 3, 4, 6, 12, 24):
            if span_h / every <= room:
                break
        base = self.base_s
        marks = clock.hours(low + base, high + base, self.zone, every) if span_h < 2000 else []
        return [(3600.0 * every, [mark - base for mark in marks])]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        return [clock.hour(value + self.base_s, self.zone) for value in values]


class TempAxis(pg.AxisItem):
    """A left scale in the user's degrees."""

    def __init__(self) -> None:
        super().__init__("left")
        self.units = METRIC

    def tickValues(self, low: float, high: float, size: float) -> list:
        shown = super().tickValues(self.units.temp(low), self.units.temp(high), size)
        return [(step, [self.units.temp_from(v) for v in values]) for step, values in shown[:1]]

    def tickStrings(self, values: Sequence[float], scale: float, spacing: float) -> list[str]:
        return [f"{self.units.temp(value):.0f}" for value in values]


class CurveView(pg.PlotWidget):
    """Shows the history of the chosen candidate and, thinner, of those compared; announces the cursor."""

    cursor_moved = Signal(float)
    span_changed = Signal(float, float)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        self._clock, self._temps = ClockAxis(), TempAxis()
        super().__init__(axisItems={"bottom": self._clock, "left": self._temps})
        self.units = units
        self.curves: Curves | None = None
        self.others: tuple[Curves, ...] = ()
        self.group = 0
        self.base_s = 0.0  # drawn from zero: instants since 1970 are too long for a drawing's numbers
        self.cursor_s = float("nan")
        self._spans: list[QGraphicsItem] = []
        self._labels: list[pg.TextItem] = []
        self._phases_drawn: tuple = ()
        self.setAccessibleName(s.say(s.CURVES_TITLE))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMinimumSize(320, 110)
        self._prepare()
        self.restyle()

    def _prepare(self) -> None:
        item = self.getPlotItem()
        item.setMenuEnabled(False)
        item.hideButtons()
        item.layout.setContentsMargins(0, 2, RIGHT_PX, 0)
        item.getAxis("left").setWidth(LEFT_PX)
        item.setMouseEnabled(x=True, y=False)
        self.band = {}
        for name in ("core", "stores"):
            low, high = pg.PlotCurveItem(pen=CLEAR_PEN), pg.PlotCurveItem(pen=CLEAR_PEN)
            fill = pg.FillBetweenItem(low, high)
            self.band[name] = (low, high, fill)
            for part in (low, high, fill):
                part.setZValue(2)
                item.addItem(part)
        self.outside = pg.PlotCurveItem(antialias=True)
        self.stores = pg.PlotCurveItem(antialias=True)
        self.core = pg.PlotCurveItem(antialias=True)
        self.compared = [pg.PlotCurveItem(antialias=True) for _ in range(3)]
        for z, curve in enumerate((self.outside, *self.compared, self.stores, self.core), start=4):
            curve.setZValue(z)
            item.addItem(curve)
        self.limits = []
        for limit in LIMITS_SHOWN:
            line = pg.InfiniteLine(limit.temp_c, angle=0)
            line.setZValue(1)
            item.addItem(line, ignoreBounds=True)
            self.limits.append((limit, line))
        self.cursor = pg.InfiniteLine(angle=90, movable=False)
        self.cursor.setZValue(30)
        self.cursor.hide()
        item.addItem(self.cursor, ignoreBounds=True)
        self.scene().sigMouseMoved.connect(self._moved)
        item.getViewBox().sigXRangeChanged.connect(lambda _, span: self._ranged(*span))
        theme.stage.changed.connect(self.restyle)

    # -- what is shown -------------------------------------------------------------------------

    def show_curves(self, curves: Curves, group: int, zone: str, others: Sequence[Curves] = ()) -> None:
        """Show box group ``group`` of ``curves``; ``others`` are drawn as thin lines of their core."""
        same_span = (
            self.curves is not None
            and np.array_equal(self.curves.time_s[[0, -1]], curves.time_s[[0, -1]])
            and len(others) == len(self.others)
        )
        self.curves, self.group, self.others = curves, group, tuple(others)
        self._clock.zone = zone
        self._clock.base_s = self.base_s = float(curves.time_s[0])
        self._draw()
        if not same_span:
            self.reset_span()
        if not curves.time_s[0] <= self.cursor_s <= curves.time_s[-1]:
            self.set_cursor(_hottest_moment(curves, group))
            self.cursor_moved.emit(self.cursor_s)

    def set_units(self, units: UnitSystem) -> None:
        self.units = self._temps.units = units
        self._temps.picture = None
        self._temps.update()
        if self.curves is not None:
            self._draw()

    def set_cursor(self, time_s: float) -> None:
        self.cursor_s = time_s
        self.cursor.setValue(time_s - self.base_s)
        self.cursor.setVisible(bool(np.isfinite(time_s)))

    def reset_span(self) -> None:
        """Show the whole trip, closing to opening."""
        if self.curves is not None:
            spans = [float(shown.time_s[-1] - shown.time_s[0]) for shown in (self.curves, *self.others)]
            self.getPlotItem().setXRange(0.0, max(spans), padding=0)

    def _draw(self) -> None:
        curves, group = self.curves, self.group
        time = curves.time_s - self.base_s
        for name, values in (("core", curves.core_c), ("stores", curves.stores_c)):
            low, high, _ = self.band[name]
            low.setData(time, values[:, :, group].min(axis=1))
            high.setData(time, values[:, :, group].max(axis=1))
        self.core.setData(time, curves.core_c[:, TYPICAL, group])
        self.stores.setData(time, curves.stores_c[:, TYPICAL, group])
        self.outside.setData(time, curves.outside_c)
        for line in self.compared:
            line.setVisible(False)
        for line, other in zip(self.compared, self.others, strict=False):
            hottest = min(group, other.core_c.shape[2] - 1)
            line.setData(other.time_s - other.time_s[0], other.core_c[:, TYPICAL, hottest])
            line.setVisible(True)
        self._fit_height()
        self._draw_phases()
        self._draw_names()

    def _fit_height(self) -> None:
        curves, group = self.curves, self.group
        shown = [curves.core_c[:, :, group], curves.stores_c[:, :, group], curves.outside_c]
        shown += [other.core_c[:, TYPICAL, min(group, other.core_c.shape[2] - 1)] for other in self.others]
        low = min((float(np.nanmin(part)) for part in shown if np.isfinite(part).any()), default=10.0)
        high = max((float(np.nanmax(part)) for part in shown if np.isfinite(part).any()), default=42.0)
        bottom, top = min(low, 28.0) - 1.0, min(max(high, 40.2), 75.0)
        room_px = max(self.getPlotItem().getViewBox().height(), 80.0)
        label_px = QFontMetricsF(theme.font(-1.2)).height() + 3  # one line of words above, one below
        per_px = (top - bottom) / max(room_px - 2 * label_px, 20.0)
        self.getPlotItem().setYRange(bottom - label_px * per_px, top + label_px * per_px, padding=0)

    def _draw_phases(self) -> None:
        item, look = self.getPlotItem(), theme.current()
        key = (self.curves.phases, look.name, theme.stage.scale)
        if key == self._phases_drawn:
            self._place_labels()
            return
        self._phases_drawn = key
        for old in (*self._spans, *self._labels):
            item.removeItem(old)
        self._spans, self._labels = [], []
        for phase in self.curves.phases:
            if phase.end_s <= phase.start_s:
                continue
            if phase.kind != "driving":
                block = pg.QtWidgets.QGraphicsRectItem(
                    QRectF(phase.start_s - self.base_s, -60, phase.end_s - phase.start_s, 220)
                )
                block.setPen(CLEAR_PEN)
                block.setBrush(theme.colour(look.ink, 0.09 if phase.kind == "stop" else 0.045))
                block.setZValue(0)
                block.setToolTip(phase.label)
                item.addItem(block, ignoreBounds=True)
                self._spans.append(block)
            words = pg.TextItem(s.say(s.PHASES[phase.kind]), color=look.ink_faint, anchor=(0.5, 1))
            words.setFont(theme.font(-1.2))
            words.phase = phase
            words.setZValue(3)
            item.addItem(words, ignoreBounds=True)
            self._labels.append(words)
        self._place_labels()

    def _draw_names(self) -> None:
        """Names at the right end of each line, pushed apart so that none covers another."""
        curves, look, group = self.curves, theme.current(), self.group
        ends = [
            (s.CURVES_CORE, curves.core_c[:, TYPICAL, group], look.core),
            (s.CURVES_STORES, curves.stores_c[:, TYPICAL, group], look.stores),
            (s.CURVES_OUTSIDE, curves.outside_c, look.outside),
        ]
        self._ends = [(s.say(text), _last_known(values), ink) for text, values, ink in ends]
        self._letters = []
        for letter, other, ink in zip("BCD", self.others, look.series[1:], strict=False):
            values = other.core_c[:, TYPICAL, min(group, other.core_c.shape[2] - 1)]
            at = int(np.nanargmax(values)) if np.isfinite(values).any() else 0
            when = float(other.time_s[at] - other.time_s[0])
            self._letters.append((letter, when, float(values[at]), ink))
        self.viewport().update()

    def restyle(self) -> None:
        """Take the colours of the current palette."""
        if self.plotItem is None:  # closed already
            return
        look = theme.current()
        self.setBackground(look.panel)
        for axis in ("left", "bottom"):
            part = self.getPlotItem().getAxis(axis)
            part.setPen(pg.mkPen(look.line))
            part.setTextPen(pg.mkPen(look.ink_soft))
            part.setStyle(tickFont=theme.font(-0.9), tickLength=-4 if axis == "bottom" else 0)
        for name, alpha in (("core", 0.20), ("stores", 0.15)):
            self.band[name][2].setBrush(theme.colour(getattr(look, name), alpha))
        self.core.setPen(pg.mkPen(look.core, width=2.4))
        self.stores.setPen(pg.mkPen(look.stores, width=1.8))
        self.outside.setPen(pg.mkPen(look.outside, width=1.3, style=Qt.PenStyle.DashLine))
        for line, ink in zip(self.compared, look.series[1:], strict=True):
            line.setPen(pg.mkPen(ink, width=1.8, style=Qt.PenStyle.DashDotLine))
        for limit, line in self.limits:
            ink = look.harm if limit.level == 2 else look.caution
            line.setPen(
                pg.mkPen(
                    ink, width=1.1, style=Qt.PenStyle.SolidLine if limit.level == 2 else Qt.PenStyle.DashLine
                )
            )
        self.getPlotItem().getAxis("bottom").setHeight(round(QFontMetricsF(theme.font(-0.9)).height()) + 8)
        self.cursor.setPen(pg.mkPen(look.accent, width=1.2))
        if self.curves is not None:
            self._draw()

    # -- painting over the plot ------------------------------------------------------------------

    def drawForeground(self, painter, rect) -> None:
        """The names of the lines stand in the right margin, in pixels."""
        super().drawForeground(painter, rect)
        if self.curves is None:
            return
        view = self.getPlotItem().getViewBox()
        frame = view.sceneBoundingRect()
        face = theme.font(-1.0)
        metrics = QFontMetricsF(face)
        painter.save()
        painter.resetTransform()
        painter.setFont(face)
        wanted = sorted(
            (view.mapViewToScene(pg.Point(0, end)).y(), text, ink)
            for text, end, ink in self._ends
            if np.isfinite(end)
        )
        below, boxes = frame.top(), []
        for y, text, ink in wanted:
            lines = text.split(" ")
            high = metrics.height() * len(lines) * 0.92
            top = max(y - high / 2, below)
            boxes.append((top, high, lines, ink))
            below = top + high + 1
        above = frame.bottom() + 8
        for top, high, lines, ink in reversed(boxes):
            top = min(top, above - high)
            above = top - 1
            painter.setPen(theme.colour(ink))
            for row, word in enumerate(lines):
                y = int(top + metrics.ascent() + row * metrics.height() * 0.92)
                painter.drawText(int(frame.right() + 6), y, word)
        self._paint_limit_names(painter, frame)
        self._paint_letters(painter, frame)
        painter.restore()

    def _paint_letters(self, painter: QPainter, frame: QRectF) -> None:
        """The compared candidates carry the letters they have on the board, each at its hottest moment."""
        view, look = self.getPlotItem().getViewBox(), theme.current()
        painter.setFont(theme.font(-1.2, bold=True))
        for letter, when, temp, ink in self._letters:
            at = view.mapViewToScene(pg.Point(when, temp))
            badge = QRectF(at.x() - 7, min(max(at.y() - 7, frame.top()), frame.bottom() - 15), 14, 14)
            if frame.left() <= at.x() <= frame.right() + 1:
                painter.setPen(Qt.PenStyle.NoPen)
                painter.setBrush(theme.colour(ink))
                painter.drawEllipse(badge)
                painter.setPen(theme.colour(look.panel))
                painter.drawText(badge, Qt.AlignmentFlag.AlignCenter, letter)

    def _paint_limit_names(self, painter: QPainter, frame: QRectF) -> None:
        """Each limit named above its line, or below it, or not at all rather than over another name."""
        look, view = theme.current(), self.getPlotItem().getViewBox()
        face = theme.font(-1.2)
        metrics = QFontMetricsF(face)
        painter.setFont(face)
        taken: list[QRectF] = []
        for limit, _ in sorted(self.limits, key=lambda pair: -pair[0].level):
            y = view.mapViewToScene(pg.Point(0, limit.temp_c)).y()
            if not frame.top() <= y <= frame.bottom():
                continue
            text = s.say(limit.text, temp=self.units.temp_text(limit.temp_c, 0))
            for box in self._label_spots(frame, y, metrics.horizontalAdvance(text) + 4, metrics.height()):
                if not any(box.intersects(other) for other in taken) and not self._crossed(box):
                    painter.setPen(theme.colour(look.ink_soft))
                    painter.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
                    taken.append(box)
                    break

    def _label_spots(self, frame: QRectF, y: float, wide: float, high: float) -> list[QRectF]:
        """Where the name of a limit may stand: above the line from left to right, then below it."""
        lefts = [
            frame.left() + 6 + share * (frame.width() - wide - 12) for share in (0.0, 0.25, 0.5, 0.75, 1.0)
        ]
        boxes = [QRectF(left, top, wide, high) for top in (y - high - 1, y + 1) for left in lefts]
        return [box for box in boxes if frame.top() - 1 <= box.top() and box.bottom() <= frame.bottom() - 12]

    def _crossed(self, box: QRectF) -> bool:
        """Whether a drawn line runs through ``box``."""
        view = self.getPlotItem().getViewBox()
        left, right = (
            view.mapSceneToView(pg.Point(x, box.top())).x() + self.base_s for x in (box.left(), box.right())
        )
        top, bottom = (
            view.mapSceneToView(pg.Point(box.left(), y)).y() for y in (box.top() - 1, box.bottom() + 1)
        )
        here = (self.curves.time_s >= left) & (self.curves.time_s <= right)
        lines = (
            self.curves.core_c[here, TYPICAL, self.group],
            self.curves.stores_c[here, TYPICAL, self.group],
            self.curves.outside_c[here],
        )
        return any(
            len(line) and np.nanmax(line) > bottom and np.nanmin(line) < top
            for line in lines
            if np.isfinite(line).any()
        )

    def _place_labels(self) -> None:
        view = self.getPlotItem().getViewBox()
        (left, right), (bottom, _) = view.viewRange()
        width_px = max(view.width(), 1.0)
        metrics = QFontMetricsF(theme.font(-1.2))
        for words in self._labels:
            phase = words.phase
            start, end = max(phase.start_s - self.base_s, left), min(phase.end_s - self.base_s, right)
            room = (end - start) / max(right - left, 1e-9) * width_px
            words.setVisible(bool(room > metrics.horizontalAdvance(words.toPlainText()) + 4))
            words.setPos((start + end) / 2, bottom)

    def _ranged(self, left: float, right: float) -> None:
        self._place_labels()
        self.span_changed.emit(left + self.base_s, right + self.base_s)

    def resizeEvent(self, event) -> None:
        super().resizeEvent(event)
        if getattr(self, "curves", None) is not None and self.plotItem is not None:
            self._fit_height()
            self._place_labels()

    # -- hands -----------------------------------------------------------------------------------

    def _moved(self, point) -> None:
        view = self.getPlotItem().getViewBox()
        if self.curves is not None and view.sceneBoundingRect().contains(point):
            self._go(view.mapSceneToView(point).x() + self.base_s)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Left: -300, Qt.Key.Key_Right: 300}.get(event.key())
        if step is None or self.curves is None:
            super().keyPressEvent(event)
        else:
            self._go(self.cursor_s + step)

    def mouseDoubleClickEvent(self, event) -> None:
        self.reset_span()

    def _go(self, time_s: float) -> None:
        time_s = float(np.clip(time_s, self.curves.time_s[0], self.curves.time_s[-1]))
        self.set_cursor(time_s)
        self.cursor_moved.emit(time_s)

    # -- export ----------------------------------------------------------------------------------

    def export_png(self, path: Path, width: int = 1800) -> None:
        """The view as it stands, as a picture ``width`` pixels wide."""
        picture = QPixmap(self.size() * (width / self.width()))
        picture.setDevicePixelRatio(width / self.width())
        self.viewport().render(picture)
        picture.save(str(path), "PNG")

    def export_svg(self, path: Path) -> None:
        """The view as it stands, as lines and letters."""
        from PySide6.QtSvg import QSvgGenerator

        drawing = QSvgGenerator()
        drawing.setFileName(str(path))
        drawing.setSize(self.size())
        drawing.setViewBox(self.rect())
        drawing.setTitle(self.accessibleName())
        self.viewport().render(drawing)

    def export_csv(self, path: Path) -> None:
        """The drawn histories as a table: one row a time step, SI units in the column names."""
        curves, group = self.curves, self.group
        names = [
            "time_utc",
            *(f"core_{t}_c" for t in AGITATIONS),
            *(f"stores_{t}_c" for t in AGITATIONS),
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
                stamp = clock.local(time, "UTC").strftime("%Y-%m-%dT%H:%M:%SZ")
                table.writerow([stamp, *(f"{value:.3f}" for value in values)])


def _hottest_moment(curves: Curves, group: int) -> float:
    core = curves.core_c[:, TYPICAL, group]
    return (
        float(curves.time_s[int(np.nanargmax(core))]) if np.isfinite(core).any() else float(curves.time_s[0])
    )


def _last_known(values: np.ndarray) -> float:
    known = values[np.isfinite(values)]
    return float(known[-1]) if len(known) else float("nan")
