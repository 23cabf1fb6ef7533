"""``skepway recheck TRIP``: answer again with the newest forecast and say what changed since the last answer."""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

from planner.app.answer.compare import snapshot
from planner.app.plan.recheck import Snapshot, changes, from_document
from planner.cli.options import add_samples, add_sources, add_trip, add_units, catalogue_of, units_of
from planner.cli.planning import SAMPLES, answer_of, asked_of, exit_for, given_of, journalled
from planner.errors import StorageError
from planner.reading import net
from planner.store.journal import Journal, trip_key, trip_place
from planner.store.tripfile import load_trip
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_trip(parser)
    add_units(parser)
    add_sources(parser)
    add_samples(parser, SAMPLES)


def run(args: argparse.Namespace) -> int:
    catalogue, units, now_s = catalogue_of(args), units_of(args), time.time()
    args.refresh = not args.offline
    kept = _last(args.trip)
    given = given_of(args, load_trip(args.trip, catalogue), now_s)
    asked = asked_of(given, catalogue, args, now_s)
    said = answer_of(given, asked, catalogue, args, now_s)
    print(said.sentence)
    if asked is None or said.best is None:
        return exit_for(said)
    new = snapshot(said, now_s)
    if kept is None:
        print("This trip was not planned before; nothing to compare with.")
    else:
        titles = {name: row.title for name, row in catalogue.loading_places.items()}
        for line in changes(kept, new, given.trip.origin.zone, titles, units):
            print(f"  - {line}")
    journalled(args.trip, now_s, new.as_document())
    return exit_for(said)


def _last(trip: Path) -> Snapshot | None:
    """The last plan of the trip; where the journal cannot be read a remark says so."""

    def unreadable(fault: Exception) -> StorageError:
        return StorageError(
            say("cli.last_plan_damaged", name=str(trip.name), name_2=str(type(fault).__name__))
        )

    try:
        with net(unreadable):
            kept = Journal().last(trip_key(trip), trip_place(trip))
            return None if kept is None else from_document(kept)
    except StorageError as error:
        print(say("cli.remark", text=str(error)), file=sys.stderr)
        return None
