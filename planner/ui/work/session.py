"""Between the draft and the pictures: freezes the question, has it worked out, says when an answer may be shown.

Two queues run in the background. *curves* answers for the one candidate looked at, within the blink of a
moved slider; *plan* follows when the hand rests and works out every candidate.
"""

from __future__ import annotations

import copy
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal

from planner.app.answer.records import Answer, Candidate
from planner.app.plan.plan import curves as simulate_curves
from planner.app.plan.plan import looked_closer, plan_trip
from planner.app.plan.results import TYPICAL, Choice, Curves, Plan
from planner.app.plan.words import Answer as Words
from planner.app.plan.words import answer
from planner.errors import InputError, SkepwayError
from planner.model.catalogue import Catalogue
from planner.model.records import Road, Trip
from planner.store.tripfile import TripFile, resolve
from planner.ui.trip.document import Document
from planner.ui.trip.edits import waypoints, without_blanks
from planner.ui.work.bridge import as_answer, candidate_of, choice_of, same_candidate
from planner.ui.work.data_source import DataSource
from planner.ui.work.runner import Runner, Watch
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.plan.inputs import Ready

REST_MS = 160
"""The whole board is worked out once nothing has changed for this long."""


@dataclass(frozen=True)
class Question:
    """A draft frozen on the GUI thread; ``number`` grows with every change."""

    number: int
    draft: dict[str, Any]
    base_folder: Path | None
    refresh: bool = False


@dataclass(frozen=True)
class Read:
    """A question that could be read: the trip as stated, its road and its weather."""

    question: Question
    file: TripFile
    gathered: Ready


@dataclass(frozen=True)
class Picture:
    """Everything drawn for one choice: its own histories and those compared with it."""

    plan: Plan
    curves: Curves
    others: tuple[Curves, ...]
    group: int


