"""Blocks that several sheets share: head, three numbers, signs, emergency, proof."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Sequence
from functools import cache

from planner.app.sheets.facts import MOST_MIN, GroupFacts, TripFacts
from planner.app.sheets.parts import Load
from planner.app.sheets.records import Block, Cell, Figure, Head, Row
from planner.bundled import resource_path
from planner.words import Moment, Sentence, Stretch, distance, duration, minutes, sentence

MOST_NAMES = 8
"""Names of boxes in a head; the rest is counted."""
MOST_GROUPS = 2
CAUTIOUS_OF_100 = 5
"""The standing time is the one that so many of 100 variants fall short of."""


def lines(*cells: Cell | None) -> tuple[Row, ...]:
    """A row for each sentence there is."""
    return tuple(Row((cell,)) for cell in cells if cell is not None)


def weighed(*cells: tuple[int, Cell | None]) -> tuple[Row, ...]:
    """A row for each sentence there is, with what it is worth when the side is full."""
    return tuple(Row((cell,), keep=keep) for keep, cell in cells if cell is not None)


def shortened(text: str, most: int) -> str:
    """A text in a list where each has one line."""
    return text if len(text) <= most else f"{text[: most - 1]}…"


# -- head ----------------------------------------------------------------------------------------


def head(facts: TripFacts, title: Cell, *pairs: tuple[Sentence, Cell] | None) -> Head:
    """The head of a sheet: pairs of name and value, where it comes from, and why it has no figures."""
    return Head(title, tuple(pair for pair in pairs if pair is not None), proof_of(facts), void_of(facts))


def void_of(facts: TripFacts) -> tuple[Cell, ...]:
    """What stands in the head of a sheet without figures."""
    if not facts.void:
        return ()
    return sentence(f"sheets.void_{facts.void}"), sentence(f"sheets.void_{facts.void_why}_why")


def proof_of(facts: TripFacts) -> tuple[Cell, ...]:
    """Printed at, forecast of, valid until, the code of the plan, and what it replaces."""
    proof, zone = facts.proof, facts.zone
    out: list[Cell] = [sentence("sheets.printed", at=Moment(proof.printed_s, zone, "stamp"))]
    if proof.issued_s is not None:
        out.append(sentence("sheets.forecast_of", at=Moment(proof.issued_s, zone, "stamp")))
    else:
        out.append(sentence(f"sheets.weather_kind_{proof.kind}"))
    if not facts.void:
        out.append(sentence("sheets.valid_until", at=Moment(facts.valid_until_s, zone, "stamp")))
    out.append(sentence("sheets.code", code=facts.code))
    if proof.replaces:
        out.append(sentence("sheets.replaces", code=proof.replaces))
    if facts.invented:
        out.append(sentence("sheets.invented"))
    out.append(sentence("sheets.advice"))
    return tuple(out)


def route(facts: TripFacts) -> Sentence:
    return sentence("sheets.route", origin=facts.origin, destination=facts.destination)


def names_of(names: Sequence[str], count: int) -> Cell:
    """Names of boxes as far as there is room, or how many."""
    if not names:
        return sentence("sheets.boxes", count=count)
    if len(names) <= MOST_NAMES:
        return ", ".join(names)
    shown = ", ".join(names[: MOST_NAMES - 1])
    return sentence("sheets.names_and_more", names=shown, count=str(len(names) - MOST_NAMES + 1))


def groups_text(groups: Sequence[GroupFacts]) -> Cell:
    """``12 x Overwintered; 4 x Splits``: the load in one line."""
    if len(groups) == 1:
        return counted(groups[0])
    if len(groups) > MOST_GROUPS:
        boxes = sentence("sheets.boxes", count=sum(group.count for group in groups))
        return sentence("sheets.boxes_in_groups", boxes=boxes, groups=str(len(groups)))
    first, second = map(counted, groups)
    return sentence("sheets.rides_two", first=first, second=second)


def counted(group: GroupFacts) -> Sentence:
    """``12 x Overwintered``: a group that shares its label with another is told apart by how many boxes it has."""
    return sentence("sheets.groups_count", count=group.count, label=group.label)


def road_of(facts: TripFacts) -> Sentence:
    key = "sheets.road_estimated" if facts.road_estimated else "sheets.road"
    return sentence(key, distance=distance(facts.km), duration=duration(facts.driving_s))


# -- the three numbers ---------------------------------------------------------------------------


def leave_figure(facts: TripFacts) -> Figure:
    """Between which instants wheels may turn."""
    assert facts.leave_s is not None
    begin = facts.leave_s if facts.leave_from_s is None else facts.leave_from_s
    end = facts.leave_s if facts.leave_to_s is None else facts.leave_to_s
    label = "sheets.leave_at" if begin == end else "sheets.leave_between"
    return Figure("leave", sentence(label), clocks(begin, end, facts.zone), days(begin, end, facts.zone))


def stand_figure(facts: TripFacts) -> Figure:
    """The one answer's standing time, rounded down."""
    may = facts.may_stand_min
    label, note = sentence("sheets.stand_still"), sentence("sheets.stand_note", count=str(CAUTIOUS_OF_100))
    if facts.rest_later:
        first = duration(facts.rest_later[0])
        note = sentence("sheets.stand_note_first", duration=first, count=str(CAUTIOUS_OF_100))
    if may is None:
        return Figure("stand", label, sentence("sheets.unknown_number"))
    value: Cell = minutes(may) if may else sentence("sheets.do_not_stop")
    if may >= MOST_MIN:
        value = sentence("sheets.stand_over", minutes=minutes(may))
    return Figure("stand", label, value, note)


