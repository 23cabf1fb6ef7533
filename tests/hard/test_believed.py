"""What a service says is believed as far as it can be; what it echoes is hidden, however it is written."""

from __future__ import annotations

import base64
import json
import re
import time
from collections.abc import Callable, Iterator
from copy import deepcopy
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from urllib.parse import quote

import numpy as np
import pytest

from planner.errors import ServiceError
from planner.model.records import Road, Weather
from planner.reading import HIDDEN, without
from planner.services.geocoding import geocode
from planner.services.http import Client, json_as
from planner.services.roads import osrm
from planner.services.roads.heights import with_heights
from tests.hard.clocks import DAY_S, set_clock
from tests.hard.test_services import PATIENT, REQUEST, SERVICES, settings_at
from tests.services import standin
from tests.services.standin import StandIn

KEY = "ab/cd+ef==Secret&<1>"


@pytest.fixture
def world() -> Iterator[StandIn]:
    with StandIn() as server:
        yield server


def client_at(folder: Path) -> Client:
    return Client.open(folder, contact="invented@example.org", limits=PATIENT)


def asked(name: str, world: StandIn, folder: Path, path: str, change: Callable[[Any], Any]) -> Any:
    world.always(path, standin.mangled(change))
    client = client_at(folder)
    try:
        return SERVICES[name][1](client, settings_at(world), world.today_s)
    finally:
        client.close()


# -- heights -------------------------------------------------------------------------------------


def test_heights_that_no_road_has_are_unknown_and_replace_none(world: StandIn, tmp_path: Path) -> None:
    client = client_at(tmp_path)
    settings = settings_at(world)
    road: Road = osrm.find(client, settings, REQUEST)[0]
    good = with_heights(client, settings, road).elevation_m
    assert np.isfinite(good).all()

    def change(reply: Any) -> None:
        reply["elevation"] = [1e300] * len(reply["elevation"])

    world.always("/v1/elevation", standin.mangled(change))
    assert not np.isfinite(with_heights(client.with_(refresh=True), settings, road).elevation_m).any() or (
        with_heights(client.with_(refresh=True), settings, road).elevation_m == pytest.approx(good)
    )
    assert with_heights(client.with_(offline=True), settings, road).elevation_m == pytest.approx(good)
    client.close()


# -- weather -------------------------------------------------------------------------------------


def _rows(reply: Any) -> list[Any]:
    rows: list[Any] = reply["properties"]["timeseries"]
    return rows


def test_rain_in_inches_is_read_as_such(world: StandIn, tmp_path: Path) -> None:
    usual: Weather = asked("MET Norway", world, tmp_path / "mm", "/weatherapi", lambda reply: None)

    def inches(reply: Any) -> None:
        reply["properties"]["meta"]["units"]["precipitation_amount"] = "inch"

    wet: Weather = asked("MET Norway", world, tmp_path / "inch", "/weatherapi", inches)
    assert np.nansum(usual.rain_mm) > 0.0
    assert wet.rain_mm == pytest.approx(25.4 * usual.rain_mm, nan_ok=True)

    def nothing(reply: Any) -> None:
        reply["properties"]["meta"]["units"]["precipitation_amount"] = "buckets"

    with pytest.raises(ServiceError, match="buckets"):
        asked("MET Norway", world, tmp_path / "none", "/weatherapi", nothing)


def test_an_answer_without_humidity_is_told_as_such(world: StandIn, tmp_path: Path) -> None:
    def dry(reply: Any) -> None:
        for row in _rows(reply):
            for name in ("relative_humidity", "dew_point_temperature"):
                row["data"]["instant"]["details"].pop(name, None)

    with pytest.raises(ServiceError, match="relative_humidity"):
        asked("MET Norway", world, tmp_path, "/weatherapi", dry)


def test_an_hour_told_in_two_ways_is_not_told(world: StandIn, tmp_path: Path) -> None:
    usual: Weather = asked("MET Norway", world, tmp_path / "usual", "/weatherapi", lambda reply: None)

    def twice(reply: Any) -> None:
        rows = _rows(reply)
        other = deepcopy(rows[30])
        other["data"]["instant"]["details"]["air_temperature"] += 25.0
        rows += [other, deepcopy(rows[31])]

    told: Weather = asked("MET Norway", world, tmp_path / "twice", "/weatherapi", twice)
    assert np.nanmax(np.abs(told.air_c - usual.air_c)) < 5.0

    def all_twice(reply: Any) -> None:
        others = deepcopy(_rows(reply))
        for row in others:
            row["data"]["instant"]["details"]["air_temperature"] += 25.0
        reply["properties"]["timeseries"] += others

    with pytest.raises(ServiceError, match="no hours"):
        asked("MET Norway", world, tmp_path / "all", "/weatherapi", all_twice)


