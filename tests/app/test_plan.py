"""A plan as a whole: its axes, its ranking, its curves, progress, stopping, and weather that is not there."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

from planner.app.plan.plan import curves, departures_of, plan_trip
from planner.app.plan.results import TYPICAL, UNKNOWN, Choice, Plan
from planner.errors import Cancelled, InputError
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import DepartureWindow


def test_every_candidate_is_ranked_once(plan: Plan) -> None:
    count = plan.departures_s.size * len(plan.loading_places) * len(plan.setups)
    assert len(plan.ranking) == len(set(plan.ranking)) == count


def test_less_harm_ranks_first(plan: Plan) -> None:
    levels = [max(plan.worst_level(c), int(plan.closed_by_day[c.departure])) for c in plan.ranking]
    assert levels == sorted(levels)


def test_curves_are_the_histories_behind_the_outcome(plan: Plan, catalogue: Catalogue) -> None:
    """Marched again alone, the candidate peaks where the board says (nodes against mid-steps: within 0.1 K)."""
    choice = plan.ranking[len(plan.ranking) // 2]
    sampled = curves(plan, choice, catalogue)
    peaks = np.nanmax(sampled.core_c, axis=0)
    box = peaks[:, int(np.argmax(peaks[1]))]
    assert (box.min(), box[1], box.max()) == pytest.approx(plan.peak_c(choice), abs=0.1)


def test_the_ledger_of_the_curves_adds_up(plan: Plan, catalogue: Catalogue) -> None:
    sampled = curves(plan, plan.ranking[0], catalogue)
    made = np.nansum(np.abs(sampled.ledger_w), axis=-1)
    assert np.nanmax(np.abs(sampled.ledger_w.sum(axis=-1))[made > 0] / made[made > 0]) < 1e-9


def test_phases_cover_the_trip_without_gaps(plan: Plan, catalogue: Catalogue) -> None:
    phases = curves(plan, plan.ranking[0], catalogue).phases
    assert [p.start_s for p in phases[1:]] == [p.end_s for p in phases[:-1]]
    assert {p.kind for p in phases} >= {"waiting", "loading", "driving", "settling"}


def test_progress_runs_to_the_end_and_never_back(plan: Plan, catalogue: Catalogue) -> None:
    seen: list[float] = []
    plan_trip(plan.trip, plan.road, plan.weather, catalogue, setups=[AS_DECLARED], on_progress=seen.append)
    assert seen == sorted(seen)
    assert seen[-1] == 1.0


def test_a_stopped_plan_says_so(plan: Plan, catalogue: Catalogue) -> None:
    with pytest.raises(Cancelled):
        plan_trip(plan.trip, plan.road, plan.weather, catalogue, should_stop=lambda: True)


def test_without_weather_the_answer_is_unknown_never_safe(plan: Plan, catalogue: Catalogue) -> None:
    """Twelve hours without air temperature in the midst: trips that need them are unknown, others are not."""
    air = plan.weather.air_c.copy()
    middle = np.abs(plan.weather.time_s - plan.departures_s[4]) < 6 * 3600.0
    air[middle] = np.nan
    holed = plan_trip(plan.trip, plan.road, replace(plan.weather, air_c=air), catalogue, setups=[AS_DECLARED])
    assert holed.worst_level(Choice(4, 0, 0)) == UNKNOWN
    assert np.isnan(holed.peak_c(Choice(4, 0, 0))).all()
    assert any("unknown" in note for note in holed.notes)


def test_a_trip_wholly_beyond_the_weather_is_unknown(plan: Plan, catalogue: Catalogue) -> None:
    later = replace(
        plan.trip,
        window=DepartureWindow(plan.trip.window.first_s + 9e6, plan.trip.window.first_s + 9e6 + 3600.0),
    )
    lost = plan_trip(later, plan.road, plan.weather, catalogue, setups=[AS_DECLARED])
    assert all(lost.worst_level(c) == UNKNOWN for c in lost.ranking)


def test_one_departure_alone_is_the_same_as_among_many(plan: Plan, catalogue: Catalogue) -> None:
    at = float(plan.departures_s[3])
    alone = plan_trip(
        replace(plan.trip, window=DepartureWindow(at, at, 3600.0)),
        plan.road,
        plan.weather,
        catalogue,
        setups=[AS_DECLARED],
    )
    for field in fields(alone.outcomes):
        mine, theirs = (
            getattr(alone.outcomes, field.name)[0, :, 0],
            getattr(plan.outcomes, field.name)[3, :, 0],
        )
        np.testing.assert_allclose(mine, theirs, rtol=1e-9, atol=1e-9, err_msg=field.name)


def test_departures_step_evenly_on_the_true_clock(plan: Plan) -> None:
    trip = replace(plan.trip, window=DepartureWindow(0.0, 7200.0, 1800.0))
    assert departures_of(trip).tolist() == [0.0, 1800.0, 3600.0, 5400.0, 7200.0]


@pytest.mark.parametrize("window", [DepartureWindow(10.0, 0.0, 60.0), DepartureWindow(0.0, 10.0, 0.0)])
def test_a_window_without_departures_is_a_fault(plan: Plan, window: DepartureWindow) -> None:
    with pytest.raises(InputError, match="window"):
        departures_of(replace(plan.trip, window=window))


def test_disturbed_bees_are_never_cooler_than_calm_ones(plan: Plan) -> None:
    peaks = plan.outcomes.peak_core_c
    alive = peaks[..., -1, :] < 42.0
    assert np.all(peaks[..., -1, :][alive] >= peaks[..., 0, :][alive] - 1e-6)
    assert np.all(peaks[..., TYPICAL, :][alive] >= peaks[..., 0, :][alive] - 1e-6)
