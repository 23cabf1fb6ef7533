"""The page Plan: road and departures on top, below them the candidate looked at, its curves, its road, its balance."""

from __future__ import annotations

import time
from collections.abc import Callable

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QFrame, QScrollArea, QSplitter, QToolButton, QVBoxLayout, QWidget

from planner.ui.look import strings as s
from planner.ui.look.icons import Choices, SignButton
from planner.ui.look.paint import in_turn, split
from planner.ui.look.panel import Panel, named
from planner.ui.look.printing import PAGE_PX, Rows
from planner.ui.map.map_view import MapView
from planner.ui.map.met import QUANTITIES
from planner.ui.plan.board import HARM, HEADROOM, Board
from planner.ui.plan.candidate_bar import CandidateBar
from planner.ui.plan.curve_view import CurveView
from planner.ui.plan.ledger_view import LedgerView
from planner.ui.plan.road_strip import RoadStrip
from planner.units import UnitSystem

AGITATED = "agitated"
FRAME_MS, PLAY_S = 16, 24.0
"""Sixty frames a second; a whole trip plays in so many seconds."""
BESIDE_LETTERS = 132
"""A page this many letters wide shows road and departures beside each other; a narrower one stacks them."""
TIGHT_LETTERS = 100
"""In a page narrower than this, as in much larger type, how two departures compare takes three lines."""
STACKED_LINES = 12
PANEL_EDGES_PX, ROOMY_BOARD_PX, ROOMY_ROWS_PX = 26, 480, 9.0
"""Of a printed board: left and right of it, and what its rows get beside their words while it is no taller."""
NOTE_LINES = 3
"""Lines of small type beside the road's title, in which departure, place and the longest set-up are told whole."""
CURVE_LINES = 23.0
"""Lines of text the curves are tall, at least: 322 px in the usual type, twice what they once had."""
TOP_LINES = 14.0
"""Lines of text that road and departures need beside each other."""
ROOMY_LINES = 58
"""From so many lines on, what is met along the road is shown under the curves; a window too low for all scrolls."""


