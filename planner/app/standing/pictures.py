"""Pictures of how far the edge is: the reserve along the road, and heat made against heat lost."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from planner.app.common.svg import ACCENT, BLUE, FAINT, INK, Plot, clock_ticks, line, svg, text
from planner.app.common.wording import clock_text
from planner.app.plan.results import TYPICAL, Plan
from planner.app.standing.reserve import Reserve
from planner.app.standing.tipping import TippingAt
from planner.units import METRIC, UnitSystem

VARIANT_STYLE = {
    "shut": (ACCENT, "", 2.6),
    "doors": (BLUE, "", 1.8),
    "shade": ("#7d5a00", "6 3", 1.8),
    "misted": ("#3f7f4f", "2 3", 2.0),
    "engine": ("#5b4b8a", "9 3 2 3", 1.8),
}
LABEL_GAP = 14.0
WATT_STEPS = (5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0)


def reserve_svg(plan: Plan, found: Reserve, units: UnitSystem = METRIC, width: int = 960) -> str:
    """Minutes to the action level along the trip: thick for usual bees, faint for agitated ones."""
    top_min = found.horizon_s / 60.0
    span = float(found.time_s[0]), float(found.time_s[-1])
    plot = Plot(64, 44, width - 260, 280, span, (0.0, top_min))
    body = [plot.frame()]
    hours = list(np.arange(0.0, top_min + 1.0, 60.0))
    body.extend(plot.y_ticks(hours, [f"{minutes:.0f}" for minutes in hours], "min"))
    body.extend(plot.x_ticks(*clock_ticks(*span, plan.trip.origin.zone)))
    body.extend(_km_ticks(found, plot, units))
    ends: list[tuple[float, str, str]] = []
    for v, variant in enumerate(found.variants):
        colour, dash, stroke = VARIANT_STYLE[variant.name]
        for agitation, thinner in ((1, 0.5), (0, 1.0)):
            minutes = np.minimum(found.shortest_s(v, agitation) / 60.0, top_min)
            body.append(plot.curve(found.time_s, minutes, colour, stroke * thinner, dash))
            if agitation == 0 and np.isfinite(minutes[-1]):
                ends.append((plot.up(float(minutes[-1])), variant.title, colour))
    body.extend(_labels(ends, plot.left + plot.width + 8))
    worst = found.worst()
    if worst is not None:
        x, y = plot.across(float(found.time_s[worst])), plot.up(float(found.shortest_s()[worst]) / 60.0)
        body.append(
            f"<circle cx='{x:.1f}' cy='{y:.1f}' r='5' fill='none' stroke='{INK}' stroke-width='1.6'/>"
        )
        body.append(text(x + 8, y - 16, "worst spot", size=11))
    title = "Minutes from stopping to the action level (thin: agitated bees)"
    body.append(text(64, 22, title, size=13, bold=True))
    return svg(width, 392, body, "Standstill reserve")


def _km_ticks(found: Reserve, plot: Plot, units: UnitSystem) -> Iterator[str]:
    """Distances along the road under the clock."""
    for m in np.linspace(0, found.time_s.size - 1, min(9, found.time_s.size)).round().astype(int):
        x = plot.across(float(found.time_s[m]))
        words = units.distance_text(float(found.km[m]))
        yield text(x, plot.top + plot.height + 34, words, anchor="middle", size=10, colour=FAINT)


def _labels(ends: list[tuple[float, str, str]], x: float) -> Iterator[str]:
    """Names at the ends of curves, pushed apart."""
    floor = -np.inf
    for y, name, colour in sorted(ends):
        floor = max(y, floor + LABEL_GAP)
        yield text(x, floor + 4, name, size=11, colour=colour)


def tipping_svg(
    plan: Plan, at: TippingAt, group: int | None = None, units: UnitSystem = METRIC, width: int = 760
) -> str:
    """Heat made against the most that can be lost over core temperature, of one group's box with typical bees."""
    g = at.tightest() if group is None else group
    made, lost = at.made_w[:, TYPICAL, g], at.lost_w[:, TYPICAL, g]
    known = np.concatenate((at.made_w[:, :, g].ravel(), np.minimum(lost, 2.0 * np.nanmax(made))))
    high = float(np.nanmax(known, initial=10.0)) * 1.08
    plot = Plot(64, 44, width - 190, 300, (float(at.core_c[0]), float(at.core_c[-1])), (0.0, high))
    step_w = next((step for step in WATT_STEPS if high / step <= 7.0), WATT_STEPS[-1])
    watts = list(np.arange(0.0, high, step_w))
    temps = list(np.arange(at.core_c[0], at.core_c[-1] + 0.1, 2.0))
    body = [plot.frame()]
    body.extend(plot.y_ticks(watts, [f"{w:.0f}" for w in watts], "W"))
    body.extend(plot.x_ticks(temps, [f"{units.temp(t):.0f}" for t in temps]))
    for agitation in (0, 2):
        body.append(plot.curve(at.core_c, at.made_w[:, agitation, g], ACCENT, 1.0, "2 3"))
    body.append(plot.curve(at.core_c, made, ACCENT, 2.6))
    body.append(plot.curve(at.core_c, lost, BLUE, 2.6))
    body.extend(_points(at, g, plot, units))
    ends = [
        (plot.up(float(np.clip(made[-1], 0.0, high))), "heat made", ACCENT),
        (plot.up(float(np.clip(lost[-1], 0.0, high))), "heat that can be lost", BLUE),
    ]
    body.extend(_labels([end for end in ends if np.isfinite(end[0])], plot.left + plot.width + 8))
    now = float(at.now_c[TYPICAL, g])
    if plot.x_span[0] <= now <= plot.x_span[1]:
        x = plot.across(now)
        body.append(line(x, plot.top, x, plot.top + plot.height, INK, 1.0, "4 3"))
        body.append(text(x + 4, plot.top + 12, "now", size=10, colour=FAINT))
    when = clock_text(at.time_s, plan.trip.origin.zone)
    body.append(
        text(64, 22, f"One box of {at.groups[g]}, {when}; dotted: calm, agitated", size=13, bold=True)
    )
    foot = f"core temperature, {units.temp_unit}"
    body.append(text(plot.left + plot.width / 2, 392, foot, anchor="middle", size=11, colour=FAINT))
    return svg(width, 404, body, "Tipping point")


def _points(at: TippingAt, group: int, plot: Plot, units: UnitSystem) -> Iterator[str]:
    """The stable point as a full dot, the tipping point as a ring."""
    for name, temp_c, fill in (
        ("settles", float(at.equilibria.stable_c[TYPICAL, group]), INK),
        ("tips", float(at.equilibria.unstable_c[TYPICAL, group]), "#ffffff"),
    ):
        if np.isnan(temp_c) or temp_c <= at.core_c[0]:
            continue
        height = float(np.interp(temp_c, at.core_c, at.made_w[:, TYPICAL, group]))
        x, y = plot.across(temp_c), plot.up(height)
        yield f"<circle cx='{x:.1f}' cy='{y:.1f}' r='5' fill='{fill}' stroke='{INK}' stroke-width='1.6'/>"
        yield text(x + 8, y + 16, f"{name} {units.temp_text(temp_c)}", size=11)
