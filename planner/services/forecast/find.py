"""The weather for a road and a stretch of time: the right source for past, near and far dates."""

from __future__ import annotations

import math

from planner.errors import ServiceError
from planner.model.records import Road, Weather
from planner.services.forecast import open_meteo
from planner.services.forecast.points import choose_points
from planner.services.forecast.registry import named
from planner.services.forecast.span import DAY_S, HOUR_S, Span, whole_days
from planner.services.forecast.typical import extended, typical_weather
from planner.services.http import OLD_NOTE as OLD_NOTE
from planner.services.http import Client
from planner.services.settings import Settings

WHICH_FILE = (
    "A typical year can be kept as a file before there is no network: the CSV of a typical meteorological year of the "
    "place from PVGIS (European Commission: Europe, Africa, Asia, the Americas), or TMY3 in the United States"
)


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
    try:
        return _found(client, settings, road, first_s, last_s, now_s=now_s, density=density)
    except ServiceError as fault:
        if client.offline:
            raise ServiceError(fault.service, fault.happened, f"{fault.remedy}. {WHICH_FILE}") from fault
        raise


def _found(
    client: Client,
    settings: Settings,
    road: Road,
    first_s: float,
    last_s: float,
    *,
    now_s: float,
    density: float,
) -> Weather:
    service = named(settings.forecast.service)
    points = choose_points(road, density=density, most=service.most_points)
    span = whole_days(first_s, last_s)
    today_s = math.floor(now_s / DAY_S) * DAY_S
    if span.first_s < today_s - open_meteo.PAST_DAYS * DAY_S:
        return open_meteo.archive(client, settings, points, span)
    horizon_s = today_s + service.horizon_days * DAY_S
    if span.first_s >= horizon_s:
        return typical_weather(client, settings, points, span, now_s=now_s).middle
    near = Span(span.first_s, min(span.last_s, horizon_s - HOUR_S))
    weather = service.forecast(client, settings, points, near)
    if near.last_s >= last_s:
        return weather
    return extended(weather, typical_weather(client, settings, points, span, now_s=now_s).middle)
