"""Standing and tipping, read off results made by hand: the shortest reserve, the worst spot, the tightest box."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.app.plan.results import CAUTION, HARM, Choice, Plan
from planner.app.standing.delays import JAM, Delay, Delayed
from planner.app.standing.reserve import (
    DOORS,
    ENGINE,
    MISTED,
    OFF_BOARD,
    SHADE,
    SHUT,
    Reserve,
    _nodes,
    _variants,
    reserve,
)
from planner.app.standing.tipping import HeadroomAlong, TippingAt, headroom_along, tipping_at
from planner.app.standing.words import (
    reserve_document,
    reserve_words,
    spot_text,
    tipping_document,
    tipping_words,
)
from planner.errors import InputError
from planner.model.cases import case_grid
from planner.model.preparations import AS_DECLARED
from planner.model.standstill import CAUSES
from planner.model.timeline import Timeline
from planner.model.tipping import Tipping
from planner.units import US
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, plan, replace, road, steady, trip

ONLY = Choice(0, 0, 0)
LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday 30 March, 12:00 in Rome
INF, NAN = np.inf, np.nan


@pytest.fixture(scope="module")
def driven() -> Plan:
    """Three hours, a lay-by after 120 of 240 km."""
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, stops=[halt(30)])
    return made_plan(asked, road(3.0, waypoints=3))


def reserve_of(after_min: Any, groups: int = 1, **more: Any) -> Reserve:
    """Minutes (moment, variant, agitation, group), half an hour and 40 km apart from noon on; inf beyond six hours."""
    minutes = np.asarray(after_min, dtype=float)
    n = minutes.shape[0]
    usual: dict[str, Any] = {
        "choice": ONLY,
        "time_s": LEAVE_S + np.arange(n) * 1800.0,
        "km": np.arange(n) * 40.0,
        "lat_deg": 45.0 + np.arange(n),
        "lon_deg": np.full(n, 8.0),
        "moving": np.ones(n, dtype=bool),
        "variants": (SHUT, SHADE)[: minutes.shape[1]],
        "agitations": ("typical", "agitated"),
        "groups": ("nuc", "upper row")[:groups],
        "after_s": minutes * 60.0,
        "cause": np.where(np.isnan(minutes), OFF_BOARD, np.where(np.isinf(minutes), -1, 1)),
        "horizon_s": 6.0 * HOUR_S,
    }
    return Reserve(**(usual | more))


TWO_GROUPS = [  # two moments, one variant, (typical, agitated) x two groups
    [[[90.0, 60.0], [30.0, 45.0]]],
    [[[INF, NAN], [20.0, NAN]]],
]


def test_the_reserve_is_that_of_the_group_that_gives_out_first() -> None:
    found = reserve_of(TWO_GROUPS, 2)
    assert (found.shortest_s() / 60.0).tolist() == [60.0, INF]
    assert (found.shortest_s(0, 1) / 60.0).tolist() == [30.0, 20.0]
    assert [found.first_group(0), found.first_group(0, 0, 1), found.first_group(1, 0, 1)] == [1, 0, 0]


def test_the_worst_moment_is_the_one_of_least_reserve() -> None:
    found = reserve_of(TWO_GROUPS, 2)
    assert (found.worst(), found.worst(0, 1)) == (0, 1)
    assert reserve_of([[[[INF], [INF]]]]).worst() is None


def test_what_is_unknown_on_board_is_not_passed_over() -> None:
    """Unknown is not the same as not on board: no figure is given, and no worst moment made of it."""
    found = reserve_of([[[[NAN, 50.0], [NAN, 50.0]]]], 2, cause=np.full((1, 1, 2, 2), -1))
    assert np.isnan(found.shortest_s()).all()
    assert found.worst() is None
    empty = reserve_of([[[[NAN], [NAN]]]])
    assert np.isnan(empty.shortest_s()).all()


# -- what is asked -----------------------------------------------------------------------------------


def timeline(boarded_min: list[float], unloaded_min: list[float]) -> Timeline:
    """One departure; minutes after the first closing."""
    events = {name: np.zeros((1, len(boarded_min))) for name in ("closed_s", "opened_s")}
    return Timeline(
        departure_s=np.zeros(1),
        arrive_s=np.zeros((1, 2)),
        leave_s=np.zeros((1, 2)),
        boarded_s=np.array([boarded_min]) * 60.0,
        unloaded_s=np.array([unloaded_min]) * 60.0,
        **events,
    )


def test_moments_run_from_the_first_loading_to_the_last_unloading() -> None:
    """Every five minutes by minute steps; at least one moment; a spacing below a minute is a minute."""
    assert _nodes(timeline([30.0, 10.0], [20.0, 40.0]), 600.0).tolist() == [10, 20, 30]
    assert _nodes(timeline([10.0], [41.0]), 600.0).tolist() == [10, 20, 30, 40]
    assert _nodes(timeline([10.0], [10.0]), 600.0).tolist() == [10]
    assert _nodes(timeline([10.0], [13.0]), 5.0).tolist() == [10, 11, 12]


@pytest.mark.parametrize(
    ("place", "variants"),
    [
        ("open_trailer", (SHUT, SHADE, MISTED)),
        ("van_shut_dark", (SHUT, DOORS, SHADE, MISTED)),
        ("cabin_seat_cooled", (SHUT, DOORS, SHADE, MISTED, ENGINE)),
    ],
)
def test_only_ways_to_stand_that_make_sense_are_tried(place: str, variants: tuple[Any, ...]) -> None:
    grid = case_grid(trip(NUC, place), road(1.0), steady(15.0), catalogue(), [place], [AS_DECLARED])
    assert _variants(grid) == variants


def test_each_way_to_stand_does_one_thing() -> None:
    flags = ("doors_open", "shade", "misted", "engine_on")
    done = {v.name: [f for f in flags if getattr(v, f)] for v in (SHUT, DOORS, SHADE, MISTED, ENGINE)}
    assert done == {
        "shut": [],
        "doors": ["doors_open"],
        "shade": ["shade"],
        "misted": ["misted"],
        "engine": ["engine_on"],
    }


@pytest.fixture(scope="module")
def weak() -> Plan:
    """A weak nuc on an hour's drive at a steady 20 C."""
    return plan(trip(replace(NUC, frames_of_bees=2.0), "open_trailer"), road(1.0), steady(20.0))


