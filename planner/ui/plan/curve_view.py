"""Temperatures inside the box on the screen: a cursor shared by all pictures, a span to zoom into, exports."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from PySide6.QtCore import QPointF, QRectF, Qt, Signal
from PySide6.QtGui import (
    QFontMetricsF,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QPixmap,
    QWheelEvent,
)

from planner.app.answer.records import Curve
from planner.app.common.chart import Band, Chart, Colour, Frame, Line, Mark, Rule
from planner.app.common.wording import JSON_AGITATIONS
from planner.app.plan.pictures import ALL_LETTERS as LETTERS
from planner.app.plan.pictures import curve_chart, whole_span_s
from planner.app.plan.results import TYPICAL, Curves
from planner.model.records import Floats
from planner.ui.look import clock, theme
from planner.ui.look import strings as s
from planner.ui.look.chart_view import STEP, ChartView, shade
from planner.ui.look.paint import Cells, focus_ring, write
from planner.units import METRIC, UnitSystem

LEFT_LETTERS, RIGHT_LETTERS = 8, 34
"""Room at the left and right in letters, shared with the road strip so that time lines up."""
KEY_STEP_S = 300.0
NARROWEST_S = 1800.0
ZOOM_PER_STEP = 1.25
WHEEL_STEP = 120.0
OTHER_DASH = "9 3 2 3"
"""B is told from A by its dashes too, on its line and on its chip."""


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
        self.candidate = ""
        self.agitated = False
        self.band: Curve | None = None
        self._whole: Chart | None = None
        self._names: list[tuple[float, str, Colour]] = []
        self.letters: tuple[str, ...] = ()
        self.own = ""
        self._held: QPointF | None = None
        self.setAccessibleName(s.say(s.CURVES_TITLE))
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(300, 150)

    # -- what is shown -------------------------------------------------------------------------

    def show_curves(self, curves: Curves, group: int, zone: str, others: Sequence[Curves] = ()) -> None:
        """Show box group ``group`` of ``curves``; ``others`` are drawn as thin lines of their core."""
        same_span = (
            self.curves is not None
            and np.array_equal(self.curves.time_s[[0, -1]], curves.time_s[[0, -1]])
            and len(others) == len(self.others)
        )
        self.curves, self.group, self.zone, self.others = curves, group, zone, tuple(others)
        self.band = None
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

    @property
    def zoomed(self) -> bool:
        """Whether only part of the trip is shown."""
        return self.curves is not None and self.span_s != whole_span_s(self.curves, self.others)

    def _set_span(self, first_s: float, last_s: float) -> None:
        self.span_s = (first_s, last_s)
        self._draw()
        self.span_changed.emit(first_s, last_s)

    def _draw(self) -> None:
        if self.curves is not None:
            chart = curve_chart(
                self.curves,
                self.group,
                self.zone,
                self.units,
                others=self.others,
                letters=self.letters or LETTERS[1:],
                span_s=self.span_s,
                reach_c=self._reach_c(),
            )
            usual = self.curves.core_c[:, TYPICAL, self.group]
            if self.agitated:
                chart = replace(chart, marks=_instead(chart, usual, self.curves.core_c[:, -1, self.group]))
            if self.band is not None:
                chart = replace(chart, marks=_instead(chart, usual, self.middle_c()))
                chart = replace(chart, marks=tuple(_banded(chart, self.band, self.curves, self.group)))
            chart = replace(chart, marks=tuple(_lettered(chart, self.own, self.letters)))
            self._whole = chart
            self._names, marks = _names_out(chart)
            self.show_chart(replace(chart, marks=marks, margins=margins()))

    def _reach_c(self) -> Floats | None:
        """What the band reaches beside the curves."""
        if self.band is None:
            return None
        return np.stack([edge[:, self.group] for edge in (self.band.core_low_c, self.band.core_high_c)])

    def show_band(self, band: Curve | None) -> None:
        """Where 90 of 100 variants lie, once that is known for what is shown; until then calm to agitated bees."""
        self.band = band
        self._draw()

    def middle_c(self) -> Floats:
        """The core of the curve shown, (time,): what half the variants stay below; till that is known, typical bees."""
        if self.curves is None:
            return np.zeros(0)
        usual = self.curves.core_c[:, TYPICAL, self.group]
        if self.band is None:
            return usual
        middle = np.interp(
            self.curves.time_s, self.band.time_s, self.band.core_c[:, self.group], np.nan, np.nan
        )
        return np.where(np.isfinite(middle), middle, usual)

    def set_agitated(self, agitated: bool) -> None:
        """Draw the boxes with agitated bees instead of typical ones."""
        self.agitated = agitated
        self._draw()

    def painted(self) -> Chart | None:
        if self.chart is None or not np.isfinite(self.cursor_s):
            return self.chart
        return self.chart.with_marks(Rule(self.cursor_s, "x", "accent", 1.2))

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        frame = self.frame()
        if frame is None or self.curves is None:
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_names(paint, frame)
        self._paint_flag(paint, frame)
        focus_ring(paint, self)
        paint.end()

    def _paint_names(self, paint: QPainter, frame: Frame) -> None:
        """Limits and curves named in the right margin, each as near to its line as the others let it."""
        high = QFontMetricsF(theme.font(STEP)).height()
        left = frame.field.right + 6.0
        wanted = [(float(frame.up(at)), text, colour) for at, text, colour in self._names]
        inside = [one for one in wanted if frame.field.top - 4 <= one[0] <= frame.field.bottom + 4]
        for y, (_, text, colour) in zip(
            spread([y for y, _, _ in sorted(inside)], high, self.height()), sorted(inside), strict=True
        ):
            box = QRectF(left, y - high / 2, self.width() - left - 2, high)
            write(paint, box, text, _readable(colour), step=STEP)

    def _paint_flag(self, paint: QPainter, frame: Frame) -> None:
        """The values at the cursor, on a little plate beside it."""
        lines = self.flag_lines()
        if not lines:
            return
        metrics = QFontMetricsF(theme.font(STEP))
        wide = max(metrics.horizontalAdvance(line) for line in lines) + 20
        high = metrics.height() * len(lines) + 10
        x = float(frame.across(self.cursor_s))
        if not frame.field.left <= x <= frame.field.right:
            return
        left = x + 8 if x + 8 + wide < frame.field.right else x - 8 - wide
        top = frame.field.top + 6
        look = theme.current()
        paint.setPen(QPen(theme.colour(look.edge), 1))
        paint.setBrush(theme.colour(look.panel, 0.94))
        paint.drawRoundedRect(QRectF(left, top, wide, high), 5, 5)
        for number, line in enumerate(lines):
            box = QRectF(left + 9, top + 5 + number * metrics.height(), wide - 12, metrics.height())
            write(paint, box, line, look.ink, bold=number == 0, step=STEP)

    def flag_lines(self) -> list[str]:
        """What the plate at the cursor says: when and where, the core with its range, the others, the surroundings."""
        curves = self.curves
        if curves is None or not np.isfinite(self.cursor_s):
            return []
        at = int(np.clip(np.searchsorted(curves.time_s, self.cursor_s), 0, len(curves.time_s) - 1))
        km, temp = float(curves.km[at]), self.units.temp_text
        lines = [
            s.say(
                s.FLAG_TIME,
                when=clock.day_hour(self.cursor_s, self.zone),
                distance=self.units.distance_text(km),
            )
        ]
        calm, _, agitated = (float(v) for v in curves.core_c[at, :, self.group])
        typical = float(self.middle_c()[at])
        if np.isfinite(typical):
            low, high = sorted((calm, agitated))
            if self.band is not None:
                low, high = _band_at(self.band, self.cursor_s, self.group, typical)
            lines.append(
                s.say(
                    s.FLAG_CORE,
                    value=temp(typical),
                    low=temp(min(low, typical), unit=False),
                    high=temp(max(high, typical), unit=False),
                )
            )
        for letter, other in zip(self.letters, self.others, strict=False):
            shift = self.cursor_s - curves.time_s[0] + other.time_s[0]
            group = min(self.group, other.core_c.shape[2] - 1)
            value = float(np.interp(shift, other.time_s, other.core_c[:, TYPICAL, group], np.nan, np.nan))
            if np.isfinite(value):
                lines.append(s.say(s.FLAG_OTHER, letter=letter, value=temp(value)))
        stores, outside = float(curves.stores_c[at, TYPICAL, self.group]), float(curves.outside_c[at])
        if np.isfinite(stores):
            lines.append(s.say(s.FLAG_STORES, stores=temp(stores), outside=temp(outside)))
        else:
            lines.append(s.say(s.FLAG_OUTSIDE, outside=temp(outside)))
        return lines

    def heading(self) -> str:
        return self.candidate

    def table(self) -> Cells:
        """The histories every quarter of an hour."""
        curves = self.curves
        if curves is None:
            return (), ()
        heads = tuple(
            s.say(name)
            for name in (s.READ_TIME, s.READ_KM, s.READ_CORE, s.READ_AGITATED, s.READ_STORES, s.READ_OUTSIDE)
        )
        middle = self.middle_c()
        every = max(int(900 / max(float(np.median(np.diff(curves.time_s))), 1.0)), 1)
        rows = []
        for at in range(0, len(curves.time_s), every):
            values = (
                middle[at],
                curves.core_c[at, -1, self.group],
                curves.stores_c[at, TYPICAL, self.group],
                curves.outside_c[at],
            )
            told = tuple(self.units.temp_text(float(v)) if np.isfinite(v) else "" for v in values)
            when = clock.day_hour(float(curves.time_s[at]), self.zone)
            rows.append((when, self.units.distance_text(float(curves.km[at])), *told))
        return heads, tuple(rows)

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
        """Zoom in and out around the instant under the mouse while Ctrl is held; without it the page scrolls."""
        frame = self.frame()
        held = event.modifiers() & Qt.KeyboardModifier.ControlModifier
        if frame is None or self.curves is None or not held:
            event.ignore()
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
        """The chart with the span shown, its limits and curves named, as lines and letters, in the colours of paper."""
        if self._whole is not None:
            from planner.app.common.svg import chart_svg

            drawing = chart_svg(self._whole.titled(self._title()), float(self.width()), float(self.height()))
            path.write_text(drawing, encoding="utf-8")

    def _title(self) -> str:
        """What is drawn of whom, and what its band holds."""
        said = s.CURVES_BAND_BEES if self.band is None else s.CURVES_BAND_VARIANTS
        return s.say(said, heading=self.candidate or s.say(s.CURVES_TITLE))

    def export_csv(self, path: Path) -> None:
        """The histories as a table: one row a time step, SI units in the column names."""
        curves, group = self.curves, self.group
        if curves is None:
            return
        names = [
            "time_utc",
            *(f"core_{t}_c" for t in JSON_AGITATIONS.values()),
            *(f"stores_{t}_c" for t in JSON_AGITATIONS.values()),
            "core_half_c",
            "outside_c",
            "km",
        ]
        columns = [
            *curves.core_c[:, :, group].T,
            *curves.stores_c[:, :, group].T,
            self.middle_c(),
            curves.outside_c,
            curves.km,
        ]
        with path.open("w", newline="", encoding="utf-8") as file:
            table = csv.writer(file)
            table.writerow([f"# {self.candidate}"])
            table.writerow(names)
            for time, *values in zip(curves.time_s, *columns, strict=True):
                stamp = clock.local(float(time), "UTC").strftime("%Y-%m-%dT%H:%M:%SZ")
                table.writerow([stamp, *(f"{value:.3f}" for value in values)])


def margins() -> tuple[float, float]:
    """Pixels left and right of every picture on this time axis, in the type in use."""
    letter = QFontMetricsF(theme.font(STEP)).averageCharWidth()
    return LEFT_LETTERS * letter, RIGHT_LETTERS * letter


def spread(wanted: Sequence[float], high: float, room: float) -> list[float]:
    """Heights in rising order moved apart so that lines of text ``high`` pixels tall do not touch."""
    placed: list[float] = []
    for y in wanted:
        placed.append(max(y, placed[-1] + high) if placed else max(y, high / 2))
    over = (placed[-1] + high / 2 - room) if placed else 0.0
    for number in range(len(placed) - 1, -1, -1):
        if over <= 0:
            break
        below = placed[number + 1] - high if number + 1 < len(placed) else room - high / 2
        placed[number] = min(placed[number], below)
    return placed


def _names_out(chart: Chart) -> tuple[list[tuple[float, str, Colour]], tuple[Mark, ...]]:
    """The names of limits and curves taken out of the field, for the margin; and the marks without them."""
    names: list[tuple[float, str, Colour]] = []
    marks: list[Mark] = []
    for mark in chart.marks:
        if isinstance(mark, Rule) and mark.axis == "y" and mark.text:
            names.append((mark.at, mark.text, mark.colour))
            marks.append(replace(mark, text=""))
        elif isinstance(mark, Line) and mark.name:
            known = np.flatnonzero(np.isfinite(mark.ys) & (mark.xs <= chart.x.high))
            if known.size:
                names.append((float(mark.ys[known[-1]]), mark.name, mark.colour))
            marks.append(replace(mark, name=""))
        else:
            marks.append(mark)
    return names, tuple(marks)


def _instead(chart: Chart, usual: Floats, other: Floats) -> tuple[Mark, ...]:
    """The same marks with another curve of the core where the usual one is drawn."""
    return tuple(
        replace(mark, ys=other)
        if isinstance(mark, Line)
        and mark.ys.shape == usual.shape
        and np.array_equal(mark.ys, usual, equal_nan=True)
        else mark
        for mark in chart.marks
    )


def _banded(chart: Chart, band: Curve, curves: Curves, group: int) -> Iterator[Mark]:
    """The same marks with the range of the core as 5 to 95 of 100 variants have it."""
    calm = curves.core_c[:, 0, group]
    for mark in chart.marks:
        core = isinstance(mark, Band) and mark.colour == "core"
        if core and isinstance(mark, Band) and mark.low.shape == calm.shape:
            yield Band(
                band.time_s, band.core_low_c[:, group], band.core_high_c[:, group], "core", mark.opacity
            )
        else:
            yield mark


def _lettered(chart: Chart, own: str, others: Sequence[str]) -> Iterator[Mark]:
    """The same marks, each core in the colour and under the name of the letter it is pinned by."""
    if not own and not others:
        yield from chart.marks
        return
    ink = f"series{LETTERS.index(own)}" if own else "ink"  # beside A and B a third is neither's colour
    for mark in chart.marks:
        if isinstance(mark, Line) and mark.colour == "core":
            dash = OTHER_DASH if own == "B" else ""
            yield replace(mark, colour=ink, dash=dash, name=_core_name(own))
        elif isinstance(mark, Band) and mark.colour == "core":
            yield replace(mark, colour=ink)
        elif isinstance(mark, Line) and mark.name in others:
            dash = OTHER_DASH if mark.name == "B" else ""
            yield replace(mark, dash=dash, name=_core_name(mark.name))
        else:
            yield mark


def _core_name(letter: str) -> str:
    return s.say(s.CURVE_CORE_OF, letter=letter) if letter else s.say(s.CURVE_CORE_SHOWN)


def _band_at(band: Curve, time_s: float, group: int, typical: float) -> tuple[float, float]:
    low, high = (
        float(np.interp(time_s, band.time_s, edge[:, group])) for edge in (band.core_low_c, band.core_high_c)
    )
    return (low if np.isfinite(low) else typical), (high if np.isfinite(high) else typical)


def _readable(colour: Colour) -> str:
    """A colour of a mark as ink for words: the fainter ones give way to the ink for text."""
    look = theme.current()
    if colour in ("caution", "clear", "unknown", "ink_faint"):
        return look.ink_soft
    return look.harm_ink if colour == "harm" else shade(colour).name()


def _hottest_moment(curves: Curves, group: int) -> float:
    core = curves.core_c[:, TYPICAL, group]
    at = int(np.nanargmax(core)) if np.isfinite(core).any() else 0
    return float(curves.time_s[at])
