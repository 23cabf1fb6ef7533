"""Turn advised changes into edits of the draft: what the trip file must say so that the trip is the changed one."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from planner.app.advice.changes import NOWHERE, Change, Elsewhere, closings_of, misted, setup_of
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
    "syrup_can_kg",
    "stand",
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
    plan: Plan,
    choice: Choice,
    changes: Sequence[Change],
    catalogue: Catalogue,
    asked: Trip | None = None,
    *,
    put_in: Sequence[str] = (),
    elsewhere: Elsewhere = NOWHERE,
) -> DraftEdits | None:
    """The edits that make a candidate the changed one; None for what a draft cannot say.

    That is another road, a change of a stop that the law put in, or parts of one table of the load that would differ.
    What the candidate has besides is written too: its set-up, and when its boxes are shut, so that the plan cannot
    choose otherwise than was tried. Where all that changes is which searched candidate is looked at, nothing is.

    Parameters
    ----------
    asked : the trip as the answer has it, where the plan is that of one candidate alone: departures and places it
        searches already need no edit
    put_in : names of its stops that the draft does not have
    elsewhere : as of ``helps``
    """
    setup = setup_of(plan, choice)
    trip = plan.trip
    for change in changes:
        if change.trip:
            trip, road = change.trip(trip, plan.road)
            if road is not plan.road:
                return None
    place = next(
        (change.place for change in changes if change.place), plan.loading_places[choice.loading_place]
    )
    departure_s = float(plan.departures_s[choice.departure]) + sum(change.shift_s for change in changes)
    groups = []
    for group in trip.groups:
        box = catalogue.box_types[group.box_type]
        group = setup.change(group, box)
        for change in changes:
            group = change.boxes(group, box) if change.boxes else group
        groups.append(group)
    before = (asked or plan.trip).groups
    try:
        edits = (
            *_group_edits(before, groups, named={box.group for box in plan.trip.boxes}),
            *_trip_edits(plan.trip, trip),
            *_stop_edits(plan.trip.stops, trip.stops, put_in),
            *_place_edits(plan, place, asked),
            *_window_edits(asked or plan.trip, departure_s),
        )
        if asked is None:
            closings = _closing_edits(plan.trip, trip.closing, [group.closing for group in groups])
        elif edits or not any(change.place or change.shift_s for change in changes):
            shut = closings_of(replace(trip, groups=tuple(groups)), changes, elsewhere, departure_s, place)
            closings = (*_pinned_places(asked, plan.trip), *_pinned(asked, shut))
        else:
            closings = ()
        return DraftEdits((*edits, *closings), departure_s, place)
    except _NotInADraft:
        return None


class _NotInADraft(Exception):
    pass


def _tables(groups: Sequence[Group]) -> dict[int, list[int]]:
    """Groups by the table of the load they come from: boxes with hours of their own and splits make several of one."""
    found: dict[int, list[int]] = {}
    for row, group in enumerate(groups):
        found.setdefault(row if group.table is None else group.table, []).append(row)
    return found


def _only(values: Iterable[Any]) -> Any:
    """What all of them are."""
    first, *rest = values
    if any(value != first for value in rest):
        raise _NotInADraft
    return first


def _group_edits(before: Sequence[Group], after: Sequence[Group], named: set[int]) -> Iterator[Edit]:
    for table, rows in _tables(before).items():
        old, new = [before[row] for row in rows], [after[row] for row in rows]
        for key in GROUP_KEYS:
            had, has = ([getattr(group, key) for group in each] for each in (old, new))
            if had == has:
                continue
            if key == "count":
                if not named.isdisjoint(rows):
                    raise _NotInADraft  # which of the boxes with names would go is not known
                yield Edit(("load", table, key), sum(has))
            else:
                yield Edit(("load", table, key), _only(has))
        if [group.misting for group in old] != [group.misting for group in new]:
            yield Edit(("load", table, "misting"), _misting(_only(group.misting for group in new)))


def _closing_edits(trip: Trip, whole: Closing, own: Sequence[Closing | None]) -> tuple[Edit, ...]:
    """What changes about the closings of a trip as its file has them."""
    edits = []
    for table, rows in _tables(trip.groups).items():
        new = [own[row] for row in rows]
        if new != [trip.groups[row].closing for row in rows]:
            edits.append(Edit(("load", table, "closing"), _closing(_only(new))))
    if trip.closing != whole:
        edits.append(Edit(("closing",), _closing(whole)))
    return tuple(edits)


def _pinned(asked: Trip, shut: Sequence[Closing]) -> tuple[Edit, ...]:
    """Every group shut as it was tried, and no otherwise; the trip's own rule where that says it for all."""
    own = [group.closing for group in asked.groups]
    if all(each == shut[0] for each in shut) and not any(own):
        return () if asked.closing == shut[0] else (Edit(("closing",), _closing(shut[0], asked.origin.zone)),)
    edits = []
    for table, rows in _tables(asked.groups).items():
        _only(own[row] for row in rows)  # boxes with closings of their own would keep them
        closing = _only(shut[row] for row in rows)
        if closing != (own[rows[0]] or asked.closing):
            zone = asked.waypoints[asked.groups[rows[0]].load_waypoint].zone
            edits.append(Edit(("load", table, "closing"), _closing(closing, zone)))
    return tuple(edits)


