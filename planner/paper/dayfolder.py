"""A folder of sheets of a collection day: the yard's run by the minute, everybody's page, receipt and message."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from pathlib import Path

from planner.app.common.progress import Progress, Stop
from planner.app.day.records import Appointment, DayPlan
from planner.app.day.serving.drives import trip_of
from planner.app.day.standing import drive_home
from planner.app.day.words import closing_list
from planner.app.inspect.codes import code_text
from planner.app.sheets.drive import buyer_sheet
from planner.app.sheets.facts import TripFacts
from planner.app.sheets.gather import GroupWay, Printing, Way, countries_at, gather, proof_from, stands_of
from planner.app.sheets.parts import label_air, label_open
from planner.app.sheets.records import Block, Cell, Entry, Head, Label, Row, Sheet
from planner.app.sheets.shared import emergency_block, proof_of
from planner.app.sheets.stay import receipt_sheet
from planner.app.standing.reserve import Reserve
from planner.files import made
from planner.model.catalogue import Catalogue
from planner.paper.diary import calendar
from planner.paper.folder import (
    Fits,
    Piece,
    Wanted,
    file_names,
    labels_piece,
    page_piece,
    paper_piece,
    text_piece,
    write_pieces,
)
from planner.paper.spoken import Speaker
from planner.store.people import Person
from planner.words import Moment, Sentence, Voice, sentence

ROWS_A_PAGE = 24
"""Rows of the yard's run on one side."""

ALARM_MIN = 15


