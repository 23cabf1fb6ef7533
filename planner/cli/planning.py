"""From a command's arguments to a planned trip: sources of roads and forecasts, the trip furnished, the plan."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from planner.app.answer.ask import Asked, ask, tolerance_of, unanswered
from planner.app.answer.race import COUNTS
from planner.app.answer.records import Answer, MissingName, Tolerance
from planner.app.answer.words import worded
from planner.app.common.executors import at_hand
from planner.app.plan.inputs import Ready, RoadMissing, Sources, ensemble_members, ready
from planner.cli.exits import Exit
from planner.cli.progress import ProgressLine
from planner.errors import ServiceError, StorageError
from planner.model.catalogue import Catalogue
from planner.model.records import Trip, Weather
from planner.store.journal import Journal, trip_key
from planner.store.tripfile import TripFile
from planner.units import METRIC, US
from planner.words import say

SAMPLES = COUNTS[-1]
"""How many variants an answer rests on where nobody asks for another number."""

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
    print(say("cli.waiting", service=service, seconds=round(PATIENCE_S)), file=sys.stderr)


@dataclass(frozen=True)
class Given:
    """What a trip was answered from: what was found, what is missing and why."""

    trip: Trip
    ready: Ready | None
    missing: tuple[MissingName, ...]
    trouble: str
    tolerance: Tolerance
    members: tuple[Weather, ...] = ()


def given_of(args: argparse.Namespace, found: TripFile, now_s: float, *, ensemble: bool = False) -> Given:
    """The trip with road and weather, or what of them is missing; an outside service that fails is no end."""
    with sources_of(args) as sources:
        own = sources.settings.tolerance
        tolerance = tolerance_of(found.trip, own.harm_of_100, own.boxes_of_100)
        try:
            got = ready(found, sources, now_s=now_s)
        except RoadMissing as error:
            return Given(found.trip, None, ("road",), str(error), tolerance)
        except ServiceError as error:
            return Given(found.trip, None, ("weather",), str(error), tolerance)
        members = ensemble_members(got, sources) if ensemble else ()
    return Given(found.trip, got, (), "", tolerance, members)


def asked_of(
    given: Given, catalogue: Catalogue, args: argparse.Namespace, now_s: float, *, otherwise: bool = True
) -> Asked | None:
    """The trip answered, with a line of progress; None where road or weather is missing."""
    if given.trouble:
        print(given.trouble, file=sys.stderr)
    if given.ready is None:
        return None
    for remark in given.ready.remarks:
        print(say("cli.remark", text=remark), file=sys.stderr)
    with at_hand() as hands, ProgressLine("Simulating") as progress:
        return ask(
            given.ready.trip,
            given.ready.road,
            given.ready.weather,
            catalogue,
            tolerance=given.tolerance,
            now_s=None if given.trip.invented else now_s,
            seed=args.seed,
            counts=counts_to(args.samples),
            weathers=given.members,
            otherwise=otherwise,
            executor=hands,
            on_progress=progress,
        )


def counts_to(samples: int) -> tuple[int, ...]:
    """The rounds of an answer that rests on so many samples."""
    return (*(count for count in COUNTS if count < samples), samples)


def answer_of(
    given: Given, asked: Asked | None, catalogue: Catalogue, args: argparse.Namespace, now_s: float
) -> Answer:
    """The answer with its words, in the units asked for."""
    found = unanswered(given.trip, given.missing, given.tolerance, args.seed)
    if asked is not None:
        found = asked.answer(finished=True)
    return worded(found, catalogue, US if args.units == "us" else METRIC, now_s=now_s)


def exit_for(found: Answer, *, fail_if_unsafe: bool = False) -> Exit:
    """What a command that answered hands back."""
    if found.missing:
        return Exit.SERVICE
    codes = {"do_not_go": Exit.DO_NOT_GO, "cannot_tell": Exit.CANNOT_TELL, "go_if": Exit.GO_IF}
    return codes.get(found.decision, Exit.FINE) if fail_if_unsafe else Exit.FINE


def journalled(trip: Path, now_s: float, document: Mapping[str, Any]) -> None:
    """Keep a plan for the next comparison; where that fails the answer stands, and a remark says what is lost."""
    try:
        Journal().keep(trip_key(trip), now_s, document)
    except StorageError as error:
        print(say("cli.not_kept", why=str(error)), file=sys.stderr)


def ready_of(args: argparse.Namespace, found: TripFile, now_s: float) -> Ready:
    """The trip with its road and weather, from its file or from outside."""
    with sources_of(args) as sources:
        return ready(found, sources, now_s=now_s)
