"""Pictures of a plan as SVG text, for reports and the command line: the departure board and the heat curves.

Harm is told by shape as well as by colour.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from planner.app.common.scale import SHADES, STEPS, WARMTH_C, ink_on
from planner.app.common.svg import ACCENT, BLUE, FAINT, GRID, INK, PAPER, clock_ticks, line, svg, text
from planner.app.common.wording import local
from planner.app.plan.results import HARM, TYPICAL, UNKNOWN, Choice, Curves, Plan
from planner.model.records import Floats
from planner.units import METRIC, UnitSystem

UNKNOWN_FILL = "#c9ced4"


def board_svg(plan: Plan, chosen: Choice, units: UnitSystem = METRIC, width: int = 960) -> str:
    """Departures across, loading places down, coloured by the hottest box's peak with the chosen set-up."""
    left, top, cell_h = 290, 34, 26
    n_dep, n_place = plan.departures_s.size, len(plan.loading_places)
    cell_w = (width - left - 16) / n_dep
    height = top + n_place * cell_h + 72
    body: list[str] = []
    for k in range(n_place):
        y = top + k * cell_h
        body.append(text(left - 10, y + 17, plan.loading_place_titles[k], anchor="end", size=12))
        for d in range(n_dep):
            body.append(_cell(plan, Choice(d, k, chosen.setup), left + d * cell_w, y, cell_w, cell_h))
    x, y = left + chosen.departure * cell_w, top + chosen.loading_place * cell_h
    body.append(
        f"<rect x='{x - 1:.1f}' y='{y - 1:.1f}' width='{cell_w + 1:.1f}' height='{cell_h + 1}' fill='none' "
        f"stroke='{ACCENT}' stroke-width='2.5' rx='3'/>"
    )
    body.extend(_hour_marks(plan.departures_s, plan.trip.origin.zone, left, cell_w, top + n_place * cell_h))
    body.append(
        text(
            left,
            20,
            f"Peak of the hottest box by departure, {plan.setup_titles[chosen.setup]}",
            size=13,
            bold=True,
        )
    )
    body.extend(_scale(left, height - 22, units))
    return svg(width, height, body, "Departure board")


def _cell(plan: Plan, choice: Choice, x: float, y: float, w: float, h: float) -> str:
    peak, level = plan.peak_c(choice)[TYPICAL], plan.worst_level(choice)
    fill = UNKNOWN_FILL if level == UNKNOWN else WARMTH_C.colour(peak) or UNKNOWN_FILL
    rect = (
        f"<rect x='{x:.1f}' y='{y:.1f}' width='{max(w - 1, 1):.1f}' height='{h - 1}' fill='{fill}' rx='2'/>"
    )
    cx, cy, r = x + w / 2 - 0.5, y + h / 2, min(w, h) * 0.24
    if level == HARM:
        r = max(r, 2.5)
        cross = (line(cx - r, cy - side * r, cx + r, cy + side * r, ink_on(fill), 1.6) for side in (1, -1))
        return rect + "".join(cross)
    if level == UNKNOWN:
        return rect + text(cx, cy + 4, "?", anchor="middle", size=11)
    if level > 0:
        spot = f"<circle cx='{cx:.1f}' cy='{cy:.1f}' r='{max(r * 0.6, 1.8):.1f}'"
        return f"{rect}{spot} fill='{PAPER}' stroke='{INK}' stroke-width='0.8'/>"
    return rect


def _hour_marks(times: Floats, zone: str, left: float, cell_w: float, y: float) -> Iterator[str]:
    every = max(1, int(np.ceil(46 / cell_w)))
    day = ""
    for d in range(0, times.size, every):
        at = local(float(times[d]), zone)
        x = left + d * cell_w + cell_w / 2
        yield text(x, y + 14, f"{at:%H:%M}", anchor="middle", size=10, colour=FAINT)
        if f"{at:%a}" != day:
            day = f"{at:%a}"
            yield text(x, y + 27, f"{at:%a} {at.day}", anchor="middle", size=10, bold=True)


