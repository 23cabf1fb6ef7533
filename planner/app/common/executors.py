"""Many pieces of work handed to an executor: a few at a time, results as they come, quick to stop.

Any executor of ``concurrent.futures`` will do: threads, processes, or a Dask cluster through its own executor.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import FIRST_COMPLETED, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from itertools import islice
from typing import TypeVar

from planner.app.common.progress import Stop
from planner.errors import Cancelled, Fault, InputError

Job = TypeVar("Job")
Result = TypeVar("Result")

AHEAD = 16
"""Pieces handed out before one comes back; bounds memory and what a stop has to wait for."""

POLL_S = 0.2


def map_unordered(
    work: Callable[[Job], Result],
    jobs: Iterable[Job],
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> Iterator[tuple[Job, Result]]:
    """Each job with its result, in the order they finish; here and now without an executor.

    Raises Cancelled when ``should_stop`` says so; pieces not begun are then taken back.
    """
    if executor is None:
        for job in jobs:
            _heed(should_stop)
            yield job, work(job)
        return
    waiting: dict[Future[Result], Job] = {}
    left = iter(jobs)
    try:
        while True:
            for job in islice(left, AHEAD - len(waiting)):
                waiting[executor.submit(work, job)] = job
            if not waiting:
                return
            _heed(should_stop)
            done, _ = wait(waiting, timeout=POLL_S, return_when=FIRST_COMPLETED)
            for future in done:
                yield waiting.pop(future), future.result()
    finally:
        for future in waiting:
            future.cancel()


@contextmanager
def workers(processes: int = 1, cluster: str = "") -> Iterator[Executor | None]:
    """Where to work: in this process (None), in several, or on the Dask cluster whose scheduler has this address.

    Raises InputError when the cluster's library is missing or its scheduler does not answer.
    """
    if cluster:
        with _cluster(cluster) as executor:
            yield executor
    elif processes > 1:
        spawn = multiprocessing.get_context("spawn")
        with ProcessPoolExecutor(processes, mp_context=spawn) as executor:
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
        yield client.get_executor()


def _heed(should_stop: Stop | None) -> None:
    if should_stop and should_stop():
        raise Cancelled
