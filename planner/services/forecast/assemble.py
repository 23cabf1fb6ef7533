"""Many services, one shape: from what each says about its points to one Weather on an even hourly grid.

Small faults are mended and told (hours out of order, the same hour twice); what cannot be known stays NaN and
is told; an answer about another place, or with stamps off the hour, is refused.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from planner.model.geo import great_circle_km
from planner.model.records import Bools, Floats, Weather
from planner.services.forecast.points import Points
from planner.services.forecast.span import HOUR_S, Span
from planner.services.http import UnreadableError
from planner.words import say

LONGEST_H = 24 * 400
FARTHEST_KM = 100.0
"""Half a cell of the coarsest grid in use is 40 km, and coast points may be moved to the next land cell."""

LATEST_START_S, EARLIEST_END_S, LEAST_KNOWN_SHARE = 6 * HOUR_S, 6 * HOUR_S, 0.5
"""How late an answer may begin, how early end and how full it must be to be one about the span asked (D)."""

PLAUSIBLE: dict[str, tuple[float, float]] = {
    "air_c": (-90.0, 60.0),
    "dew_c": (-110.0, 40.0),
    "wind_east_ms": (-110.0, 110.0),
    "wind_north_ms": (-110.0, 110.0),
    "gust_ms": (0.0, 140.0),
    "ghi_w_m2": (-20.0, 1600.0),
    "dni_w_m2": (-20.0, 1500.0),
    "dhi_w_m2": (-20.0, 1200.0),
    "cloud_share": (0.0, 1.0),
    "pressure_pa": (30_000.0, 110_000.0),
    "rain_mm": (0.0, 500.0),
}
"""Lowest and highest value that can occur on a road, somewhat beyond the world's records (D)."""

LOWEST_M, HIGHEST_M = -500.0, 9_000.0
"""Between the shore of the Dead Sea and the top of the highest mountain, and somewhat beyond."""

NEEDED = {
    "air_c": "air temperature",
    "dew_c": "humidity",
    "wind_east_ms": "wind",
    "ghi_w_m2": "sun",
    "cloud_share": "cloud",
}


@dataclass(frozen=True)
class Series:
    """What a service says about one point: SI values by the field names of Weather, as they came.

    ``lat_deg`` and ``lon_deg`` are where the service says it looked (NaN where it does not say).
    """

    time_s: Floats
    values: Mapping[str, Floats]
    lat_deg: float = float("nan")
    lon_deg: float = float("nan")
    elevation_m: float = float("nan")


def assemble(
    points: Points,
    series: Sequence[Series],
    *,
    source: str,
    attribution: str,
    issued_s: float,
    kind: str = "forecast",
    notes: Sequence[str] = (),
) -> Weather:
    """One Weather from one series for each point; raises UnreadableError where they cannot belong together."""
    if len(series) != len(points):
        raise UnreadableError(say("services.answer_holds_places", count=len(series), count_2=len(points)))
    check_places(points, series)
    remarks: dict[str, list[float]] = {}
    tidy = [_tidy(one, float(km), remarks) for one, km in zip(series, points.km, strict=True)]
    time_s = _grid(tidy)
    fields = {name: _on_grid(tidy, time_s, name) for name in PLAUSIBLE}
    fields["dew_c"] = np.where(fields["dew_c"] > fields["air_c"], fields["air_c"], fields["dew_c"])
    told = [f"{words} at {_where(places)}" for words, places in remarks.items()]
    heights = possible_heights_m(np.array([one.elevation_m for one in series]))
    return Weather(
        time_s=time_s,
        km=points.km,
        lat_deg=points.lat_deg,
        lon_deg=points.lon_deg,
        elevation_m=np.where(np.isfinite(heights), heights, points.elevation_m),
        source=source,
        attribution=attribution,
        issued_s=issued_s,
        kind=kind,
        notes=(*notes, *told, *missing_notes(fields, points.km)),
        **fields,
    )


def possible_heights_m(heights: Floats) -> Floats:
    """Heights above the sea, m; unknown where no road can lie."""
    return np.where((heights > LOWEST_M) & (heights < HIGHEST_M), heights, np.nan)


def dated(weather: Weather, issued_s: float, notes: Sequence[str]) -> Weather:
    """The weather with the time it was made or fetched, and remarks on the answer's age put first."""
    return replace(weather, issued_s=issued_s, notes=(*notes, *weather.notes))


def missing_notes(fields: Mapping[str, Floats], km: Floats) -> list[str]:
    """Plain words about what a weather needs and lacks."""
    notes = []
    for name, words in NEEDED.items():
        gaps = ~np.isfinite(fields[name])
        if gaps.all():
            notes.append(say("services.no_answer", words=str(words)))
        elif gaps.any():
            hours = int(gaps.any(axis=1).sum())
            notes.append(
                say(
                    "services.so_many_hours_missing",
                    hours=str(hours),
                    words=str(words),
                    value=str(_where(list(km[gaps.any(axis=0)]))),
                )
            )
    return notes


def _where(km: Sequence[float]) -> str:
    places = sorted(set(km))
    if len(places) == 1:
        return f"km {places[0]:.0f}"
    return say(
        "services.so_many_points", count=len(places), place=f"{places[0]:.0f}", place_2=f"{places[-1]:.0f}"
    )


def check_places(points: Points, series: Sequence[Series]) -> None:
    """Raise UnreadableError where a series is about a place far from the one asked for."""
    lat, lon = np.array([one.lat_deg for one in series]), np.array([one.lon_deg for one in series])
    off_km = great_circle_km(points.lat_deg, points.lon_deg, lat, lon)
    if np.any(off_km > FARTHEST_KM):
        worst = int(np.nanargmax(off_km))
        raise UnreadableError(
            say("services.answer_km_about", value=f"{points.km[worst]:.0f}", off_km=f"{off_km[worst]:.0f}")
        )


