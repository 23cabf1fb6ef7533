"""The command line's door: finds the command, runs it, turns explained errors into words and exit codes.

A command is a module of its name with ``configure(parser)`` and ``run(args) -> int``; to add one, write the module
and name it in ``COMMANDS``. Only the module of the command that is asked for is imported: what one command needs
(scipy, a template engine, HTTP) must not cost the others their start.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path

from planner import __doc__ as about
from planner import __version__
from planner.cli.exits import EXIT_HELP, exit_of
from planner.cli.stopping import code_of, heeding
from planner.cli.voice import DASH, speaking
from planner.errors import Fault, InputError, SkepwayError
from planner.files import foresee, sweep
from planner.folders import cache_dir, config_dir, data_dir
from planner.words import say

COMMANDS = {
    "plan": "answer a trip: go, go if, do not go; the best departures, loading places and box set-ups",
    "compare": "compare two options of a trip in the same variants",
    "sure": "how sure: chance of harm, options compared in the same variants, and which unknown matters",
    "helps": "what helps most: every change tried alone, and the smallest set that is enough",
    "water": "how much water each box needs, when, and when not to give any",
    "reserve": "standstill reserve: minutes to the action level if the vehicle stops, all along the road",
    "tipping": "tipping point of every box, in watts, and how much warmer it may get outside",
    "day": "plan a collection day: who comes when, for which box, how it is set up and when it is shut",
    "lane": "parcels by carrier: may bees be posted this week, on which day, how packed, what to ask",
    "sheets": "write sheets for driver, buyer, receiver and yard, labels, receipt and calendar of a trip",
    "season": "season chart of a lane: share of safe days by week and hour, from typical-year or archive weather",
    "fit": "fit the model to a temperature logger that rode in one of your boxes",
    "trade": "what the program says of common trips, beside what keepers say of them",
    "explain": "write two pages to read: what we say of thirty common trips, and the model in one drawing",
    "recheck": "plan again with the newest forecast and say what changed since the last plan",
    "check": "check the trip file and name every fault",
    "inspect": "the boxes before the start: what was found, and which may go",
    "cause": "after a loss: which stories agree with what was found in a box",
    "lessons": "after a season: where boxes were lost more often, and whether the chances came true",
    "logbook": "what happened to trips and boxes: show, add, import, export, verify",
    "new": "write a commented trip file to start from",
    "route": "find the road between places: length, driving time, source",
    "forecast": "show the weather at a place or along a road",
    "place": "find a place by name or coordinates; save places of your own",
    "install-desktop": "add Skepway to the menu of a Linux desktop, and let it open trip files",
    "roads": "build a road network of your own from an OpenStreetMap extract",
}
"""Every command with its line of help, in the order of ``skepway --help``."""

READ_FROM = ("trip", "day", "lane", "log", "catalogue", "people", "track", "typed", "photo", "weather")
WRITTEN_TO, BUILT_ON = ("json", "csv", "html", "save", "list", "written"), ("profile",)
FILLED = ("pictures", "papers", "to", "folder", "year")
"""Arguments that name files read, files written, written on from what they hold, and folders filled, in whatever
command."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Our own bugs are left to fly."""
    with speaking(), heeding():
        return _run(sys.argv[1:] if argv is None else argv)


def _run(words: Sequence[str]) -> int:
    try:
        sweep(config_dir(), data_dir(), cache_dir())
        args = _parser(words).parse_args(words)
        _keep_apart(args)
        _foresee(args)
        if isinstance(trip := getattr(args, "trip", None), Path):
            sweep(trip.parent)
        code = int(args.run(args))
        sys.stdout.flush()
        return code
    except SkepwayError as error:
        print(_in_words(error), file=sys.stderr)
        return exit_of(error)
    except KeyboardInterrupt as asked:
        return code_of(asked)


def _parser(argv: Sequence[str]) -> argparse.ArgumentParser:
    """Every command by name, with the options of the one that is asked for."""
    parser = argparse.ArgumentParser(prog="skepway", description=about, epilog=EXIT_HELP)
    parser.add_argument(
        "--version", action=_Version, nargs=0, help="show the version and which march is in use"
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    chosen = next((word for word in argv if not word.startswith("-")), None)
    for name, text in COMMANDS.items():
        inner = commands.add_parser(name, help=text, description=text, epilog=EXIT_HELP)
        if name == chosen:
            command = import_module(f"planner.cli.{name.replace('-', '_')}")
            command.configure(inner)
            inner.set_defaults(run=command.run)
    return parser


def _keep_apart(args: argparse.Namespace) -> None:
    """Nothing is written over a file that is read, or over what else is written: a trip typed in is soon lost.

    Raises InputError naming the option.
    """
    given = vars(args)
    taken = {
        _same(path): name.upper() for name in (*READ_FROM, *BUILT_ON) for path in _paths(given.get(name))
    }
    for name in WRITTEN_TO:
        for path in _paths(given.get(name)):
            if other := taken.get(_same(path)):
                problem = say("cli.same_file", other=other)
                raise InputError([Fault(f"--{name}", str(path), problem, "Choose another name")])
            taken[_same(path)] = f"--{name}"


def _foresee(args: argparse.Namespace) -> None:
    """Tell before a plan is worked out what will stand in the way of writing it. Raises StorageError."""
    for name in (*WRITTEN_TO, *BUILT_ON, *FILLED):
        for path in _paths(vars(args).get(name)):
            if path != DASH:
                foresee(path, folder=name in FILLED)


def _paths(given: object) -> list[Path]:
    return [path for path in (given if isinstance(given, list) else [given]) if isinstance(path, Path)]


def _same(path: Path) -> str:
    """What two ways to one file have in common."""
    return os.path.realpath(path)


class _Version(argparse.Action):
    """The version, and which march is in use, asked for only then: it loads the model."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        print(f"skepway {__version__}\n{import_module('planner.app.common.march').in_use()}")
        parser.exit()


def _in_words(error: SkepwayError) -> str:
    if not isinstance(error, InputError):
        return str(error)
    count = say("common.faults", count=len(error.faults))
    head = f"{error.where}: {count}" if error.where else count
    return "\n".join([head, *(_fault_lines(fault) for fault in error.faults)])


def _fault_lines(fault: Fault) -> str:
    value = f" = {fault.value}" if fault.value else ""
    return f"  {fault.field or 'file'}{value}\n    {fault.problem}\n    {fault.remedy}"
