"""Local times and zones as people write them, and the nights on which clocks jump."""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from functools import cache
from zoneinfo import ZoneInfo, available_timezones

from planner.errors import Fault, InputError
from planner.store.schema import did_you_mean
from planner.words import say
from planner.zones import is_zone

FIRST_YEAR, LAST_YEAR = 1900, 2200
"""Years of any trip, past or planned; calendars, zones and weather archives reach no further."""


def require_zone(name: str, field: str) -> str:
    """The name itself, or InputError naming the nearest known zone."""
    if is_zone(name):
        return name
    raise InputError([Fault(field, name, "no such time zone", did_you_mean(name, _zones_like(name)))])


def instant_s(text: str, zone: str, field: str) -> float:
    """POSIX seconds of a local date and time in ``zone``, or of one with its own offset.

    Raises InputError for days and hours no calendar has, and for local times that a change of the
    clocks skips or repeats; the remedy gives the same time with each offset in question.
    """
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        remedy = "Write local date and time such as 2027-05-12T21:30"
        raise InputError([Fault(field, text, say("files.no_such_date", error=str(error)), remedy)]) from error
    _require_year(moment.year, field, text)
    if moment.tzinfo is not None:
        return moment.timestamp()
    return _local_instant_s(moment, ZoneInfo(zone), field)


def day_of(text: str, field: str) -> date:
    """A calendar day. Raises InputError."""
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise InputError([Fault(field, text, "no such day", "Write a date such as 2027-05-12")]) from error
    _require_year(day.year, field, text)
    return day


def day_seconds(text: str) -> float:
    """Seconds since local midnight of a checked time of day."""
    clock = time.fromisoformat(text)
    return clock.hour * 3600.0 + clock.minute * 60.0 + clock.second


def _require_year(year: int, field: str, text: str) -> None:
    if not FIRST_YEAR <= year <= LAST_YEAR:
        problem = say("files.year_out_of_bounds", first_year=str(FIRST_YEAR), last_year=str(LAST_YEAR))
        raise InputError([Fault(field, text, problem, "Check the year")])


def _local_instant_s(moment: datetime, zone: ZoneInfo, field: str) -> float:
    early, late = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if early.utcoffset() == late.utcoffset():
        return early.timestamp()
    skipped = datetime.fromtimestamp(early.timestamp(), UTC).astimezone(zone).replace(tzinfo=None) != moment
    problem = (
        say("files.clocks_skip_time", key_name=str(zone.key))
        if skipped
        else say("files.time_comes_twice", key_name=str(zone.key))
    )
    written = " or ".join(each.isoformat(timespec="minutes") for each in (early, late))
    raise InputError(
        [Fault(field, moment.isoformat(sep="T"), problem, say("files.give_offset", written=str(written)))]
    )


@cache
def _zones() -> tuple[str, ...]:
    return tuple(sorted(available_timezones()))


def _zones_like(name: str) -> list[str]:
    """Zones worth offering for a name: those that end or begin alike, all when none does."""
    word = name.lower().rsplit("/", 1)[-1][:4]
    alike = [zone for zone in _zones() if word and word in zone.lower()]
    return alike or [zone for zone in _zones() if zone.startswith(("Europe/", "America/", "Australia/"))]
