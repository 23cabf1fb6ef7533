"""The weather for a road and a stretch of time: the right source for past, near and far dates."""

from __future__ import annotations

import math
from collections.abc import Callable

from planner.model.records import Road, Weather
from planner.services.forecast import met_norway, nws, open_meteo
from planner.services.forecast.open_meteo import Span
from planner.services.forecast.points import Points, choose_points
from planner.services.forecast.typical import extended, typical_weather
from planner.services.http import Client
from planner.services.settings import Settings

DAY_S = 86_400.0
MOST_POINTS = {"open-meteo": 100, "met-norway": 24, "nws": 24}
"""Open-Meteo takes all points at once; the others one a request, so their users are spared the finest mesh."""
HORIZON_DAYS = {"open-meteo": open_meteo.HORIZON_DAYS, "met-norway": 9, "nws": 6}
_FORECASTS: dict[str, Callable[[Client, Settings, Points, Span], Weather]] = {
    "open-meteo": open_meteo.forecast,
    "met-norway": met_norway.forecast,
    "nws": nws.forecast,
}


def find_weather(
    client: Client,
    settings: Settings,
    road: Road,
    first_s: float,
    last_s: float,
    *,
    now_s: float,
    density: float = 1.0,
) -> Weather:
    """Hourly weather along ``road`` for every hour from ``first_s`` to ``last_s`` (POSIX seconds).

    Long past: the archive. From three months ago to the horizon: the chosen forecast service. Beyond it:
    typical weather, joined on and marked. Whole UTC days are asked for, so that the same trip asks the same
    question again and finds its last answer offline.
    """
    service = settings.forecast.service
    points = choose_points(road, density=density, most=MOST_POINTS[service])
    span = whole_days(first_s, last_s)
    today_s = math.floor(now_s / DAY_S) * DAY_S
    if span.first_s < today_s - open_meteo.PAST_DAYS * DAY_S:
        return open_meteo.archive(client, settings, points, span)
    horizon_s = today_s + HORIZON_DAYS[service] * DAY_S
    if span.first_s >= horizon_s:
        return typical_weather(client, settings, points, span, now_s=now_s).middle
    near = Span(span.first_s, min(span.last_s, horizon_s - 3600.0))
    weather = _FORECASTS[service](client, settings, points, near)
    if near.last_s >= last_s:
        return weather
    return extended(weather, typical_weather(client, settings, points, span, now_s=now_s).middle)


def whole_days(first_s: float, last_s: float) -> Span:
    """The whole UTC days that hold every hour from ``first_s`` to ``last_s`` and one hour after."""
    start_s = math.floor(first_s / DAY_S) * DAY_S
    return Span(start_s, math.ceil((last_s + 3600.0) / DAY_S) * DAY_S - 3600.0)
