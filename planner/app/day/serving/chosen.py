"""What was chosen, judged as it is: every box with its own make-up, the drive as said, the slot to the minute."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from planner.app.answer.decide import standing_of
from planner.app.answer.records import Span, StandingName, Tolerance
from planner.app.answer.tally import BOX_DIGITS, span_of
from planner.app.chance.race import UNIT_CELLS
from planner.app.chance.samples import STEP_S, Sample, Scenario, sampled
from planner.app.common.executors import map_unordered
from planner.app.common.progress import Stop
from planner.app.day.serving.drives import planned_drive_s
from planner.app.day.serving.judge import Asked, Judge, Ride, scenario_at
from planner.model.limits import HARM, UNKNOWN
from planner.model.preparations import AS_DECLARED as AS_IT_IS
from planner.model.records import Floats, Ints
from planner.model.timeline import Timeline
from planner.store.dayrecords import SaleBox

MOST_SAMPLES = 1024
"""What stays open by so many samples nobody can tell; only what is close to the tolerance gets that far."""


@dataclass(frozen=True)
class Choice:
    """One buyer with a slot, a closing, a set-up (numbers) and his boxes."""

    buyer: int
    slot: int
    closing: int
    setup: int
    boxes: tuple[SaleBox, ...]


@dataclass(frozen=True)
class Close:
    """A choice looked at closely; figures None where weather is missing."""

    choice: Choice
    standing: StandingName
    harm_of_100: Span | None
    boxes_harmed: Span | None
    samples: int
    leave_s: float
    arrive_s: float
    open_s: float
    closed_s: float


Unit = tuple[Scenario, Timeline, Floats, Ints, Sample]


def looked_at(
    judge: Judge,
    choices: Sequence[Choice],
    tolerance: Tolerance,
    samples: int,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> list[Close]:
    """Every choice in so many samples, those left open in as many more as it takes, at most MOST_SAMPLES."""
    laid = [_scenario(judge.asked, choice, judge.space.places) for choice in choices]
    harmed: list[list[np.ndarray]] = [[] for _ in choices]
    rows, count = list(range(len(choices))), 0
    out: list[Close | None] = [None] * len(choices)
    while rows:
        more = count or samples
        units: list[tuple[int, Unit]] = []
        for row in rows:
            scenario, timeline, night = laid[row]
            steps = float((timeline.end_s - timeline.start_s)[0]) / STEP_S
            size = max(32, int(UNIT_CELLS / (steps * timeline.groups)))
            for first in range(count, count + more, size):
                part = judge.sample.take(slice(first, min(first + size, count + more)))
                units.append((row, (scenario, timeline, night, np.zeros((1, 3), dtype=np.int64), part)))
        for (row, _), found in map_unordered(_work, units, executor, should_stop):
            harmed[row].append(found)
        count += more
        for row in rows:
            out[row] = _close(choices[row], laid[row][1], np.concatenate(harmed[row]), tolerance)
        rows = [row for row in rows if count < MOST_SAMPLES and _may_settle(out[row], tolerance)]
    return [close for close in out if close is not None]


def _may_settle(close: Close | None, tolerance: Tolerance) -> bool:
    """Whether more samples may yet show an open choice to be within the tolerance."""
    if close is None or close.standing != "open" or close.harm_of_100 is None:
        return False
    return close.harm_of_100.value <= min(tolerance.harm_of_100, tolerance.boxes_of_100)


def _scenario(asked: Asked, choice: Choice, places: tuple[str, ...]) -> tuple[Scenario, Timeline, Floats]:
    """The very boxes together in the buyer's vehicle."""
    buyer, setup = asked.day.buyers[choice.buyer], asked.setups[choice.setup]
    groups = [
        setup.change(replace(box.group, label=box.name), asked.catalogue.box_types[box.group.box_type])
        for box in choice.boxes
    ]
    drive_s = planned_drive_s(buyer, float(asked.drive_s[choice.buyer]))
    ride = Ride(drive_s, buyer.first_timer, buyer.rides, buyer.boxes)
    slot_s = asked.slot_s[[choice.slot]]
    closed_s = asked.closed_s[choice.closing, [choice.slot]]
    return scenario_at(asked, groups, ride, [AS_IT_IS], slot_s, closed_s, places)


def _work(job: tuple[int, Unit]) -> np.ndarray:
    """Worst verdict of every box in every sample, (sample, box)."""
    return np.asarray(sampled(*job[1]).group_level[0].max(axis=-1))


def _close(choice: Choice, timeline: Timeline, level: np.ndarray, tolerance: Tolerance) -> Close:
    count, boxes = level.shape
    times = {
        "leave_s": float(timeline.leave_s[0, 0]),
        "arrive_s": float(timeline.arrive_s[0, -1]),
        "open_s": float(timeline.opened_s[0].max()),
        "closed_s": float(timeline.closed_s[0].min()),
    }
    if (level == UNKNOWN).any():
        return Close(choice, "unknown", None, None, count, **times)
    harm = span_of(float((level == HARM).any(axis=1).sum()), count)
    expected = span_of(float((level == HARM).mean(axis=1).sum()), count, float(boxes), BOX_DIGITS)
    return Close(choice, standing_of(harm, expected, tolerance, boxes), harm, expected, count, **times)
