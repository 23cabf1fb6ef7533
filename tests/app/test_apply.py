"""Advice written back into the draft: one edit for each figure that changes, in the draft's own units."""

from __future__ import annotations

import pickle
from typing import Any

import pytest

from planner.app.advice.apply import GROUP_KEYS, Edit, draft_edits, misting_change
from planner.app.advice.changes import Change, possible
from planner.app.plan.results import Choice, Plan
from planner.model.preparations import ALL
from planner.model.records import Closing, Misting
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, replace, road, trip

ONLY = Choice(0, 0, 0)
LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday 30 March, 12:00 in Rome


def plan_of(**more: Any) -> Plan:
    group = more.pop("group", replace(NUC, count=3, floor_blocked_share=0.5))
    place = more.pop("place", "van_shut_dark")
    asked = trip(group, place, stops=(halt(20), halt(45)), **more)
    return made_plan(asked, road(3.0, waypoints=4, vertices=61), setups=ALL)


def change_of(found: Plan, name: str) -> Change:
    return next(c for c in possible(found, ONLY, catalogue()) if c.name == name)


def edits_of(found: Plan, *names: str, choice: Choice = ONLY) -> dict[tuple[str | int, ...], Any]:
    drafted = draft_edits(found, choice, [change_of(found, name) for name in names], catalogue())
    assert drafted is not None
    assert len({edit.spot for edit in drafted.edits}) == len(drafted.edits)
    return {edit.spot: edit.value for edit in drafted.edits}


def test_no_change_no_edit() -> None:
    found = plan_of()
    drafted = draft_edits(found, ONLY, [], catalogue())
    assert drafted is not None
    assert drafted.edits == ()
    assert (drafted.departure_s, drafted.place) == (LEAVE_S, "van_shut_dark")


@pytest.mark.parametrize(
    ("name", "more", "expected"),
    [
        ("roof_screen", {}, {("load", 0, "roof"): "shaded_screen"}),
        ("clean_floor", {}, {("load", 0, "floor_blocked_share"): 0.05}),
        ("entrance_mesh", {}, {("load", 0, "entrance"): "mesh"}),
        ("fewer_bees", {}, {("load", 0, "frames_of_bees"): 4.0}),
        ("stores_out", {}, {("load", 0, "stores_frames"): 1.0}),
        ("wet_foam", {}, {("load", 0, "wet_foam_ml"): 30.0}),
        ("half_boxes", {}, {("load", 0, "count"): 2}),
        (
            "mist_20",
            {},
            {("load", 0, "misting"): {"ml": 20.0, "first_minutes": 60.0, "every_minutes": 30.0}},
        ),
        ("net_off", {"net": True}, {("vehicle", "net"): False}),
        ("wait_in_shade", {"waiting_shade": False}, {("handling", "waiting_shade"): True}),
        (
            "shut_late",
            {"closing": Closing("clock", clock_s=HOUR_S)},
            {("closing",): {"rule": "at_loading", "fixed": True}},
        ),
        ("stops_in_shade", {}, {("stops", 0, "shade"): True, ("stops", 1, "shade"): True}),
        ("doors_open", {}, {("stops", 0, "doors_open"): True, ("stops", 1, "doors_open"): True}),
        ("short_stop_2", {}, {("stops", 1, "dwell_minutes"): 10.0}),
        ("place_open_trailer", {"place": ("van_shut_dark", "open_trailer")}, {}),
        (
            "place_van_roof_fan_dark",
            {},
            {("vehicle", "places"): ["van_shut_dark", "van_roof_fan_dark"]},
        ),
    ],
)
def test_a_change_becomes_these_edits_and_no_other(
    name: str, more: dict[str, Any], expected: dict[tuple[str | int, ...], Any]
) -> None:
    assert edits_of(plan_of(**more), name) == expected


def test_edits_go_to_the_group_they_are_about() -> None:
    clean = replace(NUC, roof="shaded_screen")
    assert edits_of(plan_of(group=(clean, NUC)), "roof_screen") == {("load", 1, "roof"): "shaded_screen"}


def test_screens_and_vents_are_written_too() -> None:
    eps = replace(NUC, box_type="langstroth_nuc5_eps", roof="screen", side_vents_open=False)
    assert edits_of(plan_of(group=eps), "cover_0.5", "open_vents") == {
        ("load", 0, "roof_blocked_share"): 0.5,
        ("load", 0, "side_vents_open"): True,
    }
    assert "label" not in GROUP_KEYS


