"""``skepway sheets TRIP --to FOLDER``: paper, phone page, labels and calendar for everybody who acts on the answer."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Sequence
from pathlib import Path

from planner.app.answer.ask import Asked
from planner.app.answer.records import DO_NOT_GO, Answer
from planner.app.answer.settled import ONLY, settled_plan
from planner.app.sheets.facts import TripFacts
from planner.app.sheets.gather import Printing, gather, way_of
from planner.app.standing.reserve import Reserve, sampled_reserve
from planner.cli.options import add_samples, add_sources, add_trip, add_units, catalogue_of, units_of
from planner.cli.planning import SAMPLES, Given, answer_of, asked_of, exit_for, given_of
from planner.cli.progress import ProgressLine
from planner.model.catalogue import Catalogue
from planner.paper.folder import Wanted, Written, write_sheets
from planner.paper.pdf import PAPERS
from planner.store.people import Person, read_people
from planner.store.tripfile import load_trip
from planner.words import languages, say


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_units(parser)
    add_sources(parser)
    add_samples(parser, SAMPLES)
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
    given = given_of(args, found, now_s)
    asked = asked_of(given, catalogue, args, now_s)
    said = answer_of(given, asked, catalogue, args, now_s)
    print(said.sentence)
    _written(args, facts_of(given, said, asked, catalogue, Printing(now_s, args.keeper, args.phone)), people)
    return exit_for(said)


def facts_of(
    given: Given, said: Answer, asked: Asked | None, catalogue: Catalogue, printing: Printing
) -> TripFacts:
    """What the sheets of an answer say; how long one may stand is worked out only where anybody will."""
    ready = given.ready
    road, weather = (ready.road, ready.weather) if ready else (None, None)
    way = way_of(said, _standing(said, asked, catalogue))
    return gather(
        said.trip or given.trip, said.road or road, said.weather or weather, catalogue, way, printing
    )


def _standing(said: Answer, asked: Asked | None, catalogue: Catalogue) -> Reserve | None:
    """How long one may stand, in the answer's own samples."""
    if asked is None or said.best is None or said.missing or said.decision == DO_NOT_GO:
        return None
    with ProgressLine(say("cli.standing")) as progress:
        plan = settled_plan(said, said.best, catalogue)
        return sampled_reserve(plan, ONLY, catalogue, asked.race.field, on_progress=progress)


def _written(args: argparse.Namespace, facts: TripFacts, people: Sequence[Person]) -> None:
    """Everything written; what was done to users' texts is told on the error stream."""
    wanted = Wanted(args.lang, args.paper, units_of(args))
    with ProgressLine(say("cli.sheets_writing")) as progress:
        made: Written = write_sheets(args.to, facts, people, wanted, on_progress=progress)
    for remark in made.remarks:
        print(say("cli.remark", text=remark), file=sys.stderr)
    print(say("cli.sheets_wrote", count=len(made.paths), folder=str(args.to), code=made.code))
    if facts.void:
        print(say(f"sheets.void_{facts.void_why}_why"))
