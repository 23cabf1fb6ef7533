"""``skepway sheets TRIP --to FOLDER``: paper, phone page, labels and calendar for everybody who acts on the plan."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from planner.app.plan.results import UNKNOWN
from planner.app.sheets.facts import TripFacts
from planner.app.sheets.gather import Printing, Way, gather, way_of_plan
from planner.app.standing.reserve import reserve
from planner.cli.exits import Exit
from planner.cli.options import add_sources, add_trip, add_units, catalogue_of, units_of
from planner.cli.planning import plan_of, ready_of, told
from planner.cli.progress import ProgressLine
from planner.errors import ServiceError
from planner.paper.folder import Wanted, Written, write_sheets
from planner.paper.pdf import PAPERS
from planner.store.people import Person, read_people
from planner.store.tripfile import load_trip
from planner.words import languages, say


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_units(parser)
    add_sources(parser)
    parser.add_argument("--to", type=Path, required=True, metavar="FOLDER", help=say("cli.sheets_to"))
    parser.add_argument("--people", type=Path, metavar="FILE", help=say("cli.sheets_people"))
    parser.add_argument("--paper", choices=tuple(PAPERS), default="a4", help=say("cli.sheets_paper"))
    parser.add_argument("--lang", choices=languages(), default="en", help=say("cli.sheets_lang"))
    parser.add_argument("--keeper", default="", metavar="NAME", help=say("cli.sheets_keeper"))
    parser.add_argument("--phone", default="", metavar="NUMBER", help=say("cli.sheets_phone"))


def run(args: argparse.Namespace) -> int:
    catalogue, now_s = catalogue_of(args), time.time()
    found = load_trip(args.trip, catalogue)
    people = read_people(args.people) if args.people else found.people
    printing = Printing(now_s, args.keeper, args.phone)
    try:
        given = ready_of(args, found, now_s)
    except ServiceError as error:
        print(error, file=sys.stderr)
        facts = gather(found.trip, found.road, None, catalogue, Way("cannot_tell", ("weather",)), printing)
        _written(args, facts, people)
        return Exit.SERVICE
    plan = plan_of(given, catalogue)
    choice = plan.ranking[0]
    standing = None
    if plan.worst_level(choice) != UNKNOWN:
        with ProgressLine("Standing still") as progress:
            standing = reserve(plan, choice, catalogue, on_progress=progress)
    way = way_of_plan(plan, choice, standing)
    facts = gather(plan.trip, plan.road, plan.weather, catalogue, way, printing)
    _written(args, facts, people)
    return told(plan)


def _written(args: argparse.Namespace, facts: TripFacts, people: Sequence[Person]) -> None:
    """Everything written; what was done to users' texts is told on the error stream."""
    wanted = Wanted(args.lang, args.paper, units_of(args))
    with ProgressLine(say("cli.sheets_writing")) as progress:
        made: Written = write_sheets(args.to, facts, people, wanted, on_progress=progress)
    for remark in made.remarks:
        print(say("cli.remark", text=remark), file=sys.stderr)
    print(say("cli.sheets_wrote", count=len(made.paths), folder=str(args.to), code=made.code))
    if facts.void:
        print(say(f"sheets.void_{facts.void}_why"))
