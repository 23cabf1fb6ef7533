"""Asking a service: from the disk cache while fresh, from the network, or the last answer with its age."""

from __future__ import annotations

import base64
import json as jsonlib
import math
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any, Generic, NoReturn, TypeVar, cast
from urllib.parse import quote, urlsplit

import msgspec
import numpy as np
import requests

from planner import __version__
from planner.ages import CLOCKS_DIFFER_S, age_s
from planner.errors import Cancelled, ServiceError
from planner.reading import SHORTEST_SECRET, net, printable, without
from planner.services.http.adapter import CONTEXT, SECRET_HEADERS, RequestContext, Waits, http_date
from planner.services.http.faults import (
    RefusedError,
    UnreadableError,
    explained,
    refused,
    unforeseen,
    unreadable,
)
from planner.services.http.limits import Limits
from planner.services.http.transport import KEEP_S, Session, Transport
from planner.words import say

T = TypeVar("T")
Reader = Callable[[bytes], T]

OLD_NOTE = "answer is"
"""How a remark begins that says how old an answer is."""


@dataclass(frozen=True, slots=True)
class CachedResponse(Generic[T]):
    """What a service said, as read, and how fresh it is.

    ``stale``: the service could not be asked now and ``problem`` says why; ``clock_skew_s`` is how far this
    computer's clock runs ahead of the service's (0 where unknown). An answer kept by a clock that ran ahead has
    neither a time nor an age: NaN.
    """

    value: T
    fetched_s: float
    age_s: float
    from_cache: bool = False
    stale: bool = False
    problem: str = ""
    clock_skew_s: float = 0.0

    @property
    def notes(self) -> tuple[str, ...]:
        """Plain words about everything that makes this answer less than fresh."""
        notes = []
        if self.stale and math.isnan(self.age_s):
            notes.append(say("services.age_unknown", begin=OLD_NOTE, problem=self.problem))
        elif self.stale:
            notes.append(f"{OLD_NOTE} {age_text(self.age_s)} old: {self.problem}")
        if abs(self.clock_skew_s) > CLOCKS_DIFFER_S:
            side = "ahead of" if self.clock_skew_s > 0 else "behind"
            notes.append(
                say("services.clock_differs", value=str(age_text(abs(self.clock_skew_s))), side=str(side))
            )
        return tuple(notes)

    def made_s(self, said_s: float) -> float:
        """When an answer was made that says so itself: no later than it was fetched, as far as that is known."""
        return min(said_s, self.fetched_s) if math.isfinite(self.fetched_s) else said_s


def age_text(age_s: float) -> str:
    """An age in the unit a person would use."""
    for unit, size_s in (("days", 86400.0), ("h", 3600.0), ("min", 60.0)):
        if age_s >= 2 * size_s:
            return f"{age_s / size_s:.0f} {unit}"
    return f"{max(age_s, 0.0):.0f} s"


def json_as(shape: type[T]) -> Reader[T]:
    """A reader of JSON bodies into ``shape``; bare NaN and Infinity, as some servers write, are accepted.

    No other encoding than UTF-8: in another a key that a service echoes could not be found and hidden.
    """

    def read(body: bytes) -> T:
        try:
            return msgspec.json.decode(body, type=shape)
        except msgspec.ValidationError:
            raise
        except msgspec.DecodeError:
            return msgspec.convert(jsonlib.loads(body.decode("utf-8-sig")), type=shape)

    return read


def _never() -> bool:
    return False


def _silent(_service: str) -> None:
    return


