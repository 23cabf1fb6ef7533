"""A delay put into a trip: where the new stop comes, which waypoints move, what the vehicle is doing meanwhile."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.plan.results import Choice
from planner.app.standing.delays import (
    BORDER,
    BREAKDOWN,
    FERRY,
    JAM,
    KINDS,
    Delay,
    DelayKind,
    delayed,
    with_delay,
)
from planner.errors import InputError
from planner.model.preparations import AS_DECLARED, ROOF_SCREEN
from planner.model.records import Group, Road, Trip
from tests.app.chancy import NOON, planned
from tests.model.scenarios import HOUR_S, NUC, catalogue, halt, plan, replace, road, trip

STOP_A, STOP_B = halt(20), halt(40)


def three_legs() -> Road:
    """Three hours at 80 km/h in twelve vertices' steps of 20 km; waypoints at 0, 80, 160 and 240 km."""
    return road(3.0, waypoints=4, vertices=13)


def delayed_at(km: float, *groups: Group, kind: DelayKind = BREAKDOWN) -> tuple[Trip, Road]:
    asked = trip(groups or (NUC,), "open_trailer", stops=[STOP_A, STOP_B])
    return with_delay(asked, three_legs(), Delay(kind, km, 1800.0))


# -- where -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("km", "position"), [(0.5, 0), (79.9, 0), (80.0, 1), (80.1, 1), (159.0, 1), (160.0, 2), (239.9, 2)]
)
def test_the_stop_comes_between_the_waypoints_around_it(km: float, position: int) -> None:
    """Exactly at a stop it comes after it: whoever was to be unloaded there has been."""
    late, way = delayed_at(km)
    assert late.stops[position].site.name == BREAKDOWN.title
    assert [stop for at, stop in enumerate(late.stops) if at != position] == [STOP_A, STOP_B]
    assert way.km[list(way.waypoint_vertex)] == pytest.approx(sorted([0.0, 80.0, 160.0, 240.0, km]))
    assert way.waypoint_vertex[position + 1] == int(np.argmin(np.abs(way.km - km)))


@pytest.mark.parametrize(
    ("km", "loads", "unloads"),
    [
        (40.0, (0, 2, 3), (4, 3, 2)),
        (80.0, (0, 1, 3), (4, 3, 1)),
        (100.0, (0, 1, 3), (4, 3, 1)),
        (160.0, (0, 1, 2), (4, 2, 1)),
        (200.0, (0, 1, 2), (4, 2, 1)),
    ],
)
def test_every_group_is_loaded_and_unloaded_where_it_was(
    km: float, loads: tuple[int, ...], unloads: tuple[int, ...]
) -> None:
    """Loaded at the origin, at stop A (80 km) and at stop B (160 km); unloaded at the end, at B and at A."""
    groups = [
        replace(NUC, load_waypoint=load, unload_waypoint=unload)
        for load, unload in zip((0, 1, 2), (-1, 2, 1), strict=True)
    ]
    late, _ = delayed_at(km, *groups)
    assert tuple(group.load_waypoint for group in late.groups) == loads
    assert tuple(group.unload_waypoint for group in late.groups) == unloads


def test_a_vertex_is_put_in_where_there_is_none() -> None:
    """At 90 km, half way between 80 and 100: everything lies half way there too, and the sums stay."""
    way = three_legs()
    heights = replace(way, elevation_m=np.linspace(0.0, 240.0, 13))
    late, longer = with_delay(
        trip(NUC, "open_trailer", stops=[STOP_A, STOP_B]), heights, Delay(JAM, 90.0, 60.0)
    )
    assert longer.km.size == way.km.size + 1
    assert longer.km[5] == 90.0
    assert longer.drive_s[5] == pytest.approx(90.0 / 80.0 * HOUR_S)
    assert longer.elevation_m[5] == pytest.approx(90.0)
    assert longer.lat_deg[5] == pytest.approx(0.5 * (way.lat_deg[4] + way.lat_deg[5]))
    assert np.delete(longer.km, 5) == pytest.approx(way.km)
    assert longer.waypoint_vertex == (0, 4, 5, 9, 13)
    site = late.stops[1].site
    assert (site.lat_deg, site.lon_deg, site.elevation_m) == (longer.lat_deg[5], 8.0, 90.0)
    assert site.zone == "Europe/Rome"


