"""When everything happens: closing, loading, driving, stops, unloading, opening, for every departure at once.

A *track* is the path of one group in space and time for one departure; tracks are numbered
``departure * groups + group``. Events are rounded to the integration's grid so that no step straddles one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.model import geo
from planner.model.records import Bools, Floats, Ints, Road, Stop, Trip

GRID_S = 60.0
"""Events happen on whole minutes after the departure; up to 30 s off, and no step straddles a jump."""


@dataclass(frozen=True)
class Timeline:
    """Instants (POSIX s) of a trip for every departure.

    ``arrive_s``, ``leave_s`` (departure, call): at the origin arrival means the start of loading, at the
    destination leaving equals arriving. ``closed_s``, ``boarded_s``, ``unloaded_s``, ``opened_s``
    (departure, group). ``start_s`` (departure,) is the earliest closing, ``end_s`` the latest opening.
    """

    departure_s: Floats
    arrive_s: Floats
    leave_s: Floats
    closed_s: Floats
    boarded_s: Floats
    unloaded_s: Floats
    opened_s: Floats

    @property
    def start_s(self) -> Floats:
        return np.asarray(self.closed_s.min(axis=1))

    @property
    def end_s(self) -> Floats:
        return np.asarray(self.opened_s.max(axis=1))

    @property
    def groups(self) -> int:
        return int(self.closed_s.shape[1])

    def take(self, departures: Ints) -> Timeline:
        """The same timeline for some of the departures."""
        return Timeline(**{name: getattr(self, name)[departures] for name in self.__dataclass_fields__})


def waypoint_drive_s(road: Road) -> Floats:
    """Driving seconds from the origin to each call, (call,)."""
    return road.drive_s[list(road.waypoint_vertex)]


def schedule(trip: Trip, road: Road, departure_s: Floats) -> tuple[Floats, Floats]:
    """Arrivals and departures at every call, (departure, call); dwell times and the driving factor applied."""
    drive_s = waypoint_drive_s(road) * trip.drive_time_factor
    dwell_s = np.array([stop.dwell_s for stop in trip.stops])
    legs = _on_grid(np.diff(drive_s))
    stand = _on_grid(np.append(dwell_s, 0.0))
    arrive_after = np.cumsum(legs) + np.concatenate(([0.0], np.cumsum(stand)[:-1]))
    leave_after = arrive_after + stand
    first = departure_s[:, None]
    arrive = np.concatenate((first - _on_grid(np.array(trip.loading_s)), first + arrive_after), axis=1)
    return arrive, np.concatenate((first, first + leave_after), axis=1)


def build_timeline(trip: Trip, road: Road, departure_s: Floats, closed_s: Floats) -> Timeline:
    """Put all events of a trip on the grid.

    Parameters
    ----------
    departure_s : (departure,) POSIX seconds
    closed_s : (departure, group) when each group is shut; never later than its boarding
    """
    arrive, leave = schedule(trip, road, departure_s)
    load = [group.load_waypoint for group in trip.groups]
    unload = [group.unload_waypoint for group in trip.groups]
    boarded, unloaded = arrive[:, load], arrive[:, unload]
    early = np.minimum(closed_s, boarded)
    closed = boarded - _on_grid(boarded - early)
    return Timeline(
        departure_s=departure_s,
        arrive_s=arrive,
        leave_s=leave,
        closed_s=closed,
        boarded_s=boarded,
        unloaded_s=unloaded,
        opened_s=unloaded + _on_grid(np.array(trip.open_after_s)),
    )


def _on_grid(seconds: Floats) -> Floats:
    return np.round(seconds / GRID_S) * GRID_S


@dataclass(frozen=True)
class VehicleState:
    """Where every track is and what is being done to it; all ``(time, track)``.

    ``moving`` only while the vehicle that carries the boxes drives: neither on the ground nor aboard at a halt.
    ``since_jolt_s`` since the boxes were last shut, lifted or set moving; ``riding_s`` since they were lifted.
    """

    time_s: Floats
    km: Floats
    lat_deg: Floats
    lon_deg: Floats
    elevation_m: Floats
    heading_deg: Floats
    speed_ms: Floats
    moving: Bools
    on_board: Bools
    closed: Bools
    since_jolt_s: Floats
    riding_s: Floats
    shade: Bools
    engine_on: Bools
    doors_open: Bools

    @property
    def shaking(self) -> Floats:
        """Share of a drive's shaking that the boxes feel: 1 on the road, 0 parked aboard and on the ground."""
        return self.moving.astype(np.float64)


