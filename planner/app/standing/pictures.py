"""How far the edge is, as charts: the reserve along the road, and heat made against heat that can be lost."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.app.common.chart import (
    Axis,
    Band,
    Chart,
    Column,
    Dot,
    Line,
    Mark,
    Pointer,
    Ramp,
    Rule,
    Tick,
    Tile,
    hour_ticks,
    round_ticks,
    temp_ticks,
)
from planner.app.common.scale import Scale
from planner.app.common.svg import chart_svg
from planner.app.common.wording import NO_STOP_BELOW_MIN, clock_text, duration_text
from planner.app.plan.results import TYPICAL, Plan
from planner.app.standing.reserve import Reserve
from planner.app.standing.tipping import TippingAt
from planner.model.records import Bools, Floats
from planner.units import METRIC, UnitSystem
from planner.words import say

TYPICAL_BEES, AGITATED_BEES = 0, 1
LEAST_TOP_S = 2 * 3600.0
"""A lane stands for at least so long, so that a long reserve does not look short."""
LANE, FOOT = 0.84, 0.12
"""Share of a lane that its longest reserve takes, and that the strip for agitated bees takes at its foot."""
MOST_KM = 6
HEIGHT_OF_MADE = 2.2
"""The scale of watts reaches this many times the heat made, so that the crossing stands in the middle."""


# -- the reserve ---------------------------------------------------------------------------------------


def reserve_svg(plan: Plan, found: Reserve, units: UnitSystem = METRIC) -> str:
    """The chart on paper, read at the worst spot."""
    return chart_svg(reserve_chart(plan, found, units), 960.0, 130.0 + 62.0 * len(found.variants))


def reserve_chart(plan: Plan, found: Reserve, units: UnitSystem = METRIC) -> Chart:
    """One lane for each way to stand: the usual time left as area, the least dashed and at foot."""
    lanes, zone = len(found.variants), plan.trip.origin.zone
    first_s, last_s = float(found.time_s[0]), float(found.time_s[-1])
    scale, worst = reserve_scale(found), worst_moment(found)
    marks: list[Mark] = [mark for lane in range(lanes) for mark in _lane(found, lane, scale)]
    marks += [Rule(lane + 1.0, "y", "line") for lane in range(lanes)]
    if worst is not None:
        marks.append(Pointer(float(found.time_s[worst]), "harm", "worst spot"))
    hours = tuple(f"{mark / 3600.0:g} h" for mark in scale.marks)
    return Chart(
        title=told(found, "standing.lanes_by_bees", "standing.lanes_by_variants"),
        x=Axis(first_s, last_s, (hour_ticks(first_s, last_s, zone), _km_ticks(found, units))),
        y=Axis(
            float(lanes),
            0.0,
            (tuple(Tick(v + 0.5, one.titled(units)) for v, one in enumerate(found.variants)),),
        ),
        marks=tuple(marks),
        columns=reserve_columns(found, worst or 0),
        legend=(Ramp(scale, hours, "left until something must be done"),),
    )


def told(found: Reserve, by_bees: str, by_variants: str, **gaps: object) -> str:
    """The sentence of two that fits what the reserve tells of: bees of different temper, or samples."""
    return say(by_variants if found.samples else by_bees, **gaps)


def reserve_scale(found: Reserve) -> Scale:
    """Time left in seconds, the shorter the deeper; a lane is as high as its far end."""
    known = found.after_s[np.isfinite(found.after_s)]
    whole_s = 3600.0 * float(np.ceil(known.max(initial=0.0) / 3600.0))
    top_s = min(max(whole_s, LEAST_TOP_S), found.horizon_s)
    return Scale(top_s, 0.0, (0.0, top_s / 2.0, top_s))


def worst_moment(found: Reserve) -> int | None:
    """Where standing is worst with typical bees, with agitated ones where those may stand for ever."""
    worst = found.worst(0, TYPICAL_BEES)
    return found.worst(0, AGITATED_BEES) if worst is None else worst


def reserve_columns(found: Reserve, moment: int) -> tuple[Column, Column]:
    """What each lane says at one moment."""
    usual = told(found, "standing.usual_by_bees", "standing.usual_by_variants")
    least = told(found, "standing.least_by_bees", "standing.least_by_variants")
    return (
        Column(usual, _readings(found, moment, TYPICAL_BEES, strong=True)),
        Column(least, _readings(found, moment, AGITATED_BEES, strong=False)),
    )


def _readings(found: Reserve, moment: int, agitation: int, *, strong: bool) -> tuple[Tick, ...]:
    spans = (found.shortest_s(v, agitation)[moment] for v in range(len(found.variants)))
    return tuple(
        Tick(v + 0.5, left_text(float(left_s), found.horizon_s), strong) for v, left_s in enumerate(spans)
    )


def left_text(seconds: float, horizon_s: float) -> str:
    """A reserve in words: hours and minutes, beyond the horizon, not known; too short, in the words of the sheets."""
    if np.isnan(seconds):
        return "not known"
    if np.isinf(seconds):
        return f"over {duration_text(horizon_s)}"
    if seconds < 60.0 * NO_STOP_BELOW_MIN:
        return say("sheets.do_not_stop")
    return duration_text(seconds - seconds % 60.0)


def _lane(found: Reserve, lane: int, scale: Scale) -> Iterator[Mark]:
    typical, agitated = (np.minimum(found.shortest_s(lane, bees), scale.first) for bees in (0, 1))
    base = lane + 1.0
    ends = np.append(found.time_s[1:], found.time_s[-1]).tolist()
    rows = zip(found.time_s.tolist(), ends, typical.tolist(), scale.steps(typical).tolist(), strict=True)
    for left, right, left_s, step in rows:
        if step >= 0:
            yield Tile(left, right, base, base - LANE * left_s / scale.first, step)
        else:
            yield Tile(left, right, base, base - LANE, "unknown", 0.35, hatched=True)
    for left, right, step in zip(found.time_s.tolist(), ends, scale.steps(agitated).tolist(), strict=True):
        if step >= 0:
            yield Tile(left, right, base, base - FOOT, step)
    yield Line(found.time_s, base - LANE * agitated / scale.first, "ink", 1.3, "5 3")


def _km_ticks(found: Reserve, units: UnitSystem) -> tuple[Tick, ...]:
    """Distances along the road under the clock."""
    moments = np.linspace(0, found.time_s.size - 1, min(MOST_KM, found.time_s.size)).round().astype(int)
    return tuple(Tick(float(found.time_s[m]), units.distance_text(float(found.km[m]))) for m in moments)


# -- the tipping point ---------------------------------------------------------------------------------


def tipping_svg(plan: Plan, at: TippingAt, group: int | None = None, units: UnitSystem = METRIC) -> str:
    """The chart on paper, of the group with the least headroom where none is named."""
    return chart_svg(tipping_chart(plan, at, at.tightest() if group is None else group, units), 760.0, 420.0)


def tipping_chart(plan: Plan, at: TippingAt, group: int, units: UnitSystem = METRIC) -> Chart:
    """Heat made against the most that can be lost over core temperature, of one group's box with typical bees."""
    made, lost = at.made_w[:, TYPICAL, group], at.lost_w[:, TYPICAL, group]
    low_w, high_w = _watts_span(made, lost)
    low_c, high_c = float(at.core_c[0]), float(at.core_c[-1])
    watts = tuple(Tick(value, f"{value:.0f}") for value in round_ticks(low_w, high_w))
    when = clock_text(at.time_s, plan.trip.origin.zone)
    return Chart(
        title=say("standing.one_box_of_dotted", groups=f"{at.groups[group]}", when=when),
        x=Axis(
            low_c,
            high_c,
            (temp_ticks(low_c, high_c, units),),
            say("standing.core_temperature", temp_unit=f"{units.temp_unit}"),
        ),
        y=Axis(low_w, high_w, (watts,), "W", grid=True),
        marks=(
            *_headroom(at.core_c, made, lost),
            *(Line(at.core_c, at.made_w[:, bees, group], "core", 1.0, "2 3") for bees in (0, 2)),
            Line(at.core_c, lost, "stores", 2.2, name="can be lost"),
            Line(at.core_c, made, "core", 2.4, name="heat made"),
            *_now(at, group),
            *_balance_points(at, group, units),
        ),
    )


