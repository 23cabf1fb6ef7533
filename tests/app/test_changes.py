"""Changes: each alters exactly what it says, only where there is something to alter, and never a legal break."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.app.advice.changes import (
    COVERED,
    MIST_ML,
    SHIFTS_H,
    Change,
    _vertex_near,
    possible,
    setup_of,
)
from planner.app.plan.results import Choice, Plan
from planner.model.preparations import ALL, AS_DECLARED, ROOF_SCREEN
from planner.model.records import Closing, Group, Misting, Stop
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, catalogue, halt, replace, road, trip

ONLY = Choice(0, 0, 0)
VENTED = replace(NUC, box_type="langstroth_nuc5_eps")


def changes_of(
    group: Group = NUC, place: str = "open_trailer", *, stops: tuple[Stop, ...] = (), **more: Any
) -> dict[str, Change]:
    return {
        change.name: change
        for change in possible(plan_of(group, place, stops=stops, **more), ONLY, catalogue())
    }


def plan_of(
    group: Group | tuple[Group, ...] = NUC,
    place: str | tuple[str, ...] = "open_trailer",
    *,
    stops: tuple[Stop, ...] = (),
    **more: Any,
) -> Plan:
    asked = trip(group, place, stops=stops, **more)
    return made_plan(asked, road(3.0, waypoints=2 + len(stops), vertices=61), setups=ALL)


def differences(before: Any, after: Any) -> dict[str, Any]:
    names = [
        name for name in before.__dataclass_fields__ if getattr(before, name) is not getattr(after, name)
    ]
    return {name: getattr(after, name) for name in names if getattr(before, name) != getattr(after, name)}


# -- boxes ---------------------------------------------------------------------------------------

SCREENED = replace(VENTED, roof="shaded_screen", floor_blocked_share=0.5, side_vents_open=False)


@pytest.mark.parametrize(
    ("name", "group", "altered"),
    [
        ("roof_screen", NUC, {"roof": "shaded_screen"}),
        ("cover_0.25", SCREENED, {"roof_blocked_share": 0.25}),
        ("cover_0.5", SCREENED, {"roof_blocked_share": 0.5}),
        ("cover_0.75", SCREENED, {"roof_blocked_share": 0.75}),
        ("cover_0.9", SCREENED, {"roof_blocked_share": 0.9}),
        ("clean_floor", SCREENED, {"floor_blocked_share": 0.05}),
        ("open_vents", SCREENED, {"side_vents_open": True}),
        ("entrance_mesh", replace(NUC, wet_foam_ml=10.0), {"entrance": "mesh", "wet_foam_ml": 0.0}),
        ("entrance_mesh", replace(NUC, entrance="shut"), {"entrance": "mesh"}),
        ("fewer_bees", NUC, {"frames_of_bees": 4.0}),
        ("fewer_bees", replace(NUC, frames_of_bees=3.0), {"frames_of_bees": 2.0}),
        ("stores_out", NUC, {"stores_frames": 1.0}),
        ("stores_out", replace(NUC, stores_frames=1.0), {"stores_frames": 0.0}),
        ("mist_20", NUC, {"misting": Misting(20.0, HOUR_S, 0.5 * HOUR_S)}),
        ("mist_50", NUC, {"misting": Misting(50.0, HOUR_S, 0.5 * HOUR_S)}),
        ("wet_foam", NUC, {"wet_foam_ml": 30.0}),
    ],
)
def test_a_change_to_a_box_alters_this_and_nothing_else(
    name: str, group: Group, altered: dict[str, Any]
) -> None:
    change = changes_of(group)[name]
    assert change.boxes is not None
    assert differences(group, change.boxes(group, catalogue().box_types[group.box_type])) == altered
    assert (change.place, change.shift_s, change.trip) == ("", 0.0, None)


@pytest.mark.parametrize(
    ("name", "group"),
    [
        ("roof_screen", SCREENED),
        ("roof_screen", replace(NUC, box_type="langstroth_nuc5_twinwall")),
        ("cover_0.25", NUC),
        ("cover_0.5", replace(SCREENED, roof_blocked_share=0.5)),
        ("clean_floor", replace(NUC, floor_blocked_share=0.05)),
        ("open_vents", replace(NUC, side_vents_open=False)),
        ("open_vents", VENTED),
        ("entrance_mesh", replace(NUC, entrance="open")),
        ("fewer_bees", replace(NUC, frames_of_bees=2.9)),
        ("fewer_bees", replace(NUC, bees_kg=1.5)),
        ("stores_out", replace(NUC, stores_frames=0.9)),
        ("mist_20", replace(NUC, misting=Misting(20.0, HOUR_S, 0.5 * HOUR_S))),
        ("wet_foam", replace(NUC, wet_foam_ml=30.0)),
        ("wet_foam", replace(NUC, entrance="mesh")),
    ],
)
def test_what_would_alter_nothing_is_not_offered(name: str, group: Group) -> None:
    """No screen fits, no vent is there, too few bees or stores to take any, foam wet already, and so on."""
    assert name not in changes_of(group)


def test_a_box_without_an_entrance_gets_no_mesh() -> None:
    change = changes_of()["entrance_mesh"]
    blind = replace(catalogue().box_types[NUC.box_type], entrance_m2=0.0)
    assert change.boxes is not None
    assert change.boxes(NUC, blind) == NUC


def test_one_group_of_several_is_enough_to_offer_a_change() -> None:
    both = plan_of((replace(NUC, roof="shaded_screen"), NUC))
    assert "roof_screen" in {change.name for change in possible(both, ONLY, catalogue())}


def test_what_the_set_up_has_done_is_not_offered_again() -> None:
    found = plan_of()
    screened = Choice(0, 0, found.setups.index("roof_screen"))
    assert setup_of(found, screened) is ROOF_SCREEN
    assert setup_of(found, ONLY) is AS_DECLARED
    names = {change.name for change in possible(found, screened, catalogue())}
    assert "roof_screen" not in names
    assert "cover_0.5" in names


def test_what_shares_a_slot_excludes_itself_and_nothing_else() -> None:
    """Screens on or covered, one way; one amount of mist; one place; one hour; one road; all else apart."""
    found = plan_of(
        replace(SCREENED, count=2, wet_foam_ml=0.0),
        ("van_shut_dark", "open_trailer"),
        stops=(halt(60), halt(60)),
        net=True,
        waiting_shade=False,
        closing=Closing("clock", clock_s=6 * HOUR_S),
    )
    every = possible(found, ONLY, catalogue(), [("hills", found.road), ("coast", found.road)])
    slots: dict[str, list[str]] = {}
    for change in every:
        slots.setdefault(change.slot, []).append(change.name)
    shared = {slot: names for slot, names in slots.items() if len(names) > 1}
    assert set(shared) == {"roof", "mist", "place", "hour", "where 0", "where 1", "road"}
    assert shared["roof"] == [f"cover_{share:g}" for share, _ in COVERED]
    assert shared["mist"] == [f"mist_{ml:.0f}" for ml in MIST_ML]
    assert shared["hour"] == [f"leave_{hours:+d}h" for hours in SHIFTS_H]
    assert shared["road"] == ["road_hills", "road_coast"]
    assert shared["where 0"] == ["stop_1_earlier", "stop_1_later"]
    assert {
        "floor",
        "vents",
        "entrance",
        "bees",
        "stores",
        "foam",
        "count",
        "net",
        "waiting",
        "closing",
    } < set(slots)
    assert {"stop shade", "doors", "dwell 0", "dwell 1"} < set(slots)


def test_the_work_of_each_change_is_stated() -> None:
    efforts = {name: change.effort for name, change in changes_of(SCREENED, stops=(halt(60),)).items()}
    named = {
        "open_vents": 0,
        "clean_floor": 1,
        "cover_0.5": 1,
        "mist_20": 2,
        "fewer_bees": 3,
        "stores_out": 3,
    }
    named |= {"leave_+1h": 1, "short_stop_1": 1, "stops_in_shade": 1, "entrance_mesh": 1, "wet_foam": 1}
    assert {name: efforts[name] for name in named} == named
    assert changes_of()["roof_screen"].effort == 2
    assert changes_of(replace(NUC, count=2))["half_boxes"].effort == 5


# -- place and hour ------------------------------------------------------------------------------


def test_other_places_cost_their_own_work_and_the_move() -> None:
    """From the bed of the pickup: under its canopy costs that place's work and one more, onto a trailer two more."""
    found = plan_of(NUC, ("pickup_bed", "pickup_canopy_open_dark", "open_trailer"))
    places = {c.place: c.effort for c in possible(found, ONLY, catalogue()) if c.place}
    rows = catalogue().loading_places
    assert places == {
        "pickup_canopy_open_dark": rows["pickup_canopy_open_dark"].effort + 1,
        "open_trailer": rows["open_trailer"].effort + 2,
    }


