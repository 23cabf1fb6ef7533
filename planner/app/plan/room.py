"""Whether the boxes find room where they are to ride: by the size of box and place, alone and all places together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import BoxType, Group, LoadingPlace, Trip

SNUG_M = 1e-6
"""A box that is just as wide as its place fits, whatever the last digit of a division says."""

OVERLOADED = "all loading places of this trip together hold {fit} of the {ride} boxes aboard at once"
OVERLOADED_REMEDY = "Take fewer boxes, drive twice, or name more loading places"


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
        return f"fits {self.fit:g} of {self.ride}"


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


def share_out(trip: Trip, catalogue: Catalogue) -> dict[str, int]:
    """Boxes of the fullest leg by loading place, each group split by count as the places fill up.

    A place that is another state of the same space (windows open, windows shut) is not counted twice.
    Raises InputError when boxes are left over.
    """
    return max(
        (_shared(trip, catalogue, groups) for groups in _legs(trip)), key=lambda found: sum(found.values())
    )


def spread(
    groups: Sequence[tuple[str, int, str]], places: Sequence[str], catalogue: Catalogue
) -> list[list[tuple[str, int]]]:
    """Where the boxes of each group could ride, all aboard at once: ``(place, boxes)``, in the order of ``places``.

    ``groups`` are ``(box_type, count, place)``, ``place`` empty where the group is not pinned to one; those that are
    take their room first and stay. Boxes for which there is no room are told under the place ``""``.
    """
    full: dict[tuple[str, str, str], float] = {}
    found: list[list[tuple[str, int]]] = [[] for _ in groups]
    for number in sorted(range(len(groups)), key=lambda at: not groups[at][2]):
        box, left, pinned = groups[number]
        for name in [pinned] if pinned else places:
            place = catalogue.loading_places[name]
            space = (place.vehicle, place.zone, place.space)
            fit = boxes_that_fit(catalogue.box_types[box], place)
            free = left if np.isinf(fit) else int((1.0 - full.get(space, 0.0)) * fit + SNUG_M)
            here = left if pinned else min(left, max(free, 0))
            if here > 0:
                full[space] = full.get(space, 0.0) + (here / fit if fit else np.inf)
                found[number].append((name, here))
                left -= here
        if left > 0:
            found[number].append(("", left))
    return found


def _shared(trip: Trip, catalogue: Catalogue, groups: Sequence[Group]) -> dict[str, int]:
    full: dict[tuple[str, str, str], float] = {}
    found: dict[str, int] = {}
    for group in sorted(groups, key=lambda one: one.loading_place is None):
        left = group.count
        for name in dict.fromkeys(
            [*([group.loading_place] if group.loading_place else []), *trip.loading_places]
        ):
            place = catalogue.loading_places[name]
            space = (place.vehicle, place.zone, place.space)
            fit = boxes_that_fit(catalogue.box_types[group.box_type], place)
            here = left if np.isinf(fit) else min(left, int((1.0 - full.get(space, 0.0)) * fit + SNUG_M))
            if here > 0:
                full[space] = full.get(space, 0.0) + here / fit
                found[name] = found.get(name, 0) + here
                left -= here
    ride, fit = sum(group.count for group in groups), sum(found.values())
    if fit < ride:
        problem = OVERLOADED.format(fit=fit, ride=ride)
        raise InputError([Fault("load", str(ride), problem, OVERLOADED_REMEDY)])
    return found


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
