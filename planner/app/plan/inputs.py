"""What a plan needs beside the trip itself: a road and the weather along it, from the file or from outside."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import msgspec
import numpy as np

from planner.app.common.wording import local
from planner.app.plan.breaks import with_breaks
from planner.app.plan.plan import departures_of
from planner.errors import Fault, InputError, ServiceError
from planner.folders import cache_dir
from planner.model.closing import closing_times
from planner.model.records import Floats, Road, Trip, Weather
from planner.model.timeline import build_timeline
from planner.services.forecast import open_meteo
from planner.services.forecast.beside import Beside as Beside
from planner.services.forecast.beside import away_from_km as away_from_km
from planner.services.forecast.beside import weather_beside
from planner.services.forecast.find import find_weather
from planner.services.forecast.own import OwnDay, own_weather
from planner.services.forecast.points import choose_points
from planner.services.forecast.registry import of_source
from planner.services.forecast.span import whole_days
from planner.services.http import Client
from planner.services.roads.find import find_roads
from planner.services.roads.request import VEHICLES, RoadVehicle, RouteRequest
from planner.services.settings import Settings, load_settings
from planner.store import tripparts
from planner.store.tripfile import TripFile
from planner.words import say

SKY_CLOUD_SHARE = {"clear": 0.05, "partly_cloudy": 0.5, "overcast": 1.0}


@dataclass(frozen=True)
class Ready:
    """A trip with everything needed to plan it; ``roads`` are all that were offered, the chosen one first."""

    trip: Trip
    road: Road
    weather: Weather
    remarks: tuple[str, ...] = ()
    roads: tuple[Road, ...] = ()


class RoadMissing(ServiceError):
    """No service gave a road; every other ServiceError of ``ready`` is about the weather."""


@dataclass(frozen=True)
class Sources:
    """How the outside is asked: a client with its mode (offline, refresh, cancel) and the user's settings."""

    client: Client
    settings: Settings

    @classmethod
    def open(cls, *, offline: bool = False, refresh: bool = False) -> Sources:
        """The usual sources of this user."""
        settings = load_settings()
        client = Client.open(cache_dir(), contact=settings.contact, offline=offline, refresh=refresh)
        return cls(client, settings)

    def close(self) -> None:
        self.client.close()


def ready(
    found: TripFile, sources: Sources | None = None, *, now_s: float = 0.0, road_index: int = 0
) -> Ready:
    """The trip with its road and weather.

    Parameters
    ----------
    sources : where missing roads and forecasts are asked; None plans from the file alone
    now_s : present instant, POSIX seconds; decides between forecast, archive and typical weather
    road_index : which of several offered roads to take

    Raises
    ------
    InputError, ServiceError, Cancelled
    """
    try:
        roads = (found.road,) if found.road is not None else _roads(found.trip, sources, road_index)
    except ServiceError as error:
        raise RoadMissing(
            error.service, error.happened, error.remedy, retry_after_s=error.retry_after_s
        ) from error
    road = roads[0]
    weather = found.weather.weather or _weather(found, road, sources, now_s)
    return Ready(found.trip, road, weather, found.remarks, roads)


def beside(given: Ready, sources: Sources, *, now_s: float) -> Beside | None:
    """The forecast to both sides of a trip's road, for the map; None where its weather is no forecast. ServiceError."""
    if given.weather.kind != "forecast":
        return None
    span = time_span(given.trip, given.road)
    return weather_beside(sources.client, sources.settings, given.road, *span, now_s=now_s)


MEMBER_POINTS = 12
"""Weather points asked of an ensemble: each costs as many calls as it has members."""


def ensemble_members(given: Ready, sources: Sources) -> tuple[Weather, ...]:
    """The members of the ensemble forecast for a trip, gaps of each filled from the trip's own weather.

    Raises
    ------
    InputError : for weather that is no forecast; ServiceError, Cancelled
    """
    if given.weather.kind != "forecast":
        problem = say("answer.the_trip_s_weather", kind=f"{given.weather.kind}")
        raise InputError([Fault("weather.source", given.weather.kind, problem, "Leave the ensemble out")])
    span = whole_days(*time_span(given.trip, given.road))
    points = choose_points(given.road, most=MEMBER_POINTS)
    members = open_meteo.ensemble(sources.client, sources.settings, points, span)
    return tuple(_filled(member, given.weather) for member in members)


