"""Which candidate is best, by plans made by hand; what a plan and its curves are made of, by small ones."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.app.plan import simulate as simulate_module
from planner.app.plan.plan import (
    _ranking,
    curves,
    departures_of,
    plan_trip,
    vehicle_track,
)
from planner.app.plan.results import CAUTION, HARM, LEDGER_TERMS, UNKNOWN, Choice, Curves, Plan
from planner.app.plan.room import room_of
from planner.model.closing import closing_times
from planner.model.preparations import AS_DECLARED, CLEAN_FLOOR, ROOF_SCREEN, SetUp
from planner.model.records import DepartureWindow
from planner.model.timeline import build_timeline
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, plan, replace, road, steady, trip

LEAVE_S = SPRING + 34.0 * HOUR_S
PLACES = ("open_trailer", "pickup_bed", "van_shut_dark")


def order(
    setups: tuple[SetUp, ...] = (AS_DECLARED,), by_day: Any = False, departures: int = 1, **outcomes: Any
) -> list[tuple[int, int, int]]:
    """Candidates as (departure, place, set-up), best first; three places, two groups of one box and of three."""
    asked = trip(
        (NUC, replace(NUC, label="more", count=3)),
        PLACES,
        leave_s=LEAVE_S,
        last_s=LEAVE_S + (departures - 1) * HOUR_S,
    )
    made = made_plan(asked, road(1.0), setups=setups, **outcomes)
    leaves = departures_of(asked)
    timeline = build_timeline(asked, made.road, leaves, closing_times(asked, made.road, leaves))
    shut = np.broadcast_to(np.asarray(by_day, dtype=bool), leaves.shape)
    room = [room_of(asked, catalogue(), name) for name in asked.loading_places]
    headroom_k = np.minimum(made.hotter_k, made.colder_k)
    found = _ranking(asked, catalogue(), timeline, setups, made.outcomes, headroom_k, shut, room)
    return [(c.departure, c.loading_place, c.setup) for c in found]


def places(**outcomes: Any) -> list[int]:
    return [place for _, place, _ in order(**outcomes)]


def verdicts(*of_place: dict[tuple[int, int], int]) -> np.ndarray:
    """Levels by (kind of bees, group) for each place."""
    table = np.zeros((1, 3, 1, 3, 2, 5))
    for place, levels in enumerate(of_place):
        for (bees, group), level in levels.items():
            table[0, place, 0, bees, group, 2] = level
    return table


def test_harm_of_typical_bees_comes_first_then_of_agitated_ones() -> None:
    typical, agitated = {(1, 0): CAUTION}, {(2, 0): HARM}
    assert places(verdict=verdicts(typical, agitated, {})) == [2, 1, 0]


def test_calm_bees_do_not_count() -> None:
    calm = np.zeros((1, 3, 1, 3, 2))
    calm[0, 1, 0, 0] = -9.0
    assert places(headroom_k=9.0 + calm, verdict=verdicts({}, {(0, 0): HARM}, {})) == places() == [1, 2, 0]


def test_the_fewer_boxes_are_harmed_the_better() -> None:
    """One box of four in the first group, three of four in the second."""
    levels = verdicts({(1, 1): HARM}, {(1, 0): HARM}, {(1, 0): HARM, (1, 1): HARM})
    assert places(verdict=levels) == [1, 0, 2]


def test_what_is_unknown_comes_last() -> None:
    assert places(verdict=verdicts({(1, 1): UNKNOWN}, {(1, 0): HARM, (1, 1): HARM}, {})) == [2, 1, 0]


def test_the_headroom_is_that_of_the_tightest_group_with_typical_bees() -> None:
    headroom = np.full((1, 3, 1, 3, 2), 3.0)
    headroom[0, 0, 0, 1, 1], headroom[0, 1, 0, 1, 0], headroom[0, 2, 0, 2, 1] = 1.0, 2.0, 0.0
    assert places(headroom_k=headroom) == [2, 1, 0]


def test_boxes_harmed_are_expected_over_the_kinds_of_bees() -> None:
    """Both harm one box of four with typical bees; with agitated ones the first harms all."""
    levels = verdicts({(1, 0): HARM, (2, 0): HARM, (2, 1): HARM}, {(1, 0): HARM, (2, 0): HARM}, {})
    assert places(verdict=levels) == [2, 1, 0]


def test_of_places_that_harm_alike_the_one_that_harms_later_leads() -> None:
    """Five minutes against nearly four hours after closing, whatever the peaks of the dead."""
    shut_s = LEAVE_S - 1800.0
    first_s = np.reshape([shut_s + 300.0, shut_s + 13_680.0, np.nan], (1, 3, 1, 1, 1))
    peaks = np.reshape([38.0, 50.0, 35.0], (1, 3, 1, 1, 1))
    levels = verdicts({(1, 0): HARM, (1, 1): HARM}, {(1, 0): HARM, (1, 1): HARM}, {})
    assert places(verdict=levels, first_harm_s=first_s, peak_core_c=peaks) == [2, 1, 0]


def test_shut_by_day_weighs_as_a_caution() -> None:
    departures = [departure for departure, _, _ in order(by_day=[True, False], departures=2, headroom_k=1.0)]
    assert departures == [1, 1, 1, 0, 0, 0]


def test_among_equals_the_least_work_goes_first() -> None:
    """Trailer 2, bed and van 1 each; scraping 1, screens 2."""
    efforts = [catalogue().loading_places[name].effort for name in PLACES]
    assert efforts == [2, 1, 1]
    setups = (ROOF_SCREEN, CLEAN_FLOOR, AS_DECLARED)
    ranked = order(setups)
    work = [efforts[place] + setups[setup].effort for _, place, setup in ranked]
    assert work == sorted(work)
    assert ranked[0] == (0, 1, 2)


# -- departures and batches ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("window", "expected"),
    [
        (DepartureWindow(0.0, 100.0, 60.0), [0.0, 60.0]),
        (DepartureWindow(0.0, 120.0, 60.0), [0.0, 60.0, 120.0]),
        (DepartureWindow(0.0, 119.0, 60.0), [0.0, 60.0]),
        (DepartureWindow(25.0, 25.0, 600.0), [0.0]),
        (DepartureWindow(35.0, 35.0, 600.0), [60.0]),
        (DepartureWindow(0.0, 300.0, 150.0), [0.0, 120.0, 300.0]),
    ],
)
def test_departures_are_whole_minutes_within_the_window(
    window: DepartureWindow, expected: list[float]
) -> None:
    """150 s are two minutes and a half: the nearest even minute is taken."""
    assert departures_of(replace(trip(NUC, PLACES), window=window)).tolist() == expected


def test_batches_make_no_difference_and_tell_how_far_they_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three departures, three kinds of bees: batches of one departure, of two, of one again where not even one fits."""
    weak = replace(NUC, frames_of_bees=2.0)
    short = {"loading_s": 60.0, "open_after_s": 60.0}
    asked = trip(weak, "open_trailer", leave_s=LEAVE_S, last_s=LEAVE_S + 2.0 * HOUR_S, **short)
    found = []
    for cases, shares in (
        (3, [1 / 3, 2 / 3, 1.0]),
        (6, [2 / 3, 1.0]),
        (2400, [1.0]),
        (1, [1 / 3, 2 / 3, 1.0]),
    ):
        monkeypatch.setattr(simulate_module, "BATCH_CASES", cases)
        seen: list[float] = []
        found.append(
            plan_trip(
                asked, road(0.2), steady(15.0), catalogue(), setups=(AS_DECLARED,), on_progress=seen.append
            )
        )
        assert seen == pytest.approx(shares)
    monkeypatch.setattr(simulate_module, "BATCH_CASES", 2400)
    monkeypatch.setattr(simulate_module, "BATCH_CELLS", 3 * 60)
    found.append(plan_trip(asked, road(0.2), steady(15.0), catalogue(), setups=(AS_DECLARED,)))
    for other in found[1:]:
        assert other.outcomes.peak_core_c == pytest.approx(found[0].outcomes.peak_core_c, abs=1e-9)
        assert other.ranking == found[0].ranking


