"""Room for the boxes: a place too small ranks last, says so, and is never plainly recommended."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Plan
from planner.app.plan.room import (
    Room,
    arranged,
    boxes_that_fit,
    held_of,
    outside_m,
    parts_of,
    room_of,
    share_out,
)
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import Box, DepartureWindow, Group, Trip
from planner.store.tripfile import TripFile

FOOTWELL, SEAT, TRAILER = "cabin_footwell_cooled", "cabin_seat_cooled", "open_trailer"
"""Two five-frame nucs fit the footwell, some two hundred the open trailer."""


def planned(found: TripFile, catalogue: Catalogue, count: int, *places: str) -> Plan:
    """One early departure with so many boxes in the places named."""
    start = datetime.fromtimestamp(found.trip.window.first_s, UTC).timestamp()
    trip = replace(
        found.trip,
        groups=(replace(found.trip.groups[0], count=count, loading_place=None),),
        window=DepartureWindow(start, start, 3600.0),
        loading_places=places,
    )
    assert found.road is not None
    assert found.weather.weather is not None
    return plan_trip(trip, found.road, found.weather.weather, catalogue, setups=[AS_DECLARED])


@pytest.fixture(scope="module")
def crowded(nuc_pickup: TripFile, catalogue: Catalogue) -> Plan:
    """Ninety boxes, to ride in a cabin's footwell or on a trailer."""
    return planned(nuc_pickup, catalogue, 90, FOOTWELL, TRAILER)


@pytest.fixture(scope="module")
def hopeless(nuc_pickup: TripFile, catalogue: Catalogue) -> Plan:
    """Six boxes with nothing but the footwell and the front seat, either too small."""
    return planned(nuc_pickup, catalogue, 6, FOOTWELL, SEAT)


def test_a_place_too_small_ranks_behind_the_one_that_fits(crowded: Plan) -> None:
    assert [crowded.loading_places[choice.loading_place] for choice in crowded.ranking] == [TRAILER, FOOTWELL]
    assert [crowded.fits(choice) for choice in crowded.ranking] == [True, False]
    assert crowded.room == (Room(2.0, 90), Room(120.0, 90))