@pytest.mark.parametrize("nearly_km", [100.0, 100.0 + 5e-7, 100.0 - 5e-7])
def test_a_millimetre_from_a_vertex_is_at_it(nearly_km: float) -> None:
    _, way = delayed_at(nearly_km)
    assert way.km.size == 13
    assert way.waypoint_vertex == (0, 4, 5, 8, 12)
    assert delayed_at(100.00001)[1].km.size == 14


@pytest.mark.parametrize(
    ("west", "east", "middle"),
    [(179.0, -179.0, 180.0), (178.0, -179.0, 179.5), (-179.0, 178.0, 179.5), (179.0, -178.0, -179.5)],
)
def test_a_road_over_the_date_line_does_not_go_round_the_world(
    west: float, east: float, middle: float
) -> None:
    way = replace(road(1.0, vertices=2), lon_deg=np.array([west, east]))
    _, longer = with_delay(trip(NUC, "open_trailer"), way, Delay(FERRY, 40.0, 600.0))
    assert longer.lon_deg[1] == pytest.approx(middle)


@pytest.mark.parametrize(
    ("km", "seconds", "field"),
    [(0.0, 60.0, "at_km"), (240.0, 60.0, "at_km"), (80.0, 0.0, "minutes"), (80.0, np.nan, "minutes")],
)
def test_the_ends_of_the_road_and_no_time_are_no_delay(km: float, seconds: float, field: str) -> None:
    asked = trip(NUC, "open_trailer", stops=[STOP_A, STOP_B])
    with pytest.raises(InputError) as caught:
        with_delay(asked, three_legs(), Delay(JAM, km, seconds))
    assert [fault.field for fault in caught.value.faults] == [field]
    if field == "at_km":
        assert "240 km" in caught.value.faults[0].remedy


# -- what the vehicle does -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "shade", "engine_on"),
    [(JAM, False, True), (BREAKDOWN, False, False), (FERRY, True, False), (BORDER, False, False)],
)
def test_a_jam_keeps_the_engine_on_and_a_ferry_is_dark(kind: DelayKind, shade: bool, engine_on: bool) -> None:
    stop = delayed_at(100.0, kind=kind)[0].stops[1]
    assert (stop.shade, stop.engine_on, stop.doors_open) == (shade, engine_on, False)
    assert (stop.purpose, stop.dwell_s) == ("rest", 1800.0)
    assert KINDS[kind.name] is kind


def test_the_candidate_is_the_same_but_for_the_delay() -> None:
    """Second hour, second place, screens on; an hour broken down, and the same without."""
    found = planned(
        replace(NUC, frames_of_bees=3.0),
        ("open_trailer", "van_shut_dark"),
        leave_s=NOON,
        last_s=NOON + HOUR_S,
        setups=(AS_DECLARED, ROOF_SCREEN),
        hours=1.0,
        low_c=14.0,
        high_c=26.0,
    )
    choice, held_up = Choice(1, 1, 1), Delay(BREAKDOWN, 30.0, 3600.0)
    (late,) = delayed(found, choice, catalogue(), [held_up])
    whole = plan(*with_delay(found.trip, found.road, held_up), found.weather, (AS_DECLARED, ROOF_SCREEN))
    assert late.peak_before_c == found.peak_c(choice)
    assert (late.level_before, late.headroom_before_k) == (
        found.worst_level(choice),
        found.headroom_k(choice),
    )
    assert late.delay.at_km == 30.0
    assert late.peak_c == pytest.approx(whole.peak_c(choice))
    cell = choice.departure, choice.loading_place, choice.setup
    assert late.headroom_k == pytest.approx(min(whole.hotter_k[cell], whole.colder_k[cell]), abs=3.0)
    assert (late.level, late.level_agitated) == (whole.worst_level(choice), whole.worst_level(choice, -1))
    assert late.level_agitated > late.level
    assert late.peak_c[2] > late.peak_before_c[2] + 0.1


def test_a_moment_of_delay_changes_next_to_nothing() -> None:
    found = planned(
        replace(NUC, frames_of_bees=3.0),
        ("open_trailer", "van_shut_dark"),
        setups=(AS_DECLARED, ROOF_SCREEN),
        hours=1.0,
        low_c=19.0,
        high_c=29.0,
    )
    choice = Choice(0, 1, 1)
    (late,) = delayed(found, choice, catalogue(), [Delay(JAM, 30.0, 60.0)])
    # stopping and moving off again jolts the bees, however short the halt: 0.3 K in the van, and the headroom with it
    assert late.peak_c == pytest.approx(late.peak_before_c, abs=0.4)
    assert late.headroom_k == pytest.approx(
        late.headroom_before_k, abs=1.0
    )  # read at the last common shift before
