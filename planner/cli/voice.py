"""How the command line speaks: in any locale, without steering the terminal, and on when nobody listens any more."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, TextIO

from planner.errors import StorageError, reason_of
from planner.reading import printable
from planner.words import say

DASH = Path("-")
"""Stands for the screen where a file is asked for."""


class Voice:
    """A stream of text in front of another: what it cannot write becomes "?", a shut pipe swallows the rest.

    Files asked for are then still written; whoever read our output has seen enough. A full disk behind it raises
    StorageError, except from the ``last`` stream: behind that nobody is left to be told.
    """

    def __init__(self, stream: TextIO, *, last: bool = False) -> None:
        self._stream, self._shut, self._last = stream, False, last

    def write(self, text: str) -> int:
        self._say(printable(text))
        return len(text)

    def steer(self, text: str) -> None:
        """Write control characters of our own: a line of progress."""
        self._say(text)

    def flush(self) -> None:
        if not self._shut:
            with self._listening():
                self._stream.flush()

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)

    def _say(self, text: str) -> None:
        if self._shut:
            return
        with self._listening():
            try:
                self._stream.write(text)
            except UnicodeError:
                encoding = getattr(self._stream, "encoding", None) or "ascii"
                self._stream.write(text.encode(encoding, "replace").decode(encoding, "replace"))

    @contextmanager
    def _listening(self) -> Iterator[None]:
        try:
            yield
        except (BrokenPipeError, ValueError):  # the reader has gone; the stream was closed before we began
            self._leave()
        except OSError as error:
            self._leave()
            if self._last:
                return
            reason = say("cli.the_answer_could_not", strerror=reason_of(error))
            raise StorageError(reason) from error

    def _leave(self) -> None:
        """Say nothing more, and keep the interpreter from complaining at exit about what is left in the stream."""
        self._shut = True
        with suppress(OSError, ValueError, AttributeError):
            os.dup2(os.open(os.devnull, os.O_WRONLY), self._stream.fileno())


@contextmanager
def speaking() -> Iterator[None]:
    """Both streams with a voice for as long as a command runs."""
    before = sys.stdout, sys.stderr
    out, remarks = (stream or open(os.devnull, "w") for stream in before)  # noqa: SIM115
    sys.stdout, sys.stderr = Voice(out), Voice(remarks, last=True)
    try:
        yield
    finally:
        sys.stdout, sys.stderr = before


def steer(text: str) -> None:
    """Control characters of our own to the error stream, where somebody watches."""
    stream: Any = sys.stderr
    getattr(stream, "steer", stream.write)(text)
    stream.flush()