def write_day_papers(
    folder: Path,
    plan: DayPlan,
    catalogue: Catalogue,
    printed_s: float,
    wanted: Wanted | None = None,
    *,
    keeper: str = "",
    phone: str = "",
    standing: Mapping[int, Reserve] | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write all papers of a day into a folder, which is made: the paths, and remarks in words.

    Parameters
    ----------
    standing : how long the boxes of each buyer may stand on their way; "not known" is printed where nothing is told

    Raises StorageError, Cancelled.
    """
    press = _Press(plan, catalogue, printed_s, wanted or Wanted(), standing or {}, keeper, phone)
    return write_pieces(made(folder), list(press.pieces()), on_progress, should_stop)


class _Press:
    """Says what the files of a day are made of."""

    def __init__(
        self,
        plan: DayPlan,
        catalogue: Catalogue,
        printed_s: float,
        wanted: Wanted,
        standing: Mapping[int, Reserve],
        keeper: str,
        phone: str,
    ) -> None:
        self.plan, self.wanted, self.printed_s = plan, wanted, printed_s
        self.facts = {
            one: facts_of(plan, one, catalogue, printed_s, keeper, phone, standing.get(one.buyer))
            for one in plan.appointments
        }

    def pieces(self) -> Iterator[Piece]:
        """The files of the yard, then those of everybody."""
        wanted, fits = self.wanted, Fits()
        for number, sheet in enumerate(yard_pages(self.plan, self.printed_s, wanted.language), 1):
            name = "yard" if number == 1 else f"yard-{number}"
            yield paper_piece(name, sheet, wanted, fits)
            yield page_piece(name, sheet, wanted)
        yield text_piece("messages.txt", lambda: messages(self.plan, wanted))
        yield Piece("day.ics", lambda: (self._diary(), ()))
        if not self.plan.appointments:
            return
        yield labels_piece(list(day_labels(self.plan, self.facts)), wanted)
        people = [person_of(self.plan, one) for one in self.plan.appointments]
        for one, person, name in zip(self.plan.appointments, people, file_names(people), strict=True):
            sheet = buyer_sheet(self.facts[one], person, person.language)
            yield paper_piece(f"buyer-{name}", sheet, wanted, fits)
            yield page_piece(f"buyer-{name}", sheet, wanted)
            receipt = receipt_sheet(self.facts[one], person, person.language)
            yield paper_piece(f"receipt-{name}", receipt, wanted, fits)

    def _diary(self) -> bytes:
        key = f"{self.plan.day.title} {self.plan.day.date.isoformat()}"
        entries = list(day_entries(self.plan))
        return calendar(entries, self.wanted.language, key, stamp_s=self.printed_s, units=self.wanted.units)


# -- what is known of one appointment --------------------------------------------------------------


def facts_of(
    plan: DayPlan,
    one: Appointment,
    catalogue: Catalogue,
    printed_s: float,
    keeper: str = "",
    phone: str = "",
    standing: Reserve | None = None,
) -> TripFacts:
    """The drive of one buyer as his sheet tells it; without ``standing`` how long he may stand is not known."""
    day, buyer = plan.day, plan.day.buyers[one.buyer]
    trip, road = drive_home(plan, one)
    stands = () if standing is None else stands_of(standing, one.leave_s, one.arrive_s)
    way = Way(
        one.decision,
        leave_from_s=one.leave_s,
        leave_s=one.leave_s,
        leave_to_s=one.leave_s,
        groups=tuple(GroupWay(buyer.rides, one.setup, one.closed_s, RULES[one.closing]) for _ in one.boxes),
        harm_of_100=one.harm_of_100.value,
        stand_min=min((stand.shut_min for stand in stands), default=None),
        stands=stands,
    )
    facts = gather(trip, road, plan.weather, catalogue, way, Printing(printed_s, keeper, phone))
    return replace(
        facts,
        groups=tuple(
            replace(group, names=(name,)) for group, name in zip(facts.groups, one.boxes, strict=True)
        ),
        destination=buyer.place or buyer.name,
        arrive_s=one.arrive_s,
        open_s=one.open_s,
        settle_s=day.slots.opening_s,
        halts=(),  # a stop that was allowed for is not advised
        near_m=1000.0 * road.length_km,  # where it leads nobody has said: straight it is no further
        trip_key=f"{day.date.isoformat()} {one.buyer}",
    )


RULES = {
    "evening_before": "after_sunset",
    "before_first_flight": "before_sunrise",
    "at_handover": "at_loading",
}


def person_of(plan: DayPlan, one: Appointment) -> Person:
    """The buyer as the sheets know people."""
    buyer = plan.day.buyers[one.buyer]
    return Person(buyer.name, buyer.phone, buyer.language, boxes=one.boxes, count=len(one.boxes))


# -- the yard ----------------------------------------------------------------------------------------


def yard_pages(plan: DayPlan, printed_s: float, language: str) -> list[Sheet]:
    """The run of the day by the minute, as many sides as it takes; then who is put off."""
    zone = plan.day.yard.zone
    rows = [
        (at_s, Row((Moment(at_s, zone, "day_clock"), box, _shut(plan, one)), keep=9))
        for at_s, one, box in closing_list(plan)
    ]
    rows += [
        (
            one.slot_s,
            Row((Moment(one.slot_s, zone, "day_clock"), ", ".join(one.boxes), _handed(plan, one)), keep=9),
        )
        for one in plan.appointments
    ]
    told = [row for _, row in sorted(rows, key=lambda each: each[0])]
    parts = [told[first : first + ROWS_A_PAGE] for first in range(0, max(len(told), 1), ROWS_A_PAGE)]
    heads = (sentence("sheets.yard_time"), sentence("sheets.day_boxes"), sentence("sheets.yard_do"))
    facts = TripFacts(
        title=plan.day.title,
        origin=plan.day.yard.name,
        destination="",
        zone=zone,
        zone_there=zone,
        decision="go",
        proof=proof_from(plan.weather, Printing(printed_s)),
        boxes=sum(len(one.boxes) for one in plan.appointments),
        groups=(),
        leave_s=max((one.leave_s for one in plan.appointments), default=printed_s),
        leave_to_s=max((one.leave_s for one in plan.appointments), default=printed_s),
        arrive_s=printed_s,
        open_s=printed_s,
        countries=countries_at(trip_of(plan.day, (), (), with_stop=False), None),
        invented=plan.day.invented,
    )
    pages = []
    for number, part in enumerate(parts, 1):
        head = Head(
            sentence("sheets.day_yard", part=number, parts=len(parts)),
            (
                (sentence("sheets.day_day"), Moment(plan.day.slots.begin_s[0], zone, "date")),
                (sentence("sheets.day_yard_of"), plan.day.yard.name),
                (sentence("sheets.head_boxes"), facts.boxes),
            ),
            proof_of(facts),
        )
        blocks = [
            Block(
                "run",
                sentence("sheets.day_run"),
                2,
                "table",
                tuple(part),
                heads,
                wide=True,
                more="sheets.yard_more",
            )
        ]
        if number == len(parts):
            blocks += [*_put_off(plan), emergency_block(facts)]
        pages.append(Sheet("yard", language, "", head, (), tuple(blocks)))
    return pages


def _shut(plan: DayPlan, one: Appointment) -> Sentence:
    gaps = {"name": plan.day.buyers[one.buyer].name, "setup": sentence(f"sheets.day_setup_{one.setup}")}
    if one.bays:
        return sentence("sheets.day_shut_bay", bays=", ".join(map(str, one.bays)), **gaps)
    return sentence("sheets.day_shut", **gaps)


def _handed(plan: DayPlan, one: Appointment) -> Sentence:
    buyer = plan.day.buyers[one.buyer]
    gaps = {"name": buyer.name, "setup": sentence(f"sheets.day_setup_{one.setup}")}
    shut = one.closing == "at_handover"
    if buyer.phone:
        key = "sheets.day_hand_shut_phone" if shut else "sheets.day_hand_phone"
        return sentence(key, phone=buyer.phone, **gaps)
    return sentence("sheets.day_hand_shut" if shut else "sheets.day_hand", **gaps)


def _put_off(plan: DayPlan) -> Iterator[Block]:
    rows = []
    for one in plan.put_off:
        next_day: Cell = "" if one.next_day_s is None else Moment(one.next_day_s, plan.day.yard.zone, "date")
        rows.append(Row((plan.day.buyers[one.buyer].name, next_day), keep=7))
    if rows:
        heads = (sentence("sheets.yard_name"), sentence("sheets.day_next"))
        yield Block(
            "people",
            sentence("sheets.day_put_off"),
            2,
            "table",
            tuple(rows),
            heads,
            wide=True,
            more="sheets.yard_more",
        )


# -- labels, calendar, messages ----------------------------------------------------------------------


def day_labels(plan: DayPlan, facts: Mapping[Appointment, TripFacts]) -> Iterator[Label]:
    """A label for every box that goes; its code names the box, and nobody."""
    for one, theirs in facts.items():
        at = Moment(one.open_s, plan.day.yard.zone)
        for group in theirs.groups:
            lines: tuple[Cell, ...] = (sentence("sheets.label_live"), label_air(group), label_open(group, at))
            yield from (Label(box, code_text(box), lines) for box in group.names)


def day_entries(plan: DayPlan) -> Iterator[Entry]:
    """Shutting beforehand and every slot, for the producer's calendar."""
    lasts_s = plan.day.slots.lasts_s
    shut: dict[float, list[str]] = {}
    for at_s, _, box in closing_list(plan):
        shut.setdefault(at_s, []).append(box)
    for at_s, boxes in shut.items():
        title = sentence("sheets.day_entry_shut", boxes=", ".join(boxes))
        yield Entry(
            f"shut-{at_s:.0f}",
            at_s,
            at_s + plan.day.hands.closing_s,
            title,
            (),
            plan.day.yard.name,
            ALARM_MIN,
        )
    for one in plan.appointments:
        title = sentence(
            "sheets.day_entry_slot", name=plan.day.buyers[one.buyer].name, boxes=", ".join(one.boxes)
        )
        yield Entry(
            f"buyer-{one.buyer}",
            one.slot_s,
            one.slot_s + lasts_s,
            title,
            (_handed(plan, one),),
            plan.day.yard.name,
            ALARM_MIN,
        )


def messages(plan: DayPlan, wanted: Wanted) -> str:
    """What to write to everybody, in their language, to be copied; nothing is sent."""
    zone, parts = plan.day.yard.zone, []
    for one in plan.appointments:
        buyer = plan.day.buyers[one.buyer]
        text = sentence(
            "sheets.day_message",
            name=buyer.name,
            yard=plan.day.yard.name,
            slot=Moment(one.slot_s, zone, "day_clock"),
            day=Moment(one.slot_s, zone, "date"),
            boxes=", ".join(one.boxes),
            open=Moment(one.open_s, zone, "clock"),
        )
        parts.append(_message(text, buyer.name, buyer.phone, buyer.language, wanted))
    for off in plan.put_off:
        buyer = plan.day.buyers[off.buyer]
        gaps: dict[str, object] = {"name": buyer.name, "day": Moment(plan.day.slots.begin_s[0], zone, "date")}
        text = sentence("sheets.day_message_off", **gaps)
        if off.next_day_s is not None:
            text = sentence("sheets.day_message_off_next", next=Moment(off.next_day_s, zone, "date"), **gaps)
        parts.append(_message(text, buyer.name, buyer.phone, buyer.language, wanted))
    return "\n".join(parts)


def _message(text: Sentence, name: str, phone: str, language: str, wanted: Wanted) -> str:
    speaker = Speaker(Voice(language, wanted.units), on_paper=False)
    return f"{name} {phone}".rstrip() + "\n" + speaker.said(text) + "\n"