def test_an_enclosed_place_may_be_opened_or_cooled_but_not_painted() -> None:
    """All of the same vehicle but those of the other colour; each named once, never the present one."""
    places = [c.place for c in possible(plan_of(NUC, "van_shut_dark"), ONLY, catalogue()) if c.place]
    assert sorted(places) == ["van_bulkhead_open_dark", "van_insulated_dark", "van_roof_fan_dark"]
    cabin = [c.place for c in possible(plan_of(NUC, "cabin_shut_white"), ONLY, catalogue()) if c.place]
    assert "cabin_seat_cooled" in cabin
    assert not any(place.endswith("_dark") for place in cabin)
    assert "cabin_shut_white" not in cabin


def test_where_every_group_has_its_place_none_is_offered() -> None:
    pinned = replace(NUC, loading_place="open_trailer")
    one = plan_of((pinned, NUC), ("van_shut_dark", "open_trailer"))
    all_ = plan_of((pinned, pinned), ("van_shut_dark", "open_trailer"))
    assert any(c.place for c in possible(one, ONLY, catalogue()))
    assert not any(c.place for c in possible(all_, ONLY, catalogue()))


def test_hours_are_shifted_both_ways_and_say_when() -> None:
    """Ten in the morning UTC is noon in Rome: four hours sooner 08:00, four later 16:00."""
    changes = changes_of()
    shifts = {name: change.shift_s for name, change in changes.items() if change.slot == "hour"}
    assert shifts == {f"leave_{hours:+d}h": hours * HOUR_S for hours in (-4, -2, -1, 1, 2, 4)}
    assert "4 h earlier" in changes["leave_-4h"].title
    assert "08:00" in changes["leave_-4h"].title
    assert "4 h later" in changes["leave_+4h"].title
    assert "16:00" in changes["leave_+4h"].title


