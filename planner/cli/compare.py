"""``skepway compare TRIP A B``: two options, each TIME[,PLACE[,SETUP]], in the same variants, in one sentence."""

from __future__ import annotations

import argparse
import time

import numpy as np

from planner.app.answer.ask import opened
from planner.app.answer.compare import compared, judged_alone
from planner.app.answer.documents import comparison
from planner.app.answer.words import Words
from planner.cli.candidate import chosen, leaving
from planner.cli.exits import Exit
from planner.cli.options import (
    add_json,
    add_samples,
    add_sources,
    add_trip,
    add_units,
    catalogue_of,
    print_sections,
    units_of,
    write_json,
)
from planner.cli.planning import SAMPLES, counts_to, given_of
from planner.cli.voice import DASH
from planner.errors import Fault, InputError
from planner.store.tripfile import load_trip


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    for name in ("first", "second"):
        parser.add_argument(
            name,
            metavar="A" if name == "first" else "B",
            help="an option: TIME[,PLACE[,SETUP]], 2027-05-15T09:00,open_trailer",
        )
    add_units(parser)
    add_sources(parser)
    add_samples(parser, SAMPLES)
    add_json(parser)


def run(args: argparse.Namespace) -> int:
    catalogue, units, now_s = catalogue_of(args), units_of(args), time.time()
    found = load_trip(args.trip, catalogue)
    options = {name: _parts(name, text) for name, text in (("A", args.first), ("B", args.second))}
    leaves = [leaving(found.trip, option[0], name).window.first_s for name, option in options.items()]
    given = given_of(args, found, now_s)
    if given.ready is None:
        print(given.trouble)
        return Exit.SERVICE
    ready = given.ready
    asked = opened(
        ready.trip,
        ready.road,
        ready.weather,
        catalogue,
        tolerance=given.tolerance,
        now_s=None if ready.trip.invented else now_s,
        seed=args.seed,
        counts=counts_to(args.samples),
        departures_s=np.unique(leaves),
    )
    said = judged_alone(asked)
    words = Words(said, catalogue, units)
    if said.best is None:
        print(words.sentence())
        return Exit.SERVICE
    first, second = (chosen(said, *option, named=name) for name, option in options.items())
    seen = compared(asked, first.key, second.key, units=units)
    if args.json != DASH:
        print(seen.sentence)
        print_sections([("A", words.about(seen.first)), ("B", words.about(seen.second))])
    if args.json:
        write_json(args.json, comparison(seen))
    return Exit.FINE


def _parts(name: str, text: str) -> tuple[str, str, str]:
    """Time, place and set-up of an option; what is left out is "". Raises InputError."""
    leave, *rest = (part.strip() for part in text.split(","))
    if not leave or len(rest) > 2:
        problem = "not an option"
        raise InputError([Fault(name, text, problem, "Write TIME, TIME,PLACE or TIME,PLACE,SETUP")])
    place, setup = (*rest, "", "")[:2]
    return leave, place, setup
