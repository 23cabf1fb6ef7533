"""The stages of a trip file: read into the way of a group, and told what is wrong with field and remedy."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from planner.bundled import resource_path
from planner.errors import InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Moment, Stage
from planner.store.tripfile import read_draft, resolve, write_draft

ARRIVAL = Moment("arrival")


def draft_with(*stages: dict[str, Any], **group: Any) -> dict[str, Any]:
    """The buyer's trip, its first group on a way of its own; its one stop is for a break."""
    draft = read_draft(resource_path("demo", "nuc-pickup.toml"))
    draft["load"][0] |= {"stages": [dict(stage) for stage in stages], **group}
    draft["load"] = draft["load"][:1]
    return draft


def read(catalogue: Catalogue, *stages: dict[str, Any], **group: Any) -> tuple[Stage, ...]:
    folder = resource_path("demo")
    return resolve(draft_with(*stages, **group), catalogue, Path(str(folder))).trip.groups[0].stages


def faults(catalogue: Catalogue, *stages: dict[str, Any]) -> list[tuple[str, str]]:
    with pytest.raises(InputError) as caught:
        read(catalogue, *stages)
    assert all(fault.remedy for fault in caught.value.faults)
    return [(fault.field.removeprefix("load[0].stages"), fault.problem) for fault in caught.value.faults]


WAIT = {"kind": "wait", "end": "arrival"}
DRIVE = {"kind": "drive", "end": "arrival"}
SETTLE = {"kind": "settle", "minutes": 30}


def test_a_file_without_stages_has_none(catalogue: Catalogue) -> None:
    draft = read_draft(resource_path("demo", "nuc-pickup.toml"))
    trip = resolve(draft, catalogue, Path(str(resource_path("demo")))).trip
    assert [group.stages for group in trip.groups] == [()] * len(trip.groups)


def test_a_way_is_read_stage_by_stage(catalogue: Catalogue) -> None:
    """A drive goes to where the group is unloaded; other stages stay where the one before ended."""
    porch = {
        "kind": "doorstep",
        "minutes": [30, 60, 240],
        "places": {"ground_sun": 0.25, "ground_shade": 0.75},
        "holder": "receiver",
        "shade": False,
        "jolts": False,
        "shaking": 0.2,
        "begin": "arrival",
    }
    wait, drive, stand, settle = read(catalogue, WAIT, DRIVE | {"place": "van_shut_white"}, porch, SETTLE)
    last = drive.waypoints[1]
    assert wait == Stage("wait", (0, 0), ARRIVAL)
    assert drive == Stage("drive", (0, last), ARRIVAL, places=(("van_shut_white", 1.0),))
    assert stand == Stage(
        "doorstep",
        (last, last),
        Moment("lasting", (1800.0, 3600.0, 14400.0)),
        places=(("ground_sun", 0.25), ("ground_shade", 0.75)),
        holder="receiver",
        shade=False,
        jolts=False,
        shaking=0.2,
        begin=ARRIVAL,
    )
    assert settle.end == Moment("lasting", (1800.0,) * 3)


def test_a_stage_ends_by_the_clock_or_at_an_instant_of_the_place(catalogue: Catalogue) -> None:
    evening, dated = (
        read(catalogue, WAIT, DRIVE, {"kind": "settle", "end": end, "minutes": 5})[-1].end
        for end in ("21:30", "2027-05-20T21:30")
    )
    assert (evening.rule, evening.clock_s, evening.after_s) == ("clock", 77_400.0, (300.0,) * 3)
    assert dated.rule == "instant"
    assert math.isfinite(dated.at_s)


def test_boxes_may_be_shut_and_opened_at_the_time_somebody_did(catalogue: Catalogue) -> None:
    """12 November 2027, 21:14 in the yard's zone; opened when clocks show half past six, or after two hours."""
    for opening, moment in (
        ({"clock": "06:30"}, Moment("clock", clock_s=23_400.0)),
        ({"minutes": 120}, Moment("lasting", (7200.0,) * 3)),
    ):
        draft = draft_with(closing={"rule": "actual", "at": "2027-11-12T21:14"}, opening=opening)
        del draft["load"][0]["stages"]
        group = resolve(draft, catalogue, Path(str(resource_path("demo")))).trip.groups[0]
        assert group.closing is not None
        assert group.closing.rule == "actual"
        zone = ZoneInfo(resolve(draft, catalogue, Path(str(resource_path("demo")))).trip.origin.zone)
        assert f"{datetime.fromtimestamp(group.closing.at_s, zone):%d %H:%M}" == "12 21:14"
        assert replace(group.opening, clock_s=0.0, at_s=0.0) == replace(moment, clock_s=0.0, at_s=0.0)
        assert np.array_equal(group.opening.clock_s, moment.clock_s, equal_nan=True)


@pytest.mark.parametrize(
    ("group", "field", "problem"),
    [
        ({"closing": {"rule": "actual"}}, ".closing.at", "the time is missing"),
        (
            {"closing": {"rule": "clock", "clock": "21:00", "at": "2027-05-14T21:14"}},
            ".closing.at",
            "the rule clock takes no at",
        ),
        ({"opening": {"minutes": 5}}, ".opening", "the last stage ends with the opening"),
        ({"opening": {"minutes": 0}}, ".opening.minutes", "this is below 1"),
        ({"opening": {"clock": "6:30"}}, ".opening.clock", "this is not written as expected"),
    ],
)
def test_a_closing_or_opening_that_cannot_be_is_told(
    catalogue: Catalogue, group: dict[str, Any], field: str, problem: str
) -> None:
    with pytest.raises(InputError) as caught:
        read(catalogue, WAIT, DRIVE, SETTLE, **group)
    assert [(f.field.removeprefix("load[0]"), f.problem) for f in caught.value.faults] == [(field, problem)]


