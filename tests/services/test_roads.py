"""Roads from three services, from recorded answers of real engines, from tracks, and estimated."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import msgspec
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.errors import InputError, ServiceError, StorageError
from planner.model.geo import great_circle_km
from planner.model.records import Site
from planner.services.http import Client, RefusedError, UnreadableError
from planner.services.roads import estimate, openrouteservice, osrm, valhalla
from planner.services.roads.find import find_roads
from planner.services.roads.legs import with_time_factor
from planner.services.roads.polyline import decode
from planner.services.roads.request import VEHICLES, RoadVehicle, RouteRequest
from planner.services.roads.tracks import load_track, read_track, road_along
from tests.services import standin
from tests.services.speaks_roads import SPEED_MS, encode
from tests.services.standin import StandIn

FIXTURES = Path(__file__).parents[1] / "fixtures" / "routing"
A = Site("Invented A", 48.0, 8.0, "Europe/Berlin")
B = Site("Invented B", 48.6, 8.4, "Europe/Berlin")
C = Site("Invented C", 49.1, 9.0, "Europe/Berlin")
TRUCK = VEHICLES["truck"]


def recorded(name: str) -> standin.Behaviour:
    return standin.status(200, (FIXTURES / name).read_bytes())


def grid(lat: float, lon: float) -> Site:
    return Site(f"crossing {lat} {lon}", lat, lon, "Europe/London")


GRID = (grid(52.0, -1.0), grid(52.05, -0.96), grid(52.1, -0.9))
"""The three places of the recorded answers, on an invented road network."""


# -- the shape -----------------------------------------------------------------------------------


def test_a_recorded_shape_of_a_real_engine_is_decoded() -> None:
    """The invented grid has its crossings at 52.00 + 0.02 n, -1.00 + 0.02 m."""
    shape = json.loads((FIXTURES / "osrm_route_ok.json").read_text())["routes"][0]["geometry"]
    lat, lon = decode(shape)
    assert (lat[0], lon[0]) == (pytest.approx(52.0), pytest.approx(-1.0))
    assert (lat[-1], lon[-1]) == (pytest.approx(52.1), pytest.approx(-0.9))
    assert lat.size == 12


@given(st.lists(st.tuples(st.floats(-90, 90), st.floats(-180, 180)), min_size=1, max_size=40))
def test_every_line_survives_encoding(points: list[tuple[float, float]]) -> None:
    lat, lon = decode(encode(points))
    assert lat == pytest.approx([p[0] for p in points], abs=6e-7)
    assert lon == pytest.approx([p[1] for p in points], abs=6e-7)


@pytest.mark.parametrize("text", ["", "_oydbB", "_oydbB~b`|@?", "ü", "abc def\n", "~~~~"])
def test_a_broken_shape_is_refused(text: str) -> None:
    with pytest.raises(UnreadableError):
        decode(text)


# -- the services --------------------------------------------------------------------------------


def test_the_recorded_osrm_answer_becomes_a_road(client: Client, world: StandIn) -> None:
    """Recorded from a real osrm-routed: two legs of 674.6 and 756.2 s, 8312.0 and 9677.2 m."""
    world.fail("/route/v1", recorded("osrm_route_ok.json"))
    (road,) = osrm.find(client, world.settings(), RouteRequest(GRID))
    assert road.waypoint_vertex == (0, 5, 11)
    assert road.drive_s[list(road.waypoint_vertex)] == pytest.approx([0.0, 674.6, 1430.8])
    assert road.km[list(road.waypoint_vertex)] == pytest.approx([0.0, 8.312, 17.9892])
    assert np.all(np.diff(road.km) > 0.0)
    assert np.all(np.diff(road.drive_s) > 0.0)
    assert "OpenStreetMap" in road.attribution
    assert not road.estimated


def test_the_recorded_valhalla_answer_becomes_a_road(client: Client, world: StandIn) -> None:
    """Recorded from a real engine: legs of 542.938 and 607.505 s, 8.307 and 9.668 km."""
    world.fail("/route", recorded("valhalla_route_truck.json"))
    world.always("/trace_attributes", standin.status(400, {"error_code": 443, "error": "Exact match failed"}))
    (road,) = valhalla.find(client, world.settings(), RouteRequest(GRID, TRUCK))
    assert road.drive_s[list(road.waypoint_vertex)] == pytest.approx([0.0, 542.938, 1150.443])
    assert road.km[list(road.waypoint_vertex)] == pytest.approx([0.0, 8.307, 17.975])
    first = road.drive_s[2]
    assert first == pytest.approx(123.407, rel=1e-3)


@pytest.mark.parametrize("service", [osrm, valhalla, openrouteservice])
def test_every_service_gives_the_road_through_all_places(
    client: Client, world: StandIn, service: Any
) -> None:
    settings = world.settings(roads={"key": "own-key"})
    (road,) = service.find(client, settings, RouteRequest((A, B, C)))
    assert len(road.waypoint_vertex) == 3
    for site, vertex in zip((A, B, C), road.waypoint_vertex, strict=True):
        assert (
            float(great_circle_km(site.lat_deg, site.lon_deg, road.lat_deg[vertex], road.lon_deg[vertex]))
            < 0.01
        )
    straight = sum(
        float(great_circle_km(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg)) for a, b in ((A, B), (B, C))
    )
    assert road.length_km == pytest.approx(straight, rel=0.02)
    assert road.driving_s == pytest.approx(road.length_km * 1000.0 / SPEED_MS, rel=0.02)
    assert road.attribution
    assert 0.0 < road.time_error_share < 0.3


def test_alternatives_come_best_first(client: Client, world: StandIn) -> None:
    roads = osrm.find(client, world.settings(), RouteRequest((A, B), alternatives=2))
    assert len(roads) == 3
    assert roads[0].driving_s < roads[1].driving_s < roads[2].driving_s
    assert len(valhalla.find(client, world.settings(), RouteRequest((A, B), alternatives=1))) == 2
    assert len(osrm.find(client, world.settings(), RouteRequest((A, B, C), alternatives=2))) == 1


def test_valhalla_hears_the_size_of_the_vehicle_and_its_hour(client: Client, world: StandIn) -> None:
    high = replace(TRUCK, height_m=4.3, weight_t=18.0)
    valhalla.find(client, world.settings(), RouteRequest((A, B), high, "2026-06-01T05:00"))
    asked = world.last("/route").json
    size = asked["costing_options"]["truck"]
    assert (asked["costing"], size["height"], size["weight"], size["top_speed"]) == ("truck", 4.3, 18.0, 85)
    assert asked["date_time"] == {"type": 1, "value": "2026-06-01T05:00"}
    assert world.last("/route").headers["X-Client-Id"] == "skepway"
    valhalla.find(client, world.settings(), RouteRequest((A, B), VEHICLES["towing"]))
    assert world.last("/route").json["costing_options"]["auto"]["height"] == VEHICLES["towing"].height_m


def test_valhalla_tells_the_speed_on_every_edge(client: Client, world: StandIn) -> None:
    """The stand-in's edges are driven at 50 km/h in the first half and 100 km/h in the second."""
    (road,) = valhalla.find(client, world.settings(), RouteRequest((A, B)))
    middle = road.km.size // 2
    speed = np.diff(road.km) / np.diff(road.drive_s)
    assert speed[middle + 2 :].mean() == pytest.approx(2.0 * speed[: middle - 2].mean(), rel=0.02)
    assert road.driving_s == pytest.approx(road.length_km * 1000.0 / SPEED_MS, rel=0.02)


