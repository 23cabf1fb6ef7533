"""The departure board on the screen: a figure in every cell, classes in steps, rows that are alike folded into one."""

from __future__ import annotations

import math
from collections.abc import Mapping

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import (
    QFocusEvent,
    QFontMetricsF,
    QHelpEvent,
    QKeyEvent,
    QMouseEvent,
    QPainter,
    QPaintEvent,
    QPen,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractScrollArea, QFrame, QToolTip

from planner.app.answer.board import class_step
from planner.app.answer.records import CLASSES, Candidate
from planner.store.rules import answer_rules
from planner.ui.look import clock, theme
from planner.ui.look import strings as s
from planner.ui.look.classes import fill_class, ink_of, words_on
from planner.ui.look.paint import Cells, write
from planner.ui.plan.board_layout import (
    CORNER_STEP,
    KEY_GAP_PX,
    KEY_PX,
    ROW_GAP_PX,
    STEP,
    TITLE_EDGE_PX,
    WRAPPED,
    BoardLayout,
    apart,
    lay_out,
    title_font,
)
from planner.ui.plan.seen import CLASS_WORDS, UNKNOWN, Row, Table, cell_words, class_of, figure_text
from planner.units import METRIC, UnitSystem

HARM, HEADROOM = "harm", "headroom"
TWILIGHT_DEG = 6.0
STEPS = {
    Qt.Key.Key_Left: (-1, 0),
    Qt.Key.Key_Right: (1, 0),
    Qt.Key.Key_Up: (0, -1),
    Qt.Key.Key_Down: (0, 1),
    Qt.Key.Key_Home: (-9999, 0),
    Qt.Key.Key_End: (9999, 0),
}
Cell = tuple[int, int]
"""Departure and row."""


class Board(QAbstractScrollArea):
    """Shows a table of candidates; announces the one chosen and those pinned."""

    chosen = Signal(object)
    pinned = Signal(object)

    def __init__(self, units: UnitSystem = METRIC) -> None:
        super().__init__()
        self.units = units
        self.shown: Table | None = None
        self.at: Cell | None = None
        self.sun_deg: tuple[float, ...] = ()
        self.pins: Mapping[str, Cell] = {}
        self.view = HARM
        self._hover: Cell | None = None
        self._laid: tuple[object, BoardLayout] | None = None
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.viewport().setMouseTracking(True)
        self.viewport().setAutoFillBackground(False)
        self.setMinimumSize(280, 130)
        self.setAccessibleName(s.say(s.BOARD_TITLE))

    def sizeHint(self) -> QSize:
        return QSize(560, 240)

    # -- what is shown -------------------------------------------------------------------------

    def show_table(self, table: Table | None, chosen: Candidate | None) -> None:
        """Show these candidates, the one ``chosen`` marked."""
        self.shown, self._laid = table, None
        self._hover = None
        self._settle()
        self.choose(chosen)

    def choose(self, candidate: Candidate | None) -> None:
        """Mark the candidate looked at."""
        self.at = self.shown.find(candidate) if self.shown and candidate else None
        if self.at is not None:
            self._reveal(self.at)
        self._tell()

    def show_pins(self, pins: Mapping[str, Candidate]) -> None:
        """Mark the candidates that are compared with their letters."""
        found = {letter: self.shown.find(one) for letter, one in pins.items()} if self.shown else {}
        self.pins = {letter: cell for letter, cell in found.items() if cell is not None}
        self.viewport().update()

    def set_view(self, view: str) -> None:
        """Harm of 100, or headroom."""
        self.view = view
        self._tell()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._tell()

    def candidate(self, cell: Cell | None) -> Candidate | None:
        if self.shown is None or cell is None or cell[1] >= len(self.shown.rows):
            return None
        return self.shown.rows[cell[1]].at(cell[0])

    def title_of(self, row: Row) -> str:
        """A row's title, with how many more fare alike."""
        return s.say(s.BOARD_ALIKE, row=row.title, count=len(row.alike)) if row.alike else row.title

    def spoken(self, cell: Cell | None) -> str:
        """The cell in words, for its tip and for screen readers."""
        held, table = self.candidate(cell), self.shown
        if held is None or table is None:
            return ""
        return f"{table.words(held)}: {cell_words(held, self.units)}"

    def heading(self) -> str:
        return s.say(s.BOARD_TITLE)

    def table(self) -> Cells:
        """Every cell's figure: rows as on the board, departures across."""
        table = self.shown
        if table is None:
            return (), ()
        heads = ("", *(clock.day_hour(at, table.zone) for at in table.departures_s))
        rows = tuple(
            (self.title_of(row), *(self.figure(row.at(d))[0] for d in range(len(table.departures_s))))
            for row in table.rows
        )
        return heads, rows

    def figure(self, cell: Candidate | None) -> tuple[str, str]:
        """What is written in a cell, and its class."""
        if cell is None:
            return "", ""
        if self.view == HARM:
            if cell.harm_of_100 is None:
                return "?", UNKNOWN
            return figure_text(cell.harm_of_100.value), class_of(cell.harm_of_100.value)
        if cell.headroom_k is None:
            return "?", UNKNOWN
        step = class_step(cell, headroom=True)
        name = UNKNOWN if step is None else CLASSES[step]
        return f"{self.units.temp_step(cell.headroom_k.p50):+.0f}", name

    def _tell(self) -> None:
        self.setAccessibleDescription(self.spoken(self.at))
        self.viewport().update()

    # -- where things lie ------------------------------------------------------------------------

    @property
    def laid(self) -> BoardLayout:
        """Measured once for what is shown in the room and type there are: a paint asks for it cell by cell."""
        room = self.viewport().size()
        key = (room, self.view, theme.stage.scale)
        if self._laid is None or self._laid[0] != key:
            self._laid = key, self._lay_out(room)
        return self._laid[1]

    def _lay_out(self, room: QSize) -> BoardLayout:
        table = self.shown
        titles = tuple(self.title_of(row) for row in table.rows) if table else ()
        departures = len(table.departures_s) if table else 0
        widest = "100" if self.view == HARM else "+10"
        keys, short = self._legend_parts(), self._legend_parts(short=True)
        return lay_out(room, titles, departures, widest, keys, short)

    def whole_high(self, wide: int, more: float = 0.0) -> int:
        """How tall the board has to be for all of its rows, each with so many pixels ``more`` than it needs."""
        laid = self._lay_out(QSize(wide, 10_000))
        rows = len(self.shown.rows) if self.shown else 0
        return math.ceil(laid.field.top() + (laid.row_high + more) * rows + laid.foot + 2.0)

    def whole_wide(self, least: int) -> int:
        """How wide the board has to be for all of its departures, ``least`` at least."""
        count, wide = len(self.shown.departures_s) if self.shown else 0, least
        for _ in range(20):  # titles grow with the room until they stand in one line
            laid = self._lay_out(QSize(wide, 10_000))
            more = laid.cell_wide * count - (laid.field.width() - 2.0)
            if more < 1.0:
                break
            wide += math.ceil(more)
        return wide

    def rows_in_sight(self) -> int:
        """How many whole rows fit."""
        return int((self.laid.field.height() + 1.0) / self.laid.cell_high)

    def _settle(self) -> None:
        """How far the view scrolls."""
        laid = self.laid
        sizes = int(laid.field.width() - 2), int(laid.field.height())
        steps = int(laid.cell_wide), int(laid.cell_high)
        bars = self.horizontalScrollBar(), self.verticalScrollBar()
        for bar, over, needed, size, step in zip(
            bars, self._over(laid), self._bars(), sizes, steps, strict=True
        ):
            bar.setPageStep(max(size, 1))
            bar.setRange(0, max(over, 1) if needed else 0)
            bar.setSingleStep(step)

    def _over(self, laid: BoardLayout) -> tuple[int, int]:
        """By how many pixels the cells are wider and taller than their field."""
        table = self.shown
        count = (len(table.departures_s), len(table.rows)) if table else (0, 0)
        wide = laid.cell_wide * count[0] - int(laid.field.width() - 2)
        high = laid.cell_high * count[1] - int(laid.field.height())
        return max(round(wide), 0), max(round(high), 0)

    def _bars(self) -> tuple[bool, bool]:
        """Whether there is a bar across and one down, by the room without either.

        Rows change their height with the width of their titles: bars that come and go by what they leave of the room
        may do so for ever.
        """
        whole = self.maximumViewportSize()
        as_needed = Qt.ScrollBarPolicy.ScrollBarAsNeeded
        takes_high = self.horizontalScrollBar().sizeHint().height()
        takes_wide = self.verticalScrollBar().sizeHint().width()
        across = down = False
        for _ in range(3):  # one may bring the other; none goes again
            high = whole.height() - takes_high * (across and self.horizontalScrollBarPolicy() == as_needed)
            wide = whole.width() - takes_wide * (down and self.verticalScrollBarPolicy() == as_needed)
            over = self._over(self._lay_out(QSize(wide, high)))
            across, down = across or over[0] > 0, down or over[1] > 0
        return across, down

    def _first(self) -> int:
        """The first departure in sight: the view scrolls by whole cells, wherever the bar is drawn to."""
        return round(self.horizontalScrollBar().value() / self.laid.cell_wide)

    def _first_row(self) -> int:
        return round(self.verticalScrollBar().value() / self.laid.cell_high)

    def _box(self, cell: Cell) -> QRectF:
        laid = self.laid
        x = laid.field.left() + (cell[0] - self._first()) * laid.cell_wide
        y = laid.field.top() + (cell[1] - self._first_row()) * laid.cell_high
        return QRectF(x, y, laid.cell_wide, laid.cell_high)

    def _reveal(self, cell: Cell) -> None:
        box, field = self._box(cell), self.laid.field
        across, down = self.horizontalScrollBar(), self.verticalScrollBar()
        if box.left() < field.left() or box.right() > field.right():
            across.setValue(int(across.value() + box.center().x() - field.center().x()))
        high = box.height()
        first, whole = down.value() / high, max(int(field.height() / high), 1)
        if cell[1] < first - 0.01:
            down.setValue(math.ceil(cell[1] * high))
        elif cell[1] >= first + whole:
            down.setValue(math.ceil((cell[1] - whole + 1) * high))

    def cell_at(self, x: float, y: float) -> Cell | None:
        """Departure and row under a point of the viewport."""
        table, laid = self.shown, self.laid
        field = laid.field
        if table is None or not field.contains(x, y):
            return None
        cell = (
            int((x - field.left()) // laid.cell_wide) + self._first(),
            int((y - field.top()) // laid.cell_high) + self._first_row(),
        )
        return cell if cell[0] < len(table.departures_s) and cell[1] < len(table.rows) else None

    # -- painting --------------------------------------------------------------------------------

    def paintEvent(self, event: QPaintEvent) -> None:
        paint = QPainter(self.viewport())
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        if self.shown is not None and self.shown.departures_s:
            self._paint(paint, self.shown)
        paint.end()

    def _paint(self, paint: QPainter, table: Table) -> None:
        field = self.laid.field
        self._paint_hours(paint, table, field)
        self._paint_labels(paint, table, field)
        paint.save()
        paint.setClipRect(field.adjusted(-2, -3, 2, 3))
        paint.setFont(theme.font(STEP))
        for number, row in enumerate(table.rows):
            for departure in row.cells:
                box = self._box((departure, number))
                if field.contains(box.center()):  # whole cells: none shows as a sliver at an edge
                    self._paint_cell(paint, box.adjusted(0, 0, -1.5, -1.5), row.at(departure))
        self._paint_rings(paint)
        paint.restore()
        self._paint_legend(paint)

    def _paint_cell(self, paint: QPainter, box: QRectF, cell: Candidate | None) -> None:
        text, name = self.figure(cell)
        if cell is None or not name:
            return
        fill_class(paint, box, name)
        words_on(paint, box, text, name)
        ink = ink_of(name)
        if not cell.fits or cell.misses:  # a slanted stroke over the corner: not as wished, or no room
            paint.setPen(QPen(ink, 1.6))
            paint.drawLine(box.topRight() + QPointF(-7, 1), box.topRight() + QPointF(-1, 7))
        if cell.harm_agitated:  # half a cross in the corner: agitated bees are harmed
            paint.setPen(QPen(ink, 1.6))
            paint.drawLine(box.bottomLeft() + QPointF(2, -2), box.bottomLeft() + QPointF(8, -8))
            paint.drawLine(box.bottomLeft() + QPointF(2, -8), box.bottomLeft() + QPointF(5, -5))

    def _paint_rings(self, paint: QPainter) -> None:
        look, table = theme.current(), self.shown
        if table is None:
            return
        if self._hover:
            self._ring(paint, self._hover, look.ink_soft, 1.2)
        best = table.find(table.best) if table.best else None
        if best:
            self._ring(paint, best, look.accent, 2.0, dashed=best != self.at)
        for letter, cell in self.pins.items():
            self._ring(paint, cell, look.series[1 if letter == "B" else 0], 2.0)
        if self.at:
            self._ring(paint, self.at, look.ink, 3.2 if self.hasFocus() else 2.4)
        for letter, cell in self.pins.items():  # the letters last: no ring lies over them
            corner = self._box(cell).topLeft() + QPointF(5, 3)  # beside the figure, not over it
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(theme.colour(look.series[1 if letter == "B" else 0]))
            paint.drawEllipse(corner, 6.5, 6.5)
            paint.setPen(theme.colour(look.panel))
            paint.setFont(theme.font(-1.4, bold=True))
            paint.drawText(
                QRectF(corner.x() - 7, corner.y() - 7, 14, 14), Qt.AlignmentFlag.AlignCenter, letter
            )

    def _ring(self, paint: QPainter, cell: Cell, ink: str, width: float, *, dashed: bool = False) -> None:
        box = self._box(cell).adjusted(-0.5, -0.5, -1.0, -1.0)
        paint.setBrush(Qt.BrushStyle.NoBrush)
        paint.setPen(QPen(theme.colour(theme.current().panel), width + 1.8))
        paint.drawRoundedRect(box, 2.5, 2.5)
        paint.setPen(
            QPen(theme.colour(ink), width, Qt.PenStyle.DashLine if dashed else Qt.PenStyle.SolidLine)
        )
        paint.drawRoundedRect(box, 2.5, 2.5)

    def _paint_labels(self, paint: QPainter, table: Table, field: QRectF) -> None:
        look = theme.current()
        paint.save()
        paint.setClipRect(QRectF(0, field.top(), field.left(), field.height()))
        for number, row in enumerate(table.rows):
            box = self._box((0, number))
            room = QRectF(2, box.top(), field.left() - TITLE_EDGE_PX, box.height() - ROW_GAP_PX)
            strong = self.at is not None and self.at[1] == number
            title = self.title_of(row)
            paint.setFont(title_font(title, room, bold=strong))
            paint.setPen(theme.colour(look.ink if strong else look.ink_soft))
            paint.drawText(room, WRAPPED, title)
        paint.restore()

    def _paint_hours(self, paint: QPainter, table: Table, field: QRectF) -> None:
        """Full hours above the cells, and each day above its first."""
        look, metrics = theme.current(), QFontMetricsF(theme.font(STEP))
        self._paint_sky(paint, field)
        hours = [clock.hour(at, table.zone) for at in table.departures_s]
        every = len(hours) < 12 or not any(hour.endswith(":00") for hour in hours)
        free, heads = field.left() - 30.0, dict[str, QRectF]()
        for number, at in enumerate(table.departures_s):
            box = self._box((number, 0))
            x = box.center().x()
            if not field.left() <= x <= field.right():
                continue
            today, hour = clock.day(at, table.zone), hours[number]
            line = QRectF(0, field.top() - metrics.height() - 6, 0, metrics.height())
            if today not in heads:
                wide = metrics.horizontalAdvance(today) + 12
                heads[today] = QRectF(
                    min(box.left(), field.right() - wide),
                    line.top() - metrics.height(),
                    wide,
                    metrics.height(),
                )
            wide = metrics.horizontalAdvance(hour)
            if (hour.endswith(":00") or every) and x - wide / 2 > free:
                write(
                    paint,
                    QRectF(x - wide / 2 - 1, line.top(), wide + 4, line.height()),
                    hour,
                    look.ink_soft,
                )
                free = x + wide / 2 + 7
        for today, head in apart(heads).items():
            write(paint, head, today, look.ink, bold=True)

    def _paint_sky(self, paint: QPainter, field: QRectF) -> None:
        """A thin strip above the cells: night, twilight, day at each departure."""
        look = theme.current()
        for number, height in enumerate(self.sun_deg):
            box = self._box((number, 0))
            left, right = max(box.left(), field.left()), min(box.right(), field.right())
            if right > left:
                strip = QRectF(left, field.top() - 5.0, right - left + 0.5, 3.5)
                paint.fillRect(strip, theme.colour(look.night))
                share = min(max((height + TWILIGHT_DEG) / (2 * TWILIGHT_DEG), 0.0), 1.0)
                paint.fillRect(strip, theme.colour(look.day, share))

    def _legend_parts(self, *, short: bool = False) -> list[tuple[str, str]]:
        """Class and words of each key; ``short`` leaves the class's name out."""
        if self.view == HEADROOM:
            return []
        parts: list[tuple[str, str]] = []
        low = 0
        for name, last in answer_rules().classes:
            high = int(last)
            called = {} if short else {"name": s.say(CLASS_WORDS[name])}
            if name == CLASSES[-1]:
                words = s.say(s.CLASS_SPAN_OVER if short else s.CLASS_KEY_OVER, low=low - 1, **called)
            else:
                words = s.say(s.CLASS_SPAN if short else s.CLASS_KEY, low=low, high=high, **called)
            parts.append((name, words))
            low = high + 1
        return parts

    def _paint_legend(self, paint: QPainter) -> None:
        metrics, view = QFontMetricsF(theme.font(STEP)), self.viewport()
        if self.laid.in_corner:
            self._paint_corner(paint)
            return
        x, y = 2.0, view.height() - self.laid.foot + 10.0
        for name, words in self._legend_parts():
            wide = metrics.horizontalAdvance(words)
            if x + wide + KEY_PX > view.width():
                x, y = 2.0, y + metrics.height() + 3
            self._paint_key(paint, QRectF(x, y, wide + 4, metrics.height()), name, words)
            x += wide + KEY_PX + KEY_GAP_PX

    def _paint_corner(self, paint: QPainter) -> None:
        metrics, lines = QFontMetricsF(theme.font(CORNER_STEP)), self.laid.corner
        high = min((self.laid.field.top() - 6.0) / len(lines), metrics.height() + 3.0)
        for number, keys in enumerate(lines):
            for name, words, x in keys:
                room = QRectF(x, number * high, metrics.horizontalAdvance(words) + 4, high)
                self._paint_key(paint, room, name, words, step=CORNER_STEP)

    def _paint_key(self, paint: QPainter, room: QRectF, name: str, words: str, *, step: float = STEP) -> None:
        """A class's colour at the left edge of ``room``, its words beside it."""
        look = theme.current()
        swatch = QRectF(room.left(), room.center().y() - 5.5, 11, 11)
        fill_class(paint, swatch, name)
        paint.setPen(QPen(theme.colour(look.edge), 1))
        paint.setBrush(Qt.BrushStyle.NoBrush)
        paint.drawRect(swatch)
        write(paint, room.translated(KEY_PX, 0), words, look.ink_soft, step=step)

    # -- hands -----------------------------------------------------------------------------------

    def mousePressEvent(self, event: QMouseEvent) -> None:
        cell = self.cell_at(event.position().x(), event.position().y())
        if cell is None or event.button() != Qt.MouseButton.LeftButton or self.candidate(cell) is None:
            return
        if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            self.pinned.emit(self.candidate(cell))
        else:
            self._take(cell)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        cell = self.cell_at(event.position().x(), event.position().y())
        if cell != self._hover:
            self._hover = cell
            self.viewport().update()

    def viewportEvent(self, event: QEvent) -> bool:
        if event.type() == QEvent.Type.ToolTip and isinstance(event, QHelpEvent):
            words = self.spoken(self.cell_at(event.pos().x(), event.pos().y()))
            QToolTip.showText(event.globalPos(), f"{words}\n{s.say(s.BOARD_HINT)}" if words else "", self)
            return True
        if event.type() == QEvent.Type.Leave:
            self._hover = None
            self.viewport().update()
        return super().viewportEvent(event)

    def resizeEvent(self, event: QResizeEvent) -> None:
        self._settle()
        if self.at:
            self._reveal(self.at)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "shown"):
            self._settle()

    def focusInEvent(self, event: QFocusEvent) -> None:
        self.viewport().update()

    def focusOutEvent(self, event: QFocusEvent) -> None:
        self.viewport().update()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        step = STEPS.get(Qt.Key(event.key()))
        if self.shown and self.at and step:
            self._walk(*step)
        elif self.at and event.key() == Qt.Key.Key_Space:
            self.pinned.emit(self.candidate(self.at))
        else:
            super().keyPressEvent(event)

    def _walk(self, across: int, down: int) -> None:
        """To the next cell that way that holds a candidate."""
        table = self.shown
        if table is None or self.at is None:
            return
        last = len(table.departures_s) - 1, len(table.rows) - 1
        cell = self.at
        while True:
            cell = cell[0] + (across > 0) - (across < 0), cell[1] + (down > 0) - (down < 0)
            if not (0 <= cell[0] <= last[0] and 0 <= cell[1] <= last[1]):
                break
            if self.candidate(cell) is not None:
                self._take(cell)
                if abs(across) < 2:
                    break

    def _take(self, cell: Cell) -> None:
        if cell != self.at:
            self.at = cell
            self._reveal(cell)
            self._tell()
            self.chosen.emit(self.candidate(cell))
