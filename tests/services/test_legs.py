"""From legs to a road, the encoded line, the estimate and the heights: numbers worked out by hand."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from planner.errors import ServiceError
from planner.model.records import Road, Site
from planner.services.http import CachedResponse, Client, UnreadableError
from planner.services.roads import estimate, openrouteservice, osrm, valhalla
from planner.services.roads.estimate import mean_speed_kmh, winding
from planner.services.roads.find import find_roads, tiles_dir
from planner.services.roads.heights import with_heights
from planner.services.roads.legs import Leg, road_from_legs, slowed, spread_by_length, with_age
from planner.services.roads.polyline import decode
from planner.services.roads.request import VEHICLES, RouteRequest
from planner.services.settings import Roads, Settings
from tests.services import standin
from tests.services.standin import StandIn

KM = 1.0 / 111.1951
"""Degrees of latitude to a kilometre on the sphere of the model."""


def site(km: float, name: str = "P") -> Site:
    return Site(name, 48.0 + km * KM, 8.0, "UTC")


def leg(*km: float, seconds: list[float] | None = None, length_km: float | None = None) -> Leg:
    """Vertices due north at these kilometres; 2,000 s a piece and the true length unless told otherwise."""
    pieces = np.array(seconds or [2000.0] * (len(km) - 1))
    lat = 48.0 + KM * np.array(km)
    length = km[-1] - km[0] if length_km is None else length_km
    return Leg(lat, np.full(len(km), 8.0), pieces, length, float(pieces.sum()))


def joined(*legs: Leg, off_km: float = 0.0, request: RouteRequest | None = None) -> Road:
    ends = [float((one.lat_deg[-1] - 48.0) / KM) for one in legs]
    asked = request or RouteRequest((site(off_km), *(site(end) for end in ends)))
    return road_from_legs(list(legs), asked, source="s", attribution="a", time_error_share=0.2)


# -- joining -------------------------------------------------------------------------------------


def test_legs_are_joined_end_to_end() -> None:
    """Two legs of 10 and 6 km; the vertex they share is kept once."""
    road = joined(leg(0, 4, 10), leg(10, 16))
    assert road.km == pytest.approx([0, 4, 10, 16], abs=1e-3)
    assert road.drive_s.tolist() == [0, 2000, 4000, 6000]
    assert road.waypoint_vertex == (0, 2, 3)


def test_pieces_are_scaled_to_the_stated_length_and_time() -> None:
    """A shape of 10 km stated as 10.5 km and 4,000 s of pieces stated as 5,000 s with turns: 5 and 25 % longer."""
    one = replace(leg(0, 4, 10, length_km=10.5), duration_s=5000.0)
    road = joined(one)
    assert road.km == pytest.approx([0, 4.2, 10.5], abs=1e-3)
    assert road.drive_s == pytest.approx([0, 2500, 5000])


def test_pieces_without_times_share_the_legs_time_evenly() -> None:
    one = replace(leg(0, 4, 10, seconds=[0.0, 0.0]), duration_s=5000.0)
    assert joined(one).drive_s.tolist() == [0, 2500, 5000]


def test_a_leg_between_places_that_coincide_has_no_length() -> None:
    still = replace(leg(10, 10, seconds=[30.0]), length_km=0.0)
    assert joined(leg(0, 10), still).km == pytest.approx([0, 10, 10], abs=1e-3)


@pytest.mark.parametrize(("length_km", "fits"), [(111.0, True), (91.0, True), (112.0, False), (90.0, False)])
def test_shape_and_length_may_differ_by_a_tenth(length_km: float, fits: bool) -> None:
    """A shape of 100 km: a tenth of the stated length either way."""
    one = leg(0, 50, 100, length_km=length_km)
    if fits:
        assert joined(one).length_km == pytest.approx(length_km)
    else:
        with pytest.raises(UnreadableError, match=r"shape \(100\.0 km\) and length .* do not fit"):
            joined(one)


@pytest.mark.parametrize(("length_km", "fits"), [(0.41, True), (0.39, False)])
def test_below_a_kilometre_a_hundred_metres_may_differ(length_km: float, fits: bool) -> None:
    one = leg(0, 0.5, length_km=length_km)
    if fits:
        assert joined(one).length_km == pytest.approx(length_km)
    else:
        with pytest.raises(UnreadableError, match="do not fit"):
            joined(one)


@pytest.mark.parametrize(("off_km", "fits"), [(4.9, True), (-4.9, True), (5.1, False)])
def test_a_road_that_begins_over_5_km_away_is_another_road(off_km: float, fits: bool) -> None:
    if fits:
        assert joined(leg(0, 50), off_km=off_km).waypoint_vertex == (0, 1)
    else:
        with pytest.raises(UnreadableError, match="nearest road found for P is 5 km away"):
            joined(leg(0, 50), off_km=off_km)


def _with(**changes: Any) -> Leg:
    return replace(leg(0, 5, 10), **changes)


@pytest.mark.parametrize(
    ("broken", "words"),
    [
        (_with(piece_s=np.array([60.0])), "1 times for 3 vertices"),
        (
            _with(lat_deg=np.array([48.0]), lon_deg=np.array([8.0]), piece_s=np.zeros(0)),
            "0 times for 1 vertices",
        ),
        (_with(piece_s=np.array([60.0, -1.0])), "impossible"),
        (_with(piece_s=np.array([60.0, np.nan])), "impossible"),
        (_with(lat_deg=np.array([48.0, np.inf, 48.0])), "impossible"),
        (_with(duration_s=np.nan), "impossible"),
        (_with(length_km=np.inf), "impossible"),
        (_with(lat_deg=np.array([48.0, 90.1, 48.0])), "outside the earth"),
        (_with(lon_deg=np.array([8.0, -180.1, 8.0])), "outside the earth"),
    ],
)
def test_a_leg_that_cannot_be_is_refused(broken: Leg, words: str) -> None:
    with pytest.raises(UnreadableError, match=words):
        joined(broken, request=RouteRequest((site(0), site(10))))


def test_as_many_legs_as_ways_between_the_places_must_come() -> None:
    with pytest.raises(UnreadableError, match="1 legs for 3 places"):
        joined(leg(0, 10), request=RouteRequest((site(0), site(5), site(10))))


def test_times_of_parts_are_spread_by_length() -> None:
    """100 s over 1 and 3 km: 25 and 75 s; then 60 s for one piece; parts without length share evenly."""
    lat = 48.0 + KM * np.array([0.0, 1.0, 4.0, 5.0])
    lon = np.full(4, 8.0)
    assert spread_by_length(lat, lon, [(0, 2, 100.0), (2, 3, 60.0)]) == pytest.approx([25, 75, 60], rel=1e-6)
    assert spread_by_length(lat, lon, [(0, 2, 100.0), (2, 2, 9.0), (0, 1, 1.0)]) == pytest.approx(
        [26, 75, 0], rel=1e-6
    )
    assert spread_by_length(np.full(3, 48.0), lon[:3], [(0, 2, 100.0)]).tolist() == [50, 50]


def test_no_piece_is_driven_faster_than_the_vehicle_goes() -> None:
    """10 km in 300 s (120 km/h) become 450 s at 80 km/h; 10 km in 600 s (60 km/h) stay."""
    (slow,) = slowed([leg(0, 10, 20, seconds=[300.0, 600.0])], 80.0)
    assert slow.piece_s == pytest.approx([450, 600], rel=1e-6)
    assert slow.duration_s == pytest.approx(1050, rel=1e-6)


def test_the_age_of_an_answer_goes_into_the_source_line() -> None:
    road = joined(leg(0, 10))
    fresh: CachedResponse[int] = CachedResponse(1, 0.0, 0.0)
    old: CachedResponse[int] = CachedResponse(1, 0.0, 7200.0, True, True, "X")
    assert with_age([road], fresh)[0].source == "s"
    assert with_age([road], old)[0].source == "s; answer is 2 h old: X"


# -- the encoded line ----------------------------------------------------------------------------

LINE = "_p~iF~ps|U_ulLnnqC_mqNvxq`@"
"""The example of the format's own description."""


