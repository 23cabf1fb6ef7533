"""When the boxes are jolted, and where they are, on a straight road of two hours with a stop half way."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model.closing import closing_times
from planner.model.records import Moment, Stage
from planner.model.timeline import VehicleState, build_timeline, follow, schedule
from tests.model.scenarios import HOUR_S, NUC, SUMMER, Closing, halt, replace, road, trip

LEAVE_S = SUMMER + 10.0 * HOUR_S
LATER = replace(NUC, load_waypoint=1)


def states(purpose: str, *minutes: float, groups: tuple = (NUC,), **stop: bool) -> VehicleState:
    """The state so many minutes after leaving; the stop is from minute 60 to minute 80."""
    planned = trip(groups, "van_shut_white", leave_s=LEAVE_S, stops=[halt(20, purpose, **stop)])
    way, departure_s = road(2.0, waypoints=3), np.array([LEAVE_S])
    timeline = build_timeline(planned, way, departure_s, closing_times(planned, way, departure_s))
    return follow(planned, way, timeline, LEAVE_S + 60.0 * np.array(minutes)[:, None])


def test_loading_at_a_stop_jolts_the_boxes_that_are_aboard() -> None:
    """Five minutes after arriving: five minutes since the jolt at a loading stop, an hour and five at a rest."""
    assert states("load", 65.0).since_jolt_s[0, 0] == 300.0
    assert states("unload", 65.0).since_jolt_s[0, 0] == 300.0
    assert states("rest", 65.0).since_jolt_s[0, 0] == 3900.0


def test_setting_off_jolts_whoever_is_aboard() -> None:
    """Shut and lifted half an hour before leaving, then the start, then the start from the stop at minute 80."""
    assert states("rest", -10.0, 0.0, 30.0, 80.0, 85.0).since_jolt_s[:, 0].tolist() == [
        1200.0,
        0.0,
        1800.0,
        0.0,
        300.0,
    ]


def test_unloading_is_a_jolt_and_the_last() -> None:
    """Arriving at minute 140."""
    assert states("rest", 139.0, 140.0, 150.0).since_jolt_s[:, 0].tolist() == [3540.0, 0.0, 600.0]


def test_a_box_whose_entrance_stays_open_is_jolted_by_loading_and_not_by_being_shut() -> None:
    """Loaded half an hour before leaving; "shut" an hour before that, when nobody touches it."""
    opened = replace(NUC, entrance="open")
    planned = trip((NUC, opened), "van_shut_white", leave_s=LEAVE_S, loading_s=0.5 * HOUR_S)
    way, departure_s = road(2.0), np.array([LEAVE_S])
    closed_s = np.full((1, 2), LEAVE_S - 1.5 * HOUR_S)
    seen = follow(
        planned,
        way,
        build_timeline(planned, way, departure_s, closed_s),
        LEAVE_S + HOUR_S * np.array([-1.0, -0.25])[:, None],
    )
    assert seen.since_jolt_s[:, 0].tolist() == [1800.0, 900.0]
    assert seen.since_jolt_s[:, 1].tolist() == [1e9, 900.0]


def test_boxes_not_yet_loaded_feel_nothing_of_the_road() -> None:
    """Shut and lifted at the stop, on arriving; before that long undisturbed."""
    waiting = states("load", 30.0, 65.0, 85.0, groups=(NUC, LATER))
    assert waiting.since_jolt_s[:, 1].tolist() == [1e9, 300.0, 300.0]
    assert waiting.on_board[:, 1].tolist() == [False, True, True]
    assert waiting.closed[:, 1].tolist() == [False, True, True]


def test_a_stop_has_its_own_shade_engine_and_doors_and_only_while_the_vehicle_stands_there() -> None:
    """Loading is through open doors; after arriving no flag is set; on the road the engine runs."""
    seen = states("rest", -10.0, 30.0, 70.0, 90.0, shade=True, engine_on=True, doors_open=True)
    assert seen.shade[:, 0].tolist() == [False, False, True, False]
    assert seen.engine_on[:, 0].tolist() == [False, True, True, True]
    assert seen.doors_open[:, 0].tolist() == [True, False, True, False]
    assert seen.moving[:, 0].tolist() == [False, True, False, True]


def test_nobody_loads_or_unloads_through_shut_doors() -> None:
    """At the origin and at stops to load or unload doors stand open though nothing says so, at a rest they do not."""
    for purpose, opened in (("load", True), ("unload", True), ("rest", False), ("fuel", False)):
        seen = states(purpose, -10.0, 30.0, 70.0, 90.0)
        assert seen.doors_open[:, 0].tolist() == [True, False, opened, False], purpose
        assert not seen.engine_on[[0, 2], 0].any()


def test_boxes_are_shaken_while_the_vehicle_moves_and_not_while_it_stands() -> None:
    """Aboard but not yet off; on the road; at the stop; on the road; unloaded. A box on the ground feels none."""
    seen = states("load", -10.0, 30.0, 70.0, 90.0, 150.0, groups=(NUC, LATER))
    assert seen.shaking[:, 0].tolist() == [0.0, 1.0, 0.0, 1.0, 0.0]
    assert seen.shaking[:, 1].tolist() == [0.0, 0.0, 0.0, 1.0, 0.0]


def test_place_and_speed_follow_the_road() -> None:
    """80 km/h due north: 40 km after half an hour, 80 at the stop and ten minutes later."""
    seen = states("rest", 30.0, 70.0, 110.0)
    np.testing.assert_allclose(seen.km[:, 0], [40.0, 80.0, 120.0])
    np.testing.assert_allclose(seen.speed_ms[:, 0], [80.0 / 3.6, 0.0, 80.0 / 3.6])
    np.testing.assert_allclose(seen.heading_deg[:, 0], 0.0, atol=1e-6)
    assert seen.riding_s[0, 0] == 3600.0


def test_slower_driving_stretches_the_legs_and_not_the_stops() -> None:
    """Legs of an hour take 72 minutes; loading begins half an hour before leaving."""
    planned = trip(NUC, "van_shut_white", leave_s=LEAVE_S, stops=[halt(20)], drive_time_factor=1.2)
    arrive, leave = schedule(planned, road(2.0, waypoints=3), np.array([LEAVE_S]))
    assert ((arrive - LEAVE_S) / 60.0).tolist() == [[-30.0, 72.0, 164.0]]
    assert ((leave - LEAVE_S) / 60.0).tolist() == [[0.0, 92.0, 164.0]]


def test_slower_driving_is_slower() -> None:
    planned = trip(NUC, "van_shut_white", leave_s=LEAVE_S, drive_time_factor=1.25)
    way, departure_s = road(2.0), np.array([LEAVE_S])
    timeline = build_timeline(planned, way, departure_s, closing_times(planned, way, departure_s))
    seen = follow(planned, way, timeline, np.array([[LEAVE_S + HOUR_S]]))
    np.testing.assert_allclose(seen.speed_ms, 64.0 / 3.6)
    np.testing.assert_allclose(seen.km, 64.0)


def test_some_of_the_departures_keep_their_own_stages() -> None:
    """The way of the second departure begins each stage an hour after that of the first."""
    way = (
        Stage("wait", (0, 0), Moment("arrival")),
        Stage("drive", (0, 1), Moment("arrival")),
        Stage("settle", (1, 1), Moment("lasting", (HOUR_S,) * 3)),
    )
    planned = trip(replace(NUC, stages=way), "van_shut_white", leave_s=LEAVE_S)
    departures_s = LEAVE_S + np.array([0.0, HOUR_S])
    timeline = build_timeline(planned, road(2.0), departures_s, (departures_s - 7200.0)[:, None])
    later = timeline.take(np.array([1]))
    assert later.stage_s is not None
    assert timeline.stage_s is not None
    assert later.stage_s.shape[0] == 1
    np.testing.assert_array_equal(later.stage_s[0], timeline.stage_s[0] + HOUR_S)


def test_boxes_are_never_shut_after_they_are_lifted_and_are_opened_half_an_hour_after_unloading() -> None:
    planned = trip(NUC, "van_shut_white", leave_s=LEAVE_S, closing=Closing("at_loading"))
    way = road(2.0)
    timeline = build_timeline(planned, way, np.array([LEAVE_S]), np.array([[LEAVE_S + 999.0]]))
    assert timeline.closed_s.tolist() == timeline.boarded_s.tolist() == [[LEAVE_S - 1800.0]]
    assert timeline.opened_s.tolist() == [[LEAVE_S + 9000.0]]
    assert timeline.start_s.tolist() == [LEAVE_S - 1800.0]
    assert timeline.end_s.tolist() == [LEAVE_S + 9000.0]
    assert pytest.approx(timeline.unloaded_s[0, 0]) == LEAVE_S + 7200.0


def test_every_stop_delays_the_calls_behind_it_by_its_own_dwell() -> None:
    """Three legs of an hour with stops of 20 and of 50 minutes: 60, 140 and 250 minutes after leaving."""
    planned = trip(NUC, "van_shut_white", leave_s=LEAVE_S, stops=[halt(20), halt(50)])
    arrive, leave = schedule(planned, road(3.0, waypoints=4), np.array([LEAVE_S]))
    assert ((arrive[0, 1:] - LEAVE_S) / 60.0).tolist() == [60.0, 140.0, 250.0]
    assert ((leave[0, 1:-1] - LEAVE_S) / 60.0).tolist() == [80.0, 190.0]


@pytest.mark.parametrize("shaded", [True, False])
def test_shut_boxes_wait_in_the_sun_unless_the_trip_has_shade_for_them(shaded: bool) -> None:
    """An hour before loading and after unloading on the ground; aboard the vehicle's own halts count."""
    planned = trip(
        NUC,
        "van_shut_white",
        leave_s=LEAVE_S,
        waiting_shade=shaded,
        closing=Closing("clock", clock_s=8 * HOUR_S),
    )
    way, departure_s = road(1.0), np.array([LEAVE_S])
    timeline = build_timeline(planned, way, departure_s, closing_times(planned, way, departure_s))
    minutes = np.array([-60.0, -10.0, 30.0, 75.0])
    seen = follow(planned, way, timeline, LEAVE_S + 60.0 * minutes[:, None])
    assert seen.shade[:, 0].tolist() == [shaded, False, False, shaded]
    assert seen.on_board[:, 0].tolist() == [False, True, True, False]
    assert seen.riding_s[2, 0] == HOUR_S  # since they were lifted, not since they were shut
