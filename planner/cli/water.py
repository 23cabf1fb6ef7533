"""``skepway water TRIP``: how much water each box needs, when, and when not to give any."""

from __future__ import annotations

import argparse

import numpy as np

from planner.app.advice.helps import SAMPLES
from planner.app.advice.water import as_document, in_words, water_plan
from planner.cli.options import DASH, add_sampled, catalogue_of, print_sections, units_of, write_json
from planner.cli.planning import planned_of, told


def configure(parser: argparse.ArgumentParser) -> None:
    add_sampled(parser, SAMPLES)


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    plan = planned_of(args, catalogue)
    found = water_plan(
        plan, plan.ranking[0], catalogue, np.random.default_rng(args.seed), samples=args.samples
    )
    said = in_words(found, units)
    if args.json != DASH:
        print(said.headline)
        print_sections((("Boxes", said.groups), ("Mind", said.advice), ("Cautions", said.cautions)))
    if args.json:
        write_json(args.json, as_document(found, said))
    return told(plan)
