"""The frame every panel shares: a title, a word of guidance while empty, a veil while its answer is stale."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TypeVar

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFont, QFontMetrics, QFontMetricsF, QPainter, QResizeEvent, QTextLayout
from PySide6.QtWidgets import (
    QFrame,
    QHBoxLayout,
    QLabel,
    QSizePolicy,
    QSpacerItem,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from planner.ui.look import theme

NamedPart = TypeVar("NamedPart", bound=QWidget)

SMALLER = (1.0, 0.92, 0.85, 0.75)
ONE_MORE = 0.34
"""Sizes of type a text may be written in, of its own; in the smallest one line more takes about the same height."""


def label(text: str = "", role: str = "") -> QLabel:
    """A label whose ``role`` picks its place in the type hierarchy (title, head, lead, soft, small, guide)."""
    made = QLabel(text)
    made.setObjectName(role)
    return made


def named(part: NamedPart, name: str) -> NamedPart:
    """The same widget under the object name by which the style sheet finds it."""
    part.setObjectName(name)
    return part


class ShortText(QWidget):
    """Text over at most ``lines`` lines; the whole of it is the tip.

    What does not fit is written smaller, and only what does not fit even so is shortened with dots.
    """

    def __init__(self, text: str = "", lines: int = 3, *, bold: bool = False) -> None:
        super().__init__()
        self._text, self._most, self._bold = text, lines, bold
        self._smaller = SMALLER[0]
        across = QSizePolicy.Policy.Ignored if lines > 1 else QSizePolicy.Policy.Preferred
        self.setSizePolicy(across, QSizePolicy.Policy.Fixed)
        self.setText(text)

    def text(self) -> str:
        return self._text

    def setText(self, text: str) -> None:
        self._text = text
        self.setToolTip(text)
        self.setAccessibleName(text)
        self._fit()

    def set_lines(self, lines: int) -> None:
        """Let the text run over at most so many lines."""
        if lines != self._most:
            self._most = lines
            self._fit()

    def sizeHint(self) -> QSize:
        """What it takes on one line, however small it had to be written meanwhile."""
        metrics = QFontMetrics(self._face(SMALLER[0]))
        return QSize(metrics.horizontalAdvance(self._text) + 2, metrics.lineSpacing() + 2)

    def minimumSizeHint(self) -> QSize:
        metrics = self._metrics()
        least = (
            min(metrics.horizontalAdvance(self._text) + 2, metrics.averageCharWidth() * 9)
            if self._most == 1
            else 20
        )
        return QSize(least, metrics.lineSpacing() + 2)

    def resizeEvent(self, event: QEvent) -> None:
        self._fit()

    def changeEvent(self, event: QEvent) -> None:
        if event.type() == QEvent.Type.FontChange:
            self._fit()

    def _face(self, smaller: float | None = None) -> QFont:
        face = QFont(self.font())
        face.setPointSizeF(face.pointSizeF() * (smaller or self._smaller))
        face.setWeight(QFont.Weight.DemiBold if self._bold else QFont.Weight.Normal)
        return face

    def _metrics(self) -> QFontMetrics:
        return QFontMetrics(self._face())

    def _fit(self) -> None:
        for self._smaller in SMALLER:
            if self._whole(max(self.width(), 20)):
                break
        high = self._metrics().lineSpacing() * max(len(self._lines(max(self.width(), 20))), 1) + 2
        if self.minimumHeight() != high:
            self.setFixedHeight(high)
        self.updateGeometry()
        self.update()

    def _lines(self, width: int) -> list[str]:
        if self._most == 1:
            return [self._metrics().elidedText(self._text, Qt.TextElideMode.ElideRight, width)]
        starts = self._starts(width, self._room())
        lines = [self._text[start:end] for start, end in zip(starts, [*starts[1:], None], strict=True)]
        if lines:
            lines[-1] = self._metrics().elidedText(lines[-1], Qt.TextElideMode.ElideRight, width)
        return lines

    def _room(self) -> int:
        """Lines there is room for in the type chosen."""
        return int(self._most / self._smaller + ONE_MORE)

    def _whole(self, width: int) -> bool:
        """Whether all of the text fits, no word of it broken."""
        starts = self._starts(width, self._room() + 1)
        words = (self._text[at - 1] in " -" for at in starts[1:])
        return len(starts) <= self._room() and all(words)

    def _starts(self, width: int, most: int) -> list[int]:
        """Where each line begins, of at most so many."""
        layout = QTextLayout(self._text, self._face())
        starts: list[int] = []
        layout.beginLayout()
        while len(starts) < most:
            line = layout.createLine()
            if not line.isValid():
                break
            line.setLineWidth(width)
            starts.append(line.textStart())
        layout.endLayout()
        return starts

    def paintEvent(self, event: QEvent) -> None:
        paint = QPainter(self)
        look = theme.current()
        ink = look.ink if self._bold else look.ink_soft
        paint.setPen(theme.colour(ink if self.isEnabled() else look.ink_faint))
        paint.setFont(self._face())
        y = self._metrics().ascent()
        for line in self._lines(self.width()):
            paint.drawText(QPointF(0, y), line)
            y += self._metrics().lineSpacing()


class Title(ShortText):
    """What a panel is called, on one line; where controls leave less room, on two and in smaller type, but whole."""

    def __init__(self, text: str) -> None:
        super().__init__(text, 2, bold=True)
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def minimumSizeHint(self) -> QSize:
        """No narrower than its longest word in the smallest type."""
        metrics = QFontMetrics(self._face(SMALLER[-1]))
        words = (metrics.horizontalAdvance(word) for word in self._text.split())
        return QSize(max(words, default=0) + 4, super().minimumSizeHint().height())


class Veil(QWidget):
    """A thin wash over a panel whose content belongs to an older question; lets every click through."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.words = ""
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()

    def paintEvent(self, event: QEvent) -> None:
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.fillRect(self.rect(), theme.colour(theme.current().panel, 0.62))
        if not self.words:
            return
        paint.setFont(theme.font(-0.7))
        text = self.words
        width = QFontMetricsF(paint.font()).horizontalAdvance(text) + 20
        badge = QRectF((self.width() - width) / 2, 10, width, 22)
        paint.setPen(theme.colour(theme.current().line))
        paint.setBrush(theme.colour(theme.current().panel))
        paint.drawRoundedRect(badge, 11, 11)
        paint.setPen(theme.colour(theme.current().ink_soft))
        paint.drawText(badge, Qt.AlignmentFlag.AlignCenter, text)