def test_a_groups_own_rule_is_taken_out_or_written_in_minutes() -> None:
    """Shut when lifted takes the group's rule out; another rule is written with its delay in minutes."""
    own = replace(NUC, closing=Closing("clock", clock_s=HOUR_S))
    found = plan_of(group=own)
    assert edits_of(found, "shut_late") == {
        ("load", 0, "closing"): None,
        ("closing",): {"rule": "at_loading", "fixed": True},
    }
    dusk = Change(
        "dusk",
        "after dusk",
        1,
        "closing",
        boxes=lambda g, _: replace(g, closing=Closing("after_sunset", 900.0)),
    )
    drafted = draft_edits(found, ONLY, [dusk], catalogue())
    assert drafted is not None
    assert drafted.edits == (Edit(("load", 0, "closing"), {"rule": "after_sunset", "delay_minutes": 15.0}),)


def test_a_water_plan_is_written_and_taken_out() -> None:
    found = plan_of(group=replace(NUC, misting=Misting(10.0, 600.0, 600.0)))
    for misting, table in (
        (Misting(30.0, 5400.0, 1800.0), {"ml": 30.0, "first_minutes": 90.0, "every_minutes": 30.0}),
        (Misting(0.0, 0.0, 0.0), None),
    ):
        drafted = draft_edits(found, ONLY, [misting_change(misting)], catalogue())
        assert drafted is not None
        assert drafted.edits == (Edit(("load", 0, "misting"), table),)
    change = misting_change(Misting(30.0, 5400.0, 1800.0))
    assert (change.slot, change.effort) == ("mist", 2)


def test_what_the_set_up_does_is_written_into_the_load() -> None:
    found = plan_of()
    cleaned = Choice(0, 0, found.setups.index("clean_floor"))
    assert edits_of(found, "wet_foam", choice=cleaned) == {
        ("load", 0, "floor_blocked_share"): 0.05,
        ("load", 0, "wet_foam_ml"): 30.0,
    }


def test_several_changes_are_made_one_after_another() -> None:
    assert edits_of(plan_of(), "short_stop_1", "stops_in_shade", "fewer_bees") == {
        ("stops", 0, "dwell_minutes"): 10.0,
        ("stops", 0, "shade"): True,
        ("stops", 1, "shade"): True,
        ("load", 0, "frames_of_bees"): 4.0,
    }


@pytest.mark.parametrize("name", ["stop_1_later", "stop_2_earlier"])
def test_another_road_cannot_be_written_as_edits(name: str) -> None:
    """A moved stop lies elsewhere on the road: the road must be asked for again."""
    found = plan_of()
    assert draft_edits(found, ONLY, [change_of(found, name)], catalogue()) is None
    changes = [
        Change("road", "other road", 1, "road", trip=lambda t, _: (t, road(2.0))),
        change_of(found, "wet_foam"),
    ]
    assert draft_edits(found, ONLY, changes, catalogue()) is None


# -- the window ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("departure", "name", "expected"),
    [
        (0, "leave_-1h", {("window", "from"): "2027-03-30T11:00"}),
        (0, "leave_+2h", {}),
        (1, "leave_-1h", {}),
        (2, "leave_+1h", {("window", "to"): "2027-03-30T15:00"}),
        (2, "leave_-2h", {}),
        (0, "leave_+4h", {("window", "to"): "2027-03-30T16:00"}),
    ],
)
def test_a_departure_outside_the_window_widens_it(
    departure: int, name: str, expected: dict[tuple[str | int, ...], Any]
) -> None:
    """Noon to two o'clock in Rome; a departure at either end of the window is inside."""
    found = plan_of(last_s=LEAVE_S + 2.0 * HOUR_S)
    choice = Choice(departure, 0, 0)
    change = next(c for c in possible(found, choice, catalogue()) if c.name == name)
    drafted = draft_edits(found, choice, [change], catalogue())
    assert drafted is not None
    assert {edit.spot: edit.value for edit in drafted.edits} == expected
    assert drafted.departure_s == LEAVE_S + departure * HOUR_S + change.shift_s


def test_the_changed_candidate_rides_in_the_new_place() -> None:
    found = plan_of(place=("van_shut_dark", "open_trailer"))
    moved = change_of(found, "place_open_trailer")
    drafted = draft_edits(found, ONLY, [moved], catalogue())
    assert drafted is not None
    assert drafted.place == "open_trailer"
    kept = draft_edits(found, Choice(0, 1, 0), [], catalogue())
    assert kept is not None
    assert kept.place == "open_trailer"


@pytest.mark.parametrize("more", [{}, {"closing": Closing("clock", clock_s=64_800.0)}])
def test_a_trip_back_from_another_process_is_edited_as_before(more: dict[str, Any]) -> None:
    """No closing is written only because what it leaves out was left out there."""
    found = plan_of(**more)
    asked = pickle.loads(pickle.dumps(found.trip))
    change = change_of(found, "clean_floor")
    here = draft_edits(found, ONLY, [change], catalogue(), found.trip)
    assert here is not None
    assert draft_edits(found, ONLY, [change], catalogue(), asked) == here
    assert draft_edits(replace(found, trip=asked), ONLY, [change], catalogue(), found.trip) == here
