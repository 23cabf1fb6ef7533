"""What a parcel lane takes for granted: the bundled ``lane.toml``."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from planner.bundled import resource_path
from planner.store.clocks import day_seconds
from planner.store.documents import read_toml


@dataclass(frozen=True)
class LaneRules:
    """The rows of ``resources/lane.toml``: places with weights and shaking by kind of stage, how many come late.

    ``late_harm_of_100`` of the parcels a day late so many may be harmed; ``delivery_hours`` in a closed van;
    ``delivered_s`` since midnight from when to when parcels are delivered.
    """

    places: dict[str, tuple[tuple[str, float], ...]]
    shaking: dict[str, float]
    late_of_100: float
    late_harm_of_100: float
    delivery_hours: float
    delivered_s: tuple[float, float]


@cache
def lane_rules() -> LaneRules:
    """The bundled rules."""
    table = read_toml(resource_path("lane.toml"), "the rules of a lane")
    return LaneRules(
        places={kind: tuple(row.items()) for kind, row in table["places"].items()},
        shaking=dict(table["shaking"]),
        late_of_100=float(table["late"]["late_of_100"]),
        late_harm_of_100=float(table["late"]["harm_of_100"]),
        delivery_hours=float(table["caution"]["delivery_hours"]),
        delivered_s=(day_seconds(table["delivered"]["from"]), day_seconds(table["delivered"]["to"])),
    )


def lane_places() -> Path:
    """The catalogue of places that only lanes know."""
    return resource_path("lane_places.toml")
