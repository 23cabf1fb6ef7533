"""Every candidate of a plan integrated and judged, batch by batch; what nobody knows of a way at its worst."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np

from planner.app.common.progress import Progress, Stop
from planner.app.plan.results import Outcomes
from planner.errors import Cancelled
from planner.model import limits
from planner.model.cases import CaseGrid, on_ways, run
from planner.model.catalogue import Catalogue
from planner.model.limits import Assessment
from planner.model.records import Floats
from planner.model.timeline import Timeline, build_timeline
from planner.model.ways import alternatives, in_doubt

BATCH_CASES = 2400

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
    """All departures in batches of like duration, so that no case integrates long past its end."""
    n_dep = timeline.departure_s.size
    shape = (n_dep, *grid.shape)
    tables: dict[str, Any] = {
        f.name: np.empty(shape + _tail(f.name), dtype=DTYPES.get(f.name, np.float64))
        for f in fields(Assessment)
    }
    order = np.argsort(timeline.end_s - timeline.start_s, kind="stable")
    size = max(1, BATCH_CASES // grid.cases_per_departure)
    for first in range(0, n_dep, size):
        if should_stop and should_stop():
            raise Cancelled
        batch = order[first : first + size]
        judged = run(grid, timeline.take(batch), night[batch]).assessed()
        for name, table in tables.items():
            table[batch] = getattr(judged, name).reshape((batch.size, *table.shape[1:]))
        if on_progress:
            on_progress(min(1.0, (first + size) / n_dep))
    return Outcomes(**tables)


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
