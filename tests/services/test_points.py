"""The rule by which weather points are chosen along a road."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.model.geo import cumulative_km, great_circle_km
from planner.model.records import Road
from planner.services.forecast.points import (
    HEIGHT_M,
    NEAREST_KM,
    STRETCH_KM,
    STRETCH_S,
    choose_points,
    points_at,
)

RoadMaker = Callable[..., Road]


def with_heights(road: Road, elevation_m: np.ndarray) -> Road:
    return replace(road, elevation_m=elevation_m)


@pytest.mark.parametrize(("length_km", "kmh"), [(5.0, 30.0), (85.0, 80.0), (1000.0, 90.0), (200.0, 20.0)])
def test_no_stretch_is_longer_than_the_rule_in_way_or_time(
    straight_road: RoadMaker, length_km: float, kmh: float
) -> None:
    road = straight_road(length_km, kmh=kmh)
    km = choose_points(road).km
    assert (km[0], km[-1]) == (0.0, pytest.approx(road.length_km))
    assert np.diff(km).max() <= STRETCH_KM + 1e-9
    assert np.diff(np.interp(km, road.km, road.drive_s)).max() <= STRETCH_S + 1e-6


def test_a_thousand_km_need_no_more_points_than_one_request_takes(straight_road: RoadMaker) -> None:
    assert len(choose_points(straight_road(985.0))) == 34


def test_a_pass_gets_a_point_at_its_top(straight_road: RoadMaker) -> None:
    road = straight_road(30.0)
    height = 400.0 + 900.0 * np.exp(-(((road.km - 17.0) / 3.0) ** 2))
    points = choose_points(with_heights(road, height))
    assert np.abs(points.km - 17.0).min() <= 1.0
    straight = np.interp(road.km, points.km, points.elevation_m)
    assert np.abs(straight - height).max() <= HEIGHT_M


def test_unknown_heights_do_not_disturb(straight_road: RoadMaker) -> None:
    road = straight_road(90.0)
    height = np.full(road.km.size, np.nan)
    assert np.array_equal(choose_points(road).km, choose_points(with_heights(road, height)).km)
    assert np.isnan(choose_points(road).elevation_m).all()


def test_every_stop_is_a_point(straight_road: RoadMaker) -> None:
    road = replace(straight_road(100.0), waypoint_vertex=(0, 13, 57, 100))
    points = choose_points(road)
    for vertex in road.waypoint_vertex:
        assert np.abs(points.km - road.km[vertex]).min() < 1e-9


def test_doubling_the_density_halves_every_limit(straight_road: RoadMaker) -> None:
    road = straight_road(385.0)
    coarse, fine = choose_points(road), choose_points(road, density=2.0)
    assert len(fine) == 2 * len(coarse) - 1
    assert set(np.round(coarse.km, 6)) <= set(np.round(fine.km, 6))


def test_the_cap_widens_the_mesh_evenly(straight_road: RoadMaker) -> None:
    points = choose_points(straight_road(3000.0), most=24)
    assert 18 <= len(points) <= 24
    gaps = np.diff(points.km)
    assert gaps.max() == pytest.approx(gaps.min())


def test_a_road_of_no_length_has_one_point(straight_road: RoadMaker) -> None:
    assert len(choose_points(straight_road(0.2, step_km=0.1))) == 1
    still = Road(*(np.array([v, v]) for v in (48.0, 8.0, 300.0, 0.0, 0.0)), (0, 1), "invented")
    assert len(choose_points(still)) == 1


def test_points_between_far_vertices_lie_on_the_great_circle_also_across_the_date_line() -> None:
    lat, lon = np.array([60.0, 60.0]), np.array([175.0, -175.0])
    km = cumulative_km(lat, lon)
    road = Road(lat, lon, np.full(2, np.nan), km, km * 45.0, (0, 1), "invented")
    points = points_at(road, np.array([0.0, km[-1] / 2.0, km[-1]]))
    assert abs(points.lon_deg[1]) == pytest.approx(180.0)
    assert points.lat_deg[1] > 60.0
    assert float(great_circle_km(60.0, 175.0, points.lat_deg[1], points.lon_deg[1])) == pytest.approx(
        km[-1] / 2
    )


@given(
    st.lists(st.floats(0.0, 30.0), min_size=1, max_size=40),
    st.lists(st.floats(-400.0, 400.0), min_size=41, max_size=41),
    st.integers(3, 60),
)
def test_any_road_gives_increasing_points_apart_within_the_cap(
    steps: list[float], climbs: list[float], most: int
) -> None:
    km = np.concatenate(([0.0], np.cumsum(steps)))
    lat = 48.0 + km / 111.195
    height = 500.0 + np.cumsum(climbs[: km.size])
    road = Road(lat, np.full(km.size, 8.0), height, km, km * 45.0, (0, km.size // 2, km.size - 1), "invented")
    points = choose_points(road, most=most)
    assert 1 <= len(points) <= most
    if len(points) > 1:
        assert np.diff(points.km).min() >= min(NEAREST_KM, km[-1]) - 1e-9
    assert points.km[0] == 0.0


def test_the_rule_in_figures() -> None:
    """About the mesh of today's forecast grids."""
    assert (STRETCH_KM, STRETCH_S, HEIGHT_M, NEAREST_KM) == (30.0, 25 * 60.0, 50.0, 0.5)


