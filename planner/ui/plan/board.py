"""The departure board: departures across, loading places down, each cell the hottest box of that candidate."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QColor, QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPen
from PySide6.QtWidgets import QWidget

from planner.app.common.scale import WARMTH_C
from planner.app.plan.results import CAUTION, HARM, TYPICAL, UNKNOWN, Choice, Plan
from planner.ui.look import clock, colours, theme
from planner.ui.look import strings as s
from planner.units import METRIC, UnitSystem

COMPARED = 4
BEST = 3


@dataclass(frozen=True, slots=True)
class _Frame:
    """Where things stand on the widget, in pixels."""

    cells: QRectF
    across: int
    down: int

    def cell(self, departure: int, place: int) -> QRectF:
        wide, high = self.cells.width() / self.across, self.cells.height() / self.down
        return QRectF(self.cells.left() + departure * wide, self.cells.top() + place * high, wide, high)

    def at(self, point: QPointF) -> tuple[int, int] | None:
        if not self.cells.contains(point):
            return None
        across = int((point.x() - self.cells.left()) / self.cells.width() * self.across)
        down = int((point.y() - self.cells.top()) / self.cells.height() * self.down)
        return min(across, self.across - 1), min(down, self.down - 1)


class Board(QWidget):
    """Paints one set-up of a plan; announces the cell chosen and the cells compared."""

    chosen = Signal(object)
    compared = Signal(object)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.plan: Plan | None = None
        self.choice: Choice | None = None
        self.others: tuple[Choice, ...] = ()
        self.by_verdict = False
        self.sun_deg: np.ndarray | None = None
        self.events: tuple[tuple[float, str], ...] = ()
        self._hover: tuple[int, int] | None = None
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setMouseTracking(True)
        self.setMinimumSize(320, 150)
        self.setAccessibleName(s.say(s.BOARD_TITLE))

    def sizeHint(self) -> QSize:
        return QSize(560, 300)

    # -- what is shown -------------------------------------------------------------------------

    def show_plan(self, plan: Plan, sun_deg: np.ndarray, choice: Choice | None) -> None:
        """Show ``plan``; ``sun_deg`` is the sun's height at the origin at each departure."""
        self.plan, self.sun_deg = plan, sun_deg
        self.choice, self.others = choice, ()
        self._tell()

    def choose(self, choice: Choice | None, others: tuple[Choice, ...] = ()) -> None:
        self.choice, self.others = choice, others
        self._tell()

    def set_setup(self, setup: int) -> None:
        if self.choice:
            self._take(Choice(self.choice.departure, self.choice.loading_place, setup))

    def set_by_verdict(self, by_verdict: bool) -> None:
        self.by_verdict = by_verdict
        self.update()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._tell()

    def spoken(self, choice: Choice) -> str:
        """The cell in words, for the line under the board and for screen readers."""
        where, what = self.spoken_parts(choice)
        return f"{where}\n{what}"

    def spoken_parts(self, choice: Choice) -> tuple[str, str]:
        """Which cell, and what it holds, as two sentences."""
        plan = self.plan
        zone = plan.trip.origin.zone
        where = s.say(
            s.BOARD_CELL,
            when=clock.day_hour(plan.departures_s[choice.departure], zone),
            place=plan.loading_place_titles[choice.loading_place],
            setup=plan.setup_titles[choice.setup],
        )
        calm, typical, agitated = plan.peak_c(choice)
        if not np.isfinite(typical):
            return where, s.say(s.BOARD_CELL_UNKNOWN)
        what = s.say(
            s.BOARD_CELL_PEAK,
            peak=self.units.temp_text(typical),
            calm=self.units.temp_text(calm, unit=False),
            agitated=self.units.temp_text(agitated, unit=False),
            level=s.say(s.LEVELS[plan.worst_level(choice)]),
        )
        return where, what

    def _tell(self) -> None:
        if self.plan and self.choice:
            self.setAccessibleDescription(self.spoken(self.choice))
        self.update()

    # -- hands -----------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        cell = self.plan and self._frame().at(event.position())
        if not cell or event.button() != Qt.MouseButton.LeftButton:
            return
        picked = Choice(cell[0], cell[1], self._setup)
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self._compare(picked)
        else:
            self._take(picked)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        cell = self._frame().at(event.position()) if self.plan else None
        if cell != self._hover:
            self._hover = cell
            self.setToolTip(self.spoken(Choice(*cell, self._setup)) if cell else "")
            self.update()

    def leaveEvent(self, event: QEvent) -> None:
        self._hover = None
        self.update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        steps = {
            Qt.Key.Key_Left: (-1, 0),
            Qt.Key.Key_Right: (1, 0),
            Qt.Key.Key_Up: (0, -1),
            Qt.Key.Key_Down: (0, 1),
            Qt.Key.Key_Home: (-9999, 0),
            Qt.Key.Key_End: (9999, 0),
        }
        if not self.plan or not self.choice:
            super().keyPressEvent(event)
        elif event.key() in steps:
            across, down = steps[event.key()]
            departure = min(max(self.choice.departure + across, 0), len(self.plan.departures_s) - 1)
            place = min(max(self.choice.loading_place + down, 0), len(self.plan.loading_places) - 1)
            self._take(Choice(departure, place, self.choice.setup))
        elif event.key() == Qt.Key.Key_Space:
            self._compare(self.choice)
        else:
            super().keyPressEvent(event)

    @property
    def _setup(self) -> int:
        return self.choice.setup if self.choice else 0

    def _take(self, choice: Choice) -> None:
        if choice != self.choice:
            self.choice = choice
            self._tell()
            self.chosen.emit(choice)

    def _compare(self, choice: Choice) -> None:
        kept = tuple(other for other in self.others if other != choice)
        if len(kept) == len(self.others):
            kept = (*self.others, choice)[-(COMPARED - 1) :]
        self.others = kept
        self.update()
        self.compared.emit(kept)

    # -- painting --------------------------------------------------------------------------------

    def _frame(self) -> _Frame:
        plan = self.plan
        small = QFontMetricsF(theme.font(-0.7))
        left = min(
            max(small.horizontalAdvance(title) for title in plan.loading_place_titles) + 12,
            self.width() * 0.42,
        )
        top, foot = small.height() * 2 + 16, small.height() + 26
        box = QRectF(left, top, self.width() - left - 2, max(self.height() - top - foot, 10))
        return _Frame(box, len(plan.departures_s), len(plan.loading_places))

    def paintEvent(self, event: QEvent) -> None:
        if self.plan is None:
            return
        paint = QPainter(self)
        frame = self._frame()
        paint.setFont(theme.font(-0.7))
        self._paint_places(paint, frame)
        self._paint_hours(paint, frame)
        self._paint_cells(paint, frame)
        self._paint_marks(paint, frame)
        self._paint_legend(paint, frame)

    def _paint_places(self, paint: QPainter, frame: _Frame) -> None:
        metrics = QFontMetricsF(paint.font())
        for row, title in enumerate(self.plan.loading_place_titles):
            cell = frame.cell(0, row)
            box = QRectF(0, cell.top(), frame.cells.left() - 8, cell.height())
            now = self.choice and self.choice.loading_place == row
            paint.setPen(theme.colour(theme.current().ink if now else theme.current().ink_soft))
            shown = metrics.elidedText(title, Qt.TextElideMode.ElideRight, box.width())
            paint.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, shown)

    def _paint_hours(self, paint: QPainter, frame: _Frame) -> None:
        plan, look = self.plan, theme.current()
        zone = plan.trip.origin.zone
        times, metrics = plan.departures_s, QFontMetricsF(paint.font())
        wide = frame.cells.width() / frame.across
        ribbon = QRectF(frame.cells.left(), frame.cells.top() - 9, frame.cells.width(), 6)
        for index, height in enumerate(self.sun_deg):
            share = float(np.clip((height + 6) / 12, 0, 1))
            cell = QRectF(ribbon.left() + index * wide, ribbon.top(), wide + 0.7, ribbon.height())
            paint.fillRect(cell, _blend(look.night, look.day, share))
        every = next(e for e in (1, 2, 3, 6, 12, 24) if self._hours_fit(frame, metrics, e) or e == 24)
        paint.setPen(theme.colour(look.ink_soft))
        day_right = -1.0
        for stamp in clock.hours(times[0] - 1, times[-1], zone, every):
            x = self._x(frame, stamp)
            text = clock.hour(stamp, zone)
            box = QRectF(x - 30, metrics.height() + 2, 60, metrics.height())
            if box.center().x() + metrics.horizontalAdvance(text) / 2 <= self.width():
                paint.drawText(box, Qt.AlignmentFlag.AlignCenter, text)
        for index, stamp in enumerate(times):
            new_day = (
                index == 0 or clock.local(stamp, zone).date() != clock.local(times[index - 1], zone).date()
            )
            x = frame.cells.left() + index * wide
            text = clock.day(stamp, zone)
            if new_day and x > day_right and x + metrics.horizontalAdvance(text) < self.width():
                paint.setFont(theme.font(-0.7, bold=True))
                paint.drawText(QPointF(x, metrics.ascent()), text)
                paint.setFont(theme.font(-0.7))
                day_right = x + metrics.horizontalAdvance(text) + 18

    def _hours_fit(self, frame: _Frame, metrics: QFontMetricsF, every: int) -> bool:
        span_h = max((self.plan.departures_s[-1] - self.plan.departures_s[0]) / 3600, 1)
        return frame.cells.width() / span_h * every > metrics.horizontalAdvance("00:00") + 10

    def _x(self, frame: _Frame, stamp: float) -> float:
        times = self.plan.departures_s
        index = np.interp(stamp, times, np.arange(len(times))) if len(times) > 1 else 0
        return frame.cells.left() + (float(index) + 0.5) * frame.cells.width() / frame.across

    def _paint_cells(self, paint: QPainter, frame: _Frame) -> None:
        outcomes = self.plan.outcomes
        peaks = outcomes.peak_core_c[:, :, self._setup, TYPICAL].max(axis=-1)
        worst = outcomes.verdict[:, :, self._setup, TYPICAL].max(axis=(-1, -2))
        shades = colours.shades()
        index = WARMTH_C.steps(peaks)
        gap = 1.0 if frame.cells.width() / frame.across > 6 else 0.0
        for departure in range(frame.across):
            for place in range(frame.down):
                cell = frame.cell(departure, place).adjusted(0, 0.5, -gap, -0.5)
                level = int(worst[departure, place])
                unknown = level == UNKNOWN or index[departure, place] < 0
                if unknown:
                    paint.fillRect(cell, theme.colour(theme.current().unknown))
                elif self.by_verdict:
                    paint.fillRect(cell, colours.level_colour(level))
                else:
                    paint.fillRect(cell, shades[index[departure, place]])
                _mark(
                    paint, cell, UNKNOWN if unknown else level, self._behind(index[departure, place], level)
                )

    def _behind(self, index: int, level: int) -> QColor:
        return colours.level_colour(level) if self.by_verdict else colours.shades()[max(int(index), 0)]

    def _paint_marks(self, paint: QPainter, frame: _Frame) -> None:
        look = theme.current()
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        self._paint_closing(paint, frame)
        best = [c for c in self.plan.ranking if c.setup == self._setup][:BEST]
        for choice in best:
            self._ring(paint, frame.cell(choice.departure, choice.loading_place), theme.colour(look.ink), 1.4)
        if self._hover:
            self._ring(paint, frame.cell(*self._hover), theme.colour(look.ink_soft), 1.0)
        for number, other in enumerate(self.others):
            if other.setup == self._setup:
                self._flag(paint, frame.cell(other.departure, other.loading_place), number + 1)
        if self.choice:
            cell = frame.cell(self.choice.departure, self.choice.loading_place)
            paint.setPen(QPen(theme.colour(look.accent, 0.55), 1))
            paint.drawLine(
                QPointF(cell.center().x(), frame.cells.top() - 2), QPointF(cell.center().x(), cell.top() - 2)
            )
            self._ring(paint, cell, theme.colour(look.accent), 2.4)
            if self.hasFocus():
                self._ring(paint, cell.adjusted(-3, -3, 3, 3), theme.colour(look.accent, 0.6), 1.0)

    def _paint_closing(self, paint: QPainter, frame: _Frame) -> None:
        """A row of ticks under the cells wherever the bees still fly when the boxes are shut."""
        look = theme.current()
        wide = frame.cells.width() / frame.across
        y = frame.cells.bottom() + 4
        paint.setPen(QPen(theme.colour(look.caution), 2.5, c=Qt.PenCapStyle.FlatCap))
        for index, by_day in enumerate(self.plan.closed_by_day):
            if by_day:
                x = frame.cells.left() + index * wide
                paint.drawLine(QPointF(x, y), QPointF(x + wide, y))

    def _ring(self, paint: QPainter, cell: QRectF, ink: QColor, width: float) -> None:
        short = max(0.0, 7 - cell.width()) / 2
        outline = cell.adjusted(-1 - short, -1, 1 + short, 1)
        paint.setBrush(Qt.BrushStyle.NoBrush)
        paint.setPen(QPen(theme.colour(theme.current().panel), width + 1.6))
        paint.drawRoundedRect(outline, 2.5, 2.5)
        paint.setPen(QPen(ink, width))
        paint.drawRoundedRect(outline, 2.5, 2.5)

    def _flag(self, paint: QPainter, cell: QRectF, number: int) -> None:
        ink = theme.colour(theme.current().series[number])
        self._ring(paint, cell, ink, 2.0)
        badge = QRectF(0, 0, 15, 15)
        badge.moveCenter(QPointF(cell.center().x(), cell.top() - 3))
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(ink)
        paint.drawEllipse(badge)
        paint.setPen(theme.colour(theme.current().panel))
        paint.setFont(theme.font(-1.2, bold=True))
        paint.drawText(badge, Qt.AlignmentFlag.AlignCenter, "BCD"[number - 1])
        paint.setFont(theme.font(-0.7))

    def _paint_legend(self, paint: QPainter, frame: _Frame) -> None:
        look, metrics = theme.current(), QFontMetricsF(paint.font())
        y = frame.cells.bottom() + 14
        x = 8.0
        if not self.by_verdict:
            x = self._paint_scale(paint, x, y, metrics) + 14
        keys = [(CAUTION, s.LEGEND_CAUTION), (HARM, s.LEGEND_HARM), (UNKNOWN, s.LEGEND_UNKNOWN)]
        for level, text in keys:
            box = QRectF(x, y + 1, 12, 12)
            ground = (
                colours.level_colour(level)
                if self.by_verdict or level == UNKNOWN
                else theme.colour(look.well)
            )
            paint.fillRect(box, ground)
            _mark(paint, box, level, ground)
            paint.setPen(theme.colour(look.ink_soft))
            said = s.say(text)
            paint.drawText(QPointF(x + 17, y + 11), said)
            x += 17 + metrics.horizontalAdvance(said) + 12
            if x > self.width() - 60:
                return
        x = self._paint_best_key(paint, x, y, metrics)
        if any(self.plan.closed_by_day):
            said = s.say(s.BOARD_BY_DAY)
            if x + 20 + metrics.horizontalAdvance(said) < self.width():
                paint.setPen(QPen(theme.colour(look.caution), 2.5))
                paint.drawLine(QPointF(x, y + 7), QPointF(x + 14, y + 7))
                paint.setPen(theme.colour(look.ink_soft))
                paint.drawText(QPointF(x + 19, y + 11), said)

    def _paint_best_key(self, paint: QPainter, x: float, y: float, metrics: QFontMetricsF) -> float:
        said = s.say(s.LEGEND_BEST)
        if x + 17 + metrics.horizontalAdvance(said) > self.width():
            return x
        self._ring(paint, QRectF(x + 2, y + 2, 8, 10), theme.colour(theme.current().ink), 1.4)
        paint.setPen(theme.colour(theme.current().ink_soft))
        paint.drawText(QPointF(x + 17, y + 11), said)
        return x + 17 + metrics.horizontalAdvance(said) + 12

    def _paint_scale(self, paint: QPainter, x: float, y: float, metrics: QFontMetricsF) -> float:
        width = min(170.0, self.width() * 0.26)
        shades = colours.shades()
        for step, shade in enumerate(shades):
            paint.fillRect(QRectF(x + step * width / len(shades), y, width / len(shades) + 0.6, 7), shade)
        low, high = WARMTH_C.first, WARMTH_C.last
        paint.setPen(theme.colour(theme.current().ink_soft))
        right = -1e9
        for mark in WARMTH_C.marks:
            at = x + (mark - low) / (high - low) * width
            text = self.units.temp_text(mark, 0, unit=mark == WARMTH_C.marks[-1])
            wide = metrics.horizontalAdvance(text)
            if at - wide / 2 > right + 5:
                paint.drawLine(QPointF(at, y + 7), QPointF(at, y + 9))
                paint.drawText(QPointF(at - wide / 2, y + 11 + metrics.ascent()), text)
                right = at + wide / 2
        return max(x + width, right)


