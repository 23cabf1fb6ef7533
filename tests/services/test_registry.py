"""One row for each service: what else names the services says the same."""

from __future__ import annotations

import json
from importlib import import_module
from pathlib import Path
from typing import get_args, get_type_hints

import pytest

from planner.bundled import resource_path
from planner.errors import InputError
from planner.services.forecast.registry import (
    MET_NORWAY,
    NWS,
    OPEN_METEO,
    SERVICES,
    SOURCES,
    ForecastService,
    named,
    of_source,
)
from planner.services.roads.find import SERVICES as ROAD_SERVICES
from planner.services.settings import Forecasts, Geocoding, Roads

ROOT = Path(__file__).resolve().parents[2]


def test_the_schema_of_trip_files_knows_just_these_services() -> None:
    """A name missing there is refused in a trip file; one too many would be planned with nothing."""
    source = json.loads(resource_path("trip.schema.json").read_text("utf-8"))["properties"]["weather"][
        "properties"
    ]["source"]
    assert sorted(source["enum"]) == sorted(["file", "own", "embedded", *SOURCES])
    assert source["x-remedy"] == "Choose one of " + ", ".join(source["enum"])


def test_the_commented_trip_names_every_service() -> None:
    assert f"# source: {', '.join(SOURCES)} (from the network)" in resource_path("new_trip.toml").read_text(
        "utf-8"
    )


@pytest.mark.parametrize("service", SERVICES, ids=SOURCES)
def test_every_row_is_whole(service: ForecastService) -> None:
    """Its module can be asked, the settings hold an address for it, NOTICE tells its terms."""
    assert callable(import_module(f"planner.services.forecast.{service.module}").forecast)
    assert getattr(Forecasts(), service.address).startswith("https://")
    assert service.title.removeprefix("US ") in (ROOT / "NOTICE.md").read_text("utf-8")
    assert service.title.removeprefix("US ") in service.attribution
    assert named(service.name) is of_source(service.source) is service


def test_how_far_and_how_finely_each_service_is_asked() -> None:
    """Open-Meteo: up to 16 days with today, any number of points in one request. MET Norway: ten days, the US
    grid: seven, both with a part of the first and last day; one or two requests a point."""
    assert [(row.horizon_days, row.most_points) for row in (OPEN_METEO, MET_NORWAY, NWS)] == [
        (15, 100),
        (9, 24),
        (6, 24),
    ]


def test_settings_write_names_with_hyphens_and_trip_files_with_underscores() -> None:
    assert (MET_NORWAY.name, MET_NORWAY.source) == ("met-norway", "met_norway")


@pytest.mark.parametrize("source", ["acme", "file", "open-meteo", ""])
def test_an_unknown_source_is_told_with_those_there_are(source: str) -> None:
    with pytest.raises(InputError, match=r"no forecast service .*open_meteo, met_norway, nws, or own"):
        of_source(source)


def test_settings_cannot_name_an_unknown_service() -> None:
    with pytest.raises(ValueError, match=r"'acme' is not known; there are open-meteo, met-norway, nws"):
        Forecasts(service="acme")


def test_every_road_and_place_service_of_the_settings_can_be_asked() -> None:
    from planner.services.geocoding.geocode import READERS, TITLES

    roads = set(get_args(get_type_hints(Roads)["service"]))
    assert roads == {*ROAD_SERVICES, "engine", "estimate"}
    assert all(getattr(Roads(), f"{name}_url").startswith("https://") for name in ROAD_SERVICES)
    assert set(get_args(get_type_hints(Geocoding)["service"])) - {""} == set(READERS) == set(TITLES)
