"""Vehicles of one's own: written as catalogue rows, known again, and nothing of the file beside them touched."""

from __future__ import annotations

from pathlib import Path

import pytest

from planner.errors import InputError
from planner.store.catalogue import load_catalogue
from planner.store.ownvehicles import (
    OwnVehicle,
    name_of,
    places_like,
    read_own_vehicles,
    write_own_vehicles,
)

VAN = OwnVehicle("our_van", "Our van", "van", "white", {})


def with_places(vehicle: OwnVehicle, most: int | None = 6) -> OwnVehicle:
    names = list(places_like(vehicle.like, vehicle.colour))[:2]
    return OwnVehicle(
        vehicle.name, vehicle.title, vehicle.like, vehicle.colour, {names[0]: most, names[1]: None}
    )


def test_what_is_written_is_read_again_and_loads_as_a_catalogue(tmp_path: Path) -> None:
    path = tmp_path / "catalogue.toml"
    van = with_places(VAN)
    write_own_vehicles(path, [van])
    found = read_own_vehicles(path)
    assert [(one.name, one.title, one.like, one.places) for one in found] == [
        (van.name, van.title, van.like, van.places)
    ]
    catalogue = load_catalogue(path)
    assert catalogue.vehicles["our_van"].title == "Our van"
    first, second = (catalogue.loading_places[f"our_van__{name}"] for name in van.places)
    assert first.capacity_boxes == 6
    assert second.capacity_boxes == catalogue.loading_places[list(van.places)[1]].capacity_boxes
    assert first.vehicle == "our_van"


def test_rows_written_by_hand_stay_and_a_vehicle_taken_away_is_gone(tmp_path: Path) -> None:
    path = tmp_path / "catalogue.toml"
    bike = Path(__file__).resolve().parents[1] / "fixtures" / "cargo-bike.toml"
    path.write_text(bike.read_text("utf-8"), "utf-8")
    write_own_vehicles(path, [with_places(VAN)])
    assert "A user's catalogue" in path.read_text("utf-8"), "comments stay"
    write_own_vehicles(path, [])
    assert read_own_vehicles(path) == []
    catalogue = load_catalogue(path)
    assert "cargo_bike" in catalogue.vehicles
    assert "our_van" not in catalogue.vehicles
    assert not [name for name in catalogue.loading_places if name.startswith("our_van")]


@pytest.mark.parametrize(
    "broken", [OwnVehicle("x", "", "van", "", {"van_shut_dark": 1}), OwnVehicle("x", "X", "van", "", {})]
)
def test_a_vehicle_without_name_or_place_is_refused_and_nothing_is_written(
    tmp_path: Path, broken: OwnVehicle
) -> None:
    path = tmp_path / "catalogue.toml"
    with pytest.raises(InputError):
        write_own_vehicles(path, [broken])
    assert not path.exists()


def test_a_number_that_cannot_be_leaves_the_old_file_standing(tmp_path: Path) -> None:
    path = tmp_path / "catalogue.toml"
    write_own_vehicles(path, [with_places(VAN)])
    before = path.read_bytes()
    with pytest.raises(InputError):
        write_own_vehicles(path, [with_places(VAN, most=0)])
    assert path.read_bytes() == before
    assert [one.name for one in tmp_path.iterdir()] == ["catalogue.toml"]


def test_names_are_made_from_titles_and_stay_apart() -> None:
    assert name_of("Our Van") == "our_van"
    assert name_of("Our Van", ["our_van"]) == "our_van_2"
    assert name_of("7.5 t") == "own_7_5_t"
