"""What changed since the last plan, by plans made by hand: which windows, by how much, why, and what is kept."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.app.plan.recheck import (
    MOST_LINES,
    Snapshot,
    changes,
    from_document,
    snapshot,
)
from planner.app.plan.results import CAUTION, HARM, Choice, Plan
from planner.model.preparations import AS_DECLARED, ROOF_SCREEN
from planner.model.records import Weather
from planner.units import US
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, halt, hourly, replace, road, steady, trip

LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday, 12:00 in Rome


def plan_of(headroom_k: Any = (2.0, 2.0, 2.0), sky: Weather | None = None, **more: Any) -> Plan:
    """Three departures an hour apart in one place; margins by departure, alike for all bees."""
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, last_s=LEAVE_S + 2.0 * HOUR_S)
    table = np.reshape(np.asarray(headroom_k, dtype=float), (3, 1, 1, 1, 1))
    return made_plan(asked, road(1.0), sky or steady(15.0), headroom_k=table, **more)


def told(now: Plan, before: Plan, after_s: float = 3600.0, **more: Any) -> list[str]:
    return list(changes(now, snapshot(before, 0.0), snapshot(now, after_s), **more))


# -- which windows -----------------------------------------------------------------------------------


def test_the_age_of_the_last_plan_and_its_source_come_first() -> None:
    first = told(plan_of(), plan_of(), after_s=5400.0)[0]
    assert "1 h 30 min" in first
    assert "invented" in first


@pytest.mark.parametrize(("gained_k", "worth"), [(0.29, False), (0.31, True), (-0.29, False), (-0.31, True)])
def test_a_change_of_three_tenths_is_worth_a_sentence(gained_k: float, worth: bool) -> None:
    lines = told(plan_of([2.0, 2.0 + gained_k, 2.0]), plan_of())[2:]
    assert len(lines) == 1
    assert ("13:00" in lines[0]) is worth
    if worth:
        assert ("gained" if gained_k > 0 else "lost") in lines[0]
        assert "0.3 degrees" in lines[0]


def test_the_largest_change_comes_first() -> None:
    lines = told(plan_of([2.4, 1.0, 4.0]), plan_of())[2:]
    assert [next(clock for clock in ("12:00", "13:00", "14:00") if clock in line) for line in lines] == [
        "14:00",
        "13:00",
        "12:00",
    ]


def test_a_verdict_that_turned_is_said_even_without_margin() -> None:
    verdict = np.zeros((3, 1, 1, 3, 1, 5))
    verdict[1, ..., 0] = HARM
    now, before = plan_of(verdict=verdict), plan_of(verdict=np.minimum(verdict, CAUTION))
    (line,) = told(now, before)[2:]
    assert all(text in line for text in ("13:00", "harm", "caution"))


def test_at_most_so_many_windows_are_told() -> None:
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, last_s=LEAVE_S + 9.0 * HOUR_S)
    now = made_plan(asked, road(1.0), steady(15.0), headroom_k=5.0)
    before = made_plan(asked, road(1.0), steady(15.0), headroom_k=1.0)
    assert len(told(now, before)) == 2 + MOST_LINES


def test_unknown_margins_are_no_change() -> None:
    lines = told(plan_of([np.nan, 2.0, 2.0]), plan_of())
    assert len(lines) == 3
    assert not any("12:00 window" in line for line in lines[2:])


def test_for_each_departure_the_best_candidate_of_both_plans_is_compared() -> None:
    """The ranking's first of each departure: the second place, whose margin rose by one kelvin."""
    asked = trip(NUC, ("open_trailer", "pickup_bed"), leave_s=LEAVE_S)
    margins = np.reshape([2.0, 3.0], (1, 2, 1, 1, 1))
    more = np.reshape([0.0, 1.0], (1, 2, 1, 1, 1))
    now, before = (
        made_plan(asked, road(1.0), steady(15.0), headroom_k=margins + k * more) for k in (1.0, 0.0)
    )
    ranked = (Choice(0, 1, 0), Choice(0, 0, 0))
    (line,) = told(replace(now, ranking=ranked), replace(before, ranking=ranked))[2:]
    assert "1.0 degrees" in line


