"""One window that tests borrow one after the other: put back it is as when it was made, or it is lent no more."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable

from PySide6.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QDialog,
    QLabel,
    QLineEdit,
    QSlider,
    QWidget,
)

from planner.ui.trip.hands import commit_typing
from planner.ui.window import Window
from planner.ui.work.data_source import DataSource

USUAL_SIZE = 1280, 800


class Lender:
    """Keeps a window between two tests; whoever asks gets one that nobody can tell from a new one."""

    def __init__(self, make: Callable[[], Window], put_back: Callable[[Window], Counter[Hashable]]) -> None:
        self._make, self._put_back = make, put_back
        self._window: Window | None = None
        self._fresh: Counter[Hashable] = Counter()
        self.made = 0
        self.left_behind: Counter[Hashable] = Counter()
        """What was different the last time from the day the window was made."""

    def lend(self) -> Window:
        if self._window is None:
            self._window = self._make()
            self.made += 1
            self._fresh = self._put_back(self._window)
        return self._window

    def take_back(self) -> None:
        """Through the doors a person has; where that leaves anything behind the next test gets another window."""
        if self._window is not None:
            try:
                now = self._put_back(self._window)
            except BaseException:
                self.retire()
                raise
            self.left_behind = (now - self._fresh) + (self._fresh - now)
            if self.left_behind:
                self.retire()

    def retire(self) -> None:
        window, self._window = self._window, None
        if window is not None:
            window._asked_to_close = True
            window.close()
            window.deleteLater()


def emptied(window: Window) -> Counter[Hashable]:
    """Leave the trip, after a new one was begun lest an older one stands in the steps; how that looked."""
    window.runner.stop()
    window.runner._pool.waitForDone(-1)
    window.plan_view.play.setChecked(False)
    window.book.turn(0)
    if window.preferences.units != "metric":
        window.looks.set_units("metric")
    window.preferences.theme = "light"  # the application is dressed anew before the next test
    window.preferences.scale = 1.0
    commit_typing()
    window.document.stack.setClean()
    window.document.recovered = False
    window.resize(*USUAL_SIZE)
    window.new_trip()
    looked = state_of(window)
    window.files.leave_trip()
    window.data_source.close()
    window.data_source = window.session.data_source = window.places.data_source = DataSource()
    window.runner.stop()
    QApplication.processEvents()
    return looked


def state_of(window: Window) -> Counter[Hashable]:
    """What can be told of a window: its words, figures and choices in sight, what is under way or held behind them."""
    session, book, view, preferences = window.session, window.book, window.plan_view, vars(window.preferences)
    answers = session.answer, session.asked, session.candidate, session.plan, session.closer, session.verdict
    told: Counter[Hashable] = Counter(
        {
            ("title", window.windowTitle(), window.isWindowModified(), window.size().toTuple()): 1,
            ("undo", window.document.stack.count(), window.document.stack.isClean()): 1,
            ("work", tuple(window.runner._newest), view._frames.isActive(), window.places._taker is None): 1,
            (
                "answers",
                tuple(one is None for one in answers),
                tuple(session.pins),
                session.chosen_by_hand,
            ): 1,
            (
                "asked",
                session.group,
                session.ensemble,
                id(session.catalogue),
                session.aside._asked is None,
            ): 1,
            ("faults", tuple(str(fault) for fault in window.faults)): 1,
            ("pages", window.pages.currentIndex(), book.tabs.currentIndex(), tuple(book.made)): 1,
            ("map", window.map.quantity, window.map.picking, window.map.curves is None): 1,
            (
                "views",
                window.board.view,
                view._strip_by_hand,
                window.curves.zoomed,
                window.sides.sizes()[0],
            ): 1,
            ("places", window.places.country, len(window.files.left_by_crash), window.files._lock is None): 1,
            ("dialogs", len(window.findChildren(QDialog)), window.sheets.sheet is None): 1,
            ("source", type(window.data_source).__name__, window.units.name): 1,
        }
    )
    told.update(("preference", name, str(value)) for name, value in preferences.items() if name != "geometry")
    told.update(
        filter(None, (_seen(part) for part in window.findChildren(QWidget) if part.isVisibleTo(window)))
    )
    return told


def _seen(part: QWidget) -> Hashable:
    """A part that says or asks something, and what; bare frames and bars to scroll by come and go with the room."""
    value: Hashable = ""
    if isinstance(part, QAbstractButton):
        value = part.text(), part.isChecked()
    elif isinstance(part, QComboBox):
        value = part.count(), part.currentIndex()
    elif isinstance(part, QLabel | QLineEdit):
        value = part.text()
    elif isinstance(part, QSlider):
        value = part.value()
    named = part.accessibleName()
    return (type(part).__name__, named, part.isEnabled(), value) if named or value else None
