"""The road of a trip file: from stated legs, from vertices, from a file beside it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import InputError
from planner.model.geo import great_circle_km
from planner.model.records import Road, Site
from planner.store import roadfile
from planner.store.roadfile import VERTEX_KM, road_of, road_table
from tests.length import few_or_all

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


# -- bounds ------------------------------------------------------------------------------------------

TWO = [Site("A", 52.0, 0.0, "Europe/London", 10.0), Site("C", 52.0, 1.0, "Europe/London", 30.0)]
"""68.46 km apart as the crow flies."""


def accepts(table: dict[str, Any], waypoints: list[Site] = TWO) -> bool:
    try:
        must(table, waypoints)
    except InputError:
        return False
    return True


@pytest.mark.parametrize(
    ("km", "minutes", "fine"),
    [
        *(
            (km, 60, fine)
            for km, fine in ((69, True), (66.6, True), (66.5, False), (180.2, True), (180.3, False))
        ),
        *((km, 30, fine) for km, fine in ((90.2, True), (90.3, False))),
    ],
)
def test_a_leg_is_no_shorter_than_the_crows_way_and_no_faster_than_any_vehicle(
    km: float, minutes: float, fine: bool
) -> None:
    """Two hundredths and half a kilometre are the rounding of places; 180 km/h and 0.2 km that of stated legs."""
    assert accepts({"legs": [{"km": km, "minutes": minutes}]}) == fine


@pytest.mark.parametrize(
    ("leg", "field", "problem"),
    [
        ({"km": 50, "minutes": 60}, "road.legs[0].km", "A to C is 68 km as the crow flies"),
        ({"km": 200, "minutes": 60}, "road.legs[0].minutes", "200 km in 60 minutes is faster than 180 km/h"),
    ],
)
def test_a_leg_that_cannot_be_driven_says_why(leg: dict[str, Any], field: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        road_of({"legs": [leg]}, TWO, None)
    assert [(fault.field, fault.problem) for fault in caught.value.faults] == [(field, problem)]


@pytest.mark.parametrize(("km", "vertices"), [(70.0, 15), (70.1, 16), (75.0, 16)])
def test_a_leg_has_a_vertex_every_five_kilometres(km: float, vertices: int) -> None:
    road = must({"legs": [{"km": km, "minutes": 60}]}, TWO)
    assert road.km.size == vertices
    assert road.waypoint_vertex == (0, vertices - 1)
    assert road.elevation_m == pytest.approx(np.linspace(10.0, 30.0, vertices))


def test_no_leg_at_all_is_a_place_where_one_stays() -> None:
    here = [TWO[0], TWO[0]]
    assert must({"legs": [{"km": 0, "minutes": 0}]}, here).km.tolist() == [0.0, 0.0]


def vertices(*rows: tuple[float, ...]) -> dict[str, Any]:
    """A road from A to C through the rows given, by share of the way, minutes and further figures."""
    return {"points": [[52.0, share, *rest] for share, *rest in rows]}


@pytest.mark.parametrize(
    ("table", "field", "problem"),
    [
        (vertices((0, 0), (0.5, 40), (1, 39)), "road.points[2]", "the minutes run back"),
        (vertices((0, 0, 0), (0.5, 40, 40), (1, 90, 39)), "road.points[2]", "the km run back"),
        (vertices((0, 0, 0), (0.5, 40, 40), (0.7, 50, 39), (1, 90, 70)), "road.points[2]", "the km run back"),
        (vertices((0, 0, 0), (1, 30, 90.3)), "road.points[1]", "faster than 180 km/h to here"),
        (vertices((0, 0, 0), (1, 60, 0)), "road.points", "the road leads nowhere"),
    ],
)
def test_a_road_never_runs_back(table: dict[str, Any], field: str, problem: str) -> None:
    with pytest.raises(InputError) as caught:
        road_of(table, TWO, None)
    assert [(fault.field, fault.problem) for fault in caught.value.faults] == [(field, problem)]


@pytest.mark.parametrize(
    "table",
    [
        vertices((0, 0, 0), (0.5, 40, 40), (0.5, 40, 40), (1, 90, 70)),
        vertices((0, 0, 0), (1, 30, 90.2)),
        vertices((0, 7, 3), (0.5, 40, 40), (1, 97, 73)),
    ],
    ids=["standing", "as fast as can be", "begun elsewhere"],
)
def test_a_road_may_stand_be_fast_and_begin_at_any_count(table: dict[str, Any]) -> None:
    road = must(table, TWO)
    assert (road.km[0], road.drive_s[0]) == (0.0, 0.0)
    assert road.km[-1] == table["points"][-1][3] - table["points"][0][3]
    assert road.drive_s[-1] == 60.0 * (table["points"][-1][2] - table["points"][0][2])


@pytest.mark.parametrize(("north_km", "fine"), [(4.9, True), (5.1, False)])
@pytest.mark.parametrize(("at", "field"), [(0, "origin"), (1, "stops[0]"), (2, "destination")])
@pytest.mark.parametrize("stated", [True, False])
def test_places_lie_within_five_kilometres_of_the_road(
    north_km: float, fine: bool, at: int, field: str, stated: bool
) -> None:
    waypoints = list(CALLS)
    waypoints[at] = Site("Off", 52.0 + north_km / 111.195, waypoints[at].lon_deg, "Europe/London")
    table = {"points": line(), **({"calls": [0, 10, 20]} if stated else {})}
    if fine:
        assert must(table, waypoints).waypoint_vertex == (0, 10, 20)
        return
    with pytest.raises(InputError) as caught:
        road_of(table, waypoints, None)
    assert [(fault.field, fault.problem) for fault in caught.value.faults] == [
        (field, "this lies 5 km off the road")
    ]


@pytest.mark.parametrize("waypoints", [[0, 10, 20], [0, 9, 20]])
def test_stated_calls_are_kept(waypoints: list[int]) -> None:
    assert must({"points": line(), "calls": waypoints}).waypoint_vertex == tuple(waypoints)


@pytest.mark.parametrize("waypoints", [[1, 10, 20], [0, 10, 19], [0, 10, 10, 20]])
def test_stated_calls_run_from_the_first_to_the_last_vertex(waypoints: list[int]) -> None:
    assert field_of({"points": line(), "calls": waypoints}) == "road.calls"


def test_two_calls_may_share_a_vertex() -> None:
    waypoints = [CALLS[0], CALLS[1], CALLS[1], CALLS[2]]
    assert must({"points": line(), "calls": [0, 10, 10, 20]}, waypoints).waypoint_vertex == (0, 10, 10, 20)


ROW = {"lat": 52.0, "lon": 0.0, "minutes": 0.0, "km": 0.0, "elevation_m": 0.0}


@pytest.mark.parametrize(
    ("name", "low", "high"),
    [
        ("lat", -90, 90),
        ("lon", -180, 180),
        ("minutes", 0, 50_000),
        ("km", 0, 50_000),
        ("elevation_m", -450, 6000),
    ],
)
def test_figures_of_a_vertex_have_their_bounds(name: str, low: float, high: float) -> None:
    """Beyond them the vertex is named; within, whatever else is wrong with so odd a road is another fault."""
    for value, fine in ((low, True), (high, True), (low - 0.5, False), (high + 0.5, False)):
        points = [[52.0, 0.0, 0.0, 0.0, 0.0], list({**ROW, name: value}.values())]
        with pytest.raises(InputError) as caught:
            road_of({"points": points}, TWO, None)
        said = f"{name} is not between {low} and {high}"
        assert (caught.value.faults[0].problem == said) != fine
        assert fine or caught.value.faults[0].field == "road.points[1]"


def test_what_a_road_says_of_itself_is_kept_and_has_its_defaults() -> None:
    plain, legs = must({"points": line()}), must(LEGS)
    assert (plain.source, plain.estimated, plain.time_error_share, plain.attribution) == (
        "vertices of the trip file", False, 0.0, "",
    )  # fmt: skip
    assert (legs.source, legs.estimated) == ("legs stated in the trip file", True)
    said = {"source": "S", "estimated": True, "time_error_share": 0.2, "attribution": "(c)"}
    road = must({"points": line(), **said})
    assert (road.source, road.estimated, road.time_error_share, road.attribution) == tuple(said.values())
    assert {key: road_table(road)[key] for key in said} == said
    assert "attribution" not in road_table(plain)


def test_a_written_road_has_metres_and_tenths_of_seconds() -> None:
    road = must({"points": [[52.123456789, 0, 0, 0, 10.26], [52.123456789, 0.9999, 90.12345, 70.98765]]},
                [Site("A", 52.1, 0.0, "UTC"), Site("C", 52.1, 1.0, "UTC")])  # fmt: skip
    assert road_table(road)["points"] == [[52.12346, 0, 0, 0, 10.3], [52.12346, 0.9999, 90.123, 70.988]]
    assert road_table(road)["calls"] == [0, 1]


def test_heights_are_a_fifth_figure_and_may_be_unknown() -> None:
    road = must({"points": [[52, 0, 0, 0], [52, 0.5, 40, 40, 77], [52, 1, 90, 70]]}, TWO)
    assert np.isnan(road.elevation_m).tolist() == [True, False, True]
    assert road.elevation_m[1] == 77.0


def test_a_road_without_km_is_as_long_as_its_line() -> None:
    assert must({"points": line()}).length_km == pytest.approx(68.46, abs=0.02)


def test_a_csv_may_state_its_km_and_heights(tmp_path: Path) -> None:
    (tmp_path / "road.csv").write_text("lat,lon,minutes,km,elevation_m\n52,0,0,0,5\n52,1,90,80,\n")
    road = must({"file": "road.csv"}, TWO, tmp_path)
    assert road.length_km == 80.0
    assert road.elevation_m[0] == 5.0
    assert np.isnan(road.elevation_m[1])


@pytest.mark.parametrize("name", ["road.geojson", "road.json", "ROAD.JSON"])
def test_a_geojson_line_may_hold_heights(name: str, tmp_path: Path) -> None:
    feature = {
        "type": "Feature",
        "properties": {"minutes": [0, 90]},
        "geometry": {"type": "LineString", "coordinates": [[0, 52, 5], [1, 52]]},
    }
    (tmp_path / name).write_text(json.dumps(feature))
    road = must({"file": name}, TWO, tmp_path)
    assert road.elevation_m[0] == 5.0
    assert np.isnan(road.elevation_m[1])
    assert road.driving_s == 5400.0


def test_a_geojson_line_has_two_vertices_to_two_hundred_thousand(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert roadfile.MAX_VERTICES == 200_000
    monkeypatch.setattr(roadfile, "MAX_VERTICES", 3)
    for count, fine in ((1, False), (2, True), (3, True), (4, False)):
        shares = np.linspace(0.0, 1.0, count).tolist()
        feature = {
            "type": "Feature",
            "properties": {"minutes": [90 * share for share in shares]},
            "geometry": {"type": "LineString", "coordinates": [[share, 52] for share in shares]},
        }
        (tmp_path / "road.json").write_text(json.dumps(feature))
        if fine:
            assert must({"file": "road.json"}, TWO, tmp_path).km.size == count
        else:
            with pytest.raises(InputError, match=f"{count} vertices"):
                road_of({"file": "road.json"}, TWO, tmp_path)


def test_a_file_is_left_unread_without_its_folder() -> None:
    assert road_of({"file": "none.csv"}, TWO, None) is None
    assert road_of({}, TWO, None) is None


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


@pytest.mark.parametrize("examples", few_or_all(40, 200))
def test_any_rows_of_numbers_give_a_road_or_faults(examples: int) -> None:
    @settings(max_examples=examples, deadline=None)
    @given(
        rows=st.lists(
            st.lists(st.floats(-200, 200) | st.integers(-(10**30), 10**30), min_size=3, max_size=5),
            min_size=2,
            max_size=6,
        )
    )
    def holds(rows: list[list[float]]) -> None:
        try:
            road = must({"points": rows})
        except InputError:
            return
        assert (np.diff(road.km) >= 0).all()
        assert (np.diff(road.drive_s) >= 0).all()

    holds()
