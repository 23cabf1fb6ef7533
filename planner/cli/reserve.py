"""``skepway reserve TRIP``: how long the vehicle may stand, everywhere along the road, and what a delay would do."""

from __future__ import annotations

import argparse
import re

from planner.app.answer.settled import ONLY
from planner.app.standing.delays import KINDS, Delay, delayed
from planner.app.standing.pictures import reserve_svg
from planner.app.standing.reserve import sampled_reserve
from planner.app.standing.words import reserve_document, reserve_words
from planner.cli.candidate import add_candidate, looked_at, print_said, write_picture
from planner.cli.exits import Exit
from planner.cli.options import catalogue_of, units_of, write_json
from planner.cli.progress import ProgressLine
from planner.units import M_PER_MILE
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_candidate(parser)
    parser.add_argument(
        "--delay",
        type=_delay,
        action="append",
        default=[],
        metavar="KIND:MIN@KM",
        help=say("cli.try_a_delay", names=", ".join(KINDS)),
    )


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    at_hand = looked_at(args, catalogue)
    if isinstance(at_hand, Exit):
        return at_hand
    plan, choice = at_hand.plan, ONLY
    with ProgressLine("Standing still") as progress:
        found = sampled_reserve(plan, choice, catalogue, at_hand.asked.race.field, on_progress=progress)
    delays = delayed(plan, choice, catalogue, args.delay)
    print_said(args, reserve_words(plan, found, catalogue, delays, units))
    if args.json:
        write_json(args.json, reserve_document(plan, found, delays))
    if args.pictures:
        write_picture(args.pictures, "reserve.svg", reserve_svg(plan, found, units))
    return at_hand.exit


def _delay(text: str) -> Delay:
    found = re.fullmatch(r"([a-z]+):(\d+(?:\.\d+)?)@(\d+(?:\.\d+)?)(km|mi)?", text)
    if not found or found[1] not in KINDS:
        raise argparse.ArgumentTypeError(say("cli.write_delay", names=", ".join(KINDS)))
    km = float(found[3]) * (M_PER_MILE / 1000.0 if found[4] == "mi" else 1.0)
    return Delay(KINDS[found[1]], km, float(found[2]) * 60.0)
