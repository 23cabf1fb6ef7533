"""How a parcel may be packed: what a sender can do beforehand, alone and together. Nobody waters it on its way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from planner.model.preparations import AS_DECLARED, CLEAN_FLOOR, ROOF_SCREEN, SetUp
from planner.model.records import BoxType, Group

FEWER_SHARE = 0.8
"""Of the bees, in a box made up weaker (an estimate of what a sender would do, grade D)."""


def _fewer(group: Group, _: BoxType) -> Group:
    return replace(
        group, frames_of_bees=FEWER_SHARE * group.frames_of_bees, bees_kg=FEWER_SHARE * group.bees_kg
    )


def _both(name: str, title: str, one: SetUp, other: SetUp) -> SetUp:
    def change(group: Group, box: BoxType) -> Group:
        return other.change(one.change(group, box), box)

    return SetUp(name, title, change, one.effort + other.effort)


FEWER = SetUp("fewer_bees", "a fifth fewer bees", _fewer, 3)
PACKINGS = (
    AS_DECLARED,
    CLEAN_FLOOR,
    ROOF_SCREEN,
    _both("clean_and_screen", "floor scraped clean, roof screen on", CLEAN_FLOOR, ROOF_SCREEN),
    FEWER,
    _both("fewer_and_screen", "a fifth fewer bees, roof screen on", FEWER, ROOF_SCREEN),
)


def packings_of(names: Sequence[str], group: Group, box: BoxType) -> tuple[SetUp, ...]:
    """Those of some names that make a difference to a box, each way to pack it once, the least work first.

    What is listed and makes no difference at all stands for the box as declared.
    """
    found: list[SetUp] = []
    packed: list[Group] = []
    for packing in sorted((each for each in PACKINGS if each.name in names), key=lambda each: each.effort):
        so = packing.change(group, box)
        if repr(so) not in map(repr, packed):  # figures nobody gave are no number, and so never equal
            found.append(packing)
            packed.append(so)
    return tuple(found)
