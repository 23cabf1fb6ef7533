"""What if the road holds us up: a jam, a breakdown, a ferry, a border, put into a trip at a place and for a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.app.plan.plan import plan_trip
from planner.app.plan.results import TYPICAL, Choice, Plan
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.preparations import ALL
from planner.model.records import DepartureWindow, Floats, Group, Road, Site, Stop, Trip
from planner.words import say

SAME_PLACE_KM = 1e-6


@dataclass(frozen=True)
class DelayKind:
    """One way to be held up, with the state the vehicle is in meanwhile."""

    name: str
    title: str
    shade: bool = False
    engine_on: bool = False
    doors_open: bool = False


JAM = DelayKind("jam", "traffic jam, engine running", engine_on=True)
BREAKDOWN = DelayKind("breakdown", "breakdown, engine off, in the sun")
FERRY = DelayKind("ferry", "ferry, below deck, engine off", shade=True)
BORDER = DelayKind("border", "border wait, engine off, in the sun")
KINDS = {kind.name: kind for kind in (JAM, BREAKDOWN, FERRY, BORDER)}


@dataclass(frozen=True)
class Delay:
    """A hold-up ``at_km`` along the road for ``lasts_s`` seconds."""

    kind: DelayKind
    at_km: float
    lasts_s: float


@dataclass(frozen=True)
class Delayed:
    """A candidate with a delay beside the same candidate without it.

    Peaks C of the hottest box (calm, typical, agitated), worst verdict levels with bees typical and agitated,
    smallest headroom K with typical bees.
    """

    delay: Delay
    peak_c: tuple[float, float, float]
    level: int
    level_agitated: int
    headroom_k: float
    peak_before_c: tuple[float, float, float]
    level_before: int
    headroom_before_k: float


def with_delay(trip: Trip, road: Road, delay: Delay) -> tuple[Trip, Road]:
    """The trip and road with one more stop; the calls of every group still mean the same places.

    Raises InputError for a place off the road or a delay that does not last.
    """
    if not 0.0 < delay.at_km < road.length_km:
        remedy = say("standing.give_a_distance_between", length_km=f"{road.length_km:.0f}")
        raise InputError([Fault("at_km", f"{delay.at_km:g}", "this is not on the road", remedy)])
    if not 0.0 < delay.lasts_s < np.inf:
        raise InputError([Fault("minutes", "", "a delay must last some time", "Give a number above 0")])
    road, vertex = _with_vertex(road, delay.at_km)
    waypoint = int(np.searchsorted(road.waypoint_vertex, vertex, side="right"))
    site = Site(
        delay.kind.title,
        float(road.lat_deg[vertex]),
        float(road.lon_deg[vertex]),
        trip.origin.zone,
        float(road.elevation_m[vertex]),
    )
    kind = delay.kind
    stop = Stop(site, "rest", delay.lasts_s, kind.shade, kind.engine_on, kind.doors_open)
    waypoints = (*road.waypoint_vertex[:waypoint], vertex, *road.waypoint_vertex[waypoint:])
    n_waypoints = len(road.waypoint_vertex)
    groups = tuple(_moved(group, waypoint, n_waypoints) for group in trip.groups)
    stops = (*trip.stops[: waypoint - 1], stop, *trip.stops[waypoint - 1 :])
    return replace(trip, stops=stops, groups=groups), replace(road, waypoint_vertex=waypoints)


def _with_vertex(road: Road, at_km: float) -> tuple[Road, int]:
    """The road with a vertex at a distance, and its index; none is added where there is one."""
    near = int(np.argmin(np.abs(road.km - at_km)))
    if abs(road.km[near] - at_km) < SAME_PLACE_KM:
        return road, near
    vertex = int(np.searchsorted(road.km, at_km))
    lon = np.unwrap(road.lon_deg, period=360.0)

    def grown(values: Floats) -> Floats:
        return np.insert(values, vertex, np.interp(at_km, road.km, values))

    waypoints = tuple(waypoint + 1 if waypoint >= vertex else waypoint for waypoint in road.waypoint_vertex)
    wrapped = (grown(lon) + 180.0) % 360.0 - 180.0
    longer = replace(
        road,
        lat_deg=grown(road.lat_deg),
        lon_deg=np.where(wrapped == -180.0, 180.0, wrapped),
        elevation_m=grown(road.elevation_m),
        km=grown(road.km),
        drive_s=grown(road.drive_s),
        waypoint_vertex=waypoints,
    )
    return longer, vertex


def _moved(group: Group, waypoint: int, n_waypoints: int) -> Group:
    """The group with its calls counted past an inserted one."""
    load, unload = (at % n_waypoints for at in (group.load_waypoint, group.unload_waypoint))
    return replace(
        group, load_waypoint=load + (load >= waypoint), unload_waypoint=unload + (unload >= waypoint)
    )


def delayed(plan: Plan, choice: Choice, catalogue: Catalogue, delays: Sequence[Delay]) -> tuple[Delayed, ...]:
    """One candidate run again with each delay on its own, at the same departure, place and set-up."""
    return tuple(_delayed(plan, choice, catalogue, delay) for delay in delays)


def _delayed(plan: Plan, choice: Choice, catalogue: Catalogue, delay: Delay) -> Delayed:
    departure_s = float(plan.departures_s[choice.departure])
    trip, road = with_delay(plan.trip, plan.road, delay)
    trip = replace(
        trip,
        window=DepartureWindow(departure_s, departure_s),
        loading_places=(plan.loading_places[choice.loading_place],),
    )
    setup = next(setup for setup in ALL if setup.name == plan.setups[choice.setup])
    late = plan_trip(trip, road, plan.weather, catalogue, setups=(setup,))
    only = Choice(0, 0, 0)
    return Delayed(
        delay=delay,
        peak_c=late.peak_c(only),
        level=late.worst_level(only),
        level_agitated=late.worst_level(only, -1),
        headroom_k=late.headroom_k(only),
        peak_before_c=plan.peak_c(choice),
        level_before=plan.worst_level(choice, TYPICAL),
        headroom_before_k=plan.headroom_k(choice),
    )