# -- load, waiting, stops, road --------------------------------------------------------------------


def altered_trip(name: str, **more: Any) -> tuple[dict[str, Any], dict[str, Any], Plan]:
    found = plan_of(**more)
    change = next(c for c in possible(found, ONLY, catalogue()) if c.name == name)
    assert change.trip is not None
    there, way = change.trip(found.trip, found.road)
    return differences(found.trip, there), differences(found.road, way), found


@pytest.mark.parametrize(("count", "left"), [(2, 1), (5, 3), (8, 4)])
def test_half_the_boxes_is_half_rounded_up(count: int, left: int) -> None:
    altered, way, _ = altered_trip("half_boxes", group=(replace(NUC, count=count), NUC))
    assert [group.count for group in altered.pop("groups")] == [left, 1]
    assert (altered, way) == ({}, {})


def test_a_single_box_is_not_halved() -> None:
    assert "half_boxes" not in changes_of()


def test_the_net_comes_off_where_there_is_one() -> None:
    assert altered_trip("net_off", net=True)[:2] == ({"net": False}, {})
    assert "net_off" not in changes_of()


def test_shade_while_waiting_where_there_is_none() -> None:
    assert altered_trip("wait_in_shade", waiting_shade=False)[:2] == ({"waiting_shade": True}, {})
    assert "wait_in_shade" not in changes_of()


def test_boxes_long_shut_may_be_shut_when_lifted() -> None:
    """Wheels turn at noon, lifted at 11:30: shut at 10:59 is long, at 11:00 it is not; a group's own rule goes."""
    early = Closing("clock", clock_s=11.0 * HOUR_S - 60.0)
    altered, way, _ = altered_trip("shut_late", group=(replace(NUC, closing=early), NUC))
    assert [group.closing for group in altered.pop("groups")] == [None, None]
    assert (altered, way) == ({"closing": Closing("at_loading", fixed=True)}, {})
    own = altered_trip("shut_late", closing=early)[0]
    assert own == {"closing": Closing("at_loading", fixed=True)}
    assert "shut_late" not in changes_of(closing=Closing("clock", clock_s=11.0 * HOUR_S))


