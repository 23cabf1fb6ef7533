"""The HTTP rules one by one: how often, how long, how large, how kept, and in which words."""

from __future__ import annotations

import os
import socket
import sqlite3
import time
from contextlib import closing
from dataclasses import replace
from email.utils import formatdate
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import msgspec
import pytest
import requests
from urllib3.exceptions import NameResolutionError, NewConnectionError, ReadTimeoutError
from urllib3.util import Retry

from planner.errors import Cancelled, ServiceError
from planner.services.forecast import open_meteo
from planner.services.http import (
    CachedResponse,
    Client,
    Limits,
    RefusedError,
    UnreadableError,
    adapter,
    age_text,
    faults,
    json_as,
    shelf,
)
from planner.services.http.transport import CACHE_FILE_LIMIT_BYTES, FILE_NAME, Transport
from tests.services import standin
from tests.services.conftest import PATIENT
from tests.services.standin import StandIn

HOUR_S, DAY_S = 3600.0, 86_400.0


class Plain(msgspec.Struct):
    asked: int


def ask(client: Client, world: StandIn, path: str = "/plain", **options: Any) -> CachedResponse[Plain]:
    return client.get("Plain service", f"{world.url}{path}", json_as(Plain), **options)


# -- how often, how long, how large --------------------------------------------------------------


def test_the_patience_of_the_program() -> None:
    """A user waits 40 s at most; a service is tried four times with half a second, then more, between."""
    limits = Limits()
    assert (limits.connect_s, limits.silence_s, limits.total_s) == (5.0, 15.0, 40.0)
    assert (limits.tries, limits.first_pause_s, limits.longest_wait_s) == (4, 0.4, 20.0)
    assert (limits.redirects, limits.body_bytes) == (5, 32 * 1024 * 1024)
    assert CACHE_FILE_LIMIT_BYTES == 256 * 1024 * 1024


@pytest.mark.parametrize("tries", [1, 2, 6])
def test_a_failing_service_is_tried_as_often_as_the_limit_says(
    tmp_path: Path, world: StandIn, tries: int
) -> None:
    client = Client.open(tmp_path, limits=replace(PATIENT, tries=tries, first_pause_s=0.001))
    world.always("/plain", standin.status(503))
    with pytest.raises(ServiceError):
        ask(client, world)
    client.close()
    assert world.asked("/plain") == tries


def waited(status: int, limits: Limits = PATIENT, **headers: str) -> float | None:
    """Seconds before the second try of a request answered so."""
    raw = SimpleNamespace(headers=headers, status=status)
    response: Any = SimpleNamespace(status_code=status, raw=raw)
    retry = Retry(total=4, backoff_factor=0.4, status_forcelist=(500, 502, 503, 504)).increment("GET", "/")
    return adapter._pause_before_retry(retry.increment("GET", "/"), response, None, limits)


@pytest.mark.parametrize("status", [500, 502, 503, 504])
def test_a_server_in_trouble_is_tried_again_after_growing_pauses(status: int) -> None:
    """urllib3's backoff: 0.4 s x 2 before the third try."""
    assert waited(status) == pytest.approx(0.8)


@pytest.mark.parametrize("status", [200, 400, 401, 404, 429, 501])
def test_any_other_answer_is_final(status: int) -> None:
    assert waited(status) is None


def test_a_named_wait_is_kept_up_to_the_longest_anybody_sits_through() -> None:
    """20 s, and up to 0.2 s more so that not all installations come at once."""
    for status in (429, 503):
        said = waited(status, **{"Retry-After": "20"})
        assert said is not None
        assert 20.0 <= said <= 20.2
        assert waited(status, **{"Retry-After": "21"}) is None


