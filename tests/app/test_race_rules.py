"""The race for the best candidate: who is ahead, who leaves, what a share is worth; whence the uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from planner.app.chance import race as race_module
from planner.app.chance.race import (
    NOT_SAMPLED,
    QUANTILES,
    STEP_S,
    UNIT_CELLS,
    Chances,
    Comparison,
    Share,
    _doublings,
    _Race,
    _Unit,
    scores_of,
    share_of,
    space_of,
)
from planner.app.chance.samples import SampleOutcomes
from planner.app.chance.sensitivity import (
    Indices,
    VarianceShares,
    _jansen,
    sensitivity_lines,
    sobol_indices,
)
from planner.app.plan.results import Choice
from planner.model.limits import CAUTION, CLEAR, HARM, UNKNOWN
from planner.model.records import Floats
from tests.app.chancy import opened, planned
from tests.model.scenarios import HOUR_S

QUEEN = 1


def race(
    margins: Sequence[Floats],
    levels: Sequence[Sequence[int]] | None = None,
    *,
    places: int = 1,
    setups: int = 1,
    every_h: float = 1.0,
    duration_h: Sequence[float] | None = None,
) -> _Race:
    """A race whose samples are made by hand: a row of margins, and of levels, for every candidate in plan order.

    NaN margins with level -1 were not sampled. Departures outermost, then places, then set-ups.
    """
    table = np.array(margins, dtype=np.float32)
    n_dep = len(table) // (places * setups)
    shape = (n_dep, places, setups)
    worst = np.zeros(table.shape, dtype=np.int8) if levels is None else np.array(levels, dtype=np.int8)
    worst = np.where(np.isnan(table) & (worst == CLEAR), NOT_SAMPLED, worst)
    level = np.where(worst[..., None] == NOT_SAMPLED, NOT_SAMPLED, np.zeros((*table.shape, 5), dtype=np.int8))
    level[..., QUEEN] = worst
    found: Any = object.__new__(_Race)
    found.wanted = table.shape[1]
    found.plan = SimpleNamespace(
        ranking=tuple(Choice(*map(int, at)) for at in np.ndindex(shape)),
        departures_s=np.arange(n_dep) * every_h * HOUR_S,
        fits=lambda choice: True,
    )
    found.level = level.reshape(*shape, -1, 5)
    found.group_level = found.level.max(axis=-1)[..., None].repeat(2, axis=-1)
    found.headroom = table.reshape(*shape, -1)
    found.harm = np.where(found.level.max(axis=-1) == HARM, 1.0, np.nan).astype(np.float32)
    found.peak = np.full_like(found.headroom, 30.0)
    lasts = np.ones(n_dep) if duration_h is None else np.array(duration_h)
    found.timeline = SimpleNamespace(start_s=np.zeros(n_dep), end_s=lasts * HOUR_S, groups=1)
    found.sample = found.uniform = found.space = None
    return found


def departures(rows: Floats) -> list[int]:
    return [int(row[0]) for row in rows]


# -- a share -------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hits", "samples", "value", "kept"),
    [(4, 8, 0.5, 0.5), (8, 8, 1.0, 0.9), (0, 8, 0.0, 0.1), (62, 98, 62 / 98, 0.63)],
)
def test_a_share_is_as_sure_as_its_count(hits: int, samples: int, value: float, kept: float) -> None:
    """The error is that of a share with one more hit and one more miss: "always" in a few is not certainty."""
    found = share_of(np.arange(samples) < hits)
    assert found.value == pytest.approx(value)
    assert found.error == pytest.approx(np.sqrt(kept * (1.0 - kept) / samples))
    assert found.samples == samples
    assert found.of_hundred == round(100 * value)


def test_no_samples_no_share() -> None:
    found = share_of(np.zeros(0, dtype=bool))
    assert found.samples == 0
    assert np.isnan(found.value)
    assert np.isnan(found.error)


@pytest.mark.parametrize(("count", "share"), [(Comparison(3, 4, 1), 0.75), (Comparison(0, 9, 0), 0.5)])
def test_a_comparison_counts_the_samples_that_differ(count: Comparison, share: float) -> None:
    assert count.share == share
    assert count.samples == count.wins + count.ties + count.losses


@pytest.mark.parametrize(
    ("levels", "headroom_k", "harm_h", "score"),
    [
        ((CLEAR, CLEAR), 2.5, np.nan, 2.5),
        ((CLEAR, CAUTION), 2.5, np.nan, 2.5),
        ((CLEAR, CLEAR), 9.0, np.nan, 4.0),
        ((CLEAR, HARM), -1.0, 0.1, -99.9),
        ((HARM, CLEAR), -1.0, 3.8, -96.2),
        ((HARM, CLEAR), -0.1, 0.1, -99.9),
        ((HARM, CLEAR), -1.0, 99.0, -52.0),
        ((CLEAR, UNKNOWN), 2.5, np.nan, np.nan),
        ((NOT_SAMPLED, NOT_SAMPLED), 2.5, np.nan, np.nan),
    ],
)
def test_a_score_is_the_headroom_that_counts_and_harm_far_below_the_later_the_better(
    levels: tuple[int, int], headroom_k: float, harm_h: float, score: float
) -> None:
    """More than four degrees buy nothing; harm costs a hundred, less an hour each; the unknown has no score."""
    found = scores_of(np.array([levels]), np.array([headroom_k]), np.array([harm_h]))
    assert found == pytest.approx([score], nan_ok=True)


# -- what is read off the samples ----------------------------------------------------------------


@pytest.fixture
def known() -> Chances:
    """Two departures in four samples; the second met three of them."""
    nan = np.nan
    made = race(
        [[3.0, 1.0, 2.0, -1.0], [2.4, 1.2, 2.8, nan]],
        [[CLEAR, CAUTION, CAUTION, HARM], [CLEAR, CLEAR, CLEAR, NOT_SAMPLED]],
    )
    made.peak = np.array([[34.0, 36.0, 35.0, 41.0], [33.0, 33.0, 33.0, nan]]).reshape(2, 1, 1, 4)
    return made.answer(finished=True)


ONE, TWO = Choice(0, 0, 0), Choice(1, 0, 0)


def test_samples_are_those_met(known: Chances) -> None:
    assert known.samples(ONE) == known.sharpness == 4
    assert known.samples(TWO) == 3
    assert known.finished


def test_harm_and_caution_are_shares_of_the_samples_met(known: Chances) -> None:
    assert known.no_harm(ONE).value == 0.75
    assert known.no_harm(TWO).value == 1.0
    assert known.no_harm(TWO).samples == 3
    assert known.harm(ONE, "queen").value == 0.25
    assert known.harm(ONE, "brood").value == 0.0
    assert known.caution_only(ONE, "queen") == 0.5
    assert known.caution_only(ONE, "brood") == 0.0


def test_bands_hold_nine_tenths(known: Chances) -> None:
    assert QUANTILES == (0.05, 0.5, 0.95)
    assert known.peak_band_c(ONE) == pytest.approx([34.15, 35.5, 40.25])
    assert known.headroom_band_k(TWO) == pytest.approx([1.32, 2.4, 2.76])


def test_candidates_are_compared_in_the_samples_both_met(known: Chances) -> None:
    """Gains of 0.6, -0.2 and -0.8 K: better, alike within half a kelvin, worse."""
    assert known.comparison(ONE, TWO) == Comparison(1, 1, 1)
    assert known.comparison(ONE, TWO).samples == 3


def test_half_a_kelvin_is_a_difference() -> None:
    both = race([[2.0, 2.0, 2.0], [1.5, 2.5, 1.75]]).answer(finished=True)
    assert both.comparison(ONE, TWO) == Comparison(1, 1, 1)


# -- who is ahead --------------------------------------------------------------------------------


def test_those_longest_in_the_race_lead() -> None:
    few, many = [3.9] * 4 + [np.nan] * 4, [1.0] * 8
    assert departures(race([few, many])._ranked()) == [1, 0]


def test_least_harm_leads_in_steps_of_its_error() -> None:
    """Sixteen samples: steps of 0.5 / 4 = 1/8. One in 16 is half a step, and rounds to none; two are a step."""
    levels = [[HARM] * harmed + [CLEAR] * (16 - harmed) for harmed in (4, 2, 1, 0)]
    margins = [[3.0] * 16, [3.0] * 16, [3.0] * 16, [2.0] * 16]
    assert departures(race(margins, levels)._ranked()) == [2, 3, 1, 0]


def test_steps_of_harm_are_two_hundredths_at_the_finest() -> None:
    """1024 samples err by 0.5 / 32 = 0.016, less than a step: nine harmed round to none, eleven to a step."""
    levels = [[HARM] * harmed + [CLEAR] * (1024 - harmed) for harmed in (11, 9, 0)]
    margins = [[3.0] * 1024, [3.0] * 1024, [2.0] * 1024]
    assert departures(race(margins, levels)._ranked()) == [1, 2, 0]


def test_margins_lead_in_half_kelvins_up_to_four_then_the_plans_order() -> None:
    """Medians: 2.9 and 2.6 fall into one step, 3.1 into the next; 5 and 9 both count as four; unknown is last."""
    medians = [2.9, 2.6, 3.1, np.nan, 5.0, 9.0]
    found = race([[m] * 5 for m in medians], [[UNKNOWN if np.isnan(m) else CLEAR] * 5 for m in medians])
    assert departures(found._ranked())[:5] == [4, 5, 2, 0, 1]


def test_the_median_counts_not_the_best_sample() -> None:
    assert departures(race([[1.0, 1.0, 4.0], [2.0, 2.0, 2.0]])._ranked()) == [1, 0]


# -- who leaves ----------------------------------------------------------------------------------


def test_who_is_as_good_in_fewer_than_half_leaves() -> None:
    """Eight samples. Held in none, the bound is 1 - 0.01^(1/8) = 0.44, below one half; held in one, 0.59."""
    leader = [3.0] * 8
    never, once = [0.0] * 8, [3.0] + [0.0] * 7
    # all near in time, one place, as declared: no rival of another kind is kept
    found = race([leader, once, never], every_h=0.5)
    assert departures(found.survivors(24)) == [0, 1]


def test_half_a_kelvin_behind_is_not_as_good() -> None:
    found = race([[3.0] * 8, [2.75] * 8, [2.5] * 8], every_h=0.5)
    assert departures(found.survivors(24)) == [0, 1]


def test_only_so_many_stay() -> None:
    found = race([[3.0] * 8] * 5, every_h=0.1)
    assert departures(found.survivors(3)) == [0, 1, 2]


def test_the_best_of_another_kind_stay_whatever_they_are() -> None:
    """Two hours are near, three are another time of day; another place; boxes as declared."""
    worse = [0.0] * 8
    hours = race([[3.0] * 8, worse, worse, worse, worse], every_h=1.0)
    assert departures(hours.survivors(24)) == [0, 3]
    places = race([[3.0] * 8, worse, worse], places=3)
    assert [int(row[1]) for row in places.survivors(24)] == [0, 1]
    declared = race([worse, [3.0] * 8, worse], setups=3)
    assert sorted(int(row[2]) for row in declared.survivors(24)) == [0, 1]


def test_where_nothing_is_known_one_is_kept() -> None:
    blind = race([[np.nan] * 4] * 3, [[UNKNOWN] * 4] * 3, every_h=4.0)
    assert departures(blind.survivors(24)) == [0]


def test_who_was_never_known_does_not_stay() -> None:
    found = race([[3.0] * 4, [np.nan] * 4], [[CLEAR] * 4, [UNKNOWN] * 4])
    assert departures(found.survivors(24)) == [0]


# -- rounds and units ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "expected"), [(8, 64, [8, 16, 32, 64]), (8, 20, [8, 16, 20]), (3, 3, [3])]
)
def test_samples_double_up_to_what_is_asked(first: int, last: int, expected: list[int]) -> None:
    assert _doublings(first, last) == expected


def test_units_are_the_samples_not_yet_met_thirty_two_at_a_time() -> None:
    """Departure 1 met eight samples, 0 and 2 none; they are cut apart, and in order of duration."""
    nan = np.nan
    made = race([[nan] * 80, [1.0] * 8 + [nan] * 72, [nan] * 80], duration_h=[2.0, 1.0, 1.0])
    units = made.units(made.order(), 40)
    assert [(departures(unit.candidates), unit.rows.start, unit.rows.stop) for unit in units] == [
        ([2, 0], 0, 32),
        ([2, 0], 32, 40),
        ([1], 8, 40),
    ]


def test_who_has_met_enough_has_no_work() -> None:
    made = race([[1.0] * 8, [np.nan] * 8])
    assert [departures(unit.candidates) for unit in made.units(made.order(), 8)] == [[1]]


def test_a_unit_holds_so_many_cells_and_at_least_one_candidate(monkeypatch: pytest.MonkeyPatch) -> None:
    """An hour is thirty steps of two minutes: with ten samples 300 cells a candidate, 900 make three a unit."""
    assert (STEP_S, UNIT_CELLS) == (120.0, 1_200_000)
    made = race([[np.nan] * 10] * 7)
    monkeypatch.setattr(race_module, "UNIT_CELLS", 900)
    assert [departures(part) for part in made._cut(made.order(), 10)] == [[0, 1], [2, 3], [4, 5], [6]]
    monkeypatch.setattr(race_module, "UNIT_CELLS", 901)
    assert [departures(part) for part in made._cut(made.order(), 10)] == [[0, 1, 2], [3, 4, 5], [6]]
    monkeypatch.setattr(race_module, "UNIT_CELLS", 1)
    assert [departures(part) for part in made._cut(made.order(), 10)] == [[n] for n in range(7)]


def test_results_are_entered_where_they_belong() -> None:
    made = race([[np.nan] * 4] * 3)
    level = np.zeros((1, 2, 2, 5), dtype=np.int8)
    level[:, :, 1] = CAUTION  # the second group of two
    result = SampleOutcomes(
        level,
        np.array([[35.0, 36.0]]),
        np.array([[1.0, 2.0]]),
        np.array([[np.nan, 3.0]]),
    )
    made.take(_Unit(np.array([[1, 0, 0]]), slice(1, 3)), result)
    assert made.harm[1, 0, 0].tolist() == pytest.approx([np.nan, np.nan, 3.0, np.nan], nan_ok=True)
    assert made.headroom[:, 0, 0].tolist()[1] == pytest.approx([np.nan, 1.0, 2.0, np.nan], nan_ok=True)
    assert made.peak[1, 0, 0].tolist() == [30.0, 35.0, 36.0, 30.0]
    assert made.level[1, 0, 0, :, 0].tolist() == [NOT_SAMPLED, CAUTION, CAUTION, NOT_SAMPLED]
    assert made.group_level[1, 0, 0, 1:3].tolist() == [[CLEAR, CAUTION]] * 2
    assert (made.level[[0, 2]] == NOT_SAMPLED).all()


def test_the_forecast_is_doubted_from_the_first_closing_to_the_last_opening() -> None:
    """Loading takes half an hour before and opening as long after two hours of driving: knots at 0 and 6 h."""
    scenario, timeline, _, _ = opened(planned())
    found = space_of(scenario, timeline)
    assert found.knots_s[0] == timeline.start_s.min()
    assert found.knots_s.size == 2
    assert found.places == ("open_trailer",)


# -- whence the uncertainty ----------------------------------------------------------------------


def test_jansens_estimators_by_hand() -> None:
    """a = 0 0 4 4, b = 0 4 0 4: variance 4. Swapped equal to b: first 1 - 0, total 0.5 x mean(0 16 16 0) / 4."""
    a, b = np.array([0.0, 0.0, 4.0, 4.0]), np.array([0.0, 4.0, 0.0, 4.0])
    first, total = _jansen(a, b, np.stack((b, a)))
    assert first == pytest.approx([1.0, 1.0 - 0.5 * 8.0 / 4.0])
    assert total == pytest.approx([1.0, 0.0])


def test_the_error_of_an_index_is_its_spread_over_resamples() -> None:
    """Linear in one of two equal factors: the error shrinks about as the root of the samples."""
    errors = []
    for count in (64, 1024):
        points = np.random.default_rng(5).normal(size=(4, count))
        a, b = points[0] + points[1], points[2] + points[3]
        swapped = np.stack((points[2] + points[1], points[0] + points[3]))
        errors.append(sobol_indices(a, b, swapped, np.random.default_rng(1)).total_error)
    assert errors[0] / errors[1] == pytest.approx([4.0, 4.0], rel=0.35)
    assert errors[1] == pytest.approx([0.025, 0.025], rel=0.4)


def shares(total: Sequence[float], error: Sequence[float]) -> VarianceShares:
    nothing = np.zeros(len(total))
    indices = Indices(nothing, nothing, np.array(total), np.array(error))
    subjects = ("agitation", "forecast", "air flow", "place", "water")[: len(total)]
    return VarianceShares(Choice(0, 0, 0), subjects, indices, 1.0, 64)


def test_shares_sum_to_one_and_errors_are_scaled_alike() -> None:
    found = shares([0.8, 0.4], [0.08, 0.02])
    assert found.share == pytest.approx([2 / 3, 1 / 3])
    assert found.share_error == pytest.approx([1 / 15, 1 / 60])


def test_no_spread_no_shares() -> None:
    found = shares([0.0, 0.0], [0.0, 0.0])
    assert found.share.tolist() == found.share_error.tolist() == [0.0, 0.0]
    assert sensitivity_lines(found) == []


def test_only_large_shares_are_told_and_at_most_four() -> None:
    said = sensitivity_lines(shares([0.52, 0.30, 0.11, 0.07, 0.0], [0.05, 0.03, 0.01, 0.01, 0.0]))
    assert len(said) == 4
    assert all(
        figure in line for figure, line in zip(("52 ± 5", "30 ± 3", "11 ± 1", "7 ± 1"), said, strict=True)
    )
    assert len(sensitivity_lines(shares([0.60, 0.34, 0.06], [0.0] * 3))) == 2
    assert len(sensitivity_lines(shares([0.2] * 5, [0.0] * 5))) == 4


def test_a_share_is_said_of_a_hundred() -> None:
    assert [Share(value, 0.0, 8).of_hundred for value in (0.994, 0.996, 0.125)] == [99, 100, 12]
