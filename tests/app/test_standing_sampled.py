"""Minutes one may stand, from samples: what half the variants have, and what 5 in 100 fall short of."""

from __future__ import annotations

import numpy as np

from planner.app.answer.settled import ONLY, settled_plan
from planner.app.answer.tally import fates_of
from planner.app.standing.reserve import load_of, ranked, sampled_reserve
from planner.app.standing.words import reserve_words
from tests.app.answered import NIGHT, asked, tiny
from tests.model.scenarios import HOUR_S, NUC, catalogue, replace


def test_the_shorter_minutes_are_those_of_5_in_100_and_come_from_the_answers_samples() -> None:
    """A strong nucleus with solid lid in a boot by day: it runs out, in some variants sooner."""
    planned = tiny(replace(NUC, frames_of_bees=6.0), "boot_dark", leave_s=NIGHT - 8.0 * HOUR_S, departures=1)
    found = asked(planned, 20.0, 32.0, counts=(8, 16), otherwise=False)
    said = found.answer(finished=True)
    assert said.best is not None
    plan = settled_plan(said, said.best, catalogue())
    drawn = found.race.field
    stood = sampled_reserve(plan, ONLY, catalogue(), drawn, samples=16, spacing_s=1800.0, horizon_s=3600.0)
    half, few = stood.after_s[:, 0, 0], stood.after_s[:, 0, 1]
    known = ~np.isnan(half)
    assert known.any()
    assert (few[known] <= half[known]).all()
    assert stood.samples == 16
    text = reserve_words(plan, stood, catalogue())
    assert "agitated" not in text.headline
    again = sampled_reserve(plan, ONLY, catalogue(), drawn, samples=16, spacing_s=1800.0, horizon_s=3600.0)
    np.testing.assert_array_equal(again.after_s, stood.after_s)


def test_a_load_has_what_its_first_group_has_in_each_sample() -> None:
    """Two groups that give out in turn: each has 60 minutes at the worst in one sample of two, the load in both."""
    minutes = np.array([[60.0, 200.0], [200.0, 60.0], [60.0, 210.0], [300.0, 60.0]]) * 60.0
    after_s = minutes[None, None]  # (moment, variant, sample, group)
    aboard, none = np.zeros((1, 1, 1, 2), dtype=bool), np.zeros(after_s.shape, dtype=bool)
    load_s, first = load_of(after_s, aboard, none)
    assert (load_s[0, 0] == 3600.0).all()
    assert first[0, 0].tolist() == [1, 0]
    gone, _ = load_of(after_s, ~aboard, none)
    assert np.isnan(gone).all()
    alone, group = load_of(after_s, np.array([[[[True, False]]]]), none)
    assert (alone[0, 0, 0], group[0, 0, 0]) == (60.0 * 60.0, 1)


def test_samples_harmed_anyway_shorten_no_minutes() -> None:
    """Found in use: two of 32 variants harmed at loading made it 0 minutes for the rest of a cold night."""
    minutes = np.array([0.0, 0.0, 40.0, 50.0, 60.0, np.inf])
    after_s = 60.0 * minutes[None, None, :, None]
    lost = np.zeros(after_s.shape, dtype=bool)
    lost[0, 0, 1] = True  # harmed anyway; the first is at its action level now
    aboard = np.zeros((1, 1, 1, 1), dtype=bool)
    load_s, _ = load_of(after_s, aboard, lost)
    assert load_s[0, 0].tolist() == [50.0 * 60.0, 0.0]
    lost[0, 0, 0] = True
    load_s, _ = load_of(after_s, aboard, lost)
    assert load_s[0, 0].tolist() == [50.0 * 60.0, 40.0 * 60.0]
    everybody = np.ones(after_s.shape, dtype=bool)
    assert load_of(after_s, aboard, everybody)[0][0, 0].tolist() == [0.0, 0.0]


def test_a_load_is_lost_with_any_of_its_groups_at_every_moment() -> None:
    """Once harm is done to a group, or is to come, no minute of that sample counts, wherever the group is by then."""
    after_s = 60.0 * np.array([[0.0, 30.0], [40.0, 50.0]])[None, None]
    lost = after_s == 0.0
    aboard = np.zeros((1, 1, 1, 2), dtype=bool)
    assert load_of(after_s, aboard, lost)[0][0, 0].tolist() == [40.0 * 60.0] * 2
    gone = np.array([[[[True, False]]]])
    assert load_of(after_s, gone, lost)[0][0, 0].tolist() == [50.0 * 60.0] * 2


def test_what_is_left_out_are_the_variants_that_the_answer_counts_as_harmed_all_along_the_road() -> None:
    """Found in use: of a load harmed in 4 of 100 every row of the yard said 0 minutes, and every later one six hours.

    Samples beyond the danger limit were told as at the action level, until a dose or the cool of the drive hid them.
    """
    planned = tiny(replace(NUC, frames_of_bees=6.0), "boot_dark", leave_s=NIGHT - 3.0 * HOUR_S, departures=1)
    found = asked(planned, 14.0, 26.0, counts=(8, 32), otherwise=False)
    said = found.answer(finished=True)
    one = next(each for each in said.candidates if each.setup == "as_declared")
    plan = settled_plan(said, one, catalogue())
    stood = sampled_reserve(plan, ONLY, catalogue(), found.race.field, horizon_s=3600.0)
    harmed = fates_of(found.race.field, one.key).harmed.any(axis=0)
    assert 2 < stood.harmed == harmed.sum() < 28
    assert stood.load_s is not None
    few = stood.load_s[:, 0, 1]
    assert few[0] > 0.0, "loaded, and harmed by it in some variants"
    assert np.isfinite(few[np.flatnonzero(few == 0.0)[0] :]).all(), "no time at all, and then all there is"
    told = " ".join(line for _, lines in reserve_words(plan, stood, catalogue()).sections for line in lines)
    assert f"In {stood.harmed} of 32 variants" in told


def test_half_and_five_in_100_are_ranks_of_those_that_count() -> None:
    """Of 32 the 16th and the 2nd, shortest first; of 21 the 11th and the 2nd."""
    after_s = np.arange(32.0)[None, None, ::-1]
    none = np.zeros(after_s.shape, dtype=bool)
    assert np.take_along_axis(after_s, ranked(after_s, none), axis=2)[0, 0].tolist() == [15.0, 1.0]
    lost = after_s < 11.0
    assert np.take_along_axis(after_s, ranked(after_s, lost), axis=2)[0, 0].tolist() == [21.0, 12.0]
