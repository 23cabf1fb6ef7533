"""Between the draft and the pictures: freezes the question, has it answered, says when an answer may be shown.

Three queues run in the background. *curves* answers for the one candidate looked at, within the blink of a moved
slider; *plan* follows when the hand rests, asks the one answer and tells it as it sharpens; *closer* then looks at what
is shown more closely: its band, its groups, how the two pinned candidates compare.
"""

from __future__ import annotations

import copy
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from PySide6.QtCore import QObject, QTimer, Signal

from planner.app.answer.ask import Asked, ask, tolerance_of, unanswered
from planner.app.answer.compare import compared
from planner.app.answer.records import Answer, Candidate, Comparison, Curve
from planner.app.answer.settled import ONLY, curve_of, settled_plan, settled_trip
from planner.app.answer.words import worded
from planner.app.common.executors import at_hand
from planner.app.plan.breaks import with_breaks
from planner.app.plan.plan import curves as simulate_curves
from planner.app.plan.results import TYPICAL, Choice, Curves, Plan
from planner.errors import InputError, ServiceError, SkepwayError
from planner.model.catalogue import Catalogue
from planner.model.records import Road, Trip, Weather
from planner.store.tripfile import TripFile, resolve
from planner.ui.trip.document import Document
from planner.ui.trip.edits import without_blanks
from planner.ui.work.aside import Aside
from planner.ui.work.candidates import nearest, same_candidate, same_trip
from planner.ui.work.data_source import DataSource
from planner.ui.work.runner import Runner, Watch
from planner.ui.work.the_way import only_the_way, way_key
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.plan.inputs import Ready

REST_MS = 160
"""The whole answer is worked out once nothing has changed for this long."""
QUEUES = ("plan", "curves", "closer")


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
    """Everything drawn for one candidate: its own histories and those of the pinned ones beside it."""

    candidate: Candidate
    plan: Plan
    curves: Curves
    others: tuple[Curves, ...]
    letters: tuple[str, ...]
    group: int


@dataclass(frozen=True)
class Closer:
    """What is known of a candidate on a closer look, and how the two pinned ones compare."""

    candidate: Candidate
    band: Curve | None
    verdict: Comparison | None


