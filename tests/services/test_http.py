"""The HTTP client against a real server: manners, cache, and every way a request can go wrong."""

from __future__ import annotations

import gc
import logging
import math
import socket
import threading
import time
import tracemalloc
from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from email.utils import formatdate
from pathlib import Path
from typing import Any

import msgspec
import pytest

from planner.errors import Cancelled, ServiceError
from planner.services.http import CachedResponse, Client, RefusedError, json_as
from tests.services import standin
from tests.services.conftest import PATIENT, QUICK
from tests.services.standin import StandIn


class Plain(msgspec.Struct):
    asked: int


SOON_S = 30.0
"""Sooner than anything in the tests below would end by itself, later than the busiest machine takes."""


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    """Patient, but for bodies: a busy machine gives nothing up that is to be answered."""
    limits = replace(PATIENT, body_bytes=QUICK.body_bytes)
    opened = Client.open(tmp_path / "cache", contact="invented@example.org", limits=limits)
    yield opened
    opened.close()


def ask(client: Client, world: StandIn, **options: object) -> CachedResponse[Plain]:
    return client.get("Plain service", f"{world.url}/plain", json_as(Plain), **options)  # type: ignore[arg-type]


def test_a_fresh_answer_is_kept_and_served_from_the_cache(client: Client, world: StandIn) -> None:
    first, second = ask(client, world), ask(client, world)
    assert (first.value.asked, first.from_cache, first.notes) == (1, False, ())
    assert (second.value.asked, second.from_cache, second.stale) == (1, True, False)
    assert world.asked("/plain") == 1


def test_refresh_asks_again_and_keeps_the_newer_answer(client: Client, world: StandIn) -> None:
    ask(client, world)
    assert ask(client.with_(refresh=True), world).value.asked == 2
    assert ask(client, world).value.asked == 2


def test_the_agent_names_the_program_and_the_contact(client: Client, world: StandIn) -> None:
    ask(client, world)
    assert world.last("/plain").headers["User-Agent"].startswith("Skepway/")
    assert "(invented@example.org)" in world.last("/plain").headers["User-Agent"]


def test_an_expired_answer_is_revalidated_with_the_services_own_stamp(client: Client, world: StandIn) -> None:
    stamp = "Mon, 01 Jun 2026 10:00:00 GMT"
    world.fail("/plain", standin.with_headers(last_modified=stamp, cache_control="max-age=0"))
    world.fail("/plain", standin.status(304))
    ask(client, world)
    again = ask(client.with_(refresh=True), world)
    assert again.value.asked == 1
    assert world.last("/plain").headers["If-Modified-Since"] == stamp


def test_offline_serves_the_last_answer_with_its_age(client: Client, world: StandIn) -> None:
    world.fail("/plain", standin.with_headers(cache_control="no-cache"))
    ask(client, world)
    time.sleep(1.05)
    answer = ask(client.with_(offline=True), world)
    assert answer.stale
    assert 0.0 < answer.age_s < 60.0
    assert "offline" in answer.notes[0]
    assert world.asked("/plain") == 1


def test_offline_without_an_earlier_answer_says_what_to_do(client: Client, world: StandIn) -> None:
    with pytest.raises(ServiceError, match=r"Plain service: no earlier answer.*Go online once"):
        ask(client.with_(offline=True), world)
    assert world.asked("/plain") == 0


@pytest.mark.parametrize(
    ("behaviour", "why"),
    [
        (standin.status(503, {"error": True, "reason": "The service is overloaded"}), "overloaded"),
        (standin.status(429, {"reason": "Hourly API request limit exceeded."}), "limit exceeded"),
        (standin.html(), "log-in page"),
        (standin.cut(), "broke off"),
        (standin.status(200, {"asked": "seven"}), "another form"),
    ],
)
def test_when_a_service_fails_the_last_answer_serves_and_says_why(
    client: Client, world: StandIn, behaviour: standin.Behaviour, why: str
) -> None:
    ask(client, world)
    world.always("/plain", behaviour)
    answer = ask(client.with_(refresh=True), world)
    assert (answer.value.asked, answer.stale) == (1, True)
    assert why in answer.problem
    world.heal()
    assert not ask(client.with_(refresh=True), world).stale


