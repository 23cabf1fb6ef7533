"""What we take from inside the HTTP libraries, name by name: a new version that lacks one fails here first."""

from __future__ import annotations

import requests
from requests.adapters import HTTPAdapter
from requests_cache import CachedSession
from urllib3 import HTTPConnectionPool, PoolManager
from urllib3.connection import HTTPConnection
from urllib3.util import Retry

from planner.services.http import Client, json_as
from planner.services.http.adapter import PoliteAdapter
from tests.services.standin import StandIn


def test_a_body_put_into_content_is_what_the_response_holds() -> None:
    """``Response._content`` and ``_content_consumed``: read once by us, within the limits."""
    response = requests.Response()
    response._content, response._content_consumed = b"[7]", True  # type: ignore[attr-defined]
    assert response.content == b"[7]"
    assert response.json() == [7]
    assert b"".join(response.iter_content(2)) == b"[7]"


def test_a_pool_manager_opens_the_pools_we_name_for_each_scheme() -> None:
    """``PoolManager.pool_classes_by_scheme``."""

    class Ours(HTTPConnectionPool):
        pass

    manager = PoolManager()
    assert set(manager.pool_classes_by_scheme) == {"http", "https"}
    manager.pool_classes_by_scheme = {"http": Ours, "https": Ours}
    assert type(manager.connection_from_url("http://127.0.0.1")) is Ours


def test_an_adapter_keeps_its_manager_and_lets_us_make_it() -> None:
    """``HTTPAdapter.poolmanager`` and ``init_poolmanager``; our connections hand on their socket."""
    assert isinstance(HTTPAdapter().poolmanager, PoolManager)
    for url in ("http://127.0.0.1", "https://127.0.0.1"):
        pool = PoliteAdapter().poolmanager.connection_from_url(url)
        assert pool.ConnectionCls.__name__ in ("_WatchedHTTP", "_WatchedHTTPS")
        assert hasattr(HTTPConnection("127.0.0.1"), "sock")


def test_the_cache_answers_to_the_names_we_use(client: Client, world: StandIn) -> None:
    """``cache.create_key``, ``get_response``, ``contains``, ``responses``; ``created_at``, ``expires``,
    ``from_cache`` of a kept answer."""
    url = f"{world.url}/plain"
    client.get("Plain service", url, json_as(dict))
    session = client.transport.session()
    request = session.prepare_request(requests.Request("GET", url))
    key = session.cache.create_key(request, verify=session.verify, cert=session.cert)
    kept = session.cache.get_response(key)
    assert session.cache.contains(key=key)
    assert not session.cache.contains(key="")
    assert list(session.cache.responses.keys()) == [key]
    assert kept.created_at < kept.expires
    assert session.send(request).from_cache


def test_a_session_takes_our_wishes_on_one_request() -> None:
    """``CachedSession.send(refresh=, force_refresh=)`` and ``rebuild_auth`` with ``should_strip_auth``."""
    assert all(hasattr(CachedSession, name) for name in ("send", "rebuild_auth", "should_strip_auth"))
    session = CachedSession(backend="memory")
    assert session.should_strip_auth("https://a.example/", "https://b.example/")
    assert not session.should_strip_auth("https://a.example/", "https://a.example/x")


def test_a_retry_reckons_pauses_from_its_history() -> None:
    """``Retry.increment``, ``get_backoff_time``, ``get_retry_after``: no pause before the second try, then
    factor x 2, factor x 4."""
    retry, pauses = Retry(total=4, backoff_factor=0.5), []
    for _ in range(3):
        retry = retry.increment("GET", "/")
        pauses.append(retry.get_backoff_time())
    assert pauses == [0, 1.0, 2.0]
    assert retry.total == 1
