"""Whether the boxes find room where they are to ride."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from planner.model.catalogue import Catalogue
from planner.model.records import Group, Trip


@dataclass(frozen=True, slots=True)
class Room:
    """A loading place at its fullest: boxes that fit (inf where nobody has counted) and boxes that ride."""

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
        Room(
            catalogue.loading_places[name].capacity_boxes,
            _most_aboard(trip, [group for group in trip.groups if (group.loading_place or place) == name]),
        )
        for name in used
    )
    return max(rooms, key=lambda room: room.ride / room.fit)


def _most_aboard(trip: Trip, groups: Sequence[Group]) -> int:
    """The most boxes of these groups that ride at the same time."""
    legs = range(len(trip.waypoints) - 1)
    return max(sum(group.count for group in groups if _aboard(trip, group, leg)) for leg in legs)


def _aboard(trip: Trip, group: Group, leg: int) -> bool:
    return group.load_waypoint <= leg < group.unload_waypoint % len(trip.waypoints)