def test_a_service_that_says_nothing_leaves_the_last_answer(
    client: Client, quick_client: Client, world: StandIn
) -> None:
    """Both keep answers in the same place."""
    ask(client, world)
    world.always("/plain", standin.silent())
    answer = ask(quick_client.with_(refresh=True), world)
    assert (answer.value.asked, answer.stale) == (1, True)
    assert "does not answer in time" in answer.problem


def test_a_server_that_is_gone_leaves_the_last_answer(client: Client, world: StandIn) -> None:
    ask(client, world)
    world.stop()
    answer = ask(client.with_(refresh=True), world)
    assert answer.stale
    assert "refuses the connection" in answer.problem


def test_a_refused_request_is_told_and_not_hidden_behind_an_old_answer(
    client: Client, world: StandIn
) -> None:
    ask(client, world)
    world.fail("/plain", standin.status(400, {"error": True, "reason": "Invalid timezone"}))
    with pytest.raises(RefusedError, match="Invalid timezone"):
        ask(client.with_(refresh=True), world)


@pytest.mark.parametrize(
    ("behaviour", "words", "tries"),
    [
        (standin.status(400, {"error": True, "reason": "Latitude must be in range"}), "Latitude must be", 1),
        (
            standin.status(400, {"code": "NoSegment", "message": "Could not find a matching segment"}),
            "matching",
            1,
        ),
        (
            standin.status(404, {"error": {"code": 2010, "message": "no routable point"}}),
            "no routable point",
            1,
        ),
        (standin.status(401), "401.*Check the key", 1),
        (standin.status(403), "403.*key and the contact", 1),
        (standin.status(404, b"<html>"), "404.*Check the address", 1),
        (standin.status(429), "429.*Wait", 1),
        (standin.status(429, retry_after="900"), "429", 1),
        (standin.status(429, retry_after="soon"), "429", 1),
        (standin.status(500), "500.*Try again later", 4),
        (standin.status(502), "502", 4),
        (standin.status(503), "503", 4),
        (standin.html(), "log-in page", 4),
        (standin.cut(), "broke off", 4),
        (standin.reset(), "broke off", 4),
        (standin.redirect_loop(), "circle", 6),
        (standin.redirect_to("file:///etc/passwd"), "not a web address", 1),
        (standin.status(200, {"asked": None}), r"another form.*\$\.asked", 1),
        (standin.status(200, b"\x00\xff\xfe"), "something else", 4),
    ],
)
def test_every_failure_names_the_service_and_is_tried_as_often_as_is_polite(
    client: Client, world: StandIn, behaviour: standin.Behaviour, words: str, tries: int
) -> None:
    world.always("/plain", behaviour)
    with pytest.raises(ServiceError, match=f"(?s)Plain service: .*{words}"):
        ask(client, world)
    assert world.asked("/plain") == tries


def test_a_service_that_says_nothing_is_not_asked_again(quick_client: Client, world: StandIn) -> None:
    world.always("/plain", standin.silent())
    with pytest.raises(ServiceError, match=r"Plain service: .*does not answer in time"):
        ask(quick_client, world)
    assert world.asked("/plain") == 1


def test_a_short_fault_is_outlived(client: Client, world: StandIn) -> None:
    world.fail("/plain", standin.status(503), standin.cut(), standin.html())
    assert ask(client, world).value.asked == 4


def test_retry_after_is_honoured(client: Client, world: StandIn) -> None:
    world.fail("/plain", standin.status(429, retry_after="1"))
    start = time.monotonic()
    assert ask(client, world).value.asked == 2
    assert time.monotonic() - start >= 1.0


def test_retry_after_may_be_a_date(client: Client, world: StandIn) -> None:
    far = formatdate(time.time() + 7200, usegmt=True)
    world.always("/plain", standin.status(503, retry_after=far))
    with pytest.raises(ServiceError) as caught:
        ask(client, world)
    assert caught.value.retry_after_s == pytest.approx(7200, abs=5)
    assert world.asked("/plain") == 1


