"""Weather as CSV: out and in again unchanged, every bad cell named by line and column."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.errors import InputError
from planner.model.records import Weather
from planner.store.weatherfile import parse_weather, read_weather, weather_text, write_weather

HEAD = "time_utc,km,lat_deg,lon_deg,air_c,dew_c,wind_ms"


def sample(hours: int = 5, points: int = 3, seed: int = 1) -> Weather:
    """Some weather with every field filled and two gaps."""
    random = np.random.default_rng(seed)
    shape = (hours, points)
    air = random.uniform(5, 30, shape)
    gust = random.uniform(2, 20, shape)
    gust[0, 0] = np.nan
    air[1, 1] = np.nan
    return Weather(
        time_s=1_800_000_000.0 + 3600.0 * np.arange(hours),
        km=np.linspace(0, 210, points),
        lat_deg=np.linspace(52, 53, points),
        lon_deg=np.linspace(-1, 1, points),
        elevation_m=np.array([10.0, np.nan, 30.0])[:points],
        air_c=air,
        dew_c=np.where(np.isnan(air), np.nan, air - random.uniform(0, 9, shape)),
        wind_east_ms=random.normal(size=shape) * 4,
        wind_north_ms=random.normal(size=shape) * 4,
        gust_ms=gust,
        ghi_w_m2=random.uniform(0, 900, shape),
        dni_w_m2=random.uniform(0, 900, shape),
        dhi_w_m2=random.uniform(0, 300, shape),
        cloud_share=random.uniform(0, 1, shape),
        pressure_pa=random.uniform(9e4, 1.03e5, shape),
        rain_mm=random.uniform(0, 4, shape),
        source="A test, with a comma",
        attribution="nobody",
        issued_s=1_800_000_000.0 - 7200.0,
        kind="forecast",
        notes=("first note", "second: note"),
    )


def assert_same(left: Weather, right: Weather) -> None:
    """The same to the seven digits of the file; wind passes through speed and direction."""
    for field in fields(Weather):
        one, other = getattr(left, field.name), getattr(right, field.name)
        if isinstance(one, np.ndarray):
            np.testing.assert_allclose(one, other, rtol=2e-5, atol=2e-5, err_msg=field.name)
        else:
            assert one == other or (one != one and other != other), field.name


def fields_of(text: str) -> list[str]:
    with pytest.raises(InputError) as caught:
        parse_weather(text, "weather.csv")
    assert all(fault.problem and fault.remedy for fault in caught.value.faults)
    return [fault.field for fault in caught.value.faults]


def test_weather_written_and_read_is_the_same(tmp_path: Path) -> None:
    write_weather(sample(), tmp_path / "w.csv")
    assert_same(read_weather(tmp_path / "w.csv"), sample())


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 40), st.integers(1, 3), st.integers(0, 10**6))
def test_any_weather_survives_the_round_trip(hours: int, points: int, seed: int) -> None:
    weather = sample(max(hours, 2), max(points, 2), seed)
    assert_same(parse_weather(weather_text(weather), "w.csv"), weather)


def test_the_file_says_units_source_and_kind_in_plain_sight() -> None:
    text = weather_text(sample())
    for words in (
        "# source: A test, with a comma",
        "# kind: forecast",
        "# issued: 2027-01-15T",
        "air_c",
        "km",
    ):
        assert words in text


def test_wind_is_written_as_the_direction_it_comes_from() -> None:
    text = f"{HEAD},wind_from_deg\n2027-05-12T00:00Z,0,52,0,12,8,5,270\n"
    weather = parse_weather(text, "w.csv")
    assert weather.wind_east_ms[0, 0] == pytest.approx(5)
    assert weather.wind_north_ms[0, 0] == pytest.approx(0, abs=1e-9)


def test_columns_left_out_and_cells_left_empty_stay_unknown() -> None:
    weather = parse_weather(f"{HEAD}\n2027-05-12T00:00Z,0,52,0,12,,3\n", "w.csv")
    assert np.isnan(weather.dew_c).all()
    assert np.isnan(weather.ghi_w_m2).all()
    assert weather.kind == "own"
    assert weather.source == "w.csv"


def test_missing_hours_stay_unknown_and_are_noted() -> None:
    rows = "2027-05-12T00:00Z,0,52,0,12,8,3\n2027-05-12T03:00Z,0,52,0,13,8,3\n"
    weather = parse_weather(f"{HEAD}\n{rows}", "w.csv")
    assert np.isnan(weather.air_c[1:3]).all()
    assert weather.time_s.size == 4
    assert "2 hours missing at km 0" in weather.notes


def test_rows_in_any_order_mean_the_same() -> None:
    head, *rows = weather_text(sample()).splitlines()[6:]
    shuffled = "\n".join([*weather_text(sample()).splitlines()[:6], head, *reversed(rows)])
    assert_same(parse_weather(shuffled, "w.csv"), sample())


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("", ["file"]),
        ("# kind: own\n", ["file"]),
        (f"{HEAD}\n", ["file"]),
        (f"{HEAD},colour\n2027-05-12T00:00Z,0,52,0,12,8,3,4\n", ["column colour"]),
        ("time_utc,km,lat_deg,lon_deg,air_c,dew_c\nx\n", ["column wind_ms"]),
        (f"{HEAD},km\n", ["column km"]),
        (f"{HEAD}\n2027-05-12T00:00Z,0,52,0,hot,8,-3\n", ["line 2, air_c", "line 2, wind_ms"]),
        (f"{HEAD}\n2027-05-12T00:00Z,0,52,0,nan,8,inf\n", ["line 2, air_c", "line 2, wind_ms"]),
        (f"{HEAD}\n2027-05-12T00:00Z,0,52,0,12,8\n", ["line 2"]),
        (f"{HEAD}\nnoon,0,52,0,12,8,3\n", ["line 2, time_utc"]),
        (f"# kind: own\n\n{HEAD}\n\n2027-05-12T00:20Z,0,52,0,12,8,3\n", ["line 5, time_utc"]),
        (f"{HEAD}\n" + "2027-05-12T00:00Z,0,52,0,12,8,3\n" * 2, ["line 3, time_utc"]),
        (
            f"{HEAD}\n2027-05-12T00:00Z,0,52,0,12,8,3\n2027-05-12T01:00Z,0,53,0,12,8,3\n",
            ["line 3, km"],
        ),
        (f"{HEAD}\n2027-05-12T00:00Z,0,52,0,12,18,3\n", ["line 2, dew_c"]),
        (f"# kind: magic\n{HEAD}\n2027-05-12T00:00Z,0,52,0,12,8,3\n", ["# kind"]),
        (f"# issued: once\n{HEAD}\n2027-05-12T00:00Z,0,52,0,12,8,3\n", ["# issued"]),
        (
            f"{HEAD}\n1950-05-12T00:00Z,0,52,0,12,8,3\n2190-05-12T00:00Z,0,52,0,12,8,3\n",
            ["column time_utc"],
        ),
    ],
)
def test_every_bad_cell_is_named_by_line_and_column(text: str, named: list[str]) -> None:
    assert [field or "file" for field in fields_of(text)] == named


def test_a_flood_of_bad_cells_is_cut_short() -> None:
    rows = "\n".join("2027-05-12T00:00Z,0,52,0,bad,8,3" for _ in range(500))
    found = fields_of(f"{HEAD}\n{rows}\n")
    assert 20 < len(found) < 60


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.binary(max_size=200), keep=st.integers(0, 600))
def test_a_damaged_weather_file_gives_weather_or_faults(raw: bytes, keep: int, tmp_path: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_bytes(weather_text(sample()).encode()[:keep] + raw)
    try:
        weather = read_weather(path)
    except InputError:
        return
    assert weather.air_c.shape == (weather.time_s.size, weather.km.size)
