"""The case table: one row a case, from which everything the integration needs is laid out.

A case is one group of boxes on one departure, in one searched loading place, with one set-up and closing, in one
sample of what nobody knows. The columns are index arrays, so that a plan (every candidate), a chance (the
candidates still racing), a standstill or a fit fill the same table in their own way. How cases share the air of a
loading place, what closing at night adds and what surrounds a box is decided here and nowhere else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields, replace
from functools import cached_property

import numpy as np

from planner.model import boxes as box_model
from planner.model.catalogue import Catalogue
from planner.model.integrate import Cases, Histories
from planner.model.limits import Assessment, assess
from planner.model.loading_places import LocalAir, air_around
from planner.model.march import judged, march
from planner.model.parameters import Parameters, ParameterTable
from planner.model.preparations import SetUp, stands_flat
from planner.model.records import Bools, Floats, Group, Ints, LoadingPlace, Road, Stand, Trip, Weather
from planner.model.timeline import GRID_S, Timeline, VehicleState, follow
from planner.model.ways import likeliest, way_of
from planner.model.weather import OutsideWeather, air_stood_in_c, outside_weather

AGITATION_LEVELS = (-1.0, 0.0, 1.0)


# -- what the columns point into -----------------------------------------------------------------


@dataclass(frozen=True)
class CaseGrid:
    """Everything about a trip that does not depend on the departure, described once.

    ``variants`` are the boxes of every (setup, group); ``place_of`` (place, group) indexes ``places``, the
    searched ones first, then those to which a group is pinned. ``stage_place`` (group, stage) indexes
    ``stage_places``, those in which a stage is spent wherever the group rides; -1 where a stage has none. ``stands``
    of every variant; by default as the trip's groups have it.
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
    stage_places: tuple[LoadingPlace, ...] = ()
    stage_place: Ints = field(default_factory=lambda: np.full((1, 1), -1))
    stands: tuple[Stand | None, ...] = ()

    @property
    def shape(self) -> tuple[int, int, int, int]:
        """Places, set-ups, agitations, groups."""
        return self.place_of.shape[0], self.setups, len(self.agitations), self.groups

    @property
    def groups(self) -> int:
        return int(self.place_of.shape[1])

    @property
    def cases_per_departure(self) -> int:
        return int(np.prod(self.shape))

    @property
    def band_k(self) -> Floats:
        """How well the air of each of ``places`` is known, K either way."""
        return np.array([place.band_k for place in self.places])


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
    grid = CaseGrid(
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
        stands=tuple(
            setup.change(group, catalogue.box_types[group.box_type]).stand
            for setup in setups
            for group in trip.groups
        ),
    )
    return on_ways(grid, trip, catalogue)


def on_ways(grid: CaseGrid, trip: Trip, catalogue: Catalogue) -> CaseGrid:
    """The same boxes on the ways of a trip that differs in nothing else; a mix of places is spent in the likeliest."""
    spent_in = [[likeliest(stage) for stage in way_of(trip, group)] for group in trip.groups]
    names = list(dict.fromkeys(name for way in spent_in for name in way if name))
    table = np.full((len(spent_in), max(len(way) for way in spent_in)), -1)
    for g, way in enumerate(spent_in):
        table[g, : len(way)] = [names.index(name) if name else -1 for name in way]
    places = tuple(catalogue.loading_places[name] for name in names)
    return replace(grid, trip=trip, stage_places=places, stage_place=table)


def describe(group: Group, catalogue: Catalogue, setup: SetUp) -> box_model.BoxInputs:
    """One group of boxes with a set-up applied, as numbers."""
    box = catalogue.box_types[group.box_type]
    return box_model.describe(setup.change(group, box), box, catalogue.frame_kinds[box.frame_kind])


@dataclass(frozen=True)
class Variations:
    """What differs from sample to sample; what is left out stays as the catalogue and the forecast have it.

    ``parameters`` (sample,) by name; ``leak_m3_s`` (box, sample) of the grid's ``variants``; ``place_offset_k``
    (sample, place) of the grid's ``places``; ``air_offset_k``, ``sun_factor``, ``wind_factor`` (departure, sample)
    of the timeline's rows.
    """

    parameters: Mapping[str, Floats] = field(default_factory=dict)
    leak_m3_s: Floats | None = None
    place_offset_k: Floats | None = None
    air_offset_k: Floats | None = None
    sun_factor: Floats | None = None
    wind_factor: Floats | None = None


