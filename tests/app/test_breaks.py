"""Breaks of the law on driving hours: where they are put in, and which stops count as one."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.plan.breaks import is_put_in, lawless, rule_of, with_breaks, without_rest
from planner.app.plan.inputs import time_span
from planner.app.plan.notes import unknown_law
from planner.model.records import Group, Road, Trip
from planner.store.rules import answer_rules
from tests.model.scenarios import HOUR_S, NUC, halt, replace, road, trip


def lorry(*stops_min: float, groups: tuple[Group, ...] = (NUC,)) -> Trip:
    """A lorry in Europe, where 45 minutes are due after four and a half hours."""
    planned = trip(groups, "flatbed_inner", stops=[halt(minutes) for minutes in stops_min])
    return replace(planned, road_vehicle="truck")


def put_in(planned: Trip, way: Road) -> list[float]:
    """Kilometres of the breaks put in; every one is the law's."""
    _, _, found = with_breaks(planned, way)
    assert all(one.break_s == 45 * 60.0 for one in found)
    return [round(one.km) for one in found]


def halts(planned: Trip, way: Road) -> list[tuple[int, float]]:
    """Kilometres and hours of all that is put in, breaks and rests."""
    return [(round(one.km), one.break_s / HOUR_S) for one in with_breaks(planned, way)[2]]


def test_four_hours_and_a_half_need_no_break_and_a_minute_more_does() -> None:
    assert put_in(lorry(), road(4.5, 80.0)) == []
    assert put_in(lorry(), road(4.5 + 1 / 60, 80.0)) == [360]


def test_a_long_way_has_one_break_after_another() -> None:
    assert put_in(lorry(), road(10.0, 80.0)) == [360, 720]


@pytest.mark.parametrize(("minutes", "kms"), [(44.0, [360]), (45.0, []), (60.0, [])])
def test_a_stop_as_long_as_the_law_asks_is_a_break_and_a_shorter_one_is_none(
    minutes: float, kms: list[float]
) -> None:
    """Eight hours with a stop half way."""
    assert put_in(lorry(minutes), road(8.0, 80.0, waypoints=3)) == kms


def test_a_break_of_the_users_own_is_none_that_was_put_in_whatever_it_is_called() -> None:
    """It was known by its name; the one put in takes a name that is free."""
    planned = lorry(20.0)
    (own,) = planned.stops
    named = replace(own, site=replace(own.site, name="Break 1"), purpose="break")
    whole, _, found = with_breaks(replace(planned, stops=(named,)), road(8.0, 80.0, waypoints=3))
    assert [one.name for one in found] == ["Break 2"]
    known = {stop.site.name: is_put_in(stop, found) for stop in whole.stops}
    assert known == {"Break 1": False, "Break 2": True}


def test_a_factor_on_the_driving_time_brings_the_break_nearer() -> None:
    slow = replace(lorry(), drive_time_factor=1.25)
    assert put_in(slow, road(5.0, 80.0)) == [288]


def test_boxes_are_loaded_and_unloaded_where_they_were() -> None:
    """The break comes before the stop at which the second group is loaded and the first one leaves."""
    groups = (replace(NUC, label="a", unload_waypoint=1), replace(NUC, label="b", load_waypoint=1))
    planned, way, found = with_breaks(lorry(10.0, groups=groups), road(10.0, 80.0, waypoints=3))
    assert len(found) == 2
    names = [site.name for site in planned.waypoints]
    first, second = planned.groups
    assert names[first.unload_waypoint] == names[second.load_waypoint] == "Lay-by"
    assert names[second.unload_waypoint] == planned.destination.name
    assert [stop.purpose for stop in planned.stops] == ["break", "rest", "break"]
    assert len(way.waypoint_vertex) == len(names)
    assert (np.diff(way.waypoint_vertex) > 0).all()


def test_a_break_on_the_date_line_stays_there() -> None:
    """Four fifths of the way from 179 east to 179 west; it lay at 143 west, where the sun is hours behind."""
    way = road(5.0, 80.0, vertices=2)
    over = replace(way, lon_deg=np.array([179.0, -179.0]), lat_deg=np.array([60.0, 60.0]))
    planned, longer, (one,) = with_breaks(lorry(), over)
    assert one.km == pytest.approx(360.0)
    assert planned.stops[0].site.lon_deg == pytest.approx(-179.2)
    assert np.abs(longer.lon_deg).min() > 178.0


def test_only_a_lorry_is_bound() -> None:
    assert put_in(replace(lorry(), road_vehicle="van"), road(10.0, 80.0)) == []


def over(first: tuple[float, float], last: tuple[float, float], hours: float = 10.0) -> Road:
    """A straight road between two places."""
    way = road(hours, 80.0)
    share = way.km / way.km[-1]
    lat, lon = (a + share * (b - a) for a, b in zip(first, last, strict=True))
    return replace(way, lat_deg=lat, lon_deg=lon)


BOISE, SPOKANE, CALGARY, MONTERREY = (43.6, -116.2), (47.6, -117.4), (51.0, -114.0), (25.7, -100.3)
BELGRADE, SAO_PAULO, BERLIN = (44.8, 20.4), (-23.5, -46.6), (52.5, 13.4)


