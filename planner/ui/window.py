"""The main window: puts steps, answer and pages together, carries wishes and states between them; decides nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from PySide6.QtCore import QByteArray, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent, QDragEnterEvent, QDropEvent
from PySide6.QtWidgets import QMainWindow, QStackedWidget, QVBoxLayout, QWidget

from planner.app.answer.records import MIXED, Answer, Candidate, GroupFate
from planner.app.plan.plan import sun_heights
from planner.app.plan.results import Curves
from planner.errors import Fault, SkepwayError
from planner.model.catalogue import Catalogue
from planner.model.records import Road, Trip
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.ui.look.paint import split
from planner.ui.look.toast import Toast
from planner.ui.looks import Looks
from planner.ui.menus import build_menus
from planner.ui.output import Output
from planner.ui.pages.book import Book
from planner.ui.places import Places
from planner.ui.plan.answer_bar import AnswerBar
from planner.ui.plan.plan_view import PlanView
from planner.ui.plan.seen import Table, figure_text, shown_of, table_of
from planner.ui.sheets import Sheets
from planner.ui.steps.load_step import LoadStep
from planner.ui.steps.route_step import ROAD_ENDINGS, RouteStep
from planner.ui.steps.steps import Steps
from planner.ui.steps.when_step import WhenStep
from planner.ui.summaries import step_of, summaries
from planner.ui.trip import trips
from planner.ui.trip.document import Document
from planner.ui.trip.edits import is_blank
from planner.ui.trip.fields import Field, place_faults
from planner.ui.trip.first_page import FirstPage
from planner.ui.trip.hands import UndoKeys, commit_typing
from planner.ui.trip.preferences import Preferences
from planner.ui.trip_files import TripFiles
from planner.ui.work.data_source import DataSource
from planner.ui.work.recovery import Recovery, left_behind
from planner.ui.work.runner import Runner
from planner.ui.work.session import Closer, Picture, Session
from planner.units import METRIC, US

LEFT_PX, LEFT_SHARE = 396, 0.33
LEAST_WIDE, LEAST_HIGH = 900, 500
FRAME_PX = 40
"""Room the desktop's own frame takes of a screen's height."""
PATIENCE_MS = 130
"""How long curves may belong to the moment before without being dimmed: shorter than an eye notices."""


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
        self.session.units = self.units
        self.places = Places(self, self.document, self.runner, data_source)
        self.road: Road | None = None
        self.table = Table((), (), "UTC")
        self._faults: tuple[Fault, ...] = ()
        self._asked_to_close = False
        self._stopped = False
        self._stale = False
        self._after_curves: list[Callable[[], None]] = []
        self._patience = QTimer(self, singleShot=True, interval=PATIENCE_MS)
        self._patience.timeout.connect(lambda: self._dim_curves(True))
        self._turns = QTimer(self, interval=1)
        self._turns.timeout.connect(self._take_turn)
        self._build(catalogue)
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
        left = min(LEFT_PX, round(self.width() * LEFT_SHARE))
        self.sides.setSizes([left, self.width() - left])
        if self.preferences.geometry:
            self.restoreGeometry(QByteArray.fromBase64(self.preferences.geometry.encode()))

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
        self.output = Output(self, self.session, view.on_paper, self.curves)
        view.export.setMenu(self.output.curve_menu())
        self.sheets = Sheets(self, self.session, self._readable)
        self.pages = QStackedWidget()
        self.pages.addWidget(self.first_page)
        self.pages.addWidget(self._work_page())
        self.setCentralWidget(self.pages)
        self.notice = Toast(self.pages)
        self.looks = Looks(self)

    def _work_page(self) -> QWidget:
        self.book = Book(self.session, self.plan_view)
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

    def _connect(self) -> None:
        session = self.session
        session.faults_found.connect(self.show_faults)
        session.way_found.connect(self._show_way)
        session.unanswered.connect(self._show_unanswered)
        session.closer_changed.connect(self._show_closer)
        session.answer_changed.connect(self._show_answer)
        session.picture_changed.connect(self._show_picture)
        session.pins_changed.connect(self._show_candidate)
        session.plan_stale.connect(self._take_stale)
        session.curves_stale.connect(self._curves_stale)
        session.progress.connect(self._show_progress)
        session.trouble.connect(self._tell_trouble)
        self.board.chosen.connect(self._chosen)
        self.board.pinned.connect(self._pin_next)
        self.candidates.back_wanted.connect(self._back_to_best)
        self.candidates.pin_wanted.connect(lambda letter: session.pin(letter, session.candidate))
        self.candidates.unpin_wanted.connect(lambda letter: session.pin(letter, None))
        self.candidates.look_wanted.connect(lambda letter: self._chosen(session.pins[letter]))
        self.answer_bar.departure_chosen.connect(self._departure_chosen)
        for view in (self.curves, self.strip, self.map, self.book):
            view.cursor_moved.connect(self.set_cursor)
        self.curves.span_changed.connect(self.strip.set_span)
        self.plan_view.group_wanted.connect(session.look_at_group)
        self.plan_view.cursor_wanted.connect(self.set_cursor)
        self.plan_view.agitated_wanted.connect(self.curves.set_agitated)
        self.load_editor.group_chosen.connect(session.look_at_group)
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
        places.failed.connect(self._tell_trouble)

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

    # -- states shown ------------------------------------------------------------------------------

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
                self._faults,
                self.session.catalogue,
                self.units,
                assumed=self.when_pane.own.assumed,
            )
        )

    def show_faults(self, faults: tuple[Fault, ...]) -> None:
        """Each fault beside its field; those that belong to none go to a line over the page."""
        unsaid = self._unsaid()
        stops = self.document.get(("stops",)) or []
        blank = {f"stops[{number}]" for number, stop in enumerate(stops) if is_blank(stop)}
        self._faults = tuple(
            fault
            for fault in faults
            if fault.field.split(".")[0] not in unsaid and fault.field.split(".")[0] not in blank
        )
        fields = [*self.route_pane.fields, *self.load_editor.fields, *self.when_pane.fields]
        homeless = place_faults(fields, self.route_pane.show_stop_faults(self._faults))
        self._dim_again()
        self._summarise()
        self.notice.clear("fault")
        if self.session.answer is None or unsaid:
            self._say_unanswered()
        if not self._faults:
            return
        count = len({fault.field for fault in self._faults})
        text = s.say(s.ANSWER_FAULTS_ONE) if count == 1 else s.say(s.ANSWER_FAULTS, count=count)
        if homeless:
            told = homeless[0]
            text = s.say(s.FAULT_NAMED, field=told.field, problem=told.problem, remedy=told.remedy)
        self.notice.tell("fault", text, [(s.say(s.NOTICE_SHOW), self._show_fault)])

    def _unsaid(self) -> list[str]:
        """What a trip cannot do without and nobody has told yet: no fault, only the next thing to say."""
        return [part for part in s.UNSAID if not self.document.get((part,))]

    def _show_fault(self) -> None:
        """Open the step at fault, bring the editor into view and give it the keyboard."""
        if not self._faults:
            return
        fault = self._faults[0]
        number = step_of(fault.field)
        self.steps.turn(number)
        if number == 0 and self.route_pane.model.marks.faults:
            self.route_pane.show_fault()
            return
        page = (self.route_pane, self.load_editor, self.when_pane)[number]
        if page is self.load_editor and fault.field.startswith("load["):
            self.load_editor.choose(int(fault.field[5 : fault.field.index("]")]))
        field: Field | None = next((one for one in page.fields if one.fault.text()), None)
        if field is not None:
            page.reveal(field)
            field.editor.setFocus()
        else:
            self.steps.heads[number].setFocus()

    def _show_way(self, way: tuple[Trip, Road]) -> None:
        trip, self.road = way
        self.map.attribution = self.road.attribution
        self.map.show_road(self.road, trip.waypoints)
        self.notice.clear("trouble")
        words = s.say(
            s.ROUTE_ROAD_TEXT,
            length=self.units.distance_text(self.road.length_km),
            time=clock.span(self.road.driving_s),
            source=self.road.source,
        )
        self.route_pane.show_road(words)
        self._summarise()

    def _forget(self) -> None:
        """Nothing is answered any more."""
        self.road, self.table = None, Table((), (), "UTC")
        self.board_panel.set_filled(False)
        self.plan_view.set_filled(False)
        self.map.show_road(None, ())
        self.map.show_pins(self.document.draft)
        self.board.show_table(None, None)
        self.route_pane.show_road(s.say(s.ROUTE_ROAD_NONE))
        self.curves.cursor_s = float("nan")
        self.answer_bar.show_words("")
        self.candidates.show_state(None, None, {}, "")

    def _show_unanswered(self, answer: Answer) -> None:
        """Weather or road is missing: nothing can be told, and the bar says what would."""
        if self.session.answer is None:
            self.answer_bar.show_answer(shown_of(answer, self.units))

    def _show_answer(self, answer: Answer | None) -> None:
        """One record for the bar, the board and the chips."""
        if answer is None:
            self._forget()
            return
        self.answer_bar.show_answer(shown_of(answer, self.units, weather=self._weather_words(answer)))
        self.answer_bar.set_stale(False)
        self.board_panel.set_filled(bool(answer.candidates))
        self.table = table_of(answer)
        if answer.trip is not None:
            groups = answer.trip.groups
            self.plan_view.show_groups([s.say(s.GROUP_CARD, count=g.count, label=g.label) for g in groups])
        self.board.show_table(self.table, self.session.candidate, answer.tolerance.harm_of_100)
        self._show_candidate()

    def _show_candidate(self) -> None:
        """Which candidate the views show, and which are pinned."""
        session = self.session
        if session.answer is None:
            return
        self.board.show_pins(session.pins)
        self.board.choose(session.candidate)
        self.candidates.show_state(self.table, session.candidate, session.pins, session.verdict)
        if session.candidate is not None:
            place = session.candidate.place
            self.load_editor.propose(place if place != MIXED else session.candidate.by_group[0].place)

    def _show_closer(self, closer: Closer) -> None:
        """The band, the groups' own shares of harm, and the verdict on the two pinned."""
        self.curves.show_band(closer.band)
        self.load_editor.show_harm([_harm_text(fate) for fate in closer.candidate.groups])
        self._show_candidate()

    def _show_picture(self, picture: Picture | None) -> None:
        if picture is None:
            return
        curves, group, trip = picture.curves, picture.group, picture.plan.trip
        zone = trip.origin.zone
        self.plan_view.set_filled(True)
        held = trip.groups[group]
        name = s.say(s.GROUP_CARD, count=held.count, label=held.label)
        words = self.table.words(picture.candidate)
        title = s.say(s.HEAD_CURVES, group=name, candidate=words)
        self.curves.candidate, self.curves.letters = title, picture.letters
        self.strip.zone = zone
        if self.session.answer is not None:
            times = replace(picture.plan, departures_s=np.array(self.session.answer.departures_s))
            self.board.sun_deg = tuple(sun_heights(times).tolist())
        self.curves.show_curves(curves, group, zone, picture.others)
        self._after_curves = [
            lambda: self.strip.show_curves(curves),
            lambda: self._show_balance(curves, group),
            lambda: self.map.show_curves(curves, group, zone, picture.others, picture.letters),
        ]
        self._turns.start()
        self.curve_panel.title.setText(title)
        self.map_panel.note.setText(words)
        self.set_cursor(self.curves.cursor_s)

    def _show_balance(self, curves: Curves, group: int) -> None:
        self.ledger.show_curves(curves, group)
        self.set_cursor(self.curves.cursor_s)

    def _take_turn(self) -> None:
        """The other pictures follow one by one, so that no single repaint holds up the hand."""
        if self._after_curves:
            self._after_curves.pop(0)()
        if not self._after_curves:
            self._turns.stop()

    def _take_stale(self, stale: bool) -> None:
        """The question has changed, or its answer stands; what was stopped before counts no more."""
        self._stopped, self._stale = False, stale
        self._dim_plan(stale)

    def _dim_plan(self, stale: bool) -> None:
        self.board_panel.set_stale(stale, self._stale_words())
        self.answer_bar.set_stale(stale and self.session.answer is not None)
        self.book.set_stale(stale, self._stale_words())
        if stale and self.session.answer is None:
            self._say_unanswered()

    def _say_unanswered(self) -> None:
        """What the bar says before there is an answer: the next thing to tell, or how far the work is."""
        unsaid = self._unsaid()
        words = ""
        if unsaid:
            words = s.say(s.UNSAID[unsaid[0]])
        elif self._stopped:
            words = s.say(s.ANSWER_STOPPED_EMPTY)
        elif self._stale and not self._faults:
            words = s.say(s.ANSWER_WORKING)
        self.answer_bar.show_words(words)

    def _curves_stale(self, stale: bool) -> None:
        """Curves usually follow within a blink; they are dimmed only when they do not."""
        if stale:
            self._patience.start()
        else:
            self._patience.stop()
            self._dim_curves(False)

    def _dim_curves(self, stale: bool) -> None:
        self.curve_panel.set_stale(stale, self._stale_words())
        self.ledger_panel.set_stale(stale)
        self.map_panel.set_stale(stale and self.map.curves is not None)

    def _stale_words(self) -> str:
        if self._faults:
            return s.say(s.STALE_FAULTY)
        return s.say(s.STALE_STOPPED if self._stopped else s.STALE)

    def _dim_again(self) -> None:
        """The same panels stay dimmed, for another reason."""
        self._dim_plan(self._stale)
        self._dim_curves(self.curve_panel.stale)

    def _tell_trouble(self, error: SkepwayError) -> None:
        """What went wrong, and the ways out as buttons."""
        offers = [(s.say(s.NOTICE_TRY), lambda: self.session.again(refresh=True))]
        if self.document.get(("weather", "source")) not in ("own", "file", "embedded"):
            offers.insert(0, (s.say(s.OFFER_OWN), self._take_own_weather))
        offers.append((s.say(s.OFFER_SETTINGS), self.looks.show_settings))
        self.notice.tell("trouble", str(error), offers)
        if self.session.answer is None and not self.answer_bar.plate.decision:
            self.answer_bar.show_words(s.say(s.ANSWER_NO_DATA))

    def _take_own_weather(self) -> None:
        """Go on with figures put in, which are called assumed until the user has said better."""
        self.notice.clear("trouble")
        self.when_pane.weather.write("own")
        self.steps.turn(2)
        self.when_pane.reveal(self.when_pane.own)

    def _weather_words(self, answer: Answer) -> str:
        """Whose weather it is, and how old where it is a forecast; assumed figures are called assumed."""
        weather = answer.weather
        if weather is None:
            return ""
        if self.when_pane.own.assumed:
            return self.when_pane.own.words()
        if weather.kind != "forecast" or not weather.issued_s > 0:
            return s.say(s.FIG_WEATHER, source=weather.source)
        age = clock.span(max(time.time() - weather.issued_s, 0))
        return s.say(s.FIG_WEATHER, source=s.say(s.ANSWER_WEATHER_AGE, source=weather.source, age=age))

    # -- wishes from the panels --------------------------------------------------------------------

    def _chosen(self, candidate: Candidate) -> None:
        self.session.look_at(candidate)
        self._show_candidate()

    def _back_to_best(self) -> None:
        self.session.look_at_best()
        self._show_candidate()

    def _departure_chosen(self, leave_s: float) -> None:
        """The best candidate that leaves then."""
        if self.session.look_at_departure(leave_s):
            self._show_candidate()

    def _pin_next(self, candidate: Candidate) -> None:
        """Pin as A, then as B; pinning a pinned one lets it go."""
        pins = self.session.pins
        held = next((letter for letter, one in pins.items() if one.key == candidate.key), "")
        if held:
            self.session.pin(held, None)
        else:
            self.session.pin("A" if "A" not in pins else "B", candidate)

    def _show_progress(self, share: float | None) -> None:
        self.answer_bar.set_progress(share)
        if share is not None and self._stopped:
            self._stopped = False
            self._dim_again()

    def set_cursor(self, time_s: float) -> None:
        """One moment for every picture."""
        for view in (self.curves, self.strip, self.ledger, self.map, self.book):
            view.set_cursor(time_s)
        if self.session.answer is not None and time_s == time_s:
            when = s.say(s.LEDGER_AT, when=clock.day_hour(time_s, self.strip.zone))
            self.ledger_panel.note.setText(f"{when}  {self.ledger.sentence()}")

    def stop(self) -> None:
        """Give up what is under way: a click waited for on the map, else the work."""
        self.places.forget_pick()
        if not self.runner.busy("plan") and self.book.page is None:
            return
        self.session.stop()
        self.book.stop()
        self._stopped = True
        self._dim_again()
        if self.session.answer is None:
            self._say_unanswered()

    def _show_picking(self, on: bool) -> None:
        self.map.set_picking(on)
        self.map_panel.note.setText(s.say(s.ROUTE_FROM_MAP_HINT) if on else "")
        if on:
            self.book.turn(0)

    def _readable(self) -> Any:
        """The picture with the keyboard, else the curves."""
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
        if not self._unsaid():
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
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """A trip dropped anywhere is opened, a track becomes the road."""
        for path in (Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()):
            if path.suffix.lower() == ".toml":
                self.files.open_trip(path)
            elif path.suffix.lower() in ROAD_ENDINGS and self.files.on_trip:
                self.places.import_road(path)
            else:
                self.notice.tell("said", s.say(s.DROPPED_NOT, name=path.name))
            event.acceptProposedAction()
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


def _harm_text(fate: GroupFate) -> str:
    """In how many of 100 variants a box of the group is harmed."""
    span = fate.harm_of_100.get("any")
    return "" if span is None else figure_text(span.value)
