"""The pages beside the plan: one row of tabs, each page made when it is first turned to and asking only while shown."""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QFrame, QScrollArea, QSplitter, QStackedWidget, QTabBar, QVBoxLayout, QWidget

from planner.app.answer.records import Answer
from planner.app.answer.settled import closings_elsewhere
from planner.ui.look import strings as s
from planner.ui.look.chart_view import ChartView
from planner.ui.look.paint import Cells
from planner.ui.look.panel import Panel
from planner.ui.work.background_query import BackgroundQuery, Subject
from planner.ui.work.runner import Watch
from planner.units import UnitSystem

if TYPE_CHECKING:
    from planner.ui.trip.preferences import Preferences
    from planner.ui.work.session import Session


class Page(QWidget):
    """One page. Told what is looked at; asks its questions and shows their answers."""

    cursor_moved = Signal(float)
    wished = Signal(object)

    def __init__(self, session: Session) -> None:
        super().__init__()
        self.session, self.units = session, session.units
        self.cursor_s = float("nan")
        self.subject: Subject | None = None
        self._panels: list[tuple[Panel, tuple[BackgroundQuery, ...]]] = []
        self._dimmed, self._dim_words = False, ""

    # -- what the book says ----------------------------------------------------------------------

    def look(self, subject: Subject | None) -> None:
        """Look at another candidate, or at none."""
        self.subject = subject
        if subject is None:
            for query in self.queries():
                query.forget()
        else:
            self.ask()
        self.show_answers()
        self.settle_panels()

    def dim(self, stale: bool, words: str) -> None:
        """The plan all this rests on is being worked out anew."""
        self._dimmed, self._dim_words = stale, words
        if stale:
            self.stop()
        self.settle_panels()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self.show_answers()

    def set_cursor(self, time_s: float) -> None:
        self.cursor_s = time_s

    def stop(self) -> None:
        for query in self.queries():
            query.stop()

    def remember_grips(self, preferences: Preferences) -> None:
        """Grips that have a name stand where the hand last drew them, today and the next time."""
        for grip in self.findChildren(QSplitter):
            if name := grip.objectName():
                if held := preferences.share_of(name, grip.count()):
                    grip.setSizes(held)
                grip.splitterMoved.connect(
                    lambda *_, name=name, grip=grip: preferences.shares.update({name: grip.sizes()})
                )

    # -- what a page says ------------------------------------------------------------------------

    def ask(self) -> None:
        """Put the page's questions about the present subject."""

    def show_answers(self) -> None:
        """Show what is known."""

    def queries(self) -> tuple[BackgroundQuery, ...]:
        return tuple(dict.fromkeys(query for _, rests_on in self._panels for query in rests_on))

    def hang(self, title: str, guidance: str, body: QWidget, *rests_on: BackgroundQuery) -> Panel:
        """A panel that is filled and dimmed with the answers it rests on."""
        panel = Panel(s.say(title), s.say(guidance), body)
        self._panels.append((panel, rests_on))
        for query in rests_on:
            query.changed.connect(self.settle_panels)
        return panel

    def settle_panels(self) -> None:
        """Fill, dim or guide, as the answers stand."""
        for panel, rests_on in self._panels:
            if not rests_on:
                continue
            known = all(query.answer is not None for query in rests_on)
            trouble = next((str(query.trouble) for query in rests_on if query.trouble), "")
            waiting = self.subject is not None and any(query.working for query in rests_on)
            panel.set_guidance(trouble or (s.say(s.ANSWER_WORKING) if waiting else panel.plain_guidance))
            panel.set_filled(known and not trouble)
            stale = any(query.stale for query in rests_on)
            panel.set_stale(self._dimmed or stale, self._dim_words if self._dimmed else s.say(s.STALE))


