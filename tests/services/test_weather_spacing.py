"""Whether the weather points along a road stand close enough: whole plans of the demo trips, spacing halved."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.app.plan.inputs import time_span
from planner.app.plan.plan import plan_trip
from planner.app.plan.results import TYPICAL
from planner.model.air import pressure_at_pa
from planner.model.records import Weather
from planner.model.sky import sun_of_hour_before_w_m2
from planner.services.forecast.points import Points, choose_points
from planner.store.catalogue import load_catalogue
from planner.store.tripfile import load_trip

DEMO = Path(__file__).parents[2] / "resources" / "demo"
HOUR_S = 3600.0


def rough_weather(points: Points, first_s: float, last_s: float) -> Weather:
    """An invented restless day: a front of 6 K across 80 km passing at 12 m/s, bands of cloud and wind, 6.5 K/km."""
    time_s = np.arange(np.floor(first_s / HOUR_S - 2.0) * HOUR_S, last_s + 2.0 * HOUR_S, HOUR_S)
    hour = time_s[:, None] / HOUR_S
    lat, lon, height = points.lat_deg, points.lon_deg, points.elevation_m
    east_km = (lon - 8.0) * 111.0 * np.cos(np.radians(lat))
    middle = float(hour.mean())
    front = 3.0 * np.tanh((east_km - east_km.mean() - 12.0 * 3.6 * (hour - middle)) / 40.0)
    local = (hour + lon / 15.0) % 24.0
    air = 24.0 - 0.0065 * height + 8.0 * np.sin((local - 9.0) / 12.0 * np.pi) + front + np.sin(east_km / 60.0)
    cloud = np.clip(0.4 + 0.3 * np.sin(east_km / 50.0 + hour / 2.0), 0.0, 1.0)
    wind = 3.0 + 2.0 * np.sin(east_km / 70.0 + hour / 2.5)
    unknown = np.full_like(air, np.nan)
    pressure = np.broadcast_to(pressure_at_pa(height), air.shape).copy()
    sun = sun_of_hour_before_w_m2(time_s, lat, lon, height, cloud)
    return Weather(
        time_s, points.km, lat, lon, height, air, air - 8.0, wind, 0.0 * air, unknown, sun, unknown, unknown,
        cloud, pressure, 0.0 * air, "invented", kind="invented",
    )  # fmt: skip


@pytest.mark.parametrize("name", ["night-pollination", "nuc-pickup", "swarm-run"])
def test_halving_the_spacing_changes_no_answer_by_more_than_a_fifth_of_a_kelvin(name: str) -> None:
    """Typical answers below 38 C in 99 of 100; all answers there in 99 of 100.

    Nearer to running away any small change of weather grows without bound; bees that answer to damp and stale air
    as well make the way there steeper (measured: one typical answer of night-pollination by 0.44 K at 38.7 C).
    """
    catalogue = load_catalogue()
    found = load_trip(DEMO / f"{name}.toml", catalogue)
    assert found.road is not None
    road = found.road
    trip = replace(found.trip, window=replace(found.trip.window, step_s=2.0 * HOUR_S))
    span = time_span(trip, road)
    peaks = []
    for density in (1.0, 2.0):
        weather = rough_weather(choose_points(road, density=density), *span)
        peaks.append(plan_trip(trip, road, weather, catalogue).outcomes.peak_core_c)
    usual, fine = peaks
    change, hottest = np.abs(usual - fine), np.maximum(usual, fine)
    typical = change[..., TYPICAL, :][hottest[..., TYPICAL, :] < 38.0]
    assert typical.size > 50
    assert np.percentile(typical, 99.0) < 0.2
    assert np.percentile(change[hottest < 38.0], 99.0) < 0.2
