"""One background runner: freeze a request on the GUI thread, run it elsewhere, apply it on the GUI thread.

Each kind of work has a *queue*; a newer request in a queue asks the older one to stop, and an answer
that has been overtaken is dropped, so nothing stale is ever applied.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QObject, QRunnable, QThreadPool, Signal

from planner.errors import Cancelled, SkepwayError
from planner.ui.work.gui_thread_gc import GuiThreadGc


@dataclass(frozen=True, slots=True)
class Watch:
    """What a piece of work may ask and tell: whether to stop, and the share done in 0..1."""

    should_stop: Callable[[], bool]
    on_progress: Callable[[float], None]


Work = Callable[[Watch], Any]


SWITCH_S = 0.00002
"""How soon a working thread gives way. Painting takes and leaves the interpreter hundreds of times; at the
usual 5 ms each a busy worker would hold up a repaint for half a second, at 0.5 ms still for 60 to 80 ms."""


class BrokenError(SkepwayError):
    """A bug of ours ended a piece of work; the hook has the details."""

    def __init__(self) -> None:
        super().__init__("This could not be worked out: a fault inside Skepway. Your trip is safe.")


@dataclass
class _Job:
    queue: str
    number: int
    work: Work
    apply: Callable[[Any], None]
    failed: Callable[[SkepwayError], None]
    stop: threading.Event


class _Task(QRunnable):
    def __init__(self, job: _Job, runner: Runner) -> None:
        super().__init__()
        self.job, self.runner = job, runner

    def run(self) -> None:
        job, runner = self.job, self.runner
        try:
            result = job.work(
                Watch(job.stop.is_set, lambda share: runner._progressed.emit(job, float(share)))
            )
        except SkepwayError as error:
            runner._ended.emit(job, None, error)
        except BaseException:
            sys.excepthook(*sys.exc_info())  # ours: the hook tells the window by a signal
            runner._ended.emit(job, None, BrokenError())
        else:
            runner._ended.emit(job, result, None)


class Runner(QObject):
    """Runs plain callables ``work(watch)`` on a thread pool; newest in a queue wins."""

    progress = Signal(str, float)
    busy_changed = Signal()
    _ended = Signal(object, object, object)
    _progressed = Signal(object, float)
    _later = Signal(object)

    def __init__(self, parent: QObject | None = None, threads: int = 3) -> None:
        super().__init__(parent)
        sys.setswitchinterval(SWITCH_S)
        self._pool = QThreadPool(self)
        self._pool.setMaxThreadCount(threads)
        self._newest: dict[str, _Job] = {}
        self._count = 0
        self._closing = False
        self._gui_thread_gc = GuiThreadGc(self, lambda: not self._newest)
        self._ended.connect(self._take)
        self._progressed.connect(self._report)
        self._later.connect(self._do)

    def start(
        self,
        queue: str,
        work: Work,
        apply: Callable[[Any], None],
        failed: Callable[[SkepwayError], None] | None = None,
    ) -> None:
        """Ask for ``work`` in ``queue``; ``apply`` or ``failed`` follow on the GUI thread if nothing newer came."""
        if self._closing:
            return
        self.stop(queue)
        self._count += 1
        job = _Job(queue, self._count, work, apply, failed or (lambda _: None), threading.Event())
        self._newest[queue] = job
        self.busy_changed.emit()
        self._pool.start(_Task(job, self))

    def stop(self, queue: str | None = None) -> None:
        """Ask the work of one queue (or all) to stop; its answer will not be applied."""
        for name in [queue] if queue else list(self._newest):
            job = self._newest.pop(name, None)
            if job:
                job.stop.set()
        self.busy_changed.emit()

    def later(self, act: Callable[[], None]) -> None:
        """Called on a worker thread: do ``act`` on the GUI thread soon."""
        self._later.emit(act)

    def _do(self, act: Callable[[], None]) -> None:
        if not self._closing:
            act()

    def busy(self, queue: str | None = None) -> bool:
        """Whether work is under way in ``queue`` (or anywhere)."""
        return queue in self._newest if queue else bool(self._newest)

    def close(self) -> None:
        """Stop everything and wait until the threads have ended."""
        self._closing = True
        self.stop()
        self._pool.waitForDone(-1)
        self._gui_thread_gc.close()

    def _report(self, job: _Job, share: float) -> None:
        if self._newest.get(job.queue) is job:
            self.progress.emit(job.queue, share)

    def _take(self, job: _Job, result: Any, error: SkepwayError | None) -> None:
        if self._closing or self._newest.get(job.queue) is not job:
            return
        del self._newest[job.queue]
        self.busy_changed.emit()
        if error is None:
            job.apply(result)
        elif not isinstance(error, Cancelled):
            job.failed(error)
