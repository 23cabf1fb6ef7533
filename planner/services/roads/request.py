"""What a road is asked for: the places in order, the vehicle, when it leaves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from planner.model.records import Site


@dataclass(frozen=True, slots=True)
class RoadVehicle:
    """What matters of a vehicle to a road: size, weight and how fast it goes.

    ``top_speed_kmh`` is what it drives on an open road, law and load considered; sizes with the load on.
    """

    name: str
    kind: Literal["car", "truck"] = "car"
    height_m: float = 1.9
    width_m: float = 1.9
    length_m: float = 4.8
    weight_t: float = 2.0
    axle_load_t: float = 1.2
    top_speed_kmh: float = 130.0


VEHICLES = {
    vehicle.name: vehicle
    for vehicle in (
        RoadVehicle("car"),
        RoadVehicle("pickup", height_m=2.2, width_m=2.0, length_m=5.6, weight_t=3.0, axle_load_t=1.8),
        RoadVehicle("van", height_m=2.7, width_m=2.1, length_m=6.0, weight_t=3.5, axle_load_t=2.2),
        RoadVehicle("towing", "car", 2.6, 2.3, 10.5, 5.0, 2.2, 85.0),
        RoadVehicle("truck", "truck", 4.0, 2.5, 9.0, 12.0, 9.0, 85.0),
    )
}
"""Usual sizes and speeds; common practice, no source. The user's own figures go before them."""


@dataclass(frozen=True)
class RouteRequest:
    """One question for a road: ``sites`` from origin over the stops to the destination, at least two.

    ``depart_local`` is the local time of leaving, ``YYYY-MM-DDTHH:MM``, for services that know closing hours;
    ``alternatives`` how many other roads to offer, which services do only without stops.
    """

    sites: tuple[Site, ...]
    vehicle: RoadVehicle = VEHICLES["car"]
    depart_local: str = ""
    alternatives: int = 0
