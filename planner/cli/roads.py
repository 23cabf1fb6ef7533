"""``skepway roads build EXTRACT.osm.pbf``: the road network for the user's own routing engine."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from planner.cli.exits import Exit
from planner.cli.voice import steer
from planner.reading import printable
from planner.services.roads.engine import build_network, find_engine
from planner.services.roads.find import tiles_dir
from planner.services.settings import load_settings
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    actions = parser.add_subparsers(required=True, metavar="ACTION")
    build = actions.add_parser("build", help="build the network from an extract (.osm.pbf)")
    build.add_argument("extract", type=Path, metavar="EXTRACT")
    build.add_argument(
        "--engine", type=Path, metavar="FOLDER", help="the engine's programs (roads.engine_dir)"
    )
    build.add_argument("--to", type=Path, metavar="FOLDER", help="where the network goes (roads.tiles_dir)")


def run(args: argparse.Namespace) -> int:
    settings = load_settings()
    engine = find_engine(args.engine or Path(settings.roads.engine_dir or "."))
    target = (args.to or tiles_dir(settings)).resolve()
    start = time.monotonic()
    tiles = build_network(engine, args.extract, target, on_line=_show)
    seconds = f"{time.monotonic() - start:.1f}"
    print(say("cli.roads_built", tiles=str(tiles), seconds=seconds, folder=str(target)))
    if settings.roads.service != "engine":
        print('To use it, set service = "engine" and engine_dir under [roads] in your settings.')
    return Exit.FINE


def _show(line: str) -> None:
    if sys.stderr.isatty():
        steer(f"\r\033[K{printable(line[:100])}")
