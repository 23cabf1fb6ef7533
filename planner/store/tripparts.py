"""The tables of a trip file as records: one function for each, raising InputError with all its faults.

Every function takes tables that keep the published schema; here stands what no schema can say.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path
from typing import Any

from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import (
    HANDLING,
    Arrival,
    BoxType,
    Closing,
    DepartureWindow,
    Group,
    Misting,
    RoadKind,
    Site,
    Stop,
    Weather,
)
from planner.store.clocks import day_of, day_seconds, instant_s, require_zone
from planner.store.documents import Document
from planner.store.roadfile import file_beside
from planner.store.schema import did_you_mean, shown
from planner.store.weatherfile import parse_weather, read_weather
from planner.words import say
from planner.zones import zone_at

MAX_DEPARTURES = 2017
"""Fourteen days at ten minutes."""
MAX_WINDOW_DAYS = 31.0
MAX_CROWDING = 2.0
"""Frames of bees per frame of the box above which the count is taken for a slip."""

DEFAULT_CLOSING = {"rule": "after_sunset"}


class FaultList(list[Fault]):
    """Faults gathered from several readings, so that all are reported at once."""

    @contextmanager
    def caught(self, prefix: str = "") -> Iterator[None]:
        """Add the faults of an InputError raised inside; the rest of the reading goes on."""
        try:
            yield
        except InputError as error:
            named = prefix or error.where
            for fault in error.faults:
                field = f"{named}: {fault.field}".rstrip(": ") if named else fault.field
                self.append(Fault(field, fault.value, fault.problem, fault.remedy))

    def raise_any(self) -> None:
        if self:
            raise InputError(self)


@dataclass(frozen=True, slots=True)
class OwnDay:
    """The weather a user expects at a place on a local day; dew point or humidity, the other is NaN."""

    site: Site
    day: date
    dawn_low_c: float
    afternoon_high_c: float
    dew_point_c: float
    humidity_share: float
    sky: str
    wind_ms: float


@dataclass(frozen=True)
class WeatherRequest:
    """Where the weather is to come from; ``weather`` is there already when it stood in a file.

    ``source`` is file | embedded | own | the name of a forecast service; ``days`` for own weather, ``assumed`` where
    the program put them in and nobody has said them.
    """

    source: str
    weather: Weather | None = None
    days: tuple[OwnDay, ...] = ()
    assumed: bool = False


@dataclass(frozen=True)
class Calls:
    """Origin, stops, destination."""

    origin: Site
    stops: tuple[Stop, ...]
    destination: Site

    @property
    def sites(self) -> tuple[Site, ...]:
        return (self.origin, *(stop.site for stop in self.stops), self.destination)


# -- places --------------------------------------------------------------------------------------


def waypoints_of(draft: Document) -> Calls:
    """Origin, stops and destination with their time zones."""
    faults = FaultList()
    fields = [f"stops[{at}]" for at in range(len(draft.get("stops", [])))]
    tables = [draft["origin"], *draft.get("stops", []), draft["destination"]]
    sites = []
    for field, table in zip(["origin", *fields, "destination"], tables, strict=True):
        with faults.caught():
            sites.append(_site(table, field))
    faults.raise_any()
    stops = [_stop(table, site) for table, site in zip(tables[1:-1], sites[1:-1], strict=True)]
    return Calls(sites[0], tuple(stops), sites[-1])


def _site(table: Document, field: str) -> Site:
    lat, lon = float(table["lat"]), float(table["lon"])
    zone = require_zone(table["zone"], f"{field}.zone") if "zone" in table else zone_at(lat, lon)
    elevation = table.get("elevation_m")
    return Site(table["name"], lat, lon, zone, None if elevation is None else float(elevation))


def _stop(table: Document, site: Site) -> Stop:
    marks = {key: table.get(key, False) for key in ("shade", "engine_on", "doors_open")}
    return Stop(site, table["purpose"], table["dwell_minutes"] * 60.0, **marks)


# -- load ----------------------------------------------------------------------------------------


def groups_of(tables: Sequence[Document], waypoints: Calls, catalogue: Catalogue) -> tuple[Group, ...]:
    """The groups of boxes; every group's faults are gathered."""
    faults = FaultList()
    groups = []
    for at, table in enumerate(tables):
        with faults.caught():
            groups.append(group_of(table, f"load[{at}]", waypoints, catalogue))
    faults += _label_faults(tables)
    faults.raise_any()
    return tuple(groups)


