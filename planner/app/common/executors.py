"""Many pieces of work handed to an executor: as many at a time as it can take, results as they come, quick to stop.

Any executor of ``concurrent.futures`` will do: threads, processes, or a Dask cluster through its own executor. What
all pieces need is sent once, pieces go in bundles of seconds, and the work of a process that dies is done again.
"""

from __future__ import annotations

import multiprocessing
import os
import pickle
import platform
import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import (
    FIRST_COMPLETED,
    BrokenExecutor,
    CancelledError,
    Executor,
    Future,
    ProcessPoolExecutor,
    ThreadPoolExecutor,
    wait,
)
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any, TypeVar

from planner import __version__
from planner.app.common.progress import Stop
from planner.errors import Cancelled, Fault, InputError, ServiceError
from planner.files import passing_folder, write_bytes
from planner.words import say

Job = TypeVar("Job")
Result = TypeVar("Result")
Common = TypeVar("Common")

AHEAD = 16
"""Bundles handed out before one comes back, where nobody says how many can be worked on; bounds memory and stops."""

AHEAD_EACH = 2
"""Bundles for each process or thread: one in hand, one waiting, so that none stands idle between two."""

BUNDLE_S = 2.0
"""How long a bundle should take: much longer than handing it out, short enough to stop and to lose."""

MOST_IN_A_BUNDLE = 256
TRIES = 3
"""How often a piece is begun before the processes that die under it are taken to die of it."""

MOST_THREADS = 4
POLL_S = 0.2
LOOK_S = 5.0
"""How often a cluster is asked how large it is by now."""


# -- handing out ---------------------------------------------------------------------------------


