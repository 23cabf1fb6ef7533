"""Work handed out: how much at once, what comes back in which order, what is taken back when it stops."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from planner.app.common import executors
from planner.app.common.executors import AHEAD, Processes, map_unordered, map_with, places_of, workers
from planner.errors import Cancelled, InputError, ServiceError


class ByHand(Executor):
    """An executor that finishes a piece when told to: ``ready`` at once on submission, or never.

    Every piece is said to have taken ten seconds, so that none is bundled with another.
    """

    def __init__(self, ready: Callable[[int], bool] = lambda job: True) -> None:
        self.ready, self.handed = ready, dict[int, Future[Any]]()
        self.most = 0

    def submit(self, carry_out: Callable[..., Any], *given: Any) -> Future[Any]:  # type: ignore[override]
        future: Future[Any] = Future()
        (job,) = given[-1]
        self.handed[job] = future
        if self.ready(job):
            self.finish(job, carry_out(*given)[1][0])
        self.most = max(self.most, sum(not f.done() for f in self.handed.values()))
        return future

    def finish(self, job: int, result: int) -> None:
        self.handed[job].set_result((10.0, [result]))


def square(number: int) -> int:
    return number * number


def test_here_and_now_the_order_is_kept_and_nothing_done_ahead() -> None:
    begun: list[int] = []

    def work(job: int) -> int:
        begun.append(job)
        return square(job)

    found = map_unordered(work, [3, 1, 2])
    assert next(found) == (3, 9)
    assert begun == [3]
    assert list(found) == [(1, 1), (2, 4)]


def test_here_and_now_it_stops_before_the_next_piece() -> None:
    asked = iter([False, True])
    found = map_unordered(square, [1, 2, 3], should_stop=lambda: next(asked))
    assert next(found) == (1, 1)
    with pytest.raises(Cancelled):
        next(found)


def test_sixteen_pieces_are_handed_out_before_one_comes_back() -> None:
    taken: list[int] = []
    jobs = (taken.append(job) or job for job in range(40))
    pool = ByHand(ready=lambda job: job == 5)
    found = map_unordered(square, jobs, pool)
    assert next(found) == (5, 25)
    assert len(taken) == AHEAD == 16
    pool.finish(0, 0)
    assert next(found) == (0, 0)
    assert len(taken) == 17
    found.close()
    assert pool.most <= AHEAD


def test_all_pieces_come_back_once() -> None:
    with ThreadPoolExecutor(3) as pool:
        assert sorted(map_unordered(square, range(50), pool)) == [(n, n * n) for n in range(50)]
    assert list(map_unordered(square, [], ByHand())) == []


def test_a_stop_takes_the_pieces_back() -> None:
    pool = ByHand(ready=lambda job: False)
    with pytest.raises(Cancelled):
        list(map_unordered(square, range(40), pool, should_stop=lambda: True))
    assert len(pool.handed) == 16
    assert all(future.cancelled() for future in pool.handed.values())


def test_whoever_stops_listening_takes_the_pieces_back() -> None:
    pool = ByHand(ready=lambda job: job == 0)
    found = map_unordered(square, range(40), pool)
    next(found)
    found.close()
    assert [job for job, future in pool.handed.items() if not future.cancelled()] == [0]


def test_a_failing_piece_fails_the_whole_and_takes_the_rest_back() -> None:
    pool = ByHand(ready=lambda job: False)

    def broken() -> None:
        pool.handed[3].set_exception(ZeroDivisionError())

    asked = iter([broken])
    with pytest.raises(ZeroDivisionError):
        list(map_unordered(square, range(10), pool, should_stop=lambda: bool(next(asked)())))
    assert sum(future.cancelled() for future in pool.handed.values()) == 9


def test_one_process_is_this_one() -> None:
    with workers() as executor:
        assert executor is None
    with workers(processes=1) as executor:
        assert executor is None


# -- bundles, and what all pieces share ----------------------------------------------------------


class Noting(Executor):
    """Works at once and notes the bundles; ``_client`` makes it pass for a cluster of so many threads."""

    def __init__(self, threads: int = 0) -> None:
        self.bundles: list[list[int]] = []
        self.sent: list[Any] = []
        if threads:
            self._client = self
            self.threads = threads

    def submit(self, carry_out: Callable[..., Any], *given: Any) -> Future[Any]:  # type: ignore[override]
        self.bundles.append(given[-1])
        future: Future[Any] = Future()
        future.set_result(carry_out(*given))
        return future

    def ncores(self) -> dict[str, int]:
        return {"a": self.threads - 1, "b": 1}

    def scatter(self, common: Any, **_: Any) -> Any:
        self.sent.append(common)
        return common


def add(common: int, job: int) -> int:
    return common + job


def test_quick_pieces_go_in_bundles_that_leave_work_for_all() -> None:
    """Of 4,000 jobs that take no time the first go singly, the next together, the last singly again."""
    pool = Noting(threads=2)
    assert sorted(map_with(add, 5, range(4000), pool)) == [(n, n + 5) for n in range(4000)]
    sizes = [len(bundle) for bundle in pool.bundles]
    assert sizes[0] == sizes[-1] == 1
    assert 50 < max(sizes) <= executors.MOST_IN_A_BUNDLE
    assert len(sizes) < 200


def test_what_all_pieces_need_is_sent_to_a_cluster_once() -> None:
    pool = Noting(threads=3)
    assert len(list(map_with(add, 7, range(50), pool))) == 50
    assert pool.sent == [7]


def test_pieces_in_flight_follow_the_size_of_the_cluster(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two for each of its threads; asked again, ten threads more are seen."""
    monkeypatch.setattr(executors, "LOOK_S", -1.0)
    pool = ByHand(ready=lambda job: job == 2)
    pool._client = Noting(threads=3)  # type: ignore[attr-defined]
    found = map_unordered(square, range(100), pool)
    next(found)
    assert len(pool.handed) == 6 == 2 * places_of(pool)
    pool._client.threads = 13  # type: ignore[attr-defined]
    pool.finish(0, 0)
    next(found)
    assert len(pool.handed) == 1 + 2 * 13  # one came back before they were seen
    found.close()


