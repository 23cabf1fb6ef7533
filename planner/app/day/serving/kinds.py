"""Boxes that are as good as alike: kinds, each judged by the strongest of its boxes."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from planner.model.records import Group
from planner.store.dayrecords import Buyer, SaleBox
from planner.store.dayrules import day_rules

MOST_KINDS = 8
KG_STEP = 0.25
BLOCKED_STEP = 0.25


@dataclass(frozen=True)
class Kind:
    """``boxes`` by strength, the strongest first; ``buyer`` for whom they are kept, None: for anybody.

    ``like`` the make-up it was judged by, where boxes have been taken out since.
    """

    boxes: tuple[SaleBox, ...]
    buyer: int | None = None
    like: Group | None = None

    @property
    def group(self) -> Group:
        """The make-up this kind is judged by."""
        return self.like or self.boxes[0].group

    def without(self, names: Collection[str]) -> Kind:
        """The kind less some boxes, none of them perhaps, judged as it was."""
        return Kind(tuple(box for box in self.boxes if box.name not in names), self.buyer, self.group)

    @property
    def ready_s(self) -> float:
        """From when all of them may go, -inf where any time will do."""
        return max((box.ready_s for box in self.boxes if not math.isnan(box.ready_s)), default=-math.inf)


def strength(group: Group) -> float:
    """What sorts boxes: frames of bees with the brood they keep warm, or kilograms."""
    if not math.isnan(group.bees_kg):
        return 10.0 * group.bees_kg
    return group.frames_of_bees + 0.3 * (group.open_brood_frames + group.sealed_brood_frames)


def kinds_of(boxes: Sequence[SaleBox], buyers: Sequence[Buyer]) -> tuple[Kind, ...]:
    """The boxes sorted into kinds: those named for a buyer apart, the others by make-up, at most MOST_KINDS."""
    by_name = {box.name: box for box in boxes}
    kept: list[Kind] = []
    for number, buyer in enumerate(buyers):
        named = [by_name[name] for name in buyer.boxes_named if name in by_name]
        if named:
            kept.append(Kind(_sorted(named), number))
    taken = {box.name for kind in kept for box in kind.boxes}
    free = [box for box in boxes if box.name not in taken]
    step = day_rules().strength_step_frames
    parted = _parted(free, step)
    while len(parted) > MOST_KINDS and step < 16.0:
        step *= 2.0
        parted = _parted(free, step)
    return (*(Kind(_sorted(group)) for group in parted), *kept)


def _sorted(boxes: Sequence[SaleBox]) -> tuple[SaleBox, ...]:
    return tuple(sorted(boxes, key=lambda box: (-strength(box.group), box.name)))


def _parted(boxes: Sequence[SaleBox], step: float) -> list[list[SaleBox]]:
    groups: dict[tuple[object, ...], list[SaleBox]] = {}
    for box in boxes:
        g = box.group
        kg = None if math.isnan(g.bees_kg) else math.ceil(g.bees_kg / (KG_STEP * step))
        key = (
            *(g.box_type, g.floor, g.roof, g.entrance, g.comb, kg),
            math.ceil(g.frames_of_bees / step),
            math.ceil(g.floor_blocked_share / BLOCKED_STEP),
            "" if math.isnan(box.ready_s) else box.ready_s,
        )
        groups.setdefault(key, []).append(box)
    return list(groups.values())
