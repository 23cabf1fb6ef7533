"""Sheets of those who stay: the receiver who opens, the producer's run of the day, the receipt."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from planner.app.sheets.drive import after_block, arrival_block
from planner.app.sheets.facts import BoxFound, TripFacts
from planner.app.sheets.parts import Load, checked_names, joined, setup_of
from planner.app.sheets.records import STAYS, Block, Cell, Figure, LongText, Row, Sheet
from planner.app.sheets.shared import (
    arrive_figure,
    boxes_figure,
    clocks,
    counted,
    days,
    emergency_block,
    groups_text,
    head,
    leave_figure,
    lines,
    open_figure,
    proof_block,
    route,
    shortened,
    signs_block,
)
from planner.store.people import Person
from planner.words import Moment, Sentence, minutes, sentence, share, volume

MOST_NAME, MOST_PHONE = 24, 18
MOST_NAMED = 40


# -- the receiver --------------------------------------------------------------------------------


def receiver_sheet(facts: TripFacts, language: str) -> Sheet:
    """For the orchard, the neighbour, whoever takes a parcel in: make ready, count, open."""
    top = head(
        facts,
        sentence("sheets.title_receiver"),
        (sentence("sheets.head_route"), route(facts)),
        (sentence("sheets.head_boxes"), groups_text(facts.groups)),
        (sentence("sheets.head_vehicle"), facts.vehicle) if facts.vehicle.english else None,
    )
    safety = (signs_block(facts, driving=False), emergency_block(facts))
    if facts.void:
        return Sheet("receiver", language, "", top, (), safety)
    figures = (arrive_figure(facts), open_figure(facts, "open_note_receiver"), boxes_figure(facts))
    blocks = (_prepare(facts), arrival_block(facts), _count(facts), *safety, after_block(), proof_block())
    return Sheet("receiver", language, "", top, figures, blocks)


def _prepare(facts: TripFacts) -> Block:
    cells = (
        sentence("sheets.prepare_access", vehicle=facts.vehicle),
        sentence("sheets.prepare_ground"),
        sentence("sheets.prepare_water"),
        sentence("sheets.prepare_hive") if Load(facts.groups).hived else None,
        sentence("sheets.prepare_spray"),
        sentence("sheets.prepare_people"),
        sentence("sheets.prepare_dark") if facts.opens_dark else None,
    )
    return Block("prepare", sentence("sheets.prepare_title"), 2, "lines", lines(*cells))


def _count(facts: TripFacts) -> Block:
    cells = (
        sentence("sheets.receiver_count", boxes=sentence("sheets.boxes", count=facts.boxes)),
        sentence("sheets.receiver_far"),
        sentence("sheets.receiver_inspect" if Load(facts.groups).frames else "sheets.receiver_inspect_bare"),
    )
    return Block("count", sentence("sheets.receiver_count_title"), 2, "lines", lines(*cells))


# -- the yard ------------------------------------------------------------------------------------


def yard_sheet(facts: TripFacts, people: Sequence[Person], language: str) -> Sheet:
    """The producer's run of the day: what is shut when, what is checked, who takes what."""
    top = head(
        facts,
        sentence("sheets.title_yard"),
        (sentence("sheets.head_route"), route(facts)),
        (sentence("sheets.head_boxes"), groups_text(facts.groups)),
    )
    if facts.void:
        return Sheet("yard", language, "", top, (), (_people(people), emergency_block(facts)))
    shut_s = min(group.closed_s for group in facts.groups)
    shut = Figure(
        "shut",
        sentence("sheets.first_shut"),
        clocks(shut_s, shut_s, facts.zone),
        days(shut_s, shut_s, facts.zone),
    )
    blocks = (
        _run(facts),
        _checks(facts),
        _found(facts, None),
        _places(facts),
        _people(people),
        emergency_block(facts),
    )
    filled = tuple(block for block in blocks if block.rows)
    return Sheet("yard", language, "", top, (shut, leave_figure(facts), boxes_figure(facts)), filled)


