"""The catalogues as one record: comb sizes, box types, loading places and parameters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.model.parameters import ParameterTable
from planner.model.records import BoxType, FrameKind, LoadingPlace

GROUND = "ground"
"""The vehicle of places on the ground, where boxes wait."""


@dataclass(frozen=True)
class Catalogue:
    """Every row by its id, in file order."""

    frame_kinds: Mapping[str, FrameKind]
    box_types: Mapping[str, BoxType]
    loading_places: Mapping[str, LoadingPlace]
    parameters: ParameterTable

    @property
    def vehicles(self) -> tuple[str, ...]:
        """Vehicles that have a loading place, in catalogue order; the ground boxes wait on is none."""
        vehicles = dict.fromkeys(place.vehicle for place in self.loading_places.values())
        return tuple(name for name in vehicles if name != GROUND)

    def loading_places_of(self, vehicle: str) -> tuple[str, ...]:
        """Ids of the loading places of one vehicle."""
        return tuple(name for name, place in self.loading_places.items() if place.vehicle == vehicle)
