"""The frame every panel shares: a title, a word of guidance while empty, a veil while its answer is stale."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QFontMetricsF, QPainter, QTextLayout
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

from planner.ui import strings as s
from planner.ui import theme


def label(text: str = "", role: str = "") -> QLabel:
    """A label whose ``role`` picks its place in the type hierarchy (title, head, lead, soft, small, guide)."""
    made = QLabel(text)
    made.setObjectName(role)
    return made


class ShortText(QWidget):
    """Soft text over at most three lines, shortened with dots; the whole of it is the tip."""

    LINES = 3

    def __init__(self) -> None:
        super().__init__()
        self._text = ""
        policy = QSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        policy.setHeightForWidth(True)
        self.setSizePolicy(policy)

    def text(self) -> str:
        return self._text

    def setText(self, text: str) -> None:
        self._text = text
        self.setToolTip(text)
        self.setAccessibleName(text)
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        return QSize(200, self.heightForWidth(max(self.width(), 200)))

    def heightForWidth(self, width: int) -> int:
        return self.fontMetrics().lineSpacing() * max(len(self._lines(width)), 1) + 2

    def _lines(self, width: int) -> list[str]:
        layout = QTextLayout(self._text, self.font())
        lines = []
        layout.beginLayout()
        while len(lines) < self.LINES:
            line = layout.createLine()
            if not line.isValid():
                break
            line.setLineWidth(width)
            lines.append(self._text[line.textStart() : line.textStart() + line.textLength()])
            last = line.textStart()
        layout.endLayout()
        if lines:
            lines[-1] = self.fontMetrics().elidedText(self._text[last:], Qt.TextElideMode.ElideRight, width)
        return lines

    def paintEvent(self, event: QEvent) -> None:
        paint = QPainter(self)
        look = theme.current()
        paint.setPen(theme.colour(look.ink_soft if self.isEnabled() else look.ink_faint))
        y = self.fontMetrics().ascent()
        for line in self._lines(self.width()):
            paint.drawText(QPointF(0, y), line)
            y += self.fontMetrics().lineSpacing()


class Veil(QWidget):
    """A thin wash over a panel whose content belongs to an older question; lets every click through."""

    def __init__(self, parent: QWidget) -> None:
        super().__init__(parent)
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self.hide()

    def paintEvent(self, event: QEvent) -> None:
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.fillRect(self.rect(), theme.colour(theme.current().panel, 0.62))
        paint.setFont(theme.font(-0.7))
        text = s.say(s.STALE)
        width = QFontMetricsF(paint.font()).horizontalAdvance(text) + 20
        badge = QRectF((self.width() - width) / 2, 10, width, 22)
        paint.setPen(theme.colour(theme.current().line))
        paint.setBrush(theme.colour(theme.current().panel))
        paint.drawRoundedRect(badge, 11, 11)
        paint.setPen(theme.colour(theme.current().ink_soft))
        paint.drawText(badge, Qt.AlignmentFlag.AlignCenter, text)


class Panel(QFrame):
    """A titled frame around one picture; shows ``guidance`` until :meth:`set_filled` says there is something."""

    def __init__(self, title: str, guidance: str, body: QWidget) -> None:
        super().__init__()
        self.setObjectName("panel")
        self.setAccessibleName(title)
        self.body = body
        self.title = label(title, "title")
        self.note = label("", "small")
        self.head = QHBoxLayout()
        self.head.setSpacing(8)
        self.head.addWidget(self.title)
        self.head.addWidget(self.note)
        self.head.addStretch(1)
        self._guide = label(guidance, "guide")
        self._guide.setWordWrap(True)
        self._guide.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self._guide.setContentsMargins(40, 0, 40, 0)
        pages = QWidget()
        self._pages = QStackedLayout(pages)
        self._pages.setContentsMargins(0, 0, 0, 0)
        self._pages.addWidget(self._guide)
        self._pages.addWidget(body)
        column = QVBoxLayout(self)
        self.head.addSpacerItem(QSpacerItem(0, 28))
        column.setContentsMargins(12, 6, 12, 10)
        column.setSpacing(6)
        column.addLayout(self.head)
        column.addWidget(pages, 1)
        self._veil = Veil(pages)
        self._veil_host = pages
        pages.installEventFilter(self)

    def set_guidance(self, text: str) -> None:
        self._guide.setText(text)

    def set_filled(self, filled: bool) -> None:
        self._pages.setCurrentIndex(1 if filled else 0)
        if not filled:
            self._veil.hide()

    @property
    def filled(self) -> bool:
        return self._pages.currentIndex() == 1

    @property
    def stale(self) -> bool:
        return self._veil.isVisibleTo(self)

    def set_stale(self, stale: bool) -> None:
        """Dim what is shown because it answers an older question."""
        self._veil.setVisible(stale and self.filled)
        self._veil.raise_()

    def eventFilter(self, watched, event) -> bool:
        if watched is self._veil_host and event.type() == QEvent.Type.Resize:
            self._veil.setGeometry(self._veil_host.rect())
        return super().eventFilter(watched, event)