def test_the_formats_own_example_is_decoded() -> None:
    """https://developers.google.com/maps/documentation/utilities/polylinealgorithm"""
    lat, lon = decode(LINE, decimals=5)
    assert lat == pytest.approx([38.5, 40.7, 43.252])
    assert lon == pytest.approx([-120.2, -120.95, -126.453])
    assert decode(LINE)[0] == pytest.approx(lat / 10.0)


@pytest.mark.parametrize("kept", range(len(LINE)))
def test_a_line_cut_anywhere_but_after_a_pair_is_refused(kept: int) -> None:
    if kept in (10, 18):
        assert decode(LINE[:kept], decimals=5)[0].size == {10: 1, 18: 2}[kept]
    else:
        with pytest.raises(UnreadableError, match="cut off"):
            decode(LINE[:kept])


@pytest.mark.parametrize("foreign", ["\x3e", "\x7f", "ü", " "])
def test_a_sign_outside_the_formats_range_is_refused(foreign: str) -> None:
    """Signs run from ? (63) to ~ (126)."""
    with pytest.raises(UnreadableError, match="not an encoded polyline"):
        decode("??" + foreign)
    assert decode("??")[0].tolist() == [0.0]


# -- the estimate --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("km", "kmh"),
    [(0.05, 35), (5, 35), (10, 42.5), (20, 50), (100, 75), (300, 90), (900, 90), (173.205, 82.5)],
)
def test_mean_speeds_grow_with_the_length_of_the_leg(km: float, kmh: float) -> None:
    """Common practice, no source: 35 km/h to 5 km, 50 at 20, 75 at 100, 90 from 300 km on; between them by the
    logarithm, so 10 km, the geometric middle of 5 and 20, lies half-way."""
    assert mean_speed_kmh(km, 130.0) == pytest.approx(kmh, abs=0.01)