class PageReading:
    """The charts of a page as one table in words: each by its name, what it says, and its rows."""

    def __init__(self, title: str, page: QWidget) -> None:
        self._title, self._page = title, page

    def heading(self) -> str:
        return self._title

    def table(self) -> Cells:
        rows: list[tuple[str, ...]] = []
        for part in self._page.findChildren(QWidget):
            if not part.isVisibleTo(self._page) or not part.accessibleName():
                continue
            if isinstance(part, ChartView):
                heads, cells = part.table()
                rows += [heads, *cells]
            elif part.accessibleDescription():
                rows.append((part.accessibleName(), part.accessibleDescription()))
        wide = max((len(row) for row in rows), default=1)
        return (self._title,) + ("",) * (wide - 1), tuple(row + ("",) * (wide - len(row)) for row in rows)


class Book(QWidget):
    """Turns between the plan and the pages beside it."""

    cursor_moved = Signal(float)
    turned = Signal(int)

    def __init__(self, session: Session, plan_view: QWidget, preferences: Preferences) -> None:
        super().__init__()
        self.session, self.preferences = session, preferences
        self.tabs = QTabBar()
        self.tabs.setDocumentMode(True)
        self.tabs.setExpanding(False)
        self.tabs.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.tabs.setAccessibleName(s.say(s.BOOK_NAME))
        self.stack = QStackedWidget()
        self.stack.addWidget(plan_view)
        self.made: dict[int, Page] = {}
        self._stale, self._words = False, ""
        self._wanted: tuple[float, str] | None = None
        self.rows = PAGES
        for row in self.rows:
            index = self.tabs.addTab(s.say(row.title))
            self.tabs.setTabToolTip(index, f"{s.say(row.hint)} ({row.key})")
        for _ in range(1, self.tabs.count()):
            self.stack.addWidget(QWidget())
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(4)
        column.addWidget(self.tabs)
        column.addWidget(self.stack, 1)
        self.tabs.currentChanged.connect(self._turn)
        session.answer_changed.connect(self._answer_changed)
        session.picture_changed.connect(lambda _: self._look())

    def reading(self) -> PageReading | None:
        """The page turned to, to be read; none on the plan itself."""
        if self.page is None:
            return None
        return PageReading(s.say(self.rows[self.tabs.currentIndex()].title), self.page)

    # -- turning ---------------------------------------------------------------------------------

    def turn(self, number: int) -> None:
        """Show a page, 0 being the plan."""
        self.tabs.setCurrentIndex(number)

    @property
    def page(self) -> Page | None:
        """The page shown, None for the plan."""
        return self.made.get(self.stack.currentIndex())

    def _turn(self, number: int) -> None:
        if number and number not in self.made:
            if not self.made:
                self.session.runner.start("warm", _warm, lambda _: None)
            row = self.rows[number]
            page: Page = getattr(import_module(row.room), row.name)(self.session)
            page.cursor_moved.connect(self.cursor_moved)
            page.wished.connect(
                lambda wish: self.prefer(wish.departure_s, wish.place, at_once=not wish.edits)
            )
            self.made[number] = page
            page.remember_grips(self.preferences)
            blank = self.stack.widget(number)
            self.stack.insertWidget(number, _scrolling(page))
            if blank is not None:
                self.stack.removeWidget(blank)
                blank.deleteLater()
            page.dim(self._stale, self._words)
            page.set_cursor(self._cursor_s)
        self.stack.setCurrentIndex(number)
        self._look()
        self.turned.emit(number)

    # -- carrying --------------------------------------------------------------------------------

    _cursor_s = float("nan")

    def set_cursor(self, time_s: float) -> None:
        self._cursor_s = time_s
        for page in self.made.values():
            page.set_cursor(time_s)

    def set_units(self, units: UnitSystem) -> None:
        for page in self.made.values():
            page.set_units(units)

    def set_stale(self, stale: bool, words: str) -> None:
        """The plan is being worked out anew; what rests on it is dimmed and its work given up."""
        self._stale, self._words = stale, words
        for page in self.made.values():
            page.dim(stale, words)

    def stop(self) -> None:
        for page in self.made.values():
            page.stop()

    def prefer(self, departure_s: float, place: str, *, at_once: bool) -> None:
        """Look at this departure and place, now or with the plan that follows."""
        self._wanted = (departure_s, place)
        if at_once:
            self._choose_wanted()

    def _answer_changed(self, answer: Answer | None) -> None:
        if answer is None:
            self._wanted = None
            for page in self.made.values():
                page.look(None)

    def _look(self) -> None:
        if self._stale or self.session.plan is None or self.session.answer is None:
            return
        if self._choose_wanted():
            return
        if self.page is not None:
            asked = self.session.asked
            samples = asked.race.field if asked is not None else None
            answer, candidate = self.session.answer, self.session.candidate
            subject = Subject(
                self.session.plan,
                self.session.choice,
                self.session.catalogue,
                samples,
                answer.tolerance,
                closings_elsewhere(answer, candidate) if candidate is not None else {},
            )
            self.page.look(subject)

    def _choose_wanted(self) -> bool:
        """Choose the candidate a page has asked for; true when that changes what is looked at."""
        wanted, self._wanted = self._wanted, None
        return wanted is not None and self.session.look_at_departure(*wanted)


