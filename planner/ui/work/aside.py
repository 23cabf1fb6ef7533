"""What the map shows beside the answer, asked for once all else rests: weather beside the road, time to stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer, Signal

from planner.errors import SkepwayError
from planner.ui.map.corridor import Laid, lay
from planner.ui.work.background_query import BackgroundQuery, Subject
from planner.ui.work.runner import Watch

if TYPE_CHECKING:
    from planner.app.plan.inputs import Ready
    from planner.app.standing.reserve import Reserve
    from planner.ui.work.session import Session

CALM_MS = 1500
"""Nothing is asked for until the hand has rested this long over a finished answer."""
RETRY_MS = 2000


def ask_reserve(subject: Subject, watch: Watch) -> Reserve:
    """How long one may stand along a candidate, in the samples of the answer; a worker's part."""
    from planner.app.standing.reserve import sampled_reserve

    return sampled_reserve(
        subject.plan,
        subject.choice,
        subject.catalogue,
        subject.samples,
        on_progress=watch.on_progress,
        should_stop=watch.should_stop,
    )


class Aside(QObject):
    """Follows a session; asks late and quietly, and says nothing where a service fails."""

    reserve_changed = Signal(object)
    corridor_changed = Signal(object)

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self.session = session
        self.reserve = BackgroundQuery(session.runner, "reserve", ask_reserve)
        self.beside = True
        self._asked: Ready | None = None
        self._calm = QTimer(self, singleShot=True, interval=CALM_MS)
        self._calm.timeout.connect(self._ask)
        session.plan_stale.connect(self._stale)
        session.picture_changed.connect(lambda _: self._told())
        session.closer_changed.connect(lambda _: self._calm.start())
        self.reserve.answered.connect(lambda _: self._told())

    def set_beside(self, on: bool) -> None:
        """Whether anything is asked about what lies beside the road."""
        self.beside = on
        self._calm.start()

    def key(self) -> object:
        """The question of how long one may stand: it is one for each candidate of an answer."""
        plan = self.session.plan
        return None if plan is None else (id(plan.outcomes), self.session.choice)

    def _stale(self, stale: bool) -> None:
        if stale:
            self._calm.stop()

    def _told(self) -> None:
        """What is known of the candidate shown, or that nothing is yet."""
        self.reserve_changed.emit(self.reserve.answer_to(self.key()))

    def _ask(self) -> None:
        session = self.session
        if not session.at_rest:
            self._calm.start(RETRY_MS)
            return
        if session.plan is not None and session.asked is not None:
            subject = Subject(session.plan, session.choice, session.catalogue, session.asked.race.field)
            self.reserve.put(self.key(), subject)
        self._ask_beside(session.ready)

    def _ask_beside(self, ready: Ready | None) -> None:
        """Once for each road and weather: a failing service is not asked again and again."""
        if ready is None or ready.weather.kind != "forecast" or not self.beside:
            self.corridor_changed.emit(None)
            self._asked = None
            return
        held = self._asked
        if held is not None and held.road is ready.road and held.weather is ready.weather:
            return
        self._asked = ready
        source = self.session.data_source

        def work(watch: Watch) -> Laid | None:
            found = source.beside(ready, watch.should_stop)
            return None if found is None else lay(found, ready.road)

        def nothing(_: SkepwayError) -> None:
            self.corridor_changed.emit(None)

        self.session.runner.start("beside", work, self.corridor_changed.emit, nothing)
