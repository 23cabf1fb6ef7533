"""Charts on the screen: the canvas that paints with Qt, in the palette in use, and a widget that shows one chart."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import pyqtgraph as pg
from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QWidget

from planner.app.common.chart import Box, Chart, Colour, Frame, Line
from planner.app.common.draw import draw, layout
from planner.model.records import Floats
from planner.ui.look import colours, theme
from planner.ui.look import strings as s
from planner.ui.look.paint import Cells

STEP, SMALL_STEP = -0.7, -1.0
ALIGNED = {
    "left": Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter,
    "middle": Qt.AlignmentFlag.AlignCenter,
    "right": Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter,
}


class ScreenMetrics:
    """How much room words take in the type of the window; every word goes through its translation."""

    def __init__(self) -> None:
        self._metrics: dict[tuple[bool, bool], QFontMetricsF] = {}

    def wide(self, words: str, *, small: bool = False, bold: bool = False) -> float:
        return self.of(small, bold).horizontalAdvance(s.say(words))

    def high(self, *, small: bool = False) -> float:
        return self.of(small, False).height()

    def of(self, small: bool, bold: bool) -> QFontMetricsF:
        key = small, bold
        if key not in self._metrics:
            self._metrics[key] = QFontMetricsF(theme.font(SMALL_STEP if small else STEP, bold=bold))
        return self._metrics[key]


class ScreenCanvas(ScreenMetrics):
    """Puts a chart down with a painter."""

    def __init__(self, paint: QPainter) -> None:
        super().__init__()
        self._paint = paint

    def fill(self, box: Box, colour: Colour, opacity: float = 1.0) -> None:
        self._paint.fillRect(_rect(box), shade(colour, opacity))

    def outline(self, box: Box, colour: Colour, width: float) -> None:
        self._smooth(True)
        self._paint.setBrush(Qt.BrushStyle.NoBrush)
        self._paint.setPen(QPen(shade(colour), width))
        self._paint.drawRoundedRect(_rect(box), 2.5, 2.5)
        self._smooth(False)

    def stroke(
        self, xs: Floats, ys: Floats, colour: Colour, width: float, dash: str = "", opacity: float = 1.0
    ) -> None:
        pen = QPen(shade(colour, opacity), width)
        if dash:
            pen.setDashPattern([float(part) / width for part in dash.split()])
        upright = xs.size == 2 and (xs[0] == xs[1] or ys[0] == ys[1])
        self._smooth(not upright)
        self._paint.setPen(pen)
        self._paint.drawPolyline(_polygon(xs, ys))
        self._smooth(False)

    def area(self, xs: Floats, ys: Floats, colour: Colour, opacity: float) -> None:
        self._smooth(True)
        self._paint.setPen(Qt.PenStyle.NoPen)
        self._paint.setBrush(shade(colour, opacity))
        self._paint.drawPolygon(_polygon(xs, ys))
        self._smooth(False)

    def disc(
        self, x: float, y: float, radius: float, fill: Colour, edge: Colour = "", width: float = 1.4
    ) -> None:
        self._smooth(True)
        self._paint.setPen(Qt.PenStyle.NoPen if edge == "" else QPen(shade(edge), width))
        self._paint.setBrush(Qt.BrushStyle.NoBrush if fill == "" else shade(fill))
        self._paint.drawEllipse(QPointF(x, y), radius, radius)
        self._smooth(False)

    def text(
        self,
        box: Box,
        words: str,
        colour: Colour,
        anchor: str = "left",
        *,
        small: bool = False,
        bold: bool = False,
    ) -> None:
        self._paint.setFont(theme.font(SMALL_STEP if small else STEP, bold=bold))
        self._paint.setPen(shade(colour))
        room = box.width + 1.0
        shown = self.of(small, bold).elidedText(s.say(words), Qt.TextElideMode.ElideRight, room)
        self._paint.drawText(_rect(box).adjusted(0, -2, 1, 2), ALIGNED[anchor], shown)

    def ink_on(self, colour: Colour) -> Colour:
        return colours.ink_on(shade(colour)).name()

    def _smooth(self, on: bool) -> None:
        self._paint.setRenderHint(QPainter.RenderHint.Antialiasing, on)


def shade(colour: Colour, opacity: float = 1.0) -> QColor:
    """The colour of a use, or of a step of the map, in the palette in use."""
    if isinstance(colour, int):
        return _faded(colours.shades()[colour].name(), opacity)
    if colour.startswith("series"):
        return _faded(theme.current().series[int(colour[-1])], opacity)
    return _faded(colour if colour.startswith("#") else getattr(theme.current(), colour), opacity)


@lru_cache(maxsize=512)
def _faded(name: str, opacity: float) -> QColor:
    return theme.colour(name, opacity)


def _rect(box: Box) -> QRectF:
    return QRectF(box.left, box.top, box.width, box.height)


def _polygon(xs: Floats, ys: Floats) -> QPolygonF:
    shape: QPolygonF = pg.functions.arrayToQPolygonF(np.ascontiguousarray(xs), np.ascontiguousarray(ys))
    return shape


class ChartView(QWidget):
    """Shows one chart; a view that answers the hand asks :meth:`frame` what lies under a point."""

    def __init__(self) -> None:
        super().__init__()
        self.chart: Chart | None = None

    def show_chart(self, chart: Chart | None) -> None:
        self.chart = chart
        self.update()

    def heading(self) -> str:
        """What the chart is called."""
        return self.accessibleName()

    def table(self) -> Cells:
        """The chart's curves read at the marks of its axis: what it shows, for those who do not see it."""
        chart = self.chart
        if chart is None:
            return (self.heading(),), ()
        lines = [mark for mark in chart.marks if isinstance(mark, Line)]
        ticks = chart.x.rows[0] if chart.x.rows else ()
        heads = (self.heading(), *(s.say(line.name) for line in lines))
        rows = []
        for tick in ticks:
            read = [np.interp(tick.at, line.xs, line.ys, np.nan, np.nan) for line in lines]
            if np.isfinite(read).any():
                told = (f"{value:.1f}" if np.isfinite(value) else "" for value in read)
                rows.append((s.say(tick.text), *told))
        return heads, tuple(rows)

    def frame(self) -> Frame | None:
        """Where the field of the chart lies on the widget."""
        return layout(self.chart, ScreenMetrics(), self._page()) if self.chart else None

    def painted(self) -> Chart | None:
        """The chart with what the hand has added to it."""
        return self.chart

    def paintEvent(self, event: QPaintEvent) -> None:
        chart = self.painted()
        if chart is not None:
            paint = QPainter(self)
            draw(chart, ScreenCanvas(paint), self._page())
            paint.end()

    def _page(self) -> Box:
        return Box(0.0, 0.0, float(self.width()), float(self.height()))
