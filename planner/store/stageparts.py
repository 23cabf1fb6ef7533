"""The stages of a trip file: the way of a group's boxes, and everything a reader can see wrong with it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Group, Moment, Stage
from planner.model.ways import ABOARD, MOST_S
from planner.store.clocks import day_seconds, instant_s
from planner.store.documents import Document
from planner.store.schema import did_you_mean, shown
from planner.store.tripparts import Calls, FaultList, groups_of, waypoint_number
from planner.words import say

NEAR_ONE = 1e-6


def stages_of(
    tables: Sequence[Document], field: str, ends: tuple[int, int], waypoints: Calls, catalogue: Catalogue
) -> tuple[Stage, ...]:
    """The way of a group's boxes.

    ``ends`` are the waypoints where the group is loaded and unloaded. Raises InputError with every fault.
    """
    faults = FaultList()
    stages: list[Stage] = []
    here = ends[0]
    for at, table in enumerate(tables):
        named = f"{field}.stages[{at}]"
        with faults.caught():
            stage = _stage(table, named, here, ends[1], waypoints)
            faults += _place_faults(table, named, catalogue)
            faults += _order_faults(table, named, at, len(tables), stage, here, waypoints)
            faults += _time_faults(table, named, stage, stages[-1] if stages else None)
            stages.append(stage)
            here = stage.waypoints[1]
    for at, kind in enumerate(kinds := [table["kind"] for table in tables]):
        if kind == "load" and "drive" not in kinds[at:]:
            problem = "no drive comes after it"
            faults.append(Fault(f"{field}.stages[{at}].kind", "load", problem, "Put it before a drive"))
    if not faults and here != ends[1]:
        problem = say("files.last_stage_leaves", name=str(waypoints.sites[here].name))
        remedy = say("files.add_drive_change", name=str(waypoints.sites[ends[1]].name))
        faults.append(Fault(f"{field}.stages", "", problem, remedy))
    faults.raise_any()
    return tuple(stages)


def _stage(table: Document, field: str, here: int, last: int, waypoints: Calls) -> Stage:
    kind = table["kind"]
    there = last if kind == "drive" else here
    if "at" in table:
        there = waypoint_number(table["at"], waypoints, f"{field}.at", late=kind == "drive")
    first = here if kind == "drive" else there
    zone = waypoints.sites[there].zone
    places = tuple((name, float(weight)) for name, weight in table.get("places", {}).items())
    return Stage(
        kind=kind,
        waypoints=(first, there),
        end=_moment(table.get("end"), table.get("minutes"), zone, f"{field}.end"),
        places=((table["place"], 1.0),) if "place" in table else places,
        holder=table.get("holder", "us"),
        shade=table.get("shade"),
        engine_on=table.get("engine_on"),
        doors_open=table.get("doors_open"),
        jolts=table.get("jolts", True),
        shaking=float(table.get("shaking", 0.0)),
        begin=_moment(table["begin"], None, zone, f"{field}.begin") if "begin" in table else None,
    )


def _moment(said: str | None, minutes: float | list[float] | None, zone: str, field: str) -> Moment:
    """What a rule, a time of the clock, an instant or a number of minutes means."""
    spread = minutes if isinstance(minutes, list) else [minutes or 0.0] * 3
    low, usual, high = (float(value) * 60.0 for value in spread)
    after_s = low, usual, high
    if said is None:
        return Moment("lasting", after_s)
    if said == "arrival":
        return Moment("arrival", after_s)
    if said == "leaving":
        return Moment("leaving", after_s)
    if "T" in said:
        return Moment("instant", after_s, at_s=instant_s(said, zone, field))
    return Moment("clock", after_s, clock_s=day_seconds(said))


def opening_of(table: Document, zone: str, field: str) -> Moment:
    """When boxes are opened after they were unloaded."""
    if "minutes" in table:
        return Moment("lasting", (table["minutes"] * 60.0,) * 3)
    key = "clock" if "clock" in table else "at"
    return _moment(table[key], None, zone, f"{field}.{key}")


def _place_faults(table: Document, field: str, catalogue: Catalogue) -> Iterator[Fault]:
    if "place" in table and "places" in table:
        problem = "place and places are both given"
        yield Fault(f"{field}.places", shown(table["places"]), problem, "Keep the one you mean")
    for key, name in [("place", table.get("place")), *(("places", name) for name in table.get("places", {}))]:
        if name is not None and name not in catalogue.loading_places:
            remedy = did_you_mean(name, catalogue.loading_places)
            yield Fault(f"{field}.{key}", name, "no such loading place", remedy)
    total = math.fsum(table.get("places", {}).values())
    if "places" in table and abs(total - 1.0) > NEAR_ONE:
        problem, remedy = (
            say("files.weights_sum", total=f"{total:g}"),
            "Change them until they add up to 1",
        )
        yield Fault(f"{field}.places", shown(table["places"]), problem, remedy)


def _order_faults(
    table: Document, field: str, at: int, count: int, stage: Stage, here: int, waypoints: Calls
) -> Iterator[Fault]:
    """Shut first, settle last, driving forward, and never in two places at once."""
    if stage.kind == "shut" and at > 0:
        yield Fault(f"{field}.kind", "shut", "another stage comes before it", "Put it first")
    if stage.kind == "settle" and at < count - 1:
        yield Fault(f"{field}.kind", "settle", "another stage comes after it", "Put it last")
    first, last = stage.waypoints
    if stage.kind == "drive" and last <= here:
        problem = say("files.there_already", name=str(waypoints.sites[here].name))
        said = shown(table.get("at", last))
        yield Fault(f"{field}.at", said, problem, "Drive to a place farther along the trip")
    if stage.kind != "drive" and first != here:
        problem = say("files.stage_before_leaves", name=str(waypoints.sites[here].name))
        yield Fault(f"{field}.at", shown(table["at"]), problem, "Put a drive between the two, or take at out")


def _time_faults(table: Document, field: str, stage: Stage, before: Stage | None) -> Iterator[Fault]:
    low, usual, high = stage.end.after_s
    said = shown(table.get("minutes", ""))
    if "end" not in table and "minutes" not in table:
        yield Fault(f"{field}.end", "", "nothing says when this stage ends", "Give end or minutes")
    elif not low <= usual <= high:
        problem, remedy = "these are not in order", "Write them as [lowest, usual, highest]"
        yield Fault(f"{field}.minutes", said, problem, remedy)
    elif stage.end.rule == "lasting" and low <= 0.0:
        problem = "a stage cannot last no time or less"
        yield Fault(f"{field}.minutes", said, problem, "Enter minutes above 0, or take the stage out")
    elif stage.end.rule in ("arrival", "leaving") and stage.kind in ABOARD and any(stage.end.after_s):
        problem = "the vehicle does not wait for this stage"
        yield Fault(f"{field}.minutes", said, problem, "Take minutes out, or lengthen the stop")
    elif high > MOST_S:
        yield Fault(f"{field}.minutes", said, "this is longer than 30 days", "Enter at most 43200 minutes")
    yield from _instant_faults(table, field, stage, before)


def _instant_faults(table: Document, field: str, stage: Stage, before: Stage | None) -> Iterator[Fault]:
    """What two stated instants say about each other."""
    begin_s = stage.begin.at_s if stage.begin else math.nan
    ended_s = before.end.at_s if before else math.nan
    if begin_s < ended_s:
        problem = "the stage before ends only later: the two overlap"
        yield Fault(f"{field}.begin", table["begin"], problem, "Take begin out, or move one of the two")
    begun_s = begin_s if not math.isnan(begin_s) else ended_s
    lasts_s = stage.end.at_s - begun_s
    if lasts_s <= 0.0:
        problem, remedy = "this stage would end before it begins", "Give a later end"
        yield Fault(f"{field}.end", table["end"], problem, remedy)
    elif lasts_s > MOST_S:
        yield Fault(f"{field}.end", table["end"], "this is longer than 30 days", "Give an earlier end")


def groups_with_ways(tables: Sequence[Document], waypoints: Calls, catalogue: Catalogue) -> tuple[Group, ...]:
    """The groups of boxes with the ways they state; raises InputError with every fault of the first that has any."""
    groups = groups_of(tables, waypoints, catalogue)
    faults = FaultList()
    out = []
    for at, (table, group) in enumerate(zip(tables, groups, strict=True)):
        with faults.caught():
            out.append(_on_its_way(group, table, f"load[{at}]", waypoints, catalogue))
    faults.raise_any()
    return tuple(out)


def _on_its_way(group: Group, table: Document, field: str, waypoints: Calls, catalogue: Catalogue) -> Group:
    """A group with the stages and the opening that its table states."""
    if "opening" in table and "stages" in table:
        problem, remedy = "the last stage ends with the opening", "Take one of the two out"
        raise InputError([Fault(f"{field}.opening", shown(table["opening"]), problem, remedy)])
    ends = group.load_waypoint, group.unload_waypoint
    stages: tuple[Stage, ...] = ()
    if "stages" in table:
        stages = stages_of(table["stages"], field, ends, waypoints, catalogue)
    opening = None
    if "opening" in table:
        opening = opening_of(table["opening"], waypoints.sites[ends[1]].zone, f"{field}.opening")
    return replace(group, stages=stages, opening=opening)
