"""When everything happens: closing, loading, driving, stops, unloading, opening, for every departure at once.

A *track* is the path of one group in space and time for one departure; tracks are numbered
``departure * groups + group``. Events are rounded to the integration's grid so that no step straddles one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.model import geo
from planner.model.records import HANDLING, Bools, Floats, Ints, Road, Stop, Trip
from planner.model.ways import GRID_S, StageTable, on_grid, stage_table, stage_times

__all__ = [
    "GRID_S",
    "Timeline",
    "VehicleState",
    "build_timeline",
    "follow",
    "one_after_another",
    "schedule",
    "waypoint_drive_s",
]


NEVER_S = 1e9
"""Time since what has not happened."""


@dataclass(frozen=True)
class Timeline:
    """Instants (POSIX s) of a trip for every departure.

    ``arrive_s``, ``leave_s`` (departure, call): at the origin arrival means the start of loading, at the
    destination leaving equals arriving. ``closed_s``, ``boarded_s``, ``unloaded_s``, ``opened_s``
    (departure, group). ``stage_s`` (departure, group, stage) when each stage of the group's way begins, inf where
    the way is shorter; None: the three of every plain trip, begun by being shut, lifted and set down.
    ``start_s`` (departure,) is the earliest closing, ``end_s`` the latest opening.
    """

    departure_s: Floats
    arrive_s: Floats
    leave_s: Floats
    closed_s: Floats
    boarded_s: Floats
    unloaded_s: Floats
    opened_s: Floats
    stage_s: Floats | None = None

    @property
    def stage_begin_s(self) -> Floats:
        """When each stage begins, (departure, group, stage)."""
        if self.stage_s is not None:
            return self.stage_s
        return np.stack((self.closed_s, self.boarded_s, self.unloaded_s), axis=2)

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
        held = {name: getattr(self, name) for name in self.__dataclass_fields__ if name != "stage_s"}
        stage_s = None if self.stage_s is None else self.stage_s[departures]
        return Timeline(**{name: values[departures] for name, values in held.items()}, stage_s=stage_s)


def waypoint_drive_s(road: Road) -> Floats:
    """Driving seconds from the origin to each call, (call,)."""
    return road.drive_s[list(road.waypoint_vertex)]


def schedule(trip: Trip, road: Road, departure_s: Floats) -> tuple[Floats, Floats]:
    """Arrivals and departures at every call, (departure, call); dwell times and the driving factor applied."""
    drive_s = waypoint_drive_s(road) * trip.drive_time_factor
    dwell_s = np.array([stop.dwell_s for stop in trip.stops])
    legs = on_grid(np.diff(drive_s))
    stand = on_grid(np.append(dwell_s, 0.0))
    arrive_after = np.cumsum(legs) + np.concatenate(([0.0], np.cumsum(stand)[:-1]))
    leave_after = arrive_after + stand
    first = departure_s[:, None]
    arrive = np.concatenate((first - on_grid(np.array(trip.loading_s)), first + arrive_after), axis=1)
    return arrive, np.concatenate((first, first + leave_after), axis=1)


def build_timeline(
    trip: Trip, road: Road, departure_s: Floats, closed_s: Floats, reach: float = 0.0
) -> Timeline:
    """Put all events of a trip on the grid.

    Parameters
    ----------
    departure_s : (departure,) POSIX seconds
    closed_s : (departure, group) when each group is shut; never later than its boarding
    reach : where within (low, usual, high) stages last: -1 low, 0 usual, 1 high

    Raises InputError where the stages of a way do not follow one another.
    """
    arrive, leave = schedule(trip, road, departure_s)
    lifted = arrive[:, [group.load_waypoint for group in trip.groups]]
    closed = lifted - on_grid(lifted - np.minimum(closed_s, lifted))
    times = stage_times(trip, arrive, leave, closed, reach)
    return Timeline(
        departure_s=departure_s,
        arrive_s=arrive,
        leave_s=leave,
        closed_s=closed,
        boarded_s=times.boarded_s,
        unloaded_s=times.unloaded_s,
        opened_s=times.opened_s,
        stage_s=times.begin_s if any(group.stages for group in trip.groups) else None,
    )


def one_after_another(timelines: Sequence[Timeline]) -> Timeline:
    """Timelines of one trip as further runs of departures: other closings, other ways."""
    names = [name for name in Timeline.__dataclass_fields__ if name != "stage_s"]
    joined = {name: np.concatenate([getattr(timeline, name) for timeline in timelines]) for name in names}
    staged = timelines[0].stage_s is not None
    return Timeline(
        **joined,
        stage_s=np.concatenate([timeline.stage_begin_s for timeline in timelines]) if staged else None,
    )


@dataclass(frozen=True)
class VehicleState:
    """Where every track is and what is being done to it; all ``(time, track)``.

    ``moving`` only while the vehicle that carries the boxes drives: neither on the ground nor aboard at a halt.
    ``since_jolt_s`` since the boxes were last shut, lifted or set moving; ``riding_s`` since they were lifted, far
    below 0 while nobody who has them would mist them. ``stage`` of the way of the track's group; ``felt_share`` the
    shaking that a stage brings even while standing.
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
    stage: Ints
    felt_share: Floats

    @property
    def shaking(self) -> Floats:
        """Share of a drive's shaking that the boxes feel: 1 on the road, 0 parked aboard and on the ground."""
        return np.maximum(self.moving, self.felt_share)


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
    stages, begin_s = stage_table(trip), timeline.stage_begin_s.reshape(n_dep * n_group, -1)
    stage = _stage(begin_s, t)
    on_board = stages.aboard[group, stage]
    drive_s = np.where(on_board, drive_s, waypoint_drive_s(road)[stages.waypoint[group, stage]])
    moving = moving & on_board
    segment = np.clip(np.searchsorted(road.drive_s, drive_s, side="right") - 1, 0, road.km.size - 2)
    standing = on_board & ~moving
    halt = {name: flag & standing for name, flag in _stop_flags(trip.stops, waypoint * on_board).items()}
    halt["shade"] |= ~on_board & trip.waiting_shade
    halt["engine_on"] |= moving
    treated = {name: _as_stated(getattr(stages, name)[group, stage], flag) for name, flag in halt.items()}
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
        since_jolt_s=_since_jolt(trip, timeline, t, stages, begin_s),
        riding_s=np.where(stages.acted[group, stage], t - timeline.boarded_s.ravel(), -NEVER_S),
        stage=stage,
        felt_share=stages.shaking[group, stage],
        **treated,
    )


