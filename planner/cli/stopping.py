"""A command that is asked to stop, by Ctrl-C, by a terminal that is shut or by a machine going down.

All three unwind it as an error would: nothing half written stays, passing folders go, children are seen out.
"""

from __future__ import annotations

import _thread
import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

ASKS = tuple(
    number for name in ("SIGINT", "SIGTERM", "SIGHUP") if (number := getattr(signal, name, None)) is not None
)
UNWOUND_WITHIN_S = 10.0
"""What is not unwound by then is left as it lies: whoever asks is not kept waiting for a piece of work."""

AGAIN_S = 0.01


class Stopped(KeyboardInterrupt):
    """Raised wherever the command is at work; everything that minds Ctrl-C minds it."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number


def code_of(asked: KeyboardInterrupt) -> int:
    """What a shell shows of a program that a signal ended."""
    return 128 + (asked.number if isinstance(asked, Stopped) else signal.SIGINT)


@contextmanager
def heeding() -> Iterator[None]:
    """Raise Stopped in here when asked to stop, once: who asks again while all is unwound is not answered twice.

    What the surroundings have made this process deaf to (``nohup``) it stays deaf to. Only a main thread can heed.
    """
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    listening, unwound = True, _thread.allocate_lock()
    unwound.acquire()

    def stop(number: int, _frame: FrameType | None) -> None:
        nonlocal listening
        if listening:
            listening = False
            _thread.start_new_thread(_wait_for, (unwound, number))
            raise Stopped(number)

    def lost(told: sys.UnraisableHookArgs) -> None:
        """The question came while Python was tidying up behind its own scenes, where nothing can be raised."""
        nonlocal listening
        if isinstance(told.exc_value, Stopped):
            listening = True
            _thread.start_new_thread(_ask_again, (told.exc_value.number,))
        else:
            others(told)

    others = sys.unraisablehook
    before = {number: signal.getsignal(number) for number in ASKS}
    heard = [number for number, handler in before.items() if handler not in (signal.SIG_IGN, None)]
    try:
        sys.unraisablehook = lost
        for number in heard:
            signal.signal(number, stop)
        yield
    finally:
        unwound.release()
        for number in heard:
            signal.signal(number, before[number])
        sys.unraisablehook = others


def _wait_for(unwound: _thread.LockType, number: int) -> None:
    """In a thread that takes no lock to begin: the one interrupted may hold it."""
    if not unwound.acquire(timeout=UNWOUND_WITHIN_S):
        os._exit(128 + number)


def _ask_again(number: int) -> None:
    time.sleep(AGAIN_S)
    if hasattr(signal, "pthread_kill"):  # wakes the main thread, which may have gone to sleep
        signal.pthread_kill(threading.main_thread().ident or 0, number)
    else:
        signal.raise_signal(number)


def leave_to_the_system() -> None:
    """Until a command is at work, and after it, nothing needs unwinding: Ctrl-C ends the process without a word."""
    if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, signal.SIG_DFL)
