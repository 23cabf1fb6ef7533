"""The commands that ask the outside: route, forecast, place, roads build; against the stand-in world."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from planner.cli.exits import Exit
from planner.cli.main import main
from planner.store.weatherfile import read_weather
from tests.services import standin
from tests.services.standin import StandIn

NETWORK = Path(__file__).parents[1] / "fixtures" / "routing" / "tiny.osm.pbf"


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[StandIn]:
    with StandIn() as server:
        monkeypatch.setenv("SKEPWAY_HOME", str(tmp_path / "home"))
        for name in (
            "FORECAST_OPEN_METEO_URL",
            "FORECAST_ARCHIVE_URL",
            "ROADS_OSRM_URL",
            "ROADS_VALHALLA_URL",
        ):
            monkeypatch.setenv(f"SKEPWAY_{name}", server.url)
        monkeypatch.setenv("SKEPWAY_ROADS_GAP_S", "0")
        yield server


def test_route_tells_length_time_source_and_attribution(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["route", "Karlsruhe", "Vienna", "--via", "Munich"]) == Exit.FINE
    told = capsys.readouterr().out
    assert "Karlsruhe to Munich" in told
    assert "Munich to Vienna" in told
    assert "Source: OSRM" in told
    assert "OpenStreetMap contributors" in told
    assert " h " in told


def test_route_offers_alternatives_and_heeds_the_factor(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["route", "48.0, 8.0", "48.9, 8.0", "--alternatives", "1", "--factor", "2"]) == Exit.FINE
    told = capsys.readouterr().out
    assert "Alternative 1" in told
    assert "2 h 32 min" in told


def test_route_for_a_truck_warns_of_what_a_car_road_does_not_check(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["route", "48.0, 8.0", "48.9, 8.0", "--vehicle", "truck", "--height", "4.2"]) == Exit.FINE
    assert "NOT checked" in capsys.readouterr().out


def test_route_without_a_network_is_an_estimate_and_says_so(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["route", "Karlsruhe", "Munich", "--offline"]) == Exit.FINE
    told = capsys.readouterr().out
    assert "(estimated)" in told
    assert "working offline" in told
    assert world.seen == []


def test_a_track_is_a_route_too(world: StandIn, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    track = tmp_path / "mine.geojson"
    track.write_text('{"type":"LineString","coordinates":[[8.0,48.0],[8.0,48.5],[8.0,49.0]]}')
    assert main(["route", "--track", str(track)]) == Exit.FINE
    assert "track mine.geojson" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["route", "Karlsruhe"], "TO"),
        (["route"], "FROM"),
        (["route", "Qqqqqville", "Vienna"], "no such place"),
        (["route", "95, 8", "Vienna"], "latitude of 95"),
        (["forecast", "Vienna", "--day", "someday"], "not a date"),
        (["forecast", "Vienna", "--days", "99"], "1 to 30"),
        (["place", "Qqqqqville"], "no such place"),
        (["place", "--forget", "Home"], "no such saved place"),
        (["roads", "build", "missing.osm.pbf"], "no Valhalla engine"),
    ],
)
def test_wrong_words_end_with_an_explanation(
    world: StandIn, capsys: pytest.CaptureFixture[str], words: list[str], told: str
) -> None:
    assert main(words) == Exit.INPUT
    assert told in capsys.readouterr().err


def test_forecast_at_a_place_shows_days_with_source(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["forecast", "Vienna", "--days", "3"]) == Exit.FINE
    told = capsys.readouterr().out
    rows = [line for line in told.splitlines() if " km " in line]
    assert len(rows) == 3
    assert "Open-Meteo.com" in told
    assert "fresh" in told
    assert world.asked("/v1/forecast") == 1


def test_forecast_along_a_road_writes_a_table(
    world: StandIn, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "weather.csv"
    assert main(["forecast", "48.0, 8.0", "49.0, 8.0", "--csv", str(table), "--units", "us"]) == Exit.FINE
    assert "°F" in capsys.readouterr().out
    assert read_weather(table).km.size >= 3


def test_a_failing_service_ends_with_its_own_exit_code(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    world.always(
        "/v1/forecast", standin.status(429, {"error": True, "reason": "Daily API request limit exceeded."})
    )
    assert main(["forecast", "Vienna"]) == Exit.SERVICE
    assert "Daily API request limit exceeded" in capsys.readouterr().err


def test_the_last_forecast_serves_offline_with_its_age(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    day = time.strftime("%Y-%m-%d", time.gmtime(time.time() + 86_400))
    assert main(["forecast", "Vienna", "--day", day]) == Exit.FINE
    world.stop()
    capsys.readouterr()
    assert main(["forecast", "Vienna", "--day", day, "--offline"]) == Exit.FINE
    assert "Remark: answer is" in capsys.readouterr().out


def test_places_are_found_saved_listed_and_forgotten(
    world: StandIn, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["place", "york"]) == Exit.FINE
    told = capsys.readouterr().out
    assert "Europe/London" in told
    assert "GeoNames" in told
    assert main(["place", "48.31, 9.02", "--save", "Home yard"]) == Exit.FINE
    assert main(["place"]) == Exit.FINE
    assert "Home yard" in capsys.readouterr().out
    assert main(["place", "home"]) == Exit.FINE
    assert "(saved)" in capsys.readouterr().out
    assert main(["place", "--forget", "home yard"]) == Exit.FINE
    capsys.readouterr()
    assert main(["place"]) == Exit.FINE
    assert capsys.readouterr().out == ""


def test_online_places_are_off_until_switched_on(
    world: StandIn, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["place", "Imkerhausen", "--online"]) == Exit.SERVICE
    assert "online is off" in capsys.readouterr().err
    monkeypatch.setenv("SKEPWAY_CONTACT", "invented@example.org")
    monkeypatch.setenv("SKEPWAY_GEOCODING_SERVICE", "photon")
    monkeypatch.setenv("SKEPWAY_GEOCODING_URL", world.url)
    assert main(["place", "Imkerhausen", "--online"]) == Exit.FINE
    assert "OpenStreetMap" in capsys.readouterr().out


def test_roads_build_uses_the_real_engine_and_route_then_avoids_the_low_bridge(
    world: StandIn, monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from tests.services.engines import obtain

    engine = obtain("pyvalhalla", "3.9.1")
    assert main(["roads", "build", str(NETWORK), "--engine", str(engine)]) == Exit.FINE
    assert "Built" in capsys.readouterr().out
    monkeypatch.setenv("SKEPWAY_ROADS_SERVICE", "engine")
    monkeypatch.setenv("SKEPWAY_ROADS_ENGINE_DIR", str(engine))
    places = ["52.03, -0.94", "52.07, -0.94", "--offline"]
    assert main(["route", *places]) == Exit.FINE
    assert main(["route", *places, "--vehicle", "truck"]) == Exit.FINE
    told = capsys.readouterr().out
    assert "4.5 km" in told
    assert "7.2 km" in told
