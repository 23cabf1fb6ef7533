"""The way of a box: a chain of stages from being shut to being opened, and when each of them begins.

A group that states no stages has three: it waits on the ground where it was shut, rides with the vehicle, and settles
on the ground where it was set down.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from planner.errors import Fault, InputError
from planner.model.clock import clock_moments, inside_hours, local_seconds
from planner.model.records import Bools, Floats, Group, Ints, Moment, Site, Stage, Trip

GRID_S = 60.0
"""Events happen on whole minutes after the departure; up to 30 s off, and no step straddles a jump."""

ABOARD = ("load", "drive", "halt")
"""Kinds of stages in which a box goes where the vehicle goes."""

ACTING = ("us", "buyer", "receiver")
"""Who mists boxes in his hands; a carrier does not."""

MOST_S = 30 * 86_400.0
"""A stage longer than this is a slip: nobody keeps bees shut in for a month."""

Way = tuple[Stage, ...]


def way_of(trip: Trip, group: Group) -> Way:
    """The stages of a group's boxes, as stated or as every plain trip has them."""
    if group.stages:
        return group.stages
    load, unload = group.load_waypoint, group.unload_waypoint % len(trip.waypoints)
    settling = group.opening or Moment("lasting", (trip.open_after_s,) * 3)
    return (
        Stage("wait", (load, load), Moment("arrival")),
        Stage("drive", (load, unload), Moment("arrival")),
        Stage("settle", (unload, unload), settling),
    )


@dataclass(frozen=True)
class StageTable:
    """The stages of every group side by side, each ``(group, stage)``; short ways repeat their last stage.

    ``aboard`` where the box goes with the vehicle; ``waypoint`` where it stands; ``jolts``, ``shaking`` as in
    ``Stage``; flags -1 where the stage leaves them to the trip; ``acted`` where who has the boxes would mist them.
    """

    aboard: Bools
    acted: Bools
    waypoint: Ints
    jolts: Bools
    shaking: Floats
    shade: Ints
    engine_on: Ints
    doors_open: Ints


def stage_table(trip: Trip) -> StageTable:
    """What every stage of every group is, as arrays."""
    ways = [way_of(trip, group) for group in trip.groups]
    longest = max(len(way) for way in ways)
    rows = [[*way, *way[-1:] * (longest - len(way))] for way in ways]

    def flags(name: str) -> Ints:
        stated = [[getattr(stage, name) for stage in row] for row in rows]
        return np.array([[-1 if flag is None else int(flag) for flag in row] for row in stated])

    return StageTable(
        aboard=np.array([[stage.kind in ABOARD for stage in row] for row in rows]),
        acted=np.array([[stage.holder in ACTING for stage in row] for row in rows]),
        waypoint=np.array([[stage.waypoints[0] for stage in row] for row in rows]),
        jolts=np.array([[stage.jolts for stage in row] for row in rows]),
        shaking=np.array([[stage.shaking for stage in row] for row in rows]),
        shade=flags("shade"),
        engine_on=flags("engine_on"),
        doors_open=flags("doors_open"),
    )


@dataclass(frozen=True)
class StageTimes:
    """When the stages of every group begin, ``(departure, group, stage)``, and the last one ends.

    A stage that a way does not have begins never (inf). ``boarded_s``, ``unloaded_s``, ``opened_s``
    (departure, group): the first time aboard, the last time set down, the end of the way.
    """

    begin_s: Floats
    boarded_s: Floats
    unloaded_s: Floats
    opened_s: Floats


