# ruff: noqa: PT017
"""Trips cut down to a few candidates, and the planning of whatever passed the check."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np

from planner.app.plan.inputs import ready
from planner.app.plan.plan import plan_trip
from planner.bundled import resource_path
from planner.errors import SkepwayError
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import DepartureWindow
from planner.store.tripfile import TripFile

DEMO = resource_path("demo", "nuc-pickup.toml")


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


def two_departures(folder: Path) -> Path:
    """A demo trip with two departures in one loading place: what is planned matters less here than what is told."""
    for beside in DEMO.parent.glob("nuc-pickup-*"):
        (folder / beside.name).write_bytes(beside.read_bytes())
    text = re.sub(r"places = \[.*?\]", 'places = ["open_trailer"]', DEMO.read_text("utf-8"), flags=re.DOTALL)
    path = folder / "trip.toml"
    path.write_text(text.replace('to = "2027-11-13T23:00"', 'to = "2027-11-13T07:00"'), "utf-8")
    return path
