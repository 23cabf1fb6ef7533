"""The window of departures as a bar on the clock: which hours are good, and where the best lies."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QMouseEvent, QPainter, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from planner.ui.look import clock, theme
from planner.ui.look import strings as s
from planner.ui.look.classes import fill_class, words_on
from planner.ui.plan.seen import CLASS_WORDS, UNKNOWN, ClockShare

HOURS_APART_PX = 26.0


class ClockBar(QWidget):
    """Shows the least harm of each departure; a click announces the departure under it."""

    chosen = Signal(float)

    def __init__(self) -> None:
        super().__init__()
        self.shares: ClockShare | None = None
        self.setMouseTracking(True)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setAccessibleName(s.say(s.CLOCK_BAR))

    def sizeHint(self) -> QSize:
        high = QFontMetricsF(theme.font(-0.9)).height()
        return QSize(320, round(high * 2.1) + 18)

    def minimumSizeHint(self) -> QSize:
        return QSize(120, self.sizeHint().height())

    def show_shares(self, shares: ClockShare | None) -> None:
        self.shares = shares
        self.setVisible(shares is not None)
        self.setAccessibleDescription("; ".join(self.sentences()))
        self.update()

    def sentences(self) -> Iterator[str]:
        """Each stretch of departures of one class in words."""
        if self.shares is None:
            return
        zone = self.shares.zone
        for first, last, name, go in self._stretches():
            begin, end = self.shares.leaves_s[first], self.shares.leaves_s[last]
            stretch = f"{clock.day_hour(begin, zone)} - {clock.day_hour(end, zone)}"
            said = s.UNKNOWN_VALUE if name == UNKNOWN else CLASS_WORDS[name]
            words = s.say(s.CLOCK_GO, stretch=stretch) if go else s.say(said)
            yield words if go else s.say(s.CLOCK_BAR_PART, class_name=words, stretch=stretch)

    def _stretches(self) -> Iterator[tuple[int, int, str, bool]]:
        """First and last departure of each stretch that is of one class, and whether it is the answer's window."""
        shares = self.shares
        if shares is None:
            return
        keyed = groupby(range(len(shares.leaves_s)), key=lambda n: "" if shares.go[n] else shares.classes[n])
        for name, numbers in keyed:
            held = list(numbers)
            yield held[0], held[-1], name or shares.classes[held[len(held) // 2]], not name

    # -- painting --------------------------------------------------------------------------------

    def _field(self) -> QRectF:
        high = QFontMetricsF(theme.font(-0.9)).height()
        return QRectF(8, 9, max(self.width() - 16.0, 10.0), high + 3)

    def _edges(self, field: QRectF) -> list[float]:
        """The left edge of each departure's cell, and the right one of the last."""
        count = len(self.shares.leaves_s) if self.shares else 1
        return [field.left() + field.width() * number / count for number in range(count + 1)]

    def paintEvent(self, event: QEvent) -> None:
        shares = self.shares
        if shares is None:
            return
        paint, look, field = QPainter(self), theme.current(), self._field()
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setOpacity(1.0 if self.isEnabled() else 0.45)
        edges = self._edges(field)
        face = theme.font(-0.9)
        paint.setFont(face)
        metrics = QFontMetricsF(face)
        for first, last, name, go in self._stretches():
            box = QRectF(edges[first], field.top(), edges[last + 1] - edges[first] - 1.0, field.height())
            for number in range(first, last + 1):
                part = QRectF(
                    edges[number], field.top(), edges[number + 1] - edges[number] + 0.5, field.height()
                )
                fill_class(paint, part.intersected(box), shares.classes[number])
            if go:
                paint.setPen(QPen(theme.colour(look.ink), 2.0))
                paint.setBrush(Qt.BrushStyle.NoBrush)
                paint.drawRect(box.adjusted(1, 1, -1, -1))
            texts = self._texts(first, last, name, go)
            fits = next((text for text in texts if metrics.horizontalAdvance(text) + 8 < box.width()), "")
            if fits:
                words_on(paint, box, fits, name)
        self._paint_hours(paint, field, edges)
        self._paint_best(paint, field, edges)

    def _texts(self, first: int, last: int, name: str, go: bool) -> tuple[str, ...]:
        """What a stretch may say, the fullest first."""
        shares = self.shares
        if shares is None or name == UNKNOWN:
            return ()
        if go:
            begin, end = (clock.hour(shares.leaves_s[n], shares.zone) for n in (first, last))
            stretch = begin if first == last else f"{begin}-{end}"
            return s.say(s.CLOCK_GO, stretch=stretch), stretch
        return (s.say(CLASS_WORDS[name]),)

    def _paint_hours(self, paint: QPainter, field: QRectF, edges: list[float]) -> None:
        shares = self.shares
        if shares is None or len(shares.leaves_s) < 2:
            return
        first, last = shares.leaves_s[0], shares.leaves_s[-1]
        metrics = QFontMetricsF(paint.font())
        wide = metrics.horizontalAdvance("00:00")
        apart = wide + HOURS_APART_PX
        every = next(
            (h for h in (1, 2, 3, 6, 12, 24) if (last - first) / 3600 / h < field.width() / apart), 24
        )
        paint.setPen(theme.colour(theme.current().ink_soft))
        half = (edges[1] - edges[0]) / 2
        for stamp in clock.hours(first - 1.0, last + 1.0, shares.zone, every):
            share = (stamp - first) / (last - first)
            x = edges[0] + half + share * (edges[-1] - edges[0] - 2 * half)
            left = min(max(x - wide / 2, 0.0), self.width() - wide)  # whole also at the ends
            box = QRectF(left - 2, field.bottom() + 1, wide + 4, metrics.height())
            paint.drawText(box, Qt.AlignmentFlag.AlignCenter, clock.hour(stamp, shares.zone))

    def _paint_best(self, paint: QPainter, field: QRectF, edges: list[float]) -> None:
        """A pointer above the best departure."""
        shares = self.shares
        if shares is None or shares.best_s is None:
            return
        best_s = shares.best_s
        near = min(range(len(shares.leaves_s)), key=lambda n: abs(shares.leaves_s[n] - best_s))
        x = (edges[near] + edges[near + 1]) / 2
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(theme.current().accent))
        top = field.top()
        paint.drawPolygon(QPolygonF([QPointF(x - 5.5, top - 8), QPointF(x + 5.5, top - 8), QPointF(x, top)]))

    # -- hands -----------------------------------------------------------------------------------

    def _at(self, x: float) -> int | None:
        if self.shares is None:
            return None
        edges = self._edges(self._field())
        return next((n for n in range(len(edges) - 1) if edges[n] <= x < edges[n + 1]), None)

    def mouseMoveEvent(self, event: QMouseEvent) -> None:
        at, shares = self._at(event.position().x()), self.shares
        if at is None or shares is None:
            self.setToolTip("")
            return
        value = shares.harm_of_100[at]
        when = clock.day_hour(shares.leaves_s[at], shares.zone)
        told = s.say(s.UNKNOWN_VALUE) if value is None else f"{value:.0f} / 100"
        self.setToolTip(f"{when}: {told}")

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        at = self._at(event.position().x())
        if at is not None and self.shares is not None:
            self.chosen.emit(self.shares.leaves_s[at])
