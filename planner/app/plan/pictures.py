"""A plan as charts: the departure board, the temperatures inside one box, and the sun that is drawn on the load."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.app.common.chart import (
    Axis,
    Band,
    Chart,
    Colour,
    Key,
    Line,
    Ramp,
    Ring,
    Rule,
    Stretch,
    Tick,
    Tile,
    day_ticks,
    hour_ticks,
    temp_ticks,
)
from planner.app.common.limits_words import limit_text
from planner.app.common.scale import WARMTH_C
from planner.app.common.svg import chart_svg
from planner.app.plan.results import CAUTION, HARM, LEVELS, TYPICAL, UNKNOWN, Choice, Curves, Plan
from planner.model import geo, sun
from planner.model.limits import Limit
from planner.model.records import Floats
from planner.units import METRIC, UnitSystem
from planner.words import say

SIGNS = {CAUTION: "dot", HARM: "cross", UNKNOWN: "unknown"}
BEST = 3
LETTERS = "BCD"
ALL_LETTERS = f"A{LETTERS}"
TWILIGHT_DEG = 6.0
"""By so much below the horizon the sun's strip is night, by so much above it day."""
PHASE_OPACITY = {"waiting": 0.045, "loading": 0.045, "driving": 0.0, "stop": 0.09, "settling": 0.045}
LEVEL_COLOUR = {CAUTION: "caution", HARM: "harm"}
LOWEST_TOP_C, HIGHEST_TOP_C = 38.0, 75.0
WORDS_SHARE = 0.1
"""Room over and under the temperatures, for the name of the highest limit and those of the phases."""
ALL_TEMPS_C = (-60.0, 160.0)


# -- the board -----------------------------------------------------------------------------------------


def board_svg(plan: Plan, chosen: Choice, units: UnitSystem = METRIC) -> str:
    """The board on paper."""
    site = plan.trip.origin
    sun_deg = sun.sun_position(plan.departures_s, site.lat_deg, site.lon_deg).elevation_deg
    board = board_chart(plan, chosen, sun_deg, units).with_marks(ring(chosen, "accent", 2.4))
    return chart_svg(board, 960.0, 150.0 + 26.0 * len(plan.loading_places))


def board_chart(
    plan: Plan, chosen: Choice, sun_deg: Floats, units: UnitSystem = METRIC, *, by_verdict: bool = False
) -> Chart:
    """Departures across, loading places down, coloured by the hottest box's peak, or by its worst verdict.

    Shows the set-up of ``chosen``; ``sun_deg`` (departure,) is the sun's height at the origin. The best candidates
    are ringed; a strip above tells night from day, one below the departures that lose the foragers.
    """
    n_dep, places = plan.departures_s.size, plan.loading_place_titles
    return Chart(
        title=say("answer.peaks_by_departure", setup=plan.setup_titles[chosen.setup]),
        x=Axis(0.0, float(n_dep), _departure_ticks(plan), on_top=True),
        y=Axis(
            float(len(places)),
            0.0,
            (tuple(Tick(k + 0.5, title, k == chosen.loading_place) for k, title in enumerate(places)),),
        ),
        marks=(*_cells(plan, chosen.setup, by_verdict), *_best(plan, chosen.setup)),
        above=tuple(_day_and_night(sun_deg)),
        below=tuple(Stretch(d, d + 1, "caution") for d in np.flatnonzero(plan.closed_by_day).tolist()),
        legend=(*(() if by_verdict else (warmth_ramp(units),)), *_board_keys(plan, by_verdict)),
    )


def ring(choice: Choice, colour: Colour, width: float = 1.4, letter: str = "") -> Ring:
    """A frame around a candidate's cell."""
    d, k = choice.departure, choice.loading_place
    return Ring(d, d + 1, k, k + 1, colour, width, letter)


def warmth_ramp(units: UnitSystem) -> Ramp:
    """The scale of warmth with its marks, the last with its unit."""
    marks = WARMTH_C.marks
    return Ramp(WARMTH_C, tuple(units.temp_text(m, 0, unit=m == marks[-1]) for m in marks))


def _cells(plan: Plan, setup: int, by_verdict: bool) -> Iterator[Tile]:
    peaks = plan.outcomes.peak_core_c[:, :, setup, TYPICAL].max(axis=-1)
    worst = plan.outcomes.verdict[:, :, setup, TYPICAL].max(axis=(-1, -2))
    steps = WARMTH_C.steps(peaks)
    for (d, k), level in np.ndenumerate(worst):
        step = int(steps[d, k])
        known = level != UNKNOWN and step >= 0
        fill: Colour = (LEVELS[level] if by_verdict else step) if known else "unknown"
        sign = SIGNS.get(int(level) if known else UNKNOWN, "")
        yield Tile(d, d + 1, k, k + 1, fill, sign=sign, gap=1.0)


