"""Which unknown matters: shares of the uncertainty by subject, as Sobol indices of the headroom to harm.

Two independent sets of samples A and B, and for each subject the samples of A with that subject's numbers
taken from B. Estimators: Jansen 1999, Comput Phys Commun 117:35, as compared in Saltelli et al. 2010,
Comput Phys Commun 181:259, table 2 (grade A); standard errors by bootstrap over the samples.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.app.chance.points import even_points
from planner.app.chance.race import open_scenario, space_of
from planner.app.chance.samples import SUBJECTS, sampled
from planner.app.plan.results import Choice, Plan
from planner.model.catalogue import Catalogue
from planner.model.compare import ENOUGH_HEADROOM_K
from planner.model.preparations import TRIED, SetUp
from planner.model.records import Floats, Weather
from planner.words import say

SAMPLES = 256
RESAMPLES = 200
LOST_K = -5.0
"""Margins beyond count as this: how far beyond death a box is said to warm says nothing."""

CHUNK = 256


@dataclass(frozen=True)
class Indices:
    """Sobol indices (factor,) with standard errors: ``first`` alone, ``total`` with all its company."""

    first: Floats
    first_error: Floats
    total: Floats
    total_error: Floats


def sobol_indices(a: Floats, b: Floats, swapped: Floats, generator: np.random.Generator) -> Indices:
    """First-order and total indices.

    Parameters
    ----------
    a, b : (sample,) the answer in two independent sets of samples
    swapped : (factor, sample) the answer in the samples of ``a`` with one factor taken from ``b``
    generator : for the bootstrap
    """
    first, total = _jansen(a, b, swapped)
    picks = generator.integers(0, a.size, (RESAMPLES, a.size))
    again = [_jansen(a[pick], b[pick], swapped[:, pick]) for pick in picks]
    spread = np.std(np.array(again), axis=0, ddof=1)
    return Indices(first, spread[0], total, spread[1])


def _jansen(a: Floats, b: Floats, swapped: Floats) -> tuple[Floats, Floats]:
    variance = np.var(np.concatenate((a, b)))
    if not variance > 0.0:
        return np.zeros(len(swapped)), np.zeros(len(swapped))
    first = 1.0 - 0.5 * np.mean((b - swapped) ** 2, axis=1) / variance
    total = 0.5 * np.mean((a - swapped) ** 2, axis=1) / variance
    return first, total


@dataclass(frozen=True)
class VarianceShares:
    """Where the uncertainty about one candidate comes from; ``headroom_sd_k`` how large it is.

    ``subjects`` in falling order of their total share.
    """

    choice: Choice
    subjects: tuple[str, ...]
    indices: Indices
    headroom_sd_k: float
    samples: int

    @property
    def share(self) -> Floats:
        """Total indices scaled to sum to one: uncertainty that several subjects make together is shared out."""
        return self.indices.total / max(float(self.indices.total.sum()), 1e-12)

    @property
    def share_error(self) -> Floats:
        return self.indices.total_error / max(float(self.indices.total.sum()), 1e-12)


def sensitivity(
    plan: Plan,
    choice: Choice,
    catalogue: Catalogue,
    generator: np.random.Generator,
    *,
    samples: int = SAMPLES,
    weathers: Sequence[Weather] = (),
    setups: Sequence[SetUp] = TRIED,
) -> VarianceShares:
    """Shares of the uncertainty about a candidate's headroom, by subject; samples are rounded up to a power of two."""
    setup = next(s for s in setups if s.name == plan.setups[choice.setup])
    scenario, timeline, night = open_scenario(plan, catalogue, [setup], weathers)
    space = space_of(scenario, timeline)
    columns = len(space.columns)
    samples = 1 << max(samples - 1, 1).bit_length()
    points = even_points(samples, 2 * columns, generator)
    a, b = points[:, :columns], points[:, columns:]
    of_column = np.array(space.subjects)
    subjects = [subject for subject in SUBJECTS if subject in of_column]
    mixed = [np.where(of_column == subject, b, a) for subject in subjects]
    candidate = np.array([[choice.departure, choice.loading_place, 0]])
    every = np.concatenate((a, b, *mixed))
    margins = np.concatenate(
        [
            sampled(scenario, timeline, night, candidate, space.at(every[i : i + CHUNK])).headroom_k[0]
            for i in range(0, len(every), CHUNK)
        ]
    ).astype(np.float64)
    table = np.clip(margins, LOST_K, ENOUGH_HEADROOM_K * 2.0).reshape(-1, samples)
    found = sobol_indices(table[0], table[1], table[2:], generator)
    order = np.argsort(-found.total, kind="stable")
    return VarianceShares(
        choice=choice,
        subjects=tuple(subjects[i] for i in order),
        indices=Indices(*(getattr(found, name)[order] for name in Indices.__dataclass_fields__)),
        headroom_sd_k=float(np.std(table[:2])),
        samples=samples,
    )


SUBJECT_WORDS = {
    "agitation": "how agitated the bees are",
    "bees": "how many bees there are",
    "resting heat": "how much heat quiet bees and brood make",
    "air flow": "how much air passes through the box",
    "water": "how much water the bees have and spend",
    "box": "how the box and its combs take up heat",
    "cold": "how well the bees hold together in the cold",
    "limits": "where harm begins",
    "place": "how warm the loading place gets",
    "forecast": "the weather forecast",
}

WORTH_NAMING = 0.07
"""Smaller shares are not spoken of."""


def sensitivity_lines(found: VarianceShares, most: int = 4) -> list[str]:
    """The largest shares in words, largest first, with their error."""
    lines: list[str] = []
    for subject, share, error in zip(found.subjects[:most], found.share, found.share_error, strict=False):
        if share < WORTH_NAMING:
            break
        subject_text, size = SUBJECT_WORDS[subject], f"{100.0 * share:.0f} ± {100.0 * error:.0f} %"
        lines.append(
            f"Then {subject_text} ({size})."
            if lines
            else say("sure.biggest_unknown_of_the", subject_text=subject_text, size=f"{size}")
        )
    return lines
