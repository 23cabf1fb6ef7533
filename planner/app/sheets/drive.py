"""The sheet of whoever drives: the user on an own trip, or a buyer who collects."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

import numpy as np

from planner.app.sheets.facts import (
    ASKS_MOST,
    MOST_MIN,
    GroupFacts,
    Halt,
    Riding,
    Standing,
    TripFacts,
    rounded_down,
)
from planner.app.sheets.parts import Load, joined, looked_through, opened, set_down, setup_of, tied_down
from planner.app.sheets.records import STAYS, Block, Cell, Row, Sheet
from planner.app.sheets.shared import (
    counted,
    emergency_block,
    groups_text,
    head,
    leave_figure,
    lines,
    names_of,
    open_figure,
    proof_block,
    road_of,
    route,
    shortened,
    signs_block,
    stand_figure,
    weighed,
)
from planner.store.people import Person
from planner.words import (
    Moment,
    Sentence,
    distance,
    duration,
    minutes,
    sentence,
    temp,
    volume,
)

LISTEN_EVERY_S = 3600.0
LISTEN_APART_S = 900.0
"""Listening once an hour, and not just before or after another halt (common practice, no source)."""
LONG_REST_MIN = 120
"""From so many minutes on a stop needs no limit beside it."""
MOST_TIMETABLE = 10
"""Rows; legal breaks, leaving, arriving and opening are always among them."""
MOST_STANDS = 5
MOST_MISTS = 3
"""Times of misting that have a row each."""
MOST_CLOCKS = 4
COUNTED_ON = ("shade", "engine_on", "doors_open")
"""What a plan may count on while the vehicle stands at a halt."""
MOST_PLACE = 26
"""Characters of a place in the timetable: one line each."""
FIRST_LOOK_DAYS = 7
NEAR_KM = 5.0
HANDY = 2
"""Groups that are named one by one; more are told in one line."""


def driver_sheet(facts: TripFacts, language: str) -> Sheet:
    """The sheet of the user's own trip."""
    top = head(
        facts,
        sentence("sheets.title_driver"),
        (sentence("sheets.head_route"), route(facts)),
        (sentence("sheets.head_boxes"), groups_text(facts.groups)),
        _rides(facts),
        _set_up(facts.groups),
        None if facts.void else (sentence("sheets.head_arrive"), _arrives(facts)),
        None if facts.void else (sentence("sheets.head_road"), road_of(facts)),
    )
    return _sheet(facts, "driver", language, "", top)


def buyer_sheet(facts: TripFacts, person: Person, language: str) -> Sheet:
    """The sheet of somebody who collects boxes and drives."""
    names, count = person.boxes, person.count or facts.boxes
    facts = replace(facts, boxes=count) if person.count else facts
    other = bool(person.place) and person.place.casefold() not in (
        facts.place.english.casefold(),
        facts.place.key.casefold(),
    )
    top = head(
        facts,
        sentence("sheets.title_buyer", name=person.name),
        (sentence("sheets.head_route"), route(facts)),
        (sentence("sheets.head_boxes"), names_of(names, count)),
        (sentence("sheets.head_vehicle"), person.vehicle) if person.vehicle else None,
        _rides(facts, warn=other),
        _set_up(facts.groups),
        None if facts.void else (sentence("sheets.head_arrive"), _arrives(facts)),
    )
    return _sheet(facts, "buyer", language, person.name, top)


def _sheet(facts: TripFacts, kind: str, language: str, person: str, top: object) -> Sheet:
    safety = (signs_block(facts), emergency_block(facts))
    if facts.void:
        return Sheet(kind, language, person, top, (), safety)  # type: ignore[arg-type]
    blocks = (
        before_block(facts),
        road_block(facts),
        jam_block(facts),
        signs_block(facts),
        arrival_block(facts),
        after_block(),
        emergency_block(facts),
        *((proof_block(),) if kind == "buyer" else ()),
    )
    figures = (leave_figure(facts), stand_figure(facts), open_figure(facts))
    return Sheet(kind, language, person, top, figures, blocks)  # type: ignore[arg-type]


