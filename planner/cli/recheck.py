"""``skepway recheck TRIP``: plan again with the newest forecast and say what changed since the last plan."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from planner.app.plan.plan import plan_trip
from planner.app.plan.recheck import Snapshot, changes, from_document, snapshot
from planner.app.plan.words import answer
from planner.cli.options import add_sources, add_trip, add_units, catalogue_of, units_of
from planner.cli.planning import journalled, ready_of, told
from planner.cli.progress import ProgressLine
from planner.errors import StorageError
from planner.reading import net
from planner.store.journal import Journal, trip_key, trip_place
from planner.store.tripfile import load_trip


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_units(parser)
    add_sources(parser)


def run(args: argparse.Namespace) -> int:
    catalogue, units, now_s = catalogue_of(args), units_of(args), time.time()
    args.refresh = not args.offline
    kept = _last(args.trip)
    found = ready_of(args, load_trip(args.trip, catalogue), now_s)
    with ProgressLine("Planning") as progress:
        plan = plan_trip(found.trip, found.road, found.weather, catalogue, on_progress=progress)
    new = snapshot(plan, now_s)
    print(answer(plan, catalogue, units, now_s=now_s).headline)
    if kept is None:
        print("This trip was not planned before; nothing to compare with.")
    else:
        for line in changes(plan, kept, new, units):
            print(f"  - {line}")
    journalled(args.trip, now_s, new.as_document())
    return told(plan)


def _last(trip: Path) -> Snapshot | None:
    """The last plan of the trip; where the journal cannot be read a remark says so."""

    def unreadable(fault: Exception) -> StorageError:
        return StorageError(
            f"The last plan of {trip.name} is damaged ({type(fault).__name__}); it is left out."
        )

    try:
        with net(unreadable):
            kept = Journal().last(trip_key(trip), trip_place(trip))
            return None if kept is None else from_document(kept)
    except StorageError as error:
        print(f"Remark: {error}", file=sys.stderr)
        return None
