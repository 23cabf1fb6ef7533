"""The own engine's programs, configuration and manners, with pretended programs."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from planner.errors import InputError, StorageError
from planner.services.roads.engine import Engine, _put_in_place, build_network, find_engine, running_engine

pytestmark = pytest.mark.skipif(not Path("/bin/sh").exists(), reason="pretends with shell scripts")

CONFIG = """import json, sys
assert sys.argv[1] == "--mjolnir-tile-dir" and sys.argv[3:] == ["--mjolnir-tile-extract", ""]
keep = {"admin": 1, "landmarks": 1, "timezone": 1, "traffic_extract": 1, "transit_dir": 1,
        "transit_feeds_dir": 1, "tile_dir": sys.argv[2]}
print(json.dumps({"mjolnir": keep, "httpd": {"service": {}}, "loki": {}, "thor": {"service": {"a": 1}}}))
"""


def programs(folder: Path, build: str = "exit 0", serve: str = "exit 3", config: str = CONFIG) -> Engine:
    folder.mkdir(parents=True)
    for name, text in (
        ("valhalla_build_tiles", f"#!/bin/sh\n{build}\n"),
        ("valhalla_service", f"#!/bin/sh\n{serve}\n"),
        ("valhalla_build_config", config),
    ):
        (folder / name).write_text(text)
        (folder / name).chmod(0o755)
    return find_engine(folder)


def test_the_old_network_comes_back_where_the_new_one_cannot_take_its_place(tmp_path: Path) -> None:
    (there := tmp_path / "roads").mkdir()
    (there / "a.gph").write_text("old")
    with pytest.raises(StorageError, match="roads"):
        _put_in_place(tmp_path / "vanished", there)
    assert (there / "a.gph").read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["roads"]


def extract(folder: Path) -> Path:
    path = folder / "small.osm.pbf"
    path.write_bytes(b"\x00\x00\x00\x0d\x0a\x09OSMHeader")
    return path


@pytest.mark.parametrize("below", ["", "bin", "valhalla/bin", "valhalla_bin"])
def test_the_programs_are_found_where_installations_put_them_and_made_to_run(
    tmp_path: Path, below: str
) -> None:
    programs(tmp_path / below if below else tmp_path / "flat")
    home = tmp_path if below else tmp_path / "flat"
    (home / below / "valhalla_service").chmod(0o644)
    found = find_engine(home)
    assert found.build == home / below / "valhalla_build_tiles"
    assert found.serve.stat().st_mode & 0o111


def test_the_wheels_configuration_script_lies_above_its_programs(tmp_path: Path) -> None:
    programs(tmp_path / "valhalla" / "bin")
    (tmp_path / "valhalla" / "bin" / "valhalla_build_config").rename(
        tmp_path / "valhalla" / "valhalla_build_config.py"
    )
    assert find_engine(tmp_path).configure == tmp_path / "valhalla" / "valhalla_build_config.py"


def test_a_network_is_built_with_a_configuration_of_its_own_folder(tmp_path: Path) -> None:
    """Two tiles, progress line by line without blanks; paths that lead elsewhere are taken out."""
    tiles, lines = tmp_path / "deep" / "tiles", []
    make = 'at=$(dirname "$2"); mkdir -p $at/2; touch $at/1.gph $at/2/3.gph'
    build = f'test "$1" = -c || exit 9; echo one; echo; {make}; echo "$3"'
    engine = programs(tmp_path / "bin", build)
    assert build_network(engine, extract(tmp_path), tiles, on_line=lines.append) == 2
    assert lines == ["one", "one", str(tmp_path / "small.osm.pbf")]
    assert json.loads((tiles / "valhalla.json").read_text())["mjolnir"] == {"tile_dir": str(tiles)}


@pytest.mark.parametrize("config", ["print('not JSON')", "import sys; sys.exit(1)", "print('{}')"])
def test_a_configuration_that_cannot_be_used_is_told(tmp_path: Path, config: str) -> None:
    engine = programs(tmp_path / "bin", config=config)
    with pytest.raises(StorageError, match="writes no usable configuration"):
        build_network(engine, extract(tmp_path), tmp_path / "tiles")


def test_a_served_network_listens_on_this_machine_only_and_leaves_nothing_behind(tmp_path: Path) -> None:
    """The pretended engine keeps what it was given and dies."""
    tiles = tmp_path / "tiles"
    serve = f'cp "$1" {tmp_path}/given.json; echo $2 > {tmp_path}/threads; touch {tiles}/ipc-x; exit 7'
    engine = programs(tmp_path / "bin", 'touch $(dirname "$2")/1.gph', serve)
    build_network(engine, extract(tmp_path), tiles)
    with pytest.raises(Exception, match=r"stopped at once \(code 7\)"), running_engine(engine, tiles):
        pass
    given = json.loads((tmp_path / "given.json").read_text())
    listen = given["httpd"]["service"]["listen"]
    assert listen.startswith("tcp://127.0.0.1:")
    port = listen.rpartition(":")[2]
    assert given["httpd"]["service"]["loopback"] == f"ipc://{tiles}/ipc-{port}-loopback"
    assert given["httpd"]["service"]["interrupt"] == f"ipc://{tiles}/ipc-{port}-interrupt"
    assert given["loki"]["service"]["proxy"] == f"ipc://{tiles}/ipc-{port}-loki"
    assert given["thor"]["service"] == {"a": 1, "proxy": f"ipc://{tiles}/ipc-{port}-thor"}
    assert (tmp_path / "threads").read_text().strip() == "1"
    assert sorted(path.name for path in tiles.iterdir()) == ["1.gph", "ipc-x", "valhalla.json"]


@pytest.mark.parametrize("missing", ["valhalla.json", "1.gph"])
def test_a_network_is_served_only_where_it_is_whole(tmp_path: Path, missing: str) -> None:
    tiles = tmp_path / "tiles"
    engine = programs(tmp_path / "bin", 'touch $(dirname "$2")/1.gph')
    build_network(engine, extract(tmp_path), tiles)
    (tiles / missing).unlink()
    with pytest.raises(InputError, match="no road network is there"), running_engine(engine, tiles):
        pass
