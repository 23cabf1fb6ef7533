"""A planned day in words: the head, the board as lines, who is put off and why, what is short, when to shut what."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from planner.app.common.wording import of_100_words, span_words
from planner.app.day.records import SORTS, Appointment, DayPlan, PutOff, Short
from planner.words import Moment, duration, say, text

Section = tuple[str, tuple[str, ...]]


def day_words(plan: DayPlan) -> tuple[str, tuple[Section, ...]]:
    """The head, and sections of lines under their titles; those without lines are left out."""
    sections = (
        (say("day.section_board"), tuple(appointment_words(plan, one) for one in plan.appointments)),
        (say("day.section_put_off"), tuple(put_off_words(plan, one) for one in plan.put_off)),
        (say("day.section_short"), short_words(plan)),
        (say("day.section_closing"), tuple(closing_words(plan))),
    )
    return head_words(plan), tuple((title, lines) for title, lines in sections if lines)


def head_words(plan: DayPlan) -> str:
    """How many come, how many are put off, by which tolerance."""
    zone, slots = plan.day.yard.zone, plan.day.slots.begin_s
    head = say(
        "day.head",
        served=len(plan.appointments),
        buyers=len(plan.day.buyers),
        day=Moment(slots[0], zone, "date"),
        count=sum(len(one.boxes) for one in plan.appointments),
    )
    off = len(plan.put_off)
    parts = [head, say("day.head_put_off", count=off) if off else say("day.nobody_put_off")]
    if not plan.finished:
        parts.insert(0, say("day.so_far", count=plan.samples))
    if plan.weather.kind == "assumed":
        parts.append(say("day.weather_assumed"))
    harm, boxes = plan.tolerance.harm_of_100, plan.tolerance.boxes_of_100
    parts.append(say("day.tolerance", harm=f"{harm:g}", boxes=f"{boxes:g}"))
    told = any(not math.isnan(buyer.told_s) for buyer in plan.day.buyers)
    if plan.finished and not plan.exact and (off or not told):  # who was told keeps what he has, best or not
        parts.append(say("day.not_proved" if off else "day.not_best"))
    parts.append(stock_words(plan))
    return " ".join(parts)


def stock_words(plan: DayPlan) -> str:
    """What of the stock and the shade is in use."""
    screens = sum(len(one.boxes) for one in plan.appointments if one.setup == "roof_screen")
    bays = max((max(one.bays) for one in plan.appointments if one.bays), default=0)
    stock, shade = plan.day.stock.roof_screens, plan.day.bays
    return say("day.stock_used", screens=screens, stock=stock, bays=bays, shade=shade)


def setup_words(setup: str) -> str:
    return say(f"day.setup_{setup}")


def decision_words(one: Appointment) -> str:
    """Go, or go with what it takes."""
    if one.decision == "go_if":
        return say("day.decision_go_if", setup=setup_words(one.setup))
    return say(f"day.decision_{one.decision}")


def appointment_words(plan: DayPlan, one: Appointment) -> str:
    """One line of the board."""
    zone = plan.day.yard.zone
    at = Moment(one.closed_s, zone, "clock")
    closing = (
        say("day.closing_at_handover")
        if one.closing == "at_handover"
        else say(f"day.closing_{one.closing}", at=at)
    )
    line = say(
        "day.row",
        slot=Moment(one.slot_s, zone, "clock"),
        name=plan.day.buyers[one.buyer].name,
        boxes=", ".join(one.boxes),
        setup=setup_words(one.setup),
        closing=closing,
        **span_words(one.harm_of_100.low, one.harm_of_100.value, one.harm_of_100.high),
    )
    if one.bays:
        line = say("day.row_bay", row=line, bays=_numbers(one.bays))
    if one.moved_from_s is not None:
        line = say("day.row_moved", row=line, told=Moment(one.moved_from_s, zone, "clock"))
    return line


def _numbers(bays: Sequence[int]) -> str:
    return ", ".join(map(str, bays))


def put_off_words(plan: DayPlan, one: PutOff) -> str:
    """Why somebody is put off, and to which day."""
    name = plan.day.buyers[one.buyer].name
    if one.why == "harm" and one.least_of_100 is not None:
        sentence = say("day.put_off_harm", name=name, least=of_100_words(one.least_of_100), count=one.samples)
    elif one.why == "times":
        sentence = say("day.put_off_times", name=name)
    elif one.why == "short":
        sentence = say("day.put_off_short", name=name)
    elif one.least_of_100 is not None:
        sentence = say("day.put_off_open", name=name, least=of_100_words(one.least_of_100), count=one.samples)
    else:
        sentence = say("day.put_off_unknown", name=name)
    if not plan.finished or plan.days_ahead is None:
        return sentence
    if one.next_day_s is None and not plan.days_ahead:
        return say("day.put_off_no_weather", sentence=sentence)
    if one.next_day_s is None:
        return say("day.put_off_none", sentence=sentence, count=plan.days_ahead)
    return say("day.put_off_next", sentence=sentence, day=Moment(one.next_day_s, plan.day.yard.zone, "date"))


def short_words(plan: DayPlan) -> tuple[str, ...]:
    """What binds, and how many more that would serve."""
    if not plan.short:
        return ()
    of = {sort: [one for one in plan.short if one.sort == sort] for sort in SORTS}
    said = []
    if of["boxes"] and of["kind"]:  # one thing, not two: boxes are short, and they must be the right ones
        boxes, kind = (round(sum(one.amount for one in of.pop(sort))) for sort in ("boxes", "kind"))
        said.append(say("day.short_boxes_kind", count=max(boxes, kind), kind=kind))
    said += [_short(plan, rows) for rows in of.values() if rows]
    key = "day.short_serves" if len(said) == 1 else "day.short_serves_all"
    return (*said, say(key, count=plan.short_serves))


def _short(plan: DayPlan, rows: Sequence[Short]) -> str:
    zone, hands = plan.day.yard.zone, plan.day.hands
    amount = round(sum(row.amount for row in rows))
    at = ", ".join(text(Moment(row.at_s, zone, "clock")) for row in rows if row.at_s is not None)
    match rows[0].sort:
        case "screens":
            return say("day.short_screens", count=amount)
        case "straps":
            return say("day.short_straps", count=amount)
        case "boxes":
            return say("day.short_boxes", count=amount)
        case "kind":
            return say("day.short_kind", count=amount)
        case "hands":
            return say("day.short_hands", time=duration(amount * hands.handing_s), slots=at)
        case "evening":
            return say("day.short_evening", time=duration(amount * hands.closing_s))
        case "dawn":
            return say("day.short_dawn", time=duration(amount * hands.closing_s))
    most = round(max(row.amount for row in rows))
    return say("day.short_shade", count=most, slots=at)


def closing_words(plan: DayPlan) -> Iterator[str]:
    """The boxes to shut beforehand, by the minute hands get to them."""
    for at_s, one, box in closing_list(plan):
        row = say(
            "day.close_row",
            at=Moment(at_s, plan.day.yard.zone, "day_clock"),
            box=box,
            name=plan.day.buyers[one.buyer].name,
            setup=setup_words(one.setup),
        )
        yield say("day.close_row_bay", row=row, bays=_numbers(one.bays)) if one.bays else row


def closing_list(plan: DayPlan) -> list[tuple[float, Appointment, str]]:
    """Each box that is shut beforehand with the instant, so many at a time as there are hands, the latest in time.

    The last box is shut at the closing's hour, the others before it; who leaves last is shut last.
    """
    out: list[tuple[float, Appointment, str]] = []
    hands = plan.day.hands
    early = [one for one in plan.appointments if one.closing != "at_handover"]
    for closed_s in sorted({one.closed_s for one in early}):
        boxes = [(one, box) for one in early if one.closed_s == closed_s for box in one.boxes]
        for number, (one, box) in enumerate(boxes):
            before = int(np.ceil((len(boxes) - number) / hands.people))
            out.append((closed_s - before * hands.closing_s, one, box))
    return sorted(out, key=lambda row: row[0])