def _best(plan: Plan, setup: int) -> Iterator[Ring]:
    same = [choice for choice in plan.ranking if choice.setup == setup][:BEST]
    yield from (ring(choice, "ink") for choice in same)


def _day_and_night(sun_deg: Floats) -> Iterator[Stretch]:
    """Night under everything, and day over it by its share."""
    yield Stretch(0.0, float(sun_deg.size), "night")
    share = np.clip((sun_deg + TWILIGHT_DEG) / (2.0 * TWILIGHT_DEG), 0.0, 1.0)
    yield from (Stretch(d, d + 1, "day", round(one, 2)) for d, one in enumerate(share.tolist()) if one > 0.0)


def _departure_ticks(plan: Plan) -> tuple[tuple[Tick, ...], tuple[Tick, ...]]:
    """Full hours, and the days above them."""
    times, zone = plan.departures_s, plan.trip.origin.zone
    hours = hour_ticks(float(times[0]), float(times[-1]), zone)
    at = np.interp([tick.at for tick in hours], times, np.arange(times.size)) + 0.5
    days = tuple(Tick(d, text, True) for d, text in day_ticks(times.tolist(), zone))
    return tuple(Tick(float(x), tick.text) for x, tick in zip(at, hours, strict=True)), days


def _board_keys(plan: Plan, by_verdict: bool) -> Iterator[Key]:
    for level, text in ((CAUTION, "caution"), (HARM, "harm"), (UNKNOWN, "not known")):
        ground = LEVELS[level] if by_verdict or level == UNKNOWN else "well"
        yield Key(text, ground, SIGNS[level])
    yield Key("best", "ink", shape="ring")
    if plan.closed_by_day.any():
        yield Key("bees flying when shut", "caution", shape="stroke")


# -- the curves ----------------------------------------------------------------------------------------


def curves_svg(plan: Plan, curves: Curves, units: UnitSystem = METRIC) -> str:
    """The curves of the hottest box on paper."""
    group = hottest_group(curves)
    chart = curve_chart(curves, group, plan.trip.origin.zone, units)
    return chart_svg(chart.titled(f"{chart.title} ({plan.trip.groups[group].label})"), 960.0, 380.0)


def hottest_group(curves: Curves) -> int:
    """The group whose core gets hottest with typical bees."""
    return int(np.argmax(np.nan_to_num(curves.core_c[:, TYPICAL], nan=-np.inf).max(axis=0)))


def curve_chart(
    curves: Curves,
    group: int,
    zone: str,
    units: UnitSystem = METRIC,
    *,
    others: Sequence[Curves] = (),
    letters: Sequence[str] = LETTERS,
    span_s: tuple[float, float] | None = None,
    reach_c: Floats | None = None,
) -> Chart:
    """Temperatures of one group's box from closing to opening, calm to agitated, against the limits of what is in it.

    ``others`` are compared candidates: thin lines of their core, from the same beginning, named by ``letters`` and
    in the colour of their letter. ``span_s`` is the part shown, ``reach_c`` what is painted into it beside.
    """
    first_s, last_s = span_s or whole_span_s(curves, others)
    lines = (*_lines(curves, group), *_compared(curves, others, letters, group))
    banded = [values[:, :, group].ravel() for values in (curves.core_c, curves.stores_c)]
    reached = [line.ys for line in lines] + banded + ([] if reach_c is None else [reach_c.ravel()])
    low_c, high_c = _temp_span(reached, limits_of_group(curves, group))
    return Chart(
        title="Inside the hottest box; bands from calm to agitated bees",
        x=Axis(first_s, last_s, (hour_ticks(first_s, last_s, zone),)),
        y=Axis(low_c, high_c, (temp_ticks(low_c, high_c, units),), units.temp_unit, grid=True),
        marks=(*_phases(curves), *_limits(curves, group, units), *_bands(curves, group), *lines),
    )


def whole_span_s(curves: Curves, others: Sequence[Curves] = ()) -> tuple[float, float]:
    """From closing to opening, and on to the end of the longest of those compared."""
    first_s = float(curves.time_s[0])
    return first_s, first_s + max(float(one.time_s[-1] - one.time_s[0]) for one in (curves, *others))


def _phases(curves: Curves) -> Iterator[Tile]:
    """The stretches of the trip as grounds as high as any temperature."""
    for phase in curves.phases:
        if phase.end_s > phase.start_s:
            yield Tile(
                phase.start_s,
                phase.end_s,
                *ALL_TEMPS_C,
                "ink",
                PHASE_OPACITY[phase.kind],
                text="shut, waiting" if phase.kind == "waiting" else phase.kind,
            )


