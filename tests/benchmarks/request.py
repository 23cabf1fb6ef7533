"""From a request to the first look and to the end, as the window asks: ``python -m tests.benchmarks.request DEMO``.

Prints the best clock and processor seconds to the first answer (every candidate in 8 samples, in words) and to the
final one, as JSON. The march is chosen when a process begins, so that both are timed in processes of their own.
"""

from __future__ import annotations

import json
import sys
import time

import numpy as np

from planner.app.answer.ask import ask
from planner.app.answer.records import Answer
from planner.app.answer.words import worded
from planner.app.common.executors import at_hand
from planner.app.plan.inputs import ready
from planner.bundled import resource_path
from planner.store.tripfile import load_trip
from tests.model.scenarios import catalogue


def asked_once(name: str) -> np.ndarray:
    """Clock and processor seconds to the first answer and to the final one, (answer, clock or processor)."""
    told = [_now()]

    def tell(answer: Answer) -> None:
        worded(answer, catalogue())
        told.append(_now())

    found = ready(load_trip(resource_path("demo", f"{name}.toml"), catalogue()))
    with at_hand() as hands:
        asked = ask(found.trip, found.road, found.weather, catalogue(), executor=hands, on_answer=tell)
        worded(asked.answer(finished=True), catalogue())
    told.append(_now())
    begun, first, *_, last = told
    return np.array([first, last]) - np.array(begun)


def _now() -> tuple[float, float]:
    return time.perf_counter(), time.process_time()


if __name__ == "__main__":
    _, demo, runs = sys.argv
    catalogue()
    print(json.dumps(np.min([asked_once(demo) for _ in range(int(runs))], axis=0).tolist()))