def test_room_for_the_last_box_is_room(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    full, over = (planned(nuc_pickup, catalogue, count, FOOTWELL, SEAT) for count in (2, 3))
    assert [full.room[0].enough, over.room[0].enough] == [True, False]
    assert [
        plan.fits(choice) for plan in (full, over) for choice in plan.ranking if choice.loading_place == 0
    ] == [
        True,
        False,
    ]


def test_the_notes_say_how_many_fit(crowded: Plan) -> None:
    assert crowded.notes[-1] == (
        "Too small for this load and ranked last: Cabin footwell, air conditioning on (fits 2 of 90)."
    )


def test_where_nothing_fits_the_notes_say_how_it_would(hopeless: Plan) -> None:
    """Six of six frames: two fit the footwell, four the seat above it."""
    assert hopeless.notes[-2] == (
        "No single loading place holds the load; split by count it fits: 2 in cabin footwell, air conditioning on; "
        "4 in cabin seat, air conditioning on."
    )


def loaded(trip: Trip, *groups: tuple[int, str | None, int, int]) -> Trip:
    """Groups of boxes by count, place, and the calls where they are loaded and unloaded."""
    made = tuple(
        Group(
            str(at),
            count,
            "national_nuc5_ply",
            load_waypoint=load,
            unload_waypoint=unload,
            loading_place=place,
        )
        for at, (count, place, load, unload) in enumerate(groups)
    )
    return replace(trip, groups=made)


@pytest.mark.parametrize(
    ("groups", "room"),
    [
        ([(1, None, 0, -1), (1, None, 0, -1)], Room(2.0, 2)),
        ([(9, TRAILER, 0, -1), (1, None, 0, -1)], Room(2.0, 1)),
        ([(3, "cabin_seat_cooled", 0, -1), (1, None, 0, -1)], Room(6.0, 3)),
        ([(2, None, 0, 1), (2, None, 1, -1)], Room(2.0, 2)),
        ([(2, None, 0, -1), (1, None, 1, -1)], Room(2.0, 3)),
        ([(2, None, 0, 1), (1, None, 0, 2)], Room(2.0, 3)),
    ],
    ids=[
        "together",
        "pinned elsewhere",
        "the fuller place counts",
        "one after the other",
        "joined",
        "first leg",
    ],
)
def test_boxes_count_where_and_while_they_ride(
    nuc_pickup: TripFile, catalogue: Catalogue, groups: list[tuple[int, str | None, int, int]], room: Room
) -> None:
    """The trip has stops; a group unloaded at one makes room for the group loaded there."""
    assert len(nuc_pickup.trip.stops) >= 1
    assert room_of(loaded(nuc_pickup.trip, *groups), catalogue, FOOTWELL) == room


# -- by size ---------------------------------------------------------------------------------------


def test_boxes_fit_by_the_floor_the_better_way_round_and_by_tiers(catalogue: Catalogue) -> None:
    """A box of 0.505 x 0.413 x 0.282 m on 1.1 x 0.9 m, 0.9 m high: two by two and three tiers; turned, two by one."""
    box = catalogue.box_types["langstroth10_single_pine"]
    assert outside_m(box) == pytest.approx((0.505, 0.413, 0.282), abs=1e-3)
    shelf = replace(catalogue.loading_places[TRAILER], length_m=1.1, width_m=0.9, height_m=0.9)
    assert boxes_that_fit(box, shelf) == 2 * 2 * 3
    assert boxes_that_fit(box, replace(shelf, width_m=0.5)) == 2 * 1 * 3
    assert boxes_that_fit(box, replace(shelf, height_m=0.2)) == 0
    assert boxes_that_fit(box, replace(shelf, capacity_boxes=5.0)) == 5
    assert boxes_that_fit(box, replace(shelf, width_m=outside_m(box)[1] * 2.0)) == 2 * 2 * 3


def test_every_place_that_drives_has_room_counted_for_every_box_type(catalogue: Catalogue) -> None:
    """Got before: eleven of the places took any number of boxes; a place is never without end."""
    for name, place in catalogue.loading_places.items():
        for box in catalogue.box_types.values():
            fit = boxes_that_fit(box, place)
            assert np.isfinite(fit) == catalogue.vehicles[place.vehicle].drives, (name, box.name)


def test_mixed_boxes_share_a_place(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    """Half the footwell of nuclei and half of packages; one more of either is too many."""
    nuc, package = "langstroth_nuc5_pine", "package_cage"
    fits = [
        boxes_that_fit(catalogue.box_types[name], catalogue.loading_places[FOOTWELL])
        for name in (nuc, package)
    ]
    assert fits == [2, 3]
    mixed = tuple(
        replace(group, box_type=kind)
        for group, kind in zip(
            loaded(nuc_pickup.trip, (1, None, 0, -1), (1, None, 0, -1)).groups, (nuc, package), strict=True
        )
    )
    assert room_of(replace(nuc_pickup.trip, groups=mixed), catalogue, FOOTWELL) == Room(2.0, 2)
    more = (mixed[0], replace(mixed[1], count=2))
    assert not room_of(replace(nuc_pickup.trip, groups=more), catalogue, FOOTWELL).enough


@pytest.mark.parametrize("count", [7, 500])
def test_what_all_places_together_do_not_hold_is_counted_and_said(
    nuc_pickup: TripFile, catalogue: Catalogue, count: int
) -> None:
    """A load that does not fit is planned all the same, never as fitting; the notes say what to do."""
    found = planned(nuc_pickup, catalogue, count, FOOTWELL, SEAT)
    assert held_of(found.trip, catalogue) == Room(6.0, count)
    assert not any(found.fits(choice) for choice in found.ranking)
    assert found.notes[-2] == (
        f"All loading places of this trip together hold 6 of the {count} boxes aboard at once: take fewer boxes, "
        "drive twice, or bring another vehicle."
    )


def test_the_same_seat_with_other_windows_is_no_second_seat(
    nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    trip = replace(
        loaded(nuc_pickup.trip, (7, None, 0, -1)),
        loading_places=("cabin_window_open", "cabin_windows_open", "cabin_shut_dark"),
    )
    assert held_of(trip, catalogue) == Room(6.0, 7)


def test_room_is_counted_leg_by_leg(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    """Two unloaded at the stop leave room for the two loaded there."""
    trip = loaded(nuc_pickup.trip, (2, None, 0, 1), (2, None, 1, -1))
    trip = replace(trip, loading_places=(FOOTWELL,))
    assert held_of(trip, catalogue) == Room(2.0, 2)
    assert parts_of(trip, catalogue) == [{FOOTWELL: 2}, {FOOTWELL: 2}]
    longer = loaded(nuc_pickup.trip, (2, None, 0, -1), (2, None, 1, -1))
    assert held_of(replace(longer, loading_places=(FOOTWELL,)), catalogue) == Room(2.0, 4)


def test_boxes_find_room_on_every_leg_they_ride(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    """Two fill the footwell as far as the stop: one that rides all the way finds none, though it is empty after."""
    trip = loaded(nuc_pickup.trip, (2, None, 0, 1), (1, None, 0, -1))
    trip = replace(trip, loading_places=(FOOTWELL,))
    assert parts_of(trip, catalogue) == [{FOOTWELL: 2}, {}]
    assert held_of(trip, catalogue) == Room(2.0, 3)


def test_what_lacks_room_counts_before_what_is_many(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    """Two boxes all the way and one from the stop on: the footwell lacks room on the second leg alone."""
    trip = loaded(nuc_pickup.trip, (2, None, 1, -1), (2, SEAT, 0, 1), (1, SEAT, 0, 1), (1, None, 1, -1))
    trip = replace(trip, loading_places=(FOOTWELL,))
    assert held_of(trip, catalogue) == Room(2.0, 3)


def test_pinned_boxes_are_given_room_first(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    trip = loaded(nuc_pickup.trip, (7, None, 0, -1), (2, FOOTWELL, 0, -1))
    trip = replace(trip, loading_places=(FOOTWELL, SEAT, TRAILER))
    assert parts_of(trip, catalogue) == [{SEAT: 6, TRAILER: 1}, {FOOTWELL: 2}]


# -- ways to place a load --------------------------------------------------------------------------


def test_a_load_that_one_place_holds_is_neither_spread_nor_split(
    nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    trip = replace(loaded(nuc_pickup.trip, (3, None, 0, -1)), loading_places=(FOOTWELL, SEAT))
    assert arranged(trip, catalogue) == (trip, [(FOOTWELL,), (SEAT,)])


def test_groups_are_spread_whole_before_any_is_split(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    trip = replace(
        loaded(nuc_pickup.trip, (6, None, 0, -1), (2, None, 0, -1)), loading_places=(FOOTWELL, SEAT)
    )
    found, ways = arranged(trip, catalogue)
    assert found == trip
    assert ways[-1] == (SEAT, FOOTWELL)


def test_a_group_that_no_place_holds_is_split_and_keeps_its_names(
    nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    """Seven in a footwell of two and on a seat of six: two and five, boxes with names in their order."""
    trip = replace(
        loaded(nuc_pickup.trip, (7, None, 0, -1)),
        loading_places=(FOOTWELL, SEAT),
        boxes=tuple(Box(name, 0) for name in "abcdefg"),
    )
    found, ways = arranged(trip, catalogue)
    assert [(group.label, group.count) for group in found.groups] == [("0", 2), ("0", 5)]
    assert [(box.name, box.group) for box in found.boxes] == [
        ("a", 0), ("b", 0), ("c", 1), ("d", 1), ("e", 1), ("f", 1), ("g", 1),
    ]  # fmt: skip
    assert ways == [(FOOTWELL, FOOTWELL), (SEAT, SEAT), (FOOTWELL, SEAT)]


def test_a_split_load_is_tried_in_every_state_of_its_spaces(
    nuc_pickup: TripFile, catalogue: Catalogue
) -> None:
    """Windows are open or shut for all who ride behind them."""
    shut = "cabin_shut_dark"
    trip = replace(
        loaded(nuc_pickup.trip, (7, None, 0, -1)), loading_places=(FOOTWELL, "cabin_windows_open", shut)
    )
    _, ways = arranged(trip, catalogue)
    assert ways[3:] == [(FOOTWELL, "cabin_windows_open"), (FOOTWELL, shut)]


def test_a_group_is_split_over_the_places_by_count(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    """Those pinned come first; the rest fills what is left."""
    groups = loaded(nuc_pickup.trip, (7, None, 0, -1), (2, FOOTWELL, 0, -1))
    trip = replace(groups, loading_places=(FOOTWELL, SEAT, TRAILER))
    assert share_out(trip, catalogue) == {FOOTWELL: 2, SEAT: 6, TRAILER: 1}
