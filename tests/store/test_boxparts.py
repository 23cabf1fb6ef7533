"""Boxes by name: read into the groups they are marched in, and told when a name is misheard or given twice."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Choice
from planner.bundled import resource_path
from planner.errors import InputError
from planner.model.box_names import box_name
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import Box, Trip
from planner.store.tripfile import TripFile, read_draft, resolve

FIRST, SECOND, THIRD = (box_name(number) for number in (21, 22, 23))
LATE = {"rule": "at_loading"}


def read(catalogue: Catalogue, *boxes: dict[str, Any], **group: Any) -> TripFile:
    """The buyer's trip, its first group of four nucs with boxes by name."""
    draft = read_draft(resource_path("demo", "nuc-pickup.toml"))
    draft["load"] = [draft["load"][0] | {"label": "Nucs", "count": 4, "boxes": list(boxes), **group}]
    return resolve(draft, catalogue, Path(str(resource_path("demo"))))


def trip_of(catalogue: Catalogue, *boxes: dict[str, Any], **group: Any) -> Trip:
    return read(catalogue, *boxes, **group).trip


def faults(catalogue: Catalogue, *boxes: dict[str, Any], **group: Any) -> list[tuple[str, str]]:
    with pytest.raises(InputError) as caught:
        read(catalogue, *boxes, **group)
    assert all(fault.remedy for fault in caught.value.faults)
    return [(fault.field.removeprefix("load[0]."), fault.problem) for fault in caught.value.faults]


def test_boxes_that_differ_in_nothing_stay_in_their_group(catalogue: Catalogue) -> None:
    trip = trip_of(catalogue, {"id": FIRST}, {"id": SECOND})
    assert [group.count for group in trip.groups] == [4]
    assert trip.boxes == (Box(FIRST, 0), Box(SECOND, 0))


def test_a_box_shut_at_another_time_is_marched_alone(catalogue: Catalogue) -> None:
    trip = trip_of(catalogue, {"id": FIRST}, {"id": SECOND, "closing": LATE})
    assert [(group.label, group.count) for group in trip.groups] == [("Nucs", 3), (f"Nucs {SECOND}", 1)]
    assert [group.closing and group.closing.rule for group in trip.groups] == [None, "at_loading"]
    assert trip.boxes == (Box(FIRST, 0), Box(SECOND, 1))


def test_boxes_that_differ_alike_are_marched_once(catalogue: Catalogue) -> None:
    early = {"minutes": 10}
    boxes = ({"id": name, "opening": early} for name in (FIRST, SECOND, THIRD))
    trip = trip_of(catalogue, *boxes)
    assert [(group.label, group.count) for group in trip.groups] == [
        ("Nucs", 1),
        (f"Nucs {FIRST}-{THIRD}", 3),
    ]
    assert trip.groups[1].opening is not None
    assert [box.group for box in trip.boxes] == [1, 1, 1]


def test_where_all_boxes_differ_nothing_is_left_of_the_template(catalogue: Catalogue) -> None:
    trip = trip_of(catalogue, {"id": FIRST, "closing": LATE}, count=1)
    assert [(group.label, group.count) for group in trip.groups] == [(f"Nucs {FIRST}", 1)]


def test_a_plan_answers_for_a_box_by_its_name(catalogue: Catalogue) -> None:
    """Shut when it is lifted, the second box is shut later than its group, and its verdict is its own."""
    file = read(catalogue, {"id": FIRST}, {"id": SECOND, "closing": LATE})
    assert file.road is not None
    assert file.weather.weather is not None
    first_s = file.trip.window.first_s
    trip = replace(
        file.trip,
        window=replace(file.trip.window, last_s=first_s + 4 * 3600.0, step_s=4 * 3600.0),
        loading_places=file.trip.loading_places[:2],
    )
    plan = plan_trip(trip, file.road, file.weather.weather, catalogue, setups=[AS_DECLARED])
    choice = plan.ranking[-1]
    assert (plan.group_of(FIRST), plan.group_of(SECOND)) == (0, 1)
    levels = [plan.worst_level_of(name, choice) for name in (FIRST, SECOND)]
    cell = choice.departure, choice.loading_place, choice.setup, 1
    assert levels == plan.outcomes.verdict[cell].max(axis=-1).tolist()
    assert plan.worst_level(choice) == max(levels)
    with pytest.raises(KeyError):
        plan.worst_level_of(THIRD, Choice(0, 0, 0))


@pytest.mark.parametrize(
    ("boxes", "field", "problem"),
    [
        ([{"id": "B023A"}], "boxes[0].id", "its last letter does not belong to the rest"),
        ([{"id": "twenty"}], "boxes[0].id", "this is no name of a box"),
        ([{"id": FIRST}, {"id": FIRST}], "boxes[1].id", "load[0].boxes[0] has this name already"),
        ([{"id": box_name(n)} for n in range(5)], "boxes", "5 boxes are named in a group of 4"),
        (
            [{"id": FIRST, "closing": {"rule": "clock"}}],
            "boxes[0].closing.clock",
            "the time of day is missing",
        ),
        ([{"id": FIRST, "opening": {}}], "boxes[0].opening", "this does not fit"),
        ([{"closing": LATE}], "boxes[0].id", "this is missing"),
    ],
)
def test_what_cannot_be_is_told_with_its_field(
    catalogue: Catalogue, boxes: list[dict[str, Any]], field: str, problem: str
) -> None:
    found = faults(catalogue, *boxes)
    assert any(where == field and problem in what for where, what in found), found


def test_a_box_of_a_staged_group_has_no_opening_of_its_own(catalogue: Catalogue) -> None:
    """Its last stage is the opening."""
    stages = [
        {"kind": "wait", "end": "arrival"},
        {"kind": "drive", "end": "arrival"},
        {"kind": "settle", "minutes": 9},
    ]
    found = faults(catalogue, {"id": FIRST, "opening": {"minutes": 5}}, stages=stages)
    assert [field for field, _ in found] == ["boxes[0].opening"]