def agitation_variations(grid: CaseGrid) -> Variations:
    """The grid's agitation levels as samples.

    The air where a box rides goes with them: warmer than thought with agitated bees, cooler with calm ones, as far
    as the bees' own range is taken, so that a place known badly needs more margin.
    """
    levels = np.array(grid.agitations)
    reach = grid.table.rows["agitation_reach"].value
    return Variations(
        parameters=grid.table.agitation_values(levels), place_offset_k=grid.band_k * reach * levels[:, None]
    )


# -- the table -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class CaseTable:
    """One row a case; index columns, each ``(case,)``.

    ``departure`` and ``closing`` name a row of the timeline, which lists the departures of the first closing, then
    those of the next; ``group`` of the trip; ``place`` of the searched loading places; ``setup``; ``sample`` of
    what varies. Cases with the same ``enclosure`` are boxes of one and the same load: where they ride in one
    loading place they share its air.
    """

    departure: Ints
    group: Ints
    place: Ints
    setup: Ints
    closing: Ints
    sample: Ints
    enclosure: Ints

    @property
    def size(self) -> int:
        return int(self.departure.size)


def cases_of(candidates: Ints, samples: int, groups: int) -> CaseTable:
    """Every group of every candidate in every sample; cases on the axes (candidate, sample, group).

    Parameters
    ----------
    candidates : (candidate, 3) departure, searched loading place, set-up
    """
    c, sample, group = (axis.ravel() for axis in np.indices((len(candidates), samples, groups)))
    departure, place, setup = candidates[c].T
    return CaseTable(
        departure=departure,
        group=group,
        place=place,
        setup=setup,
        closing=np.zeros_like(c),
        sample=sample,
        enclosure=c * samples + sample,
    )


def full_grid(grid: CaseGrid, departures: int) -> CaseTable:
    """Every candidate there is; cases on the axes (departure, place, setup, agitation, group)."""
    places, setups, agitations, groups = grid.shape
    candidates = np.stack([axis.ravel() for axis in np.indices((departures, places, setups))], axis=1)
    return cases_of(candidates, agitations, groups)


def enclosures(grid: CaseGrid, load: Ints, place: Ints) -> Ints | None:
    """Numbers of the air spaces that cases share, (case,); None where a load is one group.

    Parameters
    ----------
    load : (case,) which load a case belongs to, ``CaseTable.enclosure``
    place : (case,) where it rides, index into the grid's ``places``
    """
    return load * len(grid.places) + place if grid.groups > 1 else None


def set_apart(enclosure: Ints | None, times: int) -> Ints | None:
    """Enclosures of a batch repeated so often, each time with air spaces of its own."""
    if enclosure is None:
        return None
    size = int(enclosure.max()) + 1
    return np.asarray((np.arange(times)[:, None] * size + enclosure).ravel())


# -- what surrounds the cases --------------------------------------------------------------------


@dataclass(frozen=True)
class Passage:
    """Way, weather and air of every departure, group and loading place that a table names.

    ``time_s`` (time, row) middles of the steps; ``vehicle``, ``outside`` (time, track) with a track for each group
    of each row; ``local_air`` (time, pair) with a pair for each track in each loading place in use. ``rows`` are
    the timeline's rows in use, ``pairs`` numbers track and place together.
    """

    time_s: Floats
    vehicle: VehicleState
    outside: OutsideWeather
    local_air: LocalAir
    rows: Ints
    pairs: Ints


def passage(grid: CaseGrid, timeline: Timeline, table: CaseTable, step_s: float = GRID_S) -> Passage:
    """Follow every departure a table names along the road."""
    rows = np.unique(_row(timeline, table))
    used = timeline.take(rows)
    steps = int(np.ceil(np.max(used.end_s - used.start_s) / step_s))
    time_s = used.start_s + (np.arange(max(steps, 1))[:, None] + 0.5) * step_s
    vehicle = follow(grid.trip, grid.road, used, time_s)
    outside = _outside(grid, vehicle)
    searched = len(grid.place_of)
    pairs = np.unique(_track(grid, rows, timeline, table) * searched + table.place)
    track, place = np.divmod(pairs, searched)
    at = place, track % grid.groups
    air = air_in_places(
        grid, vehicle, outside, track, grid.place_of[at], boxes_in_place(grid)[at], step_s=step_s
    )
    air = in_own_places(grid, vehicle, outside, track, boxes_in_place(grid)[at], air, step_s)
    return Passage(time_s, vehicle, outside, air, rows, pairs)


