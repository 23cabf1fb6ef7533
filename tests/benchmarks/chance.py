"""Times of the answers about chance: ``python -m tests.benchmarks.chance``.

A standard trip: 48 departures x 8 places x 3 set-ups, two groups, draws as asked; first answer, last answer,
threads against processes, cost over the number of draws, the search for what helps, the shares of the doubt.
"""

from __future__ import annotations

import multiprocessing
import os
import time
from collections.abc import Callable
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor

import numpy as np

from planner.app.advice.helps import helps
from planner.app.advice.water import water_plan
from planner.app.chance.race import Chances, chances
from planner.app.chance.sensitivity import sensitivity
from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Plan
from planner.model.preparations import AS_DECLARED, MISTED, ROOF_SCREEN
from tests.benchmarks.batch import PLACES
from tests.model.scenarios import DAY_S, HOUR_S, NUC, SUMMER, catalogue, replace, road, trip, weather

DEPARTURES = 48
SETUPS = (AS_DECLARED, ROOF_SCREEN, MISTED)
SAMPLES = 256
WORKERS = 2
FIRST_S, LAST_S = 1.0, 20.0


def main() -> None:
    """Print the table."""
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; one run each")
    found = standard()
    candidates = len(found.ranking)
    print(f"\n{candidates} candidates x 2 groups, {SAMPLES} draws for those in front")
    for name, pool in (
        ("here, one thread", lambda: None),
        (f"{WORKERS} threads", lambda: ThreadPoolExecutor(WORKERS)),
        (f"{WORKERS} processes, started before", _processes),
    ):
        known = sampled(found, name, pool)
    print("\ncost over draws, everybody drawn (no race), one tenth of the departures, one thread")
    few = standard(DEPARTURES // 10)
    for samples in (32, 64, 128):
        begun = time.perf_counter()
        *_, _last = chances(few, catalogue(), np.random.default_rng(1), samples=samples, screen=False)
        taken = time.perf_counter() - begun
        line(f"{samples} draws", taken, f"{taken / samples * 1e3:.1f} ms a draw")
    print("\none candidate")
    leader = known.ranking[0]
    for what, work in (
        ("what helps most, 64 draws", lambda: helps(found, leader, catalogue(), np.random.default_rng(1))),
        ("water plan, 64 draws", lambda: water_plan(found, leader, catalogue(), np.random.default_rng(1))),
        (
            "shares of the doubt, 256 draws",
            lambda: sensitivity(found, leader, catalogue(), np.random.default_rng(1)),
        ),
    ):
        begun = time.perf_counter()
        work()
        line(what, time.perf_counter() - begun)


def standard(departures: int = DEPARTURES) -> Plan:
    """Departures over a summer day, eight places, two groups of nucs, three and a half hours."""
    groups = (replace(NUC, count=2), replace(NUC, label="weak", count=2, frames_of_bees=3.0))
    leave_s = SUMMER + DAY_S
    last_s = leave_s + (departures - 1) * HOUR_S / 2.0
    standard_trip = trip(groups, PLACES, leave_s=leave_s, last_s=last_s, step_s=HOUR_S / 2.0)
    return plan_trip(standard_trip, road(3.5), weather(14, 26, SUMMER), catalogue(), setups=SETUPS)


def sampled(found: Plan, name: str, pool: Callable[[], Executor | None]) -> Chances:
    executor = pool()
    begun, worked = time.perf_counter(), time.process_time()
    answers = chances(found, catalogue(), np.random.default_rng(1), samples=SAMPLES, executor=executor)
    known = next(answers)
    first_s = time.perf_counter() - begun
    *_, known = known, *answers
    taken, worked = time.perf_counter() - begun, time.process_time() - worked
    if executor:
        executor.shutdown()
    scenarios = int((known.level[..., 0] >= 0).sum())
    line(f"first answer, {name}", first_s, f"target {FIRST_S:.0f} s")
    line(
        f"last answer, {name}",
        taken,
        f"target {LAST_S:.0f} s; {scenarios} worlds; {worked:.1f} s of this process",
    )
    return known


def line(what: str, seconds: float, remark: str = "") -> None:
    print(f"  {what:<58} {seconds * 1e3:9.1f} ms  {remark}")


def _processes() -> ProcessPoolExecutor:
    pool = ProcessPoolExecutor(WORKERS, mp_context=multiprocessing.get_context("spawn"))
    list(pool.map(abs, range(WORKERS)))
    return pool


if __name__ == "__main__":
    main()