def _rides(facts: TripFacts, *, warn: bool = False) -> tuple[Sentence, Cell] | None:
    if not facts.place.english:
        return None
    if not warn and len({group.place for group in facts.groups}) > 1:
        return sentence("sheets.head_rides"), _by_group(facts.groups)
    value: Cell = sentence("sheets.other_place", place=facts.place) if warn else facts.place
    return sentence("sheets.head_rides"), value


def _by_group(groups: tuple[GroupFacts, ...]) -> Cell:
    """Where each group rides; more than a head holds stands on the yard sheet."""
    if len(groups) > HANDY:
        return sentence("sheets.rides_by_group")
    first, second = (sentence("sheets.rides_group", label=counted(one), place=one.place) for one in groups)
    return sentence("sheets.rides_two", first=first, second=second)


def _set_up(groups: tuple[GroupFacts, ...]) -> tuple[Sentence, Cell] | None:
    """What is on the boxes, where all groups have the same; else it stands under "before"."""
    found = {setup_of(group) for group in groups}
    return (sentence("sheets.head_setup"), found.pop()) if len(found) == 1 else None


def _arrives(facts: TripFacts) -> Moment:
    assert facts.arrive_s is not None
    return Moment(facts.arrive_s, facts.zone_there, "day_clock")


# -- before --------------------------------------------------------------------------------------


def before_block(facts: TripFacts) -> Block:
    """What is done before wheels turn, for this plan: screens, air, floor, water."""
    load = Load(facts.groups)
    warm = "sheets.before_warm" if load.coverable else "sheets.before_warm_bare"
    battens = all(group.battens for group in facts.groups)
    cells: list[tuple[int, Cell | None]] = [
        *((9, cell) for cell in _screens(facts.groups)),
        *((9, cell) for cell in _air_before(facts)),
        (7, sentence("sheets.before_scrape") if any(group.scrape for group in facts.groups) else None),
        *looked_through(load),
        (7, sentence("sheets.before_floor" if battens else "sheets.before_floor_flat")),
        (8, tied_down(load)),
        (3, sentence("sheets.before_frames") if load.frames else None),
        (8, sentence("sheets.before_water", volume=volume(facts.carry_ml)) if facts.mist_s else None),
        (6, sentence("sheets.before_gear")),
        (4, sentence("sheets.before_fuel")),
        (8, sentence(warm if facts.cold else "sheets.before_shade")),
    ]
    return Block("before", sentence("sheets.before_title"), 2, "lines", weighed(*cells))


def _screens(groups: tuple[GroupFacts, ...]) -> Iterator[Sentence]:
    """The roof screens: of all boxes in one line where they agree, else group by group."""
    can = [group for group in groups if group.screen != "none"]
    if not can:
        return
    states = {group.screen for group in can}
    if len(states) == 1 and (len(can) == len(groups) or len(can) > HANDY):
        yield sentence(f"sheets.before_screen_{states.pop()}_all")
        return
    for state in ("on", "off"):
        labels = dict.fromkeys(group.label for group in can if group.screen == state)
        if labels:
            yield sentence(f"sheets.before_screen_{state}", label=", ".join(labels))


def _air_before(facts: TripFacts) -> Iterator[Sentence]:
    """What is made ready for the air of every place where boxes ride."""
    for where in facts.airs:
        if where.air == "cooled" and where.set_point_c is not None:
            yield sentence("sheets.before_cooled", temp=temp(where.set_point_c, 0))
        elif where.air == "windows":
            yield sentence("sheets.before_windows", place=where.place)


# -- on the road ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Due:
    """Something due on the way."""

    at_s: float
    what: Cell
    keep: int
    """What it is worth when there is no room; 9 stays."""
    there: bool = False
    """Whether it is told by the clock of the destination."""


def road_block(facts: TripFacts) -> Block:
    """The timetable, for the best start, with the time since leaving for every other."""
    assert facts.leave_s is not None
    start = facts.leave_s
    dues = sorted(timetable(facts), key=lambda due: -due.keep)
    kept = dues[: max(MOST_TIMETABLE, sum(due.keep == STAYS for due in dues))]
    rows = [
        Row((_since(due.at_s - start), _clock(facts, due), due.what), keep=due.keep)
        for due in sorted(kept, key=lambda due: due.at_s)
    ]
    rows += weighed(*_road_rules(facts))
    heads = (sentence("sheets.road_after"), sentence("sheets.road_clock"), sentence("sheets.road_what"))
    return Block("road", sentence("sheets.road_title"), 2, "table", tuple(rows), heads)


