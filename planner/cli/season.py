"""``skepway season TRIP --weather FILE``: the chance that a lane goes well, by week and hour of departure."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from planner.app.answer.ask import tolerance_of
from planner.app.common.executors import workers
from planner.app.season.chart import Lane, season
from planner.app.season.pictures import season_svg
from planner.app.season.words import season_document, season_words
from planner.cli.candidate import add_pictures, print_said, write_picture
from planner.cli.exits import Exit
from planner.cli.options import add_json, add_trip, add_units, catalogue_of, whole, write_json
from planner.cli.progress import ProgressLine
from planner.errors import Fault, InputError
from planner.model.preparations import ALL, AS_DECLARED
from planner.services.settings import load_settings
from planner.store.climates import nearest, to_fetch
from planner.store.schema import did_you_mean
from planner.store.tripfile import TripFile, load_trip
from planner.store.typicalyear import read_year


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_units(parser)
    add_json(parser)
    add_pictures(parser)
    parser.add_argument(
        "--weather",
        type=Path,
        metavar="FILE",
        help="PVGIS or TMY3 typical year, or years in a weather CSV of our own (a carried year, where one is near)",
    )
    parser.add_argument("--place", default="", metavar="NAME", help="loading place (the first of the trip)")
    names = [setup.name for setup in ALL]
    parser.add_argument("--setup", choices=names, default=AS_DECLARED.name, help=f"({AS_DECLARED.name})")
    parser.add_argument(
        "--folder", type=Path, metavar="FOLDER", help="keep finished weeks here and go on from them"
    )
    parser.add_argument("--jobs", type=whole(1), default=1, metavar="N", help="work in so many processes (1)")
    parser.add_argument(
        "--cluster", default="", metavar="ADDRESS", help="work on a Dask cluster, tcp://host:8786"
    )


def run(args: argparse.Namespace) -> int:
    catalogue = catalogue_of(args)
    found = load_trip(args.trip, catalogue)
    lane = lane_of(found, args.place, args.setup)
    weather, own = read_year(args.weather or _carried(found)), load_settings().tolerance
    with workers(args.jobs, args.cluster) as executor, ProgressLine("Season") as progress:
        chart = season(
            lane,
            weather,
            catalogue,
            tolerance=tolerance_of(found.trip, own.harm_of_100, own.boxes_of_100),
            folder=args.folder,
            executor=executor,
            on_progress=progress,
        )
    print_said(args, season_words(chart, catalogue))
    if args.json:
        write_json(args.json, season_document(chart))
    if args.pictures:
        write_picture(args.pictures, "season.svg", season_svg(chart))
    return Exit.FINE


def _carried(found: TripFile) -> Path:
    """The carried typical year near the start, named; InputError saying which file to fetch where there is none."""
    start = found.trip.origin
    near = nearest(start.lat_deg, start.lon_deg)
    if not near.serves:
        raise InputError(
            [Fault("--weather", "", "no typical year is named", to_fetch(start.lat_deg, start.lon_deg))]
        )
    print(near.in_words(), file=sys.stderr)
    return near.climate.path


def lane_of(found: TripFile, place: str, setup: str) -> Lane:
    """The lane a trip file stands for. Raises InputError without a road, or for a place that is not the trip's."""
    if found.road is None:
        raise InputError(
            [Fault("road", "", "a season needs the road in the file", "Save it there: skepway route")]
        )
    if place and place not in found.trip.loading_places:
        raise InputError(
            [Fault("--place", place, "not in this trip", did_you_mean(place, found.trip.loading_places))]
        )
    chosen = next(each for each in ALL if each.name == setup)
    return Lane(found.trip, found.road, place or found.trip.loading_places[0], chosen)
