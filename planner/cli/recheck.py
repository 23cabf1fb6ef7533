"""``skepway recheck TRIP``: plan again with the newest forecast and say what changed since the last plan."""

from __future__ import annotations

import argparse
import time

from planner.app.plan.plan import plan_trip
from planner.app.plan.recheck import changes, from_document, snapshot
from planner.app.plan.words import answer
from planner.cli.exits import Exit
from planner.cli.options import add_sources, add_trip, add_units, catalogue_of, units_of
from planner.cli.planning import ready_of
from planner.cli.progress import ProgressLine
from planner.store.journal import Journal, trip_key
from planner.store.tripfile import load_trip


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_units(parser)
    add_sources(parser)


def run(args: argparse.Namespace) -> int:
    catalogue, units, now_s = catalogue_of(args), units_of(args), time.time()
    args.refresh = not args.offline
    journal, key = Journal(), trip_key(args.trip)
    kept = journal.last(key)
    found = ready_of(args, load_trip(args.trip, catalogue), now_s)
    with ProgressLine("Planning") as progress:
        plan = plan_trip(found.trip, found.road, found.weather, catalogue, on_progress=progress)
    new = snapshot(plan, now_s)
    print(answer(plan, catalogue, units, now_s=now_s).headline)
    if kept is None:
        print("This trip was not planned before; nothing to compare with.")
    else:
        for line in changes(plan, from_document(kept), new, units):
            print(f"  - {line}")
    journal.keep(key, now_s, new.as_document())
    return Exit.FINE
