"""The table of times: ``python -m tests.benchmarks``.

``--check`` ends with 1 where a ratio falls short and with 2 where the cores are too busy for a judgement.

Rows to be compared are timed in turn in the same minutes. On a shared machine the clock says little: ratios are taken
between the best processor times, and both sides do the same physics, so that a new term moves both. Only what two
threads do together goes by the clock. ``--whole`` adds the whole command on a demo, by either march: minutes.
"""

from __future__ import annotations

import argparse
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import NamedTuple

import numpy as np

from planner.app.plan.inputs import ready
from planner.app.plan.plan import curves, plan_trip
from planner.app.plan.results import Choice
from planner.bundled import resource_path
from planner.model.cases import Batch, simulate
from planner.model.kernel.library import SWITCH, Library, in_use, library
from planner.model.limits import Assessment
from planner.model.march import judged
from planner.model.preparations import AS_DECLARED
from planner.model.records import Floats
from planner.store.tripfile import load_trip
from tests.benchmarks.batch import (
    CHUNK_CASES,
    HOURS,
    PLACES,
    Departures,
    batch_of,
    judged_by_numpy,
    solve,
    solve_by_numpy,
)
from tests.model.scenarios import DAY_S, HIVE, NUC, SUMMER, catalogue, replace, road, trip, weather

RUNS = 3
SAMPLED = range(5, CHUNK_CASES, 411)
LSODA_RTOL = 1e-4
MANY = 100_000

ONE_THREAD, TWO_THREADS, AGAINST_LSODA, WHOLE_PLAN = 6.0, 9.0, 4000.0, 4.0
"""How many times faster than what stands beside it each must be."""

SHORT = 0.9
"""A ratio counts as reached from this share of its target on."""

BUSY = 1.3
"""Clock over processor time of a plain loop from which on the cores are too busy for a judgement."""


class Ratio(NamedTuple):
    """How many times faster, and how many times it should be."""

    what: str
    found: float
    target: float


class Times(NamedTuple):
    """Seconds: best on the clock, best of the processor (this process, all threads)."""

    clock: float
    processor: float


def main() -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument(
        "--check", action="store_true", help="judge the ratios: exit code 1 where one falls short"
    )
    parser.add_argument(
        "--whole", action="store_true", help="the whole command on the demos too, by either march"
    )
    asked = parser.parse_args()
    busy = busyness()
    print(
        f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; {in_use()} Best on the clock, best of the processor."
    )
    if asked.check and busy > BUSY:
        print(
            f"The cores are busy: a plain loop takes {busy:.1f} times its processor time. Nothing is judged."
        )
        return 2
    ratios = marches()
    people()
    if asked.whole:
        ratios.append(whole_command("swarm-run"))
    if not asked.check:
        many()
    short = [ratio for ratio in ratios if ratio.found < SHORT * ratio.target]
    for ratio in short:
        print(f"Falls short: {ratio.what}: {ratio.found:.1f} times, target {ratio.target:g}.")
    return 1 if asked.check and short else 0


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


# -- the march -----------------------------------------------------------------------------------


def marches() -> list[Ratio]:
    """Both marches, one and two threads; one case at a time by scipy; a batch laid out, marched and judged."""
    print(f"\n{CHUNK_CASES} cases x {HOURS:.0f} h by the minute, every term of the model")
    batch = batch_of(CHUNK_CASES)
    laid = batch.layout()
    halves = [batch.layout(half) for half in (slice(0, None, 2), slice(1, None, 2))]
    numpy_, histories, ours, two, all_of_it = interleaved(
        lambda: judged_by_numpy(laid),
        lambda: solve(laid),
        lambda: assess_all(laid),
        lambda: on_two_threads(halves),
        lambda: assess_all(batch.layout()),
    )
    row("numpy march and judging", numpy_)
    row("the march in use, histories kept", histories)
    one_thread = Ratio("march and judging, one thread", numpy_.processor / ours.processor, ONE_THREAD)
    two_threads = Ratio("march and judging, two threads", numpy_.clock / two.clock, TWO_THREADS)
    row("the march in use, judged inside, one thread", ours, said(one_thread))
    row("the same on two threads", two, said(two_threads))
    row("laid out, marched, judged, one thread", all_of_it, "target 40 ms")
    apart_k = np.max(np.abs(np.nan_to_num(solve(laid).core_c - solve_by_numpy(laid).core_c)))
    print(f"  {'both marches apart':<58} {apart_k:9.1e} K")
    against = one_case_at_a_time(laid, ours)
    return [one_thread, two_threads, against] if isinstance(library(), Library) else []


