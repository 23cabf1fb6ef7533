"""The places of a trip found on the line of its road."""

from __future__ import annotations

import numpy as np

from planner.model.waypoints import distances_km, found_in_order, with_ends_fixed

KM_PER_DEG = 111.1951
"""One degree of a great circle on the sphere of the model."""

EAST = np.arange(0.0, 41.0)
"""An invented lane: 40 km east along the equator, a vertex each km, and home again on a lane 600 m north."""
LINE_LAT = np.concatenate((np.zeros(41), np.full(41, 0.6))) / KM_PER_DEG
LINE_LON = np.concatenate((EAST, EAST[::-1])) / KM_PER_DEG


def away(*places_km: tuple[float, float]) -> np.ndarray:
    """Distances of places given in km east and north."""
    east, north = np.array(places_km).T
    return distances_km(north / KM_PER_DEG, east / KM_PER_DEG, LINE_LAT, LINE_LON)


def test_distances_are_by_place_and_vertex() -> None:
    """From 3 km east and 4 km north: 5 km to the first vertex, 4 km to the fourth."""
    table = away((3.0, 4.0), (0.0, 0.0))
    assert table.shape == (2, 82)
    assert np.allclose(table[0, [0, 3]], [5.0, 4.0], atol=1e-4)


def test_a_stop_on_the_way_out_is_found_there_although_the_way_back_passes_nearer() -> None:
    """The stop lies 500 m north: 500 m from the way out, 100 m from the way home; then comes the far end."""
    table = away((0.0, 0.0), (15.0, 0.5), (40.0, 0.0), (0.0, 0.6))
    assert int(np.argmin(table[1])) == 66
    assert found_in_order(table).tolist() == [0, 15, 40, 81]


def test_the_same_stop_asked_for_after_the_far_end_is_found_on_the_way_back() -> None:
    assert found_in_order(away((0.0, 0.0), (40.0, 0.0), (15.0, 0.5), (0.0, 0.6))).tolist() == [0, 40, 66, 81]


def test_the_places_never_run_back_and_may_share_a_vertex() -> None:
    assert found_in_order(away((10.0, 0.0), (10.0, 0.0), (11.0, 0.0))).tolist() == [10, 10, 11]


def test_a_line_whose_ends_are_known_keeps_them_however_far_its_places_lie() -> None:
    """The first place lies at km 5, the last at km 30; what is between is found between."""
    table = with_ends_fixed(away((5.0, 0.0), (20.0, 0.0), (30.0, 0.0)))
    assert found_in_order(table).tolist() == [0, 20, 81]
