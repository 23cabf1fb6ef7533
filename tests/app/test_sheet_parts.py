"""No sheet, label or calendar speaks of what a box has not: every kind of box of the catalogue, line by line."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import pytest

from planner.app.sheets.drive import driver_sheet
from planner.app.sheets.facts import GroupFacts, TripFacts
from planner.app.sheets.gather import group_facts
from planner.app.sheets.parts import Load, label_air, setup_of
from planner.app.sheets.stay import receipt_sheet, receiver_sheet, yard_sheet
from planner.app.sheets.stuck import entries, labels
from planner.model.catalogue import BoxType, Catalogue
from planner.model.records import Group
from planner.store.catalogue import load_catalogue
from planner.words import Title, Voice
from tests.paper.made import facts, groups

SAYS = Voice("en")
RIDES = Title("places", "open_trailer", "Open trailer")
ALLOWED = re.compile(r"[Hh]ive with frames|has no entrance|without an entrance")
"""Hives that packages are let into have frames, and a box without an entrance may be called so."""


@cache
def catalogue() -> Catalogue:
    return load_catalogue()


def group(kind: str, **more: object) -> GroupFacts:
    """Two boxes of a kind, shut as usual."""
    box = catalogue().box_types[kind]
    bees = {"frames_of_bees": 4.0} if box.frames else {"bees_kg": 1.4}
    stated = Group("Two", 2, kind, **(bees | more))  # type: ignore[arg-type]
    return group_facts(stated, box, RIDES, "after_sunset", groups()[0].closed_s)


def said(trip: TripFacts) -> str:
    """Every line of every sheet, label and entry of a trip, in English."""
    sheets = (
        driver_sheet(trip, "en"),
        receiver_sheet(trip, "en"),
        yard_sheet(trip, (), "en"),
        receipt_sheet(trip, None, "en"),
    )
    told = [SAYS.text(cell) for sheet in sheets for cell in sheet.cells()]
    told += [SAYS.text(cell) for label in labels(trip) for cell in label.lines]
    told += [SAYS.text(cell) for entry in entries(trip) for cell in (entry.title, *entry.body)]
    return "\n".join(told)


def lacking(box: BoxType, stated: GroupFacts) -> dict[str, str]:
    """What a box has not, and the words that would speak of it."""
    found = {
        "frames": "" if box.frames else r"\bframes?\b",
        "entrance": "" if box.entrance_m2 else r"(?i)\bentrances?\b",
        "floor mesh": "" if box.floor_mesh_m2 and stated.mesh_floor else r"floor mesh|mesh floor|from below",
        "roof screen": "" if box.roof_screen_m2 else r"(?i)roof screen|\bscreens off\b|from above",
        "lid": "" if box.frames or box.roof_screen_m2 else r"\blids?\b",
        "side vents": "" if box.side_vent_m2 else r"mesh in the sides|side vents|air at the sides|mesh sides",
        "can": "" if stated.can else r"can of syrup|\bthe can\b",
    }
    return {what: words for what, words in found.items() if words}


@pytest.mark.parametrize("cold", [False, True])
@pytest.mark.parametrize("kind", catalogue().box_types)
def test_nothing_is_said_of_what_a_kind_of_box_has_not(kind: str, cold: bool) -> None:
    box, more = catalogue().box_types[kind], {"syrup_can_kg": 1.0} if kind == "package_cage" else {}
    stated = group(kind, **more)
    told = ALLOWED.sub("", said(facts(groups=(stated,), boxes=2, cold=cold, opens_wet=True, near_m=900.0)))
    for what, words in lacking(box, stated).items():
        wrong = [line for line in told.splitlines() if re.search(words, line)]
        assert not wrong, (kind, what, wrong)


MUST = {
    "package_cage": (
        "Mesh in the sides open and clear",
        "The can of syrup hangs tight",
        "LET THEM INTO THEIR HIVES",
        "A hive with frames ready",
        "air at the sides",
        "mesh sides, can of syrup",
        "weight of the bees",
        "Tie them down",
    ),
    "swarm_box_ply": ("mesh or cloth below the bees", "OPEN THE ENTRANCE", "air on every mesh and vent"),
    "swarm_box_card": ("Mesh in the sides open and clear", "OPEN THE ENTRANCE", "air at the sides"),
    "skep_straw": ("Hold mesh or cloth below the bees", "OPEN THE ENTRANCE", "air from below"),
    "langstroth_nuc5_pine": ("Hold every floor mesh", "Frames in line", "air from below", "Two straps"),
    "langstroth_nuc5_eps": ("Hold every floor mesh", "air on every mesh and vent", "side vents open"),
    "langstroth_nuc5_twinwall": ("Mesh in the sides open and clear", "Frames in line", "lid on, solid floor"),
}


@pytest.mark.parametrize("kind", MUST)
def test_what_a_kind_of_box_lives_by_is_said(kind: str) -> None:
    more = {"syrup_can_kg": 1.0} if kind == "package_cage" else {}
    told = said(facts(groups=(group(kind, **more),), boxes=2))
    assert [line for line in MUST[kind] if line not in told] == []


def test_a_mixed_load_is_told_both_ways_of_opening() -> None:
    told = said(facts(groups=(group("package_cage"), group("langstroth_nuc5_pine")), boxes=4))
    assert "then OPEN THE ENTRANCE" in told
    assert "From boxes without an entrance: LET THEM INTO THEIR HIVES" in told
    assert "Hold every floor mesh" in told
    assert "Mesh in the sides" in told
    assert "Frames in line" in told


def test_a_label_says_air_from_where_there_is_air() -> None:
    usual = groups()[0]
    cases = {
        ("on", True, False): "label_air",
        ("on", False, False): "label_air_above",
        ("off", True, False): "label_air_below",
        ("none", True, True): "label_air_around",
        ("off", False, True): "label_air_sides",
        ("none", False, False): "label_air_entrance",
    }
    for (screen, below, vents), key in cases.items():
        one = replace(usual, screen=screen, mesh_floor=below, vents=vents)  # type: ignore[arg-type]
        assert label_air(one).key == f"sheets.{key}"


def test_vents_that_are_shut_and_floors_that_are_solid_are_not_spoken_of() -> None:
    shut = group("langstroth_nuc5_eps", side_vents_open=False, floor="solid")
    assert not shut.vents
    assert not shut.mesh_floor
    assert SAYS.text(setup_of(shut)) == "roof screen off, solid floor, entrance closed with foam"


def test_a_screen_that_is_off_cannot_be_covered_against_cold() -> None:
    assert Load((group("langstroth_nuc5_pine", roof="screen"),)).coverable
    assert not Load((group("langstroth_nuc5_pine"),)).coverable
    assert Load((group("package_cage"),)).coverable
    told = said(facts(groups=(group("langstroth_nuc5_pine"),), boxes=2, cold=True))
    assert "cover part" not in told
    assert "Out of the wind" in told