def group_of(table: Document, field: str, waypoints: Calls, catalogue: Catalogue) -> Group:
    """One group of boxes."""
    faults = FaultList(_name_faults(table, field, catalogue))
    box = catalogue.box_types.get(table["box_type"])
    if box is not None:
        faults += _content_faults(table, field, box)
    load_waypoint, unload_waypoint = 0, len(waypoints.sites) - 1
    with faults.caught():
        load_waypoint, unload_waypoint = _load_waypoints(table, field, waypoints)
    closing = None
    with faults.caught():
        zone = waypoints.sites[load_waypoint].zone
        if "closing" in table:
            closing = closing_of(table["closing"], f"{field}.closing", zone, fixed=True)
    faults.raise_any()
    return Group(
        label=table["label"],
        count=int(table["count"]),
        box_type=table["box_type"],
        frames_of_bees=float(table.get("frames_of_bees", 0.0)),
        bees_kg=float(table.get("bees_kg", math.nan)),
        misting=_misting(table.get("misting")),
        load_waypoint=load_waypoint,
        unload_waypoint=unload_waypoint,
        closing=closing,
        loading_place=table.get("place"),
        **{key: _figure(table[key]) for key in _SAME_IN_BOTH if key in table},
    )


_SAME_IN_BOTH = (
    "open_brood_frames",
    "sealed_brood_frames",
    "stores_frames",
    "thin_syrup_share",
    "syrup_can_kg",
    "wet_bees_ml",
    "floor",
    "floor_blocked_share",
    "stand",
    "roof",
    "roof_blocked_share",
    "entrance",
    "side_vents_open",
    "wet_foam_ml",
    "comb",
)


def _figure(value: Any) -> Any:
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _misting(table: Document | None) -> Misting | None:
    if table is None:
        return None
    return Misting(float(table["ml"]), table["first_minutes"] * 60.0, table["every_minutes"] * 60.0)


def _label_faults(tables: Sequence[Document]) -> Iterator[Fault]:
    first: dict[str, int] = {}
    for at, table in enumerate(tables):
        if (before := first.setdefault(table["label"], at)) != at:
            problem = say("files.label_taken", before=str(before))
            yield Fault(f"load[{at}].label", table["label"], problem, "Give each group a label of its own")


def _name_faults(table: Document, field: str, catalogue: Catalogue) -> Iterator[Fault]:
    box_type, place = table["box_type"], table.get("place")
    if box_type not in catalogue.box_types:
        yield _unknown(f"{field}.box_type", box_type, "no such box type", catalogue.box_types)
    if place is not None and place not in catalogue.loading_places:
        yield _unknown(f"{field}.place", place, "no such loading place", catalogue.loading_places)


def _content_faults(table: Document, field: str, box: BoxType) -> Iterator[Fault]:
    """Bees given in one way, and nothing hung in the box that it has no room for."""
    by_frames, by_weight = "frames_of_bees" in table, "bees_kg" in table
    if by_frames == by_weight:
        problem = "frames_of_bees and bees_kg are both given" if by_frames else "no bees are given"
        yield Fault(f"{field}.frames_of_bees", "", problem, "Give frames_of_bees or bees_kg")
    if by_frames and not by_weight and not box.frames and table["frames_of_bees"]:
        problem = say("files.has_no_frames", title=str(box.title))
        yield Fault(
            f"{field}.frames_of_bees", shown(table["frames_of_bees"]), problem, "Give bees_kg instead"
        )
    elif by_frames and table["frames_of_bees"] > MAX_CROWDING * box.frames:
        problem = say("files.takes_so_many_frames", title=str(box.title), frames=f"{box.frames:g}")
        yield Fault(
            f"{field}.frames_of_bees", shown(table["frames_of_bees"]), problem, "Count the frames again"
        )
    hung = sum(table.get(f"{kind}_frames", 0) for kind in ("open_brood", "sealed_brood", "stores"))
    if hung > box.frames + 1e-9:
        problem = say("files.brood_stores_fill", hung=f"{hung:g}", frames=f"{box.frames:g}")
        yield Fault(f"{field}.stores_frames", shown(table.get("stores_frames", 0)), problem, "Count again")
    if table.get("roof", "solid") != "solid" and box.roof_screen_m2 == 0:
        problem = say("files.no_roof_screen", title=str(box.title))
        yield Fault(f"{field}.roof", table["roof"], problem, 'Write roof = "solid", or take another box type')


