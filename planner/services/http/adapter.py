"""How one request travels: watched by clock and user, bounded in size, tried again where welcome."""

from __future__ import annotations

import random
import re
import socket
import threading
import time
from collections.abc import Callable
from contextvars import ContextVar
from dataclasses import dataclass, field
from email.utils import parsedate_to_datetime
from typing import Any
from urllib.parse import urlsplit

import msgspec
import numpy as np
import requests
from requests.adapters import HTTPAdapter
from requests.exceptions import SSLError, Timeout
from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.util import Retry

from planner.reading import without
from planner.services.http.faults import (
    StoppedError,
    TooLargeError,
    UnreadableError,
    is_unreachable,
    wait_asked_s,
)
from planner.services.http.limits import Limits

TELL_AFTER_S = 1.5
"""After so long without an answer, or in all the requests of one question together, whoever waits is told what for."""
LONGEST_LIFE_S = 366 * 86_400.0
"""No answer counts as fresh for longer, whatever it says."""
SECRET_HEADERS = ("X-Api-Key", "Authorization")


@dataclass
class Waits:
    """How long each service has been waited for in the requests of one question, and whose waiting was told."""

    seconds: dict[str, float] = field(default_factory=dict)
    told: set[str] = field(default_factory=set)

    def due(self, service: str, more_s: float) -> bool:
        """Whether it is time, once, to say what is waited for."""
        if service in self.told or self.seconds.get(service, 0.0) + more_s <= TELL_AFTER_S:
            return False
        self.told.add(service)
        return True

    def over(self, service: str, seconds: float) -> None:
        """A request has come to its end."""
        self.seconds[service] = self.seconds.get(service, 0.0) + seconds


@dataclass
class RequestContext:
    """The state of one request with its redirects and retries; watched from a second thread."""

    service: str
    read: Callable[[bytes], object]
    cancel: Callable[[], bool]
    limits: Limits
    pace: Callable[[str], float]
    deadline: float
    keep_s: float
    secrets: tuple[str, ...] = ()
    on_wait: Callable[[str], None] = lambda _service: None
    waits: Waits = field(default_factory=Waits)
    stopped: str = ""
    failed: Exception | None = None
    sock: socket.socket | None = None
    done: threading.Event = field(default_factory=threading.Event)
    answered: tuple[bytes, object] | None = None

    def watch(self) -> None:
        """Run beside the request: break its connection when the user stops it or time is up."""
        began = time.monotonic()
        while not self.done.wait(0.05):
            if self.waits.due(self.service, time.monotonic() - began):
                self.on_wait(self.service)
            if self.overdue():
                self._break_connection()
        self.waits.over(self.service, time.monotonic() - began)

    def overdue(self) -> bool:
        if not self.stopped and self.cancel():
            self.stopped = "cancelled"
        if not self.stopped and time.monotonic() > self.deadline:
            self.stopped = "deadline"
        return bool(self.stopped)

    def check(self) -> None:
        if self.overdue():
            raise StoppedError(self.stopped)

    def sleep(self, seconds: float) -> None:
        end = time.monotonic() + seconds
        while (left := end - time.monotonic()) > 0:
            self.check()
            time.sleep(min(left, 0.05))

    def _break_connection(self) -> None:
        if self.sock is not None:
            try:
                socket.socket.shutdown(self.sock, socket.SHUT_RDWR)
            except OSError:
                self.sock = None  # already gone: the reading thread has noticed by itself


CONTEXT: ContextVar[RequestContext] = ContextVar("request_context")


class _WatchedMixin:
    """Hands the socket to the watcher before waiting for the first byte, also on a reused connection."""

    sock: socket.socket | None

    def getresponse(self) -> Any:
        CONTEXT.get().sock = self.sock
        return super().getresponse()  # type: ignore[misc]


class _WatchedHTTP(_WatchedMixin, HTTPConnection):
    pass


class _WatchedHTTPS(_WatchedMixin, HTTPSConnection):
    pass


class _HTTPPool(HTTPConnectionPool):
    ConnectionCls = _WatchedHTTP


class _HTTPSPool(HTTPSConnectionPool):
    ConnectionCls = _WatchedHTTPS


