"""What would settle an open answer: what moves it most in the samples already made, and what one can do about it."""

from __future__ import annotations

from typing import Protocol

import numpy as np

from planner.app.chance.samples import SampleSpace
from planner.app.chance.sensitivity import SUBJECT_WORDS
from planner.model.records import Floats

SURE = 0.95
"""Share of samples without harm that is enough where nobody says what is accepted."""

WORTH_SETTLING = 0.10
LOGGER = "drive one such box with a temperature logger in its brood nest, and fit it"
REMEDIES = {
    "agitation": LOGGER,
    "resting heat": LOGGER,
    "water": LOGGER,
    "box": LOGGER,
    "cold": LOGGER,
    "bees": "count the frames of bees once the boxes are shut, with the lid off for a moment",
    "air flow": "hold every floor mesh to the light, and measure the openings",
    "place": "lay a thermometer where the boxes will ride, on a like day",
    "forecast": "wait for the next forecast",
}


class Sampled(Protocol):
    """What was judged in samples: their points, (sample, column), and the space they lie in."""

    @property
    def uniform(self) -> Floats: ...

    @property
    def space(self) -> SampleSpace: ...


def settling(known: Sampled, answers: Floats) -> list[str]:
    """What would settle an open question, from what moves its answer most in the samples already made.

    Parameters
    ----------
    answers : (sample,) any number whose spread is the question; NaN where not drawn
    """
    lines: dict[str, float] = {}
    for subject, share in influence(known, answers).items():
        if share >= WORTH_SETTLING and subject in REMEDIES:
            lines[REMEDIES[subject]] = lines.get(REMEDIES[subject], 0.0) + share
    ranked = sorted(lines.items(), key=lambda item: -item[1])[:3]
    out = [f"{text[:1].upper()}{text[1:]}." for text, _ in ranked]
    return out or ["Nothing that can be measured before the trip would settle it: choose by the headroom."]


def influence(known: Sampled, answers: Floats) -> dict[str, float]:
    """Share of the spread of ``answers`` that goes straight with each subject, largest first.

    Squared rank correlations with every unknown of the subject, less what chance gives, scaled to sum to one.
    """
    seen = np.flatnonzero(~np.isnan(answers))
    ranks = np.argsort(np.argsort(answers[seen], kind="stable"), kind="stable").astype(np.float64)
    count = ranks.size
    totals = dict.fromkeys(SUBJECT_WORDS, 0.0)
    if count < 3 or np.ptp(answers[seen]) == 0.0:
        return totals
    points = known.uniform[seen] - known.uniform[seen].mean(axis=0)
    ranks -= ranks.mean()
    scale = np.sqrt((points**2).sum(axis=0) * (ranks**2).sum())
    squared = (points.T @ ranks / np.maximum(scale, 1e-12)) ** 2
    # chance alone gives 1 / (count - 1) on average, and twice the logarithm of their number for the largest of many
    by_chance = (4.0 + 2.0 * np.log(squared.size)) / (count - 1)
    for subject, value in zip(known.space.subjects, squared, strict=True):
        totals[subject] += float(value) if value > by_chance else 0.0
    whole = sum(totals.values()) or 1.0
    return dict(sorted(((s, v / whole) for s, v in totals.items()), key=lambda item: -item[1]))