def test_no_vehicle_keeps_its_top_speed_all_the_way() -> None:
    assert mean_speed_kmh(300.0, 85.0) == pytest.approx(76.5)


@pytest.mark.parametrize(("km", "factor"), [(1, 1.4), (20, 1.4), (60, 1.35), (100, 1.3), (900, 1.3)])
def test_short_roads_wind_more(km: float, factor: float) -> None:
    """1.3 on motorway networks (arXiv:2406.06490), 1.4 on short legs (from memory)."""
    assert winding(km) == pytest.approx(factor)


def test_the_estimate_has_a_vertex_every_five_kilometres_and_its_length_decides_the_speed() -> None:
    """100 km as the crow flies are 130 km of road; at 130 km the usual speed is 75 + 15 ln 1.3 / ln 3."""
    road = estimate.find(RouteRequest((site(0), site(100))))
    assert road.km.size == 21
    assert road.length_km == pytest.approx(130.0, abs=0.01)
    speed = 75.0 + 15.0 * np.log(1.3) / np.log(3.0)
    assert road.driving_s == pytest.approx(130.0 / speed * 3600.0, rel=1e-4)
    assert np.diff(road.drive_s) == pytest.approx(road.driving_s / 20, rel=1e-6)
    assert road.time_error_share == 0.33


def test_each_leg_of_an_estimate_winds_by_its_own_length() -> None:
    """10 km x 1.4 and 100 km x 1.3."""
    road = estimate.find(RouteRequest((site(0), site(10), site(110))))
    assert road.km[list(road.waypoint_vertex)] == pytest.approx([0.0, 14.0, 144.0], abs=0.02)
    assert estimate.find(RouteRequest((site(0), site(2)))).km.size == 2


# -- vehicles and questions ----------------------------------------------------------------------


