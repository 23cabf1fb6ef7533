"""What is looked at on a box, what was found, and what the box then is in numbers; nothing is ok unseen."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Literal

from planner.app.common.parts import parts_of
from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.model.box_names import free_names
from planner.model.catalogue import Catalogue
from planner.model.records import Box, BoxType, Group, Trip
from planner.words import say

State = Literal["ok", "not_ok", "not_looked"]
How = Literal["eye", "photo", "scale"]
Figure = Literal["", "covered", "blocked", "frames", "ml", "days"]
Failing = Literal["judged", "mend", "hold", "caution"]

OK: State = "ok"
NOT_OK: State = "not_ok"
NOT_LOOKED: State = "not_looked"
STATES: tuple[State, ...] = (OK, NOT_OK, NOT_LOOKED)

SETTLED_DAYS = 3.0
"""Common practice, no source: combs and roofs opened later than that may not be glued fast yet."""

BOUNDS: Mapping[str, tuple[float, float]] = {
    "covered": (0.0, 100.0),
    "blocked": (0.0, 100.0),
    "frames": (0.0, 40.0),
    "ml": (0.0, 2000.0),
    "days": (0.0, 400.0),
}
"""Least and most of each figure: percent, percent, frames, ml, days."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing to look at; ``figure`` what is measured of it, ``failing`` what becomes of a box where it is not ok,
    ``of`` the part a box must have to be asked about it, empty where every box is."""

    name: str
    failing: Failing
    figure: Figure = ""
    of: str = ""

    @property
    def title(self) -> str:
        return say(f"checks.item_{self.name}")

    @property
    def needed(self) -> bool:
        """Whether a box is not released before it was looked at."""
        return self.failing != "caution"


@dataclass(frozen=True, slots=True)
class Finding:
    """What was found of one item.

    ``value`` in the item's own measure (percent, frames, ml, days), None where nothing was measured; ``how`` it was
    found; ``remark`` as typed; ``pictures`` by hash.
    """

    state: State = NOT_LOOKED
    value: float | None = None
    how: How = "eye"
    remark: str = ""
    pictures: tuple[str, ...] = ()


NOTHING = Finding()
Findings = Mapping[str, Finding]


@cache
def items() -> tuple[Item, ...]:
    """Every item there is, in the order of the hand."""
    table = tomllib.loads(resource_path("inspection.toml").read_text("utf-8"))
    return tuple(Item(**row) for row in table["item"])


def items_of(box: BoxType, group: Group) -> tuple[Item, ...]:
    """The items that boxes of a group are asked about: of what they have, nothing of what they have not."""
    parts = parts_of(box, group)
    parts["sides"] = parts["vents"] and not parts["mesh_floor"]
    return tuple(item for item in items() if not item.of or parts[item.of])


def item_of(name: str) -> Item:
    """An item by name. Raises InputError with those there are."""
    found = next((item for item in items() if item.name == name), None)
    if found is None:
        remedy = say("checks.known_items", items=", ".join(item.name for item in items()))
        raise InputError([Fault("item", name, say("checks.no_item"), remedy)])
    return found


def checked_value(item: Item, value: float | None) -> float | None:
    """A figure within its bounds. Raises InputError."""
    if value is None:
        return None
    low, high = BOUNDS.get(item.figure, (0.0, 0.0))
    if not item.figure:
        raise InputError(
            [Fault(item.name, f"{value:g}", say("checks.no_figure"), say("checks.leave_figure"))]
        )
    if not (math.isfinite(value) and low <= value <= high):
        remedy = say(
            "checks.give_figure",
            low=f"{low:g}",
            high=f"{high:g}",
            measure=say(f"checks.measure_{item.figure}"),
        )
        raise InputError([Fault(item.name, f"{value:g}", say("checks.out_of_bounds"), remedy)])
    return value


def boxes_of(trip: Trip) -> tuple[Box, ...]:
    """Every box of the load by name, group by group; those that nobody has named get the next free names."""
    taken = {box.name for box in trip.boxes}
    names = free_names(taken)
    found: list[Box] = []
    for number, group in enumerate(trip.groups):
        named = [box for box in trip.boxes if box.group == number]
        found += named
        found += [Box(next(names), number) for _ in range(group.count - len(named))]
    return tuple(found)


def asked_by_box(trip: Trip, catalogue: Catalogue) -> dict[str, tuple[Item, ...]]:
    """What every box of a load is asked about, as the trip has it."""
    groups = {box.name: trip.groups[box.group] for box in boxes_of(trip)}
    return {name: items_of(catalogue.box_types[group.box_type], group) for name, group in groups.items()}


# -- what was planned, and what was found ----------------------------------------------------------


def planned_value(item: Item, group: Group) -> float | None:
    """The figure of an item as the plan has it, in the item's own measure; None where the plan says none."""
    values: dict[str, float | None] = {
        "screen": 100.0 * group.roof_blocked_share if group.roof != "solid" else None,
        "floor": 100.0 * group.floor_blocked_share if group.floor == "mesh" else None,
        "strength": group.frames_of_bees if math.isnan(group.bees_kg) else None,
        "stores": group.stores_frames,
        "water": group.wet_foam_ml,
    }
    return values.get(item.name)


