"""The main window: puts the panels together and carries wishes and states between them; decides nothing."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from PySide6.QtCore import QByteArray, QSize, Qt, QTimer
from PySide6.QtGui import QCloseEvent
from PySide6.QtWidgets import (
    QFileDialog,
    QFrame,
    QMainWindow,
    QMessageBox,
    QSplitter,
    QStackedWidget,
    QTabWidget,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from planner.app.plan.plan import sun_heights
from planner.app.plan.results import Choice, Plan
from planner.app.plan.words import Answer
from planner.errors import Fault, SkepwayError
from planner.model.catalogue import Catalogue
from planner.model.records import Road, Trip
from planner.ui.look import clock, theme
from planner.ui.look import strings as s
from planner.ui.look.icons import Choices
from planner.ui.look.panel import Panel, named
from planner.ui.menus import build_menus
from planner.ui.output import Output
from planner.ui.pages.book import Book
from planner.ui.plan import cautions
from planner.ui.plan.answer_bar import AnswerBar, NoticeBar
from planner.ui.plan.board import Board
from planner.ui.plan.curve_view import CurveView
from planner.ui.plan.ledger_view import LedgerView
from planner.ui.plan.map_view import QUANTITIES, MapView
from planner.ui.plan.road_strip import RoadStrip
from planner.ui.trip import trips
from planner.ui.trip.document import Document
from planner.ui.trip.fields import Field, place_faults
from planner.ui.trip.first_page import FirstPage
from planner.ui.trip.load_editor import LoadEditor
from planner.ui.trip.place_edit import PlaceField, Suggestion
from planner.ui.trip.preferences import Preferences
from planner.ui.trip.route_pane import RoutePane
from planner.ui.trip_files import TripFiles
from planner.ui.work.data_source import DataSource
from planner.ui.work.recovery import Recovery, left_behind
from planner.ui.work.runner import Runner, Watch
from planner.ui.work.session import Picture, Session
from planner.units import METRIC, US

LEFT_PX = 348
SAID_MS = 4000
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
        left = left_behind(recovery_folder)
        self.recovery = Recovery(self.document, self.runner, recovery_folder)
        self.files = TripFiles(self, self.document, self.recovery, preferences, left)
        self.new_trip, self.open_trip, self.open_demo = (
            self.files.new_trip,
            self.files.open_trip,
            self.files.open_demo,
        )
        self.session = Session(self.document, catalogue, self.runner, data_source)
        self.session.units = self.units
        self._picking: PlaceField | None = None
        self._faults: tuple[Fault, ...] = ()
        self._asked_to_close = False
        self._stopped = False
        self._after_curves: list[Callable[[], None]] = []
        self._patience = QTimer(self, singleShot=True, interval=PATIENCE_MS)
        self._patience.timeout.connect(lambda: self._dim_curves(True))
        self._turns = QTimer(self, interval=1)
        self._turns.timeout.connect(self._take_turn)
        self._build(catalogue)
        build_menus(self.menuBar(), self)
        self._connect()
        self.setMinimumSize(1000, 640)
        self.resize(1280, 800)
        if preferences.geometry:
            self.restoreGeometry(QByteArray.fromBase64(preferences.geometry.encode()))
        self.show_first_page()
        self._retitle()

    # -- building --------------------------------------------------------------------------------

    def _build(self, catalogue: Catalogue) -> None:
        self.first_page = FirstPage(catalogue.vehicles)
        self.answer_bar, self.notice = AnswerBar(), NoticeBar()
        self.route_pane = RoutePane(self.document, self._search)
        self.load_editor = LoadEditor(self.document, catalogue, self.units)
        self.map, self.board = MapView(self.units), Board(self.units)
        self.curves, self.strip, self.ledger = CurveView(self.units), RoadStrip(self.units), LedgerView()
        self.map_panel = Panel(s.say(s.MAP_TITLE), s.say(s.MAP_GUIDE), self.map)
        self.board_panel = Panel(s.say(s.BOARD_TITLE), s.say(s.BOARD_GUIDE), self.board)
        self.curve_panel = Panel(s.say(s.CURVES_TITLE), s.say(s.CURVES_GUIDE), self.curves)
        self.curve_panel.note.setText(s.say(s.CURVES_BAND))
        self.strip_panel = Panel(s.say(s.STRIP_TITLE), s.say(s.STRIP_GUIDE), self.strip)
        self.ledger_panel = Panel(s.say(s.LEDGER_TITLE), s.say(s.LEDGER_GUIDE), self.ledger)
        self.map_panel.set_filled(True)
        on_paper = (self.map_panel, self.board_panel, self.curve_panel, self.ledger_panel)
        self.output = Output(self, self.session, on_paper, self.curves)
        self._build_heads()
        self.pages = QStackedWidget()
        self.pages.addWidget(self.first_page)
        self.pages.addWidget(self._work_page())
        self.setCentralWidget(self.pages)

    def _build_heads(self) -> None:
        """The few controls that stand beside a panel's title."""
        self.quantity = Choices()
        self.quantity.setAccessibleName(s.say(s.MAP_QUANTITY))
        for name in QUANTITIES:
            self.quantity.addItem(s.say(s.MAP_QUANTITIES[name]), name)
        self.quantity.activated.connect(lambda index: self.map.set_quantity(self.quantity.itemData(index)))
        fit = _tool(s.MAP_FIT, self.map.fit)
        self.setup = Choices()
        self.setup.setAccessibleName(s.say(s.BOARD_SETUP))
        self.setup.activated.connect(self.board.set_setup)
        self.by_verdict = QToolButton()
        self.by_verdict.setCheckable(True)
        self.by_verdict.setText(s.say(s.BOARD_BY_VERDICT))
        self.by_verdict.toggled.connect(self.board.set_by_verdict)
        self.group = Choices()
        self.group.setAccessibleName(s.say(s.CURVES_GROUP))
        self.group.activated.connect(lambda index: self.session.look_at_group(self.group.itemData(index)))
        self.export = _tool(s.CURVES_EXPORT, lambda: None)
        self.export.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.export.setMenu(self.output.curve_menu())
        for combo, letters in ((self.setup, 16), (self.group, 18), (self.quantity, 13)):
            combo.setMinimumContentsLength(letters)
        for panel, parts in (
            (self.map_panel, (self.quantity, fit)),
            (self.board_panel, (self.by_verdict, self.setup)),
            (self.curve_panel, (self.group, _tool(s.CURVES_RESET, self.curves.reset_span), self.export)),
        ):
            for part in parts:
                panel.add_tool(part)
        self.quantity.hide()

    def _work_page(self) -> QWidget:
        self.tabs = QTabWidget()
        self.tabs.setDocumentMode(True)
        self.tabs.addTab(self.route_pane, s.say(s.TAB_ROUTE))
        self.tabs.addTab(self.load_editor, s.say(s.TAB_LOAD))
        inputs = named(QFrame(), "panel")
        column = QVBoxLayout(inputs)
        column.setContentsMargins(12, 6, 4, 6)
        column.addWidget(self.tabs)
        self.top = _split(Qt.Orientation.Horizontal, (self.map_panel, 42), (self.board_panel, 58))
        self.time_column = _split(Qt.Orientation.Vertical, (self.curve_panel, 62), (self.strip_panel, 38))
        self.bottom = _split(Qt.Orientation.Horizontal, (self.time_column, 74), (self.ledger_panel, 26))
        self.rows = _split(Qt.Orientation.Vertical, (self.top, 45), (self.bottom, 55))
        self.book = Book(self.session, self.rows)
        self.sides = _split(Qt.Orientation.Horizontal, (inputs, 0), (self.book, 1))
        for split, shares in (
            (self.rows, (42, 58)),
            (self.time_column, (65, 35)),
            (self.top, (44, 56)),
            (self.bottom, (76, 24)),
        ):
            split.setSizes([share * 100 for share in shares])
        self.sides.setSizes([LEFT_PX, 930])
        page = QWidget()
        outer = QVBoxLayout(page)
        outer.setContentsMargins(10, 4, 10, 10)
        outer.setSpacing(8)
        outer.addWidget(self.answer_bar)
        outer.addWidget(self.notice)
        outer.addWidget(self.sides, 1)
        return page

    def show_route(self) -> None:
        self._go_tab(self.route_pane)

    def show_load(self) -> None:
        self._go_tab(self.load_editor)

    def _go_tab(self, page: QWidget) -> None:
        self.tabs.setCurrentWidget(page)
        page.setFocus()

    def _connect(self) -> None:
        session = self.session
        session.faults_found.connect(self.show_faults)
        session.way_found.connect(self._show_way)
        session.plan_changed.connect(self._show_plan)
        session.answer_changed.connect(self._show_answer)
        session.picture_changed.connect(self._show_picture)
        session.plan_stale.connect(self._dim_plan)
        session.curves_stale.connect(self._curves_stale)
        session.progress.connect(self._show_progress)
        session.trouble.connect(self._tell_trouble)
        self.board.chosen.connect(self._chosen)
        self.board.compared.connect(session.compare)
        for view in (self.curves, self.strip, self.map, self.book):
            view.cursor_moved.connect(self.set_cursor)
        self.curves.span_changed.connect(self.strip.set_span)
        self.map.point_picked.connect(self._picked)
        self.route_pane.pick_on_map.connect(self._pick)
        self.route_pane.remember.connect(self._remember)
        self.route_pane.road_dropped.connect(self.import_road)
        self.load_editor.group_chosen.connect(session.look_at_group)
        self.answer_bar.cautions_wanted.connect(self.show_cautions)
        self.answer_bar.reasons_wanted.connect(self.show_reasons)
        self.answer_bar.stop_wanted.connect(self.stop)
        self._connect_files()
        self.document.title_changed.connect(self._retitle)
        self.document.changed.connect(
            lambda spot: self._retitle() if not spot or spot[0] == "title" else None
        )

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
        for said in (files.kept, self.output.wrote):
            said.connect(lambda words: self.statusBar().showMessage(words, SAID_MS))

    # -- states shown ------------------------------------------------------------------------------

    def _retitle(self) -> None:
        title = self.document.get(("title",)) or s.say(s.UNTITLED)
        on_trip = self.files.on_trip
        self.setWindowTitle(s.say(s.WINDOW_TITLE, title=title) if on_trip else s.say(s.APP))
        self.setWindowModified(on_trip and self.document.dirty)

    def show_faults(self, faults: tuple[Fault, ...]) -> None:
        """Each fault beside its field; those that belong to none go to the line under the answer."""
        unsaid = self._unsaid()
        self._faults = tuple(fault for fault in faults if fault.field.split(".")[0] not in unsaid)
        fields = [*self.route_pane.fields, *self.load_editor.fields]
        homeless = place_faults(fields, self._faults)
        self._dim_again()
        self.notice.clear("fault")
        if unsaid:
            self.answer_bar.show_answer(s.say(s.UNSAID[unsaid[0]]), {})
        elif faults and self.session.plan is None:
            self.answer_bar.show_answer(s.say(s.ANSWER_EMPTY), {})
        if not self._faults:
            return
        count = len(self._faults)
        text = s.say(s.ANSWER_FAULTS_ONE) if count == 1 else s.say(s.ANSWER_FAULTS, count=count)
        if homeless:
            text = s.say(
                s.FAULT_NAMED, field=homeless[0].field, problem=homeless[0].problem, remedy=homeless[0].remedy
            )
        faulty = next((field for field in fields if field.fault.text()), None)
        if faulty is None:
            self.notice.tell("fault", text)
        else:
            self.notice.tell("fault", text, s.say(s.NOTICE_SHOW), lambda: self._show_field(faulty))

    def _unsaid(self) -> list[str]:
        """What a trip cannot do without and nobody has told yet: no fault, only the next thing to say."""
        return [part for part in s.UNSAID if not self.document.get((part,))]

    def _show_field(self, field: Field) -> None:
        """Bring a faulty editor into view and give it the keyboard."""
        page = self.route_pane if field in self.route_pane.fields else self.load_editor
        self.tabs.setCurrentWidget(page)
        if page is self.load_editor:
            wrong = next((f.field for f in self._faults if f.field.startswith("load[")), "load[0]")
            page.choose(int(wrong[5 : wrong.index("]")]))
        page.reveal(field)
        field.editor.setFocus()

    def _show_way(self, way: tuple[Trip, Road]) -> None:
        trip, road = way
        self.map.attribution = road.attribution
        self.map.show_road(road, trip.waypoints)
        self.notice.clear("trouble")
        words = s.say(
            s.ROUTE_ROAD_TEXT,
            length=self.units.distance_text(road.length_km),
            time=clock.span(road.driving_s),
            source=road.source,
        )
        self.route_pane.show_road(words)

    def _show_plan(self, plan: Plan | None) -> None:
        self.board_panel.set_filled(plan is not None)
        if plan is None:
            for panel in (self.curve_panel, self.strip_panel, self.ledger_panel):
                panel.set_filled(False)
            self.map.show_road(None, ())
            self.curves.cursor_s = float("nan")
            self.quantity.hide()
            return
        _, choice = self.session.looked_at()
        self.setup.clear()
        self.setup.addItems(plan.setup_titles)
        self.board.show_plan(plan, sun_heights(plan), choice)
        self.board.choose(choice, self.session.others)
        self.setup.setCurrentIndex(choice.setup)
        self.group.clear()
        self.group.addItem(s.say(s.CURVES_HOTTEST), None)
        for index, group in enumerate(plan.trip.groups):
            self.group.addItem(s.say(s.GROUP_CARD, count=group.count, label=group.label), index)
        self.load_editor.propose(plan.loading_places[choice.loading_place])

    def _show_answer(self, answer: Answer | None) -> None:
        if answer is None:
            self.answer_bar.show_answer("", {})
            return
        plan, _ = self.session.looked_at()
        facts = {
            "next": answer.next_best,
            "sure": answer.how_sure[0] if answer.how_sure else "",
            "weather": _weather_words(plan),
        }
        self.answer_bar.show_answer(answer.headline, facts, reasons=answer.reasons)

    def _show_picture(self, picture: Picture | None) -> None:
        if picture is None:
            return
        curves, group, trip = picture.curves, picture.group, picture.plan.trip
        zone = trip.origin.zone
        for panel in (self.curve_panel, self.strip_panel, self.ledger_panel):
            panel.set_filled(True)
        self.quantity.show()
        self.curves.show_curves(curves, group, zone, picture.others)
        self._after_curves = [
            lambda: self.strip.show_curves(curves),
            lambda: self.ledger.show_curves(curves, group),
            lambda: self.map.show_curves(curves, group, zone),
        ]
        self._turns.start()
        held = trip.groups[group]
        self.curve_panel.title.setText(
            s.say(s.CURVES_TITLE_GROUP, group=s.say(s.GROUP_CARD, count=held.count, label=held.label))
        )
        self.set_cursor(self.curves.cursor_s)

    def _take_turn(self) -> None:
        """The other pictures follow one by one, so that no single repaint holds up the hand."""
        if self._after_curves:
            self._after_curves.pop(0)()
        if not self._after_curves:
            self._turns.stop()

    def _dim_plan(self, stale: bool) -> None:
        self.board_panel.set_stale(stale, self._stale_words())
        self.answer_bar.set_stale(stale and self.session.plan is not None)
        self.book.set_stale(stale, self._stale_words())

    def _curves_stale(self, stale: bool) -> None:
        """Curves usually follow within a blink; they are dimmed only when they do not."""
        if stale:
            self._patience.start()
        else:
            self._patience.stop()
            self._dim_curves(False)

    def _dim_curves(self, stale: bool) -> None:
        self.curve_panel.set_stale(stale, self._stale_words())
        for panel in (self.strip_panel, self.ledger_panel):
            panel.set_stale(stale)
        self.map_panel.set_stale(stale and self.map.curves is not None)

    def _stale_words(self) -> str:
        if self._faults:
            return s.say(s.STALE_FAULTY)
        return s.say(s.STALE_STOPPED if self._stopped else s.STALE)

    def _dim_again(self) -> None:
        """The same panels stay dimmed, for another reason."""
        self._dim_plan(self.board_panel.stale)
        self._dim_curves(self.curve_panel.stale)

    def _tell_trouble(self, error: SkepwayError) -> None:
        self.notice.tell("trouble", str(error), s.say(s.NOTICE_TRY), lambda: self.session.again(refresh=True))
        if self.session.plan is None:
            self.answer_bar.show_answer(s.say(s.ANSWER_NO_DATA), {})

    # -- wishes from the panels --------------------------------------------------------------------

    def _chosen(self, choice: Choice) -> None:
        plan, _ = self.session.looked_at()
        self.setup.setCurrentIndex(choice.setup)
        self.load_editor.propose(plan.loading_places[choice.loading_place])
        self.session.choose(choice)

    def _show_progress(self, share: float | None) -> None:
        self.answer_bar.set_progress(share)
        if share is not None and self._stopped:
            self._stopped = False
            self._dim_again()

    def set_cursor(self, time_s: float) -> None:
        """One moment for every picture."""
        for view in (self.curves, self.strip, self.ledger, self.map, self.book):
            view.set_cursor(time_s)
        plan = self.session.plan
        if plan is not None and time_s == time_s:
            self.ledger_panel.note.setText(
                s.say(s.LEDGER_AT, when=clock.day_hour(time_s, plan.trip.origin.zone))
            )

    def stop(self) -> None:
        self.session.stop()
        self.book.stop()
        self._stopped = True
        self._dim_again()
        if self.session.plan is None:
            self.answer_bar.show_answer(s.say(s.ANSWER_STOPPED_EMPTY), {})

    def _search(
        self, text: str, answer: Callable[[list[Suggestion]], None], *, complete: bool = False
    ) -> None:
        """Places like ``text`` while it is typed, or for good once it is ``complete``."""
        look = self.data_source.find if complete else self.data_source.suggest
        known = [self.document.get((part,)) or {} for part in ("origin", "destination")]
        near = [(place["lat"], place["lon"]) for place in known if "lat" in place]
        self.runner.start("suggest", lambda _: look(text, near), answer, self._tell_trouble)

    def _pick(self, field: PlaceField) -> None:
        self._picking = field
        self.map.set_picking(True)
        self.map_panel.note.setText(s.say(s.ROUTE_FROM_MAP_HINT))

    def _picked(self, lat_deg: float, lon_deg: float) -> None:
        field, self._picking = self._picking, None
        self.map.set_picking(False)
        self.map_panel.note.setText("")
        if field is not None:
            take = field.take
            self._search(
                f"{lat_deg:.5f}, {lon_deg:.5f}", lambda found: take(found[0].place) if found else None
            )

    def _remember(self, place: dict[str, Any]) -> None:
        said = s.say(s.PLACE_KEPT, name=place.get("name", ""))
        self.runner.start(
            "remember",
            lambda _: self.data_source.remember(place),
            lambda _: self.statusBar().showMessage(said, SAID_MS),
            self._tell_trouble,
        )

    def import_road(self, path: Path) -> None:
        """Use a recorded track as the road."""

        def work(_: Watch) -> dict[str, Any]:
            return self.data_source.import_road(path, dict(self.document.draft))

        def take(draft: dict[str, Any]) -> None:
            self.document.stack.beginMacro(s.say(s.ACT_IMPORT))
            for key, value in draft.items():
                self.document.edit((key,), value)
            self.document.stack.endMacro()

        self.runner.start("import", work, take, self._tell_trouble)

    def browse_road(self) -> None:
        name, _ = QFileDialog.getOpenFileName(self, s.say(s.ACT_IMPORT), "", s.say(s.FILTER_ROAD))
        if name:
            self.import_road(Path(name))

    # -- trips coming and going --------------------------------------------------------------------

    def show_first_page(self) -> None:
        """The page without a trip."""
        self.first_page.show_trips(trips.demos(), trips.described(self.preferences.recent_files()))
        self.pages.setCurrentIndex(0)
        self._retitle()
        if self.files.left_by_crash:
            title = self.files.left_by_crash[0].draft.get("title") or s.say(s.UNTITLED)
            self.first_page.show_left(title, self.files.recover)

    def _make_room(self) -> None:
        self.session.reset()
        self.notice.clear()
        self.pages.setCurrentIndex(1)

    def _show_opened(self) -> None:
        self.answer_bar.show_answer(s.say(s.ANSWER_WORKING), {})
        self.route_pane.verticalScrollBar().setValue(0)
        self.load_editor.proposed = None
        self.load_editor.choose(0)
        self.session.group = None
        self.tabs.tabBar().setFocus()

    def _show_started(self) -> None:
        self.show_route()
        self.route_pane.origin.box.setFocus()

    def _show_left(self) -> None:
        self.session.stop()
        self.show_first_page()

    # -- sheets ------------------------------------------------------------------------------------

    def show_cautions(self) -> None:
        own = self.session.answer_for(None).cautions if self.session.plan is not None else ()
        self.sheet = cautions.cautions_sheet(self, own)
        self.sheet.show()

    def show_reasons(self) -> None:
        answer = self.session.answer_for(None)
        self.sheet = cautions.reasons_sheet(
            self, answer.headline, (*answer.reasons, *answer.how_sure), answer.notes
        )
        self.sheet.show()

    def show_explained(self, name: str) -> None:
        """One of the pages that explain the program."""
        from planner.app.explain.pages import explaining_pages
        from planner.ui.look.reader import Reader

        pages = explaining_pages(self.session.catalogue, self.units)
        self.reader = Reader(self, pages[name])
        self.reader.show()

    def show_keys(self) -> None:
        QMessageBox.information(self, s.say(s.APP), s.say(s.KEYS_TEXT))

    def show_about(self) -> None:
        QMessageBox.about(self, s.say(s.APP), s.say(s.ABOUT_TEXT))

    # -- looks -------------------------------------------------------------------------------------

    def set_units(self, name: str) -> None:
        self.preferences.units = name
        self.preferences.save()
        self.units = US if name == "us" else METRIC
        for part in (
            self.session,
            self.map,
            self.board,
            self.curves,
            self.strip,
            self.load_editor,
            self.book,
            self.route_pane.own,
        ):
            part.set_units(self.units)

    def choose_tiles(self) -> None:
        """Ask for a tile server."""
        from planner.ui.plan.tile_dialog import TileDialog

        dialog = TileDialog(self, self.preferences.tile_url, self.preferences.tile_attribution)
        if dialog.exec():
            self.preferences.tile_url = dialog.url.text().strip()
            self.preferences.tile_attribution = dialog.credit.text().strip()
            self.preferences.save()
            self.show_tiles()

    def show_tiles(self) -> None:
        """Lay the user's tiles under the road, if there are any."""
        if not self.preferences.tile_url:
            self.map.show_tiles(None, "")
            return
        from planner.ui.plan.tiles import Tiles

        tiles = Tiles(self.preferences.tile_url, self.data_source.agent(), self.data_source.tile_folder())
        self.map.show_tiles(tiles, self.preferences.tile_attribution)

    def set_theme(self, name: str) -> None:
        self.preferences.theme = name
        self.preferences.save()
        theme.apply(theme.application(), name, self.preferences.scale)

    def scale_type(self, factor: float) -> None:
        self.preferences.scale = min(max(self.preferences.scale * factor, 0.7), 2.5)
        self.preferences.save()
        theme.apply(theme.application(), self.preferences.theme, self.preferences.scale)

    def sizeHint(self) -> QSize:
        return QSize(1280, 800)

    def closeEvent(self, event: QCloseEvent) -> None:
        if not self._asked_to_close and not self.files.may_drop():
            event.ignore()
            return
        self._asked_to_close = True
        self.preferences.geometry = bytes(self.saveGeometry().toBase64().data()).decode()
        self.preferences.save()
        self.runner.close()
        self.map.show_tiles(None, "")
        self.data_source.close()
        self.recovery.close()
        event.accept()


def _weather_words(plan: Plan) -> str:
    """Whose weather it is, and how old where it is a forecast."""
    weather = plan.weather
    if weather.kind != "forecast" or weather.issued_s <= 0:
        return weather.source
    age = clock.span(max(time.time() - weather.issued_s, 0))
    return s.say(s.ANSWER_WEATHER_AGE, source=weather.source, age=age)


def _split(direction: Qt.Orientation, *parts: tuple[QWidget, int]) -> QSplitter:
    split = QSplitter(direction)
    split.setHandleWidth(8)
    split.setChildrenCollapsible(False)
    for index, (part, share) in enumerate(parts):
        split.addWidget(part)
        split.setStretchFactor(index, share)
    return split


def _tool(text: str, act: Callable[[], object]) -> QToolButton:
    button = QToolButton()
    button.setText(s.say(text))
    button.clicked.connect(lambda _=False: act())
    return button
