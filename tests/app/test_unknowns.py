"""Sobol indices against an analytic function and another program; the uncertainty of a trip in words."""

from __future__ import annotations

import re

import numpy as np
import pytest
from SALib.analyze import sobol
from scipy.stats import qmc

from planner.app.chance.sensitivity import (
    VarianceShares,
    sensitivity,
    sensitivity_lines,
    sobol_indices,
)
from planner.app.plan.results import Choice
from planner.model.records import Floats
from tests.app.chancy import planned
from tests.model.scenarios import NUC, catalogue, replace

FIRST = np.array([0.3139, 0.4424, 0.0])
TOTAL = np.array([0.5576, 0.4424, 0.2437])
"""Ishigami & Homma 1990 with a = 7, b = 0.1: V1 = (1 + b pi^4/5)^2 / 2, V2 = a^2/8, V13 = 8 b^2 pi^8 / 225,
over their sum; the figures are computed from these formulas in ``test_the_analytic_figures``."""


def ishigami(unit: Floats) -> Floats:
    x = np.pi * (2.0 * unit - 1.0)
    return np.sin(x[:, 0]) + 7.0 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])


def swapped_runs(answer: object, factors: int, samples: int, seed: int = 0) -> tuple[Floats, Floats, Floats]:
    points = qmc.Sobol(2 * factors, scramble=True, seed=np.random.default_rng(seed)).random(samples)
    a, b = points[:, :factors], points[:, factors:]
    mixed = [np.where(np.arange(factors) == i, b, a) for i in range(factors)]
    return answer(a), answer(b), np.array([answer(m) for m in mixed])


def test_the_analytic_figures() -> None:
    one = 0.5 * (1.0 + 0.1 * np.pi**4 / 5.0) ** 2
    two, both = 49.0 / 8.0, 8.0 * 0.01 * np.pi**8 / 225.0
    whole = one + two + both
    assert np.array([one, two, 0.0]) / whole == pytest.approx(FIRST, abs=1e-4)
    assert np.array([one + both, two, both]) / whole == pytest.approx(TOTAL, abs=1e-4)


def test_indices_of_the_ishigami_function() -> None:
    found = sobol_indices(*swapped_runs(ishigami, 3, 8192), np.random.default_rng(1))
    assert found.first == pytest.approx(FIRST, abs=0.02)
    assert found.total == pytest.approx(TOTAL, abs=0.02)


def test_the_stated_error_is_honest() -> None:
    """Over 40 small runs the indices miss by no more than about their stated error."""
    forecast_error = []
    for seed in range(40):
        found = sobol_indices(*swapped_runs(ishigami, 3, 256, seed), np.random.default_rng(seed))
        forecast_error.append(
            np.concatenate(
                ((found.first - FIRST) / found.first_error, (found.total - TOTAL) / found.total_error)
            )
        )
    within = np.mean(np.abs(forecast_error) < 2.0)
    assert within > 0.85


def test_an_answer_that_never_changes_has_no_doubt() -> None:
    flat = sobol_indices(np.ones(8), np.ones(8), np.ones((2, 8)), np.random.default_rng(0))
    assert flat.first.tolist() == flat.total.tolist() == [0.0, 0.0]


def test_salib_finds_the_same() -> None:
    """SALib's estimators differ (Saltelli 2010 for the first order); the figures agree within both errors."""
    a, b, swapped = swapped_runs(ishigami, 3, 4096)
    flat = np.column_stack([a, *swapped, b]).ravel()
    problem = {"num_vars": 3, "names": list("xyz"), "bounds": [[-np.pi, np.pi]] * 3}
    theirs = sobol.analyze(problem, flat, calc_second_order=False, seed=1)
    ours = sobol_indices(a, b, swapped, np.random.default_rng(1))
    assert ours.total == pytest.approx(theirs["ST"], abs=0.005)
    assert ours.first == pytest.approx(theirs["S1"], abs=0.03)


# -- the uncertainty of a trip -------------------------------------------------------------------------


@pytest.fixture(scope="module")
def closed_box() -> VarianceShares:
    """A closed strong box on a mild day: only its own heat matters."""
    box = replace(NUC, floor="solid", frames_of_bees=2.0)
    return sensitivity(
        planned(box, high_c=18.0, low_c=8.0), Choice(0, 0, 0), catalogue(), np.random.default_rng(3)
    )


def test_agitation_is_among_what_leads_the_doubt_after_where_harm_begins(closed_box: VarianceShares) -> None:
    """The trade's judgement has narrowed what bees make, but says nothing of where harm begins.

    Agitation 19 +-2 % beside the box 21 +-2 %; it was second while boxes were drawn beyond any range of it.
    """
    assert closed_box.subjects[0] == "limits"
    assert set(closed_box.subjects[1:3]) == {"agitation", "box"}
    assert closed_box.share.sum() == pytest.approx(1.0)
    assert np.all(np.diff(closed_box.indices.total) <= 0.0)
    assert closed_box.headroom_sd_k > 0.3


def test_the_biggest_unknown_is_named_first_with_its_error(closed_box: VarianceShares) -> None:
    first, *others = sensitivity_lines(closed_box)
    assert re.fullmatch(r"Biggest unknown: where harm begins \(\d+ ± \d+ % of the uncertainty\)\.", first)
    assert all(re.fullmatch(r"Then .+ \(\d+ ± \d+ %\)\.", line) for line in others)
