"""The catalogues as one record: comb sizes, box types, vehicles, loading places and parameters."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from planner.model.parameters import ParameterTable
from planner.model.records import BoxType, FrameKind, LoadingPlace, Vehicle


@dataclass(frozen=True)
class Catalogue:
    """Every row by its id, in file order; ``remarks`` on the user's files that were left out."""

    frame_kinds: Mapping[str, FrameKind]
    box_types: Mapping[str, BoxType]
    vehicles: Mapping[str, Vehicle]
    loading_places: Mapping[str, LoadingPlace]
    parameters: ParameterTable
    remarks: tuple[str, ...] = ()

    @property
    def driven(self) -> tuple[str, ...]:
        """Ids of the vehicles to travel in: those that drive and have a loading place."""
        used = {place.vehicle for place in self.loading_places.values()}
        return tuple(name for name, vehicle in self.vehicles.items() if vehicle.drives and name in used)

    def loading_places_of(self, vehicle: str) -> tuple[str, ...]:
        """Ids of the loading places of one vehicle."""
        return tuple(name for name, place in self.loading_places.items() if place.vehicle == vehicle)

    def alternatives_of(self, vehicle: str, colour: str = "") -> tuple[str, ...]:
        """Ids of the loading places of one vehicle as it stands there: its body has one colour.

        Without ``colour`` that of the first coloured row: the dark one, which is the hotter.
        """
        names = self.loading_places_of(vehicle)
        coloured = [self.loading_places[name].colour for name in names if self.loading_places[name].colour]
        body = colour if colour in coloured else next(iter(coloured), "")
        return tuple(name for name in names if self.loading_places[name].colour in ("", body))
