"""Reading the user's text files safely: bounded, never a traceback; writing them is ``planner.files``."""

from __future__ import annotations

import re
import tomllib
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from planner.errors import Fault, InputError, StorageError, reason_of
from planner.files import write_bytes as write_bytes
from planner.files import write_text as write_text
from planner.reading import reading_file, toml
from planner.words import say

Document = dict[str, Any]

MAX_TOML_BYTES = 5_000_000
MAX_TABLE_BYTES = 40_000_000


def read_text(path: Path, max_bytes: int, what: str, otherwise: str = "") -> str:
    """Text of a file in UTF-8, or in the encoding ``otherwise``; refused when missing, too long, empty or not text.

    Raises InputError for content, StorageError when the file cannot be read at all.
    """
    raw = read_bytes(path, max_bytes, what)
    try:
        text = _decoded(raw, otherwise)
    except UnicodeDecodeError as error:
        raise _not_usable(
            path, "this is not a text file", say("files.choose_saved_utf", what=str(what))
        ) from error
    if "\0" in text:
        raise _not_usable(path, "this is not a text file", say("files.choose_saved_utf", what=str(what)))
    if not text.strip():
        raise _not_usable(path, "the file is empty", say("files.choose_content", what=str(what)))
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
    with reading_file(where, "a TOML file"):
        return _parsed(text, where)


def _parsed(text: str, where: str) -> Document:
    try:
        return {key: _plain(value) for key, value in toml(text).items()}
    except tomllib.TOMLDecodeError as error:
        fault = Fault("", "", say("files.text_breaks_off", error=str(error)), _toml_remedy(text, str(error)))
        raise InputError([fault], where) from error
    except RecursionError as error:
        fault = Fault("", "", "the brackets are nested too deep", "Take the surplus brackets out")
        raise InputError([fault], where) from error
    except ValueError as error:  # a number of thousands of digits
        fault = Fault("", "", say("files.value_cannot_read", error=str(error)), "Mend the value")
        raise InputError([fault], where) from error


def _toml_remedy(text: str, error: str) -> str:
    """What to do about the line that is no TOML: a comma for the point and words without quotes are the usual slips."""
    named = re.search(r"at line (\d+)", error)
    lines = text.splitlines()
    line = lines[int(named[1]) - 1] if named and int(named[1]) <= len(lines) else ""
    if comma := re.search(r"=\s*(-?\d+),(\d+)\s*(#|$)", line):
        return say("files.write_point", right=f"{comma[1]}.{comma[2]}", wrong=f"{comma[1]},{comma[2]}")
    if re.search(r"=\s*[^\W\d]", line):
        return say("files.put_in_quotes")
    return "Mend the line named"


def read_bytes(path: Path, max_bytes: int, what: str) -> bytes:
    try:
        if path.exists() and not path.is_file():
            raise _not_usable(path, "this is not a file", f"Choose {what}")
        with path.open("rb") as stream:
            raw = stream.read(max_bytes + 1)
    except (OSError, ValueError) as error:
        message = say("files.not_read", path=str(path), reason=reason_of(error), what=str(what))
        raise StorageError(message) from error
    if len(raw) > max_bytes:
        raise _not_usable(path, say("files.too_long", max_bytes=str(max_bytes // 1000000)), f"Choose {what}")
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
