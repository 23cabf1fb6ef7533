"""The chain of events: each bears the hash of itself and of the one before, so that a change is noticed.

It makes changes plain, not impossible: whoever can write the file can write a whole new chain.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Any

FIRST = "0" * 64
"""What stands before the first event of a chain."""

HASHED = (
    "book",
    "number",
    "at_s",
    "offset_s",
    "device",
    "who",
    "trip",
    "subject_kind",
    "subject",
    "kind",
    "body",
    "plan",
    "corrects",
)
COLUMNS = (*HASHED, "before", "hash")
"""The columns of an event as the file, the export and the hash have them."""


def plain(value: Mapping[str, Any]) -> str:
    """A table as the one text it has: keys in order, no spaces.

    Raises
    ------
    TypeError, ValueError : it holds what JSON cannot, such as a number that is none
    """
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def hash_of(before: str, row: Sequence[Any]) -> str:
    """SHA-256 of an event's row (in the order of ``HASHED``, the body as text) after the hash before it."""
    text = json.dumps([before, *row], separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()
