"""A small reader of the hourly typical-year files that pvlib carries (NREL TMY3, public data)."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pvlib

from planner.model.records import Floats, Site, Weather
from tests.model.scenarios import HOUR_S, hourly

GREENSBORO, SAND_POINT = "723170TYA.CSV", "703165TY.csv"
COLUMNS = {
    "air_c": "Dry-bulb (C)",
    "dew_c": "Dew-point (C)",
    "ghi_w_m2": "GHI (W/m^2)",
    "dni_w_m2": "DNI (W/m^2)",
    "dhi_w_m2": "DHI (W/m^2)",
    "wind_ms": "Wspd (m/s)",
    "pressure_pa": "Pressure (mbar)",
    "cloud": "TotCld (tenths)",
}
SCALE = {"pressure_pa": 100.0, "cloud": 0.1}


@dataclass(frozen=True)
class TypicalYear:
    """One station; columns ``(hour,)``, the hours counted from 00:00 local standard time of its 1 January."""

    site: Site
    zone_h: float
    columns: dict[str, Floats]

    def weather(self, first: datetime, days: int = 3) -> Weather:
        """Some days from a local midnight on as the weather of a whole road.

        Radiation belongs to the hour before the stamp, as in the files; row 0 is stamped 01:00 on 1 January.
        """
        at = int((first - datetime(first.year, 1, 1, tzinfo=UTC)) / timedelta(hours=1))
        rows = slice(at - 1, at + 24 * days)
        time_s = self.midnight_s(first) + np.arange(24 * days + 1) * HOUR_S
        cut = {name: values[rows] for name, values in self.columns.items()}
        return hourly(time_s, **cut, site=self.site, kind="typical")

    def midnight_s(self, day: datetime) -> float:
        """POSIX seconds of the local midnight that begins a day."""
        return day.timestamp() - self.zone_h * HOUR_S

    def day_of(self, extreme: str) -> datetime:
        """The day of 2027 with the highest (``hot``) or lowest (``cold``) mean, the ends of the year left out."""
        means = self.columns["air_c"][: 365 * 24].reshape(365, 24).mean(axis=1)[2:-4]
        index = 2 + int(np.argmax(means) if extreme == "hot" else np.argmin(means))
        return datetime(2027, 1, 1, tzinfo=UTC) + timedelta(days=index)


def read_typical_year(name: str) -> TypicalYear:
    """Read one of pvlib's files."""
    path = Path(pvlib.__file__).parent / "data" / name
    with path.open(newline="", encoding="utf-8") as lines:
        station = next(csv.reader([next(lines)]))
        rows = list(csv.DictReader(lines))
    _, title, _, zone_h, lat, lon, elevation = station
    columns = {
        key: np.array([float(row[column]) for row in rows]) * SCALE.get(key, 1.0)
        for key, column in COLUMNS.items()
    }
    site = Site(title, float(lat), float(lon), "UTC", float(elevation))
    return TypicalYear(site, float(zone_h), columns)
