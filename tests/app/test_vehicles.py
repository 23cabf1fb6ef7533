"""Vehicles in the use cases: what the same vehicle offers, what roads are asked for, a user's own from end to end."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from planner.app.advice.changes import offered_by_vehicle
from planner.app.plan.inputs import road_vehicle
from planner.app.plan.plan import plan_trip
from planner.app.plan.words import choice_text
from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.services.roads.request import VEHICLES
from planner.store.catalogue import load_catalogue
from tests.model import scenarios

CARGO_BIKE = Path(__file__).resolve().parents[1] / "fixtures" / "cargo-bike.toml"


@pytest.mark.parametrize(
    ("here", "offered"),
    [
        ("boot_white", {"white", ""}),
        ("boot_dark", {"dark", ""}),
        ("cabin_window_open", {""}),
        ("van_shut_white", {"white"}),
    ],
)
def test_a_vehicle_keeps_its_colour(catalogue: Catalogue, here: str, offered: set[str]) -> None:
    places = catalogue.loading_places
    names = offered_by_vehicle(places[here], catalogue)
    assert {places[name].colour for name in names} == offered
    assert {places[name].vehicle for name in names} == {places[here].vehicle}


def test_the_colour_is_read_from_its_key_whatever_the_place_is_called(tmp_path: Path) -> None:
    row = 'title = "Mine"\nvehicle = "van"\nvolume_m3 = 9\nua_parked_w_k = 9\nua_moving_w_k = 9\ncolour = "white"\n'
    path = tmp_path / "own.toml"
    path.write_text(f"[loading_places.my_van_dark]\n{row}", "utf-8")
    catalogue = load_catalogue(path)
    assert "my_van_dark" in offered_by_vehicle(catalogue.loading_places["van_shut_white"], catalogue)
    assert "my_van_dark" not in offered_by_vehicle(catalogue.loading_places["van_shut_dark"], catalogue)


def test_every_kind_a_vehicle_may_be_on_the_road_has_its_sizes() -> None:
    schema = json.loads(resource_path("catalogue.schema.json").read_text("utf-8"))
    kinds = schema["$defs"]["vehicle"]["properties"]["road_vehicle"]["enum"]
    assert set(kinds) == {*VEHICLES, "none"}


def test_roads_know_every_bundled_vehicle_by_its_size(catalogue: Catalogue) -> None:
    trip = scenarios.trip(scenarios.NUC, "open_trailer", leave_s=scenarios.SPRING)
    seen = {
        name: road_vehicle(replace(trip, road_vehicle=catalogue.vehicles[name].road_vehicle))
        for name in catalogue.driven
    }
    assert {name: vehicle.name for name, vehicle in seen.items()} == {
        "car": "car",
        "estate": "car",
        "van": "van",
        "pickup": "pickup",
        "trailer": "towing",
        "flatbed": "truck",
    }
    assert seen["flatbed"].height_m == 4.0


def test_a_users_own_vehicle_is_planned_and_named_in_the_answer() -> None:
    catalogue = load_catalogue(CARGO_BIKE)
    morning_s = scenarios.SPRING + scenarios.DAY_S + 9 * scenarios.HOUR_S
    trip = scenarios.trip(scenarios.NUC, "cargo_bike_rack", leave_s=morning_s)
    plan = plan_trip(trip, scenarios.road(), scenarios.steady(15.0), catalogue, setups=(AS_DECLARED,))
    assert plan.loading_place_titles == ("Front rack of the cargo bike",)
    assert "front rack of the cargo bike" in choice_text(plan, plan.ranking[0])
