# ruff: noqa: PT017
"""Planning whatever passed the check, cut down to a few candidates."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.app.plan.inputs import ready
from planner.app.plan.plan import plan_trip
from planner.errors import SkepwayError
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import DepartureWindow
from planner.store.tripfile import TripFile


def planned_or_explained(found: TripFile, catalogue: Catalogue, departures: int) -> None:
    """Plan so many departures in at most two loading places as declared, with the file's road or none."""
    first = found.trip.window.first_s
    trip = replace(
        found.trip,
        window=DepartureWindow(first, first + (departures - 1) * 3600.0, 3600.0),
        loading_places=found.trip.loading_places[:2],
    )
    try:
        given = ready(replace(found, trip=trip))
        plan = plan_trip(given.trip, given.road, given.weather, catalogue, setups=(AS_DECLARED,))
    except SkepwayError as error:
        assert str(error).strip()
        return
    assert np.all(np.isfinite(plan.departures_s))
    assert plan.ranking