def test_osrm_times_are_cut_to_the_vehicles_speed_and_the_missing_checks_are_told(
    client: Client, world: StandIn
) -> None:
    slow = replace(TRUCK, top_speed_kmh=60.0)
    (road,) = osrm.find(client, world.settings(), RouteRequest((A, B), slow))
    speed_kmh = np.diff(road.km) / np.diff(road.drive_s) * 3600.0
    assert speed_kmh.max() <= 60.001
    assert "NOT checked" in road.source
    (car,) = osrm.find(client, world.settings(), RouteRequest((A, B)))
    assert "NOT checked" not in car.source


def test_openrouteservice_wants_a_key_and_gets_it_as_a_header(client: Client, world: StandIn) -> None:
    with pytest.raises(ServiceError, match="wants a key"):
        openrouteservice.find(client, world.settings(), RouteRequest((A, B)))
    assert world.seen == []
    openrouteservice.find(client, world.settings(roads={"key": "own-key"}), RouteRequest((A, B), TRUCK))
    seen = world.last("/v2/directions/driving-hgv")
    assert seen.headers["Authorization"] == "own-key"
    assert seen.json["options"]["profile_params"]["restrictions"]["height"] == TRUCK.height_m


@pytest.mark.parametrize("service", [osrm, valhalla, openrouteservice])
def test_a_place_off_every_road_is_told_in_the_services_words(
    client: Client, world: StandIn, service: Any
) -> None:
    south = Site("Invented Ice", -75.0, 8.0, "UTC")
    with pytest.raises(RefusedError, match=r"matching segment|No suitable edges|routable point"):
        service.find(client, world.settings(roads={"key": "own-key"}), RouteRequest((south, B)))