@dataclass(frozen=True)
class Client:
    """A way to ask services: a transport and a mode.

    ``offline`` answers from the cache alone, whatever its age; ``refresh`` asks again although a fresh answer
    is at hand; ``cancel`` is polled during every wait and may be called from another thread. ``until_s``
    (monotonic) ends all waiting together; ``on_wait`` gets a service's name, on another thread, once it takes long,
    by itself or in many requests, which ``waits`` counts.
    """

    transport: Transport
    offline: bool = False
    refresh: bool = False
    cancel: Callable[[], bool] = _never
    until_s: float = math.inf
    on_wait: Callable[[str], None] = _silent
    waits: Waits = field(default_factory=Waits)

    @classmethod
    def open(
        cls,
        cache_dir: Path | None,
        *,
        contact: str = "",
        offline: bool = False,
        refresh: bool = False,
        limits: Limits | None = None,
    ) -> Client:
        """A client with a transport of its own; without ``cache_dir`` answers are kept in memory only."""
        agent = f"Skepway/{__version__}" + (f" ({_in_header(contact)})" if contact.strip() else "")
        return cls(Transport(cache_dir, agent, limits or Limits()), offline, refresh)

    def with_(self, **changes: Any) -> Client:
        """The same transport in another mode: ``client.with_(cancel=job.should_stop)``."""
        return replace(self, **changes)

    def close(self) -> None:
        self.transport.close()

    def get(
        self,
        service: str,
        url: str,
        read: Reader[T],
        *,
        params: Mapping[str, str] | None = None,
        headers: Mapping[str, str] | None = None,
        form: Mapping[str, str] | None = None,
        json: object = None,
        gap_s: float = 0.0,
        keep_s: float = KEEP_S,
    ) -> CachedResponse[T]:
        """Ask ``service`` at ``url`` and read its answer.

        A ``form`` or ``json`` makes it a POST; ``gap_s`` is the time its policy wants between two requests to
        one host; ``keep_s`` how long an answer without a life time of its own counts as fresh (1 h).

        Raises
        ------
        ServiceError
            naming the service, what happened and what to do, unless an older answer can serve.
        Cancelled
            when the client's ``cancel`` turned true.
        """
        session = self.transport.session()
        request = _prepared(session, service, url, params, headers, form, json)
        kept = self._kept(service, session, request)
        if self.offline:
            return self._last(service, kept, read, "working offline")
        try:
            return self._ask(service, session, request, read, kept, gap_s, keep_s)
        except RefusedError:
            raise
        except ServiceError as fault:
            if kept is None:
                raise
            return self._last(service, kept, read, fault.happened)

    def _kept(self, service: str, session: Session, request: requests.PreparedRequest) -> Any:
        with net(partial(unreadable, service), _secrets(request)):
            key = session.cache.create_key(request, verify=session.verify, cert=session.cert)
            return session.cache.get_response(key)

    def _last(self, service: str, kept: Any, read: Reader[T], problem: str) -> CachedResponse[T]:
        if kept is None:
            raise ServiceError(
                service,
                say("services.no_earlier_answer", problem=str(problem)),
                "Go online once for this trip, or enter the data by hand",
            )
        value = _guarded(read, kept.content, partial(_unusable, service, problem))
        return CachedResponse(value, *_dated(kept), True, True, problem)

    def _ask(
        self,
        service: str,
        session: Session,
        request: requests.PreparedRequest,
        read: Reader[T],
        kept: Any,
        gap_s: float,
        keep_s: float,
    ) -> CachedResponse[T]:
        limits = self.transport.limits
        context = RequestContext(
            service,
            read,
            self.cancel,
            limits,
            lambda host: self.transport.turn(host, gap_s) if gap_s else 0.0,
            min(time.monotonic() + limits.total_s, self.until_s),
            keep_s,
            _secrets(request),
            self.on_wait,
            self.waits,
        )
        token = CONTEXT.set(context)
        watcher = threading.Thread(target=context.watch, name="http-watch", daemon=True)
        watcher.start()
        try:
            response = session.send(
                request,
                timeout=(limits.connect_s, limits.silence_s),
                allow_redirects=True,
                **self._freshness(kept),
                **session.merge_environment_settings(request.url, {}, None, None, None),
            )
        except Cancelled:
            raise
        except Exception as fault:
            self._tell(service, request, fault)
        finally:
            context.done.set()
            watcher.join()
            CONTEXT.reset(token)
        if context.failed is not None:
            self._tell(service, request, context.failed)
        if response.status_code not in (200, 203):
            raise refused(service, response)
        return self._fresh(service, response, context, read)

    def _tell(self, service: str, request: requests.PreparedRequest, fault: Exception) -> NoReturn:
        """Raise what went wrong on the way, explained; what nobody foresaw falls into the net."""
        if told := explained(service, request, fault, self.transport.limits):
            raise told from fault
        with net(partial(unforeseen, service), _secrets(request)):
            raise fault

    def _freshness(self, kept: Any) -> dict[str, bool]:
        """How to ask again: with the validators of the kept answer where it has any, else from scratch.

        An answer kept in the future comes from a clock that was wrong: how old it is nobody knows.
        """
        validators = kept is not None and bool({"ETag", "Last-Modified"} & set(kept.headers))
        again = self.refresh or (kept is not None and math.isnan(_dated(kept)[1]))
        return {"refresh": again and validators, "force_refresh": again and not validators}

    @staticmethod
    def _fresh(service: str, response: Any, context: RequestContext, read: Reader[T]) -> CachedResponse[T]:
        value = Client._read(service, response.content, context, read)
        from_cache = bool(getattr(response, "from_cache", False))
        if from_cache:
            return CachedResponse(value, *_dated(response), from_cache)
        now, date = time.time(), http_date(response.headers.get("Date"))
        return CachedResponse(value, now, 0.0, clock_skew_s=now - date if date is not None else 0.0)

    @staticmethod
    def _read(service: str, body: bytes, context: RequestContext, read: Reader[T]) -> T:
        if context.answered is not None and context.answered[0] is body:
            return cast(T, context.answered[1])
        return _guarded(read, body, partial(unreadable, service), context.secrets)


