# ruff: noqa: E501, PT017
"""Damaged files of every kind through their readers: explained or read, never a traceback, never for long."""

from __future__ import annotations

import io
import json
import os
import resource
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.bundled import resource_path
from planner.errors import SkepwayError
from planner.model.catalogue import Catalogue
from planner.services.geocoding.saved import saved_places
from planner.services.roads.tracks import read_track, road_along
from planner.services.settings import load_settings
from planner.store.catalogue import load_catalogue
from planner.store.chunks import ChunkStore
from planner.store.loggerfile import LoggerHints, read_log
from planner.store.profiles import read_profile
from planner.store.tripfile import load_trip
from planner.store.typicalyear import read_year
from planner.store.weatherfile import read_weather
from tests.hard.judge import judged
from tests.hard.mutants import mutants

pytestmark = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")
MEMORY_BYTES = 300_000_000

TRIPS = [
    resource_path("demo", f"{name}.toml").read_bytes()
    for name in ("nuc-pickup", "night-pollination", "swarm-run")
]
WEATHER = b"\n".join(resource_path("demo", "nuc-pickup-weather.csv").read_bytes().split(b"\n")[:60])

PVGIS = (
    b"Latitude (decimal degrees): 45.000\nLongitude (decimal degrees): 8.000\nElevation (m): 250.0\n"
    b"Irradiance Time Offset (h): 0.1761\n\n\n\n\n\n\ntime(UTC),T2m,RH,G(h),Gb(n),Gd(h),WS10m,WD10m,SP\n"
    b"20050101:0000,1.0,80.0,0.0,0.0,0.0,1.0,90.0,99000.0\n20050101:0100,1.1,81.0,0.0,0.0,0.0,1.1,91.0,99010.0\n\n"
)
TMY3 = (
    b'723170,"INVENTED",NC,-5.0,36.100,-79.950,273\nDate (MM/DD/YYYY),Time (HH:MM),GHI (W/m^2),DNI (W/m^2),'
    b"DHI (W/m^2),Dry-bulb (C),Dew-point (C),Wspd (m/s),Wdir (degrees),Pressure (mbar),TotCld (tenths)\n"
    b"01/01/1988,01:00,0,0,0,1.0,0.5,2.0,180,990,5\n01/01/1988,02:00,0,0,0,1.1,0.4,2.1,181,991,6\n"
)
LOGS = [
    "\n".join(["Time,Temperature (C)", *(f"2026-05-15 06:{m:02d}:00,{30 + m / 10}" for m in range(0, 60, 2))]).encode(),
    "\n".join(["# UTC+2", "Datum;Uhrzeit;Temp °C", *(f"15.05.2026;06:{m:02d};{30 + m / 10:.1f}".replace(".5", ",5") for m in range(50))]).encode("cp1252"),
    "\n".join(["time,temp_F", *(f"{1778743200 + 60 * m},9{m % 9}.5" for m in range(60))]).encode(),
]  # fmt: skip
TRACKS = [
    b'<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
    + b"".join(b'<trkpt lat="48.%02d" lon="8.5"><ele>300</ele><time>2026-05-15T06:%02d:00Z</time></trkpt>' % (k, k) for k in range(10, 50))
    + b"</trkseg></trk></gpx>",
    b'<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><LineString><coordinates>'
    b"8.0,48.0,300 8.1,48.1,310 8.2,48.2</coordinates></LineString></Placemark></Document></kml>",
    b'{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"LineString",'
    b'"coordinates":[[8.0,48.0,300],[8.1,48.1],[8.2,48.2,1e3]]},"properties":{}}]}',
]  # fmt: skip
CATALOGUE = (
    b'[parameters.agitation_reach]\nvalue = 2.0\n[box_types.mine]\nframe_kind = "national"\nframes = 5\n'
)
PROFILE = b'[profile]\nabout = "yard"\nname = "home"\nmade_on = "2026-05-15"\ntrips = ["a"]\n[parameters.agitation_reach]\nvalue = 2.0\n'
SETTINGS = b'contact = "a@example.org"\nforecast = { key = "k", service = "nws" }\n[roads]\nservice = "valhalla"\ngap_s = 2.5\n'
PLACES = b'[[place]]\nname = "home"\nlat = 48.1\nlon = 8.2\nelevation_m = 300.0\n[[place]]\nname = "heath"\nlat = 53\nlon = 10\n'


def _on_disk(read: Callable[[Path], Any], name: str) -> Callable[[Path], Callable[[bytes], Any]]:
    def bound(folder: Path) -> Callable[[bytes], Any]:
        path = folder / name

        def attempt(content: bytes) -> Any:
            path.write_bytes(content)
            return read(path)

        return attempt

    return bound


