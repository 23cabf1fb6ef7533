# ruff: noqa: E501, PT017
"""Damaged files of every kind through their readers: explained or read, never a traceback, never for long."""

from __future__ import annotations

import importlib.util
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from planner.errors import SkepwayError
from planner.model.catalogue import Catalogue
from planner.store.tripfile import load_trip
from tests import peak
from tests.hard import mutants as ways
from tests.hard.judge import judged
from tests.hard.mutants import mutants
from tests.hard.readers import COSTLY, FORGIVING, READERS, TRIPS, WEATHER, reader

pytestmark = pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning")
MEMORY_MB = 300.0


def test_a_seed_in_the_environment_damages_in_other_ways(monkeypatch: pytest.MonkeyPatch) -> None:
    """Given before the tests are gathered; that it is gone from a test's own environment takes nothing away."""
    monkeypatch.setenv("SKEPWAY_FUZZ_SEED", "a night in May")
    spec = importlib.util.spec_from_file_location("gathered_with_a_seed", ways.__file__)
    assert spec is not None
    assert spec.loader is not None
    spec.loader.exec_module(fresh := importlib.util.module_from_spec(spec))
    monkeypatch.delenv("SKEPWAY_FUZZ_SEED")
    drawn = [[*draw([WEATHER], 20, seed=7)] for draw in (fresh.mutants, fresh.mutants, mutants)]
    assert drawn[0] == drawn[1] != drawn[2]


@pytest.mark.parametrize("count", [60, pytest.param(3_500, marks=[pytest.mark.slow, pytest.mark.hour])])
@pytest.mark.parametrize("kind", READERS)
def test_damaged_files_are_read_or_explained(
    kind: str, count: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every reader; 50,000 files and more in the long run."""
    bind, seeds = reader(kind)
    few = count // 6 if kind in COSTLY else count
    judged(bind(tmp_path), [*seeds, *mutants(seeds, few, seed=11)], monkeypatch, forgiving=kind in FORGIVING)


@pytest.mark.parametrize("kind", READERS)
def test_what_the_damage_begins_with_is_itself_read(kind: str, tmp_path: Path) -> None:
    """A fuzz of files that are refused whole looks at nothing; years are two hours long here and say so."""
    bind, seeds = reader(kind)
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
    count: int, catalogue: Catalogue, trip_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def attempt(content: bytes) -> Any:
        trip_path.write_bytes(content)
        return load_trip(trip_path, catalogue)

    for whole in TRIPS:
        attempt(whole)
    assert judged(attempt, mutants(TRIPS, count, seed=3), monkeypatch) > count // 50


@pytest.mark.parametrize("count", [2, pytest.param(2_000, marks=[pytest.mark.slow, pytest.mark.hour])])
def test_what_passes_the_check_can_be_planned(count: int, catalogue: Catalogue, trip_path: Path) -> None:
    """Two to twelve candidates each, by turns; planning is our own arithmetic, over no net."""
    from tests.hard.planned import planned_or_explained

    passed = 0
    for content in mutants(TRIPS, 1_000_000, seed=5):
        trip_path.write_bytes(content)
        try:
            found = load_trip(trip_path, catalogue)
        except SkepwayError:
            continue
        planned_or_explained(found, catalogue, departures=1 + passed % 6)
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
    (tmp_path / "bomb").write_bytes(content)
    if peak.TOLD:
        assert peak.alone(GROWN, kind, str(tmp_path)) < MEMORY_MB


GROWN = """
import sys
from contextlib import suppress
from pathlib import Path
from tests.hard.readers import READERS
from tests.peak import held_mb
kind, folder = sys.argv[1], Path(sys.argv[2])
attempt, content = READERS[kind][0](folder), (folder / "bomb").read_bytes()
before = held_mb()
with suppress(Exception):
    attempt(content)
print(held_mb() - before)
"""
"""By how much a process grows at most while it reads."""


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