def test_shade_and_doors_at_the_stops() -> None:
    stops = (halt(20), halt(20, shade=True))
    altered, way, _ = altered_trip("stops_in_shade", stops=stops)
    assert [stop.shade for stop in altered.pop("stops")] == [True, True]
    assert (altered, way) == ({}, {})
    altered, way, _ = altered_trip("doors_open", stops=stops, place="van_shut_dark")
    assert [(stop.doors_open, stop.shade) for stop in altered.pop("stops")] == [(True, False), (True, True)]
    assert (altered, way) == ({}, {})


@pytest.mark.parametrize(
    ("name", "more"),
    [
        ("stops_in_shade", {"stops": (halt(20, shade=True),)}),
        ("doors_open", {"stops": (halt(20, doors_open=True),), "place": "van_shut_dark"}),
        ("doors_open", {"stops": (halt(20),), "place": "open_trailer"}),
        ("short_stop_1", {"stops": (halt(10),)}),
        ("stops_in_shade", {}),
    ],
)
def test_stops_as_good_as_they_can_be_are_left(name: str, more: dict[str, Any]) -> None:
    """In shade already, doors open already or none to open, ten minutes already, no stop at all."""
    assert name not in changes_of(**more)


def test_a_stop_is_shortened_to_ten_minutes_and_the_others_left() -> None:
    altered, way, _ = altered_trip("short_stop_2", stops=(halt(30), halt(45, "fuel"), halt(60)))
    assert [stop.dwell_s for stop in altered.pop("stops")] == [1800.0, 600.0, 3600.0]
    assert (altered, way) == ({}, {})


@pytest.mark.parametrize("purpose", ["break", "load", "unload"])
def test_a_legal_break_and_the_trips_own_stops_are_never_shortened_or_moved(purpose: str) -> None:
    names = changes_of(stops=(halt(45, purpose),))
    assert not any(name.startswith(("short_stop", "stop_1")) for name in names)
    assert {"short_stop_1", "stop_1_earlier", "stop_1_later"} <= set(changes_of(stops=(halt(45, "fuel"),)))


@pytest.mark.parametrize(("name", "vertex"), [("stop_2_earlier", 30), ("stop_2_later", 50)])
def test_a_stop_moves_half_an_hour_of_driving_along_the_road(name: str, vertex: int) -> None:
    """Three hours in 60 steps of three minutes, stops at vertices 20 and 40: half an hour is ten steps."""
    altered, way, found = altered_trip(name, stops=(halt(30), halt(45)))
    assert found.road.waypoint_vertex == (0, 20, 40, 60)
    assert way == {"waypoint_vertex": (0, 20, vertex, 60)}
    first, second = altered.pop("stops")
    assert first == found.trip.stops[0]
    assert second.site.lat_deg == found.road.lat_deg[vertex]
    assert second.site.lon_deg == found.road.lon_deg[vertex]
    assert second.site.elevation_m is None
    assert (second.site.name, second.dwell_s) == ("Lay-by", 2700.0)
    assert altered == {}


def test_a_stop_never_passes_another() -> None:
    """Vertices at every minute of driving; a stop may come to lie between its neighbours and not upon them."""
    way = replace(road(1.0, vertices=61, waypoints=2), waypoint_vertex=(0, 30, 59, 60))
    assert _vertex_near(way, 1, -1740.0) == 1
    assert _vertex_near(way, 1, -1800.0) is None
    assert _vertex_near(way, 1, 1680.0) == 58
    assert _vertex_near(way, 1, 1740.0) is None
    assert _vertex_near(way, 1, 20.0) is None
    assert np.diff(way.drive_s)[0] == 60.0


def test_a_stop_that_has_nowhere_to_go_stays() -> None:
    """Half an hour of driving altogether: no vertex lies half an hour before or after the middle."""
    asked = trip(NUC, "open_trailer", stops=(halt(30),))
    short = made_plan(asked, road(0.5, waypoints=3, vertices=31))
    assert not any(c.name.startswith("stop_1_") for c in possible(short, ONLY, catalogue()))


def test_another_road_takes_its_place() -> None:
    found, other = plan_of(), road(2.0)
    change = possible(found, ONLY, catalogue(), [("coast", other)])[-1]
    assert (change.name, change.effort) == ("road_coast", 1)
    assert "coast" in change.title
    assert change.trip is not None
    assert change.trip(found.trip, found.road) == (found.trip, other)
