"""When everything happens: clocks, stops, closing rules, polar sun, the far side of the world; and ranking."""

from __future__ import annotations

from datetime import datetime
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.app.plan.plan import departures_of
from planner.model import sun
from planner.model.closing import closed_by_day, closing_times, last_closing
from planner.model.compare import ENOUGH_HEADROOM_K, rank
from planner.model.limits import CAUTION, CLEAR, HARM, UNKNOWN
from planner.model.records import Closing, DepartureWindow, Road, Site, Trip
from planner.model.timeline import GRID_S, Timeline, build_timeline, follow
from tests.model.scenarios import (
    DAY_S,
    HOUR_S,
    NUC,
    ORIGIN,
    SUMMER,
    at,
    catalogue,
    halt,
    peaks_c,
    plan,
    replace,
    road,
    simulated_case,
    trip,
    weather,
)

ROME = ZoneInfo("Europe/Rome")
LEAVE_S = SUMMER + DAY_S + 10.0 * HOUR_S


def clock(year: int, month: int, day: int, hour: int, minute: int = 0, fold: int = 0) -> float:
    return datetime(year, month, day, hour, minute, tzinfo=ROME, fold=fold).timestamp()


def timeline_of(planned: Trip, way: Road) -> Timeline:
    departures = departures_of(planned)
    return build_timeline(planned, way, departures, closing_times(planned, way, departures))


# -- clocks ---------------------------------------------------------------------------------------


def test_departures_over_the_night_the_clocks_go_forward_are_evenly_spaced() -> None:
    """28 March 2027, Europe: 02:00 becomes 03:00; a window from 1 to 5 by the wall holds three true hours."""
    window = DepartureWindow(clock(2027, 3, 28, 1), clock(2027, 3, 28, 5), HOUR_S)
    departures = departures_of(replace(trip(NUC, "open_trailer"), window=window))
    np.testing.assert_array_equal(np.diff(departures), HOUR_S)
    assert departures.size == 4


def test_departures_over_the_night_the_clocks_go_back_name_each_hour_once() -> None:
    """31 October 2027, Europe: 02:30 happens twice and both are tried."""
    window = DepartureWindow(clock(2027, 10, 31, 1, 30), clock(2027, 10, 31, 3, 30), HOUR_S)
    departures = departures_of(replace(trip(NUC, "open_trailer"), window=window))
    walls = [datetime.fromtimestamp(t, ROME).strftime("%H:%M") for t in departures]
    assert walls == ["01:30", "02:30", "02:30", "03:30"]


def test_a_closing_time_the_clocks_skip_falls_where_they_jump_to() -> None:
    """02:30 on 28 March 2027 does not exist in Rome: the boxes are shut at 03:30 summer time, the same instant."""
    closed = last_closing(Closing("clock", clock_s=2.5 * HOUR_S), ORIGIN, np.array([clock(2027, 3, 28, 9)]))
    assert closed[0] == clock(2027, 3, 28, 3, 30)


def test_a_closing_time_stays_on_the_wall_clock_across_a_change() -> None:
    rule = Closing("clock", clock_s=21.0 * HOUR_S)
    for day in (27, 28, 29):
        closed = last_closing(rule, ORIGIN, np.array([clock(2027, 3, day, 23)]))
        assert datetime.fromtimestamp(closed[0], ROME).strftime("%d %H:%M") == f"{day} 21:00"


# -- closing rules --------------------------------------------------------------------------------


def test_boxes_shut_after_sunset_are_shut_that_long_after_it() -> None:
    before = np.array([at(2027, 7, 6, 23)])
    closed = last_closing(Closing("after_sunset", delay_s=1800.0), ORIGIN, before)
    _, sunset = sun.sun_events(ORIGIN.lat_deg, ORIGIN.lon_deg, at(2027, 7, 6) - ORIGIN.lon_deg / 360 * DAY_S)
    assert closed[0] == pytest.approx(float(sunset) + 1800.0, abs=1.0)


