"""What requests travel through: a session for each thread, the cache file they share, the turns hosts are asked in."""

from __future__ import annotations

import logging
import threading
import time
from contextlib import suppress
from pathlib import Path
from weakref import WeakSet

import requests
from requests_cache import CachedSession

from planner.errors import StorageError
from planner.files import PRIVATE, made_private
from planner.services.http.adapter import SECRET_HEADERS, PoliteAdapter
from planner.services.http.limits import Limits
from planner.services.http.shelf import Shelf

KEEP_S = 3600.0
"""How long an answer without a life time of its own counts as fresh."""
FILE_NAME = "answers.sqlite"
CACHE_FILE_LIMIT_BYTES = 256 * 1024 * 1024

# requests-cache logs whole addresses with tracebacks; nothing of ours belongs in a log.
logging.getLogger("requests_cache").setLevel(logging.CRITICAL)


class Session(CachedSession):
    """A cached session that never carries a key to another host."""

    def rebuild_auth(self, prepared_request: requests.PreparedRequest, response: requests.Response) -> None:
        if self.should_strip_auth(response.request.url, prepared_request.url):  # type: ignore[no-untyped-call]
            for name in SECRET_HEADERS:
                prepared_request.headers.pop(name, None)
        super().rebuild_auth(prepared_request, response)  # type: ignore[no-untyped-call]


class Transport:
    """Sessions (one per thread), the cache file they share and the turns hosts are asked in."""

    def __init__(self, cache_dir: Path | None, agent: str, limits: Limits) -> None:
        self.agent, self.limits = agent, limits
        self._shelf = Shelf(_tidied(cache_dir / FILE_NAME) if cache_dir is not None else None)
        self._local = threading.local()
        self._sessions: WeakSet[Session] = WeakSet()  # a thread that ends takes its session along
        self._lock = threading.Lock()
        self._next_turn: dict[str, float] = {}

    def session(self) -> Session:
        found: Session | None = getattr(self._local, "session", None)
        if found is None:
            found = self._local.session = self._open()
            with self._lock:
                self._sessions.add(found)
        return found

    def turn(self, host: str, gap_s: float) -> float:
        """Book the next turn at a host that wants ``gap_s`` between requests; returns the seconds to wait."""
        with self._lock:
            now = time.monotonic()
            start = max(now, self._next_turn.get(host, now))
            self._next_turn[host] = start + gap_s
            return start - now

    def close(self) -> None:
        with self._lock:
            for session in list(self._sessions):
                session.close()  # type: ignore[no-untyped-call]
            self._sessions.clear()
        self._local = threading.local()

    def _open(self) -> Session:
        session = Session(
            backend=self._shelf,
            expire_after=KEEP_S,
            cache_control=True,
            allowable_codes=(200, 203),
            allowable_methods=("GET", "POST"),
            ignored_parameters=[*SECRET_HEADERS, "apikey", "api_key"],
        )
        adapter = PoliteAdapter()
        session.mount("https://", adapter)
        session.mount("http://", adapter)
        session.max_redirects = self.limits.redirects
        session.headers.update({"User-Agent": self.agent, "Accept-Encoding": "gzip, deflate"})
        return session


def _tidied(file: Path) -> Path:
    """The cache file, begun anew where it has overgrown and closed to other users; in a folder of ours."""
    with suppress(OSError, StorageError):
        made_private(file.parent)
        if file.exists() and file.stat().st_size > CACHE_FILE_LIMIT_BYTES:
            file.unlink()
        if file.exists() and file.stat().st_mode & 0o077:
            file.chmod(PRIVATE)
    return file
