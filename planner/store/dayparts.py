"""The tables of a day file as records; every function raises InputError with all its faults.

Every function takes tables that keep the published schema; here stands what no schema can say.
"""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterator, Sequence

from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Site
from planner.store.clocks import day_of, instant_s
from planner.store.dayrecords import Buyer, Hands, SaleBox, Slots, Span, Stock
from planner.store.dayrules import day_rules
from planner.store.documents import Document
from planner.store.schema import did_you_mean, shown
from planner.store.tripparts import Calls, FaultList, group_of
from planner.words import say

SPAN = re.compile(r"(\d\d:\d\d) *- *(\d\d:\d\d)")
NAME = re.compile(r"[^\s;,/]+")


class Clock:
    """Local clock times of one day at one yard."""

    def __init__(self, day: str, zone: str) -> None:
        self.day, self.zone = day, zone

    def at_s(self, clock: str, field: str) -> float:
        """The instant clocks show a time. Raises InputError for times that night skips or repeats."""
        return instant_s(f"{self.day}T{clock}", self.zone, field)

    def span(self, text: str, field: str) -> Span:
        """A span such as ``05:00-10:00``."""
        begin, end = SPAN.findall(text)[0]
        first, last = self.at_s(begin, field), self.at_s(end, field)
        if last <= first:
            raise InputError(
                [Fault(field, text, say("day.span_backwards"), say("day.span_backwards_remedy"))]
            )
        return first, last

    def spans(self, texts: Sequence[str], field: str) -> tuple[Span, ...]:
        return tuple(self.span(text, field) for text in texts)


def clock_of(draft: Document, yard: Site) -> Clock:
    return Clock(day_of(draft["date"], "date").isoformat(), yard.zone)


def slots_of(table: Document, clock: Clock) -> Slots:
    """The slots that fit into the spans."""
    lasts_s = table.get("minutes", 15) * 60.0
    begins: set[float] = set()
    for at, text in enumerate(table["spans"]):
        first, last = clock.span(text, f"slots.spans[{at}]")
        count = int((last - first) / lasts_s + 1e-9)
        if not count:
            problem = say("day.no_slot_fits")
            raise InputError([Fault(f"slots.spans[{at}]", text, problem, say("day.no_slot_fits_remedy"))])
        begins |= {first + number * lasts_s for number in range(count)}
    ordered = sorted(begins)
    if any(later - sooner < lasts_s for sooner, later in itertools.pairwise(ordered)):
        shown_spans = shown(table["spans"])
        raise InputError(
            [Fault("slots.spans", shown_spans, say("day.spans_overlap"), say("day.spans_overlap_remedy"))]
        )
    return Slots(
        tuple(ordered),
        lasts_s,
        table.get("loading_minutes", 10) * 60.0,
        table.get("opening_minutes", 30) * 60.0,
    )


def hands_of(table: Document) -> Hands:
    return Hands(
        int(table["people"]),
        table.get("minutes_per_box", 10) * 60.0,
        table.get("closing_minutes", 4) * 60.0,
        table.get("evening_minutes", 90) * 60.0,
        table.get("dawn_minutes", 60) * 60.0,
    )


def stock_of(table: Document) -> Stock:
    return Stock(int(table.get("roof_screens", 0)), table.get("straps"), table.get("boxes"))


# -- boxes ---------------------------------------------------------------------------------------


def boxes_of(draft: Document, clock: Clock, yard: Site, catalogue: Catalogue) -> tuple[SaleBox, ...]:
    """Every box for sale: the usual one with what its row says otherwise."""
    usual, faults, boxes = draft["box"], FaultList(), []
    waypoints = Calls(yard, (), yard)
    for at, row in enumerate(draft.get("boxes", [])):
        field = f"boxes[{at}]"
        own = {key: value for key, value in row.items() if key not in ("id", "check", "ready")}
        if "bees_kg" in own or "frames_of_bees" in own:  # bees are counted in one way
            own = {**{k: v for k, v in usual.items() if k not in ("bees_kg", "frames_of_bees")}, **own}
        table = {**usual, **own, "label": row["id"], "count": 1}
        with faults.caught():
            group = group_of(table, field, waypoints, catalogue)
            ready_s = clock.at_s(row["ready"], f"{field}.ready") if "ready" in row else math.nan
            boxes.append(SaleBox(row["id"], group, row.get("check", "not_looked"), ready_s))
    faults += _twice(draft.get("boxes", []), "boxes", "id")
    faults.raise_any()
    return tuple(boxes)


def _twice(rows: Sequence[Document], what: str, key: str) -> Iterator[Fault]:
    """Names that two rows have; capitals do not tell people apart."""
    first: dict[str, int] = {}
    for at, row in enumerate(rows):
        name = str(row.get(key, "")).strip().casefold()
        if name and first.setdefault(name, at) != at:
            problem = say("day.named_twice", field=f"{what}[{first[name]}]")
            yield Fault(f"{what}[{at}].{key}", row[key], problem, say("day.named_twice_remedy"))


# -- buyers --------------------------------------------------------------------------------------


