"""Options that make a trip from place names, with usual figures for the rest: ``--from``, ``--to``, ``--via``."""

from __future__ import annotations

import argparse
from dataclasses import replace
from pathlib import Path

from planner.app.asking.place_names import find_sites
from planner.app.asking.quick import OwnFigures, Quick, QuickLoad, quick_draft
from planner.app.plan.inputs import SKY_CLOUD_SHARE
from planner.cli.options import figure, whole
from planner.errors import Fault, InputError
from planner.files import made
from planner.model.catalogue import Catalogue
from planner.store.catalogue import bundled_vehicles
from planner.store.tripfile import TripFile, load_trip, resolve, write_draft
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    usual = QuickLoad()
    group = parser.add_argument_group("instead of a trip file")
    group.add_argument("--from", dest="origin", metavar="PLACE", help="town, saved place or coordinates")
    group.add_argument("--to", dest="destination", metavar="PLACE", help="destination")
    group.add_argument(
        "--via", action="append", default=[], metavar="PLACE", help="a stop; may be given several times"
    )
    kinds = ", ".join(bundled_vehicles())
    group.add_argument(
        "--vehicle", default="car", metavar="NAME", help=say("cli.kinds_or_own", kinds=str(kinds))
    )
    group.add_argument(
        "--leave", default="", metavar="TIME", help="first departure, YYYY-MM-DDTHH:MM (this evening)"
    )
    group.add_argument("--until", default="", metavar="TIME", help="last departure (16 h later)")
    group.add_argument(
        "--boxes",
        type=whole(1, 5000),
        default=usual.count,
        metavar="N",
        help=say("cli.boxes_help", count=str(usual.count)),
    )
    group.add_argument(
        "--box-type",
        default=usual.box_type,
        metavar="NAME",
        help=say("cli.box_type_help", box_type=str(usual.box_type)),
    )
    group.add_argument(
        "--frames",
        type=figure(0.1, 60.0),
        default=usual.frames_of_bees,
        metavar="N",
        help="frames of bees (5)",
    )
    group.add_argument(
        "--low", type=figure(-40.0, 45.0), metavar="C", help="your own weather: the dawn low, with --high"
    )
    group.add_argument(
        "--high", type=figure(-40.0, 55.0), metavar="C", help="your own weather: the afternoon high"
    )
    group.add_argument(
        "--dew",
        type=figure(-50.0, 35.0),
        metavar="C",
        help="your own weather: the dew point (1 degree below the low)",
    )
    group.add_argument(
        "--sky", choices=tuple(SKY_CLOUD_SHARE), default="partly_cloudy", help="(partly_cloudy)"
    )
    group.add_argument(
        "--wind",
        type=figure(0.0, 60.0),
        default=2.0,
        metavar="M_S",
        help="your own weather: wind at 10 m (2)",
    )
    group.add_argument("--save", type=Path, metavar="FILE", help="keep the trip so made as a trip file")


def trip_of(args: argparse.Namespace, catalogue: Catalogue, now_s: float) -> TripFile:
    """The trip file named, or a trip made from place names."""
    if args.trip:
        if args.origin or args.destination or args.via:
            raise InputError(
                [Fault("--from", args.origin or "", "a trip file is named too", "Give one or the other")]
            )
        return load_trip(args.trip, catalogue)
    missing = [flag for flag, value in (("--from", args.origin), ("--to", args.destination)) if not value]
    if missing:
        raise InputError(
            [Fault(flag, "", "is missing", "Name a trip file, or both --from and --to") for flag in missing]
        )
    asked = {"--from": args.origin, "--to": args.destination}
    sites, remarks = find_sites(asked | {f"--via {i + 1}": text for i, text in enumerate(args.via)})
    origin, destination, *via = sites.values()
    asked_for = Quick(
        origin=origin,
        destination=destination,
        via=via,
        vehicle=args.vehicle,
        load=QuickLoad(args.boxes, args.box_type, args.frames),
        leave=args.leave,
        until=args.until,
        own=_own_figures(args),
    )
    draft = quick_draft(asked_for, now_s)
    found = resolve(draft, catalogue)
    if args.save:
        made(args.save.parent)
        write_draft(draft, args.save)
    return replace(found, remarks=(*remarks, *found.remarks))


def _own_figures(args: argparse.Namespace) -> OwnFigures | None:
    if args.low is None and args.high is None:
        return None
    if args.low is None or args.high is None:
        flag = "--low" if args.low is None else "--high"
        raise InputError([Fault(flag, "", "is missing", "Give both --low and --high, or neither")])
    return OwnFigures(args.low, args.high, args.dew, args.sky, args.wind)
