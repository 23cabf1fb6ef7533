"""A trip from two place names and usual figures for the rest, as a draft like any other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from planner.model.records import Site
from planner.store.tripfile import VERSION

STEP_MINUTES = 30
WINDOW_HOURS = 16
EVENING_HOUR = 18
DAYS_MOST = 14
DEW_BELOW_LOW_K = 1.0
"""Dew point under the dawn low where none is given (common practice, no source: air nearly saturates at dawn)."""

TIME_FORMAT = "%Y-%m-%dT%H:%M"


@dataclass(frozen=True)
class QuickLoad:
    """The load of a quick trip: boxes that are all alike."""

    count: int = 4
    box_type: str = "langstroth_nuc5_pine"
    frames_of_bees: float = 5.0
    open_brood_frames: float = 1.0
    sealed_brood_frames: float = 2.0
    stores_frames: float = 1.5
    floor_blocked_share: float = 0.2


@dataclass(frozen=True)
class OwnFigures:
    """The same expected weather for every day of a quick trip; used where no forecast can be had."""

    dawn_low_c: float
    afternoon_high_c: float
    dew_point_c: float | None = None
    sky: str = "partly_cloudy"
    wind_ms: float = 2.0


@dataclass(frozen=True)
class Quick:
    """What a quick trip is asked for; ``leave`` and ``until`` are local date-times ``YYYY-MM-DDTHH:MM`` or empty."""

    origin: Site
    destination: Site
    via: Sequence[Site] = ()
    vehicle: str = "car"
    load: QuickLoad = field(default_factory=QuickLoad)
    leave: str = ""
    until: str = ""
    weather: str = "open_meteo"
    own: OwnFigures | None = None


def quick_draft(asked: Quick, now_s: float) -> dict[str, Any]:
    """The draft of a quick trip: this evening to tomorrow morning unless told otherwise, shut after sunset."""
    leave = asked.leave or _next_evening(asked.origin.zone, now_s)
    return {
        "version": VERSION,
        "title": f"{asked.origin.name} to {asked.destination.name}",
        "origin": _place(asked.origin),
        "destination": _place(asked.destination),
        "stops": [{**_place(site), "purpose": "rest", "dwell_minutes": 15} for site in asked.via],
        "load": [_load(asked.load)],
        "vehicle": {"kind": asked.vehicle},
        "closing": {"rule": "after_sunset", "delay_minutes": 15},
        "window": {"from": leave, "to": asked.until or _later(leave), "step_minutes": STEP_MINUTES},
        "weather": _own_weather(asked, leave) if asked.own else {"source": asked.weather},
    }


def _load(load: QuickLoad) -> dict[str, Any]:
    return {
        "label": "Boxes",
        "count": load.count,
        "box_type": load.box_type,
        "frames_of_bees": load.frames_of_bees,
        "open_brood_frames": load.open_brood_frames,
        "sealed_brood_frames": load.sealed_brood_frames,
        "stores_frames": load.stores_frames,
        "floor": "mesh",
        "floor_blocked_share": load.floor_blocked_share,
        "roof": "solid",
        "entrance": "foam",
    }


def _own_weather(asked: Quick, leave: str) -> dict[str, Any]:
    """The user's figures for every local day from the eve of the window to the day after it."""
    own, until = asked.own, asked.until or _later(leave)
    assert own is not None
    try:
        first, last = (datetime.strptime(text, TIME_FORMAT).date() for text in (leave, until))
    except ValueError:
        return {"source": "own", "own": []}
    days = [first + timedelta(days=i) for i in range(-1, min((last - first).days, DAYS_MOST) + 2)]
    figures = {
        "dawn_low_c": own.dawn_low_c,
        "afternoon_high_c": own.afternoon_high_c,
        "dew_point_c": own.dawn_low_c - DEW_BELOW_LOW_K if own.dew_point_c is None else own.dew_point_c,
        "sky": own.sky,
        "wind_ms": own.wind_ms,
    }
    return {
        "source": "own",
        "own": [{"place": asked.origin.name, "date": f"{day}", **figures} for day in days],
    }


def _place(site: Site) -> dict[str, Any]:
    place = {"name": site.name, "lat": site.lat_deg, "lon": site.lon_deg, "zone": site.zone}
    return place if site.elevation_m is None else {**place, "elevation_m": site.elevation_m}


def _next_evening(zone: str, now_s: float) -> str:
    now = datetime.fromtimestamp(now_s, ZoneInfo(zone))
    evening = now.replace(hour=EVENING_HOUR, minute=0, second=0, microsecond=0, tzinfo=None)
    if evening < now.replace(tzinfo=None):
        evening += timedelta(days=1)
    return f"{evening:%Y-%m-%dT%H:%M}"


def _later(leave: str) -> str:
    """The end of the window; a text that is no time is left for the trip file's own check to name."""
    try:
        start = datetime.strptime(leave, TIME_FORMAT)
    except ValueError:
        return leave
    return f"{start + timedelta(hours=WINDOW_HOURS):%Y-%m-%dT%H:%M}"
