"""Weather stated by hand."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from planner.errors import InputError
from planner.model.air import dew_point_from_humidity_c, saturation_pressure_pa
from planner.model.records import Site, Weather
from planner.services.forecast.own import OwnDay, own_weather

YARD = Site("Invented Yard", 48.0, 8.0, "Europe/Berlin", 400.0)
FIELD = Site("Invented Field", 49.0, 8.5, "Europe/Berlin", 100.0)
JUNE = date(2026, 6, 10)


def days(
    site: Site = YARD, km: float = 0.0, first: date = JUNE, count: int = 2, **facts: Any
) -> list[OwnDay]:
    told = {"low_c": 12.0, "high_c": 29.0, "dew_c": 10.0, "cloud_share": 0.0, "wind_ms": 2.0, **facts}
    return [OwnDay(site, km, first + timedelta(days=step), **told) for step in range(count)]


def at(weather: Weather, text: str) -> int:
    stamp = datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()
    return int(np.flatnonzero(weather.time_s == stamp)[0])


def test_low_and_high_are_reached_near_dawn_and_in_the_afternoon() -> None:
    weather = own_weather(days())
    assert weather.air_c.min() == pytest.approx(12.0, abs=0.4)
    assert weather.air_c.max() == pytest.approx(29.0, abs=0.2)
    warmest = datetime.fromtimestamp(float(weather.time_s[np.argmax(weather.air_c)]), UTC)
    coolest = datetime.fromtimestamp(float(weather.time_s[np.argmin(weather.air_c)]), UTC)
    assert warmest.hour in (13, 14)
    assert coolest.hour in (3, 4)
    assert weather.kind == "own"
    assert any("entered by hand" in note for note in weather.notes)


def test_local_days_are_whole_even_when_the_clock_changes() -> None:
    """28 March 2027 has 23 hours and 31 October 2027 has 25 in Germany."""
    assert own_weather(days(first=date(2027, 3, 28), count=1)).time_s.size == 24
    assert own_weather(days(first=date(2027, 10, 31), count=1)).time_s.size == 26
    assert own_weather(days(first=JUNE, count=1)).time_s.size == 25


def test_humidity_is_the_afternoons() -> None:
    weather = own_weather(days(dew_c=float("nan"), humidity_share=0.4))
    expected = float(dew_point_from_humidity_c(29.0, 0.4))
    assert weather.dew_c[at(weather, "2026-06-10T13:00")] == pytest.approx(expected)


def test_dew_point_never_exceeds_the_air() -> None:
    weather = own_weather(days(dew_c=18.0))
    assert np.all(weather.dew_c <= weather.air_c)
    assert np.all(saturation_pressure_pa(weather.dew_c) <= saturation_pressure_pa(weather.air_c))


def test_sun_follows_the_sky_and_cloud_changes_from_noon_to_noon() -> None:
    clear, dull = own_weather(days()), own_weather(days(cloud_share=1.0))
    noon = at(clear, "2026-06-10T12:00")
    assert clear.ghi_w_m2[noon] > 800.0
    assert dull.ghi_w_m2[noon] == pytest.approx(0.25 * clear.ghi_w_m2[noon])
    assert clear.ghi_w_m2[at(clear, "2026-06-11T00:00")] == 0.0
    turning = own_weather(
        [days(count=1)[0], days(first=JUNE + timedelta(days=1), count=1, cloud_share=1.0)[0]]
    )
    assert turning.cloud_share[at(turning, "2026-06-10T22:00")] == pytest.approx(0.5)


def test_figures_put_in_by_the_program_are_never_called_the_users_own() -> None:
    own, assumed = own_weather(days()), own_weather(days(), assumed=True)
    assert (own.kind, assumed.kind) == ("own", "assumed")
    assert "assumed" in assumed.source
    assert "assumed" not in own.source
    assert "by hand" not in " ".join(assumed.notes)
    assert np.array_equal(own.air_c, assumed.air_c)


def test_two_places_keep_their_own_weather() -> None:
    weather = own_weather([*days(), *days(FIELD, 120.0, high_c=34.0)])
    assert list(weather.km) == [0.0, 120.0]
    assert weather.air_c[:, 1].max() == pytest.approx(34.0, abs=0.2)
    assert weather.pressure_pa[0, 0] < weather.pressure_pa[0, 1]


def test_the_polar_day_has_a_curve_too() -> None:
    north = Site("Invented Cape", 71.0, 25.0, "Europe/Oslo", 10.0)
    weather = own_weather(days(north))
    assert np.isfinite(weather.air_c).all()
    assert 11.0 <= weather.air_c.min() <= weather.air_c.max() <= 29.01


@pytest.mark.parametrize(
    ("facts", "field"),
    [
        ({"low_c": 30.0}, "low_c"),
        ({"low_c": float("nan")}, "low_c"),
        ({"dew_c": float("nan")}, "dew_c"),
        ({"dew_c": 33.0}, "dew_c"),
        ({"humidity_share": 60.0}, "humidity_share"),
        ({"cloud_share": 8.0}, "cloud_share"),
        ({"wind_ms": -1.0}, "wind_ms"),
        ({"rain_mm": float("nan")}, "rain_mm"),
    ],
)
def test_impossible_figures_are_named(facts: dict[str, float], field: str) -> None:
    with pytest.raises(InputError, match=rf"Invented Yard 2026-06-10: {field}"):
        own_weather(days(count=1, **facts))


@pytest.mark.parametrize(
    "told",
    [
        [],
        [*days(count=1), *days(first=JUNE + timedelta(days=2), count=1)],
        [*days(), *days(FIELD, 9.0, count=1)],
    ],
)
def test_missing_days_are_named(told: list[OwnDay]) -> None:
    with pytest.raises(InputError, match=r"days are missing|no day is given"):
        own_weather(told)


@pytest.mark.parametrize(
    ("facts", "fits"),
    [
        ({"low_c": -60.0}, True),
        ({"low_c": -60.1}, False),
        ({"low_c": 12.0, "high_c": 12.0}, True),
        ({"high_c": 60.0}, True),
        ({"high_c": 60.1}, False),
        ({"dew_c": -60.0}, True),
        ({"dew_c": -60.1}, False),
        ({"dew_c": 29.0}, True),
        ({"dew_c": 29.1}, False),
        ({"high_c": 40.0, "dew_c": 35.0}, True),
        ({"high_c": 40.0, "dew_c": 35.1}, False),
        ({"dew_c": float("nan"), "humidity_share": 1.0}, True),
        ({"dew_c": float("nan"), "humidity_share": 1.01}, False),
        ({"dew_c": float("nan"), "humidity_share": 0.01}, True),
        ({"dew_c": float("nan"), "humidity_share": 0.0}, False),
        ({"cloud_share": 1.0}, True),
        ({"cloud_share": 1.01}, False),
        ({"cloud_share": -0.01}, False),
        ({"wind_ms": 60.0}, True),
        ({"wind_ms": 60.1}, False),
        ({"wind_ms": -0.1}, False),
        ({"rain_mm": 500.0}, True),
        ({"rain_mm": 500.1}, False),
        ({"rain_mm": -0.1}, False),
    ],
)
def test_figures_are_taken_up_to_what_can_be(facts: dict[str, float], fits: bool) -> None:
    """No sultrier air than a dew point of 35 C was ever measured (from memory)."""
    if fits:
        assert own_weather(days(count=1, **facts)).kind == "own"
    else:
        with pytest.raises(InputError):
            own_weather(days(count=1, **facts))


def test_rain_of_a_day_is_spread_over_its_hours_and_wind_blows_from_its_side() -> None:
    """24 mm make 1 mm in each of the day's 24 rows, from one hour after its midnight to the next midnight."""
    wet = own_weather(
        [
            days(count=1, rain_mm=24.0, wind_ms=3.0, wind_from_deg=0.0)[0],
            days(first=JUNE + timedelta(days=1), count=1, rain_mm=0.0, wind_ms=3.0, wind_from_deg=0.0)[0],
        ]
    )
    midnight = at(wet, "2026-06-10T22:00")
    assert wet.rain_mm[1 : midnight + 1, 0].tolist() == [1.0] * 24
    assert wet.rain_mm[midnight + 1 :, 0].tolist() == [0.0] * 24
    assert wet.wind_north_ms == pytest.approx(-3.0)
    assert wet.wind_east_ms == pytest.approx(0.0, abs=1e-9)