class Session(QObject):
    """Follows one document and keeps the newest plan, choice and curves; all signals fire on the GUI thread."""

    faults_found = Signal(object)
    way_found = Signal(object)
    plan_changed = Signal(object)
    answer_changed = Signal(object)
    picture_changed = Signal(object)
    pins_changed = Signal()
    plan_stale = Signal(bool)
    curves_stale = Signal(bool)
    progress = Signal(object)
    trouble = Signal(object)

    def __init__(
        self, document: Document, catalogue: Catalogue, runner: Runner, data_source: DataSource
    ) -> None:
        super().__init__(document)
        self.document, self.catalogue, self.runner, self.data_source = (
            document,
            catalogue,
            runner,
            data_source,
        )
        self.units: UnitSystem = METRIC
        self.plan: Plan | None = None
        self.answer: Answer | None = None
        self.candidate: Candidate | None = None
        self.choice: Choice | None = None
        self.pins: dict[str, Candidate] = {}
        self.group: int | None = None
        self.chosen_by_hand = False
        self._number = 0
        self._planned = -1
        self._drawn = -1
        self._shown: Choice | None = None
        self._again = False
        self._refresh = False
        self._gathered: tuple[str, Ready] | None = None
        self._way: tuple[str, tuple[Trip, Road]] | None = None
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._start_plan)
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._soon.timeout.connect(self._start_curves)
        document.changed.connect(lambda _: self._changed())
        runner.progress.connect(self._progressed)
        runner.busy_changed.connect(self._busy)

    # -- wishes ----------------------------------------------------------------------------------

    def reset(self) -> None:
        """Forget every answer: another document was opened."""
        for queue in ("plan", "curves", "headroom"):
            self.runner.stop(queue)
        self.plan, self.choice, self.answer, self.candidate, self.group = None, None, None, None, None
        self.pins = {}
        self.chosen_by_hand = False
        self._gathered = self._way = None
        self.plan_changed.emit(None)
        self.answer_changed.emit(None)
        self.picture_changed.emit(None)

    def choose(self, choice: Choice) -> None:
        """Look at another candidate of the plan."""
        self.choice, self.chosen_by_hand = choice, True
        if self.answer is not None and self.plan is not None:
            held = self.candidate
            if held is None or choice_of(self.plan, held) != choice:
                self.candidate = candidate_of(self.answer, self.plan, choice)
        self.curves_stale.emit(True)
        self._soon.start()
        self._tell_answer()

    def look_at(self, candidate: Candidate) -> None:
        """Look at another candidate of the answer."""
        if self.plan is not None:
            self.candidate = candidate
            self.choose(choice_of(self.plan, candidate))

    def look_at_best(self) -> None:
        """Look at what the answer recommends."""
        if self.answer is not None and self.answer.best is not None:
            self.look_at(self.answer.best)
            self.chosen_by_hand = False

    def pin(self, letter: str, candidate: Candidate | None) -> None:
        """Keep a candidate for comparing, or let it go; its curve is drawn over the one looked at."""
        self.pins = {held: one for held, one in self.pins.items() if held != letter}
        if candidate is not None:
            self.pins[letter] = candidate
        self.pins_changed.emit()
        self._soon.start()

    @property
    def others(self) -> tuple[Choice, ...]:
        """The pinned candidates other than the one looked at, as the plan knows them."""
        return tuple(choice for _, choice in self._pinned())

    @property
    def letters(self) -> tuple[str, ...]:
        return tuple(letter for letter, _ in self._pinned())

    def verdict(self) -> str:
        """How the two pinned candidates compare, in one sentence; empty while there are not two."""
        return ""

    def _pinned(self) -> list[tuple[str, Choice]]:
        plan = self.plan
        if plan is None:
            return []
        pinned = [(letter, choice_of(plan, one)) for letter, one in sorted(self.pins.items())]
        return [(letter, choice) for letter, choice in pinned if choice != self.choice]

    def look_at_group(self, group: int | None) -> None:
        """Draw another group of boxes; ``None`` follows the hottest."""
        self.group = group
        self._soon.start()

    def set_units(self, units: UnitSystem) -> None:
        self.units = units
        self._tell_answer()

    def stop(self) -> None:
        """Give up the work under way; what is shown stays dimmed."""
        self._rest.stop()
        self._soon.stop()
        self._again = False
        for queue in ("plan", "curves", "headroom"):
            self.runner.stop(queue)
        self.progress.emit(None)

    def again(self, *, refresh: bool = False) -> None:
        """Work everything out anew; ``refresh`` fetches road and weather again."""
        self._refresh = refresh
        if refresh:
            self._gathered = None
        self._changed()

    @property
    def at_rest(self) -> bool:
        """Whether everything shown answers the newest question about the present choice."""
        return (
            self.plan is not None
            and self._planned == self._drawn == self._number
            and self._shown == self.choice
            and not self.runner.busy("plan")
            and not self.runner.busy("curves")
            and not self._soon.isActive()
        )

    # -- freezing the question -------------------------------------------------------------------

    def _changed(self) -> None:
        self._number += 1
        self.plan_stale.emit(True)
        self.curves_stale.emit(True)
        self.runner.stop("plan")
        self._rest.start()
        self._soon.start()

    def _freeze(self) -> Question:
        draft = without_blanks(copy.deepcopy(self.document.draft))
        return Question(self._number, draft, self.document.base_folder, self._refresh)

    def _prepare(
        self, question: Question, known: tuple[str, Ready] | None, should_stop: Callable[[], bool]
    ) -> Read:
        """Read the draft and gather road and weather, unless they are at hand for the same way and window."""
        file = resolve(question.draft, self.catalogue, question.base_folder)
        key = _data_key(question.draft)
        if known is not None and known[0] == key:
            return Read(question, file, replace(known[1], remarks=file.remarks))
        return Read(
            question, file, self.data_source.gather(file, refresh=question.refresh, should_stop=should_stop)
        )

    def _keep(self, ready: Read) -> None:
        self._gathered = (_data_key(ready.question.draft), ready.gathered)
        self._refresh = False

    # -- the one candidate looked at ---------------------------------------------------------------

    def _start_curves(self) -> None:
        """At most one run at a time; a change meanwhile is taken up when it ends."""
        if self.plan is None or self.choice is None:
            return
        if self.runner.busy("curves"):
            self._again = True
            return
        question, known, plan = self._freeze(), self._gathered, self.plan
        choice, others, group, planned = self.choice, self.others, self.group, self._planned

        def work(watch: Watch) -> tuple[Question, Picture]:
            now = plan
            if question.number != planned:
                ready = self._prepare(question, known, watch.should_stop)
                now = replace(
                    plan, trip=ready.file.trip, road=ready.gathered.road, weather=ready.gathered.weather
                )
            main = simulate_curves(now, choice, self.catalogue)
            beside = tuple(simulate_curves(now, other, self.catalogue) for other in others if other != choice)
            return question, Picture(now, main, beside, _group_shown(main, group))

        self.runner.start("curves", work, self._draw, self._not_drawn)

    def _draw(self, result: tuple[Question, Picture]) -> None:
        question, picture = result
        self._drawn = question.number
        self._shown = picture.curves.choice
        current = picture.curves.choice == self.choice
        if current:
            self.picture_changed.emit(picture)
            self.curves_stale.emit(question.number != self._number)
            if question.number == self._planned:
                self._look_closer()
        if self._again or not current:
            self._again = False
            self._start_curves()

    def _look_closer(self) -> None:
        """Find the headroom of the candidate looked at, once its picture is drawn."""
        plan, choice = self.plan, self.choice
        if plan is None or choice is None or choice in plan.tried:
            return
        catalogue = self.catalogue

        def apply(closer: Plan) -> None:
            if self.plan is plan:
                self.plan = closer
                self._tell_answer()

        self.runner.start("headroom", lambda _: looked_closer(plan, choice, catalogue), apply)

    def _not_drawn(self, error: SkepwayError) -> None:
        """Faults and services are reported by the plan that follows; here only the next wish counts."""
        if self._again:
            self._again = False
            self._start_curves()

    # -- every candidate -------------------------------------------------------------------------

    def _start_plan(self) -> None:
        question, known = self._freeze(), self._gathered
        runner = self.runner

        way_known = self._way

        def work(watch: Watch) -> tuple[Read, Plan]:
            watch.on_progress(0.0)
            try:
                ready = self._prepare(question, known, watch.should_stop)
            except SkepwayError:
                self._look_for_way(question, way_known, watch.should_stop)
                raise
            runner.later(lambda: self._show_way(ready))
            made = plan_trip(
                ready.file.trip,
                ready.gathered.road,
                ready.gathered.weather,
                self.catalogue,
                on_progress=watch.on_progress,
                should_stop=watch.should_stop,
            )
            return ready, replace(made, notes=(*made.notes, *ready.gathered.remarks))

        self.runner.start("plan", work, self._take_plan, self._no_plan)

    def _look_for_way(
        self, question: Question, known: tuple[str, tuple[Trip, Road]] | None, should_stop: Callable[[], bool]
    ) -> None:
        """Find the road between two places although the rest of the trip is not there yet; a worker's part."""
        key = _way_key(question.draft)
        if known is not None and known[0] == key:
            way = known[1]
        else:
            draft = _only_the_way(question.draft)
            if draft is None:
                return
            with suppress(SkepwayError):
                file = resolve(draft, self.catalogue, question.base_folder)
                found = self.data_source.gather(file, refresh=False, should_stop=should_stop)
                way = (file.trip, found.road)
                self.runner.later(lambda: self._take_way(question, key, way))
            return
        self.runner.later(lambda: self._take_way(question, key, way))

    def _take_way(self, question: Question, key: str, way: tuple[Trip, Road]) -> None:
        self._way = (key, way)
        if question.number == self._number:
            self.way_found.emit(way)

    def _show_way(self, ready: Read) -> None:
        self._keep(ready)
        self._way = (_way_key(ready.question.draft), (ready.file.trip, ready.gathered.road))
        if ready.question.number != self._number:
            return
        self.faults_found.emit(())
        self.way_found.emit((ready.file.trip, ready.gathered.road))

    def _take_plan(self, result: tuple[Read, Plan]) -> None:
        ready, plan = result
        before, self.plan, self._planned = self.plan, plan, ready.question.number
        self.choice = _same_candidate(before, plan, self.choice) if self.chosen_by_hand else None
        if self.choice is None:
            self.choice, self.chosen_by_hand = plan.ranking[0], False
        if self.group is not None and self.group >= len(plan.trip.groups):
            self.group = None
        self.faults_found.emit(())
        self.plan_changed.emit(plan)
        self.plan_stale.emit(ready.question.number != self._number)
        self._tell_answer()
        self.curves_stale.emit(self._drawn != self._number)
        self._soon.start()

    def _no_plan(self, error: SkepwayError) -> None:
        if isinstance(error, InputError):
            self.faults_found.emit(error.faults)
        else:
            self.faults_found.emit(())
            self.trouble.emit(error)

    def _tell_answer(self) -> None:
        """Put the plan as an answer; what is looked at and pinned goes on meaning the same departures and places."""
        if self.plan is None or self.choice is None:
            return
        self.answer = as_answer(self.plan, self.words_for(None))
        self.candidate = candidate_of(self.answer, self.plan, self.choice)
        found = {letter: same_candidate(self.answer, one) for letter, one in self.pins.items()}
        self.pins = {letter: one for letter, one in found.items() if one is not None}
        self.answer_changed.emit(self.answer)

    def words_for(self, choice: Choice | None) -> Words:
        """The words for the best candidate, or for another."""
        plan, _ = self.looked_at()
        return answer(plan, self.catalogue, self.units, now_s=time.time(), choice=choice)

    def looked_at(self) -> tuple[Plan, Choice]:
        """The plan there is and the candidate of it looked at; to be asked only once there is a plan."""
        if self.plan is None or self.choice is None:
            raise LookupError("no candidate is looked at yet")
        return self.plan, self.choice

    # -- what goes on ----------------------------------------------------------------------------

    def _progressed(self, queue: str, share: float) -> None:
        if queue == "plan":
            self.progress.emit(share)

    def _busy(self) -> None:
        if not self.runner.busy("plan"):
            self.progress.emit(None)