def follow(trip: Trip, road: Road, timeline: Timeline, time_s: Floats) -> VehicleState:
    """VehicleState of every track at the given instants.

    Parameters
    ----------
    time_s : (time, departure) POSIX seconds
    """
    n_dep, n_group = timeline.closed_s.shape
    departure = np.repeat(np.arange(n_dep), n_group)
    group = np.tile(np.arange(n_group), n_dep)
    t = time_s[:, departure]
    waypoint, moving, drive_s = _vehicle(road, timeline, time_s)
    waypoint, moving, drive_s = waypoint[:, departure], moving[:, departure], drive_s[:, departure]
    boarded, unloaded = timeline.boarded_s.ravel(), timeline.unloaded_s.ravel()
    on_board = (t >= boarded) & (t < unloaded)
    load = np.array([g.load_waypoint for g in trip.groups])[group]
    unload = np.array([g.unload_waypoint for g in trip.groups])[group] % len(road.waypoint_vertex)
    ground_waypoint = np.where(t < boarded, load, unload)
    drive_s = np.where(on_board, drive_s, waypoint_drive_s(road)[ground_waypoint])
    moving = moving & on_board
    segment = np.clip(np.searchsorted(road.drive_s, drive_s, side="right") - 1, 0, road.km.size - 2)
    flags = _stop_flags(trip.stops, np.where(on_board, waypoint, 0))
    standing = on_board & ~moving
    return VehicleState(
        time_s=t,
        km=np.interp(drive_s, road.drive_s, road.km),
        lat_deg=np.interp(drive_s, road.drive_s, road.lat_deg),
        lon_deg=_wrap(np.interp(drive_s, road.drive_s, np.unwrap(road.lon_deg, period=360.0))),
        elevation_m=np.interp(drive_s, road.drive_s, road.elevation_m),
        heading_deg=_headings(road)[segment],
        speed_ms=np.where(moving, _speeds(road, trip.drive_time_factor)[segment], 0.0),
        moving=moving,
        on_board=on_board,
        closed=(t >= timeline.closed_s.ravel()) & (t < timeline.opened_s.ravel()),
        since_jolt_s=_since_jolt(trip, timeline, t, departure, group),
        riding_s=t - boarded,
        shade=np.where(on_board, flags["shade"] & standing, trip.waiting_shade),
        engine_on=moving | (flags["engine_on"] & standing),
        doors_open=flags["doors_open"] & standing,
    )


def _vehicle(road: Road, timeline: Timeline, time_s: Floats) -> tuple[Ints, Bools, Floats]:
    """Call last reached, whether driving, and driving seconds done, each (time, departure)."""
    drive = waypoint_drive_s(road)
    waypoint = np.zeros(time_s.shape, dtype=np.int64)
    moving = np.zeros(time_s.shape, dtype=bool)
    done = np.zeros(time_s.shape)
    for d in range(time_s.shape[1]):
        knots = np.stack((timeline.arrive_s[d], timeline.leave_s[d]), axis=1).ravel()
        at = np.clip(np.searchsorted(knots, time_s[:, d], side="right") - 1, 0, knots.size - 1)
        waypoint[:, d] = at // 2
        moving[:, d] = (at % 2 == 1) & (at < knots.size - 1)
        done[:, d] = np.interp(time_s[:, d], knots, np.repeat(drive, 2))
    return waypoint, moving, done


def _stop_flags(stops: tuple[Stop, ...], waypoint: Ints) -> dict[str, Bools]:
    """Flags of the stop at each call; origin and destination count as plain, unshaded halts."""
    out = {}
    for name in ("shade", "engine_on", "doors_open"):
        table = np.array([False, *(getattr(stop, name) for stop in stops), False])
        out[name] = table[waypoint]
    return out


def _since_jolt(trip: Trip, timeline: Timeline, t: Floats, departure: Ints, group: Ints) -> Floats:
    """Seconds since the boxes were last shut, lifted or set moving; large before the first."""
    handled = [i + 1 for i, stop in enumerate(trip.stops) if stop.purpose in ("load", "unload")]
    vehicle = [timeline.leave_s[:, c] for c in range(timeline.leave_s.shape[1] - 1)]
    vehicle += [timeline.arrive_s[:, c] for c in handled]
    since = t - timeline.closed_s[departure, group]
    since = np.where(since < 0.0, np.inf, since)
    boarded = timeline.boarded_s[departure, group]
    unloaded = timeline.unloaded_s[departure, group]
    for event in (boarded, unloaded):
        since = _latest(since, t - event)
    for instants in vehicle:
        event = instants[departure]
        since = _latest(since, np.where((event >= boarded) & (event < unloaded), t - event, -1.0))
    return np.where(np.isfinite(since), since, 1e9)


def _latest(since: Floats, elapsed: Floats) -> Floats:
    return np.where(elapsed >= 0.0, np.minimum(since, elapsed), since)


def _headings(road: Road) -> Floats:
    """Course of every segment, (vertex - 1,)."""
    return geo.bearing_deg(road.lat_deg[:-1], road.lon_deg[:-1], road.lat_deg[1:], road.lon_deg[1:])


def _speeds(road: Road, factor: float) -> Floats:
    """Speed on every segment in m/s, (vertex - 1,); zero-length segments stand still."""
    seconds = np.diff(road.drive_s) * factor
    metres = np.diff(road.km) * 1000.0
    return np.divide(metres, seconds, out=np.zeros_like(seconds), where=seconds > 0.0)


def _wrap(lon_deg: Floats) -> Floats:
    return (lon_deg + 180.0) % 360.0 - 180.0
