"""Typical-year files, read by us and by pvlib."""

from __future__ import annotations

import io
import re
from pathlib import Path

import numpy as np
import pvlib
import pytest

from planner.errors import InputError
from planner.model.records import Weather
from planner.store import typicalyear
from planner.store.typicalyear import NOMINAL_YEAR, ROUND_HOURS, parse_year, read_year
from planner.store.weatherfile import weather_text
from tests.app.years import pvgis_text, season_weather, tmy3_text
from tests.model.scenarios import ORIGIN, SPRING, at


@pytest.fixture(scope="module")
def pvgis() -> Weather:
    return parse_year(pvgis_text(), "year.csv")


@pytest.fixture(scope="module")
def tmy3() -> Weather:
    return parse_year(tmy3_text(), "year.csv")


def one_year(values: np.ndarray) -> np.ndarray:
    return values[ROUND_HOURS:-ROUND_HOURS, 0]


def test_pvgis_is_read_as_pvlib_reads_it(pvgis: Weather) -> None:
    data, meta = pvlib.iotools.read_pvgis_tmy(io.BytesIO(pvgis_text().encode()), pvgis_format="csv")
    assert one_year(pvgis.air_c) == pytest.approx(data["temp_air"].to_numpy())
    assert one_year(pvgis.pressure_pa) == pytest.approx(data["pressure"].to_numpy())
    assert one_year(np.hypot(pvgis.wind_east_ms, pvgis.wind_north_ms)) == pytest.approx(
        data["wind_speed"].to_numpy()
    )
    assert pvgis.lat_deg[0] == meta["inputs"]["latitude"]
    assert pvgis.elevation_m[0] == meta["inputs"]["elevation"]


def test_pvgis_sunshine_becomes_means_of_the_hour_before(pvgis: Weather) -> None:
    """Over a year the means hold as much sun as the instants; each lies between its neighbours."""
    data, _ = pvlib.iotools.read_pvgis_tmy(io.BytesIO(pvgis_text().encode()), pvgis_format="csv")
    instants = data["ghi"].to_numpy()
    assert one_year(pvgis.ghi_w_m2).mean() == pytest.approx(instants.mean(), rel=1e-3)
    noon = 24 * 180 + 12
    low, high = sorted(instants[noon - 2 : noon + 1])[0], instants[noon - 2 : noon + 1].max()
    assert low <= one_year(pvgis.ghi_w_m2)[noon] <= high


def with_column(text: str, name: str, values: list[str], first: str) -> str:
    """A PVGIS or TMY3 text with one column written anew."""
    head, found, rest = text.partition(first)
    names, *rows = (found + rest).splitlines()
    at = names.split(",").index(name)
    for i, value in enumerate(values):
        row = rows[i].split(",")
        row[at] = value
        rows[i] = ",".join(row)
    return "\n".join([*head.splitlines(), names, *rows])


def pvgis_with(name: str, *values: str, delay_h: float = 0.0) -> str:
    return with_column(pvgis_text(delay_h), name, list(values), "time(UTC)")


def tmy3_with(name: str, *values: str) -> str:
    return with_column(tmy3_text(), name, list(values), "Date (MM/DD/YYYY)")


@pytest.mark.parametrize(("delay_h", "expected"), [(0.0, 750.0), (0.25, 725.0), (-0.25, 775.0)])
def test_a_morning_of_even_rise_is_known_half_an_hour_before_each_stamp(
    delay_h: float, expected: float
) -> None:
    """The sun rises by 100 W/m2 an hour from midnight, read ``delay_h`` after each stamp; the mean of the hour
    that ends at 08:00 is that of 07:30: 750 W/m2 when read at the stamp."""
    year = parse_year(
        pvgis_with("G(h)", *(f"{100 * hour}" for hour in range(14)), delay_h=delay_h), "year.csv"
    )
    assert one_year(year.ghi_w_m2)[8] == pytest.approx(expected)


def test_tmy3_sunshine_is_the_mean_of_the_hour_before_already() -> None:
    """Row 7 ends at 07:00 in a zone six hours behind: 13:00 UTC."""
    year = parse_year(tmy3_with("GHI (W/m^2)", *(f"{100 * hour}" for hour in range(1, 15))), "year.csv")
    assert one_year(year.ghi_w_m2)[13] == 700.0


def test_the_year_is_long_enough_for_four_days_over_its_ends(pvgis: Weather) -> None:
    assert pvgis.time_s.size == 8760 + 2 * 96
    assert pvgis.time_s[0] == at(2027, 1, 1) - 96 * 3600


@pytest.mark.parametrize(("humidity", "dew_c"), [("100", 20.0), ("50", 9.27), ("104", 20.0)])
def test_humidity_becomes_a_dew_point_never_above_the_air(humidity: str, dew_c: float) -> None:
    """20 C at half saturation: dew at 9.27 C (Magnus); a share above 1 is rounding."""
    text = with_column(pvgis_with("T2m", "20"), "RH", [humidity], "time(UTC)")
    assert one_year(parse_year(text, "year.csv").dew_c)[0] == pytest.approx(dew_c, abs=0.05)


