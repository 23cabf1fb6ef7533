"""Trips through measured weather: typical-year files of Greensboro NC and Sand Point AK (NREL TMY3, in pvlib)."""

from __future__ import annotations

from datetime import timedelta
from functools import cache

import numpy as np
import pvlib
import pytest

from planner.app.plan.results import Plan
from planner.model import sun
from planner.model.preparations import AS_DECLARED, ROOF_SCREEN
from planner.model.records import Closing, Group, Trip, Weather
from tests.model.scenarios import (
    HOUR_S,
    NUC,
    peaks_c,
    plan,
    replace,
    road,
    simulated_case,
    trip,
)
from tests.model.typical_year import GREENSBORO, SAND_POINT, TypicalYear, read_typical_year

TYPICAL = 1
PLACES = ("open_trailer", "cabin_windows_open", "pickup_canopy_shut_dark")


@cache
def station(name: str) -> TypicalYear:
    return read_typical_year(name)


@cache
def day(name: str, extreme: str) -> tuple[Weather, float]:
    """Three days of weather with the hottest or coldest in the middle, and that day's local midnight."""
    year = station(name)
    found = year.day_of(extreme)
    return year.weather(found - timedelta(days=1)), year.midnight_s(found)


def tour(name: str, extreme: str, group: Group, places: tuple[str, ...], hours: tuple[float, float]) -> Trip:
    """Departures every two hours of the local day, boxes shut when lifted."""
    site = station(name).site
    _, midnight_s = day(name, extreme)
    stay = trip(
        group,
        places,
        leave_s=midnight_s + hours[0] * HOUR_S,
        last_s=midnight_s + hours[1] * HOUR_S,
        step_s=2.0 * HOUR_S,
        closing=Closing("at_loading"),
    )
    return replace(stay, origin=site, destination=site)


def planned(name: str, extreme: str, group: Group, places: tuple[str, ...] = PLACES) -> Plan:
    way = road(2.5, 70.0)
    there = station(name).site
    way = replace(
        way, lat_deg=way.lat_deg - 45.0 + there.lat_deg, lon_deg=np.full(way.km.size, there.lon_deg)
    )
    sky, _ = day(name, extreme)
    return plan(tour(name, extreme, group, places, (4.0, 20.0)), way, sky, (AS_DECLARED, ROOF_SCREEN))


def test_the_reader_agrees_with_pvlib() -> None:
    """Oracle: pvlib.iotools.read_tmy3, the July noon rows."""
    table, meta = pvlib.iotools.read_tmy3(
        str(pvlib.__path__[0]) + "/data/" + GREENSBORO, map_variables=True, coerce_year=2027
    )
    year = station(GREENSBORO)
    assert year.site.lat_deg == meta["latitude"]
    np.testing.assert_allclose(year.columns["air_c"], table["temp_air"].to_numpy())
    np.testing.assert_allclose(year.columns["ghi_w_m2"], table["ghi"].to_numpy())


@pytest.mark.parametrize("name", [GREENSBORO, SAND_POINT])
def test_the_measured_sun_stays_below_the_sun_outside_the_air_and_in_step_with_it(name: str) -> None:
    """Stamps and zones are read right: measured radiation falls where the sun is up, hour by hour of the year."""
    year = station(name)
    hours = np.arange(year.columns["ghi_w_m2"].size)
    mid_s = np.datetime64("2027-01-01").astype("datetime64[s]").astype(float) - year.zone_h * HOUR_S
    time_s = mid_s + (hours + 0.5) * HOUR_S
    position = sun.sun_position(time_s, year.site.lat_deg, year.site.lon_deg)
    ghi = year.columns["ghi_w_m2"]
    assert np.all(ghi[position.elevation_deg < -9.0] == 0.0)
    assert np.mean(ghi[position.elevation_deg > 10.0] > 0.0) > 0.999
    level = sun.extraterrestrial_w_m2(time_s) * np.sin(np.radians(np.maximum(position.elevation_deg, 0.0)))
    high = position.elevation_deg > 20.0
    assert np.all(ghi[high] < level[high] * 1.05)