def _load_waypoints(table: Document, field: str, waypoints: Calls) -> tuple[int, int]:
    """Where a group is loaded and unloaded, as numbers of calls, in driving order."""
    faults = FaultList()
    last = len(waypoints.sites) - 1
    load, unload = 0, last
    with faults.caught():
        load = waypoint_number(table.get("loaded_at", 0), waypoints, f"{field}.loaded_at")
    with faults.caught():
        unload = waypoint_number(table.get("unloaded_at", last), waypoints, f"{field}.unloaded_at", late=True)
    if not faults and load >= unload:
        problem = say("files.unloaded_call_loaded", unload=str(unload), load=str(load))
        remedy = "Unload at a later place than the one where it is loaded"
        faults.append(Fault(f"{field}.unloaded_at", shown(table.get("unloaded_at", last)), problem, remedy))
    for key, number in (("loaded_at", load), ("unloaded_at", unload)):
        if 0 < number < last and waypoints.stops[number - 1].purpose not in HANDLING:
            stop = waypoints.stops[number - 1]
            problem = say("files.wrong_stop", name=str(stop.site.name), purpose=str(stop.purpose))
            remedy = say("files.set_purpose", number=str(number - 1))
            faults.append(Fault(f"{field}.{key}", shown(table.get(key, number)), problem, remedy))
    faults.raise_any()
    return load, unload


def waypoint_number(said: str | int, waypoints: Calls, field: str, *, late: bool = False) -> int:
    """The call a name or number means; ``late`` takes the last of two calls at one place.

    Raises InputError for unknown names and for names that several stops share.
    """
    names = [site.name for site in waypoints.sites]
    if isinstance(said, str):
        return _waypoint_named(said, names, field, late=late)
    if said >= len(names):
        problem = say("files.trip_has_calls", value=str(len(names) - 1))
        raise InputError([Fault(field, shown(said), problem, "Name one of them")])
    return int(said)


def _waypoint_named(name: str, names: list[str], field: str, *, late: bool) -> int:
    numbers = [number for number, known in enumerate(names) if known == name]
    if not numbers:
        raise InputError([_unknown(field, name, "no such place in this trip", names)])
    if any(0 < number < len(names) - 1 for number in numbers[1:]) or len(numbers) > 2:
        listed = ", ".join(str(number) for number in numbers)
        raise InputError(
            [Fault(field, name, "several calls have this name", say("files.give_number", listed=str(listed)))]
        )
    return numbers[-1] if late else numbers[0]


# -- vehicle, closing, times ---------------------------------------------------------------------


def places_of(vehicle: Document, catalogue: Catalogue) -> tuple[str, ...]:
    """The loading places to compare: those listed, or all of the vehicle's with a body of its colour."""
    faults = FaultList()
    kind = vehicle.get("kind")
    if kind is not None and kind not in catalogue.driven:
        known = kind in catalogue.vehicles
        problem = "it does not drive, or has no loading place" if known else "no such vehicle"
        faults.append(_unknown("vehicle.kind", kind, problem, catalogue.driven))
    for at, name in enumerate(vehicle.get("places", [])):
        if name not in catalogue.loading_places:
            faults.append(
                _unknown(f"vehicle.places[{at}]", name, "no such loading place", catalogue.loading_places)
            )
    if kind is None and "places" not in vehicle:
        faults.append(Fault("vehicle", "", "no loading place is allowed", "Give kind or places"))
    faults.raise_any()
    return tuple(vehicle.get("places") or catalogue.alternatives_of(kind or "", vehicle.get("colour", "")))


