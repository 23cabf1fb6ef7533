"""A planned day that something has upset: told appointments stay where they can, and never become earlier.

What is at hand is used again: rides that were judged are not judged anew, unless the forecast or the buyers changed.
"""

from __future__ import annotations

import math
from concurrent.futures import Executor
from dataclasses import replace

from planner.app.common.executors import at_hand
from planner.app.common.progress import Stop
from planner.app.day.plan import TABLE_SAMPLES, closely_planned
from planner.app.day.records import Appointment, DayPlan
from planner.app.day.serving.judge import Judge
from planner.app.day.serving.kinds import Kind
from planner.store.dayrecords import Day
from planner.words import Moment, say


def told(plan: DayPlan) -> Day:
    """The day with every appointment as told to its buyer."""
    slot = {one.buyer: one.slot_s for one in plan.appointments}
    buyers = [replace(b, told_s=slot.get(number, b.told_s)) for number, b in enumerate(plan.day.buyers)]
    return replace(plan.day, buyers=tuple(buyers))


def with_fewer_screens(day: Day, torn: int) -> Day:
    """Some roof screens are torn."""
    return replace(day, stock=replace(day.stock, roof_screens=max(day.stock.roof_screens - torn, 0)))


def with_late_buyer(day: Day, buyer: int, late_s: float) -> Day:
    """A buyer comes so much later than told."""
    one = day.buyers[buyer]
    last = day.slots.begin_s[-1] + day.slots.lasts_s
    from_s = (day.slots.begin_s[0] if math.isnan(one.told_s) else one.told_s) + late_s
    own = one.spans or ((day.slots.begin_s[0], last),)
    spans = tuple((max(a, from_s), b) for a, b in own if b > from_s) or ((min(from_s, last), last),)
    buyers = [replace(b, spans=spans) if number == buyer else b for number, b in enumerate(day.buyers)]
    return replace(day, buyers=tuple(buyers))


def with_failed_box(day: Day, name: str) -> Day:
    """A box that the check held back."""
    boxes = [replace(box, check="failed") if box.name == name else box for box in day.boxes]
    buyers = [
        replace(b, boxes_named=()) if name in b.boxes_named else b for b in day.buyers
    ]  # a promise that cannot be kept: any box of the day will have to do
    return replace(day, boxes=tuple(boxes), buyers=tuple(buyers))


def repaired(
    judge: Judge,
    plan: DayPlan,
    day: Day,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> DayPlan:
    """A plan of the changed day in which as few as possible of those who were told move.

    ``judge`` of the plan, ``day`` its day with buyers told and something changed. Rides must be the same.
    """
    held = {box.name for box in day.boxes if box.check == "failed"}
    kinds = tuple(
        Kind(tuple(box for box in kind.boxes if box.name not in held), kind.buyer)
        for kind in judge.asked.kinds
    )
    kinds = tuple(k if k.boxes else judge.asked.kinds[n] for n, k in enumerate(kinds))
    judge.asked = replace(judge.asked, day=day, kinds=kinds)
    share, _ = judge.table.shares(judge.asked, TABLE_SAMPLES)
    with at_hand(executor) as hands:
        return closely_planned(
            judge,
            share,
            plan.tolerance,
            plan.seed,
            0.0,
            moved_counts=True,
            executor=hands,
            should_stop=should_stop,
        )


def changes(before: DayPlan, after: DayPlan) -> list[tuple[Appointment, Appointment | None]]:
    """Appointments that moved or fell away."""
    out = []
    for one in before.appointments:
        now = after.of(one.buyer)
        if now is None or now.slot_s != one.slot_s:
            out.append((one, now))
    return out


def change_words(before: DayPlan, after: DayPlan, failed: str = "") -> tuple[str, ...]:
    """What to say: the box to swap with, and whose hour is another."""
    zone, said = after.day.yard.zone, []
    owner = next((one for one in before.appointments if failed in one.boxes), None)
    if owner is not None:
        now = after.of(owner.buyer)
        name = after.day.buyers[owner.buyer].name
        new = [] if now is None else [box for box in now.boxes if box not in owner.boxes]
        said.append(
            say("day.swap", box=failed, other=", ".join(new))
            if new
            else say("day.no_swap", box=failed, name=name)
        )
    for one, now in changes(before, after):
        if now is not None:
            slot, earlier = Moment(now.slot_s, zone, "clock"), Moment(one.slot_s, zone, "clock")
            said.append(say("day.moved", name=after.day.buyers[one.buyer].name, slot=slot, told=earlier))
    return tuple(said)
