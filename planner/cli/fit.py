"""``skepway fit TRIP LOG.csv``: what a logger in a box says about it, kept as a profile."""

from __future__ import annotations

import argparse
import time
from datetime import date
from pathlib import Path

from planner.app.fit.fit import SENSORS, Driven, fit
from planner.app.fit.pictures import fit_svg
from planner.app.fit.words import fit_document, fit_words, profile_of
from planner.cli.candidate import add_pictures, print_said, write_picture
from planner.cli.exits import Exit
from planner.cli.options import (
    add_json,
    add_sources,
    add_trip,
    add_units,
    catalogue_of,
    units_of,
    whole,
    write_json,
)
from planner.cli.planning import ready_of
from planner.errors import Fault, InputError
from planner.model.preparations import ALL, AS_DECLARED
from planner.model.records import Trip
from planner.store.catalogue import table_mark
from planner.store.clocks import instant_s
from planner.store.loggerfile import LoggerHints, read_log
from planner.store.profiles import read_profile, write_profile
from planner.store.schema import did_you_mean
from planner.store.tripfile import load_trip
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    parser.add_argument("log", type=Path, metavar="LOG", help="the logger's CSV")
    add_units(parser)
    add_sources(parser)
    add_json(parser)
    add_pictures(parser)
    drive = parser.add_argument_group("the trip as it was driven, local times")
    drive.add_argument("--left", default="", metavar="TIME", help="2027-05-15T06:10 (the window's first)")
    drive.add_argument(
        "--closed", default="", metavar="TIME", help="when the logged box was shut (by the rule)"
    )
    drive.add_argument("--arrived", default="", metavar="TIME", help="(as the road says)")
    drive.add_argument("--place", default="", metavar="NAME", help="where it rode (the first of the trip)")
    drive.add_argument("--setup", choices=[setup.name for setup in ALL], default=AS_DECLARED.name)
    drive.add_argument(
        "--load", type=whole(1), default=1, metavar="N", help="which load of the file was logged (1)"
    )
    drive.add_argument("--sensor", choices=list(SENSORS), default="core", help="where the logger hung (core)")
    file = parser.add_argument_group("what the log may not say")
    file.add_argument("--zone", metavar="ZONE", help="zone of the logger's clock, such as Europe/London")
    file.add_argument("--degrees", choices=("C", "F"), help="unit of its temperatures")
    file.add_argument("--dates", choices=("day_first", "month_first"), help="order of day and month")
    file.add_argument("--column", metavar="NAME", help="its temperature column (the first)")
    keep = parser.add_argument_group("keeping it")
    keep.add_argument("--profile", type=Path, metavar="FILE", help="write it; builds on one that is there")
    keep.add_argument(
        "--yard", default="", metavar="NAME", help="keep it for this yard, not for the box type"
    )


def run(args: argparse.Namespace) -> int:
    earlier = read_profile(args.profile) if args.profile and args.profile.exists() else None
    if earlier and args.profile not in args.catalogue:
        args.catalogue.append(args.profile)
    if earlier and earlier.table != table_mark():
        earlier = None
    catalogue, units = catalogue_of(args), units_of(args)
    hints = LoggerHints(args.zone, args.degrees, args.dates, (args.column,) if args.column else ())
    log = read_log(args.log, hints)
    given = ready_of(args, load_trip(args.trip, catalogue), time.time())
    driven = driven_of(args, given.trip)
    found = fit(given.trip, given.road, given.weather, catalogue, log, driven)
    print_said(args, fit_words(found, log, catalogue, units))
    if args.json:
        write_json(args.json, fit_document(found))
    if args.pictures:
        write_picture(args.pictures, "fit.svg", fit_svg(found, given.trip.origin.zone, units))
    if args.profile:
        trip = f"{given.trip.title}, {args.log.name}"
        kept = profile_of(found, catalogue, trip, date.today(), yard=args.yard, earlier=earlier)
        write_profile(kept, args.profile)
    return Exit.FINE


def driven_of(args: argparse.Namespace, trip: Trip) -> Driven:
    """The trip as the arguments say it was driven. Raises InputError for what is not in the trip."""
    faults = []
    if args.place and args.place not in trip.loading_places:
        faults.append(
            Fault("--place", args.place, "not in this trip", did_you_mean(args.place, trip.loading_places))
        )
    if not 1 <= args.load <= len(trip.groups):
        faults.append(
            Fault("--load", str(args.load), "no such load", say("cli.give_up_to", count=len(trip.groups)))
        )
    if faults:
        raise InputError(faults)

    def at(text: str, option: str, otherwise: float) -> float:
        return instant_s(text, trip.origin.zone, option) if text else otherwise

    return Driven(
        left_s=at(args.left, "--left", trip.window.first_s),
        place=args.place or trip.loading_places[0],
        closed_s=at(args.closed, "--closed", float("nan")),
        arrived_s=at(args.arrived, "--arrived", float("nan")),
        setup=next(setup for setup in ALL if setup.name == args.setup),
        group=args.load - 1,
        sensor=args.sensor,
    )