def _prepared(
    session: Session,
    service: str,
    url: str,
    params: Mapping[str, str] | None,
    headers: Mapping[str, str] | None,
    form: Mapping[str, str] | None,
    json: object,
) -> requests.PreparedRequest:
    posts = form is not None or json is not None
    body = jsonlib.dumps(json, sort_keys=True) if json is not None else form
    kind = {"Content-Type": "application/json"} if json is not None else {}
    request = requests.Request(
        "POST" if posts else "GET", url, params=params, data=body, headers={**kind, **(headers or {})}
    )
    for name, text in (headers or {}).items():
        if not text.isascii() or not text.isprintable():
            raise ServiceError(
                service, say("services.key_holds_letter", name=str(name)), "Enter it again in settings.toml"
            )
    try:
        return session.prepare_request(request)
    except (requests.RequestException, ValueError) as fault:
        shown = without(url, [urlsplit(url).password or "", urlsplit(url).query]) if "//" in url else url
        raise ServiceError(
            service,
            say("services.no_web_address", shown=str(repr(shown[:200]))),
            "Correct it in settings.toml",
        ) from fault


def _secrets(request: requests.PreparedRequest) -> tuple[str, ...]:
    """The keys that travel with a request; of a name with its password also the password by itself."""
    said = [str(request.headers.get(name, "")) for name in SECRET_HEADERS]
    for text in [text.removeprefix("Basic ") for text in said if text.startswith("Basic ")]:
        with suppress(ValueError):
            whole = base64.b64decode(text).decode("latin-1")
            said += [text, whole, whole.partition(":")[2]]
    return tuple(text for text in said if len(text) >= SHORTEST_SECRET)


def _in_header(text: str) -> str:
    """A contact as a header may say it: what is not plain ASCII is written as %XX of its UTF-8."""
    return quote(" ".join(text.split())[:200], safe=" !#$&'*+,-./:;<=>?@[]^_`{|}~")


def _guarded(
    read: Reader[T], body: bytes, told: Callable[[Exception], ServiceError], secrets: tuple[str, ...] = ()
) -> T:
    """The body as read; what readers are known to raise is told, whatever else comes falls into the net.

    Numbers that cannot be become infinite or unknown in silence; readers leave those out and say so.
    """
    with net(told, secrets), np.errstate(all="ignore"):
        try:
            return read(body)
        except (ValueError, UnreadableError) as fault:
            raise told(fault) from fault


def _unusable(service: str, problem: str, fault: Exception) -> ServiceError:
    """The error for a kept answer that does not serve when the service cannot be asked for another."""
    happened = "the kept answer cannot be read any more"
    if isinstance(fault, UnreadableError):
        happened = say(
            "services.kept_answer_does", value=str(printable(str(fault))[:300]), problem=str(problem)
        )
    return ServiceError(service, happened, "Go online and refresh")


def _dated(kept: Any) -> tuple[float, float]:
    """When a kept answer was fetched, and its age, s; both NaN where a clock was wrong and nobody knows."""
    created: datetime = kept.created_at
    fetched_s = (created if created.tzinfo else created.replace(tzinfo=UTC)).timestamp()
    age = age_s(fetched_s, time.time())
    return (math.nan, math.nan) if math.isnan(age) else (fetched_s, age)
