"""What a season says: how often boxes were lost, by what they were and how they went, each share drawn to the season's.

A share of few boxes says little by itself. Every level of a factor is taken for one of a family whose spread is read
off the levels themselves (a beta-binomial, averaged over prior weight and the season's own share), so that a lane with
one loss among nine does not look like a lane of death. The interval holds nine of ten.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import betainc, betaincinv, betaln

from planner.model.records import Floats
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry, Event

FACTORS = ("box_type", "setup", "closing", "drive", "hour", "lane", "mesh")
LEAST_BOXES = 8
LEAST_BIN = 20
TAIL = 0.05
WEIGHTS = np.geomspace(5.0, 2000.0, 12)
"""How many boxes the season's share may count for in a level."""
QUANTILES = np.array([0.05, 0.25, 0.5, 0.75, 0.95])
"""At which the season's own share is taken."""


@dataclass(frozen=True)
class Ridden:
    """One box that rode: whether it was ``lost``, the chance of no harm it was given (NaN: none), its factors."""

    lost: bool
    predicted: float
    factors: Mapping[str, str]


@dataclass(frozen=True)
class Rate:
    """The share lost of the boxes of one level: counted, and drawn to the season's, nine of ten between the ends."""

    factor: str
    level: str
    boxes: int
    lost: int
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class Bin:
    """Boxes that were given about the same chance of no harm, and the share that came to none."""

    boxes: int
    predicted: float
    low: float
    came: float
    high: float


@dataclass(frozen=True)
class Lessons:
    """A season: ``whole`` of all boxes, rates by factor, levels left out for being few, the chances against what came.

    ``brier`` the mean square of chance less outcome, ``brier_flat`` that of giving each box the season's own share;
    both NaN where no chance was given.
    """

    whole: Rate
    rates: tuple[Rate, ...]
    few: tuple[tuple[str, int], ...]
    bins: tuple[Bin, ...]
    brier: float
    brier_flat: float


# -- in the logbook --------------------------------------------------------------------------------


def outcome_entry(
    trip: str, box: str, ridden: Ridden, at_s: float, *, who: str = "", plan: str = ""
) -> Entry:
    """What became of a box, as the logbook has it."""
    body: dict[str, object] = {"lost": ridden.lost, **ridden.factors}
    if np.isfinite(ridden.predicted):
        body["predicted"] = round(float(ridden.predicted), 4)
    return Entry("outcome", at_s, "box", box, body, trip, who, plan)


def ridden(logbook: Logbook) -> tuple[Ridden, ...]:
    """Every box whose outcome was written down, by its last word."""
    last: dict[tuple[str, str], Event] = {}
    for event in logbook.told(kinds=("outcome",)):
        last[event.trip, event.subject] = event
    return tuple(_ridden(event) for event in last.values() if isinstance(event.body.get("lost"), bool))


def _ridden(event: Event) -> Ridden:
    body = event.body
    predicted = body.get("predicted")
    known = isinstance(predicted, int | float) and 0.0 <= predicted <= 1.0
    factors = {name: str(body[name]) for name in FACTORS if body.get(name) not in (None, "")}
    return Ridden(bool(body["lost"]), float(predicted) if known else float("nan"), factors)  # type: ignore[arg-type]


# -- what it says ----------------------------------------------------------------------------------


def lessons(boxes: Sequence[Ridden]) -> Lessons:
    """What the boxes of a season say together."""
    lost = sum(box.lost for box in boxes)
    rates: list[Rate] = []
    few: list[tuple[str, int]] = []
    for factor in FACTORS:
        counted = _counted(boxes, factor)
        many = {level: pair for level, pair in counted.items() if pair[0] >= LEAST_BOXES}
        few += [(level, pair[0]) for level, pair in counted.items() if level not in many]
        rates += _rates(factor, many, (len(boxes), lost))
    return Lessons(_whole(len(boxes), lost), tuple(rates), tuple(few), *_calibration(boxes))


