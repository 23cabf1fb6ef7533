"""How well a set of numbers lets the loads arrive that keepers move, and ruins those they say are ruined.

For a row with predicted share p and a credible range, x is how far logit(p) lies outside the range on the logit
scale, and ``log L = sum of w log(e + (1 - e) exp(-x^2 / (2 s^2)))``: a row may err altogether with probability e, so
that no single one of them decides. This is judgement of the trade, weighed; it is no measurement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.app.trade.table import Row
from planner.model.records import Bools, Floats

SHARE_STEP = 0.005
"""Shares are moved by this from 0 and from 1, where the logit has no end."""

LEAST_EFFECTIVE = 0.05
"""Of the sets drawn, the share that must still count in effect: 500 of 10,000."""


@dataclass(frozen=True)
class Rules:
    """``error_share`` e, the chance that a row is wrong; ``spread`` s of the logit; ``exponent`` b on the whole."""

    error_share: float = 0.1
    spread: float = 0.8
    exponent: float = 1.0


RULES = Rules()


def logit(share: Floats) -> Floats:
    """The logit of shares kept off 0 and 1.

    >>> logit(np.array([0.0, 0.5, 1.0])).round(2)
    array([-5.29,  0.  ,  5.29])
    """
    inside = SHARE_STEP + (1.0 - 2.0 * SHARE_STEP) * np.asarray(share, dtype=np.float64)
    return np.asarray(np.log(inside / (1.0 - inside)))


def outside(share: Floats, low: Floats, high: Floats) -> Floats:
    """How far shares lie outside their credible ranges, logits; 0 inside."""
    at = logit(share)
    return np.maximum(np.maximum(logit(low) - at, at - logit(high)), 0.0)


def row_weights(rows: Sequence[Row]) -> Floats:
    """(row,) Rows of a kind share the weight of one; rows that arrive weigh together what ruined ones do."""
    kinds = [row.kind.name for row in rows]
    weights = np.array([row.weight / kinds.count(row.kind.name) for row in rows])
    senses = np.array([row.sense for row in rows])
    sums = {sense: weights[senses == sense].sum() for sense in ("ordinary", "ruining")}
    if min(sums.values()) > 0.0:
        even = 0.5 * sum(sums.values())
        for sense, total in sums.items():
            weights[senses == sense] *= even / total
    return weights


def log_likelihood(
    share: Floats, rows: Sequence[Row], rules: Rules = RULES, counted: Bools | None = None
) -> Floats:
    """Log likelihood of sets, (set,), without the exponent.

    Parameters
    ----------
    share : (set, row) predicted shares ruined
    counted : (row,) rows that count; those of held-out kinds never do
    """
    used = np.array([not row.kind.held_out for row in rows])
    if counted is not None:
        used &= counted
    mine = [row for row, use in zip(rows, used, strict=True) if use]
    low, high = np.array([row.ruined for row in mine]).reshape(-1, 2).T
    x = outside(share[:, used], low, high)
    error = rules.error_share
    each = np.log(error + (1.0 - error) * np.exp(-(x**2) / (2.0 * rules.spread**2)))
    return np.asarray(each @ row_weights(mine))


def weights_of(log_l: Floats, exponent: float, chosen: Floats | None = None) -> Floats:
    """Weights of sets, sum 1; ``chosen`` is how much likelier than others a set was to be looked at."""
    log_w = exponent * log_l - (0.0 if chosen is None else np.log(chosen))
    weights = np.exp(log_w - log_w.max())
    return np.asarray(weights / weights.sum())


def effective_share(log_l: Floats, exponent: float, chosen: Floats | None = None) -> float:
    """Of sets drawn from the prior, the share that counts in effect: ``(mean L)^2 / mean(L^2)``."""
    even = np.ones_like(log_l) if chosen is None else 1.0 / chosen
    even = even / even.sum()
    power = np.exp(exponent * (log_l - log_l.max()))
    return float((even @ power) ** 2 / (even @ power**2))


def tempered(log_l: Floats, chosen: Floats | None = None, most: float = 1.0) -> float:
    """The largest exponent, up to ``most``, that leaves LEAST_EFFECTIVE of the sets counting in effect."""
    if effective_share(log_l, most, chosen) >= LEAST_EFFECTIVE:
        return most
    low, high = 0.0, most
    for _ in range(50):
        middle = 0.5 * (low + high)
        enough = effective_share(log_l, middle, chosen) >= LEAST_EFFECTIVE
        low, high = (middle, high) if enough else (low, middle)
    return low


def effective_count(weights: Floats) -> float:
    """How many equal sets these weights are worth."""
    return float(1.0 / np.sum(weights**2))


def top_share(weights: Floats, top: float = 0.01) -> float:
    """The weight carried by the heaviest one in a hundred of the sets."""
    count = max(round(top * weights.size), 1)
    return float(np.sort(weights)[-count:].sum())