def _mark(paint: QPainter, cell: QRectF, level: int, behind: QColor) -> None:
    """The shape of a level: a dot for caution, a cross for harm, a slanted stroke for unknown."""
    if level not in (CAUTION, HARM, UNKNOWN):
        return
    ink = colours.ink_on(behind)
    size = min(cell.width(), cell.height(), 11.0) * 0.5 / 2
    size = max(size, 1.6)
    middle = cell.center()
    paint.setRenderHint(QPainter.RenderHint.Antialiasing)
    if level == CAUTION:
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(ink)
        paint.drawEllipse(middle, size * 0.55, size * 0.55)
    else:
        paint.setPen(QPen(ink, 1.3))
        reach = QPointF(size, size)
        if level == HARM:
            paint.drawLine(middle - reach, middle + reach)
        slant = QPointF(size, -size)
        paint.drawLine(middle - slant, middle + slant)
    paint.setRenderHint(QPainter.RenderHint.Antialiasing, False)


def _blend(low: str, high: str, share: float) -> QColor:
    one, two = QColor(low), QColor(high)
    return QColor.fromRgbF(
        one.redF() + (two.redF() - one.redF()) * share,
        one.greenF() + (two.greenF() - one.greenF()) * share,
        one.blueF() + (two.blueF() - one.blueF()) * share,
    )
