"""``skepway helps TRIP``: what helps most: every change tried alone, and the smallest set that is enough."""

from __future__ import annotations

import argparse

import numpy as np

from planner.app.advice.helps import SAMPLES, as_document, helps, in_words
from planner.app.answer.settled import ONLY, asked_of_help, closings_elsewhere, settled_plan
from planner.app.common.wording import local
from planner.cli.candidate import add_leave, looked_at
from planner.cli.exits import Exit
from planner.cli.options import add_sampled, catalogue_of, print_sections, units_of, write_json
from planner.cli.planning import SAMPLES as MOST
from planner.cli.progress import ProgressLine
from planner.cli.voice import DASH
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_sampled(parser, MOST)
    add_leave(parser)


def run(args: argparse.Namespace) -> int:
    catalogue, units = catalogue_of(args), units_of(args)
    at_hand = looked_at(args, catalogue)
    if isinstance(at_hand, Exit):
        return at_hand
    said, field = at_hand.said, at_hand.asked.race.field
    one = asked_of_help(said, at_hand.one)
    plan = settled_plan(said, one, catalogue)
    with ProgressLine("Trying changes") as progress:
        found = helps(
            plan,
            ONLY,
            catalogue,
            np.random.default_rng(args.seed),
            samples=min(args.samples, SAMPLES),
            drawn=field,
            places=said.places,
            tolerance=said.tolerance,
            elsewhere=closings_elsewhere(said, one),
            on_progress=progress,
        )
    told = in_words(found, units, best=said.best)
    if args.json != DASH:
        print(said.sentence)
        print(told.headline)
        if told.start and said.best is not None:
            leave = local(said.best.leave_s, plan.trip.origin.zone).strftime("%Y-%m-%dT%H:%M")
            print(told.start, say("cli.helps_leave", option=f"--leave {leave}"))
        print_sections(
            (
                ("What helps, best first", told.changes),
                ("What would make it worse", told.worse),
                ("Enough", (told.smallest,)),
                ("Cautions", told.cautions),
            )
        )
    if args.json:
        write_json(args.json, as_document(found, told))
    return at_hand.exit
