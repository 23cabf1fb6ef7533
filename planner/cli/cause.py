"""``skepway cause TRIP BOX``: which stories agree with what was found in a box that came to harm."""

from __future__ import annotations

import argparse
import time

from planner.app.cause.ask import cause_of, found_before
from planner.app.cause.evidence import evidence_of, form
from planner.app.cause.words import as_document, in_words
from planner.cli.exits import Exit
from planner.cli.logbook import add_same, entered_in_words
from planner.cli.options import add_json, add_trip, catalogue_of, print_sections, write_json
from planner.cli.progress import ProgressLine
from planner.cli.voice import DASH
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    parser.add_argument("box", metavar="BOX", help="name of the box, such as B023B")
    lines = ", ".join(f"{line.name}={'|'.join(line.answers) or 'figure'}" for line in form().values())
    parser.add_argument(
        "--found",
        nargs="+",
        default=[],
        metavar="LINE=ANSWER",
        help=say("cli.what_was_found", lines=str(lines)),
    )
    parser.add_argument("--who", default="", metavar="NAME", help="name or initials of whoever looked")
    add_same(parser)
    add_json(parser)


def run(args: argparse.Namespace) -> int:
    catalogue, logbook, now_s = catalogue_of(args), Logbook(), time.time()
    given = evidence_of(args.found)
    key = entered_in_words(logbook, args)
    if given:
        body = {"evidence": given}
        logbook.add(Entry("looked", now_s, "box", args.box, body, key, logbook.person_key(args.who)))
    seen = found_before(logbook, key, args.box)
    with ProgressLine("Working out stories") as progress:
        found = cause_of(logbook, key, args.box, catalogue, seen, on_progress=progress)
    said = in_words(args.box, found)
    document = as_document(args.box, found, said)
    if seen:
        logbook.add(Entry("cause", now_s, "box", args.box, document, key))
    if args.json != DASH:
        print(said.headline)
        print_sections(
            (
                (say("cause.head_stories"), said.stories),
                (say("cause.head_settles"), said.settles),
                (say("cause.head_cautions"), said.cautions),
            )
        )
    if args.json:
        write_json(args.json, document)
    return Exit.FINE