def _filled(member: Weather, usual: Weather) -> Weather:
    """A member with the fields that ensembles do not offer taken from the usual forecast."""
    filled: dict[str, Any] = {}
    for name in MEMBER_GAPS:
        values = getattr(member, name)
        if np.isnan(values).any():
            filled[name] = np.where(np.isnan(values), _on_grid_of(member, usual, name), values)
    return replace(member, **filled)


def _on_grid_of(member: Weather, usual: Weather, name: str) -> Floats:
    """One field of the usual forecast at the hours and kilometres of a member."""
    values = getattr(usual, name)
    along = np.array([np.interp(member.km, usual.km, row) for row in values])
    columns = [np.interp(member.time_s, usual.time_s, column, np.nan, np.nan) for column in along.T]
    return np.stack(columns, axis=1)


MEMBER_GAPS = ("dew_c", "pressure_pa", "cloud_share", "rain_mm", "wind_east_ms", "wind_north_ms", "ghi_w_m2")


def time_span(trip: Trip, road: Road) -> tuple[float, float]:
    """From the first box shut to the last one opened, over all departures, breaks of the law put in, POSIX s."""
    trip, road, _ = with_breaks(trip, road)
    departures = departures_of(trip)[[0, -1]]
    timeline = build_timeline(trip, road, departures, closing_times(trip, road, departures))
    return float(timeline.start_s.min()), float(timeline.end_s.max())


def road_vehicle(trip: Trip) -> RoadVehicle:
    """The vehicle as a road service sees it."""
    return VEHICLES[trip.road_vehicle]


def _roads(trip: Trip, sources: Sources | None, road_index: int) -> tuple[Road, ...]:
    if sources is None:
        raise InputError([Fault("road", "", "there is no road", "Give [road] with legs, points or a file")])
    leaves = local(trip.window.first_s, trip.origin.zone)
    request = RouteRequest(
        trip.waypoints, road_vehicle(trip), f"{leaves:%Y-%m-%dT%H:%M}", alternatives=0 if trip.stops else 2
    )
    roads = find_roads(sources.client, sources.settings, request)
    first = min(road_index, len(roads) - 1)
    return (roads[first], *roads[:first], *roads[first + 1 :])


def _weather(found: TripFile, road: Road, sources: Sources | None, now_s: float) -> Weather:
    request = found.weather
    if request.source == "own":
        days = [_own_day(day, found.trip, road) for day in request.days]
        return own_weather(days, assumed=request.assumed)
    if sources is None:
        raise InputError(
            [
                Fault(
                    "weather.source",
                    request.source,
                    "there is no weather",
                    "Name a file, or enter your own figures",
                )
            ]
        )
    forecast = msgspec.structs.replace(sources.settings.forecast, service=of_source(request.source).name)
    settings = msgspec.structs.replace(sources.settings, forecast=forecast)
    first_s, last_s = time_span(found.trip, road)
    return find_weather(sources.client, settings, road, first_s, last_s, now_s=now_s)


def _own_day(day: tripparts.OwnDay, trip: Trip, road: Road) -> OwnDay:
    """A hand-entered day at the kilometre of the call nearest to its place."""
    waypoints = list(road.waypoint_vertex)
    off = [
        abs(site.lat_deg - day.site.lat_deg) + abs(site.lon_deg - day.site.lon_deg) for site in trip.waypoints
    ]
    return OwnDay(
        site=day.site,
        km=float(road.km[waypoints[int(np.argmin(off))]]),
        day=day.day,
        low_c=day.dawn_low_c,
        high_c=day.afternoon_high_c,
        dew_c=day.dew_point_c,
        humidity_share=day.humidity_share,
        cloud_share=SKY_CLOUD_SHARE[day.sky],
        wind_ms=day.wind_ms,
    )
