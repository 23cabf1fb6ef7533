"""How long work speaks to whoever waits for it: how far it is, and whether to go on."""

from __future__ import annotations

from collections.abc import Callable

Progress = Callable[[float], None]
"""Told the share that is done, 0..1."""

Stop = Callable[[], bool]
"""Asked now and then whether the work is no longer wanted."""