def open_figure(facts: TripFacts, note: str = "open_note") -> Figure:
    """When the entrances are opened; it moves with the start."""
    assert facts.open_s is not None
    begin, end = (facts.open_s + shift for shift in window_shifts(facts))
    said = sentence(f"sheets.{note}", duration=duration(facts.settle_s))
    if facts.gate_s is not None:
        assert facts.arrive_s is not None
        arrivals = (facts.arrive_s + shift for shift in window_shifts(facts))
        begin, end = (max(at_s, facts.gate_s) + facts.settle_s for at_s in arrivals)
        said = sentence("sheets.open_note_gate", clock=Moment(facts.gate_s, facts.zone_there, "clock"))
    return Figure("open", sentence("sheets.open_at"), clocks(begin, end, facts.zone_there), said)


def arrive_figure(facts: TripFacts) -> Figure:
    assert facts.arrive_s is not None
    begin, end = (facts.arrive_s + shift for shift in window_shifts(facts))
    zone = facts.zone_there
    return Figure("arrive", sentence("sheets.arrives_at"), clocks(begin, end, zone), days(begin, end, zone))


def boxes_figure(facts: TripFacts) -> Figure:
    return Figure("boxes", sentence("sheets.boxes_number"), facts.boxes)


def window_shifts(facts: TripFacts) -> tuple[float, float]:
    """How much earlier and later than the best start the first and the last start advised are, s."""
    assert facts.leave_s is not None
    begin = facts.leave_s if facts.leave_from_s is None else facts.leave_from_s
    end = facts.leave_s if facts.leave_to_s is None else facts.leave_to_s
    return begin - facts.leave_s, end - facts.leave_s


def clocks(begin_s: float, end_s: float, zone: str) -> Cell:
    """``21:00-23:00``, or one clock where both are the same."""
    begin, end = Moment(begin_s, zone, "clock"), Moment(end_s, zone, "clock")
    return begin if begin_s == end_s else sentence("sheets.from_to", begin=begin, end=end)


def days(begin_s: float, end_s: float, zone: str) -> Cell:
    """The day of a stretch, or both where it goes over midnight."""
    return Stretch(begin_s, end_s, zone, days_only=True)


# -- signs ---------------------------------------------------------------------------------------


DRAWN = {"drip": "wet"}
"""Signs that are drawn as another."""


def signs_block(facts: TripFacts, *, driving: bool = True) -> Block:
    """The signs by ear and eye with what to do; that of cold before the others where cold is the danger."""
    hum = "sign_hum_do" if facts.mist_s and driving else "sign_hum_do_dry"
    moving = "sign_roar_do_cooled" if facts.air_standing == "cooled" else "sign_roar_do"
    roar = moving if driving else "sign_roar_do_standing"
    load = Load(facts.groups)
    rows = [
        ("hum", hum),
        ("roar", f"{roar}_dry" if facts.too_cold_to_mist else roar),
        ("silence", "sign_silence_do"),
        ("wet", "sign_wet_do"),
        *([("drip", "sign_drip_do")] if load.cans else []),
        *([("loose", "sign_loose_do")] if driving else []),
        ("cold", "sign_cold_do" if load.coverable else "sign_cold_do_bare"),
    ]
    if facts.cold:
        rows.insert(1, rows.pop())
    return Block(
        "signs",
        sentence("sheets.signs_title"),
        1,
        "signs",
        tuple(
            Row((sentence(f"sheets.sign_{name}"), sentence(f"sheets.{do}")), DRAWN.get(name, name))
            for name, do in rows
        ),
        (sentence("sheets.signs_sign"), sentence("sheets.signs_do")),
        safety=True,
        wide=True,
    )


# -- emergency -----------------------------------------------------------------------------------


@cache
def emergency_numbers() -> dict[str, tuple[str, ...]]:
    """Emergency numbers by country code, from ``resources/emergency.toml``."""
    table = tomllib.loads(resource_path("emergency.toml").read_text(encoding="utf-8"))["numbers"]
    return {country: tuple(numbers) for country, numbers in table.items()}


def emergency_block(facts: TripFacts) -> Block:
    """Whom to call in the countries on the road, sting and crash."""
    keeper = (
        sentence("sheets.emergency_keeper", name=facts.keeper, phone=facts.phone)
        if facts.phone
        else sentence("sheets.emergency_keeper_blank")
    )
    crash = sentence("sheets.emergency_crash", boxes=sentence("sheets.boxes", count=facts.boxes))
    stings = (sentence(f"sheets.emergency_sting_{line}") for line in range(1, 5))
    return Block(
        "emergency",
        sentence("sheets.emergency_title"),
        1,
        "lines",
        lines(*_calls(facts.countries), *stings, crash, keeper),
        safety=True,
        wide=True,
    )


def _calls(countries: Sequence[str]) -> Iterator[Sentence]:
    """One line with every number and its countries; another for the countries that nobody has looked up."""
    known = emergency_numbers()
    by_number: dict[str, list[str]] = {}
    for country in countries:
        if country in known:
            by_number.setdefault(" / ".join(known[country]), []).append(country)
    unknown = [country for country in countries if country not in known]
    if by_number:
        texts = [f"{number} ({', '.join(there)})" for number, there in by_number.items()]
        yield sentence("sheets.emergency_number", numbers=", ".join(texts))
    if unknown or not countries:
        yield sentence("sheets.emergency_unknown", countries=", ".join(unknown) or "?")


# -- proof ---------------------------------------------------------------------------------------


def proof_block(names: Sequence[str] = ("closed", "checked", "given", "taken")) -> Block:
    """Lines to be filled in at handover."""
    return Block(
        "proof",
        sentence("sheets.proof_title"),
        2,
        "blanks",
        lines(*(sentence(f"sheets.proof_{name}") for name in names)),
        wide=True,
    )