def road_vehicle_of(vehicle: Document, catalogue: Catalogue) -> RoadKind:
    """How road services see the vehicle named, or that of the first loading place in one that drives."""
    listed = [catalogue.loading_places[name].vehicle for name in vehicle.get("places", [])]
    for kind in [vehicle["kind"]] if "kind" in vehicle else listed:
        if catalogue.vehicles[kind].drives:
            return catalogue.vehicles[kind].road_vehicle
    raise InputError(
        [Fault("vehicle.kind", "", "none of the loading places listed is in a vehicle", "Give kind")]
    )


APPOINTED = ("clock", "actual")
"""Rules that name a time: an appointment or a fact, and fixed unless the file says otherwise."""


def closing_of(table: Document, field: str = "closing", zone: str = "UTC", *, fixed: bool = False) -> Closing:
    """When the boxes are shut; ``zone`` is that of the place where they are, for the rule ``actual``.

    ``fixed`` where the table does not say whether other closings may be tried; a time named is always an appointment.
    """
    rule = table["rule"]
    for key, example in (("clock", '"21:30"'), ("at", '"2027-05-12T21:14"')):
        needed_by = {"clock": "clock", "at": "actual"}[key]
        if rule == needed_by and key not in table:
            problem = "the time of day is missing" if key == "clock" else "the time is missing"
            raise InputError([Fault(f"{field}.{key}", "", problem, f"Add {key} = {example}")])
    given = (
        ("clock", ("clock",)),
        ("at", ("actual",)),
        ("delay_minutes", ("after_sunset", "before_sunrise")),
    )
    for key, rules in given:
        if table.get(key) and rule not in rules:
            problem = say("files.rule_takes_no", rule=str(rule), key_name=str(key))
            raise InputError([Fault(f"{field}.{key}", shown(table[key]), problem, "Take it out")])
    clock_s = day_seconds(table["clock"]) if "clock" in table else 0.0
    keeps = bool(table.get("fixed", fixed or rule in APPOINTED))
    closing = Closing(rule, table.get("delay_minutes", 0) * 60.0, clock_s, fixed=keeps)
    if "at" not in table:
        return closing
    return replace(closing, at_s=instant_s(table["at"], zone, f"{field}.at"))


def window_of(table: Document, zone: str) -> DepartureWindow:
    """Departures to search, local times at the origin."""
    faults = FaultList()
    first = last = math.nan
    with faults.caught():
        first = instant_s(table["from"], zone, "window.from")
    with faults.caught():
        last = instant_s(table["to"], zone, "window.to")
    faults.raise_any()
    step = table.get("step_minutes", 30) * 60.0
    faults += _window_faults(table, first, last, step)
    faults.raise_any()
    return DepartureWindow(first, last, step)


def _window_faults(table: Document, first: float, last: float, step: float) -> Iterator[Fault]:
    if last < first:
        yield Fault("window.to", table["to"], "the window ends before it begins", "Swap from and to")
    elif last - first > MAX_WINDOW_DAYS * 86400.0:
        problem = say("files.window_longer_than", max_window_days=f"{MAX_WINDOW_DAYS:g}")
        yield Fault("window.to", table["to"], problem, "Search fewer days")
    elif (last - first) / step >= MAX_DEPARTURES:
        problem = say("files.too_many_departures", max_departures=str(MAX_DEPARTURES))
        yield Fault(
            "window.step_minutes", shown(step / 60.0), problem, "Take a longer step or a shorter window"
        )


