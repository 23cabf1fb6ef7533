"""Logbook: trips and boxes on the left, what happened to one of them on the right, plan against what came, claims."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QInputDialog, QListWidget, QMessageBox, QPushButton, QWidget

from planner.errors import SkepwayError
from planner.files import passing_folder
from planner.model.catalogue import Catalogue
from planner.ui.look import paint as p
from planner.ui.look.chart_view import ChartView
from planner.ui.look.panel import ShortText, label
from planner.ui.pages.book import Page
from planner.ui.work.background_query import BackgroundQuery, Going
from planner.ui.work.runner import Watch
from planner.words import say

if TYPE_CHECKING:
    from planner.app.cause.words import CauseWords
    from planner.app.lessons.timeline import Timeline
    from planner.store.logbook.book import Logbook
    from planner.store.logbook.records import KnownTrip
    from planner.ui.work.session import Session


@dataclass(frozen=True, eq=False)
class Asked:
    """A trip or a box of it, "" for the trip as a whole."""

    logbook: Logbook
    trip: str
    box: str
    catalogue: Catalogue


def ask_timeline(asked: Asked, _: Watch) -> Timeline:
    from planner.app.lessons.timeline import timeline

    return timeline(asked.logbook, asked.trip, asked.box, asked.catalogue)


def ask_cause(asked: Asked, watch: Watch) -> tuple[str, CauseWords]:
    from planner.app.cause.ask import cause_of
    from planner.app.cause.words import in_words

    found = cause_of(
        asked.logbook,
        asked.trip,
        asked.box,
        asked.catalogue,
        on_progress=watch.on_progress,
        should_stop=watch.should_stop,
    )
    return asked.box, in_words(asked.box, found)


class LogbookPage(Page):
    """Reads the logbook whenever it is turned to; shows a made-up season when asked to."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.timeline = BackgroundQuery(session.runner, "timeline", ask_timeline)
        self.timeline.answered.connect(lambda _: self._tell())
        self.cause = BackgroundQuery(session.runner, "cause", ask_cause)
        self.cause.answered.connect(lambda _: self._tell())
        self.cause.changed.connect(lambda: self._tell() if self.cause.trouble else None)
        self._demo: Logbook | None = None
        self._trips: list[KnownTrip] = []
        self.trips, self.boxes = QListWidget(), QListWidget()
        for listed in (self.trips, self.boxes):
            listed.setWordWrap(True)
            listed.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.trips.setAccessibleName(say("logbook.page_trips"))
        self.boxes.setAccessibleName(say("logbook.page_boxes"))
        self.trips.currentRowChanged.connect(lambda _: self._turn_to_trip())
        self.boxes.currentRowChanged.connect(lambda _: self._ask())
        self.lead = ShortText("", 3, bold=True)
        self.chart = ChartView()
        self.chart.setMinimumHeight(220)
        self.words = p.Sentences(say("logbook.page_timeline"))
        self.switch, self.note = QPushButton(say("logbook.page_demo")), QPushButton(say("logbook.page_note"))
        self.switch.clicked.connect(lambda _=False: self.show_demo(self._demo is None))
        self.note.clicked.connect(lambda _=False: self.write_note())
        foot = QWidget()
        row = QHBoxLayout(foot)
        row.setContentsMargins(0, 0, 0, 0)
        self.claim, self.settle = (
            QPushButton(say("logbook.claim_ask")),
            QPushButton(say("logbook.claim_settle")),
        )
        self.claim.clicked.connect(lambda _=False: self.write_claim(settles=False))
        self.settle.clicked.connect(lambda _=False: self.write_claim(settles=True))
        self.outcome = QPushButton(say("logbook.outcome_write"))
        self.outcome.clicked.connect(lambda _=False: self.write_outcome())
        for part in (self.note, self.outcome, self.claim, self.settle):
            row.addWidget(part)
        row.addStretch(1)
        body = p.under(self.lead, self.chart, self.words, foot, grows=2)
        self.panel = self.hang(say("logbook.page_title"), say("logbook.page_guide"), body)
        self.panel.set_filled(True)
        for going in (self.timeline, self.cause):
            self.panel.head.addWidget(Going(going))
        self.panel.head.addWidget(self.switch)
        trips, boxes = (
            p.under(label(part.accessibleName(), "title"), part) for part in (self.trips, self.boxes)
        )
        self.lists = p.split(Qt.Orientation.Vertical, (trips, 60), (boxes, 40))
        p.fill(self, p.split(Qt.Orientation.Horizontal, (self.lists, 30), (self.panel, 70)))

    # -- what is looked at -----------------------------------------------------------------------

    def showEvent(self, event: object) -> None:
        super().showEvent(event)  # type: ignore[arg-type]
        self.refresh()

    def look(self, subject: object) -> None:
        """The logbook does not hang on the plan: its answers stay when the plan goes."""
        self.subject = subject  # type: ignore[assignment]

    def logbook(self) -> Logbook:
        from planner.store.logbook.book import Logbook

        return self._demo or Logbook()

    def show_demo(self, on: bool) -> None:
        """Show the made-up season, or the user's own logbook again."""
        from planner.app.lessons.demo import demo_logbook

        self._demo = None
        if on:
            try:
                folder = passing_folder()
                self._demo = demo_logbook(folder.path, folder)
            except SkepwayError as error:
                self.lead.setText(str(error))
                return
        self.switch.setText(say("logbook.page_own" if on else "logbook.page_demo"))
        self.refresh()

    def refresh(self) -> None:
        """Read the logbook anew; the trip that is open comes up first."""
        from planner.store.tripfile import trip_id

        try:
            self._trips = self.logbook().trips()[::-1]
        except SkepwayError as error:
            self._trips = []
            self.lead.setText(str(error))
        self.trips.blockSignals(True)
        self.trips.clear()
        for trip in self._trips:
            self.trips.addItem(say("logbook.page_trip", day=trip.day, title=trip.title))
        self.trips.blockSignals(False)
        for part in (self.note, self.outcome, self.claim):
            part.setEnabled(bool(self._trips) and self._demo is None)
        self.settle.setEnabled(False)
        self.lists.setVisible(bool(self._trips))
        if not self._trips:
            self.boxes.clear()
            self.chart.show_chart(None)
            self.lead.setText(say("logbook.page_guide"))
            self.words.show_parts(())
            return
        here = trip_id(self.session.document.draft)
        self.trips.setCurrentRow(next((at for at, t in enumerate(self._trips) if t.key == here), 0))

    def _turn_to_trip(self) -> None:
        trip = self._trip()
        if trip is None:
            return
        events = self.logbook().events(trip=trip.key)
        boxes = sorted({event.subject for event in events if event.subject_kind == "box"})
        self.boxes.blockSignals(True)
        self.boxes.clear()
        self.boxes.addItem(say("logbook.page_whole"))
        self.boxes.addItems(boxes)
        self.boxes.setCurrentRow(0)
        self.boxes.blockSignals(False)
        self._ask()

    def _trip(self) -> KnownTrip | None:
        row = self.trips.currentRow()
        return self._trips[row] if 0 <= row < len(self._trips) else None

    def _ask(self) -> None:
        trip = self._trip()
        if trip is None:
            return
        item = self.boxes.currentItem()
        box = item.text() if item is not None and self.boxes.currentRow() > 0 else ""
        logbook = self.logbook()
        key = (str(logbook.path), trip.key, box, len(logbook.events(trip=trip.key)))
        self.timeline.put(key, Asked(logbook, trip.key, box, self.session.catalogue))

    def write_note(self) -> None:
        """Write something down about the trip or box that is looked at."""
        from planner.store.logbook.records import Entry

        trip = self._trip()
        text, sure = QInputDialog.getText(self, say("logbook.page_note"), say("logbook.page_note_ask"))
        if trip is None or not sure or not text.strip():
            return
        box = self.boxes.currentItem().text() if self.boxes.currentRow() > 0 else ""
        subject = "box" if box else "trip"
        offset_s = int(time.localtime().tm_gmtoff)
        note = Entry("note", time.time(), subject, box, {"text": text}, trip.key, offset_s=offset_s)  # type: ignore[arg-type]
        try:
            self.logbook().add(note)
        except SkepwayError as error:
            QMessageBox.warning(self, say("logbook.page_title"), str(error))
        self._ask()

    def write_outcome(self) -> None:
        """Ask what became of a box of this trip, and write it down."""
        from planner.store.logbook.records import Entry
        from planner.ui.pages.boxes.outcome_form import OutcomeForm

        trip = self._trip()
        if trip is None:
            return
        form = OutcomeForm(self._named_boxes(), self._box(), self)
        if form.exec() != OutcomeForm.DialogCode.Accepted:
            return
        box, body = form.told()
        now_s = time.time()
        offset_s = int(time.localtime(now_s).tm_gmtoff)
        try:
            self.logbook().add(Entry("outcome", now_s, "box", box, body, trip.key, offset_s=offset_s))
        except SkepwayError as error:
            QMessageBox.warning(self, say("logbook.page_title"), str(error))
        self._turn_to_trip()
        for item in self.boxes.findItems(box, Qt.MatchFlag.MatchExactly):
            self.boxes.setCurrentItem(item)

    def write_claim(self, *, settles: bool) -> None:
        """Ask for a claim of a box of this trip, or for how an open one was settled, and write it down."""
        from planner.store.logbook.records import Entry
        from planner.ui.pages.boxes.claim_form import ClaimForm, pictures_of

        trip = self._trip()
        if trip is None:
            return
        boxes = self._open_claims() if settles else self._named_boxes()
        form = ClaimForm(boxes, self._box(), self, settles=settles)
        if form.exec() != ClaimForm.DialogCode.Accepted:
            return
        told = form.told()
        now_s = time.time()
        try:
            body, pictures = pictures_of(told, self.timeline.answer.zone if self.timeline.answer else "")
            entry = Entry(
                "settled" if settles else "claim",
                now_s,
                "box",
                told.box,
                body,
                trip.key,
                offset_s=int(time.localtime(now_s).tm_gmtoff),
            )
            self.logbook().add(entry, pictures=pictures)
        except SkepwayError as error:
            QMessageBox.warning(self, say("logbook.page_title"), str(error))
        self._turn_to_trip()

    def _box(self) -> str:
        item = self.boxes.currentItem()
        return item.text() if item is not None and self.boxes.currentRow() > 0 else ""

    def _named_boxes(self) -> list[str]:
        """The boxes of the trip's plan and those that have an entry."""
        found: Timeline | None = self.timeline.answer
        listed = [self.boxes.item(at).text() for at in range(1, self.boxes.count())]
        return sorted({*listed, *(found.boxes if found is not None else ())})

    def _open_claims(self) -> list[str]:
        """The boxes with a claim that nobody has settled."""
        found: Timeline | None = self.timeline.answer
        events = found.events if found is not None else ()
        settled = {event.subject for event in events if event.kind == "settled"}
        return sorted({event.subject for event in events if event.kind == "claim"} - settled)

    # -- showing ---------------------------------------------------------------------------------

    def _tell(self) -> None:
        from planner.app.lessons.season import lessons, ridden
        from planner.app.lessons.timeline import chart_of, claims, handovers, line_of
        from planner.app.lessons.words import in_words

        found: Timeline | None = self.timeline.answer
        if found is None:
            return
        chart = chart_of(found)
        self.chart.setVisible(chart is not None)
        self.chart.show_chart(chart)
        self.settle.setEnabled(self._demo is None and bool(self._open_claims()))
        boxes = ridden(self.logbook())
        season = in_words(lessons(boxes))
        self.lead.setText(season.headline if boxes else say("logbook.page_no_outcome"))
        lines = tuple(line_of(event, found.zone, found.people) for event in found.events)
        self.words.show_parts(
            (
                *self._causes(found),
                (say("logbook.page_claims"), tuple(claims(found.events, found.zone))),
                (say("logbook.page_handovers"), tuple(handovers(found.events, found.zone, found.people))),
                (say("logbook.page_timeline"), lines[-MOST_LINES:]),
                (say("logbook.page_lessons"), season.stands_out),
            )
        )

    def _causes(self, found: Timeline) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """What may have happened to the box that is looked at, where it was lost; asked for once it is known."""
        box, trip = self._box(), self._trip()
        outcomes = [event for event in found.events if event.kind == "outcome" and event.subject == box]
        if not box or trip is None or not outcomes or outcomes[-1].body.get("lost") is not True:
            return ()
        logbook = self.logbook()
        key = (str(logbook.path), trip.key, box, len(found.events))
        self.cause.put(key, Asked(logbook, trip.key, box, self.session.catalogue))
        answer: tuple[str, CauseWords] | None = self.cause.answer
        if self.cause.trouble:
            lines: tuple[str, ...] = (str(self.cause.trouble),)
        elif answer is None or answer[0] != box:
            return ()
        else:
            lines = (answer[1].headline, *answer[1].stories, *answer[1].settles, *answer[1].cautions)
        return ((say("logbook.page_cause", box=box), lines),)


MOST_LINES = 200
"""Lines of one timeline that are laid out at once, the newest."""
