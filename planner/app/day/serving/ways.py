"""Boxes on many ways home laid out at once: what surrounds them is worked out a single time for all that share it.

A *way* is a ride that begins in a slot with boxes shut at some moment. Drives as long as each other that begin alike
share road and sky, so do loads in like places; a piece of work takes from these tables what its cases need, so that
pieces may be marched beside each other by several threads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

import numpy as np

from planner.app.chance.samples import STEP_S, Sample, Scenario, variations_of
from planner.app.day.serving.drives import road_of, trip_of
from planner.app.plan.plan import shut_at_night
from planner.model import boxes as box_model
from planner.model.cases import CaseGrid, CaseTable, Passage, lay_out, simulate
from planner.model.catalogue import Catalogue
from planner.model.loading_places import LocalAir, air_around
from planner.model.parameters import ParameterTable
from planner.model.records import BoxType, Floats, Group, Ints, LoadingPlace, Road, Trip, Weather
from planner.model.timeline import Timeline, VehicleState, build_timeline, follow
from planner.model.weather import outside_weather
from planner.store.dayrecords import Day
from planner.store.forecast_error import load_forecast_error

LONGER = 1.5
"""Ways that last longer than others by this factor are walked apart from them."""

MOST_CELLS = 400_000
"""Cases times steps of a piece of work."""

Tables = TypeVar("Tables", VehicleState, LocalAir)


@dataclass(frozen=True, slots=True, order=True)
class Ride:
    """A drive of a class, with a stop or not, in one loading place with so many boxes."""

    drive_s: float
    with_stop: bool
    place: str
    boxes: int


@dataclass(frozen=True)
class Yard:
    """What all ways share; ``places`` the columns of the samples' errors of places."""

    day: Day
    weather: Weather
    catalogue: Catalogue
    places: tuple[str, ...]


@dataclass(frozen=True)
class Ways:
    """One way home a row: a ride, the slot it begins in, when its boxes are shut; all (way,)."""

    ride: tuple[Ride, ...]
    slot_s: Floats
    closed_s: Floats


@dataclass(frozen=True)
class Around:
    """What surrounds the boxes of some ways: ``rows`` of them, the track and the air of each (row,)."""

    rows: Ints
    steps: Ints
    track: Ints
    air: Ints
    time_s: Floats
    vehicle: VehicleState
    local_air: LocalAir


@dataclass(frozen=True)
class Piece:
    """Cases marched together: number, way, variant, sample and load of each, (case,), and what surrounds them.

    Cases of one ``load`` share the air of their place; None where every case is a load of its own.
    """

    around: Around
    case: Ints
    way: Ints
    variant: Ints
    sample: Ints
    load: Ints | None