def test_a_hot_southern_day_forbids_the_afternoon_and_grants_the_night() -> None:
    """Greensboro's hottest day, a strong nucleus: early starts are cooler than any midday start in every place,
    midday under a shut canopy does harm, before dawn on a trailer with a roof screen does not."""
    answer = planned(GREENSBORO, "hot", NUC)
    sky, midnight_s = day(GREENSBORO, "hot")
    assert np.nanmax(sky.air_c) > 31.0
    peak = peaks_c(answer)
    local_h = (answer.departures_s - midnight_s) / HOUR_S
    dawn, noon = local_h == 4.0, (local_h >= 10.0) & (local_h <= 14.0)
    trailer, canopy = 0, 2
    assert np.all(peak[dawn][:, trailer] < peak[noon][:, trailer].min(axis=0))
    assert answer.outcomes.verdict[noon, canopy, 0, TYPICAL].max(axis=(-2, -1)).min() == 2
    assert answer.outcomes.verdict[dawn, trailer, 1, TYPICAL].max() < 2
    best = answer.ranking[0]
    assert answer.loading_places[best.loading_place] == "open_trailer"
    assert not noon[best.departure]


def test_a_cold_southern_day_chills_thin_nuclei_on_a_trailer_and_spares_strong_ones() -> None:
    """Greensboro's coldest day, -17 to 1 C, on an open trailer: at the coldest hour thin brood falls below 30 C.

    Common practice, no source: a nucleus of three or four frames does not ride so in hard frost. Before wind
    reached the bees on their combs it was held at 33 C all day.
    """
    thin = replace(NUC, frames_of_bees=3.5, open_brood_frames=0.5, sealed_brood_frames=1.0)
    thin_c, strong_c = (
        planned(GREENSBORO, "cold", group, ("open_trailer",)).outcomes.low_core_c[:, 0, 0, TYPICAL, 0]
        for group in (thin, NUC)
    )
    sky, _ = day(GREENSBORO, "cold")
    assert np.nanmin(sky.air_c) < -15.0
    assert 15.0 < thin_c.min() < 27.0
    assert np.all(strong_c > thin_c)
    assert np.median(strong_c) > 31.0


def test_a_northern_island_never_overheats_ordinary_nuclei_in_the_open() -> None:
    """Sand Point's hottest day stays below 20 C: no departure on an open trailer harms an ordinary nucleus."""
    group = replace(NUC, frames_of_bees=3.5, open_brood_frames=0.5, sealed_brood_frames=1.0)
    sky, _ = day(SAND_POINT, "hot")
    assert np.nanmax(sky.air_c) < 20.0
    answer = planned(SAND_POINT, "hot", group)
    assert answer.outcomes.verdict[:, 0, 0, TYPICAL].max() < 2
    assert peaks_c(answer)[:, 0, 0].max() < 38.0


def test_a_northern_winter_day_chills_a_handful_of_bees_but_not_a_nucleus() -> None:
    """Sand Point's coldest day, -11 to -2 C: the nucleus holds its brood, a small cast of bees does not keep warm."""
    few = Group("cast", 1, "package_cage", bees_kg=0.05, floor="solid", entrance="shut")
    nucleus, cast = (
        planned(SAND_POINT, "cold", group, ("open_trailer",)).outcomes.low_core_c[:, :, 0, TYPICAL].min()
        for group in (NUC, few)
    )
    assert nucleus > 30.0
    assert cast < nucleus - 5.0


def test_boxes_feel_the_measured_sun_and_wind_hour_by_hour() -> None:
    """On the hot day a parked box gains sun by day only; by night its lid loses a watt or two to the sky."""
    stay = tour(GREENSBORO, "hot", NUC, ("open_trailer",), (6.0, 6.0))
    sky, midnight_s = day(GREENSBORO, "hot")
    simulated = simulated_case(replace(stay, loading_s=18 * HOUR_S, open_after_s=12 * HOUR_S), road(1.0), sky)
    local_h = ((simulated.time_s[:, 0] - midnight_s) / HOUR_S) % 24.0
    sun_w = simulated.seen.sun_w[:, 0]
    dark_w = sun_w[(local_h < 4.5) | (local_h > 20.5)]
    assert np.all((dark_w < 0.0) & (dark_w > -3.0))
    assert sun_w[(local_h > 11.0) & (local_h < 14.0)].mean() > 3.0  # net of what the sky takes