@pytest.mark.parametrize(
    ("fault", "again"),
    [
        (requests.exceptions.ConnectionError("cut"), True),
        (requests.exceptions.ChunkedEncodingError("cut"), True),
        (msgspec.DecodeError("not JSON"), True),
        (requests.exceptions.SSLError("certificate"), False),
        (requests.exceptions.ReadTimeout("silent"), False),
        (msgspec.ValidationError("other form"), False),
        (UnreadableError("other place"), False),
        (NewConnectionError(None, "refused"), False),  # type: ignore[arg-type]
        (NameResolutionError("h", None, socket.gaierror()), False),  # type: ignore[arg-type]
    ],
    ids=lambda value: type(value).__name__,
)
def test_only_faults_that_may_pass_are_tried_again(fault: Exception, again: bool) -> None:
    pause = adapter._pause_before_retry(Retry(total=4, backoff_factor=0.4), None, fault, PATIENT)
    assert (pause is not None) == again


def test_turns_at_a_host_are_booked_one_gap_apart_and_other_hosts_are_free() -> None:
    transport = Transport(None, "Skepway", PATIENT)
    assert [transport.turn("a", 5.0) for _ in range(3)] == pytest.approx([0.0, 5.0, 10.0], abs=0.5)
    assert transport.turn("b", 5.0) == 0.0
    assert transport.turn("c", 0.001) == 0.0


@pytest.mark.parametrize(("sent", "fits"), [(1000, True), (1001, False)])
def test_a_body_may_be_as_large_as_the_limit(tmp_path: Path, world: StandIn, sent: int, fits: bool) -> None:
    client = Client.open(tmp_path, limits=replace(PATIENT, body_bytes=1000))
    world.always("/plain", standin.status(200, b'{"asked": 7}'.ljust(sent)))
    if fits:
        assert ask(client, world).value.asked == 7
    else:
        with pytest.raises(ServiceError, match="larger than 0 MB"):
            ask(client, world)
    client.close()


# -- how kept ------------------------------------------------------------------------------------

NOW = "Mon, 01 Jun 2026 10:00:00 GMT"
HALF_HOUR_LATER = "Mon, 01 Jun 2026 10:30:00 GMT"
YESTERDAY = "Sun, 31 May 2026 10:00:00 GMT"


@pytest.mark.parametrize(
    ("headers", "life"),
    [
        ({}, "max-age=600"),
        ({"Cache-Control": "Max-Age=77"}, "max-age=77"),
        ({"Cache-Control": "max-age=77", "Date": NOW, "Expires": HALF_HOUR_LATER}, "max-age=77"),
        ({"Date": NOW, "Expires": HALF_HOUR_LATER}, "max-age=1800"),
        ({"Expires": HALF_HOUR_LATER}, "max-age=600"),
        ({"Date": NOW}, "max-age=600"),
        ({"Date": NOW, "Expires": YESTERDAY}, "max-age=1"),
        ({"Date": NOW, "Expires": "0"}, "max-age=600"),
        ({"Cache-Control": "no-cache, max-age=77"}, "max-age=1"),
        ({"Cache-Control": "max-age=0"}, "max-age=1"),
        ({"Cache-Control": "no-store"}, "no-store"),
    ],
)
def test_an_answers_life_is_counted_on_the_services_own_clock(headers: dict[str, str], life: str) -> None:
    """RFC 9111, 4.2.1: max-age before Expires less Date; else the caller's 600 s. Never below one second."""
    response = requests.Response()
    response.headers.update(headers)
    adapter._set_life_time(response, 600.0)
    assert response.headers["Cache-Control"] == life
    assert life == "no-store" or "Expires" not in response.headers


def kept_for_s(client: Client) -> float:
    """How long the only answer in the cache stays fresh."""
    (kept,) = client.transport.session().cache.responses.values()
    return float((kept.expires - kept.created_at).total_seconds())


def test_an_answer_that_says_nothing_is_fresh_for_an_hour(client: Client, world: StandIn) -> None:
    ask(client, world)
    assert kept_for_s(client) == pytest.approx(HOUR_S, abs=2.0)


@pytest.mark.parametrize(
    ("what", "life_s"), [("forecast", HOUR_S), ("archive", DAY_S), ("elevation", 365 * DAY_S)]
)
def test_what_cannot_change_is_kept_longer(client: Client, world: StandIn, what: str, life_s: float) -> None:
    """The past changes once a day at most (its last days are filled in), heights never."""
    import numpy as np

    from planner.services.forecast.points import Points
    from planner.services.forecast.span import Span

    here = Points(np.zeros(1), np.full(1, 48.0), np.full(1, 8.0), np.full(1, np.nan))
    span = Span(world.today_s - 400 * DAY_S, world.today_s - 400 * DAY_S + 23 * HOUR_S)
    if what == "elevation":
        open_meteo.elevations_m(client, world.settings(), here.lat_deg, here.lon_deg)
    else:
        getattr(open_meteo, what)(client, world.settings(), here, span)
    assert kept_for_s(client) == pytest.approx(life_s, abs=2.0)