def test_units_are_the_readers() -> None:
    """One kelvin is 1.8 °F."""
    assert "1.8 °F" in told(plan_of([2.0, 3.0, 2.0]), plan_of(), units=US)[2]
    assert "0.5 °F" in told(plan_of(), plan_of(), units=US)[-1]


# -- the same candidate in another plan ------------------------------------------------------------


def two_places(
    leave_s: float = LEAVE_S, places: tuple[str, ...] = ("open_trailer", "pickup_bed"), **more: Any
) -> Plan:
    asked = trip(NUC, places, leave_s=leave_s)
    return made_plan(asked, road(1.0), steady(15.0), (AS_DECLARED, ROOF_SCREEN), **more)


def test_candidates_are_found_by_name_and_minute_not_by_number() -> None:
    """Places the other way round and 20 s later: the trailer's margin is compared with the trailer's."""
    before = two_places(headroom_k=np.array([1.0, 3.0]).reshape(1, 2, 1, 1, 1))
    now = two_places(
        places=("pickup_bed", "open_trailer"), headroom_k=np.array([3.1, 1.0]).reshape(1, 2, 1, 1, 1)
    )
    now = replace(now, departures_s=now.departures_s + 20.0)
    lines = told(now, before)
    assert len(lines) == 3
    assert "12:00 window" not in lines[2]


@pytest.mark.parametrize("later_s", [30.0, -30.0, 3600.0])
def test_another_minute_is_another_candidate(later_s: float) -> None:
    now = two_places()
    assert len(told(replace(now, departures_s=now.departures_s + later_s), two_places())) == 2


def test_another_place_or_set_up_is_another_candidate() -> None:
    now = two_places()
    old = snapshot(now, 0.0)
    assert (
        len(list(changes(now, replace(old, places=("van_shut_dark", "boot_dark")), snapshot(now, 1.0)))) == 2
    )
    assert len(list(changes(now, replace(old, setups=("misted", "clean_floor")), snapshot(now, 1.0)))) == 2


@pytest.mark.parametrize(
    ("best", "same"),
    [(Choice(0, 0, 0), True), (Choice(0, 1, 0), False), (Choice(0, 0, 1), False)],
)
def test_the_best_is_the_same_only_with_hour_place_and_set_up(best: Choice, same: bool) -> None:
    now = two_places()
    old = replace(snapshot(now, 0.0), best=best)
    line = list(changes(now, old, snapshot(now, 1.0)))[1]
    assert ("still" in line) is same
    assert "12:00" in line


def test_a_new_best_hour_names_both() -> None:
    now = plan_of()
    line = list(changes(now, replace(snapshot(now, 0.0), best=Choice(2, 0, 0)), snapshot(now, 1.0)))[1]
    assert line.index("12:00") < line.index("14:00")


# -- why -------------------------------------------------------------------------------------------


def sky(air_c: float = 15.0, dew_c: float = 8.0, ghi: float = 200.0, wind_ms: float = 2.0) -> Weather:
    time_s = SPRING + np.arange(73) * HOUR_S
    return hourly(time_s, air_c=air_c, dew_c=dew_c, ghi_w_m2=ghi, wind_ms=wind_ms)


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"air_c": 15.75}, "warmer"),
        ({"air_c": 14.25}, "cooler"),
        ({"air_c": 15.65}, ""),
        ({"wind_ms": 2.75}, "more wind"),
        ({"wind_ms": 1.25}, "less wind"),
        ({"wind_ms": 2.65}, ""),
        ({"ghi": 241.0}, "more sun"),
        ({"ghi": 159.0}, "less sun"),
        ({"ghi": 239.0}, ""),
        ({"dew_c": 9.55}, "more humid"),
        ({"dew_c": 6.45}, "drier"),
        ({"dew_c": 9.45}, ""),
    ],
)
def test_a_cause_is_named_once_it_is_large_enough(change: dict[str, float], word: str) -> None:
    """0.7 K of air, 0.7 m/s of wind, 40 W/m2 of sun, 1.5 K of dew point."""
    line = told(plan_of([2.0, 3.0, 2.0], sky(**change)), plan_of(sky=sky()))[2]
    words = ("warmer", "cooler", "more wind", "less wind", "more sun", "less sun", "more humid", "drier")
    assert [each for each in words if each in line] == ([word] if word else [])


