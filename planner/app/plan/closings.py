"""When each group might be shut: the evening before, before the first flight, when it is lifted, now; or as fixed.

A closing that another one beats is not tried: who can shut later with no bee more outside gains nothing by shutting
earlier. Bees without comb (packages, swarms) are shut in when they are filled or caught: no flight brings more of them
home, so that the last moment, when they are lifted, beats every earlier one but that which the user has fixed. What a
closing loses is told in one number, hours shut and bees left behind together.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from planner.model import sun
from planner.model.catalogue import Catalogue
from planner.model.closing import at_home_share, last_closing
from planner.model.records import Bools, Closing, Floats, Group, Road, Trip, Weather
from planner.model.timeline import build_timeline, schedule
from planner.store.rules import answer_rules

NOW = "now"
ALIKE_HOME = 0.02
"""Shares of bees at home closer than this are the same."""

AS_LIFTED = Closing("at_loading")

TOO_LONG_S = 30 * 3600.0
"""Who would have to shut the boxes earlier than this before they are lifted does not."""


@dataclass(frozen=True)
class Closings:
    """The closings of a trip; row ``r`` of the first axis is one rule.

    ``rules`` names them; ``closed_s``, ``home_share`` (rule, departure, group) when each group would be shut and how
    many bees are home then, NaN where it is not worth trying; ``fixed`` (group,) the user's word, against which others
    are tried only when they are freed; ``declared`` (group,) row of the rule in the trip.
    """

    rules: tuple[str, ...]
    closed_s: Floats
    home_share: Floats
    fixed: tuple[bool, ...]
    declared: tuple[int, ...]

    def tried(self, departure: int, group: int, *, freed: bool = False) -> tuple[int, ...]:
        """Rows of the closings tried for a group; ``freed``: whatever the user has fixed."""
        if self.fixed[group] and not freed:
            return (self.declared[group],)
        return self._worth[departure][group]

    @cached_property
    def _worth(self) -> list[list[tuple[int, ...]]]:
        """Rows worth trying, by departure and group; asked for again and again."""
        known = ~np.isnan(self.closed_s)
        return [
            [tuple(int(r) for r in np.flatnonzero(known[:, d, g])) for g in range(known.shape[2])]
            for d in range(known.shape[1])
        ]

    def take(self, rule: int, departure: int, group: int, *, freed: bool = False) -> int:
        """The row of a rule for a group, or of what stands for it where that rule is not tried."""
        known = self.tried(departure, group, freed=freed)
        if rule in known:
            return rule
        return self.declared[group] if self.declared[group] in known else known[-1]


def closings_of(
    trip: Trip,
    road: Road,
    catalogue: Catalogue,
    departures_s: Floats,
    now_s: float | None = None,
    weather: Weather | None = None,
) -> Closings:
    """The closings to try.

    Parameters
    ----------
    now_s : the present instant, POSIX seconds, None where shutting now makes no sense
    weather : in air too cold for flight every bee is home by day too; without it they fly while the sun stands high
    """
    arrive, _ = schedule(trip, road, departures_s)
    every = [_options(trip, group, catalogue, arrive[:, group.load_waypoint], now_s) for group in trip.groups]
    rules = tuple(dict.fromkeys(rule for each in every for rule in each))
    shape = len(rules), departures_s.size, len(trip.groups)
    closed, home = np.full(shape, np.nan), np.full(shape, np.nan)
    none = np.full(departures_s.size, np.nan)
    for row, rule in enumerate(rules):
        instants = np.stack([each.get(rule, none) for each in every], axis=1)
        closed[row] = on_time(trip, road, departures_s, instants)
    for g, (group, each) in enumerate(zip(trip.groups, every, strict=True)):
        site = trip.waypoints[group.load_waypoint]
        for row in map(rules.index, each):
            height = sun.sun_position(closed[row, :, g], site.lat_deg, site.lon_deg).elevation_deg
            kept_in = too_cold_to_fly(
                weather, float(road.km[road.waypoint_vertex[group.load_waypoint]]), closed[row, :, g]
            )
            fly = flies_home(group, catalogue) & ~kept_in
            home[row, :, g] = np.where(fly, at_home_share(height), 1.0)
        keep = _worth_trying(closed[..., g], home[..., g])
        keep[rules.index(rule_name(group.closing or trip.closing))] |= (group.closing or trip.closing).fixed
        closed[..., g][~keep], home[..., g][~keep] = np.nan, np.nan
    return Closings(
        rules=rules,
        closed_s=closed,
        home_share=home,
        fixed=tuple((group.closing or trip.closing).fixed for group in trip.groups),
        declared=tuple(rules.index(rule_name(group.closing or trip.closing)) for group in trip.groups),
    )


def on_time(trip: Trip, road: Road, departures_s: Floats, instants: Floats) -> Floats:
    """Closings of the groups on the integration's grid, never after they are lifted; NaN stays; (departure, group)."""
    arrive, _ = schedule(trip, road, departures_s)
    lifted = arrive[:, [each.load_waypoint for each in trip.groups]]
    asked = np.where(np.isnan(instants), lifted, instants)
    found = build_timeline(trip, road, departures_s, asked).closed_s
    return np.where(np.isnan(instants), np.nan, found)


