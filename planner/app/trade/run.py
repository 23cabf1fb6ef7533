"""The trade's year run through the program by samples: of a row's boxes, what share is ruined?"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.app.chance.samples import Sample, evaluate_samples
from planner.app.common.executors import map_with
from planner.app.common.progress import Progress, Stop
from planner.app.trade.table import Row, Sense, TradeYear
from planner.app.trade.trips import OpenedTrip, trip_of
from planner.model.catalogue import Catalogue
from planner.model.records import Bools, Floats

SAMPLES = 512
SEED = 1
ORDINARY_MOST, RUINING_LEAST = 0.15, 0.60
"""Of its samples an ordinary row may have ruined at most the one, a ruining row at least the other."""

CHANCE = 0.01
"""With few samples the bounds give way as far as chance alone would go in one of a hundred rows."""

PEAK_BAND = (0.05, 0.5, 0.95)

Finding = Literal["holds", "fails", "reported"]


@dataclass(frozen=True)
class Fates:
    """What became of sampled boxes, each ``(sample,)``; peaks and lows of the core in C."""

    ruined: Bools
    chilled: Bools
    peak_c: Floats
    low_c: Floats


def _parts(fates: Fates) -> tuple[np.ndarray, ...]:
    return fates.ruined, fates.chilled, fates.peak_c, fates.low_c


@dataclass(frozen=True)
class RowResult:
    """A row with what the program says of it: shares of its samples, peak core C at 5, 50 and 95 of 100."""

    row: Row
    samples: int
    ruined: int
    chilled: int
    peak_c: tuple[float, float, float]
    low_c: float

    @property
    def ruined_share(self) -> float:
        return self.ruined / self.samples

    @property
    def chilled_share(self) -> float:
        return self.chilled / self.samples

    @property
    def found(self) -> Finding:
        """Whether the boxes live or die as the trade says."""
        return finding(self.row.sense, self.ruined, self.samples)

    @property
    def found_chilled(self) -> Finding:
        """Whether they chill as the trade says; reported where it says nothing."""
        return finding(self.row.chill_sense, self.chilled, self.samples)


def finding(sense: Sense, count: int, samples: int) -> Finding:
    """Whether so many of the samples bear out what the trade says.

    >>> finding("ordinary", 76, 512), finding("ordinary", 120, 512), finding("ruining", 8, 16)
    ('holds', 'fails', 'holds')
    """
    if sense == "open":
        return "reported"
    if sense == "ordinary":
        return "holds" if count <= _most(samples, ORDINARY_MOST) else "fails"
    return "holds" if samples - count <= _most(samples, 1.0 - RUINING_LEAST) else "fails"


def _most(samples: int, share: float) -> int:
    """The most of so many samples that a share may stand behind: exactly in many, as chance has it in few."""
    if samples >= SAMPLES:
        return math.floor(samples * share)
    reached = 0.0
    for count in range(samples + 1):
        reached += math.comb(samples, count) * share**count * (1.0 - share) ** (samples - count)
        if reached >= 1.0 - CHANCE:
            return count
    return samples


def trade_results(
    year: TradeYear,
    catalogue: Catalogue,
    *,
    samples: int = SAMPLES,
    seed: int = SEED,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> tuple[RowResult, ...]:
    """Every row by samples of one seed, in the order of the table."""
    rows = tuple(year.rows.values())
    jobs = [(row, samples, seed) for row in rows]
    done: dict[str, RowResult] = {}
    for (row, *_), result in map_with(_row_result, catalogue, jobs, executor, should_stop):
        done[row.name] = result
        if on_progress:
            on_progress(len(done) / len(rows))
    return tuple(done[row.name] for row in rows)


def _row_result(catalogue: Catalogue, job: tuple[Row, int, int]) -> RowResult:
    row, samples, seed = job
    return row_result(row, catalogue, samples, seed)


def row_result(row: Row, catalogue: Catalogue, samples: int, seed: int) -> RowResult:
    """One row by samples, spread evenly over its places."""
    opened = trip_of(row, catalogue).opened(catalogue)
    share = max(samples // len(row.places), 1)
    fates = fates_of(opened, opened.space().sample(share, np.random.default_rng(seed)))
    low, middle, high = np.quantile(fates.peak_c, PEAK_BAND)
    return RowResult(
        row=row,
        samples=fates.ruined.size,
        ruined=int(fates.ruined.sum()),
        chilled=int(fates.chilled.sum()),
        peak_c=(float(low), float(middle), float(high)),
        low_c=float(np.median(fates.low_c)),
    )


BATCH_CASES = 2000
"""Boxes integrated together: as many as suit the processor's cache."""


def fates_of(opened: OpenedTrip, sample: Sample) -> Fates:
    """What becomes, in each sample, of a box in each of the row's places; the places innermost."""
    several = max(BATCH_CASES // opened.scenario.grid.groups, 1)
    pieces = [sample.take(slice(at, at + several)) for at in range(0, sample.samples, several)]
    fates = [_fates_at_once(opened, piece) for piece in pieces]
    return Fates(*(np.concatenate(parts) for parts in zip(*map(_parts, fates), strict=True)))


def _fates_at_once(opened: OpenedTrip, sample: Sample) -> Fates:
    only = np.zeros((1, 3), dtype=np.int64)
    judged = evaluate_samples(opened.scenario, opened.timeline, opened.night, only, sample).judged
    return Fates(
        ruined=judged.ruined,
        chilled=judged.chilled,
        peak_c=judged.peak_core_c,
        low_c=judged.low_core_c,
    )


def senses(results: Sequence[RowResult]) -> Iterator[tuple[Sense, int, int]]:
    """For ordinary and ruining rows: how many hold, of how many."""
    for sense in ("ordinary", "ruining"):
        mine = [result for result in results if result.row.sense == sense]
        yield sense, sum(result.found == "holds" for result in mine), len(mine)
