"""The outside world on 127.0.0.1 for the attacks."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.model.records import Weather
from planner.store import tripparts
from planner.store.weatherfile import read_weather
from tests.hard.planned import two_departures
from tests.services.standin import StandIn


@pytest.fixture
def trip(tmp_path: Path) -> Path:
    return two_departures(tmp_path)


@pytest.fixture
def world() -> Iterator[StandIn]:
    with StandIn() as server:
        yield server


@cache
def _demo_weather(name: str) -> Weather:
    return read_weather(resource_path("demo", name))


@pytest.fixture
def trip_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where a damaged trip file is written; the whole weather files it names lie beside it and are read once.

    A third of the time of 100,000 checks went into reading the same whole rows again.
    """
    known = {path.name for path in resource_path("demo").glob("*.csv")}
    for name in known:
        (tmp_path / name).write_bytes(resource_path("demo", name).read_bytes())

    def read(path: Path) -> Weather:
        beside = path.parent == tmp_path and path.name in known
        return _demo_weather(path.name) if beside else read_weather(path)

    monkeypatch.setattr(tripparts, "read_weather", read)
    return tmp_path / "trip.toml"
