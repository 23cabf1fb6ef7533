"""``skepway tipping TRIP``: heat made against heat that can be lost, and how far the edge is."""

from __future__ import annotations

import argparse

from planner.app.answer.settled import ONLY
from planner.app.standing.pictures import tipping_svg
from planner.app.standing.tipping import headroom_along, tipping_at
from planner.app.standing.words import tipping_document, tipping_words
from planner.cli.candidate import add_candidate, looked_at, print_said, write_picture
from planner.cli.exits import Exit
from planner.cli.options import catalogue_of, units_of, write_json
from planner.cli.progress import ProgressLine
from planner.store.clocks import instant_s


def configure(parser: argparse.ArgumentParser) -> None:
    add_candidate(parser)
    parser.add_argument("--at", default="", metavar="TIME", help="local time (the moment of least headroom)")


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    at_hand = looked_at(args, catalogue)
    if isinstance(at_hand, Exit):
        return at_hand
    plan, choice = at_hand.plan, ONLY
    with ProgressLine("Balancing") as progress:
        along = headroom_along(plan, choice, catalogue, on_progress=progress)
    tightest = along.tightest()
    usual_s = float(along.time_s[tightest if tightest is not None else 0])
    at_s = instant_s(args.at, plan.trip.origin.zone, "--at") if args.at else usual_s
    at = tipping_at(plan, choice, catalogue, at_s)
    print_said(args, tipping_words(plan, at, along, units))
    if args.json:
        write_json(args.json, tipping_document(plan, at, along))
    if args.pictures:
        write_picture(args.pictures, "tipping.svg", tipping_svg(plan, at, units=units))
    return at_hand.exit
