"""``skepway lane LANEFILE``: may bees go by parcel this week, on which day, how packed, what to ask the carrier."""

from __future__ import annotations

import argparse
import sys
import time
from contextlib import nullcontext
from pathlib import Path

from planner.app.common.executors import workers
from planner.app.lane.documents import lane_document
from planner.app.lane.inputs import weather_of_lane
from planner.app.lane.plan import lane_answer
from planner.app.lane.records import LaneAnswer
from planner.app.lane.words import lane_words
from planner.app.lane.year import lane_year, year_svg, year_words
from planner.cli.candidate import write_picture
from planner.cli.exits import Exit
from planner.cli.options import (
    add_catalogue,
    add_json,
    add_sources,
    add_units,
    print_sections,
    units_of,
    whole,
    write_json,
)
from planner.cli.planning import sources_of
from planner.cli.progress import ProgressLine
from planner.cli.voice import DASH
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Weather
from planner.store.catalogue import load_catalogue
from planner.store.lanefile import load_lane
from planner.store.lanerecords import ParcelLane
from planner.store.lanerules import lane_places
from planner.store.typicalyear import read_year
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("lane", type=Path, metavar="LANEFILE", help="file of a parcel lane (TOML)")
    add_catalogue(parser)
    add_units(parser)
    add_sources(parser)
    add_json(parser)
    parser.add_argument("--seed", type=whole(0), default=1, metavar="N", help="random seed (default 1)")
    parser.add_argument("--year", type=Path, metavar="FOLDER", help=say("parcel.help_year"))
    parser.add_argument("--papers", type=Path, metavar="FOLDER", help=say("parcel.help_papers"))
    parser.add_argument("--jobs", type=whole(1), default=1, metavar="N", help="work in so many processes (1)")
    parser.add_argument(
        "--cluster", default="", metavar="ADDRESS", help="work on a Dask cluster, tcp://host:8786"
    )


def run(args: argparse.Namespace) -> int:
    catalogue = load_catalogue(lane_places(), *args.catalogue)
    lane = load_lane(args.lane, catalogue)
    if args.year:
        return _year(args, lane, catalogue)
    asked = lane.weather is not None and lane.weather.weather is None and lane.weather.source != "own"
    with sources_of(args) if asked else nullcontext() as sources:
        weather = weather_of_lane(lane, sources, now_s=time.time())
    with ProgressLine(say("parcel.progress")) as progress:
        answer = lane_answer(lane, weather, catalogue, seed=args.seed, on_progress=progress)
    titles = {name: place.title for name, place in catalogue.loading_places.items()}
    if args.json != DASH:
        head, sections = lane_words(answer, titles)
        print(head)
        print_sections(sections)
    if args.json:
        write_json(args.json, lane_document(answer, titles))
    if args.papers:
        _papers(args, answer, weather, catalogue)
    known = answer.best is not None and answer.best.harm_of_100 is not None
    return Exit.FINE if known else Exit.SERVICE


def _papers(args: argparse.Namespace, answer: LaneAnswer, weather: Weather, catalogue: Catalogue) -> None:
    """Labels and the receiver's page; what was done to users' texts is told on the error stream."""
    from planner.paper.folder import Wanted  # late: setting pages loads much
    from planner.paper.lanefolder import write_lane_papers

    paths, remarks = write_lane_papers(
        args.papers, answer, weather, catalogue, time.time(), Wanted(units=units_of(args))
    )
    for remark in remarks:
        print(say("cli.remark", text=remark), file=sys.stderr)
    told = say("parcel.papers_wrote", count=len(paths), folder=str(args.papers))
    print(told if paths else say("parcel.no_papers"), file=sys.stderr if args.json == DASH else sys.stdout)


def _year(args: argparse.Namespace, lane: ParcelLane, catalogue: Catalogue) -> int:
    """The chart of a year into a folder, which keeps finished weeks too."""
    if lane.year is None:
        raise InputError([Fault("year", "", say("parcel.no_year"), say("parcel.no_year_remedy"))])
    weather = read_year(lane.year)
    with workers(args.jobs, args.cluster) as executor, ProgressLine(say("parcel.progress")) as progress:
        year = lane_year(
            lane,
            weather,
            catalogue,
            seed=args.seed,
            folder=args.year / "weeks",
            executor=executor,
            on_progress=progress,
        )
    print(year_words(year))
    write_picture(args.year, "year.svg", year_svg(year))
    return Exit.FINE
