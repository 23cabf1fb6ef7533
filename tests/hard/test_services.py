# ruff: noqa: PT017
"""Services that misbehave: told in words, soon, and never at the cost of the last good answer."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from planner.errors import SkepwayError
from planner.model.geo import cumulative_km
from planner.model.records import Road, Site, Weather
from planner.model.waypoints import reached_too_fast
from planner.services.forecast import met_norway, nws, open_meteo
from planner.services.forecast.points import Points, choose_points
from planner.services.forecast.span import Span
from planner.services.geocoding import geocode
from planner.services.http import Client, Limits, RefusedError
from planner.services.http import client as http_client
from planner.services.roads import openrouteservice, osrm, valhalla
from planner.services.roads.request import RouteRequest
from tests.hard.behaviours import FAULTS
from tests.hard.judge import judged
from tests.hard.mutants import mutants
from tests.services.standin import StandIn

SHORT = Limits(connect_s=1.0, silence_s=0.4, total_s=1.0, first_pause_s=0.001, longest_wait_s=0.2, tries=2)
PATIENT = replace(SHORT, connect_s=60.0, silence_s=60.0, total_s=120.0)
ENOUGH_S = 30.0
"""The limit and a busy machine; what says nothing says it for a minute."""

Ask = Callable[[Client, Any, float], Any]


def _points(lat_deg: float = 48.0, lon_deg: float = 8.0) -> Points:
    lat = np.linspace(lat_deg, lat_deg + 0.5, 51)
    lon = np.full(51, lon_deg)
    km = cumulative_km(lat, lon)
    return choose_points(
        Road(lat, lon, np.full(51, 300.0), km, km / 60.0 * 3600.0, (0, 50), "invented"), most=3
    )


def _span(today_s: float) -> Span:
    return Span(today_s + 86_400.0, today_s + 2 * 86_400.0 - 3600.0)


def _past(today_s: float) -> Span:
    return Span(today_s - 200 * 86_400.0, today_s - 199 * 86_400.0 - 3600.0)


REQUEST = RouteRequest((Site("A", 48.0, 8.0, "UTC"), Site("B", 48.3, 8.2, "UTC")))

SERVICES: dict[str, tuple[tuple[str, ...], Ask]] = {
    "forecast": (("/v1/forecast",), lambda c, s, t: open_meteo.forecast(c, s, _points(), _span(t))),
    "archive": (("/v1/archive",), lambda c, s, t: open_meteo.archive(c, s, _points(), _past(t))),
    "ensemble": (("/v1/ensemble",), lambda c, s, t: open_meteo.ensemble(c, s, _points(), _span(t))),
    "MET Norway": (("/weatherapi",), lambda c, s, t: met_norway.forecast(c, s, _points().only(0), _span(t))),
    "NWS": (("/points", "/gridpoints"), lambda c, s, t: nws.forecast(c, s, _points(40.0, -90.0).only(0), _span(t))),
    "OSRM": (("/route/v1",), lambda c, s, t: osrm.find(c, s, REQUEST)),
    "Valhalla": (("/route", "/trace"), lambda c, s, t: valhalla.find(c, s, REQUEST)),
    "openrouteservice": (("/v2/directions",), lambda c, s, t: openrouteservice.find(c, s, REQUEST)),
    "Nominatim": (("/search",), lambda c, s, t: geocode.geocode(c, s, "Imker")),
}  # fmt: skip


@pytest.fixture
def world(monkeypatch: pytest.MonkeyPatch) -> Iterator[StandIn]:
    monkeypatch.setattr(geocode, "GAP_S", 0.0)
    monkeypatch.setattr(met_norway, "GAP_S", 0.0)
    monkeypatch.setattr(nws, "GAP_S", 0.0)
    with StandIn() as server:
        yield server


def settings_at(world: StandIn) -> Any:
    return world.settings(
        geocoding={"service": "nominatim"}, roads={"key": "secret-key-of-roads"}, forecast={"key": ""}
    )


def _sane(answer: Any) -> None:
    """Whatever is believed can be: air within the world's records, roads that can be driven."""
    for one in answer if isinstance(answer, tuple) else (answer,):
        if isinstance(one, Road):
            assert reached_too_fast(one.km, one.drive_s) is None
            assert np.all(np.diff(one.drive_s) >= 0.0)
            assert one.driving_s < 3e6
        if isinstance(one, Weather):
            known = one.air_c[np.isfinite(one.air_c)]
            assert known.size
            assert np.all((known > -90.0) & (known < 60.0))


