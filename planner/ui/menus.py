"""What the menus hold, in order, with their keys; what is done about it stands with whoever does it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from PySide6.QtGui import QAction, QActionGroup, QKeySequence
from PySide6.QtWidgets import QMenu, QMenuBar

from planner.ui.look import strings as s
from planner.ui.looks import Looks
from planner.ui.map.map_view import MapView
from planner.ui.output import Output
from planner.ui.pages.book import Book
from planner.ui.places import Places
from planner.ui.plan.board import Board
from planner.ui.plan.curve_view import CurveView
from planner.ui.sheets import Sheets
from planner.ui.trip import trips
from planner.ui.trip.document import Document
from planner.ui.trip.hands import REDO, UNDO, UndoKeys
from planner.ui.trip.preferences import Preferences
from planner.ui.trip_files import TripFiles
from planner.ui.work.session import Session

KEYS = QKeySequence.StandardKey
BIGGER = 1.1


class Commanded(Protocol):
    """The window as the menus see it: whom they command."""

    document: Document
    session: Session
    preferences: Preferences
    files: TripFiles
    output: Output
    book: Book
    map: MapView
    board: Board
    curves: CurveView

    places: Places
    looks: Looks
    sheets: Sheets
    undo_keys: UndoKeys

    def close(self) -> bool: ...
    def stop(self) -> None: ...
    def show_step(self, number: int) -> None: ...


@dataclass(frozen=True)
class Act:
    """One line of a menu: its words, what it does, and its key."""

    text: str
    do: Callable[[], object]
    key: QKeySequence.StandardKey | str | None = None


@dataclass(frozen=True)
class Pick:
    """Lines of which one holds: name and words of each, the one that holds now, and who takes another."""

    words: tuple[tuple[str, str], ...]
    now: str
    take: Callable[[str], None]


@dataclass(frozen=True)
class Submenu:
    """A menu in a menu; its lines are names as they stand."""

    text: str
    lines: tuple[tuple[str, Callable[[], object]], ...]


@dataclass(frozen=True)
class Tick:
    """A line that holds or does not, and who takes the change."""

    text: str
    on: bool
    take: Callable[[bool], None]


Entry = Act | Tick | Pick | Submenu | QAction | None
"""``None`` is a line between two groups."""


def build_menus(bar: QMenuBar, window: Commanded) -> None:
    """Fill the menu bar of ``window``."""
    for title, entries in (
        (s.MENU_FILE, _file(window)),
        (s.MENU_EDIT, _edit(window)),
        (s.MENU_VIEW, _view(window)),
        (s.MENU_HELP, _help(window)),
    ):
        _fill(bar.addMenu(s.say(title)), entries)


def _file(window: Commanded) -> list[Entry]:
    files, output = window.files, window.output
    return [
        Act(s.ACT_NEW, files.new_trip, KEYS.New),
        Act(s.ACT_OPEN, files.browse, KEYS.Open),
        _demos(files),
        None,
        Act(s.ACT_SAVE, files.save, KEYS.Save),
        Act(s.ACT_SAVE_AS, files.save_as, KEYS.SaveAs),
        None,
        Act(s.ACT_IMPORT, window.places.browse_road),
        Act(s.ACT_PDF, output.browse_pdf),
        Act(s.ACT_PRINT, output.print_view, KEYS.Print),
        None,
        Act(s.ACT_START, files.leave_trip),
        Act(s.ACT_QUIT, window.close, KEYS.Quit),
    ]


def _demos(files: TripFiles) -> Submenu:
    return Submenu(
        s.ACT_DEMO, tuple((entry.title, partial(files.open_demo, entry.path)) for entry in trips.demos())
    )


def _edit(window: Commanded) -> list[Entry]:
    stack, session = window.document.stack, window.session
    undo, redo = QAction(s.say(s.ACT_UNDO)), QAction(s.say(s.ACT_REDO))
    for action, do, able, key in (
        (undo, window.undo_keys.undo, stack.canUndoChanged, UNDO),
        (redo, window.undo_keys.redo, stack.canRedoChanged, REDO),
    ):
        action.setParent(stack)
        action.triggered.connect(do)
        able.connect(action.setEnabled)
        action.setShortcuts([QKeySequence(text) for text in key])
    redo.setEnabled(False)
    return [
        undo,
        redo,
        None,
        Act(s.ACT_STOP, window.stop, "Esc"),
        Act(s.ACT_AGAIN, session.again, "F5"),
        Act(s.ACT_FRESH, partial(session.again, refresh=True), "Shift+F5"),
        None,
        Act(s.ACT_SETTINGS, window.looks.show_settings, "Ctrl+,"),
    ]


def _view(window: Commanded) -> list[Entry]:
    looks = window.looks
    units = (("metric", s.ACT_UNITS_METRIC), ("us", s.ACT_UNITS_US))
    themes = (("light", s.ACT_LIGHT), ("dark", s.ACT_DARK), ("night", s.ACT_NIGHT))
    steps = tuple(
        (title, partial(window.show_step, number))
        for number, title in enumerate((s.STEP_ROUTE, s.STEP_LOAD, s.STEP_WHEN))
    )
    places = (
        *steps,
        (s.MAP_TITLE, window.map.setFocus),
        (s.BOARD_TITLE, window.board.setFocus),
        (s.CURVES_PLAIN, window.curves.setFocus),
    )
    return [
        Pick(units, window.preferences.units, looks.set_units),
        None,
        Pick(themes, window.preferences.theme, looks.set_theme),
        None,
        Act(s.ACT_BIGGER, partial(looks.scale_type, BIGGER), "Ctrl++"),
        Act(s.ACT_SMALLER, partial(looks.scale_type, 1 / BIGGER), "Ctrl+-"),
        None,
        Act(s.ACT_FIT, window.map.fit, "Ctrl+0"),
        Tick(s.ACT_BESIDE, window.preferences.beside_road, looks.set_beside),
        Act(s.ACT_TILES, looks.choose_tiles),
        Act(s.ACT_READ, window.sheets.read_picture, "Ctrl+R"),
        *(Act(text, show, f"Ctrl+{number}") for number, (text, show) in enumerate(places, start=1)),
        None,
        *(
            Act(page.title, partial(window.book.turn, number), page.key)
            for number, page in enumerate(window.book.rows)
        ),
    ]


def _help(window: Commanded) -> list[Entry]:
    sheets = window.sheets
    return [
        Act(s.ACT_CAUTIONS, sheets.show_cautions, KEYS.HelpContents),
        None,
        Act(s.ACT_TRIPS, sheets.show_trips),
        Act(s.ACT_MODEL, sheets.show_model),
        None,
        Act(s.ACT_KEYS, sheets.show_keys),
        Act(s.ACT_ABOUT, sheets.show_about),
    ]


def _fill(menu: QMenu, entries: Sequence[Entry]) -> None:
    for entry in entries:
        match entry:
            case None:
                menu.addSeparator()
            case QAction():
                menu.addAction(entry)
            case Act():
                action = menu.addAction(s.say(entry.text), entry.do)
                if entry.key is not None:
                    action.setShortcut(entry.key)
            case Tick():
                tick = menu.addAction(s.say(entry.text))
                tick.setCheckable(True)
                tick.setChecked(entry.on)
                tick.toggled.connect(entry.take)
            case Submenu():
                inner = menu.addMenu(s.say(entry.text))
                for name, do in entry.lines:
                    inner.addAction(name, do)
            case Pick():
                _fill_pick(menu, entry)


def _fill_pick(menu: QMenu, pick: Pick) -> None:
    group = QActionGroup(menu)
    for name, text in pick.words:
        action = menu.addAction(s.say(text), partial(pick.take, name))
        action.setCheckable(True)
        action.setChecked(name == pick.now)
        group.addAction(action)
