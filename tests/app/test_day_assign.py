"""The assignment of a collection day against trying everything, its limits and what it says is missing."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.optimize import milp

from planner.app.day.serving import assign as assigning
from planner.app.day.serving.assign import assign, drawn, score, shortage, used
from tests.app.day_problems import by_trying, is_kept, made


def some(quick: int, of: int) -> list[Any]:
    """So many always, the others with the slow tests."""
    return [*range(quick), *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(quick, of))]


def small(seed: int) -> tuple[int, int]:
    """Buyers and slots: at most five and four."""
    rng = np.random.default_rng(seed)
    return int(rng.integers(1, 6)), int(rng.integers(1, 5))


def check_against_everything(seed: int, *, told: bool) -> None:
    buyers, slots = small(seed)
    problem = made(seed, buyers, slots, closings=1 if buyers > 4 else 2, told=told)
    found = assign(problem)
    assert found.exact
    assert score(problem, found) == pytest.approx(by_trying(problem), abs=1e-5)
    assert is_kept(problem, found.taken.tolist())


@pytest.mark.parametrize("seed", some(8, of=12))
def test_a_small_day_is_planned_as_well_as_by_trying_everything(seed: int) -> None:
    check_against_everything(seed, told=seed % 3 == 0)


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.parametrize("seed", range(500))
def test_500_small_days_are_planned_as_well_as_by_trying_everything(seed: int) -> None:
    check_against_everything(10_000 + seed, told=seed % 3 == 0)


def check_limits(seed: int) -> None:
    rng = np.random.default_rng(seed)
    problem = made(seed, int(rng.integers(5, 20)), int(rng.integers(3, 9)), kinds=3)
    found = assign(problem)
    of, standing = used(problem, found)
    assert (of <= problem.limit + 1e-6).all()
    assert (standing <= problem.stay_limit + 1e-6).all()
    boxes = drawn(problem, found.taken, np.zeros((found.taken.size, 3)))
    assert boxes is not None
    assert (boxes.sum(axis=0) <= problem.kind_limit).all()
    assert (boxes.sum(axis=1) == problem.need[found.taken]).all()
    assert (boxes[~problem.members[problem.pool[found.taken]]] == 0).all()


@pytest.mark.parametrize("seed", some(3, of=8))
def test_no_plan_uses_more_than_there_is(seed: int) -> None:
    check_limits(seed)


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_1000_plans_use_no_more_than_there_is() -> None:
    for seed in range(1000):
        check_limits(20_000 + seed)


def roomy(seed: int, buyers: int = 8) -> tuple[object, np.ndarray]:
    """A day with enough of everything, and the sort of every limit: hands, screens, boxes, shade."""
    problem = made(seed, buyers, 4)
    problem = problem.with_limits(np.full(problem.limits.size, 99.0))
    sorts = np.concatenate((np.zeros(4), [1], np.full(2, 2), np.full(4, 3))).astype(int)
    return problem, sorts


def check_binding(seed: int) -> None:
    """One limit is made short; what is named has to be it, and raising it as much as said has to serve as many."""
    problem, sorts = roomy(seed)
    sort = seed % 4
    limits = problem.limits.copy()
    limits[sorts == sort] = 0.0 if sort == 1 else 1.0
    if sort == 1:  # only with a screen is anybody safe
        with_screen = np.asarray(problem.uses[4].toarray()).ravel() > 0
        problem, _ = problem.only(with_screen)
    short = problem.with_limits(limits)
    served = short.buyers - assign(short).put_off.size
    roomy_served = problem.buyers - assign(problem).put_off.size
    missing = shortage(short, sorts, served)
    if served == roomy_served:
        assert missing is None
        return
    assert missing is not None
    assert {int(sorts[row]) for row, _ in missing.missing} == {sort}
    assert missing.more == roomy_served - served
    for row, amount in missing.missing:
        limits[row] += amount
    assert problem.buyers - assign(problem.with_limits(limits)).put_off.size == roomy_served
    row, amount = missing.missing[0]
    limits[row] -= 1.0
    assert problem.buyers - assign(problem.with_limits(limits)).put_off.size < roomy_served


@pytest.mark.parametrize("seed", some(4, of=8))
def test_what_is_short_is_named_with_how_much(seed: int) -> None:
    check_binding(seed)


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_what_is_short_is_named_in_200_days() -> None:
    for seed in range(200):
        check_binding(30_000 + seed)


@pytest.mark.parametrize("seed", some(3, of=8))
def test_what_is_named_is_enough_where_not_everything_can_be_tried(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assigning, "MOST_TO_PROVE", 0)
    monkeypatch.setattr(assigning, "MORE_OPTIONS", 1)
    problem, sorts = roomy(60_000 + seed)
    short = problem.with_limits(np.where(sorts == 0, 1.0, problem.limits))
    served = short.buyers - assign(short).put_off.size
    missing = shortage(short, sorts, served)
    assert missing is not None
    limits = short.limits
    for row, amount in missing.missing:
        limits[row] += amount
    assert short.buyers - assign(short.with_limits(limits)).put_off.size == served + missing.more


def test_no_search_is_cut_short_by_a_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    """On a slow machine the answer is the same: how far a search goes is counted, and where it ends early is said."""
    asked: list[dict[str, float]] = []

    def counted(*args: Any, **kwargs: Any) -> Any:
        asked.append(dict(kwargs["options"]))
        return milp(*args, **kwargs)

    monkeypatch.setattr("scipy.optimize.milp", counted)
    assign(made(3, 12, 6))
    assert asked
    assert all("node_limit" in each and each["time_limit"] >= 60.0 for each in asked), asked


def test_what_helps_only_together_is_named_together() -> None:
    """Without hands and without screens nobody is served: more of either alone would help nobody."""
    problem, sorts = roomy(2)
    with_screen = np.asarray(problem.uses[4].toarray()).ravel() > 0
    problem, _ = problem.only(with_screen)
    short = problem.with_limits(np.where(sorts < 2, 0.0, problem.limits))
    missing = shortage(short, sorts, 0)
    assert missing is not None
    assert {int(sorts[row]) for row, _ in missing.missing} == {0, 1}
    assert missing.more == problem.buyers - assign(problem).put_off.size


def test_nothing_is_named_where_no_option_is_safe() -> None:
    problem, sorts = roomy(1)
    none, _ = problem.only(np.zeros(problem.options, dtype=bool))
    assert shortage(none, sorts, 0) is None


def test_told_appointments_move_only_where_somebody_would_be_put_off() -> None:
    problem = made(5, 5, 4, told=True)
    free = replace(problem, limit=np.full(problem.limit.size, 99.0), kind_limit=np.full(2, 99.0))
    free = replace(free, stay_limit=np.full(free.stay_limit.size, 99.0))
    found = assign(free)
    unmoved = {int(b) for b in free.buyer[~free.moved]}
    assert all(not free.moved[found.option[b]] for b in unmoved)


def check_upset(seed: int) -> int:
    """How many others move when screens are torn or one buyer comes later: told hours are those of a first plan."""
    rng = np.random.default_rng(seed)
    problem = made(seed, 12, 8, kinds=3)
    limits = problem.limits + rng.integers(1, 3, problem.limits.size)
    problem = problem.with_limits(limits)
    before = assign(problem)
    slot = np.asarray(problem.uses[:8].argmax(axis=0)).ravel()
    told = np.where(before.option >= 0, slot[before.option], -1)
    may = slot >= told[problem.buyer]  # never earlier
    upset = int(rng.integers(12))
    if seed % 2:
        may &= (problem.buyer != upset) | (slot >= told[upset] + 2)
    else:
        torn = problem.limits.copy()
        torn[8] = max(torn[8] - 2.0, 0.0)
        problem = problem.with_limits(torn)
    moved = (told[problem.buyer] >= 0) & (slot != told[problem.buyer])
    again, kept = replace(problem, moved=moved).only(may)
    after = assign(again)
    now = np.where(after.option >= 0, slot[kept[after.option]], -1)
    others = np.arange(12) != (upset if seed % 2 else -1)
    assert (now[after.option >= 0] >= told[after.option >= 0]).all()
    return int(((now != told) & (told >= 0) & others).sum())


@pytest.mark.parametrize("seed", some(2, of=4))
def test_an_upset_moves_few(seed: int) -> None:
    assert check_upset(40_000 + seed) <= 3


@pytest.mark.hour
@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_at_most_3_others_move_in_95_of_100_upsets() -> None:
    moved = np.array([check_upset(50_000 + seed) for seed in range(200)])
    assert (moved <= 3).mean() >= 0.95
