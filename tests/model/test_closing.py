"""When boxes are shut: the last moment a rule names before they are lifted."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model import sun
from planner.model.closing import at_home_share, closed_by_day, closing_times, last_closing
from planner.model.records import Closing, Site
from tests.model.scenarios import DAY_S, HOUR_S, NUC, ORIGIN, SUMMER, at, halt, replace, road, trip

NINE = Closing("clock", clock_s=21.0 * HOUR_S)
FAR_NORTH = Site("Cape", 70.0, 25.0, "Europe/Oslo", 0.0)


def last(rule: Closing, *before_s: float, site: Site = ORIGIN) -> list[float]:
    return last_closing(rule, site, np.array(before_s)).tolist()


def test_boxes_shut_when_lifted_are_shut_at_that_instant() -> None:
    assert last(Closing("at_loading"), SUMMER + 5.0) == [SUMMER + 5.0]


def test_the_clock_is_the_local_one_and_the_last_time_it_showed_the_hour() -> None:
    """Nine in the evening in Rome in July is 19:00 UTC: at that instant, a minute before it, the next morning."""
    nine = SUMMER + 19.0 * HOUR_S
    assert last(NINE, nine, nine - 60.0, nine + 11.0 * HOUR_S) == [nine, nine - DAY_S, nine]


def test_many_departures_each_have_their_own_evening() -> None:
    nine = SUMMER + 19.0 * HOUR_S + np.arange(6) * DAY_S
    assert last(NINE, *(nine + HOUR_S)) == nine.tolist()


def test_a_clock_time_that_the_night_skips_falls_after_the_jump() -> None:
    """28 March 2027, 02:30 in Rome does not exist: the clocks show 03:30 summer time then, 01:30 UTC."""
    half_past_two = Closing("clock", clock_s=2.5 * HOUR_S)
    assert last(half_past_two, at(2027, 3, 28, 6.0)) == [at(2027, 3, 28, 1.5)]


def test_after_sunset_means_that_long_after_it() -> None:
    """Half an hour before the answer the sun's upper edge goes under, and it is the evening before the morning."""
    morning = SUMMER + DAY_S + 5.0 * HOUR_S
    (shut,) = last(Closing("after_sunset", delay_s=1800.0), morning)
    before, at_set, after = sun.sun_position(
        shut - 1800.0 + np.array([-60.0, 0.0, 60.0]), ORIGIN.lat_deg, ORIGIN.lon_deg
    ).elevation_deg
    assert at_set == pytest.approx(sun.SUNRISE_DEG, abs=1e-3)
    assert before > at_set > after
    assert SUMMER + 18.0 * HOUR_S < shut < SUMMER + 21.0 * HOUR_S


def test_whoever_lifts_soon_after_sunset_shuts_then_and_not_a_day_before() -> None:
    """Twenty minutes after sunset is the rule; lifted ten minutes after it the bees are in already.

    A box was shut the evening before, 24 hours early, and nothing said so.
    """
    rule = Closing("after_sunset", delay_s=1200.0)
    (sunset,) = last(Closing("after_sunset"), SUMMER + 22.0 * HOUR_S)
    assert last(rule, sunset + 600.0, sunset, sunset + 1200.0) == [sunset + 600.0, sunset, sunset + 1200.0]
    assert last(rule, sunset + 1500.0) == [sunset + 1200.0]
    (evening_before,) = last(rule, sunset - 60.0)
    assert sunset - evening_before == pytest.approx(DAY_S - 1200.0, abs=180.0)


def test_a_box_that_was_shut_is_shut_from_then_on() -> None:
    """Written down at two in the morning: so it stays for every departure after it."""
    two = SUMMER + 2.0 * HOUR_S
    assert last(Closing("actual", at_s=two), two + 600.0, two + 3.0 * DAY_S) == [two, two]


def test_no_rule_shuts_a_box_more_than_a_day_before_it_is_lifted() -> None:
    """Evenings move by minutes only; what lies farther back is no evening of this trip."""
    for lat_deg in (-60.0, 0.0, 45.0, 64.0, 67.0, 70.0):
        site = replace(ORIGIN, lat_deg=lat_deg)
        before = at(2027, 1, 1) + np.arange(0.0, 365 * 24, 7.0) * HOUR_S
        for rule in ("after_sunset", "before_sunrise"):
            early_s = before - last_closing(Closing(rule, delay_s=1800.0), site, before)
            assert early_s.min() >= 0.0
            assert early_s.max() <= DAY_S + 1800.0