def stage_times(
    trip: Trip, arrive_s: Floats, leave_s: Floats, closed_s: Floats, reach: float = 0.0
) -> StageTimes:
    """Follow the chain of every group from being shut.

    Parameters
    ----------
    arrive_s, leave_s : (departure, waypoint) of the vehicle
    closed_s : (departure, group)
    reach : where within (low, usual, high) a stage lasts: -1 low, 0 usual, 1 high

    Raises
    ------
    InputError : a stage that would end before it begins or last beyond a month; a box that is to ride where the
        vehicle is not; a stated beginning at which the stage before is not over, or over already
    """
    ways = [way_of(trip, group) for group in trip.groups]
    begin = np.full((*closed_s.shape, max(len(way) for way in ways)), np.inf)
    boarded, unloaded, opened = (np.empty(closed_s.shape) for _ in range(3))
    faults: list[Fault] = []
    for g, way in enumerate(ways):
        ends = _ends(trip, way, arrive_s, leave_s, closed_s[:, g], reach)
        begin[:, g, : len(way)] = np.stack([closed_s[:, g], *ends[:-1]], axis=1)
        opened[:, g] = ends[-1]
        riding = [k for k, stage in enumerate(way) if stage.kind in ABOARD] or [len(way) - 1]
        boarded[:, g], unloaded[:, g] = begin[:, g, riding[0]], ends[riding[-1]]
        if trip.groups[g].stages or trip.groups[g].opening:
            faults += _faults(trip, g, way, begin[:, g], ends, arrive_s, leave_s, reach)
    if faults:
        raise InputError(faults)
    return StageTimes(begin, boarded, unloaded, opened)


def _ends(
    trip: Trip, way: Way, arrive_s: Floats, leave_s: Floats, closed_s: Floats, reach: float
) -> list[Floats]:
    """When each stage of a way ends, each (departure,)."""
    ends, now, last = [], closed_s, len(trip.waypoints) - 1
    for stage in way:
        site = trip.waypoints[stage.waypoints[1]]
        named = moment_s(stage.end, now, arrive_s, leave_s, stage.waypoints[1], site)
        if stage.kind == "drive" and stage.end.rule == "arrival" and stage.waypoints[1] == last:
            named = gate_opens_s(trip, named)
        now = now + on_grid(named + lasting_s(stage.end, reach) - now)
        ends.append(now)
    return ends


def gate_opens_s(trip: Trip, arrive_s: Floats) -> Floats:
    """When each arrival is let in: at once, or when the gate of the destination opens; boxes stay aboard until then."""
    opens, zone = trip.arrival.gate_open_s, trip.destination.zone
    known = np.flatnonzero(~np.isnan(arrive_s))
    if not np.isfinite(opens) or not known.size:
        return arrive_s
    let_in, at_s = arrive_s.copy(), arrive_s[known]
    moments = clock_moments(zone, opens, float(at_s.min()), float(at_s.max()))
    inside = inside_hours(local_seconds(at_s, zone), opens, trip.arrival.gate_shut_s)
    let_in[known] = np.where(inside, at_s, moments[np.searchsorted(moments, at_s, side="right")])
    return let_in


def moment_s(
    moment: Moment, begin_s: Floats, arrive_s: Floats, leave_s: Floats, waypoint: int, site: Site
) -> Floats:
    """The instant a rule names, before anything is added, (departure,)."""
    if moment.rule == "arrival":
        return arrive_s[:, waypoint]
    if moment.rule == "leaving":
        return leave_s[:, waypoint]
    if moment.rule == "instant":
        return np.full(begin_s.shape, moment.at_s)
    if moment.rule == "clock":
        shown = clock_moments(site.zone, moment.clock_s, float(begin_s.min()), float(begin_s.max()))
        return shown[np.searchsorted(shown, begin_s, side="left")]
    return begin_s


def lasting_s(moment: Moment, reach: float) -> float:
    """Seconds within (low, usual, high); ``reach`` -1, 0, 1 and in between."""
    low, usual, high = moment.after_s
    return usual + reach * (high - usual if reach > 0.0 else usual - low)


def on_grid(seconds: Floats) -> Floats:
    """Whole minutes."""
    return np.round(seconds / GRID_S) * GRID_S


# -- where and how long, while nobody knows -------------------------------------------------------


def in_doubt(trip: Trip) -> bool:
    """Whether a stage lasts nobody knows how long."""
    ends = [stage.end for group in trip.groups for stage in group.stages]
    return any(end.after_s[0] < end.after_s[2] for end in ends)


def alternatives(trip: Trip) -> Iterator[tuple[Trip, float]]:
    """The trip with every mix of places settled on one of them, and how likely that is; the weights add up to 1."""
    choices = [stage.places or (("", 1.0),) for group in trip.groups for stage in group.stages]
    for chosen in product(*choices):
        places = iter(chosen)
        groups = tuple(
            replace(group, stages=tuple(_settled(stage, next(places)[0]) for stage in group.stages))
            for group in trip.groups
        )
        yield replace(trip, groups=groups), float(np.prod([weight for _, weight in chosen]))