# -- curves ----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def small() -> Plan:
    """A swarm without comb and a nuc, loaded at the lay-by half way; an hour of driving and ten minutes there."""
    swarm = replace(
        NUC,
        label="swarm",
        frames_of_bees=0.0,
        bees_kg=1.0,
        open_brood_frames=0.0,
        sealed_brood_frames=0.0,
        stores_frames=0.0,
    )
    late = replace(NUC, load_waypoint=1, frames_of_bees=2.0)
    return plan(
        trip((swarm, late), "open_trailer", leave_s=LEAVE_S, stops=[halt(10)]),
        road(1.0, waypoints=3),
        steady(15.0),
    )


@pytest.fixture(scope="module")
def drawn(small: Plan) -> Curves:
    return curves(small, Choice(0, 0, 0), catalogue())


def test_curves_run_from_the_first_closing_to_the_last_opening(small: Plan, drawn: Curves) -> None:
    """Half an hour to load, seventy minutes under way, half an hour to open: 130 minutes."""
    assert drawn.time_s.size == 130
    assert drawn.time_s[0] == small.closed_s[0] + 30.0
    assert drawn.core_c.shape == (130, 3, 2)


def test_a_box_that_is_open_has_no_curve(drawn: Curves) -> None:
    """The second group is shut when it is lifted, half an hour of driving after the first hour of waiting."""
    shut = np.flatnonzero(drawn.closed[:, 1])
    assert (shut[0], shut[-1]) == (60, 129)
    for values in (drawn.core_c, drawn.box_air_c, drawn.local_c, drawn.humidity_share, drawn.co2_share):
        assert np.isnan(values[:60, :, 1]).all()
        assert not np.isnan(values[60:, :, 1]).any()
    assert not np.isnan(drawn.core_c[:, :, 0]).any()


