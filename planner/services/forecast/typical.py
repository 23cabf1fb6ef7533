"""Typical weather for dates beyond any forecast: the same dates of past years from the archive, marked as such.

The middle of the years stands for the trip's weather; the years themselves are kept, because a hot one is what
a plan made months ahead must survive.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Any

import numpy as np

from planner.model.records import SCALARS, WIND, Floats, Weather
from planner.services.forecast.open_meteo import archives
from planner.services.forecast.points import Points
from planner.services.forecast.span import Span
from planner.services.http import Client
from planner.services.settings import Settings
from planner.words import say

YEARS = 10
MOST_PLACES = 500
"""Points times years in one request: it counts for about as many calls, and 600 a minute are free."""


@dataclass(frozen=True)
class Typical:
    """``middle`` for planning and each past year moved onto the trip's dates, oldest first."""

    middle: Weather
    years: tuple[Weather, ...]


def typical_weather(
    client: Client, settings: Settings, points: Points, span: Span, *, now_s: float
) -> Typical:
    """The same dates of up to ten past years, as many as one request to the archive may ask for."""
    years = max(3, min(YEARS, MOST_PLACES // len(points)))
    latest = min(_utc(span.first_s).year, _utc(now_s).year)
    while _moved(span, latest).last_s > now_s - 7 * 86_400.0:
        latest -= 1
    spans = [_moved(span, year) for year in range(latest - years + 1, latest + 1)]
    past = archives(client, settings, points, spans)
    moved = tuple(
        _on_dates(weather, span, then, _utc(then.first_s).year)
        for weather, then in zip(past, spans, strict=True)
    )
    return Typical(_middle(moved, spans), moved)


def extended(forecast: Weather, typical: Weather) -> Weather:
    """The forecast as far as it reaches, and after it typical weather; ``kind`` becomes "typical"."""
    reaches = np.flatnonzero(np.isfinite(forecast.air_c).all(axis=1))
    end_s = forecast.time_s[reaches[-1]] if reaches.size else -np.inf
    later = typical.time_s > end_s
    time_s = np.concatenate((forecast.time_s[forecast.time_s <= end_s], typical.time_s[later]))
    kept = forecast.time_s <= end_s
    fields: dict[str, Any] = {
        name: np.concatenate((getattr(forecast, name)[kept], getattr(typical, name)[later]))
        for name in (*SCALARS, *WIND)
    }
    start = f"{_utc(float(typical.time_s[later][0])):%d %b %H:%M} UTC" if later.any() else "nowhere"
    return replace(
        forecast,
        time_s=time_s,
        kind="typical",
        source=say("services.then_typical_weather", source=str(forecast.source), start=str(start)),
        notes=(
            say("services.beyond_forecast_from", start=str(start), source=str(typical.source)),
            *forecast.notes,
            *typical.notes,
        ),
        **fields,
    )


def _utc(time_s: float) -> datetime:
    return datetime.fromtimestamp(time_s, UTC)


def _moved(span: Span, year: int) -> Span:
    """The same dates and hours in another year; 29 February becomes the 28th."""
    first = _utc(span.first_s)
    day = 28 if (first.month, first.day) == (2, 29) else first.day
    start_s = first.replace(year=year, day=day).timestamp()
    return Span(start_s, start_s + span.last_s - span.first_s)


def _on_dates(weather: Weather, span: Span, then: Span, year: int) -> Weather:
    time_s = weather.time_s + (span.first_s - then.first_s)
    inside = (time_s >= span.first_s) & (time_s <= span.last_s)
    source = say("services.archive_weather_these", year=str(year))
    return replace(weather.at_rows(inside, time_s[inside]), kind="typical", source=source)


def _middle(years: Sequence[Weather], spans: Sequence[Span]) -> Weather:
    """The median of every quantity; wind keeps the median speed and the mean direction, so it does not cancel."""
    tables: dict[str, Any] = {name: _median([getattr(year, name) for year in years]) for name in SCALARS}
    east = np.array([year.wind_east_ms for year in years])
    north = np.array([year.wind_north_ms for year in years])
    speed = _median(list(np.hypot(east, north)))
    mean_east, mean_north = np.mean(east, axis=0), np.mean(north, axis=0)
    length = np.maximum(np.hypot(mean_east, mean_north), 1e-9)
    hottest = max(float(np.nanmax(year.air_c, initial=-np.inf)) for year in years)
    first, last = _utc(spans[0].first_s).year, _utc(spans[-1].first_s).year
    return replace(
        years[0],
        source=say("services.typical_weather_middle", first=str(first), last=str(last)),
        notes=(say("services.typical_weather_forecast", count=len(years), hottest=f"{hottest:.0f}"),),
        wind_east_ms=speed * mean_east / length,
        wind_north_ms=speed * mean_north / length,
        **tables,
    )


def _median(tables: list[Floats]) -> Floats:
    """The median over years; unknown where any year is unknown."""
    return np.asarray(np.median(np.array(tables), axis=0))
