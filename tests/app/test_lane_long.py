"""Parcels at length: holidays of many countries, and whether the interval of a chance holds what many journeys say."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from planner.app.answer.tally import interval
from planner.app.lane.calendar import holidays_of, posting, postings
from planner.app.lane.plan import LaneJudge
from tests.app.lanes import catalogue, spring, spring_weather

COUNTRIES = (
    *("AT", "AU", "BR", "CA", "CH", "CN", "CZ", "DE", "EG", "ES", "FR", "GB", "IL"),
    *("IN", "IT", "JP", "KR", "MX", "NO", "NZ", "PL", "PT", "SE", "TR", "US", "ZA"),
)


def check_calendar(country: str, year: int) -> None:
    """Every week of a year: nobody posts on a holiday, nothing is delivered on one, a day late is later."""
    lane = replace(spring(), country=country, region="")
    free = holidays_of(lane, (year, year + 1))
    assert any(day.year == year for day in free), country
    monday = date(year, 1, 1) - timedelta(days=date(year, 1, 1).weekday())
    for week in range(53):
        for saturday in (False, True):
            service = replace(lane.service, saturday=saturday, transit_days=1 + week % 3)
            at_work = replace(lane, service=service, monday=monday + timedelta(days=7 * week))
            for at in postings(at_work, free):
                assert at.day not in free
                for day in (at.due, at.late):
                    assert day not in free
                    assert day.weekday() < 5 + saturday
                assert at.day < at.due < at.late
                worked = sum(
                    day not in free and day.weekday() < 5 + saturday
                    for day in (at.day + timedelta(days=n) for n in range(1, (at.due - at.day).days + 1))
                )
                assert worked == service.transit_days
                assert at.extra == (at.due - at.day).days - service.transit_days
                between = [at.day + timedelta(days=n) for n in range(1, (at.late - at.day).days)]
                crossed = any(day in free or day.weekday() >= 5 + saturday for day in between)
                assert at.crosses == crossed, (country, at)


def test_a_week_of_holidays_is_kept_in_one_country() -> None:
    check_calendar("DE", 2027)


@pytest.mark.slow
@pytest.mark.parametrize("country", COUNTRIES)
def test_holidays_are_kept_in_many_countries(country: str) -> None:
    for year in (2026, 2027, 2028):
        check_calendar(country, year)


def test_saturday_service_delivers_on_saturday() -> None:
    friday = date(2027, 4, 23)
    assert posting(friday, replace(spring().service, saturday=True), frozenset()).due == date(2027, 4, 24)


def covered(lanes: int, samples: int = 128, journeys: int = 4000) -> float:
    """The share of made-up lanes whose interval by few samples holds the share of many other journeys."""
    rng, held = np.random.default_rng(4), 0
    for number in range(lanes):
        group = replace(
            spring().group,
            frames_of_bees=float(rng.uniform(3.0, 6.5)),
            floor_blocked_share=float(rng.uniform(0.0, 0.5)),
        )
        lane = replace(spring(), group=group, setups=("as_declared",))
        air_k = float(rng.uniform(0.0, 12.0))
        weather = replace(
            spring_weather(), air_c=spring_weather().air_c + air_k, dew_c=spring_weather().dew_c + 0.5 * air_k
        )
        at = posting(date(2027, 4, 19), lane.service, frozenset())
        few = LaneJudge(lane, weather, catalogue(), number, samples).outcome(at, [0], slice(0, samples))
        many = LaneJudge(lane, weather, catalogue(), 10_000 + number, journeys)
        true = float(many.outcome(at, [0], slice(0, journeys)).harmed.mean())
        low, high = interval(float(few.harmed.sum()), samples)
        held += low - 1e-9 <= true <= high + 1e-9
    return held / lanes


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.timeout(3600)
def test_the_interval_holds_the_share_of_many_journeys_in_200_lanes() -> None:
    """Intervals of 5 in 100 on either side: at least 88 of 100 hold."""
    assert covered(200) >= 0.88