def _outside(grid: CaseGrid, vehicle: VehicleState) -> OutsideWeather:
    """The weather on every track; groups that are everywhere together meet the same."""
    where = (vehicle.km, vehicle.lat_deg, vehicle.lon_deg, vehicle.elevation_m, vehicle.heading_deg)
    ways = [table.reshape(len(table), -1, grid.groups) for table in where]
    goes_with: list[int] = []
    for g in range(grid.groups):
        first = (h for h in dict.fromkeys(goes_with) if all(_same(way[..., h], way[..., g]) for way in ways))
        goes_with.append(next(first, g))
    track = np.arange(vehicle.km.shape[1])
    apart = np.isin(track % grid.groups, goes_with)
    if apart.all():
        return outside_weather(grid.weather, vehicle, grid.table.typical().ground_albedo)
    of_track = np.searchsorted(
        track[apart], track - track % grid.groups + np.array(goes_with)[track % grid.groups]
    )
    some = replace(vehicle, **{f.name: getattr(vehicle, f.name)[:, apart] for f in fields(vehicle)})
    found = outside_weather(grid.weather, some, grid.table.typical().ground_albedo)
    return OutsideWeather(**{f.name: getattr(found, f.name)[:, of_track] for f in fields(found)})


def _same(first: Floats, second: Floats) -> bool:
    return np.array_equal(first, second, equal_nan=True)


def in_own_places(
    grid: CaseGrid,
    vehicle: VehicleState,
    outside: OutsideWeather,
    track: Ints,
    boxes: Floats,
    air: LocalAir,
    step_s: float = GRID_S,
) -> LocalAir:
    """The air around boxes, through stages that have a place of their own the air of that place.

    Arguments as in ``air_in_places``. A load that is spread over several places of the vehicle does not meet in a
    stage's place: each part has the place to itself.
    """
    if not grid.stage_places:
        return air
    own = grid.stage_place[track % grid.groups, vehicle.stage[:, track]]
    indoors = replace(vehicle, on_board=np.ones_like(vehicle.on_board))
    typical = grid.table.typical()
    for index in np.unique(own[own >= 0]):
        place = grid.stage_places[index]
        there = air_around(
            indoors, outside, track, [place] * track.size, boxes, grid.ground, False, typical, step_s
        )
        if not place.volume_m3:
            there = replace(there, on_board=air.on_board)
        within = own == index
        air = LocalAir(
            **{f.name: np.where(within, getattr(there, f.name), getattr(air, f.name)) for f in fields(air)}
        )
    return air


def air_in_places(
    grid: CaseGrid,
    vehicle: VehicleState,
    outside: OutsideWeather,
    track: Ints,
    place: Ints,
    boxes: Floats,
    *,
    step_s: float = GRID_S,
    begin: Floats | None = None,
) -> LocalAir:
    """The air around boxes on some tracks in some of the grid's loading places.

    Parameters
    ----------
    track, place, boxes : (pair,) track, index into the grid's ``places``, boxes that ride there together
    begin : as in ``air_around``
    """
    places = [grid.places[i] for i in place]
    typical = grid.table.typical()
    return air_around(
        vehicle, outside, track, places, boxes, grid.ground, grid.trip.net, typical, step_s, begin
    )


def boxes_in_place(grid: CaseGrid) -> Floats:
    """Boxes that share the place of each (place, group)."""
    counts = np.array([float(group.count) for group in grid.trip.groups])
    same = grid.place_of[:, :, None] == grid.place_of[:, None, :]
    return np.asarray((same * counts).sum(axis=2))


def _row(timeline: Timeline, table: CaseTable) -> Ints:
    """The timeline's row of each case."""
    departures = len(timeline.departure_s) // (int(table.closing.max(initial=0)) + 1)
    return table.closing * departures + table.departure


def _track(grid: CaseGrid, rows: Ints, timeline: Timeline, table: CaseTable) -> Ints:
    """The track of each case among the rows in use."""
    return np.searchsorted(rows, _row(timeline, table)) * grid.groups + table.group