@pytest.mark.parametrize(
    "name", ["osrm_NoSegment", "osrm_InvalidValue", "osrm_InvalidQuery", "osrm_InvalidOptions"]
)
def test_recorded_refusals_of_osrm_reach_the_user(client: Client, world: StandIn, name: str) -> None:
    body = (FIXTURES / f"{name}.json").read_bytes()
    world.fail("/route/v1", standin.status(400, body))
    with pytest.raises(RefusedError) as caught:
        osrm.find(client, world.settings(), RouteRequest((A, B)))
    assert json.loads(body)["message"].rstrip(".") in str(caught.value)


def _osrm_route(change: Callable[[dict[str, Any]], Any]) -> Callable[[Any], None]:
    def alter(document: Any) -> None:
        change(document["routes"][0])

    return alter


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.update(code="NoRoute", routes=[]), "no road .NoRoute"),
        (lambda d: d.update(code="NoRoute"), "no road .NoRoute"),
        (lambda d: d.update(routes=[]), "no road .Ok"),
        (
            lambda d: d["waypoints"][0].update(distance=1_578_802.0),
            "nearest road found for Invented A is 1579 km",
        ),
        (_osrm_route(lambda r: r["legs"][0]["annotation"]["duration"].pop()), "do not fit"),
        (_osrm_route(lambda r: r["legs"][0]["annotation"]["duration"].__setitem__(0, -5.0)), "impossible"),
        (_osrm_route(lambda r: r["legs"][0].update(distance=1000.0)), "shape .* and length"),
        (_osrm_route(lambda r: r.update(geometry="abc")), "cut off"),
        (_osrm_route(lambda r: r.update(legs=[])), "do not fit"),
        (_osrm_route(lambda r: r["legs"][0].update(duration="long")), "another form"),
        (lambda d: d.pop("code"), "another form"),
    ],
)
def test_an_osrm_answer_that_cannot_be_right_is_refused(
    client: Client, world: StandIn, change: Callable[[Any], Any], words: str
) -> None:
    def alter(document: Any) -> None:
        change(document)

    world.always("/route/v1", standin.mangled(alter))
    with pytest.raises(ServiceError, match=f"OSRM: .*{words}"):
        osrm.find(client, world.settings(), RouteRequest((A, B)))