def arrival_of(table: Document, zone: str, earliest_s: float) -> Arrival:
    """Wishes for the arrival, local times at the destination."""
    latest = instant_s(table["latest"], zone, "arrival.latest") if "latest" in table else math.nan
    if latest < earliest_s:
        problem, remedy = "this is before the first departure", "Give a later time"
        raise InputError([Fault("arrival.latest", table["latest"], problem, remedy)])
    return Arrival(
        before_light=table.get("before_light", False),
        latest_s=latest,
        gate_open_s=_clock_s(table.get("gate_open")),
        gate_shut_s=_clock_s(table.get("gate_shut")),
    )


def _clock_s(said: str | None) -> float:
    """Seconds of the day, NaN where none is said."""
    return math.nan if said is None else day_seconds(said)


# -- weather -------------------------------------------------------------------------------------


def weather_of(table: Document, waypoints: Calls, base_folder: Path | None) -> WeatherRequest:
    """What weather is asked for; files and tables are read here. ``base_folder`` None leaves files unread."""
    source = table["source"]
    for key, needed_by in (("file", "file"), ("table", "embedded"), ("own", "own")):
        if source == needed_by and key not in table:
            problem = say("files.source_needs_it", source=str(source))
            raise InputError(
                [Fault(f"weather.{key}", "", problem, say("files.add_choose_another", key_name=str(key)))]
            )
    if source == "file" and base_folder is not None:
        path = file_beside(table["file"], base_folder, "weather.file")
        return WeatherRequest(source, read_weather(path))
    if source == "embedded":
        return WeatherRequest(source, parse_weather(table["table"], "weather.table"))
    days = _own_days(table["own"], waypoints) if source == "own" else ()
    return WeatherRequest(source, days=days, assumed=source == "own" and table.get("assumed", False))


def _own_days(tables: Sequence[Document], waypoints: Calls) -> tuple[OwnDay, ...]:
    faults = FaultList()
    days = []
    for at, table in enumerate(tables):
        with faults.caught():
            days.append(_own_day(table, f"weather.own[{at}]", waypoints))
    faults.raise_any()
    return tuple(days)


def _own_day(table: Document, field: str, waypoints: Calls) -> OwnDay:
    faults = FaultList(_own_faults(table, field))
    number, day = 0, date.min
    with faults.caught():
        number = _own_waypoint(table["place"], waypoints, f"{field}.place")
    with faults.caught():
        day = day_of(table["date"], f"{field}.date")
    faults.raise_any()
    return OwnDay(
        site=waypoints.sites[number],
        day=day,
        dawn_low_c=float(table["dawn_low_c"]),
        afternoon_high_c=float(table["afternoon_high_c"]),
        dew_point_c=float(table.get("dew_point_c", math.nan)),
        humidity_share=table.get("humidity_percent", math.nan) / 100.0,
        sky=table.get("sky", "clear"),
        wind_ms=float(table.get("wind_ms", 2.0)),
    )


def _own_waypoint(said: str | int, waypoints: Calls, field: str) -> int:
    """The first call of a name: weather is the same at every call at one place."""
    names = [site.name for site in waypoints.sites]
    return names.index(said) if said in names else waypoint_number(said, waypoints, field)


def _own_faults(table: Document, field: str) -> Iterator[Fault]:
    if ("dew_point_c" in table) == ("humidity_percent" in table):
        problem = "give dew_point_c or humidity_percent, one of them"
        yield Fault(
            f"{field}.dew_point_c", shown(table.get("dew_point_c", "")), problem, "Keep the one you know"
        )
    if table["afternoon_high_c"] < table["dawn_low_c"]:
        problem = "the afternoon is colder than dawn"
        yield Fault(f"{field}.afternoon_high_c", shown(table["afternoon_high_c"]), problem, "Swap the two")
    if table.get("dew_point_c", -99) > table["afternoon_high_c"]:
        problem = "the dew point is above the highest temperature"
        yield Fault(f"{field}.dew_point_c", shown(table["dew_point_c"]), problem, "Check both")


def _unknown(field: str, word: str, problem: str, known: Any) -> Fault:
    return Fault(field, word, problem, did_you_mean(word, known))
