"""Weather for a trip from a typical year that is at hand as a file: the same days and hours, moved onto its dates."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from planner.errors import Fault, InputError
from planner.model.geo import great_circle_km
from planner.model.records import Ints, Weather
from planner.store.typicalyear import read_year
from planner.store.weatherfile import weather_text
from planner.words import distance, say

BEFORE_H, AFTER_H = 36, 60
"""Hours before the first departure and after the last that the table holds: combs remember a day, trips take two."""
HOUR_S = 3600.0


def typical_table(path: Path, draft: Mapping[str, Any]) -> dict[str, Any]:
    """The ``weather`` part of a trip: a table of its hours out of the typical year in ``path``.

    Raises
    ------
    InputError : for a file that is no typical year, or a trip without dates; StorageError
    """
    year = read_year(path)
    zone = ZoneInfo(str((draft.get("origin") or {}).get("zone") or "UTC"))
    held = draft.get("window") or {}
    try:
        first, last = (datetime.fromisoformat(held[key]).replace(tzinfo=zone) for key in ("from", "to"))
    except (KeyError, TypeError, ValueError):
        problem = "the dates of the trip are missing"
        raise InputError([Fault("window", "", problem, "Say from when to when to leave")]) from None
    start_s = np.floor(first.timestamp() / HOUR_S) * HOUR_S - BEFORE_H * HOUR_S
    end_s = np.ceil(last.timestamp() / HOUR_S) * HOUR_S + AFTER_H * HOUR_S
    time_s = np.arange(start_s, end_s + 1.0, HOUR_S)
    told = replace(moved(year, time_s), source=_told_of(year, draft.get("origin") or {}))
    return {"source": "embedded", "table": weather_text(told)}


def _told_of(year: Weather, start: Mapping[str, Any]) -> str:
    """Whose hours these are and how far from the start: weather of a place 150 km off is not that of the road."""
    try:
        lat, lon = float(start["lat"]), float(start["lon"])
    except (KeyError, TypeError, ValueError):
        return year.source
    away_km = float(great_circle_km(lat, lon, year.lat_deg[0], year.lon_deg[0]))
    return say("season.typical_from", source=year.source, away=distance(away_km))


def moved(year: Weather, time_s: np.ndarray) -> Weather:
    """The typical year's hours at the same day of the year and hour (UTC) as each of ``time_s``, POSIX seconds."""
    return year.at_rows(_rows(year, time_s), np.asarray(time_s, dtype=np.float64))


def _rows(year: Weather, time_s: np.ndarray) -> Ints:
    """The row of the year for each instant; the 29th of February has the weather of the 28th."""
    nominal = datetime.fromtimestamp(float(year.time_s[year.time_s.size // 2]), UTC).year
    wanted = []
    for instant in time_s:
        then = datetime.fromtimestamp(float(instant), UTC)
        if (then.month, then.day) == (2, 29):
            then -= timedelta(days=1)
        wanted.append(then.replace(year=nominal).timestamp())
    return np.clip(np.searchsorted(year.time_s, wanted), 0, year.time_s.size - 1)