class PlanView(QScrollArea):
    """Builds the panels; carries nothing between them."""

    group_wanted = Signal(object)
    agitated_wanted = Signal(bool)
    cursor_wanted = Signal(float)

    def __init__(self, units: UnitSystem) -> None:
        super().__init__()
        self.setWidgetResizable(True)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.map, self.board = MapView(units), Board(units)
        self.curves, self.strip, self.ledger = CurveView(units), RoadStrip(units), LedgerView()
        self.candidates = CandidateBar()
        self.map_panel = Panel(s.say(s.MAP_TITLE), s.say(s.MAP_GUIDE), self.map)
        self.board_panel = Panel(s.say(s.BOARD_TITLE), s.say(s.BOARD_GUIDE), self.board)
        self.history = split(Qt.Orientation.Vertical, (self.curves, 76), (self.strip, 24))
        self.curve_panel = Panel(s.say(s.CURVES_TITLE), s.say(s.CURVES_GUIDE), self.history)
        self.ledger_panel = Panel(s.say(s.LEDGER_TITLE), s.say(s.LEDGER_GUIDE), self.ledger)
        self.map_panel.set_filled(True)
        named(self.map_panel.note, "note").set_lines(NOTE_LINES)
        self._strip_by_hand: bool | None = None
        self._before = 0.0
        self._build_heads()
        self._lay_out()

    def _build_heads(self) -> None:
        """The few controls that stand beside a panel's title."""
        self.quantity = Choices()
        self.quantity.setAccessibleName(s.say(s.MAP_QUANTITY))
        for name in QUANTITIES:
            self.quantity.addItem(s.say(s.MAP_QUANTITIES[name]), name)
        self.quantity.activated.connect(lambda index: self.map.set_quantity(self.quantity.itemData(index)))
        self.board_view = Choices()
        self.board_view.setAccessibleName(s.say(s.BOARD_SETUP))
        for name, words in ((HARM, s.BOARD_HARM), (HEADROOM, s.BOARD_HEADROOM)):
            self.board_view.addItem(s.say(words), name)
        self.board_view.activated.connect(lambda index: self.board.set_view(self.board_view.itemData(index)))
        self.group = Choices()
        self.group.setAccessibleName(s.say(s.CURVES_GROUP))
        self.group.activated.connect(self._group_chosen)
        self.export = tool(s.CURVES_EXPORT, lambda: None)
        self.export.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.play = SignButton("play", s.say(s.PLAY), lambda: None)
        self.play.setCheckable(True)
        self.play.toggled.connect(self._play)
        self._frames = QTimer(self, interval=FRAME_MS)
        self._frames.timeout.connect(self._next_frame)
        self.whole = tool(s.CURVES_RESET, self.curves.reset_span)
        self.curves.span_changed.connect(lambda *_: self._show_whole())
        self.along = tool(s.ALONG_ROAD, lambda: None)
        self.along.setCheckable(True)
        self.along.clicked.connect(self._show_strip)
        for combo, letters in ((self.board_view, 10), (self.group, 12), (self.quantity, 9)):
            combo.setMinimumContentsLength(letters)
        for panel, parts in (
            (self.map_panel, (self.play, self.quantity, SignButton("whole", s.say(s.MAP_FIT), self.map.fit))),
            (self.board_panel, (self.board_view,)),
            (
                self.curve_panel,
                (self.whole, self.group, self.along, self.export),
            ),
        ):
            for part in parts:
                panel.add_tool(part)
        for part in (self.quantity, self.play):
            part.hide()

    def _lay_out(self) -> None:
        self.top = split(Qt.Orientation.Horizontal, (self.map_panel, 36), (self.board_panel, 64))
        self.below = QWidget()
        column = QVBoxLayout(self.below)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(6)
        column.addWidget(self.curve_panel, 1)
        column.addWidget(self.ledger_panel)
        self.curve_panel.set_lead(self.candidates)
        self.rows: QSplitter = split(Qt.Orientation.Vertical, (self.top, 36), (self.below, 64))
        self.setWidget(self.rows)
        self._fit()
        in_turn(self.curves, *self.candidates.controls(), *self.curve_panel.tools)
        self.top.setSizes([36, 64])

    def _fit(self) -> None:
        line = self.fontMetrics().lineSpacing()
        narrow = self.width() < self.fontMetrics().averageCharWidth() * BESIDE_LETTERS
        roomy = self.height() >= line * ROOMY_LINES
        with_strip = roomy if self._strip_by_hand is None else self._strip_by_hand
        self.strip.setVisible(with_strip)
        self.curves.setMinimumHeight(round(line * CURVE_LINES))
        self.top.setMinimumHeight(round(line * (TOP_LINES + (STACKED_LINES if narrow else 0))))
        self.curve_panel.stack_lead(narrow)
        tight = self.width() < self.fontMetrics().averageCharWidth() * TIGHT_LETTERS
        self.candidates.give_lines(3 if tight else 2)
        wanted = Qt.Orientation.Vertical if narrow else Qt.Orientation.Horizontal
        if self.top.orientation() != wanted:
            self.top.setOrientation(wanted)
            self.top.insertWidget(0, self.board_panel if narrow else self.map_panel)
            self.top.setSizes([55, 45] if narrow else [36, 64])
        self.along.setChecked(self.strip.isVisibleTo(self.history))

    def _show_whole(self) -> None:
        """The way back to the whole trip is offered once only part of it is shown."""
        self.whole.setVisible(self.curves.zoomed)

    def _show_strip(self, on: bool) -> None:
        self._strip_by_hand = on
        self._fit()

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._fit()

    def _play(self, on: bool) -> None:
        """The trip runs from the cursor on, from its beginning where the cursor stands at its end."""
        self.play.show_sign("pause" if on else "play", s.say(s.PAUSE if on else s.PLAY))
        curves = self.curves.curves
        if not on or curves is None:
            self._frames.stop()
            return
        first, last = float(curves.time_s[0]), float(curves.time_s[-1])
        if not first <= self.curves.cursor_s < last - 60.0:
            self.cursor_wanted.emit(first)
        self._before = time.monotonic()
        self._frames.start()

    def _next_frame(self) -> None:
        """As far on as the clock is, whatever a frame takes: the whole trip in ``PLAY_S``."""
        curves, now = self.curves.curves, time.monotonic()
        if curves is None:
            self.play.setChecked(False)
            return
        first, last = float(curves.time_s[0]), float(curves.time_s[-1])
        at = self.curves.cursor_s + (now - self._before) * (last - first) / PLAY_S
        self._before = now
        if at >= last:
            self.cursor_wanted.emit(last)
            self.play.setChecked(False)
        else:
            self.cursor_wanted.emit(at)

    def _group_chosen(self, index: int) -> None:
        wanted = self.group.itemData(index)
        self.agitated_wanted.emit(wanted == AGITATED)
        self.group_wanted.emit(None if wanted == AGITATED else wanted)

    def show_groups(self, names: list[str]) -> None:
        """What the curves may be of: the hottest boxes, the same with agitated bees, or any group."""
        held = self.group.currentData()
        self.group.clear()
        self.group.addItem(s.say(s.CURVES_HOTTEST), None)
        self.group.addItem(s.say(s.CURVES_AGITATED), AGITATED)
        for number, name in enumerate(names):
            self.group.addItem(name, number)
        self.group.setCurrentIndex(max(self.group.findData(held), 0))

    def paper(self) -> list[Rows]:
        """What is printed: the whole board below the answer, then the candidate looked at; what is shown of it all."""
        board = self._board_on_paper() if self.board_panel.filled else None
        below = (self.map_panel, self.ledger_panel) if self.ledger_panel.filled else (self.map_panel,)
        candidate: Rows = ((self.curve_panel,), below) if self.curve_panel.filled else (below,)
        return [candidate] if board is None else [((board,),), candidate]

    def _board_on_paper(self) -> Panel:
        """The board once more, wide as its departures, tall as its rows: what the screen scrolls to is there too."""
        board = Board(self.board.units)
        board.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        board.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        board.view, board.sun_deg = self.board.view, self.board.sun_deg
        panel = Panel(s.say(s.BOARD_TITLE), "", board)
        panel.note.setText(self.board_panel.note.text())
        panel.set_filled(True)
        board.show_table(self.board.shown, None)
        head = panel.sizeHint().height() - board.sizeHint().height()
        wide = board.whole_wide(PAGE_PX - PANEL_EDGES_PX)
        high = board.whole_high(wide, ROOMY_ROWS_PX)
        if high > ROOMY_BOARD_PX:
            high = board.whole_high(wide)
        panel.resize(wide + PANEL_EDGES_PX, head + high)
        panel.setAttribute(Qt.WidgetAttribute.WA_DontShowOnScreen)
        panel.show()
        board.choose(self.board.candidate(self.board.at))
        board.pins = self.board.pins
        return panel

    def set_filled(self, filled: bool) -> None:
        for panel in (self.curve_panel, self.ledger_panel):
            panel.set_filled(filled)
        for part in (self.quantity, self.play):
            part.setVisible(filled)
        self._show_whole()


def tool(text: str, act: Callable[[], object]) -> QToolButton:
    """A flat button with a word."""
    button = QToolButton()
    button.setText(s.say(text))
    button.clicked.connect(lambda _=False: act())
    return button
