"""Typical-year files, read by us and by pvlib."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pvlib
import pytest

from planner.errors import InputError
from planner.model.records import Weather
from planner.store.typicalyear import NOMINAL_YEAR, ROUND_HOURS, parse_year, read_year
from planner.store.weatherfile import weather_text
from tests.app.years import pvgis_text, season_weather, tmy3_text
from tests.model.scenarios import SPRING, at


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


@pytest.mark.parametrize("text", [pvgis_text(), tmy3_text()], ids=["pvgis", "tmy3"])
def test_the_year_runs_round(text: str) -> None:
    """Its last days come before the first of January, its first after the last of December."""
    year = parse_year(text, "year.csv")
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


@pytest.mark.parametrize(
    ("spoilt", "says"),
    [
        (pvgis_text().replace("T2m", "Temp", 1), "T2m"),
        (pvgis_text().replace("time(UTC)", "hour"), "time(UTC)"),
        (pvgis_text().replace("\r\n20070101:0300", "\r\n20070101:0200"), "hours of a year"),
        (pvgis_text().replace("\r\n20070101:0300", "\r\n20071301:0300"), "no such time"),
        (pvgis_text().replace("Latitude (decimal degrees): 45.000", "Latitude (decimal degrees): north"), "Latitude"),
        (tmy3_text().replace(",990,", ",9999,", 1), "Pressure"),
        (tmy3_text().replace("01/01/1991,05:00", "01/01/1991,5 am"), "no such time"),
        ("\n".join(tmy3_text().splitlines()[:5000]), "hours of a year"),
    ],
)  # fmt: skip
def test_a_spoilt_file_is_refused_with_what_is_wrong(spoilt: str, says: str) -> None:
    with pytest.raises(InputError, match=says.replace("(", r"\(").replace(")", r"\)")):
        parse_year(spoilt, "year.csv")
