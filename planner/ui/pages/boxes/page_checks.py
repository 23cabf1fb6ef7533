"""Checks: every box looked at before the start, by gloved thumbs or one key an item; what differs is judged at once."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import (
    QButtonGroup,
    QGridLayout,
    QHBoxLayout,
    QInputDialog,
    QLineEdit,
    QListWidget,
    QMessageBox,
    QPushButton,
    QScrollArea,
    QWidget,
)

from planner.errors import InputError, SkepwayError
from planner.ui.look import paint as p
from planner.ui.look.panel import ShortText, label
from planner.ui.pages.book import Page
from planner.ui.work.background_query import BackgroundQuery, Going
from planner.ui.work.runner import Watch
from planner.words import say

if TYPE_CHECKING:
    from planner.app.inspect.decide import Decision
    from planner.app.inspect.round import Item, Round, State
    from planner.ui.work.session import Session

THUMB_PX = 46
"""Height of a button that a gloved thumb finds."""
STATES: tuple[tuple[State, Qt.Key], ...] = (
    ("ok", Qt.Key.Key_1),
    ("not_ok", Qt.Key.Key_2),
    ("not_looked", Qt.Key.Key_3),
)
"""The three answers and the key of each."""


@dataclass(frozen=True, eq=False)
class Found:
    """A box as it was found, to be judged."""

    round: Round
    box: str


def ask_decision(found: Found, _: Watch) -> tuple[str, Decision]:
    return found.box, found.round.decided(found.box)


class ChecksPage(Page):
    """Boxes on the left, the items of one box in the middle, what becomes of it below."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.round: Round | None = None
        self.verdict = BackgroundQuery(session.runner, "check", ask_decision)
        self.verdict.answered.connect(self._decided)
        self.boxes = QListWidget()
        self.boxes.setAccessibleName(say("checks.page_boxes"))
        self.boxes.currentRowChanged.connect(self._turn_to)
        self.name, self.lead = ShortText("", 1, bold=True), ShortText("", 3, bold=True)
        self.reasons = p.Sentences(say("checks.page_reasons"))
        self.items = ItemList()
        self.items.answered.connect(self._answered)
        self.items.done.connect(self.go_on)
        self.begin = _thumb(say("checks.page_begin"))
        self.begin.clicked.connect(lambda _=False: self.start())
        self.next = _thumb(say("checks.page_next"))
        self.next.clicked.connect(lambda _=False: self.go_on())
        self.against = _thumb(say("checks.page_against"))
        self.against.clicked.connect(lambda _=False: self.override())
        foot = QWidget()
        row = QHBoxLayout(foot)
        row.setContentsMargins(0, 0, 0, 0)
        for button in (self.begin, self.next, self.against):
            row.addWidget(button)
        row.addStretch(1)
        middle = p.under(self.name, self.items, self.lead, self.reasons, foot, grows=1)
        self.panel = self.hang(say("checks.page_title"), say("checks.page_guide"), middle)
        self.panel.set_filled(True)
        self.panel.head.addWidget(Going(self.verdict))
        p.fill(self, p.split(Qt.Orientation.Horizontal, (self.boxes, 26), (self.panel, 74)))
        self._show()

    # -- what is looked at -----------------------------------------------------------------------

    def ask(self) -> None:
        """Another candidate of the same trip is judged by that candidate; what was found stays."""
        if self.round is not None and self.subject is not None:
            self._open(self.round.trip)

    def look(self, subject: object) -> None:
        if subject is None:
            self.round = None
        super().look(subject)  # type: ignore[arg-type]
        self._show()

    def start(self) -> None:
        """Begin the round: the trip gets its id, the plan is pinned."""
        from planner.store.logbook.book import Logbook
        from planner.store.logbook.identity import entered, identified
        from planner.store.tripfile import trip_id

        if self.subject is None:
            return
        document = self.session.document
        try:
            if document.path is not None and not document.dirty:
                key, written = entered(Logbook(), document.draft, document.path, None)
                document.draft["id"] = key
                if written:
                    QMessageBox.information(
                        self, say("checks.page_title"), say("logbook.id_written", file=document.path.name)
                    )
            else:
                identified(document.draft)
                key = trip_id(document.draft)
            self._open(key)
        except InputError as error:
            self._which_trip(error)
        except SkepwayError as error:
            QMessageBox.warning(self, say("checks.page_title"), str(error))

    def _which_trip(self, error: InputError) -> None:
        """A file with a known id and another origin, day or load: the same trip, or a copy for another?"""
        from planner.store.logbook.book import Logbook
        from planner.store.logbook.identity import entered

        box = QMessageBox(QMessageBox.Icon.Question, say("checks.page_title"), str(error), parent=self)
        same = box.addButton(say("checks.page_same"), QMessageBox.ButtonRole.AcceptRole)
        another = box.addButton(say("checks.page_another"), QMessageBox.ButtonRole.AcceptRole)
        box.addButton(QMessageBox.StandardButton.Cancel)
        box.exec()
        document = self.session.document
        if document.path is None or box.clickedButton() not in (same, another):
            return
        answer = "same" if box.clickedButton() is same else "another"
        key, _ = entered(Logbook(), document.draft, document.path, answer)  # type: ignore[arg-type]
        document.draft["id"] = key
        self._open(key)

    def _open(self, key: str) -> None:
        from planner.app.inspect.judge import Judge
        from planner.app.inspect.pinned import kept_of, pin
        from planner.app.inspect.round import Round
        from planner.store.logbook.book import Logbook

        assert self.subject is not None
        plan, choice, catalogue = self.subject.plan, self.subject.choice, self.subject.catalogue
        logbook = Logbook()
        pinned = pin(logbook, key, plan, choice, self.session.document.draft, catalogue, made_s=time.time())
        self.round = Round(logbook, key, Judge(kept_of(plan, choice), catalogue), pinned.id)
        self.items.show_items()
        self._show()
        self.items.setFocus()

    # -- answers ---------------------------------------------------------------------------------

    def _answered(self, item: Item, state: State, value: float | None) -> None:
        if self.round is None:
            return
        try:
            self.round.answer(item, state, value)
        except InputError as error:
            self.lead.setText(str(error))
            return
        self.items.show_findings(self.round)
        if self.round.quick:
            self._tell(self.round.decided())
        else:
            self.lead.setText(say("checks.page_judging"))
            self.verdict.put((self.round.box, repr(self.round.findings())), Found(self.round, self.round.box))

    def _decided(self, answer: object) -> None:
        if not isinstance(answer, tuple) or self.round is None:
            return
        box, decision = answer
        if box == self.round.box:
            self._tell(decision)
        if box in self.round.known and self.round.findings(box) == self.round.known[box].findings:
            self._write(box, decision)  # the hand has gone on before this was worked out

    def _tell(self, decision: Decision) -> None:
        self.decision: Decision | None = decision
        self.lead.setText(decision.headline)
        self.reasons.show_parts((("", (*decision.reasons, *decision.cautions)),))
        self.against.setEnabled(decision.outcome in ("held", "released_under", "released_with"))

    def go_on(self) -> None:
        """Write the box down and turn to the next one."""
        if self.round is None:
            return
        box, round_ = self.round.box, self.round
        try:
            new = round_.keep(time.time(), offset_s=int(time.localtime().tm_gmtoff))
            if new and round_.quick:
                self._write(box, round_.decided())
            elif new and self.decision is not None and self.verdict.done:
                self._write(box, self.decision)
        except SkepwayError as error:
            QMessageBox.warning(self, say("checks.page_title"), str(error))
            return
        self.boxes.setCurrentRow(min(round_.at + 1, len(round_.boxes) - 1))
        self._show()
        self.items.first()

    def _write(self, box: str, decision: Decision, reason: str = "") -> None:
        if self.round is not None:
            self.round.settle(box, decision, time.time(), reason=reason)
            self._show_boxes()

    def override(self) -> None:
        """Let the box go all the same, for a typed reason."""
        if self.round is None or self.decision is None:
            return
        reason, sure = QInputDialog.getText(self, say("checks.page_against"), say("checks.give_reason"))
        if not sure:
            return
        try:
            self.round.keep(time.time(), offset_s=int(time.localtime().tm_gmtoff))
            self._write(self.round.box, self.decision, reason or " ")
        except SkepwayError as error:
            QMessageBox.warning(self, say("checks.page_title"), str(error))

    # -- showing ---------------------------------------------------------------------------------

    decision: Decision | None = None

    def _turn_to(self, row: int) -> None:
        if self.round is None or row < 0 or row == self.round.at:
            return
        self.round.at = row
        self._show()

    def _show(self) -> None:
        going = self.round is not None
        for part in (self.items, self.next, self.against, self.reasons, self.boxes):
            part.setVisible(going)
        self.begin.setVisible(not going)
        self.begin.setEnabled(self.subject is not None)
        if self.round is None:
            self.name.setText(say("checks.page_title"))
            self.lead.setText(say("checks.page_guide"))
            return
        self._show_boxes()
        self.name.setText(self.round.box)
        self.items.show_findings(self.round)
        self.against.setEnabled(False)
        if self.round.quick:
            self._tell(self.round.decided())

    def _show_boxes(self) -> None:
        assert self.round is not None
        self.boxes.blockSignals(True)
        self.boxes.clear()
        for box, said in self.round.outcomes().items():
            self.boxes.addItem(say("checks.page_box", box=box, outcome=said) if said else box)
        self.boxes.setCurrentRow(self.round.at)
        self.boxes.blockSignals(False)


