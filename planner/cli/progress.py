"""A line of progress on the error stream for work that takes longer than half a second."""

from __future__ import annotations

import sys
import time
from types import TracebackType

from planner.cli.voice import steer

PATIENCE_S = 0.5
WIDTH = 24


class ProgressLine:
    """Call it with the share done; it stays silent for half a second and where nobody watches."""

    def __init__(self, title: str) -> None:
        self._title, self._began, self._shown = title, time.monotonic(), False

    def __enter__(self) -> ProgressLine:
        return self

    def __call__(self, share: float) -> None:
        if time.monotonic() - self._began < PATIENCE_S or not sys.stderr.isatty():
            return
        done = round(share * WIDTH)
        steer(f"\r{self._title} [{'#' * done}{'.' * (WIDTH - done)}] {share:4.0%}")
        self._shown = True

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._shown:
            steer("\r\033[K")


class Stopwatch:
    """Laps of a command, for saying where the time went."""

    def __init__(self) -> None:
        self._last = time.perf_counter()
        self._laps: list[tuple[str, float]] = []

    def lap(self, name: str) -> None:
        """End the present lap under a name."""
        now = time.perf_counter()
        self._laps.append((name, now - self._last))
        self._last = now

    def table(self) -> str:
        """One line per lap and the sum, in seconds."""
        rows = [*self._laps, ("together", sum(seconds for _, seconds in self._laps))]
        return "\n".join(f"{name:<20} {seconds:7.3f} s" for name, seconds in rows)
