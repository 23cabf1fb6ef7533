"""What is stuck on boxes and kept in calendars: labels and entries."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, islice

from planner.app.inspect.codes import code_text
from planner.app.sheets.drive import listen_times
from planner.app.sheets.facts import GroupFacts, Halt, TripFacts
from planner.app.sheets.parts import Load, label_air, label_open
from planner.app.sheets.records import Cell, Entry, Label
from planner.app.sheets.shared import shortened
from planner.model.box_names import free_names
from planner.words import Moment, Sentence, duration, minutes, sentence, volume

MOST_LABELS = 1000
MOST_GROUP, MOST_END = 40, 28
"""Characters of a group and of either end of the way on a label: two lines each."""
ALARM_LEAVE_MIN, ALARM_ARRIVE_MIN = 30, 10


def box_names(facts: TripFacts) -> list[tuple[str, GroupFacts]]:
    """Name and group of every box: those that have a name, then free ones, as they are checked before the start."""
    free = free_names([name for group in facts.groups for name in group.names])
    named = (
        (name, group)
        for group in facts.groups
        for name in chain(group.names, islice(free, max(0, group.count - len(group.names))))
    )
    return list(islice(named, MOST_LABELS))


def labels(facts: TripFacts) -> tuple[Label, ...]:
    """A label for every box; its code names the box, and nobody."""
    return tuple(
        Label(name, code_text(name), tuple(_label_lines(facts, group))) for name, group in box_names(facts)
    )


def _label_lines(facts: TripFacts, group: GroupFacts) -> Iterator[Cell]:
    yield sentence("sheets.label_live")
    yield shortened(group.label, MOST_GROUP)
    yield sentence(
        "sheets.route",
        origin=shortened(facts.origin, MOST_END),
        destination=shortened(facts.destination, MOST_END),
    )
    yield label_air(group)
    if not facts.void and facts.open_s is not None:
        yield label_open(group, Moment(facts.open_s, facts.zone_there))
    if facts.phone:
        yield sentence("sheets.label_call", phone=facts.phone)


# -- the calendar --------------------------------------------------------------------------------


def entries(facts: TripFacts) -> tuple[Entry, ...]:
    """Leave, mist, halt, listen, arrive, open, each with an alarm; none for a sheet without figures."""
    if facts.void or facts.leave_s is None or facts.arrive_s is None or facts.open_s is None:
        return ()
    return tuple(
        sorted(_entries(facts, facts.leave_s, facts.arrive_s, facts.open_s), key=lambda one: one.begin_s)
    )


def _entries(facts: TripFacts, leave_s: float, arrive_s: float, open_s: float) -> Iterator[Entry]:
    plan = sentence("sheets.calendar_plan", code=facts.code)
    first_s = leave_s if facts.leave_from_s is None else facts.leave_from_s
    last_s = leave_s if facts.leave_to_s is None else facts.leave_to_s
    yield Entry(
        "leave",
        first_s,
        max(last_s, first_s + 300.0),
        sentence("sheets.calendar_leave"),
        (_leave_body(facts, leave_s), plan),
        facts.origin,
        ALARM_LEAVE_MIN,
    )
    for number, halt in enumerate(facts.halts, 1):
        yield _halt(halt, number, plan)
    mist = sentence("sheets.calendar_mist", volume=volume(facts.mist_ml))
    for number, at_s in enumerate((at for at in facts.mist_s if leave_s <= at < arrive_s), 1):
        yield Entry(f"mist-{number}", at_s, at_s + 300.0, mist, (plan,), "", 0)
    for number, at_s in enumerate(listen_times(facts), 1):
        body = (sentence("sheets.calendar_listen_body"), plan)
        yield Entry(f"listen-{number}", at_s, at_s + 120.0, sentence("sheets.calendar_listen"), body, "", 0)
    yield Entry(
        "arrive",
        arrive_s,
        arrive_s + 600.0,
        sentence("sheets.calendar_arrive"),
        (plan,),
        facts.destination,
        ALARM_ARRIVE_MIN,
    )
    yield Entry(
        "open",
        open_s,
        open_s + 600.0,
        sentence("sheets.calendar_open" if Load(facts.groups).entrances else "sheets.calendar_hive"),
        (sentence("sheets.calendar_open_body"), plan),
        facts.destination,
        0,
    )


def _halt(halt: Halt, number: int, plan: Sentence) -> Entry:
    title = sentence("sheets.calendar_break", duration=duration(halt.lasts_s))
    listen = sentence("sheets.calendar_listen_body")
    end_s = halt.at_s + max(halt.lasts_s, 60.0)
    return Entry(f"break-{number}", halt.at_s, end_s, title, (listen, plan), halt.place, 0)


def _leave_body(facts: TripFacts, leave_s: float) -> Sentence:
    begin = Moment(facts.leave_from_s or leave_s, facts.zone, "clock")
    end = Moment(facts.leave_to_s or leave_s, facts.zone, "clock")
    when = (
        sentence("sheets.calendar_leave_at", at=begin)
        if begin == end
        else sentence("sheets.calendar_leave_between", begin=begin, end=end)
    )
    if facts.may_stand_min is None:
        return sentence("sheets.calendar_leave_body_unknown", when=when)
    if not facts.may_stand_min:
        return sentence("sheets.calendar_leave_body_no_stop", when=when)
    return sentence("sheets.calendar_leave_body", when=when, minutes=minutes(facts.may_stand_min))