def test_weather_is_meant_from_closing_to_arrival() -> None:
    """Air as many degrees warm as hours have passed: a quarter-hour mean from 11:30 to 13:00 is that of 12:15.

    Loading takes half an hour before noon, the drive an hour.
    """
    time_s = SPRING + np.arange(73) * HOUR_S
    warming = hourly(time_s, air_c=np.arange(73.0), dew_c=0.0, ghi_w_m2=0.0)
    kept = snapshot(plan_of(sky=warming), 0.0)
    assert kept.weather["air_c"] == pytest.approx([34.25, 35.25, 36.25])


def test_weather_is_that_of_the_whole_way_with_its_stops() -> None:
    """An hour's halt half way: from 11:30 to 14:00, in the middle 12:45."""
    time_s = SPRING + np.arange(73) * HOUR_S
    warming = hourly(time_s, air_c=np.arange(73.0), dew_c=0.0, ghi_w_m2=0.0)
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, stops=[halt(60)])
    kept = snapshot(made_plan(asked, road(1.0, waypoints=3), warming), 0.0)
    assert kept.weather["air_c"] == pytest.approx([34.75])


# -- what is kept ----------------------------------------------------------------------------------


def test_a_snapshot_keeps_the_worst_of_typical_bees() -> None:
    """Two groups and three kinds of bees: margin of the tighter group, level of the worse, of typical bees."""
    asked = trip((NUC, NUC), "open_trailer", leave_s=LEAVE_S)
    margin = np.array([[9.0, 9.0], [2.5, 1.5], [-1.0, -2.0]]).reshape(1, 1, 1, 3, 2)
    verdict = np.zeros((1, 1, 1, 3, 2, 5))
    verdict[..., 1, 1, 3] = CAUTION
    verdict[..., 2, :, :] = HARM
    kept = snapshot(made_plan(asked, road(1.0), headroom_k=margin, verdict=verdict), 12.0)
    assert kept.headroom_k.tolist() == [[[1.5]]]
    assert kept.level.tolist() == [[[CAUTION]]]
    assert (kept.made_s, kept.best) == (12.0, Choice(0, 0, 0))


def test_a_kept_plan_is_plain_values_with_none_for_unknown() -> None:
    kept = snapshot(plan_of([np.nan, 2.0, 3.5]), 7.0)
    document = kept.as_document()
    assert document["headroom_k"] == [[[None]], [[2.0]], [[3.5]]]
    assert document["departures_s"] == [LEAVE_S + hours * HOUR_S for hours in (0, 1, 2)]
    assert document["best"] == [0, 0, 0]
    assert (document["places"], document["setups"]) == (["open_trailer"], ["as_declared"])
    assert document["level"] == [[[0.0]], [[0.0]], [[0.0]]]
    assert document["made_s"] == 7.0


def test_a_plan_kept_by_an_earlier_edition_still_reads() -> None:
    """What is called headroom now was a margin then."""
    document = snapshot(plan_of([1.0, 2.0, 3.5]), 7.0).as_document()
    document["margin_k"] = document.pop("headroom_k")
    assert from_document(document).headroom_k.tolist() == [[[1.0]], [[2.0]], [[3.5]]]


def test_a_kept_plan_reads_back_as_it_was() -> None:
    kept = snapshot(two_places(headroom_k=np.array([np.nan, 3.0]).reshape(1, 2, 1, 1, 1)), 7.0)
    kept = replace(kept, best=Choice(0, 1, 0))
    again = from_document(kept.as_document())
    assert isinstance(again, Snapshot)
    for name in ("made_s", "places", "setups", "best", "source"):
        assert getattr(again, name) == getattr(kept, name), name
    for name in ("departures_s", "headroom_k", "level"):
        assert np.array_equal(getattr(again, name), getattr(kept, name), equal_nan=True), name
    assert {n: v.tolist() for n, v in again.weather.items()} == {
        n: v.tolist() for n, v in kept.weather.items()
    }