def test_a_cool_light_box_may_stand_for_all_the_time_asked(weak: Plan) -> None:
    shares: list[float] = []
    found = reserve(weak, ONLY, catalogue(), spacing_s=1800.0, horizon_s=1800.0, on_progress=shares.append)
    leave = float(weak.departures_s[0])
    assert found.time_s.tolist() == [leave - 1800.0, leave, leave + 1800.0]
    assert found.km == pytest.approx([0.0, 0.0, 40.0])
    assert np.isinf(found.after_s).all()
    assert (found.cause == -1).all()
    assert (found.horizon_s, found.worst()) == (1800.0, None)
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


# -- in words ----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("km", "text"),
    [
        (0.0, "at Old Yard"),
        (0.15, "between Old Yard and Lay-by"),
        (0.3, "between Old Yard and Lay-by"),
        (60.0, "between Old Yard and Lay-by"),
        (119.9, "at Lay-by"),
        (120.0, "at Lay-by"),
        (121.0, "between Lay-by and New Yard"),
        (240.0, "at New Yard"),
    ],
)
def test_a_spot_is_at_a_waypoint_within_two_hundred_metres_before_it(
    driven: Plan, km: float, text: str
) -> None:
    found = reserve_of([[[[60.0], [30.0]]]], km=np.array([km]))
    spot = spot_text(driven, found, 0)
    assert spot.startswith(text)
    assert "Tuesday 12:00" in spot


def said(driven: Plan, found: Reserve, *delays: Delayed, units: Any = None) -> Any:
    return reserve_words(driven, found, catalogue(), delays, *([units] if units else []))


def test_the_headline_gives_both_reserves_and_who_gives_out(driven: Plan) -> None:
    """At the worst moment for typical bees, an hour; for agitated ones twenty minutes; the second group first."""
    headline = said(driven, reserve_of(TWO_GROUPS, 2)).headline
    assert all(text in headline for text in ("1 h", "20 min", "upper row", "Old Yard"))


def test_where_only_agitated_bees_run_out_their_spot_is_told(driven: Plan) -> None:
    headline = said(driven, reserve_of([[[[INF], [INF]]], [[[INF], [0.5]]]])).headline
    assert "6 h" in headline
    assert "between Old Yard and Lay-by" in headline
    assert "nothing left" in headline


