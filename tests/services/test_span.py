"""Which hours are asked for, and of whom: archive, forecast or typical weather."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pytest

from planner.model.records import Road
from planner.services.forecast.find import find_weather
from planner.services.forecast.span import Span, since, whole_days
from planner.services.http import Client
from tests.services.standin import StandIn

H, DAY = 3600.0, 86_400.0


def test_a_forecast_of_tomorrow_must_tell_of_today() -> None:
    """What claims to have been made later came now: a wrong clock over there excuses no hour."""
    now_s = time.time()
    asked = Span(now_s - DAY, now_s + 5 * DAY)
    assert since(asked, now_s - 2 * DAY) == asked
    assert since(asked, now_s - H) == Span(now_s - H, asked.last_s)
    assert now_s <= since(asked, now_s + 4 * DAY).first_s <= time.time()


@pytest.mark.parametrize(
    ("first_h", "last_h", "expected"),
    [
        (36.0, 46.0, (24, 47)),
        (36.0, 47.0, (24, 47)),
        (36.0, 47.01, (24, 71)),
        (24.0, 24.0, (24, 47)),
        (23.99, 30.0, (0, 47)),
    ],
)
def test_whole_days_hold_the_trip_and_the_hour_after(
    first_h: float, last_h: float, expected: tuple[int, int]
) -> None:
    """What ends by 23:00 fits the day whose last row is 23:00; a minute more asks for the next day too."""
    span = whole_days(first_h * H, last_h * H)
    assert (span.first_s / H, span.last_s / H) == expected


def test_a_span_is_written_in_utc() -> None:
    assert Span(1_780_272_000.0, 1_780_354_800.0).text("%Y-%m-%dT%H:%M") == (
        "2026-06-01T00:00",
        "2026-06-01T23:00",
    )


@pytest.mark.parametrize(
    ("service", "day", "asked"),
    [
        ("open-meteo", -91, "/v1/archive"),
        ("open-meteo", -90, "/v1/forecast"),
        ("open-meteo", 14, "/v1/forecast"),
        ("open-meteo", 15, "/v1/archive"),
        ("met-norway", 8, "/weatherapi"),
        ("met-norway", 9, "/v1/archive"),
        ("nws", 5, "/gridpoints"),
        ("nws", 6, "/v1/archive"),
    ],
)
def test_the_date_decides_who_is_asked(
    client: Client,
    world: StandIn,
    straight_road: Callable[..., Road],
    service: str,
    day: int,
    asked: str,
) -> None:
    """Over 90 days back: the archive. Up to each service's horizon: itself. Beyond it: past years."""
    road = straight_road(0.2, lat_deg=40.0, lon_deg=-90.0, step_km=0.1)
    settings = world.settings(forecast={"service": service})
    first_s = world.today_s + day * DAY + H
    found = find_weather(client, settings, road, first_s, first_s + 9 * H, now_s=world.today_s + 7 * H)
    assert world.asked(asked) == 1
    assert world.asked("/v1/archive") == (asked == "/v1/archive")
    assert found.kind == {"/v1/archive": "archive" if day < 0 else "typical"}.get(asked, "forecast")
    assert (found.time_s[0] - world.today_s) / DAY == day


def test_across_the_horizon_the_forecast_is_asked_up_to_its_last_hour(
    client: Client, world: StandIn, straight_road: Callable[..., Road]
) -> None:
    """Rows of the forecast up to the horizon less one hour, rows of past years from the horizon on."""
    road, horizon_s = straight_road(0.2, step_km=0.1), world.today_s + 15 * DAY
    found = find_weather(
        client, world.settings(), road, horizon_s - 9 * H, horizon_s + 9 * H, now_s=world.today_s
    )
    asked = world.last("/v1/forecast").query
    assert (asked["start_hour"][-5:], asked["end_hour"][-5:]) == ("00:00", "23:00")
    assert np.diff(found.time_s).tolist() == [H] * 47
    assert found.time_s[0] == horizon_s - DAY
    assert ", then typical weather from " in found.source


def test_the_mesh_is_no_finer_than_the_service_takes(
    client: Client, world: StandIn, straight_road: Callable[..., Road]
) -> None:
    """1000 km cut into 30 km would be 35 points; MET Norway is asked for at most 24."""
    settings = world.settings(forecast={"service": "met-norway"})
    first_s = world.today_s + DAY
    find_weather(client, settings, straight_road(1000.0), first_s, first_s + H, now_s=world.today_s)
    assert 18 <= world.asked("/weatherapi") <= 24
