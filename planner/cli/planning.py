"""From a command's arguments to a planned trip: sources of roads and forecasts, the trip furnished, the plan."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from planner.app.plan.inputs import Ready, Sources, ready
from planner.app.plan.plan import plan_trip
from planner.app.plan.results import UNKNOWN, Plan
from planner.cli.exits import Exit
from planner.cli.progress import ProgressLine
from planner.errors import StorageError
from planner.model.catalogue import Catalogue
from planner.store.journal import Journal, trip_key
from planner.store.tripfile import TripFile, load_trip

PATIENCE_S = 60.0
"""How long a command waits for services, all together."""


@contextmanager
def sources_of(args: argparse.Namespace) -> Iterator[Sources]:
    """The user's sources in the mode the arguments ask for."""
    opened = Sources.open(offline=args.offline, refresh=args.refresh)
    client = opened.client.with_(until_s=time.monotonic() + PATIENCE_S, on_wait=_say_what_for)
    try:
        yield Sources(client, opened.settings)
    finally:
        opened.close()


def _say_what_for(service: str) -> None:
    print(f"Waiting for {service}, for {PATIENCE_S:.0f} s at most ...", file=sys.stderr)


def told(plan: Plan) -> Exit:
    """What a command that planned hands back: whether the weather and the road were enough to tell anything."""
    return Exit.SERVICE if plan.worst_level(plan.ranking[0]) == UNKNOWN else Exit.FINE


def journalled(trip: Path, now_s: float, document: Mapping[str, Any]) -> None:
    """Keep a plan for the next comparison; where that fails the answer stands, and a remark says what is lost."""
    try:
        Journal().keep(trip_key(trip), now_s, document)
    except StorageError as error:
        print(f"Remark: this plan is not kept for recheck. {error}", file=sys.stderr)


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