@pytest.mark.parametrize(("surplus_bytes", "kept"), [(0, True), (1, False)])
def test_a_cache_file_over_its_limit_is_begun_anew(
    tmp_path: Path, world: StandIn, surplus_bytes: int, kept: bool
) -> None:
    first = Client.open(tmp_path, limits=PATIENT)
    ask(first, world)
    first.close()
    with (tmp_path / "answers.sqlite").open("r+b") as file:
        file.truncate(CACHE_FILE_LIMIT_BYTES + surplus_bytes)
    again = Client.open(tmp_path, limits=PATIENT)
    assert ask(again, world).from_cache == kept
    again.close()


def test_a_cache_held_by_another_program_is_left_alone(tmp_path: Path, world: StandIn) -> None:
    """Only a damaged file is begun anew; one that is held is whole, and another's answers are in it."""
    with closing(Client.open(tmp_path)) as client:
        ask(client, world)
    file = tmp_path / FILE_NAME
    with closing(sqlite3.connect(file)) as other, closing(Client.open(tmp_path)) as client:
        other.execute("begin exclusive")
        ask(client, world)
        other.rollback()
    with closing(Client.open(tmp_path, offline=True)) as client:
        assert ask(client, world).from_cache, "what was kept before"


def test_a_cache_that_cannot_be_used_is_not_tried_at_every_turn(
    tmp_path: Path, world: StandIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Each try waits for whoever holds it, and one answer takes several."""
    tried: list[Path] = []

    def held(file: Path) -> sqlite3.Connection:
        tried.append(file)
        raise sqlite3.OperationalError("database is locked")

    monkeypatch.setattr(shelf._Door, "_connected", staticmethod(held))
    with closing(Client.open(tmp_path)) as client:
        for _ in range(3):
            ask(client, world)
    assert len(tried) == 1


@pytest.mark.skipif(os.name == "nt", reason="permissions of this kind")
def test_a_cache_that_others_may_read_is_closed_to_them(tmp_path: Path, world: StandIn) -> None:
    file = tmp_path / FILE_NAME
    file.touch(0o644)
    with closing(Client.open(tmp_path)) as client:
        ask(client, world)
    assert file.stat().st_mode & 0o777 == 0o600


@pytest.mark.parametrize("code", [200, 203])
def test_answers_of_both_good_statuses_are_kept(client: Client, world: StandIn, code: int) -> None:
    world.always("/plain", standin.status(code, {"asked": 7}))
    assert [ask(client, world).from_cache for _ in range(2)] == [False, True]


def test_keys_in_the_address_do_not_part_the_cache(client: Client, world: StandIn) -> None:
    for name in ("apikey", "api_key"):
        assert not ask(client, world, f"/plain?of={name}", params={name: "one"}).from_cache
        assert ask(client, world, f"/plain?of={name}", params={name: "two"}).from_cache


def test_refresh_asks_from_scratch_where_the_answer_has_no_stamp(client: Client, world: StandIn) -> None:
    ask(client, world)
    again = ask(client.with_(refresh=True), world)
    assert (again.value.asked, again.from_cache) == (2, False)
    assert "If-Modified-Since" not in world.last("/plain").headers


@pytest.mark.parametrize("times", [5, 6])
def test_a_redirect_is_followed_five_times(client: Client, world: StandIn, times: int) -> None:
    world.fail("/plain", *[standin.redirect_to(f"{world.url}/plain")] * times)
    if times == 5:
        assert ask(client, world).value.asked == 6
    else:
        with pytest.raises(ServiceError, match="circle"):
            ask(client, world)


def test_a_kept_answer_that_cannot_be_read_any_more_is_told(client: Client, world: StandIn) -> None:
    ask(client, world)
    with pytest.raises(ServiceError, match=r"kept answer cannot be read any more\. Go online and refresh"):
        client.with_(offline=True).get("Plain service", f"{world.url}/plain", json_as(list))


def test_offline_an_answer_is_known_to_come_from_the_cache(client: Client, world: StandIn) -> None:
    ask(client, world)
    kept = ask(client.with_(offline=True), world)
    assert (kept.from_cache, kept.stale, kept.problem) == (True, True, "working offline")


# -- in which words ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("age_s", "text"),
    [
        (-3.0, "0 s"),
        (119.0, "119 s"),
        (120.0, "2 min"),
        (7199.0, "120 min"),
        (7200.0, "2 h"),
        (172_799.0, "48 h"),
        (172_800.0, "2 days"),
        (864_000.0, "10 days"),
    ],
)
def test_ages_are_told_in_the_unit_a_person_would_use(age_s: float, text: str) -> None:
    assert age_text(age_s) == text


@pytest.mark.parametrize(
    ("skew_s", "notes"),
    [
        (300.0, ()),
        (301.0, ("this computer's clock is 5 min ahead of the service's",)),
        (-301.0, ("this computer's clock is 5 min behind the service's",)),
    ],
)
def test_a_clock_over_five_minutes_off_is_told(skew_s: float, notes: tuple[str, ...]) -> None:
    assert CachedResponse(1, 0.0, 0.0, clock_skew_s=skew_s).notes == notes


def test_an_old_answer_says_how_old_and_why() -> None:
    assert CachedResponse(1, 0.0, 7200.0, True, True, "X").notes == ("answer is 2 h old: X",)
    assert CachedResponse(1, 0.0, 7200.0, True).notes == ()


def test_the_clock_is_compared_with_the_services_date(client: Client, world: StandIn) -> None:
    world.fail("/plain", standin.skewed_clock(-7200.0))
    fresh = ask(client, world)
    assert fresh.clock_skew_s == pytest.approx(7200.0, abs=5.0)
    assert ask(client, world).clock_skew_s == 0.0


REQUEST = SimpleNamespace(url="https://maps.example:8000/x")
LIMITS = Limits(total_s=40.0, body_bytes=3 * 1024 * 1024)


@pytest.mark.parametrize(
    ("fault", "happened"),
    [
        (faults.StoppedError("deadline"), "no complete answer within 40 s"),
        (faults.TooLargeError(), "the answer is larger than 3 MB"),
        (requests.exceptions.TooManyRedirects(), "the address redirects in a circle"),
        (requests.exceptions.InvalidSchema(), "the address is not a web address"),
        (requests.exceptions.InvalidURL(), "the address is not a web address"),
        (requests.exceptions.SSLError(), "no secure connection to maps.example"),
        (NameResolutionError("h", None, socket.gaierror()), "the name maps.example cannot be found"),  # type: ignore[arg-type]
        (requests.exceptions.ReadTimeout(), "maps.example does not answer in time"),
        (ReadTimeoutError(None, "/", ""), "maps.example does not answer in time"),  # type: ignore[arg-type]
        (NewConnectionError(None, "x"), "maps.example refuses the connection"),  # type: ignore[arg-type]
        (requests.exceptions.ConnectionError(), "the connection broke off"),
        (OSError(), "the connection broke off"),
        (UnreadableError("it is about the moon"), "it is about the moon"),
        (msgspec.ValidationError("no km"), "the answer has another form than documented (no km)"),
        (msgspec.DecodeError("x"), "the answer is not data but something else, perhaps a log-in page"),
        (ValueError("x"), "the answer is not data but something else, perhaps a log-in page"),
    ],
)
def test_every_fault_below_has_its_words(fault: Exception, happened: str) -> None:
    told = faults.explained("S", REQUEST, fault, LIMITS)  # type: ignore[arg-type]
    assert isinstance(told, ServiceError)
    assert (told.service, told.happened) == ("S", happened)


def test_a_stop_by_the_user_is_no_fault_and_what_nobody_foresaw_is_left_to_the_net() -> None:
    assert isinstance(faults.explained("S", REQUEST, faults.StoppedError("cancelled"), LIMITS), Cancelled)  # type: ignore[arg-type]
    bug = KeyError("ours")
    assert faults.explained("S", REQUEST, bug, LIMITS) is None  # type: ignore[arg-type]


def test_a_cause_is_found_however_deep_it_is_wrapped_and_circles_end() -> None:
    inner: BaseException = OSError("root")
    for _ in range(8):
        outer = RuntimeError()
        outer.__cause__ = inner
        inner = outer
    assert faults.caused_by(inner, OSError)
    assert not faults.caused_by(inner, KeyError)
    circle = RuntimeError()
    circle.__cause__ = circle
    assert not faults.caused_by(circle, OSError)


@pytest.mark.parametrize(
    ("status", "lasting"),
    [
        (400, True),
        (401, True),
        (404, True),
        (499, True),
        (408, False),
        (425, False),
        (429, False),
        (500, False),
        (302, False),
    ],
)
def test_only_a_refusal_of_the_question_itself_hides_no_older_answer(status: int, lasting: bool) -> None:
    response = SimpleNamespace(status_code=status, content=b"", raw=SimpleNamespace(headers={}))
    assert isinstance(faults.refused("S", response), RefusedError) == lasting


@pytest.mark.parametrize(
    ("status", "remedy"),
    [
        (400, "Check the places and dates of the trip"),
        (403, "Check the key and the contact in settings.toml"),
        (418, "Check the settings of this service"),
        (499, "Check the settings of this service"),
        (500, "Try again later"),
    ],
)
def test_each_refusal_says_what_to_do(status: int, remedy: str) -> None:
    response = SimpleNamespace(
        status_code=status, content=b"", raw=SimpleNamespace(headers={"Retry-After": "7"})
    )
    told = faults.refused("S", response)
    assert (told.remedy, told.happened, told.retry_after_s) == (remedy, f"answered {status}", 7.0)


@pytest.mark.parametrize(
    ("body", "reason"),
    [
        ({"reason": "too  many\n points."}, ": too many points"),
        ({"message": "m"}, ": m"),
        ({"error": {"message": "inner"}}, ": inner"),
        ({"error": True, "reason": "r"}, ": r"),
        ({"detail": "d", "title": "t"}, ": d"),
        ({"title": "t"}, ": t"),
        ({"error": True}, ""),
        ({"reason": "x" * 400}, ": " + "x" * 300),
        ([1], ""),
    ],
)
def test_the_services_own_reason_is_quoted_in_one_line(body: Any, reason: str) -> None:
    response = SimpleNamespace(
        status_code=400, content=msgspec.json.encode(body), raw=SimpleNamespace(headers={})
    )
    assert faults.refused("S", response).happened == f"answered 400{reason}"


@pytest.mark.parametrize(("text", "seconds"), [("30", 30.0), ("soon", None), ("", None)])
def test_a_wait_that_cannot_be_read_is_none(text: str, seconds: float | None) -> None:
    assert (
        faults.wait_asked_s(
            SimpleNamespace(raw=SimpleNamespace(headers={"Retry-After": text} if text else {}))
        )
        == seconds
    )


def test_dates_of_headers_are_read_or_unknown() -> None:
    assert adapter.http_date(formatdate(1_780_272_000.0, usegmt=True)) == 1_780_272_000.0
    assert [adapter.http_date(text) for text in (None, "", "soon")] == [None] * 3


def test_the_watcher_stops_a_request_at_its_deadline_and_not_before() -> None:
    def context(left_s: float, stop: bool = False) -> adapter.RequestContext:
        until = time.monotonic() + left_s
        return adapter.RequestContext(
            "S", lambda body: body, lambda: stop, LIMITS, lambda host: 0.0, until, 1.0
        )

    assert not context(5.0).overdue()
    late, stopped = context(-0.001), context(5.0, stop=True)
    assert (late.overdue(), late.stopped) == (True, "deadline")
    assert (stopped.overdue(), stopped.stopped) == (True, "cancelled")
    with pytest.raises(faults.StoppedError, match="cancelled"):
        stopped.sleep(1.0)
