"""Fanning a trip out into cases: departures x places x set-ups x agitations x groups, laid on one case axis.

The order of the axes is fixed here and nowhere else: ``(departure, place, setup, agitation, group)``, the
group innermost, so that the groups of one scenario share an enclosure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.model import boxes as box_model
from planner.model.catalogue import Catalogue
from planner.model.integrate import Cases, Histories, integrate
from planner.model.limits import Assessment, assess
from planner.model.loading_places import LocalAir, air_around
from planner.model.parameters import Parameters, ParameterTable
from planner.model.preparations import SetUp
from planner.model.records import Floats, Group, Ints, LoadingPlace, Road, Trip, Weather
from planner.model.timeline import GRID_S, Timeline, VehicleState, follow
from planner.model.weather import OutsideWeather, outside_weather

AGITATION_LEVELS = (-1.0, 0.0, 1.0)


@dataclass(frozen=True)
class CaseGrid:
    """Everything about a trip that does not depend on the departure, described once.

    ``variants`` are the boxes of every (setup, group); ``place_of`` (place, group) indexes ``places``, the
    searched ones first, then those to which a group is pinned.
    """

    trip: Trip
    road: Road
    weather: Weather
    table: ParameterTable
    variants: tuple[box_model.BoxInputs, ...]
    places: tuple[LoadingPlace, ...]
    place_of: Ints
    ground: LoadingPlace
    agitations: tuple[float, ...]
    setups: int

    @property
    def shape(self) -> tuple[int, int, int, int]:
        """Places, set-ups, agitations, groups."""
        return self.place_of.shape[0], self.setups, len(self.agitations), self.place_of.shape[1]

    @property
    def cases_per_departure(self) -> int:
        return int(np.prod(self.shape))


def case_grid(
    trip: Trip,
    road: Road,
    weather: Weather,
    catalogue: Catalogue,
    place_names: Sequence[str],
    setups: Sequence[SetUp],
    agitations: Sequence[float] = AGITATION_LEVELS,
    table: ParameterTable | None = None,
) -> CaseGrid:
    """Describe a trip's boxes and places for the integration."""
    names = list(dict.fromkeys([*place_names, *(g.loading_place for g in trip.groups if g.loading_place)]))
    place_of = [[names.index(g.loading_place or name) for g in trip.groups] for name in place_names]
    ground = catalogue.loading_places["ground_shade" if trip.waiting_shade else "ground_sun"]
    return CaseGrid(
        trip=trip,
        road=road,
        weather=weather,
        table=table or catalogue.parameters,
        variants=tuple(describe(group, catalogue, setup) for setup in setups for group in trip.groups),
        places=tuple(catalogue.loading_places[name] for name in names),
        place_of=np.array(place_of, dtype=np.int64),
        ground=ground,
        agitations=tuple(agitations),
        setups=len(setups),
    )


def describe(group: Group, catalogue: Catalogue, setup: SetUp) -> box_model.BoxInputs:
    """One group of boxes with a set-up applied, as numbers."""
    box = catalogue.box_types[group.box_type]
    return box_model.describe(setup.change(group, box), box, catalogue.frame_kinds[box.frame_kind])


@dataclass(frozen=True)
class Batch:
    """One batch laid out for the integration: where everything is, what surrounds it, which boxes."""

    time_s: Floats
    vehicle: VehicleState
    outside: OutsideWeather
    local_air: LocalAir
    cases: Cases
    parameters: Parameters


@dataclass(frozen=True)
class SimulatedBatch(Batch):
    """One integrated batch: its layout and what the boxes did."""

    seen: Histories

    def assessed(self) -> Assessment:
        """The batch judged, ``(case,)``."""
        return assess(
            self.seen, self.cases.boxes, self.vehicle.time_s[:, self.cases.track], self.parameters, GRID_S
        )


def run(grid: CaseGrid, timeline: Timeline, night: Floats, *, detail: bool = False) -> SimulatedBatch:
    """March every case of the given departures; arguments as in ``build_cases``."""
    batch = build_cases(grid, timeline, night)
    seen = integrate(batch.cases, batch.vehicle, batch.local_air, batch.parameters, detail=detail)
    return SimulatedBatch(**vars(batch), seen=seen)


def build_cases(grid: CaseGrid, timeline: Timeline, night: Floats) -> Batch:
    """Lay every case of the given departures on the case axis.

    Parameters
    ----------
    timeline : the departures of this batch
    night : (departure, group) 1 where the boxes were shut outside flight hours
    """
    n_dep, n_group = timeline.closed_s.shape
    steps = int(np.ceil(np.max(timeline.end_s - timeline.start_s) / GRID_S))
    time_s = timeline.start_s + (np.arange(max(steps, 1))[:, None] + 0.5) * GRID_S
    vehicle = follow(grid.trip, grid.road, timeline, time_s)
    typical = grid.table.typical()
    outside = outside_weather(grid.weather, vehicle, typical.ground_albedo)
    n_place, n_setup, n_agitation, _ = grid.shape
    # one env per (departure, group, place)
    air_place = np.tile(grid.place_of.T.ravel(), n_dep)
    air_track = np.repeat(np.arange(n_dep * n_group), n_place)
    local_air = air_around(
        vehicle,
        outside,
        air_track,
        [grid.places[i] for i in air_place],
        np.tile(boxes_in_place(grid).T.ravel(), n_dep),
        grid.ground,
        grid.trip.net,
        typical,
    )
    d, k, u, b, g = (axis.ravel() for axis in np.indices((n_dep, n_place, n_setup, n_agitation, n_group)))
    parameters = grid.table.at_agitation(np.array(grid.agitations)[b])
    inputs = box_model.gather(grid.variants, u * n_group + g)
    gain = np.where(night[d, g] > 0.0, parameters.closed_at_night_gain, 1.0)
    scenario = ((d * n_place + k) * n_setup + u) * n_agitation + b
    cases = Cases(
        track=d * n_group + g,
        local_air=(d * n_group + g) * n_place + k,
        enclosure=scenario * len(grid.places) + grid.place_of[k, g] if n_group > 1 else None,
        boxes=box_model.derive(inputs, gain, parameters),
        place_offset_k=_place_offset_k(grid, k, b, g),
    )
    return Batch(time_s, vehicle, outside, local_air, cases, parameters)


def _place_offset_k(grid: CaseGrid, place: Ints, agitation: Ints, group: Ints) -> Floats:
    """How far the air where a box rides is off: warmer than thought with agitated bees, cooler with calm ones.

    The place's band is taken as far as the bees' own range is, so that a place known badly needs more margin.
    """
    band_k = np.array([one.band_k for one in grid.places])[grid.place_of[place, group]]
    reach = grid.table.rows["agitation_reach"].value
    return np.asarray(band_k * reach * np.array(grid.agitations)[agitation])


def boxes_in_place(grid: CaseGrid) -> Floats:
    """Boxes that share the place of each (place, group)."""
    counts = np.array([float(group.count) for group in grid.trip.groups])
    same = grid.place_of[:, :, None] == grid.place_of[:, None, :]
    return np.asarray((same * counts).sum(axis=2))
