"""Parcel: a lane from its file, the user's tick that the carrier takes live bees, and the answer for the week."""

from __future__ import annotations

import copy
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QDate, Qt
from PySide6.QtWidgets import (
    QCheckBox,
    QDateEdit,
    QFileDialog,
    QPushButton,
    QTableWidget,
    QTableWidgetItem,
)

from planner.errors import SkepwayError
from planner.ui.look import paint as p
from planner.ui.look.chart_view import ChartView
from planner.ui.look.panel import Panel, ShortText, label
from planner.ui.pages.book import Page
from planner.ui.work.background_query import SEED, BackgroundQuery, Going, Subject
from planner.ui.work.runner import Watch
from planner.words import say, share

if TYPE_CHECKING:
    from planner.app.lane.records import LaneAnswer
    from planner.model.catalogue import Catalogue
    from planner.ui.work.session import Session

BOARD_PX = 130
ROOM_PX = 1000
"""More than any window has: what is less than its parts need is shared by their needs and not as asked for."""


@dataclass(frozen=True, eq=False)
class AskedLane:
    """A lane's draft and where its other files are."""

    draft: dict[str, Any]
    folder: Path
    catalogue: Catalogue


def ask_lane(asked: AskedLane, watch: Watch) -> LaneAnswer:
    """The answer for the lane's week."""
    from planner.app.lane.inputs import weather_of_lane
    from planner.app.lane.plan import lane_answer
    from planner.app.plan.inputs import Sources
    from planner.store.lanefile import resolve_lane

    lane = resolve_lane(asked.draft, asked.catalogue, asked.folder)
    sources = None
    if lane.weather is not None and lane.weather.weather is None and lane.weather.source != "own":
        sources = Sources.open()
    try:
        weather = weather_of_lane(lane, sources, now_s=time.time())
    finally:
        if sources is not None:
            sources.close()
    return lane_answer(
        lane,
        weather,
        asked.catalogue,
        seed=SEED,
        on_progress=watch.on_progress,
        should_stop=watch.should_stop,
    )


