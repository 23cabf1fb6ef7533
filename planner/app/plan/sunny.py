"""From which side the sun shines on the load at a moment of a trip: as the window draws and says it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.app.plan.results import Curves
from planner.model.sun import sun_position

Side = Literal["above", "front", "right", "back", "left"]
ROUND: tuple[Side, ...] = ("front", "right", "back", "left")
STEEP_DEG = 60.0
"""Higher than this the lid has the sun whichever way the vehicle points."""


@dataclass(frozen=True, slots=True)
class SunOnLoad:
    """Where the sun stands, clockwise from north and above the horizon, and the side of the load it shines on."""

    azimuth_deg: float
    elevation_deg: float
    side: Side


def sun_on_load(curves: Curves, time_s: float) -> SunOnLoad | None:
    """The sun over the vehicle at an instant; none by night, out of the trip, or where it never drives."""
    if not curves.time_s[0] <= time_s <= curves.time_s[-1]:
        return None
    lat, lon = (float(np.interp(time_s, curves.time_s, held)) for held in (curves.lat_deg, curves.lon_deg))
    sun = sun_position(time_s, lat, lon)
    elevation, azimuth = float(sun.elevation_deg), float(sun.azimuth_deg)
    heading = _heading_deg(curves, time_s)
    if not elevation > 0.0 or heading is None:
        return None
    quarter = round(((azimuth - heading) % 360.0) / 90.0) % 4
    return SunOnLoad(azimuth, elevation, "above" if elevation >= STEEP_DEG else ROUND[quarter])


def _heading_deg(curves: Curves, time_s: float) -> float | None:
    """Which way the vehicle points, clockwise from north: as it last drove, before that as it will set off."""
    drives = np.flatnonzero(np.diff(curves.km) > 0.0)
    if not drives.size:
        return None
    at = drives[max(int(np.searchsorted(curves.time_s[drives], time_s, "right")) - 1, 0)]
    north = curves.lat_deg[at + 1] - curves.lat_deg[at]
    east = (curves.lon_deg[at + 1] - curves.lon_deg[at]) * np.cos(np.radians(curves.lat_deg[at]))
    return float(np.degrees(np.arctan2(east, north)))
