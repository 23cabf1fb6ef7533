"""Working days of a carrier: when a parcel is delivered, how many nights weekends and holidays add."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass
from datetime import date, timedelta

from planner.store.lanerecords import ParcelLane, Service

ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Posting:
    """A day of posting: delivered on ``due``, a day late on ``late``; ``extra``, ``late_extra`` nights beyond the way.

    ``crosses``: a weekend or holiday lies between posting and a delivery a day late.
    """

    day: date
    due: date
    late: date
    extra: int
    late_extra: int

    @property
    def crosses(self) -> bool:
        return self.extra > 0 or self.late_extra > 1


def holidays_of(lane: ParcelLane, years: tuple[int, ...]) -> frozenset[date]:
    """Public holidays where the receiver lives."""
    import holidays  # late: heavy, and nothing else needs it

    found = holidays.country_holidays(lane.country, subdiv=lane.region or None, years=list(years))
    return frozenset(found)


def postings(lane: ParcelLane, free: Container[date], monday: date | None = None) -> tuple[Posting, ...]:
    """The days of a week on which one can post; holidays at home count as the receiver's."""
    first = monday or lane.monday
    days = (first + timedelta(days=number) for number in lane.service.weekdays)
    return tuple(posting(day, lane.service, free) for day in days if day not in free)


def posting(day: date, service: Service, free: Container[date]) -> Posting:
    """When a parcel posted on a day is delivered."""

    def works(at: date) -> bool:
        return at not in free and (at.weekday() < 5 or (at.weekday() == 5 and service.saturday))

    def after(at: date, count: int) -> date:
        while count:
            at += ONE_DAY
            count -= works(at)
        return at

    due = after(day, service.transit_days)
    late = after(due, 1)
    usual = service.transit_days
    return Posting(day, due, late, (due - day).days - usual, (late - day).days - usual)
