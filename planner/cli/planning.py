"""From a command's arguments to a planned trip: sources of roads and forecasts, the trip furnished, the plan."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from planner.app.plan.inputs import Ready, Sources, ready
from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Plan
from planner.cli.progress import ProgressLine
from planner.model.catalogue import Catalogue
from planner.store.tripfile import TripFile, load_trip


@contextmanager
def sources_of(args: argparse.Namespace) -> Iterator[Sources]:
    """The user's sources in the mode the arguments ask for."""
    sources = Sources.open(offline=args.offline, refresh=args.refresh)
    try:
        yield sources
    finally:
        sources.close()


def ready_of(args: argparse.Namespace, found: TripFile, now_s: float) -> Ready:
    """The trip with its road and weather, from its file or from outside."""
    with sources_of(args) as sources:
        return ready(found, sources, now_s=now_s)


def planned_of(args: argparse.Namespace, catalogue: Catalogue) -> Plan:
    """The trip file read, furnished and planned; remarks go to the error stream."""
    return plan_of(ready_of(args, load_trip(args.trip, catalogue), time.time()), catalogue)


def plan_of(given: Ready, catalogue: Catalogue) -> Plan:
    """A furnished trip planned; remarks go to the error stream."""
    for remark in given.remarks:
        print(f"Remark: {remark}", file=sys.stderr)
    with ProgressLine("Planning") as progress:
        return plan_trip(given.trip, given.road, given.weather, catalogue, on_progress=progress)
