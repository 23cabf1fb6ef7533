"""Fixtures of the service tests: the outside world on 127.0.0.1, a client with a cache of its own, a road."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from planner.model.geo import cumulative_km
from planner.model.records import Road
from planner.services.http import Client, Limits
from tests.services.standin import StandIn

QUICK = Limits(connect_s=1.0, silence_s=0.6, total_s=1.5, body_bytes=4 * 1024 * 1024, first_pause_s=0.02)
PATIENT = Limits(connect_s=60.0, silence_s=300.0, total_s=600.0, first_pause_s=0.02)


@pytest.fixture
def world() -> Iterator[StandIn]:
    with StandIn() as server:
        yield server


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    """A client that waits longer than any user would, so that a busy machine fails no test."""
    opened = Client.open(tmp_path / "cache", contact="invented@example.org", limits=PATIENT)
    yield opened
    opened.close()


@pytest.fixture
def quick_client(tmp_path: Path) -> Iterator[Client]:
    """A client that gives up within a second or two, for tests of giving up."""
    opened = Client.open(tmp_path / "cache", contact="invented@example.org", limits=QUICK)
    yield opened
    opened.close()


@pytest.fixture
def straight_road() -> Callable[..., Road]:
    """A road due north from a place, so many km long, at one speed; an invented line."""

    def build(
        length_km: float,
        *,
        lat_deg: float = 48.0,
        lon_deg: float = 8.0,
        kmh: float = 80.0,
        step_km: float = 1.0,
    ) -> Road:
        count = max(2, round(length_km / step_km) + 1)
        lat = np.linspace(lat_deg, lat_deg + length_km / 111.195, count)
        lon = np.full(count, lon_deg)
        km = cumulative_km(lat, lon)
        return Road(lat, lon, np.full(count, np.nan), km, km / kmh * 3600.0, (0, count - 1), "invented")

    return build
