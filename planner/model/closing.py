"""When each group is shut, for every departure: the closing rule against the sun and the local clock."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from planner.model import sun
from planner.model.records import Bools, Closing, Floats, Road, Site, Trip
from planner.model.timeline import schedule

DAY_S = 86_400.0
LOOK_BACK_DAYS = 3


def closing_times(trip: Trip, road: Road, departure_s: Floats) -> Floats:
    """When each group is shut, (departure, group), POSIX seconds.

    A rule names the last such moment before the group is lifted: the last sunset plus delay, the last
    sunrise less delay, the last clock time; ``at_loading`` is the lifting itself. Where the sun neither
    rises nor sets (polar summer or winter) the boxes are shut when they are lifted.
    """
    arrive, _ = schedule(trip, road, departure_s)
    columns = []
    for group in trip.groups:
        boarded = arrive[:, group.load_waypoint]
        site = trip.waypoints[group.load_waypoint]
        columns.append(last_closing(group.closing or trip.closing, site, boarded))
    return np.stack(columns, axis=1)


def last_closing(rule: Closing, site: Site, before_s: Floats) -> Floats:
    """The last moment the rule names at or before each instant."""
    if rule.rule == "at_loading":
        return before_s
    moments = (
        _clock_moments(rule, site, before_s) if rule.rule == "clock" else _sun_moments(rule, site, before_s)
    )
    moments = np.sort(moments[~np.isnan(moments)])
    index = np.searchsorted(moments, before_s, side="right") - 1
    found = moments[np.maximum(index, 0)] if moments.size else before_s
    recent = (index >= 0) & (before_s - found < LOOK_BACK_DAYS * DAY_S)
    return np.where(recent, found, before_s)


def closed_by_day(trip: Trip, closed_s: Floats) -> Bools:
    """Departures for which a group is shut while bees fly: the sun clearly up, (departure,)."""
    flying = np.zeros(closed_s.shape, dtype=bool)
    for column, group in enumerate(trip.groups):
        site = trip.waypoints[group.load_waypoint]
        height = sun.sun_position(closed_s[:, column], site.lat_deg, site.lon_deg).elevation_deg
        flying[:, column] = height > FLIGHT_SUN_DEG
    return np.asarray(flying.any(axis=1))


def at_home_share(sun_elevation_deg: Floats) -> Floats:
    """How many of the bees that are out by day are home: none an hour before sunset, all of them once it is dark."""
    return np.asarray(np.clip(1.0 - sun_elevation_deg / HOMECOMING_SUN_DEG, 0.0, 1.0))


HOMECOMING_SUN_DEG = 10.0
"""Height of the sun about an hour before it sets (geometry at 45 degrees of latitude); over that last hour of flight
the foragers come home, over the first one they leave (common practice, no source)."""

FLIGHT_SUN_DEG = 2.0
"""Bees are taken to fly while the sun stands higher (common practice, no source: sunrise to sunset)."""


def _days(before_s: Floats, site: Site) -> Floats:
    """Solar midnights at the site around the given instants."""
    shift = site.lon_deg / 360.0 * DAY_S
    first = np.floor((before_s.min() + shift) / DAY_S) - LOOK_BACK_DAYS
    last = np.floor((before_s.max() + shift) / DAY_S) + 1
    return np.arange(first, last + 1) * DAY_S - shift


def _sun_moments(rule: Closing, site: Site, before_s: Floats) -> Floats:
    rise, fall = sun.sun_events(site.lat_deg, site.lon_deg, _days(before_s, site))
    return fall + rule.delay_s if rule.rule == "after_sunset" else rise - rule.delay_s


def _clock_moments(rule: Closing, site: Site, before_s: Floats) -> Floats:
    """The clock time on every local day; a time that a DST night skips falls where the clocks jump to."""
    zone = ZoneInfo(site.zone)
    first = datetime.fromtimestamp(float(before_s.min()), zone).date() - timedelta(days=LOOK_BACK_DAYS)
    count = int((before_s.max() - before_s.min()) // DAY_S) + LOOK_BACK_DAYS + 2
    clock = timedelta(seconds=rule.clock_s)
    midnight = [datetime(first.year, first.month, first.day) + timedelta(days=i) for i in range(count)]
    return np.array([(day + clock).replace(tzinfo=zone).timestamp() for day in midnight])
