"""A small collection day for tests: five buyers, seven boxes, a warm day, judged in few samples."""

from __future__ import annotations

import copy
from functools import cache
from typing import Any

from planner.bundled import resource_path
from planner.model.catalogue import Catalogue
from planner.model.records import Weather
from planner.store.catalogue import load_catalogue
from planner.store.dayfile import read_day, resolve_day
from planner.store.dayrecords import Day

BUYERS = [
    {"name": "Ada", "drive_minutes": 30, "vehicle": "car", "cooling": True, "wish": "08:00"},
    {"name": "Bo", "drive_minutes": 60, "vehicle": "estate", "boxes": 2},
    {"name": "Cy", "drive_minutes": 30, "vehicle": "car", "cooling": True, "times": "05:00-07:00"},
    {"name": "Di", "drive_minutes": 90, "vehicle": "trailer", "first_timer": True},
    {"name": "Ed", "drive_minutes": 30, "vehicle": "car", "cooling": True},
]


def small_draft() -> dict[str, Any]:
    """The demo's yard and weather with few buyers, boxes and slots."""
    draft = read_day(resource_path("demo", "day", "collection-day.toml"))
    for key in ("buyers_file", "boxes_file"):
        del draft[key]
    draft["slots"] |= {"spans": ["05:00-09:00"], "minutes": 30}
    draft["closings"] = ["before_first_flight", "at_handover"]
    draft["buyers"] = copy.deepcopy(BUYERS)
    draft["boxes"] = [
        {"id": f"B00{n}{c}", "frames_of_bees": 3 if n < 5 else 4.5} for n, c in enumerate("JZSQVHL", 1)
    ]
    return draft


@cache
def catalogue() -> Catalogue:
    return load_catalogue()


def small_day(**changes: Any) -> Day:
    """The day with some sections of its file changed."""
    draft = small_draft()
    for key, value in changes.items():
        draft[key] = {**draft.get(key, {}), **value} if isinstance(value, dict) else value
    return resolve_day(draft, catalogue())


@cache
def weather() -> Weather:
    from planner.app.day.inputs import weather_of_day

    return weather_of_day(small_day())
