"""``skepway sure TRIP``: how sure the answer is: chances by what is harmed, what beats what, what would settle it."""

from __future__ import annotations

import argparse

import numpy as np

from planner.app.advice.sure import as_document, how_sure
from planner.app.answer.settled import ONLY
from planner.app.chance.sensitivity import SAMPLES as SENSITIVITY_SAMPLES
from planner.app.chance.sensitivity import sensitivity
from planner.cli.candidate import looked_at
from planner.cli.exits import Exit
from planner.cli.options import add_sampled, catalogue_of, print_sections, units_of, write_json
from planner.cli.planning import SAMPLES
from planner.cli.voice import DASH


def configure(parser: argparse.ArgumentParser) -> None:
    add_sampled(parser, SAMPLES)
    parser.add_argument(
        "--ensemble", action="store_true", help="take the weather from the members of the ensemble forecast"
    )


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    at_hand = looked_at(args, catalogue)
    if isinstance(at_hand, Exit):
        return at_hand
    samples = min(args.samples, SENSITIVITY_SAMPLES)
    generator = np.random.default_rng(args.seed)
    shares = sensitivity(at_hand.plan, ONLY, catalogue, generator, samples=samples)
    said = how_sure(at_hand.asked, at_hand.said, at_hand.one, shares, units)
    if args.json != DASH:
        print(said.headline)
        print_sections(
            (
                ("Chances", said.chances),
                ("Compared in the same variants", said.comparisons),
                ("What would settle it", said.settle),
                ("Where the uncertainty comes from", said.sensitivity),
                ("Best by chance", said.best),
                ("How it was found", said.method),
                ("Cautions", said.cautions),
            )
        )
    if args.json:
        write_json(args.json, as_document(at_hand.asked, at_hand.said, said, shares))
    return at_hand.exit
