"""The command line's door: finds the command, runs it, turns explained errors into words and exit codes.

A command is a module with ``NAME``, ``HELP``, ``configure(parser)`` and ``run(args) -> int``; to add one,
write the module and name it in ``COMMANDS``.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence

from planner import __doc__ as about
from planner import __version__
from planner.cli import (
    check,
    fit,
    forecast,
    helps,
    new,
    place,
    plan,
    recheck,
    reserve,
    roads,
    route,
    season,
    sure,
    tipping,
    water,
)
from planner.cli.exits import EXIT_HELP, Exit, exit_of
from planner.errors import Fault, InputError, SkepwayError

COMMANDS = (
    plan,
    sure,
    helps,
    water,
    reserve,
    tipping,
    season,
    fit,
    recheck,
    check,
    new,
    route,
    forecast,
    place,
    roads,
)


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command. Our own bugs are left to fly."""
    try:
        args = _parser().parse_args(argv)
        return int(args.run(args))
    except SkepwayError as error:
        print(_in_words(error), file=sys.stderr)
        return exit_of(error)
    except KeyboardInterrupt:
        return Exit.STOPPED
    except BrokenPipeError:
        # whoever read our output has seen enough; keep the interpreter from complaining at exit
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return Exit.FINE


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="skepway", description=about, epilog=EXIT_HELP)
    parser.add_argument("--version", action="version", version=f"skepway {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for command in COMMANDS:
        inner = commands.add_parser(
            command.NAME, help=command.HELP, description=command.HELP, epilog=EXIT_HELP
        )
        command.configure(inner)
        inner.set_defaults(run=command.run)
    return parser


def _in_words(error: SkepwayError) -> str:
    if not isinstance(error, InputError):
        return str(error)
    count = len(error.faults)
    head = f"{error.where + ': ' if error.where else ''}{count} fault{'s' if count != 1 else ''}"
    return "\n".join([head, *(_fault_lines(fault) for fault in error.faults)])


def _fault_lines(fault: Fault) -> str:
    value = f" = {fault.value}" if fault.value else ""
    return f"  {fault.field or 'file'}{value}\n    {fault.problem}\n    {fault.remedy}"