# -- laying out and running ----------------------------------------------------------------------


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
    """One batch and what its boxes do, worked out when it is asked for: judging alone needs no histories."""

    step_s: float = GRID_S
    detail: bool = False

    @cached_property
    def seen(self) -> Histories:
        """What the boxes did."""
        return march(*self._rides(), step_s=self.step_s, detail=self.detail)

    def assessed(self, step_s: float = GRID_S) -> Assessment:
        """The batch judged, ``(case,)``."""
        if "seen" not in vars(self):
            return judged(*self._rides(), step_s=step_s)
        time_s = self.vehicle.time_s[:, self.cases.track]
        moving = self.vehicle.moving[:, self.cases.track]
        return assess(self.seen, self.cases.boxes, time_s, self.parameters, step_s, moving)

    def _rides(self) -> tuple[Cases, VehicleState, LocalAir, Parameters]:
        return self.cases, self.vehicle, self.local_air, self.parameters


def lay_out(
    grid: CaseGrid,
    timeline: Timeline,
    night: Floats,
    table: CaseTable,
    variations: Variations,
    around: Passage | None = None,
    step_s: float = GRID_S,
) -> Batch:
    """Lay the cases of a table out for the integration.

    Parameters
    ----------
    timeline : the departures the table names
    night : (departure, group) how far the bees of the night were at home when the boxes were shut, 0 to 1
    variations : what the table's samples are
    around : the passage of the same departures and places, where it is in hand already
    """
    around = around or passage(grid, timeline, table, step_s)
    row, sample = _row(timeline, table), table.sample
    track = _track(grid, around.rows, timeline, table)
    place = grid.place_of[table.place, table.group]
    box = table.setup * grid.groups + table.group
    parameters = grid.table.with_values({name: v[sample] for name, v in variations.parameters.items()})
    inputs = box_model.gather(grid.variants, box)
    if variations.leak_m3_s is not None:
        inputs = replace(inputs, leak_m3_s=variations.leak_m3_s[box, sample])
    flat = _stands_flat(grid)[place, box]
    breathing = np.where(flat, parameters.flat_floor_share, 1.0)
    inputs = replace(inputs, floor_mesh_m2=inputs.floor_mesh_m2 * breathing)
    gain = 1.0 + (parameters.closed_at_night_gain - 1.0) * night[row, table.group]
    given = {
        name: values[row, sample]
        for name in ("air_offset_k", "sun_factor", "wind_factor")
        if (values := getattr(variations, name)) is not None
    }
    if variations.place_offset_k is not None:
        given["place_offset_k"] = variations.place_offset_k[sample, place]
    cases = Cases(
        track=track,
        stood_in_c=_stood_in_c(grid, timeline, around.rows)[track],
        local_air=np.searchsorted(around.pairs, track * len(grid.place_of) + table.place),
        enclosure=enclosures(grid, table.enclosure, place),
        boxes=box_model.derive(inputs, gain, parameters),
        **given,
    )
    return Batch(around.time_s, around.vehicle, around.outside, around.local_air, cases, parameters)


def _stands_flat(grid: CaseGrid) -> Bools:
    """Whether each variant stands flat in each of the grid's places, (place, variant)."""
    stands = grid.stands or [group.stand for group in grid.trip.groups] * grid.setups
    return np.array([[stands_flat(stand, p) for stand in stands] for p in grid.places])


def _stood_in_c(grid: CaseGrid, timeline: Timeline, rows: Ints) -> Floats:
    """The air in which the boxes of every track stood before they were shut, (track,)."""
    load = [grid.road.waypoint_vertex[group.load_waypoint] for group in grid.trip.groups]
    km = np.tile(grid.road.km[load], rows.size)
    lag_h = float(grid.table.typical().stores_lag_h)
    return air_stood_in_c(grid.weather, km, timeline.closed_s[rows].ravel(), lag_h)


def build_cases(grid: CaseGrid, timeline: Timeline, night: Floats) -> Batch:
    """Every candidate of the given departures at the grid's agitation levels; arguments as in ``lay_out``."""
    table = full_grid(grid, len(timeline.departure_s))
    return lay_out(grid, timeline, night, table, agitation_variations(grid))


def run(grid: CaseGrid, timeline: Timeline, night: Floats, *, detail: bool = False) -> SimulatedBatch:
    """Integrate every case of the given departures; arguments as in ``lay_out``."""
    return simulate(build_cases(grid, timeline, night), detail=detail)


def simulate(batch: Batch, step_s: float = GRID_S, *, detail: bool = False) -> SimulatedBatch:
    """A batch integrated, as far as is asked of it."""
    return SimulatedBatch(**vars(batch), step_s=step_s, detail=detail)