def differing(findings: Findings, group: Group) -> tuple[Item, ...]:
    """The items on which what was found is other than planned, and the numbers of the box with them."""
    return tuple(
        item
        for item in items()
        if item.failing == "judged" and _applied(item, findings.get(item.name, NOTHING), group) != group
    )


def found_group(findings: Findings, group: Group) -> Group:
    """The box in numbers as it was found: what nobody looked at stays as planned."""
    for item in items():
        if item.failing == "judged":
            group = _applied(item, findings.get(item.name, NOTHING), group)
    return group


def _applied(item: Item, finding: Finding, group: Group) -> Group:
    if finding.state == NOT_LOOKED:
        return group
    return _APPLIES[item.name](group, finding)


def _screen(group: Group, finding: Finding) -> Group:
    if finding.state == NOT_OK and finding.value is None:
        return replace(group, roof="solid", roof_blocked_share=0.0)
    if finding.value is None or group.roof == "solid":
        return group
    return replace(group, roof_blocked_share=finding.value / 100.0)


def _stand(group: Group, finding: Finding) -> Group:
    return replace(group, stand="flat") if finding.state == NOT_OK else group


def _floor(group: Group, finding: Finding) -> Group:
    if group.floor != "mesh" or finding.value is None:
        return replace(group, floor_blocked_share=1.0) if _bad(finding) and group.floor == "mesh" else group
    return replace(group, floor_blocked_share=finding.value / 100.0)


def _bad(finding: Finding) -> bool:
    """Not ok, and nobody says how much: the worst is taken."""
    return finding.state == NOT_OK and finding.value is None


def _strength(group: Group, finding: Finding) -> Group:
    return group if finding.value is None else replace(group, frames_of_bees=finding.value)


def _stores(group: Group, finding: Finding) -> Group:
    return group if finding.value is None else replace(group, stores_frames=finding.value)


def _water(group: Group, finding: Finding) -> Group:
    ml = 0.0 if _bad(finding) else finding.value
    return group if ml is None or group.entrance != "foam" else replace(group, wet_foam_ml=ml)


_APPLIES: Mapping[str, Callable[[Group, Finding], Group]] = {
    "screen": _screen,
    "stand": _stand,
    "floor": _floor,
    "strength": _strength,
    "stores": _stores,
    "water": _water,
}


# -- what stands in the way ------------------------------------------------------------------------


def not_looked(findings: Findings, asked: Sequence[Item]) -> tuple[Item, ...]:
    """The items a box is asked about that nobody has looked at and a release needs."""
    return tuple(
        item for item in asked if item.needed and findings.get(item.name, NOTHING).state == NOT_LOOKED
    )


def failing(findings: Findings, group: Group, kind: Failing) -> tuple[Item, ...]:
    """The items of a kind that were found not ok; frames that hang loose hold a box only where its comb is new."""
    found = tuple(
        item for item in items() if item.failing == kind and findings.get(item.name, NOTHING).state == NOT_OK
    )
    if kind == "hold" and group.comb == "new":
        found += tuple(item for item in failing(findings, group, "mend") if item.name == "frames")
    return found


def cautions(findings: Findings, group: Group) -> Iterator[str]:
    """What is said of a box although it may go."""
    days = findings.get("opened", NOTHING).value
    if days is not None and days < SETTLED_DAYS:
        yield say(
            "checks.opened_lately_new" if group.comb == "new" else "checks.opened_lately", days=f"{days:g}"
        )
    if findings.get("queen", NOTHING).state == NOT_OK:
        yield say("checks.queen_not_seen")
    floor = findings.get("floor", NOTHING)
    if floor.how == "photo" and floor.value is not None:
        yield say("checks.floor_by_photo", share=f"{floor.value:.0f}")
