"""The limits a load is judged by, and what people call them."""

from __future__ import annotations

from collections.abc import Sequence

from planner.model.catalogue import Catalogue
from planner.model.limits import CAUTION, HARM, Limit, limits_of
from planner.model.records import Group, Trip
from planner.units import UnitSystem

TITLES = {
    "brood_caution": "brood caution",
    "brood_danger": "brood and queen danger",
    "queen_caution": "queen caution",
    "worker_caution": "workers caution",
    "worker_danger": "workers danger",
    "comb_caution": "stores comb caution",
    "comb_danger": "stores comb danger",
    "brood_chill": "brood chills below",
    "brood_cold": "brood danger below",
    "chill_caution": "outer bees chill below",
    "chill_danger": "cold danger below",
}


def limit_text(limit: Limit, units: UnitSystem) -> str:
    """For example ``brood caution 37 °C``."""
    return f"{TITLES[limit.name]} {degrees_text(limit.at_c, units)}"


def degrees_text(temp_c: float, units: UnitSystem, *, unit: bool = True) -> str:
    """A temperature as the catalogue has it: ``37 °C``, or ``98.6 °F`` where a whole degree would not be true."""
    shown = units.temp(temp_c)
    return units.temp_text(temp_c, 0 if abs(shown - round(shown)) < 0.05 else 1, unit=unit)


def group_limits(trip: Trip, catalogue: Catalogue) -> tuple[tuple[Limit, ...], ...]:
    """For each group of a trip the limits of what is in its boxes, from the catalogue's parameters."""
    parameters = catalogue.parameters.typical()
    return tuple(limits_of(*contents(group, catalogue), parameters) for group in trip.groups)


def contents(group: Group, catalogue: Catalogue) -> tuple[bool, bool, bool]:
    """Whether a box of the group holds brood, a comb of stores, and whether that is new."""
    brood = group.open_brood_frames + group.sealed_brood_frames > 0.0
    frames = catalogue.box_types[group.box_type].frames
    return brood, frames > 0 and group.stores_frames > 0.0, group.comb == "new"


def peak_limits(limits: Sequence[Sequence[Limit]]) -> tuple[Limit, ...]:
    """What a peak of the hottest box is held against: the lowest caution and the lowest danger of any group."""
    return tuple(one for level in (CAUTION, HARM) if (one := strictest(limits, level)) is not None)


def strictest(limits: Sequence[Sequence[Limit]], level: int) -> Limit | None:
    """The lowest limit of a level that the heat of any of the groups' cores may pass."""
    hot = [one for each in limits for one in each if (one.field, one.side) == ("core", "above")]
    return min((one for one in hot if one.level == level), key=lambda one: one.at_c, default=None)
