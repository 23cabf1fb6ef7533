"""Ranges narrowed by the trade's judgement: which sets of numbers let arrive what arrives and ruin what is ruined?

First every set meets every row with one box; then those that carry the weight, chosen by chance in proportion to it,
meet each with many loads and boxes, and are weighed again. What comes out is written down once and read by all samples.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from planner.app.common.progress import Progress, Stop
from planner.app.trade import likelihood, run, sets, table
from planner.app.trade.likelihood import (
    RULES,
    Rules,
    effective_count,
    effective_share,
    log_likelihood,
    logit,
    outside,
    tempered,
    top_share,
    weights_of,
)
from planner.app.trade.sets import Effort, Sets, normal_scores, prior_sets, ruined_shares, scatter
from planner.app.trade.table import Row, TradeYear
from planner.model.catalogue import Catalogue
from planner.model.parameters import ParameterTable
from planner.model.records import Bools, Floats, Ints
from planner.store.posterior import LEAK, LEVELS, Narrowed, Posterior, fingerprint

SCRIPTS = (*(Path(str(module.__file__)) for module in (likelihood, run, sets, table)), Path(__file__))
"""How a posterior is made: it is stale when one of them, or a table, is no longer the same."""


FULL = Effort(64, 12)
"""Loads, and boxes of each."""

ANY = 0.2
"""Share of the sets looked at closely that are taken whatever the sieve says: its one box a row may be wrong."""


@dataclass(frozen=True)
class Size:
    """How much is simulated: sets met by one box a row, and how many of them by ``effort``."""

    sets: int = 10_000
    fine: int = 300
    effort: Effort = FULL


@dataclass(frozen=True)
class Judged:
    """Sets with what they ruin: ``share`` (set, row); ``chosen`` how much likelier than others each was looked at.

    ``drawn`` all sets there were before any judgement, ``drawn_share`` (row,) what they ruin on average.
    """

    rows: tuple[Row, ...]
    sets: Sets
    share: Floats
    chosen: Floats
    drawn: Sets
    drawn_share: Floats

    def weights(self, rules: Rules = RULES, counted: Bools | None = None) -> Floats:
        """Posterior weights, (set,); the exponent is as large as the rules and the effective sample allow."""
        log_l = log_likelihood(self.share, self.rows, rules, counted)
        return weights_of(log_l, self.exponent(rules, counted), self.chosen)

    def exponent(self, rules: Rules = RULES, counted: Bools | None = None) -> float:
        """The exponent used."""
        log_l = log_likelihood(self.share, self.rows, rules, counted)
        return tempered(log_l, self.chosen, rules.exponent)


Step = Callable[[str], Progress]
"""What is being done, answered by who hears how far it is."""


def silent(_: str) -> Progress:
    """Nobody listens."""
    return lambda _share: None


def judged_sets(
    year: TradeYear,
    catalogue: Catalogue,
    size: Size,
    seed: int,
    *,
    executor: Executor | None = None,
    step: Step = silent,
    should_stop: Stop | None = None,
) -> Judged:
    """Draw sets, sieve them with one box a row, and look closely at those that carry the weight."""
    rows = tuple(year.rows.values())
    generator = np.random.default_rng(seed)
    all_sets = prior_sets(catalogue.parameters, size.sets, generator)

    def shares(some: Sets, effort: Effort, what: str, at: int) -> Floats:
        return ruined_shares(
            rows,
            some,
            effort,
            seed + at,
            catalogue,
            executor=executor,
            on_progress=step(what),
            should_stop=should_stop,
        )

    sieve = shares(all_sets, Effort(), "Sieving", 1)
    sieved = log_likelihood(sieve, rows)
    weights = (1.0 - ANY) * weights_of(sieved, tempered(sieved)) + ANY / size.sets
    chosen = _systematic(weights, size.fine, generator)
    fine = all_sets.take(chosen)
    return Judged(
        rows=rows,
        sets=fine,
        share=shares(fine, size.effort, "Looking closely", 2),
        chosen=weights[chosen] * weights.size,
        drawn=all_sets,
        drawn_share=sieve.mean(axis=0),
    )


def _systematic(weights: Floats, count: int, generator: np.random.Generator) -> Ints:
    """So many sets by chance in proportion to their weight, spread as evenly as can be."""
    at = (np.arange(count) + generator.random()) / count
    return np.asarray(np.minimum(np.searchsorted(np.cumsum(weights), at), weights.size - 1))


# -- the posterior -------------------------------------------------------------------------------


def narrowed(judged: Judged, table_rows: ParameterTable, seed: int, dated: str) -> Posterior:
    """The posterior with everything that is to be told of it."""
    weights = judged.weights()
    rows = {
        name: Narrowed(
            made_from=_made_from(table_rows, name),
            prior=quantiles(judged.drawn.values[name], None),
            posterior=quantiles(value, weights),
        )
        for name, value in judged.sets.values.items()
    }
    scores = np.stack([normal_scores(value, weights) for value in judged.sets.values.values()])
    return Posterior(
        made_of=fingerprint(*SCRIPTS),
        dated=dated,
        seed=seed,
        rows=rows,
        correlation=_correlation(scores, weights),
        scatter=scatter(),
        report=report(judged),
    )


def _made_from(table_rows: ParameterTable, name: str) -> tuple[float, float, float]:
    if name == LEAK:
        return 0.0, -1.0, 1.0
    row = table_rows.rows[name]
    return float(row.value), float(row.low), float(row.high)


def quantiles(values: Floats, weights: Floats | None, levels: Sequence[float] = LEVELS) -> Floats:
    """Quantiles, weighted or not; the ends are the least and the greatest value of any weight."""
    if weights is None:
        return np.asarray(np.quantile(values, levels))
    order = np.argsort(values)
    share = np.cumsum(weights[order]) - 0.5 * weights[order]
    return np.interp(levels, share, values[order])


def _correlation(scores: Floats, weights: Floats) -> Floats:
    """Weighted correlation of (row, set), drawn a little towards none so that it can be taken apart."""
    off = scores - (scores @ weights)[:, None]
    both = (off * weights) @ off.T
    size = np.sqrt(np.maximum(np.diag(both), 1e-12))
    own = np.eye(len(scores))
    return np.asarray(0.98 * both / np.outer(size, size) * (1.0 - own) + own)


# -- what is to be told of it --------------------------------------------------------------------


def report(judged: Judged) -> dict[str, Any]:
    """Effective sample, held-out kinds, what each kind and each rule does to it; shares rounded."""
    weights, log_l = judged.weights(), log_likelihood(judged.share, judged.rows)
    exponent = judged.exponent()
    names = list(dict.fromkeys(row.kind.name for row in judged.rows))
    return {
        "sets": int(weights.size),
        "exponent": exponent,
        "effective_share": effective_share(log_l, exponent, judged.chosen),
        "effective_sets": effective_count(weights),
        "top_hundredth": top_share(weights),
        "held_out_rows": sum(row.kind.held_out for row in judged.rows),
        "held_out_inside": _inside(judged, weights, held_out=True),
        "held_out_covered": _covered(judged, weights, held_out=True),
        "fitted_rows": sum(not row.kind.held_out for row in judged.rows),
        "fitted_inside": _inside(judged, weights, held_out=False),
        "fitted_covered": _covered(judged, weights, held_out=False),
        "products": products(judged, weights),
        "left_out": {name: _shift(judged, weights, _without(judged, name)) for name in names},
        "rules": {
            key: _shift(judged, weights, _under(judged, rules)) for key, rules in varied(exponent).items()
        },
        "rows": {
            row.name: {"prior": float(before), "posterior": float(after)}
            for row, before, after in zip(
                judged.rows, judged.drawn_share, weights @ judged.share, strict=True
            )
        },
    }


def varied(exponent: float) -> Mapping[str, Rules]:
    """The rules with each of their numbers halved and doubled; the exponent that was used is what is halved."""
    used = replace(RULES, exponent=exponent)
    return {
        "exponent_halved": replace(used, exponent=0.5 * exponent),
        "exponent_doubled": replace(used, exponent=2.0 * exponent),
        "error_halved": replace(used, error_share=0.5 * RULES.error_share),
        "error_doubled": replace(used, error_share=2.0 * RULES.error_share),
        "spread_halved": replace(used, spread=0.5 * RULES.spread),
        "spread_doubled": replace(used, spread=2.0 * RULES.spread),
    }


def _under(judged: Judged, rules: Rules) -> Floats:
    """Weights by other rules, with their exponent whatever it leaves."""
    return weights_of(log_likelihood(judged.share, judged.rows, rules), rules.exponent, judged.chosen)


def _without(judged: Judged, kind: str) -> Floats:
    return judged.weights(counted=np.array([row.kind.name != kind for row in judged.rows]))


HEAT = ("frame_bees_factor", "closed_at_night_gain", "bee_mass_kg", "rest_heat_w_kg", "activity_driving")


def products(judged: Judged, weights: Floats) -> dict[str, Any]:
    """Combinations that the loads can tell, 1 in the middle before: 5, 50 and 95 of 100 sets, before and after."""
    before, after = _combined(judged.drawn, judged.drawn), _combined(judged.sets, judged.drawn)
    levels = (0.05, 0.5, 0.95)
    return {
        name: {
            "prior": quantiles(before[name], None, levels).tolist(),
            "posterior": quantiles(after[name], weights, levels).tolist(),
        }
        for name in before
    }


def _combined(some: Sets, drawn: Sets) -> dict[str, Floats]:
    """Heat while driving, and the same for each litre that leaks."""
    parts = [some.values[name] / np.median(drawn.values[name]) for name in HEAT if name in some.values]
    heat = np.asarray(np.prod(parts, axis=0))
    return {"heat_driving": heat, "heat_driving_per_leak": heat / np.exp(some.values[LEAK])}


def _mine(judged: Judged, held_out: bool) -> tuple[Bools, Floats, Floats]:
    mine = np.array([row.kind.held_out == held_out for row in judged.rows])
    low, high = np.array([row.ruined for row in judged.rows]).T
    return mine, low, high


def _inside(judged: Judged, weights: Floats, *, held_out: bool) -> int:
    """Rows whose posterior mean share lies inside the credible range, to the step of a share."""
    mine, low, high = _mine(judged, held_out)
    mean = weights @ judged.share
    return int((outside(mean, low, high) < logit(np.array(0.51)))[mine].sum())


def _covered(judged: Judged, weights: Floats, *, held_out: bool) -> int:
    """Rows whose credible range meets the 90 % band of the predicted share."""
    mine, low, high = _mine(judged, held_out)
    bands = np.array([quantiles(share, weights, (0.05, 0.95)) for share in judged.share.T])
    return int(((bands[:, 0] <= high + 0.005) & (bands[:, 1] >= low - 0.005))[mine].sum())


def _shift(judged: Judged, weights: Floats, other: Floats) -> float:
    """How far other weights move any number's mean, at most, in its posterior standard deviations."""
    values = np.stack(list(judged.sets.values.values()))
    mean = values @ weights
    deviation = np.sqrt(((values - mean[:, None]) ** 2) @ weights)
    return float(np.max(np.abs(values @ other - mean) / np.maximum(deviation, 1e-12)))
