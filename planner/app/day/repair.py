"""A planned day that something has upset: told appointments stay where they can, and never become earlier.

What is at hand is used again: rides that were judged are not judged anew, unless the forecast changed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import replace
from itertools import islice

import numpy as np

from planner.app.answer.records import Span, Tolerance
from planner.app.common.executors import at_hand
from planner.app.common.progress import Stop
from planner.app.day.mending import Mending
from planner.app.day.plan import CLOSE_SAMPLES, judge_of, settled_tolerance
from planner.app.day.records import Appointment, DayPlan
from planner.app.day.serving.chosen import Choice, Close, looked_at
from planner.app.day.serving.judge import Asked, Judge
from planner.app.day.serving.kinds import strength
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import Weather
from planner.store.dayrecords import CLOSINGS, Day, SaleBox
from planner.store.daytold import Told
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


def without_box(
    judge: Judge,
    plan: DayPlan,
    name: str,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> DayPlan:
    """A plan without a box whose check failed: one free box in its place if any will do, else the day repaired.

    Boxes carry labels and people know theirs: nobody else gets another box where that can be.
    """
    day = with_failed_box(told(plan), name)
    with at_hand(executor) as hands:
        swapped = _swapped(judge, plan, day, name, hands, should_stop)
        return swapped or repaired(judge, plan, day, hands, should_stop)


LOOKED_AT_ONCE, MOST_TRIED = 2, 8
"""So many free boxes are looked at, those most like the failed one."""


def _swapped(
    judge: Judge, plan: DayPlan, day: Day, name: str, executor: Executor, should_stop: Stop | None
) -> DayPlan | None:
    """The plan with a free box instead of one, all else as it is; None where no free box is within the tolerance."""
    as_told = tuple(replace(one, moved_from_s=None) for one in plan.appointments)
    kept = replace(plan, day=day, appointments=as_told, exact=False)
    owner = next((one for one in as_told if name in one.boxes), None)
    if owner is None:
        judge.asked = _without_failed(judge, day)
        return kept
    boxes = {box.name: box for box in day.boxes}
    asked = judge.asked
    choices = [
        Choice(
            owner.buyer,
            int(np.flatnonzero(asked.slot_s == owner.slot_s)[0]),
            CLOSINGS.index(owner.closing),
            [setup.name for setup in asked.setups].index(owner.setup),
            tuple(boxes[other if each == name else each] for each in owner.boxes),
        )
        for other in _free(judge, plan, day, owner, boxes[name])[:MOST_TRIED]
    ]
    close = _in_turn(judge, plan, choices, executor, should_stop)
    best = next((one for one in close if one.standing == "within"), None)
    if best is None:
        return None
    assert best.harm_of_100 is not None
    assert best.boxes_harmed is not None
    now = replace(
        owner,
        boxes=tuple(box.name for box in best.choice.boxes),
        harm_of_100=best.harm_of_100,
        boxes_harmed=best.boxes_harmed,
        samples=best.samples,
    )
    judge.asked = _without_failed(judge, day)
    return replace(kept, appointments=tuple(now if one is owner else one for one in as_told))


def _in_turn(
    judge: Judge, plan: DayPlan, choices: list[Choice], executor: Executor, should_stop: Stop | None
) -> Iterator[Close]:
    """Choices looked at a few at a time: the first will mostly do."""
    waiting = iter(choices)
    while some := list(islice(waiting, LOOKED_AT_ONCE)):
        yield from looked_at(judge, some, plan.tolerance, CLOSE_SAMPLES, executor, should_stop)


def _free(judge: Judge, plan: DayPlan, day: Day, owner: Appointment, failed: SaleBox) -> list[str]:
    """Boxes that nobody gets and nobody was promised, ready and set up likewise, the most alike first."""
    given = {name for one in plan.appointments for name in one.boxes}
    given |= {name for buyer in day.buyers for name in buyer.boxes_named}
    setup = next(setup for setup in judge.asked.setups if setup.name == owner.setup)
    types = judge.asked.catalogue.box_types

    def may(box: SaleBox) -> bool:
        changes = setup.change(box.group, types[box.group.box_type]) != box.group
        ready = math.isnan(box.ready_s) or box.ready_s <= owner.closed_s
        return box.name not in given and ready and (changes or setup is AS_DECLARED)

    def unlike(box: SaleBox) -> tuple[bool, float, str]:
        return (
            box.group.box_type != failed.group.box_type,
            abs(strength(box.group) - strength(failed.group)),
            box.name,
        )

    return [box.name for box in sorted(filter(may, day.boxes_that_may_go), key=unlike)]


def _without_failed(judge: Judge, day: Day) -> Asked:
    """What is asked of the changed day: boxes that are held back are in no kind."""
    held = {box.name for box in day.boxes if box.check == "failed"}
    kinds = tuple(kind.without(held) for kind in judge.kinds)
    return replace(judge.asked, day=day, kinds=kinds)


def repaired(
    judge: Judge,
    plan: DayPlan,
    day: Day,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> DayPlan:
    """A plan of the changed day in which as few as possible of those who were told are touched.

    Whom the change leaves alone keeps hour, set-up, boxes, bays and figures. Others are moved only where somebody who
    was told would be put off otherwise.

    Parameters
    ----------
    judge : of the plan
    day : the plan's with buyers told and something changed; rides must be the same
    """
    judge.asked = _without_failed(judge, day)
    with at_hand(executor) as hands:
        return Mending(judge, plan, hands, should_stop).mended()


def with_forecast(
    plan: DayPlan,
    weather: Weather,
    catalogue: Catalogue,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> tuple[Judge, DayPlan]:
    """The day repaired for another forecast, and what judged it: who is still within the tolerance stays as told."""
    judge = judge_of(told(plan), weather, catalogue, plan.seed)
    with at_hand(executor) as hands:
        return judge, Mending(judge, plan, hands, should_stop, anew=True).mended()


def as_told(
    day: Day,
    weather: Weather,
    appointments: Sequence[Told],
    tolerance: Tolerance | None = None,
    seed: int = 1,
) -> DayPlan:
    """A plan of the day in which everybody has what he was told before; whoever is gone from the day has nothing.

    Nobody has looked at its figures: ``with_forecast`` does, and mends it.
    """
    number = {buyer.name: at for at, buyer in enumerate(day.buyers)}
    none = Span(0.0, 0.0, 0.0)
    rows = []
    for one in appointments:
        if one.buyer not in number:
            continue
        slot_s, closed_s = one.slot.timestamp(), one.closing.at.timestamp()
        rows.append(
            Appointment(
                buyer=number[one.buyer],
                slot_s=slot_s,
                boxes=one.boxes,
                setup=one.setup,
                closing=one.closing.rule,
                closed_s=closed_s,
                leave_s=slot_s,
                arrive_s=slot_s,
                open_s=slot_s,
                decision="cannot_tell",
                harm_of_100=none,
                boxes_harmed=none,
                samples=0,
                bays=one.bays,
            )
        )
    return DayPlan(
        day=day,
        weather=weather,
        tolerance=settled_tolerance(day, tolerance),
        appointments=tuple(sorted(rows, key=lambda one: one.slot_s)),
        put_off=(),
        short=(),
        short_serves=0,
        samples=CLOSE_SAMPLES,
        seed=seed,
        finished=True,
        exact=False,
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
    """What to say: the box to swap with, and of everybody whose hour, box or set-up is another."""
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
    for one in before.appointments:
        now, name = after.of(one.buyer), after.day.buyers[one.buyer].name
        if now is None:
            if one is not owner:
                said.append(say("day.repair_put_off", name=name))
            continue
        if now.slot_s != one.slot_s:
            slot, earlier = Moment(now.slot_s, zone, "clock"), Moment(one.slot_s, zone, "clock")
            said.append(say("day.moved", name=name, slot=slot, told=earlier))
        if set(now.boxes) != set(one.boxes) and one is not owner:
            gaps = {"boxes": ", ".join(now.boxes), "earlier": ", ".join(one.boxes)}
            said.append(say("day.other_boxes", name=name, **gaps))
        if now.setup != one.setup:
            setup, earlier_setup = (say(f"day.setup_{each.setup}") for each in (now, one))
            said.append(say("day.other_setup", name=name, setup=setup, earlier=earlier_setup))
    known = {one.buyer for one in before.appointments}
    for one in after.appointments:
        if one.buyer not in known:
            slot = Moment(one.slot_s, zone, "clock")
            name, boxes = after.day.buyers[one.buyer].name, ", ".join(one.boxes)
            said.append(say("day.now_served", name=name, slot=slot, boxes=boxes))
    return tuple(said)