def _scale(left: float, y: float, units: UnitSystem) -> Iterator[str]:
    for i, shade in enumerate(SHADES):
        yield f"<rect x='{left + i * 3:.1f}' y='{y - 8}' width='3.2' height='8' fill='{shade}'/>"
    for temp in WARMTH_C.marks:
        x = left + (temp - WARMTH_C.first) / (WARMTH_C.last - WARMTH_C.first) * STEPS * 3
        yield text(x, y + 12, units.temp_text(temp, 0), anchor="middle", size=10, colour=FAINT)
    yield text(left + STEPS * 3 + 40, y, "o caution     x harm     ? no weather", size=11, colour=FAINT)


def curves_svg(
    plan: Plan, curves: Curves, units: UnitSystem = METRIC, width: int = 960, height: int = 380
) -> str:
    """Temperatures in the hottest box of the chosen candidate, calm to agitated, with outside air and phases."""
    frame = _Frame(curves, units, 60, 34, width - 150, height - 92)
    group = _hottest_group(curves)
    body = list(frame.phases())
    body.extend(frame.limits())
    body.append(frame.band(curves.core_c[:, 0, group], curves.core_c[:, -1, group], ACCENT))
    body.append(frame.line(curves.core_c[:, TYPICAL, group], ACCENT, 2.4))
    ends = [(curves.core_c[:, TYPICAL, group], "core", ACCENT)]
    if not np.isnan(curves.stores_c[:, TYPICAL, group]).all():
        body.append(frame.line(curves.stores_c[:, TYPICAL, group], "#7d5a00", 1.8, "6 3"))
        ends.append((curves.stores_c[:, TYPICAL, group], "stores comb", "#7d5a00"))
    body.append(frame.line(curves.local_c[:, TYPICAL, group], BLUE, 1.4, "2 3"))
    body.append(frame.line(curves.outside_c, BLUE, 1.6))
    ends += [
        (curves.local_c[:, TYPICAL, group], "air at the box", BLUE),
        (curves.outside_c, "outside air", BLUE),
    ]
    body.extend(frame.end_labels(ends))
    body.extend(frame.axes(plan.trip.origin.zone))
    label = plan.trip.groups[group].label
    body.append(
        text(60, 20, f"Inside the hottest box ({label}); band from calm to agitated bees", size=13, bold=True)
    )
    return svg(width, height, body, "Temperature curves")


def _hottest_group(curves: Curves) -> int:
    peaks = np.nan_to_num(curves.core_c[:, TYPICAL], nan=-np.inf).max(axis=0)
    return int(np.argmax(peaks))


PHASE_FILL = {
    "waiting": "#eef1f4",
    "loading": "#e2e7ec",
    "driving": "#ffffff",
    "stop": "#e2e7ec",
    "settling": "#eef1f4",
}


