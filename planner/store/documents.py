"""Reading and writing the user's text files safely: bounded, never a traceback, never half a file."""

from __future__ import annotations

import os
import tempfile
import tomllib
from contextlib import suppress
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from planner.errors import Fault, InputError, StorageError

Document = dict[str, Any]

MAX_TOML_BYTES = 5_000_000
MAX_TABLE_BYTES = 40_000_000


def read_text(path: Path, max_bytes: int, what: str, otherwise: str = "") -> str:
    """Text of a file in UTF-8, or in the encoding ``otherwise``; refused when missing, too long, empty or not text.

    Raises InputError for content, StorageError when the file cannot be read at all.
    """
    raw = _read_bytes(path, max_bytes, what)
    try:
        text = _decoded(raw, otherwise)
    except UnicodeDecodeError as error:
        raise _not_usable(path, "this is not a text file", f"Choose {what} saved as UTF-8 text") from error
    if "\0" in text:
        raise _not_usable(path, "this is not a text file", f"Choose {what} saved as UTF-8 text")
    if not text.strip():
        raise _not_usable(path, "the file is empty", f"Choose {what} with content")
    return text


def _decoded(raw: bytes, otherwise: str) -> str:
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        if not otherwise:
            raise
        return raw.decode(otherwise)


def read_toml(path: Path, what: str) -> Document:
    """A TOML file as plain nested dicts and lists; dates and times become ISO text.

    Raises InputError (with the line when the text cannot be parsed) or StorageError.
    """
    return parse_toml(read_text(path, MAX_TOML_BYTES, what), path.name)


def parse_toml(text: str, where: str) -> Document:
    """TOML text as plain nested dicts and lists; dates and times become ISO text."""
    try:
        return {key: _plain(value) for key, value in tomllib.loads(text).items()}
    except tomllib.TOMLDecodeError as error:
        fault = Fault("", "", f"the text breaks off or is not TOML: {error}", "Mend the line named")
        raise InputError([fault], where) from error
    except RecursionError as error:
        fault = Fault("", "", "the brackets are nested too deep", "Take the surplus brackets out")
        raise InputError([fault], where) from error
    except ValueError as error:  # a number of thousands of digits
        fault = Fault("", "", f"a value cannot be read: {error}", "Mend the value")
        raise InputError([fault], where) from error


def write_text(path: Path, text: str) -> None:
    """Replace a file in one step: whole old or whole new, even when power or disk space fails.

    Raises StorageError; the old file is then untouched.
    """
    write_bytes(path, text.encode("utf-8", "replace"))


def write_bytes(path: Path, content: bytes) -> None:
    """As ``write_text`` for bytes."""
    temporary = ""
    try:
        handle, temporary = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".part", dir=path.parent)
        with os.fdopen(handle, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        _keep_mode(path, temporary)
        os.replace(temporary, path)
    except OSError as error:
        if temporary:
            with suppress(OSError):
                os.unlink(temporary)
        raise StorageError(
            f"{path} could not be written: {error.strerror or error}. "
            "Check that the folder exists, is yours to write and has space, or choose another."
        ) from error
    _sync_folder(path.parent)


def _read_bytes(path: Path, max_bytes: int, what: str) -> bytes:
    try:
        if path.exists() and not path.is_file():
            raise _not_usable(path, "this is not a file", f"Choose {what}")
        with path.open("rb") as stream:
            raw = stream.read(max_bytes + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        message = f"{path} could not be read: {reason}. Check the name, or choose {what}."
        raise StorageError(message) from error
    if len(raw) > max_bytes:
        raise _not_usable(path, f"longer than {max_bytes // 1_000_000} MB", f"Choose {what}")
    return raw


def _not_usable(path: Path, problem: str, remedy: str) -> InputError:
    return InputError([Fault("", "", problem, remedy)], path.name)


def _plain(value: Any) -> Any:
    """TOML's dates and times as ISO text, so that a draft holds only text, numbers, lists and tables."""
    if isinstance(value, dict):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    if isinstance(value, datetime | time):
        return value.isoformat(timespec="seconds" if value.second or value.microsecond else "minutes")
    if isinstance(value, date):
        return value.isoformat()
    return value


def _keep_mode(path: Path, temporary: str) -> None:
    """A replaced file keeps its permissions; a new one gets the usual ones, not mkstemp's private ones."""
    if path.exists():
        os.chmod(temporary, path.stat().st_mode & 0o777)
        return
    mask = os.umask(0)
    os.umask(mask)
    os.chmod(temporary, 0o666 & ~mask)


def _sync_folder(folder: Path) -> None:
    """Make the rename itself durable where the system allows it (not on Windows)."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