def test_before_sunrise_means_that_long_before_it() -> None:
    noon = SUMMER + 12.0 * HOUR_S
    (shut,) = last(Closing("before_sunrise", delay_s=1800.0), noon)
    before, rise, after = sun.sun_position(
        shut + 1800.0 + np.array([-60.0, 0.0, 60.0]), ORIGIN.lat_deg, ORIGIN.lon_deg
    ).elevation_deg
    assert rise == pytest.approx(sun.SUNRISE_DEG, abs=1e-3)
    assert before < rise < after
    assert SUMMER + 2.0 * HOUR_S < shut < SUMMER + 4.0 * HOUR_S


@pytest.mark.parametrize("lon_deg", [-170.0, 0.0, 170.0])
def test_the_sunset_of_the_same_evening_is_found_all_round_the_earth(lon_deg: float) -> None:
    """Asked at local midnight, the answer lies four to six hours back in July at 45 degrees north."""
    midnight = SUMMER + DAY_S - lon_deg / 360.0 * DAY_S
    (shut,) = last(Closing("after_sunset"), midnight, site=replace(ORIGIN, lon_deg=lon_deg))
    assert 3.5 * HOUR_S < midnight - shut < 6.0 * HOUR_S


def test_where_the_sun_does_not_set_boxes_are_shut_when_lifted() -> None:
    assert last(Closing("after_sunset"), SUMMER, site=replace(FAR_NORTH, lat_deg=78.0)) == [SUMMER]


def test_a_sunset_two_days_ago_is_no_evening_any_more() -> None:
    """The last sunset of spring at 70 degrees north serves for a day of midnight sun, not longer."""
    days = at(2027, 5, 1) - FAR_NORTH.lon_deg / 360.0 * DAY_S + np.arange(40) * DAY_S
    _, sets = sun.sun_events(FAR_NORTH.lat_deg, FAR_NORTH.lon_deg, days)
    final = float(np.nanmax(sets))
    soon, late = final + 0.9 * DAY_S, final + 1.1 * DAY_S
    assert last(Closing("after_sunset"), soon, site=FAR_NORTH) == [pytest.approx(final, abs=1.0)]
    assert last(Closing("after_sunset"), late, site=FAR_NORTH) == [late]


def test_each_group_is_shut_by_its_own_rule_where_it_is_lifted() -> None:
    """Loading at the origin begins half an hour before leaving; the stop lies an hour's drive on."""
    leave_s = SUMMER + DAY_S + 4.0 * HOUR_S
    late = replace(NUC, load_waypoint=1, closing=NINE)
    planned = trip((NUC, late), "van_shut_white", leave_s=leave_s, stops=[halt(20, "load")])
    shut = closing_times(planned, road(2.0, waypoints=3), np.array([leave_s, leave_s + DAY_S]))
    nine = SUMMER + 19.0 * HOUR_S
    assert shut.tolist() == [[leave_s - 1800.0, nine], [leave_s - 1800.0 + DAY_S, nine + DAY_S]]


def test_bees_fly_while_the_sun_stands_two_degrees_high() -> None:
    """One group shut by day is enough; at 1.9 degrees nobody flies, at 2.1 they do."""
    time_s = SUMMER + 3.0 * HOUR_S + np.arange(0.0, 4.0 * HOUR_S, 10.0)
    height = sun.sun_position(time_s, ORIGIN.lat_deg, ORIGIN.lon_deg).elevation_deg
    low, high = (float(time_s[np.argmax(height > limit)]) for limit in (1.9, 2.1))
    planned = trip((NUC, NUC), "van_shut_white")
    shut = np.array([[low, low], [low, high], [high, low]])
    assert closed_by_day(planned, shut).tolist() == [False, True, True]


def test_bees_come_home_over_the_last_ten_degrees_of_sun() -> None:
    """A step of the whole gain at sunset before."""
    height = np.array([40.0, 10.0, 5.0, 0.0, -20.0])
    assert at_home_share(height).tolist() == [0.0, 0.0, 0.5, 1.0, 1.0]
