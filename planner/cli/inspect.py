"""``skepway inspect TRIP``: the boxes before the start: what was found is written down and judged at once."""

from __future__ import annotations

import argparse
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.app.answer.settled import ONLY
from planner.app.inspect.decide import Decision, decided, overridden
from planner.app.inspect.items import (
    NOTHING,
    Finding,
    asked_by_box,
    boxes_of,
)
from planner.app.inspect.judge import SEED, Judge
from planner.app.inspect.labels import list_html
from planner.app.inspect.photos import found_on, looked_at, reading_said
from planner.app.inspect.pinned import pin, pinned_before, unpinned
from planner.app.inspect.records import CheckedBox, checked, start_remarks, write_decision, write_findings
from planner.app.inspect.typed import found_in, measured, table_csv, typed_in
from planner.app.plan.results import Plan
from planner.cli.candidate import looked_at as advised
from planner.cli.exits import Exit
from planner.cli.logbook import add_same, content_of, entered_in_words
from planner.cli.options import add_json, add_sources, add_trip, catalogue_of, write_json
from planner.cli.planning import SAMPLES
from planner.errors import Fault, InputError, ServiceError
from planner.files import made, write_text
from planner.model.catalogue import Catalogue
from planner.model.records import Trip
from planner.store.logbook.book import Logbook
from planner.store.logbook.identity import trip_key
from planner.store.logbook.records import Picture, PinnedPlan
from planner.store.schema import did_you_mean
from planner.store.tripfile import load_trip, read_draft
from planner.units import METRIC
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_sources(parser)
    parser.add_argument(
        "--box",
        nargs="+",
        default=[],
        metavar=("BOX", "ITEM=FOUND"),
        help="name of a box and what was found on it: B023B floor=40 straps=ok screen=no",
    )
    parser.add_argument(
        "--typed",
        type=Path,
        metavar="FILE",
        help="take in a list (CSV: box and a column an item) that was printed, written on and typed",
    )
    parser.add_argument(
        "--photo",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="photo of the floor mesh against the light; it finds its box by the label's QR code",
    )
    parser.add_argument(
        "--override",
        default="",
        metavar="REASON",
        help="let the box go all the same; the reason is printed on the receipt",
    )
    parser.add_argument("--who", default="", metavar="NAME", help="name or initials of whoever looked")
    parser.add_argument("--leave", default="", metavar="WHEN", help="judge for this departure (the best)")
    parser.add_argument("--place", default="", metavar="NAME", help="judge for this loading place (the best)")
    parser.add_argument(
        "--list",
        type=Path,
        metavar="FILE",
        help="write the list to print, with QR codes, as HTML; FILE.csv: to type into",
    )
    add_same(parser)
    add_json(parser)
    parser.set_defaults(samples=SAMPLES, seed=SEED, units=METRIC.name)


def run(args: argparse.Namespace) -> int:
    catalogue = catalogue_of(args)
    trip = load_trip(args.trip, catalogue).trip
    if args.list:
        return _list(args, trip, catalogue)
    if args.photo:
        return _photos(args, trip, catalogue)
    if args.typed:
        return _typed(args, trip, catalogue)
    if args.box:
        box, found = args.box[0], found_in(args.box[1:])
        _known(trip, box)
        print_decision(box, desk_of(args, trip, catalogue).record(box, found, override=args.override))
        return Exit.FINE
    return _overview(args, trip, catalogue)


def _known(trip: Trip, box: str) -> None:
    """Say so before anything is planned or entered, where a box is none of this trip's."""
    names = [one.name for one in boxes_of(trip)]
    if box not in names:
        raise InputError([Fault("--box", box, say("checks.no_box"), did_you_mean(box, names))])


def _list(args: argparse.Namespace, trip: Trip, catalogue: Catalogue) -> int:
    """The list to print, or, under a name that ends in .csv, to type into."""
    asked = asked_by_box(trip, catalogue)
    made(args.list.parent)
    write_text(
        args.list, table_csv(asked) if args.list.suffix.lower() == ".csv" else list_html(trip, catalogue)
    )
    print(say("checks.list_written", path=str(args.list), boxes=say("checks.count_boxes", count=len(asked))))
    return Exit.FINE


def _typed(args: argparse.Namespace, trip: Trip, catalogue: Catalogue) -> int:
    """A whole list taken in: every box of which something is said judged and written down."""
    found = typed_in(content_of(args.typed), [box.name for box in boxes_of(trip)], args.typed.name)
    desk = desk_of(args, trip, catalogue)
    for box, findings in found.items():
        print_decision(box, desk.record(box, findings))
    print(say("checks.typed_in", boxes=say("checks.count_boxes", count=len(found))))
    return Exit.FINE


# -- all boxes -------------------------------------------------------------------------------------


def _overview(args: argparse.Namespace, trip: Trip, catalogue: Catalogue) -> int:
    known = checked(Logbook(), trip_key(args.trip))
    if args.json:
        write_json(args.json, _document(trip, known, catalogue))
        return Exit.FINE
    asked = asked_by_box(trip, catalogue)
    for box in boxes_of(trip):
        found = known.get(box.name)
        if found is None:
            print(say("checks.box_line_new", box=box.name))
        else:
            outcome = found.said or say("checks.outcome_not_looked")
            count = len(asked[box.name])
            print(say("checks.box_line", box=box.name, looked=found.looked, all=count, outcome=outcome))
    for line in start_remarks(trip, known, catalogue) or (say("checks.all_checked"),):
        print(line)
    return Exit.FINE