def rule_name(closing: Closing) -> str:
    """The rule of the trip file."""
    return closing.rule


def _options(
    trip: Trip, group: Group, catalogue: Catalogue, lifted_s: Floats, now_s: float | None
) -> dict[str, Floats]:
    """Instants of each closing of one group, by the name of its rule; the declared first."""
    closing = group.closing or trip.closing
    site = trip.waypoints[group.load_waypoint]
    found = {rule_name(closing): last_closing(closing, site, lifted_s)}
    if closing.rule == "actual" or group.stages:
        return found
    if not flies_home(group, catalogue):
        return found | {AS_LIFTED.rule: last_closing(AS_LIFTED, site, lifted_s)}
    found |= {rule.rule: last_closing(rule, site, lifted_s) for rule in _usual() if rule.rule not in found}
    if now_s is not None:
        soon = (now_s < lifted_s) & (lifted_s - now_s < TOO_LONG_S)
        if soon.any():
            found[NOW] = np.where(soon, now_s, np.nan)
    return found


def _usual() -> Iterator[Closing]:
    rules = answer_rules()
    yield Closing("after_sunset", rules.evening_s)
    yield Closing("before_sunrise", rules.dawn_s)
    yield AS_LIFTED


def flies_home(group: Group, catalogue: Catalogue) -> bool:
    """Whether a box has bees that fly and come home: not swarms and packages, nor boxes whose way is given."""
    return catalogue.box_types[group.box_type].frames > 0.0 and not group.stages


def too_cold_to_fly(weather: Weather | None, km: float, time_s: Floats) -> Bools:
    """Whether no bee is out, for the air at the weather's point nearest along the road; unknown air keeps none in."""
    if weather is None:
        return np.zeros(time_s.shape, dtype=bool)
    point = int(np.argmin(np.abs(weather.km - km)))
    air_c = np.interp(time_s, weather.time_s, weather.air_c[:, point], np.nan, np.nan)
    return np.asarray(air_c < answer_rules().no_flight_below_c)


def _worth_trying(closed_s: Floats, home: Floats) -> Bools:
    """Closings that no later one with as many bees at home beats, (rule, departure)."""
    known = ~np.isnan(closed_s)
    keep = known.copy()
    for a in range(len(closed_s)):
        for b in range(len(closed_s)):
            same = closed_s[b] == closed_s[a]
            later = (closed_s[b] > closed_s[a]) | (same & (b < a))
            keep[a] &= ~(known[b] & later & (home[b] >= home[a] - ALIKE_HOME))
    return keep


def cost_h(shut_h: float, home_share: float) -> float:
    """What a closing costs: hours shut, and the bees left behind as so many hours more."""
    return shut_h + answer_rules().foragers_weigh_h * (1.0 - home_share)


def settled(closing: Closing, rule: str, at_s: float) -> Closing:
    """The closing of a rule that was chosen, fixed: the trip's own rule or a usual one; now is an instant.

    A rule, so that a departure at another hour is shut by it too.
    """
    if rule == rule_name(closing):
        return replace(closing, fixed=True)
    usual = next((each for each in _usual() if each.rule == rule), None)
    if usual is None:
        return replace(closing, rule="actual", at_s=at_s, delay_s=0.0, clock_s=0.0, fixed=True)
    return replace(usual, fixed=True)
