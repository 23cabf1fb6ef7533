"""A stand-in for the outside world: one real HTTP server on 127.0.0.1 that speaks every documented format.

    with StandIn() as world:
        settings = world.settings()                  # points every service at this server
        world.fail("/v1/forecast", status(503))
        ...
        assert world.asked("/v1/forecast") == 1

Weather and towns are invented. ``world.fail(path, *behaviours)`` makes the next requests to a path that
starts so misbehave, one behaviour each; ``world.always(path, behaviour)`` does so for good;
``mangled(change)`` sends the ordinary answer after ``change(document)`` had its way with it. ``world.seen``
lists every request.
Used by the service tests and by the window's tests.
"""

from __future__ import annotations

import gzip
import json
import re
import socket
import sys
import threading
import time
from collections import defaultdict, deque
from collections.abc import Callable
from dataclasses import dataclass, field
from email.utils import formatdate
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

HOUR_S = 3600


@dataclass(frozen=True)
class Seen:
    """One request as it arrived."""

    method: str
    path: str
    query: dict[str, str]
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        return json.loads(self.body)


Behaviour = Callable[["_Handler", Callable[[], Any]], None]


# -- ways to misbehave ---------------------------------------------------------------------------


def status(code: int, body: bytes | Any = b"", **headers: str) -> Behaviour:
    """Answer with this status; a body other than bytes is sent as JSON; ``retry_after="1"`` is a header."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        data = body if isinstance(body, bytes) else json.dumps(body).encode()
        handler.reply(code, data, {name.replace("_", "-").title(): text for name, text in headers.items()})

    return act


def html() -> Behaviour:
    """The log-in page of a hotel network, with status 200."""
    page = b"<!DOCTYPE html><html><body>Welcome, please log in</body></html>"
    return status(200, page, content_type="text/html")


def redirect_loop() -> Behaviour:
    return lambda handler, _usual: handler.reply(301, b"", {"Location": handler.path})


def redirect_to(url: str) -> Behaviour:
    return lambda handler, _usual: handler.reply(302, b"", {"Location": url})


def drip(gap_s: float = 0.1, count: int = 10_000) -> Behaviour:
    """One byte of a never-ending body at a time: each read is quick, the whole takes for ever."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        handler.send_response(200)
        handler.send_header("Content-Length", str(count))
        handler.end_headers()
        for _ in range(count):
            handler.wfile.write(b" ")
            handler.wfile.flush()
            if handler.world.closing.wait(gap_s):
                return

    return act


def drip_headers(gap_s: float = 0.1, count: int = 10_000) -> Behaviour:
    """The same with header lines."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        handler.wfile.write(b"HTTP/1.1 200 OK\r\nX-Slow: ")
        for _ in range(count):
            handler.wfile.write(b"x")
            handler.wfile.flush()
            if handler.world.closing.wait(gap_s):
                return

    return act


def silent(for_s: float = 60.0) -> Behaviour:
    """Accept the request and say nothing."""
    return lambda handler, _usual: handler.world.closing.wait(for_s) and None


def late(by_s: float) -> Behaviour:
    """The ordinary answer after a while."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        time.sleep(by_s)
        handler.reply(200, json.dumps(usual()).encode())

    return act


def cut() -> Behaviour:
    """Promise the whole body, send half, and close."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        data = json.dumps(usual()).encode()
        handler.send_response(200)
        handler.send_header("Content-Length", str(len(data)))
        handler.end_headers()
        handler.wfile.write(data[: len(data) // 2])
        handler.close_connection = True

    return act


def reset() -> Behaviour:
    """Close the connection hard, without any answer."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        handler.hang_up()

    return act


