"""Recorded tracks: which stamps make a drive, and how large a file may be."""

from __future__ import annotations

import json

import numpy as np
import pytest

from planner.errors import InputError
from planner.model.records import Site
from planner.services.roads.request import RoadVehicle
from planner.services.roads.tracks import MOST_BYTES, MOST_POINTS, Track, read_track, road_along

KM = 1.0 / 111.1951


def track(km: list[float], seconds: list[float] | None = None) -> Track:
    """Points due north at these kilometres and seconds after the start."""
    here = np.array(km)
    stamps = np.full(here.shape, np.nan) if seconds is None else np.array(seconds) + 1_780_272_000.0
    return Track("mine", 48.0 + here * KM, np.full(here.shape, 8.0), np.full(here.shape, np.nan), stamps)


def test_driving_counts_from_3_km_h_on() -> None:
    """1 km in 1200 s is 3 km/h; in 1201 s it is standing."""
    assert road_along(track([0, 10, 11, 21], [0, 600, 1799, 2399])).driving_s == pytest.approx(2399)
    road = road_along(track([0, 10, 11, 21], [0, 600, 1801, 2401]))
    assert road.drive_s.tolist() == [0, 600, 600, 1200]
    assert (road.estimated, road.time_error_share) == (False, 0.1)
    assert road.source == "track mine with its recorded times"


@pytest.mark.parametrize(
    ("hours", "recorded"),
    [(2.01, False), (1.99, True), (0.0545, True), (0.0543, False)],
)
def test_a_mean_speed_outside_5_to_180_km_h_is_no_drive(hours: float, recorded: bool) -> None:
    """10 km in 2 h are 5 km/h, in 200 s 180 km/h, give or take 200 m."""
    assert road_along(track([0, 5, 10], [0, hours * 1800, hours * 3600])).estimated != recorded


@pytest.mark.parametrize("seconds", [[0, 700, 600], [0, np.nan, 600], [600, 600, 600], [0, 0, 0]])
def test_stamps_that_run_back_are_missing_or_stand_still_are_not_used(seconds: list[float]) -> None:
    road = road_along(track([0, 5, 10], seconds))
    assert road.estimated
    assert road.time_error_share == 0.3


def test_without_times_the_length_decides_the_speed_and_the_vehicle_bounds_it() -> None:
    """100 km at the usual 75 km/h; at most nine tenths of the vehicle's 50 km/h."""
    usual = road_along(track([0, 50, 100]))
    assert usual.driving_s == pytest.approx(4800, rel=1e-4)
    assert usual.source == "track mine, times estimated at 75 km/h"
    slow = road_along(track([0, 50, 100]), vehicle=RoadVehicle("slow", top_speed_kmh=50.0))
    assert slow.driving_s == pytest.approx(8000, rel=1e-4)


@pytest.mark.parametrize(("off_km", "fits"), [(4.9, True), (5.1, False)])
def test_a_place_up_to_5_km_off_the_track_is_on_it(off_km: float, fits: bool) -> None:
    sites = (Site("A", 48.0 - off_km * KM, 8.0, "UTC"), Site("B", 48.0 + 10 * KM, 8.0, "UTC"))
    if fits:
        assert road_along(track([0, 5, 10]), sites).waypoint_vertex == (0, 2)
    else:
        with pytest.raises(InputError, match="A: lies 5 km off the track mine") as caught:
            road_along(track([0, 5, 10]), sites)
        assert len(caught.value.faults) == 1


def test_files_and_lines_have_a_limit() -> None:
    """32 MB and 150,000 points: three months of driving logged every minute."""
    assert (MOST_BYTES, MOST_POINTS) == (32 * 1024 * 1024, 150_000)
    with pytest.raises(InputError, match="larger than 32 MB"):
        read_track(b"<".ljust(MOST_BYTES + 1), "huge")
    with pytest.raises(InputError, match="neither GPX"):
        read_track(b"x".ljust(MOST_BYTES), "large")


def geojson(thing: object) -> bytes:
    return json.dumps(thing).encode()


LINE = [[8.0, 48.0], [8.1, 48.1]]
REST = [[8.2, 48.2, 300.0], [8.3, 48.3]]


@pytest.mark.parametrize(
    "thing",
    [
        {"type": "MultiLineString", "coordinates": [LINE, REST]},
        {
            "type": "GeometryCollection",
            "geometries": [{"type": "LineString", "coordinates": line} for line in (LINE, REST)],
        },
        {
            "type": "FeatureCollection",
            "features": [
                {"type": "Feature", "geometry": None},
                *(
                    {"type": "Feature", "geometry": {"type": "LineString", "coordinates": line}}
                    for line in (LINE, REST)
                ),
                {"type": "Feature", "geometry": {"type": "Point", "coordinates": [1, 2]}},
            ],
        },
    ],
)
def test_every_line_of_a_geojson_is_taken_in_file_order(thing: object) -> None:
    found = read_track(geojson(thing), "mine")
    assert found.lat_deg == pytest.approx([48.0, 48.1, 48.2, 48.3])
    assert found.lon_deg == pytest.approx([8.0, 8.1, 8.2, 8.3])
    assert np.array_equal(found.elevation_m, [np.nan, np.nan, 300.0, np.nan], equal_nan=True)


def test_a_recorded_kml_track_is_read_and_points_that_repeat_are_dropped() -> None:
    coords = "".join(f"<gx:coord>{text}</gx:coord>" for text in ("8 48 300", "8 48 301", "8.1 48", "8 48"))
    found = read_track(f'<kml xmlns:gx="g"><gx:Track>{coords}</gx:Track></kml>'.encode(), "mine")
    assert found.lat_deg.tolist() == [48, 48, 48]
    assert found.lon_deg.tolist() == [8, 8.1, 8]
    assert np.array_equal(found.elevation_m, [300, np.nan, np.nan], equal_nan=True)


@pytest.mark.parametrize(
    ("lat", "lon", "fits"), [(90, 180, True), (-90, -180, True), (90.1, 0, False), (0, -180.1, False)]
)
def test_points_lie_on_the_earth_up_to_its_ends(lat: float, lon: float, fits: bool) -> None:
    data = geojson({"type": "LineString", "coordinates": [[0, 0], [lon, lat]]})
    if fits:
        assert read_track(data, "mine").lat_deg.tolist() == [0, lat]
    else:
        with pytest.raises(InputError, match="point 2 is not on the earth"):
            read_track(data, "mine")
