"""Instants written as local clock times of the place they happen in."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from planner.ui.look import strings as s


def local(time_s: float, zone: str) -> datetime:
    """The instant ``time_s`` (POSIX seconds) on the clock of ``zone``."""
    return datetime.fromtimestamp(time_s, UTC).astimezone(ZoneInfo(zone))


def hour(time_s: float, zone: str) -> str:
    """For example ``21:30``."""
    return local(time_s, zone).strftime("%H:%M")


def day(time_s: float, zone: str) -> str:
    """For example ``Thu 4 Jun``."""
    moment = local(time_s, zone)
    return s.say(
        s.DAY_SHORT,
        weekday=s.say(s.WEEKDAYS[moment.weekday()]),
        day=moment.day,
        month=s.say(s.MONTHS[moment.month - 1]),
    )


def day_hour(time_s: float, zone: str) -> str:
    """For example ``Thu 21:30``."""
    moment = local(time_s, zone)
    return s.say(s.DAY_HOUR, weekday=s.say(s.WEEKDAYS[moment.weekday()]), hour=moment.strftime("%H:%M"))


def hours(start_s: float, end_s: float, zone: str, every: int = 1) -> list[float]:
    """Instants of full local hours divisible by ``every`` between two instants, right on daylight-saving nights."""
    first = int(start_s // 900 + 1) * 900
    marks = []
    for stamp in range(first, int(end_s) + 1, 900):
        moment = local(stamp, zone)
        if moment.minute == 0 and moment.hour % every == 0:
            marks.append(float(stamp))
    return marks


def span(seconds: float) -> str:
    """A length of time, for example ``2 h 05 min`` or ``40 min``."""
    minutes = round(seconds / 60)
    if minutes < 60:
        return s.say(s.MINUTES, minutes=minutes)
    return s.say(s.HOURS_MINUTES, hours=minutes // 60, minutes=f"{minutes % 60:02d}")