def _piece(folder: Path) -> Callable[[bytes], Any]:
    store = ChunkStore(folder / "pieces", "f", "t")

    def attempt(content: bytes) -> Any:
        (folder / "pieces" / "a.npz").write_bytes(content)
        return store.load("a")

    return attempt


def _packed() -> bytes:
    stream = io.BytesIO()
    np.savez_compressed(stream, a=np.arange(50.0), b=np.ones((3, 4)))
    return stream.getvalue()


def _road_file(path: Path) -> Any:
    from planner.model.records import Site
    from planner.store.roadfile import road_of

    sites = (Site("A", 48.0, 8.0, "UTC"), Site("B", 48.2, 8.2, "UTC"))
    return road_of({"file": path.name}, sites, path.parent)


READERS: dict[str, tuple[Callable[[Path], Callable[[bytes], Any]], list[bytes]]] = {
    "catalogue": (_on_disk(load_catalogue, "c.toml"), [CATALOGUE]),
    "weather": (_on_disk(read_weather, "w.csv"), [WEATHER]),
    "typical year": (_on_disk(read_year, "y.csv"), [PVGIS, TMY3, WEATHER]),
    "logger": (_on_disk(read_log, "l.csv"), LOGS),
    "logger with hints": (_on_disk(lambda path: read_log(path, LoggerHints("Europe/Berlin", "C", "day_first")), "l.csv"), LOGS),
    "profile": (_on_disk(read_profile, "p.toml"), [PROFILE]),
    "track": (_on_disk(lambda path: road_along(read_track(path.read_bytes(), path.name)), "t.gpx"), TRACKS),
    "road csv": (_on_disk(_road_file, "r.csv"), [b"lat,lon,minutes,km\n48.0,8.0,0,0\n48.1,8.1,10,14\n48.2,8.2,21,28\n"]),
    "road geojson": (
        _on_disk(_road_file, "r.geojson"),
        [b'{"type":"Feature","geometry":{"type":"LineString","coordinates":[[8.0,48.0],[8.2,48.2]]},"properties":{"minutes":[0,30]}}'],
    ),
    "settings": (_on_disk(lambda path: load_settings(path, {}), "s.toml"), [SETTINGS]),
    "places": (_on_disk(saved_places, "places.toml"), [PLACES]),
    "season piece": (_piece, [_packed()]),
}  # fmt: skip