class _Frame:
    """A plotting frame: time across, temperature up."""

    def __init__(self, curves: Curves, units: UnitSystem, x: float, y: float, w: float, h: float) -> None:
        self._c, self._units = curves, units
        self._x, self._y, self._w, self._h = x, y, w, h
        seen = np.concatenate(
            [curves.core_c.ravel(), curves.outside_c, curves.local_c.ravel(), curves.stores_c.ravel()]
        )
        known = seen[~np.isnan(seen)]
        low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 40.0)
        self._low = float(np.floor(low / 5.0) * 5.0)
        self._high = float(np.ceil((max(high, 41.0)) / 5.0) * 5.0)
        self._t0, self._t1 = float(curves.time_s[0]), float(curves.time_s[-1])

    def at(self, time_s: float) -> float:
        return self._x + (time_s - self._t0) / max(self._t1 - self._t0, 1.0) * self._w

    def up(self, temp_c: float) -> float:
        return self._y + self._h - (temp_c - self._low) / (self._high - self._low) * self._h

    def line(self, values: Floats, colour: str, stroke: float, dash: str = "") -> str:
        path = "".join(self._pieces(values))
        dashed = f" stroke-dasharray='{dash}'" if dash else ""
        return f"<path d='{path}' fill='none' stroke='{colour}' stroke-width='{stroke}'{dashed}/>"

    def _pieces(self, values: Floats) -> Iterator[str]:
        every = max(1, values.size // 600)
        pen_down = False
        for i in range(0, values.size, every):
            if np.isnan(values[i]):
                pen_down = False
                continue
            yield f"{'L' if pen_down else 'M'}{self.at(float(self._c.time_s[i])):.1f} {self.up(float(values[i])):.1f}"
            pen_down = True

    def band(self, low: Floats, high: Floats, colour: str) -> str:
        known = np.flatnonzero(~np.isnan(low) & ~np.isnan(high))
        known = known[:: max(1, known.size // 600)]
        forth = [f"{self.at(float(self._c.time_s[i])):.1f},{self.up(float(high[i])):.1f}" for i in known]
        back = [f"{self.at(float(self._c.time_s[i])):.1f},{self.up(float(low[i])):.1f}" for i in known[::-1]]
        return f"<polygon points='{' '.join(forth + back)}' fill='{colour}' fill-opacity='0.16'/>"

    def phases(self) -> Iterator[str]:
        for phase in self._c.phases:
            x0, x1 = self.at(max(phase.start_s, self._t0)), self.at(min(phase.end_s, self._t1))
            yield (
                f"<rect x='{x0:.1f}' y='{self._y}' width='{max(x1 - x0, 0):.1f}' height='{self._h}' "
                f"fill='{PHASE_FILL[phase.kind]}'/>"
            )
            if x1 - x0 > 48:
                yield text(
                    (x0 + x1) / 2, self._y + self._h + 30, phase.kind, anchor="middle", size=10, colour=FAINT
                )

    def limits(self) -> Iterator[str]:
        for temp, name in ((37.0, "brood caution"), (40.0, "brood and queen danger"), (41.0, "")):
            y = self.up(temp)
            if not self._y <= y <= self._y + self._h or not name:
                continue
            yield line(self._x, y, self._x + self._w, y, INK, 0.8, "1 3")
            yield text(self._x + 6, y - 4, f"{name} {self._units.temp_text(temp, 0)}", size=10, colour=FAINT)

    def end_labels(self, ends: Sequence[tuple[Floats, str, str]]) -> Iterator[str]:
        last: list[tuple[float, str, str]] = []
        for values, name, colour in ends:
            known = np.flatnonzero(~np.isnan(values))
            if known.size:
                last.append((self.up(float(values[known[-1]])), name, colour))
        floor = -np.inf
        for y, name, colour in sorted(last):
            floor = max(y, floor + 13)
            yield text(self._x + self._w + 8, floor + 4, name, size=11, colour=colour)

    def axes(self, zone: str) -> Iterator[str]:
        step = 5.0 if self._high - self._low <= 40 else 10.0
        for temp in np.arange(self._low, self._high + 0.1, step):
            y = self.up(float(temp))
            yield line(self._x, y, self._x + self._w, y, GRID, 0.7)
            yield text(
                self._x - 8,
                y + 4,
                f"{self._units.temp(float(temp)):.0f}",
                anchor="end",
                size=10,
                colour=FAINT,
            )
        yield text(self._x - 8, self._y - 8, self._units.temp_unit, anchor="end", size=10, colour=FAINT)
        for t, words in zip(*clock_ticks(self._t0, self._t1, zone), strict=True):
            x = self.at(t)
            yield line(x, self._y + self._h, x, self._y + self._h + 4, FAINT, 1.0)
            yield text(x, self._y + self._h + 16, words, anchor="middle", size=10, colour=FAINT)