def _clock(facts: TripFacts, due: Due) -> Moment:
    return Moment(due.at_s, facts.zone_there if due.there else facts.zone, "clock")


def _since(seconds: float) -> Cell:
    return duration(max(0.0, seconds))


def timetable(facts: TripFacts) -> list[Due]:
    """Everything due between leaving and opening, in order."""
    assert facts.leave_s is not None
    assert facts.arrive_s is not None
    assert facts.open_s is not None
    dues = [
        Due(facts.leave_s, sentence("sheets.road_leave"), 9),
        Due(
            facts.arrive_s,
            sentence("sheets.road_arrive", place=shortened(facts.destination, MOST_PLACE)),
            9,
            there=True,
        ),
        Due(facts.open_s, sentence("sheets.road_open"), 9, there=True),
    ]
    if facts.gate_s is not None:
        dues.append(Due(facts.gate_s, sentence("sheets.road_gate"), 9, there=True))
    dues += [Due(halt.at_s, _halt(halt), 8 if halt.purpose != "break" else 9) for halt in facts.halts]
    dues += _mists(facts, [at_s for at_s in facts.mist_s if facts.leave_s <= at_s < facts.arrive_s])
    return sorted(dues, key=lambda due: due.at_s)


def _mists(facts: TripFacts, times: Sequence[float]) -> list[Due]:
    """When to mist; many times alike in one row, so that no language has to leave some out."""
    each = volume(facts.mist_ml)
    steps = {round(late - early) for early, late in pairwise(times)}
    if len(times) <= MOST_MISTS or len(steps) > 1:
        return [Due(at_s, sentence("sheets.road_mist", volume=each), 8) for at_s in times]
    gaps = {"volume": each, "every": duration(steps.pop()), "until": Moment(times[-1], facts.zone, "clock")}
    return [Due(times[0], sentence("sheets.road_mist_on", **gaps), STAYS)]


def _halt(halt: Halt) -> Sentence:
    """What a halt is for, how long, and where: by its name, or by the road where nobody named it."""
    if not halt.place:
        return sentence("sheets.road_break_at", duration=duration(halt.lasts_s), distance=distance(halt.km))
    place = shortened(halt.place, MOST_PLACE)
    return sentence(f"sheets.road_{halt.purpose}", duration=duration(halt.lasts_s), place=place)


def listen_times(facts: TripFacts) -> list[float]:
    """Once an hour of the drive, where no other halt is near, and at the end of a long one; not during a halt: on the
    car deck of a ferry nobody may."""
    assert facts.leave_s is not None
    assert facts.arrive_s is not None
    halts = [(halt.at_s, halt.at_s + halt.lasts_s) for halt in facts.halts]
    long = [halt for halt in facts.halts if halt.lasts_s >= LISTEN_EVERY_S]
    ends = [end_s for halt in long if (end_s := halt.at_s + halt.lasts_s) < facts.arrive_s]
    taken = [(facts.arrive_s, facts.arrive_s), *halts, *((at_s, at_s) for at_s in facts.mist_s)]
    hours = np.arange(facts.leave_s + LISTEN_EVERY_S, facts.arrive_s, LISTEN_EVERY_S)
    free = (
        float(at_s)
        for at_s in hours
        if all(at_s <= begin_s - LISTEN_APART_S or at_s >= end_s + LISTEN_APART_S for begin_s, end_s in taken)
    )
    return sorted((*free, *ends))


