"""What the session knows, carried to the views: the way, the answer, the picture of a candidate, what is stale."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal

from planner.app.answer.records import MIXED, Answer, Candidate, GroupFate
from planner.app.plan.plan import sun_heights
from planner.app.plan.results import Curves
from planner.errors import InputError, SkepwayError
from planner.model.records import Road, Trip
from planner.ui.look import clock
from planner.ui.look import strings as s
from planner.ui.pages.book import Book
from planner.ui.plan.answer_bar import AnswerBar
from planner.ui.plan.plan_view import PlanView
from planner.ui.plan.seen import Table, figure_text, shown_of, table_of, verdict_of, weather_words
from planner.ui.steps.load_step import LoadStep
from planner.ui.steps.route_step import RouteStep
from planner.ui.steps.when_step import WhenStep
from planner.ui.trip.fields import fault_text
from planner.ui.troubles import Troubles
from planner.ui.work.session import Closer, Picture, Session

if TYPE_CHECKING:
    from planner.app.standing.reserve import Reserve

PATIENCE_MS = 130
"""How long curves may belong to the moment before without being dimmed: shorter than an eye notices."""


class Showing(QObject):
    """Shows states and carries the views' wishes back; decides nothing."""

    road_known = Signal(object)
    """The road between the two ends, or None: what the steps say of it is another's matter."""

    def __init__(
        self,
        session: Session,
        troubles: Troubles,
        bar: AnswerBar,
        view: PlanView,
        book: Book,
        panes: tuple[RouteStep, LoadStep, WhenStep],
    ) -> None:
        super().__init__(session)
        self.session, self.troubles, self.bar, self.view, self.book = session, troubles, bar, view, book
        self.route, self.load, self.when = panes
        self.table = Table((), (), "UTC")
        self.reserve: Reserve | None = None
        self._stopped = False
        self._stale = False
        self._after_curves: list[Callable[[], None]] = []
        self._patience = QTimer(self, singleShot=True, interval=PATIENCE_MS)
        self._patience.timeout.connect(lambda: self._dim_curves(True))
        self._turns = QTimer(self, interval=1)
        self._turns.timeout.connect(self._take_turn)
        self._follow()
        self._listen()

    def _follow(self) -> None:
        """What the session says."""
        session = self.session
        session.way_found.connect(self.show_way)
        session.unanswered.connect(self._show_unanswered)
        session.closer_changed.connect(self._show_closer)
        session.answer_changed.connect(self._show_answer)
        session.picture_changed.connect(self._show_picture)
        session.undrawn.connect(self._show_undrawn)
        session.pins_changed.connect(self.show_candidate)
        session.plan_stale.connect(self._take_stale)
        session.curves_stale.connect(self._curves_stale)
        session.progress.connect(self._show_progress)
        session.aside.reserve_changed.connect(self._show_reserve)
        session.aside.corridor_changed.connect(self.view.map.show_beside)
        self.troubles.changed.connect(self._faults_changed)
        self.troubles.unanswered.connect(self._no_data)

    def _listen(self) -> None:
        """What the views wish."""
        session, view, candidates = self.session, self.view, self.view.candidates
        view.board.chosen.connect(self._chosen)
        view.board.pinned.connect(self._pin_next)
        candidates.back_wanted.connect(self._back_to_best)
        candidates.pin_wanted.connect(lambda letter: session.pin(letter, session.candidate))
        candidates.unpin_wanted.connect(lambda letter: session.pin(letter, None))
        candidates.look_wanted.connect(lambda letter: self._chosen(session.pins[letter]))
        self.bar.departure_chosen.connect(self._departure_chosen)
        for one in (view.curves, view.strip, view.map, self.book):
            one.cursor_moved.connect(self.set_cursor)
        view.curves.span_changed.connect(view.strip.set_span)
        view.group_wanted.connect(session.look_at_group)
        view.cursor_wanted.connect(self.set_cursor)
        view.agitated_wanted.connect(view.curves.set_agitated)
        self.load.group_chosen.connect(session.look_at_group)

    # -- the way and the answer ----------------------------------------------------------------------

    def show_way(self, way: tuple[Trip, Road]) -> None:
        trip, road = way
        self.view.map.show_road(road, trip.waypoints)
        self.troubles.notice.clear("trouble")
        words = s.say(
            s.ROUTE_ROAD_TEXT,
            length=self.session.units.distance_text(road.length_km),
            time=clock.span(road.driving_s),
            source=f"{road.source[:1].upper()}{road.source[1:]}",
        )
        self.route.show_road(words)
        self.road_known.emit(road)

    def _forget(self) -> None:
        """Nothing is answered any more."""
        view = self.view
        self.table = Table((), (), "UTC")
        view.board_panel.set_filled(False)
        view.board_panel.note.setText("")
        view.set_filled(False)
        view.map.show_road(None, ())
        view.map.show_pins(self.session.document.draft)
        view.board.show_table(None, None)
        view.map_panel.note.setText("")
        view.ledger_panel.note.setText("")
        view.curve_panel.set_guidance(s.say(s.CURVES_GUIDE))
        self.route.show_road("")
        self.load.show_harm(())
        view.curves.cursor_s = float("nan")
        self.bar.show_words("")
        view.candidates.show_state(None, None, {}, None)
        self.road_known.emit(None)

    def _show_unanswered(self, answer: Answer) -> None:
        """Weather or road is missing: nothing can be told, and the bar says what would."""
        if self.session.answer is None:
            self.bar.show_answer(shown_of(answer, self.session.units))

    def _show_answer(self, answer: Answer | None) -> None:
        """One record for the bar, the board and the chips."""
        if answer is None:
            self._forget()
            return
        view = self.view
        self.bar.show_answer(shown_of(answer, self.session.units, weather=weather_words(answer, time.time())))
        self.bar.set_stale(False)
        view.board_panel.set_stale(False)
        view.board_panel.set_filled(bool(answer.candidates))
        view.board_panel.note.setText(s.say(s.BOARD_TOLERANCE, value=f"{answer.tolerance.harm_of_100:g}"))
        view.curve_panel.set_guidance(s.say(s.CURVES_COMING if answer.best else s.CURVES_GUIDE))
        self.table = table_of(answer)
        if answer.trip is not None:
            groups = answer.trip.groups
            view.show_groups([s.say(s.GROUP_CARD, count=g.count, label=g.label) for g in groups])
        view.board.show_table(self.table, self.session.candidate)
        self.show_candidate()

    def show_candidate(self) -> None:
        """Which candidate the views show, and which are pinned."""
        session, view = self.session, self.view
        if session.answer is None:
            return
        view.board.show_pins(session.pins)
        view.board.choose(session.candidate)
        view.candidates.show_state(self.table, session.candidate, session.pins, verdict_of(session.verdict))
        if session.candidate is not None:
            place = session.candidate.place
            self.load.propose(place if place != MIXED else session.candidate.by_group[0].place)

    def _show_closer(self, closer: Closer) -> None:
        """The band, the groups' own shares of harm, and the verdict on the two pinned."""
        self.view.curves.show_band(closer.band)
        self.load.show_harm([_harm_text(fate) for fate in closer.candidate.groups])
        self.show_candidate()

    # -- the picture of the candidate looked at ------------------------------------------------------

    def _show_picture(self, picture: Picture | None) -> None:
        if picture is None:
            return
        view, curves, group, trip = self.view, picture.curves, picture.group, picture.plan.trip
        zone = trip.origin.zone
        view.set_filled(True)
        held = trip.groups[group]
        name = s.say(s.GROUP_CARD, count=held.count, label=held.label)
        words = self.table.words(picture.candidate)
        title = s.say(s.HEAD_CURVES, group=name, candidate=words)
        view.curves.candidate, view.curves.letters = title, picture.letters
        pinned = (letter for letter, one in self.session.pins.items() if one.key == picture.candidate.key)
        view.curves.own = next(pinned, "")
        view.strip.zone = zone
        if self.session.answer is not None:
            times = replace(picture.plan, departures_s=np.array(self.session.answer.departures_s))
            view.board.sun_deg = tuple(sun_heights(times).tolist())
        view.curves.show_curves(curves, group, zone, picture.others)
        self._after_curves = [
            lambda: view.strip.show_curves(curves),
            lambda: self._show_balance(curves, group),
            lambda: view.map.show_curves(
                curves, group, zone, picture.others, picture.letters, picture.plan.weather
            ),
        ]
        self._turns.start()
        view.curve_panel.title.setText(title)
        view.map_panel.note.setText(words)
        self.set_cursor(view.curves.cursor_s)

    def _show_undrawn(self, error: SkepwayError) -> None:
        """No curves, and why: nothing of an older load is left standing in their place."""
        view = self.view
        view.set_filled(False)
        faults = error.faults if isinstance(error, InputError) else ()
        view.curve_panel.set_guidance(fault_text(faults[0]) if faults else str(error))
        view.map.show_curves(None, 0, view.map.zone)

    def _show_balance(self, curves: Curves, group: int) -> None:
        self.view.ledger.show_curves(curves, group)
        self.set_cursor(self.view.curves.cursor_s)

    def _take_turn(self) -> None:
        """The other pictures follow one by one, so that no single repaint holds up the hand."""
        if self._after_curves:
            self._after_curves.pop(0)()
        if not self._after_curves:
            self._turns.stop()

    def _show_reserve(self, reserve: Reserve | None) -> None:
        """How long one may stand, on the map and beside the heat balance."""
        if reserve is not self.reserve:
            self.reserve = reserve
            self.view.map.show_reserve(reserve)
            self._tell_moment()

    def set_cursor(self, time_s: float) -> None:
        """One moment for every picture."""
        view = self.view
        for one in (view.curves, view.strip, view.ledger, view.map, self.book):
            one.set_cursor(time_s)
        self._tell_moment()

    def _tell_moment(self) -> None:
        """The balance at the cursor in a sentence, and how long one may stand there."""
        view, time_s = self.view, self.view.curves.cursor_s
        if self.session.answer is None or not np.isfinite(time_s):
            return
        when = s.say(s.LEDGER_AT, when=clock.day_hour(time_s, view.strip.zone))
        left = view.map.stand_words(time_s)
        here = s.say(s.STAND_HERE, left=left) if left else ""
        sun = view.map.sun_words(time_s)
        view.ledger_panel.note.setText("  ".join(filter(None, (when, view.ledger.sentence(), here, sun))))

    # -- what is stale -------------------------------------------------------------------------------

    def _take_stale(self, stale: bool) -> None:
        """The question has changed, or its answer stands; what was stopped before counts no more."""
        self._stopped, self._stale = False, stale
        self._dim_plan(stale)

    def _dim_plan(self, stale: bool) -> None:
        self.view.board_panel.set_stale(stale, self._stale_words())
        self.bar.set_stale(stale and self.session.answer is not None)
        self.book.set_stale(stale, self._stale_words())
        if stale and self.session.answer is None:
            self.say_unanswered()

    def _curves_stale(self, stale: bool) -> None:
        """Curves usually follow within a blink; they are dimmed only when they do not."""
        if stale:
            self._patience.start()
        else:
            self._patience.stop()
            self._dim_curves(False)

    def _dim_curves(self, stale: bool) -> None:
        view = self.view
        view.curve_panel.set_stale(stale, self._stale_words())
        view.ledger_panel.set_stale(stale)
        view.map_panel.set_stale(stale and view.map.curves is not None)

    def _stale_words(self) -> str:
        if self.troubles.faults:
            return s.say(s.STALE_FAULTY)
        return s.say(s.STALE_STOPPED if self._stopped else s.STALE)

    def _dim_again(self) -> None:
        """The same panels stay dimmed, for another reason."""
        self._dim_plan(self._stale)
        self._dim_curves(self.view.curve_panel.stale)

    def _faults_changed(self) -> None:
        self._dim_again()
        if self.session.answer is None or self.troubles.unsaid():
            self.say_unanswered()

    def say_unanswered(self) -> None:
        """What the bar says before there is an answer: the next thing to tell, or how far the work is."""
        unsaid = self.troubles.unsaid()
        words = ""
        if unsaid:
            words = s.say(s.UNSAID[unsaid[0]])
        elif self.troubles.faults:
            words = self.troubles.first_words()
        elif self._stopped:
            words = s.say(s.ANSWER_STOPPED_EMPTY)
        elif self._stale and not self.troubles.faults:
            words = s.say(s.ANSWER_WORKING)
        self.bar.show_words(words)

    def _no_data(self) -> None:
        if self.session.answer is None and not self.bar.plate.decision:
            self.bar.show_words(s.say(s.ANSWER_NO_DATA))

    def _show_progress(self, share: float | None) -> None:
        self.bar.set_progress(share)
        if share is not None and self._stopped:
            self._stopped = False
            self._dim_again()

    def stop(self) -> None:
        """Give up the work under way."""
        if not self.session.runner.busy("plan") and self.book.page is None:
            return
        self.session.stop()
        self.book.stop()
        self._stopped = True
        self._dim_again()
        if self.session.answer is None:
            self.say_unanswered()

    # -- wishes from the views -----------------------------------------------------------------------

    def _chosen(self, candidate: Candidate) -> None:
        self.session.look_at(candidate)
        self.show_candidate()

    def _back_to_best(self) -> None:
        self.session.look_at_best()
        self.show_candidate()

    def _departure_chosen(self, leave_s: float) -> None:
        """The best candidate that leaves then."""
        if self.session.look_at_departure(leave_s):
            self.show_candidate()

    def _pin_next(self, candidate: Candidate) -> None:
        """Pin as A, then as B; pinning a pinned one lets it go."""
        pins = self.session.pins
        held = next((letter for letter, one in pins.items() if one.key == candidate.key), "")
        if held:
            self.session.pin(held, None)
        else:
            self.session.pin("A" if "A" not in pins else "B", candidate)


def _harm_text(fate: GroupFate) -> str:
    """In how many of 100 variants a box of the group is harmed."""
    span = fate.harm_of_100.get("any")
    return "" if span is None else figure_text(span.value)
