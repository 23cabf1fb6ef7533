"""The computer's calendar set as a test wishes, wherever the program and its cache read it; stopwatches go on."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta

import pytest
from requests_cache.models import response
from requests_cache.policy import actions, expiration

HOUR_S, DAY_S = 3600.0, 86_400.0


def set_clock(patch: pytest.MonkeyPatch, ahead_s: Callable[[], float]) -> None:
    """From now on every reading of the clock is ``ahead_s()`` later than the true time."""
    real_s, real_date = time.time, expiration.utcnow
    patch.setattr(time, "time", lambda: real_s() + ahead_s())
    for module in (expiration, actions, response):  # the cache takes its time from the calendar
        patch.setattr(module, "utcnow", lambda: real_date() + timedelta(seconds=ahead_s()))


def jumping(ahead_s: float, after: int) -> Callable[[], float]:
    """Right for so many readings, and then wrong by ``ahead_s``."""
    read = 0

    def now_ahead_s() -> float:
        nonlocal read
        read += 1
        return ahead_s if read > after else 0.0

    return now_ahead_s