def _document(trip: Trip, known: Mapping[str, CheckedBox], catalogue: Catalogue) -> dict[str, Any]:
    asked = asked_by_box(trip, catalogue)
    return {
        "skepway_inspect": 1,
        "trip": trip.title,
        "boxes": {
            box.name: {
                "outcome": known[box.name].outcome if box.name in known else "",
                "override": known[box.name].override if box.name in known else "",
                "found": {
                    item.name: _plain(
                        known[box.name].findings.get(item.name, NOTHING) if box.name in known else NOTHING
                    )
                    for item in asked[box.name]
                },
            }
            for box in boxes_of(trip)
        },
        "start": list(start_remarks(trip, known, catalogue)),
    }


def _plain(finding: Finding) -> dict[str, Any]:
    return {"state": finding.state, "value": finding.value, "how": finding.how, "remark": finding.remark}


# -- one box ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Desk:
    """What boxes are judged by and where it is written down: made once, however many boxes there are."""

    logbook: Logbook
    key: str
    plan: str
    judge: Judge
    boxes: tuple[str, ...]
    who: str

    def record(
        self, box: str, found: Mapping[str, Finding], pictures: Sequence[Picture] = (), override: str = ""
    ) -> Decision:
        """Judge a box as it was found, then write both down. Raises InputError for a box of another trip."""
        if box not in self.boxes:
            raise InputError([Fault("--box", box, say("checks.no_box"), did_you_mean(box, self.boxes))])
        now_s = time.time()
        before = checked(self.logbook, self.key).get(box, CheckedBox({}))
        findings = {**before.findings, **measured(found, self.judge.planned(box))}
        decision = decided(findings, box, self.judge)
        if override:
            decision = overridden(decision, findings, override)
        write_findings(
            self.logbook,
            self.key,
            box,
            findings,
            at_s=now_s,
            who=self.who,
            plan=self.plan,
            offset_s=int(time.localtime(now_s).tm_gmtoff),
            pictures=pictures,
            known=before.findings,
        )
        write_decision(self.logbook, self.key, box, decision, at_s=now_s, who=self.who, plan=self.plan)
        return decision


def desk_of(args: argparse.Namespace, trip: Trip, catalogue: Catalogue) -> Desk:
    """The trip entered in the logbook, and the plan its boxes are judged by."""
    logbook = Logbook()
    key = entered_in_words(logbook, args)
    pinned, judge = judged_by(args, logbook, key, catalogue)
    names = tuple(box.name for box in boxes_of(trip))
    return Desk(logbook, key, pinned.id, judge, names, logbook.person_key(args.who))


def judged_by(
    args: argparse.Namespace, logbook: Logbook, key: str, catalogue: Catalogue
) -> tuple[PinnedPlan, Judge]:
    """The plan boxes are judged by: the one pinned before where nothing has changed, else one made and pinned now."""
    draft = read_draft(args.trip)
    pinned = None
    if not (args.leave or args.place or args.refresh):
        pinned = pinned_before(logbook, key, draft, catalogue)
    if pinned is None:
        plan = _answered(args, catalogue)
        pinned = pin(logbook, key, plan, ONLY, draft, catalogue, made_s=time.time())
    return pinned, Judge(unpinned(pinned.snapshot, catalogue), catalogue)


def _answered(args: argparse.Namespace, catalogue: Catalogue) -> Plan:
    """The plan of what the answer advises, or of the departure and place that are named.

    Raises ServiceError where weather or road is missing, so that there is nothing to judge by.
    """
    found = advised(args, catalogue)
    if isinstance(found, Exit):
        raise ServiceError(say("checks.page_title"), say("checks.no_plan"), say("checks.no_plan_remedy"))
    return found.plan


def print_decision(box: str, decision: Decision) -> None:
    """What became of a box, the answer first."""
    print(say("checks.box_said", box=box, headline=decision.headline))
    for line in (*decision.reasons, *decision.cautions):
        print(f"  - {line}")


# -- photos ----------------------------------------------------------------------------------------


def _photos(args: argparse.Namespace, trip: Trip, catalogue: Catalogue) -> int:
    """Each photo to its box: by the label's code, or the box that was named; the mesh read where it is on it."""
    given = args.box[0] if args.box else ""
    desk = None
    for path in args.photo:
        looked = looked_at(content_of(path), path.name, trip.origin.zone)
        box = given or looked.box or ""
        if not box:
            print(say("checks.photo_no_box", file=path.name, boxes=", ".join(looked.boxes) or "-"))
            continue
        _known(trip, box)
        print(reading_said(looked, box))
        found = {**found_in(args.box[1:]), **found_on(looked)}
        desk = desk or desk_of(args, trip, catalogue)
        print_decision(box, desk.record(box, found, (looked.picture,), args.override))
    return Exit.FINE
