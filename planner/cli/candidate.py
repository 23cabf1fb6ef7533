"""Options that pick one candidate of a plan: departure, loading place and set-up; by default the best."""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np

from planner.app.answer.ask import Asked
from planner.app.answer.records import Answer, Candidate
from planner.app.answer.settled import settled_plan
from planner.app.common.wording import Said
from planner.app.plan.plan import departures_of
from planner.app.plan.results import Plan
from planner.cli.exits import Exit
from planner.cli.options import add_json, add_samples, add_sources, add_trip, add_units, print_sections
from planner.cli.planning import SAMPLES, answer_of, asked_of, exit_for, given_of
from planner.cli.voice import DASH
from planner.errors import Fault, InputError
from planner.files import made, write_text
from planner.model.catalogue import Catalogue
from planner.model.records import Floats, Trip
from planner.reading import printable
from planner.store.clocks import instant_s
from planner.store.schema import did_you_mean
from planner.store.tripfile import load_trip
from planner.words import Moment, say


def add_candidate(parser: argparse.ArgumentParser) -> None:
    """A trip, one of its candidates, and where the answer goes."""
    add_trip(parser)
    add_units(parser)
    add_sources(parser)
    add_samples(parser, SAMPLES)
    add_json(parser)
    add_pictures(parser)
    add_leave(parser)
    parser.add_argument("--place", default="", metavar="NAME", help="loading place (the best)")
    parser.add_argument("--setup", default="", metavar="NAME", help="box set-up (the best)")


def add_leave(parser: argparse.ArgumentParser) -> None:
    """Which departure is looked at."""
    parser.add_argument("--leave", default="", metavar="TIME", help="departure, 2027-05-15T09:00 (the best)")


def add_pictures(parser: argparse.ArgumentParser) -> None:
    """Where the plots go."""
    parser.add_argument("--pictures", type=Path, metavar="FOLDER", help="write the plots as SVG files")


@dataclass(frozen=True)
class LookedAt:
    """A trip answered, the candidate the arguments ask for, and that candidate's own plan, whose one is ``ONLY``."""

    asked: Asked
    said: Answer
    one: Candidate
    catalogue: Catalogue

    @cached_property
    def plan(self) -> Plan:
        """Worked out for whoever asks: what helps is asked of another candidate."""
        return settled_plan(self.said, self.one, self.catalogue)

    @property
    def exit(self) -> Exit:
        return exit_for(self.said)


def looked_at(args: argparse.Namespace, catalogue: Catalogue) -> LookedAt | Exit:
    """The trip answered and the candidate the arguments ask for; the exit code where there is nothing to look at.

    Raises InputError for a candidate that is not there.
    """
    now_s = time.time()
    found = load_trip(args.trip, catalogue)
    leave = getattr(args, "leave", "")
    if leave:
        found = replace(found, trip=leaving(found.trip, leave))
    given = given_of(args, found, now_s, ensemble=getattr(args, "ensemble", False))
    asked = asked_of(given, catalogue, args, now_s, otherwise=not leave)
    said = answer_of(given, asked, catalogue, args, now_s)
    if asked is None or said.best is None:
        print(said.sentence)
        return exit_for(said)
    one = chosen(said, "", getattr(args, "place", ""), getattr(args, "setup", ""))
    one = asked.look(one.key)
    return LookedAt(asked, said, one, catalogue)


def leaving(trip: Trip, leave: str, named: str = "--leave") -> Trip:
    """The trip with one of its departures alone. Raises InputError, for what is ``named``, where none leaves then."""
    departures = departures_of(trip)
    at_s = float(departures[_departure(trip, departures, leave, named)])
    return replace(trip, window=replace(trip.window, first_s=at_s, last_s=at_s))


def chosen(said: Answer, leave: str = "", place: str = "", setup: str = "", *, named: str = "") -> Candidate:
    """The best candidate among those with the departure, place and set-up that are given.

    ``named`` is what a fault is about, where that is no option of its own.
    """
    departure = None
    if leave and said.trip is not None:
        departure = _departure(said.trip, np.array(said.departures_s), leave, named or "--leave")
    names = [*said.places, *(one.place for one in said.candidates)]
    if place:
        _known(named or "--place", place, list(dict.fromkeys(names)))
    if setup:
        _known(
            named or "--setup",
            setup,
            list(dict.fromkeys([*said.setups, *(c.setup for c in said.candidates)])),
        )
    found = [
        one
        for one in said.candidates
        if departure in (None, one.key.departure) and _in_place(one, place) and _set_up(one, setup)
    ]
    if not found:
        problem = "no option of this trip is like that"
        raise InputError([Fault(named or "--place", place or setup, problem, "Ask for the time alone")])
    return found[0]


def _in_place(one: Candidate, place: str) -> bool:
    return not place or one.place == place or (place in {choice.place for choice in one.by_group})


def _set_up(one: Candidate, setup: str) -> bool:
    return not setup or one.setup == setup or (setup in {choice.setup for choice in one.by_group})


def _departure(trip: Trip, departures_s: Floats, leave: str, named: str) -> int:
    zone = trip.origin.zone
    wanted = instant_s(leave, zone, named)
    nearest = int(np.argmin(np.abs(departures_s - wanted)))
    if abs(float(departures_s[nearest]) - wanted) > 60.0:
        near = Moment(float(departures_s[nearest]), zone, "date_clock")
        problem = "no departure of the window leaves then"
        raise InputError([Fault(named, leave, problem, say("cli.nearest_start", near=near))])
    return nearest


def _known(option: str, name: str, known: Sequence[str]) -> None:
    if name not in known:
        raise InputError([Fault(option, name, "not in this trip", did_you_mean(name, known))])


def print_said(args: argparse.Namespace, said: Said) -> None:
    """An answer in words, unless the screen is taken by JSON."""
    if args.json != DASH:
        print(said.headline)
        print_sections(said.sections)


def write_picture(folder: Path, name: str, picture: str) -> None:
    """One plot into the folder asked for, which is made. Raises StorageError."""
    write_text(made(folder) / name, printable(picture))