def _limits(curves: Curves, group: int, units: UnitSystem) -> Iterator[Rule]:
    """A rule for each limit of the box; those of its stores in dashes of their own."""
    for limit in limits_of_group(curves, group):
        dash = "6 3" if limit.level == CAUTION else ""
        if limit.field == "stores":
            dash = "2 3" if limit.level == CAUTION else "9 3 2 3"
        yield Rule(limit.at_c, "y", LEVEL_COLOUR[limit.level], 1.1, dash, limit_text(limit, units))


def limits_of_group(curves: Curves, group: int) -> tuple[Limit, ...]:
    """The limits of one group's box, gravest first."""
    known = curves.limits[group] if curves.limits else ()
    return tuple(sorted(known, key=lambda limit: -limit.level))


def _bands(curves: Curves, group: int) -> Iterator[Band]:
    for values, colour in ((curves.core_c, "core"), (curves.stores_c, "stores")):
        mine = values[:, :, group]
        yield Band(curves.time_s, mine.min(axis=1), mine.max(axis=1), colour)


def _lines(curves: Curves, group: int) -> Iterator[Line]:
    time_s = curves.time_s
    yield Line(time_s, curves.outside_c, "outside", 1.4, "6 3", "outside air")
    yield Line(time_s, curves.local_c[:, TYPICAL, group], "outside", 1.4, "2 3", "air at the box")
    yield Line(time_s, curves.stores_c[:, TYPICAL, group], "stores", 1.8, name="stores comb")
    yield Line(time_s, curves.core_c[:, TYPICAL, group], "core", 2.4, name="core")


def _compared(curves: Curves, others: Sequence[Curves], letters: Sequence[str], group: int) -> Iterator[Line]:
    for other, letter in zip(others, letters, strict=False):
        shift_s = curves.time_s[0] - other.time_s[0]
        core_c = other.core_c[:, TYPICAL, min(group, other.core_c.shape[2] - 1)]
        yield Line(
            other.time_s + shift_s, core_c, f"series{ALL_LETTERS.index(letter)}", 1.8, "9 3 2 3", letter
        )


def _temp_span(reached: Sequence[Floats], limits: Sequence[Limit]) -> tuple[float, float]:
    """All that is reached, and the nearest limits above it, to whole degrees; no limit runs through the words below."""
    known = np.concatenate(reached)
    known = known[np.isfinite(known)]
    low_c, high_c = (float(known.min()), float(known.max())) if known.size else (10.0, LOWEST_TOP_C)
    high_c = max(high_c, LOWEST_TOP_C)
    above = [limit.at_c for limit in limits if limit.side == "above"]
    next_c = min((at for at in above if at > high_c), default=high_c)
    top_c = min(max(high_c, next_c), HIGHEST_TOP_C)
    room_k = WORDS_SHARE * (top_c - low_c)
    for at_c in sorted((limit.at_c for limit in limits), reverse=True):
        if np.floor(low_c - room_k) <= at_c < low_c:
            low_c = at_c
    return float(np.floor(low_c - room_k)), float(np.ceil(top_c + room_k))


# -- the sun on the load ------------------------------------------------------------------------------

Side = Literal["above", "front", "right", "back", "left"]
ROUND: tuple[Side, ...] = ("front", "right", "back", "left")
STEEP_DEG = 60.0
"""Higher than this the lid has the sun whichever way the vehicle points."""


@dataclass(frozen=True, slots=True)
class SunOnLoad:
    """Where the sun stands, clockwise from north and above the horizon, and the side of the load it shines on."""

    azimuth_deg: float
    elevation_deg: float
    side: Side


def sun_on_load(curves: Curves, time_s: float) -> SunOnLoad | None:
    """The sun over the vehicle at an instant; none by night, out of the trip, or where it never drives."""
    if not curves.time_s[0] <= time_s <= curves.time_s[-1]:
        return None
    lat, lon = (float(np.interp(time_s, curves.time_s, held)) for held in (curves.lat_deg, curves.lon_deg))
    position = sun.sun_position(time_s, lat, lon)
    elevation, azimuth = float(position.elevation_deg), float(position.azimuth_deg)
    heading = _heading_deg(curves, time_s)
    if not elevation > 0.0 or heading is None:
        return None
    quarter = round(((azimuth - heading) % 360.0) / 90.0) % 4
    return SunOnLoad(azimuth, elevation, "above" if elevation >= STEEP_DEG else ROUND[quarter])


def _heading_deg(curves: Curves, time_s: float) -> float | None:
    """Which way the vehicle points, clockwise from north: as it last drove, before that as it will set off."""
    drives = np.flatnonzero(np.diff(curves.km) > 0.0)
    if not drives.size:
        return None
    at = drives[max(int(np.searchsorted(curves.time_s[drives], time_s, "right")) - 1, 0)]
    lat, lon = curves.lat_deg, curves.lon_deg
    return float(geo.bearing_deg(lat[at], lon[at], lat[at + 1], lon[at + 1]))
