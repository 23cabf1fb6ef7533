"""A Valhalla engine on the user's own machine, over the user's own OpenStreetMap extract.

Its programs run beside Skepway, not inside it: one builds the network from a ``.osm.pbf``, one serves it on
127.0.0.1, and the ordinary Valhalla client asks it. The programs come from a Valhalla installation or from an
unpacked ``pyvalhalla`` wheel (the wheel of any recent version works; unpack it and keep the folder beside
``valhalla`` that holds its libraries).
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import requests

from planner.errors import Cancelled, Fault, InputError, ServiceError, StorageError, reason_of
from planner.words import say

SERVICE = "own Valhalla engine"
CONFIG_NAME = "valhalla.json"
READY_WITHIN_S = 30.0
BUILDING = ".building"

LEASH = """
exec 3<&0
"$@" </dev/null 3<&- &
server=$!
(cat <&3 >/dev/null; kill -9 "$server") 2>/dev/null &
watch=$!
exec 3<&-
wait "$server"
code=$?
kill "$watch" 2>/dev/null
exit "$code"
"""


@dataclass(frozen=True, slots=True)
class Engine:
    """The programs: ``build`` makes tiles, ``serve`` answers, ``configure`` writes a configuration."""

    build: Path
    serve: Path
    configure: Path


def find_engine(directory: Path) -> Engine:
    """The engine's programs in a folder of programs, a wheel unpacked, or an installed package.

    Raises InputError saying what is missing and where it was looked for.
    """
    for folder in (directory, directory / "bin", directory / "valhalla" / "bin", directory / "valhalla_bin"):
        build, serve = (_program(folder, name) for name in ("valhalla_build_tiles", "valhalla_service"))
        configure = next(
            (
                path
                for path in (folder / "valhalla_build_config", folder.parent / "valhalla_build_config.py")
                if path.is_file()
            ),
            None,
        )
        if build and serve and configure:
            return Engine(build, serve, configure)
    problem = "no Valhalla engine is there (valhalla_build_tiles, valhalla_service, valhalla_build_config)"
    remedy = "Unpack a pyvalhalla wheel or install Valhalla, and set roads.engine_dir to its folder"
    raise InputError([Fault("roads.engine_dir", str(directory), problem, remedy)], "settings")


def build_network(
    engine: Engine,
    extract: Path,
    tiles_dir: Path,
    *,
    on_line: Callable[[str], None] = lambda _line: None,
    cancel: Callable[[], bool] = lambda: False,
) -> int:
    """Build the road network of ``extract`` into ``tiles_dir``; returns the number of tiles.

    A country takes minutes to tens of minutes and gigabytes. ``on_line`` gets the engine's own progress.
    The network that is there serves until the new one is whole, and stays where that fails.
    Raises InputError for a missing or foreign extract, StorageError where the engine fails, Cancelled.
    """
    _check_extract(extract)
    building = tiles_dir.with_name(f".{tiles_dir.name}{BUILDING}")
    try:
        shutil.rmtree(building, ignore_errors=True)
        config = _write_config(engine, building)
        last = _run([str(engine.build), "-c", str(config), str(extract)], on_line, cancel)
        tiles = sum(1 for _ in building.rglob("*.gph"))
        if tiles == 0:
            raise StorageError(say("services.engine_found_no", extract=str(extract), last=str(last)))
        _point_at(config, tiles_dir)
        _put_in_place(building, tiles_dir)
    finally:
        shutil.rmtree(building, ignore_errors=True)
    return tiles


def _point_at(config: Path, tiles_dir: Path) -> None:
    """The configuration for where the network will lie."""
    held = json.loads(config.read_text())
    held["mjolnir"]["tile_dir"] = str(tiles_dir)
    config.write_text(json.dumps(held))


def _put_in_place(building: Path, tiles_dir: Path) -> None:
    """The finished network takes the old one's place in one step; until then the old one serves."""
    old = tiles_dir.with_name(f".{tiles_dir.name}.old")
    try:
        shutil.rmtree(old, ignore_errors=True)
        if tiles_dir.exists():
            tiles_dir.rename(old)
        building.rename(tiles_dir)
    except OSError as fault:
        if old.exists() and not tiles_dir.exists():
            old.rename(tiles_dir)
        raise StorageError(
            say("services.folder_not_written", tiles_dir=str(tiles_dir), strerror=reason_of(fault))
        ) from fault
    shutil.rmtree(old, ignore_errors=True)


@contextmanager
def running_engine(engine: Engine, tiles_dir: Path) -> Iterator[str]:
    """The engine serving ``tiles_dir`` for the duration; yields its address on 127.0.0.1."""
    config = tiles_dir / CONFIG_NAME
    if not config.is_file() or not any(tiles_dir.rglob("*.gph")):
        remedy = "Build it with: skepway roads build EXTRACT.osm.pbf"
        raise InputError(
            [Fault("roads.tiles_dir", str(tiles_dir), "no road network is there", remedy)], "settings"
        )
    port = _free_port()
    serving = tiles_dir / f"serving-{port}.json"
    try:
        serving.write_text(json.dumps(_for_serving(json.loads(config.read_text()), tiles_dir, port)))
    except (OSError, ValueError, KeyError, TypeError) as fault:
        raise StorageError(
            say("services.road_network_cannot", tiles_dir=str(tiles_dir), fault=str(fault))
        ) from fault
    process = _started([str(engine.serve), str(serving), "1"])
    try:
        url = f"http://127.0.0.1:{port}"
        _wait_until_ready(process, url)
        yield url
    finally:
        _end(process)
        for leftover in (serving, *tiles_dir.glob(f"ipc-{port}-*")):
            leftover.unlink(missing_ok=True)


