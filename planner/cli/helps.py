"""``skepway helps TRIP``: what helps most: every change tried alone, and the smallest set that is enough."""

from __future__ import annotations

import argparse

import numpy as np

from planner.app.advice.helps import SAMPLES, as_document, helps, in_words
from planner.app.answer.settled import ONLY, closings_elsewhere
from planner.cli.candidate import looked_at
from planner.cli.exits import Exit
from planner.cli.options import add_sampled, catalogue_of, print_sections, units_of, write_json
from planner.cli.planning import SAMPLES as MOST
from planner.cli.progress import ProgressLine
from planner.cli.voice import DASH


def configure(parser: argparse.ArgumentParser) -> None:
    add_sampled(parser, MOST)


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    at_hand = looked_at(args, catalogue)
    if isinstance(at_hand, Exit):
        return at_hand
    plan, field = at_hand.plan, at_hand.asked.race.field
    with ProgressLine("Trying changes") as progress:
        found = helps(
            plan,
            ONLY,
            catalogue,
            np.random.default_rng(args.seed),
            samples=min(args.samples, SAMPLES),
            drawn=field,
            places=at_hand.said.places,
            tolerance=at_hand.said.tolerance,
            elsewhere=closings_elsewhere(at_hand.said, at_hand.one),
            on_progress=progress,
        )
    said = in_words(found, units)
    if args.json != DASH:
        print(at_hand.said.sentence)
        print(said.headline)
        print_sections(
            (
                ("What helps, best first", said.changes),
                ("What would make it worse", said.worse),
                ("Enough", (said.smallest,)),
                ("Cautions", said.cautions),
            )
        )
    if args.json:
        write_json(args.json, as_document(found, said))
    return at_hand.exit