def test_boxes_shut_before_sunrise_are_shut_that_long_before_it() -> None:
    before = np.array([at(2027, 7, 6, 9)])
    closed = last_closing(Closing("before_sunrise", delay_s=900.0), ORIGIN, before)
    sunrise, _ = sun.sun_events(ORIGIN.lat_deg, ORIGIN.lon_deg, at(2027, 7, 6) - ORIGIN.lon_deg / 360 * DAY_S)
    assert closed[0] == pytest.approx(float(sunrise) - 900.0, abs=1.0)


@given(
    rule=st.sampled_from(("after_sunset", "before_sunrise", "clock", "at_loading")),
    delay_s=st.floats(0.0, 7200.0),
    clock_s=st.floats(0.0, 86_399.0),
    lat=st.floats(-89.0, 89.0),
    lon=st.floats(-180.0, 180.0),
    day=st.integers(0, 364),
    hour=st.floats(0.0, 24.0),
)
def test_no_rule_shuts_a_box_later_than_it_is_lifted_nor_days_before(
    rule: str, delay_s: float, clock_s: float, lat: float, lon: float, day: int, hour: float
) -> None:
    """Anywhere on earth, any day; where the sun neither rises nor sets, the box is shut when it is lifted."""
    before = np.array([at(2027, 1, 1) + day * DAY_S + hour * HOUR_S])
    site = Site("anywhere", lat, lon, "UTC")
    closed = last_closing(Closing(rule, delay_s=delay_s, clock_s=clock_s), site, before)
    assert np.all(closed <= before)
    assert np.all(before - closed < 3 * DAY_S)


def test_in_the_polar_summer_boxes_are_shut_when_lifted() -> None:
    tromso = Site("north", 69.6, 18.9, "Europe/Oslo")
    before = np.array([at(2027, 6, 21, 12)])
    np.testing.assert_array_equal(last_closing(Closing("after_sunset"), tromso, before), before)
    np.testing.assert_array_equal(last_closing(Closing("before_sunrise"), tromso, before), before)


def test_shutting_boxes_by_day_is_noted() -> None:
    stay = trip(NUC, "open_trailer")
    by_hour = np.array([[at(2027, 7, 6, hour)] for hour in (1.0, 11.0, 22.0)])
    np.testing.assert_array_equal(closed_by_day(stay, by_hour), [False, True, False])


# -- stops and whereabouts ------------------------------------------------------------------------


def test_a_stop_holds_the_vehicle_for_its_dwell_and_no_longer() -> None:
    stay = trip(NUC, "open_trailer", leave_s=LEAVE_S, stops=[halt(45)])
    way = road(2.0, waypoints=3)
    line = timeline_of(stay, way)
    time_s = line.start_s + (np.arange(5 * 60)[:, None] + 0.5) * GRID_S
    vehicle = follow(stay, way, line, time_s)
    aboard = vehicle.on_board[:, 0]
    assert np.sum(aboard & ~vehicle.moving[:, 0]) == 30 + 45
    assert np.sum(vehicle.moving[:, 0]) == 120
    parked = aboard & ~vehicle.moving[:, 0] & (vehicle.km[:, 0] > 1.0)
    np.testing.assert_allclose(vehicle.km[parked, 0], way.length_km / 2.0)
    np.testing.assert_array_equal(vehicle.speed_ms[parked, 0], 0.0)


def test_a_longer_stop_never_gives_an_earlier_arrival_and_a_slower_drive_arrives_later() -> None:
    way, sky = road(2.0, waypoints=3), weather(10, 18, SUMMER)
    arrivals = [
        plan(
            trip(NUC, "open_trailer", leave_s=LEAVE_S, stops=[halt(m)], drive_time_factor=f), way, sky
        ).arrives_s[0]
        for m, f in ((0, 1.0), (30, 1.0), (30, 1.2))
    ]
    np.testing.assert_allclose(np.diff(arrivals), [1800.0, 0.2 * 7200.0])


