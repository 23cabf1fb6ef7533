"""Weather as CSV: out and in again unchanged, every bad cell named by line and column."""

from __future__ import annotations

from dataclasses import fields, replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.errors import InputError
from planner.model.records import Weather
from planner.store import weatherfile
from planner.store.weatherfile import COLUMNS, parse_weather, read_weather, weather_text, write_weather
from tests.length import few_or_all

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


@pytest.mark.parametrize(
    ("side", "east", "north"),
    [("0", 0, -5), ("90", -5, 0), ("180", 0, 5), ("270", 5, 0), ("360", 0, -5), ("", 0, 5)],
)
def test_wind_from_a_side_blows_to_the_other(side: str, east: float, north: float) -> None:
    """Without a side it is taken as from the south, and that is said."""
    weather = parse_weather(f"{HEAD},wind_from_deg\n2027-05-12T00:00Z,0,52,0,12,8,5,{side}\n", "w.csv")
    assert (weather.wind_east_ms[0, 0], weather.wind_north_ms[0, 0]) == pytest.approx((east, north), abs=1e-9)
    assert weather.notes == (() if side else ("wind without direction taken as from the south",))
    if side:
        written = weather_text(weather).splitlines()[-1].split(",")[list(COLUMNS).index("wind_from_deg")]
        assert float(written) % 360 == pytest.approx(float(side) % 360, abs=1e-4)


def test_calm_needs_no_side() -> None:
    assert parse_weather(f"{HEAD}\n2027-05-12T00:00Z,0,52,0,12,8,0\n", "w.csv").notes == ()


def cells(**given: str) -> str:
    """A weather file of one row, with some cells given."""
    usual = {"time_utc": "2027-05-12T00:00Z", "km": "0", "lat_deg": "52", "lon_deg": "0"}
    row = {**usual, "air_c": "", "dew_c": "", "wind_ms": "", **given}
    return f"{','.join(row)}\n{','.join(row.values())}\n"


def test_figures_of_the_file_become_si() -> None:
    text = cells(cloud_percent="40", pressure_hpa="1013.25", rain_mm="2", gust_ms="9", ghi_w_m2="700")
    weather = parse_weather(text, "w.csv")
    assert weather.cloud_share[0, 0] == pytest.approx(0.4)
    assert weather.pressure_pa[0, 0] == pytest.approx(101_325.0)
    assert (weather.rain_mm[0, 0], weather.gust_ms[0, 0], weather.ghi_w_m2[0, 0]) == (2.0, 9.0, 700.0)
    written = dict(zip(COLUMNS, weather_text(weather).splitlines()[-1].split(","), strict=True))
    assert (written["cloud_percent"], written["pressure_hpa"]) == ("40", "1013.25")


BOUNDS = {
    "km": (0, 50_000),
    "lat_deg": (-90, 90),
    "lon_deg": (-180, 180),
    "elevation_m": (-450, 6000),
    "air_c": (-80, 60),
    "dew_c": (-90, 40),
    "wind_ms": (0, 100),
    "wind_from_deg": (0, 360),
    "gust_ms": (0, 120),
    "ghi_w_m2": (0, 1600),
    "dni_w_m2": (0, 1400),
    "dhi_w_m2": (0, 1200),
    "cloud_percent": (0, 100),
    "pressure_hpa": (300, 1100),
    "rain_mm": (0, 500),
}


@pytest.mark.parametrize(("name", "low", "high"), [(name, *bounds) for name, bounds in BOUNDS.items()])
def test_a_column_takes_what_the_earth_has_and_no_more(name: str, low: float, high: float) -> None:
    for inside in (low, high):
        parse_weather(cells(**{name: str(inside)}), "w.csv")
    for outside in (low - 0.5, high + 0.5):
        assert fields_of(cells(**{name: str(outside)})) == [f"line 2, {name}"]


def test_every_column_of_figures_has_its_bounds_tested() -> None:
    assert set(BOUNDS) == set(COLUMNS) - {"time_utc"}


@pytest.mark.parametrize("name", [name for name in BOUNDS if name not in ("km", "lat_deg", "lon_deg")])
def test_figures_of_the_air_may_be_unknown(name: str) -> None:
    parse_weather(cells(**{name: ""}), "w.csv")


@pytest.mark.parametrize("name", ["time_utc", "km", "lat_deg", "lon_deg"])
def test_where_and_when_may_not(name: str) -> None:
    assert fields_of(cells(**{name: ""})) == [f"line 2, {name}"]