def _data_key(draft: dict[str, Any]) -> str:
    """What road and weather depend on: a change elsewhere needs neither again."""
    parts = ("origin", "destination", "stops", "road", "window", "weather", "vehicle", "closing", "handling")
    return repr([draft.get(part) for part in parts])


def _way_key(draft: dict[str, Any]) -> str:
    """What the road alone depends on."""
    places = [[place.get("lat"), place.get("lon")] for place in waypoints(draft)]
    return repr([places, draft.get("road"), (draft.get("vehicle") or {}).get("kind")])


def _only_the_way(draft: dict[str, Any]) -> dict[str, Any] | None:
    """The draft with everything but its places made up, to ask for a road with; None while a place is missing."""
    if any("lat" not in place for place in waypoints(draft)):
        return None
    day = {"date": "2027-06-01", "dawn_low_c": 10.0, "afternoon_high_c": 20.0, "dew_point_c": 8.0}
    ends = (0, len(draft.get("stops") or []) + 1)
    made_up = {
        "title": draft.get("title") or "-",
        "load": [{"label": "-", "count": 1, "box_type": "national_nuc5_pine", "frames_of_bees": 4.0}],
        "closing": {"rule": "at_loading"},
        "window": {"from": "2027-06-01T08:00", "to": "2027-06-01T08:00"},
        "arrival": {},
        "weather": {"source": "own", "own": [{"place": end, **day} for end in ends]},
    }
    return {**draft, **made_up}


def _group_shown(curves: Curves, wanted: int | None) -> int:
    if wanted is not None and wanted < curves.core_c.shape[2]:
        return wanted
    core = np.where(np.isfinite(curves.core_c[:, TYPICAL]), curves.core_c[:, TYPICAL], -np.inf)
    return int(np.argmax(core.max(axis=0)))


def _same_candidate(before: Plan | None, plan: Plan, choice: Choice | None) -> Choice | None:
    """The candidate of a newer plan that stands for the same departure, place and set-up."""
    if before is None or choice is None:
        return None
    place, setup = before.loading_places[choice.loading_place], before.setups[choice.setup]
    if place not in plan.loading_places:
        return None
    departure = int(np.argmin(np.abs(plan.departures_s - before.departures_s[choice.departure])))
    return Choice(
        departure, plan.loading_places.index(place), plan.setups.index(setup) if setup in plan.setups else 0
    )
