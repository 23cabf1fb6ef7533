"""What is tried beside the load as declared: each change, and when it is worth a line."""

from __future__ import annotations

from planner.model.preparations import ALL, AS_DECLARED, CLEAN_FLOOR, MISTED, ROOF_SCREEN, useful
from planner.model.records import BoxType, Misting
from tests.model.scenarios import NUC, catalogue, replace

BOX = replace(catalogue().box_types[NUC.box_type], roof_screen_m2=0.08)
CLOSED = replace(BOX, roof_screen_m2=0.0)
DIRTY = replace(NUC, floor_blocked_share=0.06)


def names(*pairs: tuple[object, BoxType]) -> list[str]:
    groups, boxes = zip(*pairs, strict=True)
    return [one.name for one in useful(groups, boxes)]


def test_the_load_as_declared_comes_first_and_costs_nothing() -> None:
    assert [(one.name, one.effort) for one in ALL] == [
        ("as_declared", 0),
        ("clean_floor", 1),
        ("roof_screen", 2),
        ("syrup_can", 2),
        ("misted", 2),
        ("battens", 1),
    ]
    assert [setup.name for setup in ALL if setup.late] == ["battens"]
    assert AS_DECLARED.change(NUC, BOX) is NUC


def test_a_roof_screen_replaces_a_solid_roof_where_the_box_has_one() -> None:
    assert ROOF_SCREEN.change(NUC, BOX) == replace(NUC, roof="shaded_screen")
    assert ROOF_SCREEN.change(NUC, CLOSED) == NUC
    open_roof = replace(NUC, roof="screen")
    assert ROOF_SCREEN.change(open_roof, BOX) == open_roof


def test_scraping_leaves_a_twentieth_of_a_mesh_floor_blocked() -> None:
    assert CLEAN_FLOOR.change(DIRTY, BOX) == replace(NUC, floor_blocked_share=0.05)
    as_clean = replace(NUC, floor_blocked_share=0.05)
    assert CLEAN_FLOOR.change(as_clean, BOX) is as_clean
    solid = replace(DIRTY, floor="solid")
    assert CLEAN_FLOOR.change(solid, BOX) is solid


def test_misting_is_twenty_ml_after_an_hour_and_every_half_hour_unless_planned_already() -> None:
    assert MISTED.change(NUC, BOX).misting == Misting(ml=20.0, first_s=3600.0, every_s=1800.0)
    own = replace(NUC, misting=Misting(50.0, 0.0, 600.0))
    assert MISTED.change(own, BOX) is own


def test_only_what_changes_a_box_is_tried() -> None:
    """A change that helps one group of two is kept; the load as declared always is."""
    assert names((NUC, CLOSED)) == ["as_declared", "misted"]
    assert names((NUC, BOX)) == ["as_declared", "roof_screen", "misted"]
    assert names((NUC, CLOSED), (DIRTY, CLOSED)) == ["as_declared", "clean_floor", "misted"]
    assert names((replace(NUC, misting=Misting(50.0, 0.0, 600.0)), CLOSED)) == ["as_declared"]