@pytest.mark.parametrize(
    ("length_km", "kmh", "points"), [(29.9, 90.0, 2), (30.1, 90.0, 3), (24.9, 60.0, 2), (25.1, 60.0, 3)]
)
def test_a_stretch_is_halved_just_beyond_its_limits(
    straight_road: RoadMaker, length_km: float, kmh: float, points: int
) -> None:
    """30 km; at 60 km/h 25 minutes are 25 km."""
    assert len(choose_points(straight_road(length_km, kmh=kmh))) == points


@pytest.mark.parametrize(("bump_m", "km"), [(49.0, [0, 20]), (51.0, [0, 8, 20]), (-51.0, [0, 8, 20])])
def test_a_hill_or_dip_of_over_50_m_gets_a_point(
    straight_road: RoadMaker, bump_m: float, km: list[float]
) -> None:
    road = straight_road(20.0)
    height = 400.0 + 10.0 * road.km + bump_m * (np.arange(21) == 8)
    assert choose_points(with_heights(road, height)).km == pytest.approx(km, abs=0.01)


def test_hills_within_half_a_kilometre_of_a_stretchs_end_are_left_alone(straight_road: RoadMaker) -> None:
    road = straight_road(20.0, step_km=0.25)
    height = np.where(np.arange(road.km.size) == 1, 500.0, 0.0)
    assert len(choose_points(with_heights(road, height))) == 2
    height = np.where(np.arange(road.km.size) == 3, 500.0, 0.0)
    assert choose_points(with_heights(road, height)).km[1] == pytest.approx(0.75, abs=0.01)


def test_points_closer_than_half_a_kilometre_count_as_one_and_the_end_stays(straight_road: RoadMaker) -> None:
    """Calls at 0, 0.4, 1, 9.8 and 10 km."""
    road = replace(straight_road(10.0, step_km=0.2), waypoint_vertex=(0, 2, 5, 49, 50))
    assert choose_points(road).km == pytest.approx([0.0, 1.0, 10.0], abs=0.01)


def test_of_two_calls_close_together_the_first_keeps_its_point(straight_road: RoadMaker) -> None:
    """Calls at 0, 5, 5.4, 6 and 10 km."""
    road = replace(straight_road(10.0, step_km=0.2), waypoint_vertex=(0, 25, 27, 30, 50))
    assert choose_points(road).km == pytest.approx([0.0, 5.0, 6.0, 10.0], abs=0.01)


def test_every_call_keeps_its_point_even_beyond_the_cap(straight_road: RoadMaker) -> None:
    road = replace(straight_road(100.0), waypoint_vertex=tuple(range(0, 101, 10)))
    assert len(choose_points(road, most=3)) == 11


def test_limits_grow_by_a_quarter_until_the_points_fit(straight_road: RoadMaker) -> None:
    """90 km: 3 stretches of 30 km are 4 points; limits of 37.5 km make 3 stretches still, of 46.9 km two."""
    assert len(choose_points(straight_road(89.9, kmh=100.0), most=3)) == 3
    assert len(choose_points(straight_road(89.9, kmh=100.0), most=4)) == 4
    assert len(choose_points(straight_road(290.0, kmh=100.0), most=10)) == 9


def test_heights_are_read_between_the_vertices_that_have_one(straight_road: RoadMaker) -> None:
    road = straight_road(4.0)
    points = points_at(
        with_heights(road, np.array([100.0, np.nan, 300.0, np.nan, np.nan])), road.km[[1, 2, 4]]
    )
    assert points.elevation_m == pytest.approx([200.0, 300.0, 300.0])


def test_every_stretch_is_timed_by_itself(straight_road: RoadMaker) -> None:
    """Two legs of 24 minutes at 60 km/h: neither is cut, though the second ends after 48."""
    road = replace(straight_road(48.0, kmh=60.0), waypoint_vertex=(0, 24, 48))
    assert choose_points(road).km == pytest.approx([0, 24, 48], abs=0.01)


def test_one_point_alone_is_that_point(straight_road: RoadMaker) -> None:
    points = choose_points(straight_road(59.0, kmh=100.0))
    alone = points.only(1)
    assert (len(alone), alone.km[0], alone.lat_deg[0]) == (1, points.km[1], points.lat_deg[1])
    assert (alone.lon_deg[0], alone.elevation_m.size) == (points.lon_deg[1], 1)
