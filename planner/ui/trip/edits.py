"""Changes of a draft that touch more than the spot they are made at, as plain values; no widget knows more of them."""

from __future__ import annotations

import copy
import re
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum
from typing import Any

from planner.ui.look import strings as s


class Missing(Enum):
    """Stands for a value the draft does not hold; an enumeration, so that copies of it are itself."""

    MISSING = "missing"


MISSING = Missing.MISSING
Draft = Mapping[str, Any]
PLACES = ("origin", "stops", "destination")
WHERE = ("name", "lat", "lon", "zone", "elevation_m")
"""What says where a place is; whatever else stands beside it (a stop's purpose, its minutes) is kept."""
RULE_NEEDS = {"after_sunset": "delay_minutes", "before_sunrise": "delay_minutes", "clock": "clock"}
USUAL_DELAY, USUAL_CLOCK = 15, "21:00"


# -- places and what names them ---------------------------------------------------------------------


def waypoints(draft: Draft) -> list[dict[str, Any]]:
    """Origin, stops and destination, an empty one where nothing is said yet."""
    return [draft.get("origin") or {}, *(draft.get("stops") or []), draft.get("destination") or {}]


def waypoint_number(draft: Draft, said: str | int | None, *, late: bool = False) -> int | None:
    """The waypoint a name or number means; None where it means none. ``late`` takes the last of a name."""
    names = [place.get("name") for place in waypoints(draft)]
    if isinstance(said, int):
        return said if 0 <= said < len(names) else None
    at = [number for number, name in enumerate(names) if said and name == said]
    return (at[-1] if late else at[0]) if at else None


def with_places(
    draft: Draft, changes: Mapping[str, Any], came_from: Sequence[int | None] | None = None
) -> dict[str, Any]:
    """The parts of a draft that change with its places; groups and own weather go on meaning the same places.

    The title of a trip that nobody has named follows its ends.

    Parameters
    ----------
    changes : new ``origin``, ``stops`` or ``destination``
    came_from : the number of the old stop that each new one is, None for one that is new; by default the same order
    """
    after = {**draft, **{part: None if value is MISSING else value for part, value in changes.items()}}
    stops = after.get("stops") or []
    order = list(range(len(stops))) if came_from is None else list(came_from)
    moved = {0: 0, len(draft.get("stops") or []) + 1: len(stops) + 1}
    moved |= {old + 1: new + 1 for new, old in enumerate(order) if old is not None}
    wanted = dict(changes)
    if draft.get("load"):
        wanted["load"] = [_group_moved(draft, after, group, moved) for group in draft["load"]]
    weather = draft.get("weather") or {}
    if isinstance(weather.get("own"), list):
        rows = [_row_moved(draft, after, row, moved) for row in weather["own"]]
        wanted["weather"] = {**weather, "own": [row for row in rows if row is not None]}
    if draft.get("road") is not None and _points(draft) != _points(after):
        wanted["road"] = MISSING
    title = title_after(draft, after)
    return wanted if title is None else {**wanted, "title": title}


def title_after(before: Draft, after: Draft) -> str | None:
    """The title that follows the two ends of a trip which nobody has named; None where it stays as it is."""
    unnamed = ("", s.say(s.NEW_TITLE), s.say(s.UNTITLED), title_of_ends(before))
    called = title_of_ends(after)
    held = str(before.get("title") or "")
    return called if called and held in unnamed and held != called else None


def title_of_ends(draft: Draft) -> str:
    """From where to where, empty until both are said."""
    start, end = (str((draft.get(part) or {}).get("name") or "") for part in ("origin", "destination"))
    return s.say(s.TITLE_ENDS, start=start, end=end) if start and end else ""


def _points(draft: Draft) -> list[tuple[Any, Any]]:
    return [(place.get("lat"), place.get("lon")) for place in waypoints(draft)]


def _group_moved(before: Draft, after: Draft, group: Any, moved: Mapping[int, int]) -> Any:
    if not isinstance(group, dict):
        return group
    made = dict(group)
    for key in ("loaded_at", "unloaded_at"):
        if key in group:
            said = _meant(before, after, group[key], moved, late=key == "unloaded_at")
            made.pop(key)
            if said is not None:
                made[key] = said
    return made