def test_dew_points_change_evenly_from_noon_to_noon() -> None:
    """8 C, then 14 C: 11 C at the midnight between, which the air of that hour does not limit."""
    told = [
        days(count=1, dew_c=8.0, low_c=16.0)[0],
        days(first=JUNE + timedelta(days=1), count=1, dew_c=14.0, low_c=16.0)[0],
    ]
    weather = own_weather(told)
    assert weather.dew_c[at(weather, "2026-06-10T22:00"), 0] == pytest.approx(11.0)
    assert weather.dew_c[at(weather, "2026-06-10T10:00"), 0] == pytest.approx(8.0)


def test_the_pressure_is_that_of_the_places_height() -> None:
    low = Site("Invented Shore", 48.0, 8.0, "Europe/Berlin")
    assert own_weather(days(low)).pressure_pa[0, 0] == pytest.approx(101_325.0)
    assert own_weather(days()).pressure_pa[0, 0] == pytest.approx(96_611.0, rel=1e-3)
    assert np.isnan(own_weather(days(low)).elevation_m).sum() == 0


def test_where_the_sun_does_not_set_the_day_turns_six_hours_either_side_of_midday() -> None:
    """Midday is 10:00 UTC: the low 0.17 h before 04:00, the high 1.86 h after 10:00 (Parton & Logan 1981)."""
    north = Site("Invented Cape", 71.0, 25.0, "Europe/Oslo", 10.0)
    weather = own_weather(days(north))
    day = slice(at(weather, "2026-06-10T00:00"), at(weather, "2026-06-10T23:00"))
    assert (int(np.argmin(weather.air_c[day, 0])), int(np.argmax(weather.air_c[day, 0]))) == (3, 12)