def _run(facts: TripFacts) -> Block:
    """Shutting group by group, then leaving, by the clock."""
    assert facts.leave_s is not None
    rows = [
        (
            group.closed_s,
            counted(group),
            sentence("sheets.yard_screen_on" if group.screen == "on" else "sheets.yard_close"),
        )
        for group in facts.groups
    ]
    rows.append((facts.leave_s, sentence("sheets.boxes", count=facts.boxes), sentence("sheets.yard_leave")))
    told = [
        Row((Moment(at_s, facts.zone, "day_clock"), *cells), keep=9)
        for at_s, *cells in sorted(rows, key=lambda row: row[0])
    ]
    heads = (sentence("sheets.yard_time"), sentence("sheets.yard_group"), sentence("sheets.yard_do"))
    if facts.leave_from_s != facts.leave_to_s:
        best = Moment(facts.leave_s, facts.zone, "clock")
        told.append(Row((sentence("sheets.yard_best", clock=best),), keep=STAYS))
    told.append(Row((sentence("sheets.yard_shade"),)))
    return Block("run", sentence("sheets.yard_title"), 2, "table", tuple(told), heads)


def _checks(facts: TripFacts) -> Block:
    cells = (sentence(f"sheets.yard_check_{name}") for name in checked_names(Load(facts.groups)))
    return Block("checks", sentence("sheets.yard_checks_title"), 2, "lines", lines(*cells))


def _places(facts: TripFacts) -> Block:
    """Where each group rides, where they differ."""
    if len({group.place for group in facts.groups}) < 2:
        return Block("places", sentence("sheets.yard_places_title"), 2, "pairs", ())
    rows = tuple(Row((counted(group), group.place)) for group in facts.groups)
    return Block("places", sentence("sheets.yard_places_title"), 2, "pairs", rows)


def _people(people: Sequence[Person]) -> Block:
    """Who takes what; as many as one side holds, and how many more there are."""
    rows = [
        Row((shortened(one.name, MOST_NAME), _boxes_of(one), shortened(one.phone, MOST_PHONE)))
        for one in people
    ]
    heads = (sentence("sheets.yard_name"), sentence("sheets.yard_boxes"), sentence("sheets.yard_phone"))
    title = sentence("sheets.yard_people_title")
    return Block("people", title, 1, "table", tuple(rows), heads, wide=True, more="sheets.yard_more")


def _boxes_of(person: Person) -> Cell:
    """The names of a few boxes, else how many."""
    return ", ".join(person.boxes) if 0 < len(person.boxes) <= 2 else person.count


# -- the receipt ---------------------------------------------------------------------------------


def receipt_sheet(facts: TripFacts, person: Person | None, language: str) -> Sheet:
    """Who handed what to whom, shut when, in which state, with lines to sign."""
    top = head(
        facts,
        sentence("sheets.title_receipt"),
        (sentence("sheets.receipt_seller"), facts.keeper or sentence("sheets.receipt_blank")),
        (sentence("sheets.receipt_buyer"), person.name if person else sentence("sheets.receipt_blank")),
        (sentence("sheets.receipt_address"), sentence("sheets.receipt_blank")),
        (sentence("sheets.receipt_registration"), sentence("sheets.receipt_blank")),
        (sentence("sheets.receipt_date"), sentence("sheets.receipt_blank")),
        (sentence("sheets.head_route"), route(facts)),
    )
    blocks = (_handed(facts, person), _found(facts, person), _handover_checks(facts), proof_block(_PROOF))
    filled = tuple(block for block in blocks if block.rows)
    return Sheet("receipt", language, person.name if person else "", top, (), filled)


_PROOF = ("closed", "checked", "condition", "given", "taken")


def _handed(facts: TripFacts, person: Person | None) -> Block:
    heads = (
        sentence("sheets.receipt_box"),
        sentence("sheets.receipt_closed"),
        sentence("sheets.receipt_setup"),
    )
    rows = tuple(_handed_rows(facts, person))
    title = sentence("sheets.receipt_boxes_title")
    return Block("handed", title, 1, "table", rows, heads, wide=True)


