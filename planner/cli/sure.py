"""``skepway sure TRIP``: in how many of a hundred samples it goes well, what beats what, what would settle it."""

from __future__ import annotations

import argparse
import os
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from planner.app.chance.race import SAMPLES, Chances, chances
from planner.app.chance.sensitivity import SAMPLES as SENSITIVITY_SAMPLES
from planner.app.chance.sensitivity import sensitivity
from planner.app.chance.words import as_document, how_sure
from planner.app.plan.inputs import ensemble_members, ready
from planner.app.plan.results import Plan
from planner.app.plan.words import choice_text
from planner.cli.options import DASH, add_sampled, catalogue_of, print_sections, units_of, write_json
from planner.cli.planning import plan_of, sources_of, told
from planner.cli.progress import ProgressLine
from planner.model.catalogue import Catalogue
from planner.model.records import Weather
from planner.store.tripfile import load_trip

ROWS = 6


def configure(parser: argparse.ArgumentParser) -> None:
    add_sampled(parser, SAMPLES)
    parser.add_argument(
        "--ensemble", action="store_true", help="take the weather from the members of the ensemble forecast"
    )


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    with sources_of(args) as sources:
        given = ready(load_trip(args.trip, catalogue), sources, now_s=time.time())
        members = ensemble_members(given, sources) if args.ensemble else ()
    plan = plan_of(given, catalogue)
    known = sharpest(plan, catalogue, args.samples, args.seed, members)
    samples = min(args.samples, SENSITIVITY_SAMPLES)
    shares = sensitivity(plan, known.ranking[0], catalogue, np.random.default_rng(args.seed), samples=samples)
    said = how_sure(known, shares, units)
    if args.json != DASH:
        print(said.headline)
        print_sections(
            (
                ("Chances", said.chances),
                ("Compared in the same variants", said.comparisons),
                ("What would settle it", said.settle),
                ("Where the uncertainty comes from", said.sensitivity),
                ("Best by chance", [_row(known, i) for i in range(min(ROWS, len(known.ranking)))]),
                ("How it was found", said.method),
                ("Cautions", said.cautions),
            )
        )
    if args.json:
        write_json(args.json, as_document(known, said, shares))
    return told(plan)


def sharpest(
    plan: Plan, catalogue: Catalogue, samples: int, seed: int, members: Sequence[Weather] = ()
) -> Chances:
    """The last answer of the rounds, with a line of progress."""
    generator = np.random.default_rng(seed)
    with ThreadPoolExecutor(os.cpu_count()) as pool, ProgressLine("Simulating") as progress:
        rounds = chances(
            plan, catalogue, generator, samples=samples, weathers=members, executor=pool, on_progress=progress
        )
        for known in rounds:
            last = known
    return last


def _row(known: Chances, index: int) -> str:
    choice = known.ranking[index]
    share = known.no_harm(choice)
    return (
        f"{choice_text(known.plan, choice)}: no harm in {share.of_hundred} of 100 (± {100 * share.error:.0f})"
    )
