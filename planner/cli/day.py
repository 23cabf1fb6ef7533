"""``skepway day DAYFILE``: who collects when, which box, how set up, when shut; who is put off, and why."""

from __future__ import annotations

import argparse
import sys
import time
from contextlib import nullcontext
from pathlib import Path

from planner.app.common.executors import at_hand
from planner.app.day.documents import day_document
from planner.app.day.inputs import weather_of_day
from planner.app.day.later import with_next_days
from planner.app.day.pictures import board_svg
from planner.app.day.plan import plan_day
from planner.app.day.records import DayPlan
from planner.app.day.repair import as_told, change_words, with_forecast
from planner.app.day.standing import standing_times
from planner.app.day.words import day_words
from planner.cli.candidate import write_picture
from planner.cli.exits import Exit
from planner.cli.options import (
    add_catalogue,
    add_json,
    add_sources,
    add_units,
    catalogue_of,
    print_sections,
    units_of,
    whole,
    write_json,
)
from planner.cli.planning import sources_of
from planner.cli.progress import ProgressLine
from planner.cli.voice import DASH
from planner.model.catalogue import Catalogue
from planner.store.dayfile import load_day
from planner.store.daytold import load_told
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("day", type=Path, metavar="DAYFILE", help="file of a collection day (TOML)")
    add_catalogue(parser)
    add_units(parser)
    add_sources(parser)
    add_json(parser)
    parser.add_argument("--pictures", type=Path, metavar="FOLDER", help=say("day.help_board"))
    parser.add_argument("--papers", type=Path, metavar="FOLDER", help=say("day.help_papers"))
    parser.add_argument("--repair", type=Path, metavar="PLAN", help=say("day.help_repair"))
    parser.add_argument("--seed", type=whole(0), default=1, metavar="N", help="random seed (default 1)")
    parser.add_argument(
        "--jobs", type=whole(1), metavar="N", help="work in so many threads (one a processor)"
    )


def run(args: argparse.Namespace) -> int:
    catalogue = catalogue_of(args)
    day = load_day(args.day, catalogue)
    told = None if args.repair is None else load_told(args.repair)
    asked = day.weather.weather is None and day.weather.source != "own"
    with sources_of(args) if asked else nullcontext() as sources:
        weather = weather_of_day(day, sources, now_s=time.time())
    with at_hand(most=args.jobs) as executor, ProgressLine(say("day.progress")) as progress:
        said: tuple[str, ...] = ()
        if told is not None:
            before = as_told(day, weather, told, seed=args.seed)
            _, plan = with_forecast(before, weather, catalogue, executor)
            said = change_words(before, plan) or (say("day.nothing_changes"),)
        else:
            *_, plan = plan_day(
                day, weather, catalogue, seed=args.seed, executor=executor, on_progress=progress
            )
        plan = with_next_days(plan, catalogue, executor)
    if args.json != DASH:
        head, sections = day_words(plan)
        print(head)
        changed = ((say("day.section_repair"), said),) if said else ()
        print_sections((*changed, *sections))
        print("\n" + say("day.estimate_note") + " " + say("day.advice"))
    if args.json:
        write_json(args.json, day_document(plan))
    if args.pictures:
        write_picture(args.pictures, "board.svg", board_svg(plan))
    if args.papers:
        _papers(args, plan, catalogue)
    return Exit.SERVICE if _nothing_known(plan) else Exit.FINE


def _nothing_known(plan: DayPlan) -> bool:
    """Whether the weather was not enough to tell anything of anybody."""
    untold = [one for one in plan.put_off if one.why == "unknown" and one.least_of_100 is None]
    return bool(untold) and len(untold) == len(plan.put_off) and not plan.appointments


def _papers(args: argparse.Namespace, plan: DayPlan, catalogue: Catalogue) -> None:
    """Everything printed; what was done to users' texts is told on the error stream."""
    from planner.paper.dayfolder import write_day_papers  # late: setting pages loads much
    from planner.paper.folder import Wanted

    wanted = Wanted(units=units_of(args))
    with at_hand(most=args.jobs) as executor, ProgressLine(say("cli.standing")) as progress:
        standing = standing_times(plan, catalogue, executor, progress)
    with ProgressLine(say("day.papers_progress")) as progress:
        paths, remarks = write_day_papers(
            args.papers, plan, catalogue, time.time(), wanted, standing=standing, on_progress=progress
        )
    for remark in remarks:
        print(say("cli.remark", text=remark), file=sys.stderr)
    print(say("day.papers_wrote", count=len(paths), folder=str(args.papers)))