def _handed_rows(facts: TripFacts, person: Person | None) -> Iterator[Row]:
    """A row for each box that has a name, else for each group; a sheet without figures leaves the times blank."""
    blank = sentence("sheets.receipt_blank")
    group_of = {name: group for group in facts.groups for name in group.names}
    shut_s = {one.box: one.closed_s for one in facts.found if one.closed_s is not None}
    if person and person.count:
        named = person.boxes[:MOST_NAMED]
        for name in named:
            group = group_of.get(name)
            shut: Cell = blank if group is None or facts.void else _planned(group.closed_s, facts)
            if name in shut_s:
                shut = Moment(shut_s[name], facts.zone)
            yield Row((name, shut, blank if group is None else setup_of(group)))
        if person.count > len(named):
            yield Row((sentence("sheets.boxes", count=person.count - len(named)), blank, blank))
        return
    for group in facts.groups:
        shut = blank if facts.void else _planned(group.closed_s, facts)
        yield Row((counted(group), shut, setup_of(group)))


def _planned(at_s: float, facts: TripFacts) -> Sentence:
    """When boxes are to be shut, by the plan: nobody has said yet that they were."""
    return sentence("sheets.receipt_planned", at=Moment(at_s, facts.zone))


def _found(facts: TripFacts, person: Person | None) -> Block:
    """What the check found on the boxes that are handed over: those let go against advice with the reason typed."""
    theirs = [one for one in facts.found if person is None or one.box in person.boxes]
    released = sum(one.outcome == "released" and not one.against for one in theirs)
    unlooked = sum(one.outcome in ("", "not_looked") and not one.against for one in theirs)
    rows = [
        *([sentence("sheets.receipt_released", count=released)] if released else []),
        *(_found_of(one) for one in _together(theirs)),
        *([sentence("sheets.receipt_unlooked", count=unlooked)] if unlooked else []),
    ]
    return Block("found", sentence("sheets.receipt_found_title"), 1, "lines", lines(*rows), wide=True)


_SAID = ("released_with", "released_under", "held")


def _together(found: Sequence[BoxFound]) -> list[BoxFound]:
    """Boxes of which something has to be said, those of which the same is said under all their names: on a day on
    which sixty floors were glued shut they would not find room one by one."""
    same: dict[BoxFound, list[str]] = {}
    for one in found:
        if one.against or one.outcome in _SAID:
            same.setdefault(replace(one, box="", closed_s=None), []).append(one.box)
    return [replace(one, box=", ".join(names)) for one, names in same.items()]


def _found_of(one: BoxFound) -> Cell:
    if one.against:
        return sentence("sheets.receipt_against", box=one.box, reason=LongText(one.against))
    if one.outcome == "held":
        return sentence("sheets.receipt_held", box=one.box)
    if one.outcome == "released_under" and one.minutes:
        return sentence("sheets.receipt_under", box=one.box, minutes=minutes(one.minutes))
    fixes = [fix for name in one.fixes if (fix := fix_named(name))]
    if not fixes or len(fixes) < len(one.fixes):
        return sentence("sheets.receipt_said", box=one.box, what=LongText(one.said))
    return sentence("sheets.receipt_with", box=one.box, what=joined(fixes))


_FIXES = (
    "roof_screen",
    "clean_floor",
    "open_vents",
    "entrance_mesh",
    "fewer_bees",
    "stores_out",
    "wet_foam",
    "battens",
)
"""The changes a box is released with, as ``advice.changes`` and ``inspect.judge`` name them."""


def fix_named(name: str) -> Sentence | None:
    """What a change is called in the reader's language; None for one that no sheet has a name of."""
    kind, _, amount = name.partition("_")
    if kind == "mist" and amount.isdecimal():
        return sentence("sheets.fix_mist", volume=volume(float(amount)))
    if kind == "cover" and amount.replace(".", "", 1).isdecimal():
        return sentence("sheets.fix_cover", share=share(float(amount)))
    if name == "syrup_can":
        return sentence("sheets.setup_can")
    return sentence(f"sheets.fix_{name}") if name in _FIXES else None


def _handover_checks(facts: TripFacts) -> Block:
    cells = (
        sentence("sheets.receipt_heard"),
        sentence("sheets.receipt_dry"),
        sentence("sheets.receipt_strapped" if Load(facts.groups).entrances else "sheets.receipt_tied"),
        sentence("sheets.receipt_sheet", code=facts.code),
        sentence("sheets.receipt_claims"),
    )
    title = sentence("sheets.receipt_checks_title")
    return Block("checked", title, 1, "lines", lines(*cells), wide=True)
