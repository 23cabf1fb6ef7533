"""Breaks and rests that the law on driving hours asks for: put in where a trip lacks them, judged with it, and said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import count, pairwise

import numpy as np

from planner.model.records import Floats, Group, Road, Site, Stop, Trip
from planner.store.rules import BreakRule, answer_rules
from planner.zones import zone_at

LOOKED_AT = 100
"""So many points of a road are looked at for the law that holds there."""

LAWFUL = ("truck",)
"""Vehicles that the law on driving hours binds: lorries. What smaller ones owe depends on mass and purpose."""
PUT_IN = "Break"
"""What a break that was put in is called, with the first number that no call of the trip has."""
TOGETHER_S = 900.0
"""A break that is due so shortly before a rest is none: the rest begins there (D)."""


@dataclass(frozen=True, slots=True)
class PutIn:
    """A break that was put in, or a driver's daily rest: where along the road, how long, and by which law."""

    name: str
    km: float
    break_s: float
    law: str
    is_rest: bool = False


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the law asks: a halt of ``halt_s`` once ``driving_s`` were driven, where more than ``most_s`` are."""

    driving_s: float
    most_s: float
    halt_s: float
    law: str
    is_rest: bool = False


@dataclass(frozen=True, slots=True)
class _Missing:
    """A halt the trip lacks: after how much driving it is due, on which leg."""

    due_s: float
    leg: int
    asked: _Asked


def with_breaks(trip: Trip, road: Road) -> tuple[Trip, Road, tuple[PutIn, ...]]:
    """The trip and its road with the breaks and rests it lacks, and which they are; the same where none is missing.

    A stop in the file counts as a break, or as a rest, when it is as long as the law asks. Missing ones are put in at
    the last vertex of the road before the driving time is up.
    """
    rule = rule_of(trip, road)
    if rule is None or any(group.stages for group in trip.groups):
        return trip, road, ()
    asked = _asked(trip, rule)
    put_in: list[PutIn] = []
    while found := [one for each in asked if (one := _first_missing(trip, road, each)) is not None]:
        first = min(found, key=lambda one: one.due_s)
        longest = next(one.asked for one in found if one.due_s <= first.due_s + TOGETHER_S)
        trip, road, halt = _put_in(trip, road, replace(first, asked=longest))
        put_in.append(halt)
    return trip, road, tuple(put_in)


def _asked(trip: Trip, rule: BreakRule) -> tuple[_Asked, ...]:
    """Rest and break as a law asks them of who drives, the longer one first: it stands for the other."""
    rest = _Asked(rule.daily_driving_s, rule.daily_longest_s, rule.daily_rest_s, rule.daily_law, is_rest=True)
    pause = _Asked(rule.driving_s, rule.driving_s, rule.break_s, rule.law)
    return (pause,) if trip.drivers > 1 else (rest, pause)


def rule_of(trip: Trip, road: Road) -> BreakRule | None:
    """The law that binds the driver, by vehicle and by where the road lies; of several the one that binds first."""
    if not _bound(trip, road):
        return None
    found = [rule for zone in zones_along(trip, road) if (rule := answer_rules().breaks_in(zone))]
    return min(found, key=lambda rule: rule.driving_s, default=None)


def without_rest(trip: Trip, road: Road) -> tuple[float, BreakRule] | None:
    """Seconds one driver drives with no stop as long as a daily rest, and the law; None where a usual day is enough."""
    rule = rule_of(trip, road)
    if rule is None or trip.drivers > 1:
        return None
    calls = zip(trip.stops, road.waypoint_vertex[1:-1], strict=True)
    rests = [vertex for stop, vertex in calls if stop.dwell_s >= rule.daily_rest_s]
    between_s = np.diff(road.drive_s[[0, *rests, -1]]) * trip.drive_time_factor
    driven_s = float(between_s.max())
    return (driven_s, rule) if driven_s > rule.daily_driving_s else None


def lawless(trip: Trip, road: Road) -> tuple[str, ...]:
    """The time zones along the road for which no law on breaks is known, where the driver may need one."""
    if not _bound(trip, road):
        return ()
    return tuple(zone for zone in zones_along(trip, road) if answer_rules().breaks_in(zone) is None)


def _bound(trip: Trip, road: Road) -> bool:
    """Whether any law that is known would ask a break of somebody who drives so long; else none is looked up."""
    soonest_s = min(rule.driving_s for rule in answer_rules().breaks)
    return trip.road_vehicle in LAWFUL and float(road.drive_s[-1]) * trip.drive_time_factor > soonest_s


def zones_along(trip: Trip, road: Road) -> tuple[str, ...]:
    """The time zones on land that the road passes, in their order, by where it lies and not by what a file calls it."""
    rows = np.unique(np.linspace(0, road.km.size - 1, LOOKED_AT).astype(np.int64))
    found = [zone_at(float(road.lat_deg[row]), float(road.lon_deg[row])) for row in rows]
    on_land = tuple(dict.fromkeys(zone for zone in found if not zone.startswith("Etc/")))
    return on_land or (trip.origin.zone,)


def is_put_in(stop: Stop, breaks: Iterable[PutIn]) -> bool:
    """Whether a stop is one of the breaks that were put in: it lies wherever it is due, and nobody named it."""
    return any(one.name == stop.site.name for one in breaks)


def _first_missing(trip: Trip, road: Road, asked: _Asked) -> _Missing | None:
    """The first halt of a kind that a trip lacks; None where it lacks none."""
    drive_s = road.drive_s * trip.drive_time_factor
    taken = [leg for leg, stop in enumerate(trip.stops, 1) if stop.dwell_s >= asked.halt_s]
    ends = [0, *taken, len(road.waypoint_vertex) - 1]
    at_s = drive_s[list(road.waypoint_vertex)]
    for first, last in pairwise(ends):
        if at_s[last] - at_s[first] > asked.most_s:
            due_s = float(at_s[first]) + asked.driving_s
            return _Missing(due_s, int(np.searchsorted(at_s, due_s, side="right")) - 1, asked)
    return None


def _put_in(trip: Trip, road: Road, missing: _Missing) -> tuple[Trip, Road, PutIn]:
    asked, leg = missing.asked, missing.leg
    due_s = missing.due_s / trip.drive_time_factor
    before = int(np.searchsorted(road.drive_s, due_s, side="right")) - 1
    road, vertex = _with_vertex(road, due_s, max(before, road.waypoint_vertex[leg]))
    taken = {site.name for site in trip.waypoints}
    name = next(
        name for n in count(1) if (name := f"{PUT_IN} {n}") not in taken
    )  # the user may call a stop so
    zone = trip.waypoints[leg].zone
    site = Site(name, float(road.lat_deg[vertex]), float(road.lon_deg[vertex]), zone)
    stop = Stop(site, "break", asked.halt_s)
    waypoints = (*road.waypoint_vertex[: leg + 1], vertex, *road.waypoint_vertex[leg + 1 :])
    trip = replace(
        trip,
        stops=(*trip.stops[:leg], stop, *trip.stops[leg:]),
        groups=tuple(_moved(group, leg) for group in trip.groups),
    )
    return (
        trip,
        replace(road, waypoint_vertex=waypoints),
        PutIn(name, float(road.km[vertex]), asked.halt_s, asked.law, asked.is_rest),
    )


def _with_vertex(road: Road, drive_s: float, vertex: int) -> tuple[Road, int]:
    """The road with a vertex at a driving time, which lies behind ``vertex``, and its index."""
    if road.drive_s[vertex] >= drive_s - 1.0:
        return road, vertex
    moved = tuple(at + (at > vertex) for at in road.waypoint_vertex)

    def between(values: Floats) -> Floats:
        return np.insert(values, vertex + 1, np.interp(drive_s, road.drive_s, values))

    lon_deg = between(np.unwrap(road.lon_deg, period=360.0))  # over the date line, not round the world
    longer = replace(
        road,
        lat_deg=between(road.lat_deg),
        lon_deg=(lon_deg + 180.0) % 360.0 - 180.0,
        elevation_m=between(road.elevation_m),
        km=between(road.km),
        drive_s=between(road.drive_s),
        waypoint_vertex=moved,
    )
    return longer, vertex + 1


def _moved(group: Group, leg: int) -> Group:
    """A group's waypoints after one more was put in behind ``leg``."""

    def after(waypoint: int) -> int:
        return waypoint + (waypoint > leg)

    unload = group.unload_waypoint if group.unload_waypoint < 0 else after(group.unload_waypoint)
    return replace(group, load_waypoint=after(group.load_waypoint), unload_waypoint=unload)