def test_vehicles_grow_from_car_to_truck_and_keep_to_the_road() -> None:
    """Europe's limits (96/53/EC): 4.0 m high, 2.55 m wide, 12 m long for a truck, 40 t, 11.5 t an axle."""
    names = ("car", "pickup", "van", "truck")
    for size in ("height_m", "width_m", "length_m", "weight_t", "axle_load_t"):
        values = [getattr(VEHICLES[name], size) for name in names]
        assert values == sorted(values), size
    truck, car, towing = VEHICLES["truck"], VEHICLES["car"], VEHICLES["towing"]
    assert (truck.kind, truck.height_m, truck.weight_t) == ("truck", 4.0, 12.0)
    assert truck.width_m <= 2.55
    assert truck.length_m <= 12.0
    assert truck.axle_load_t <= 11.5
    assert 1.4 < car.height_m < 2.0 < towing.height_m < 3.0
    assert 1.6 < car.width_m < 2.1 < towing.width_m <= 2.55
    assert 4.0 < car.length_m < 5.5 < towing.length_m <= 18.75
    assert car.axle_load_t < car.weight_t <= 3.5 <= VEHICLES["van"].weight_t <= 3.5 < towing.weight_t <= 7.0
    assert all(one.axle_load_t < one.weight_t for one in VEHICLES.values())
    assert [v.top_speed_kmh for v in (car, VEHICLES["pickup"], VEHICLES["van"])] == [130.0] * 3
    assert towing.top_speed_kmh == truck.top_speed_kmh == 85.0
    assert {name for name, one in VEHICLES.items() if one.kind == "truck"} == {"truck"}


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("car", "OSRM"),
        ("pickup", "OSRM; a car's road: low bridges and weight limits are NOT checked"),
        (
            "towing",
            "OSRM, no faster than 85 km/h; a car's road: low bridges and weight limits are NOT checked",
        ),
    ],
)
def test_osrm_says_what_a_cars_road_does_not_heed(
    client: Client, world: StandIn, name: str, source: str
) -> None:
    (road,) = osrm.find(client, world.settings(), RouteRequest((site(0), site(30)), VEHICLES[name]))
    assert road.source == source
    low = replace(VEHICLES["car"], weight_t=3.6)
    assert (
        "NOT checked" in osrm.find(client, world.settings(), RouteRequest((site(0), site(31)), low))[0].source
    )
    assert road.time_error_share == 0.15


def test_osrm_is_asked_for_exact_shapes_times_and_near_roads(client: Client, world: StandIn) -> None:
    osrm.find(client, world.settings(), RouteRequest((site(0), site(30)), alternatives=2))
    seen = world.last("/route/v1/driving/")
    assert seen.path.endswith(f"8.000000,48.000000;8.000000,{48.0 + 30 * KM:.6f}")
    assert seen.query == {
        "overview": "full",
        "geometries": "polyline6",
        "annotations": "duration,distance",
        "generate_hints": "false",
        "radiuses": "1000;1000",
        "alternatives": "2",
    }


@pytest.mark.parametrize(("metres", "fits"), [(1000.0, True), (1001.0, False)])
def test_a_place_over_a_kilometre_from_the_road_osrm_found_is_off_it(
    client: Client, world: StandIn, metres: float, fits: bool
) -> None:
    def snapped(document: Any) -> None:
        document["waypoints"][1]["distance"] = metres

    world.always("/route/v1", standin.mangled(snapped))
    asked = RouteRequest((site(0), site(30, "Q")))
    if fits:
        assert osrm.find(client, world.settings(), asked)
    else:
        with pytest.raises(ServiceError, match="nearest road found for Q is 1 km away"):
            osrm.find(client, world.settings(), asked)


def test_openrouteservice_hears_places_size_and_alternatives(client: Client, world: StandIn) -> None:
    settings = world.settings(roads={"key": "k"})
    truck = VEHICLES["truck"]
    openrouteservice.find(client, settings, RouteRequest((site(0), site(30)), truck, alternatives=2))
    asked = world.last("/v2/directions/driving-hgv").json
    assert asked["coordinates"] == [[8.0, 48.0], [8.0, round(48.0 + 30 * KM, 6)]]
    assert asked["radiuses"] == [1000, 1000]
    assert asked["instructions"] is True
    assert asked["alternative_routes"] == {"target_count": 3}
    assert asked["options"]["profile_params"]["restrictions"] == {
        "height": 4.0,
        "width": truck.width_m,
        "length": truck.length_m,
        "weight": 12.0,
        "axleload": truck.axle_load_t,
    }
    (road,) = openrouteservice.find(
        client, settings, RouteRequest((site(0), site(15), site(30)), alternatives=2)
    )
    car = world.last("/v2/directions/driving-car").json
    assert "alternative_routes" not in car
    assert "options" not in car
    assert road.source == "openrouteservice (car, no faster than 130 km/h)"
    assert road.time_error_share == 0.15


