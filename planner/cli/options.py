"""Options that several commands share."""

from __future__ import annotations

import argparse
from pathlib import Path

from planner.store.catalogue import Catalogue, load_catalogue
from planner.units import METRIC, US, UnitSystem


def add_trip(parser: argparse.ArgumentParser) -> None:
    """The trip file, and the user's own catalogue rows laid over the bundled ones."""
    parser.add_argument("trip", type=Path, metavar="TRIP", help="trip file (TOML)")
    parser.add_argument(
        "--catalogue",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="your own box types, loading places or parameters (TOML); may be given several times",
    )


def catalogue_of(args: argparse.Namespace) -> Catalogue:
    """The catalogue the arguments ask for."""
    return load_catalogue(*args.catalogue)


def add_units(parser: argparse.ArgumentParser) -> None:
    """Metric or US customary units."""
    parser.add_argument("--units", choices=("metric", "us"), default="metric", help="units to show (metric)")


def units_of(args: argparse.Namespace) -> UnitSystem:
    """The unit system the arguments ask for."""
    return US if args.units == "us" else METRIC
