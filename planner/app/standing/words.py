"""How far the edge is, in words, tables and documents: standstill reserve, delays and tipping point."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from planner.app.common.cautions import ALWAYS
from planner.app.common.timetext import utc_text
from planner.app.common.wording import JSON_AGITATIONS, Said, clock_text, duration_text, heat_doubt, numbers
from planner.app.plan.results import AGITATIONS, LEVELS, TYPICAL, Plan
from planner.app.plan.words import choice_text
from planner.app.standing.delays import Delayed
from planner.app.standing.reserve import CAUSES, Reserve
from planner.app.standing.tipping import HeadroomAlong, TippingAt
from planner.model.catalogue import Catalogue
from planner.model.ways import likely_ways
from planner.units import METRIC, UnitSystem
from planner.words import say

ROW_S, LEAST_S = 1800.0, 60.0
"""Time from row to row of the table, and what is less than can be told."""

AGITATED_LEVEL = 1
TABLE_HEADS = (
    "Along the road (minutes; in brackets with agitated bees)",
    "Along the road (minutes of half the variants; in brackets those that 5 of 100 variants fall short of)",
)
EVEN_SHORTEST = (
    "{where}: wherever it stops, even agitated bees have more than {span}.",
    "{where}: wherever it stops, 95 of 100 variants that go well without a stop have more than {span}.",
)
WORST_SPOT = (
    "{where}: the worst spot to stand is {spot}: {usual} to the action level, {least} with agitated bees "
    "({group} first).",
    "{where}: the worst spot to stand is {spot}: {usual} to the action level in half the variants, {least} "
    "in 5 of 100 ({group} first).",
)
"""Sentences by whether the figures come from calm, typical and agitated bees, or from samples."""

CAUSE_WORDS = {
    "core": "the brood nest gets too hot",
    "comb": "stores comb softens",
    "dose": "time in the heat does harm",
}


# -- standstill reserve --------------------------------------------------------------------------------


def reserve_words(
    plan: Plan,
    found: Reserve,
    catalogue: Catalogue,
    delays: Sequence[Delayed] = (),
    units: UnitSystem = METRIC,
) -> Said:
    """The standstill reserve for people: the worst spot first, then a table along the road."""
    before_k = catalogue.parameters.rows["action_before_danger_k"].value
    return Said(
        _reserve_headline(plan, found, units),
        (
            (
                TABLE_HEADS[bool(found.samples)],
                tuple(_reserve_rows(plan, found, units)),
            ),
            ("If it happens", tuple(_delay_line(each, units) for each in delays)),
            (
                "What this means",
                (
                    say("standing.action_level_short_of", before_k=units.step_text(before_k)),
                    "Each figure: stop here now, the weather goes on, nothing else is done.",
                    heat_doubt(catalogue.parameters),
                    *(_sampled_lines(found) if found.samples else ()),
                    *((say("standing.likeliest_way"),) if len(likely_ways(plan.trip)) > 1 else ()),
                    "Plan with the figures in brackets.",
                ),
            ),
            ("Cautions", ALWAYS),
        ),
    )


def _sampled_lines(found: Reserve) -> tuple[str, ...]:
    """What figures of samples leave out, as many as there are."""
    gaps = {"harmed": found.harmed, "samples": found.samples}
    left_out = "standing.all_harmed" if found.harmed == found.samples else "standing.left_out"
    return (say("standing.nought"), *((say(left_out, **gaps),) if found.harmed else ()))


def _reserve_headline(plan: Plan, found: Reserve, units: UnitSystem) -> str:
    where = choice_text(plan, found.choice)
    usual, agitated = found.worst(0, TYPICAL_LEVEL), found.worst(0, AGITATED_LEVEL)
    if np.isnan(found.shortest_s()).all():
        return say("standing.cannot_say_for_the", where=where)
    if agitated is None:
        return EVEN_SHORTEST[bool(found.samples)].format(where=where, span=_span(found.horizon_s))
    if usual is None:
        usual_text = say("standing.more_than", horizon_s=f"{_span(found.horizon_s)}")
        spot = agitated
    else:
        usual_text, spot = _span(float(found.shortest_s(0, TYPICAL_LEVEL)[usual])), usual
    least = float(found.shortest_s(0, AGITATED_LEVEL)[agitated])
    group = found.groups[found.first_group(spot, 0, TYPICAL_LEVEL if usual is not None else AGITATED_LEVEL)]
    return WORST_SPOT[bool(found.samples)].format(
        where=where,
        spot=spot_text(plan, found, spot, units),
        usual=usual_text,
        least=_span(least)
        if not found.samples or least < LEAST_S
        else say("standing.less_than", span=_span(least)),
        group=group,
    )


TYPICAL_LEVEL = 0


def spot_text(plan: Plan, found: Reserve, moment: int, units: UnitSystem = METRIC) -> str:
    """Where and when a moment is, e.g. ``km 87, between Oak Farm and Mill Inn, Saturday 09:45``."""
    km = plan.road.km[list(plan.road.waypoint_vertex)]
    names = [site.name for site in plan.trip.waypoints]
    after = int(np.searchsorted(km, found.km[moment] - 1e-6))
    here = min(after, len(names) - 1)
    at_waypoint = abs(km[here] - found.km[moment]) < 0.2
    between = (
        f"at {names[here]}"
        if at_waypoint
        else say("standing.between_and", names=f"{names[here - 1]}", names_2=f"{names[here]}")
    )
    when = clock_text(float(found.time_s[moment]), plan.trip.origin.zone)
    return f"{between}, {units.distance_text(float(found.km[moment]))}, {when}"


def _reserve_rows(plan: Plan, found: Reserve, units: UnitSystem) -> list[str]:
    heads = ["time", units.distance_unit, *(variant.titled(units) for variant in found.variants)]
    step = max(1, round(ROW_S / float(np.diff(found.time_s[:2])[0]))) if found.time_s.size > 1 else 1
    picked = sorted({*range(0, found.time_s.size, step), *_notable(found)})
    rows = [
        [
            clock_text(float(found.time_s[m]), plan.trip.origin.zone).split()[-1],
            units.distance_text(float(found.km[m])).split()[0],
            *(
                f"{_minutes(found, m, v, TYPICAL_LEVEL)} ({_minutes(found, m, v, AGITATED_LEVEL)})"
                for v in range(len(found.variants))
            ),
        ]
        for m in picked
    ]
    width = [max(len(row[i]) for row in (heads, *rows)) for i in range(len(heads))]
    return ["  ".join(cell.rjust(w) for cell, w in zip(row, width, strict=True)) for row in (heads, *rows)]


def _notable(found: Reserve) -> set[int]:
    worst = (found.worst(0, agitation) for agitation in (TYPICAL_LEVEL, AGITATED_LEVEL))
    return {moment for moment in worst if moment is not None}


def _minutes(found: Reserve, moment: int, variant: int, agitation: int) -> str:
    seconds = float(found.shortest_s(variant, agitation)[moment])
    if np.isnan(seconds):
        return "?"
    return f">{found.horizon_s / 60:.0f}" if np.isinf(seconds) else f"{np.floor(seconds / 60.0):.0f}"


def _span(seconds: float) -> str:
    if np.isinf(seconds):
        return "no limit found"
    return (
        say("standing.nothing_left") if seconds < LEAST_S else duration_text(np.floor(seconds / 60.0) * 60.0)
    )


def _delay_line(each: Delayed, units: UnitSystem) -> str:
    calm, typical, agitated = (units.temp_text(t, 1, unit=False) for t in each.peak_c)
    before = units.temp_text(each.peak_before_c[TYPICAL])
    return say(
        "standing.at_peak_instead_of",
        title=f"{each.delay.kind.title}",
        lasts_s=f"{duration_text(each.delay.lasts_s)}",
        at_km=units.distance_text(each.delay.at_km),
        typical=f"{typical}",
        calm=f"{calm}",
        agitated=f"{agitated}",
        temp_unit=f"{units.temp_unit}",
        before=f"{before}",
        levels=f"{LEVELS[each.level]}",
        levels_2=f"{LEVELS[each.level_before]}",
        levels_3=f"{LEVELS[each.level_agitated]}",
    )


def reserve_document(plan: Plan, found: Reserve, delays: Sequence[Delayed] = ()) -> dict[str, Any]:
    """The standstill reserve for machines: seconds; null when unknown, beyond the horizon marked apart."""
    return {
        "skepway_reserve": 1,
        "candidate": _candidate(plan, found.choice),
        "horizon_s": found.horizon_s,
        "draws": found.samples,
        "harmed_anyway": found.harmed,
        "variants": [variant.name for variant in found.variants],
        "tempers": [JSON_AGITATIONS[name] for name in found.agitations],
        "groups": list(found.groups),
        "worst": {
            JSON_AGITATIONS[name]: _moment(found, found.worst(0, i))
            for i, name in enumerate(found.agitations)
        },
        "moments": [
            {
                **_where(found, m),
                "beyond_horizon": np.isinf(found.after_s[m]).tolist(),
                "after_s": numbers(found.after_s[m]),
                "cause": [
                    [[CAUSES[c] if c >= 0 else None for c in row] for row in table]
                    for table in found.cause[m].tolist()
                ],
            }
            for m in range(found.time_s.size)
        ],
        "delays": [
            {
                "kind": each.delay.kind.name,
                "at_km": each.delay.at_km,
                "lasts_s": each.delay.lasts_s,
                "peak_core_c": numbers(np.array(each.peak_c)),
                "peak_core_before_c": numbers(np.array(each.peak_before_c)),
                "level": LEVELS[each.level],
                "level_disturbed": LEVELS[each.level_agitated],
                "level_before": LEVELS[each.level_before],
            }
            for each in delays
        ],
    }


def _where(found: Reserve, m: int) -> dict[str, Any]:
    place = {name: round(float(getattr(found, name)[m]), 6) for name in ("km", "lat_deg", "lon_deg")}
    return {"time": utc_text(float(found.time_s[m])), **place}


def _moment(found: Reserve, m: int | None) -> dict[str, Any] | None:
    return None if m is None else _where(found, m)


def _candidate(plan: Plan, choice: Any) -> dict[str, str]:
    return {
        "departure": utc_text(float(plan.departures_s[choice.departure])),
        "place": plan.loading_places[choice.loading_place],
        "setup": plan.setups[choice.setup],
    }


# -- tipping point -------------------------------------------------------------------------------------


def tipping_words(plan: Plan, at: TippingAt, along: HeadroomAlong | None, units: UnitSystem = METRIC) -> Said:
    """The tipping point for people: the tightest box first."""
    tight = at.tightest()
    group = f", {at.groups[tight]}" if len(at.groups) > 1 else ""
    return Said(
        f"{choice_text(plan, at.choice)}, {clock_text(at.time_s, plan.trip.origin.zone)}{group}: "
        + _tipping_line(at, TYPICAL, tight, units),
        (
            (
                "Every box at this moment",
                tuple(line for g in range(len(at.groups)) for line in _group_lines(at, g, units)),
            ),
            ("Along the trip", tuple(_along_lines(plan, along))),
            (
                "What this means",
                (say("standing.as_if_it_lasted"), say("standing.what_it_bears")),
            ),
            ("Cautions", ALWAYS),
        ),
    )


def _group_lines(at: TippingAt, group: int, units: UnitSystem) -> list[str]:
    """A group with calm, typical and agitated bees; in one line where nothing is known of any."""
    if np.isnan(at.equilibria.headroom_w[:, group]).all():
        return [f"{at.groups[group]}: {say('standing.not_shut_then')}"]
    return [
        f"{at.groups[group]}, {agitation} bees: {_tipping_line(at, b, group, units)}"
        for b, agitation in enumerate(AGITATIONS)
    ]


def _tipping_line(at: TippingAt, agitation: int, group: int, units: UnitSystem) -> str:
    found = at.equilibria
    stable, unstable = float(found.stable_c[agitation, group]), float(found.unstable_c[agitation, group])
    watts, kelvin = float(found.headroom_w[agitation, group]), float(found.headroom_k[agitation, group])
    if np.isnan(watts):
        return say("standing.not_shut_then")
    if np.isnan(stable):
        return say("standing.no_balance_at_least", value=f"{-watts:.0f}")
    lowest = stable <= at.core_c[0]
    rest = say("standing.or_cooler", stable=units.temp_text(stable)) if lowest else units.temp_text(stable)
    tips = (
        say("standing.tips_at", unstable=units.temp_text(unstable))
        if np.isfinite(unstable)
        else say("standing.no_tipping_point_up", core_c=units.temp_text(float(at.core_c[-1]), 0))
    )
    if watts < 0.0:
        return say("standing.settles_too_hot", rest=rest, tips=tips, watts=f"{-watts:.0f}")
    warmer = (
        say("standing.warmer_outside", step=units.step_text(kelvin, 0))
        if np.isfinite(kelvin)
        else say("standing.any_weather")
    )
    return say("standing.settles_and_bears", rest=rest, tips=tips, watts=f"{watts:.0f}", warmer=warmer)


def _along_lines(plan: Plan, along: HeadroomAlong | None) -> list[str]:
    if along is None:
        return []
    lines = []
    for b, agitation in enumerate(AGITATIONS):
        moment = along.tightest(b)
        if moment is not None:
            watts = float(np.nanmin(along.headroom_w[moment, b]))
            when = clock_text(float(along.time_s[moment]), plan.trip.origin.zone)
            lines.append(
                say(
                    "standing.bees_too_hot" if watts < 0.0 else "standing.bees_bear_least",
                    agitation=agitation,
                    watts=f"{abs(watts):.0f}",
                    when=when,
                )
            )
    return lines


def tipping_document(plan: Plan, at: TippingAt, along: HeadroomAlong | None) -> dict[str, Any]:
    """The tipping point for machines; axes (agitation, group), curves (temp, agitation, group)."""
    equilibria = {
        name: numbers(getattr(at.equilibria, name)) for name in type(at.equilibria).__dataclass_fields__
    }
    document: dict[str, Any] = {
        "skepway_tipping": 1,
        "candidate": _candidate(plan, at.choice),
        "time": utc_text(at.time_s),
        "tempers": [JSON_AGITATIONS[name] for name in AGITATIONS],
        "groups": list(at.groups),
        "now_c": numbers(at.now_c),
        **equilibria,
        "curve": {name: numbers(getattr(at, name)) for name in ("core_c", "made_w", "lost_w")},
    }
    if along is not None:
        document["along"] = {
            "time": [utc_text(float(t)) for t in along.time_s],
            **{
                name: numbers(getattr(along, name)) for name in ("km", "stable_c", "unstable_c", "headroom_w")
            },
        }
    return document