def test_valhalla_hears_places_size_and_alternatives(client: Client, world: StandIn) -> None:
    truck = VEHICLES["truck"]
    (road, *_) = valhalla.find(
        client, world.settings(), RouteRequest((site(0), site(30)), truck, alternatives=2)
    )
    asked = world.last("/route").json
    assert asked["locations"] == [{"lat": 48.0, "lon": 8.0}, {"lat": round(48.0 + 30 * KM, 6), "lon": 8.0}]
    assert (asked["units"], asked["alternates"], "date_time" in asked) == ("kilometers", 2, False)
    assert asked["costing_options"]["truck"] == {
        "height": 4.0,
        "width": truck.width_m,
        "length": truck.length_m,
        "weight": 12.0,
        "top_speed": 85,
        "axle_load": truck.axle_load_t,
    }
    assert road.source == "Valhalla (truck, 4 m high, 12 t)"
    assert road.time_error_share == 0.15
    valhalla.find(client, world.settings(), RouteRequest((site(0), site(15), site(30)), alternatives=2))
    again = world.last("/route").json
    assert "alternates" not in again
    assert "axle_load" not in again["costing_options"]["auto"]


def test_valhallas_miles_and_missing_edges_are_refused_and_manoeuvres_serve(
    client: Client, world: StandIn
) -> None:
    def miles(document: Any) -> None:
        document["trip"]["units"] = "miles"

    world.fail("/route", standin.mangled(miles))
    with pytest.raises(ServiceError, match="counts in miles"):
        valhalla.find(client, world.settings(), RouteRequest((site(0), site(30))))
    exact = valhalla.find(client, world.settings(), RouteRequest((site(0), site(31))))[0]
    for change in (
        lambda d: d["edges"].pop(),
        lambda d: d.update(units="miles"),
        lambda d: d["edges"][0].update(speed=0.0),
        lambda d: d["edges"][0].update(end_shape_index=d["edges"][0]["begin_shape_index"]),
    ):
        world.fail("/trace_attributes", standin.mangled(lambda d, change=change: (change(d), None)[1]))
        road = valhalla.find(client.with_(refresh=True), world.settings(), RouteRequest((site(0), site(31))))[
            0
        ]
        assert road.driving_s == pytest.approx(exact.driving_s)


@pytest.mark.parametrize("outside", [(-1, 3), (4, 3), (0, 9999)])
def test_valhallas_manoeuvres_outside_the_road_are_refused(
    client: Client, world: StandIn, outside: tuple[int, int]
) -> None:
    def change(document: Any) -> None:
        first, last = outside
        document["trip"]["legs"][0]["maneuvers"][0].update(begin_shape_index=first, end_shape_index=last)

    world.always("/route", standin.mangled(change))
    with pytest.raises(ServiceError, match="manoeuvres lie outside the road"):
        valhalla.find(client, world.settings(), RouteRequest((site(0), site(30))))


@pytest.mark.parametrize("service", [osrm, valhalla, openrouteservice], ids=lambda module: module.SERVICE)
def test_a_road_is_kept_for_a_week(client: Client, world: StandIn, service: Any) -> None:
    service.find(client, world.settings(roads={"key": "k"}), RouteRequest((site(0), site(30))))
    kept = list(client.transport.session().cache.responses.values())
    assert {round((one.expires - one.created_at).total_seconds() / 86_400.0) for one in kept} == {7}