def _counted(boxes: Sequence[Ridden], factor: str) -> dict[str, tuple[int, int]]:
    found: dict[str, tuple[int, int]] = {}
    for box in boxes:
        if level := box.factors.get(factor):
            count, lost = found.get(level, (0, 0))
            found[level] = count + 1, lost + box.lost
    return dict(sorted(found.items()))


def _whole(count: int, lost: int) -> Rate:
    return Rate("", "", count, lost, *interval(lost + 0.5, count - lost + 0.5))


def _rates(factor: str, levels: Mapping[str, tuple[int, int]], season: tuple[int, int]) -> list[Rate]:
    if not levels:
        return []
    counts = np.array([pair[0] for pair in levels.values()], dtype=np.float64)
    lost = np.array([pair[1] for pair in levels.values()], dtype=np.float64)
    ends = drawn_together(lost, counts, season)
    return [
        Rate(factor, level, count, hits, *map(float, ends[at]))
        for at, (level, (count, hits)) in enumerate(levels.items())
    ]


def drawn_together(lost: Floats, counts: Floats, season: tuple[int, int]) -> Floats:
    """Low end, mean and high end of each level's share, (level, 3), drawn to the season's.

    Neither the season's own share nor how alike the levels are is known: both are averaged over, by how likely they
    make what was counted.

    Parameters
    ----------
    lost, counts : (level,) boxes lost, boxes that rode
    season : boxes that rode and boxes lost of the whole season
    """
    boxes, gone = season
    means = betaincinv(gone + 0.5, boxes - gone + 0.5, QUANTILES)
    mean, weight = (axis.ravel() for axis in np.meshgrid(means, WEIGHTS))
    a, b = (mean * weight)[:, None], ((1.0 - mean) * weight)[:, None]
    likely = (betaln(a + lost, b + counts - lost) - betaln(a, b)).sum(axis=1)
    share = np.exp(likely - likely.max())
    share /= share.sum()
    after_a, after_b = a + lost, b + counts - lost
    grid = np.geomspace(1e-6, 1.0, 400)
    ends = []
    for at in range(lost.size):
        below = share @ betainc(after_a[:, at, None], after_b[:, at, None], grid)
        low, high = np.interp((TAIL, 1.0 - TAIL), below, grid)
        ends.append((low, float(share @ (after_a[:, at] / (after_a[:, at] + after_b[:, at]))), high))
    return np.array(ends)


def interval(a: float, b: float) -> tuple[float, float, float]:
    """Low end, mean and high end of a share known as Beta(a, b): nine of ten lie between the ends."""
    return float(betaincinv(a, b, TAIL)), a / (a + b), float(betaincinv(a, b, 1.0 - TAIL))


def _calibration(boxes: Sequence[Ridden]) -> tuple[tuple[Bin, ...], float, float]:
    known = sorted((box for box in boxes if np.isfinite(box.predicted)), key=lambda box: box.predicted)
    if not known:
        return (), float("nan"), float("nan")
    chance = np.array([box.predicted for box in known])
    came = np.array([not box.lost for box in known], dtype=np.float64)
    brier = float(np.mean((chance - came) ** 2))
    flat = float(np.mean((came.mean() - came) ** 2))
    return tuple(_bins(chance, came)), brier, flat


def _bins(chance: Floats, came: Floats) -> list[Bin]:
    """Boxes in order of their chance, cut where a tenth of the scale is full and no bin has fewer than it needs."""
    cuts = [0]
    for at in range(1, chance.size):
        full = at - cuts[-1] >= LEAST_BIN and chance.size - at >= LEAST_BIN
        if full and np.floor(10.0 * chance[at]) > np.floor(10.0 * chance[cuts[-1]]):
            cuts.append(at)
    found = []
    for first, last in zip(cuts, [*cuts[1:], chance.size], strict=True):
        count, hits = last - first, float(came[first:last].sum())
        if count >= LEAST_BIN:
            low, _, high = interval(hits + 0.5, count - hits + 0.5)
            found.append(Bin(count, float(chance[first:last].mean()), low, hits / count, high))
    return found
