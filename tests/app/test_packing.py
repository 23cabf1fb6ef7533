"""Packings of a parcel: what each changes, that none stands for two, and that a file can name them all."""

from __future__ import annotations

from dataclasses import replace

import pytest

from planner.app.lane.packing import FEWER_SHARE, PACKINGS, packings_of
from planner.app.lane.words import setup_words
from planner.store.schema import schema
from tests.app.lanes import catalogue, spring

NAMES = [packing.name for packing in PACKINGS]
GROUP = replace(spring().group, floor_blocked_share=0.3)
BOX = catalogue().box_types[GROUP.box_type]


def test_a_lane_file_can_name_every_packing_and_no_other() -> None:
    listed = schema("lane.schema.json")["properties"]["setups"]
    assert listed["items"]["enum"] == NAMES
    assert listed["maxItems"] == len(NAMES) == 6
    assert all(setup_words(name) for name in NAMES)


@pytest.mark.parametrize(
    ("name", "blocked", "roof", "share"),
    [
        ("as_declared", 0.3, "solid", 1.0),
        ("clean_floor", 0.05, "solid", 1.0),
        ("roof_screen", 0.3, "shaded_screen", 1.0),
        ("clean_and_screen", 0.05, "shaded_screen", 1.0),
        ("fewer_bees", 0.3, "solid", FEWER_SHARE),
        ("fewer_and_screen", 0.3, "shaded_screen", FEWER_SHARE),
    ],
)
def test_a_packing_does_what_its_name_says(name: str, blocked: float, roof: str, share: float) -> None:
    packing = next(each for each in PACKINGS if each.name == name)
    packed = packing.change(GROUP, BOX)
    assert packed.floor_blocked_share == blocked
    assert packed.roof == roof
    assert packed.frames_of_bees == pytest.approx(share * GROUP.frames_of_bees)
    assert packed.misting is None


def test_each_way_to_pack_is_tried_once_the_least_work_first() -> None:
    assert [each.name for each in packings_of(NAMES, GROUP, BOX)] == [
        "as_declared",
        "clean_floor",
        "roof_screen",
        "clean_and_screen",
        "fewer_bees",
        "fewer_and_screen",
    ]
    clean = replace(GROUP, floor_blocked_share=0.05)
    assert [each.name for each in packings_of(NAMES, clean, BOX)] == [
        "as_declared",
        "roof_screen",
        "fewer_bees",
        "fewer_and_screen",
    ]
    assert [each.name for each in packings_of(["clean_floor"], clean, BOX)] == ["clean_floor"]