@dataclass(frozen=True)
class PageRow:
    """One page: its tab and the tip over it, its key, and the class that makes it, in its room."""

    title: str
    hint: str
    key: str
    room: str = ""
    name: str = ""


PAGES = (
    PageRow(s.PAGE_PLAN, s.PAGE_PLAN_HINT, "Alt+1"),
    PageRow(s.PAGE_SURE, s.PAGE_SURE_HINT, "Alt+2", "planner.ui.pages.page_sure", "SurePage"),
    PageRow(s.PAGE_HELPS, s.PAGE_HELPS_HINT, "Alt+3", "planner.ui.pages.page_helps", "HelpsPage"),
    PageRow(s.PAGE_STAND, s.PAGE_STAND_HINT, "Alt+4", "planner.ui.pages.page_stand", "StandPage"),
    PageRow(s.PAGE_SEASON, s.PAGE_SEASON_HINT, "Alt+5", "planner.ui.pages.page_season", "SeasonPage"),
    PageRow(s.PAGE_FIT, s.PAGE_FIT_HINT, "Alt+6", "planner.ui.pages.page_fit", "FitPage"),
    PageRow(s.PAGE_PAPERS, s.PAGE_PAPERS_HINT, "Alt+7", "planner.ui.pages.page_papers", "PapersPage"),
    PageRow(s.PAGE_DAY, s.PAGE_DAY_HINT, "Alt+8", "planner.ui.pages.day.page_day", "DayPage"),
    PageRow(s.PAGE_PARCEL, s.PAGE_PARCEL_HINT, "Alt+9", "planner.ui.pages.page_parcel", "ParcelPage"),
    PageRow(s.PAGE_CHECKS, s.PAGE_CHECKS_HINT, "Alt+0", "planner.ui.pages.boxes.page_checks", "ChecksPage"),
    PageRow(
        s.PAGE_LOGBOOK, s.PAGE_LOGBOOK_HINT, "Alt+-", "planner.ui.pages.boxes.page_logbook", "LogbookPage"
    ),
)
"""The pages in the order of their tabs, the plan itself first; imported when turned to, for each brings heavy rooms."""

HEAVY = (
    "planner.app.chance.race",
    "planner.app.chance.sensitivity",
    "planner.app.chance.words",
    "planner.app.advice.apply",
    "planner.app.advice.helps",
    "planner.app.advice.water",
    "planner.app.standing.delays",
    "planner.app.standing.reserve",
    "planner.app.standing.tipping",
    "planner.app.season.chart",
    "planner.app.season.words",
    "planner.app.fit.fit",
    "planner.app.fit.words",
    "scipy.optimize",
    "scipy.stats",
)


def _warm(_: Watch) -> None:
    """Read the use cases of every page beforehand, on a worker thread."""
    for name in HEAVY:
        import_module(name)


def _scrolling(page: QWidget) -> QScrollArea:
    """A page that wants more room than there is scrolls, rather than taking it from the steps beside it.

    A stack asks for the room of its largest page, turned to or not.
    """
    area = QScrollArea()
    area.setFrameShape(QFrame.Shape.NoFrame)
    area.setWidgetResizable(True)
    area.setWidget(page)
    area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
    return area
