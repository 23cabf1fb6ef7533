"""The facts an answer must hold, by plans made by hand: which hours to avoid, what is next best, when to warn."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.app.common.wording import runs as runs_of
from planner.app.plan.notes import notes_of
from planner.app.plan.plan import _phases, shut_at_night
from planner.app.plan.results import Choice, Plan
from planner.app.plan.room import room_of
from planner.model.closing import closing_times
from planner.model.preparations import AS_DECLARED
from planner.model.records import Closing, Trip
from planner.model.timeline import build_timeline
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, halt, replace, road, trip

LEAVE_S = SPRING + 34.0 * HOUR_S  # Tuesday 30 March, 12:00 in Rome
ONLY = Choice(0, 0, 0)


def plan_of(
    departures: int = 1,
    step_h: float = 1.0,
    places: Any = "open_trailer",
    setups: Any = (AS_DECLARED,),
    **more: Any,
) -> Plan:
    last_s = LEAVE_S + (departures - 1) * step_h * HOUR_S
    asked = trip(more.pop("groups", NUC), places, leave_s=LEAVE_S, last_s=last_s, step_s=step_h * HOUR_S)
    return made_plan(
        replace(asked, **more.pop("of_trip", {})), more.pop("way", road(1.5)), setups=setups, **more
    )


# -- hours to avoid --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("flags", "runs"),
    [("", []), ("0", []), ("1", [(0, 0)]), ("0110", [(1, 2)]), ("1011", [(0, 0), (2, 3)]), ("111", [(0, 2)])],
)
def test_runs_go_from_their_first_to_their_last(flags: str, runs: list[tuple[int, int]]) -> None:
    assert runs_of(np.array([flag == "1" for flag in flags], dtype=bool)) == runs


# -- what else would do ----------------------------------------------------------------------------


# -- headline --------------------------------------------------------------------------------------


# -- reasons ---------------------------------------------------------------------------------------


# -- how sure, cautions ----------------------------------------------------------------------------


# -- notes, night, phases --------------------------------------------------------------------------


def test_notes_say_how_much_is_unknown_and_that_a_road_is_guessed() -> None:
    peaks = np.full((4, 1, 1, 1, 1), 35.0)
    peaks[0] = np.nan
    found = plan_of(4, peak_core_c=peaks)
    guessed = replace(found.road, estimated=True, time_error_share=0.3)
    sky = replace(found.weather, notes=("from a file",))
    found_room = [room_of(found.trip, catalogue(), name) for name in found.loading_places]
    remarks = found.ranking, found_room, catalogue()
    notes = notes_of(found.trip, sky, guessed, found.outcomes, *remarks)
    assert notes[0] == "from a file"
    assert "30%" in notes[1]
    assert "25%" in notes[2]
    assert notes_of(found.trip, found.weather, found.road, plan_of().outcomes, *remarks) == ()


def test_night_is_while_the_sun_is_down_where_the_group_is_loaded() -> None:
    """29 March, 45 N: the sun sets about 17:55 UTC at the origin; over the hour before it the bees come home."""
    found = shut_at_night(trip(NUC, "open_trailer"), SPRING + np.array([[12.0], [17.4], [19.0]]) * HOUR_S)
    assert found[[0, 2]].tolist() == [[0.0], [1.0]]
    assert 0.3 < float(found[1, 0]) < 0.7
    far = replace(halt(10).site, lon_deg=98.0)  # six hours east
    asked = trip(
        (NUC, replace(NUC, load_waypoint=1)),
        "open_trailer",
        stops=[replace(halt(10), site=far, purpose="load")],
    )
    assert shut_at_night(asked, np.full((1, 2), SPRING + 14.0 * HOUR_S)).tolist() == [[0.0, 1.0]]


def phases_of(asked: Trip, waypoints: int = 2) -> list[tuple[str, str, float, float, float]]:
    """Kind, label, begin and end in hours after wheels turn, kilometre."""
    way, leave = road(3.0, waypoints=waypoints), np.array([LEAVE_S])
    timeline = build_timeline(asked, way, leave, closing_times(asked, way, leave))
    return [
        (p.kind, p.label, (p.start_s - LEAVE_S) / HOUR_S, (p.end_s - LEAVE_S) / HOUR_S, p.km)
        for p in _phases(asked, way, timeline)
    ]


def test_a_trip_is_waiting_loading_driving_and_settling() -> None:
    """Shut at ten by the clock, lifted at 11:30, gone at noon; a halt of half an hour after 120 of 240 km."""
    early = Closing("clock", clock_s=10.0 * HOUR_S)
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, closing=early, stops=[halt(30)])
    assert phases_of(asked, 3) == [
        ("waiting", "Old Yard", -2.0, -0.5, 0.0),
        ("loading", "Old Yard", -0.5, 0.0, 0.0),
        ("driving", "Lay-by", 0.0, 1.5, 0.0),
        ("stop", "Lay-by", 1.5, 2.0, 120.0),
        ("driving", "New Yard", 2.0, 3.5, 120.0),
        ("settling", "New Yard", 3.5, 4.0, 240.0),
    ]


def test_phases_that_take_no_time_are_left_out() -> None:
    asked = trip(NUC, "open_trailer", leave_s=LEAVE_S, loading_s=0.0, open_after_s=0.0)
    assert [kind for kind, *_ in phases_of(asked)] == ["driving"]
