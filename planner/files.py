"""Files of ours on the user's disk: written whole or not at all, one writer to a folder, private where they are.

The one door for writing. Whoever writes holds the folder, so that two of us never interleave; a temporary file
that is met while holding it belongs to a writer that was killed, and is swept.
"""

from __future__ import annotations

import errno
import os
import shutil
import stat
import tempfile
import threading
import time
import weakref
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from planner.errors import StorageError, reason_of
from planner.words import say

try:
    import fcntl
except ImportError:  # Windows: a folder cannot be held there, and one user's windows seldom meet in one file
    fcntl = None  # type: ignore[assignment]

PART = ".skepway-part"
"""Ending of temporary files; nobody else's end so."""
PRIVATE, SHARED = 0o600, 0o666
HOLD_WITHIN_S = 10.0
LOOK_EVERY_S, MAKE_WAY_S = 0.005, 0.02
"""How often a folder that is held is tried again; whoever held it a moment ago leaves it free for longer than that,
or one that saves again and again would never let another in."""

_held = threading.local()


def write_text(path: Path, text: str, *, private: bool = False) -> None:
    """Replace a file in one step: whole old or whole new, even when power or disk space fails.

    A link stays and the file it points to changes. ``private`` keeps it from other users of the machine.
    Raises StorageError; the old file is then untouched.
    """
    write_bytes(path, text.encode("utf-8", "replace"), private=private)


def write_bytes(path: Path, content: bytes, *, private: bool = False) -> None:
    """As ``write_text`` for bytes."""
    with writing(path, private=private) as stream:
        stream.write(content)


@contextmanager
def writing(path: Path, *, private: bool = False) -> Iterator[BinaryIO]:
    """As ``write_bytes`` for what is too long to be held at once: the old file stays until the block ends well.

    What is no file but takes bytes, a device or a pipe, is written into and stays what it is.
    """
    temporary = ""
    try:
        if path.exists() and not path.is_file() and not path.is_dir():
            with _into(path) as stream:
                yield stream
            return
        target = path.resolve()
        with holding(target.parent):
            _sweep_held(target.parent)
            handle, temporary = tempfile.mkstemp(
                prefix=f".{target.name[:80]}.", suffix=PART, dir=target.parent
            )
            with os.fdopen(handle, "w+b") as stream:
                yield stream
                stream.flush()
                os.fsync(stream.fileno())
            os.chmod(temporary, PRIVATE if private else _mode(target))
            os.replace(temporary, target)
            temporary = ""
            _sync_folder(target.parent)
    except (OSError, RuntimeError, ValueError) as error:  # a circle of links; a name with a NUL in it
        raise StorageError(
            say("files.could_not_be_written", path=f"{path}", reason=reason_of(error))
        ) from error
    finally:
        if temporary:
            with suppress(OSError):
                os.unlink(temporary)


def _into(path: Path) -> BinaryIO:
    """A device or a pipe opened; OSError at once for a pipe nobody reads, where opening would wait for ever."""
    handle = os.open(path, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0))
    os.set_blocking(handle, True)
    return os.fdopen(handle, "wb")


