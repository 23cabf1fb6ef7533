"""``skepway new PATH``: a commented trip file to start from."""

from __future__ import annotations

import argparse
from datetime import date, timedelta
from pathlib import Path
from string import Template

from planner.bundled import resource_path
from planner.cli.exits import Exit
from planner.errors import StorageError
from planner.files import made
from planner.store.documents import write_text
from planner.store.logbook.identity import new_id
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("written", type=Path, nargs="?", default=Path("trip.toml"), metavar="PATH")
    parser.add_argument("--force", action="store_true", help="replace a file that is there already")


def run(args: argparse.Namespace) -> int:
    path: Path = args.written
    if path.exists() and not args.force:
        raise StorageError(say("cli.there_already", path=str(path)))
    made(path.parent)
    write_text(path, new_trip_text(date.today()))
    print(say("cli.new_written", path=str(path)))
    return Exit.FINE


def new_trip_text(today: date) -> str:
    """The trip file to start from, with a window from tomorrow evening and an id of its own."""
    days = {"first_day": today + timedelta(days=1), "second_day": today + timedelta(days=2)}
    return Template(resource_path("new_trip.toml").read_text("utf-8")).substitute(days, id=new_id())