def test_an_answer_about_another_place_is_refused(client: Client, world: StandIn) -> None:
    world.fail("/route", recorded("valhalla_route_truck.json"))
    with pytest.raises(ServiceError, match=r"nearest road found for Invented A is \d+ km away"):
        valhalla.find(client, world.settings(), RouteRequest((A, B, C), TRUCK))


# -- finding, falling back -----------------------------------------------------------------------


def test_roads_get_heights_in_one_more_request(client: Client, world: StandIn) -> None:
    (road,) = find_roads(client, world.settings(), RouteRequest((A, B, C)))
    assert np.isfinite(road.elevation_m).all()
    assert len(world.seen) == 2
    world.always("/v1/elevation", standin.status(503))
    other = Site("Invented D", 49.5, 9.0, "Europe/Berlin")
    (flat,) = find_roads(client, world.settings(), RouteRequest((A, other)))
    assert np.isnan(flat.elevation_m).all()


def test_without_a_road_service_the_estimate_says_why(client: Client, world: StandIn) -> None:
    world.always("/route", standin.status(503))
    (road,) = find_roads(client, world.settings(), RouteRequest((A, B)))
    assert road.estimated
    assert "OSRM: answered 503" in road.source
    assert road.time_error_share > 0.3


def test_offline_the_last_road_serves(client: Client, world: StandIn) -> None:
    (fresh,) = find_roads(client, world.settings(), RouteRequest((A, B)))
    world.stop()
    (kept,) = find_roads(client.with_(offline=True), world.settings(), RouteRequest((A, B)))
    assert not kept.estimated
    assert np.array_equal(kept.km, fresh.km)
    assert np.array_equal(kept.elevation_m, fresh.elevation_m)
    assert "old: working offline" in kept.source
    assert "old" not in fresh.source


def test_a_refusal_is_not_covered_by_an_estimate(client: Client, world: StandIn) -> None:
    south = Site("Invented Ice", -75.0, 8.0, "UTC")
    with pytest.raises(RefusedError):
        find_roads(client, world.settings(), RouteRequest((south, B)))


def test_the_users_factor_stretches_every_leg(client: Client, world: StandIn) -> None:
    (road,) = osrm.find(client, world.settings(), RouteRequest((A, B, C)))
    towing = with_time_factor(road, 1.25)
    assert towing.drive_s == pytest.approx(1.25 * road.drive_s)
    assert np.array_equal(towing.km, road.km)


# -- the estimate --------------------------------------------------------------------------------


def test_the_estimate_winds_and_carries_its_band() -> None:
    """Karlsruhe to Frankfurt: 124 km as the crow flies; motorway networks wind by about 1.3 (arXiv:2406.06490)."""
    karlsruhe = Site("Karlsruhe", 49.0069, 8.4037, "Europe/Berlin")
    frankfurt = Site("Frankfurt", 50.1109, 8.6821, "Europe/Berlin")
    road = estimate.find(RouteRequest((karlsruhe, frankfurt)))
    straight = float(great_circle_km(49.0069, 8.4037, 50.1109, 8.6821))
    assert road.length_km == pytest.approx(1.3 * straight, rel=1e-6)
    assert road.estimated
    assert road.time_error_share == pytest.approx(0.33)
    assert 60.0 < road.length_km / road.driving_s * 3600.0 < 90.0


def test_the_estimate_heeds_stops_slow_vehicles_and_places_that_coincide() -> None:
    road = estimate.find(RouteRequest((A, B, B, C)))
    assert road.waypoint_vertex[1] < road.waypoint_vertex[3]
    assert road.km[road.waypoint_vertex[1]] == road.km[road.waypoint_vertex[2]]
    slow = estimate.find(RouteRequest((A, C), RoadVehicle("invented", top_speed_kmh=30.0)))
    assert slow.length_km / slow.driving_s * 3600.0 <= 27.001


def test_the_estimate_crosses_the_date_line() -> None:
    west, east = Site("W", -17.0, 179.5, "Pacific/Fiji"), Site("E", -17.0, -179.5, "Pacific/Fiji")
    road = estimate.find(RouteRequest((west, east)))
    assert road.length_km < 160.0