def foresee(path: Path, *, folder: bool = False) -> None:
    """Raise StorageError where nothing can be written under this name, so that it is told before the work is done.

    What a disk says only while it is written, that it is full for one, nobody can foresee.
    """
    wanted = path if folder else path.parent
    try:
        there = path
        while not (known := _mode_of(there)):
            there = there.parent
        if there != path or folder:
            if not stat.S_ISDIR(known):
                raise StorageError(_cannot_be_made(wanted, os.strerror(errno.ENOTDIR)))
        elif stat.S_ISDIR(known):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR))
        elif stat.S_ISREG(known):
            there = path.resolve().parent
        if not os.access(there, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    except (OSError, ValueError) as error:  # a circle of links, a name too long; one with a NUL in it
        raise StorageError(
            say("files.could_not_be_written", path=f"{path}", reason=reason_of(error))
        ) from error


def _cannot_be_made(folder: Path, reason: str) -> str:
    return say("files.cannot_be_made_choose", folder=f"{folder}", reason=reason)


def _mode_of(path: Path) -> int:
    """What kind of thing lies there; 0 for nothing."""
    try:
        return path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return 0


def made(folder: Path) -> Path:
    """A folder for output, made where it is missing. Raises StorageError."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except (OSError, ValueError) as error:
        raise StorageError(_cannot_be_made(folder, reason_of(error))) from error
    return folder


def made_private(folder: Path) -> Path:
    """A folder of the user's own, closed to everybody else. Raises StorageError."""
    if not folder.is_dir():
        made(folder)
    with suppress(OSError):
        if folder.stat().st_mode & 0o077:
            folder.chmod(0o700)
    return folder


def closed(path: Path) -> None:
    """Close a file of the user's own, written with an editor perhaps, to everybody else; never raises."""
    with suppress(OSError, ValueError):
        if path.stat().st_mode & 0o077:
            path.chmod(PRIVATE)


class Passing:
    """A folder for what nobody keeps: it goes when its block is left, else with the last who holds it."""

    def __init__(self) -> None:
        self.path = Path(tempfile.mkdtemp(prefix="skepway-"))
        self._go = weakref.finalize(self, shutil.rmtree, self.path, ignore_errors=True)

    def __enter__(self) -> Path:
        return self.path

    def __exit__(self, *_: object) -> None:
        self._go()


def passing_folder() -> Passing:
    """A folder for what nobody keeps. Raises StorageError, on a full disk for one."""
    try:
        return Passing()
    except OSError as error:  # tempfile's own words for a full disk are that no folder of the sort was found
        raise StorageError(say("files.no_passing_folder", reason=reason_of(error))) from error


@contextmanager
def holding(folder: Path) -> Iterator[None]:
    """Be the only one of us who writes in ``folder``; whoever holds it already goes on holding it.

    The system lets go of it when the holder dies. Where a folder cannot be held (network disks, Windows) it is
    written all the same. Raises StorageError when another holds it for ten seconds.
    """
    held: set[Path] = _held.__dict__.setdefault("folders", set())
    folder = folder.resolve()
    if fcntl is None or folder in held:
        yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise StorageError(
            say("files.could_not_be_written_2", folder=f"{folder}", strerror=reason_of(error))
        ) from error
    left: dict[Path, float] = _held.__dict__.setdefault("left", {})
    if time.monotonic() - left.get(folder, -MAKE_WAY_S) < MAKE_WAY_S:
        time.sleep(MAKE_WAY_S)
    try:
        _take(handle, folder)
        held.add(folder)
        yield
    finally:
        held.discard(folder)
        os.close(handle)
        left[folder] = time.monotonic()


def sweep(*folders: Path) -> None:
    """Take away the temporary files that killed writers left behind; never raises."""
    for folder in dict.fromkeys(folders):
        with suppress(OSError, StorageError, RuntimeError, ValueError):
            if any(folder.glob(f".*{PART}")):
                with holding(folder):
                    _sweep_held(folder)


def _take(handle: int, folder: Path) -> None:
    deadline = time.monotonic() + HOLD_WITHIN_S
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError as error:
            if time.monotonic() > deadline:
                raise StorageError(say("files.is_held_by_another", folder=f"{folder}")) from error
            time.sleep(LOOK_EVERY_S)
        except OSError:
            return  # a disk that knows no locks


def _sweep_held(folder: Path) -> None:
    if fcntl is not None:
        for left in folder.glob(f".*{PART}"):
            with suppress(OSError):
                left.unlink()


def _mode(path: Path) -> int:
    """A replaced file keeps its permissions; a new one gets the usual ones, not mkstemp's private ones."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return SHARED & ~mask


def _sync_folder(folder: Path) -> None:
    """Make the rename itself durable where the system allows it (not on Windows)."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