def test_a_stop_in_shade_is_cooler_than_one_in_the_sun() -> None:
    way, sky = road(1.0, waypoints=3), weather(14, 24, SUMMER, cloud=0.0)
    peak = [
        peaks_c(plan(trip(NUC, "van_shut_dark", leave_s=LEAVE_S, stops=[halt(60, shade=shade)]), way, sky))[
            0, 0, 0
        ]
        for shade in (True, False)
    ]
    assert peak[0] < peak[1] - 0.1


def test_open_doors_and_a_running_engine_help_where_they_should() -> None:
    way, sky = road(1.0, waypoints=3), weather(20, 30, SUMMER, cloud=0.0)

    def local_c(vehicle: str, **stop: bool) -> float:
        stay = trip(NUC, vehicle, leave_s=LEAVE_S, stops=[halt(60, **stop)])
        simulated = simulated_case(stay, way, sky)
        halted = (
            simulated.vehicle.on_board[:, 0]
            & ~simulated.vehicle.moving[:, 0]
            & (simulated.vehicle.km[:, 0] > 1.0)
        )
        return float(simulated.seen.local_c[halted, 0].max())

    assert local_c("van_shut_dark", doors_open=True) < local_c("van_shut_dark") - 1.0
    assert local_c("cabin_seat_cooled", engine_on=True) == pytest.approx(22.0, abs=0.5)
    assert local_c("cabin_seat_cooled") > 35.0


def test_an_antimeridian_road_is_followed_across_the_date_line() -> None:
    """Fiji, Taveuni: 179.9 E to 179.9 W is a short drive, not a tour of the world."""
    share = np.linspace(0.0, 1.0, 5)
    way = Road(
        lat_deg=np.full(5, -16.8),
        lon_deg=(179.9 + 0.2 * share + 180.0) % 360.0 - 180.0,
        elevation_m=np.full(5, 10.0),
        km=21.3 * share,
        drive_s=1800.0 * share,
        waypoint_vertex=(0, 4),
        source="invented",
    )
    stay = replace(
        trip(NUC, "open_trailer", leave_s=LEAVE_S),
        origin=Site("west", -16.8, 179.9, "Pacific/Fiji"),
        destination=Site("east", -16.8, -179.9, "Pacific/Fiji"),
    )
    line = timeline_of(stay, way)
    time_s = line.start_s + (np.arange(90)[:, None] + 0.5) * GRID_S
    vehicle = follow(stay, way, line, time_s)
    assert np.all(np.abs(vehicle.lon_deg) >= 179.9 - 1e-9)
    np.testing.assert_allclose(vehicle.heading_deg[vehicle.moving], 90.0, atol=0.1)
    sky = replace(weather(22, 28, SUMMER), lat_deg=np.array([-16.8]), lon_deg=np.array([180.0]))
    assert np.isfinite(plan(stay, way, sky).outcomes.peak_core_c).all()


def test_under_the_midnight_sun_and_in_the_polar_night_the_plan_has_answers() -> None:
    for month, lit in ((6, True), (12, False)):
        site = Site("north", 69.6, 18.9, "Europe/Oslo", 0.0)
        start_s = at(2027, month, 20)
        way = replace(road(2.0), lat_deg=np.linspace(69.6, 70.5, 9), lon_deg=np.full(9, 18.9))
        stay = replace(
            trip(NUC, "open_trailer", leave_s=start_s + DAY_S + 22 * HOUR_S, closing=Closing("after_sunset")),
            origin=site,
            destination=replace(site, lat_deg=70.5),
        )
        sky = weather(-2, 4, start_s)
        sky = replace(sky, lat_deg=np.array([69.6]), lon_deg=np.array([18.9]), ghi_w_m2=sky.ghi_w_m2 * lit)
        planned = plan(stay, way, sky)
        assert np.isfinite(planned.outcomes.peak_core_c).all()
        assert planned.closed_by_day[0] == lit