# -- tracks --------------------------------------------------------------------------------------

POINTS = [(48.0 + 0.01 * k, 8.0 + 0.005 * k, 300.0 + k) for k in range(60)]


def gpx(stamps: bool = False, kind: str = "trk") -> bytes:
    def point(k: int, tag: str) -> str:
        lat, lon, height = POINTS[k]
        second = 60 * k + (1800 if k > 30 else 0)
        when = f"<time>2026-06-01T{5 + second // 3600:02d}:{second // 60 % 60:02d}:{second % 60:02d}Z</time>"
        return f'<{tag} lat="{lat}" lon="{lon}"><ele>{height}</ele>{when if stamps else ""}</{tag}>'

    inner = "".join(point(k, "trkpt" if kind == "trk" else "rtept") for k in range(len(POINTS)))
    body = f"<trk><trkseg>{inner}</trkseg></trk>" if kind == "trk" else f"<rte>{inner}</rte>"
    return f'<?xml version="1.0"?><gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">{body}</gpx>'.encode()


def geojson(wrap: bool = True) -> bytes:
    line = {"type": "LineString", "coordinates": [[lon, lat, height] for lat, lon, height in POINTS]}
    feature = {"type": "Feature", "properties": {}, "geometry": line}
    return json.dumps({"type": "FeatureCollection", "features": [feature]} if wrap else line).encode()


def kml() -> bytes:
    text = " ".join(f"{lon},{lat},{height}" for lat, lon, height in POINTS)
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><LineString><coordinates>{text}</coordinates></LineString></Placemark></kml>'.encode()


@pytest.mark.parametrize(
    "data", [gpx(), gpx(kind="rte"), geojson(), geojson(wrap=False), kml(), b"\xef\xbb\xbf" + gpx()]
)
def test_every_kind_of_file_gives_the_same_road(data: bytes) -> None:
    road = road_along(read_track(data, "mine"))
    assert road.lat_deg == pytest.approx([p[0] for p in POINTS])
    assert road.lon_deg == pytest.approx([p[1] for p in POINTS])
    assert road.elevation_m == pytest.approx([p[2] for p in POINTS])
    assert road.estimated
    assert road.waypoint_vertex == (0, 59)


def test_recorded_times_count_without_the_standing() -> None:
    """One point a minute; half an hour at the lay-by after the thirty-first is not driving."""
    road = road_along(read_track(gpx(stamps=True), "logger"))
    assert not road.estimated
    assert road.driving_s == pytest.approx(58 * 60.0)


def test_places_are_found_along_the_track_in_order() -> None:
    track = read_track(gpx(), "mine")
    start, middle, end = (Site(f"P{k}", *POINTS[k][:2], "UTC") for k in (0, 33, 59))
    assert road_along(track, (start, middle, end)).waypoint_vertex == (0, 33, 59)
    with pytest.raises(InputError, match=r"P\d+: lies \d+ km off the track mine.*change the order"):
        road_along(track, (start, end, middle))
    with pytest.raises(InputError, match="Invented C"):
        road_along(track, (start, C))


def test_a_recorded_trip_out_and_back_finds_a_stop_on_the_way_out() -> None:
    """40 km east and home on a lane 600 m north; the stop at km 15 lies 100 m from the lane home, 500 m from
    its own. Taking the nearest vertex of the rest would jump to km 66 and leave the far end 25 km off."""
    out = [(0.0, km) for km in range(41)]
    home = [(0.6, km) for km in range(40, -1, -1)]
    points = [[km / 111.195, north / 111.195] for north, km in out + home]
    line = {"type": "LineString", "coordinates": points}
    track = read_track(json.dumps(line).encode(), "swarm round")
    yard, stop, far = (
        Site(name, north / 111.195, km / 111.195, "UTC")
        for name, north, km in (("yard", 0.0, 0.0), ("stop", 0.5, 15.0), ("far end", 0.0, 40.0))
    )
    road = road_along(track, (yard, stop, far, yard))
    assert road.km[list(road.waypoint_vertex)] == pytest.approx([0.0, 15.0, 40.0, 80.6], abs=0.01)