def test_threads_and_processes_say_how_many_they_are() -> None:
    with ThreadPoolExecutor(3) as threads, Processes(2) as processes:
        assert (places_of(threads), places_of(processes)) == (3, 2)
    assert places_of(ByHand()) is None


def fatal_once(folder: str, job: int) -> int:
    """Dies the first time it is asked for job 3."""
    mark = Path(folder, "died")
    if job == 3 and not mark.exists():
        mark.touch()
        os._exit(1)
    return job * job


def fatal(folder: str, job: int) -> int:
    with Path(folder, "begun").open("a") as begun:
        begun.write(".")
    os._exit(1)


def test_a_process_that_dies_loses_nothing(tmp_path: Path) -> None:
    with workers(processes=2) as pool:
        found = sorted(map_with(fatal_once, str(tmp_path), range(12), pool))
    assert found == [(n, n * n) for n in range(12)]
    assert (tmp_path / "died").exists()


@pytest.mark.slow
def test_work_that_kills_every_process_is_given_up_in_words(tmp_path: Path) -> None:
    with (
        workers(processes=2) as pool,
        pytest.raises(ServiceError, match=r"died at work.*give the same command"),
    ):
        list(map_with(fatal, str(tmp_path), range(1), pool))
    assert len((tmp_path / "begun").read_text()) == executors.TRIES


# -- a cluster that cannot serve -----------------------------------------------------------------


class Cluster:
    """What a client says of a cluster."""

    def __init__(self, cores: int, answer: Callable[[], dict[str, dict[str, str]]]) -> None:
        self.cores, self.answer = cores, answer

    def ncores(self) -> dict[str, int]:
        return {"tcp://one": self.cores} if self.cores else {}

    def run(self, asked: Callable[[], Any]) -> dict[str, dict[str, str]]:
        assert asked is executors.here
        return self.answer()


def lacking() -> dict[str, dict[str, str]]:
    raise ModuleNotFoundError("planner")


@pytest.mark.parametrize(
    ("cluster", "problem"),
    [
        (Cluster(0, dict), "nobody works for this scheduler"),
        (Cluster(2, lacking), "its workers cannot run Skepway (ModuleNotFoundError)"),
        (
            Cluster(2, lambda: {"tcp://one": executors.here() | {"Skepway": "0.0.9"}}),
            f"its workers have Skepway 0.0.9, this machine has {executors.here()['Skepway']}",
        ),
        (
            Cluster(2, lambda: {"tcp://one": executors.here() | {"Python": "2.7"}}),
            f"its workers have Python 2.7, this machine has {executors.here()['Python']}",
        ),
    ],
)
def test_a_cluster_that_cannot_serve_is_told(cluster: Cluster, problem: str) -> None:
    (fault,) = executors._cluster_faults(cluster, "tcp://host:8786")
    assert fault.problem == problem
    assert fault.remedy


class CommClosedError(Exception):
    """What the library of clusters says, by its name, when nobody is there any more."""


class Gone(Executor):
    """A cluster that went away while it worked."""

    def submit(self, *_: Any, **__: Any) -> Future[Any]:  # type: ignore[override]
        future: Future[Any] = Future()
        future.set_exception(CommClosedError("the scheduler closed"))
        return future


def test_a_cluster_that_is_gone_is_told_and_what_to_do() -> None:
    with pytest.raises(ServiceError, match=r"What is finished is kept.*give the same command"):
        list(map_with(square_of, None, range(4), Gone()))


def square_of(_: None, number: int) -> int:
    return square(number)


def test_without_its_library_a_cluster_is_refused_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with (
        pytest.raises(InputError, match=r"library for clusters is missing.*skepway\[cluster\]"),
        workers(cluster="tcp://host:8786"),
    ):
        pass


def test_a_cluster_like_this_machine_serves() -> None:
    assert list(executors._cluster_faults(Cluster(2, lambda: {"tcp://one": executors.here()}), "")) == []
