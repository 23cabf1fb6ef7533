"""Sets of the numbers that act only as a product, and what share of each row's boxes each set ruins.

Bees on a frame, their mass, the gain of the night, resting heat, activity and what it leaves off in the heat, what
walls let through, leaks, fanning, water and the heat workers bear: no load tells them apart, so they are drawn
together. What loads and boxes do not have in common scatters on
top, and everything else nobody knows is drawn anew for every box.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import ndtr, ndtri

from planner.app.chance.samples import Sample, scattered
from planner.app.common.executors import map_with
from planner.app.common.progress import Progress, Stop
from planner.app.trade.run import fates_of
from planner.app.trade.table import Row
from planner.app.trade.trips import trip_of
from planner.model.catalogue import Catalogue
from planner.model.parameters import ParameterTable, in_range
from planner.model.records import Floats, Ints
from planner.store.posterior import ACTIVITY, BEES, LEAK

DRAWN = (
    "frame_bees_factor",
    "bee_mass_kg",
    "closed_at_night_gain",
    "rest_heat_w_kg",
    "activity_waiting",
    "activity_idling",
    "activity_driving",
    "activity_jolt",
    "agitation_gain",
    "agitation_start_c",
    "quiet_share",
    "fanning_w_kg",
    "stale_from_share",
    "evaporation_max_w_kg",
    "crop_water_kg",
    "worker_t50_h",
    "worker_t50_c",
    "worker_t50_z_k",
    "inside_film_m2k_w",
    "outside_film_still_w_m2k",
    "outside_radiation_w_m2k",
    "crack_s_m",
    "fan_flow_m3_s",
    "fan_rows",
    "fan_face_speed_ms",
    "fan_mesh_share",
    "fan_moving_share",
)
"""Rows of the table that are drawn together, beside the leak of boxes."""

DRIVING, DRIVING_MEDIAN, DRIVING_LOG_SD = "activity_driving", 2.0, 0.273
"""Driving activity before any judgement: 95 of 100 between 1.2 and 3.5, of the logarithm (an estimate, grade D)."""

LOAD_SCATTER: Mapping[str, float] = {BEES: 0.2, ACTIVITY: 0.25, LEAK: 0.0}
BOX_SCATTER: Mapping[str, float] = {BEES: 0.15, ACTIVITY: 0.35, LEAK: 0.45}
"""Log standard deviation from load to load and from box to box (estimates, grade D); the leak's is of its position,
0.5 of the logarithm. A gummed small hive and a double of ten frames cannot be held by one activity for all boxes."""

LEANING = 0.5
"""Correlation of the normal scores of activity rows before any judgement: nervous colonies are nervous throughout."""

SAMPLES_AT_ONCE = 8000


@dataclass(frozen=True)
class Sets:
    """Sets of numbers by name, each ``(set,)``; the leak is a position -1..1."""

    values: Mapping[str, Floats]

    @property
    def size(self) -> int:
        return int(next(iter(self.values.values())).size)

    def take(self, rows: slice | Ints) -> Sets:
        """Some of the sets."""
        return Sets({name: value[rows] for name, value in self.values.items()})


def prior_sets(table: ParameterTable, count: int, generator: np.random.Generator) -> Sets:
    """Sets as they are before any judgement: each number in its own range, the activities leaning together."""
    names = [name for name in DRAWN if name in table.rows]
    common = generator.standard_normal(count)
    values = {}
    for name in names:
        own = generator.standard_normal(count)
        row = table.rows[name]
        score = np.sqrt(LEANING) * common + np.sqrt(1.0 - LEANING) * own if row.agitation else own
        if name == DRIVING:
            values[name] = DRIVING_MEDIAN * np.exp(DRIVING_LOG_SD * score)
        else:
            values[name] = in_range(row, 2.0 * ndtr(score) - 1.0)
    values[LEAK] = 2.0 * generator.random(count) - 1.0
    return Sets(values)


def scatter() -> dict[str, float]:
    """Scatter of a box of any load, of the logarithm."""
    return {name: float(np.hypot(LOAD_SCATTER[name], BOX_SCATTER[name])) for name in BOX_SCATTER}


@dataclass(frozen=True)
class Effort:
    """How much is simulated for each set and row."""

    loads: int = 1
    boxes: int = 1


def ruined_shares(
    rows: Sequence[Row],
    sets: Sets,
    effort: Effort,
    seed: int,
    catalogue: Catalogue,
    *,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Floats:
    """Share of each row's boxes that each set ruins, (set, row)."""
    found = np.full((sets.size, len(rows)), np.nan)
    jobs = list(_jobs(rows, sets, effort, seed))
    for done, (job, shares) in enumerate(map_with(_work, catalogue, jobs, executor, should_stop), 1):
        found[job.first : job.first + shares.size, job.at] = shares
        if on_progress:
            on_progress(done / len(jobs))
    return found


