"""Invented weather of whole seasons, and the files it may come in. Nothing here is measured."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from functools import cache

import numpy as np

from planner.model import sun
from planner.model.records import Floats, Weather
from tests.model.scenarios import HOUR_S, ORIGIN, hourly

COLUMNS = ("air_c", "humidity", "ghi_w_m2", "dni_w_m2", "dhi_w_m2", "wind_ms", "wind_from_deg", "pressure_pa")


def figures(time_s: Floats, warmer_k: float = 0.0) -> dict[str, Floats]:
    """A year by formula: cold in January, hot in July, a warm afternoon every day."""
    day = time_s / 86_400.0 % 365.25
    hour = (time_s / HOUR_S + ORIGIN.lon_deg / 15.0) % 24.0
    spell = 3.0 * np.sin(day / 3.1)
    air = 12.0 + warmer_k - 11.0 * np.cos(2 * np.pi * (day - 20.0) / 365.0) + spell
    air = air + 6.0 * np.cos(2 * np.pi * (hour - 15.0) / 24.0)
    position = sun.sun_position(time_s, ORIGIN.lat_deg, ORIGIN.lon_deg)
    ghi = sun.cloudy_global(sun.clear_sky(time_s, position.zenith_deg)[0], 0.3)
    return {
        "air_c": np.round(air, 2),
        "humidity": np.round(60.0 + 20.0 * np.sin(day), 1),
        "ghi_w_m2": np.round(ghi, 1),
        "dni_w_m2": np.round(0.6 * ghi, 1),
        "dhi_w_m2": np.round(0.4 * ghi, 1),
        "wind_ms": np.full(time_s.shape, 2.0),
        "wind_from_deg": np.full(time_s.shape, 270.0),
        "pressure_pa": np.full(time_s.shape, 99_000.0),
    }


def season_weather(first_s: float, days: int, warmer_k: float = 0.0) -> Weather:
    """Hourly weather in one point."""
    time_s = first_s + np.arange(days * 24 + 1) * HOUR_S
    found = figures(time_s, warmer_k)
    return hourly(
        time_s,
        air_c=found["air_c"],
        dew_c=found["air_c"] - 8.0,
        ghi_w_m2=found["ghi_w_m2"],
        kind="archive",
    )


@cache
def pvgis_text(delay_h: float = 0.1761) -> str:
    """A year in the layout of PVGIS, months of different years as it puts them together."""
    years = [2007, 2012, 2005, 2016, 2009, 2011, 2006, 2015, 2013, 2010, 2008, 2014]
    head = [
        f"Latitude (decimal degrees): {ORIGIN.lat_deg:.3f}",
        f"Longitude (decimal degrees): {ORIGIN.lon_deg:.3f}",
        "Elevation (m): 200.0",
        f"Irradiance Time Offset (h): {delay_h}",
        "month,year",
        *(f"{month + 1},{year}" for month, year in enumerate(years)),
        "time(UTC),T2m,RH,G(h),Gb(n),Gd(h),IR(h),WS10m,WD10m,SP",
    ]
    start = datetime(2027, 1, 1, tzinfo=UTC)
    time_s = start.timestamp() + np.arange(8760) * HOUR_S
    found = figures(time_s)
    rows = []
    for i in range(8760):
        at = start + timedelta(hours=i)
        cells = [f"{found[name][i]:g}" for name in COLUMNS]
        cells.insert(5, "300.0")
        rows.append(f"{years[at.month - 1]}{at:%m%d:%H}00," + ",".join(cells))
    tail = ["", "T2m: 2-m air temperature (degree Celsius)", "", "PVGIS (c) European Union, 2001-2026"]
    return "\r\n".join([*head, *rows, *tail]) + "\r\n"


@cache
def tmy3_text(zone_h: int = -6) -> str:
    """A year in the TMY3 layout, hours ending at 1:00 to 24:00 local standard time."""
    names = (
        "Date (MM/DD/YYYY),Time (HH:MM),ETR (W/m^2),GHI (W/m^2),DNI (W/m^2),DHI (W/m^2),TotCld (tenths),"
        "Dry-bulb (C),Dew-point (C),RHum (%),Pressure (mbar),Wdir (degrees),Wspd (m/s)"
    )
    head = [f'999999,"OLD YARD (INVENTED)",XX,{zone_h:.1f},{ORIGIN.lat_deg},{ORIGIN.lon_deg},200', names]
    start = datetime(2027, 1, 1, tzinfo=UTC)
    rows = []
    time_s = start.timestamp() + (np.arange(1, 8761) - zone_h) * HOUR_S
    found = figures(time_s)
    for i in range(8760):
        day = start + timedelta(hours=i)
        year = 1990 + day.month
        cells = [
            f"{day:%m/%d}/{year}",
            f"{i % 24 + 1:02d}:00",
            "0",
            *(f"{found[name][i]:g}" for name in ("ghi_w_m2", "dni_w_m2", "dhi_w_m2")),
            "3",
            f"{found['air_c'][i]:g}",
            f"{found['air_c'][i] - 8.0:g}",
            "60",
            "990",
            "270",
            "2",
        ]
        rows.append(",".join(cells))
    return "\n".join([*head, *rows]) + "\n"