def _misbehaving(name: str, fault: str, world: StandIn, folder: Path) -> None:
    paths, ask = SERVICES[name]
    settings = settings_at(world)
    for kept in (False, True):
        world.heal()
        home = folder / f"{abs(hash(fault))}-{kept}"
        good = None
        if kept:
            patient = Client.open(home, contact="invented@example.org", limits=PATIENT)
            good = ask(patient, settings, world.today_s)
            patient.close()
        client = Client.open(home, contact="invented@example.org", limits=SHORT)
        for path in paths:
            world.always(path, FAULTS[fault])
        began = time.monotonic()
        try:
            _sane(ask(client.with_(refresh=True), settings, world.today_s))
        except SkepwayError as error:
            told = str(error)
            assert told.strip()
            assert "\x1b" not in told
            assert "secret-key" not in told
            assert not kept or isinstance(error, RefusedError), f"{told}, although an answer was kept"
        assert time.monotonic() - began < ENOUGH_S * len(paths), (
            f"{fault} takes {time.monotonic() - began:.1f} s"
        )
        if kept and fault not in CHANGED and (name, fault) not in NOTHING_FOUND:
            offline = ask(client.with_(offline=True), settings, world.today_s)
            assert _known(offline) >= _known(good) * 0.5, "the last good answer is gone"
        client.close()


CHANGED = frozenset({"lists cut"})
"""What may lawfully stand in for the good answer: half the alternatives, half the places found."""


NOTHING_FOUND = frozenset({("Nominatim", "lists empty"), ("Nominatim", "document []")})
"""An empty list is how a search of places says that nothing bears the name; it may say so after a year, too."""


def _known(answer: Any) -> int:
    one = answer[0] if isinstance(answer, tuple | list) and answer else answer
    return int(np.isfinite(one.air_c).sum()) if isinstance(one, Weather) else int(bool(answer))


QUICK = (
    "status 503",
    "max-age without end",
    "to a file",
    "cut",
    "gzip cut",
    "deep lists",
    "all null",
    "another week",
    "seconds nought",
)


@pytest.mark.parametrize("name", SERVICES)
def test_the_ordinary_answer_is_understood(name: str, world: StandIn, tmp_path: Path) -> None:
    client = Client.open(tmp_path, contact="invented@example.org", limits=PATIENT)
    _sane(SERVICES[name][1](client, settings_at(world), world.today_s))
    client.close()


@pytest.mark.parametrize("fault", QUICK)
def test_faults_are_told_and_the_last_good_answer_stays(fault: str, world: StandIn, tmp_path: Path) -> None:
    """One service for each fault here, so that the quick suite meets every service once."""
    _misbehaving(list(SERVICES)[QUICK.index(fault) % len(SERVICES)], fault, world, tmp_path)


@pytest.mark.parametrize(("name", "fault"), [("MET Norway", "half an hour off"), ("NWS", "all numbers vast")])
def test_what_is_unfit_in_the_end_takes_no_good_answers_place(
    name: str, fault: str, world: StandIn, tmp_path: Path
) -> None:
    _misbehaving(name, fault, world, tmp_path)


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", SERVICES)
def test_every_fault_of_every_service_is_told_and_the_last_good_answer_stays(
    name: str, fault: str, world: StandIn, tmp_path: Path
) -> None:
    _misbehaving(name, fault, world, tmp_path)


def test_there_are_enough_faults() -> None:
    assert len(FAULTS) >= 150
    assert set(QUICK) <= set(FAULTS)


@pytest.mark.parametrize("count", [25, pytest.param(2_000, marks=[pytest.mark.slow, pytest.mark.hour])])
@pytest.mark.parametrize("name", SERVICES)
def test_damaged_answers_are_read_or_explained(
    name: str, count: int, world: StandIn, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The readers alone, without the wire, under the net and without it."""
    heard: list[tuple[Any, bytes]] = []

    def overhear(read: Any, body: bytes, *rest: Any) -> Any:
        heard.append((read, body))
        return read(body)

    def answered(service: str, body: bytes, context: Any, read: Any) -> Any:
        return overhear(read, body)

    client = Client.open(tmp_path, contact="invented@example.org", limits=PATIENT)
    with monkeypatch.context() as ears:
        ears.setattr(http_client.Client, "_read", staticmethod(answered))
        SERVICES[name][1](client, settings_at(world), world.today_s)
    client.close()
    for read, body in heard:
        json.loads(body)
        judged(
            lambda case, read=read: http_client._guarded(
                read, case, lambda fault: http_client.unreadable(name, fault)
            ),
            mutants([body], count // len(heard) + 1, seed=7),
            monkeypatch,
        )
