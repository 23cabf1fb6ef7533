"""One small plan shared by the tests of the use cases."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Plan
from planner.model.catalogue import Catalogue
from planner.model.records import DepartureWindow
from planner.store.tripfile import TripFile


@pytest.fixture(scope="session")
def plan(pickup_before: TripFile, catalogue: Catalogue) -> Plan:
    """The buyer's pickup with five departures and three loading places."""
    trip = pickup_before.trip
    window = DepartureWindow(trip.window.first_s, trip.window.last_s, 4.0 * 3600.0)
    small = replace(
        trip, window=window, loading_places=("cabin_windows_open", "pickup_canopy_shut_dark", "open_trailer")
    )
    assert pickup_before.road is not None
    assert pickup_before.weather.weather is not None
    return plan_trip(small, pickup_before.road, pickup_before.weather.weather, catalogue)
