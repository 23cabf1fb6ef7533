"""Work handed out: how much at once, what comes back in which order, what is taken back when it stops."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from typing import Any

import pytest

from planner.app.common.executors import AHEAD, map_unordered, workers
from planner.errors import Cancelled


class ByHand(Executor):
    """An executor that finishes a piece when told to: ``ready`` at once on submission, or never."""

    def __init__(self, ready: Callable[[int], bool] = lambda job: True) -> None:
        self.ready, self.handed = ready, dict[int, Future[Any]]()
        self.most = 0

    def submit(self, work: Callable[..., Any], job: int, /) -> Future[Any]:  # type: ignore[override]
        future: Future[Any] = Future()
        self.handed[job] = future
        if self.ready(job):
            future.set_result(work(job))
        self.most = max(self.most, sum(not f.done() for f in self.handed.values()))
        return future


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
    pool.handed[0].set_result(0)
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