LEANINGS = (-0.8, -0.4, 0.0, 0.4, 0.8)
"""Where within (low, usual, high) all stages of a way last, each as likely: the middles of five even parts."""


def likely_ways(trip: Trip) -> list[tuple[Trip, float, float]]:
    """Every way the boxes may go where it is not known: the settled trip, how its stages lean, how likely it is.

    One way of weight 1 where nothing is left open.
    """
    leanings = LEANINGS if in_doubt(trip) else (0.0,)
    return [
        (settled, lean, weight / len(leanings)) for settled, weight in alternatives(trip) for lean in leanings
    ]


def _settled(stage: Stage, name: str) -> Stage:
    return replace(stage, places=((name, 1.0),)) if name else stage


def likeliest(stage: Stage) -> str | None:
    """The place a stage is spent in, the first of the likeliest where there are several; None: it has none."""
    return max(stage.places, key=lambda place: place[1])[0] if stage.places else None


# -- what only the clock can show ----------------------------------------------------------------


def _faults(
    trip: Trip,
    g: int,
    way: Way,
    begin_s: Floats,
    ends: list[Floats],
    arrive_s: Floats,
    leave_s: Floats,
    reach: float,
) -> Iterator[Fault]:
    """What is wrong with a way as the departures of a window would have it."""
    for k, (stage, end_s) in enumerate(zip(way, ends, strict=True)):
        field, begun_s = f"load[{g}].stages[{k}]", begin_s[:, k]
        lasts_s = end_s - begun_s
        waited_for = stage.end.rule in ("arrival", "leaving")  # the vehicle may be there already
        if (lasts_s < 0.0).any() or (not waited_for and (lasts_s <= 0.0).any()):
            short = float(lasts_s.min()) / 60.0
            problem = f"for some departures this stage would last {short:.0f} min"
            yield Fault(f"{field}.end", stage.end.rule, problem, "End it later, or search other departures")
        elif (lasts_s > MOST_S).any():
            problem = "for some departures this stage would last more than 30 days"
            yield Fault(f"{field}.end", stage.end.rule, problem, "End it earlier")
        elif stage.kind in ABOARD:
            yield from _missed(field, stage, begun_s, end_s, arrive_s, leave_s)
        if stage.begin is not None:
            site = trip.waypoints[stage.waypoints[0]]
            named = moment_s(stage.begin, begun_s, arrive_s, leave_s, stage.waypoints[0], site)
            late_s = begun_s - on_grid(named + lasting_s(stage.begin, reach))
            yield from _not_in_turn(field, stage, late_s)


def _missed(
    field: str, stage: Stage, begun_s: Floats, end_s: Floats, arrive_s: Floats, leave_s: Floats
) -> Iterator[Fault]:
    """A box cannot be aboard where the vehicle is not: that would be two places at once."""
    first, last = stage.waypoints
    if (begun_s < arrive_s[:, first]).any() or (begun_s > leave_s[:, first]).any():
        problem = "for some departures the vehicle is not there when this stage begins"
        yield Fault(field, stage.kind, problem, 'Let the stage before end with "arrival" or "leaving"')
    elif (end_s < arrive_s[:, last]).any() or (end_s > np.maximum(leave_s, arrive_s)[:, last]).any():
        problem = "for some departures the vehicle is elsewhere when this stage ends"
        yield Fault(f"{field}.end", stage.end.rule, problem, 'End it with "arrival" or "leaving"')


def _not_in_turn(field: str, stage: Stage, late_s: Floats) -> Iterator[Fault]:
    """A stated beginning has to be the end of the stage before, to the minute."""
    assert stage.begin is not None
    minutes = float(late_s[np.argmax(np.abs(late_s))]) / 60.0
    if abs(minutes) >= 1.0:
        word = "ends {:.0f} min later: the two overlap" if minutes > 0 else "ends {:.0f} min earlier"
        problem = "for some departures the stage before " + word.format(abs(minutes))
        yield Fault(f"{field}.begin", stage.begin.rule, problem, "Take begin out, or move one of the two")
