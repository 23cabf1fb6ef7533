"""The answer in one sentence on top of everything, what comes next, how sure it is, and what is going on."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import (
    QFrame,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QProgressBar,
    QPushButton,
    QToolButton,
    QVBoxLayout,
)

from planner.ui.look import strings as s
from planner.ui.look.panel import ShortText, label


class AnswerBar(QFrame):
    """Shows the answer as text; dims it while it belongs to an older question."""

    cautions_wanted = Signal()
    reasons_wanted = Signal()
    stop_wanted = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("bar")
        self.setAccessibleName(s.say(s.ANSWER_NAME))
        self.headline = label(s.say(s.ANSWER_EMPTY), "lead")
        self.headline.setWordWrap(True)
        self.headline.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.why = QPushButton(s.say(s.ANSWER_WHY))
        self.why.clicked.connect(self.reasons_wanted)
        self.cautions = QPushButton(s.say(s.ANSWER_CAUTIONS))
        self.cautions.clicked.connect(self.cautions_wanted)
        self.stop = QToolButton()
        self.stop.setText(s.say(s.ANSWER_STOP))
        self.stop.clicked.connect(self.stop_wanted)
        self.progress = QProgressBar()
        self.progress.setTextVisible(False)
        self.progress.setRange(0, 1000)
        for part in (self.progress, self.stop):  # coming and going must not move the page
            kept = part.sizePolicy()
            kept.setRetainSizeWhenHidden(True)
            part.setSizePolicy(kept)
        self.facts: dict[str, tuple[QLabel, ShortText]] = {}
        self._lay_out()
        self.set_progress(None)
        self.show_answer("", {})

    def _lay_out(self) -> None:
        buttons = QHBoxLayout()
        buttons.setSpacing(6)
        for part in (self.stop, self.why, self.cautions):
            buttons.addWidget(part, 0, Qt.AlignmentFlag.AlignVCenter)
        first = QHBoxLayout()
        first.setSpacing(16)
        first.addWidget(self.headline, 1)
        first.addLayout(buttons)
        first.setAlignment(buttons, Qt.AlignmentFlag.AlignTop)
        self.grid = QGridLayout()
        self.grid.setHorizontalSpacing(22)
        self.grid.setVerticalSpacing(0)
        for place, (key, text) in enumerate(
            (
                ("next", s.ANSWER_NEXT),
                ("avoid", s.ANSWER_AVOID),
                ("sure", s.ANSWER_SURE),
                ("weather", s.ANSWER_WEATHER),
            )
        ):
            name, value = label(s.say(text), "field"), ShortText()
            cell = QVBoxLayout()
            cell.setSpacing(0)
            cell.addWidget(name)
            cell.addWidget(value)
            cell.addStretch(1)
            self.grid.addLayout(cell, 0, place)
            self.grid.setColumnStretch(place, 1)
            self.facts[key] = (name, value)
        column = QVBoxLayout(self)
        column.setContentsMargins(14, 10, 12, 4)
        column.setSpacing(6)
        column.addLayout(first)
        column.addLayout(self.grid)
        column.addWidget(self.progress)

    def show_answer(self, headline: str, facts: dict[str, str], *, reasons: Sequence[str] = ()) -> None:
        """Show a full answer; facts without text take no room."""
        self.headline.setText(headline or s.say(s.ANSWER_EMPTY))
        for column, (key, (name, value)) in enumerate(self.facts.items()):
            text = facts.get(key, "")
            value.setText(text)
            for part in (name, value):
                part.setVisible(bool(text))
            self.grid.setColumnStretch(column, 1 if text else 0)
        self.why.setVisible(bool(reasons))

    def set_stale(self, stale: bool) -> None:
        """Dim the sentence while a newer question is being worked out."""
        for part in (self.headline, *(value for _, value in self.facts.values())):
            part.setEnabled(not stale)

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


def _nothing() -> None:
    """What the button of a notice without one does."""


class NoticeBar(QFrame):
    """One line of news that wants to be read: a service that failed, a trip recovered, a fault without a field."""

    def __init__(self) -> None:
        super().__init__()
        self.setObjectName("card")
        self.words = label("", "")
        self.words.setWordWrap(True)
        self.act = QPushButton()
        self.act.hide()
        self.hide_button = QToolButton()
        self.hide_button.setText(s.say(s.NOTICE_HIDE))
        self.hide_button.clicked.connect(self.clear)
        self._do: Callable[[], None] = _nothing
        self.kind = ""
        self.act.clicked.connect(lambda: self._do())
        row = QHBoxLayout(self)
        row.setContentsMargins(14, 6, 12, 6)
        row.addWidget(self.words, 1)
        row.addWidget(self.act)
        row.addWidget(self.hide_button)
        self.hide()

    def tell(self, kind: str, text: str, button: str = "", act: Callable[[], None] = _nothing) -> None:
        """Show ``text`` until hidden or replaced; ``kind`` lets :meth:`clear` take back only its own news."""
        self.kind, self._do = kind, act
        self.words.setText(text)
        self.act.setText(button)
        self.act.setVisible(bool(button))
        self.show()

    def clear(self, kind: str = "") -> None:
        """Take the notice away (only if it is of ``kind``, when one is given)."""
        if not isinstance(kind, str) or not kind or kind == self.kind:
            self.hide()
            self.kind = ""
