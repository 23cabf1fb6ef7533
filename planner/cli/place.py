"""``skepway place TEXT``: find places offline or online; keep and drop saved ones."""

from __future__ import annotations

import argparse
from dataclasses import replace

from planner.cli.exits import Exit
from planner.cli.options import add_sources, whole
from planner.cli.planning import sources_of
from planner.errors import Fault, InputError
from planner.model.records import Site
from planner.services.geocoding import geocode as online
from planner.services.geocoding.gazetteer import ATTRIBUTION
from planner.services.geocoding.saved import forget_place, save_place, saved_places
from planner.services.geocoding.search import suggestions
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("text", nargs="?", default="", metavar="TEXT", help="a name, or coordinates")
    parser.add_argument("--most", type=whole(1), default=8, metavar="N", help="show at most so many (8)")
    parser.add_argument("--online", action="store_true", help="ask the geocoder named in your settings")
    parser.add_argument(
        "--save", default="", metavar="NAME", help="keep the first place found under this name"
    )
    parser.add_argument("--forget", default="", metavar="NAME", help="drop a saved place")
    add_sources(parser)


def run(args: argparse.Namespace) -> int:
    if args.forget and not forget_place(args.forget):
        raise InputError([Fault("--forget", args.forget, "no such saved place", "See: skepway place")])
    found, attribution = _found(args)
    if args.text and not found:
        remedy = "Check the spelling, try a larger place nearby, or write coordinates"
        raise InputError([Fault("place", args.text, "no such place is known", remedy)])
    for title, site in found:
        print(f"{site.lat_deg:9.4f} {site.lon_deg:10.4f}  {site.zone:22} {title}")
    if attribution:
        print(attribution)
    if args.save:
        _save(args.save, found)
    return Exit.FINE


def _found(args: argparse.Namespace) -> tuple[list[tuple[str, Site]], str]:
    """Places as (title, site) with the attribution their source asks for; without a text the saved ones."""
    if not args.text:
        return [(site.name, site) for site in saved_places()], ""
    if args.online:
        with sources_of(args) as sources:
            return online.geocode(sources.client, sources.settings, args.text, args.most), online.ATTRIBUTION
    offered = suggestions(args.text, saved_places(), args.most)
    from_gazetteer = any(one.origin == "gazetteer" for one in offered)
    return [(one.title, one.site) for one in offered], ATTRIBUTION if from_gazetteer else ""


def _save(name: str, found: list[tuple[str, Site]]) -> None:
    if not found:
        raise InputError([Fault("--save", name, "there is no place to save", "Give a name or coordinates")])
    save_place(replace(found[0][1], name=name))
    print(say("cli.saved_as", name=name))