class ItemList(QScrollArea):
    """A row an item with three large buttons; 1, 2, 3 answer the item in focus and go on, a figure follows the 2."""

    answered = Signal(object, object, object)
    done = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setAccessibleName(say("checks.page_items"))
        self._items: tuple[Item, ...] = ()
        self._buttons: list[dict[State, QPushButton]] = []
        self._figures: list[QLineEdit | None] = []
        self._marks: list[ShortText] = []
        self.at = 0

    def show_items(self) -> None:
        """Lay the rows out, once."""
        from planner.app.inspect.items import items

        if self._items:
            return
        self._items = items()
        page = p.named("page")
        grid = QGridLayout(page)
        grid.setColumnStretch(0, 1)
        for number, item in enumerate(self._items):
            mark = ShortText(item.title, 2)
            grid.addWidget(mark, number, 0)
            self._marks.append(mark)
            group = QButtonGroup(page)
            group.setExclusive(True)
            row: dict[State, QPushButton] = {}
            for column, (state, key) in enumerate(STATES, 1):
                button = _thumb(f"{chr(int(key))}  {say(f'checks.page_{state}')}")
                button.setCheckable(True)
                button.setFocusPolicy(Qt.FocusPolicy.NoFocus)
                button.setAccessibleName(f"{item.title}: {say(f'checks.page_{state}')}")
                button.clicked.connect(lambda _=False, n=number, st=state: self._press(n, st))
                group.addButton(button)
                grid.addWidget(button, number, column)
                row[state] = button
            self._buttons.append(row)
            figure = Figure() if item.figure else None
            if figure is not None:
                figure.setMinimumHeight(THUMB_PX)
                figure.setMaximumWidth(90)
                figure.setAccessibleName(f"{item.title}: {say(f'checks.measure_{item.figure}')}")
                figure.returnPressed.connect(lambda n=number: self._figure(n))
                grid.addWidget(figure, number, 4)
                grid.addWidget(label(say(f"checks.measure_{item.figure}"), "soft"), number, 5)
            self._figures.append(figure)
        self.setWidget(page)

    def show_findings(self, round_: Round) -> None:
        """Show what was found on the box."""
        for number, item in enumerate(self._items):
            finding = round_.state_of(item)
            for state, button in self._buttons[number].items():
                button.setChecked(finding.state == state)
            figure = self._figures[number]
            if figure is not None and not figure.hasFocus():
                figure.setText("" if finding.value is None else f"{finding.value:g}")
        self._mark()

    def first(self) -> None:
        """Back to the first item."""
        self.at = 0
        self._mark()
        self.setFocus()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        states = {key: state for state, key in STATES}
        key = Qt.Key(event.key())
        if key in states and self.at < len(self._items):
            self._press(self.at, states[key])
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Space):
            self.done.emit()
        elif key in (Qt.Key.Key_Up, Qt.Key.Key_Backspace, Qt.Key.Key_Down):
            step = 1 if key == Qt.Key.Key_Down else -1
            self.at = min(max(self.at + step, 0), len(self._items))
            self._mark()
        else:
            super().keyPressEvent(event)

    def _press(self, number: int, state: State) -> None:
        self.at = number
        figure = self._figures[number]
        self.answered.emit(self._items[number], state, None)
        if state == "not_ok" and figure is not None:
            figure.clear()
            figure.setFocus()
            return
        self._go_to(number + 1)

    def _figure(self, number: int) -> None:
        figure = self._figures[number]
        assert figure is not None
        try:
            value = float(figure.text().replace(",", "."))
        except ValueError:
            value = float("nan")
        self.answered.emit(self._items[number], "not_ok", value)
        self._go_to(number + 1)

    def _go_to(self, number: int) -> None:
        self.at = min(number, len(self._items))
        self.setFocus()
        self._mark()

    def _mark(self) -> None:
        for number, mark in enumerate(self._marks):
            font = mark.font()
            font.setBold(number == self.at)
            mark.setFont(font)
            mark.setText(f"▸ {self._items[number].title}" if number == self.at else self._items[number].title)
            mark.setAccessibleDescription(say("checks.page_here") if number == self.at else "")
            mark.update()
        if self.at < len(self._marks):
            self.ensureWidgetVisible(self._marks[self.at], 0, THUMB_PX)


class Figure(QLineEdit):
    """A field for a figure; Enter ends it and is no Enter for the box."""

    def keyPressEvent(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            self.returnPressed.emit()
            event.accept()
        else:
            super().keyPressEvent(event)


def _thumb(text: str) -> QPushButton:
    button = QPushButton(text)
    button.setMinimumHeight(THUMB_PX)
    return button
