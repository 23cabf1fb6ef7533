"""Instants as text for machines."""

from __future__ import annotations

from datetime import UTC, datetime


def utc_text(time_s: float) -> str:
    """RFC 3339 in UTC, to the second."""
    return datetime.fromtimestamp(time_s, UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
