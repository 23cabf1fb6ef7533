"""``skepway check TRIP``: every fault of a trip file with field, value, problem and remedy."""

from __future__ import annotations

import argparse

from planner.cli.exits import Exit
from planner.cli.options import add_trip, catalogue_of
from planner.store.tripfile import TripFile, load_trip
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)


def run(args: argparse.Namespace) -> int:
    found = load_trip(args.trip, catalogue_of(args))
    for remark in found.remarks:
        print(say("cli.remark", text=remark))
    print(say("cli.checked_without_faults", name=str(args.trip.name), found=str(_summary(found))))
    return Exit.FINE


def _summary(found: TripFile) -> str:
    trip = found.trip
    boxes = sum(group.count for group in trip.groups)
    road = f", {found.road.length_km:.0f} km" if found.road else ""
    places = _counted(len(trip.loading_places), "loading place", "loading places")
    counts = f"{_counted(boxes, 'box', 'boxes')}, {places}"
    return f"{trip.origin.name} to {trip.destination.name}{road}, {counts}."


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"