def _pinned_places(asked: Trip, settled: Trip) -> Iterator[Edit]:
    """Groups that ride apart although the trip leaves their place open; parts of one group find their places anew."""
    for table, rows in _tables(asked.groups).items():
        places = {settled.groups[row].loading_place for row in rows}
        if len(places) == 1 and None not in places and asked.groups[rows[0]].loading_place is None:
            yield Edit(("load", table, "place"), places.pop())


def _misting(misting: Misting | None) -> dict[str, float] | None:
    if misting is None:
        return None
    minutes = {"first_minutes": misting.first_s / 60.0, "every_minutes": misting.every_s / 60.0}
    return {"ml": misting.ml, **minutes}


def _closing(closing: Closing | None, zone: str = "UTC") -> dict[str, Any] | None:
    if closing is None:
        return None
    table: dict[str, Any] = {"rule": closing.rule}
    if closing.rule == "clock":
        table["clock"] = f"{closing.clock_s // 3600:02.0f}:{closing.clock_s % 3600 // 60:02.0f}"
    if closing.rule == "actual":
        table["at"] = datetime.fromtimestamp(closing.at_s, ZoneInfo(zone)).isoformat(timespec="seconds")
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


def _stop_edits(before: Sequence[Stop], after: Sequence[Stop], put_in: Sequence[str]) -> Iterator[Edit]:
    lacking = [stop.purpose == "break" and stop.site.name in put_in for stop in before]
    for old, new in ((old, new) for old, new, lacks in zip(before, after, lacking, strict=True) if lacks):
        if old != new:
            raise _NotInADraft
    kept = [(old, new) for old, new, lacks in zip(before, after, lacking, strict=True) if not lacks]
    for i, (old, new) in enumerate(kept):
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
    """The search is widened where the changed departure lies outside it, and made finer where it would pass it over."""
    stamp = datetime.fromtimestamp(departure_s, ZoneInfo(trip.origin.zone)).strftime("%Y-%m-%dT%H:%M")
    window = trip.window
    if departure_s < window.first_s:
        yield Edit(("window", "from"), stamp)
    if departure_s > window.last_s:
        yield Edit(("window", "to"), stamp)
    away_min, step_min = round(abs(departure_s - window.first_s) / 60.0), round(window.step_s / 60.0)
    if departure_s > window.first_s and away_min % step_min:
        yield Edit(("window", "step_minutes"), math.gcd(away_min, step_min))


def misting_change(misting: Misting) -> Change:
    """A water plan as a change."""
    boxes = misted(misting.ml, misting.first_s, misting.every_s)
    return Change("misting", "mist as planned", 2, "mist", boxes=boxes)