def huge(size_bytes: int = 200 * 1024 * 1024, *, announced: bool = True) -> Behaviour:
    """A body of this size, with or without a Content-Length."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        handler.send_response(200)
        if announced:
            handler.send_header("Content-Length", str(size_bytes))
        handler.end_headers()
        handler.close_connection = True
        block = b" " * 65536
        for _ in range(size_bytes // len(block)):
            handler.wfile.write(block)
            handler.sent_bytes += len(block)

    return act


def bomb(unpacked_bytes: int = 200 * 1024 * 1024) -> Behaviour:
    """A small gzip body that unpacks to a very large one."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        squeezed = gzip.compress(b" " * 1024 * 1024) * (unpacked_bytes // (1024 * 1024))
        handler.reply(200, squeezed, {"Content-Encoding": "gzip"})

    return act


def mangled(change: Callable[[Any], Any]) -> Behaviour:
    """The ordinary answer after ``change`` has altered it in place, or replaced it by what it returns."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        document = usual()
        changed = change(document)
        handler.reply(200, json.dumps(document if changed is None else changed).encode())

    return act


def with_headers(**headers: str) -> Behaviour:
    """The ordinary answer with further headers, ``cache_control="max-age=0"``."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        extra = {name.replace("_", "-").title(): text for name, text in headers.items()}
        handler.reply(200, json.dumps(usual()).encode(), extra)

    return act


def skewed_clock(ahead_s: float) -> Behaviour:
    """The ordinary answer of a service whose clock is ahead by so much, fresh for a minute by that clock."""

    def act(handler: _Handler, usual: Callable[[], Any]) -> None:
        now = time.time() + ahead_s
        stamps = {"Date": formatdate(now, usegmt=True), "Expires": formatdate(now + 60, usegmt=True)}
        handler.reply(200, json.dumps(usual()).encode(), stamps)

    return act


# -- the server ----------------------------------------------------------------------------------


@dataclass
class StandIn:
    """The server; a context manager. ``url`` is its address, ``seen`` every request so far."""

    seen: list[Seen] = field(default_factory=list)
    closing: threading.Event = field(default_factory=threading.Event)
    today_s: float = field(default_factory=lambda: time.time() // 86_400 * 86_400)
    not_modified: int = 0
    bytes_sent: int = 0

    def __post_init__(self) -> None:
        self._next: dict[str, deque[Behaviour]] = defaultdict(deque)
        self._always: dict[str, Behaviour] = {}
        world = self
        from tests.services import speaks_geocoding, speaks_roads, speaks_weather  # noqa: F401 - fill ROUTES

        class Handler(_Handler):
            pass

        Handler.world = world
        self._server = _Server(("127.0.0.1", 0), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.02,), daemon=True)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self._server.server_address[1]}"

    def __enter__(self) -> StandIn:
        self._thread.start()
        return self

    def __exit__(self, *exception: object) -> None:
        self.stop()

    def stop(self) -> None:
        """Go away: from now on connections are refused."""
        if not self.closing.is_set():
            self.closing.set()
            self._server.shutdown()
            self._server.server_close()
            self._thread.join()

    def fail(self, path: str, *behaviours: Behaviour) -> None:
        self._next[path].extend(behaviours)

    def always(self, path: str, behaviour: Behaviour) -> None:
        self._always[path] = behaviour

    def heal(self) -> None:
        self._next.clear()
        self._always.clear()

    def asked(self, path: str) -> int:
        return sum(seen.path.startswith(path) for seen in self.seen)

    def last(self, path: str) -> Seen:
        return next(seen for seen in reversed(self.seen) if seen.path.startswith(path))

    def behaviour(self, path: str) -> Behaviour | None:
        for prefix, queue in self._next.items():
            if path.startswith(prefix) and queue:
                return queue.popleft()
        return next((b for prefix, b in self._always.items() if path.startswith(prefix)), None)

    def settings(self, **changes: Any) -> Any:
        """Settings with every service at this server, no key, and a contact of our invention."""
        from planner.services.settings import Forecasts, Geocoding, Roads, Settings

        forecasts = {
            "open_meteo_url": self.url,
            "ensemble_url": self.url,
            "archive_url": self.url,
            "met_norway_url": self.url,
            "nws_url": self.url,
        }
        roads = {
            "osrm_url": self.url,
            "valhalla_url": self.url,
            "openrouteservice_url": self.url,
            "gap_s": 0.0,
        }
        geocoding = {"url": self.url}
        return Settings(
            contact="invented@example.org",
            forecast=Forecasts(**{**forecasts, **changes.get("forecast", {})}),
            roads=Roads(**{**roads, **changes.get("roads", {})}),
            geocoding=Geocoding(**{**geocoding, **changes.get("geocoding", {})}),
        )