@dataclass(frozen=True)
class _Job:
    """Some of the sets on one row; ``at`` is the row's number, ``first`` that of the first set."""

    at: int
    first: int
    row: Row
    sets: Sets
    effort: Effort
    seed: int


def _jobs(rows: Sequence[Row], sets: Sets, effort: Effort, seed: int) -> Iterator[_Job]:
    """The longest trips first, so that no process is left with one at the end."""
    lasts = [sum(stage.drive_s + stage.stand_s for stage in row.journey) for row in rows]
    for at in np.argsort(lasts)[::-1]:
        row = rows[int(at)]
        step = max(SAMPLES_AT_ONCE // _samples(row, effort), 1)
        for first in range(0, sets.size, step):
            some = sets.take(slice(first, first + step))
            yield _Job(int(at), first, row, some, effort, seed)


def _samples(row: Row, effort: Effort) -> int:
    """Samples of one set: each holds a box in every place of the row."""
    return effort.loads * _boxes(row, effort)


def _boxes(row: Row, effort: Effort) -> int:
    return -(-effort.boxes // len(row.places))


def _work(catalogue: Catalogue, job: _Job) -> Floats:
    opened = trip_of(job.row, catalogue).opened(catalogue)
    generator = np.random.default_rng([job.seed, job.at, job.first])
    each = _samples(job.row, job.effort)
    space = opened.space(narrowed=False)
    drawn = space.at(generator.random((job.sets.size * each, len(space.columns))))
    fates = fates_of(opened, _overlaid(drawn, job, catalogue.parameters, generator))
    return np.asarray(fates.ruined.reshape(job.sets.size, -1).mean(axis=1))


def _overlaid(drawn: Sample, job: _Job, table: ParameterTable, generator: np.random.Generator) -> Sample:
    """Samples whose numbers are those of the sets, with the scatter of loads and boxes."""
    sets, loads, boxes = job.sets.size, job.effort.loads, _boxes(job.row, job.effort)
    deviation = {
        name: (
            LOAD_SCATTER[name] * generator.standard_normal((sets, loads, 1))
            + BOX_SCATTER[name] * generator.standard_normal((sets, loads, boxes))
        ).ravel()
        for name in BOX_SCATTER
    }
    values = {name: np.repeat(value, loads * boxes) for name, value in job.sets.values.items()}
    ranges = {name: (table.rows[name].low, table.rows[name].high) for name in values if name != LEAK}
    both = scattered(values, deviation, ranges)
    leak = both.pop(LEAK)
    return replace(drawn, values={**drawn.values, **both}, leak=leak)


def normal_scores(values: Floats, weights: Floats) -> Floats:
    """Normal scores of weighted values: the rank of each in 0..1, as a standard normal number."""
    order = np.argsort(values)
    share = np.empty(values.size)
    share[order] = np.cumsum(weights[order]) - 0.5 * weights[order]
    return np.asarray(ndtri(np.clip(share, 1e-6, 1.0 - 1e-6)))
