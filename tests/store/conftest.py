"""A small valid trip to bend in every direction, and the bundled catalogue."""

from __future__ import annotations

import copy
from typing import Any

import pytest

from planner.model.catalogue import Catalogue
from planner.store.catalogue import load_catalogue

_DRAFT: dict[str, Any] = {
    "version": 1,
    "title": "Test trip",
    "origin": {"name": "Yard", "lat": 52.0, "lon": -1.0, "zone": "Europe/London", "elevation_m": 80},
    "stops": [
        {"name": "Garden", "lat": 52.2, "lon": -0.6, "purpose": "load", "dwell_minutes": 15},
        {"name": "Pumps", "lat": 52.4, "lon": -0.2, "purpose": "fuel", "dwell_minutes": 10},
    ],
    "destination": {"name": "Heath", "lat": 52.6, "lon": 0.2, "elevation_m": 20},
    "road": {"legs": [{"km": 40, "minutes": 40}, {"km": 42, "minutes": 45}, {"km": 41, "minutes": 40}]},
    "load": [
        {
            "label": "Nucs",
            "count": 4,
            "box_type": "national_nuc5_ply",
            "frames_of_bees": 5,
            "open_brood_frames": 1,
            "sealed_brood_frames": 2,
            "stores_frames": 1.5,
            "thin_syrup_share": 0.2,
            "floor_blocked_share": 0.3,
            "misting": {"ml": 20, "first_minutes": 60, "every_minutes": 30},
            "unloaded_at": "Heath",
        },
        {
            "label": "Swarm",
            "count": 1,
            "box_type": "swarm_box_ply",
            "bees_kg": 1.8,
            "roof": "screen",
            "loaded_at": "Garden",
            "closing": {"rule": "clock", "clock": "21:10"},
            "place": "van_roof_fan_white",
        },
    ],
    "vehicle": {"kind": "van", "net": False, "drive_time_factor": 1.1},
    "closing": {"rule": "after_sunset", "delay_minutes": 20},
    "window": {"from": "2027-05-12T18:00", "to": "2027-05-13T06:00", "step_minutes": 30},
    "arrival": {"before_light": True, "latest": "2027-05-13T09:00", "gate_open": "05:30"},
    "handling": {"waiting_shade": False, "loading_minutes": 45, "opening_minutes": 20},
    "weather": {
        "source": "own",
        "own": [
            {
                "place": "Yard",
                "date": "2027-05-12",
                "dawn_low_c": 9,
                "afternoon_high_c": 21,
                "dew_point_c": 7,
                "sky": "clear",
                "wind_ms": 3,
            }
        ],
    },
}


@pytest.fixture
def draft() -> dict[str, Any]:
    """A draft without fault; every test gets its own copy."""
    return copy.deepcopy(_DRAFT)


@pytest.fixture(scope="session")
def valid_draft() -> dict[str, Any]:
    """The same for property tests, which copy it themselves."""
    return copy.deepcopy(_DRAFT)


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return load_catalogue()
