"""Fanning a trip out into cases: departures x places x set-ups x tempers x groups, laid on one case axis.

The order of the axes is fixed here and nowhere else: ``(departure, place, setup, temper, group)``, the
group innermost, so that the groups of one scenario share an enclosure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.model import boxes as box_model
from planner.model.catalogue import Catalogue
from planner.model.integrate import Cases, Histories, march
from planner.model.limits import Assessment, assess
from planner.model.loading_places import Environment, environment
from planner.model.parameters import Parameters, ParameterTable
from planner.model.preparations import SetUp
from planner.model.records import Floats, Group, Ints, LoadingPlace, Road, Trip, Weather
from planner.model.timeline import GRID_S, Timeline, Whereabouts, follow
from planner.model.weather import Surroundings, surroundings

TEMPER_VALUES = (-1.0, 0.0, 1.0)


@dataclass(frozen=True)
class Fan:
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
    tempers: tuple[float, ...]
    setups: int

    @property
    def shape(self) -> tuple[int, int, int, int]:
        """Places, set-ups, tempers, groups."""
        return self.place_of.shape[0], self.setups, len(self.tempers), self.place_of.shape[1]

    @property
    def cases_per_departure(self) -> int:
        return int(np.prod(self.shape))


def open_fan(
    trip: Trip,
    road: Road,
    weather: Weather,
    catalogue: Catalogue,
    place_names: Sequence[str],
    setups: Sequence[SetUp],
    tempers: Sequence[float] = TEMPER_VALUES,
    table: ParameterTable | None = None,
) -> Fan:
    """Describe a trip's boxes and places for the march."""
    names = list(dict.fromkeys([*place_names, *(g.place for g in trip.groups if g.place)]))
    place_of = [[names.index(g.place or name) for g in trip.groups] for name in place_names]
    ground = catalogue.places["ground_shade" if trip.waiting_shade else "ground_sun"]
    return Fan(
        trip=trip,
        road=road,
        weather=weather,
        table=table or catalogue.parameters,
        variants=tuple(describe(group, catalogue, setup) for setup in setups for group in trip.groups),
        places=tuple(catalogue.places[name] for name in names),
        place_of=np.array(place_of, dtype=np.int64),
        ground=ground,
        tempers=tuple(tempers),
        setups=len(setups),
    )


def describe(group: Group, catalogue: Catalogue, setup: SetUp) -> box_model.BoxInputs:
    """One group of boxes with a set-up applied, as numbers."""
    box = catalogue.box_types[group.box_type]
    return box_model.describe(setup.change(group, box), box, catalogue.frame_kinds[box.frame_kind])


@dataclass(frozen=True)
class Layout:
    """One batch laid out for the march: where everything is, what surrounds it, which boxes."""

    time_s: Floats
    where: Whereabouts
    outside: Surroundings
    env: Environment
    cases: Cases
    parameters: Parameters


@dataclass(frozen=True)
class March(Layout):
    """One marched batch: its layout and what the boxes did."""

    seen: Histories

    def assessed(self) -> Assessment:
        """The batch judged, ``(case,)``."""
        return assess(
            self.seen, self.cases.boxes, self.where.time_s[:, self.cases.track], self.parameters, GRID_S
        )


def run(fan: Fan, timeline: Timeline, night: Floats, *, detail: bool = False) -> March:
    """March every case of the given departures; arguments as in ``lay``."""
    batch = lay(fan, timeline, night)
    seen = march(batch.cases, batch.where, batch.env, batch.parameters, detail=detail)
    return March(**vars(batch), seen=seen)


def lay(fan: Fan, timeline: Timeline, night: Floats) -> Layout:
    """Lay every case of the given departures on the case axis.

    Parameters
    ----------
    timeline : the departures of this batch
    night : (departure, group) 1 where the boxes were shut outside flight hours
    """
    n_dep, n_group = timeline.closed_s.shape
    steps = int(np.ceil(np.max(timeline.end_s - timeline.start_s) / GRID_S))
    time_s = timeline.start_s + (np.arange(max(steps, 1))[:, None] + 0.5) * GRID_S
    where = follow(fan.trip, fan.road, timeline, time_s)
    central = fan.table.central()
    outside = surroundings(fan.weather, where, central.ground_albedo)
    n_place, n_setup, n_temper, _ = fan.shape
    # one env per (departure, group, place)
    env_place = np.tile(fan.place_of.T.ravel(), n_dep)
    env_track = np.repeat(np.arange(n_dep * n_group), n_place)
    env = environment(
        where,
        outside,
        env_track,
        [fan.places[i] for i in env_place],
        np.tile(boxes_in_place(fan).T.ravel(), n_dep),
        fan.ground,
        fan.trip.net,
        central,
    )
    d, k, u, b, g = (axis.ravel() for axis in np.indices((n_dep, n_place, n_setup, n_temper, n_group)))
    parameters = fan.table.tempered(np.array(fan.tempers)[b])
    inputs = box_model.gather(fan.variants, u * n_group + g)
    gain = np.where(night[d, g] > 0.0, parameters.closed_at_night_gain, 1.0)
    scenario = ((d * n_place + k) * n_setup + u) * n_temper + b
    cases = Cases(
        track=d * n_group + g,
        env=(d * n_group + g) * n_place + k,
        enclosure=scenario * len(fan.places) + fan.place_of[k, g] if n_group > 1 else None,
        boxes=box_model.derive(inputs, gain, parameters),
        place_offset_k=_place_offset_k(fan, k, b, g),
    )
    return Layout(time_s, where, outside, env, cases, parameters)


def _place_offset_k(fan: Fan, place: Ints, temper: Ints, group: Ints) -> Floats:
    """How far the air where a box rides is off: warmer than thought with disturbed bees, cooler with calm ones.

    The place's band is taken as far as the bees' own range is, so that a place known badly needs more margin.
    """
    band_k = np.array([one.band_k for one in fan.places])[fan.place_of[place, group]]
    reach = fan.table.rows["temper_reach"].value
    return np.asarray(band_k * reach * np.array(fan.tempers)[temper])


def boxes_in_place(fan: Fan) -> Floats:
    """Boxes that share the place of each (place, group)."""
    counts = np.array([float(group.count) for group in fan.trip.groups])
    same = fan.place_of[:, :, None] == fan.place_of[:, None, :]
    return np.asarray((same * counts).sum(axis=2))
