"""A folder of papers of a parcel: its labels, the page and the message of whoever takes it in."""

from __future__ import annotations

from datetime import date, datetime, time
from itertools import islice
from pathlib import Path
from zoneinfo import ZoneInfo

from planner.app.common.progress import Progress, Stop
from planner.app.inspect.codes import code_text
from planner.app.lane.journeys import posted_s
from planner.app.lane.records import LaneAnswer, Way
from planner.app.lane.words import MOSTLY, label_cells, message
from planner.app.sheets.drive import after_block
from planner.app.sheets.facts import NOWHERE, TripFacts
from planner.app.sheets.gather import Printing, after_setup, group_facts, proof_from
from planner.app.sheets.parts import Load, set_down
from planner.app.sheets.records import STAYS, Block, Figure, Label, Sheet
from planner.app.sheets.shared import (
    boxes_figure,
    emergency_block,
    head,
    lines,
    proof_block,
    route,
    signs_block,
    weighed,
)
from planner.files import made
from planner.model.box_names import free_names
from planner.model.catalogue import Catalogue
from planner.model.records import Weather
from planner.paper.folder import Fits, Wanted, labels_piece, page_piece, paper_piece, text_piece, write_pieces
from planner.words import Moment, Voice, sentence, speaking


def write_lane_papers(
    folder: Path,
    answer: LaneAnswer,
    weather: Weather,
    catalogue: Catalogue,
    printed_s: float,
    wanted: Wanted | None = None,
    *,
    keeper: str = "",
    phone: str = "",
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> tuple[tuple[Path, ...], tuple[str, ...]]:
    """Write the papers of a parcel into a folder, which is made: the paths, and remarks in words.

    Nothing is written of a parcel that is not to go. Raises StorageError, Cancelled.
    """
    wanted = wanted or Wanted()
    if answer.best is None or answer.decision not in ("go", "go_if"):
        return (), ()
    facts = lane_facts(answer, answer.best, weather, catalogue, printed_s, keeper, phone)
    page = receiver_page(answer.best, facts, wanted.language)
    pieces = [
        labels_piece(list(lane_labels(answer)), wanted),
        paper_piece("receiver", page, wanted, Fits()),
        page_piece("receiver", page, wanted),
        text_piece("message.txt", lambda: _message(answer, wanted)),
    ]
    return write_pieces(made(folder), pieces, on_progress, should_stop)


def _message(answer: LaneAnswer, wanted: Wanted) -> str:
    """What to write to the receiver, in the language of the papers."""
    with speaking(Voice(wanted.language, wanted.units)):
        return "\n".join(message(answer)) + "\n"


def lane_labels(answer: LaneAnswer) -> tuple[Label, ...]:
    """A label for every box that is posted; its code names the box, and nobody."""
    cells = tuple(label_cells(answer))
    return tuple(Label(name, code_text(name), cells) for name in islice(free_names(()), answer.lane.boxes))


def lane_facts(
    answer: LaneAnswer,
    best: Way,
    weather: Weather,
    catalogue: Catalogue,
    printed_s: float,
    keeper: str = "",
    phone: str = "",
) -> TripFacts:
    """The parcel as the sheets know a trip: handed in on the best day, taken in on the day it is due."""
    lane = answer.lane
    group = after_setup(lane.group, best.setup, catalogue)
    post_s, due_s = posted_s(lane, best.posting.day), _noon_s(best.posting.due, lane.destination.zone)
    return TripFacts(
        title=lane.title,
        origin=lane.origin.name,
        destination=lane.destination.name,
        zone=lane.origin.zone,
        zone_there=lane.destination.zone,
        decision=answer.decision,
        proof=proof_from(weather, Printing(printed_s)),
        boxes=lane.boxes,
        groups=(group_facts(group, catalogue.box_types[group.box_type], NOWHERE),),
        leave_s=post_s,
        leave_to_s=post_s,
        arrive_s=due_s,
        open_s=due_s,
        harm_of_100=None if best.harm_of_100 is None else best.harm_of_100.value,
        cold=answer.cold_share > MOSTLY,
        countries=(lane.country,),
        invented=lane.invented,
        keeper=keeper,
        phone=phone,
        trip_key=f"{lane.title} {best.posting.day.isoformat()} {best.setup}",
    )


def receiver_page(best: Way, facts: TripFacts, language: str) -> Sheet:
    """For whoever takes the parcel in: when it is due, when to ring, make ready, open."""
    zone = facts.zone_there
    top = head(
        facts,
        sentence("sheets.title_receiver"),
        (sentence("sheets.head_route"), route(facts)),
        (sentence("sheets.parcel_posted"), _day(best.posting.day, facts.zone)),
    )
    safety = (signs_block(facts, driving=False), emergency_block(facts))
    if facts.void:
        return Sheet("receiver", language, "", top, (), safety)
    figures = (
        Figure(
            "due",
            sentence("sheets.parcel_due"),
            _day(best.posting.due, zone),
            sentence("sheets.parcel_due_note"),
        ),
        Figure(
            "late",
            sentence("sheets.parcel_late"),
            _day(best.posting.late, zone),
            sentence("sheets.parcel_late_note"),
        ),
        boxes_figure(facts),
    )
    blocks = (
        _prepare(facts),
        _arrival(facts),
        *safety,
        after_block(),
        proof_block(("closed", "checked", "taken")),
    )
    return Sheet("receiver", language, "", top, figures, blocks)


def _prepare(facts: TripFacts) -> Block:
    cells = (
        sentence("sheets.parcel_be_there"),
        sentence("sheets.prepare_ground"),
        sentence("sheets.prepare_water"),
        sentence("sheets.prepare_hive") if Load(facts.groups).hived else None,
        sentence("sheets.prepare_spray"),
        sentence("sheets.prepare_people"),
    )
    return Block("prepare", sentence("sheets.prepare_title"), 2, "lines", lines(*cells))


def _arrival(facts: TripFacts) -> Block:
    load = Load(facts.groups)
    screens = load.any(lambda group: group.screen == "on")
    cells = (
        (STAYS, sentence("sheets.parcel_take_in")),
        (STAYS, sentence("sheets.parcel_refuse")),
        (STAYS, set_down(load, cold=facts.cold)),
        (STAYS, sentence("sheets.parcel_open" if load.entrances else "sheets.parcel_hive")),
        (8, sentence("sheets.arrival_screens") if screens else None),
        (8, sentence("sheets.receiver_count", boxes=sentence("sheets.boxes", count=facts.boxes))),
        (7, sentence("sheets.receiver_far")),
    )
    return Block("arrival", sentence("sheets.arrival_title"), 2, "lines", weighed(*cells))


def _noon_s(day: date, zone: str) -> float:
    return datetime.combine(day, time(12), ZoneInfo(zone)).timestamp()


def _day(day: date, zone: str) -> Moment:
    return Moment(_noon_s(day, zone), zone, "weekday_date")
