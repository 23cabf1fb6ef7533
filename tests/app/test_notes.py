"""Remarks on a plan: what the driver breathes with the boxes."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.plan.notes import SENTENCES, estimated_road, shut_long
from planner.app.plan.results import Plan
from planner.model.preparations import AS_DECLARED
from planner.model.records import Site
from planner.store.roadfile import road_of
from tests.model.scenarios import (
    DAY_S,
    HOUR_S,
    NUC,
    SPRING,
    Closing,
    catalogue,
    halt,
    plan,
    replace,
    road,
    steady,
    trip,
)


def stays(count: int, place: str, stop_min: float) -> Plan:
    """Nuclei three hours on the road, with a stop shut up half way."""
    stop = [halt(stop_min)] if stop_min else []
    asked = trip(replace(NUC, count=count), place, stops=stop, loading_s=300.0, open_after_s=300.0)
    return plan(asked, road(3.0, waypoints=2 + len(stop)), steady(12.0), (AS_DECLARED,))


def co2_notes(found: Plan) -> list[str]:
    return [note for note in found.notes if note.startswith("Carbon dioxide")]


@pytest.mark.parametrize(
    ("count", "stop_min", "said"),
    [(1, 0.0, None), (4, 30.0, "driver_co2_caution"), (4, 180.0, "driver_co2_alert")],
)
def test_the_driver_is_told_when_the_air_of_the_cabin_gets_bad(
    count: int, stop_min: float, said: str | None
) -> None:
    """Past 0.5 %, past 1.5 % after hours shut in: the warning that a balance of the cabin asks for."""
    notes = co2_notes(stays(count, "cabin_shut_dark", stop_min))
    if said is None:
        assert notes == []
        return
    p = catalogue().parameters.typical()
    limit = {"driver_co2_caution": p.driver_co2_caution_share, "driver_co2_alert": p.driver_co2_alert_share}
    (note,) = notes
    start, end = SENTENCES[said].split("{share:.1%}")[0], SENTENCES[said].split("{limit:.1%}")[1]
    assert note.startswith(start.format(place="cabin seat, windows shut, dark car"))
    assert note.endswith(end)
    assert f"{float(limit[said]):.1%}" in note


def test_nobody_rides_in_a_boot() -> None:
    found = stays(4, "boot_dark", 180.0)
    assert np.nanmax(found.outcomes.peak_around_co2_share) > 0.015
    assert co2_notes(found) == []
    assert found.trip.loading_s < HOUR_S


def test_boxes_shut_a_day_before_they_are_lifted_are_told() -> None:
    """Two of three departures; the worst group counts, and an evening before a morning is nothing to tell."""
    lifted_s = np.full((3, 2), 100.0 * HOUR_S)
    early_h = np.array([[10.0, 10.0], [1.0, 23.0], [18.0, 0.0]])
    (note,) = shut_long(lifted_s - early_h * HOUR_S, lifted_s)
    assert "up to 23 h" in note
    assert "2 of 3 departures" in note
    assert list(shut_long(lifted_s - 17.9 * HOUR_S, lifted_s)) == []


def test_a_plan_for_the_late_afternoon_says_how_long_the_evening_before_shuts_boxes_in() -> None:
    """Shut after sunset and lifted at 17:30 the day after: about 20 hours, which nothing said."""
    asked = trip(NUC, "open_trailer", closing=Closing("after_sunset"), leave_s=SPRING + DAY_S + 16.0 * HOUR_S)
    (note,) = (
        note for note in plan(asked, road(1.0), steady(12.0), (AS_DECLARED,)).notes if "shut up to" in note
    )
    assert "1 of 1 departures" in note


def typed_at(lat_deg: float) -> Site:
    return Site("call", lat_deg, 0.0, "UTC", 50.0)


def test_a_road_whose_error_nobody_named_is_not_off_by_nothing() -> None:
    """Legs typed into a trip file: its driving time may be off by 0%, said the answer."""
    typed = replace(road(1.0), estimated=True, time_error_share=0.0)
    (note,) = estimated_road(typed)
    assert "0%" not in note
    assert "estimate" in note
    legs = road_of({"legs": [{"km": 70.0, "minutes": 75.0}]}, [typed_at(51.0), typed_at(51.5)], None)
    assert legs is not None
    (known,) = estimated_road(legs)
    assert "you typed" in known
    assert "estimate" not in known
    (guessed,) = estimated_road(replace(typed, time_error_share=0.25))
    assert "may be off by 25%" in guessed
