"""``skepway forecast FROM [TO]``: the weather at a place or along a road, day by day or as a table of hours."""

from __future__ import annotations

import argparse
import math
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from planner.ages import age_s
from planner.cli import route
from planner.cli.exits import Exit
from planner.cli.options import add_sources, add_units, units_of, whole
from planner.cli.planning import sources_of
from planner.errors import Fault, InputError
from planner.files import made
from planner.model.records import Bools, Floats, Road, Site, Weather
from planner.services.forecast.find import OLD_NOTE, find_weather
from planner.store.weatherfile import write_weather
from planner.units import UnitSystem
from planner.words import say
from planner.zones import zone_at

MOST_DAYS = 30


def configure(parser: argparse.ArgumentParser) -> None:
    route.add_places(parser)
    parser.add_argument("--day", default="", metavar="DATE", help="first local day, 2026-06-01 (today)")
    parser.add_argument("--days", type=whole(1, MOST_DAYS), default=2, metavar="N", help="how many days (2)")
    parser.add_argument("--csv", type=Path, metavar="FILE", help="write every hour and point as a table")
    add_units(parser)
    add_sources(parser)


def run(args: argparse.Namespace) -> int:
    units, now_s = units_of(args), time.time()
    sites, remarks = route.sites_of(args)
    road = _standing(sites[0]) if len(sites) == 1 and not args.track else route.roads_of(args, sites)[0]
    zone = ZoneInfo(zone_at(float(road.lat_deg[0]), float(road.lon_deg[0])))
    days = _days(args, zone, now_s)
    with sources_of(args) as sources:
        weather = find_weather(
            sources.client, sources.settings, road, days[0], days[-1] - 3600.0, now_s=now_s
        )
    if args.csv:
        made(args.csv.parent)
        write_weather(weather, args.csv)
    for line in (*remarks, *weather.notes):
        print(say("cli.remark", text=line))
    for line in _table(weather, days, zone, units):
        print(line)
    print(f"Source: {weather.source}{_age(weather, now_s)}")
    if weather.attribution:
        print(weather.attribution)
    return Exit.FINE


def _standing(site: Site) -> Road:
    """A road that stays where it is, so that one place is asked for like many."""
    lat, lon = np.full(2, site.lat_deg), np.full(2, site.lon_deg)
    height = np.full(2, np.nan if site.elevation_m is None else site.elevation_m)
    return Road(lat, lon, height, np.zeros(2), np.zeros(2), (0, 1), "standing")


def _days(args: argparse.Namespace, zone: ZoneInfo, now_s: float) -> list[float]:
    """Local midnights from the first day to the one after the last, POSIX seconds."""
    try:
        first = datetime.fromisoformat(args.day) if args.day else datetime.fromtimestamp(now_s, zone)
    except ValueError as fault:
        raise InputError([Fault("--day", args.day, "this is not a date", "Write 2026-06-01")]) from fault
    midnight = first.replace(hour=0, minute=0, second=0, microsecond=0, tzinfo=zone)
    return [(midnight + timedelta(days=count)).timestamp() for count in range(args.days + 1)]


def _table(weather: Weather, days: list[float], zone: ZoneInfo, units: UnitSystem) -> list[str]:
    """A line for each day and point: lowest and highest air, dew point, strongest wind and sun, all the rain."""
    temp, speed = units.temp_unit, units.speed_unit
    titles = [
        f"low {temp}",
        f"high {temp}",
        f"dew {temp}",
        f"wind {speed}",
        f"gust {speed}",
        "sun W/m2",
        "rain mm",
    ]
    lines = [f"{'day':10} {'at':>8} " + " ".join(f"{title:>9}" for title in titles)]
    for first, last in pairwise(days):
        hours = (weather.time_s >= first) & (weather.time_s <= last)
        sums = hours & (weather.time_s > first)
        day = datetime.fromtimestamp(first, zone).strftime("%a %d %b")
        for point, km in enumerate(weather.km):
            cells = " ".join(f"{cell:>9}" for cell in _figures(weather, hours, sums, point, units))
            lines.append(f"{day:10} {units.distance_text(float(km)):>8} {cells}")
    return lines


def _figures(weather: Weather, hours: Bools, sums: Bools, point: int, units: UnitSystem) -> list[str]:
    """``hours`` the instants of the day with both midnights; ``sums`` the 24 that tell of an hour before them."""

    def of(name: str, pick: Callable[[Floats], Any], rows: Bools = hours) -> float:
        values = getattr(weather, name)[rows, point]
        known = values[np.isfinite(values)]
        return float(pick(known)) if known.size else float("nan")

    wind = np.hypot(weather.wind_east_ms, weather.wind_north_ms)[hours, point]
    return [
        _cell(units.temp(of("air_c", np.min)), 1),
        _cell(units.temp(of("air_c", np.max)), 1),
        _cell(units.temp(of("dew_c", np.max)), 1),
        _cell(units.speed(float(np.max(wind[np.isfinite(wind)], initial=0.0))), 0),
        _cell(units.speed(of("gust_ms", np.max, sums)), 0),
        _cell(of("ghi_w_m2", np.max, sums), 0),
        _cell(of("rain_mm", np.sum, sums), 1),
    ]


def _cell(value: float, digits: int) -> str:
    return f"{value:.{digits}f}" if np.isfinite(value) else "?"


def _age(weather: Weather, now_s: float) -> str:
    """How old it is, unless a remark says so already."""
    if any(note.startswith(OLD_NOTE) for note in weather.notes):
        return ""
    hours = age_s(weather.issued_s, now_s) / 3600.0
    if math.isnan(hours):
        return ""
    return f", {hours:.1f} h old" if hours >= 0.1 else ", fresh"