def test_refused_and_unknown_hosts_fail_at_once(tmp_path: Path) -> None:
    """Tried again, they would be waited for an hour."""
    client = Client.open(tmp_path, limits=replace(PATIENT, first_pause_s=3600.0, longest_wait_s=7200.0))
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        port = taken.getsockname()[1]
    with pytest.raises(ServiceError, match="refuses the connection"):
        client.get("Plain service", f"http://127.0.0.1:{port}/", json_as(Plain))
    with pytest.raises(ServiceError, match=r"name nowhere\.invalid cannot be found"):
        client.get("Plain service", "http://nowhere.invalid/", json_as(Plain))
    with pytest.raises(ServiceError, match="not a web address"):
        client.get("Plain service", "nowhere", json_as(Plain))
    client.close()


@pytest.mark.parametrize("slow", [standin.drip(), standin.drip_headers()])
def test_a_slow_drip_ends_at_the_total_deadline(
    quick_client: Client, world: StandIn, slow: standin.Behaviour
) -> None:
    """A second and a half; the drip would go on for a quarter of an hour."""
    world.always("/plain", slow)
    start = time.monotonic()
    with pytest.raises(ServiceError, match="no complete answer within"):
        ask(quick_client, world)
    assert time.monotonic() - start < SOON_S


@pytest.mark.parametrize(
    "behaviour",
    [standin.drip(), standin.drip_headers(), standin.silent(300.0), standin.status(429, retry_after="15")],
)
def test_cancel_stops_what_would_go_on(client: Client, world: StandIn, behaviour: standin.Behaviour) -> None:
    """A drip of a quarter of an hour, a silence of minutes; after a wait of 15 s a ServiceError would follow."""
    world.always("/plain", behaviour)
    stop = threading.Event()
    threading.Timer(0.2, stop.set).start()
    start = time.monotonic()
    with pytest.raises(Cancelled):
        ask(client.with_(cancel=stop.is_set), world)
    assert time.monotonic() - start < SOON_S


def test_a_body_announced_as_too_large_is_not_waited_for(client: Client, world: StandIn) -> None:
    """Refused by what its head promises, before a byte of it came."""

    def promise(handler: Any, _usual: Any) -> None:
        handler.send_response(200)
        handler.send_header("Content-Length", "1000000000")
        handler.end_headers()
        handler.close_connection = True

    world.always("/plain", promise)
    with pytest.raises(ServiceError, match="larger than 4 MB"):
        ask(client, world)


@pytest.mark.parametrize(
    "behaviour",
    [standin.huge(), standin.huge(announced=False), standin.bomb()],
    ids=["announced", "open", "gzip"],
)
def test_a_200_mb_body_is_given_up_at_the_limit(
    client: Client, world: StandIn, behaviour: standin.Behaviour
) -> None:
    world.always("/plain", behaviour)
    tracemalloc.start()
    try:
        with pytest.raises(ServiceError, match="larger than 4 MB"):
            ask(client, world)
        _, peak = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()  # left on, it makes every later test three times as long
    assert peak < 16 * 1024 * 1024
    assert world.bytes_sent < 64 * 1024 * 1024


def test_a_key_reaches_the_service_but_no_file_no_log_and_no_other_host(
    tmp_path: Path, world: StandIn, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.DEBUG)
    with StandIn() as stranger:
        client = Client.open(tmp_path, limits=PATIENT)
        world.fail("/plain", standin.status(503))
        for name in ("X-Api-Key", "Authorization"):
            ask(client.with_(refresh=True), world, headers={name: "secret-4711"})
            assert world.last("/plain").headers[name] == "secret-4711"
        world.fail("/plain", standin.redirect_to(f"http://localhost:{stranger.url.rsplit(':')[-1]}/plain"))
        ask(client.with_(refresh=True), world, headers={"X-Api-Key": "secret-4711"})
        world.stop()
        ask(client.with_(refresh=True), world, headers={"X-Api-Key": "secret-4711"})
        client.close()
        assert "secret-4711" not in str(stranger.last("/plain").headers)
    assert b"secret-4711" not in b"".join(file.read_bytes() for file in tmp_path.rglob("*") if file.is_file())
    assert "secret-4711" not in caplog.text


def test_a_clock_that_is_wrong_is_noticed_and_keeps_nothing_too_long(client: Client, world: StandIn) -> None:
    world.fail("/plain", standin.skewed_clock(86_400.0))
    first = ask(client, world)
    assert first.clock_skew_s == pytest.approx(-86_400.0, abs=5)
    assert any("24 h behind" in note for note in first.notes)
    session = client.transport.session()
    (kept,) = session.cache.responses.values()
    assert kept.expires.timestamp() - time.time() < 120.0