def said(ratio: Ratio) -> str:
    return f"{ratio.found:.1f} times as fast; target {ratio.target:g}"


def assess_all(laid: Batch) -> Assessment:
    """A batch judged as a plan does it."""
    return judged(laid.cases, laid.vehicle, laid.local_air, laid.parameters)


def on_two_threads(halves: list[Batch]) -> None:
    """The halves of a batch at the same time."""
    with ThreadPoolExecutor(len(halves)) as pool:
        list(pool.map(assess_all, halves))


def one_case_at_a_time(laid: Batch, ours: Times) -> Ratio:
    """scipy's LSODA on the model's own rates, some cases timed and scaled to all."""
    from tests.benchmarks import one_by_one

    cases = [one_by_one.Case(laid, number) for number in SAMPLED]
    each = timed(lambda: [case.core_c(one_by_one.model_slope, LSODA_RTOL) for case in cases], 1)
    scaled = Times(*(seconds / len(cases) * CHUNK_CASES for seconds in each))
    ratio = Ratio("against LSODA case by case", scaled.processor / ours.processor, AGAINST_LSODA)
    row(f"LSODA case by case ({len(cases)} timed, scaled)", scaled, said(ratio))
    return ratio


def judged_peaks(batch: Departures) -> list[Floats]:
    """Peak core temperatures, chunk by chunk."""
    return [simulate(batch.layout(chunk)).assessed().peak_core_c for chunk in batch.chunks()]


def many() -> None:
    """A very large batch in a process of its own, for its memory."""
    done = subprocess.run(
        [sys.executable, "-m", "tests.benchmarks.many", str(MANY)], capture_output=True, text=True, check=True
    )
    print(f"\n{done.stdout.strip()}; target 2 GiB")


# -- what people wait for ------------------------------------------------------------------------


def people() -> None:
    """Plans, curves and boards."""
    print("\nwhat people wait for")
    for path in sorted(resource_path("demo").glob("*.toml")):
        found = ready(load_trip(path, catalogue()))
        plan = plan_trip(found.trip, found.road, found.weather, catalogue())
        taken = timed(lambda f=found: plan_trip(f.trip, f.road, f.weather, catalogue()), 1)
        row(f"board of {path.stem}, {plan.outcomes.peak_core_c.size} cases", taken)
    way, sky = road(9.0), weather(16.0, 33.0, SUMMER)
    for groups, target in (((NUC,), 16), ((NUC, HIVE), 25)):
        planned = trip(groups, PLACES, leave_s=SUMMER + DAY_S)
        plan = plan_trip(planned, way, sky, catalogue(), setups=[AS_DECLARED])
        taken = timed(lambda p=plan: curves(p, Choice(0, 0, 0), catalogue()))
        row(f"curves of a 10 h trip, {len(groups)} group(s)", taken, f"target {target} ms")
    day = trip(NUC, PLACES, leave_s=SUMMER + DAY_S, last_s=SUMMER + 1.99 * DAY_S, step_s=900.0)
    taken = timed(lambda: plan_trip(day, road(4.0), sky, catalogue(), setups=[AS_DECLARED]), 1)
    row("board: 96 departures x 8 places x 3 agitations, 5 h", taken, "target 1000 ms")
    apiary = [replace(NUC, label=f"group {i}", count=10, frames_of_bees=3.0 + 0.05 * i) for i in range(40)]
    coarse = trip(apiary, PLACES[:2], leave_s=SUMMER + DAY_S, last_s=SUMMER + 1.99 * DAY_S, step_s=7200.0)
    taken = timed(lambda: plan_trip(coarse, road(8.0, waypoints=41, vertices=401), sky, catalogue()), 1)
    row("40 stops, 400 boxes, board every two hours", taken, "target 1000 ms")


def whole_command(demo: str) -> Ratio:
    """``skepway plan`` of a demo, each march in a process of its own: processor time and memory."""
    used = {}
    for march in ("numpy", "compiled"):
        with tempfile.TemporaryDirectory() as home:
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(
                [sys.executable, "-m", "planner", "plan", str(resource_path("demo", f"{demo}.toml"))],
                env={**os.environ, SWITCH: march, "SKEPWAY_HOME": home},
                stdout=subprocess.DEVNULL,
                check=False,
            )
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
        used[march] = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
        print(f"  plan {demo}, whole command, {march:<28} {used[march]:9.1f} s of the processor", flush=True)
    print(f"  {'memory at most':<58} {after.ru_maxrss / 1024:9.0f} MB")
    return Ratio("whole plan", used["numpy"] / used["compiled"], WHOLE_PLAN)


if __name__ == "__main__":
    sys.exit(main())
