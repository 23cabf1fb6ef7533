"""Season: the chance that this lane goes well, by week of the year and hour of departure."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtWidgets import QFileDialog, QPushButton, QToolButton

from planner.folders import data_dir
from planner.ui.look import paint as p
from planner.ui.look import strings as s
from planner.ui.look.icons import Choices
from planner.ui.look.panel import ShortText
from planner.ui.pages.book import Page
from planner.ui.pages.season_view import SeasonView
from planner.ui.work.background_query import BackgroundQuery, Going, Subject
from planner.ui.work.runner import Watch

if TYPE_CHECKING:
    from planner.app.season.chart import Season
    from planner.model.records import Site
    from planner.ui.work.session import Session


@dataclass(frozen=True, eq=False)
class Years:
    """A candidate's lane, and the weather file it is to be driven through."""

    subject: Subject
    place: str
    path: Path


def ask_season(asked: Years, watch: Watch) -> Season:
    """The chart; finished weeks are kept and found again."""
    from concurrent.futures import ThreadPoolExecutor

    from planner.app.advice.changes import setup_of
    from planner.app.season.chart import Lane, season, season_folder
    from planner.store.typicalyear import read_year

    plan, catalogue = asked.subject.plan, asked.subject.catalogue
    weather = read_year(asked.path)
    lane = Lane(plan.trip, plan.road, asked.place, setup_of(plan, asked.subject.choice))
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        return season(
            lane,
            weather,
            catalogue,
            tolerance=asked.subject.tolerance,
            folder=season_folder(data_dir() / "season", lane, weather, catalogue),
            executor=pool,
            on_progress=watch.on_progress,
            should_stop=watch.should_stop,
        )


class SeasonPage(Page):
    """One chart with what it rests on."""

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.season = BackgroundQuery(session.runner, "season", ask_season)
        self.path: Path | None = None
        self._carried = False
        self._asked: Subject | None = None
        self.chart = SeasonView()
        self.lead, self.cell = ShortText("", 2, bold=True), ShortText("", 2)
        self.choose = QPushButton(s.say(s.SEASON_CHOOSE))
        self.choose.clicked.connect(lambda _=False: self.browse())
        self.place = Choices()
        self.place.setMinimumContentsLength(18)
        self.place.setAccessibleName(s.say(s.SEASON_PLACE))
        self.place.activated.connect(lambda _: self.start())
        self.agitated = QToolButton()
        self.agitated.setCheckable(True)
        self.agitated.setText(s.say(s.SEASON_AGITATED))
        self.agitated.setToolTip(s.say(s.SEASON_AGITATED_HINT))
        self.agitated.toggled.connect(self.chart.set_agitated)
        self.agitated.toggled.connect(lambda _: self._tell_cell())
        self.go = QPushButton(s.say(s.SEASON_GO))
        self.go.clicked.connect(lambda _=False: self.start())
        body = p.under(self.lead, self.chart, self.cell, grows=1)
        self.panel = self.hang(s.SEASON_TITLE, s.SEASON_GUIDE, body, self.season)
        for part in (Going(self.season), self.agitated, self.place, self.choose, self.go):
            self.panel.head.addWidget(part)
        p.fill(self, self.panel)
        self.season.answered.connect(lambda _: self.show_answers())
        self.season.changed.connect(self._buttons)
        self.chart.picked.connect(lambda *_: self._tell_cell())
        self._buttons()

    def ask(self) -> None:
        """Nothing is begun by itself: a year takes a while. The places follow the plan."""
        if self.subject is None:
            return
        plan = self.subject.plan
        names = [plan.loading_places[i] for i in range(len(plan.loading_places))]
        if [self.place.itemData(i) for i in range(self.place.count())] != names:
            self.place.clear()
            for name, title in zip(plan.loading_places, plan.loading_place_titles, strict=True):
                self.place.addItem(title, name)
            self.place.setCurrentIndex(self.subject.choice.loading_place)
        if self.path is None or self._carried:
            self._look_near(plan.trip.origin)
        self._buttons()

    def _look_near(self, start: Site) -> None:
        """A typical year that is carried, where one lies near the start; else which file to fetch."""
        from planner.store.climates import nearest, to_fetch

        near = nearest(start.lat_deg, start.lon_deg)
        self._carried = near.serves
        self.path = near.climate.path if near.serves else None
        told = near.in_words() if near.serves else to_fetch(start.lat_deg, start.lon_deg)
        self.panel.plain_guidance = f"{told}\n\n{s.say(s.SEASON_READY if near.serves else s.SEASON_GUIDE)}"
        self.panel.note.setText(near.in_words() if near.serves else "")
        self.settle_panels()

    def look(self, subject: Subject | None) -> None:
        super().look(subject)
        self._buttons()

    # -- wishes ----------------------------------------------------------------------------------

    def browse(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, s.say(s.SEASON_CHOOSE), "", s.say(s.FILTER_LOG))
        if name:
            self.take(Path(name))

    def take(self, path: Path) -> None:
        """Use this weather file, and begin."""
        self.path, self._carried = path, False
        self.panel.note.setText(path.name)
        self.start()

    def start(self) -> None:
        """Work the chart out, going on from the weeks that are kept."""
        if self.path is None or self.subject is None or self._dimmed:
            return
        self._asked = self.subject
        place = self.place.currentData()
        key = (str(self.path), place, self.subject.choice.setup, id(self.subject.plan.outcomes))
        self.season.put(key, Years(self.subject, place, self.path))
        if self.season.trouble or self.season.stopped:
            self.season.again()

    # -- showing ---------------------------------------------------------------------------------

    def settle_panels(self) -> None:
        super().settle_panels()
        other = (
            self.subject is not None
            and self._asked is not None
            and self.subject.plan.outcomes is not self._asked.plan.outcomes
        )
        if other and not self._dimmed and self.season.answer is not None:
            self.panel.set_stale(True, s.say(s.SEASON_OLD))

    def _buttons(self) -> None:
        ready = self.path is not None and self.subject is not None
        self.go.setVisible(ready and not self.season.working and not self.season.stopped)
        self.place.setVisible(ready)
        self.agitated.setVisible(self.season.answer is not None)

    def show_answers(self) -> None:
        found = self.season.answer
        if found is None:
            return
        from planner.app.season.words import season_words

        said = season_words(found, self.session.catalogue)
        self.lead.setText(said.headline)
        self.chart.show_season(found)
        self._tell_cell()

    def _tell_cell(self) -> None:
        found = self.season.answer
        if found is None:
            return
        from planner.app.season.words import week_text

        week, hour = self.chart.cell
        days = int(found.days[week, hour])
        when = {"week": week_text(found, week), "hour": f"{hour:02d}:00"}
        if not days:
            text = s.say(s.SEASON_CELL_UNKNOWN, **when)
        else:
            harmed, robust = 1.0 - float(found.safe_share[week, hour]), float(found.robust_share[week, hour])
            peak = float(found.peak_c[week, hour])
            text = s.say(
                s.SEASON_CELL,
                **when,
                harm=round(100.0 * harmed),
                robust=round(100.0 * robust),
                days=days,
                peak=self.units.temp_text(peak) if np.isfinite(peak) else s.say(s.UNKNOWN_VALUE),
            )
        self.cell.setText(text)
        self.chart.setAccessibleDescription(text)
