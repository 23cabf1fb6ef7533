"""Which candidates' headroom is found by trying, and which is read from common shifts of the air."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from planner.app.common.progress import Stop
from planner.app.plan.results import TYPICAL, Choice, Headroom, Outcomes
from planner.app.plan.simulate import batches, by_duration
from planner.errors import Cancelled
from planner.model.cases import CaseGrid
from planner.model.headroom import (
    COMMON_SHIFTS_K,
    READING_STEP_S,
    exact,
    of_worst_box,
    spare_at,
    turn_from_now,
)
from planner.model.records import Bools, Floats, Ints
from planner.model.timeline import Timeline

LEADERS = 3


def leaders(ranking: Sequence[Choice]) -> tuple[Choice, ...]:
    """Those shown first: the best, the next best, and the best that leaves at another time."""
    others = [choice for choice in ranking if choice.departure != ranking[0].departure][:1]
    return tuple(dict.fromkeys((*ranking[: LEADERS - 1], *others)))


def follows_outside(grid: CaseGrid) -> Bools:
    """Whether the air around each group follows the outside, (place, group): not where air conditioning holds it."""
    held = np.array([np.isfinite(place.set_point_c) for place in grid.places])
    return np.asarray(~held[grid.place_of])


def read_headroom(
    grid: CaseGrid, timeline: Timeline, night: Floats, outcomes: Outcomes, should_stop: Stop | None = None
) -> tuple[Floats, Floats]:
    """Headroom of every candidate with typical bees, hotter and colder, (departure, place, setup)."""
    hotter_k, colder_k = np.empty((2, timeline.departure_s.size, *grid.shape[:2]))
    for batch in batches(by_duration(grid, timeline), timeline, len(COMMON_SHIFTS_K) * grid.groups):
        if should_stop and should_stop():
            raise Cancelled
        at = tuple(batch.T)
        now = (values[..., TYPICAL, :][at] for values in (outcomes.hotter_k, outcomes.colder_k))
        hotter_k[at], colder_k[at] = common_headroom(grid, timeline, night, batch, *now)
    return hotter_k, colder_k


def common_headroom(
    grid: CaseGrid, timeline: Timeline, night: Floats, candidates: Ints, hotter_k: Floats, colder_k: Floats
) -> tuple[Floats, Floats]:
    """Headroom of some candidates with typical bees, hotter and colder, (candidate,), read from common shifts.

    Parameters
    ----------
    timeline, night : the departures that ``candidates`` index, as of ``simulate.by_duration``
    hotter_k, colder_k : (candidate, group) what the boxes have to spare in the air as it is
    """
    counted = follows_outside(grid)[candidates[:, 1]][:, None]
    shifts = np.array(COMMON_SHIFTS_K)
    tried = np.broadcast_to(shifts, (len(candidates), shifts.size))
    found = spare_at(grid, timeline, night, candidates, tried, READING_STEP_S)
    before = int(np.sum(shifts < 0.0))
    every = np.insert(shifts, before, 0.0)

    def read(now: Floats, shifted: Floats, toward: int) -> Floats:
        spare = of_worst_box(np.insert(shifted, before, now, axis=1), counted).T
        return turn_from_now(toward * every[::toward], spare[::toward]).read()

    return read(hotter_k, found[0], 1), read(colder_k, found[1], -1)


def tried_headroom(
    grid: CaseGrid, timeline: Timeline, night: Floats, choices: Sequence[Choice]
) -> Mapping[Choice, Headroom]:
    """Headroom of some candidates with typical bees, found by trying."""
    candidates: Ints = np.array([(c.departure, c.loading_place, c.setup) for c in choices])
    counted = follows_outside(grid)[candidates[:, 1]]
    departures, row = np.unique(candidates[:, 0], return_inverse=True)
    candidates[:, 0] = row
    hotter, colder = exact(grid, timeline.take(departures), night[departures], candidates, counted)
    return {
        choice: Headroom(float(hot), float(cold), exact=True)
        for choice, hot, cold in zip(choices, hotter, colder, strict=True)
    }