@pytest.mark.parametrize(("ahead", "age_s"), [(timedelta(days=365), math.nan), (timedelta(minutes=2), 0.0)])
def test_an_answer_from_the_future_has_no_age(
    client: Client, world: StandIn, ahead: timedelta, age_s: float
) -> None:
    """The user's clock was set back after the answer was kept; by less than a word is worth, it is new."""
    ask(client, world)
    session = client.transport.session()
    (key,) = session.cache.responses.keys()
    kept = session.cache.responses[key]
    kept.created_at += ahead
    session.cache.responses[key] = kept
    found = ask(client.with_(offline=True), world)
    assert found.age_s == pytest.approx(age_s, nan_ok=True), "nobody knows it, and it counts as none"
    asked = world.asked("/plain")
    ask(client, world)
    assert (world.asked("/plain") > asked) == math.isnan(age_s), (
        "asked for again where nobody knows how old it is"
    )


def test_hosts_are_asked_no_faster_than_their_policy_allows(client: Client, world: StandIn) -> None:
    start = time.monotonic()
    for _ in range(3):
        ask(client.with_(refresh=True), world, gap_s=0.3)
    assert time.monotonic() - start >= 0.6


def test_threads_share_the_cache_but_no_session(client: Client, world: StandIn) -> None:
    ask(client, world)
    answers: list[CachedResponse[Plain]] = []
    threads = [threading.Thread(target=lambda: answers.append(ask(client, world))) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [answer.from_cache for answer in answers] == [True] * 4


def test_threads_that_end_leave_no_session_behind(client: Client, world: StandIn) -> None:
    ask(client, world)
    for _ in range(12):
        thread = threading.Thread(target=ask, args=(client, world))
        thread.start()
        thread.join()
    gc.collect()
    assert len(client.transport._sessions) <= 2


@pytest.mark.parametrize("content", [b"not a database" * 1000, b""])
def test_a_broken_cache_file_is_begun_anew(tmp_path: Path, world: StandIn, content: bytes) -> None:
    (tmp_path / "answers.sqlite").write_bytes(content)
    client = Client.open(tmp_path, limits=PATIENT)
    assert ask(client, world).value.asked == 1
    assert ask(client, world).from_cache
    client.close()


def test_a_cache_folder_that_cannot_be_written_is_lived_with(tmp_path: Path, world: StandIn) -> None:
    (tmp_path / "file").write_text("in the way")
    client = Client.open(tmp_path / "file" / "below", limits=PATIENT)
    assert ask(client, world).value.asked == 1
    client.close()


def test_a_bare_nan_in_json_is_read(client: Client, world: StandIn) -> None:
    world.fail("/plain", standin.status(200, b'{"asked": NaN}'))
    answer = client.get("Plain service", f"{world.url}/plain", json_as(dict))
    assert answer.value["asked"] != answer.value["asked"]


def test_posted_requests_are_kept_by_their_body(client: Client, world: StandIn) -> None:
    first = ask(client, world, json={"a": 1, "b": 2})
    again = ask(client, world, json={"b": 2, "a": 1})
    other = ask(client, world, json={"a": 1})
    assert (first.value.asked, again.value.asked, other.value.asked) == (1, 1, 2)
    assert world.last("/plain").json == {"a": 1}


def test_a_slow_network_is_not_waited_for_longer_than_told(tmp_path: Path, world: StandIn) -> None:
    patient = Client.open(tmp_path, limits=replace(QUICK, silence_s=5.0, total_s=0.5))
    world.always("/plain", standin.silent())
    with pytest.raises(ServiceError, match="no complete answer within"):
        ask(patient, world)
    patient.close()


def test_all_waiting_together_ends_when_told(tmp_path: Path, world: StandIn) -> None:
    """Each of a road's many requests may take long; all of them together may not."""
    patient = Client.open(tmp_path, limits=replace(QUICK, silence_s=20.0, total_s=20.0))
    world.always("/plain", standin.silent())
    began = time.monotonic()
    with pytest.raises(ServiceError):
        ask(patient.with_(until_s=began + 0.3), world)
    patient.close()
    assert time.monotonic() - began < 10.0
