"""A plan as it is pinned: everything it was made from and the candidate that was chosen, in plain values, and back."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any

import numpy as np

from planner import __version__
from planner.app.plan.results import Choice, Plan
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Closing, DepartureWindow, Misting, Road, Site, Stop, Trip, Weather
from planner.store.chunks import fingerprint
from planner.store.documents import Document
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import PinnedPlan
from planner.store.tripfile import resolve
from planner.words import say

FORMAT = 1


@dataclass(frozen=True)
class Kept:
    """What a pinned plan was made from: enough to work any of its boxes out again. ``setup`` by name."""

    trip: Trip
    road: Road
    weather: Weather
    departure_s: float
    loading_place: str
    setup: str


def kept_of(plan: Plan, choice: Choice) -> Kept:
    """What one candidate of a plan is made from."""
    return Kept(
        trip=plan.trip,
        road=plan.road,
        weather=plan.weather,
        departure_s=float(plan.departures_s[choice.departure]),
        loading_place=plan.loading_places[choice.loading_place],
        setup=plan.setups[choice.setup],
    )


def pinned_before(
    logbook: Logbook, trip_key: str, draft: Document, catalogue: Catalogue
) -> PinnedPlan | None:
    """The newest pinned plan of a trip, if it was made from this very draft and these numbers."""
    plans = logbook.plans(trip_key)
    if not plans:
        return None
    found = plans[-1].snapshot
    same = found.get("draft") == _unnamed(draft) and all(
        found.get(name) == mark for name, mark in _marks(catalogue).items()
    )
    return plans[-1] if same else None


def _unnamed(draft: Document) -> Document:
    """A draft without the people in it: what is pinned for good must not hold whom somebody may ask to erase."""
    return {key: value for key, value in draft.items() if key != "people"}


def _marks(catalogue: Catalogue) -> dict[str, str]:
    return {
        "catalogue": fingerprint(catalogue.box_types, catalogue.frame_kinds, catalogue.loading_places),
        "parameters": fingerprint(catalogue.parameters),
    }


def snapshot(
    plan: Plan, choice: Choice, draft: Document, catalogue: Catalogue, said: str = ""
) -> dict[str, Any]:
    """A plan and one of its candidates as plain values; ``said`` the answer in words."""
    return {
        "skepway_pinned": FORMAT,
        "program": __version__,
        "draft": _unnamed(draft),
        "road": _plain(plan.road),
        "weather": _plain(plan.weather),
        "departure_s": float(plan.departures_s[choice.departure]),
        "loading_place": plan.loading_places[choice.loading_place],
        "setup": plan.setups[choice.setup],
        "load": _load(plan.trip),
        "answer": said,
        **_marks(catalogue),
    }


def pin(
    logbook: Logbook,
    trip_key: str,
    plan: Plan,
    choice: Choice,
    draft: Document,
    catalogue: Catalogue,
    *,
    made_s: float,
    said: str = "",
) -> PinnedPlan:
    """Keep a plan for good, because a box was released by it or a paper issued from it."""
    kept = snapshot(plan, choice, draft, catalogue, said)
    inputs = fingerprint(kept["draft"], kept["road"], kept["weather"], kept["catalogue"], kept["parameters"])
    return logbook.pin(kept, made_s=made_s, trip=trip_key, title=plan.trip.title, inputs=inputs)


def unpinned(snapshot: Mapping[str, Any], catalogue: Catalogue) -> Kept:
    """What a snapshot was made from. Raises InputError where its trip no longer reads, or it is no snapshot."""
    try:
        return _kept(snapshot, catalogue)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as fault:  # another program's
        problem = say("logbook.plan_changed", code=type(fault).__name__)
        raise InputError([Fault("plan", "", problem, say("logbook.fetch_again"))]) from fault


def _kept(snapshot: Mapping[str, Any], catalogue: Catalogue) -> Kept:
    draft = dict(snapshot["draft"])
    # road and weather stand in the snapshot itself; the files the draft names may be gone
    draft.pop("road", None)
    draft["weather"] = {key: value for key, value in draft.get("weather", {}).items() if key != "file"} | {
        "source": "met_norway"
    }
    found = resolve(draft, catalogue, None, now_s=0.0)
    load = snapshot.get("load")  # plans pinned by earlier programs have none
    return Kept(
        trip=_loaded(found.trip, load) if load else found.trip,
        road=_record(Road, snapshot["road"]),
        weather=_record(Weather, snapshot["weather"]),
        departure_s=float(snapshot["departure_s"]),
        loading_place=str(snapshot["loading_place"]),
        setup=str(snapshot["setup"]),
    )


def _load(trip: Trip) -> dict[str, Any]:
    """What a trip that was planned has of its own beside the draft: how the answer set up, placed and shut each group,
    the breaks it put in, the departures and places it has left."""
    return {
        "groups": [
            {name: _bare(getattr(group, name)) for name in ("roof", "floor_blocked_share", "loading_place")}
            | {name: _bare(getattr(group, name)) for name in _RECORDS}
            for group in trip.groups
        ],
        "stops": [_bare(stop) for stop in trip.stops],
        "window": _bare(trip.window),
        "loading_places": list(trip.loading_places),
    }


_RECORDS: dict[str, type[Misting] | type[Closing]] = {"misting": Misting, "closing": Closing}


def _bare(value: Any) -> Any:
    """A record as plain values, what is not a number as None."""
    if isinstance(value, float):
        return _number(value)
    if is_dataclass(value):
        return {field.name: _bare(getattr(value, field.name)) for field in fields(value)}
    return value


def _loaded(trip: Trip, load: Mapping[str, Any]) -> Trip:
    """The trip with what was pinned of its load."""
    groups = []
    for group, kept in zip(trip.groups, load["groups"], strict=True):
        given = dict(kept)
        for name, kind in _RECORDS.items():
            given[name] = kind(**_known(given[name])) if given[name] else None
        groups.append(replace(group, **given))
    stops = [Stop(**{**stop, "site": Site(**stop["site"])}) for stop in load["stops"]]
    window = DepartureWindow(**load["window"])
    places = tuple(load["loading_places"])
    return replace(trip, groups=tuple(groups), stops=tuple(stops), window=window, loading_places=places)


def _known(values: Mapping[str, Any]) -> dict[str, Any]:
    """The values that are known: what is None was no number."""
    return {name: value for name, value in values.items() if value is not None}


def _plain(record: Road | Weather) -> dict[str, Any]:
    found = {}
    for field in fields(record):
        value = getattr(record, field.name)
        if isinstance(value, np.ndarray):
            value = [
                _number(one) if not isinstance(one, list) else [_number(x) for x in one]
                for one in value.tolist()
            ]
        elif isinstance(value, float):
            value = _number(value)
        elif isinstance(value, tuple):
            value = list(value)
        found[field.name] = value
    return found


def _number(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _record(kind: Any, values: Mapping[str, Any]) -> Any:
    given = {}
    for field in fields(kind):
        value = values[field.name]
        if field.type == "Floats":
            value = np.array(value, dtype=np.float64)
        elif isinstance(value, list):
            value = tuple(value)
        elif value is None and field.type == "float":
            value = math.nan
        given[field.name] = value
    return kind(**given)
