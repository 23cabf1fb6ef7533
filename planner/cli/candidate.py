"""Options that pick one candidate of a plan: departure, loading place and set-up; by default the best."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from planner.app.common.wording import Said, clock_text
from planner.app.plan.results import Choice, Plan
from planner.cli.options import DASH, add_json, add_sources, add_trip, add_units, print_sections
from planner.cli.planning import planned_of
from planner.errors import Fault, InputError
from planner.files import made, write_text
from planner.model.catalogue import Catalogue
from planner.reading import printable
from planner.store.clocks import instant_s
from planner.store.schema import did_you_mean


def add_candidate(parser: argparse.ArgumentParser) -> None:
    """A trip, one of its candidates, and where the answer goes."""
    add_trip(parser)
    add_units(parser)
    add_sources(parser)
    add_json(parser)
    add_pictures(parser)
    parser.add_argument("--leave", default="", metavar="TIME", help="departure, 2027-05-15T09:00 (the best)")
    parser.add_argument("--place", default="", metavar="NAME", help="loading place (the best)")
    parser.add_argument("--setup", default="", metavar="NAME", help="box set-up (the best)")


def add_pictures(parser: argparse.ArgumentParser) -> None:
    """Where the plots go."""
    parser.add_argument("--pictures", type=Path, metavar="FOLDER", help="write the plots as SVG files")


def planned(args: argparse.Namespace, catalogue: Catalogue) -> tuple[Plan, Choice]:
    """The trip planned, and the candidate the arguments ask for. Raises InputError for one that is not there."""
    plan = planned_of(args, catalogue)
    return plan, chosen(plan, args.leave, args.place, args.setup)


def chosen(plan: Plan, leave: str = "", place: str = "", setup: str = "") -> Choice:
    """The best candidate among those with the departure, place and set-up that are given."""
    departure = _departure(plan, leave) if leave else None
    k = _named("--place", place, plan.loading_places) if place else None
    u = _named("--setup", setup, plan.setups) if setup else None
    return next(
        choice
        for choice in plan.ranking
        if departure in (None, choice.departure)
        and k in (None, choice.loading_place)
        and u in (None, choice.setup)
    )


def _departure(plan: Plan, leave: str) -> int:
    zone = plan.trip.origin.zone
    wanted = instant_s(leave, zone, "--leave")
    nearest = int(np.argmin(np.abs(plan.departures_s - wanted)))
    if abs(float(plan.departures_s[nearest]) - wanted) > 60.0:
        near = clock_text(float(plan.departures_s[nearest]), zone)
        problem = "no departure of the window leaves then"
        raise InputError([Fault("--leave", leave, problem, f"The nearest leaves {near}")])
    return nearest


def _named(option: str, name: str, known: Sequence[str]) -> int:
    if name not in known:
        raise InputError([Fault(option, name, "not in this trip", did_you_mean(name, known))])
    return known.index(name)


def print_said(args: argparse.Namespace, said: Said) -> None:
    """An answer in words, unless the screen is taken by JSON."""
    if args.json != DASH:
        print(said.headline)
        print_sections(said.sections)


def write_picture(folder: Path, name: str, picture: str) -> None:
    """One plot into the folder asked for, which is made. Raises StorageError."""
    write_text(made(folder) / name, printable(picture))
