"""Room for the boxes: a place too small ranks last, says so, and is never plainly recommended."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from planner.app.plan.documents import as_document, table
from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Plan
from planner.app.plan.room import Room, room_of
from planner.app.plan.words import answer
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import DepartureWindow, Group, Trip
from planner.store.tripfile import TripFile

FOOTWELL, TRAILER = "cabin_footwell_cooled", "open_trailer"
"""Two five-frame nucs fit the footwell; nobody has counted how many an open trailer takes."""


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
    """Three hundred boxes, to ride in a cabin's footwell or on a trailer."""
    return planned(nuc_pickup, catalogue, 300, FOOTWELL, TRAILER)


@pytest.fixture(scope="module")
def hopeless(nuc_pickup: TripFile, catalogue: Catalogue) -> Plan:
    """Three hundred boxes with nothing but the footwell."""
    return planned(nuc_pickup, catalogue, 300, FOOTWELL)


def test_a_place_too_small_ranks_behind_the_one_that_fits(crowded: Plan) -> None:
    assert [crowded.loading_places[choice.loading_place] for choice in crowded.ranking] == [TRAILER, FOOTWELL]
    assert [crowded.fits(choice) for choice in crowded.ranking] == [True, False]
    assert crowded.room == (Room(2.0, 300), Room(float("inf"), 300))


def test_room_for_the_last_box_is_room(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    full, over = (planned(nuc_pickup, catalogue, count, FOOTWELL) for count in (2, 3))
    assert (full.fits(full.ranking[0]), over.fits(over.ranking[0])) == (True, False)


def test_the_table_the_notes_and_the_next_best_say_how_many_fit(crowded: Plan, catalogue: Catalogue) -> None:
    said = answer(crowded, catalogue)
    assert said.headline.startswith("Leave ")
    assert said.next_best.endswith(", fits 2 of 300.")
    rows = [row["verdicts"] for row in table(crowded)]
    assert [row.startswith("fits 2 of 300; ") for row in rows] == [False, True]
    assert said.notes[-1] == (
        "Too small for this load and ranked last: Cabin footwell, air conditioning on (fits 2 of 300)."
    )


def test_where_nothing_fits_that_is_said_first(hopeless: Plan, catalogue: Catalogue) -> None:
    said = answer(hopeless, catalogue).headline
    first = "No loading place of this trip holds the load. Cabin footwell, air conditioning on fits 2 of 300 boxes. "
    assert said.startswith(first)
    assert "Leave" not in said


def test_a_place_picked_by_hand_is_only_said_to_be_too_small(crowded: Plan, catalogue: Catalogue) -> None:
    said = answer(crowded, catalogue, choice=crowded.ranking[-1]).headline
    assert said.startswith("Cabin footwell, air conditioning on fits 2 of 300 boxes. ")


def test_machines_read_whether_a_candidate_fits(crowded: Plan, catalogue: Catalogue) -> None:
    document = json.loads(json.dumps(as_document(crowded, answer(crowded, catalogue))))
    assert [candidate["fits"] for candidate in document["candidates"]] == [True, False]


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
        ([(3, "cabin_seat_cooled", 0, -1), (1, None, 0, -1)], Room(4.0, 3)),
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
