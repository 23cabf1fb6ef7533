"""The heat balance of one box at the moment under the cursor: what comes in against what goes out."""

from __future__ import annotations

import numpy as np
from PySide6.QtCore import QEvent, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetricsF, QPainter, QPen
from PySide6.QtWidgets import QWidget

from planner.app.plan.results import LEDGER_TERMS, TYPICAL, Curves
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.chart_view import STEP
from planner.ui.look.paint import LEFT, RIGHT, Cells

EVEN_W, LEAST_W = 0.5, 0.05


class LedgerView(QWidget):
    """Two bars on one scale in watts; the difference is what the combs take up or give."""

    def __init__(self) -> None:
        super().__init__()
        self.curves: Curves | None = None
        self.group = 0
        self.cursor_s = float("nan")
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

    def heading(self) -> str:
        return s.say(s.LEDGER_TITLE)

    def table(self) -> Cells:
        """Each term and its watts, into the box and out of it."""
        rows = tuple(
            (s.say(s.LEDGER_TERMS[name]), s.say(s.WATTS, watts=f"{watts:+.0f}"))
            for name, watts in self.terms_w().items()
            if np.isfinite(watts)
        )
        return (s.say(s.LEDGER_TITLE), self.sentence()), rows

    def _tell(self) -> None:
        if self.curves is not None and np.isfinite(self.cursor_s):
            self.setAccessibleDescription(self.sentence())
        self.update()

    # -- painting --------------------------------------------------------------------------------

    def sizeHint(self) -> QSize:
        return QSize(420, self.minimumSizeHint().height())

    def minimumSizeHint(self) -> QSize:
        high = QFontMetricsF(theme.font(STEP)).height()
        return QSize(220, round(2 * (high + 5) + 4))

    def flows(self) -> tuple[list[tuple[str, float]], list[tuple[str, float]]]:
        """What comes in and what goes out at the cursor, name and watts, the largest first."""
        known = {name: watts for name, watts in self.terms_w().items() if np.isfinite(watts)}
        into = [(name, watts) for name, watts in known.items() if watts > LEAST_W]
        out = [(name, -watts) for name, watts in known.items() if watts < -LEAST_W]
        return into, out

    def paintEvent(self, event: QEvent) -> None:
        if self.curves is None or not np.isfinite(self.cursor_s):
            return
        paint = QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        paint.setFont(theme.font(STEP))
        metrics = QFontMetricsF(paint.font())
        into, out = self.flows()
        peak = max(sum(w for _, w in into), sum(w for _, w in out), 1.0)
        names = [s.say(s.LEDGER_IN), s.say(s.LEDGER_OUT)]
        total = s.say(s.WATTS, watts=f"{peak:.0f}")
        left = max(metrics.horizontalAdvance(name) for name in names) + metrics.horizontalAdvance(total) + 22
        high = metrics.height() + 5
        top = (self.height() - 2 * high - 3) / 2
        for row, (name, parts) in enumerate(zip(names, (into, out), strict=True)):
            y = top + row * (high + 3)
            paint.setPen(theme.colour(theme.current().ink_soft))
            sum_w = sum(w for _, w in parts)
            head = QRectF(0, y, left - 8, high)
            paint.drawText(head, LEFT, name)
            paint.setPen(theme.colour(theme.current().ink))
            paint.drawText(head, RIGHT, s.say(s.WATTS, watts=f"{sum_w:.0f}"))
            self._paint_row(paint, QRectF(left, y, self.width() - left, high), parts, peak)

    def _paint_row(self, paint: QPainter, box: QRectF, parts: list[tuple[str, float]], peak: float) -> None:
        """Blocks side by side, as wide as their watts, named where there is room."""
        look, metrics = theme.current(), QFontMetricsF(paint.font())
        x = box.left()
        for name, watts in parts:
            wide = watts / peak * box.width()
            block = QRectF(x, box.top(), max(wide - 1.5, 0.5), box.height())
            x += wide
            paint.setPen(Qt.PenStyle.NoPen)
            paint.setBrush(_term_colour(name))
            paint.drawRoundedRect(block, 3, 3)
            if name == "stored":
                _hatch(paint, block)
            amount = s.say(s.WATTS, watts=f"{watts:.0f}")
            texts = [
                f"{s.say(words)} {amount}" for words in (s.LEDGER_TERMS[name], s.LEDGER_TERMS_SHORT[name])
            ]
            texts.append(s.say(s.LEDGER_TERMS_SHORT[name]))
            fits = next((text for text in texts if metrics.horizontalAdvance(text) + 8 < block.width()), "")
            paint.setPen(
                theme.colour(look.on_accent if (look.name, name) == ("night", "adults") else look.ink)
            )
            paint.drawText(block, Qt.AlignmentFlag.AlignCenter, fits)


def _term_colour(name: str) -> QColor:
    look = theme.current()
    base, strength = {
        "adults": (look.accent, 0.62),
        "brood": (look.accent, 0.40),
        "sun": (look.accent, 0.24),
        "air": (look.cool, 0.55),
        "walls": (look.cool, 0.36),
        "water": (look.cool, 0.22),
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