@pytest.mark.parametrize(
    ("at", "problem"),
    [
        ("2027-11-20T10:00", "this is after the last departure"),
        ("2027-10-01T10:00", "this is more than 30 days before the first departure"),
    ],
)
def test_boxes_shut_at_a_time_that_is_none_of_this_trip_are_told(
    catalogue: Catalogue, at: str, problem: str
) -> None:
    """Said of one group or of all of them: the boxes would else be taken as shut when they are lifted."""
    said = {"rule": "actual", "at": at}
    for field, group in (("load[0].closing.at", {"closing": said}), ("closing.at", {})):
        draft = draft_with(**group)
        del draft["load"][0]["stages"]
        draft |= {} if group else {"closing": said}
        with pytest.raises(InputError) as caught:
            resolve(draft, catalogue, Path(str(resource_path("demo"))))
        assert [(f.field, f.problem) for f in caught.value.faults] == [(field, problem)]
        assert all(fault.remedy for fault in caught.value.faults)


def test_stages_are_written_and_read_back(catalogue: Catalogue, tmp_path: Path) -> None:
    draft = draft_with(WAIT, DRIVE, SETTLE | {"minutes": [10, 20, 30], "places": {"ground_sun": 1.0}})
    path = tmp_path / "trip.toml"
    write_draft(draft, path)
    assert read_draft(path)["load"][0]["stages"] == draft["load"][0]["stages"]


@pytest.mark.parametrize(
    ("stages", "field", "problem"),
    [
        ([WAIT, DRIVE, {"kind": "load", "minutes": 5}, SETTLE], "[2].kind", "no drive comes after it"),
        ([WAIT, WAIT | {"kind": "shut"}, DRIVE, SETTLE], "[1].kind", "another stage comes before it"),
        ([SETTLE, DRIVE], "[0].kind", "another stage comes after it"),
        ([WAIT, DRIVE, DRIVE, SETTLE], "[2].at", "already, or past it"),
        ([WAIT, WAIT | {"at": 2}, DRIVE, SETTLE], "[1].at", "they cannot be in both"),
        ([WAIT, {"kind": "settle", "minutes": 5}], "", "the last stage leaves the boxes at"),
        ([WAIT, DRIVE, {"kind": "settle"}], "[2].end", "nothing says when this stage ends"),
        ([WAIT, DRIVE, SETTLE | {"minutes": 0}], "[2].minutes", "a stage cannot last no time or less"),
        ([WAIT, DRIVE, SETTLE | {"minutes": -5}], "[2].minutes", "a stage cannot last no time or less"),
        ([WAIT, DRIVE, SETTLE | {"minutes": [9, 5, 7]}], "[2].minutes", "these are not in order"),
        ([WAIT, DRIVE, SETTLE | {"minutes": 43201}], "[2].minutes", "this is longer than 30 days"),
        ([WAIT, DRIVE | {"minutes": 5}, SETTLE], "[1].minutes", "the vehicle does not wait for this stage"),
        (
            [WAIT, DRIVE, SETTLE | {"places": {"ground_sun": 0.6, "ground_shade": 0.5}}],
            "[2].places",
            "the weights add up to 1.1",
        ),
        ([WAIT, DRIVE, SETTLE | {"places": {"ground_son": 1.0}}], "[2].places", "no such loading place"),
        ([WAIT, DRIVE, SETTLE | {"place": "ground_son"}], "[2].place", "no such loading place"),
        (
            [WAIT, DRIVE, SETTLE | {"place": "ground_sun", "places": {"ground_sun": 1.0}}],
            "[2].places",
            "place and places are both given",
        ),
        ([WAIT, DRIVE | {"at": "Atlantis"}, SETTLE], "[1].at", "no such place in this trip"),
        (
            [WAIT, DRIVE, SETTLE | {"begin": "2027-05-20T21:00", "end": "2027-05-20T21:00"}],
            "[2].end",
            "this stage would end before it begins",
        ),
        (
            [WAIT, DRIVE, SETTLE | {"begin": "2027-05-20T21:00", "end": "2027-07-20T21:00"}],
            "[2].end",
            "this is longer than 30 days",
        ),
        (
            [
                WAIT,
                DRIVE,
                {"kind": "depot", "end": "2027-05-20T21:00"},
                SETTLE | {"begin": "2027-05-20T20:00"},
            ],
            "[3].begin",
            "the stage before ends only later: the two overlap",
        ),
        ([WAIT, DRIVE, SETTLE | {"begin": "soon"}], "[2].begin", "this is not written as expected"),
        ([WAIT, DRIVE, SETTLE | {"kind": "sleep"}], "[2].kind", "this word is not known here"),
    ],
)
def test_what_cannot_be_is_told_with_its_field(
    catalogue: Catalogue, stages: list[dict[str, Any]], field: str, problem: str
) -> None:
    found = faults(catalogue, *stages)
    assert any(where == field and problem in what for where, what in found), found


def test_several_faults_are_told_at_once(catalogue: Catalogue) -> None:
    found = faults(catalogue, WAIT, DRIVE | {"minutes": 5}, SETTLE | {"minutes": 0, "place": "nowhere"})
    assert [field for field, _ in found] == ["[1].minutes", "[2].place", "[2].minutes"]
