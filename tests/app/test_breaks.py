"""Breaks of the law on driving hours: where they are put in, and which stops count as one."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.plan.breaks import with_breaks
from planner.model.records import Group, Road, Trip
from tests.model.scenarios import NUC, halt, replace, road, trip


def lorry(*stops_min: float, groups: tuple[Group, ...] = (NUC,)) -> Trip:
    """A lorry in Europe, where 45 minutes are due after four and a half hours."""
    planned = trip(groups, "flatbed_inner", stops=[halt(minutes) for minutes in stops_min])
    return replace(planned, road_vehicle="truck")


def put_in(planned: Trip, way: Road) -> list[float]:
    """Kilometres of the breaks put in; every one is the law's."""
    _, _, found = with_breaks(planned, way)
    assert all(one.break_s == 45 * 60.0 for one in found)
    return [round(one.km) for one in found]


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
