"""What a planned day told its buyers, read back from the JSON that ``skepway day --json`` wrote."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import msgspec

from planner.errors import Fault, InputError
from planner.reading import read_bounded, reading_file
from planner.store.dayrecords import ClosingMode
from planner.words import say


class Shut(msgspec.Struct, frozen=True):
    """When boxes are shut, by which rule."""

    rule: ClosingMode
    at: datetime


class Told(msgspec.Struct, frozen=True):
    """One appointment as it was told: ``slot`` UTC, ``setup`` by name."""

    buyer: str
    slot: datetime
    boxes: tuple[str, ...]
    setup: str
    closing: Shut
    bays: tuple[int, ...] = ()


class _File(msgspec.Struct):
    skepway_day: int
    appointments: tuple[Told, ...]


def load_told(path: Path) -> tuple[Told, ...]:
    """The appointments of a plan. Raises InputError where the file is none, or names somebody twice."""
    with reading_file(str(path), say("day.a_plan_of")):
        try:
            told = msgspec.json.decode(read_bounded(path), type=_File).appointments
        except (msgspec.DecodeError, OSError, ValueError) as fault:
            problem = say("day.no_plan", reason=str(fault))
            raise InputError([Fault("", "", problem, say("day.no_plan_remedy"))], str(path)) from fault
    faults = [
        Fault(
            f"appointments[{number}].{field}",
            name,
            say("day.told_twice"),
            say("day.no_plan_remedy"),
        )
        for number, field, name in _twice(told)
    ]
    if faults:
        raise InputError(faults, str(path))
    return told


def _twice(told: tuple[Told, ...]) -> list[tuple[int, str, str]]:
    """Buyers and boxes that stand in more than one appointment."""
    met: set[tuple[str, str]] = set()
    out = []
    for number, one in enumerate(told):
        for each in [("buyer", one.buyer), *(("boxes", box) for box in one.boxes)]:
            if each in met:
                out.append((number, *each))
            met.add(each)
    return out
