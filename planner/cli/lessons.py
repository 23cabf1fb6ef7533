"""``skepway lessons``: where boxes were lost more often, and whether the chances given beforehand came true."""

from __future__ import annotations

import argparse

from planner.app.lessons.demo import demo_logbook
from planner.app.lessons.season import lessons, ridden
from planner.app.lessons.words import as_document, calibration_svg, in_words
from planner.cli.candidate import add_pictures, write_picture
from planner.cli.exits import Exit
from planner.cli.options import add_json, print_sections, write_json
from planner.cli.voice import DASH
from planner.files import passing_folder
from planner.store.logbook.book import Logbook
from planner.store.profiles import kept_profiles
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--demo", action="store_true", help="show an invented season of 900 boxes instead of yours"
    )
    add_json(parser)
    add_pictures(parser)


def run(args: argparse.Namespace) -> int:
    if args.demo:
        with passing_folder() as folder:
            print(say("lessons.demo"))
            return _told(args, demo_logbook(folder))
    return _told(args, Logbook())


def _told(args: argparse.Namespace, logbook: Logbook) -> int:
    found = lessons(ridden(logbook))
    said = in_words(found)
    if args.json != DASH:
        print(said.headline)
        print_sections(
            (
                (say("lessons.head_stands_out"), said.stands_out),
                (say("lessons.head_rates"), said.rates),
                (say("lessons.head_chances"), said.chances),
                (say("lessons.head_loggers"), logger_runs(logbook)),
                (say("lessons.head_cautions"), said.cautions),
            )
        )
    if args.json:
        write_json(args.json, as_document(found, said))
    if args.pictures and found.bins:
        write_picture(args.pictures, "calibration.svg", calibration_svg(found))
    return Exit.FINE


def logger_runs(logbook: Logbook) -> tuple[str, ...]:
    """Logs that were kept with a trip and can be fitted, and how many profiles plans go by already."""
    titles = {trip.key: trip.title for trip in logbook.trips()}
    lines = [
        say("lessons.logger_line", trip=titles.get(event.trip, event.trip[:8]), box=event.subject or "-")
        for event in logbook.standing(kinds=("reading",))
        if event.body.get("pictures")
    ]
    if profiles := kept_profiles():
        lines.append(say("lessons.profiles_used", count=len(profiles)))
    return tuple(lines)