def test_a_dew_point_above_the_air_is_held_to_it() -> None:
    text = with_column(tmy3_with("Dry-bulb (C)", "10"), "Dew-point (C)", ["12"], "Date (MM/DD/YYYY)")
    assert one_year(parse_year(text, "year.csv").dew_c)[7] == 10.0


def test_sunshine_a_little_below_nothing_is_nothing() -> None:
    year = parse_year(pvgis_with("Gb(n)", "-5", "-5", "-5"), "year.csv")
    assert one_year(year.dni_w_m2)[1] == 0.0


@pytest.mark.parametrize(("side", "east", "north"), [("0", 0, -2), ("90", -2, 0), ("180", 0, 2), ("", 0, -2)])
def test_wind_blows_away_from_its_side(side: str, east: float, north: float) -> None:
    """One that is not known is taken as north."""
    year = parse_year(pvgis_with("WD10m", side), "year.csv")
    blows = one_year(year.wind_east_ms)[0], one_year(year.wind_north_ms)[0]
    assert blows == pytest.approx((east, north), abs=1e-9)


LAYOUTS = {
    "T2m": ("air_c", -80, 60, 1, True),
    "RH": ("humidity", 0, 105, 0.01, True),
    "G(h)": ("ghi_w_m2", -5, 1600, 1, True),
    "Gb(n)": ("dni_w_m2", -5, 1400, 1, False),
    "Gd(h)": ("dhi_w_m2", -5, 1200, 1, False),
    "WS10m": ("wind_ms", 0, 100, 1, True),
    "WD10m": ("wind_from_deg", 0, 360, 1, False),
    "SP": ("pressure_pa", 30_000, 110_000, 1, True),
    "Dry-bulb (C)": ("air_c", -80, 60, 1, True),
    "Dew-point (C)": ("dew_c", -90, 40, 1, True),
    "GHI (W/m^2)": ("ghi_w_m2", 0, 1600, 1, True),
    "DNI (W/m^2)": ("dni_w_m2", 0, 1400, 1, False),
    "DHI (W/m^2)": ("dhi_w_m2", 0, 1200, 1, False),
    "Wspd (m/s)": ("wind_ms", 0, 100, 1, True),
    "Wdir (degrees)": ("wind_from_deg", 0, 360, 1, False),
    "Pressure (mbar)": ("pressure_pa", 300, 1100, 100, True),
    "TotCld (tenths)": ("cloud_share", 0, 10, 0.1, False),
}
"""By the column's name: quantity, lowest and highest cell, factor to SI, whether the file needs it."""


@pytest.mark.parametrize("column", LAYOUTS)
def test_a_column_takes_what_the_earth_has_and_no_more(column: str) -> None:
    """Beyond its range a needed figure is a fault, another is unknown."""
    name, low, high, factor, needed = LAYOUTS[column]
    layout = typicalyear._PVGIS if column in pvgis_text()[:900] else typicalyear._TMY3
    rule = {name: layout[name]}
    cells = [f"{low}", f"{high}", f"{low - 0.5}", f"{high + 0.5}", "none"]
    columns, faults = typicalyear._columns([{column: cell} for cell in cells], rule, 10)
    assert columns[name][:2] == pytest.approx([low * factor, high * factor])
    assert np.isnan(columns[name][2:]).all()
    lines = [f"line {line}, {column}" for line in (12, 13, 14)]
    assert [fault.field for fault in faults] == (lines if needed else [])
    assert all(fault.problem == f"this is not between {low} and {high}" for fault in faults)
    _, missing = typicalyear._columns([{"other": "1"}], rule, 10)
    assert [fault.field for fault in missing] == ([f"column {column}"] if needed else [])


def test_every_column_has_its_bounds_tested() -> None:
    known = {rule.column for layout in (typicalyear._PVGIS, typicalyear._TMY3) for rule in layout.values()}
    assert set(LAYOUTS) == known


def test_a_column_that_is_not_needed_may_be_left_out() -> None:
    year = parse_year(pvgis_text().replace("Gd(h)", "Gx(h)", 1), "year.csv")
    assert np.isnan(year.dhi_w_m2).all()
    assert np.isfinite(year.ghi_w_m2).all()


def test_twenty_faults_are_listed() -> None:
    with pytest.raises(InputError) as caught:
        parse_year(pvgis_with("SP", *["low"] * 30), "year.csv")
    assert [fault.field for fault in caught.value.faults] == [f"line {line}, SP" for line in range(19, 39)]
    with pytest.raises(InputError) as caught:
        parse_year(tmy3_with("Time (HH:MM)", *["noon"] * 30), "year.csv")
    named = [f"line {line}, date and time" for line in range(3, 23)]
    assert [fault.field for fault in caught.value.faults] == named