def _row_moved(before: Draft, after: Draft, row: Any, moved: Mapping[int, int]) -> Any:
    if not isinstance(row, dict) or "place" not in row:
        return row
    said = _meant(before, after, row["place"], moved)
    return None if said is None else {**row, "place": said}


def _meant(
    before: Draft, after: Draft, said: Any, moved: Mapping[int, int], *, late: bool = False
) -> str | int | None:
    """The same place as it is called after the change: by name where it was, else by number; None where it is gone."""
    old = waypoint_number(before, said, late=late)
    if old is None:
        return said if isinstance(said, str | int) else None  # a fault of the file, told elsewhere
    new = moved.get(old)
    if new is None or isinstance(said, int):
        return new
    name = waypoints(after)[new].get("name")
    return name if name and waypoint_number(after, name, late=late) == new else new


# -- what is not said yet --------------------------------------------------------------------------


def is_blank(stop: Any) -> bool:
    """Whether a stop was only just added: nothing is known of where it is."""
    return isinstance(stop, dict) and not stop.get("name") and "lat" not in stop


def without_blanks(draft: dict[str, Any]) -> dict[str, Any]:
    """The draft without the stops of which nothing is said yet, so that the rest can be worked out meanwhile."""
    stops = draft.get("stops") or []
    kept = [number for number, stop in enumerate(stops) if not is_blank(stop)]
    if len(kept) == len(stops):
        return draft
    changed = with_places(draft, {"stops": [stops[number] for number in kept]}, kept)
    made = {**draft, **changed}
    for key in [key for key, value in made.items() if value is MISSING]:
        del made[key]
    if "road" in draft:
        made["road"] = draft["road"]
    return made


# -- groups -------------------------------------------------------------------------------------------


def free_label(wanted: str, taken: Iterable[str]) -> str:
    """``wanted`` itself, or with the next free number behind it: ``nucs``, ``nucs 2``, ``nucs 3``."""
    used = set(taken)
    if wanted not in used:
        return wanted
    stem = re.sub(r"\s+\d+$", "", wanted)
    return next(name for number in range(2, len(used) + 3) if (name := f"{stem} {number}") not in used)


FILLING = {
    "frames_of_bees": 0.9,
    "open_brood_frames": 0.2,
    "sealed_brood_frames": 0.3,
    "stores_frames": 0.2,
}
"""What is proposed to hang in a box, of each of its frames."""
NUCS, HIVES, NUC_FRAMES = "nucs", "hives", 6


def filling(frames: float) -> dict[str, float]:
    """What is proposed for a box of so many frames, to half a frame."""
    return {key: round(2.0 * share * frames) / 2.0 for key, share in FILLING.items()}


def called(frames: float) -> str:
    """What boxes of so many frames are called while nobody has named them."""
    return NUCS if frames <= NUC_FRAMES else HIVES


def in_box(
    group: Mapping[str, Any], name: str, frames: tuple[float, float], taken: Iterable[str]
) -> dict[str, Any]:
    """A group in another box: what was proposed for the one before is proposed anew, what was said stays.

    ``frames`` are those of the box before and of the new one, ``taken`` the labels of the other groups.
    """
    before, after = frames
    made = {**group, "box_type": name}
    if not (before and after) or any(group.get(key) != held for key, held in filling(before).items()):
        return made
    made |= filling(after)
    stem = re.sub(r"\s+\d+$", "", str(group.get("label") or ""))
    if stem == called(before) != called(after):
        made["label"] = free_label(called(after), taken)
    return made


# -- closing --------------------------------------------------------------------------------------------


def closing_by(rule: str, before: Mapping[str, Any] | None, kept: Mapping[str, Any]) -> dict[str, Any]:
    """The table of a closing rule with what that rule takes and nothing else.

    ``kept`` holds what was last said for the rules left meanwhile, so that coming back finds it again.
    """
    known = {**kept, **(before or {})}
    need = RULE_NEEDS.get(rule)
    if need == "clock":
        return {"rule": rule, "clock": known.get("clock") or USUAL_CLOCK}
    if need == "delay_minutes":
        return {"rule": rule, "delay_minutes": known.get("delay_minutes", USUAL_DELAY)}
    return {"rule": rule}


def copied(value: Any) -> Any:
    """A copy that may be changed."""
    return copy.deepcopy(value)
