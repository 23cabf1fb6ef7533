"""``skepway helps TRIP``: what helps most: every change tried alone, and the smallest set that is enough."""

from __future__ import annotations

import argparse

import numpy as np

from planner.app.advice.helps import SAMPLES, as_document, helps, in_words
from planner.cli.options import DASH, add_sampled, catalogue_of, print_sections, units_of, write_json
from planner.cli.planning import planned_of, told
from planner.cli.progress import ProgressLine


def configure(parser: argparse.ArgumentParser) -> None:
    add_sampled(parser, SAMPLES)


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    plan = planned_of(args, catalogue)
    with ProgressLine("Trying changes") as progress:
        found = helps(
            plan,
            plan.ranking[0],
            catalogue,
            np.random.default_rng(args.seed),
            samples=args.samples,
            on_progress=progress,
        )
    said = in_words(found, units)
    if args.json != DASH:
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
    return told(plan)
