"""Vehicles: one row each, every loading place in a zone its vehicle has, the user's own like the bundled ones."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

import pytest

from planner.errors import InputError
from planner.model.catalogue import Catalogue
from planner.model.records import LoadingPlace
from planner.store.catalogue import bundled_vehicles, load_catalogue
from planner.store.tripfile import faults, resolve

CARGO_BIKE = Path(__file__).resolve().parents[1] / "fixtures" / "cargo-bike.toml"
BIKE = CARGO_BIKE.read_text("utf-8").split("[loading_places", 1)[0]
OPEN_PLACE = '[loading_places.mine]\ntitle = "Mine"\n'


def own(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "own.toml"
    path.write_text(text, "utf-8")
    return path


def faults_of(path: Path) -> list[tuple[str, str, str]]:
    with pytest.raises(InputError) as caught:
        load_catalogue(path)
    return [(fault.field, fault.problem, fault.remedy) for fault in caught.value.faults]


# -- the bundled rows ----------------------------------------------------------------------------


def test_every_loading_place_stands_in_a_zone_its_vehicle_has(catalogue: Catalogue) -> None:
    for place in catalogue.loading_places.values():
        assert place.zone in [zone.name for zone in catalogue.vehicles[place.vehicle].zones], place.name


def test_every_zone_has_a_loading_place(catalogue: Catalogue) -> None:
    used = {(place.vehicle, place.zone) for place in catalogue.loading_places.values()}
    drawn = {(vehicle.name, zone.name) for vehicle in catalogue.vehicles.values() for zone in vehicle.zones}
    assert used == drawn


def test_places_of_the_car_and_the_flatbed_stand_where_their_titles_say(catalogue: Catalogue) -> None:
    zones = {name: place.zone for name, place in catalogue.loading_places.items()}
    assert zones["cabin_footwell_cooled"] == "front"
    assert zones["cabin_back_windows_open"] == "back"
    assert zones["boot_white"] == "boot"
    assert zones["flatbed_inner_top"] == "inner"
    assert zones["flatbed_front_inner"] == "front"


def test_all_vehicles_but_the_ground_drive(catalogue: Catalogue) -> None:
    assert catalogue.driven == ("car", "estate", "van", "pickup", "trailer", "flatbed")
    assert list(catalogue.vehicles) == [*catalogue.driven, "ground"]
    assert bundled_vehicles() == catalogue.driven


COLOURED = ("name", "title", "colour", "sun_area_m2", "grade", "source")
"""What may differ between a place in a dark body and the same place in a white one."""


def but_for_its_colour(place: LoadingPlace) -> dict[str, Any]:
    return {key: repr(value) for key, value in asdict(place).items() if key not in COLOURED}


def mates(place: LoadingPlace, catalogue: Catalogue) -> list[LoadingPlace]:
    return [
        other
        for other in catalogue.loading_places.values()
        if other.colour not in ("", place.colour) and but_for_its_colour(other) == but_for_its_colour(place)
    ]


def test_every_dark_place_has_one_white_mate_and_the_other_way_round(catalogue: Catalogue) -> None:
    coloured = [place for place in catalogue.loading_places.values() if place.colour]
    assert len(coloured) == 18
    for place in coloured:
        (mate,) = mates(place, catalogue)
        assert mates(mate, catalogue) == [place]
        dark, white = sorted((place, mate), key=lambda one: one.colour)
        assert dark.sun_area_m2 > white.sun_area_m2


# -- a user's own --------------------------------------------------------------------------------


def test_a_users_file_of_one_vehicle_and_one_place_is_enough(draft: dict[str, Any]) -> None:
    catalogue = load_catalogue(CARGO_BIKE)
    assert catalogue.driven[-1] == "cargo_bike"
    assert catalogue.vehicles["cargo_bike"].title == "cargo bike"
    assert catalogue.vehicles["cargo_bike"].zones[0].rectangle == (30.0, 20.0, 40.0, 30.0)
    assert catalogue.vehicles["cargo_bike"].outline[0][0] == (20.0, 30.0)
    draft["vehicle"] = {"kind": "cargo_bike"}
    trip = resolve(draft, catalogue, now_s=0.0).trip
    assert trip.loading_places == ("cargo_bike_rack",)
    assert trip.road_vehicle == "car"


def test_the_only_zone_of_a_vehicle_need_not_be_said(tmp_path: Path) -> None:
    """So that catalogues written before there were zones still open."""
    assert load_catalogue(CARGO_BIKE).loading_places["cargo_bike_rack"].zone == "front_rack"
    catalogue = load_catalogue(own(tmp_path, f'{OPEN_PLACE}vehicle = "pickup"'))
    assert catalogue.loading_places["mine"].zone == "bed"


def test_a_vehicle_with_several_zones_asks_which(tmp_path: Path) -> None:
    found = faults_of(own(tmp_path, f'{OPEN_PLACE}vehicle = "car"'))
    words = "the vehicle car has several zones", "Choose one of front, back, boot"
    assert found == [("loading_places.mine.zone", *words)]


def test_a_zone_the_vehicle_has_not_is_refused_with_those_it_has(tmp_path: Path) -> None:
    found = faults_of(own(tmp_path, f'{OPEN_PLACE}vehicle = "car"\nzone = "bed"'))
    words = "the vehicle car has no such zone", "Choose one of front, back, boot"
    assert found == [("loading_places.mine.zone", *words)]


def test_an_unknown_vehicle_is_refused_until_a_row_describes_it(tmp_path: Path) -> None:
    ((field, problem, remedy),) = faults_of(own(tmp_path, f'{OPEN_PLACE}vehicle = "cargo_bike"'))
    assert (field, problem) == ("loading_places.mine.vehicle", "no such vehicle")
    assert remedy.startswith("Describe it in [vehicles.cargo_bike], or name one of car, estate, van")
    load_catalogue(own(tmp_path, f'{BIKE}{OPEN_PLACE}vehicle = "cargo_bike"'))


def test_the_vehicle_may_come_in_an_earlier_file(tmp_path: Path) -> None:
    (tmp_path / "bike.toml").write_text(BIKE, "utf-8")
    place = own(tmp_path, f'{OPEN_PLACE}vehicle = "cargo_bike"')
    assert load_catalogue(tmp_path / "bike.toml", place).driven[-1] == "cargo_bike"


def test_a_vehicle_without_a_loading_place_is_not_offered(tmp_path: Path, draft: dict[str, Any]) -> None:
    catalogue = load_catalogue(own(tmp_path, BIKE))
    assert "cargo_bike" in catalogue.vehicles
    assert "cargo_bike" not in catalogue.driven
    draft["vehicle"] = {"kind": "cargo_bike"}
    (fault,) = faults(draft, catalogue)
    assert (fault.field, fault.problem) == ("vehicle.kind", "it does not drive, or has no loading place")


def test_a_zone_is_added_to_a_bundled_vehicle_beside_its_own(tmp_path: Path) -> None:
    row = '[vehicles.van.zones.roof_rack]\ntitle = "roof rack"\nrectangle = [70, 0, 100, 8]'
    van = load_catalogue(own(tmp_path, row)).vehicles["van"]
    assert [zone.name for zone in van.zones] == ["load_space", "roof_rack"]
    assert van.outline == load_catalogue().vehicles["van"].outline


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ('[vehicles.van]\nroad_vehicle = "ship"', "vehicles.van.road_vehicle"),
        ('[vehicles.van.zones.rack]\ntitle = "rack"', "vehicles.van.zones.rack.rectangle"),
        ("[vehicles.van]\noutline = []", "vehicles.van.outline"),
        ("[vehicles.van]\noutline = [[[0, 0], [9, 9, 9], [9, 0]]]", "vehicles.van.outline[0]"),
        ("[vehicles.van]\nglass = [[[0, 0, 1, 1, 2, 2], [9, 9], [9, 0]]]", "vehicles.van.glass[0]"),
        ("[vehicles.van.zones.load_space]\nrectangle = [150, 10, 60, 20]", "vehicles.van.zones.load_space.rectangle"),
        ("[vehicles.van.zones.load_space]\nrectangle = [10, 60, 60, 20]", "vehicles.van.zones.load_space.rectangle"),
        ("[vehicles.van.zones.load_space]\nrectangle = [10, 10, 60, 0]", "vehicles.van.zones.load_space.rectangle"),
        ('[vehicles.sledge]\ntitle = "sledge"\nroad_vehicle = "car"\noutline = [[[0, 0], [9, 9], [9, 0]]]',
         "vehicles.sledge.zones"),
        ('[loading_places.boot_dark]\ncolour = "red"', "loading_places.boot_dark.colour"),
    ],
)  # fmt: skip
def test_a_row_that_cannot_be_drawn_or_driven_is_named(tmp_path: Path, row: str, field: str) -> None:
    assert [found for found, _, _ in faults_of(own(tmp_path, row))] == [field]


# -- in a trip -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("vehicle", "road_vehicle"),
    [
        ({"kind": "estate"}, "car"),
        ({"kind": "flatbed"}, "truck"),
        ({"kind": "trailer", "places": ["cabin_seat_cooled"]}, "towing"),
        ({"places": ["open_trailer", "cabin_seat_cooled"]}, "towing"),
        ({"places": ["ground_shade", "pickup_bed"]}, "pickup"),
    ],
)
def test_roads_are_asked_for_the_vehicle_named_or_that_of_the_first_place_listed(
    draft: dict[str, Any], catalogue: Catalogue, vehicle: dict[str, Any], road_vehicle: str
) -> None:
    draft["vehicle"] = vehicle
    assert resolve(draft, catalogue, now_s=0.0).trip.road_vehicle == road_vehicle


def test_a_trip_whose_places_are_in_no_vehicle_asks_for_one(
    draft: dict[str, Any], catalogue: Catalogue
) -> None:
    draft["vehicle"] = {"places": ["ground_shade"]}
    (fault,) = faults(draft, catalogue)
    assert (fault.field, fault.remedy) == ("vehicle.kind", "Give kind")


def test_the_ground_is_no_vehicle_to_travel_in(draft: dict[str, Any], catalogue: Catalogue) -> None:
    draft["vehicle"] = {"kind": "ground"}
    (fault,) = faults(draft, catalogue)
    assert (fault.field, fault.problem) == ("vehicle.kind", "it does not drive, or has no loading place")