def _watts_span(made: Floats, lost: Floats) -> tuple[float, float]:
    top = float(np.nanmax(made, initial=1.0)) * HEIGHT_OF_MADE
    seen = lost[np.isfinite(lost)]
    most, least = float(seen.max(initial=top / HEIGHT_OF_MADE)), float(seen.min(initial=0.0))
    return min(0.0, max(least, -top)), min(most, top) * 1.08


def _headroom(core_c: Floats, made: Floats, lost: Floats) -> Iterator[Band]:
    """Pale where more can be lost than is made, red where the core warms."""
    spare = np.asarray(lost >= made)
    for where, colour in ((_and_neighbours(spare), "stores"), (_and_neighbours(~spare), "harm")):
        low, high = np.minimum(made, lost), np.maximum(made, lost)
        yield Band(core_c, np.where(where, low, np.nan), np.where(where, high, np.nan), colour, 0.14)


def _and_neighbours(flags: Bools) -> Bools:
    """Flags with the one before each, so that areas meet where lines cross."""
    return np.asarray(flags | np.append(flags[1:], False))


def _now(at: TippingAt, group: int) -> Iterator[Rule]:
    now_c = float(at.now_c[TYPICAL, group])
    if at.core_c[0] <= now_c <= at.core_c[-1]:
        yield Rule(now_c, "x", "ink_soft", 1.0, "4 3", "now")


def _balance_points(at: TippingAt, group: int, units: UnitSystem) -> Iterator[Dot]:
    """The stable point as a full dot, the tipping point as a hollow one."""
    points = at.equilibria
    for word, temps, hollow in (("settles", points.stable_c, False), ("tips", points.unstable_c, True)):
        temp_c = float(temps[TYPICAL, group])
        if temp_c > at.core_c[0]:
            watts = float(np.interp(temp_c, at.core_c, at.made_w[:, TYPICAL, group]))
            yield Dot(temp_c, watts, hollow, f"{word} {units.temp_text(temp_c)}")
