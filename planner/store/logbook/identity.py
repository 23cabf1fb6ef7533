"""What a trip is known by: an id in its file, which stays when the file is renamed, moved or planned anew.

Only a new file, the window's save and the logbook's first entry write it.
"""

from __future__ import annotations

import hashlib
import re
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Literal

from planner.errors import Fault, InputError, SkepwayError
from planner.store.documents import MAX_TOML_BYTES, Document, parse_toml, read_text, write_text
from planner.store.logbook.book import Logbook
from planner.store.logbook.chain import plain
from planner.store.logbook.records import KnownTrip
from planner.store.tripfile import trip_id
from planner.words import say

Same = Literal["same", "another"]
"""What a person says of a file whose id is known and whose origin, day or load is another."""


def new_id() -> str:
    """An id nobody else has."""
    return uuid.uuid4().hex


def identified(draft: Document) -> bool:
    """Give a draft an id where it has none; true where it was given now."""
    if trip_id(draft):
        return False
    draft["id"] = new_id()
    return True


def trip_key(path: Path) -> str:
    """What a trip is known by: its id, or where its file lies as long as it has none. Never raises."""
    try:
        return trip_id(parse_toml(read_text(path, MAX_TOML_BYTES, "a trip file"), path.name)) or str(
            path.resolve()
        )
    except SkepwayError:
        return str(path.resolve())


def with_id(path: Path) -> tuple[str, bool]:
    """The id of a trip file, written into it where it has none; and whether it was written now.

    All other lines of the file stay as they are. Raises InputError or StorageError.
    """
    text = read_text(path, MAX_TOML_BYTES, "a trip file")
    draft = parse_toml(text, path.name)
    if trip_id(draft):
        return trip_id(draft), False
    key = new_id()
    line = f'id = "{key}"   # {say("logbook.id_remark")}\n'
    put = re.sub(r"(?m)^(version[ \t]*=.*\n)", lambda found: found[1] + line, text, count=1)
    if not _says(put, {**draft, "id": key}, path):
        put = line + text
    write_text(path, put)
    return key, True


def _says(text: str, draft: Mapping[str, Any], path: Path) -> bool:
    try:
        return parse_toml(text, path.name) == draft
    except SkepwayError:
        return False


def seen(draft: Document, path: Path | None = None) -> KnownTrip:
    """What a trip's file says that tells it from a copy used for another trip."""
    load = plain({"load": draft.get("load", [])})
    return KnownTrip(
        key=trip_id(draft),
        title=str(draft.get("title", "")),
        origin=str(draft.get("origin", {}).get("name", "")),
        day=str(draft.get("window", {}).get("from", ""))[:10],
        load=hashlib.sha256(load.encode("utf-8", "surrogatepass")).hexdigest()[:16],
        path="" if path is None else str(path.resolve()),
    )


def differences(known: KnownTrip, now: KnownTrip) -> tuple[str, ...]:
    """In what a file with a known id differs from when it was last seen: a copy used for another trip would."""
    found = []
    if known.origin != now.origin:
        found.append(say("logbook.other_origin", was=known.origin, now=now.origin))
    if known.day != now.day:
        found.append(say("logbook.other_day", was=known.day, now=now.day))
    if known.load != now.load:
        found.append(say("logbook.other_load"))
    return tuple(found)


def entered(logbook: Logbook, draft: Document, path: Path, answer: Same | None = None) -> tuple[str, bool]:
    """The id under which a trip's file is entered, and whether it was written into the file now.

    Raises
    ------
    InputError : the id is known from another origin, day or load, and nobody has said which it is
    """
    if answer == "another" and trip_id(draft):
        text = read_text(path, MAX_TOML_BYTES, "a trip file")
        write_text(path, text.replace(trip_id(draft), new_id(), 1))
        key, written = with_id(path)[0], True
    else:
        key, written = with_id(path)
    now = seen({**draft, "id": key}, path)
    known = logbook.known_trip(key)
    if known and answer != "same" and (apart := differences(known, now)):
        problem = say("logbook.known_id", title=known.title, differences=" ".join(apart))
        raise InputError([Fault("id", key, problem, say("logbook.same_or_another"))], path.name)
    if known != now:
        logbook.know_trip(now)
    return key, written