def test_where_nothing_runs_out_or_nothing_is_known_it_says_so(driven: Plan) -> None:
    assert "more than" in said(driven, reserve_of([[[[INF], [INF]]]])).headline
    unknown = reserve_of([[[[NAN], [NAN]]]], cause=np.full((1, 1, 2, 1), -1))
    assert said(driven, unknown).headline.startswith("Cannot say")


def test_rows_every_half_hour_and_the_worst_moments_between(driven: Plan) -> None:
    """Every ten minutes from noon: rows at 12:00 and 12:30, and 12:10 where agitated bees have least."""
    minutes = np.array([200.0, 150.0, 150.0, 140.0])
    agitated = np.array([100.0, 20.9, 50.0, INF])
    after = np.stack((minutes, agitated), axis=1)[:, None, :, None]
    found = reserve_of(after, time_s=LEAVE_S + np.arange(4) * 600.0, km=np.array([0.0, 13.4, 27.0, 40.0]))
    head, *rows = said(driven, found).sections[0][1]
    assert [row.split() for row in rows] == [
        ["12:00", "0", "200", "(100)"],
        ["12:10", "13", "150", "(20)"],
        ["12:30", "40", "140", "(>360)"],
    ]
    assert "km" in head
    miles = said(driven, found, units=US).sections[0][1]
    assert miles[2].split()[1] == "8"
    unknown = reserve_of([[[[NAN], [60.0]]]], cause=np.array([[[[-1], [1]]]]))
    assert said(driven, unknown).sections[0][1][1].split()[2:] == ["?", "(60)"]


DELAYED = Delayed(
    Delay(JAM, 87.4, 5400.0), (33.0, 36.0, 41.0), CAUTION, HARM, 1.0, (32.0, 35.0, 39.0), 0, 2.0
)


def test_a_delay_is_told_beside_the_trip_without_it(driven: Plan) -> None:
    (line,) = said(driven, reserve_of(TWO_GROUPS, 2), DELAYED).sections[1][1]
    figures = ("1 h 30 min", "87 km", "36.0", "33.0", "41.0", "35.0", "caution", "clear", "harm")
    assert all(figure in line for figure in figures)


def test_the_action_level_is_the_catalogues(driven: Plan) -> None:
    lines = "".join(said(driven, reserve_of(TWO_GROUPS, 2)).sections[2][1])
    before_k = catalogue().parameters.rows["action_before_danger_k"].value
    assert f"{before_k:.1f} degrees" in lines


def test_the_reserve_document(driven: Plan) -> None:
    document = reserve_document(driven, reserve_of(TWO_GROUPS, 2), [DELAYED])
    first, second = document["moments"]
    assert first["after_s"] == [[[5400.0, 3600.0], [1800.0, 2700.0]]]
    assert second["after_s"] == [[[None, None], [1200.0, None]]]
    assert second["beyond_horizon"] == [[[True, False], [False, False]]]
    assert second["cause"] == [[[None, None], [CAUSES[1], None]]]
    assert (first["time"], first["km"], first["lat_deg"]) == ("2027-03-30T10:00:00Z", 0.0, 45.0)
    assert document["worst"]["central"]["km"] == 0.0
    assert document["worst"]["disturbed"]["km"] == 40.0
    assert document["tempers"] == ["central", "disturbed"]
    (delay,) = document["delays"]
    assert (delay["kind"], delay["at_km"], delay["lasts_s"]) == ("jam", 87.4, 5400.0)
    assert delay["peak_core_c"] == [33.0, 36.0, 41.0]
    assert (delay["level"], delay["level_disturbed"], delay["level_before"]) == ("caution", "harm", "clear")
    assert reserve_document(driven, reserve_of([[[[INF], [INF]]]]))["worst"]["central"] is None


# -- tipping -----------------------------------------------------------------------------------------


def tipping_of(**more: Any) -> TippingAt:
    """Two groups; typical bees settle at 34 and 36 C, tip at 41 and never; 12 and 5 W of headroom."""
    nan = np.full((3, 2), NAN)

    def table(first: float, second: float) -> np.ndarray:
        values = nan.copy()
        values[1] = first, second
        return values

    points = Tipping(table(34.0, 36.0), table(41.0, NAN), table(12.0, 5.0), table(4.0, INF))
    core = np.array([20.0, 30.0, 45.0])
    curve = np.ones((3, 3, 2))
    at = TippingAt(
        ONLY, LEAVE_S, 0.0, ("nuc", "upper row"), core, curve, 2.0 * curve, table(33.0, 35.0), points
    )
    return replace(at, equilibria=replace(points, **more))


