"""The road of a trip file: from stated legs, from vertices, from a file beside it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import InputError
from planner.model.geo import great_circle_km
from planner.model.records import Road, Site
from planner.store.roadfile import VERTEX_KM, road_of, road_table

CALLS = [
    Site("A", 52.0, 0.0, "Europe/London", 10.0),
    Site("B", 52.0, 0.5, "Europe/London", 90.0),
    Site("C", 52.0, 1.0, "Europe/London"),
]
LEGS = {"legs": [{"km": 40, "minutes": 30}, {"km": 36, "minutes": 60}]}


def line(count: int = 21) -> list[list[float]]:
    """A straight road through all calls, as rows of lat, lon, minutes."""
    return [[52.0, at, 90.0 * at] for at in np.linspace(0.0, 1.0, count).tolist()]


def must(table: dict[str, Any], waypoints: list[Site] = CALLS, base: Path | None = None) -> Road:
    road = road_of(table, waypoints, base)
    assert road is not None
    return road


def field_of(table: dict[str, Any], waypoints: list[Site] = CALLS, base: Path | None = None) -> str:
    with pytest.raises(InputError) as caught:
        road_of(table, waypoints, base)
    return caught.value.faults[0].field


def test_legs_keep_their_stated_lengths_and_times() -> None:
    road = must(LEGS)
    at = list(road.waypoint_vertex)
    assert road.km[at].tolist() == pytest.approx([0, 40, 76])
    assert (road.drive_s[at] / 60).tolist() == pytest.approx([0, 30, 90])
    assert np.diff(road.km).max() <= VERTEX_KM
    assert road.estimated


def test_legs_run_along_the_great_circle_through_the_calls() -> None:
    road = must(LEGS)
    for waypoint, vertex in zip(CALLS, road.waypoint_vertex, strict=True):
        away = great_circle_km(waypoint.lat_deg, waypoint.lon_deg, road.lat_deg[vertex], road.lon_deg[vertex])
        assert float(away) < 1e-6


def test_heights_between_known_calls_are_interpolated_and_unknown_ones_stay_unknown() -> None:
    road = must(LEGS)
    _, middle, _ = road.waypoint_vertex
    assert road.elevation_m[0] == 10
    assert road.elevation_m[middle // 2] == pytest.approx(50, abs=6)
    assert np.isnan(road.elevation_m[middle + 1 :]).all()


def test_legs_across_the_antimeridian_take_the_short_way() -> None:
    waypoints = [Site("W", -17.0, 179.8, "Pacific/Fiji"), Site("E", -17.0, -179.8, "Pacific/Fiji")]
    road = must({"legs": [{"km": 45, "minutes": 50}]}, waypoints)
    assert (np.abs(road.lon_deg) > 179.7).all()
    assert road.length_km == pytest.approx(45)


def test_calls_are_found_on_the_vertices_in_driving_order() -> None:
    road = must({"points": line()})
    assert road.waypoint_vertex == (0, 10, 20)
    assert not road.estimated
    assert road.driving_s == pytest.approx(5400)


def test_calls_on_a_road_driven_there_and_back_keep_their_order() -> None:
    there = line(11)
    points = [*there, *([lat, lon, 180.0 - minutes] for lat, lon, minutes in reversed(there[:-1]))]
    waypoints = [CALLS[0], CALLS[2], CALLS[1], CALLS[0]]
    assert must({"points": points}, waypoints).waypoint_vertex == (0, 10, 15, 20)


def test_a_road_stated_by_its_table_is_the_same_road() -> None:
    road = must({"points": [[*row, 80.0 * at / 20, 5.0 * at] for at, row in enumerate(line())]})
    again = must(road_table(road))
    assert again.waypoint_vertex == road.waypoint_vertex
    np.testing.assert_allclose(again.km, road.km, atol=1e-3)
    np.testing.assert_allclose(again.drive_s, road.drive_s, atol=0.06)
    np.testing.assert_allclose(again.elevation_m, road.elevation_m, atol=0.05)
    assert again.source == road.source


def test_csv_and_geojson_files_say_the_same_as_inline_vertices(tmp_path: Path) -> None:
    rows = "\n".join(",".join(str(value) for value in row) for row in line())
    (tmp_path / "road.csv").write_text("# source: mine\nlat,lon,minutes\n" + rows)
    feature = {
        "type": "FeatureCollection",
        "features": [
            {
                "type": "Feature",
                "properties": {"minutes": [row[2] for row in line()]},
                "geometry": {"type": "LineString", "coordinates": [[row[1], row[0]] for row in line()]},
            }
        ],
    }
    (tmp_path / "road.geojson").write_text(json.dumps(feature))
    inline = must({"points": line()})
    for name in ("road.csv", "road.geojson"):
        road = must({"file": name}, base=tmp_path)
        np.testing.assert_allclose(road.km, inline.km)
        np.testing.assert_allclose(road.drive_s, inline.drive_s)
        assert road.waypoint_vertex == inline.waypoint_vertex


@pytest.mark.parametrize("name", ["../road.csv", "/etc/hostname", "none.csv", "a/../../x.csv", "."])
def test_only_files_beside_the_trip_are_opened(name: str, tmp_path: Path) -> None:
    (tmp_path / "trip").mkdir()
    (tmp_path / "road.csv").write_text("lat,lon,minutes\n52,0,0\n52,1,90\n")
    assert field_of({"file": name}, base=tmp_path / "trip") == "road.file"


@pytest.mark.parametrize(
    ("table", "field"),
    [
        ({"points": [[52, 0, 0], [52, 0.5, 40], [52, 1, 30]]}, "road.points[2]"),
        ({"points": [[52, 0, 0], [52, 0.5, 1], [52, 1, 90]]}, "road.points[1]"),
        ({"points": [[52, 0, 0, 0], [52, 0.5, 40], [52, 1, 90, 70]]}, "road.points[1]"),
        ({"points": [[52, 0, 0], [152, 0.5, 40], [52, 1, 90]]}, "road.points[1]"),
        ({"points": [[52, 0, 0], [52, 0, 5]]}, "road.points"),
        ({"points": [[52, 0, 0], [53, 0.5, 90], [52, 1, 180]]}, "stops[0]"),
        ({"points": line(), "calls": [0, 10]}, "road.calls"),
        ({"points": line(), "calls": [0, 30, 20]}, "road.calls"),
        ({"points": line(), "calls": [0, 3, 20]}, "stops[0]"),
        ({"points": line(), **LEGS}, "road"),
    ],
)
def test_a_road_that_cannot_be_driven_is_named(table: dict[str, Any], field: str) -> None:
    assert field_of(table) == field


@pytest.mark.parametrize(
    "text",
    [
        "{}",
        "[]",
        "3",
        '{"type": "FeatureCollection", "features": []}',
        '{"type":"Feature","properties":{"minutes":[0]},"geometry":{"coordinates":[[0,52]]}}',
        '{"type":"Feature","properties":{"minutes":[0,NaN]},"geometry":{"coordinates":[[0,52],[1,52]]}}',
        '{"type":"Feature","properties":{"minutes":[0,90]},"geometry":{"coordinates":[[0,52],[1e999,52]]}}',
        '{"type":"Feature","properties":{"minutes":[0,90]},"geometry":{"coordinates":[[0,52],["x",52]]}}',
        '{"type":"Feature","properties":{"minutes":[0,null]},"geometry":{"coordinates":[[0,52],[1,52]]}}',
        '{"type":"Feature","properties":{"minutes":[0,90]},"geometry":{"coordinates":[[0,null],[1,52]]}}',
        "[" * 20000,
    ],
    ids=lambda text: text[:40],
)
def test_a_broken_geojson_file_is_explained(text: str, tmp_path: Path) -> None:
    (tmp_path / "road.geojson").write_text(text)
    assert field_of({"file": "road.geojson"}, base=tmp_path).startswith("road.file")


def test_a_bad_cell_of_a_road_csv_is_named_by_line_and_column(tmp_path: Path) -> None:
    (tmp_path / "road.csv").write_text("lat,lon,minutes\n52,0,0\n52,east,40\n52,1,\n")
    with pytest.raises(InputError) as caught:
        road_of({"file": "road.csv"}, CALLS, tmp_path)
    assert [fault.field for fault in caught.value.faults] == ["line 3, lon", "line 4, minutes"]


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    rows=st.lists(
        st.lists(st.floats(-200, 200) | st.integers(-(10**30), 10**30), min_size=3, max_size=5),
        min_size=2,
        max_size=6,
    )
)
def test_any_rows_of_numbers_give_a_road_or_faults(rows: list[list[float]]) -> None:
    try:
        road = must({"points": rows})
    except InputError:
        return
    assert (np.diff(road.km) >= 0).all()
    assert (np.diff(road.drive_s) >= 0).all()
