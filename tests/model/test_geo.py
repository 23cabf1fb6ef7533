"""Great-circle arithmetic against geopy and against hand-known geometry."""

from __future__ import annotations

import numpy as np
from geopy.distance import EARTH_RADIUS, great_circle
from hypothesis import given
from hypothesis import strategies as st

from planner.model.geo import EARTH_RADIUS_KM, bearing_deg, cumulative_km, great_circle_km, intermediate

LAT = st.floats(-89.9, 89.9)
LON = st.floats(-180.0, 180.0)


@given(LAT, LON, LAT, LON)
def test_distance_agrees_with_geopy(lat1: float, lon1: float, lat2: float, lon2: float) -> None:
    """Oracle: geopy.distance.great_circle, scaled to our radius (theirs is rounded to 6371.009 km)."""
    expected = great_circle((lat1, lon1), (lat2, lon2)).km * EARTH_RADIUS_KM / EARTH_RADIUS
    assert np.isclose(great_circle_km(lat1, lon1, lat2, lon2), expected, rtol=1e-7, atol=1e-3)


def test_radius_agrees_with_geopy_to_its_rounding() -> None:
    assert abs(EARTH_RADIUS_KM - EARTH_RADIUS) < 1e-3


def test_one_degree_of_meridian_is_a_360th_of_the_circumference() -> None:
    assert np.isclose(great_circle_km(10, 0, 11, 0), 2 * np.pi * EARTH_RADIUS_KM / 360)


def test_crossing_the_antimeridian_takes_the_short_way() -> None:
    assert np.isclose(great_circle_km(0, 179.5, 0, -179.5), great_circle_km(0, -0.5, 0, 0.5))
    assert np.isclose(bearing_deg(0, 179.5, 0, -179.5), 90.0)
    lat, lon = intermediate(0, 179.5, 0, -179.5, 0.5)
    assert np.isclose(lat, 0.0)
    assert np.isclose(abs(lon), 180.0)


def test_a_course_between_far_meridians_is_worked_by_hand() -> None:
    """35 N 45 E to 35 N 135 E: tan of the course = cos 35 / (cos 35 sin 35), 60.16 degrees; back 299.84."""
    assert np.isclose(bearing_deg(35, 45, 35, 135), 60.16, atol=0.005)
    assert np.isclose(bearing_deg(35, 135, 35, 45), 299.84, atol=0.005)


def test_bearings_of_the_four_winds() -> None:
    courses = bearing_deg([0, 0, 0, 0], [0, 0, 0, 0], [1, 0, -1, 0], [0, 1, 0, -1])
    assert np.allclose(courses, [0, 90, 180, 270])


@given(LAT, LON, LAT, LON, st.floats(0.0, 1.0))
def test_a_point_between_splits_the_distance_in_its_share(
    lat1: float, lon1: float, lat2: float, lon2: float, share: float
) -> None:
    whole = float(great_circle_km(lat1, lon1, lat2, lon2))
    if whole > 19000:  # nearly opposite points: every course is shortest
        return
    lat, lon = intermediate(lat1, lon1, lat2, lon2, share)
    assert np.isclose(great_circle_km(lat1, lon1, lat, lon), share * whole, rtol=1e-6, atol=1e-3)
    assert np.isclose(great_circle_km(lat, lon, lat2, lon2), (1 - share) * whole, rtol=1e-6, atol=1e-3)


def test_equal_points_are_no_distance_apart_and_stay_where_they_are() -> None:
    lat, lon = intermediate(52.0, 0.1, 52.0, 0.1, [0.0, 0.5, 1.0])
    assert np.allclose(lat, 52.0)
    assert np.allclose(lon, 0.1)
    assert great_circle_km(52.0, 0.1, 52.0, 0.1) == 0.0


def test_cumulative_distance_adds_up_the_legs() -> None:
    along = cumulative_km([0, 1, 1], [0, 0, 1])
    assert along[0] == 0.0
    assert np.allclose(np.diff(along), [great_circle_km(0, 0, 1, 0), great_circle_km(1, 0, 1, 1)])


def test_cumulative_distance_of_one_or_no_vertex() -> None:
    assert cumulative_km([5.0], [5.0]).tolist() == [0.0]
    assert cumulative_km([], []).tolist() == []