def _stage(begin_s: Floats, t: Floats) -> Ints:
    """The stage each track is in, (time, track); the first before it begins. ``begin_s`` is (track, stage)."""
    begun = sum((t >= begin_s[:, k]).astype(np.int64) for k in range(1, begin_s.shape[1]))
    return np.asarray(begun + np.zeros(t.shape, dtype=np.int64))


def _as_stated(stated: Ints, otherwise: Bools) -> Bools:
    """A stage's own flag, or what the trip says where the stage leaves it open (-1)."""
    return np.where(stated < 0, otherwise, stated > 0)


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
    """Flags of the stop at each call; origin and destination count as unshaded halts with the engine off.

    Nobody loads through shut doors: at the origin, where boxes aboard are being loaded, and at stops to load or
    unload they stand open (common practice, no source).
    """
    out = {}
    for name in ("shade", "engine_on", "doors_open"):
        opened = name == "doors_open"
        at_stops = (getattr(stop, name) or (opened and stop.purpose in HANDLING) for stop in stops)
        out[name] = np.array([opened, *at_stops, False])[waypoint]
    return out


def _since_jolt(trip: Trip, timeline: Timeline, t: Floats, stages: StageTable, begin_s: Floats) -> Floats:
    """Seconds since the boxes were last shut, lifted, set down or set moving; large before the first.

    A box that rides with its entrance open is never shut: nobody touches it until it is loaded.
    """
    departures, groups = timeline.closed_s.shape
    departure, group = np.repeat(np.arange(departures), groups), np.tile(np.arange(groups), departures)
    handled = [i + 1 for i, stop in enumerate(trip.stops) if stop.purpose in HANDLING]
    vehicle = [timeline.leave_s[:, c] for c in range(timeline.leave_s.shape[1] - 1)]
    vehicle += [timeline.arrive_s[:, c] for c in handled]
    since = t - timeline.closed_s.ravel()
    shut = np.array([box.entrance != "open" for box in trip.groups])[group]
    since = np.where(shut & (since >= 0.0), since, np.inf)
    for k in range(1, begin_s.shape[1]):
        since = _latest(since, np.where(stages.jolts[group, k], t - begin_s[:, k], -1.0))
    for instants in vehicle:
        event = instants[departure]
        aboard = stages.aboard[group, _stage(begin_s, event[None])[0]]
        since = _latest(since, np.where(aboard, t - event, -1.0))
    return np.where(np.isfinite(since), since, NEVER_S)


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