@pytest.mark.parametrize(
    ("way", "law", "unknown"),
    [
        (over(BOISE, SPOKANE), "49 CFR", ()),
        (over(SPOKANE, CALGARY), "49 CFR", ("America/Edmonton",)),
        (over(CALGARY, (52.0, -114.0)), "", ("America/Edmonton",)),
        (over(MONTERREY, (25.0, -100.5)), "", ("America/Monterrey",)),
        (over(SAO_PAULO, (-24.5, -48.0)), "", ("America/Sao_Paulo",)),
        (over(BERLIN, (48.2, 16.4)), "561/2006", ()),
        (over(BELGRADE, (43.9, 21.0)), "AETR", ()),
    ],
)
def test_the_law_is_that_of_the_land_the_road_lies_in(way: Road, law: str, unknown: tuple[str, ...]) -> None:
    """Found in use: all of America had the law of the United States; a file's zone is no place."""
    planned = lorry()
    planned = replace(planned, origin=replace(planned.origin, zone="America/New_York"))
    rule = rule_of(planned, way)
    assert (rule is None) == (law == "")
    assert rule is None or law in rule.law
    assert set(unknown) == set(lawless(planned, way))
    assert lawless(replace(planned, road_vehicle="van"), way) == ()


def test_what_is_not_on_file_is_said_with_its_zones() -> None:
    (text,) = unknown_law(("America/Edmonton", "b", "c", "d"))
    assert "America/Edmonton, b, c)" in text
    assert "enter the halts" in text


def test_a_day_of_driving_too_long_for_one_driver_is_known_unless_a_stop_is_as_long_as_the_rest() -> None:
    """Nine hours and then eleven of rest: articles 6 and 8 of Regulation (EC) No 561/2006."""
    assert without_rest(lorry(), road(9.0, 80.0)) is None
    found = without_rest(lorry(), road(9.1, 80.0))
    assert found is not None
    driven_s, rule = found
    assert driven_s == pytest.approx(9.1 * HOUR_S)
    assert (rule.daily_rest_s, rule.daily_driving_s) == (11 * HOUR_S, 9 * HOUR_S)
    long = road(16.0, 80.0, waypoints=3)
    assert without_rest(lorry(10.9 * 60.0), long) is not None
    assert without_rest(lorry(11 * 60.0), long) is None
    assert without_rest(replace(lorry(), road_vehicle="car"), road(16.0, 80.0)) is None


def test_a_rest_is_put_in_where_a_day_of_driving_ends_and_stands_for_the_break_that_is_due_there() -> None:
    """Found in use: 40 hours of driving were judged without a night between them, and said to be *go*."""
    assert halts(lorry(), road(19.5, 80.0)) == [(360, 0.75), (720, 11.0), (1080, 0.75), (1440, 11.0)]
    (_, rest, *_), law = (
        with_breaks(lorry(), road(19.5, 80.0))[2],
        "Regulation (EC) No 561/2006, articles 6 and 8",
    )
    assert rest.law == law
    planned, way, _ = with_breaks(lorry(), road(40.0, 80.0))
    assert without_rest(planned, way) is None
    assert sum(stop.dwell_s == 11 * HOUR_S for stop in planned.stops) == 4
    assert with_breaks(planned, way)[2] == (), "nothing is missing any more"


def test_a_day_that_may_be_longer_twice_a_week_needs_no_rest_but_is_told() -> None:
    """Article 6, paragraph 1: ten hours on two days of a week; whoever needs more has a night before them."""
    assert halts(lorry(), road(10.0, 80.0)) == [(360, 0.75), (720, 0.75)]
    assert without_rest(lorry(), road(10.0, 80.0)) is not None
    assert halts(lorry(), road(10.1, 80.0)) == [(360, 0.75), (720, 11.0)]


def test_a_stop_as_long_as_the_rest_is_one_and_a_second_driver_needs_none() -> None:
    long = road(16.0, 80.0, waypoints=3)
    assert halts(lorry(11 * 60.0), long) == [(360, 0.75), (1000, 0.75)]
    assert (720, 11.0) in halts(lorry(10.9 * 60.0), long)
    two = replace(lorry(), drivers=2)
    assert halts(two, road(16.0, 80.0)) == [(360, 0.75), (720, 0.75), (1080, 0.75)]
    assert without_rest(two, road(16.0, 80.0)) is None


def test_in_america_ten_hours_are_rested_after_eleven_of_driving() -> None:
    """49 CFR 395.3: half an hour after eight hours, ten hours after eleven."""
    assert halts(lorry(), over(BOISE, SPOKANE, 11.0)) == [(640, 0.5)]
    assert halts(lorry(), over(BOISE, SPOKANE, 12.0)) == [(640, 0.5), (880, 10.0)]


def test_the_weather_asked_for_reaches_over_a_rest_that_is_put_in() -> None:
    first_s, last_s = time_span(lorry(), road(12.0, 80.0))
    whole, way, _ = with_breaks(lorry(), road(12.0, 80.0))
    assert (first_s, last_s) == time_span(whole, way)
    assert last_s - first_s > 23.0 * HOUR_S


def test_over_a_border_the_law_that_binds_first_holds() -> None:
    """Half an hour after eight hours there, three quarters after four and a half here."""
    europe, us = (next(r for r in answer_rules().breaks if part in r.law) for part in ("561", "CFR"))
    assert answer_rules().breaks_in("Europe/Rome") is europe
    assert answer_rules().breaks_in("America/Indiana/Knox") is us
    assert answer_rules().breaks_in("America/Indianapolis_no") is None
    both = over(BERLIN, BERLIN)
    both = replace(
        both,
        lat_deg=np.where(both.km < 1.0, BOISE[0], both.lat_deg),
        lon_deg=np.where(both.km < 1.0, BOISE[1], both.lon_deg),
    )
    assert rule_of(lorry(), both) is europe
