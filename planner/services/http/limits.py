"""How long a request may take and how large its answer may be."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """How long and how much: seconds for connecting, between two bytes and altogether; bytes of one body."""

    connect_s: float = 5.0
    silence_s: float = 15.0
    total_s: float = 40.0
    body_bytes: int = 32 * 1024 * 1024
    redirects: int = 5
    tries: int = 4
    longest_wait_s: float = 20.0
    first_pause_s: float = 0.4