@pytest.mark.parametrize("day", ["20080229", "20070631"])
def test_a_day_the_nominal_year_has_not_is_refused(day: str) -> None:
    with pytest.raises(InputError, match="leap days are left out"):
        parse_year(pvgis_text().replace("20070101:0300", f"{day}:0300"), "year.csv")


def test_the_zone_of_a_station_may_lie_on_either_side() -> None:
    """The row of 01:00 local standard time is 07:00 UTC six hours behind, and 15:00 the day before ten ahead."""
    for zone_h, hour in ((-6, 7), (0, 1), (10, 8760 - 9)):
        text = with_column(tmy3_text(zone_h), "Dry-bulb (C)", ["51.5"], "Date (MM/DD/YYYY)")
        assert one_year(parse_year(text, "year.csv").air_c)[hour] == 51.5


def test_a_station_says_where_it_is(tmy3: Weather) -> None:
    assert (tmy3.lat_deg[0], tmy3.elevation_m[0]) == (ORIGIN.lat_deg, 200.0)
    assert tmy3.source == "TMY3 typical year of OLD YARD (INVENTED), year.csv"
    assert tmy3.attribution == "NREL TMY3"
    with pytest.raises(InputError, match="the first line must give station"):
        parse_year(tmy3_text().replace(",200\n", "\n", 1), "year.csv")


def test_a_west_wind_blows_to_the_east(pvgis: Weather) -> None:
    assert one_year(pvgis.wind_east_ms) == pytest.approx(2.0)
    assert one_year(pvgis.wind_north_ms) == pytest.approx(0.0, abs=1e-9)


def test_tmy3_is_read_as_pvlib_reads_it(tmy3: Weather) -> None:
    data, meta = pvlib.iotools.read_tmy3(io.StringIO(tmy3_text()), coerce_year=NOMINAL_YEAR)
    stamps = data.index.tz_convert("UTC").astype("datetime64[s, UTC]").astype("int64").to_numpy()
    order = np.searchsorted(tmy3.time_s, stamps)
    assert np.array_equal(tmy3.time_s[order], stamps)
    for name, theirs in (
        ("air_c", "temp_air"),
        ("dew_c", "temp_dew"),
        ("ghi_w_m2", "ghi"),
        ("dni_w_m2", "dni"),
    ):
        assert getattr(tmy3, name)[order, 0] == pytest.approx(data[theirs].to_numpy(), abs=1e-9), name
    assert tmy3.lon_deg[0] == meta["longitude"]
    assert tmy3.cloud_share[0, 0] == pytest.approx(0.3)


@pytest.mark.parametrize("kind", ["pvgis", "tmy3"])
def test_the_year_runs_round(kind: str, request: pytest.FixtureRequest) -> None:
    """Its last days come before the first of January, its first after the last of December."""
    year: Weather = request.getfixturevalue(kind)
    assert year.time_s[ROUND_HOURS] == at(NOMINAL_YEAR, 1, 1)
    assert np.array_equal(year.air_c[:ROUND_HOURS], year.air_c[8760 : 8760 + ROUND_HOURS])
    assert np.array_equal(year.air_c[-ROUND_HOURS:], year.air_c[ROUND_HOURS : 2 * ROUND_HOURS])
    assert np.all(np.diff(year.time_s) == 3600.0)
    assert year.kind == "typical"


def test_our_own_weather_file_is_read_as_it_is(tmp_path: Path) -> None:
    ours = season_weather(SPRING, 5)
    path = tmp_path / "lane.csv"
    path.write_text(weather_text(ours), encoding="utf-8")
    assert read_year(path).air_c == pytest.approx(ours.air_c)


SPOILT = {
    "T2m": ("pvgis", "T2m", "Temp"),
    "time(UTC)": ("pvgis", "time(UTC)", "hour"),
    "hours of a year": ("pvgis", "\r\n20070101:0300", "\r\n20070101:0200"),
    "no such time": ("pvgis", "\r\n20070101:0300", "\r\n20071301:0300"),
    "Latitude": ("pvgis", "Latitude (decimal degrees): 45.000", "Latitude (decimal degrees): north"),
    "Pressure": ("tmy3", ",990,", ",9999,"),
    "no such time ": ("tmy3", "01/01/1991,05:00", "01/01/1991,5 am"),
}
"""By what is said of it: whose layout, and what is written in place of what."""


@pytest.mark.parametrize("says", SPOILT)
def test_a_spoilt_file_is_refused_with_what_is_wrong(says: str) -> None:
    kind, was, now = SPOILT[says]
    whole = pvgis_text() if kind == "pvgis" else tmy3_text()
    with pytest.raises(InputError, match=re.escape(says.strip())):
        parse_year(whole.replace(was, now, 1), "year.csv")


def test_a_year_cut_short_is_refused() -> None:
    with pytest.raises(InputError, match="hours of a year"):
        parse_year("\n".join(tmy3_text().splitlines()[:5000]), "year.csv")