class Layout:
    """Variants of boxes on ways home, ready to be marched in samples.

    Parameters
    ----------
    variants : boxes as they ride, set up, as many as are alike
    """

    def __init__(self, yard: Yard, ways: Ways, variants: Sequence[Group]) -> None:
        self.yard, self.ways = yard, ways
        self._roads: dict[tuple[float, bool], tuple[Trip, Road]] = {}
        group = replace(variants[0], count=1)
        self.timeline = self._timeline(group)
        self.scenario = self._scenario(group, variants)
        self.night = shut_at_night(self.scenario.grid.trip, self.timeline.closed_s)
        self.steps = np.ceil((self.timeline.end_s - self.timeline.start_s) / STEP_S).astype(np.int64)
        self._bin = np.floor(np.log(np.maximum(self.steps, 1)) / np.log(LONGER)).astype(np.int64)
        self._around: dict[int, Around] = {}

    # -- when and where ---------------------------------------------------------------------------

    def _timeline(self, group: Group) -> Timeline:
        """Every way, its calls on the road left out but the first and the last."""
        ways, day = self.ways, self.yard.day
        keys = np.array([(ride.drive_s, ride.with_stop) for ride in ways.ride])
        found = {f.name: np.full((len(keys), 2), np.nan) for f in fields(Timeline) if f.name != "stage_s"}
        self._own: list[tuple[Trip, Road, Timeline]] = []
        self._track = np.zeros(len(keys), dtype=np.int64)
        """Every way's row among all tracks."""
        first = 0
        for drive_s, with_stop in np.unique(keys, axis=0):
            rows = np.flatnonzero((keys == (drive_s, with_stop)).all(axis=1))
            at, track = np.unique(
                np.stack((ways.slot_s[rows], ways.closed_s[rows]), axis=1), axis=0, return_inverse=True
            )
            trip = trip_of(day, (group,), (ways.ride[rows[0]].place,), bool(with_stop))
            road = road_of(day.yard, float(drive_s), bool(with_stop))
            own = build_timeline(trip, road, at[:, 0] + day.slots.loading_s, at[:, 1:])
            self._own.append((trip, road, own))
            track = track.ravel()
            self._track[rows] = first + track
            first += len(at)
            for name, table in found.items():
                values = getattr(own, name).reshape(len(at), -1)
                table[rows] = values[track][:, [0, -1]]
        return Timeline(
            **{
                name: table[:, 0] if name == "departure_s" else table if name in _CALLS else table[:, :1]
                for name, table in found.items()
            }
        )

    def _scenario(self, group: Group, variants: Sequence[Group]) -> Scenario:
        """One grid for all: its place is each way's, its set-ups are the variants."""
        catalogue, day = self.yard.catalogue, self.yard.day
        names = sorted({ride.place for ride in self.ways.ride})
        self._place = np.array([names.index(ride.place) for ride in self.ways.ride], dtype=np.int64)
        table = ParameterTable(dict(catalogue.parameters.rows))
        box = [catalogue.box_types[variant.box_type] for variant in variants]
        grid = CaseGrid(
            trip=trip_of(day, (group,), tuple(names), with_stop=False),
            road=road_of(day.yard, max(ride.drive_s for ride in self.ways.ride), with_stop=False),
            weather=self.yard.weather,
            table=table,
            variants=tuple(_described(catalogue, v, b) for v, b in zip(variants, box, strict=True)),
            places=tuple(catalogue.loading_places[name] for name in names),
            place_of=np.arange(len(names))[:, None],
            ground=catalogue.loading_places["ground_shade"],
            agitations=(0.0,),
            setups=len(variants),
        )
        leaks = np.array([one.leak_l_s for one in box])
        return Scenario(grid, (self.yard.weather,), leaks, self.yard.places, load_forecast_error())

    # -- what surrounds them ----------------------------------------------------------------------

    def around(self, bin_: int) -> Around:
        """The tables of all ways of like length, worked out once."""
        if bin_ not in self._around:
            self._around[bin_] = self._surrounded(np.flatnonzero(self._bin == bin_))
        return self._around[bin_]

    def _surrounded(self, rows: Ints) -> Around:
        tracks, track = np.unique(self._track[rows], return_inverse=True)
        steps = int(self.steps[rows].max())
        vehicles, first = [], 0
        for trip, road, own in self._own:
            mine = tracks[(tracks >= first) & (tracks < first + len(own.departure_s))] - first
            first += len(own.departure_s)
            if mine.size:
                part = own.take(mine)
                time_s = part.start_s + (np.arange(steps)[:, None] + 0.5) * STEP_S
                vehicles.append(follow(trip, road, part, time_s))
        vehicle = _beside(vehicles)
        grid = self.scenario.grid
        typical = grid.table.typical()
        outside = outside_weather(self.yard.weather, vehicle, typical.ground_albedo)
        boxes = np.array([self.ways.ride[row].boxes for row in rows])
        envs, air = np.unique(
            np.stack((track.ravel(), self._place[rows], boxes), axis=1), axis=0, return_inverse=True
        )
        places: list[LoadingPlace] = [grid.places[number] for number in envs[:, 1]]
        local = air_around(
            vehicle,
            outside,
            envs[:, 0],
            places,
            envs[:, 2].astype(np.float64),
            grid.ground,
            grid.trip.net,
            typical,
            STEP_S,
        )
        return Around(rows, self.steps[rows], track.ravel(), air.ravel(), vehicle.time_s, vehicle, local)

    # -- marching ---------------------------------------------------------------------------------

    def pieces(self, way: Ints, variant: Ints, sample: Ints, load: Ints | None = None) -> list[Piece]:
        """Cases cut into pieces of like length; those of one load must follow each other.

        Parameters
        ----------
        way, variant, sample, load : (case,)
        """
        bins = self._bin[way]
        out = []
        for bin_ in np.unique(bins).tolist():
            mine = np.flatnonzero(bins == bin_)
            around = self.around(bin_)
            mine = mine[np.argsort(self.steps[way[mine]], kind="stable")]
            cells = np.cumsum(self.steps[way[mine]])
            pieces = max(1, round(int(cells[-1]) / MOST_CELLS))
            cut = np.unique(np.searchsorted(cells, np.arange(1, pieces) * (cells[-1] / pieces)))
            if load is not None:  # whose air is shared is not parted
                cut = cut[[bool(at) and load[mine[at]] != load[mine[at - 1]] for at in cut]]
            out += [(around, part) for part in np.split(mine, cut) if part.size]
        return [
            Piece(around, part, way[part], variant[part], sample[part], None if load is None else load[part])
            for around, part in out
        ]

    def verdicts(self, piece: Piece, sample: Sample) -> np.ndarray:
        """The five verdicts of a piece, (case, verdict)."""
        around = piece.around
        rows, row = np.unique(piece.way, return_inverse=True)
        at = np.searchsorted(around.rows, rows)
        tracks, track = np.unique(around.track[at], return_inverse=True)
        airs, air = np.unique(around.air[at], return_inverse=True)
        steps = int(around.steps[at].max())
        used = self.timeline.take(rows)
        grid, place = self.scenario.grid, self._place[rows]
        passage = Passage(
            time_s=around.time_s[:steps, tracks],
            vehicle=_cut(around.vehicle, steps, tracks),
            outside=None,  # type: ignore[arg-type]  # told already in the air around the boxes
            local_air=_cut(around.local_air, steps, airs),
            rows=np.arange(rows.size),
            pairs=np.arange(rows.size) * len(grid.place_of) + place,
        )
        none = np.zeros_like(row)
        table = CaseTable(
            departure=row,
            group=none,
            place=place[row],
            setup=piece.variant,
            closing=none,
            sample=piece.sample,
            enclosure=none,
        )
        middle_s = 0.5 * (used.departure_s + used.arrive_s[:, -1])
        varied = variations_of(self.scenario, sample, middle_s)
        batch = lay_out(grid, used, self.night[rows], table, varied, passage, STEP_S)
        shared = None if piece.load is None else np.unique(piece.load, return_inverse=True)[1].ravel()
        cases = replace(batch.cases, track=track.ravel()[row], local_air=air.ravel()[row], enclosure=shared)
        return simulate(replace(batch, cases=cases), STEP_S).assessed(STEP_S).verdict


_CALLS = ("arrive_s", "leave_s")


def _described(catalogue: Catalogue, group: Group, box: BoxType) -> box_model.BoxInputs:
    return box_model.describe(group, box, catalogue.frame_kinds[box.frame_kind])


def _beside(parts: Sequence[VehicleState]) -> VehicleState:
    """Tables (time, track) of some roads as one."""
    joined: dict[str, Any] = {
        f.name: np.concatenate([getattr(part, f.name) for part in parts], axis=1)
        for f in fields(VehicleState)
    }
    return VehicleState(**joined)


def _cut(tables: Tables, steps: int, columns: Ints) -> Tables:
    """The first steps of some columns."""
    cut: dict[str, Any] = {f.name: getattr(tables, f.name)[:steps, columns] for f in fields(tables)}
    return replace(tables, **cut)