def test_every_vehicle_place_answers_for_every_box_type() -> None:
    """Each row of both catalogues can be planned; none gives an unknown answer in known weather."""
    places = tuple(name for name, row in catalogue().loading_places.items() if row.vehicle != "ground")
    groups = [
        replace(
            NUC, label=name, box_type=name, frames_of_bees=0.8 * row.frames, stores_frames=0.3 * row.frames
        )
        if row.frames
        else replace(
            NUC,
            label=name,
            box_type=name,
            bees_kg=1.2,
            open_brood_frames=0.0,
            sealed_brood_frames=0.0,
            stores_frames=0.0,
        )
        for name, row in catalogue().box_types.items()
    ]
    planned = plan(trip(groups, places, leave_s=LEAVE_S), road(0.5), weather(8, 16, SUMMER))
    assert np.isfinite(planned.outcomes.peak_core_c).all()
    assert np.all(planned.outcomes.verdict < UNKNOWN)


# -- ranking --------------------------------------------------------------------------------------


def ranked(**columns: list[float]) -> list[int]:
    """Order of made-up candidates; what is not given is the same for all."""
    size = len(next(iter(columns.values())))
    given = {name: np.array(values) for name, values in columns.items()}
    usual = {
        "crowded": np.zeros(size, dtype=bool),
        "level": np.full(size, CLEAR),
        "agitated_level": np.full(size, CLEAR),
        "harmed_share": np.zeros(size),
        "dead_share": np.zeros(size),
        "ruined_share": np.zeros(size),
        "first_harm_s": np.full(size, np.inf),
        "headroom_k": np.full(size, 2.0),
        "by_day": np.zeros(size, dtype=bool),
        "inconvenience": np.zeros(size),
    }
    return rank(**(usual | given)).tolist()


def test_harm_ranks_before_margin_and_convenience() -> None:
    order = ranked(
        level=[HARM, CLEAR, CAUTION, UNKNOWN],
        harmed_share=[1.0, 0.0, 0.0, 0.0],
        headroom_k=[9.0, 0.1, 9.0, 9.0],
        inconvenience=[0.0, 99.0, 0.0, 0.0],
    )
    assert order == [1, 2, 0, 3]


def test_a_place_without_room_ranks_behind_every_harm() -> None:
    assert ranked(crowded=[True, False, False], level=[CLEAR, UNKNOWN, HARM]) == [2, 1, 0]


def test_of_harmed_loads_the_smaller_share_ranks_first() -> None:
    assert ranked(level=[HARM, HARM], harmed_share=[0.9, 0.1]) == [1, 0]


def test_harm_to_disturbed_bees_ranks_before_margin() -> None:
    assert ranked(agitated_level=[HARM, CLEAR], headroom_k=[9.0, 0.5]) == [
        1,
        0,
    ]


def test_margin_ranks_before_convenience_until_there_is_enough_of_it() -> None:
    short = ranked(headroom_k=[1.0, 2.0], inconvenience=[0.0, 9.0])
    ample = ranked(
        headroom_k=[ENOUGH_HEADROOM_K + 1.0, ENOUGH_HEADROOM_K + 6.0],
        inconvenience=[0.0, 9.0],
    )
    assert short == [1, 0]
    assert ample == [0, 1]


def test_shutting_by_day_counts_as_a_caution() -> None:
    assert ranked(by_day=[True, False], headroom_k=[3.0, 1.0]) == [1, 0]


def test_an_unknown_margin_is_the_worst_margin() -> None:
    assert ranked(headroom_k=[np.nan, -5.0]) == [1, 0]


def test_margins_within_half_a_kelvin_count_as_equal() -> None:
    """1.0 and 1.4 K: the convenient one; 1.0 and 1.5 K: the safer one; so below zero."""
    for margins, order in (
        ([1.0, 1.4], [0, 1]),
        ([1.0, 1.5], [1, 0]),
        ([-2.0, -1.6], [0, 1]),
        ([-2.1, -1.9], [1, 0]),
    ):
        assert ranked(headroom_k=margins, inconvenience=[0.0, 9.0]) == order