def _road_rules(facts: TripFacts) -> Iterator[tuple[int, Cell]]:
    """What holds on the whole way, with what each is worth when there is no room."""
    if listen_times(facts):
        yield STAYS, sentence("sheets.road_listen")
    if facts.clock_ahead_s:
        yield STAYS, _other_clock(facts.clock_ahead_s)
    yield from ((STAYS if at < HANDY else 8, rule) for at, rule in enumerate(_air_rules(facts)))
    if facts.may_stand_min == 0 and facts.halts and not facts.rest_later:
        yield 9, sentence("sheets.road_planned_only")
    yield from _at_halts(facts.halts, facts.zone)
    yield _rest(facts)
    if facts.gate_s is not None:
        closed = "sheets.road_gate_wait_open" if facts.air_standing == "open" else "sheets.road_gate_wait"
        yield STAYS, sentence(closed)
    if not facts.mist_s:
        limit = temp(facts.no_mist_below_c, 0)
        cold = sentence("sheets.road_no_mist_cold", temp=limit)
        yield (
            8 if facts.too_cold_to_mist else 5,
            cold if facts.too_cold_to_mist else sentence("sheets.road_no_mist"),
        )
    if any(halt.purpose == "break" for halt in facts.halts):
        yield 8, sentence("sheets.road_legal")
    yield from ((8, caution) for caution in facts.cautions)


def _other_clock(ahead_s: float) -> Sentence:
    key = "sheets.road_zone_ahead" if ahead_s > 0.0 else "sheets.road_zone_behind"
    return sentence(key, duration=duration(abs(ahead_s)))


def _at_halts(halts: tuple[Halt, ...], zone: str) -> Iterator[tuple[int, Cell]]:
    """What the plan counts on while the vehicle stands at its halts; by the clock where not all are alike."""
    asked: dict[tuple[str, ...], list[Halt]] = {}
    for halt in halts:
        asked.setdefault(tuple(name for name in COUNTED_ON if getattr(halt, name)), []).append(halt)
    for names, these in asked.items():
        if not names:
            continue
        what = joined([sentence(f"sheets.halt_{name}") for name in names])
        if len(these) == len(halts):
            yield STAYS, sentence("sheets.halts_all", what=what)
        else:
            clocks = joined([Moment(halt.at_s, zone, "clock") for halt in these[:MOST_CLOCKS]])
            yield STAYS, sentence("sheets.halts_at", clocks=clocks, what=what)


def _rest(facts: TripFacts) -> tuple[int, Cell]:
    """Whether there may be a stop that is not planned, from when on, and for how long."""
    may, since_s = facts.may_stand_min or 0, 0.0
    if facts.rest_later:
        since_s, may = facts.rest_later
    elif not facts.rest_possible:
        return 8, sentence("sheets.road_no_rest")
    if facts.cold and may >= LONG_REST_MIN and not since_s:
        return 4, sentence("sheets.road_rest_cold")
    key = "long" if may >= LONG_REST_MIN else "short_open" if facts.air_standing == "open" else "short"
    gaps: dict[str, object] = {} if key == "long" else {"minutes": minutes(may)}
    if since_s:
        return 8, sentence(f"sheets.road_later_{key}", first=duration(since_s), **gaps)
    return 4 if key == "long" else 7, sentence(f"sheets.road_rest_{key}", **gaps)


def _air_rules(facts: TripFacts) -> Iterator[Cell]:
    """How the boxes get their air on the way; where they ride in places that differ, of each, what asks for most
    first."""
    rules: dict[Cell, list[Cell]] = {}
    for where in sorted(facts.airs, key=lambda where: ASKS_MOST.index(where.air)):
        rules.setdefault(_air_rule(facts, where), []).append(where.place)
    for rule, places in rules.items():
        yield (
            rule
            if len(rules) == 1
            else sentence("sheets.road_air_at", place=joined(places[:HANDY]), rule=rule)
        )


def _air_rule(facts: TripFacts, where: Riding) -> Cell:
    if where.air == "cooled" and where.set_point_c is not None:
        return sentence("sheets.road_cooled", temp=temp(where.set_point_c, 0))
    if where.air == "windows":
        return sentence("sheets.road_windows", place=where.place)
    if where.air == "open":
        return sentence(f"sheets.road_open_deck{_deck(facts)}")
    return sentence("sheets.road_fan" if where.air == "fan" else "sheets.road_shut_space")


def _deck(facts: TripFacts) -> str:
    """What the wind of an open deck is to this load: what it lives by, what chills it, or neither: they stand as well
    as they ride."""
    if facts.cold:
        return "_cold"
    return "_mild" if (facts.may_stand_min or 0) >= LONG_REST_MIN else ""


# -- jam and breakdown ---------------------------------------------------------------------------

WAYS = ("shut", "doors", "engine", "shade", "misted")


