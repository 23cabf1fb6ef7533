"""How much a plan holds at once, measured in a process of its own."""

from __future__ import annotations

import pytest

from tests import peak

pytestmark = pytest.mark.skipif(not peak.TOLD, reason="the peak is told by Linux only")

DEMO = """
from planner.bundled import resource_path
from planner.store.catalogue import load_catalogue
from planner.store.tripfile import load_trip
catalogue = load_catalogue()
found = load_trip(resource_path("demo", "{name}.toml"), catalogue)
trip, road, weather = found.trip, found.road, found.weather.weather
"""
LARGE = """
from dataclasses import replace
from planner.model.records import DepartureWindow
from tests.model.scenarios import DAY_S, HIVE, SUMMER, catalogue, halt, place, road, trip, weather as sky
groups = [replace(HIVE, label=f"row {{n}}", count=50, frames_of_bees=6.0 + n) for n in range(8)]
trip = trip(groups, "flatbed_inner", leave_s=SUMMER + DAY_S, stops=[halt(5) for _ in range(40)])
trip = replace(trip, window=DepartureWindow(SUMMER + DAY_S, SUMMER + 15 * DAY_S, 600.0))
road, catalogue = road(6.0, waypoints=42, vertices=421), catalogue()
decks = {{"flatbed_inner": place("flatbed_inner", length_m=60.0)}}  # several vehicles as one: one would not hold them
catalogue = replace(catalogue, loading_places=catalogue.loading_places | decks)
weather = sky(14, 24, SUMMER, days=18)
"""
MEASURE = """
from planner.app.plan.plan import plan_trip
from tests.peak import held_mb
plan_trip(trip, road, weather, catalogue)
print(held_mb())
"""


def peak_mb(setting: str, **named: str) -> float:
    """Highest resident memory of a process that makes one plan, MB."""
    return peak.alone(setting.format(**named) + MEASURE)


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.parametrize("name", ["night-pollination", "nuc-pickup", "swarm-run"])
def test_a_plan_of_a_demo_stays_under_300_mb(name: str) -> None:
    """225 MB measured; 600 to 800 before batches were cut by what they hold."""
    assert peak_mb(DEMO, name=name) < 300.0


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_four_hundred_boxes_forty_stops_and_fourteen_days_stay_under_a_gibibyte() -> None:
    """Eight groups of fifty hives, a departure every ten minutes; 206 MB and 90 s of a processor measured."""
    assert peak_mb(LARGE) < 1024.0