def buyers_of(draft: Document, clock: Clock, slots: Slots, catalogue: Catalogue) -> tuple[Buyer, ...]:
    """Everybody who collects."""
    faults, buyers = FaultList(), []
    for at, row in enumerate(draft.get("buyers", [])):
        with faults.caught():
            buyers.append(_buyer(row, f"buyers[{at}]", clock, slots, catalogue))
    faults += _twice(draft.get("buyers", []), "buyers", "name")
    faults.raise_any()
    return tuple(buyers)


def _buyer(row: Document, field: str, clock: Clock, slots: Slots, catalogue: Catalogue) -> Buyer:
    faults = FaultList()
    if "drive_minutes" not in row and "place" not in row:
        remedy = say("day.no_drive_remedy")
        faults.append(Fault(f"{field}.drive_minutes", "", say("day.no_drive", name=row["name"]), remedy))
    rides, wish_s, told_s = "", math.nan, math.nan
    spans: tuple[Span, ...] = ()
    with faults.caught():
        rides = rides_in(row, field, catalogue)
    with faults.caught():
        spans = _times(row.get("times", ""), f"{field}.times", clock, slots)
    with faults.caught():
        wish_s = clock.at_s(row["wish"], f"{field}.wish") if "wish" in row else math.nan
    with faults.caught():
        told_s = _told(row, f"{field}.told", clock, slots)
    faults.raise_any()
    return Buyer(
        name=row["name"].strip(),
        boxes=int(row.get("boxes", 1)),
        drive_s=row.get("drive_minutes", math.nan) * 60.0,
        rides=rides,
        place=row.get("place", ""),
        spans=spans,
        wish_s=wish_s,
        language=row.get("language", "en"),
        phone=row.get("phone", ""),
        first_timer=row.get("first_timer", False),
        boxes_named=tuple(NAME.findall(row.get("box", ""))),
        setup=row.get("setup", ""),
        told_s=told_s,
    )


def rides_in(row: Document, field: str, catalogue: Catalogue) -> str:
    """The loading place a buyer's vehicle offers."""
    if "rides" in row:
        if row["rides"] not in catalogue.loading_places:
            remedy = did_you_mean(row["rides"], catalogue.loading_places)
            raise InputError([Fault(f"{field}.rides", row["rides"], say("day.no_such_place"), remedy)])
        return str(row["rides"])
    rules = day_rules()
    vehicle = row.get("vehicle", rules.usual_vehicle)
    if vehicle not in rules.rides:
        remedy = did_you_mean(vehicle, rules.rides)
        raise InputError([Fault(f"{field}.vehicle", vehicle, say("day.no_such_vehicle"), remedy)])
    return rules.rides[vehicle][1 if row.get("cooling", False) else 0]


def _times(text: str, field: str, clock: Clock, slots: Slots) -> tuple[Span, ...]:
    spans = tuple(clock.span(f"{a}-{b}", field) for a, b in SPAN.findall(text))
    if spans and not any(a <= begin < b for a, b in spans for begin in slots.begin_s):
        raise InputError([Fault(field, text, say("day.times_outside"), say("day.times_outside_remedy"))])
    return spans


def _told(row: Document, field: str, clock: Clock, slots: Slots) -> float:
    if "told" not in row:
        return math.nan
    told_s = clock.at_s(row["told"], field)
    if told_s not in slots.begin_s:
        raise InputError([Fault(field, row["told"], say("day.told_no_slot"), say("day.told_no_slot_remedy"))])
    return told_s


# -- what does not go together -------------------------------------------------------------------


def together_faults(buyers: Sequence[Buyer], boxes: Sequence[SaleBox], stock: Stock) -> Iterator[Fault]:
    """More wanted or promised than there is, one box promised to two."""
    wanted = 0
    for at, buyer in enumerate(buyers):
        wanted += buyer.boxes
        if wanted > len(boxes):
            problem = say("day.too_few_boxes", wanted=sum(b.boxes for b in buyers), there=len(boxes))
            remedy = say("day.too_few_boxes_remedy")
            yield Fault(f"buyers[{at}].boxes", str(buyer.boxes), problem, remedy)
            break
    known = {box.name for box in boxes}
    owner: dict[str, str] = {}
    promised = 0
    for at, buyer in enumerate(buyers):
        for name in buyer.boxes_named:
            field = f"buyers[{at}].box"
            if name not in known:
                yield Fault(field, name, say("day.no_such_box"), did_you_mean(name, known))
            elif owner.setdefault(name, buyer.name) != buyer.name:
                problem = say("day.box_promised", name=owner[name])
                yield Fault(field, name, problem, say("day.box_promised_remedy"))
        if buyer.boxes_named and len(set(buyer.boxes_named)) != buyer.boxes:
            problem = say("day.more_named", count=len(set(buyer.boxes_named)), boxes=buyer.boxes)
            yield Fault(
                f"buyers[{at}].box", " ".join(buyer.boxes_named), problem, say("day.more_named_remedy")
            )
        promised += buyer.boxes if buyer.setup == "roof_screen" else 0
        if buyer.setup == "roof_screen" and promised > stock.roof_screens:
            problem = say("day.screens_promised", count=promised, stock=stock.roof_screens)
            yield Fault(f"buyers[{at}].setup", buyer.setup, problem, say("day.screens_promised_remedy"))
            break
