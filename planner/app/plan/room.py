"""Whether the boxes find room where they are to ride: by the size of box and place, alone and all places together."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np

from planner.model.catalogue import Catalogue
from planner.model.records import Box, BoxType, Group, LoadingPlace, Trip
from planner.words import say

SNUG_M = 1e-6
"""A box that is just as wide as its place fits, whatever the last digit of a division says."""


@dataclass(frozen=True, slots=True)
class Room:
    """A loading place at its fullest: boxes that fit (inf where there is no end) and boxes that ride."""

    fit: float
    ride: int

    @property
    def enough(self) -> bool:
        return self.ride <= self.fit

    @property
    def text(self) -> str:
        """How many of the boxes fit, e.g. ``fits 2 of 12``."""
        return say("answer.fits_of", fit=f"{self.fit:g}", ride=f"{self.ride}")


def room_of(trip: Trip, catalogue: Catalogue, place: str) -> Room:
    """The fullest of the loading places in use when every group that is not pinned elsewhere rides in ``place``."""
    used = dict.fromkeys(group.loading_place or place for group in trip.groups)
    rooms = (
        _room(catalogue, name, aboard)
        for name in used
        for groups in _legs(trip)
        if (aboard := [group for group in groups if (group.loading_place or place) == name])
    )
    return max(
        rooms,
        key=lambda room: (room.ride / room.fit if room.fit else np.inf, room.ride),
        default=Room(np.inf, 0),
    )


def boxes_that_fit(box: BoxType, place: LoadingPlace) -> float:
    """Boxes of one type that a place holds: rows on its floor, turned the better way, times tiers; or as counted."""
    if not np.isfinite(place.length_m + place.width_m + place.height_m):
        return place.capacity_boxes
    length_m, width_m, height_m = outside_m(box)
    along, across = (
        _times(place.length_m, first) * _times(place.width_m, second)
        for first, second in ((length_m, width_m), (width_m, length_m))
    )
    return min(max(along, across) * _times(place.height_m, height_m), place.capacity_boxes)


def outside_m(box: BoxType) -> tuple[float, float, float]:
    """Length, width and height of a box with its walls, floor and lid."""
    wall_m, lid_m = (sum(thickness for thickness, _ in layers) for layers in (box.walls, box.lid))
    return (
        box.inside_length_m + 2.0 * wall_m,
        box.inside_width_m + 2.0 * wall_m,
        box.inside_height_m + wall_m + lid_m,
    )


def space_of(catalogue: Catalogue, name: str) -> tuple[str, str, str]:
    """The room that a place is: places that are states of one room (windows open, windows shut) have the same."""
    place = catalogue.loading_places[name]
    return place.vehicle, place.zone, place.space


def share_out(trip: Trip, catalogue: Catalogue) -> dict[str, int]:
    """Boxes of the fullest leg by loading place, each group split by count as the places fill up.

    Boxes that find no room anywhere are left out: ``held_of`` counts them.
    """
    legs = [_shared(trip, leg, parts_of(trip, catalogue)) for leg in range(len(trip.waypoints) - 1)]
    return max(legs, key=lambda found: sum(found.values()))


def held_of(trip: Trip, catalogue: Catalogue) -> Room:
    """How many boxes all loading places of the trip hold together, and how many ride, on the leg that lacks most."""
    parts = parts_of(trip, catalogue)
    legs = [
        Room(float(sum(_shared(trip, leg, parts).values())), sum(group.count for group in groups))
        for leg, groups in enumerate(_legs(trip))
    ]
    return max(legs, key=lambda room: (room.ride - room.fit, room.ride))


def parts_of(trip: Trip, catalogue: Catalogue) -> list[dict[str, int]]:
    """Boxes of each group by loading place, those that are pinned first, then in the order of load and places.

    A place that is another state of the same space (windows open, windows shut) is not counted twice.
    """
    full: dict[tuple[int, tuple[str, str, str]], float] = {}
    found: list[dict[str, int]] = [{} for _ in trip.groups]
    for g, group in sorted(enumerate(trip.groups), key=lambda row: row[1].loading_place is None):
        legs = [leg for leg in range(len(trip.waypoints) - 1) if _aboard(trip, group, leg)]
        own = [group.loading_place] if group.loading_place else []
        left = group.count
        for name in dict.fromkeys([*own, *trip.loading_places]):
            place = catalogue.loading_places[name]
            spaces = [(leg, space_of(catalogue, name)) for leg in legs]
            fit = boxes_that_fit(catalogue.box_types[group.box_type], place)
            free = 1.0 - max((full.get(space, 0.0) for space in spaces), default=0.0)
            here = left if np.isinf(fit) else min(left, int(free * fit + SNUG_M))
            if here > 0:
                found[g][name] = here
                full |= {space: full.get(space, 0.0) + here / fit for space in spaces}
                left -= here
    return found


def _shared(trip: Trip, leg: int, parts: Sequence[Mapping[str, int]]) -> dict[str, int]:
    """Boxes by loading place on one leg."""
    found: dict[str, int] = {}
    for group, part in zip(trip.groups, parts, strict=True):
        if _aboard(trip, group, leg):
            for name, count in part.items():
                found[name] = found.get(name, 0) + count
    return found


# -- ways to place a load ------------------------------------------------------------------------


MOST_SPLIT = 12
"""Ways to place a load that had to be split: other states of the same spaces, such as windows shut or open."""

Arrangement = tuple[str, ...]


def arranged(trip: Trip, catalogue: Catalogue) -> tuple[Trip, list[Arrangement]]:
    """The trip, and the ways to place its load: the place of every group, open ones all in one place of the trip.

    Where no single place holds the load, groups are spread whole; where that fails too, they are split over the
    places and come back as groups of the same label, one after the other.
    """
    every = _in_one_place(trip)
    if any(room_of(trip, catalogue, name).enough for name in trip.loading_places):
        return trip, every
    spread = _spread(trip, catalogue)
    if spread:
        return trip, list(dict.fromkeys([*every, spread]))
    if not held_of(trip, catalogue).enough:
        return trip, every
    split, places = _split(trip, parts_of(trip, catalogue))
    return split, list(dict.fromkeys([*_in_one_place(split), *_alternatives(split, places, catalogue)]))


def _in_one_place(trip: Trip) -> list[Arrangement]:
    return list(
        dict.fromkeys(
            tuple(group.loading_place or name for group in trip.groups) for name in trip.loading_places
        )
    )


def _spread(trip: Trip, catalogue: Catalogue) -> Arrangement | None:
    """Groups whole, the largest first, each in the first place that still holds it; None where that fails."""
    placed = {i: group.loading_place for i, group in enumerate(trip.groups) if group.loading_place}
    for i in sorted(range(len(trip.groups)), key=lambda i: -trip.groups[i].count):
        if i in placed:
            continue
        for name in trip.loading_places:
            tried = placed | {i: name}
            groups = tuple(
                replace(group, loading_place=tried[j]) for j, group in enumerate(trip.groups) if j in tried
            )
            if room_of(replace(trip, groups=groups), catalogue, name).enough:
                placed = tried
                break
        else:
            return None
    found = tuple(str(placed[i]) for i in range(len(trip.groups)))
    return found if _holds(trip, found, catalogue) else None


def _holds(trip: Trip, places: Arrangement, catalogue: Catalogue) -> bool:
    groups = tuple(replace(g, loading_place=name) for g, name in zip(trip.groups, places, strict=True))
    return room_of(replace(trip, groups=groups), catalogue, places[0]).enough


def _split(trip: Trip, parts: Sequence[Mapping[str, int]]) -> tuple[Trip, Arrangement]:
    """The trip with a group for each part, boxes with names in their order, and the place of each part."""
    groups: list[Group] = []
    places: list[str] = []
    boxes: list[Box] = []
    for g, (group, part) in enumerate(zip(trip.groups, parts, strict=True)):
        names = iter([box.name for box in trip.boxes if box.group == g])
        for place, count in part.items():
            boxes += [Box(name, len(groups)) for _, name in zip(range(count), names, strict=False)]
            groups.append(replace(group, count=count))
            places.append(place)
    return replace(trip, groups=tuple(groups), boxes=tuple(boxes)), tuple(places)


def _alternatives(trip: Trip, places: Arrangement, catalogue: Catalogue) -> list[Arrangement]:
    """The places themselves, and with other states of their spaces that the trip names."""
    used = list(dict.fromkeys(places))
    states = [
        [
            name,
            *(
                n
                for n in trip.loading_places
                if n != name and space_of(catalogue, n) == space_of(catalogue, name)
            ),
        ]
        for name in used
    ]
    found = [
        tuple(dict(zip(used, each, strict=True))[name] for name in places)
        for each, _ in zip(product(*states), range(MOST_SPLIT), strict=False)
    ]
    return [each for each in found if each == places or _holds(trip, each, catalogue)]


# -- arithmetic ----------------------------------------------------------------------------------


def _room(catalogue: Catalogue, name: str, groups: Sequence[Group]) -> Room:
    """What a place holds of these groups; of mixed boxes the same part of each."""
    ride = sum(group.count for group in groups)
    place = catalogue.loading_places[name]
    full = sum(
        group.count / fit if (fit := boxes_that_fit(catalogue.box_types[group.box_type], place)) else np.inf
        for group in groups
    )
    return Room(float(np.floor(ride / full + SNUG_M)) if full > 0.0 else np.inf, ride)


def _times(space_m: float, box_m: float) -> float:
    """How often a length goes into another."""
    return float(np.floor(space_m / box_m + SNUG_M))


def _legs(trip: Trip) -> Iterator[list[Group]]:
    """The groups aboard on each leg."""
    for leg in range(len(trip.waypoints) - 1):
        yield [group for group in trip.groups if _aboard(trip, group, leg)]


def _aboard(trip: Trip, group: Group, leg: int) -> bool:
    return group.load_waypoint <= leg < group.unload_waypoint % len(trip.waypoints)
