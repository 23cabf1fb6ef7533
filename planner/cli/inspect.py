"""``skepway inspect TRIP``: the boxes before the start: what was found is written down and judged at once."""

from __future__ import annotations

import argparse
import hashlib
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from planner.app.inspect.decide import Decision, decided, overridden
from planner.app.inspect.items import (
    NOT_LOOKED,
    NOT_OK,
    NOTHING,
    OK,
    Finding,
    boxes_of,
    checked_value,
    item_of,
    items,
    planned_value,
)
from planner.app.inspect.judge import Judge
from planner.app.inspect.labels import list_html
from planner.app.inspect.photos import Looked, looked_at
from planner.app.inspect.pinned import pin, pinned_before, unpinned
from planner.app.inspect.records import CheckedBox, checked, start_remarks, write_decision, write_findings
from planner.app.plan.results import Choice, Plan
from planner.cli.exits import Exit
from planner.cli.logbook import add_same, content_of, entered_in_words
from planner.cli.options import add_json, add_sources, add_trip, catalogue_of, write_json
from planner.cli.planning import planned_of
from planner.errors import Fault, InputError
from planner.files import write_text
from planner.model.records import Trip
from planner.store.clocks import instant_s
from planner.store.logbook.book import Logbook
from planner.store.logbook.identity import trip_key
from planner.store.logbook.records import PinnedPlan
from planner.store.schema import did_you_mean
from planner.store.tripfile import load_trip, read_draft
from planner.words import say

WORDS = {"ok": OK, "yes": OK, "no": NOT_OK, "not_ok": NOT_OK, "-": NOT_LOOKED}


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
        "--list", type=Path, metavar="FILE", help="write the list to print, with QR codes, as HTML"
    )
    add_same(parser)
    add_json(parser)


def run(args: argparse.Namespace) -> int:
    trip = load_trip(args.trip, catalogue_of(args)).trip
    if args.list:
        write_text(args.list, list_html(trip))
        boxes = say("checks.count_boxes", count=len(boxes_of(trip)))
        print(say("checks.list_written", path=str(args.list), boxes=boxes))
        return Exit.FINE
    if args.photo:
        return _photos(args, trip)
    if args.box:
        return _record(args, trip, args.box[0], found_in(args.box[1:]), ())
    return _overview(args, trip)


# -- all boxes -------------------------------------------------------------------------------------


def _overview(args: argparse.Namespace, trip: Trip) -> int:
    known = checked(Logbook(), trip_key(args.trip))
    if args.json:
        write_json(args.json, _document(trip, known))
        return Exit.FINE
    for box in boxes_of(trip):
        found = known.get(box.name)
        if found is None:
            print(say("checks.box_line_new", box=box.name))
        else:
            outcome = found.said or say("checks.outcome_not_looked")
            print(
                say("checks.box_line", box=box.name, looked=found.looked, all=len(items()), outcome=outcome)
            )
    for line in start_remarks(trip, known) or (say("checks.all_checked"),):
        print(line)
    return Exit.FINE


def _document(trip: Trip, known: Mapping[str, CheckedBox]) -> dict[str, Any]:
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
                    for item in items()
                },
            }
            for box in boxes_of(trip)
        },
        "start": list(start_remarks(trip, known)),
    }


def _plain(finding: Finding) -> dict[str, Any]:
    return {"state": finding.state, "value": finding.value, "how": finding.how, "remark": finding.remark}


# -- one box ---------------------------------------------------------------------------------------


def found_in(words: Sequence[str]) -> dict[str, Finding]:
    """Findings as they are typed. Raises InputError with every fault."""
    faults: list[Fault] = []
    found: dict[str, Finding] = {}
    for word in words:
        name, _, text = word.partition("=")
        try:
            found[name] = _finding(name, text.strip())
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return found


def _finding(name: str, text: str) -> Finding:
    item = item_of(name)
    if text.lower() in WORDS:
        return Finding(WORDS[text.lower()])
    try:
        value = float(text.removesuffix("%"))
    except ValueError:
        raise InputError([Fault(name, text, say("checks.no_state"), say("checks.give_state"))]) from None
    return Finding(OK, checked_value(item, value))


