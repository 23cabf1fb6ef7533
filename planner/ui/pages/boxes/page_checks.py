"""Checks: every box looked at before the start, by gloved thumbs or one key an item; what differs is judged at once."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QFileDialog,
    QInputDialog,
    QListWidget,
    QMessageBox,
    QSizePolicy,
    QWidget,
)

from planner.errors import InputError, SkepwayError
from planner.ui.look import paint as p
from planner.ui.look.panel import ShortText, label
from planner.ui.pages.book import Page
from planner.ui.pages.boxes.item_list import ItemList, Thumbs, thumb
from planner.ui.pages.boxes.taken_in import PICTURES, Files, TakenIn, ask_photos, ask_typed
from planner.ui.work.background_query import BackgroundQuery, Going
from planner.ui.work.runner import Watch
from planner.words import say

if TYPE_CHECKING:
    from planner.app.inspect.decide import Decision
    from planner.app.inspect.round import Item, Round, State
    from planner.ui.work.session import Session


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
        self.boxes.setWordWrap(True)
        self.boxes.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.boxes.currentRowChanged.connect(self._turn_to)
        self.name, self.lead = ShortText("", 1, bold=True), ShortText("", 3, bold=True)
        self.guide = label(say("checks.page_guide"))
        self.guide.setWordWrap(True)
        self.reasons = p.Sentences(say("checks.page_reasons"))
        self.items = ItemList()
        self.items.answered.connect(self._answered)
        self.items.done.connect(self.go_on)
        self.begin = thumb(say("checks.page_begin"))
        self.begin.clicked.connect(lambda _=False: self.start())
        self.next = thumb(say("checks.page_next"))
        self.next.clicked.connect(lambda _=False: self.go_on())
        self.against = thumb(say("checks.page_against"))
        self.against.clicked.connect(lambda _=False: self.override())
        self.photos = BackgroundQuery(session.runner, "check photos", ask_photos)
        self.typed = BackgroundQuery(session.runner, "check list", ask_typed)
        for query in (self.photos, self.typed):
            query.answered.connect(self._taken_in)
            query.changed.connect(self._troubled)
        self.photo, self.list = thumb(say("checks.page_photo")), thumb(say("checks.page_list"))
        self.photo.clicked.connect(lambda _=False: self.choose_photos())
        self.list.clicked.connect(lambda _=False: self.choose_list())
        foot = Thumbs(self.begin, self.next, self.against, self.photo, self.list)
        below = QWidget()  # takes the room as long as there are no items
        below.setSizePolicy(QSizePolicy.Policy.Preferred, QSizePolicy.Policy.Expanding)
        self._below = below
        middle = p.under(self.name, self.guide, self.items, self.lead, self.reasons, foot, below, grows=2)
        self.panel = self.hang(say("checks.page_title"), say("checks.page_guide"), middle)
        self.panel.set_filled(True)
        for going in (self.verdict, self.photos, self.typed):
            self.panel.head.addWidget(Going(going))
        self.listed = p.under(label(self.boxes.accessibleName(), "title"), self.boxes)
        p.fill(self, p.split(Qt.Orientation.Horizontal, (self.listed, 20), (self.panel, 80)))
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

    # -- photos and lists ------------------------------------------------------------------------

    def choose_photos(self) -> None:
        """Photos from a phone: each goes to the box whose label is on it, else to the one that is looked at."""
        kinds = say("checks.page_pictures", kinds=PICTURES)
        names, _ = QFileDialog.getOpenFileNames(self, say("checks.page_photo"), "", kinds)
        self.take_photos([Path(name) for name in names])

    def choose_list(self) -> None:
        """A list that was printed, written on and typed into a table."""
        kinds = say("checks.page_tables", kinds="*.csv *.CSV *.tsv *.txt")
        name, _ = QFileDialog.getOpenFileName(self, say("checks.page_list"), "", kinds)
        self.take_list(Path(name) if name else None)

    def take_photos(self, paths: Sequence[Path]) -> None:
        if self.round is not None and paths:
            self.photos.put(object(), Files(self.round, self.round.box, tuple(paths)))

    def take_list(self, path: Path | None) -> None:
        if self.round is not None and path is not None:
            self.typed.put(object(), Files(self.round, self.round.box, (path,)))

    def _taken_in(self, told: object) -> None:
        """Write what files say of boxes down, each box whole, and show how it went."""
        if not isinstance(told, TakenIn) or self.round is None:
            return
        try:
            for said in told.boxes:
                self.round.take(said.box, said.found, said.pictures)
                if self.round.keep(time.time(), box=said.box, offset_s=int(time.localtime().tm_gmtoff)):
                    self._write(said.box, said.decision)
        except SkepwayError as error:
            QMessageBox.warning(self, say("checks.page_title"), str(error))
        self._show()
        self.reasons.show_parts(((say("checks.page_read"), told.lines),))
        self.items.setFocus()

    def _troubled(self) -> None:
        trouble = next((query.trouble for query in (self.photos, self.typed) if query.trouble), None)
        if trouble is not None:
            self.lead.setText(str(trouble))

    # -- showing ---------------------------------------------------------------------------------

    decision: Decision | None = None

    def _turn_to(self, row: int) -> None:
        if self.round is None or row < 0 or row == self.round.at:
            return
        self.round.at = row
        self._show()

    def _show(self) -> None:
        going = self.round is not None
        for part in (
            self.name,
            self.items,
            self.lead,
            self.reasons,
            self.next,
            self.against,
            self.photo,
            self.list,
            self.listed,
        ):
            part.setVisible(going)
        for start in (self.guide, self.begin, self._below):
            start.setVisible(not going)
        self.begin.setEnabled(self.subject is not None)
        if self.round is None:
            return
        self._show_boxes()
        self.name.setText(self.round.box)
        self.items.show_items(self.round.items)
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
