"""samples: their ranges, their likeness, their honesty against synthetic truth."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from scipy.stats import spearmanr

from planner.app.chance.race import open_scenario, space_of
from planner.app.chance.samples import NOT_SAMPLED, Sample, SampleSpace, evaluate_samples, sampled, subject_of
from planner.model.cases import case_grid, run
from planner.model.preparations import AS_DECLARED, ROOF_SCREEN
from planner.model.timeline import GRID_S
from planner.store.forecast_error import KINDS, load_forecast_error
from tests.app.chancy import NOON, opened, planned
from tests.model.scenarios import HIVE, HOUR_S, NUC, catalogue

TABLE = catalogue().parameters
RANGED = {row.name for row in TABLE.rows.values() if row.low < row.high}
PLACES = ("open_trailer", "van_shut_dark")


@pytest.fixture(scope="module")
def space() -> SampleSpace:
    return SampleSpace(TABLE, PLACES, NOON, NOON + 20.0 * HOUR_S, load_forecast_error())


@pytest.fixture(scope="module")
def sample(space: SampleSpace) -> Sample:
    return space.sample(1024, np.random.default_rng(1))


def test_every_number_with_a_range_is_drawn_or_said_not_to_be(sample: Sample) -> None:
    assert set(sample.values) | set(NOT_SAMPLED) >= RANGED
    assert not set(sample.values) & set(NOT_SAMPLED)
    assert set(NOT_SAMPLED) <= set(TABLE.rows)


def test_every_unknown_is_about_something(space: SampleSpace) -> None:
    assert {subject_of(name) for name in RANGED - set(NOT_SAMPLED)} | {"place", "forecast"} == set(
        space.subjects
    )


def test_every_number_stays_in_its_range_about_its_value(sample: Sample) -> None:
    for name, sampled_values in sample.values.items():
        row = TABLE.rows[name]
        assert sampled_values.min() >= row.low - 1e-12, name
        assert sampled_values.max() <= row.high + 1e-12, name
        assert (sampled_values < row.value).mean() == pytest.approx(
            0.5 if row.low < row.value else 0.0, abs=0.05
        ), name


def test_a_nervous_colony_is_nervous_all_day(sample: Sample) -> None:
    """The activity rows lean the same way by the stated correlation; other numbers go their own ways."""
    stated = load_forecast_error().agitation_correlation
    alike = spearmanr(sample.values["activity_waiting"], sample.values["activity_jolt"]).statistic
    assert alike == pytest.approx(stated, abs=0.06)
    apart = spearmanr(sample.values["activity_jolt"], sample.values["mesh_porosity"]).statistic
    assert abs(apart) < 0.1


def test_the_same_seed_draws_the_same_worlds(space: SampleSpace) -> None:
    first, again = (space.sample(8, np.random.default_rng(5)) for _ in range(2))
    other = space.sample(8, np.random.default_rng(6))
    assert np.array_equal(first.error, again.error)
    assert not np.array_equal(first.error, other.error)


def test_errors_of_the_forecast_fade_into_each_other(sample: Sample) -> None:
    """Unit spread at every knot; alike by 1/e where the table's memory lies between."""
    air = sample.error[:, :, KINDS.index("air")]
    assert air.std(axis=0) == pytest.approx(1.0, abs=0.05)
    apart = round(load_forecast_error().correlation_h * HOUR_S / np.diff(sample.knots_s)[0])
    assert np.corrcoef(air[:, 0], air[:, apart])[0, 1] == pytest.approx(np.exp(-1.0), abs=0.08)


@pytest.mark.parametrize("kind", KINDS)
def test_longer_forecasts_miss_by_more(kind: str) -> None:
    spread = load_forecast_error().sd(kind, np.arange(0.0, 241.0, 6.0))
    assert np.all(np.diff(spread) >= 0.0)
    assert spread[-1] > 1.3 * spread[0]


def test_the_middle_of_all_ranges_is_the_plan() -> None:
    """One draw at every middle of the table's ranges, by the minute, is the typical case to rounding, in all groups."""
    groups = (NUC, replace(HIVE, loading_place="van_shut_dark"), replace(NUC, frames_of_bees=3.0))
    found = planned(
        groups, ("open_trailer", "van_shut_dark"), last_s=NOON + HOUR_S, setups=(AS_DECLARED, ROOF_SCREEN)
    )
    scenario, timeline, night, _ = opened(found, (AS_DECLARED, ROOF_SCREEN))
    space = space_of(scenario, timeline, narrowed=False)
    middle = space.at(np.full((1, len(space.columns)), 0.5))
    every = np.array([(d, k, u) for d in range(2) for k in range(2) for u in range(2)])
    simulated = evaluate_samples(scenario, timeline, night, every, middle, step_s=GRID_S)
    grid = case_grid(
        found.trip,
        found.road,
        found.weather,
        catalogue(),
        found.loading_places,
        (AS_DECLARED, ROOF_SCREEN),
        (0.0,),
    )
    expected = run(grid, timeline, night).assessed()
    assert simulated.judged.peak_core_c == pytest.approx(expected.peak_core_c, abs=1e-9)
    assert np.array_equal(simulated.judged.verdict, expected.verdict)


