"""The one net under everything that reads bytes from outside: files of the user's, answers of services.

What a reader raises because of what it read becomes an explained error, and its traceback is kept in a log.
Nothing of ours that calculates stands over this net: our own bugs fly.
"""

from __future__ import annotations

import base64
import errno
import html
import os
import pickle
import re
import time
import tomllib
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import lru_cache
from pathlib import Path
from typing import Any

from planner.errors import Fault, InputError, SkepwayError
from planner.files import PRIVATE, made_private
from planner.folders import data_dir
from planner.words import say

CAUGHT: tuple[type[BaseException], ...] = (Exception,)
"""What the net catches; the tests take it away to see what lies under it."""

MOST_LOG_BYTES = 1_000_000
MOST_KEPT_LETTERS = 200_000
"""Longer texts are read anew every time: to keep them would cost more memory than it saves time."""
HIDDEN = "(hidden)"
SHORTEST_SECRET = 4

_LONG_NUMBER = re.compile(r"[0-9_]{4000}")
_UNPRINTABLE = re.compile(
    "[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff]"
)
"""Control characters but tab and line end, those that turn the direction of writing, halves of letters."""


@contextmanager
def net(explained: Callable[[Exception], SkepwayError], secrets: Sequence[str] = ()) -> Iterator[None]:
    """Turn what comes out of the block into the error ``explained`` makes of it; ours pass through."""
    try:
        yield
    except SkepwayError:
        raise
    except CAUGHT as fault:
        if not isinstance(fault, Exception):
            raise
        keep_trace(fault, secrets)
        raise explained(fault) from fault


@contextmanager
def reading_file(where: str, what: str) -> Iterator[None]:
    """The net under a reader of one file; ``where`` its name, ``what`` it should be: "a trip file"."""

    def explained(fault: Exception) -> SkepwayError:
        problem = say(
            "files.this_cannot_be_read",
            what=what,
            name=f"{type(fault).__name__}",
            log_file=f"{log_file()}",
        )
        return InputError([Fault("", "", problem, say("files.mend_it_or_choose", what=what))], where)

    with net(explained):
        yield


def read_bounded(path: Path, most_bytes: int = 5_000_000) -> bytes:
    """The bytes of a small file of ours; OSError as from ``open``, ValueError where it has grown beyond reason."""
    if not path.is_file() and path.exists():
        raise OSError(errno.EINVAL, "this is not a file")
    with path.open("rb") as stream:
        content = stream.read(most_bytes + 1)
    if len(content) > most_bytes:
        raise ValueError(say("files.longer_than_mb", most_bytes=f"{most_bytes // 1000000}"))
    return content


def toml(text: str) -> dict[str, Any]:
    """``tomllib.loads``, that refuses numbers of thousands of digits before they fill the memory; ValueError."""
    if _LONG_NUMBER.search(text):
        raise ValueError("a number of thousands of digits")
    if len(text) > MOST_KEPT_LETTERS:
        return tomllib.loads(text)
    tables: dict[str, Any] = pickle.loads(_kept(text))
    return tables


@lru_cache(maxsize=64)
def _kept(text: str) -> bytes:
    """A text read once, packed: the bundled tables and the demo trips are read again and again."""
    return pickle.dumps(tomllib.loads(text))


def log_file() -> Path:
    """Where tracebacks of what could not be read are kept."""
    return data_dir() / "trouble.log"


def keep_trace(fault: BaseException, secrets: Sequence[str] = ()) -> None:
    """Add a traceback to the log, without secrets; a log that cannot be written is gone without."""
    trace = "".join(traceback.format_exception(fault, limit=-30))[-20_000:]
    text = f"{time.strftime('%Y-%m-%d %H:%M:%S')}\n{printable(without(trace, secrets))}\n"
    with suppress(OSError, SkepwayError):
        path = made_private(data_dir()) / log_file().name
        if path.exists() and path.stat().st_size > MOST_LOG_BYTES:
            path.unlink()
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, PRIVATE)
        with os.fdopen(handle, "a", encoding="utf-8", errors="replace") as log:
            log.write(text)


def without(text: str, secrets: Sequence[str]) -> str:
    """The text with every secret blotted out, as it is and as JSON, addresses, pages and base64 write it."""
    for secret in secrets:
        if len(secret) >= SHORTEST_SECRET:
            text = _written(secret).sub(HIDDEN, text)
    return text


@lru_cache(maxsize=64)
def _written(secret: str) -> re.Pattern[str]:
    """Every way to write a secret: each of its letters as it is or in an escape of some kind."""
    packed = base64.b64encode(secret.encode()).decode().rstrip("=")
    return re.compile("".join(map(_letter, secret)) + "|" + re.escape(packed))


def _letter(letter: str) -> str:
    code, plain = ord(letter), re.escape(letter)
    percents = "".join(rf"%(?:25)?{byte:02x}" for byte in letter.encode())
    escapes = rf"{percents}|\\{{1,4}}(?:u{code:04x}|x{code:02x})|&\#(?:0*{code}|x0*{code:x});"
    named = f"|{re.escape(html.escape(letter))}" if letter in "&<>\"'" else ""
    return rf"(?:{plain}|\\{{1,4}}{plain}|(?i:{escapes}){named})"


def printable(text: str) -> str:
    """The text without characters that steer a terminal, hide in a page or turn the direction of writing."""
    return _UNPRINTABLE.sub("\ufffd", text)