def jam_block(facts: TripFacts) -> Block:
    """Minutes that may pass standing at some moments of the drive, by what is done; what comes first."""
    picked = picked_stands(facts.stands)
    ways = [way for way in WAYS if way != "misted" or not facts.too_cold_to_mist]
    used = [way for way in ways if any(_minutes_of(stand, way) is not None for stand in picked)]
    worst = min((stand.shut_min for stand in picked), default=0.0)
    rows = [
        Row(
            (
                Moment(stand.at_s, facts.zone, "clock"),
                distance(stand.km),
                *(_minutes_cell(_minutes_of(stand, way)) for way in used),
            ),
            keep=8 if stand.shut_min == worst else 6,
        )
        for stand in picked
    ]
    rows += weighed((8, _first_thing(facts)), (6, _then(facts)))
    heads = (
        sentence("sheets.jam_clock"),
        sentence("sheets.jam_at"),
        *(sentence(f"sheets.jam_{way}") for way in used),
    )
    return Block("jam", sentence("sheets.jam_title"), 2, "table", tuple(rows), heads)


def picked_stands(stands: tuple[Standing, ...]) -> tuple[Standing, ...]:
    """Some moments spread over the drive, the worst one among them."""
    if len(stands) <= MOST_STANDS:
        return stands
    spread = {round(k * (len(stands) - 1) / (MOST_STANDS - 1)) for k in range(MOST_STANDS)}
    worst = min(range(len(stands)), key=lambda k: stands[k].shut_min)
    if worst not in spread:
        inner = sorted(spread)[1:-1]
        spread.discard(min(inner, key=lambda k: abs(k - worst)))
        spread.add(worst)
    return tuple(stands[k] for k in sorted(spread))


def _minutes_of(stand: Standing, way: str) -> float | None:
    value: float | None = getattr(stand, f"{way}_min")
    return value


def _minutes_cell(value: float | None) -> Cell:
    if value is None or np.isnan(value):
        return sentence("sheets.jam_none")
    if value >= MOST_MIN:
        return sentence("sheets.jam_over", count=MOST_MIN)
    return rounded_down(value)


def _first_thing(facts: TripFacts) -> Sentence:
    if facts.cold:
        return sentence(
            "sheets.jam_first_cold" if Load(facts.groups).coverable else "sheets.jam_first_cold_bare"
        )
    first = {"cooled": "sheets.jam_first_engine", "open": "sheets.jam_first_open"}.get(
        facts.air_standing, "sheets.jam_first_doors"
    )
    return sentence(f"{first}_dry" if facts.too_cold_to_mist else first)


def _then(facts: TripFacts) -> Sentence:
    if facts.phone:
        return sentence("sheets.jam_leave_road", name=facts.keeper, phone=facts.phone)
    return sentence("sheets.jam_leave_road_anyone")


# -- arrival and after ---------------------------------------------------------------------------


def arrival_block(facts: TripFacts) -> Block:
    """Where to stand, when to open, what the night, the rain or the near old stand changes."""
    load = Load(facts.groups)
    screens = any(group.screen == "on" for group in facts.groups)
    near = facts.near_m < 1000.0 * NEAR_KM
    wet = "sheets.arrival_wet" if load.entrances else "sheets.arrival_wet_bare"
    back = "sheets.arrival_near" if load.frames else "sheets.arrival_near_bare"
    cells: tuple[tuple[int, Cell | None], ...] = (
        (STAYS, set_down(load, cold=facts.cold)),
        *((STAYS, said) for said in opened(load, facts.settle_s)),
        (STAYS, sentence("sheets.arrival_dark") if facts.opens_dark else None),
        (8, sentence(wet) if facts.opens_wet else None),
        (8, sentence(back, distance=distance(NEAR_KM)) if near else None),
        (8, sentence("sheets.arrival_screens") if screens else None),
        (7, sentence("sheets.arrival_look", count=str(FIRST_LOOK_DAYS))),
    )
    return Block("arrival", sentence("sheets.arrival_title"), 2, "lines", weighed(*cells))


def after_block() -> Block:
    """What the beekeeper wants to hear back."""
    cells = (sentence(f"sheets.after_{name}") for name in ("report", "photo", "record"))
    return Block("after", sentence("sheets.after_title"), 3, "lines", lines(*cells))
