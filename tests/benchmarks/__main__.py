"""The table of times: ``python -m tests.benchmarks``; needs the extras ``test`` and ``bench``.

Rows to be compared are timed in turn in the same minutes. On a shared machine the clock says little: ratios are
taken between the best processor times.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from planner.app.plan.inputs import ready
from planner.app.plan.plan import curves, plan_trip
from planner.app.plan.results import Choice
from planner.bundled import resource_path
from planner.model.cases import Batch, SimulatedBatch
from planner.model.integrate import Histories
from planner.model.preparations import AS_DECLARED
from planner.model.records import Floats
from planner.store.tripfile import load_trip
from tests.benchmarks.batch import CHUNK_CASES, HOURS, PER_DEPARTURE, PLACES, Departures, batch_of, solve
from tests.model.scenarios import DAY_S, HIVE, NUC, SUMMER, catalogue, road, trip, weather

RUNS = 5
SAMPLED = range(5, CHUNK_CASES, 311)
LSODA_RTOL = 1e-4
MANY = 100_000
AGREE_K = 0.01


def main() -> int:
    """Print the table; 1 when the compiled loop and the integration disagree."""
    print(
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; median and best on the clock, best of the processor"
    )
    agree = solvers()
    linear()
    many()
    faces()
    return 0 if agree else 1


class Times(NamedTuple):
    """Seconds: median and best on the clock, and best of the processor (this process, all threads)."""

    median: float
    best: float
    processor: float


def timed(work: Callable[[], object], runs: int = RUNS) -> Times:
    """A piece of work, several times over."""
    return interleaved(work, runs=runs)[0]


def interleaved(*works: Callable[[], object], runs: int = RUNS) -> list[Times]:
    """Each work timed in turn, over and over, so that a busy minute hits all alike."""
    taken = np.array([[once(work) for work in works] for _ in range(runs)])
    return [Times(float(np.median(clock)), clock.min(), cpu.min()) for clock, cpu in taken.transpose(1, 2, 0)]


def once(work: Callable[[], object]) -> tuple[float, float]:
    """Clock and processor time of one run, s."""
    clock, processor = time.perf_counter(), time.process_time()
    work()
    return time.perf_counter() - clock, time.process_time() - processor


def row(what: str, times: Times, remark: str = "") -> None:
    clock, best, processor = (seconds * 1e3 for seconds in times)
    print(f"  {what:<56} {clock:9.1f} {best:9.1f} {processor:9.1f} ms  {remark}")


def solvers() -> bool:
    """The batch solver against one case at a time and against a compiled loop."""
    from tests.benchmarks import compiled, one_by_one

    print(f"\n{CHUNK_CASES} cases x {HOURS:.0f} h by the minute, every term of the model")
    batch = batch_of(CHUNK_CASES)
    laid = batch.layout()
    halves = [batch.layout(half) for half in (slice(0, None, 2), slice(1, None, 2))]
    forces, box = compiled.forces_of(laid), compiled.columns_of(laid.cases, laid.parameters)
    walked, seen = compiled.walk(laid, forces, box), solve(laid)
    apart_k = float(np.max(np.abs(walked.core_c - seen.core_c)))

    ours, bound, two = interleaved(
        lambda: solve(laid), lambda: compiled.walk(laid, forces, box), lambda: on_two_threads(halves)
    )
    row("the march, one thread", ours)
    row("the march, two threads", two, f"{ours.best / two.best:.2f} x one thread; target 250 ms")
    row(
        "compiled loop, forces ready made",
        bound,
        f"march / this = {ours.processor / bound.processor:.2f}; target 2.5",
    )
    print(f"  {'compiled loop and march apart':<56} {apart_k:9.1e} K, at most {AGREE_K} K")
    one_by_one.Case(laid, 0).core_c(one_by_one.compiled_slope, LSODA_RTOL)
    for slope, name in (
        (one_by_one.compiled_slope, "compiled slopes"),
        (one_by_one.model_slope, "model's rates"),
    ):
        cases = [one_by_one.Case(laid, number) for number in SAMPLED]
        each = timed(lambda cases=cases, slope=slope: [c.core_c(slope, LSODA_RTOL) for c in cases], 3)
        scaled = Times(*(seconds / len(cases) * CHUNK_CASES for seconds in each))
        share = scaled.processor / ours.processor
        remark = f"this / march = {share:.0f}; target 200 ({len(cases)} cases timed, scaled)"
        row(f"LSODA case by case, {name}", scaled, remark)
    accuracy(laid, seen)
    return apart_k <= AGREE_K


def on_two_threads(halves: list[Batch]) -> None:
    """The halves of a batch at the same time."""
    with ThreadPoolExecutor(len(halves)) as pool:
        list(pool.map(solve, halves))


def accuracy(laid: Batch, seen: Histories) -> None:
    """How far the integration and LSODA at the tolerance timed are from LSODA at a tight one."""
    from tests.benchmarks import one_by_one

    off = []
    for number in SAMPLED:
        case = one_by_one.Case(laid, number)
        tight = case.core_c(one_by_one.compiled_slope, 1e-9)
        loose = case.core_c(one_by_one.compiled_slope, LSODA_RTOL)
        off.append((np.max(np.abs(seen.core_c[:, number] - tight)), np.max(np.abs(loose - tight))))
    march_k, lsoda_k = np.max(off, axis=0)
    print(
        f"  {'farthest from LSODA at 1e-9':<56} march {march_k:.3f} K, LSODA at {LSODA_RTOL:g} {lsoda_k:.3f} K"
    )


def linear() -> None:
    """Cost per case over the number of cases, in chunks as a plan takes them."""
    print(f"\ncost per case, in chunks of {CHUNK_CASES}, laid out, marched and judged")
    for cases in (1000, 2000, 4000, 8000):
        batch = batch_of(cases)
        taken = timed(lambda batch=batch: judged(batch), 3)
        count = batch.timeline.departure_s.size * PER_DEPARTURE
        row(f"{count} cases", taken, f"{taken.processor / count * 1e6:.0f} us a case")


def judged(batch: Departures) -> list[Floats]:
    """Peak core temperatures, chunk by chunk."""
    peaks = []
    for chunk in batch.chunks():
        laid = batch.layout(chunk)
        peaks.append(SimulatedBatch(**vars(laid), ).assessed().peak_core_c)
    return peaks


def many() -> None:
    """A very large batch in a process of its own, for its memory."""
    command = [sys.executable, "-m", "tests.benchmarks", "many"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    print(f"\n{done.stdout.strip()}; target 2 GiB")


def many_here() -> None:
    """What ``many`` runs in its own process."""
    clock, processor = once(lambda: judged(batch_of(MANY)))
    peak_gib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print(
        f"{MANY} cases x {HOURS:.0f} h: {clock:.1f} s ({processor:.1f} s processor), {peak_gib:.2f} GiB at most"
    )


def faces() -> None:
    """What people wait for."""
    print("\nwhat people wait for")
    for path in sorted(resource_path("demo").glob("*.toml")):
        found = ready(load_trip(path, catalogue()))
        plan = plan_trip(found.trip, found.road, found.weather, catalogue())
        taken = timed(lambda f=found: plan_trip(f.trip, f.road, f.weather, catalogue()), 3)
        row(f"plan {path.stem}, {plan.outcomes.peak_core_c.size} cases", taken)
        row("  curves of its best candidate", timed(lambda p=plan: curves(p, p.ranking[0], catalogue())))
    way, sky = road(9.0), weather(16.0, 33.0, SUMMER)
    for groups in ((NUC,), (NUC, HIVE)):
        planned = trip(groups, PLACES, leave_s=SUMMER + DAY_S)
        plan = plan_trip(planned, way, sky, catalogue(), setups=[AS_DECLARED])
        taken = timed(lambda p=plan: curves(p, Choice(0, 0, 0), catalogue()))
        row(f"curves of a 10 h trip, {len(groups)} group(s)", taken, "target 60 ms")
    day = trip(NUC, PLACES, leave_s=SUMMER + DAY_S, last_s=SUMMER + 1.99 * DAY_S, step_s=900.0)
    short = road(4.0)
    taken = timed(lambda: plan_trip(day, short, sky, catalogue(), setups=[AS_DECLARED]), 3)
    row("board: 96 departures x 8 places x 3 agitations, 5 h", taken, "target 1000 ms")


if __name__ == "__main__":
    sys.exit(many_here() if sys.argv[1:] == ["many"] else main())