def test_bees_without_comb_have_no_stores(drawn: Curves) -> None:
    assert np.isnan(drawn.stores_c[:, :, 0]).all()
    assert not np.isnan(drawn.stores_c[60:, :, 1]).any()


def test_heat_made_is_positive_and_heat_lost_negative(drawn: Curves) -> None:
    """In air of 15 C: bees and brood warm, air and walls cool; no sun, and a lid that sees the night sky."""
    term = {name: drawn.ledger_w[70:, 1, 1, i] for i, name in enumerate(LEDGER_TERMS)}
    assert (term["adults"] > 0.0).all()
    assert (term["brood"] > 0.0).all()
    assert (term["air"] < 0.0).all()
    assert (term["walls"] < 0.0).all()
    assert (term["water"] <= 0.0).all()
    assert (term["sun"] < 0.0).all()
    assert (term["sun"] > -3.0).all()
    assert sum(term.values()) == pytest.approx(0.0, abs=1e-9)


def test_water_is_told_in_millilitres(drawn: Curves) -> None:
    """A swarm of a kilogram carries more than ten millilitres and less than a litre."""
    assert 10.0 < drawn.water_ml[0, 1, 0] < 1000.0


def test_the_vehicle_waits_drives_and_stands(small: Plan, drawn: Curves) -> None:
    """At the origin until wheels turn; 40 km half an hour on; ten minutes there; 80 km at the end."""
    at = {minute: i for i, minute in enumerate(np.round((drawn.time_s - LEAVE_S) / 60.0 - 0.5))}
    assert [drawn.km[at[m]] for m in (-30, -1, 31, 39, 75)] == pytest.approx([0.0, 0.0, 40.0, 40.0, 80.0])
    assert drawn.speed_ms[at[15]] == pytest.approx(80.0 / 3.6)
    assert drawn.speed_ms[at[35]] == 0.0
    assert drawn.outside_c == pytest.approx(15.0)
    assert drawn.wind_east_ms == pytest.approx(2.0)
    timeline = build_timeline(
        small.trip, small.road, small.departures_s, closing_times(small.trip, small.road, small.departures_s)
    )
    vehicle, _ = vehicle_track(
        small, timeline, small.departures_s[None] + np.array([[-1200.0], [600.0], [1e5]])
    )
    assert vehicle.on_board[:, 0].tolist() == [True, True, False]
    assert vehicle.moving[:, 0].tolist() == [False, True, False]


def test_what_of_the_catalogue_was_left_out_is_a_note_of_the_plan() -> None:
    """A profile fitted under other parameters, say."""
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S)
    left_out = replace(catalogue(), remarks=("mine.toml is not used.",))
    found = plan_trip(asked, road(0.2), steady(15.0), left_out, setups=(AS_DECLARED,))
    assert found.notes[0] == "mine.toml is not used."
