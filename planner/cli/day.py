"""``skepway day DAYFILE``: who collects when, which box, how set up, when shut; who is put off, and why."""

from __future__ import annotations

import argparse
import time
from pathlib import Path

from planner.app.common.executors import at_hand
from planner.app.day.documents import day_document
from planner.app.day.inputs import weather_of_day
from planner.app.day.later import with_next_days
from planner.app.day.pictures import board_svg
from planner.app.day.plan import plan_day
from planner.app.day.words import day_words
from planner.app.plan.inputs import Sources
from planner.cli.candidate import write_picture
from planner.cli.exits import Exit
from planner.cli.options import (
    DASH,
    add_catalogue,
    add_json,
    add_sources,
    add_units,
    catalogue_of,
    print_sections,
    whole,
    write_json,
)
from planner.cli.progress import ProgressLine
from planner.store.dayfile import load_day
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("day", type=Path, metavar="DAYFILE", help="file of a collection day (TOML)")
    add_catalogue(parser)
    add_units(parser)
    add_sources(parser)
    add_json(parser)
    parser.add_argument("--pictures", type=Path, metavar="FOLDER", help=say("day.help_board"))
    parser.add_argument("--repair", action="store_true", help=say("day.help_repair"))
    parser.add_argument("--seed", type=whole(0), default=1, metavar="N", help="random seed (default 1)")
    parser.add_argument(
        "--jobs", type=whole(1), metavar="N", help="work in so many threads (one a processor)"
    )


def run(args: argparse.Namespace) -> int:
    catalogue = catalogue_of(args)
    day = load_day(args.day, catalogue)
    sources = None
    if day.weather.weather is None and day.weather.source != "own":
        sources = Sources.open(offline=args.offline, refresh=args.refresh)
    try:
        weather = weather_of_day(day, sources, now_s=time.time())
    finally:
        if sources is not None:
            sources.close()
    with at_hand(most=args.jobs) as executor, ProgressLine(say("day.progress")) as progress:
        *_, plan = plan_day(
            day,
            weather,
            catalogue,
            seed=args.seed,
            moved_counts=args.repair,
            executor=executor,
            on_progress=progress,
        )
        plan = with_next_days(plan, catalogue, executor)
    if args.json != DASH:
        head, sections = day_words(plan)
        print(head)
        print_sections(sections)
        print("\n" + say("day.estimate_note") + " " + say("day.advice"))
    if args.json:
        write_json(args.json, day_document(plan))
    if args.pictures:
        write_picture(args.pictures, "board.svg", board_svg(plan))
    return Exit.FINE