def _started(command: list[str]) -> subprocess.Popen[bytes]:
    """The server, held on a leash: it is killed when our end of its pipe closes, whatever ends us."""
    leash = [] if os.name == "nt" else ["/bin/sh", "-c", LEASH, "sh"]
    return subprocess.Popen(
        [*leash, *command], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
    )


def _end(process: subprocess.Popen[bytes]) -> None:
    """Kill the server: it keeps nothing, and would drain for half a minute if asked politely."""
    if process.stdin is not None:
        process.stdin.close()
    if os.name == "nt":
        process.kill()
    _see_out(process)


def _see_out(process: subprocess.Popen[Any]) -> None:
    """Wait a moment for a program that was asked to end, then end it."""
    try:
        process.wait(timeout=5.0)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def _program(folder: Path, name: str) -> Path | None:
    """A program, made executable where the wheel's unpacking lost that mark."""
    for path in (folder / name, folder / f"{name}.exe"):
        if path.is_file():
            if not os.access(path, os.X_OK):
                path.chmod(0o755)
            return path
    return None


def _check_extract(extract: Path) -> None:
    try:
        with extract.open("rb") as file:
            head = file.read(64)
    except OSError as fault:
        raise StorageError(
            say("services.extract_not_read", extract=str(extract), strerror=reason_of(fault))
        ) from fault
    if b"OSMHeader" not in head:
        remedy = "Use an extract in the .osm.pbf format"
        raise InputError([Fault("extract", extract.name, "this is not an OpenStreetMap extract", remedy)])


def _write_config(engine: Engine, tiles_dir: Path) -> Path:
    """The engine's own default configuration with every path inside ``tiles_dir``."""
    try:
        tiles_dir.mkdir(parents=True, exist_ok=True)
        said = subprocess.run(
            [
                _python(),
                str(engine.configure),
                "--mjolnir-tile-dir",
                str(tiles_dir),
                "--mjolnir-tile-extract",
                "",
            ],
            capture_output=True,
            text=True,
            timeout=60.0,
            check=True,
        ).stdout
        config = json.loads(said)
        for name in ("admin", "landmarks", "timezone", "traffic_extract", "transit_dir", "transit_feeds_dir"):
            config["mjolnir"].pop(name, None)
        path = tiles_dir / CONFIG_NAME
        path.write_text(json.dumps(config))
    except OSError as fault:
        raise StorageError(
            say("services.folder_not_written", tiles_dir=str(tiles_dir), strerror=reason_of(fault))
        ) from fault
    except (subprocess.SubprocessError, ValueError, KeyError) as fault:
        raise StorageError(say("services.writes_no_usable", configure=str(engine.configure))) from fault
    return path


def _python() -> str:
    """An interpreter for the engine's own script: ours, unless we are a bundle that has none to lend."""
    python = shutil.which("python3") if getattr(sys, "frozen", False) else sys.executable
    if not python:
        raise StorageError("The engine's configuration script needs Python. Install Python 3 and try again.")
    return python


def _for_serving(config: dict[str, Any], tiles_dir: Path, port: int) -> dict[str, Any]:
    """The configuration to serve on one port of this machine only, sharing nothing with other engines."""
    config["httpd"]["service"]["listen"] = f"tcp://127.0.0.1:{port}"
    for name in ("loopback", "interrupt"):
        config["httpd"]["service"][name] = f"ipc://{tiles_dir}/ipc-{port}-{name}"
    for part in ("loki", "thor", "odin", "meili"):
        config.get(part, {}).setdefault("service", {})["proxy"] = f"ipc://{tiles_dir}/ipc-{port}-{part}"
    return config


def _run(command: list[str], on_line: Callable[[str], None], cancel: Callable[[], bool]) -> str:
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace"
    ) as process:
        last = ""
        assert process.stdout is not None
        try:
            for line in process.stdout:
                last = line.strip() or last
                on_line(last)
                if cancel():
                    raise Cancelled
        except BaseException:  # it would be waited for, and builds a country for half an hour
            _stop(process)
            raise
    if process.returncode != 0:
        raise StorageError(say("services.engine_stopped_error", last=str(last)))
    return last


def _free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def _wait_until_ready(process: subprocess.Popen[bytes], url: str) -> None:
    deadline = time.monotonic() + READY_WITHIN_S
    with requests.Session() as session:
        session.trust_env = False
        while time.monotonic() < deadline:
            if process.poll() is not None:
                raise ServiceError(
                    SERVICE,
                    say("services.stopped_once_code", returncode=str(process.returncode)),
                    "Build the network anew",
                )
            try:
                if session.get(f"{url}/status", timeout=2.0).ok:
                    return
            except requests.RequestException:
                time.sleep(0.05)
    raise ServiceError(SERVICE, "it does not get ready", "Try again, or build the network anew")


def _stop(process: subprocess.Popen[Any]) -> None:
    process.terminate()
    _see_out(process)
