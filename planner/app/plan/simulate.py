"""Every candidate of a plan integrated and judged, batch by batch; what nobody knows of a way at its worst."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from planner.app.common.progress import Progress, Stop
from planner.app.plan.results import Outcomes
from planner.errors import Cancelled
from planner.model import limits
from planner.model.cases import CaseGrid, agitation_variations, cases_of, lay_out, on_ways, simulate
from planner.model.catalogue import Catalogue
from planner.model.limits import Assessment
from planner.model.records import Floats, Ints
from planner.model.timeline import GRID_S, Timeline, build_timeline
from planner.model.ways import alternatives, in_doubt

BATCH_CASES, BATCH_CELLS = 2400, 1_200_000
"""Cases of a batch, which suit the cache, and cases times steps: about 240 MB while it is integrated and judged."""

DTYPES = {"verdict": np.int64, "ruined": np.bool_}


def simulate_ways(
    grid: CaseGrid,
    timeline: Timeline,
    night: Floats,
    catalogue: Catalogue,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Outcomes:
    """All departures, on the worst of the ways their boxes may take.

    Where a stage may be spent in one of several places, each is tried, and each candidate keeps the outcome that
    bodes worst. Where a stage may last shorter or longer, calm bees have the shortest way and agitated ones the
    longest, as they have the coolest and the warmest spot.
    """
    settled = [on_ways(grid, trip, catalogue) for trip, _ in alternatives(grid.trip)]
    runs = [run for each in settled for run in _by_length(each, timeline)]
    done: list[Outcomes] = []
    for part, when in runs:
        share = None if on_progress is None else _part_of(on_progress, len(done), len(runs))
        done.append(simulate_all(part, when, night, share, should_stop))
    each_way = len(runs) // len(settled)
    ways = [_beside(done[first : first + each_way]) for first in range(0, len(done), each_way)]
    return _worst(ways)


def simulate_all(
    grid: CaseGrid, timeline: Timeline, night: Floats, on_progress: Progress | None, should_stop: Stop | None
) -> Outcomes:
    """All candidates in batches of like duration, so that no case integrates long past its end."""
    n_dep = timeline.departure_s.size
    shape = (n_dep, *grid.shape)
    tables: dict[str, Any] = {
        f.name: np.empty(shape + _tail(f.name), dtype=DTYPES.get(f.name, np.float64))
        for f in fields(Assessment)
    }
    variations = agitation_variations(grid)
    agitations, groups = grid.shape[2:]
    candidates = by_duration(grid, timeline)
    done = 0
    for batch in batches(candidates, timeline, agitations * groups):
        if should_stop and should_stop():
            raise Cancelled
        table = cases_of(batch, agitations, groups)
        judged = simulate(lay_out(grid, timeline, night, table, variations)).assessed()
        for name, values in tables.items():
            values[tuple(batch.T)] = getattr(judged, name).reshape((len(batch), *values.shape[3:]))
        done += len(batch)
        if on_progress:
            on_progress(done / len(candidates))
    return Outcomes(**tables)


def by_duration(grid: CaseGrid, timeline: Timeline) -> Ints:
    """Every candidate, the shortest trips first, (candidate, 3): departure, searched loading place, set-up."""
    order = np.argsort(timeline.end_s - timeline.start_s, kind="stable")
    candidates = np.stack([axis.ravel() for axis in np.indices((order.size, *grid.shape[:2]))], axis=1)
    candidates[:, 0] = order[candidates[:, 0]]
    return candidates


def batches(candidates: Ints, timeline: Timeline, cases_each: int) -> Iterator[Ints]:
    """Candidates in order of duration, cut so that neither cases nor cases times steps grow beyond their bounds."""
    steps = ((timeline.end_s - timeline.start_s) / GRID_S)[candidates[:, 0]]
    first = 0
    while first < len(candidates):
        rest = steps[first : first + BATCH_CASES]
        cases = np.arange(1, rest.size + 1) * cases_each
        fits = (cases <= BATCH_CASES) & (cases * rest <= BATCH_CELLS)
        size = max(1, int(fits.sum()))
        yield candidates[first : first + size]
        first += size


def _tail(name: str) -> tuple[int, ...]:
    return {"verdict": (len(limits.VERDICTS),), "over_s": (len(limits.LIMITS),)}.get(name, ())


def _by_length(grid: CaseGrid, timeline: Timeline) -> list[tuple[CaseGrid, Timeline]]:
    """The agitation levels together, or each with stages as long as it goes with where their length is in doubt."""
    if not in_doubt(grid.trip):
        return [(grid, timeline)]
    times = [
        build_timeline(grid.trip, grid.road, timeline.departure_s, timeline.closed_s, reach)
        for reach in grid.agitations
    ]
    return [
        (replace(grid, agitations=(reach,)), when) for reach, when in zip(grid.agitations, times, strict=True)
    ]


def _part_of(on_progress: Progress, done: int, parts: int) -> Progress:
    return lambda share: on_progress((done + share) / parts)


def _beside(parts: Sequence[Outcomes]) -> Outcomes:
    """Outcomes of single agitation levels on one axis again."""
    if len(parts) == 1:
        return parts[0]
    names = [f.name for f in fields(Outcomes)]
    return Outcomes(**{n: np.concatenate([getattr(part, n) for part in parts], axis=3) for n in names})


def _worst(ways: Sequence[Outcomes]) -> Outcomes:
    """Case by case the way with the gravest verdict, and of those the one with the least headroom."""
    if len(ways) == 1:
        return ways[0]
    grave = np.stack([way.verdict.max(axis=-1) for way in ways])
    spare_k = np.nan_to_num(np.stack([np.minimum(way.hotter_k, way.colder_k) for way in ways]), nan=-np.inf)
    worst = np.argmin(np.where(grave == grave.max(axis=0), spare_k, np.inf), axis=0)

    def picked(name: str) -> Any:
        each = np.stack([getattr(way, name) for way in ways])
        index = worst.reshape((1, *worst.shape, *[1] * (each.ndim - 1 - worst.ndim)))
        return np.take_along_axis(each, index, axis=0)[0]

    return Outcomes(**{f.name: picked(f.name) for f in fields(Outcomes)})