class Veiled(QWidget):
    """Something that is dimmed while it answers an older question."""

    def __init__(self) -> None:
        super().__init__()
        self._veil = Veil(self)

    @property
    def stale(self) -> bool:
        return self._veil.isVisibleTo(self)

    def set_stale(self, stale: bool, words: str = "") -> None:
        """Dim what is shown; ``words`` say what happens about it."""
        self._veil.words = words
        self._veil.update()
        self._veil.setVisible(stale)
        self._veil.raise_()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._veil.setGeometry(self.rect())


class Panel(QFrame):
    """A titled frame around one picture; shows ``guidance`` until :meth:`set_filled` says there is something."""

    def __init__(self, title: str, guidance: str, body: QWidget) -> None:
        super().__init__()
        self.setObjectName("panel")
        self.setAccessibleName(title)
        self.body, self.plain_guidance = body, guidance
        self._tools: list[QWidget] = []
        self._lead: QWidget | None = None
        self.title = Title(title)
        self.note = ShortText("", 2)
        self.note.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.head = QHBoxLayout()
        self.head.setSpacing(8)
        self.head.addWidget(self.title)
        self.head.addWidget(self.note, 1)
        self._guide = label(guidance, "guide")
        self._guide.setWordWrap(True)
        self._guide.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse
        )  # an address to copy
        self._guide.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._guide.setContentsMargins(16, 0, 16, 0)
        self._veiled = Veiled()
        self._pages = QStackedLayout(self._veiled)
        self._pages.setContentsMargins(0, 0, 0, 0)
        self._pages.addWidget(self._guide)
        self._pages.addWidget(body)
        column = QVBoxLayout(self)
        self.head.addSpacerItem(QSpacerItem(0, 28))
        column.setContentsMargins(12, 6, 12, 10)
        column.setSpacing(6)
        column.addLayout(self.head)
        column.addWidget(self._veiled, 1)

    @property
    def tools(self) -> tuple[QWidget, ...]:
        """The controls beside the title, from left to right."""
        return tuple(self._tools)

    def add_tool(self, tool: QWidget) -> None:
        """Put a control beside the title; it shows once there is something to control."""
        self._tools.append(tool)
        self.head.addWidget(tool)
        tool.setVisible(self.filled)

    def set_lead(self, lead: QWidget) -> None:
        """Put a widget where title and note stand on the screen; paper still has them."""
        self._lead = lead
        self.head.insertWidget(0, lead, 1)
        self._titled(False)

    def stack_lead(self, on: bool) -> None:
        """Give that widget a line of its own where the head is too narrow for it and the controls."""
        lead, column = self._lead, self.layout()
        if lead is None or on == (self.head.indexOf(lead) < 0) or not isinstance(column, QVBoxLayout):
            return
        (self.head if on else column).removeWidget(lead)
        if on:
            column.insertWidget(0, lead)
        else:
            self.head.insertWidget(0, lead, 1)

    def _titled(self, on: bool) -> None:
        self.title.setVisible(on)
        self.note.setVisible(on)

    @contextmanager
    def bare(self) -> Iterator[None]:
        """Without its controls, for paper."""
        lead = [self._lead] if self._lead is not None else []
        shown = [tool for tool in (*self._tools, *lead) if tool.isVisibleTo(self)]
        for tool in shown:
            tool.setVisible(False)
        if lead:
            self._titled(True)
        try:
            yield
        finally:
            for tool in shown:
                tool.setVisible(True)
            if lead:
                self._titled(False)

    def set_guidance(self, text: str) -> None:
        self._guide.setText(text)

    def set_filled(self, filled: bool) -> None:
        self._pages.setCurrentIndex(1 if filled else 0)
        for tool in self._tools:
            tool.setVisible(filled)
        if not filled:
            self._veiled.set_stale(False)

    @property
    def filled(self) -> bool:
        return self._pages.currentIndex() == 1

    @property
    def stale(self) -> bool:
        return self._veiled.stale

    def set_stale(self, stale: bool, words: str = "") -> None:
        """Dim what is shown because it answers an older question; ``words`` say what happens about it."""
        self._veiled.set_stale(stale and self.filled, words)
