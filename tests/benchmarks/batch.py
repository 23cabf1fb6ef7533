"""The batches that the table of times is about: a summer day, eight places, with and without misting."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TypeVar

import numpy as np

from planner.model.boxes import Boxes
from planner.model.cases import Fan, Layout, lay, open_fan
from planner.model.closing import closing_times
from planner.model.integrate import Cases, Histories, march
from planner.model.parameters import Parameters
from planner.model.preparations import AS_DECLARED, MISTED
from planner.model.timeline import Timeline, build_timeline
from tests.model.worlds import DAY_S, HOUR_S, NUC, SUMMER, catalogue, road, trip, weather

Record = TypeVar("Record", Boxes, Parameters)

PLACES = (
    "open_trailer",
    "pickup_bed",
    "pickup_canopy_shut_dark",
    "cabin_windows_open",
    "cabin_seat_cooled",
    "boot_dark",
    "van_shut_dark",
    "flatbed_inner",
)
SETUPS = (AS_DECLARED, MISTED)
PER_DEPARTURE = len(PLACES) * len(SETUPS)
HOURS = 8.0
CHUNK_CASES = 2000


@dataclass(frozen=True)
class Batch:
    """Departures over a day, every place, both set-ups, central bees: each case an enclosure of its own."""

    fan: Fan
    timeline: Timeline

    def layout(self, departures: slice = slice(None)) -> Layout:
        """Some of the departures laid out for the march."""
        some = self.timeline.take(np.arange(self.timeline.departure_s.size)[departures])
        return lay(self.fan, some, np.zeros(some.closed_s.shape))

    def chunks(self) -> list[slice]:
        """Departures in runs of about CHUNK_CASES cases."""
        size = CHUNK_CASES // PER_DEPARTURE
        return [slice(first, first + size) for first in range(0, self.timeline.departure_s.size, size)]


@cache
def batch_of(cases: int) -> Batch:
    """A batch of eight-hour trips with at least the given number of cases."""
    count = -(-cases // PER_DEPARTURE)
    leave_s = SUMMER + DAY_S
    planned = trip(NUC, PLACES, leave_s=leave_s, last_s=leave_s + DAY_S, step_s=HOUR_S)
    way, sky = road(HOURS - 1.0), weather(16.0, 33.0, SUMMER)
    departures = np.round(np.linspace(leave_s, leave_s + 0.9 * DAY_S, count) / 60.0) * 60.0
    closed = closing_times(planned, way, departures)
    fan = open_fan(planned, way, sky, catalogue(), PLACES, SETUPS, (0.0,))
    return Batch(fan, build_timeline(planned, way, departures, closed))


def solve(laid: Layout) -> Histories:
    """The march as a plan runs it."""
    return march(laid.cases, laid.where, laid.env, laid.parameters, detail=False)


def only(laid: Layout, case: int) -> tuple[Cases, Parameters]:
    """One case of a layout and its parameters."""
    boxes, p = laid.cases.boxes, laid.parameters
    one = Cases(laid.cases.track[[case]], laid.cases.env[[case]], None, _pick(boxes, case))
    return one, _pick(p, case)


def _pick(record: Record, case: int) -> Record:
    """The record with one entry of each ``(case,)`` field; scalars stay."""
    return replace(record, **{name: value[[case]] for name, value in vars(record).items() if np.ndim(value)})
