"""What is said of chance, by samples made by hand: verdicts, rivals, what is even, what would settle it."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from planner.app.chance.race import Chances, Comparison
from planner.app.chance.sensitivity import SUBJECT_WORDS, Indices, VarianceShares
from planner.app.chance.words import (
    CANNOT_DECIDE,
    LOGGER,
    REMEDIES,
    as_document,
    candidate,
    how_sure,
    influence,
    is_even,
    rivals,
    settling,
    verdict_of,
)
from planner.app.plan.results import Choice
from planner.model.limits import CAUTION, CLEAR, HARM, UNKNOWN
from planner.model.preparations import AS_DECLARED, ROOF_SCREEN
from planner.units import US
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, replace, road, trip

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


def harmed_in(number: int, of: int = 100) -> tuple[int, ...]:
    return (1,) * number + (0,) * (of - number)


# -- verdicts --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("harmed", "verdict"),
    [
        (5, "safe"),
        (6, "probably safe"),
        (20, "probably safe"),
        (21, CANNOT_DECIDE),
        (79, CANNOT_DECIDE),
        (80, CANNOT_DECIDE),
        (81, "harm likely"),
    ],
)
def test_a_verdict_goes_by_the_share_without_harm(harmed: int, verdict: str) -> None:
    """95 of 100 and more are safe, 80 probably so; below 20 harm is likely."""
    known = known_of(harmed_in(harmed))
    assert verdict_of(known, ONLY) == verdict
    assert str(100 - harmed) in how_sure(known).headline


def test_without_weather_or_samples_there_is_no_verdict() -> None:
    assert verdict_of(known_of(level=UNKNOWN), ONLY) == "unknown"
    never = known_of()
    assert verdict_of(replace(never, level=np.full_like(never.level, -1)), ONLY) == "unknown"


@pytest.mark.parametrize(
    ("wins", "ties", "losses", "even"),
    [
        (50, 0, 50, True),
        (64, 0, 36, True),
        (65, 0, 35, False),
        (36, 0, 64, True),
        (35, 0, 65, False),
        (26, 49, 25, True),
        (25, 50, 25, False),
        (0, 0, 0, False),
    ],
)
def test_a_comparison_is_even_where_neither_wins_clearly(
    wins: int, ties: int, losses: int, even: bool
) -> None:
    """Within fifteen of one half of the samples that differ; alike in half of all is another matter."""
    assert is_even(Comparison(wins, ties, losses)) is even


# -- rivals ----------------------------------------------------------------------------------------


def test_rivals_are_the_best_at_another_hour_place_and_as_declared() -> None:
    """Three hours apart is another time of day, two are not."""
    known = known_of(hours=5, places=("open_trailer", "pickup_bed"), setups=(AS_DECLARED, ROOF_SCREEN))
    assert rivals(known, Choice(0, 0, 1)) == [Choice(3, 0, 0), Choice(0, 1, 0), Choice(0, 0, 0)]
    assert rivals(known, Choice(0, 0, 0)) == [Choice(3, 0, 0), Choice(0, 1, 0)]
    assert rivals(known, Choice(2, 1, 0)) == [Choice(0, 0, 0)]
    assert rivals(known_of(), ONLY) == []


def compared(first: Any, second: Any, **more: Any) -> str:
    """What is said of two candidates by their margins."""
    known = known_of((0,) * len(first), **(more or {"places": ("open_trailer", "pickup_bed")}))
    margin = known.headroom_k.reshape(2, -1)
    margin[0], margin[1] = first, second
    known = replace(known, headroom_k=margin.reshape(known.headroom_k.shape))
    (line,) = how_sure(known).comparisons
    return line


def test_candidates_are_compared_in_samples_of_a_hundred() -> None:
    """Better in five of eight, alike in one, worse in two: 62, 12 and 25."""
    line = compared([3.0] * 5 + [2.0, 1.0, 1.0], [2.0] * 8)
    assert all(figure in line for figure in ("62", "12", "25"))
    lost = compared([2.0] * 8, [3.0] * 5 + [2.0, 1.0, 1.0])
    assert line.index("62") < line.index("12") < line.index("25")
    assert lost.split(" ", 1)[0] != line.split(" ", 1)[0]
    alike = compared([2.0] * 8, [2.1] * 8)
    assert "100 of 100" in alike
    even = compared([3.0, 1.0] * 4, [2.0] * 8)
    assert even.count("50") == 2


def test_candidates_are_named_by_what_tells_them_apart() -> None:
    assert "Tuesday" not in compared([3.0] * 8, [2.0] * 8)
    hours = known_of(hours=4)
    (line,) = how_sure(hours).comparisons
    assert "Tuesday 12:00" in line
    assert "Tuesday 15:00" in line
    assert "trailer" not in line.lower()
    screens = known_of(setups=(AS_DECLARED, ROOF_SCREEN))
    (line,) = how_sure(screens, choice=Choice(0, 0, 1)).comparisons
    assert "roof screens on" in line
    assert "Tuesday" not in line


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


# -- what is told ----------------------------------------------------------------------------------


def test_harms_and_bands_are_told() -> None:
    """Harm to the queen in ten of a hundred; margins from 0 to 9.9 K: 0.5, 5.0 and 9.4 at 5, 50 and 95 of 100."""
    known = known_of(harmed_in(10), np.arange(100.0) / 10.0, 30.02 + np.arange(100.0) / 10.0)
    said = how_sure(known)
    assert "10 of 100" in said.chances[0]
    assert "queen" in said.chances[0]
    assert len(said.chances) == 2
    assert all(figure in said.chances[-1] for figure in ("5.0 degrees", "0.5", "9.4"))
    assert all(figure in said.headline for figure in ("90 of 100", "35.0", "30.5", "39.4"))
    assert "94.9" in how_sure(known, units=US).headline


def test_cautions_are_told_from_half_of_the_samples_on() -> None:
    known = known_of((0,) * 8)
    level = known.level.copy()
    level[..., :4, 0], level[..., :3, 2] = CAUTION, CAUTION
    lines = how_sure(replace(known, level=level)).chances
    assert len(lines) == 2
    assert "brood" in lines[0]
    assert "workers" not in lines[0]


def test_the_method_counts_samples_unknowns_and_who_was_left_behind() -> None:
    known = known_of(hours=3)
    level = known.level.copy()
    level[1:, ..., 4:, :] = -1
    method = " ".join(how_sure(replace(known, level=level)).method)
    assert "8 " in method
    assert f"{len(COLUMNS)} " in method
    assert "2 of 3" in method
    assert len(how_sure(known).method) == 2
    sky = replace(known.plan.weather, issued_s=0.0, kind="forecast")
    assert len(how_sure(replace(known, plan=replace(known.plan, weather=sky))).method) == 1


def test_only_what_is_undecided_is_to_be_settled() -> None:
    assert how_sure(known_of(harmed_in(0))).settle == ()
    assert how_sure(known_of(harmed_in(50))).settle


def test_the_document_gives_shares_and_bands_to_four_places() -> None:
    known = known_of(harmed_in(1, 3), np.array([1.0, 2.0, np.nan]))
    row = candidate(known, ONLY)
    assert row["draws"] == 3
    assert row["no_harm"] == 0.6667
    assert row["no_harm_error"] == round(float(np.sqrt(0.6 * 0.4 / 3)), 4)
    assert (row["harm_queen"], row["harm_brood"]) == (0.3333, 0.0)
    assert row["headroom_k"] == row["margin_k"] == [1.05, 1.5, 1.95]
    assert (row["departure"], row["place"], row["setup"]) == (
        "2027-03-30T10:00:00Z",
        "open_trailer",
        "as_declared",
    )
    many = known_of(hours=30)
    document = as_document(many, how_sure(many))
    assert (len(document["candidates"]), document["draws"]) == (24, 8)
    indices = Indices(*(np.array([value]) for value in (0.12345, 0.01, 0.5, 0.02)))
    found = VarianceShares(ONLY, ("agitation",), indices, 1.0, 8)
    assert as_document(many, how_sure(many, found), found)["doubt"] == [
        {
            "subject": "agitation",
            "first": 0.1234,
            "first_error": 0.01,
            "total": 0.5,
            "total_error": 0.02,
            "share": 1.0,
        }
    ]
    assert len(how_sure(many, found).sensitivity) == 1
