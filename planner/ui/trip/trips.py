"""Trip files as the window meets them: the demos, the recent ones, a new one, and what they bring along."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterable
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from planner.bundled import resource_path
from planner.errors import SkepwayError, StorageError, reason_of
from planner.store.tripfile import VERSION, read_draft
from planner.ui.look import strings as s
from planner.ui.trip.first_page import Entry
from planner.words import say

ENDING = ".trip.toml"
"""By this ending a desktop knows a trip; any other file ending is opened as well."""
DEMO_ORDER = ("nuc-pickup", "night-pollination", "swarm-run")


def demos() -> list[Entry]:
    """The bundled trips."""
    folder = resource_path("demo")
    files = sorted(folder.glob("*.toml")) if folder.is_dir() else []
    ranked = sorted(
        files, key=lambda file: DEMO_ORDER.index(file.stem) if file.stem in DEMO_ORDER else len(DEMO_ORDER)
    )
    return [_entry(file, draft) for file in ranked if (draft := _bundled(file)) is not None]


@cache
def _bundled(file: Path) -> dict[str, Any] | None:
    """A trip of ours, read once for the menu and the first page; it is not to be changed."""
    return _readable(file)


def _readable(file: Path) -> dict[str, Any] | None:
    try:
        return read_draft(file)
    except SkepwayError:
        return None


def described(files: Iterable[Path]) -> list[Entry]:
    """Cards for files that can be read; the others are left out."""
    return [_entry(file, draft) for file in files if (draft := _readable(file)) is not None]


def new_draft(now_s: float) -> dict[str, Any]:
    """A trip with nothing filled in but the coming evening and night as its window."""
    day = datetime.fromtimestamp(now_s).replace(minute=0, second=0, microsecond=0)
    first, last = day.replace(hour=18), day.replace(hour=12) + timedelta(days=1)
    if day.hour >= 18:
        first, last = first + timedelta(days=1), last + timedelta(days=1)
    return {
        "version": VERSION,
        "title": s.say(s.NEW_TITLE),
        "window": {"from": f"{first:%Y-%m-%dT%H:%M}", "to": f"{last:%Y-%m-%dT%H:%M}", "step_minutes": 30},
        "closing": {"rule": "after_sunset", "delay_minutes": 15},
        "load": [],
        "vehicle": {"kind": "van"},
        "weather": {"source": "open_meteo"},
    }


def file_name(draft: dict[str, Any], ending: str = ENDING) -> str:
    """A file name made from the title."""
    title = str(draft.get("title") or "trip")
    plain = re.sub(r"[^\w]+", "-", title.lower()).strip("-")
    return (plain[:60] or "trip") + ending


def bring_files(draft: dict[str, Any], source: Path | None, target: Path) -> None:
    """Copy the road and weather files a draft names beside the place where it is saved. Raises StorageError."""
    if source is None or source == target:
        return
    for part in ("road", "weather"):
        name = (draft.get(part) or {}).get("file")
        if not isinstance(name, str) or Path(name).is_absolute() or (target / name).exists():
            continue
        try:
            shutil.copyfile(source / name, target / name)
        except (OSError, ValueError) as error:
            raise StorageError(say("files.copy_failed", name=name, reason=reason_of(error))) from error


def _entry(file: Path, draft: dict[str, Any]) -> Entry:
    """Title, the way, the load and the vehicle of a draft, forgiving whatever is missing."""

    def name(part: str) -> str:
        return str((draft.get(part) or {}).get("name") or "?")

    boxes = sum(int(group.get("count") or 0) for group in draft.get("load") or [] if isinstance(group, dict))
    vehicle = str((draft.get("vehicle") or {}).get("kind") or "")
    stops = len(draft.get("stops") or [])
    words = (s.ENTRY_STRAIGHT, s.ENTRY_ONE_STOP, s.ENTRY_STOPS)[min(stops, 2)]
    detail = s.say(words, start=name("origin"), end=name("destination"), boxes=boxes, stops=stops)
    return Entry(file, str(draft.get("title") or file.stem), detail, vehicle)
