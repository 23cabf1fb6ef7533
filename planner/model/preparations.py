"""The named changes to a box that every plan tries beside the load as declared."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from planner.model.records import BoxType, Group, LoadingPlace, Misting, Stand

CLEAN_BLOCKED_SHARE = 0.05
"""Share of a scraped floor that stays blocked (an estimate, grade D)."""

MIST_ML = 20.0
"""One misting of one box; 20-50 ml an hour for a strong nucleus is an estimate (grade D)."""

MIST_FIRST_S, MIST_EVERY_S = 3600.0, 1800.0
"""Common practice, no source: the first misting after an hour, then every half hour."""

LITTLE_LEFT_SHARE = 0.5
"""A can with less than this share of its syrup is worth changing for a full one (a rule of this program)."""


@dataclass(frozen=True)
class SetUp:
    """One way to prepare the boxes: a name, a title for people, what it changes, and how much work it is.

    ``late``: tried only where what is tried from the start does not do.
    """

    name: str
    title: str
    change: Callable[[Group, BoxType], Group]
    effort: int
    late: bool = False


def with_group_as(setup: SetUp, state: Group, label: str, name: str) -> SetUp:
    """The set-up in which the group ``label`` is in this state, while the others are prepared as before.

    How many boxes, where they ride and when they are shut stays the group's own.
    """

    def change(group: Group, box: BoxType) -> Group:
        if group.label != label:
            return setup.change(group, box)
        return replace(
            state,
            label=label,
            count=group.count,
            loading_place=group.loading_place,
            closing=group.closing,
        )

    return replace(setup, name=name, change=change)


def _as_declared(group: Group, _: BoxType) -> Group:
    return group


def _roof_screen(group: Group, box: BoxType) -> Group:
    return (
        replace(group, roof="shaded_screen") if group.roof == "solid" and box.roof_screen_m2 > 0.0 else group
    )


def _clean_floor(group: Group, _: BoxType) -> Group:
    dirty = group.floor == "mesh" and group.floor_blocked_share > CLEAN_BLOCKED_SHARE
    return replace(group, floor_blocked_share=CLEAN_BLOCKED_SHARE) if dirty else group


def _misted(group: Group, _: BoxType) -> Group:
    plan = Misting(ml=MIST_ML, first_s=MIST_FIRST_S, every_s=MIST_EVERY_S)
    return group if group.misting else replace(group, misting=plan)


def _fed(group: Group, box: BoxType) -> Group:
    empty = group.syrup_can_kg < LITTLE_LEFT_SHARE * box.syrup_can_kg
    return replace(group, syrup_can_kg=box.syrup_can_kg) if empty else group


def _on_battens(group: Group, box: BoxType) -> Group:
    breathes = group.floor == "mesh" and box.floor_mesh_m2 > 0.0
    return replace(group, stand="battens") if breathes and group.stand != "battens" else group


def stands_flat(stand: Stand | None, place: LoadingPlace) -> bool:
    """Whether boxes of that stand, None for that of the place, are flat there, where a mesh floor gets little air."""
    return (stand or place.stand) == "flat"


AS_DECLARED = SetUp("as_declared", "as declared", _as_declared, 0)
ROOF_SCREEN = SetUp("roof_screen", "roof screens on", _roof_screen, 2)
CLEAN_FLOOR = SetUp("clean_floor", "floors scraped clean", _clean_floor, 1)
MISTED = SetUp("misted", "misted on the way", _misted, 2)
FED = SetUp("syrup_can", "a full can of syrup in each", _fed, 2)
BATTENS = SetUp("battens", "set on battens", _on_battens, 1, late=True)
TRIED = (AS_DECLARED, CLEAN_FLOOR, ROOF_SCREEN, FED, MISTED)
ALL = (*TRIED, BATTENS)


def useful(
    groups: tuple[Group, ...], boxes: tuple[BoxType, ...], setups: tuple[SetUp, ...] = TRIED
) -> tuple[SetUp, ...]:
    """The set-ups that change at least one group of this load, the load as declared first."""
    kept = [s for s in setups if s is AS_DECLARED or _changed(s, groups, boxes) != groups]
    return tuple(kept)


def _changed(setup: SetUp, groups: tuple[Group, ...], boxes: tuple[BoxType, ...]) -> tuple[Group, ...]:
    return tuple(setup.change(group, box) for group, box in zip(groups, boxes, strict=True))
