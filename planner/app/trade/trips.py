"""Rows of the trade's year as trips: each goes through the door of the trip file, weather and all.

What a trip file has no words for is told as nearly as it can be told: packages standing tight have their screens
covered by their neighbours.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from planner.app.chance.race import NARROWED, scenario_of, space_of
from planner.app.chance.samples import SampleSpace, Scenario
from planner.app.plan.plan import departures_of
from planner.app.trade.table import Air, Row, Stage
from planner.model.air import pressure_at_pa
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import Floats, Road, Trip, Weather
from planner.model.sky import sun_of_hour_before_w_m2
from planner.model.timeline import Timeline
from planner.services.forecast.assemble import Series, assemble
from planner.services.forecast.points import Points
from planner.services.forecast.span import HOUR_S
from planner.store.clocks import instant_s
from planner.store.documents import Document
from planner.store.tripfile import resolve
from planner.store.weatherfile import weather_text

YEAR = 2025
"""Any year will do: a row names the month and the day."""

ZONE = "UTC"
"""On the meridian of Greenwich it shows the sun's clock, give or take a quarter of an hour."""

FULL_CAN_KG = 0.9
"""Syrup in the can of a package for three pounds of bees (common practice, no source; grade C)."""

STEP_DEG = 0.01
"""Calls stand so far apart on the map; how far they are apart on the road, the legs say."""

BEFORE_H, AFTER_H = 36.0, 6.0
"""Weather before the departure, the day that warmed the boxes among it, and after the last stage."""


@dataclass(frozen=True)
class RowTrip:
    """A row as a trip with its road and weather; the boxes of each of its places are a group."""

    row: Row
    trip: Trip
    road: Road
    weather: Weather

    def opened(self, catalogue: Catalogue) -> OpenedTrip:
        """Ready to be sampled."""
        found = scenario_of(
            self.trip,
            self.road,
            (self.weather,),
            departures_of(self.trip),
            self.row.places[:1],
            catalogue,
            [AS_DECLARED],
        )
        return OpenedTrip(*found)


@dataclass(frozen=True)
class OpenedTrip:
    """A scenario with its one departure; ``night`` as the samples take it."""

    scenario: Scenario
    timeline: Timeline
    night: Floats

    def space(self, *, narrowed: bool = NARROWED) -> SampleSpace:
        """What is not known about it."""
        return space_of(self.scenario, self.timeline, narrowed=narrowed)


def trip_of(row: Row, catalogue: Catalogue) -> RowTrip:
    """A row as a trip. Raises InputError where the program's own trip file would refuse it."""
    read = resolve(draft_of(row), catalogue, now_s=0.0)
    if read.road is None or read.weather.weather is None:
        raise AssertionError(row.name)  # both stand in the draft
    return RowTrip(row, read.trip, read.road, read.weather.weather)


def draft_of(row: Row) -> Document:
    """The trip file of a row; its boxes are spread evenly over its places."""
    leaves = f"{YEAR}-{row.month:02d}-{row.day:02d}T{_clock(row.leaves_h)}"
    drives = [stage for stage in row.journey if stage.drive_s]
    stands = [stage for stage in row.journey if not stage.drive_s]
    handling = {
        "waiting_shade": row.waits_in_shade,
        "loading_minutes": row.loading_s / 60.0,
        "opening_minutes": row.opening_s / 60.0,
    }
    return {
        "version": 1,
        "title": row.title,
        "invented": True,
        "origin": _site(row, "Yard", 0),
        "stops": [_stop(row, stage, number) for number, stage in enumerate(stands, 1)],
        "destination": _site(row, "Stand", len(stands) + 1),
        "road": {"legs": [_leg(stage) for stage in drives], "source": "told by the row"},
        "load": [
            {"label": f"Boxes {number}", "place": place, **_load(row)}
            for number, place in enumerate(row.places, 1)
        ],
        "vehicle": {"places": list(row.places), "net": row.net},
        "closing": {"rule": "clock", "clock": _clock(row.closed_h)},
        "window": {"from": leaves, "to": leaves},
        "handling": handling,
        "weather": {"source": "embedded", "table": weather_text(_weather(row, leaves))},
    }


def _load(row: Row) -> Document:
    load = dict(row.load)
    load["count"] = max(round(row.load["count"] / len(row.places)), 1)
    if row.spacing == "spaced":
        load["stand"] = "battens"
    if row.spacing == "tight":
        load["side_vents_open"] = False
    load["wet_bees_ml"] = row.wet_bees_kg * 1000.0
    if row.syrup_can == "full":
        load["syrup_can_kg"] = FULL_CAN_KG
    return load


def _clock(hours: float) -> str:
    whole, minutes = divmod(round(hours * 60.0), 60)
    return f"{whole:02d}:{minutes:02d}"


def _site(row: Row, name: str, number: int) -> Document:
    return {"name": name, "lat": row.lat_deg, "lon": number * STEP_DEG, "zone": ZONE, "elevation_m": 0.0}


def _stop(row: Row, stage: Stage, number: int) -> Document:
    return {
        **_site(row, f"Stop {number}", number),
        "purpose": "rest",
        "dwell_minutes": stage.stand_s / 60.0,
        "shade": stage.shade,
        "doors_open": stage.doors_open,
        "engine_on": stage.engine_on,
    }


def _leg(stage: Stage) -> Document:
    return {"km": stage.drive_s / 3600.0 * stage.speed_kmh, "minutes": stage.drive_s / 60.0}


def _weather(row: Row, leaves: str) -> Weather:
    """The air of a row, hour by hour, from the day before until everything is open."""
    leaves_s = instant_s(leaves, ZONE, "leaves_at")
    first_s = (leaves_s // HOUR_S - BEFORE_H) * HOUR_S
    last_s = leaves_s + sum(stage.drive_s + stage.stand_s for stage in row.journey) + row.opening_s
    time_s = np.arange(first_s, last_s + AFTER_H * HOUR_S, HOUR_S)
    air = air_at_c(row.air, time_s)
    cloud = np.full(time_s.shape, row.air.cloud_share)
    values = {
        "air_c": air,
        "dew_c": np.minimum(row.air.dew_c, air),
        "wind_east_ms": np.full(time_s.shape, row.air.wind_ms),
        "wind_north_ms": np.zeros(time_s.shape),
        "cloud_share": cloud,
        "ghi_w_m2": sun_of_hour_before_w_m2(time_s, [row.lat_deg], [0.0], [0.0], cloud[:, None])[:, 0],
        "pressure_pa": np.full(time_s.shape, float(pressure_at_pa(0.0))),
        "rain_mm": np.zeros(time_s.shape),
    }
    return assemble(
        Points(np.array([0.0]), np.array([row.lat_deg]), np.array([0.0]), np.array([0.0])),
        [Series(time_s, values, row.lat_deg, 0.0, 0.0)],
        source="told by the row",
        attribution="",
        issued_s=float("nan"),
        kind="own",
        notes=("told by the row",),
    )


def air_at_c(air: Air, time_s: Floats) -> Floats:
    """The air at instants, C: evenly between the hours named, the same every day.

    >>> air_at_c(Air((6.0, 18.0), (10.0, 20.0), 5.0, 2.0, 0.0), np.array([0.0, 9.0, 12.0]) * 3600.0)
    array([15. , 12.5, 15. ])
    """
    return np.interp(time_s / 3600.0 % 24.0, air.hours, air.air_c, period=24.0)