class PoliteAdapter(HTTPAdapter):
    """Reads whole bodies within the limits, waits its turn, and tries again where that is welcome."""

    def init_poolmanager(self, *args: Any, **kwargs: Any) -> None:
        super().init_poolmanager(*args, **kwargs)
        self.poolmanager.pool_classes_by_scheme = {"http": _HTTPPool, "https": _HTTPSPool}

    def send(self, request: requests.PreparedRequest, **kwargs: Any) -> requests.Response:  # type: ignore[override]
        context = CONTEXT.get()
        try:
            return self._send(request, context, kwargs)
        except Exception as fault:
            context.failed = fault  # the cache library may answer from its shelf and say nothing of this
            raise

    def _send(
        self, request: requests.PreparedRequest, context: RequestContext, kwargs: dict[str, Any]
    ) -> requests.Response:
        retry = Retry(
            total=context.limits.tries,
            backoff_factor=context.limits.first_pause_s,
            backoff_jitter=context.limits.first_pause_s / 2,
            backoff_max=context.limits.longest_wait_s,
            status_forcelist=(500, 502, 503, 504),
        )
        while True:
            context.sleep(context.pace(urlsplit(request.url or "").netloc))
            response, fault = self._try(request, context, {**kwargs, "stream": True})
            retry = retry.increment(request.method, request.url)
            pause_s = _pause_before_retry(retry, response, fault, context.limits)
            if pause_s is not None and retry.total:
                context.sleep(pause_s)
            elif response is None or fault is not None:
                raise fault or StoppedError
            else:
                return response

    def _try(
        self, request: requests.PreparedRequest, context: RequestContext, kwargs: dict[str, Any]
    ) -> tuple[requests.Response | None, Exception | None]:
        try:
            response = super().send(request, **kwargs)
        except requests.RequestException as fault:
            context.check()
            return None, fault
        response.request = _without_secrets(request)  # this copy is what the cache writes to disk
        try:
            _read_body(response, context)
            _hide_secrets(response, context.secrets)
            if response.status_code in (200, 203):
                with np.errstate(all="ignore"):  # as above: nonsense is judged, not warned of
                    context.answered = (response.content, context.read(response.content))
        except StoppedError:
            raise
        except Exception as fault:  # whatever a reader makes of foreign bytes; put into words above
            context.check()
            return response, fault
        finally:
            response.raw.close()  # a body read to its end has already given its connection back
        _set_life_time(response, context.keep_s)
        return response, None


def _hide_secrets(response: requests.Response, secrets: tuple[str, ...]) -> None:
    """Blot out keys that a service echoes, before anything reads, keeps or repeats its answer."""
    if not secrets:
        return
    response._content = without(response.content.decode("latin-1"), secrets).encode("latin-1")
    for name, text in response.headers.items():
        response.headers[name] = without(text, secrets)


def _without_secrets(request: requests.PreparedRequest) -> requests.PreparedRequest:
    bare = request.copy()
    for name in SECRET_HEADERS:
        bare.headers.pop(name, None)
    return bare


def _read_body(response: requests.Response, context: RequestContext) -> None:
    """Read and unpack a body chunk by chunk, giving up at the limit whatever the headers promise."""
    announced = response.headers.get("Content-Length", "")
    if announced.isdigit() and int(announced) > context.limits.body_bytes:
        raise TooLargeError
    chunks, size = [], 0
    for chunk in response.raw.stream(65536, decode_content=True):
        context.check()
        size += len(chunk)
        if size > context.limits.body_bytes:
            raise TooLargeError
        chunks.append(chunk)
    response._content = b"".join(chunks)
    response._content_consumed = True  # type: ignore[attr-defined]


_LASTING = (
    SSLError,
    Timeout,
    msgspec.ValidationError,
    UnreadableError,
)


def _pause_before_retry(
    retry: Retry, response: requests.Response | None, fault: Exception | None, limits: Limits
) -> float | None:
    """Seconds to wait before another try, or None where a further try is unwelcome or useless.

    A 429 is only retried when the service itself names a short wait: without Retry-After the waits it means
    (Open-Meteo: the next minute, hour or day) are longer than anybody would sit through.
    """
    if fault is not None:
        return None if isinstance(fault, _LASTING) or is_unreachable(fault) else retry.get_backoff_time()
    asked_s = wait_asked_s(response)
    status = response.status_code if response is not None else 0
    if status not in retry.status_forcelist and (status != 429 or asked_s is None):
        return None
    if asked_s is None:
        return retry.get_backoff_time()
    return asked_s + random.uniform(0.0, 0.2) if asked_s <= limits.longest_wait_s else None


def _set_life_time(response: requests.Response, keep_s: float) -> None:
    """State how long an answer stays fresh, counted on one clock, so that a wrong one keeps nothing for ever.

    RFC 9111 section 4.2.1: max-age, else Expires - Date (both on the service's clock), else ``keep_s``. An
    answer to be asked for again at once lives one second: it still is the last answer when all else fails.
    """
    said = response.headers.get("Cache-Control", "").lower()[:1000]
    date, expires = http_date(response.headers.get("Date")), http_date(response.headers.get("Expires"))
    named = re.search(r"max-age=(\d{1,15})", said)
    if "no-store" in said:
        return
    if "no-cache" in said:
        life_s = 0.0
    elif named:
        life_s = float(named[1])
    else:
        life_s = expires - date if expires is not None and date is not None else keep_s
    response.headers.pop("Expires", None)
    response.headers["Cache-Control"] = f"max-age={round(min(max(life_s, 1.0), LONGEST_LIFE_S))}"


def http_date(text: str | None) -> float | None:
    try:
        return parsedate_to_datetime(text).timestamp() if text else None
    except (ValueError, OverflowError):
        return None