@pytest.mark.parametrize("count", [60, pytest.param(4_500, marks=[pytest.mark.slow, pytest.mark.hour])])
@pytest.mark.parametrize("kind", READERS)
def test_damaged_files_are_read_or_explained(
    kind: str, count: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twelve readers; 50,000 files and more in the long run."""
    bind, seeds = READERS[kind]
    few = count // 6 if kind == "catalogue" else count  # each is laid over all our tables and checked whole
    judged(bind(tmp_path), [*seeds, *mutants(seeds, few, seed=11)], monkeypatch)


@pytest.mark.parametrize("kind", READERS)
def test_what_the_damage_begins_with_is_itself_read(kind: str, tmp_path: Path) -> None:
    """A fuzz of files that are refused whole looks at nothing; years are two hours long here and say so."""
    bind, seeds = READERS[kind]
    for seed in seeds:
        try:
            bind(tmp_path)(seed)
        except SkepwayError as error:
            assert "hours of a year are missing" in str(error) or kind in (
                "logger",
                "catalogue",
                "profile",
            ), error


@pytest.mark.parametrize("count", [120, pytest.param(100_000, marks=[pytest.mark.slow, pytest.mark.hour])])
def test_damaged_trip_files_are_checked_or_explained(
    count: int, catalogue: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for weather in resource_path("demo").glob("*.csv"):
        (tmp_path / weather.name).write_bytes(weather.read_bytes())
    path = tmp_path / "trip.toml"

    def attempt(content: bytes) -> Any:
        path.write_bytes(content)
        return load_trip(path, catalogue)

    assert judged(attempt, mutants(TRIPS, count, seed=3), monkeypatch) > count // 50


@pytest.mark.parametrize("count", [2, pytest.param(2_000, marks=[pytest.mark.slow, pytest.mark.hour])])
def test_what_passes_the_check_can_be_planned(count: int, catalogue: Catalogue, tmp_path: Path) -> None:
    """At most twelve candidates each; planning is our own arithmetic, over no net."""
    from tests.hard.planned import planned_or_explained

    for weather in resource_path("demo").glob("*.csv"):
        (tmp_path / weather.name).write_bytes(weather.read_bytes())
    passed = 0
    for content in mutants(TRIPS, 1_000_000, seed=5):
        (tmp_path / "trip.toml").write_bytes(content)
        try:
            found = load_trip(tmp_path / "trip.toml", catalogue)
        except SkepwayError:
            continue
        planned_or_explained(found, catalogue)
        passed += 1
        if passed == count:
            return


def _deep(depth: int = 100_000) -> bytes:
    return b"[" * depth + b"]" * depth


BOMBS: dict[str, tuple[str, Callable[[], bytes]]] = {
    "two hours eight thousand years apart": ("weather", lambda: WEATHER.split(b"\n")[0] + b"\n"
        + b"time_utc,km,lat_deg,lon_deg,air_c,dew_c,wind_ms\n0001-01-01T00:00Z,0,48,8,1,0,1\n9999-12-31T00:00Z,0,48,8,1,0,1\n"),
    "two hours three centuries apart": ("weather",
        lambda: b"time_utc,km,lat_deg,lon_deg,air_c,dew_c,wind_ms\n1900-01-02T00:00Z,0,48,8,1,0,1\n2199-12-31T00:00Z,0,48,8,1,0,1\n"),
    "many points": ("weather", lambda: b"time_utc,km,lat_deg,lon_deg,air_c,dew_c,wind_ms\n"
        + b"".join(b"2026-05-15T00:00Z,%d.%d,48,8,1,0,1\n" % (k // 10, k % 10) for k in range(200_000))),
    "many unknown names": ("catalogue", lambda: b"".join(b"a%d = 1\n" % k for k in range(400_000))),
    "many unknown settings": ("settings", lambda: b"".join(b"a%d = 1\n" % k for k in range(400_000))),
    "deep settings": ("settings", lambda: b"a = " + _deep()),
    "deep track": ("track", lambda: b'{"type":"LineString","coordinates":' + _deep() + b"}"),
    "deep road": ("road geojson", lambda: _deep()),
    "wide cells": ("weather", lambda: b"time_utc,km\n" + b"9" * 10_000_000 + b",1\n"),
    "one long line": ("logger", lambda: b"Time,Temp\n" + b"2026-05-15 06:00:00," * 500_000),
    "many log columns": ("logger", lambda: (b"Time" + b",c" * 20_000 + b"\n") + (b"2026-05-15 06:00:00" + b",1" * 20_000 + b"\n") * 60),
    "many points in a track": ("track", lambda: b'{"type":"LineString","coordinates":[' + b",".join([b"[8,48]"] * 2_000_000) + b"]}"),
    "many places": ("places", lambda: b'[[place]]\nname="a"\nlat=1\nlon=2\n' * 100_000),
    "long numbers": ("settings", lambda: b"a = " + b"9" * 4_000_000),
}  # fmt: skip


QUICK = ("two hours three centuries apart", "deep settings", "deep track")


@pytest.mark.parametrize(
    "name",
    [
        name if name in QUICK else pytest.param(name, marks=[pytest.mark.slow, pytest.mark.hour])
        for name in BOMBS
    ],
)
def test_bombs_cost_neither_time_nor_memory(
    name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten seconds for a reading; the memory is that of a process of its own."""
    kind, packed = BOMBS[name]
    content = packed()
    attempt = READERS[kind][0](tmp_path)
    judged(attempt, [content], monkeypatch)
    assert _grown_bytes(attempt, content) < MEMORY_BYTES


def _grown_bytes(attempt: Callable[[bytes], Any], content: bytes) -> int:
    """By how much a process grows at most while it reads."""
    there, here = os.pipe()
    child = os.fork()
    if child == 0:
        before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        with suppress(Exception):
            attempt(content)
        grown = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before
        os.write(here, str(grown).encode())
        os._exit(0)
    os.waitpid(child, 0)
    os.close(here)
    with os.fdopen(there) as told:
        return int(told.read()) * 1024


def test_many_unknown_names_in_a_trip_are_told_at_once(
    catalogue: Catalogue, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "trip.toml"

    def attempt(content: bytes) -> Any:
        path.write_bytes(content)
        return load_trip(path, catalogue)

    many = b"".join(b"a%d = 1\n" % k for k in range(100_000)) + TRIPS[0]
    judged(attempt, [many], monkeypatch)


def test_the_window_and_the_journal_bear_damaged_files_of_their_own(tmp_path: Path) -> None:
    from planner.store.journal import Journal

    book = Journal(tmp_path / "logbook.sqlite")
    book.keep("a", 1.0, {"x": 1})
    whole = (tmp_path / "logbook.sqlite").read_bytes()
    for damaged in mutants([whole, json.dumps({"a": 1}).encode()], 40, seed=2):
        (tmp_path / "logbook.sqlite").write_bytes(damaged)
        try:
            book.last("a")
        except SkepwayError:
            continue
