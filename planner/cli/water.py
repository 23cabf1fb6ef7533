"""``skepway water TRIP``: how much water each box needs, when, and when not to give any."""

from __future__ import annotations

import argparse

import numpy as np

from planner.app.advice.helps import SAMPLES
from planner.app.advice.water import as_document, in_words, water_plan
from planner.app.answer.settled import ONLY
from planner.cli.candidate import looked_at
from planner.cli.exits import Exit
from planner.cli.options import add_sampled, catalogue_of, print_sections, units_of, write_json
from planner.cli.planning import SAMPLES as MOST
from planner.cli.voice import DASH


def configure(parser: argparse.ArgumentParser) -> None:
    add_sampled(parser, MOST)


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    at_hand = looked_at(args, catalogue)
    if isinstance(at_hand, Exit):
        return at_hand
    plan, field = at_hand.plan, at_hand.asked.race.field
    found = water_plan(
        plan,
        ONLY,
        catalogue,
        np.random.default_rng(args.seed),
        samples=min(args.samples, SAMPLES),
        drawn=field,
    )
    said = in_words(found, units)
    if args.json != DASH:
        print(at_hand.said.sentence)
        print(said.headline)
        print_sections((("Boxes", said.groups), ("Mind", said.advice), ("Cautions", said.cautions)))
    if args.json:
        write_json(args.json, as_document(found, said))
    return at_hand.exit
