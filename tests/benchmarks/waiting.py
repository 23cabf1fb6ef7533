"""What people wait for: the command line, the one answer, boards, curves, a season's week, minutes one may stand."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from planner.app.answer.ask import ask, opened, slots_of
from planner.app.plan.inputs import Ready, ready
from planner.app.plan.plan import curves, plan_trip
from planner.app.plan.results import Choice
from planner.app.season.chart import Lane, season
from planner.app.standing.reserve import reserve
from planner.bundled import resource_path
from planner.model.kernel.library import SWITCH
from planner.model.preparations import AS_DECLARED
from planner.model.records import Road, Trip, Weather
from planner.store.tripfile import load_trip
from tests.app.years import season_weather
from tests.benchmarks.batch import PLACES
from tests.benchmarks.timing import Ratio, Times, once, row, said, timed
from tests.model.scenarios import DAY_S, HIVE, NUC, SUMMER, at, catalogue, replace, road, trip, weather

WHOLE_PLAN = 4.0
FIRST_ANSWER, FINAL_ANSWER = 2.0, 4.0
"""How many times faster than by the numpy march: a quarter of the first answer is marching, of the final one half."""

FIRST_MS, FINAL_MS = 1000, 3000
THREADS = 2
COMPILED = str(Path(tempfile.gettempdir()) / "skepway-benchmarks")
LONG_VEHICLE = ("flatbed_inner", "flatbed_inner_top")
"""Places that hold 400 nucs together."""

STARTS = (
    ("planner.cli.main", "the command line"),
    ("planner.cli.plan", "the command plan"),
    ("planner.cli.sure", "the command sure"),
    ("planner.cli.lane", "the command lane"),
    ("planner.cli.fit", "the command fit"),
)


def people() -> None:
    """Plans, curves and boards."""
    print("\nwhat people wait for")
    imports()
    answers()
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
    coarse = trip(apiary, LONG_VEHICLE, leave_s=SUMMER + DAY_S, last_s=SUMMER + 1.99 * DAY_S, step_s=7200.0)
    taken = timed(lambda: plan_trip(coarse, road(8.0, waypoints=41, vertices=401), sky, catalogue()), 1)
    row("40 stops, 400 boxes, board every two hours", taken, "target 1000 ms")
    standing()


def imports() -> None:
    """What the command line costs before any work, beside a bare interpreter: each in a process of its own."""
    bare = min(_spent([sys.executable, "-c", ""])[0] for _ in range(3))
    for module, what in STARTS:
        found = min(_spent([sys.executable, "-c", f"import {module}"])[0] for _ in range(3))
        row(f"import of {what}, beyond bare Python", Times(found - bare, found - bare), "target 250 ms")


def answers() -> None:
    """The one answer of every demo on two threads, and of a long round: from the request to 8 samples, to the end."""
    for path in sorted(resource_path("demo").glob("*.toml")):
        found = demo(path.stem)
        row(
            f"{path.stem}: first answer, 8 samples",
            first_answer(found.trip, found.road, found.weather),
            "target 1000 ms",
        )
        row(f"{path.stem}: final answer", final_answer(found), "target 3000 ms")
    day = trip(NUC, PLACES, leave_s=SUMMER + DAY_S, last_s=SUMMER + DAY_S + 44 * 1800.0, step_s=1800.0)
    taken = first_answer(day, road(4.0), weather(16.0, 33.0, SUMMER))
    row("one group, 45 departures x 8 places, first answer", taken, "target 1000 ms")
    long_round()


def long_round() -> None:
    """Forty groups on a round of forty stops: the first answer."""
    apiary = [replace(NUC, label=f"group {i}", count=10, frames_of_bees=3.0 + 0.05 * i) for i in range(40)]
    long = trip(apiary, LONG_VEHICLE, leave_s=SUMMER + DAY_S, last_s=SUMMER + 1.99 * DAY_S, step_s=7200.0)
    way, sky = road(8.0, waypoints=41, vertices=401), weather(16.0, 33.0, SUMMER)
    row("40 stops, 400 boxes, first answer every two hours", first_answer(long, way, sky), "target 3000 ms")


def first_answer(asked: Trip, way: Road, sky: Weather) -> Times:
    """Every candidate in 8 samples, and the answer so far."""

    def work() -> None:
        with ThreadPoolExecutor(THREADS) as pool:
            laid = opened(asked, way, sky, catalogue(), executor=pool)
            laid.race.enter(slots_of(laid.race.field))
            laid.answer(finished=False)

    return Times(*once(work))


def final_answer(found: Ready) -> Times:
    """To the end."""

    def work() -> None:
        with ThreadPoolExecutor(THREADS) as pool:
            ask(found.trip, found.road, found.weather, catalogue(), executor=pool).answer(finished=True)

    return Times(*once(work))


def standing() -> None:
    """Minutes one may stand (`standstill.walk`), and a week of a season."""
    found = demo("nuc-pickup")
    plan = plan_trip(found.trip, found.road, found.weather, catalogue())
    row("minutes one may stand, pickup", timed(lambda: reserve(plan, plan.ranking[0], catalogue()), 1))
    lane, week = Lane(found.trip, found.road, "cabin_windows_open"), season_weather(at(2027, 6, 1), 8)
    row("season, one week of hourly departures", timed(lambda: season(lane, week, catalogue()), 1))


def demo(name: str) -> Ready:
    """A bundled trip with road and weather."""
    return ready(load_trip(resource_path("demo", f"{name}.toml"), catalogue()))


def whole_command(name: str) -> Ratio:
    """``skepway plan`` of a demo, each march in a process of its own: clock, processor and memory."""
    used = {}
    for march in ("numpy", "compiled"):
        with tempfile.TemporaryDirectory() as home:
            begun = time.perf_counter()
            used[march], told = _spent(
                [sys.executable, "-c", AND_HELD, "plan", str(resource_path("demo", f"{name}.toml"))],
                {SWITCH: march, "SKEPWAY_HOME": home},
            )
            taken = time.perf_counter() - begun
        print(
            f"  plan {name}, {march:<8} {taken:6.1f} s on the clock, {used[march]:6.1f} s of the processor,"
            f" {float(told.split()[-1]):4.0f} MB at most",
            flush=True,
        )
    return Ratio(f"whole plan of {name}", used["numpy"] / used["compiled"], WHOLE_PLAN)


def from_request(name: str, runs: int = 2) -> list[Ratio]:
    """From the window's request to every candidate in 8 samples, and to the decision: each march in its own process."""
    used: dict[str, list[Times]] = {}
    for march in ("numpy", "compiled"):
        done = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.request", name, str(runs if march == "compiled" else 1)],
            env=os.environ | {SWITCH: march},
            capture_output=True,
            text=True,
            check=True,
        )
        used[march] = [Times(*pair) for pair in json.loads(done.stdout)]
    ratios = []
    for nth, (what, most_ms, target) in enumerate(
        (("first answer", FIRST_MS, FIRST_ANSWER), ("decision", FINAL_MS, FINAL_ANSWER))
    ):
        slow, fast = used["numpy"][nth], used["compiled"][nth]
        ratio = Ratio(f"{name}: from the request to the {what}", slow.processor / fast.processor, target)
        row(ratio.what, fast, f"target {most_ms} ms; {said(ratio)}")
        ratios.append(ratio)
    return ratios


AND_HELD = """
import sys
from planner.__main__ import main
main()
from tests.peak import held_mb
print(held_mb(), file=sys.stderr)
"""
"""A command, and what it held at most by its own word: the system's figure would be that of whoever began it."""


def _spent(command: list[str], given: dict[str, str] | None = None) -> tuple[float, str]:
    """Processor seconds of a process, and what it says on its error stream."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    kept = {
        "PYTHONDONTWRITEBYTECODE": "",
        "PYTHONPYCACHEPREFIX": COMPILED,
    }  # as installed: compiled once, then read
    environment = os.environ | kept | (given or {})
    done = subprocess.run(
        command, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=False
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return spent, done.stderr