def test_no_air_is_slower_than_still(world: StandIn, tmp_path: Path) -> None:
    def backwards(reply: Any) -> None:
        for one in reply if isinstance(reply, list) else [reply]:
            one["hourly"]["wind_speed_10m"] = [-5.0] * len(one["hourly"]["time"])

    with pytest.raises(ServiceError, match="wind"):
        asked("forecast", world, tmp_path, "/v1/forecast", backwards)


@pytest.mark.parametrize(
    ("name", "path", "word"),
    [("MET Norway", "/weatherapi", "updated_at"), ("NWS", "/gridpoints", "updateTime")],
)
def test_no_forecast_was_made_after_it_was_fetched(
    name: str, path: str, word: str, world: StandIn, tmp_path: Path
) -> None:
    """One that claims so would be taken for surer than it is."""

    def later(reply: Any) -> None:
        inside = reply["properties"]
        inside.get("meta", inside)[word] = datetime.fromtimestamp(time.time() + 86_400.0, UTC).isoformat()

    assert asked(name, world, tmp_path, path, later).issued_s <= time.time()


def test_what_a_wrong_clock_kept_is_of_unknown_age(
    world: StandIn, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = client_at(tmp_path)
    client.get("Plain service", f"{world.url}/plain", json.loads)
    set_clock(monkeypatch, lambda: -365 * DAY_S)
    answer = client.with_(offline=True).get("Plain service", f"{world.url}/plain", json.loads)
    assert np.isnan([answer.fetched_s, answer.age_s]).all()
    assert answer.made_s(5.0) == 5.0
    assert "unknown age" in answer.notes[0]
    client.close()


# -- places --------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["\x1b[2JTown\u202e, Land", "x" * 100_000])
def test_a_place_found_has_a_name_that_can_be_shown(name: str, world: StandIn, tmp_path: Path) -> None:
    def change(reply: Any) -> None:
        for place in reply:
            place["display_name"] = name

    world.always("/search", standin.mangled(change))
    client = client_at(tmp_path)
    for title, site in geocode.geocode(client, settings_at(world), "Town"):
        assert title.isprintable()
        assert site.name.isprintable()
        assert len(title) <= geocode.MOST_LETTERS
    client.close()


# -- keys ----------------------------------------------------------------------------------------

WAYS: dict[str, Callable[[str], str]] = {
    "as it is": str,
    "slashes escaped": lambda key: key.replace("/", "\\/"),
    "escaped twice": lambda key: key.replace("/", "\\\\/"),
    "JSON": lambda key: "".join(f"\\u{ord(c):04x}" for c in key),
    "JSON in capitals": lambda key: "".join(f"\\u{ord(c):04X}" for c in key),
    "script": lambda key: "".join(f"\\x{ord(c):02x}" for c in key),
    "address": lambda key: re.sub("%..", lambda found: found[0].lower(), quote(key, safe="")),
    "address with slashes": lambda key: quote(key, safe="/"),
    "address, all of it": lambda key: "".join(f"%{ord(c):02X}" for c in key),
    "address twice": lambda key: quote(quote(key, safe="")),
    "page": lambda key: key.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;"),
    "page of numbers": lambda key: "".join(f"&#{ord(c)};" for c in key),
    "page of hexadecimal numbers": lambda key: "".join(f"&#x{ord(c):X};" for c in key),
    "base64": lambda key: base64.b64encode(key.encode()).decode(),
}


@pytest.mark.parametrize("way", WAYS)
def test_a_key_is_hidden_in_whatever_way_it_is_written(way: str) -> None:
    shown = without(f"the key {WAYS[way](KEY)} is bad", [KEY])
    assert shown in (f"the key {HIDDEN} is bad", f"the key {HIDDEN}= is bad")
    assert without("the key is bad", [KEY]) == "the key is bad"


@pytest.mark.parametrize("way", ["slashes escaped", "JSON", "page", "base64"])
def test_a_key_that_is_echoed_is_nowhere(way: str, world: StandIn, tmp_path: Path) -> None:
    written = WAYS[way](KEY)
    world.always("/plain", standin.status(200, f'{{"a": "{written}"}}'.encode(), x_echo=written))
    client = client_at(tmp_path)
    answer = client.get("Plain service", f"{world.url}/plain", json_as(dict), headers={"X-Api-Key": KEY})
    client.close()
    assert HIDDEN in answer.value["a"]
    kept = b"".join(path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
    assert HIDDEN.encode() in kept
    assert written.encode() not in kept


def test_an_answer_in_which_no_key_could_be_found_is_none(world: StandIn, tmp_path: Path) -> None:
    world.always("/plain", standin.status(200, f'{{"a": "{KEY}"}}'.encode("utf-16")))
    client = client_at(tmp_path)
    with pytest.raises(ServiceError, match="not data"):
        client.get("Plain service", f"{world.url}/plain", json_as(dict), headers={"X-Api-Key": KEY})
    client.close()
    assert not any(b"S\0e\0c\0r\0e\0t" in path.read_bytes() for path in tmp_path.rglob("*") if path.is_file())
