"""The batches that the table of times is about: a summer day, eight places, with and without misting."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import TypeVar

import numpy as np

from planner.model.boxes import Boxes
from planner.model.cases import Batch, CaseGrid, build_cases, case_grid
from planner.model.closing import closing_times
from planner.model.integrate import Cases, Histories, integrate
from planner.model.limits import Assessment, assess
from planner.model.march import march
from planner.model.parameters import Parameters
from planner.model.preparations import AS_DECLARED, MISTED
from planner.model.timeline import GRID_S, Timeline, build_timeline
from tests.model.scenarios import DAY_S, HOUR_S, NUC, SUMMER, catalogue, road, trip, weather

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
class Departures:
    """Departures over a day, every place, both set-ups, typical bees: each case an enclosure of its own."""

    grid: CaseGrid
    timeline: Timeline

    def layout(self, departures: slice = slice(None)) -> Batch:
        """Some of the departures laid out for the integration."""
        some = self.timeline.take(np.arange(self.timeline.departure_s.size)[departures])
        return build_cases(self.grid, some, np.zeros(some.closed_s.shape))

    def chunks(self) -> list[slice]:
        """Departures in runs of about CHUNK_CASES cases."""
        size = CHUNK_CASES // PER_DEPARTURE
        return [slice(first, first + size) for first in range(0, self.timeline.departure_s.size, size)]


@cache
def batch_of(cases: int) -> Departures:
    """A batch of eight-hour trips with at least the given number of cases."""
    count = -(-cases // PER_DEPARTURE)
    leave_s = SUMMER + DAY_S
    planned = trip(NUC, PLACES, leave_s=leave_s, last_s=leave_s + DAY_S, step_s=HOUR_S)
    way, sky = road(HOURS - 1.0), weather(16.0, 33.0, SUMMER)
    departures = np.round(np.linspace(leave_s, leave_s + 0.9 * DAY_S, count) / 60.0) * 60.0
    closed = closing_times(planned, way, departures)
    grid = case_grid(planned, way, sky, catalogue(), PLACES, SETUPS, (0.0,))
    return Departures(grid, build_timeline(planned, way, departures, closed))


def solve(laid: Batch) -> Histories:
    """By the march in use, what judging needs."""
    return march(laid.cases, laid.vehicle, laid.local_air, laid.parameters, detail=False)


def solve_by_numpy(laid: Batch) -> Histories:
    """By the numpy march."""
    return integrate(laid.cases, laid.vehicle, laid.local_air, laid.parameters, detail=False)


def judged_by_numpy(laid: Batch) -> Assessment:
    """Marched and judged by numpy."""
    time_s, moving = (values[:, laid.cases.track] for values in (laid.vehicle.time_s, laid.vehicle.moving))
    return assess(solve_by_numpy(laid), laid.cases.boxes, time_s, laid.parameters, GRID_S, moving)


def only(laid: Batch, case: int) -> tuple[Cases, Parameters]:
    """One case of a layout and its parameters."""
    boxes, p = laid.cases.boxes, laid.parameters
    one = Cases(laid.cases.track[[case]], laid.cases.local_air[[case]], None, _pick(boxes, case))
    return one, _pick(p, case)


def _pick(record: Record, case: int) -> Record:
    """The record with one entry of each ``(case,)`` field; scalars stay."""
    return replace(record, **{name: value[[case]] for name, value in vars(record).items() if np.ndim(value)})
