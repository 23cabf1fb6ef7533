"""The clients against the real engines, over the invented network with its low bridge and its motorway."""

from __future__ import annotations

import shutil
import socket
import subprocess
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import msgspec
import numpy as np
import pytest
import requests

from planner.errors import Cancelled, InputError, StorageError
from planner.model.records import Site
from planner.services.http import Client, RefusedError
from planner.services.roads import osrm, valhalla
from planner.services.roads.engine import build_network, find_engine, running_engine
from planner.services.roads.find import find_roads
from planner.services.roads.request import VEHICLES, RouteRequest
from planner.services.settings import Roads, Settings
from tests.services.engines import obtain

NETWORK = Path(__file__).parents[1] / "fixtures" / "routing" / "tiny.osm.pbf"
SOUTH_OF_BRIDGE = Site("south of the bridge", 52.03, -0.94, "Europe/London")
NORTH_OF_BRIDGE = Site("north of the bridge", 52.07, -0.94, "Europe/London")
CORNER = Site("far corner", 52.1, -0.9, "Europe/London")


@pytest.fixture(scope="module")
def tiles(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tiles")
    lines: list[str] = []
    assert (
        build_network(find_engine(obtain("pyvalhalla", "3.9.1")), NETWORK, folder, on_line=lines.append) > 0
    )
    assert lines
    return folder


@pytest.fixture(scope="module")
def valhalla_settings(tiles: Path) -> Iterator[Settings]:
    with running_engine(find_engine(obtain("pyvalhalla", "3.9.1")), tiles) as url:
        yield Settings(roads=Roads(service="valhalla", valhalla_url=url, gap_s=0.0))


@pytest.fixture(scope="module")
def osrm_settings(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Settings]:
    home = obtain("osrm-bindings", "26.10.0") / "osrm"
    folder = tmp_path_factory.mktemp("osrm")
    shutil.copy(NETWORK, folder / "t.osm.pbf")
    profile = str(home / "share" / "profiles" / "car.lua")
    for step in (
        ["osrm-extract", "-p", profile, "t.osm.pbf"],
        ["osrm-partition", "t.osrm"],
        ["osrm-customize", "t.osrm"],
    ):
        subprocess.run(
            [str(home / "bin" / step[0]), *step[1:]], cwd=folder, check=True, capture_output=True, timeout=60
        )
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    server = subprocess.Popen(
        [
            str(home / "bin" / "osrm-routed"),
            "--algorithm",
            "mld",
            "-i",
            "127.0.0.1",
            "-p",
            str(port),
            "t.osrm",
        ],
        cwd=folder,
        stdout=subprocess.DEVNULL,
    )
    url = f"http://127.0.0.1:{port}"
    for _ in range(200):
        try:
            requests.get(url, timeout=1.0)
            break
        except requests.ConnectionError:
            time.sleep(0.05)
    yield Settings(roads=Roads(osrm_url=url, gap_s=0.0))
    server.terminate()
    server.wait(timeout=10)


def test_a_high_truck_makes_the_detour_round_the_low_bridge(
    client: Client, valhalla_settings: Settings
) -> None:
    """The bridge is 2.5 m high: straight on 4.45 km, round it 7.19 km."""
    request = RouteRequest((SOUTH_OF_BRIDGE, NORTH_OF_BRIDGE))
    truck = VEHICLES["truck"]
    lengths = {
        height: valhalla.find(
            client, valhalla_settings, replace(request, vehicle=replace(truck, height_m=height))
        )[0].length_km
        for height in (2.4, 4.1)
    }
    assert lengths[2.4] == pytest.approx(4.452, abs=0.01)
    assert lengths[4.1] == pytest.approx(7.19, abs=0.05)
    car = valhalla.find(client, valhalla_settings, replace(request, vehicle=VEHICLES["car"]))[0]
    assert car.length_km == pytest.approx(4.452, abs=0.01)
    towing = valhalla.find(client, valhalla_settings, replace(request, vehicle=VEHICLES["towing"]))[0]
    assert towing.length_km == pytest.approx(7.19, abs=0.05)


def test_the_real_engine_gives_edge_speeds_calls_and_departure(
    client: Client, valhalla_settings: Settings
) -> None:
    sites = (Site("start", 52.0, -1.0, "Europe/London"), NORTH_OF_BRIDGE, CORNER)
    (road,) = valhalla.find(
        client, valhalla_settings, RouteRequest(sites, VEHICLES["truck"], "2026-06-01T05:00")
    )
    assert len(road.waypoint_vertex) == 3
    speed_kmh = np.diff(road.km) / np.maximum(np.diff(road.drive_s), 1e-9) * 3600.0
    assert 20.0 < np.median(speed_kmh) < 90.0
    assert speed_kmh.std() > 1.0
    assert np.all(np.diff(road.drive_s) >= 0.0)


def test_the_real_engine_refuses_a_place_without_roads(client: Client, valhalla_settings: Settings) -> None:
    away = Site("at sea", 40.0, 10.0, "Etc/UTC")
    with pytest.raises(RefusedError, match=r"(?i)no suitable edges|exceeds"):
        valhalla.find(client, valhalla_settings, RouteRequest((away, CORNER)))


def test_the_own_engine_serves_even_offline(client: Client, tiles: Path) -> None:
    home = obtain("pyvalhalla", "3.9.1")
    settings = Settings(roads=Roads(service="engine", engine_dir=str(home), tiles_dir=str(tiles)))
    before = set(tiles.iterdir())
    (road,) = find_roads(
        client.with_(offline=True),
        settings,
        RouteRequest((SOUTH_OF_BRIDGE, NORTH_OF_BRIDGE), VEHICLES["truck"]),
    )
    assert road.length_km == pytest.approx(7.19, abs=0.05)
    assert not road.estimated
    assert set(tiles.iterdir()) == before


def test_the_real_osrm_answers_with_times_on_every_piece(client: Client, osrm_settings: Settings) -> None:
    sites = (
        Site("start", 52.0, -1.0, "Europe/London"),
        Site("middle", 52.05, -0.96, "Europe/London"),
        CORNER,
    )
    (road,) = osrm.find(client, osrm_settings, RouteRequest(sites))
    assert len(road.waypoint_vertex) == 3
    assert np.all(np.diff(road.km) > 0.0)
    assert road.km[-1] == pytest.approx(17.99, abs=0.05)
    assert road.driving_s == pytest.approx(1430.8, rel=0.01)


def test_the_real_osrm_snaps_nothing_far_away(client: Client, osrm_settings: Settings) -> None:
    """Without a radius it would answer Ok with a road a thousand kilometres off."""
    away = Site("at sea", 40.0, 10.0, "Etc/UTC")
    with pytest.raises(RefusedError, match="matching segment"):
        osrm.find(client, osrm_settings, RouteRequest((away, CORNER)))


# -- building, without any engine ----------------------------------------------------------------


def _pretend_engine(folder: Path, build: str) -> Path:
    """Programs that behave badly on purpose, in place of the engine's."""
    folder.mkdir(exist_ok=True)
    config = "import json; print(json.dumps({'mjolnir': {}, 'httpd': {'service': {}}}))"
    for name, text in (
        ("valhalla_build_tiles", f"#!/bin/sh\n{build}\n"),
        ("valhalla_service", "#!/bin/sh\nexit 3\n"),
        ("valhalla_build_config", config),
    ):
        (folder / name).write_text(text)
        (folder / name).chmod(0o755)
    return folder


@pytest.mark.skipif(not Path("/bin/sh").exists(), reason="pretends with shell scripts")
@pytest.mark.parametrize(
    ("build", "error", "words"),
    [
        ("echo no space left; exit 1", StorageError, "no space left"),
        ("echo done", StorageError, "found no roads"),
    ],
)
def test_a_build_that_fails_is_told(tmp_path: Path, build: str, error: type[Exception], words: str) -> None:
    engine = find_engine(_pretend_engine(tmp_path / "bin", build))
    with pytest.raises(error, match=words):
        build_network(engine, NETWORK, tmp_path / "tiles")


@pytest.mark.skipif(not Path("/bin/sh").exists(), reason="pretends with shell scripts")
def test_a_build_can_be_stopped(tmp_path: Path) -> None:
    engine = find_engine(_pretend_engine(tmp_path / "bin", "while true; do echo working; sleep 0.05; done"))
    start = time.monotonic()
    with pytest.raises(Cancelled):
        build_network(engine, NETWORK, tmp_path / "tiles", cancel=lambda: time.monotonic() - start > 0.2)
    assert time.monotonic() - start < 240.0  # by itself it would go on for ever


@pytest.mark.skipif(not Path("/bin/sh").exists(), reason="pretends with shell scripts")
def test_an_engine_that_dies_at_once_is_told(tmp_path: Path) -> None:
    engine = find_engine(_pretend_engine(tmp_path / "bin", "touch $(dirname $2)/1.gph"))
    build_network(engine, NETWORK, tmp_path / "tiles")
    with pytest.raises(Exception, match="stopped at once"), running_engine(engine, tmp_path / "tiles"):
        pass


def test_missing_engine_network_and_extract_are_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no Valhalla engine is there"):
        find_engine(tmp_path)
    engine = find_engine(_pretend_engine(tmp_path / "bin", "true"))
    with (
        pytest.raises(InputError, match=r"no road network is there.*roads build"),
        running_engine(engine, tmp_path),
    ):
        pass
    with pytest.raises(StorageError, match="cannot be read"):
        build_network(engine, tmp_path / "none.osm.pbf", tmp_path / "tiles")
    (tmp_path / "text.osm.pbf").write_text("not an extract")
    with pytest.raises(InputError, match="not an OpenStreetMap extract"):
        build_network(engine, tmp_path / "text.osm.pbf", tmp_path / "tiles")


def test_settings_stay_as_they_were(tmp_path: Path) -> None:
    settings = Settings(roads=Roads(service="engine", engine_dir=str(tmp_path)))
    with pytest.raises(InputError):
        find_roads(Client.open(None), settings, RouteRequest((SOUTH_OF_BRIDGE, CORNER)))
    assert msgspec.structs.asdict(settings)["roads"].valhalla_url == Roads().valhalla_url
