"""``skepway sure TRIP``: in how many of a hundred worlds it goes well, what beats what, what would settle it."""

from __future__ import annotations

import argparse
import os
from concurrent.futures import ThreadPoolExecutor

import numpy as np

from planner.app.answer import choice_text
from planner.app.chances import DRAWS, Chances, chances
from planner.app.results import Plan
from planner.app.sure import as_document, how_sure
from planner.app.unknowns import DRAWS as DOUBT_DRAWS
from planner.app.unknowns import doubt
from planner.cli.exits import Exit
from planner.cli.options import (
    DASH,
    add_draws,
    add_json,
    add_sources,
    add_trip,
    add_units,
    catalogue_of,
    planned_of,
    print_sections,
    units_of,
    write_json,
)
from planner.cli.progress import ProgressLine
from planner.store.catalogue import Catalogue

NAME = "sure"
HELP = "how sure: chance of harm, windows compared in the same draws, and which unknown matters"
ROWS = 6


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_units(parser)
    add_sources(parser)
    add_draws(parser, DRAWS)
    add_json(parser)


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    plan = planned_of(args, catalogue)
    known = sharpest(plan, catalogue, args.draws, args.seed)
    worlds = min(args.draws, DOUBT_DRAWS)
    shares = doubt(plan, known.ranking[0], catalogue, np.random.default_rng(args.seed), draws=worlds)
    said = how_sure(known, shares, units)
    if args.json != DASH:
        print(said.headline)
        print_sections(
            (
                ("Chances", said.chances),
                ("Compared in the same draws", said.duels),
                ("What would settle it", said.settle),
                ("Whence the doubt", said.doubt),
                ("Best by chance", [_row(known, i) for i in range(min(ROWS, len(known.ranking)))]),
                ("How it was drawn", said.method),
                ("Cautions", said.cautions),
            )
        )
    if args.json:
        write_json(args.json, as_document(known, said, shares))
    return Exit.FINE


def sharpest(plan: Plan, catalogue: Catalogue, draws: int, seed: int) -> Chances:
    """The last answer of the rounds, with a line of progress."""
    generator = np.random.default_rng(seed)
    with ThreadPoolExecutor(os.cpu_count()) as pool, ProgressLine("Drawing") as progress:
        for known in chances(plan, catalogue, generator, draws=draws, executor=pool, on_progress=progress):
            last = known
    return last


def _row(known: Chances, index: int) -> str:
    choice = known.ranking[index]
    share = known.no_harm(choice)
    return (
        f"{choice_text(known.plan, choice)}: no harm in {share.of_hundred} of 100 (± {100 * share.error:.0f})"
    )