def line_of(driven: Plan, group: int, **more: Any) -> str:
    """The line on typical bees of a group."""
    return str(tipping_words(driven, tipping_of(**more), None).sections[0][1][3 * group + 1])


def test_the_tightest_group_has_the_least_headroom(driven: Plan) -> None:
    assert tipping_of().tightest() == 1
    assert tipping_of(headroom_w=np.array([[NAN, NAN], [3.0, NAN], [NAN, NAN]])).tightest() == 0
    assert "36.0" in tipping_words(driven, tipping_of(), None).headline


def test_a_box_is_told_by_where_it_settles_and_tips(driven: Plan) -> None:
    assert all(text in line_of(driven, 0) for text in ("34.0 °C", "41.0 °C", "12 W", "4 degrees"))
    second = line_of(driven, 1)
    assert all(text in second for text in ("36.0 °C", "45 °C", "5 W", "any"))
    warmed = line_of(driven, 0, stable_c=np.full((3, 2), NAN), headroom_w=np.full((3, 2), -7.0))
    assert "7 W" in warmed
    assert "-7" not in warmed
    assert "cooler" in line_of(driven, 0, stable_c=np.full((3, 2), 20.0))
    assert "cooler" not in line_of(driven, 0, stable_c=np.full((3, 2), 21.0))
    unknown = line_of(driven, 0, headroom_w=np.full((3, 2), NAN))
    assert "W" not in unknown.split(":", 1)[1]


def along(headroom: Any) -> HeadroomAlong:
    watts = np.asarray(headroom, dtype=float)
    n = watts.shape[0]
    return HeadroomAlong(LEAVE_S + np.arange(n) * 900.0, np.arange(n) * 20.0, watts, watts, watts)


def test_the_tightest_moment_is_found_for_each_kind_of_bees(driven: Plan) -> None:
    """Typical bees least at the second quarter of an hour, agitated at the first, calm never known."""
    found = along([[[NAN], [9.0], [2.0]], [[NAN], [4.0], [NAN]]])
    assert [found.tightest(b) for b in range(3)] == [None, 1, 0]
    assert found.tightest() == 1
    lines = tipping_words(driven, tipping_of(), found).sections[1][1]
    assert len(lines) == 2
    assert all(text in lines[0] for text in ("4 W", "12:15"))
    assert all(text in lines[1] for text in ("2 W", "12:00"))


def test_the_tipping_document(driven: Plan) -> None:
    document = tipping_document(driven, tipping_of(), along([[[NAN], [9.0], [2.0]]]))
    assert document["time"] == "2027-03-30T10:00:00Z"
    assert document["stable_c"] == [[None, None], [34.0, 36.0], [None, None]]
    assert document["headroom_k"][1] == [4.0, None]
    assert document["curve"]["core_c"] == [20.0, 30.0, 45.0]
    assert document["along"]["headroom_w"] == [[[None], [9.0], [2.0]]]
    assert document["along"]["time"] == ["2027-03-30T10:00:00Z"]
    assert "along" not in tipping_document(driven, tipping_of(), None)


def test_an_instant_is_rounded_to_the_minute_and_must_lie_in_the_trip(weak: Plan) -> None:
    """Shut at 11:30 in Rome, open an hour and a half of driving and unloading later, at 13:30."""
    shut, opened = float(weak.closed_s[0]), float(weak.opened_s[0])
    at = tipping_at(weak, ONLY, catalogue(), shut + 89.0)
    assert at.time_s == shut + 60.0
    assert at.groups == ("nuc",)
    for outside in (shut - 60.0, opened):
        with pytest.raises(InputError) as caught:
            tipping_at(weak, ONLY, catalogue(), outside)
        assert [fault.field for fault in caught.value.faults] == ["at"]


def test_headroom_is_asked_from_closing_to_opening(weak: Plan) -> None:
    shares: list[float] = []
    found = headroom_along(weak, ONLY, catalogue(), spacing_s=3600.0, on_progress=shares.append)
    assert found.time_s.tolist() == [weak.closed_s[0], weak.closed_s[0] + 3600.0]
    assert found.km == pytest.approx([0.0, 40.0])
    assert found.headroom_w.shape == (2, 3, 1)
    assert shares[-1] == 1.0
