"""What is said of chance, by samples made by hand: verdicts, rivals, what is even, what would settle it."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from planner.app.chance.race import Chances
from planner.app.chance.sensitivity import SUBJECT_WORDS
from planner.app.chance.words import (
    LOGGER,
    REMEDIES,
    influence,
    settling,
)
from planner.app.plan.results import Choice
from planner.model.limits import CLEAR, HARM
from planner.model.preparations import AS_DECLARED
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, road, trip

LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday 30 March, 12:00 in Rome
ONLY = Choice(0, 0, 0)
COLUMNS = ("all agitation", "forecast member", "air 0", "place seat", "leak")
SUBJECTS = ("agitation", "forecast", "forecast", "place", "air flow")


def known_of(
    harmed: Sequence[int] | np.ndarray = (0,) * 8,
    headroom_k: Any = 2.0,
    peak_c: Any = 35.0,
    *,
    hours: int = 1,
    places: tuple[str, ...] = ("open_trailer",),
    setups: Any = (AS_DECLARED,),
    level: int = CLEAR,
    uniform: np.ndarray | None = None,
) -> Chances:
    """Every candidate alike in the samples: harmed where 1 stands, ranked in the order of the axes."""
    asked = trip(NUC, places, leave_s=LEAVE_S, last_s=LEAVE_S + (hours - 1) * HOUR_S)
    verdict = np.full((1, 5), level)
    found = made_plan(asked, road(1.0), setups=setups, verdict=verdict)
    count = len(harmed)
    shape = (hours, len(places), len(setups), count)
    levels = np.zeros((*shape, 5), dtype=np.int8)
    levels[..., 1] = np.asarray(harmed) * HARM
    points = np.random.default_rng(1).random((count, len(COLUMNS))) if uniform is None else uniform
    space: Any = SimpleNamespace(columns=COLUMNS, subjects=SUBJECTS)
    sample: Any = None
    return Chances(
        plan=found,
        level=levels,
        peak_c=np.broadcast_to(np.asarray(peak_c, dtype=float), shape).copy(),
        headroom_k=np.broadcast_to(np.asarray(headroom_k, dtype=float), shape).copy(),
        harm_h=np.where(np.broadcast_to(np.asarray(harmed), shape) > 0, 1.0, np.nan),
        ranking=found.ranking,
        sample=sample,
        uniform=points,
        space=space,
        wanted=count,
        finished=True,
    )


# -- rivals ----------------------------------------------------------------------------------------


# -- what would settle it --------------------------------------------------------------------------


def points_along(answers: np.ndarray, column: int) -> np.ndarray:
    """Points of which one column goes with the answers and the others with nothing."""
    points = np.random.default_rng(3).random((answers.size, len(COLUMNS)))
    points[:, column] = answers
    return points


def test_what_goes_with_the_answer_is_what_moves_it() -> None:
    answers = np.linspace(0.0, 1.0, 64)
    for column, subject in ((0, "agitation"), (2, "forecast"), (3, "place"), (4, "air flow")):
        known = known_of((0,) * 64, uniform=points_along(answers, column))
        found = influence(known, answers)
        assert next(iter(found)) == subject
        assert found[subject] == pytest.approx(1.0, abs=0.2)
        assert sum(found.values()) == pytest.approx(1.0)
        assert found == influence(known, np.exp(9.0 * answers))  # only ranks count
        assert list(found) == sorted(found, key=lambda s: -found[s])


def test_what_chance_alone_gives_does_not_count() -> None:
    """Squared rank correlations below 4 / (n - 1) are nought."""
    known = known_of((0,) * 64)
    noise = np.random.default_rng(11).random(64)
    found = influence(known, noise)
    points, ranks = known.uniform, np.argsort(np.argsort(noise)).astype(float)
    squared = np.array([np.corrcoef(points[:, i], ranks)[0, 1] ** 2 for i in range(len(COLUMNS))])
    kept = np.where(squared > 4.0 / 63.0, squared, 0.0)
    expected = dict.fromkeys(SUBJECT_WORDS, 0.0)
    for subject, value in zip(SUBJECTS, kept, strict=True):
        expected[subject] += value / (kept.sum() or 1.0)
    assert found == pytest.approx(expected)


@pytest.mark.parametrize("answers", [np.array([1.0, 2.0] + [np.nan] * 6), np.ones(8)])
def test_too_few_answers_or_all_alike_say_nothing(answers: np.ndarray) -> None:
    assert set(influence(known_of(), answers).values()) == {0.0}


def test_unknown_samples_are_left_out() -> None:
    answers = np.linspace(0.0, 1.0, 64)
    known = known_of((0,) * 64, uniform=points_along(answers, 3))
    holed = np.where(np.arange(64) % 4 == 0, np.nan, answers)
    assert next(iter(influence(known, holed))) == "place"


def test_one_remedy_stands_for_all_it_settles() -> None:
    """Agitation and the place by turns: the larger first; both told once each."""
    answers = np.linspace(0.0, 1.0, 64)
    points = points_along(answers, 0)
    points[:, 3] = np.where(np.arange(64) % 3 == 0, 0.5, answers)
    lines = settling(known_of((0,) * 64, uniform=points), answers)
    assert [line.lower().rstrip(".") for line in lines] == [LOGGER.lower(), REMEDIES["place"].lower()]
    assert len(settling(known_of(), np.ones(8))) == 1