def map_unordered(
    work: Callable[[Job], Result],
    jobs: Iterable[Job],
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> Iterator[tuple[Job, Result]]:
    """Each job with its result, in the order they finish; here and now without an executor.

    Raises Cancelled when ``should_stop`` says so; pieces not begun are then taken back. Raises ServiceError when
    processes die again and again, or the cluster is gone.
    """
    yield from map_with(_alone, work, jobs, executor, should_stop)


def _alone(work: Callable[[Job], Result], job: Job) -> Result:
    return work(job)


def map_with(
    work: Callable[[Common, Job], Result],
    common: Common,
    jobs: Iterable[Job],
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> Iterator[tuple[Job, Result]]:
    """As ``map_unordered``, with something all pieces need that is sent to each process once, not with each piece."""
    if executor is None:
        for job in jobs:
            _heed(should_stop)
            yield job, work(common, job)
        return
    with _sent(common, executor) as sent:
        handing = _Handing(
            work, sent, deque(jobs) if hasattr(jobs, "__len__") else None, iter(jobs), executor
        )
        try:
            while handing.hand_out():
                _heed(should_stop)
                yield from handing.come_back()
        finally:
            handing.take_back()


@dataclass
class _Bundle:
    """Jobs handed out together, and how often they were begun."""

    jobs: list[Any]
    tries: int = 1


class _Handing:
    """What is handed out and not yet back."""

    def __init__(
        self,
        work: Callable[..., Any],
        common: Any,
        counted: deque[Any] | None,
        jobs: Iterator[Any],
        executor: Executor,
    ) -> None:
        self._work, self._common, self._executor = work, common, executor
        self._counted, self._jobs = counted, jobs
        self._again: deque[_Bundle] = deque()
        self._waiting: dict[Future[Any], _Bundle] = {}
        self._seconds, self._done = 0.0, 0
        self._places, self._looked_s = places_of(executor), time.monotonic()

    def hand_out(self) -> bool:
        """Fill up what the executor can take; False when everything is back."""
        if time.monotonic() - self._looked_s > LOOK_S:
            self._places, self._looked_s = places_of(self._executor), time.monotonic()
        ahead = AHEAD if self._places is None else AHEAD_EACH * self._places
        while len(self._waiting) < ahead and (bundle := self._next()):
            try:
                future = self._executor.submit(_carry_out, self._work, self._common, bundle.jobs)
            except BrokenExecutor as error:  # a process died since the last one came back
                self._begin_again(bundle, error)
            else:
                self._waiting[future] = bundle
        return bool(self._waiting)

    def _next(self) -> _Bundle | None:
        if self._again:
            return self._again.popleft()
        size = self._size()
        if self._counted is not None:
            jobs = [self._counted.popleft() for _ in range(min(size, len(self._counted)))]
        else:
            jobs = [job for _, job in zip(range(size), self._jobs, strict=False)]
        return _Bundle(jobs) if jobs else None

    def _size(self) -> int:
        """As many jobs as take BUNDLE_S by what they have taken so far, and never so many that others go short."""
        if not self._done:
            return 1
        size = int(BUNDLE_S * self._done / max(self._seconds, 1e-6))
        if self._counted is not None:
            size = min(size, len(self._counted) // (2 * AHEAD_EACH * (self._places or AHEAD)))
        return max(1, min(size, MOST_IN_A_BUNDLE))

    def come_back(self) -> Iterator[tuple[Any, Any]]:
        done, _ = wait(self._waiting, timeout=POLL_S, return_when=FIRST_COMPLETED)
        for future in done:
            bundle = self._waiting.pop(future)
            try:
                seconds, results = future.result()
            except Exception as error:
                if not _died(error):
                    raise
                self._begin_again(bundle, error)
                continue
            self._seconds, self._done = self._seconds + seconds, self._done + len(results)
            yield from zip(bundle.jobs, results, strict=True)

    def _begin_again(self, bundle: _Bundle, error: BaseException) -> None:
        """A process died with these jobs, or with others of its pool: they are handed out once more."""
        renew = getattr(self._executor, "renew", None)
        if renew is None or bundle.tries >= TRIES:
            raise ServiceError(
                "workers", say("services.they_died_at_work", name=f"{type(error).__name__}"), GONE
            ) from error
        renew()
        self._again.append(_Bundle(bundle.jobs, bundle.tries + 1))

    def take_back(self) -> None:
        for future in self._waiting:
            future.cancel()


GONE = "What is finished is kept: start the workers again, with more memory each, and give the same command"


def _died(error: BaseException) -> bool:
    """Whether the worker is to blame and not the work."""
    return isinstance(error, BrokenExecutor | CancelledError) or type(error).__name__ in (
        "KilledWorker",
        "CommClosedError",
        "FutureCancelledError",
    )


def _carry_out(work: Callable[..., Any], common: Any, jobs: list[Any]) -> tuple[float, list[Any]]:
    """A bundle's results and the seconds they took; runs where the executor runs."""
    begun_s = time.perf_counter()
    value = _read(common.path) if isinstance(common, _InFile) else common
    results = [work(value, job) for job in jobs]
    return time.perf_counter() - begun_s, results


def _heed(should_stop: Stop | None) -> None:
    if should_stop and should_stop():
        raise Cancelled


# -- what all pieces need ------------------------------------------------------------------------


@dataclass(frozen=True)
class _InFile:
    """Something too large to go with every piece to another process of this machine."""

    path: str


@lru_cache(maxsize=2)
def _read(path: str) -> Any:
    return pickle.loads(Path(path).read_bytes())  # our own, written by the parent a moment ago


@contextmanager
def _sent(common: Any, executor: Executor) -> Iterator[Any]:
    """The common part as pieces are to name it: itself, a file of this machine, or a cluster's own copy."""
    client = getattr(executor, "_client", None)
    if client is not None:
        yield client.scatter(common, broadcast=True, hash=False)
    elif isinstance(executor, ProcessPoolExecutor | Processes):
        with passing_folder() as folder:
            path = folder / "common"
            write_bytes(path, pickle.dumps(common, pickle.HIGHEST_PROTOCOL))
            yield _InFile(str(path))
    else:
        yield common


def places_of(executor: Executor) -> int | None:
    """How many pieces the executor works on at once, by now; None where it does not say."""
    client = getattr(executor, "_client", None)
    if client is not None:
        return max(1, sum(int(threads) for threads in client.ncores().values()))
    if isinstance(executor, ProcessPoolExecutor | ThreadPoolExecutor | Processes):
        return int(vars(executor)["_max_workers"])
    return None


# -- where to work -------------------------------------------------------------------------------


class Processes(Executor):
    """Processes of this machine; where one dies all are begun anew, and whoever handed the work out does so again."""

    def __init__(self, processes: int) -> None:
        self._max_workers = processes
        self._pool = self._begun()

    def _begun(self) -> ProcessPoolExecutor:
        spawn = multiprocessing.get_context("spawn")
        with _asked_alone():  # the process that keeps count of the others' locks is begun here
            return ProcessPoolExecutor(self._max_workers, mp_context=spawn, initializer=_end_with_our_parent)

    def submit(self, work: Callable[..., Any], /, *args: Any, **more: Any) -> Future[Any]:
        with _asked_alone():
            return self._pool.submit(work, *args, **more)

    def renew(self) -> None:
        """Begin anew unless somebody has."""
        if getattr(self._pool, "_broken", False):
            self._pool.shutdown(wait=False, cancel_futures=True)
            self._pool = self._begun()

    def shutdown(self, wait: bool = True, *, cancel_futures: bool = False) -> None:
        self._pool.shutdown(wait, cancel_futures=cancel_futures)


@contextmanager
def _asked_alone() -> Iterator[None]:
    """Processes begun in here are deaf to what a terminal tells all of us at once: whoever began them sees them out."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGHUP})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end_with_our_parent() -> None:
    """A parent that is killed says nothing: without it the processes would wait for work for ever."""
    parent = multiprocessing.parent_process()
    if parent is not None:
        threading.Thread(target=_outlive, args=(parent,), daemon=True).start()


def _outlive(parent: Any) -> None:
    parent.join()
    os._exit(1)


@contextmanager
def at_hand(executor: Executor | None = None, most: int | None = None) -> Iterator[Executor]:
    """An executor, or threads of our own, one a processor: the march leaves the interpreter's lock alone."""
    if executor is not None:
        yield executor
        return
    with ThreadPoolExecutor(most or min(MOST_THREADS, os.cpu_count() or 1)) as own:
        yield own


@contextmanager
def workers(processes: int = 1, cluster: str = "") -> Iterator[Executor | None]:
    """Where to work: in this process (None), in several, or on the Dask cluster whose scheduler has this address.

    Raises InputError when the cluster's library is missing, its scheduler does not answer, nobody works for it, or
    it is of another version than this program.
    """
    if cluster:
        with _cluster(cluster) as executor:
            yield executor
    elif processes > 1:
        with Processes(processes) as executor:
            yield executor
    else:
        yield None


@contextmanager
def _cluster(address: str) -> Iterator[Executor]:
    try:
        from distributed import Client
    except ImportError as error:
        remedy = "Install it with: pip install 'skepway[cluster]'"
        raise InputError(
            [Fault("cluster", address, "the library for clusters is missing", remedy)]
        ) from error
    try:
        client = Client(address, timeout="5s")
    except (OSError, ValueError) as error:
        remedy = "Start a scheduler and give its address, such as tcp://host:8786"
        raise InputError([Fault("cluster", address, "no scheduler answers there", remedy)]) from error
    with client:
        faults = list(_cluster_faults(client, address))
        if faults:
            raise InputError(faults)
        yield client.get_executor(pure=False)


def here() -> dict[str, str]:
    """What has to be the same wherever the pieces of one answer are worked out."""
    return {"Skepway": __version__, "Python": ".".join(platform.python_version_tuple()[:2])}


def _cluster_faults(client: Any, address: str) -> Iterator[Fault]:
    """A cluster without workers, without this program, or of another version."""
    if not client.ncores():
        yield Fault(
            "cluster",
            address,
            "nobody works for this scheduler",
            say("services.start_workers_dask_worker", address=f"{address}"),
        )
        return
    try:
        found = client.run(here)
    except Exception as error:  # whatever a foreign worker makes of our question
        problem = say("services.its_workers_cannot_run", name=f"{type(error).__name__}")
        yield Fault(
            "cluster",
            address,
            problem,
            say("services.install_skepway_cluster_where", version=f"{__version__}"),
        )
        return
    mine = here()
    for name in ("Skepway", "Python"):
        others = sorted({each[name] for each in found.values() if each[name] != mine[name]})
        if others:
            problem = say(
                "services.its_workers_have_this",
                name=f"{name}",
                others=", ".join(others),
                mine=f"{mine[name]}",
            )
            yield Fault("cluster", address, problem, "Use one version everywhere")
