"""The boxes of a trip file by name: a group is their template; those that differ make a group of their own."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from planner.errors import Fault, InputError
from planner.model.box_names import box_name, fault_of
from planner.model.catalogue import Catalogue
from planner.model.records import Box, Closing, Group, Moment
from planner.store.documents import Document
from planner.store.schema import shown
from planner.store.stageparts import groups_with_ways, opening_of
from planner.store.tripparts import Calls, FaultList, closing_of
from planner.words import say


@dataclass(frozen=True)
class Load:
    """The groups that are marched, and the boxes that have names."""

    groups: tuple[Group, ...]
    boxes: tuple[Box, ...]


def load_of(tables: Sequence[Document], waypoints: Calls, catalogue: Catalogue) -> Load:
    """Groups and boxes of a trip file.

    Boxes of a group that are shut or opened alike, and otherwise than the rest of it, make a group of their own.
    Raises InputError with every fault.
    """
    groups = groups_with_ways(tables, waypoints, catalogue)
    faults = FaultList(_name_faults(tables))
    for at, table in enumerate(tables):
        faults += _count_faults(table, f"load[{at}]")
    out: list[Group] = []
    boxes: list[Box] = []
    for at, (table, group) in enumerate(zip(tables, groups, strict=True)):
        with faults.caught():
            for part, names in _parts(replace(group, table=at), table, f"load[{at}]", waypoints):
                boxes += [Box(name, len(out)) for name in names]
                out.append(part)
    faults.raise_any()
    return Load(tuple(out), tuple(boxes))


def _parts(group: Group, table: Document, field: str, waypoints: Calls) -> Iterator[tuple[Group, list[str]]]:
    """The group without the boxes that differ, where any are left; then those, each kind with its names."""
    alike: dict[str, list[int]] = {}
    for number, box in enumerate(table.get("boxes", [])):
        differs = {key: box[key] for key in ("closing", "opening") if key in box}
        alike.setdefault(json.dumps(differs, sort_keys=True) if differs else "", []).append(number)
    named = alike.pop("", [])
    left = group.count - sum(len(numbers) for numbers in alike.values())
    if left > 0:
        yield replace(group, count=left), [table["boxes"][number]["id"] for number in named]
    for numbers in alike.values():
        names = [table["boxes"][number]["id"] for number in numbers]
        closing, opening = _times(
            table["boxes"][numbers[0]], f"{field}.boxes[{numbers[0]}]", group, waypoints
        )
        label = f"{group.label} {names[0]}" if len(names) == 1 else f"{group.label} {names[0]}-{names[-1]}"
        yield replace(group, label=label, count=len(names), closing=closing, opening=opening), names


def _times(box: Document, field: str, group: Group, waypoints: Calls) -> tuple[Closing | None, Moment | None]:
    """When a box is shut and opened: by its own table, or as its group."""
    closing, opening = group.closing, group.opening
    if "closing" in box:
        closing = closing_of(box["closing"], f"{field}.closing", waypoints.sites[group.load_waypoint].zone)
    if "opening" in box:
        if group.stages:
            problem, remedy = "the last stage of its group ends with the opening", "Take one of the two out"
            raise InputError([Fault(f"{field}.opening", shown(box["opening"]), problem, remedy)])
        opening = opening_of(box["opening"], waypoints.sites[group.unload_waypoint].zone, f"{field}.opening")
    return closing, opening


def _name_faults(tables: Sequence[Document]) -> Iterator[Fault]:
    """Names that are none, and names that two boxes have."""
    first: dict[str, str] = {}
    for at, table in enumerate(tables):
        for number, box in enumerate(table.get("boxes", [])):
            field, name = f"load[{at}].boxes[{number}]", box["id"]
            if problem := fault_of(name):
                remedy = say("files.read_again_name", value=str(box_name(23)))
                yield Fault(f"{field}.id", name, problem, remedy)
            elif (before := first.setdefault(name, field)) != field:
                yield Fault(
                    f"{field}.id",
                    name,
                    say("files.name_taken", before=str(before)),
                    "Give each box its own",
                )


def _count_faults(table: Document, field: str) -> Iterator[Fault]:
    named = len(table.get("boxes", []))
    if named > table["count"]:
        problem = say("files.boxes_named_group", named=str(named), table=f"{table['count']:g}")
        yield Fault(f"{field}.boxes", str(named), problem, "Raise count, or take boxes out")