def _segment(document: Any) -> Any:
    return document["features"][0]["properties"]["segments"][0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda d: d.update(features=[]), "no road in the answer"),
        (
            lambda d: d["features"][0]["geometry"].update(coordinates=[[8.0, 48.0], [8.0]]),
            "shape of the road is broken",
        ),
        (lambda d: _segment(d).update(steps=[]), "steps lie outside"),
        (lambda d: _segment(d)["steps"][0].update(way_points=[-1, 2]), "steps lie outside"),
        (lambda d: _segment(d)["steps"][0].update(way_points=[3, 2]), "steps lie outside"),
        (lambda d: _segment(d)["steps"][-1].update(way_points=[0, 9999]), "steps lie outside"),
    ],
)
def test_an_openrouteservice_answer_that_cannot_be_right_is_refused(
    client: Client, world: StandIn, change: Callable[[Any], Any], words: str
) -> None:
    world.always("/v2/directions", standin.mangled(lambda document: (change(document), None)[1]))
    with pytest.raises(ServiceError, match=f"openrouteservice: .*{words}"):
        openrouteservice.find(client, world.settings(roads={"key": "k"}), RouteRequest((site(0), site(30))))


def test_valhallas_own_no_is_told(client: Client, world: StandIn) -> None:
    def change(document: Any) -> None:
        document["trip"].update(status=442, status_message="No path could be found")

    world.always("/route", standin.mangled(change))
    with pytest.raises(ServiceError, match=r"Valhalla: no road \(No path could be found\)"):
        valhalla.find(client, world.settings(), RouteRequest((site(0), site(30))))


def test_valhalla_says_nothing_of_a_road_that_is_well(client: Client, world: StandIn) -> None:
    """An answer without a status is a road."""

    def change(document: Any) -> None:
        document["trip"].pop("status", None)

    world.always("/route", standin.mangled(change))
    (road,) = valhalla.find(client, world.settings(), RouteRequest((site(0), site(30))))
    assert road.waypoint_vertex[0] == 0


# -- heights -------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length_km", "places"), [(0.4, 2), (1.2, 2), (30.5, 31), (98.9, 99), (400.0, 100)])
def test_a_height_is_asked_for_every_kilometre_up_to_what_one_request_takes(
    client: Client, world: StandIn, straight_road: Callable[..., Road], length_km: float, places: int
) -> None:
    with_heights(client, world.settings(), straight_road(length_km, step_km=0.2))
    assert len(world.last("/v1/elevation").query["latitude"].split(",")) == places


def test_heights_that_are_known_stay_and_the_rest_is_filled_between_the_answers(
    client: Client, world: StandIn, straight_road: Callable[..., Road]
) -> None:
    """Answers of 100 and 300 m at both ends of 2 km and none between: 200 m half-way.

    An answer without any height is none: the kept one goes on serving, a road never asked for stays without.
    """
    world.always("/v1/elevation", standin.status(200, {"elevation": [100.0, None, 300.0]}))
    road = straight_road(2.001)
    filled = with_heights(client, world.settings(), road)
    assert filled.elevation_m == pytest.approx([100.0, 200.0, 300.0])
    half = replace(road, elevation_m=np.array([50.0, np.nan, np.nan]))
    assert with_heights(client, world.settings(), half).elevation_m == pytest.approx([50.0, 200.0, 300.0])
    whole = replace(road, elevation_m=np.array([1.0, 2.0, 3.0]))
    asked = len(world.seen)
    assert with_heights(client, world.settings(), whole) is whole
    assert len(world.seen) == asked
    world.always("/v1/elevation", standin.status(200, {"elevation": [None] * 3}))
    again = with_heights(client.with_(refresh=True), world.settings(), road)
    assert again.elevation_m == pytest.approx([100.0, 200.0, 300.0])
    unasked = with_heights(client, world.settings(), straight_road(3.0))
    assert np.isnan(unasked.elevation_m).all()


def test_the_users_network_lies_where_the_settings_say_or_among_the_data(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Any
) -> None:
    monkeypatch.setenv("SKEPWAY_HOME", str(tmp_path))
    assert tiles_dir(Settings()) == tmp_path / "data" / "roads"
    assert str(tiles_dir(Settings(roads=Roads(tiles_dir="mine")))) == "mine"
    assert find_roads(
        Client.open(None), Settings(roads=Roads(service="estimate")), RouteRequest((site(0), site(0.4)))
    )
