"""Three folded steps, one open at a time: each says in a line what it holds and whether that is enough."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from PySide6.QtCore import QEvent, QObject, QPointF, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFontMetricsF, QKeyEvent, QMouseEvent, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QFrame, QScrollArea, QSizePolicy, QVBoxLayout, QWidget

from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.panel import ShortText, named

OPEN, DONE, ASSUMED, WRONG = "open", "done", "assumed", "wrong"
MARK_WORDS = {OPEN: s.STEP_OPEN, DONE: s.STEP_DONE, ASSUMED: s.STEP_ASSUMED, WRONG: s.STEP_WRONG}

MOST_LINES, LEAST_LINES = 3, 9
"""Lines of a summary at most, of an open step at least; a step that needs more says so as its ``least_lines``."""


@dataclass(frozen=True)
class Summary:
    """What a folded step says: one line, and a mark (still open, done, done on assumptions, wrong)."""

    text: str
    mark: str


class StepHead(QFrame):
    """The line of a step; a click or a key opens it."""

    wanted = Signal()

    def __init__(self, number: int, title: str) -> None:
        super().__init__()
        self.number, self.title = number, title
        self.summary = Summary("", OPEN)
        self.folded = True
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setCursor(Qt.CursorShape.PointingHandCursor)
        self.words = ShortText("", 2)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def show_summary(self, summary: Summary, *, folded: bool) -> None:
        self.summary, self.folded = summary, folded
        name = s.say(
            s.STEP_NAME,
            number=self.number,
            title=s.say(self.title),
            summary=summary.text,
            mark=s.say(MARK_WORDS[summary.mark]),
        )
        self.setAccessibleName(name)
        self.setToolTip(s.say(MARK_WORDS[summary.mark]))
        self.updateGeometry()
        self.update()

    def _lines(self, width: float) -> list[str]:
        """The summary on as few lines as hold it, three at most."""
        metrics, line = QFontMetricsF(self.font()), ""
        lines: list[str] = []
        for word in self.summary.text.split():
            longer = f"{line} {word}".strip()
            if line and metrics.horizontalAdvance(longer) > width and len(lines) < MOST_LINES - 1:
                lines.append(line)
                line = word
            else:
                line = longer
        lines.append(metrics.elidedText(line, Qt.TextElideMode.ElideRight, width))
        return [line for line in lines if line]

    def sizeHint(self) -> QSize:
        line = QFontMetricsF(self.font()).height()
        rows = 1 + (len(self._lines(max(self.width() - 70.0, 120.0))) if self.folded else 0)
        return QSize(240, round(rows * line + 18))

    def minimumSizeHint(self) -> QSize:
        return QSize(180, self.sizeHint().height())

    def heightForWidth(self, width: int) -> int:
        return self.sizeHint().height()

    def resizeEvent(self, event: QEvent) -> None:
        self.setFixedHeight(self.sizeHint().height())

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self.setFixedHeight(self.sizeHint().height())

    def paintEvent(self, event: QPaintEvent) -> None:
        super().paintEvent(event)
        look, paint = theme.current(), QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        line = QFontMetricsF(self.font()).height()
        round_ = max(19.0, line + 3.0)
        disc = QRectF(10, 9 + line / 2 - round_ / 2, round_, round_)
        paint.setPen(Qt.PenStyle.NoPen)
        paint.setBrush(theme.colour(look.accent))
        paint.drawEllipse(disc)
        paint.setPen(theme.colour(look.on_accent))
        paint.setFont(theme.font(-0.4, bold=True))
        paint.drawText(disc, Qt.AlignmentFlag.AlignCenter, str(self.number))
        paint.setFont(theme.font(0.3, bold=True))
        paint.setPen(theme.colour(look.ink))
        left = disc.right() + 9.0
        room = self.width() - left - 34.0
        paint.drawText(
            QRectF(left, 9, room, line),
            Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter,
            s.say(self.title),
        )
        if self.folded:
            paint.setFont(self.font())
            paint.setPen(theme.colour(look.ink_soft))
            for row, text in enumerate(self._lines(room)):
                paint.drawText(QPointF(left, 9 + line * (row + 1) + line * 0.82), text)
        self._paint_mark(paint, QRectF(self.width() - 28, disc.center().y() - 8, 16, 16))
        if self.hasFocus():
            paint.setPen(QPen(theme.colour(look.accent), 1.6))
            paint.setBrush(Qt.BrushStyle.NoBrush)
            paint.drawRoundedRect(QRectF(self.rect()).adjusted(2, 2, -2, -2), 6, 6)

    def _paint_mark(self, paint: QPainter, box: QRectF) -> None:
        """A tick, a tick in a ring for what rests on assumptions, an empty ring, a cross: shapes, not only colours."""
        look, mark = theme.current(), self.summary.mark
        round_cap = Qt.PenCapStyle.RoundCap
        paint.setBrush(Qt.BrushStyle.NoBrush)
        ink = look.harm_ink if mark == WRONG else look.ink_soft if mark == OPEN else look.accent
        paint.setPen(QPen(theme.colour(ink), 2.0, c=round_cap, j=Qt.PenJoinStyle.RoundJoin))
        if mark in (OPEN, ASSUMED):
            paint.drawEllipse(box.adjusted(1, 1, -1, -1))
        inner = box.adjusted(4.5, 4.5, -4.5, -4.5) if mark == ASSUMED else box.adjusted(3, 3, -3, -3)
        if mark in (DONE, ASSUMED):
            paint.drawPolyline(
                [
                    QPointF(inner.left(), inner.center().y()),
                    QPointF(inner.center().x() - 1, inner.bottom()),
                    QPointF(inner.right(), inner.top()),
                ]
            )
        elif mark == WRONG:
            paint.drawLine(inner.topLeft(), inner.bottomRight())
            paint.drawLine(inner.topRight(), inner.bottomLeft())

    def mouseReleaseEvent(self, event: QMouseEvent) -> None:
        self.wanted.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.wanted.emit()
        else:
            super().keyPressEvent(event)

    def focusInEvent(self, event: QEvent) -> None:
        self.update()

    def focusOutEvent(self, event: QEvent) -> None:
        self.update()


class Steps(QScrollArea):
    """The steps below each other; the open one takes the room there is, and in too little room all of them scroll."""

    opened = Signal(int)

    def __init__(self, steps: Sequence[tuple[str, QWidget]]) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self._page = named(QWidget(), "page")
        self.heads: list[StepHead] = []
        self.bodies: list[QWidget] = []
        self._frames: list[QFrame] = []
        self.now = 0
        self._column = QVBoxLayout(self._page)
        self._column.setContentsMargins(0, 0, 0, 0)
        self._column.setSpacing(8)
        for number, (title, body) in enumerate(steps):
            frame, head = QFrame(), StepHead(number + 1, title)
            frame.setObjectName("panel")
            column = QVBoxLayout(frame)
            column.setContentsMargins(2, 0, 2, 2)
            column.setSpacing(0)
            holder = QWidget()
            inner = QVBoxLayout(holder)
            inner.setContentsMargins(10, 0, 4, 6)
            inner.addWidget(body)
            column.addWidget(head)
            column.addWidget(holder, 1)
            head.wanted.connect(lambda number=number: self.turn(-1 if self.now == number else number))
            self.heads.append(head)
            self.bodies.append(holder)
            self._frames.append(frame)
            self._column.addWidget(frame)
        self._least = [int(getattr(body, "least_lines", LEAST_LINES)) for _, body in steps]
        self._column.addStretch(0)
        self.setWidget(self._page)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)  # the keyboard goes to what stands in it
        self._page.installEventFilter(self)
        self._fit()
        self.turn(0)

    def minimumSizeHint(self) -> QSize:
        """With room for the bar to scroll by: nothing is cut off by it."""
        return QSize(self._page.minimumSizeHint().width() + self.verticalScrollBar().sizeHint().width(), 60)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """What is in the steps has come or gone: they may need more width, which a scrolling area does not pass on."""
        if watched is self._page and event.type() == QEvent.Type.LayoutRequest:
            self.updateGeometry()
        return super().eventFilter(watched, event)

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "_page"):
            self._fit()

    def _fit(self) -> None:
        """An open step is never squeezed: a list, its buttons and a field of its editor are in sight together."""
        for holder, lines in zip(self.bodies, self._least, strict=True):
            holder.setMinimumHeight(round(self.fontMetrics().lineSpacing() * lines))

    def turn(self, number: int) -> None:
        """Open a step, folding the others; -1 folds all."""
        self.now = number
        for at, (frame, body, head) in enumerate(zip(self._frames, self.bodies, self.heads, strict=True)):
            body.setVisible(at == number)
            self._column.setStretchFactor(frame, 1 if at == number else 0)
            head.show_summary(head.summary, folded=at != number)
            head.setFixedHeight(head.sizeHint().height())
        self._column.setStretch(self._column.count() - 1, 1 if number < 0 else 0)
        self.opened.emit(number)

    def show_summaries(self, summaries: Sequence[Summary]) -> None:
        for at, (head, summary) in enumerate(zip(self.heads, summaries, strict=True)):
            head.show_summary(summary, folded=at != self.now)
            head.setFixedHeight(head.sizeHint().height())
