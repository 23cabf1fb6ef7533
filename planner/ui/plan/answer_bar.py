"""The one answer on top of everything: the decision, its sentence, the window on the clock, chance and headroom."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QEvent, QRectF, QSize, Qt, Signal
from PySide6.QtGui import QFont, QFontMetricsF, QPainter, QPen, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QProgressBar,
    QPushButton,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.colours import ink_on
from planner.ui.look.panel import ShortText, label
from planner.ui.plan.clock_bar import ClockBar
from planner.ui.plan.seen import Shown

DECISION_WORDS = {
    "go": s.DECISION_GO,
    "go_if": s.DECISION_GO_IF,
    "do_not_go": s.DECISION_DO_NOT_GO,
    "cannot_tell": s.DECISION_CANNOT_TELL,
    "": s.DECISION_NONE,
}
DECISION_COLOURS = {"go": "safe", "go_if": "doubtful", "do_not_go": "bad", "cannot_tell": "well", "": "well"}


LEAD_STEP = 1.4
STEPS_DOWN = (LEAD_STEP, 0.9, 0.4, 0.0, -0.5, -1.0, -1.6, -2.2, -3.0, -3.8, -4.6, -5.4, -6.2)
USUAL_STEPS = -3.0
"""Steps below this are for type that was made larger: elsewhere they could not be read."""
REST_STEP = -0.2
WORDS_APART = 2
ROOMY_LETTERS, LONG_LETTERS = 185, 260
SHORTEN_PX, LEAST_STEP = 14.5, -1.2
"""Where a line of the first sentence is no taller, the others are shortened rather than all of it made smaller."""
WRAPPED = Qt.AlignmentFlag.AlignTop | Qt.AlignmentFlag.AlignLeft | Qt.TextFlag.TextWordWrap


class Plate(QWidget):
    """The decision in a word, told by word and frame as well as by colour."""

    def __init__(self) -> None:
        super().__init__()
        self.decision, self.so_far, self.stale = "", False, False
        self.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Expanding)

    def sizeHint(self) -> QSize:
        metrics = QFontMetricsF(theme.font(2.0, bold=True))
        wide = max(
            metrics.horizontalAdvance(word)
            for said in DECISION_WORDS.values()
            for word in s.say(said).split()
        )
        return QSize(round(wide) + 26, round(metrics.height() * 2.3) + 18)

    def minimumSizeHint(self) -> QSize:
        return self.sizeHint()

    def show_decision(self, decision: str, *, so_far: bool) -> None:
        self.decision, self.so_far = decision, so_far
        words = s.say(DECISION_WORDS[decision])
        self.setAccessibleName(f"{s.say(s.ANSWER_SO_FAR)}: {words}" if so_far else words)
        self.updateGeometry()
        self.update()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange:
            self.updateGeometry()

    def paintEvent(self, event: QEvent) -> None:
        look, paint = theme.current(), QPainter(self)
        paint.setRenderHint(QPainter.RenderHint.Antialiasing)
        fill = look.well if look.patterned else getattr(look, DECISION_COLOURS[self.decision])
        box = QRectF(self.rect()).adjusted(1.5, 1.5, -1.5, -1.5)
        paint.setOpacity(0.45 if self.stale else 1.0)
        style = Qt.PenStyle.DashLine if self.so_far or not self.decision else Qt.PenStyle.SolidLine
        paint.setPen(QPen(theme.colour(look.accent), 2.4, style))
        paint.setBrush(theme.colour(fill))
        paint.drawRoundedRect(box, 8, 8)
        paint.setPen(
            theme.colour(look.ink) if look.patterned or fill == look.well else ink_on(theme.colour(fill))
        )
        paint.setFont(theme.font(2.0, bold=True))
        high = QFontMetricsF(paint.font()).height()
        words = s.say(DECISION_WORDS[self.decision])
        lines = words.split(" ") if len(words) > 7 else [words]
        if len(lines) == 3:
            lines = [" ".join(lines[:2]), lines[2]]
        top = box.center().y() - high * len(lines) / 2 + (high * 0.3 if self.so_far else 0)
        if self.so_far:
            small = theme.font(-1.0)
            paint.setFont(small)
            paint.drawText(
                QRectF(box.left(), top - high * 0.6, box.width(), high * 0.6),
                Qt.AlignmentFlag.AlignCenter,
                s.say(s.ANSWER_SO_FAR),
            )
            paint.setFont(theme.font(2.0, bold=True))
        for number, line in enumerate(lines):
            paint.drawText(
                QRectF(box.left(), top + number * high, box.width(), high),
                Qt.AlignmentFlag.AlignCenter | Qt.TextFlag.TextDontClip,
                line,
            )


class Headline(QWidget):
    """The answer's sentences, the first one large, in the largest type in which all of it fits.

    The first, which decides, is never cut off. Where all of it would be too small to read, those that go with it are
    shortened with dots: they stand among the reasons, and whole in the tip.
    """

    def __init__(self) -> None:
        super().__init__()
        self._text = ""
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)

    def text(self) -> str:
        return self._text

    def setText(self, text: str) -> None:
        self._text = text
        self.setToolTip(text)
        self.setAccessibleName(text)
        self.update()

    def parts(self) -> tuple[str, str]:
        """The first sentence, which decides, and those that go with it."""
        first, stop, rest = self._text.partition(". ")
        return first + stop.strip(), rest

    def faces(self) -> tuple[QFont, QFont]:
        """The largest type in which the whole of it fits: the first sentence, and the smaller one of the others."""
        first, rest = self.parts()
        room = max(self.width(), 40)
        for step in STEPS_DOWN:
            faces = theme.font(step, bold=True), theme.font(self._rest_step(step))
            small = QFontMetricsF(faces[0]).height() <= SHORTEN_PX
            line = QFontMetricsF(faces[1]).lineSpacing() if rest else 0.0
            below = line if small else _high(rest, faces[1], room)
            if _high(first, faces[0], room) + below <= self.height() + 1:
                return faces
            if small and step <= USUAL_STEPS:
                break
        return faces

    @staticmethod
    def _rest_step(step: float) -> float:
        return max(min(step - 1.2, REST_STEP), min(step, LEAST_STEP))

    def minimumSizeHint(self) -> QSize:
        return QSize(120, self.minimumHeight())

    def paintEvent(self, event: QEvent) -> None:
        paint, look = QPainter(self), theme.current()
        top = 0.0
        for text, face, ink in zip(self.parts(), self.faces(), (look.ink, look.ink_soft), strict=True):
            text = shortened(text, face, self.width(), self.height() + 1 - top)
            high = _high(text, face, self.width())
            paint.setFont(face)
            paint.setPen(theme.colour(ink if self.isEnabled() else look.ink_soft))
            paint.drawText(QRectF(0, top, self.width(), high + 2), int(WRAPPED), text)
            top += high


def shortened(text: str, face: QFont, width: float, high: float) -> str:
    """A text wrapped to a width, as many of its words as find room in a height, with dots where that is not all."""
    words = text.split(" ")
    while len(words) > 1 and _high(text, face, width) > high:
        words.pop()
        text = s.say(s.SHORTENED, words=" ".join(words))
    return text


def _high(text: str, face: QFont, width: float) -> float:
    """How tall a text is in a type when wrapped to a width."""
    if not text:
        return 0.0
    return QFontMetricsF(face).boundingRect(QRectF(0, 0, width, 10_000), int(WRAPPED), text).height()


class Figure(QWidget):
    """One figure with what it is and how far it may be off."""

    def __init__(self, name: str) -> None:
        super().__init__()
        self.name, self.value, self.span = label(s.say(name), "small"), label("", "figure"), label("", "soft")
        self.more = label("", "small")
        grid = QGridLayout(self)
        grid.setContentsMargins(0, 0, 0, 0)
        grid.setHorizontalSpacing(6)
        grid.setVerticalSpacing(0)
        grid.addWidget(self.name, 0, 0, 1, 2)
        grid.addWidget(self.value, 1, 0)
        grid.addWidget(self.span, 1, 1, Qt.AlignmentFlag.AlignBottom)
        grid.addWidget(self.more, 2, 0, 1, 2)
        grid.setColumnStretch(1, 1)
        grid.setRowStretch(3, 1)

    def show_figure(self, value: str, span: str, more: str) -> None:
        for part, text in ((self.value, value), (self.span, span), (self.more, more)):
            part.setText(text)
            part.setVisible(bool(text))
        self.setAccessibleName(" ".join(filter(None, (self.name.text(), value, span, more))))


class AnswerBar(QFrame):
    """Shows the answer; dims it while it belongs to an older question. Its height does not change with its words."""

    cautions_wanted = Signal()
    reasons_wanted = Signal()
    stop_wanted = Signal()
    departure_chosen = Signal(float)

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("bar")
        self.setAccessibleName(s.say(s.ANSWER_NAME))
        self.plate = Plate()
        self.headline = Headline()
        self.second = ShortText("", 1)
        self.second.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self.clock = ClockBar()
        self.clock.chosen.connect(self.departure_chosen)
        self.harm, self.headroom = Figure(s.FIG_HARM), Figure(s.FIG_HEADROOM)
        self.why = QPushButton(s.say(s.ANSWER_WHY))
        self.why.clicked.connect(lambda _=False: self.reasons_wanted.emit())
        self.cautions = QPushButton(s.say(s.ANSWER_CAUTIONS))
        self.cautions.clicked.connect(lambda _=False: self.cautions_wanted.emit())
        self.stop = QToolButton()
        self.stop.setText(s.say(s.ANSWER_STOP))
        self.stop.clicked.connect(lambda _=False: self.stop_wanted.emit())
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setRange(0, 1000)
        for part in (
            self.progress,
            self.stop,
            self.why,
            self.clock,
        ):  # coming and going must not move the page
            kept = part.sizePolicy()
            kept.setRetainSizeWhenHidden(True)
            part.setSizePolicy(kept)
        self._lay_out()
        self.set_progress(None)
        self.show_words("")

    def _lay_out(self) -> None:
        words = QVBoxLayout()
        words.setSpacing(WORDS_APART)
        words.addWidget(self.headline)
        words.addWidget(self.second)
        words.addWidget(self.clock)
        buttons = QVBoxLayout()
        buttons.setSpacing(5)
        for part in (self.why, self.cautions, self.stop):
            buttons.addWidget(part)
        buttons.addStretch(1)
        row = QHBoxLayout()
        row.setSpacing(16)
        row.addWidget(self.plate)
        row.addLayout(words, 1)
        self.figures = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self.figures.setSpacing(14)
        self.figures.addWidget(self.harm)
        self.figures.addWidget(self.headroom)
        row.addLayout(self.figures)
        row.addLayout(buttons)
        column = QVBoxLayout(self)
        column.setContentsMargins(12, 8, 12, 2)
        column.setSpacing(4)
        column.addLayout(row, 1)
        column.addWidget(self.progress)
        self._fit()

    def _fit(self) -> None:
        """Room for two lines of the sentence, two below it and the clock, whatever stands there now."""
        lead = QFontMetricsF(theme.font(LEAD_STEP, bold=True)).lineSpacing()
        line = QFontMetricsF(theme.font()).lineSpacing()
        self.headline.setFixedHeight(round(lead * 2 + line * 1.6) + 2)
        whole = self.layout()
        assert whole is not None
        edges = whole.contentsMargins()
        words = self.headline.height() + self.second.sizeHint().height() + self.clock.sizeHint().height()
        below = whole.spacing() + self.progress.sizeHint().height()
        self.setFixedHeight(words + 2 * WORDS_APART + below + edges.top() + edges.bottom())

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "figures"):
            self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Figures stand beside each other where there is room, else one below the other, the lower of two lines."""
        super().resizeEvent(event)
        self._place_figures()

    def _place_figures(self) -> None:
        """A sentence longer than usual takes the room that figures beside each other would."""
        long = len(self.headline.text()) > LONG_LETTERS
        roomy = self.width() > self.fontMetrics().averageCharWidth() * ROOMY_LETTERS and not long
        way = QBoxLayout.Direction.LeftToRight if roomy else QBoxLayout.Direction.TopToBottom
        if self.figures.direction() != way:
            self.figures.setDirection(way)
            self.figures.setSpacing(14 if roomy else 0)
        self.headroom.more.setVisible(roomy and bool(self.headroom.more.text()))

    # -- shown -----------------------------------------------------------------------------------

    def show_words(self, headline: str, second: str = "") -> None:
        """Words where there is no answer yet."""
        self._say(headline or s.say(s.ANSWER_EMPTY), second)
        self.plate.show_decision("", so_far=False)
        self.why.setVisible(False)
        self.cautions.setText(s.say(s.ANSWER_CAUTIONS))
        self.clock.show_shares(None)
        for figure in (self.harm, self.headroom):
            figure.setVisible(False)

    def show_answer(self, shown: Shown) -> None:
        """The answer, as far as it is known."""
        self._say(shown.sentence, shown.second)
        self.plate.show_decision(shown.decision, so_far=not shown.finished)
        self.why.setVisible(bool(shown.reasons))
        self.clock.show_shares(shown.clock)
        self.harm.show_figure(*shown.harm)
        self.headroom.show_figure(*shown.headroom)
        self._place_figures()
        for figure in (self.harm, self.headroom):
            figure.setVisible(True)
        count = len(shown.cautions)
        self.cautions.setText(s.say(s.CAUTIONS_COUNT, count=count) if count else s.say(s.ANSWER_CAUTIONS))

    def _say(self, headline: str, second: str) -> None:
        self.headline.setText(headline)
        self._place_figures()
        self.second.setText(second)

    def set_stale(self, stale: bool) -> None:
        """Dim the sentence while a newer question is being worked out."""
        self.plate.stale = stale
        self.plate.update()
        for part in self._words():
            part.setEnabled(not stale)

    def _words(self) -> Sequence[QWidget]:
        return (self.headline, self.second, self.harm, self.headroom, self.clock)

    @property
    def stale(self) -> bool:
        return not self.headline.isEnabled()

    def set_progress(self, share: float | None) -> None:
        """Show how far the work is; ``None`` when nothing is going on."""
        for part in (self.progress, self.stop):
            part.setVisible(share is not None)
        if share is not None:
            self.progress.setValue(round(share * 1000))
            self.progress.setToolTip(s.say(s.ANSWER_PROGRESS, share=f"{share * 100:.0f}"))
            self.progress.setAccessibleDescription(self.progress.toolTip())
