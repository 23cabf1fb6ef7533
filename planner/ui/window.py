"""The main window: puts steps, answer and pages together, opens and closes; carries nothing and decides nothing."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QEvent, QSize, Qt
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDragMoveEvent, QDropEvent, QResizeEvent
from PySide6.QtWidgets import QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from planner.errors import Fault
from planner.model.catalogue import Catalogue
from planner.model.records import Road
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.paint import split
from planner.ui.look.toast import Toast
from planner.ui.looks import Looks
from planner.ui.menus import build_menus
from planner.ui.output import Output
from planner.ui.pages.book import Book
from planner.ui.places import Places
from planner.ui.plan.answer_bar import AnswerBar
from planner.ui.plan.plan_view import PlanView
from planner.ui.plan.seen import Table
from planner.ui.sheets import Sheets
from planner.ui.showing import Showing
from planner.ui.steps.load_step import LoadStep
from planner.ui.steps.route_step import ROAD_ENDINGS, RouteStep
from planner.ui.steps.steps import Steps
from planner.ui.steps.when_step import WhenStep
from planner.ui.summaries import summaries
from planner.ui.trip import trips
from planner.ui.trip.document import Document
from planner.ui.trip.first_page import FirstPage
from planner.ui.trip.hands import UndoKeys, commit_typing, take_copy
from planner.ui.trip.preferences import Preferences
from planner.ui.trip_files import TripFiles
from planner.ui.troubles import Troubles
from planner.ui.work.data_source import DataSource
from planner.ui.work.recovery import Recovery, left_behind
from planner.ui.work.runner import Runner
from planner.ui.work.session import Session
from planner.units import METRIC, US

LEFT_PX, LEFT_SHARE, MOST_SHARE = 404, 0.33, 0.45
"""The steps are so wide, and no more than this share of the window (in larger type the last), until drawn wider."""
LEAST_WIDE, LEAST_HIGH = 900, 500
FRAME_PX = 40
"""Room the desktop's own frame takes of a screen's height."""


class Window(QMainWindow):
    """One trip at a time; every panel is an attribute so that tests and pictures can reach it."""

    def __init__(
        self, catalogue: Catalogue, data_source: DataSource, preferences: Preferences, recovery_folder: Path
    ) -> None:
        super().__init__()
        self.preferences, self.data_source = preferences, data_source
        self.units = US if preferences.units == "us" else METRIC
        self.runner = Runner(self)
        self.document = Document(self)
        left = left_behind(recovery_folder, preferences.keep_days)
        self.recovery = Recovery(self.document, self.runner, recovery_folder)
        self.files = TripFiles(self, self.document, self.recovery, preferences, left)
        self.new_trip, self.open_trip, self.open_demo = (
            self.files.new_trip,
            self.files.open_trip,
            self.files.open_demo,
        )
        self.session = Session(self.document, catalogue, self.runner, data_source)
        self.session.units, self.session.language = self.units, preferences.language
        self.places = Places(self, self.document, self.runner, data_source)
        self.road: Road | None = None
        self._asked_to_close = False
        self._build(catalogue)
        if self.recovery.trouble is not None:
            self.notice.tell("trouble", str(self.recovery.trouble))
        self.map.set_beside(preferences.beside_road)
        self.session.aside.beside = preferences.beside_road
        self.undo_keys = UndoKeys(self, self.document)
        build_menus(self.menuBar(), self)
        self._connect()
        self.setAcceptDrops(True)
        self.setMinimumSize(LEAST_WIDE, LEAST_HIGH)
        self._take_room()
        self.show_first_page()
        self._retitle()

    def _take_room(self) -> None:
        """As large as last time, else as the sketch; never larger than the screen."""
        screen = self.screen().availableGeometry() if self.screen() else None
        wide, high = (screen.width(), screen.height()) if screen else (1280, 800)
        self.resize(min(1280, wide), min(800, high - FRAME_PX))
        if self.preferences.geometry:
            self.restoreGeometry(QByteArray.fromBase64(self.preferences.geometry.encode()))
        self.sides.splitterMoved.connect(self._drawn_wider)
        self._share_sides()

    def _share_sides(self) -> None:
        """The steps keep their width whatever comes and goes beside them."""
        bigger = theme.stage.scale
        wide, share = LEFT_PX * bigger, min(LEFT_SHARE * bigger, MOST_SHARE)
        left = self.preferences.steps_px or round(min(wide, self.width() * share))
        self.sides.setSizes([left, max(self.width() - left, 1)])

    def _drawn_wider(self, left: int, _: int) -> None:
        self.preferences.steps_px = left

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        if hasattr(self, "sides"):
            self._share_sides()

    def changeEvent(self, event: QEvent) -> None:
        super().changeEvent(event)
        if event.type() == QEvent.Type.FontChange and hasattr(self, "sides"):
            self._share_sides()

    # -- building --------------------------------------------------------------------------------

    def _build(self, catalogue: Catalogue) -> None:
        self.first_page = FirstPage(catalogue.vehicles)
        self.answer_bar = AnswerBar()
        self.route_pane = RouteStep(self.document, self.places)
        self.load_editor = LoadStep(self.document, catalogue, self.units)
        self.when_pane = WhenStep(self.document)
        self.when_pane.set_units(self.units)
        self.steps = Steps(
            (
                (s.STEP_ROUTE, self.route_pane),
                (s.STEP_LOAD, self.load_editor),
                (s.STEP_WHEN, self.when_pane),
            )
        )
        self.plan_view = view = PlanView(self.units)
        self.map, self.board, self.candidates = view.map, view.board, view.candidates
        self.curves, self.strip, self.ledger = view.curves, view.strip, view.ledger
        self.map_panel, self.board_panel = view.map_panel, view.board_panel
        self.curve_panel, self.ledger_panel = view.curve_panel, view.ledger_panel
        self.output = Output(self, self.session, view.paper, self.curves)
        view.export.setMenu(self.output.curve_menu())
        self.sheets = Sheets(self, self.session, self._readable)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.first_page)
        self.pages.addWidget(self._work_page())
        self.setCentralWidget(self.pages)
        self.notice = Toast(self.pages, self.steps)
        self.looks = Looks(self)
        panes = (self.route_pane, self.load_editor, self.when_pane)
        self.troubles = Troubles(self, self.session, self.notice, self.steps, panes, self.looks.show_settings)
        self.showing = Showing(self.session, self.troubles, self.answer_bar, view, self.book, panes)

    def _work_page(self) -> QWidget:
        self.book = Book(self.session, self.plan_view, self.preferences)
        self.sides = split(Qt.Orientation.Horizontal, (self.steps, 0), (self.book, 1))
        page = QWidget()
        outer = QVBoxLayout(page)
        outer.setContentsMargins(10, 4, 10, 10)
        outer.setSpacing(8)
        outer.addWidget(self.answer_bar)
        outer.addWidget(self.sides, 1)
        return page

    def show_step(self, number: int) -> None:
        """Open a step and give its first field the keyboard."""
        self.steps.turn(number)
        self.steps.heads[number].setFocus()

    @property
    def table(self) -> Table:
        """The board as shown."""
        return self.showing.table

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What is wrong with the draft, as told."""
        return self.troubles.faults

    def set_cursor(self, time_s: float) -> None:
        """One moment for every picture."""
        self.showing.set_cursor(time_s)

    def _connect(self) -> None:
        self.showing.road_known.connect(self._take_road)
        self.troubles.changed.connect(self._summarise)
        self.answer_bar.cautions_wanted.connect(self.sheets.show_cautions)
        self.answer_bar.reasons_wanted.connect(self.sheets.show_reasons)
        self.answer_bar.stop_wanted.connect(self.stop)
        self._connect_places()
        self._connect_files()
        self.document.title_changed.connect(self._retitle)
        self.document.changed.connect(self._draft_changed)

    def _connect_places(self) -> None:
        places, pane = self.places, self.route_pane
        pane.pick_on_map.connect(places.pick)
        pane.remember.connect(places.remember)
        pane.road_dropped.connect(places.import_road)
        self.map.point_picked.connect(places.picked)
        places.picking.connect(self._show_picking)
        places.said.connect(self.notice.say)
        places.failed.connect(self.troubles.tell)

    def _connect_files(self) -> None:
        files, page = self.files, self.first_page
        page.open_path.connect(files.open_trip)
        page.open_demo.connect(files.open_demo)
        page.new_wanted.connect(files.new_trip)
        page.browse_wanted.connect(files.browse)
        files.opening.connect(self._make_room)
        files.opened.connect(self._show_opened)
        files.started.connect(self._show_started)
        files.left.connect(self._show_left)
        files.recovered.connect(lambda words: self.notice.tell("recovered", words))
        files.twice.connect(lambda: self.notice.tell("twice", s.say(s.TWICE)))
        for said in (files.kept, self.output.wrote):
            said.connect(self.notice.say)

    # -- the draft ---------------------------------------------------------------------------------

    def _retitle(self) -> None:
        title = self.document.get(("title",)) or s.say(s.UNTITLED)
        on_trip = self.files.on_trip
        self.setWindowTitle(s.say(s.WINDOW_TITLE, title=title) if on_trip else s.say(s.APP))
        self.setWindowModified(on_trip and self.document.dirty)

    def _draft_changed(self, spot: tuple[Any, ...]) -> None:
        if not spot or spot[0] == "title":
            self._retitle()
        if not spot or spot[0] in ("origin", "destination", "stops"):
            self.map.show_pins(self.document.draft)
        self._summarise()

    def _summarise(self) -> None:
        self.steps.show_summaries(
            summaries(
                self.document.draft,
                self.road,
                self.troubles.faults,
                self.session.catalogue,
                self.units,
                assumed=self.when_pane.own.assumed,
            )
        )

    def _take_road(self, road: Road | None) -> None:
        self.road = road
        self._summarise()

    def stop(self) -> None:
        """Give up what is under way: a click waited for on the map, else the work."""
        self.places.forget_pick()
        self.showing.stop()

    def _show_picking(self, on: bool) -> None:
        self.map.set_picking(on)
        self.map_panel.note.setText(s.say(s.ROUTE_FROM_MAP_HINT) if on else "")
        if on:
            self.book.turn(0)

    def _readable(self) -> Any:
        """The page turned to; of the plan the picture with the keyboard, else the curves."""
        page = self.book.reading()
        if page is not None:
            return page
        views = (self.board, self.curves, self.strip, self.ledger, self.map)
        return next((view for view in views if view.hasFocus()), self.curves)

    # -- trips coming and going --------------------------------------------------------------------

    def show_first_page(self) -> None:
        """The page without a trip."""
        self.first_page.show_trips(trips.demos(), trips.described(self.preferences.recent_files()))
        self.pages.setCurrentIndex(0)
        self._retitle()
        if self.files.left_by_crash:
            title = self.files.left_by_crash[0].draft.get("title") or s.say(s.UNTITLED)
            self.first_page.show_left(title, self.files.recover, self.files.drop_left)

    def _make_room(self) -> None:
        self.places.forget_pick()
        self.session.reset()
        self.notice.clear()
        self.pages.setCurrentIndex(1)

    def _show_opened(self) -> None:
        if not self.troubles.unsaid():
            self.answer_bar.show_words(s.say(s.ANSWER_WORKING))
        self.load_editor.vehicle.proposed = None
        self.load_editor.choose(0)
        self.session.group = None
        self.steps.turn(0)
        self.steps.heads[0].setFocus()
        self.map.fit()

    def _show_started(self) -> None:
        self.steps.turn(0)
        self.route_pane.origin.box.setFocus()
        home = self.preferences.home_yard
        if home:
            self.places.find_all([home], lambda found: self._start_from(found.get(home)))

    def _start_from(self, place: dict[str, Any] | None) -> None:
        """A new trip starts at home, unless something else was said meanwhile."""
        if place is not None and not self.document.get(("origin",)):
            self.route_pane.origin.take(place)
            self.route_pane.destination.box.setFocus()

    def _show_left(self) -> None:
        self.session.stop()
        self.notice.clear()
        self.show_first_page()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if any(url.isLocalFile() for url in event.mimeData().urls()):
            take_copy(event)

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        take_copy(event)

    def dropEvent(self, event: QDropEvent) -> None:
        """A trip dropped anywhere is opened, a track becomes the road."""
        for path in (Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()):
            if path.suffix.lower() == ".toml":
                self.files.open_trip(path)
            elif path.suffix.lower() in ROAD_ENDINGS and self.files.on_trip:
                self.places.import_road(path)
            else:
                self.notice.tell("said", s.say(s.DROPPED_NOT, name=path.name))
            take_copy(event)
            return

    def sizeHint(self) -> QSize:
        return QSize(1280, 800)

    def closeEvent(self, event: QCloseEvent) -> None:
        commit_typing()
        if not self._asked_to_close and not self.files.may_drop():
            event.ignore()
            return
        self._asked_to_close = True
        self.preferences.geometry = bytes(self.saveGeometry().toBase64().data()).decode()
        self.preferences.save()
        self.runner.close()
        self.map.show_tiles(None, "")
        self.data_source.close()
        self.files.close()
        self.recovery.close()
        event.accept()
