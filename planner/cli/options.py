"""Options that several commands share; nothing here plans, so that a command which only reads stays quick."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import Any

from planner.cli.voice import DASH
from planner.files import made
from planner.model.catalogue import Catalogue
from planner.store.catalogue import load_catalogue
from planner.store.documents import write_text
from planner.store.profiles import kept_profiles
from planner.units import METRIC, US, UnitSystem
from planner.words import say

MOST_SAMPLES = 16384


def whole(low: int, high: int | None = None) -> Callable[[str], int]:
    """What reads a whole number for argparse and refuses any other in words."""
    wanted = (
        say("cli.whole_from", low=str(low))
        if high is None
        else say("cli.whole_between", low=str(low), high=str(high))
    )

    def read(text: str) -> int:
        try:
            value = int(text)
        except ValueError as fault:
            raise argparse.ArgumentTypeError(wanted) from fault
        if value < low or (high is not None and value > high):
            raise argparse.ArgumentTypeError(wanted)
        return value

    return read


def figure(low: float, high: float) -> Callable[[str], float]:
    """What reads a number for argparse and refuses any other, and those without end, in words."""
    wanted = say("cli.number_between", low=f"{low:g}", high=f"{high:g}")

    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError as fault:
            raise argparse.ArgumentTypeError(wanted) from fault
        if not low <= value <= high:  # not a number is within no bounds
            raise argparse.ArgumentTypeError(wanted)
        return value

    return read


def add_trip(parser: argparse.ArgumentParser, *, required: bool = True) -> None:
    """The trip file, and the user's own catalogue rows laid over the bundled ones."""
    nargs = None if required else "?"
    parser.add_argument("trip", type=Path, nargs=nargs, metavar="TRIP", help="trip file (TOML)")
    add_catalogue(parser)


def add_catalogue(parser: argparse.ArgumentParser) -> None:
    """The user's own catalogue rows laid over the bundled ones."""
    parser.add_argument(
        "--catalogue",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="your own box types, loading places or parameters (TOML); may be given several times",
    )


def catalogue_of(args: argparse.Namespace) -> Catalogue:
    """The catalogue the arguments ask for, over the profiles that were kept."""
    return load_catalogue(*kept_profiles(), *args.catalogue)


def add_units(parser: argparse.ArgumentParser) -> None:
    """Metric or US customary units."""
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help="units to show (metric)")


def units_of(args: argparse.Namespace) -> UnitSystem:
    """The unit system the arguments ask for."""
    return US if args.units == "us" else METRIC


def add_sources(parser: argparse.ArgumentParser) -> None:
    """How the outside is asked for roads and forecasts that the trip file does not bring."""
    parser.add_argument("--offline", action="store_true", help="use saved answers only, whatever their age")
    parser.add_argument(
        "--refresh", action="store_true", help="ask services again although an answer is fresh"
    )


def add_samples(parser: argparse.ArgumentParser, usual: int) -> None:
    """How many variants are simulated, and which ones; none where that is usual."""
    parser.add_argument(
        "--draws",
        dest="samples",
        type=whole(1 if usual else 0, MOST_SAMPLES),
        default=usual,
        metavar="N",
        help=say("cli.variants_help", value=str(usual or "none")),
    )
    parser.add_argument(
        "--seed",
        type=whole(0),
        default=1,
        metavar="N",
        help="random seed; the same seed repeats the result (default 1)",
    )


def add_sampled(parser: argparse.ArgumentParser, usual: int) -> None:
    """Everything a command takes that plans a trip and then answers by samples."""
    add_trip(parser)
    add_units(parser)
    add_sources(parser)
    add_samples(parser, usual)
    add_json(parser)


def add_json(parser: argparse.ArgumentParser) -> None:
    """Where to write the answer for machines."""
    parser.add_argument(
        "--json", type=Path, metavar="FILE", help="write the answer as JSON ('-': to the screen)"
    )


def write_json(path: Path, document: dict[str, Any]) -> None:
    """Write a document to a file, or to the screen for ``-``."""
    text = json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"
    if path == DASH:
        sys.stdout.write(text)
        return
    made(path.parent)
    write_text(path, text)
    print(say("cli.wrote", path=str(path)), file=sys.stderr)


def print_sections(sections: Iterable[tuple[str, Sequence[str]]]) -> None:
    """Titles with their lines, those without lines left out."""
    for title, lines in sections:
        if lines:
            print(f"\n{title}")
        for line in lines:
            print(f"  - {line}")
