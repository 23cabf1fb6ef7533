"""Small things several painted pictures share: a sentence list, bars, ticks and a row of text."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Protocol

from PySide6.QtCore import QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QFrame, QLabel, QScrollArea, QSplitter, QVBoxLayout, QWidget

from planner.ui.look import theme
from planner.ui.look.panel import label

LEFT = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
MIDDLE = Qt.AlignmentFlag.AlignCenter


Cells = tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]
"""A table in words: its heads and its rows."""


class Readable(Protocol):
    """A painted view that can be read as well as looked at."""

    def heading(self) -> str:
        """What is shown, of which candidate."""

    def table(self) -> Cells:
        """What is drawn, as a table to read."""


class Sentences(QScrollArea):
    """Short texts under headings, one below the other, that scroll when there are many."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setAccessibleName(name)
        self._page = named("page")
        self._column = QVBoxLayout(self._page)
        self._column.setContentsMargins(0, 0, 8, 0)
        self._column.setSpacing(5)
        self.setWidget(self._page)
        self._shown: object = None

    def show_parts(self, parts: Sequence[tuple[str, Sequence[str]]]) -> None:
        """Show (heading, texts) one below the other; a heading without texts is left out."""
        shown = tuple((head, tuple(texts)) for head, texts in parts if texts)
        if shown == self._shown:
            return
        self._shown = shown
        while self._column.count():
            item = self._column.takeAt(0)
            gone = item.widget() if item is not None else None
            if gone is not None:
                gone.hide()
                gone.deleteLater()
        for head, texts in shown:
            if head:
                self._column.addWidget(_wrapped(head, "field"))
            for text in texts:
                self._column.addWidget(_wrapped(text, ""))
        self._column.addStretch(1)
        self.setAccessibleDescription(" ".join(text for _, texts in shown for text in texts))

    def text(self) -> str:
        return self.accessibleDescription()


def _wrapped(text: str, role: str) -> QLabel:
    made = label(text, role)
    made.setWordWrap(True)
    made.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
    return made


def write(
    paint: QPainter,
    box: QRectF,
    text: str,
    ink: str,
    *,
    align: Qt.AlignmentFlag = LEFT,
    bold: bool = False,
    step: float = -0.7,
) -> None:
    """One line of text in ``box``, shortened with dots where it does not fit."""
    face = theme.font(step, bold=bold)
    paint.setFont(face)
    paint.setPen(theme.colour(ink))
    shown = QFontMetricsF(face).elidedText(text, Qt.TextElideMode.ElideRight, box.width())
    paint.drawText(box, align, shown)


def focus_ring(paint: QPainter, picture: QWidget) -> None:
    """An outline of a picture that has the keyboard."""
    if picture.hasFocus():
        paint.setPen(QPen(theme.colour(theme.current().accent), 1.6))
        paint.setBrush(Qt.BrushStyle.NoBrush)
        paint.drawRoundedRect(QRectF(picture.rect()).adjusted(1, 1, -1, -1), 4, 4)


def in_turn(*parts: QWidget) -> None:
    """Let Tab go from each to the next."""
    for before, after in pairwise(parts):
        QWidget.setTabOrder(before, after)


def high(step: float = -0.7) -> float:
    """Height of one line of text."""
    return QFontMetricsF(theme.font(step)).height()


def wide(text: str, step: float = -0.7, *, bold: bool = False) -> float:
    return QFontMetricsF(theme.font(step, bold=bold)).horizontalAdvance(text)


def rule(paint: QPainter, left: float, right: float, y: float) -> None:
    """A thin line across."""
    paint.setPen(QPen(theme.colour(theme.current().line), 1))
    paint.drawLine(QPointF(left, y), QPointF(right, y))


def bar(paint: QPainter, box: QRectF, colour: QColor) -> None:
    """A filled bar with slightly round corners."""
    paint.setPen(Qt.PenStyle.NoPen)
    paint.setBrush(colour)
    paint.drawRoundedRect(box, 2, 2)


def whisker(paint: QPainter, left: float, right: float, y: float, ink: QColor, width: float = 1.4) -> None:
    """A line with short ends: from where to where a value may lie."""
    paint.setPen(QPen(ink, width))
    paint.drawLine(QPointF(left, y), QPointF(right, y))
    for x in (left, right):
        paint.drawLine(QPointF(x, y - 3), QPointF(x, y + 3))


def hatch(paint: QPainter, box: QRectF, every: float = 5.0) -> None:
    """Slanted strokes: not known."""
    paint.save()
    paint.setClipRect(box, Qt.ClipOperation.IntersectClip)
    paint.setPen(QPen(theme.colour(theme.current().ink_faint, 0.6), 1))
    x = box.left() - box.height()
    while x < box.right():
        paint.drawLine(QPointF(x, box.bottom()), QPointF(x + box.height(), box.top()))
        x += every
    paint.restore()


# -- putting widgets together ------------------------------------------------------------------------


def named(name: str) -> QWidget:
    """An empty widget that the style sheet knows by ``name``."""
    made = QWidget()
    made.setObjectName(name)
    return made


def under(*parts: QWidget, spacing: int = 8, grows: int = -1) -> QWidget:
    """Widgets one below the other, the one numbered ``grows`` taking the room."""
    holder = QWidget()
    column = QVBoxLayout(holder)
    column.setContentsMargins(0, 0, 0, 0)
    column.setSpacing(spacing)
    for number, part in enumerate(parts):
        column.addWidget(part, int(number == grows % len(parts)))
    return holder


def fill(page: QWidget, part: QWidget) -> None:
    """Let ``part`` take the whole of ``page``."""
    column = QVBoxLayout(page)
    column.setContentsMargins(0, 0, 0, 0)
    column.addWidget(part)


def split(direction: Qt.Orientation, *parts: tuple[QWidget, int]) -> QSplitter:
    """Widgets side by side or stacked with grips between them, sharing the room as given."""
    made = QSplitter(direction)
    made.setHandleWidth(8)
    made.setChildrenCollapsible(False)
    for index, (part, share) in enumerate(parts):
        made.addWidget(part)
        made.setStretchFactor(index, share)
    made.setSizes([share * 10 for _, share in parts])
    return made
