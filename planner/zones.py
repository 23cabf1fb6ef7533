"""Time zones of places, offline: boundaries from the tzfpy package (OpenStreetMap, ODbL), names of this machine."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from zoneinfo import ZoneInfo

from tzfpy import get_tz


def zone_at(lat_deg: float, lon_deg: float) -> str:
    """IANA zone of a point, at sea the nautical one; UTC where this machine does not know it."""
    name = get_tz(lon_deg, lat_deg)
    return name if name and is_zone(name) else "Etc/UTC"


def ahead_s(at_s: float, here: str, there: str) -> float:
    """How much later than here the clocks show there at an instant, s."""
    at = datetime.fromtimestamp(at_s, UTC)
    by_here, by_there = (at.astimezone(ZoneInfo(zone)).replace(tzinfo=None) for zone in (here, there))
    return (by_there - by_here).total_seconds()


@cache
def is_zone(name: str) -> bool:
    """Whether a name is an IANA time zone this machine knows."""
    try:
        ZoneInfo(name)
    except (KeyError, ValueError, OSError):  # unknown, not a zone's name, a folder or too long
        return False
    return True
