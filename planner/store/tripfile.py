"""The trip file: a TOML document in the words of the trade, checked in full and turned into a trip.

A draft is the same document as plain nested dicts and lists, at any stage of being filled in.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Arrival, Closing, DepartureWindow, Road, Tolerated, Trip
from planner.model.ways import MOST_S
from planner.reading import reading_file
from planner.store import tripparts
from planner.store.boxparts import Load, load_of
from planner.store.documents import Document, read_toml, write_text
from planner.store.people import Person, people_of
from planner.store.roadfile import road_of
from planner.store.schema import deprecated, schema_faults, shown
from planner.store.tomltext import toml_text
from planner.store.tripparts import Calls, FaultList, OwnDay, WeatherRequest
from planner.words import say

__all__ = [
    "VERSION",
    "OwnDay",
    "TripFile",
    "WeatherRequest",
    "faults",
    "load_trip",
    "read_draft",
    "resolve",
    "trip_id",
    "upgrade",
    "write_draft",
]

VERSION = 1

_SCHEMA = "trip.schema.json"

_UPGRADES: dict[int, Callable[[Document], Document]] = {}
"""From each older version to the next; version 1 is the first, so there is none yet."""


@dataclass(frozen=True)
class TripFile:
    """A trip file read in full: ``road`` None where it has to be searched; ``remarks`` in plain words.

    ``people`` who collect boxes.
    """

    trip: Trip
    road: Road | None
    weather: WeatherRequest
    remarks: tuple[str, ...] = ()
    people: tuple[Person, ...] = ()


def load_trip(path: Path, catalogue: Catalogue) -> TripFile:
    """A trip file with the road and weather files beside it, fully offline.

    Raises InputError with every fault found, StorageError when a file cannot be read.
    """
    return resolve(read_draft(path), catalogue, path.parent)


def read_draft(path: Path) -> Document:
    """The draft in a trip file, brought up to the present version. Raises InputError or StorageError."""
    return upgrade(read_toml(path, "a trip file"))


def write_draft(draft: Document, path: Path) -> None:
    """Replace a trip file in one step, keeping the comments of the old one where they still belong.

    Raises StorageError; the old file is then untouched.
    """
    write_text(path, toml_text(draft, path))


def upgrade(draft: Document) -> Document:
    """A draft of any older version in the present one. Raises InputError for versions still to come."""
    version = draft.get("version")
    if not isinstance(version, int) or isinstance(version, bool):
        return draft  # the schema says what is wrong with it
    if version > VERSION:
        problem = say("files.file_written_version", version=shown(version), version_2=str(VERSION))
        raise InputError([Fault("version", shown(version), problem, "Install a newer Skepway")])
    while version in _UPGRADES:
        draft = _UPGRADES[version](draft)
        version = draft["version"]
    return draft


def trip_id(draft: Document) -> str:
    """What the logbook knows a trip by; "" where its file has no id yet."""
    found = draft.get("id", "")
    return found if isinstance(found, str) else ""


def faults(draft: Document, catalogue: Catalogue, base_folder: Path | None = None) -> tuple[Fault, ...]:
    """Everything wrong with a draft, in the order of the file; without ``base_folder`` no other file is read."""
    with reading_file("trip", "a trip file"):
        found, _ = _read(draft, catalogue, base_folder)
    return tuple(found)


def resolve(
    draft: Document, catalogue: Catalogue, base_folder: Path | None = None, *, now_s: float | None = None
) -> TripFile:
    """The trip, road and weather a draft states.

    ``now_s`` (POSIX, default the clock) decides whether the window lies in the past.
    Raises InputError with every fault.
    """
    with reading_file("trip", "a trip file"):
        found, parts = _read(draft, catalogue, base_folder)
    if found:
        raise InputError(found)
    trip = _trip(draft, parts)
    now = time.time() if now_s is None else now_s
    remarks = (*_remarks(trip, parts, now), *_unread(draft))
    return TripFile(trip, parts["road"], parts["weather"], remarks, parts["people"])


def _read(draft: Document, catalogue: Catalogue, base_folder: Path | None) -> tuple[FaultList, Document]:
    """Every part of a draft that can be read, and every fault of the rest.

    A part is read only when it and the parts it leans on keep the schema; none where that is not known of all.
    """
    found = FaultList(schema_faults(draft, _SCHEMA))
    broken = {fault.field.split(".")[0].split("[")[0] for fault in found}
    parts: Document = {}
    if "" in broken:
        return found, parts

    def part(name: str, sections: str, read: Callable[[], Any], *needs: str) -> None:
        if broken.isdisjoint(sections.split()) and all(need in parts for need in needs):
            with found.caught():
                parts[name] = read()

    def waypoints() -> Calls:
        known: Calls = parts["calls"]
        return known

    part("calls", "origin stops destination", lambda: tripparts.waypoints_of(draft))
    part("road", "road", lambda: road_of(draft.get("road", {}), waypoints().sites, base_folder), "calls")
    part("load", "load", lambda: load_of(draft["load"], waypoints(), catalogue), "calls")
    part("places", "vehicle", lambda: tripparts.places_of(draft["vehicle"], catalogue))
    part("people", "people", lambda: people_of(draft.get("people", [])))
    part("road_vehicle", "vehicle", lambda: tripparts.road_vehicle_of(draft["vehicle"], catalogue), "places")
    part("closing", "closing", lambda: _closing(draft, waypoints()), "calls")
    part("window", "window", lambda: tripparts.window_of(draft["window"], waypoints().origin.zone), "calls")
    part("shut", "", lambda: _shut_in_time(parts), "load", "closing", "window")
    part("arrival", "arrival", lambda: _arrival(draft, waypoints(), parts["window"]), "calls", "window")
    part(
        "weather",
        "weather",
        lambda: tripparts.weather_of(draft["weather"], waypoints(), base_folder),
        "calls",
    )
    return found, parts


def _closing(draft: Document, waypoints: Calls) -> Closing:
    return tripparts.closing_of(
        draft.get("closing", tripparts.DEFAULT_CLOSING), "closing", waypoints.origin.zone
    )


def _shut_in_time(parts: Document) -> None:
    """InputError where boxes are said to have been shut after the last departure, or longer ago than any is judged."""
    load, window = parts["load"], parts["window"]
    here = [group for group in load.groups if group.load_waypoint == 0]
    said = [("closing", parts["closing"], any(group.closing is None for group in here))]
    said += [(f"load[{i}].closing", group.closing, group in here) for i, group in enumerate(load.groups)]
    faults = FaultList()
    for field, closing, at_origin in said:
        if closing is None or closing.rule != "actual":
            continue
        if at_origin and closing.at_s > window.last_s:
            problem = "this is after the last departure"
            faults.append(Fault(f"{field}.at", "", problem, "Enter when they were shut, or use at_loading"))
        elif closing.at_s < window.first_s - MOST_S:
            problem = "this is more than 30 days before the first departure"
            faults.append(Fault(f"{field}.at", "", problem, "Enter the date of this trip's closing"))
    faults.raise_any()


def _arrival(draft: Document, waypoints: Calls, window: DepartureWindow) -> Arrival:
    return tripparts.arrival_of(draft.get("arrival", {}), waypoints.destination.zone, window.first_s)


def _trip(draft: Document, parts: Document) -> Trip:
    waypoints: Calls = parts["calls"]
    load: Load = parts["load"]
    closing: Closing = parts["closing"]
    vehicle, handling = draft["vehicle"], draft.get("handling", {})
    return Trip(
        title=draft["title"],
        origin=waypoints.origin,
        destination=waypoints.destination,
        groups=load.groups,
        window=parts["window"],
        loading_places=parts["places"],
        stops=waypoints.stops,
        road_vehicle=parts["road_vehicle"],
        closing=closing,
        arrival=parts["arrival"],
        waiting_shade=handling.get("waiting_shade", True),
        loading_s=handling.get("loading_minutes", 30) * 60.0,
        open_after_s=handling.get("opening_minutes", 30) * 60.0,
        drive_time_factor=float(vehicle.get("drive_time_factor", 1.0)),
        drivers=vehicle.get("drivers", 1),
        net=vehicle.get("net", False),
        invented=draft.get("invented", False),
        boxes=load.boxes,
        tolerance=Tolerated(**{name: float(value) for name, value in draft.get("tolerance", {}).items()}),
    )


def _remarks(trip: Trip, parts: Document, now_s: float) -> list[str]:
    """What the user should know although nothing is wrong."""
    remarks = []
    if trip.window.last_s < now_s and not trip.invented:
        remarks.append("The window lies in the past: this looks back, it does not plan ahead.")
    elif trip.window.first_s < now_s and not trip.invented:
        remarks.append("Part of the window lies in the past.")
    road: Road | None = parts["road"]
    if road is None:
        remarks.append("The file states no road: it has to be searched, or guessed along the great circle.")
    request: WeatherRequest = parts["weather"]
    if request.weather is not None:
        times = request.weather.time_s
        if trip.window.first_s < times[0] or trip.window.last_s > times[-1]:
            first, last = (
                f"{datetime.fromtimestamp(at, UTC):%Y-%m-%d %H:%M}" for at in (times[0], times[-1])
            )
            remarks.append(say("files.weather_reaches", first=first, last=last))
    if request.days:
        zone = ZoneInfo(trip.origin.zone)
        first_day, last_day = (
            datetime.fromtimestamp(at, zone).date() for at in (trip.window.first_s, trip.window.last_s)
        )
        days = sorted({each.day for each in request.days})
        if not any(first_day <= day <= last_day for day in days):
            remarks.append(say("files.own_weather_days", days=", ".join(map(str, days))))
    return remarks


def _unread(draft: Document) -> Iterator[str]:
    """Names of an older file that changed nothing in the answers."""
    said = {key for table in draft["load"] for key in table}
    for name in sorted(said & deprecated(_SCHEMA)):
        yield say("files.no_longer_read", name=str(name))