def test_the_longer_step_of_the_draws_is_fine_enough() -> None:
    """Half of all peaks within 0.1 K of the minute steps; harm differs in at most 3 of 100 samples."""
    scenario, timeline, night, space = opened(planned())
    sample = space.sample(256, np.random.default_rng(2))
    only = np.zeros((1, 3), dtype=np.int64)
    fine, coarse = (
        evaluate_samples(scenario, timeline, night, only, sample, **step).judged
        for step in ({"step_s": GRID_S}, {})
    )
    assert np.median(np.abs(fine.peak_core_c - coarse.peak_core_c)) < 0.1
    harmed = [(judged.verdict == 2).any(axis=-1) for judged in (fine, coarse)]
    assert np.mean(harmed[0] != harmed[1]) <= 0.03


def test_a_warmer_forecast_error_never_cools_a_living_box() -> None:
    """Where bees die, less of them are left to heat the box: those samples are left out."""
    scenario, timeline, night, space = opened(planned())
    sample = space.sample(64, np.random.default_rng(2))
    warmer = sample.error.copy()
    warmer[:, :, KINDS.index("air")] += 1.0
    only = np.zeros((1, 3), dtype=np.int64)
    cool, warm = (
        sampled(scenario, timeline, night, only, s) for s in (sample, replace(sample, error=warmer))
    )
    alive = cool.peak_c < 44.0
    assert alive.mean() > 0.5
    assert np.all(warm.peak_c[alive] >= cool.peak_c[alive] - 0.05)
    assert warm.peak_c[alive].mean() > cool.peak_c[alive].mean() + 0.2


def test_calm_and_disturbed_are_never_confused() -> None:
    """The calmer half of the samples is cooler and safer than the other, in every quarter of the peaks."""
    scenario, timeline, night, space = opened(planned())
    sample = space.sample(256, np.random.default_rng(2))
    seen = sampled(scenario, timeline, night, np.zeros((1, 3), dtype=np.int64), sample)
    calm = sample.agitation < np.median(sample.agitation)
    share = (0.25, 0.5, 0.75)
    assert np.all(np.quantile(seen.peak_c[0, calm], share) < np.quantile(seen.peak_c[0, ~calm], share))
    harmed = (seen.level[0] == 2).any(axis=-1)
    assert harmed[calm].mean() < 0.6 * harmed[~calm].mean()


def test_the_same_worlds_sharpen_a_comparison() -> None:
    """The difference of two departures spreads less than half as much as it would by independent samples."""
    found = planned(last_s=NOON + 2.0 * HOUR_S, step_s=2.0 * HOUR_S, high_c=22.0)
    scenario, timeline, night, space = opened(found)
    both = np.array([(0, 0, 0), (1, 0, 0)])
    peaks = sampled(scenario, timeline, night, both, space.sample(256, np.random.default_rng(2))).peak_c
    together = np.var(peaks[0] - peaks[1])
    apart = np.var(peaks[0]) + np.var(peaks[1])
    assert together < 0.5 * apart


def test_the_band_holds_nine_of_ten_synthetic_truths() -> None:
    """1,000 trips whose truth is drawn by another generator: 85 to 95 % end inside the 90 % band."""
    found = planned(last_s=NOON + 4.0 * HOUR_S, hours=1.0)
    scenario, timeline, night, space = opened(found)
    inside = []
    truths = np.random.default_rng(99)
    for departure in range(5):
        only = np.array([(departure, 0, 0)])
        band = sampled(scenario, timeline, night, only, space.sample(256, np.random.default_rng(departure)))
        low, high = np.quantile(band.peak_c[0], (0.05, 0.95))
        truth = space.at(truths.random((200, len(space.columns))))
        peaks = sampled(scenario, timeline, night, only, truth).peak_c[0]
        inside.append((peaks >= low) & (peaks <= high))
    assert 0.85 <= np.mean(inside) <= 0.95


def test_members_of_an_ensemble_take_turns() -> None:
    """Half of the samples of two weathers meet each; the hotter one gives the hotter boxes."""
    cool, hot = (planned(high_c=high).weather for high in (20.0, 34.0))
    found = planned(high_c=20.0)
    scenario, timeline, night = open_scenario(found, catalogue(), (AS_DECLARED,), (cool, hot))
    space = SampleSpace(TABLE, scenario.place_names, NOON, NOON + HOUR_S, scenario.forecast_error, members=2)
    sample = space.sample(64, np.random.default_rng(4))
    assert np.bincount(sample.member).tolist() == [32, 32]
    peaks = sampled(scenario, timeline, night, np.zeros((1, 3), dtype=np.int64), sample).peak_c[0]
    assert np.median(peaks[sample.member == 1]) > np.median(peaks[sample.member == 0]) + 2.0


def test_a_batch_can_be_sent_to_another_process() -> None:
    scenario, timeline, night, space = opened(planned())
    sample = space.sample(4, np.random.default_rng(4))
    work = (scenario, timeline, night, np.zeros((1, 3), dtype=np.int64), sample)
    there = pickle.loads(pickle.dumps(work))
    assert np.array_equal(sampled(*there).peak_c, sampled(*work).peak_c)
