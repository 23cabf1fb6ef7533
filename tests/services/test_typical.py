"""Typical weather: which past years are asked for, how they are joined and what stands for them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from planner.model.records import Road, Weather
from planner.services.forecast.points import choose_points, points_at
from planner.services.forecast.span import Span
from planner.services.forecast.typical import extended, typical_weather
from planner.services.http import Client
from tests.services import standin
from tests.services.standin import StandIn

H, DAY = 3600.0, 86_400.0


def utc(text: str) -> float:
    return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def day_of(text: str) -> Span:
    return Span(utc(text), utc(text) + 23 * H)


@pytest.mark.parametrize(
    ("first", "now", "years"),
    [
        ("2026-09-01", "2026-06-10T00:00", (2016, 2025)),
        ("2027-06-01", "2026-06-10T00:00", (2017, 2026)),
        ("2027-06-01", "2026-06-09T00:00", (2017, 2026)),
        ("2027-06-01", "2026-06-08T22:00", (2016, 2025)),
        ("2028-02-29", "2028-01-10T00:00", (2018, 2027)),
        ("2027-05-31", "2026-06-10T00:00", (2017, 2026)),
    ],
)
def test_the_last_ten_years_whose_dates_the_archive_holds_are_asked(
    client: Client,
    world: StandIn,
    straight_road: Callable[..., Road],
    first: str,
    now: str,
    years: tuple[int, int],
) -> None:
    """The archive lags by days: dates count from a week after their last hour. 29 February becomes the 28th."""
    points = choose_points(straight_road(0.2, step_km=0.1))
    typical = typical_weather(client, world.settings(), points, day_of(first), now_s=utc(now))
    asked = world.last("/v1/archive").query["start_date"].split(",")
    there = "02-28" if first.endswith("02-29") else first[5:]
    assert asked == [f"{year}-{there}" for year in range(years[0], years[1] + 1)]
    assert f"the years {years[0]} to {years[1]} " in typical.middle.source
    assert typical.middle.time_s[[0, -1]].tolist() == [utc(first), utc(first) + 23 * H]


@pytest.mark.parametrize(
    ("points", "years"),
    [
        (250, 3),
        *(pytest.param(*between, marks=pytest.mark.slow) for between in ((50, 10), (100, 5), (125, 4))),
    ],
)
def test_a_long_road_is_asked_for_fewer_years_but_three(
    client: Client, world: StandIn, straight_road: Callable[..., Road], points: int, years: int
) -> None:
    """Free are 600 calls a minute; points times years stay within 500, three years are the least."""
    road = straight_road(300.0)
    asked = points_at(road, np.linspace(0.0, road.length_km, points))
    found = typical_weather(client, world.settings(), asked, day_of("2026-09-01"), now_s=utc("2026-06-10"))
    assert len(found.years) == years
    assert len(world.last("/v1/archive").query["start_date"].split(",")) == points * years


def test_the_middle_year_stands_for_all_and_the_wind_does_not_cancel(
    client: Client, world: StandIn, straight_road: Callable[..., Road]
) -> None:
    """Ten years of 4 m/s, nine from the west and one from the east: the mean points east, the speed stays 4.
    Air 1 to 10 C: the median is 5.5, the hottest 10; an hour unknown in any year stays unknown."""

    def change(document: list[dict[str, dict[str, list[float | None]]]]) -> None:
        for year, place in enumerate(document):
            hourly, count = place["hourly"], len(place["hourly"]["time"])
            hourly["temperature_2m"] = [float(year + 1)] * count
            hourly["wind_speed_10m"] = [4.0] * count
            hourly["wind_direction_10m"] = [90.0 if year == 3 else 270.0] * count
        document[6]["hourly"]["cloud_cover"][5] = None

    world.always("/v1/archive", standin.mangled(change))
    points = choose_points(straight_road(0.2, step_km=0.1))
    found = typical_weather(client, world.settings(), points, day_of("2026-09-01"), now_s=utc("2026-06-10"))
    assert found.middle.air_c == pytest.approx(5.5)
    assert found.middle.wind_east_ms == pytest.approx(4.0)
    assert found.middle.wind_north_ms == pytest.approx(0.0, abs=1e-9)
    assert found.middle.notes == ("typical weather, not a forecast: the hottest of 10 years reached 10 C",)
    assert np.flatnonzero(np.isnan(found.middle.cloud_share[:, 0])).tolist() == [5]
    assert [year.air_c[0, 0] for year in found.years] == list(range(1, 11))
    assert found.years[0].source == "archive weather of 2016 on these dates"
    assert {year.kind for year in found.years} == {found.middle.kind} == {"typical"}


def made(hours: range, air_c: list[float], source: str) -> Weather:
    """An invented weather of one point."""
    table = np.array(air_c)[:, None]
    zero = np.zeros_like(table)
    return Weather(
        time_s=utc("2026-06-01") + H * np.array(hours, dtype=np.float64),
        km=np.zeros(1),
        lat_deg=np.full(1, 48.0),
        lon_deg=np.full(1, 8.0),
        elevation_m=zero[0],
        source=source,
        attribution="",
        issued_s=1.0,
        kind="forecast",
        notes=(f"note of {source}",),
        air_c=table,
        **dict.fromkeys(
            (
                "dew_c", "wind_east_ms", "wind_north_ms", "gust_ms", "ghi_w_m2", "dni_w_m2",
                "dhi_w_m2", "cloud_share", "pressure_pa", "rain_mm",
            ),
            zero,
        ),
    )  # fmt: skip


def test_typical_weather_begins_where_the_forecast_is_last_known() -> None:
    """The forecast's rows 0 to 3, the last unknown; past years from the third hour on."""
    forecast = made(range(4), [10.0, 11.0, 12.0, np.nan], "F")
    joined = extended(forecast, made(range(6), [20.0] * 6, "T"))
    assert joined.air_c[:, 0].tolist() == [10.0, 11.0, 12.0, 20.0, 20.0, 20.0]
    assert np.diff(joined.time_s).tolist() == [H] * 5
    assert joined.kind == "typical"
    assert joined.source == "F, then typical weather from 01 Jun 03:00 UTC on"
    assert joined.notes == ("beyond the forecast from 01 Jun 03:00 UTC on: T", "note of F", "note of T")


def test_a_forecast_that_knows_nothing_is_replaced_and_one_that_knows_all_is_kept() -> None:
    typical = made(range(3), [20.0] * 3, "T")
    assert extended(made(range(3), [np.nan] * 3, "F"), typical).air_c[:, 0].tolist() == [20.0] * 3
    whole = extended(made(range(3), [1.0, 2.0, 3.0], "F"), typical)
    assert whole.air_c[:, 0].tolist() == [1.0, 2.0, 3.0]
    assert "from nowhere on" in whole.source


def test_every_field_is_joined() -> None:
    forecast, typical = made(range(2), [1.0, 2.0], "F"), made(range(4), [9.0] * 4, "T")
    typical = replace(typical, rain_mm=typical.rain_mm + 3.0, wind_north_ms=typical.wind_north_ms - 2.0)
    joined = extended(forecast, typical)
    assert joined.rain_mm[:, 0].tolist() == [0.0, 0.0, 3.0, 3.0]
    assert joined.wind_north_ms[:, 0].tolist() == [0.0, 0.0, -2.0, -2.0]