class _Server(ThreadingHTTPServer):
    daemon_threads = True

    def handle_error(self, request: Any, client_address: Any) -> None:
        """Clients that hang up are what many tests are about."""
        if not isinstance(sys.exception(), ConnectionError):
            super().handle_error(request, client_address)


class _Handler(BaseHTTPRequestHandler):
    world: StandIn
    protocol_version = "HTTP/1.1"
    sent_bytes = 0

    def log_message(self, *arguments: object) -> None:
        """Tests stay quiet."""

    def do_GET(self) -> None:
        self._serve("GET", b"")

    def do_POST(self) -> None:
        self._serve("POST", self.rfile.read(int(self.headers.get("Content-Length", 0))))

    def _serve(self, method: str, body: bytes) -> None:
        if self.world.closing.is_set():
            self.hang_up()
            return
        parts = urlsplit(self.path)
        text = body.decode() if "form" in self.headers.get("Content-Type", "") else parts.query
        query = {name: values[-1] for name, values in parse_qs(text).items()}
        seen = Seen(method, parts.path, query, dict(self.headers), body)
        self.world.seen.append(seen)
        behaviour = self.world.behaviour(parts.path)
        try:
            if behaviour is not None:
                behaviour(self, lambda: _usual(self.world, seen)[1])
            else:
                self._usually(seen)
        except (BrokenPipeError, ConnectionResetError):
            self.close_connection = True
        finally:
            self.world.bytes_sent += self.sent_bytes

    def hang_up(self) -> None:
        self.close_connection = True
        self.connection.shutdown(socket.SHUT_RDWR)

    def _usually(self, seen: Seen) -> None:
        code, document, headers = _usual(self.world, seen)
        if headers.get("Last-Modified") and seen.headers.get("If-Modified-Since") == headers["Last-Modified"]:
            self.world.not_modified += 1
            self.reply(304, b"", headers)
            return
        data = document if isinstance(document, bytes) else json.dumps(document).encode()
        if "gzip" in seen.headers.get("Accept-Encoding", "") and len(data) > 2000:
            data, headers = gzip.compress(data, 1), {**headers, "Content-Encoding": "gzip"}
        self.reply(code, data, headers)

    def reply(self, code: int, data: bytes, headers: dict[str, str] | None = None) -> None:
        headers = {"Content-Type": "application/json", **(headers or {})}
        if "Date" in headers:
            self.send_response_only(code)
        else:
            self.send_response(code)
        for name, text in headers.items():
            self.send_header(name, text)
        self.send_header("Content-Length", str(len(data)))
        self.end_headers()
        if code != 304:
            self.wfile.write(data)


ROUTES: list[tuple[re.Pattern[str], Callable[..., Any]]] = []


def speaks(pattern: str) -> Callable[[Callable[..., Any]], Callable[..., Any]]:
    """Marks a function that answers requests to this path: a document, or (status, document, headers)."""

    def add(function: Callable[..., Any]) -> Callable[..., Any]:
        ROUTES.append((re.compile(pattern + "$"), function))
        return function

    return add


def _usual(world: StandIn, seen: Seen) -> tuple[int, Any, dict[str, str]]:
    for pattern, function in ROUTES:
        match = pattern.match(seen.path)
        if match:
            said = function(world, seen, *match.groups())
            return said if isinstance(said, tuple) else (200, said, {})
    return 404, {"error": True, "reason": "Not Found"}, {}


@speaks("/plain")
def _plain(world: StandIn, seen: Seen) -> Any:
    """A tiny document for tests of the transport alone; counts how often it was asked."""
    return {"asked": world.asked("/plain")}