BOMB = b'<?xml version="1.0"?><!DOCTYPE lolz [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;">]><gpx>&b;</gpx>'


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (b"", "neither GPX nor GeoJSON nor KML"),
        (b"PK\x03\x04", "neither GPX"),
        (BOMB, "document type"),
        (BOMB.replace(b"gpx", b"kml"), "document type"),
        ("<?xml version='1.0' encoding='utf-16'?><gpx/>".encode("utf-16-le"), "not UTF-8"),
        (b"<gpx", "GPX cannot be read"),
        (b"<gpx version='1.1'></gpx>", "no line"),
        (b"<kml>", "KML cannot be read"),
        (b"<html><body/></html>", "no line"),
        (b"{", "JSON cannot be read"),
        (b'{"type":"Point","coordinates":[8,48]}', "no line"),
        (b'{"type":"LineString","coordinates":[[8,48],[8,"north"]]}', "another form"),
        (b'{"type":"LineString","coordinates":[[8,48],[8]]}', "another form"),
        (b'{"type":"LineString","coordinates":[[8,48],[8,480]]}', "point 2 is not on the earth"),
        (b'{"type":"LineString","coordinates":[[8,48],[8,48]]}', "no line"),
        (b'{"type":"FeatureCollection","features":7}', "another form"),
        (b'{"a":' * 5000, "JSON cannot be read|another form"),
    ],
)
def test_a_broken_or_hostile_file_is_refused_in_words(data: bytes, words: str) -> None:
    with pytest.raises(InputError, match=words):
        read_track(data, "hostile")


def test_a_huge_or_missing_file_is_not_read(tmp_path: Path) -> None:
    huge = tmp_path / "huge.gpx"
    with huge.open("wb") as file:
        file.truncate(40 * 1024 * 1024)
    with pytest.raises(InputError, match="larger than 32 MB"):
        load_track(huge)
    with pytest.raises(StorageError, match="cannot be read"):
        load_track(tmp_path / "none.gpx")
    (tmp_path / "mine.gpx").write_bytes(gpx())
    assert load_track(tmp_path / "mine.gpx").name == "mine.gpx"


@given(
    st.binary(max_size=400)
    | st.binary(max_size=300).map(lambda data: b"<gpx>" + data)
    | st.binary(max_size=300).map(lambda data: b"{" + data)
)
def test_no_bytes_whatever_bring_the_reader_down(data: bytes) -> None:
    with contextlib.suppress(InputError):
        read_track(data, "noise")


def test_settings_choose_the_service(client: Client, world: StandIn) -> None:
    settings = world.settings()
    for service, path in (
        ("osrm", "/route/v1"),
        ("valhalla", "/route"),
        ("openrouteservice", "/v2/directions"),
    ):
        roads = msgspec.structs.replace(settings.roads, service=service, key="own-key")
        find_roads(client, msgspec.structs.replace(settings, roads=roads), RouteRequest((A, B)))
        assert world.asked(path) >= 1
    roads = msgspec.structs.replace(settings.roads, service="estimate")
    assert find_roads(client, msgspec.structs.replace(settings, roads=roads), RouteRequest((A, B)))[
        0
    ].estimated


@pytest.mark.network
@pytest.mark.parametrize("service", ["osrm", "valhalla"])
def test_the_live_servers_still_speak_this_protocol(tmp_path: Path, service: str) -> None:
    from planner.services.settings import Roads, Settings

    live = Client.open(tmp_path)
    (road,) = find_roads(live, Settings(roads=Roads(service=service)), RouteRequest((A, B)))
    live.close()
    assert not road.estimated