@pytest.mark.parametrize(
    ("stamp", "second"),
    [
        ("2027-05-12T18:00Z", 1_810_144_800),
        ("2027-05-12T18:00", 1_810_144_800),
        ("2027-05-12T20:00+02:00", 1_810_144_800),
        ("1900-01-01T00:00Z", -2_208_988_800),
        ("2200-01-01T00:00Z", 7_258_118_400),
    ],
)
def test_a_stamp_is_utc_unless_it_says_its_offset(stamp: str, second: int) -> None:
    assert parse_weather(cells(time_utc=stamp), "w.csv").time_s[0] == second


@pytest.mark.parametrize(
    "stamp", ["1899-12-31T23:00Z", "2200-01-01T01:00Z", "2027-05-12T18:30Z", "2027-05-12T18:00:01Z"]
)
def test_a_stamp_of_no_full_hour_of_our_centuries_is_named(stamp: str) -> None:
    assert fields_of(cells(time_utc=stamp)) == ["line 2, time_utc"]


def test_a_stamp_is_to_be_a_time_and_no_number() -> None:
    with pytest.raises(InputError, match="Write a time such as 2027-05-12T18:00Z"):
        parse_weather(cells(time_utc="2027-02-29T18:00Z"), "w.csv")


def test_air_may_be_moist_to_saturation_and_a_degree_more() -> None:
    """Dew points are rounded; a whole degree is the most that rounding and two sensors explain."""
    assert parse_weather(cells(air_c="12", dew_c="13"), "w.csv").dew_c[0, 0] == 13.0
    assert fields_of(cells(air_c="12", dew_c="13.1")) == ["line 2, dew_c"]


def test_a_grid_of_hours_and_points_is_bounded(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(weatherfile, "_MAX_GRID", 8)
    rows = ["2027-05-12T00:00Z,0,52,0,12,8,3", "2027-05-12T03:00Z,9,52,1,12,8,3"]
    assert parse_weather("\n".join([HEAD, *rows]), "w.csv").air_c.shape == (4, 2)
    rows[1] = rows[1].replace("T03", "T04")
    assert fields_of("\n".join([HEAD, *rows])) == ["column time_utc"]


def test_hours_missing_are_counted_for_each_point() -> None:
    rows = ["2027-05-12T00:00Z,0,52,0,12,8,3", "2027-05-12T03:00Z,9.5,52,1,12,8,3"]
    rows += ["2027-05-12T01:00Z,9.5,52,1,12,8,3"]
    weather = parse_weather("\n".join(["# note: mine", HEAD, *rows]), "w.csv")
    assert weather.notes == (
        "mine",
        "3 hours missing at km 0",
        "2 hours missing at km 9.5",
        "wind without direction taken as from the south",
    )
    assert np.isfinite(weather.air_c).tolist() == [
        [True, False],
        [False, True],
        [False, False],
        [False, True],
    ]


def test_a_point_may_not_move_by_a_metre() -> None:
    text = "{}\n2027-05-12T00:00Z,0,52,0,12,8,3\n2027-05-12T01:00Z,0,{},0,12,8,3\n"
    parse_weather(text.format(HEAD, "52.0000004"), "w.csv")
    assert fields_of(text.format(HEAD, "52.00001")) == ["line 3, km"]


@pytest.mark.parametrize("issued", ["2027-05-12T06:00Z", "2027-05-12T06:00", "2027-05-12T08:00+02:00"])
def test_a_file_says_when_it_was_issued(issued: str) -> None:
    weather = parse_weather(f"# issued: {issued}\n" + cells(), "w.csv")
    assert weather.issued_s == 1_810_101_600
    assert "# issued: 2027-05-12T06:00Z" in weather_text(weather)
    assert "issued" not in weather_text(parse_weather(cells(), "w.csv"))


def test_words_of_several_lines_are_written_in_one() -> None:
    weather = parse_weather("# note: a\n# attribution: b\n" + cells(), "w.csv")
    text = weather_text(replace(weather, source=" two\n lines ", notes=("x\ty",)))
    assert "# source: two lines\n" in text
    assert "# note: x y\n" in text
    assert "# attribution: b\n" in text


def test_fifty_faults_are_listed() -> None:
    rows = "".join(f"2027-05-12T00:{at:02}Z,{at},52,0,12,8,3\n" for at in range(1, 60))
    assert len(fields_of(f"{HEAD}\n{rows}")) == 50


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


@pytest.mark.parametrize("examples", few_or_all(50, 200))
def test_a_damaged_weather_file_gives_weather_or_faults(examples: int, tmp_path: Path) -> None:
    @settings(max_examples=examples, deadline=None)
    @given(raw=st.binary(max_size=200), keep=st.integers(0, 600))
    def holds(raw: bytes, keep: int) -> None:
        path = tmp_path / "w.csv"
        path.write_bytes(weather_text(sample()).encode()[:keep] + raw)
        try:
            weather = read_weather(path)
        except InputError:
            return
        assert weather.air_c.shape == (weather.time_s.size, weather.km.size)

    holds()