def test_of_loads_that_harm_as_many_boxes_the_one_with_fewer_dead_leads_in_steps_of_a_twentieth() -> None:
    harms = {"level": [HARM, HARM], "harmed_share": [0.5, 0.5]}
    assert ranked(**harms, dead_share=[0.31, 0.19], first_harm_s=[9.0, 1.0]) == [1, 0]
    assert ranked(**harms, dead_share=[0.21, 0.19], first_harm_s=[9.0, 1.0]) == [0, 1]


def test_then_the_one_with_fewer_ruined_then_the_later_harm() -> None:
    harms = {"level": [HARM, HARM], "harmed_share": [0.5, 0.5], "dead_share": [0.4, 0.4]}
    assert ranked(**harms, ruined_share=[0.5, 0.25], first_harm_s=[9.0, 1.0]) == [1, 0]
    assert ranked(**harms, first_harm_s=[300.0, 13_680.0], inconvenience=[0.0, 9.0]) == [1, 0]


def test_neither_headroom_nor_agitated_bees_order_what_harms() -> None:
    """How hot the dead get is no measure."""
    harms = {"level": [HARM, HARM], "first_harm_s": [300.0, 13_680.0]}
    assert ranked(**harms, headroom_k=[-0.1, -20.0], agitated_level=[CLEAR, HARM]) == [1, 0]


def test_a_share_of_boxes_harmed_counts_only_where_harm_is_done_and_to_the_hundredth() -> None:
    assert ranked(level=[CAUTION, CAUTION], harmed_share=[0.9, 0.0], inconvenience=[0.0, 1.0]) == [0, 1]
    assert ranked(level=[HARM, HARM], harmed_share=[0.504, 0.496], inconvenience=[0.0, 1.0]) == [0, 1]


def test_all_else_equal_the_more_convenient_ranks_first() -> None:
    assert ranked(inconvenience=[2.0, 1.0]) == [1, 0]


@given(st.data())
def test_ranking_names_every_candidate_once_and_never_puts_harm_first(data: st.DataObject) -> None:
    size = data.draw(st.integers(1, 12))
    levels = data.draw(
        st.lists(st.sampled_from((CLEAR, CAUTION, HARM, UNKNOWN)), min_size=size, max_size=size)
    )
    margins = data.draw(st.lists(st.floats(-30.0, 30.0), min_size=size, max_size=size))
    order = ranked(level=levels, headroom_k=margins)
    assert sorted(order) == list(range(size))
    assert np.all(np.diff(np.array(levels)[order]) >= 0)


@given(st.data())
def test_no_ranking_puts_an_earlier_death_first(data: st.DataObject) -> None:
    """Of two candidates that harm, the one that is worse in nothing and harms later is never behind."""
    size = data.draw(st.integers(2, 8))

    def column(values: st.SearchStrategy[float]) -> np.ndarray:
        return np.array(data.draw(st.lists(values, min_size=size, max_size=size)))

    shares = st.sampled_from((0.0, 0.1, 0.5, 1.0))
    harmed, dead, ruined = column(shares), column(shares), column(shares)
    first_s = column(st.floats(60.0, 40_000.0))
    order = ranked(
        level=np.full(size, HARM).tolist(),
        harmed_share=harmed.tolist(),
        dead_share=dead.tolist(),
        ruined_share=ruined.tolist(),
        first_harm_s=first_s.tolist(),
        headroom_k=column(st.floats(-20.0, 20.0)).tolist(),
        agitated_level=column(st.sampled_from((CLEAR, HARM))).tolist(),
        inconvenience=column(st.floats(0.0, 99.0)).tolist(),
    )
    for place, ahead in enumerate(order):
        for behind in order[place + 1 :]:
            no_worse = all(one[behind] <= one[ahead] for one in (harmed, dead, ruined))
            assert not (no_worse and first_s[behind] > first_s[ahead])
