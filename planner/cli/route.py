"""``skepway route FROM TO``: the road between places, its legs, how long they take and who says so."""

from __future__ import annotations

import argparse
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

from planner.app.asking.place_names import find_sites
from planner.cli.exits import Exit
from planner.cli.options import add_sources, add_units, figure, units_of, whole
from planner.cli.planning import sources_of
from planner.errors import Fault, InputError
from planner.model.records import Road, Site
from planner.services.roads.find import find_roads
from planner.services.roads.heights import with_heights
from planner.services.roads.legs import with_time_factor
from planner.services.roads.request import VEHICLES, RoadVehicle, RouteRequest
from planner.services.roads.tracks import load_track, road_along
from planner.units import UnitSystem
from planner.words import say


def configure(parser: argparse.ArgumentParser) -> None:
    add_places(parser)
    parser.add_argument(
        "--alternatives", type=whole(0), default=0, metavar="N", help="offer so many other roads"
    )
    parser.add_argument(
        "--depart", default="", metavar="TIME", help="local time of leaving, 2026-06-01T05:00"
    )
    add_units(parser)
    add_sources(parser)


def add_places(parser: argparse.ArgumentParser) -> None:
    """Where from, where to, over what, in which vehicle, or along which track."""
    parser.add_argument("origin", nargs="?", default="", metavar="FROM", help="a name or coordinates")
    parser.add_argument("destination", nargs="?", default="", metavar="TO")
    parser.add_argument("--via", action="append", default=[], metavar="PLACE", help="a stop; may be repeated")
    parser.add_argument(
        "--track", type=Path, metavar="FILE", help="take this GPX, GeoJSON or KML as the road"
    )
    parser.add_argument("--vehicle", choices=tuple(VEHICLES), default="car", help="(car)")
    parser.add_argument(
        "--height", type=figure(0.1, 20.0), metavar="M", help="height of the vehicle with its load"
    )
    parser.add_argument(
        "--weight", type=figure(0.1, 200.0), metavar="T", help="weight of the vehicle with its load"
    )
    parser.add_argument(
        "--factor", type=figure(0.3, 5.0), default=1.0, metavar="X", help="your own time factor, 1.2 (1)"
    )


def sites_of(args: argparse.Namespace) -> tuple[tuple[Site, ...], tuple[str, ...]]:
    """The places asked for in driving order, and remarks on namesakes."""
    ends = {name: text for name, text in (("FROM", args.origin), ("TO", args.destination)) if text}
    if not ends:
        if args.track:
            return (), ()
        raise InputError([Fault("FROM", "", "is missing", "Name a place, or a track with --track")])
    found, remarks = find_sites(
        ends | {f"--via {number}": text for number, text in enumerate(args.via, start=1)}
    )
    stops = [site for name, site in found.items() if name not in ends]
    return (found["FROM"], *stops, *(found[name] for name in ends if name == "TO")), remarks


def roads_of(args: argparse.Namespace, sites: tuple[Site, ...]) -> tuple[Road, ...]:
    """The roads asked for, the user's factor applied."""
    vehicle = _vehicle(args)
    with sources_of(args) as sources:
        if args.track:
            road = road_along(load_track(args.track), sites, vehicle)
            roads: tuple[Road, ...] = (with_heights(sources.client, sources.settings, road),)
        else:
            request = RouteRequest(
                sites, vehicle, getattr(args, "depart", ""), getattr(args, "alternatives", 0)
            )
            roads = find_roads(sources.client, sources.settings, request)
    return tuple(with_time_factor(road, args.factor) for road in roads)


def run(args: argparse.Namespace) -> int:
    units = units_of(args)
    sites, remarks = sites_of(args)
    if len(sites) < 2 and not args.track:
        raise InputError([Fault("TO", "", "is missing", "Name the destination, or a track with --track")])
    for remark in remarks:
        print(say("cli.remark", text=remark))
    for number, road in enumerate(roads_of(args, sites)):
        title = say("cli.road") if number == 0 else say("cli.alternative", number=number)
        print(f"{title}: {_sum(road, units)}")
        for line in _legs(road, sites, units):
            print(f"  {line}")
        print(say("cli.road_source", source=road.source))
        if road.attribution:
            print(f"  {road.attribution}")
    return Exit.FINE


def _vehicle(args: argparse.Namespace) -> RoadVehicle:
    vehicle = VEHICLES[args.vehicle]
    if args.height is not None:
        vehicle = replace(vehicle, height_m=args.height)
    if args.weight is not None:
        vehicle = replace(vehicle, weight_t=args.weight)
    return vehicle


def _sum(road: Road, units: UnitSystem) -> str:
    band = (
        say("cli.may_take_up_to", time_error_share=f"{road.time_error_share:.0%}")
        if road.time_error_share
        else ""
    )
    mark = " (estimated)" if road.estimated else ""
    return f"{units.distance_text(road.length_km)} in {_clock(road.driving_s)}{band}{mark}"


def _legs(road: Road, sites: tuple[Site, ...], units: UnitSystem) -> list[str]:
    lines = []
    for (here, there), (first, last) in zip(pairwise(sites), pairwise(road.waypoint_vertex), strict=False):
        way = units.distance_text(float(road.km[last] - road.km[first]), 1)
        drive_s = float(road.drive_s[last] - road.drive_s[first])
        lines.append(f"{here.name} to {there.name}: {way}, {_clock(drive_s)}")
    return lines


def _clock(seconds: float) -> str:
    minutes = round(seconds / 60.0)
    return f"{minutes // 60} h {minutes % 60:02d} min"