def check_covers(one: Series, span: Span, km: float) -> None:
    """Raise UnreadableError where a series leaves open when it is asked about: empty, another week, cut short.

    Single hours may be missing; they are told. Air temperature, humidity and wind must be known for most of
    the span, from near its beginning to near its end, once what is impossible has been left out: what is found
    unfit only later would already have taken the place of the last good answer.
    """
    one = _tidy(one, km, {})
    inside = (one.time_s >= span.first_s) & (one.time_s <= span.last_s)
    asked = (span.last_s - span.first_s) / HOUR_S + 1.0
    for name in ("air_c", "dew_c", "wind_east_ms"):
        column = one.values.get(name, np.full(one.time_s.shape, np.nan))
        known_s = one.time_s[inside & np.isfinite(column)]
        if not known_s.size:
            raise UnreadableError(
                say("services.nothing_on_those_days", needed=str(NEEDED[name]), km=f"{km:.0f}")
            )
        late_s = max(
            known_s.min() - span.first_s - LATEST_START_S, span.last_s - known_s.max() - EARLIEST_END_S
        )
        if late_s > 0.0 or known_s.size < LEAST_KNOWN_SHARE * (asked - LATEST_START_S / HOUR_S):
            first, last = Span(float(known_s.min()), float(known_s.max())).text("%d %b %H:%M")
            raise UnreadableError(
                say(
                    "services.km_only_hours",
                    needed=str(NEEDED[name]),
                    km=f"{km:.0f}",
                    size=str(known_s.size),
                    first=str(first),
                    last=str(last),
                )
            )


def check_length(first_s: float, last_s: float) -> None:
    """Raise UnreadableError before anybody lays out more hours than a year and a bit."""
    if not last_s - first_s <= LONGEST_H * HOUR_S:
        raise UnreadableError(say("services.answer_spans_days", value=f"{(last_s - first_s) / 86400.0:.0f}"))


def _tidy(one: Series, km: float, remarks: dict[str, list[float]]) -> Series:
    """The series in order, each hour once, impossible values taken out; what was done goes to ``remarks``."""
    time_s = np.asarray(one.time_s, dtype=np.float64)
    if not np.all(np.isfinite(time_s)) or np.any(np.abs(time_s - _to_hour(time_s)) > 1.0):
        raise UnreadableError(say("services.time_stamps_km", km=f"{km:.0f}"))
    for name, column in one.values.items():
        if column.shape != time_s.shape:
            raise UnreadableError(
                say(
                    "services.values_hours_km",
                    size=str(column.size),
                    name=str(name),
                    size_2=str(time_s.size),
                    km=f"{km:.0f}",
                )
            )
    if np.any(np.diff(time_s) < 0):
        remarks.setdefault("hours came out of order, put right", []).append(km)
    columns = {name: _possible(name, column, km, remarks) for name, column in one.values.items()}
    hours, first = np.unique(_to_hour(time_s), return_index=True)
    unclear = _clashes(_to_hour(time_s), hours, columns)
    if hours.size < time_s.size:
        words = "hours given twice with different values left out" if unclear.any() else "hours given twice"
        remarks.setdefault(words, []).append(km)
    kept = {name: np.where(unclear, np.nan, column[first]) for name, column in columns.items()}
    return Series(hours, kept, one.lat_deg, one.lon_deg, one.elevation_m)


def _to_hour(time_s: Floats) -> Floats:
    return np.round(time_s / HOUR_S) * HOUR_S


def _possible(name: str, column: Floats, km: float, remarks: dict[str, list[float]]) -> Floats:
    low, high = PLAUSIBLE[name]
    column = np.where(np.isfinite(column), column, np.nan)
    wrong = (column < low) | (column > high)
    if wrong.any():
        words = say(
            "services.impossible_values_left",
            value=str(int(wrong.sum())),
            value_2=str(NEEDED.get(name, name)),
        )
        remarks.setdefault(words, []).append(km)
    column = np.where(wrong, np.nan, column)
    return np.maximum(column, 0.0) if name.endswith("_w_m2") else column


def _clashes(stamps: Floats, hours: Floats, values: Mapping[str, Floats]) -> Bools:
    """(hour,) true where a repeated hour comes with differing values of anything."""
    clash = np.zeros(hours.shape, dtype=bool)
    repeated = np.flatnonzero(np.unique(stamps, return_counts=True)[1] > 1)
    for position in repeated:
        rows = np.flatnonzero(stamps == hours[position])
        columns = [column[rows] for column in values.values()]
        clash[position] = any(not np.all((c == c[0]) | (np.isnan(c) & np.isnan(c[0]))) for c in columns)
    return clash


def _grid(series: Sequence[Series]) -> Floats:
    starts = [one.time_s[0] for one in series if one.time_s.size]
    if not starts:
        raise UnreadableError("the answer holds no hours at all")
    first, last = min(starts), max(one.time_s[-1] for one in series if one.time_s.size)
    check_length(first, last)
    return np.arange(first, last + 1.0, HOUR_S)


def _on_grid(series: Sequence[Series], time_s: Floats, name: str) -> Floats:
    table = np.full((time_s.size, len(series)), np.nan)
    for column, one in enumerate(series):
        if name in one.values:
            rows = np.round((one.time_s - time_s[0]) / HOUR_S).astype(int)
            table[rows, column] = one.values[name]
    return table
