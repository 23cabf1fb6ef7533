"""The time zone of a place, without a network."""

from __future__ import annotations

from zoneinfo import ZoneInfo

from tzfpy import get_tz


def zone_at(lat_deg: float, lon_deg: float) -> str:
    """IANA zone of a point, at sea the nautical one; boundaries from the tzfpy package (OpenStreetMap, ODbL)."""
    name: str = get_tz(lon_deg, lat_deg)
    try:
        return ZoneInfo(name).key
    except (KeyError, ValueError, OSError):  # no zone there, or newer than this machine's table
        return "Etc/UTC"