def _record(
    args: argparse.Namespace, trip: Trip, box: str, found: Mapping[str, Finding], pictures: Sequence[Any]
) -> int:
    names = [one.name for one in boxes_of(trip)]
    if box not in names:
        raise InputError([Fault("--box", box, say("checks.no_box"), did_you_mean(box, names))])
    logbook, now_s = Logbook(), time.time()
    key = entered_in_words(logbook, args)
    pinned, judge = judged_by(args, logbook, key)
    before = checked(logbook, key).get(box, CheckedBox({}))
    findings = {**before.findings, **measured(found, judge, box)}
    decision = decided(findings, box, judge)
    if args.override:
        decision = overridden(decision, findings, args.override)
    who, offset_s = logbook.person_key(args.who), int(time.localtime(now_s).tm_gmtoff)
    write_findings(
        logbook,
        key,
        box,
        findings,
        at_s=now_s,
        who=who,
        plan=pinned.id,
        offset_s=offset_s,
        pictures=pictures,
        known=before.findings,
    )
    write_decision(logbook, key, box, decision, at_s=now_s, who=who, plan=pinned.id)
    print_decision(box, decision)
    return Exit.FINE


def judged_by(args: argparse.Namespace, logbook: Logbook, key: str) -> tuple[PinnedPlan, Judge]:
    """The plan boxes are judged by: the one pinned before where nothing has changed, else one made and pinned now."""
    catalogue, draft = catalogue_of(args), read_draft(args.trip)
    pinned = None
    if not (args.leave or args.place or args.refresh):
        pinned = pinned_before(logbook, key, draft, catalogue)
    if pinned is None:
        plan = planned_of(args, catalogue)
        choice = choice_of(plan, args)
        pinned = pin(logbook, key, plan, choice, draft, catalogue, made_s=time.time())
    return pinned, Judge(unpinned(pinned.snapshot, catalogue), catalogue)


def print_decision(box: str, decision: Decision) -> None:
    """What became of a box, the answer first."""
    print(say("checks.box_said", box=box, headline=decision.headline))
    for line in (*decision.reasons, *decision.cautions):
        print(f"  - {line}")


def measured(found: Mapping[str, Finding], judge: Judge, box: str) -> dict[str, Finding]:
    """Figures beside the plan's: one that is the plan's own is ok, any other not."""
    planned = judge.planned(box)
    out = {}
    for name, finding in found.items():
        item = item_of(name)
        wanted = planned_value(item, planned)
        if finding.value is not None and item.failing == "judged":
            same = wanted is not None and abs(finding.value - wanted) < 1e-6
            finding = Finding(
                OK if same else NOT_OK, finding.value, finding.how, finding.remark, finding.pictures
            )
        elif finding.state == OK and item.figure and finding.value is None:
            finding = Finding(OK, wanted)
        out[name] = finding
    return out


def choice_of(plan: Plan, args: argparse.Namespace) -> Choice:
    """The candidate that is to be driven: the best one, or the one the arguments name."""
    ranked = plan.ranking
    if args.place:
        if args.place not in plan.loading_places:
            remedy = did_you_mean(args.place, plan.loading_places)
            raise InputError([Fault("--place", args.place, "not in this trip", remedy)])
        ranked = tuple(c for c in ranked if plan.loading_places[c.loading_place] == args.place)
    if args.leave:
        at_s = instant_s(args.leave, plan.trip.origin.zone, "--leave")
        near = min(range(len(plan.departures_s)), key=lambda d: abs(float(plan.departures_s[d]) - at_s))
        ranked = tuple(c for c in ranked if c.departure == near)
    return ranked[0]


# -- photos ----------------------------------------------------------------------------------------


def _photos(args: argparse.Namespace, trip: Trip) -> int:
    """Each photo to its box: by the label's code, or the box that was named; the mesh read where it is on it."""
    given = args.box[0] if args.box else ""
    for path in args.photo:
        looked = looked_at(content_of(path), path.name, trip.origin.zone)
        box = given or looked.box or ""
        if not box:
            print(say("checks.photo_no_box", file=path.name, boxes=", ".join(looked.boxes) or "-"))
            continue
        print(reading_said(looked, box))
        mark = hashlib.sha256(looked.picture.content).hexdigest()
        found = dict(found_in(args.box[1:]))
        if looked.mesh.at_least_percent is not None:
            found["floor"] = Finding(OK, float(looked.mesh.at_least_percent), "photo", "", (mark,))
        _record(args, trip, box, found, (looked.picture,))
    return Exit.FINE


def reading_said(looked: Looked, box: str) -> str:
    """What a photo says of the mesh: at least so much, or why it cannot be told."""
    if looked.mesh.at_least_percent is None:
        return say(f"checks.photo_{looked.mesh.why}", file=looked.name, box=box)
    return say("checks.photo_blocked", file=looked.name, box=box, percent=looked.mesh.at_least_percent)
