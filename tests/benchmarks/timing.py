"""Taking times: best on the clock and best of the processor, rows of a table, ratios."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

RUNS = 3


class Ratio(NamedTuple):
    """How many times faster, and how many times it should be."""

    what: str
    found: float
    target: float


class Times(NamedTuple):
    """Seconds: best on the clock, best of the processor (this process, all threads)."""

    clock: float
    processor: float


def busyness() -> float:
    """Clock over processor time of a loop that needs nothing but a core."""
    clock, processor = once(lambda: sum(i * i for i in range(3_000_000)))
    return clock / processor


def timed(work: Callable[[], object], runs: int = RUNS) -> Times:
    """A piece of work, several times over."""
    return interleaved(work, runs=runs)[0]


def interleaved(*works: Callable[[], object], runs: int = RUNS) -> list[Times]:
    """Each work timed in turn, over and over, so that a busy minute hits all alike."""
    taken = np.array([[once(work) for work in works] for _ in range(runs)])
    return [Times(*best) for best in taken.min(axis=0)]


def once(work: Callable[[], object]) -> tuple[float, float]:
    """Clock and processor time of one run, s."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - clock, time.process_time() - processor


def row(what: str, times: Times, remark: str = "") -> None:
    clock, processor = (seconds * 1e3 for seconds in times)
    print(f"  {what:<58} {clock:9.1f} {processor:9.1f} ms  {remark}", flush=True)


def said(ratio: Ratio) -> str:
    return f"{ratio.found:.1f} times as fast; target {ratio.target:g}"
