"""Which candidate the views below show, the way back to the best, and two candidates pinned for comparing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import partial

from PySide6.QtCore import QEvent, QSize, Qt, Signal
from PySide6.QtGui import QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QSizePolicy, QToolButton, QWidget

from planner.app.answer.records import Candidate
from planner.ui.look import clock, theme
from planner.ui.look import strings as s
from planner.ui.look.icons import SignButton
from planner.ui.look.panel import ShortText
from planner.ui.plan.seen import Table, Verdict

LETTERS = ("A", "B")
CHIP_LETTERS = 14
"""A chip is no wider; the whole of it is its tip, and the board shows where it stands."""


class Chip(QPushButton):
    """A pinned candidate with its letter, in the colour and the dashes of its curve."""

    def __init__(self, letter: str) -> None:
        super().__init__()
        self.letter = letter
        self.setCheckable(False)
        self.words = ""
        self.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Fixed)

    def show_words(self, words: str, when: str = "") -> None:
        """``words`` are the whole candidate, for the tip and the reader; the chip itself says ``when``."""
        self.words = when or words
        said = s.say(s.CHIP_PINNED, letter=self.letter, candidate=words) if words else ""
        self.setAccessibleName(said)
        self.setToolTip(said)
        self.setVisible(bool(words))
        self.updateGeometry()
        self.update()

    def sizeHint(self) -> QSize:
        metrics = QFontMetrics(theme.font(-0.4))
        said = s.say(s.CHIP_PINNED, letter=self.letter, candidate=self.words) if self.words else ""
        most = metrics.averageCharWidth() * CHIP_LETTERS
        return QSize(min(metrics.horizontalAdvance(said), most) + 26, metrics.height() + 10)

    def minimumSizeHint(self) -> QSize:
        return QSize(70, self.sizeHint().height())

    def paintEvent(self, event: QEvent) -> None:
        look, paint = theme.current(), QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        ink = look.series[1 if self.letter == "B" else 0]
        box = self.rect().adjusted(1, 1, -2, -2)
        style = Qt.PenStyle.DashLine if self.letter == "B" else Qt.PenStyle.SolidLine
        paint.setPen(QPen(theme.colour(ink), 2.6 if self.hasFocus() else 1.8, style))
        paint.setBrush(theme.colour(look.panel if not self.underMouse() else look.accent_soft))
        paint.drawRoundedRect(box, box.height() / 2, box.height() / 2)
        paint.setFont(theme.font(-0.4))
        paint.setPen(theme.colour(look.ink))
        said = s.say(s.CHIP_PINNED, letter=self.letter, candidate=self.words)
        shown = QFontMetrics(paint.font()).elidedText(said, Qt.TextElideMode.ElideRight, box.width() - 20)
        paint.drawText(box, Qt.AlignmentFlag.AlignCenter, shown)


class CandidateBar(QWidget):
    """The head of the curves; its height never changes."""

    back_wanted = Signal()
    pin_wanted = Signal(str)
    unpin_wanted = Signal(str)
    look_wanted = Signal(str)

    def __init__(self) -> None:
        super().__init__()
        self.shown = ShortText("", 2, bold=True)
        self.back = QPushButton(s.say(s.CHIP_BACK_SHORT))  # the words beside it need the room
        self.back.setAccessibleName(s.say(s.CHIP_BACK))
        self.back.setToolTip(s.say(s.CHIP_BACK))
        self.back.clicked.connect(lambda _=False: self.back_wanted.emit())
        self.chips = {letter: Chip(letter) for letter in LETTERS}
        self.pin = {letter: QToolButton() for letter in LETTERS}
        self.cross: dict[str, SignButton] = {}
        line = QHBoxLayout(self)
        line.setContentsMargins(4, 0, 4, 0)
        line.setSpacing(6)
        line.addWidget(self.shown, 1)
        line.addWidget(self.back)
        for letter, text in zip(LETTERS, (s.CHIP_PIN_A, s.CHIP_PIN_B), strict=True):
            chip, pin = self.chips[letter], self.pin[letter]
            chip.clicked.connect(lambda _=False, letter=letter: self.look_wanted.emit(letter))
            pin.setText(s.say(text))
            pin.clicked.connect(lambda _=False, letter=letter: self.pin_wanted.emit(letter))
            cross = SignButton(
                "cross", s.say(s.CHIP_UNPIN, letter=letter), partial(self.unpin_wanted.emit, letter)
            )
            self.cross[letter] = cross
            for part in (chip, cross, pin):
                line.addWidget(part)
        self.give_lines(2)
        self.show_state(None, None, {}, None)

    def controls(self) -> tuple[QWidget, ...]:
        """What can be pressed, from left to right."""
        pinned = (part for one in LETTERS for part in (self.chips[one], self.cross[one], self.pin[one]))
        return (self.back, *pinned)

    def give_lines(self, lines: int) -> None:
        """Room for so many lines of words, whether they are needed now or not."""
        self.shown.set_lines(lines)
        self.setMinimumHeight(lines * self.fontMetrics().lineSpacing() + 6)

    def show_state(
        self,
        table: Table | None,
        candidate: Candidate | None,
        pins: Mapping[str, Candidate],
        verdict: Verdict | None,
    ) -> None:
        """Show what is looked at, or how the two pinned ones compare, and what is pinned."""
        best = table.best if table else None
        is_best = candidate is not None and best is not None and candidate.key == best.key
        if table is None or candidate is None:
            words = s.say(s.CHIP_NONE) if table is not None and table.departures_s else ""
        else:
            words = s.say(s.CHIP_BEST if is_best else s.CHIP_SHOWN, candidate=table.words(candidate))
        self.shown.setText(verdict.short if verdict else words)
        if verdict:
            self.shown.setToolTip(verdict.sentence)
            self.shown.setAccessibleDescription(verdict.sentence)
        self.back.setVisible(candidate is not None and best is not None and not is_best)
        for letter in LETTERS:
            held = pins.get(letter)
            others = [one.leave_s for other, one in pins.items() if other != letter]
            told = _chip_words(table, held, others) if table and held else ("", "")
            self.chips[letter].show_words(*told)
            self.cross[letter].setVisible(held is not None)
            self.pin[letter].setVisible(candidate is not None and held is None)


def _chip_words(table: Table, held: Candidate, others_s: Sequence[float]) -> tuple[str, str]:
    """The whole candidate, and what tells it from the other pinned one: its hour, or where it rides in that hour."""
    words, when = table.words(held), clock.day_hour(held.leave_s, table.zone)
    return words, words.removeprefix(when).lstrip(", ") if held.leave_s in others_s else when
