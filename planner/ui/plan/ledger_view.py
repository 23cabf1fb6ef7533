"""The heat balance of one box at the moment under the cursor: what comes in against what goes out."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QWidget

from planner.app.plan.results import LEDGER_TERMS, TYPICAL, Curves
from planner.ui.look import strings as s
from planner.ui.look import theme

EVEN_W = 0.5


class LedgerView(QWidget):
    """Two columns on one scale in watts; the difference is what the combs take up or give."""

    def __init__(self) -> None:
        super().__init__()
        self.curves: Curves | None = None
        self.group = 0
        self.cursor_s = float("nan")
        self.setMinimumSize(180, 120)
        self.setAccessibleName(s.say(s.LEDGER_TITLE))

    def show_curves(self, curves: Curves, group: int) -> None:
        self.curves, self.group = curves, group
        self._tell()

    def set_cursor(self, time_s: float) -> None:
        self.cursor_s = time_s
        self._tell()

    def terms_w(self) -> dict[str, float]:
        """The terms at the cursor in watts, positive into the box; none before there are curves."""
        if self.curves is None:
            return {}
        at = int(np.clip(np.searchsorted(self.curves.time_s, self.cursor_s), 0, len(self.curves.time_s) - 1))
        return dict(
            zip(LEDGER_TERMS, (float(v) for v in self.curves.ledger_w[at, TYPICAL, self.group]), strict=True)
        )

    def sentence(self) -> str:
        """The balance in one sentence; ``stored`` is negative while the combs take heat up."""
        kept = -self.terms_w().get("stored", float("nan"))
        if not np.isfinite(kept):
            return s.say(s.UNKNOWN_VALUE)
        if abs(kept) < EVEN_W:
            return s.say(s.LEDGER_EVEN)
        return s.say(s.LEDGER_WARMING if kept > 0 else s.LEDGER_COOLING, watts=f"{abs(kept):.0f}")

    def _tell(self) -> None:
        if self.curves is not None and np.isfinite(self.cursor_s):
            self.setAccessibleDescription(self.sentence())
        self.update()

    # -- painting --------------------------------------------------------------------------------

    def paintEvent(self, event: QEvent) -> None:
        if self.curves is None or not np.isfinite(self.cursor_s):
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setFont(theme.font(-0.7))
        metrics = QFontMetricsF(paint.font())
        flows = {name: watts for name, watts in self.terms_w().items() if np.isfinite(watts)}
        into = [(name, watts) for name, watts in flows.items() if watts > 0.05]
        out = [(name, -watts) for name, watts in flows.items() if watts < -0.05]
        peak = max(sum(w for _, w in into), sum(w for _, w in out), 1.0)
        wide = min((self.width() - 24) / 2, 190.0)
        left = (self.width() - 2 * wide - 24) / 2
        words = QRectF(0, self.height() - metrics.height() * 2.3, self.width(), metrics.height() * 2.3)
        top = metrics.height() + 8
        high = words.top() - top - 8
        for x, title, parts in ((left, s.LEDGER_IN, into), (left + wide + 24, s.LEDGER_OUT, out)):
            total = sum(w for _, w in parts)
            self._paint_title(paint, QRectF(x, 0, wide, metrics.height() + 4), s.say(title), total)
            self._paint_column(paint, QRectF(x, top, wide, high), parts, peak)
        paint.setPen(theme.colour(theme.current().ink_soft))
        paint.drawText(words, Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextWordWrap, self.sentence())

    def _paint_title(self, paint: QPainter, box: QRectF, title: str, total: float) -> None:
        paint.setPen(theme.colour(theme.current().ink_soft))
        metrics, total_text = QFontMetricsF(theme.font(-0.7, bold=True)), s.say(s.WATTS, watts=f"{total:.0f}")
        room = box.width() - metrics.horizontalAdvance(total_text) - 6
        if QFontMetricsF(paint.font()).horizontalAdvance(title) <= room:
            paint.drawText(box, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, title)
        paint.setPen(theme.colour(theme.current().ink))
        paint.setFont(theme.font(-0.7, bold=True))
        paint.drawText(box, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, total_text)
        paint.setFont(theme.font(-0.7))

    def _paint_column(
        self, paint: QPainter, box: QRectF, parts: list[tuple[str, float]], peak: float
    ) -> None:
        look, metrics = theme.current(), QFontMetricsF(paint.font())
        y = box.bottom()
        for name, watts in parts:
            high = watts / peak * box.height()
            y -= high
            block = QRectF(box.left(), y, box.width(), high).adjusted(0, 1, 0, 0)
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(_term_colour(name))
            paint.drawRoundedRect(block, 3, 3)
            if name == "stored":
                _hatch(paint, block)
            if high > metrics.height():
                paint.setPen(QColor(look.on_accent if (look.name, name) == ("night", "adults") else look.ink))
                inner = block.adjusted(8, 0, -8, 0)
                amount = s.say(s.WATTS, watts=f"{watts:.0f}")
                room = inner.width() - metrics.horizontalAdvance(amount) - 6
                said = s.say(s.LEDGER_TERMS[name])
                if metrics.horizontalAdvance(said) > room:
                    said = s.say(s.LEDGER_TERMS_SHORT[name])
                if metrics.horizontalAdvance(said) > room:
                    self._paint_stacked(paint, block, said, amount)
                    continue
                paint.drawText(inner, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, said)
                paint.drawText(inner, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, amount)

    def _paint_stacked(self, paint: QPainter, block: QRectF, said: str, amount: str) -> None:
        """Name above amount where both do not fit beside each other, the name alone in a low block."""
        metrics = QFontMetricsF(paint.font())
        text = f"{said}\n{amount}" if block.height() > 2.1 * metrics.height() else said
        paint.drawText(block, Qt.AlignmentFlag.AlignCenter, text)


def _term_colour(name: str) -> QColor:
    look = theme.current()
    base, strength = {
        "adults": (look.accent, 0.62),
        "brood": (look.accent, 0.40),
        "sun": (look.accent, 0.24),
        "air": (look.stores, 0.55),
        "walls": (look.stores, 0.36),
        "water": (look.stores, 0.22),
        "stored": (look.ink, 0.07),
    }[name]
    return theme.colour(base, strength)


def _hatch(paint: QPainter, block: QRectF) -> None:
    paint.save()
    paint.setClipRect(block)
    paint.setPen(QPen(theme.colour(theme.current().ink_faint, 0.5), 1))
    x = block.left() - block.height()
    while x < block.right():
        paint.drawLine(QPointF(x, block.bottom()), QPointF(x + block.height(), block.top()))
        x += 7
    paint.restore()
