"""The forecast services there are: one row each, and everything else reads it from here.

The JSON Schema of trip files, the commented example and NOTICE repeat the names for their readers; a test
compares them with this table.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib import import_module
from typing import TYPE_CHECKING

from planner.errors import Fault, InputError
from planner.words import say

if TYPE_CHECKING:
    from planner.model.records import Weather
    from planner.services.forecast.points import Points
    from planner.services.forecast.span import Span
    from planner.services.http import Client
    from planner.services.settings import Settings


@dataclass(frozen=True, slots=True)
class ForecastService:
    """One service: ``source`` is its name in trip files, ``name`` in the settings, ``title`` for people.

    ``module`` (beside this one) has ``forecast(client, settings, points, span)``; ``address`` is the field of
    the settings that holds its address. It is asked for at most ``most_points`` points and ``horizon_days``
    whole days ahead.
    """

    source: str
    title: str
    module: str
    address: str
    most_points: int
    horizon_days: int
    attribution: str

    @property
    def name(self) -> str:
        return self.source.replace("_", "-")

    def forecast(self, client: Client, settings: Settings, points: Points, span: Span) -> Weather:
        """The forecast at the points for every hour of the span, as far as the service reaches."""
        weather: Weather = import_module(f"planner.services.forecast.{self.module}").forecast(
            client, settings, points, span
        )
        return weather


OPEN_METEO = ForecastService(
    "open_meteo",
    "Open-Meteo",
    "open_meteo",
    "open_meteo_url",
    most_points=100,
    horizon_days=15,
    attribution="Weather data by Open-Meteo.com (CC BY 4.0), https://open-meteo.com/; "
    "interpolated along the road.",
)
"""All points in one request; surely covers 15 whole days ahead (it takes up to 16 with today)."""

MET_NORWAY = ForecastService(
    "met_norway",
    "MET Norway",
    "met_norway",
    "met_norway_url",
    most_points=24,
    horizon_days=9,
    attribution="Weather data by MET Norway (CC BY 4.0), https://api.met.no/; interpolated along the road.",
)
"""One point a request, so its users are spared the finest mesh."""

NWS = ForecastService(
    "nws",
    "US National Weather Service",
    "nws",
    "nws_url",
    most_points=24,
    horizon_days=6,
    attribution="Weather data by the US National Weather Service (public domain); "
    "interpolated along the road.",
)
"""Two requests a point."""

SERVICES = (OPEN_METEO, MET_NORWAY, NWS)
NAMES = tuple(service.name for service in SERVICES)
SOURCES = tuple(service.source for service in SERVICES)


def named(name: str) -> ForecastService:
    """The service of this name in the settings; the settings hold no other."""
    return SERVICES[NAMES.index(name)]


def of_source(source: str) -> ForecastService:
    """The service a trip file names; raises InputError for any other source."""
    if source in SOURCES:
        return SERVICES[SOURCES.index(source)]
    raise InputError(
        [
            Fault(
                "weather.source",
                source,
                "no forecast service has this name",
                say("services.choose_one_own", names=", ".join(SOURCES)),
            )
        ]
    )
