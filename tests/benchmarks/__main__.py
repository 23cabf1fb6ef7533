"""The table of times: ``python -m tests.benchmarks``.

``--check`` ends with 1 where a ratio falls short and with 2 where the cores are too busy for a judgement.

Rows to be compared are timed in turn in the same minutes. On a shared machine the clock says little: ratios are taken
between the best processor times, and both sides do the same physics, so that a new term moves both. Only what two
threads do together goes by the clock. ``--check`` judges the whole command
and the way from the window's request on the shortest demo too, ``--whole`` adds both on all of them, by either march:
minutes.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from planner.bundled import resource_path
from planner.model.cases import Batch, simulate
from planner.model.kernel.library import Library, in_use, library
from planner.model.limits import Assessment
from planner.model.march import judged
from planner.model.records import Floats
from tests.benchmarks.batch import (
    CHUNK_CASES,
    HOURS,
    Departures,
    batch_of,
    judged_by_numpy,
    solve,
    solve_by_numpy,
)
from tests.benchmarks.timing import Ratio, Times, busyness, interleaved, row, said, timed
from tests.benchmarks.waiting import from_request, people, whole_command

SAMPLED = range(5, CHUNK_CASES, 411)
LSODA_RTOL = 1e-4
MANY = 100_000

ONE_THREAD, TWO_THREADS, AGAINST_LSODA = 6.0, 9.0, 4000.0
"""How many times faster than what stands beside it each must be."""

WHOLE = ("swarm-run",)
"""Demos whose whole command ``--check`` judges."""

SHORT = 0.9
"""A ratio counts as reached from this share of its target on."""

BUSY = 1.3
"""Clock over processor time of a plain loop from which on the cores are too busy for a judgement."""


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
    demos = sorted(path.stem for path in resource_path("demo").glob("*.toml"))
    if asked.whole or (asked.check and ratios):
        judged_on = demos if asked.whole else WHOLE
        ratios += [ratio for name in judged_on for ratio in (whole_command(name), *from_request(name))]
    if not asked.check:
        many()
    short = [ratio for ratio in ratios if ratio.found < SHORT * ratio.target]
    for ratio in short:
        print(f"Falls short: {ratio.what}: {ratio.found:.1f} times, target {ratio.target:g}.")
    return 1 if asked.check and short else 0


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


if __name__ == "__main__":
    sys.exit(main())