class Session(QObject):
    """Follows one document and keeps the newest answer, candidate and curves; all signals fire on the GUI thread."""

    faults_found = Signal(object)
    way_found = Signal(object)
    answer_changed = Signal(object)
    unanswered = Signal(object)
    """The answer where weather or road is missing."""
    picture_changed = Signal(object)
    closer_changed = Signal(object)
    undrawn = Signal(object)
    """Why the candidate looked at has no curves although the answer stands: its load finds no room."""
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
        self.language = "en"
        """In which sheets are written where nothing else is chosen."""
        self.answer: Answer | None = None
        self.asked: Asked | None = None
        self.candidate: Candidate | None = None
        self.plan: Plan | None = None
        self.closer: Closer | None = None
        """The last closer look at a candidate of the present answer, for pages turned to after it."""
        self.choice: Choice = ONLY
        self.pins: dict[str, Candidate] = {}
        self.verdict: Comparison | None = None
        self.group: int | None = None
        self.chosen_by_hand = False
        self.ensemble = False
        self._asking = threading.Lock()
        self._number = 0
        self._planned = self._answered = -1
        self._drawn = -1
        self._shown: Candidate | None = None
        self._again = False
        self._refresh = False
        self._missing: tuple[int, Answer] | None = None
        self._gathered: tuple[str, Ready] | None = None
        self._way: tuple[str, tuple[Trip, Road]] | None = None
        self._rest = QTimer(self, singleShot=True, interval=REST_MS)
        self._rest.timeout.connect(self._start_plan)
        self._soon = QTimer(self, singleShot=True, interval=0)
        self._soon.timeout.connect(self._start_curves)
        self.aside = Aside(self)
        document.changed.connect(lambda _: self._changed())
        runner.progress.connect(self._progressed)
        runner.busy_changed.connect(self._busy)

    # -- wishes ----------------------------------------------------------------------------------

    def reset(self) -> None:
        """Forget every answer: another document was opened."""
        for queue in QUEUES:
            self.runner.stop(queue)
        self.answer = self.asked = self.candidate = self.plan = self.closer = self.group = None
        self.pins, self.verdict = {}, None
        self.chosen_by_hand = False
        self._gathered = self._way = None
        self.answer_changed.emit(None)
        self.picture_changed.emit(None)

    def look_at(self, candidate: Candidate) -> None:
        """Look at another candidate of the answer."""
        self.candidate, self.chosen_by_hand = candidate, True
        self.curves_stale.emit(True)
        self._soon.start()

    def look_at_best(self) -> None:
        """Look at what the answer recommends."""
        if self.answer is not None and self.answer.best is not None:
            self.look_at(self.answer.best)
            self.chosen_by_hand = False

    def look_at_departure(self, leave_s: float, place: str = "") -> bool:
        """Look at the best candidate that leaves then, riding in ``place`` if any does; true where that is another."""
        found = nearest(self.answer, leave_s, place) if self.answer is not None else None
        if found is None or (self.candidate is not None and found.key == self.candidate.key):
            return False
        self.look_at(found)
        return True

    def pin(self, letter: str, candidate: Candidate | None) -> None:
        """Keep a candidate for comparing, or let it go; its curve is drawn over the one looked at."""
        self.pins = {held: one for held, one in self.pins.items() if held != letter}
        if candidate is not None:
            self.pins[letter] = candidate
        self.verdict = None
        self.pins_changed.emit()
        self._soon.start()

    def look_at_group(self, group: int | None) -> None:
        """Draw another group of boxes; ``None`` follows the hottest."""
        self.group = group
        self._soon.start()

    def set_units(self, units: UnitSystem) -> None:
        """Say everything in other units; nothing is worked out for it."""
        self.units = units
        if self.answer is not None:
            self.answer = self._in_words(self.answer)
            self.answer_changed.emit(self.answer)

    def set_ensemble(self, on: bool) -> None:
        """Take the weather from the members of the ensemble forecast, or from the forecast itself."""
        self.ensemble = on
        self.again()

    def stop(self) -> None:
        """Give up the work under way; what is shown stays dimmed."""
        self._rest.stop()
        self._soon.stop()
        self._again = False
        for queue in QUEUES:
            self.runner.stop(queue)
        self.progress.emit(None)

    def again(self, *, refresh: bool = False) -> None:
        """Work everything out anew; ``refresh`` fetches road and weather again."""
        self._refresh = refresh
        if refresh:
            self._gathered = None
        self._changed()

    @property
    def ready(self) -> Ready | None:
        """Road and weather last gathered."""
        return self._gathered[1] if self._gathered is not None else None

    @property
    def at_rest(self) -> bool:
        """Whether everything shown answers the newest question about the present candidate."""
        return (
            self.answer is not None
            and self.plan is not None
            and self._planned == self._drawn == self._number
            and self._shown is self.candidate
            and not any(self.runner.busy(queue) for queue in QUEUES)
            and not self._soon.isActive()
        )

    # -- freezing the question -------------------------------------------------------------------

    def _changed(self) -> None:
        self._number += 1
        self.plan_stale.emit(True)
        self.curves_stale.emit(True)
        self.runner.stop("plan")
        self.runner.stop("closer")
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
        answer, candidate = self.answer, self.candidate
        if answer is None or candidate is None:
            return
        if self.runner.busy("curves"):
            self._again = True
            return
        question, known, held = self._freeze(), self._gathered, self.plan
        answered, group, shown = self._answered, self.group, self._shown
        pinned = [(letter, one) for letter, one in sorted(self.pins.items()) if one.key != candidate.key]
        catalogue = self.catalogue

        def work(watch: Watch) -> tuple[Question, Picture]:
            found = answer
            if question.number != answered:
                found = self._moved(answer, self._prepare(question, known, watch.should_stop))
            if question.number != answered and held is not None and shown is candidate:
                trip = settled_trip(found, candidate, catalogue)
                plan = replace(
                    held, trip=trip, road=found.road or held.road, weather=found.weather or held.weather
                )
            elif held is not None and shown is candidate and found is answer:
                plan = held
            else:
                plan = settled_plan(found, candidate, catalogue)
            main = simulate_curves(plan, ONLY, catalogue)
            beside = tuple(
                simulate_curves(settled_plan(found, one, catalogue), ONLY, catalogue) for _, one in pinned
            )
            letters = tuple(letter for letter, _ in pinned)
            return question, Picture(candidate, plan, main, beside, letters, _group_shown(main, group))

        self.runner.start("curves", work, self._draw, self._not_drawn)

    def _moved(self, answer: Answer, ready: Read) -> Answer:
        """The answer with the trip as it is now, to draw its candidate for; SkepwayError where the load is another."""
        trip, road, _ = with_breaks(ready.file.trip, ready.gathered.road)
        if answer.trip is None or len(trip.groups) != len(answer.trip.groups):
            raise SkepwayError("the load is another")
        return replace(answer, trip=trip, road=road, weather=ready.gathered.weather)

    def _draw(self, result: tuple[Question, Picture]) -> None:
        question, picture = result
        current = self.candidate is not None and same_trip(picture.candidate, self.candidate)
        if current:
            self._drawn, self._shown, self.plan = question.number, picture.candidate, picture.plan
            self.picture_changed.emit(picture)
            self.curves_stale.emit(question.number != self._number)
            if question.number == self._planned:
                self._look_closer()
        if self._again or not current:
            self._again = False
            self._start_curves()

    def _look_closer(self) -> None:
        """Once the picture is drawn: its band, its groups, and how the pinned ones compare."""
        asked, answer, candidate = self.asked, self.answer, self.candidate
        if asked is None or answer is None or candidate is None:
            return
        pins, units, lock = dict(self.pins), self.units, self._asking

        def work(_: Watch) -> Closer:
            with lock:
                seen = asked.look(candidate.key)
                band = curve_of(asked.race.field, answer, candidate)
                verdict = None
                if len(pins) == 2:
                    verdict = compared(asked, pins["A"].key, pins["B"].key, units=units)
            return Closer(seen, band, verdict)

        def apply(closer: Closer) -> None:
            if self.candidate is candidate:
                self.closer, self.verdict = closer, closer.verdict
                self.closer_changed.emit(closer)

        self.runner.start("closer", work, apply)

    def _not_drawn(self, error: SkepwayError) -> None:
        """Faults and services are reported by the answer that follows; where that stands already, why is told here."""
        if self._again:
            self._again = False
            self._start_curves()
        elif self._planned == self._number:
            self.plan = self._shown = None
            self.curves_stale.emit(False)
            self.undrawn.emit(error)

    # -- the one answer ----------------------------------------------------------------------------

    def _start_plan(self) -> None:
        question, known, way_known = self._freeze(), self._gathered, self._way
        runner, lock, ensemble = self.runner, self._asking, self.ensemble

        def work(watch: Watch) -> tuple[Read, Asked, Answer]:
            watch.on_progress(0.0)
            try:
                ready = self._prepare(question, known, watch.should_stop)
            except SkepwayError as error:
                self._look_for_way(question, way_known, watch.should_stop)
                if isinstance(error, ServiceError):
                    self._tell_missing(question, error)
                raise
            runner.later(lambda: self._show_way(ready))
            trip = ready.file.trip

            def tell(early: Answer) -> None:
                said = self._in_words(early)
                runner.later(lambda: self._take_early(ready, said))

            members: tuple[Weather, ...] = ()
            if ensemble and ready.gathered.weather.kind == "forecast":
                members = self.data_source.members(ready.gathered, watch.should_stop)
            with lock, at_hand() as hands:
                asked = ask(
                    trip,
                    ready.gathered.road,
                    ready.gathered.weather,
                    self.catalogue,
                    weathers=members,
                    tolerance=tolerance_of(trip, *self.data_source.tolerance()),
                    now_s=None if trip.invented else time.time(),
                    executor=hands,
                    on_answer=tell,
                    on_progress=watch.on_progress,
                    should_stop=watch.should_stop,
                )
                found = asked.answer(finished=True)
            return ready, asked, self._in_words(_noted(found, ready.gathered.remarks))

        self.runner.start("plan", work, self._take_answer, self._no_plan)

    def _in_words(self, answer: Answer) -> Answer:
        return worded(answer, self.catalogue, self.units, now_s=time.time())

    def _tell_missing(self, question: Question, error: SkepwayError) -> None:
        """Where a service fails the answer is that nothing can be told; which part is missing decides its words."""
        from planner.app.plan.inputs import RoadMissing

        with suppress(SkepwayError):
            trip = resolve(question.draft, self.catalogue, question.base_folder).trip
            missing = unanswered(
                trip, ("road" if isinstance(error, RoadMissing) else "weather",), tolerance_of(trip)
            )
            said = self._in_words(missing)
            self.runner.later(lambda: setattr(self, "_missing", (question.number, said)))

    def _look_for_way(
        self, question: Question, known: tuple[str, tuple[Trip, Road]] | None, should_stop: Callable[[], bool]
    ) -> None:
        """Find the road between two places although the rest of the trip is not there yet; a worker's part."""
        key = way_key(question.draft)
        if known is not None and known[0] == key:
            way = known[1]
        else:
            draft = only_the_way(question.draft)
            if draft is None:
                return
            try:
                file = resolve(draft, self.catalogue, question.base_folder)
                found = self.data_source.gather(file, refresh=False, should_stop=should_stop)
            except SkepwayError:
                return
            way = (file.trip, found.road)
        self.runner.later(lambda: self._take_way(question, key, way))

    def _take_way(self, question: Question, key: str, way: tuple[Trip, Road]) -> None:
        self._way = (key, way)
        if question.number == self._number:
            self.way_found.emit(way)

    def _show_way(self, ready: Read) -> None:
        self._keep(ready)
        self._way = (way_key(ready.question.draft), (ready.file.trip, ready.gathered.road))
        if ready.question.number != self._number:
            return
        self.faults_found.emit(())
        self.way_found.emit((ready.file.trip, ready.gathered.road))

    def _take_early(self, ready: Read, answer: Answer) -> None:
        """The answer so far: shown at once, sharpened in place by what follows."""
        if ready.question.number == self._number and self.runner.busy("plan"):
            self._answered = ready.question.number
            self._show_answer(answer, None)
            drawn, now = self._shown, self.candidate
            if self.plan is None or drawn is None or now is None or not same_trip(drawn, now):
                self.curves_stale.emit(now is not None)  # no curve stands under the name of another departure
                self._soon.start()

    def _take_answer(self, result: tuple[Read, Asked, Answer]) -> None:
        ready, asked, answer = result
        self._planned = self._answered = ready.question.number
        self.faults_found.emit(())
        self._show_answer(answer, asked)
        self.plan_stale.emit(ready.question.number != self._number)
        self.curves_stale.emit(self._drawn != self._number)
        self._soon.start()

    def _show_answer(self, answer: Answer, asked: Asked | None) -> None:
        """What is looked at and pinned goes on meaning the same departures and places."""
        self.answer, self.closer = answer, None
        if asked is not None:
            self.asked = asked
        kept = same_candidate(answer, self.candidate) if self.chosen_by_hand else None
        self.chosen_by_hand = kept is not None
        self.candidate = kept or answer.best
        found = {letter: same_candidate(answer, one) for letter, one in self.pins.items()}
        self.pins = {letter: one for letter, one in found.items() if one is not None}
        groups = len(answer.trip.groups) if answer.trip else 0
        if self.group is not None and self.group >= groups:
            self.group = None
        self.answer_changed.emit(answer)

    def _no_plan(self, error: SkepwayError) -> None:
        if isinstance(error, InputError):
            self.faults_found.emit(error.faults)
        else:
            self.faults_found.emit(())
            missing, self._missing = self._missing, None
            if (
                missing is not None and missing[0] == self._number
            ):  # only now: finding no fault clears the bar
                self.unanswered.emit(missing[1])
            self.trouble.emit(error)

    # -- what goes on ----------------------------------------------------------------------------

    def _progressed(self, queue: str, share: float) -> None:
        if queue == "plan":
            self.progress.emit(share)

    def _busy(self) -> None:
        if not self.runner.busy("plan"):
            self.progress.emit(None)


def _noted(answer: Answer, remarks: tuple[str, ...]) -> Answer:
    return replace(answer, notes=(*answer.notes, *remarks))


def _data_key(draft: dict[str, Any]) -> str:
    """What road and weather depend on: a change elsewhere needs neither again."""
    parts = ("origin", "destination", "stops", "road", "window", "weather", "vehicle", "closing", "handling")
    return repr([draft.get(part) for part in parts])


def _group_shown(curves: Curves, wanted: int | None) -> int:
    if wanted is not None and wanted < curves.core_c.shape[2]:
        return wanted
    core = np.where(np.isfinite(curves.core_c[:, TYPICAL]), curves.core_c[:, TYPICAL], -np.inf)
    return int(np.argmax(core.max(axis=0)))
