"""What was chosen, judged as it is: every box with its own make-up, the drive as said, the slot to the minute."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial

import numpy as np

from planner.app.answer.decide import standing_of
from planner.app.answer.records import Span, StandingName, Tolerance
from planner.app.answer.tally import BOX_DIGITS, span_of
from planner.app.chance.samples import Sample
from planner.app.common.executors import map_unordered
from planner.app.common.progress import Stop
from planner.app.day.serving.drives import planned_drive_s
from planner.app.day.serving.judge import Judge
from planner.app.day.serving.ways import Layout, Piece, Ride, Ways, Yard
from planner.model.limits import HARM, UNKNOWN
from planner.model.records import Ints
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


def looked_at(
    judge: Judge,
    choices: Sequence[Choice],
    tolerance: Tolerance,
    samples: int,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> list[Close]:
    """Every choice in so many samples, those left open in as many more as it takes, at most MOST_SAMPLES."""
    if not choices:
        return []
    layout = _laid(judge, choices)
    of_case = np.repeat(np.arange(len(choices)), [len(choice.boxes) for choice in choices])
    level = np.full((of_case.size, max(samples, MOST_SAMPLES)), NOT_LOOKED, dtype=np.int8)
    out: list[Close | None] = [None] * len(choices)
    open_, count = np.arange(len(choices)), 0
    while open_.size:
        more = count or samples
        rows = slice(count, count + more)
        cases = np.flatnonzero(np.isin(of_case, open_))
        box, sample = _loads(of_case[cases], more)
        box = cases[box]
        pieces = layout.pieces(of_case[box], box, sample, of_case[box] * more + sample)
        work = partial(_work, layout, judge.sample.take(rows))
        for piece, found in map_unordered(work, pieces, executor, should_stop):
            level[box[piece.case], count + piece.sample] = found
        count += more
        for row in open_.tolist():
            out[row] = _close(choices[row], layout.timeline, row, level[of_case == row, :count].T, tolerance)
        open_ = np.array(
            [row for row in open_ if count < MOST_SAMPLES and _may_settle(out[row], tolerance)],
            dtype=np.int64,
        )
    return [close for close in out if close is not None]


NOT_LOOKED = -2


def _may_settle(close: Close | None, tolerance: Tolerance) -> bool:
    """Whether more samples may yet show an open choice to be within the tolerance."""
    if close is None or close.standing != "open" or close.harm_of_100 is None:
        return False
    return close.harm_of_100.value <= min(tolerance.harm_of_100, tolerance.boxes_of_100)


def _loads(load: Ints, samples: int) -> tuple[Ints, Ints]:
    """Boxes of some loads, (box,), in every sample: box and sample of each case, a load in a sample kept together."""
    box, sample = (axis.ravel() for axis in np.indices((load.size, samples)))
    order = np.lexsort((box, sample, load[box]))
    return box[order], sample[order]


def _laid(judge: Judge, choices: Sequence[Choice]) -> Layout:
    """The very boxes of every choice together in their buyer's vehicle, one way each, a variant a box."""
    asked = judge.asked
    rides, variants = [], []
    for choice in choices:
        buyer, setup = asked.day.buyers[choice.buyer], asked.setups[choice.setup]
        drive_s = planned_drive_s(buyer, float(asked.drive_s[choice.buyer]))
        rides.append(Ride(drive_s, buyer.first_timer, buyer.rides, buyer.boxes))
        variants += [
            setup.change(box.group, asked.catalogue.box_types[box.group.box_type]) for box in choice.boxes
        ]
    slot = np.array([choice.slot for choice in choices])
    closing = np.array([choice.closing for choice in choices])
    ways = Ways(tuple(rides), asked.slot_s[slot], asked.closed_s[closing, slot])
    return Layout(Yard(asked.day, asked.weather, asked.catalogue, judge.space.places), ways, variants)


def _work(layout: Layout, sample: Sample, piece: Piece) -> np.ndarray:
    """Worst verdict of every case, (case,)."""
    return np.asarray(layout.verdicts(piece, sample).max(axis=-1).astype(np.int8))


def _close(choice: Choice, timeline: Timeline, row: int, level: np.ndarray, tolerance: Tolerance) -> Close:
    count, boxes = level.shape
    times = {
        "leave_s": float(timeline.leave_s[row, 0]),
        "arrive_s": float(timeline.arrive_s[row, -1]),
        "open_s": float(timeline.opened_s[row].max()),
        "closed_s": float(timeline.closed_s[row].min()),
    }
    if (level == UNKNOWN).any():
        return Close(choice, "unknown", None, None, count, **times)
    harm = span_of(float((level == HARM).any(axis=1).sum()), count)
    expected = span_of(float((level == HARM).mean(axis=1).sum()), count, float(boxes), BOX_DIGITS)
    return Close(choice, standing_of(harm, expected, tolerance, boxes), harm, expected, count, **times)
