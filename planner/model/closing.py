"""When each group is shut, for every departure: the closing rule against the sun and the local clock."""

from __future__ import annotations

import numpy as np

from planner.model import sun
from planner.model.clock import DAY_S, clock_moments
from planner.model.records import Bools, Closing, Floats, Road, Site, Trip
from planner.model.timeline import schedule

LOOK_BACK_DAYS = 3
MOST_EARLY_S = DAY_S + 1800.0
"""A moment farther back is none of this trip; half an hour over a day, because evenings move with the season."""


def closing_times(trip: Trip, road: Road, departure_s: Floats) -> Floats:
    """When each group is shut, (departure, group), POSIX seconds.

    A rule names the last such moment before the group is lifted: the last sunset plus delay, the last
    sunrise less delay, the last clock time; ``at_loading`` is the lifting itself, ``actual`` the instant at which
    the boxes were shut. Once the sun has set the bees are in: who lifts before the delay is over shuts then, and
    not the evening before. Where the sun neither rises nor sets (polar summer or winter), and where the moment
    lies more than a day back, the boxes are shut when they are lifted.
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
    if rule.rule == "actual":
        return np.minimum(rule.at_s, before_s)
    if rule.rule == "clock":
        named = first = _clock_moments(rule, site, before_s)
    else:
        named, first = _sun_moments(rule, site, before_s)
    order = np.argsort(first)  # NaN, a day without the event, comes last
    named, first = named[order], first[order]
    index = np.searchsorted(first, before_s, side="right") - 1
    found = np.minimum(named[np.maximum(index, 0)], before_s) if named.size else before_s
    recent = (index >= 0) & (before_s - found < MOST_EARLY_S)
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


def _sun_moments(rule: Closing, site: Site, before_s: Floats) -> tuple[Floats, Floats]:
    """The moments a rule names around the given instants, and from when on each holds: a delay may be cut short."""
    rise, fall = sun.sun_events(site.lat_deg, site.lon_deg, _days(before_s, site))
    if rule.rule == "before_sunrise":
        return rise - rule.delay_s, rise - rule.delay_s
    return fall + rule.delay_s, fall + min(rule.delay_s, 0.0)


def _clock_moments(rule: Closing, site: Site, before_s: Floats) -> Floats:
    """The clock time on every local day around the given instants."""
    earliest = float(before_s.min()) - LOOK_BACK_DAYS * DAY_S
    return clock_moments(site.zone, rule.clock_s, earliest, float(before_s.max()))
