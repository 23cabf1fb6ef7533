"""``skepway sheets TRIP --to FOLDER``: paper, phone page, labels and calendar for everybody who acts on the answer."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from planner.app.answer.ask import Asked
from planner.app.answer.records import DO_NOT_GO, Answer
from planner.app.answer.settled import ONLY, settled_plan
from planner.app.plan.results import Plan
from planner.app.sheets.facts import TripFacts
from planner.app.sheets.gather import Printing, gather, way_of
from planner.app.sheets.issued import issued, with_findings
from planner.app.standing.reserve import Reserve, sampled_reserve
from planner.cli.options import add_samples, add_sources, add_trip, add_units, catalogue_of, units_of
from planner.cli.planning import SAMPLES, Given, answer_of, asked_of, exit_for, given_of
from planner.cli.progress import ProgressLine
from planner.errors import SkepwayError
from planner.model.catalogue import Catalogue
from planner.paper.folder import Wanted, Written, write_sheets
from planner.paper.pdf import PAPERS
from planner.store.logbook.book import Logbook
from planner.store.logbook.identity import trip_key
from planner.store.people import Person, read_people
from planner.store.tripfile import load_trip, read_draft
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
    plan = plan_of(said, catalogue) if asked else None
    facts = facts_of(given, said, asked, plan, catalogue, Printing(now_s, args.keeper, args.phone))
    logbook, key = Logbook(), trip_key(args.trip)
    with in_words():
        facts = with_findings(facts, logbook, key)
    made = _written(args, facts, people)
    if plan is not None and not facts.void:
        proof = replace(facts.proof, replaces=made.replaces)
        draft = read_draft(args.trip)
        with in_words():
            issued(
                replace(facts, proof=proof),
                plan,
                ONLY,
                logbook=logbook,
                trip=key,
                draft=draft,
                catalogue=catalogue,
            )
    return exit_for(said)


@contextmanager
def in_words() -> Iterator[None]:
    """Sheets are printed whether or not the logbook can be read and written; that it cannot is said."""
    try:
        yield
    except SkepwayError as error:
        print(say("cli.remark", text=say("cli.sheets_no_logbook", reason=str(error))), file=sys.stderr)


def plan_of(said: Answer, catalogue: Catalogue) -> Plan | None:
    """The plan that the sheets tell of; None where they tell no times."""
    if said.best is None or said.missing or said.decision == DO_NOT_GO:
        return None
    return settled_plan(said, said.best, catalogue)


def facts_of(
    given: Given,
    said: Answer,
    asked: Asked | None,
    plan: Plan | None,
    catalogue: Catalogue,
    printing: Printing,
) -> TripFacts:
    """What the sheets of an answer say; how long one may stand is worked out only where anybody will."""
    ready = given.ready
    road, weather = (ready.road, ready.weather) if ready else (None, None)
    way = way_of(said, None if asked is None or plan is None else _standing(asked, plan, catalogue))
    return gather(
        said.trip or given.trip, said.road or road, said.weather or weather, catalogue, way, printing
    )


def _standing(asked: Asked, plan: Plan, catalogue: Catalogue) -> Reserve:
    """How long one may stand, in the answer's own samples."""
    with ProgressLine(say("cli.standing")) as progress:
        return sampled_reserve(plan, ONLY, catalogue, asked.race.field, on_progress=progress)


def _written(args: argparse.Namespace, facts: TripFacts, people: Sequence[Person]) -> Written:
    """Everything written; what was done to users' texts is told on the error stream."""
    wanted = Wanted(args.lang, args.paper, units_of(args))
    with ProgressLine(say("cli.sheets_writing")) as progress:
        made: Written = write_sheets(args.to, facts, people, wanted, on_progress=progress)
    for remark in made.remarks:
        print(say("cli.remark", text=remark), file=sys.stderr)
    print(say("cli.sheets_wrote", count=len(made.paths), folder=str(args.to), code=made.code))
    if facts.void:
        print(say(f"sheets.void_{facts.void_why}_why"))
    return made
