"""Turn advised changes into edits of the draft: what the trip file must say so that the trip is the changed one."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from planner.app.advice.changes import Change, misted, setup_of
from planner.app.plan.results import Choice, Plan
from planner.model.catalogue import Catalogue
from planner.model.records import Closing, Group, Misting, Stop, Trip

FieldPath = tuple[str | int, ...]

GROUP_KEYS = (
    "count",
    "frames_of_bees",
    "stores_frames",
    "floor_blocked_share",
    "roof",
    "roof_blocked_share",
    "entrance",
    "side_vents_open",
    "wet_foam_ml",
)
"""Figures of a group that a change may alter and that have the same name in a trip file."""


@dataclass(frozen=True)
class Edit:
    """One value of the draft; ``value`` None takes it out."""

    spot: FieldPath
    value: Any


@dataclass(frozen=True)
class DraftEdits:
    """Edits of the draft, and the departure (POSIX s) and loading place of the changed candidate."""

    edits: tuple[Edit, ...]
    departure_s: float
    place: str


def draft_edits(
    plan: Plan, choice: Choice, changes: Sequence[Change], catalogue: Catalogue, asked: Trip | None = None
) -> DraftEdits | None:
    """The edits that make a candidate the changed one; None when a change leads along another road.

    What the candidate's set-up does to the boxes is written into the load too. ``asked`` is the trip as the draft has
    it, where the plan is that of one candidate alone: departures and places it searches already need no edit.
    """
    setup = setup_of(plan, choice)
    trip = plan.trip
    for change in changes:
        if change.trip:
            trip, road = change.trip(trip, plan.road)
            if road is not plan.road:
                return None
    groups = []
    for group in trip.groups:
        box = catalogue.box_types[group.box_type]
        group = setup.change(group, box)
        for change in changes:
            group = change.boxes(group, box) if change.boxes else group
        groups.append(group)
    place = next(
        (change.place for change in changes if change.place), plan.loading_places[choice.loading_place]
    )
    departure_s = float(plan.departures_s[choice.departure]) + sum(change.shift_s for change in changes)
    edits = (
        *_group_edits(plan.trip.groups, groups),
        *_trip_edits(plan.trip, trip),
        *_stop_edits(plan.trip.stops, trip.stops),
        *_place_edits(plan, place, asked),
        *_window_edits(asked or plan.trip, departure_s),
    )
    return DraftEdits(edits, departure_s, place)


def _group_edits(before: Sequence[Group], after: Sequence[Group]) -> Iterator[Edit]:
    for i, (old, new) in enumerate(zip(before, after, strict=True)):
        for key in GROUP_KEYS:
            if getattr(old, key) != getattr(new, key):
                yield Edit(("load", i, key), getattr(new, key))
        if old.misting != new.misting:
            yield Edit(("load", i, "misting"), _misting(new.misting))
        if old.closing != new.closing:
            yield Edit(("load", i, "closing"), _closing(new.closing))


def _misting(misting: Misting | None) -> dict[str, float] | None:
    if misting is None:
        return None
    minutes = {"first_minutes": misting.first_s / 60.0, "every_minutes": misting.every_s / 60.0}
    return {"ml": misting.ml, **minutes}


def _closing(closing: Closing | None) -> dict[str, Any] | None:
    if closing is None:
        return None
    table: dict[str, Any] = {"rule": closing.rule}
    if closing.delay_s:
        table["delay_minutes"] = closing.delay_s / 60.0
    if closing.fixed:
        table["fixed"] = True  # else the plan would choose another closing than the one that was tried
    return table


def _trip_edits(before: Trip, after: Trip) -> Iterator[Edit]:
    if before.net != after.net:
        yield Edit(("vehicle", "net"), after.net)
    if before.waiting_shade != after.waiting_shade:
        yield Edit(("handling", "waiting_shade"), after.waiting_shade)
    if before.closing != after.closing:
        yield Edit(("closing",), _closing(after.closing))


def _stop_edits(before: Sequence[Stop], after: Sequence[Stop]) -> Iterator[Edit]:
    for i, (old, new) in enumerate(zip(before, after, strict=True)):
        for key in ("shade", "doors_open"):
            if getattr(old, key) != getattr(new, key):
                yield Edit(("stops", i, key), getattr(new, key))
        if old.dwell_s != new.dwell_s:
            yield Edit(("stops", i, "dwell_minutes"), new.dwell_s / 60.0)


def _place_edits(plan: Plan, place: str, asked: Trip | None) -> Iterator[Edit]:
    searched = asked.loading_places if asked is not None else ()
    if place not in (*plan.loading_places, *searched):
        yield Edit(("vehicle", "places"), [*(searched or plan.trip.loading_places), place])


def _window_edits(trip: Trip, departure_s: float) -> Iterator[Edit]:
    """The search is widened where the changed departure lies outside it."""
    stamp = datetime.fromtimestamp(departure_s, ZoneInfo(trip.origin.zone)).strftime("%Y-%m-%dT%H:%M")
    if departure_s < trip.window.first_s:
        yield Edit(("window", "from"), stamp)
    if departure_s > trip.window.last_s:
        yield Edit(("window", "to"), stamp)


def misting_change(misting: Misting) -> Change:
    """A water plan as a change."""
    boxes = misted(misting.ml, misting.first_s, misting.every_s)
    return Change("misting", "mist as planned", 2, "mist", boxes=boxes)
