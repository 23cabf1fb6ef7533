# ruff: noqa: PT017
"""What reading outside bytes may do: succeed or be explained, soon; and what may fall into the net, and why."""

from __future__ import annotations

import csv
import struct
import time
import zipfile
import zlib
from collections.abc import Callable, Iterable
from typing import Any

import pytest

from planner import reading
from planner.errors import SkepwayError

SOON_S = 10.0
"""Of this thread's own work, so that a busy machine breaks no run; what hangs meets the limit of every test."""

FORESEEN: dict[type[BaseException], str] = {
    RecursionError: "brackets nested without end",
    MemoryError: "lengths stated without end",
    LookupError: "an encoding, a zone or a member of a document that nobody knows",
    UnicodeError: "bytes or surrogates that are no text",
    OverflowError: "numbers beyond any calendar, integer or float",
    ArithmeticError: "numbers at which arithmetic stops",
    ValueError: "words where numbers should be, shapes that do not fit",
    TypeError: "null or a list where a number should be",
    AttributeError: "a list or a number where a table should be",
    OSError: "names that no file can have",
    csv.Error: "cells that never end",
    zipfile.BadZipFile: "a zip that is none, or cut",
    zlib.error: "packing that was changed",
    NotImplementedError: "packing that nobody knows, among what zip allows",
    struct.error: "a picture that breaks off within a number",
    EOFError: "packing that breaks off",
}
"""Kinds of exceptions that a reader may raise without the net; any other kind is a finding."""


def judged(
    attempt: Callable[[bytes], Any],
    cases: Iterable[bytes],
    monkeypatch: pytest.MonkeyPatch,
    *,
    forgiving: bool = False,
) -> int:
    """Try every case under the net and without it; how many were read in the end. Fails with the case.

    A ``forgiving`` reader has something else to go by where a file is damaged, and says nothing.
    """
    accepted = 0
    for number, case in enumerate(cases):
        caught, began = reading.CAUGHT, time.thread_time()
        try:
            monkeypatch.setattr(reading, "CAUGHT", ())
            attempt(case)
            accepted += 1
        except SkepwayError as error:
            assert str(error).strip()
        except Exception as fault:
            monkeypatch.setattr(reading, "CAUGHT", caught)
            assert isinstance(fault, tuple(FORESEEN)), (
                f"case {number}: {fault!r} is foreseen nowhere\n{case[:3000]!r}"
            )
            _caught(attempt, case, number, forgiving)
        finally:
            monkeypatch.setattr(reading, "CAUGHT", caught)
        assert time.thread_time() - began < SOON_S, f"case {number} took too long\n{case[:3000]!r}"
    return accepted


def _caught(attempt: Callable[[bytes], Any], case: bytes, number: int, forgiving: bool) -> None:
    try:
        attempt(case)
    except SkepwayError as error:
        assert str(error).strip()
        return
    except Exception as fault:
        raise AssertionError(f"case {number} flies past the net: {fault!r}\n{case[:3000]!r}") from fault
    if not forgiving:
        raise AssertionError(f"case {number} fails without the net and succeeds with it")
