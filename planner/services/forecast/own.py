"""Weather as the user states it: a dawn low, an afternoon high, humidity, sky and wind for each place and day.

Temperature follows :func:`planner.model.sky.day_curve_c` (Parton & Logan 1981), sun follows height and cloud,
dew point, cloud and wind run evenly from one day's noon to the next. Marked as the user's own.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from planner.errors import Fault, InputError
from planner.model.air import dew_point_from_humidity_c, pressure_at_pa
from planner.model.records import Floats, Site, Stated, Weather
from planner.model.sky import day_curve_c, sun_of_hour_before_w_m2
from planner.model.sun import DAY_S, sun_events
from planner.services.forecast.assemble import Series, assemble
from planner.services.forecast.points import Points
from planner.services.forecast.span import HOUR_S
from planner.services.forecast.wire_units import wind_components
from planner.words import say

NAN = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class OwnDay(Stated):
    """What the user says about one local day at one place, ``km`` along the road.

    Give ``dew_c`` or ``humidity_share`` (0..1, as felt at the afternoon high); ``cloud_share`` 0 clear to
    1 overcast; ``wind_ms`` at 10 m, ``wind_from_deg`` where it comes from.
    """

    site: Site
    km: float
    day: date
    low_c: float
    high_c: float
    dew_c: float = NAN
    humidity_share: float = NAN
    cloud_share: float = 0.0
    wind_ms: float = 0.0
    wind_from_deg: float = 0.0
    rain_mm: float = 0.0


def own_weather(days: Sequence[OwnDay], *, assumed: bool = False) -> Weather:
    """Hourly weather from the user's own days; every place needs the same run of days.

    ``assumed`` days were put in by the program, and are never called the user's own.
    Raises InputError naming every field that cannot be.
    """
    faults = [fault for day in days for fault in _faults(day)]
    places = _by_place(days)
    faults += _run_faults(places)
    if faults:
        raise InputError(faults, "own weather")
    ordered = [places[km] for km in sorted(places)]
    sites = [place[0].site for place in ordered]
    points = Points(
        np.array(sorted(places)),
        np.array([site.lat_deg for site in sites]),
        np.array([site.lon_deg for site in sites]),
        np.array([NAN if site.elevation_m is None else site.elevation_m for site in sites]),
    )
    return assemble(
        points,
        [_series(place) for place in ordered],
        source=say("services.assumed_figures" if assumed else "services.own_figures"),
        attribution="",
        issued_s=NAN,
        kind="assumed" if assumed else "own",
        notes=(say("services.assumed_note" if assumed else "services.own_note"),),
    )


def _by_place(days: Sequence[OwnDay]) -> dict[float, list[OwnDay]]:
    places: dict[float, list[OwnDay]] = defaultdict(list)
    for day in sorted(days, key=lambda day: day.day):
        places[day.km].append(day)
    return places


def _faults(day: OwnDay) -> list[Fault]:
    """What cannot be about one day, in the words of its fields."""
    where = f"{day.site.name} {day.day}"

    def fault(name: str, problem: str, remedy: str) -> Fault:
        return Fault(f"{where}: {name}", f"{getattr(day, name)}", problem, remedy)

    found = []
    if not -60.0 <= day.low_c <= day.high_c <= 60.0:
        found.append(
            fault("low_c", say("services.low_and_high", high_c=str(day.high_c)), "Give a low below the high")
        )
    if not (np.isfinite(day.dew_c) or np.isfinite(day.humidity_share)):
        found.append(fault("dew_c", "no humidity is given", "Give a dew point or a humidity"))
    if np.isfinite(day.dew_c) and not -60.0 <= day.dew_c <= min(day.high_c, 35.0):
        found.append(fault("dew_c", "this dew point cannot be", "Give one at or below the high"))
    if np.isfinite(day.humidity_share) and not 0.0 < day.humidity_share <= 1.0:
        found.append(fault("humidity_share", "humidity is above 0 and at most 1", "Write 60 % as 0.6"))
    if not 0.0 <= day.cloud_share <= 1.0:
        found.append(fault("cloud_share", "cloud lies between 0 and 1", "Write half covered as 0.5"))
    if not 0.0 <= day.wind_ms <= 60.0:
        found.append(fault("wind_ms", "this wind cannot be", "Give metres per second, 0 to 60"))
    if not 0.0 <= day.rain_mm <= 500.0:
        found.append(fault("rain_mm", "this rain cannot be", "Give millimetres of the day, 0 to 500"))
    return found


def _run_faults(places: dict[float, list[OwnDay]]) -> list[Fault]:
    """Days missing in between, given twice, or not the same everywhere."""
    if not places:
        return [Fault("days", "", "no day is given", "Enter at least one day at one place")]
    runs = {km: [day.day for day in days] for km, days in places.items()}
    first = min(run[0] for run in runs.values())
    last = max(run[-1] for run in runs.values())
    whole = [first + timedelta(days=step) for step in range((last - first).days + 1)]
    return [
        Fault(
            f"km {km:.0f}",
            "",
            "days are missing or given twice",
            say("services.give_each_day", first=str(first), last=str(last)),
        )
        for km, run in runs.items()
        if run != whole
    ]


def _series(days: list[OwnDay]) -> Series:
    site = days[0].site
    midnights = np.array([_midnight_s(site, day.day) for day in days])
    end_s = _midnight_s(site, days[-1].day + timedelta(days=1))
    time_s = np.arange(np.ceil(midnights[0] / HOUR_S) * HOUR_S, end_s + 1.0, HOUR_S)
    rise_s, set_s = _light(site, midnights)
    high = np.array([day.high_c for day in days])
    air = day_curve_c(time_s, rise_s, set_s, np.array([day.low_c for day in days]), high)
    noons = midnights + DAY_S / 2.0

    def even(values: Floats) -> Floats:
        return np.interp(time_s, noons, values)

    humid = dew_point_from_humidity_c(high, np.array([day.humidity_share for day in days]))
    given = np.array([day.dew_c for day in days])
    east, north = wind_components(
        np.array([day.wind_ms for day in days]), np.array([day.wind_from_deg for day in days])
    )
    cloud = even(np.array([day.cloud_share for day in days]))
    height = 0.0 if site.elevation_m is None else site.elevation_m
    sun = sun_of_hour_before_w_m2(time_s, [site.lat_deg], [site.lon_deg], [height], cloud[:, None])
    day_of = np.clip(np.searchsorted(midnights, time_s, side="left") - 1, 0, len(days) - 1)
    values = {
        "air_c": air,
        "dew_c": np.minimum(even(np.where(np.isfinite(given), given, humid)), air),
        "wind_east_ms": even(east),
        "wind_north_ms": even(north),
        "cloud_share": cloud,
        "ghi_w_m2": sun[:, 0],
        "pressure_pa": np.full(time_s.shape, float(pressure_at_pa(height))),
        "rain_mm": np.array([day.rain_mm for day in days])[day_of] / 24.0,
    }
    return Series(time_s, values, site.lat_deg, site.lon_deg, height)


def _midnight_s(site: Site, day: date) -> float:
    return datetime(day.year, day.month, day.day, tzinfo=ZoneInfo(site.zone)).timestamp()


def _light(site: Site, midnights: Floats) -> tuple[Floats, Floats]:
    """Sunrise and sunset of each day; where the sun does not rise or set, six hours either side of midday."""
    rise_s, set_s = sun_events(site.lat_deg, site.lon_deg, midnights)
    polar = ~(np.isfinite(rise_s) & np.isfinite(set_s))
    middle = midnights + DAY_S / 2.0
    return np.where(polar, middle - DAY_S / 4.0, rise_s), np.where(polar, middle + DAY_S / 4.0, set_s)
