"""The draft of a collection day as the fields of its yard know one: every change is handed to the page."""

from __future__ import annotations

import copy
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import date
from typing import Any

from PySide6.QtCore import Signal

from planner.errors import Fault, InputError, SkepwayError
from planner.model.catalogue import Catalogue
from planner.store.daytable import value_of
from planner.ui.trip.document import MISSING, Document, FieldPath
from planner.ui.trip.edits import WHERE

YARD_AT = (("yard", "lat"), ("yard", "lon"))
OWN, ASSUMED = ("weather", "own"), ("weather", "assumed")


class DayDraft(Document):
    """What fields write leaves as ``wished``, a whole draft: the page undoes it as it undoes a pasted table."""

    wished = Signal(object)

    def edit(self, spot: FieldPath, value: Any, words: str = "") -> None:
        if self.get(spot, MISSING) != value:
            self.wished.emit(with_value(self.draft, spot, value))

    def edit_places(
        self, changes: Mapping[str, Any], words: str = "", came_from: Sequence[int | None] | None = None
    ) -> None:
        """The yard somewhere else, as a field for a place says it."""
        after = with_yard(self.draft, changes["yard"])
        if after != self.draft:
            self.wished.emit(after)


def with_yard(draft: dict[str, Any], place: Mapping[str, Any]) -> dict[str, Any]:
    """The draft with its yard at a place; what is not known of the place is not known of the yard."""
    for key in WHERE:
        draft = with_value(draft, ("yard", key), place.get(key, MISSING))
    return draft


def typed(text: str, rule: Mapping[str, Any]) -> Any:
    """What was typed as the schema's type: nothing takes the value out.

    What cannot be read is kept as it was typed, and the reader of day files says what is wrong with it.
    """
    text = text.strip()
    if not text:
        return MISSING
    try:
        return value_of(text, rule)
    except ValueError:
        return text


def with_value(draft: dict[str, Any], spot: FieldPath, value: Any) -> dict[str, Any]:
    """The draft with another value; what means the same place or the same day goes on meaning it.

    Own weather follows the name of the yard and its date; it is no longer assumed once somebody has set a figure of it.
    A time zone that was written for another place is left to be found from the coordinates.
    """
    after = Document()
    after.draft = copy.deepcopy(draft)
    section = str(spot[0])
    if len(spot) > 1 and not isinstance(draft.get(section), dict | list):
        after.put(spot[:1], {})
    before = after.get(spot)
    after.put(spot, value)
    whole = after.draft
    own = [row for row in after.get(("weather", "own")) or [] if isinstance(row, dict)]
    if spot == ("yard", "name") and value is not MISSING:
        for row in own:
            if row.get("place") == before:
                row["place"] = value
    if spot in YARD_AT:
        after.put(("yard", "zone"), MISSING)
    if spot[:2] == OWN:
        after.put(ASSUMED, MISSING)
    if spot == ("date",):
        _move(own, before, value)
    if len(spot) > 1 and not whole[section]:  # a table of which nothing is left was not meant
        del whole[section]
    return whole


def _move(own: Sequence[dict[str, Any]], before: Any, now: Any) -> None:
    """Own weather moves along by as many days as the day does."""
    with suppress(ValueError, TypeError, OverflowError):
        by = date.fromisoformat(now) - date.fromisoformat(before)
        dates = [str(date.fromisoformat(row["date"]) + by) for row in own]
        for row, moved in zip(own, dates, strict=True):
            row["date"] = moved


def faults_of(draft: dict[str, Any], catalogue: Catalogue) -> list[Fault]:
    """What the reader of day files says of a draft; files beside it are left unread."""
    from planner.store.dayfile import resolve_day

    try:
        resolve_day(draft, catalogue)
    except SkepwayError as error:
        return list(error.faults) if isinstance(error, InputError) else []
    return []
