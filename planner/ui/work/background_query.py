"""Questions asked beside the plan: each worked out in the background, shown as it sharpens, dropped when overtaken."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from PySide6.QtCore import QObject, Signal
from PySide6.QtWidgets import QHBoxLayout, QProgressBar, QToolButton, QWidget

from planner.app.plan.results import Choice, Plan
from planner.errors import InputError, SkepwayError
from planner.model.catalogue import Catalogue
from planner.ui.look import strings as s
from planner.ui.work.runner import Runner, Watch

if TYPE_CHECKING:
    from planner.app.advice.changes import Elsewhere
    from planner.app.answer.records import Tolerance
    from planner.app.standing.reserve import Drawn

SEED = 1
"""Which samples are taken: the same as on the command line, so that both say the same."""


@dataclass(frozen=True, eq=False)
class Subject:
    """What is looked at: one candidate of a plan, frozen.

    ``samples`` are those of the answer, where there is one; ``elsewhere`` is how it shuts the boxes at other hours and
    in other places, by departure and place.
    """

    plan: Plan
    choice: Choice
    catalogue: Catalogue
    samples: Drawn | None = None
    tolerance: Tolerance | None = None
    elsewhere: Elsewhere = field(default_factory=dict)


Ask = Callable[[Any, Watch], Any]
"""``ask(subject, watch)`` runs on a worker thread; one that yields tells early answers first and the best one last."""


class BackgroundQuery(QObject):
    """One kind of question; its newest answer, whose it is, and how far the work has come."""

    changed = Signal()
    answered = Signal(object)

    def __init__(self, runner: Runner, queue: str, ask: Ask) -> None:
        super().__init__(runner)
        self._runner, self.queue, self._ask = runner, queue, ask
        self._key: object = None
        self._subject: Any = None
        self._answer_key: object = None
        self._count = 0
        self.answer: Any = None
        self.share: float | None = None
        self.trouble: SkepwayError | None = None
        runner.progress.connect(self._progressed)

    # -- wishes ----------------------------------------------------------------------------------

    def put(self, key: object, subject: Any) -> None:
        """Ask about ``subject`` unless that very question is being worked out or has its answer."""
        if key == self._key:
            return
        self._key, self._subject = key, subject
        self.again()

    def again(self) -> None:
        """Ask the present question once more."""
        if self._key is None:
            return
        self._count += 1
        number, ask, subject, runner = self._count, self._ask, self._subject, self._runner
        self.trouble, self.done, self.stopped, self.share = None, False, False, 0.0

        def tell(answer: Any) -> None:
            runner.later(lambda: self._take(number, answer, last=False))

        runner.start(
            self.queue,
            lambda watch: _last(ask(subject, watch), tell),
            lambda answer: self._take(number, answer, last=True),
            self._fail,
        )
        self.changed.emit()

    def stop(self) -> None:
        """Give up the work under way; the answer so far stays."""
        if self.working:
            self._end()
            self.stopped = True
            self.changed.emit()

    def forget(self) -> None:
        """No question and no answer any more."""
        self._end()
        self._key = self._subject = self._answer_key = self.answer = self.trouble = None
        self.done = self.stopped = False
        self.changed.emit()

    done = False
    stopped = False

    @property
    def working(self) -> bool:
        return self.share is not None

    def answer_to(self, key: object) -> Any:
        """The answer so far, if it answers that question."""
        return self.answer if key is not None and self._answer_key == key else None

    @property
    def stale(self) -> bool:
        """Whether the answer shown belongs to an older question."""
        return self.answer is not None and self._answer_key != self._key

    # -- what comes back -------------------------------------------------------------------------

    def _end(self) -> None:
        self._count += 1
        self.share = None
        self._runner.stop(self.queue)

    def _take(self, number: int, answer: Any, *, last: bool) -> None:
        if number != self._count:
            return
        self.answer, self._answer_key = answer, self._key
        if last:
            self.share, self.done = None, True
        self.answered.emit(answer)
        self.changed.emit()

    def _fail(self, error: SkepwayError) -> None:
        self.share, self.trouble = None, error
        self.changed.emit()

    def _progressed(self, queue: str, share: float) -> None:
        if queue == self.queue and self.working:
            self.share = share
            self.changed.emit()


def _last(answers: Any, tell: Callable[[Any], None]) -> Any:
    """The last of several answers, the others told as they come; one answer alone is the last."""
    if not isinstance(answers, Iterator):
        return answers
    answer = None
    for answer in answers:
        tell(answer)
    return answer


class Going(QWidget):
    """How far a query is, with a button that stops it or takes it up again; hidden while at rest."""

    def __init__(self, query: BackgroundQuery) -> None:
        super().__init__()
        self.query = query
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setRange(0, 1000)
        self.bar.setFixedWidth(90)
        self.button = QToolButton()
        self.button.clicked.connect(lambda _=False: query.stop() if query.working else query.again())
        row = QHBoxLayout(self)
        row.setContentsMargins(0, 0, 0, 0)
        row.setSpacing(6)
        row.addWidget(self.bar)
        row.addWidget(self.button)
        query.changed.connect(self._show)
        self._show()

    def _show(self) -> None:
        query = self.query
        self.bar.setVisible(query.working)
        broken = query.trouble is not None and not isinstance(query.trouble, InputError)
        self.button.setVisible(query.working or query.stopped or broken)
        self.button.setText(s.say(s.ANSWER_STOP if query.working else s.GOING_AGAIN))
        if query.share is not None:
            self.bar.setValue(round(query.share * 1000))
            self.bar.setAccessibleDescription(s.say(s.PER_CENT, value=round(query.share * 100)))