class ParcelPage(Page):
    """The stages of a lane, the carrier's word, and what the answer is."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.lane = BackgroundQuery(session.runner, "lane", ask_lane)
        self.draft: dict[str, Any] | None = None
        self.folder = Path()
        self._number = 0
        self._settling = False
        self.lead, self.told = ShortText("", 4, bold=True), ShortText("", 4)
        self.open, self.go = QPushButton(say("parcel.page_open")), QPushButton(say("parcel.page_plan"))
        self.open.clicked.connect(lambda _=False: self.browse())
        self.go.clicked.connect(lambda _=False: self.start())
        self.tick = QCheckBox(say("parcel.page_tick"))
        self.asked_on = QDateEdit()
        self.asked_on.setCalendarPopup(True)
        self.asked_on.setDisplayFormat("yyyy-MM-dd")
        self.asked_on.setAccessibleName(say("parcel.page_tick_on"))
        self.tick.toggled.connect(lambda _: self._word())
        self.asked_on.dateChanged.connect(lambda _: self._word())
        self.stages = QTableWidget()
        self.stages.setAccessibleName(say("parcel.page_stages"))
        self.stages.setEditTriggers(QTableWidget.EditTrigger.NoEditTriggers)
        self.stages.setTabKeyNavigation(False)
        self.week = QDateEdit()
        self.week.setCalendarPopup(True)
        self.week.setDisplayFormat("yyyy-MM-dd")
        self.week.setAccessibleName(say("parcel.page_week"))
        self.week.setKeyboardTracking(False)
        self.asked_on.setKeyboardTracking(False)
        self.week.dateChanged.connect(lambda _: self._other_week())
        self.words = p.Sentences(say("parcel.page_answer"))
        self.board = ChartView()
        self.board.setAccessibleName(say("parcel.page_board"))
        self.board.setMinimumHeight(BOARD_PX)
        self.board.hide()
        word = p.under(self.tick, label(say("parcel.page_tick_on"), "soft"), self.asked_on)
        week = p.under(label(say("parcel.page_week"), "soft"), self.week)
        left = p.under(self.stages, week, word, grows=0)
        self.board_title = label(say("parcel.page_board"), "soft")
        self.board_title.hide()
        right = p.under(self.board_title, self.board, self.words, grows=2)
        sides = p.split(Qt.Orientation.Horizontal, (left, 2), (right, 3))
        sides.setObjectName("parcel.sides")
        sides.setSizes([2 * ROOM_PX, 3 * ROOM_PX])
        body = p.under(self.lead, sides, grows=1)
        self.panel = Panel(say("parcel.page"), say("parcel.page_guide"), body)
        for part in (Going(self.lane), self.open, self.go):
            self.panel.head.addWidget(part)
        p.fill(self, p.under(self.panel, self.told, grows=0))
        self.lane.answered.connect(lambda _: self.show_answers())
        self.lane.changed.connect(self._settle)
        self._settle()

    # -- this page rests on no trip ----------------------------------------------------------------

    def look(self, subject: Subject | None) -> None:
        self.subject = subject

    def dim(self, stale: bool, words: str) -> None:
        """A lane stands beside the trip: nothing of it becomes stale."""

    def queries(self) -> tuple[BackgroundQuery, ...]:
        return (self.lane,)

    # -- wishes ------------------------------------------------------------------------------------

    def browse(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, say("parcel.page_open"), "", say("parcel.page_files"))
        if name:
            self.take(Path(name))

    def take(self, path: Path) -> None:
        """Read a lane file; on a fault what was there stays."""
        from planner.store.lanefile import load_lane, read_lane

        try:
            load_lane(path, self._catalogue())
            draft = read_lane(path)
        except SkepwayError as error:
            self.told.setText(str(error))
            return
        self.folder, self.draft = path.parent, draft
        self.told.setText("")
        self._show_draft()
        self.start()

    def start(self) -> None:
        """Work the answer out for the lane as it stands."""
        if self.draft is None:
            return
        self._number += 1
        self.lane.put(self._number, AskedLane(copy.deepcopy(self.draft), self.folder, self._catalogue()))

    def _catalogue(self) -> Catalogue:
        """The session's catalogue with the places that only lanes know."""
        from dataclasses import replace

        from planner.store.catalogue import load_catalogue
        from planner.store.lanerules import lane_places

        places = {**load_catalogue(lane_places()).loading_places, **self.session.catalogue.loading_places}
        return replace(self.session.catalogue, loading_places=places)

    def _word(self) -> None:
        """The user says that the carrier takes bees, and when he asked; the answer follows."""
        if self.draft is None or self._settling:
            return
        carrier: dict[str, Any] = {"accepts_live_bees": self.tick.isChecked()}
        if self.tick.isChecked():
            carrier["asked_on"] = self.asked_on.date().toString("yyyy-MM-dd")
        self.draft = {**self.draft, "carrier": carrier}
        self.start()

    def _other_week(self) -> None:
        """Another week of the same lane; the answer follows."""
        if self.draft is None or self._settling:
            return
        self.draft = {**self.draft, "week": self.week.date().toString("yyyy-MM-dd")}
        self._settle()
        self.start()

    # -- showing -----------------------------------------------------------------------------------

    def _show_draft(self) -> None:
        from planner.app.lane.words import stage_words

        draft = self.draft or {}
        carrier = draft.get("carrier", {})
        self._settling = True
        self.tick.setChecked(bool(carrier.get("accepts_live_bees", False)))
        asked_on = QDate.fromString(str(carrier.get("asked_on", "")), "yyyy-MM-dd")
        self.asked_on.setDate(asked_on if asked_on.isValid() else QDate.currentDate())
        week = QDate.fromString(str(draft.get("week", "")), "yyyy-MM-dd")
        self.week.setDate(week if week.isValid() else QDate.currentDate())
        self._settling = False
        rows = draft.get("stages", [])
        heads = [say("parcel.page_kind"), say("parcel.page_minutes"), say("parcel.page_places")]
        self.stages.setRowCount(len(rows))
        self.stages.setColumnCount(len(heads))
        self.stages.setHorizontalHeaderLabels(heads)
        titles = {name: place.title for name, place in self._catalogue().loading_places.items()}
        for at, row in enumerate(rows):
            minutes = ", ".join(f"{value:g}" for value in row["minutes"])
            places = ", ".join(
                say("parcel.page_place", place=titles.get(name, name), share=share(weight))
                for name, weight in row.get("places", {}).items()
            )
            for column, text in enumerate((stage_words(row["kind"]), minutes, places)):
                self.stages.setItem(at, column, QTableWidgetItem(text))
        self.stages.resizeColumnsToContents()
        self._settle()

    def _settle(self) -> None:
        self.panel.set_filled(self.draft is not None)
        self.go.setEnabled(self.draft is not None and not self.lane.working)
        if self.lane.trouble is not None:
            self.told.setText(str(self.lane.trouble))
        if self.draft is not None and self.lane.answer is None:
            draft = self.draft
            title, week = str(draft["title"]), str(draft["week"])
            self.lead.setText(
                say("parcel.page_loaded", title=title, week=week, count=str(draft.get("boxes", 1)))
            )

    def show_answers(self) -> None:
        from planner.app.lane.pictures import week_chart
        from planner.app.lane.words import lane_words

        answer = self.lane.answer
        if answer is None:
            return
        titles = {name: place.title for name, place in self._catalogue().loading_places.items()}
        head, sections = lane_words(answer, titles)
        self.lead.setText(head)
        self.words.show_parts(sections)
        self.board.show_chart(week_chart(answer))
        self.board.setAccessibleDescription(head)
        for part in (self.board_title, self.board):
            part.show()
