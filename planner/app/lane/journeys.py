"""One journey of a parcel in each sample: where it is and for how long, drawn from what nobody knows.

Each stage lasts evenly between its lowest and its usual time in half of the samples, evenly between usual and highest
in the other half; a place is drawn by its weight; so many of 100 come a day late. The same journeys for every day and
set-up, so that two of them differ by what they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from datetime import date, datetime, timedelta
from functools import partial
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import numpy as np

from planner.app.chance.points import even_points
from planner.app.chance.samples import Sample, Scenario, variations_of
from planner.app.common.executors import map_unordered
from planner.app.lane.calendar import Posting
from planner.app.plan.plan import shut_at_night
from planner.model.cases import CaseGrid, CaseTable, Passage, case_grid, lay_out, simulate
from planner.model.catalogue import Catalogue
from planner.model.geo import great_circle_km, intermediate
from planner.model.limits import Assessment
from planner.model.loading_places import LocalAir, air_around
from planner.model.parameters import ParameterTable
from planner.model.preparations import SetUp
from planner.model.records import (
    Bools,
    DepartureWindow,
    Floats,
    Holder,
    Ints,
    LoadingPlace,
    Moment,
    Road,
    Stage,
    StageKind,
    Trip,
    Weather,
)
from planner.model.timeline import Timeline, VehicleState, follow
from planner.model.ways import on_grid
from planner.model.weather import OutsideWeather, outside_weather
from planner.services.roads.estimate import winding
from planner.store.forecast_error import load_forecast_error
from planner.store.lanerecords import ParcelLane
from planner.store.lanerules import lane_rules

DAY_S = 86_400.0
LEAST_S = 60.0
LANE_STEP_S = 300.0
"""Journeys last for days: a step is longer than on a drive."""

REMEMBERED_S = 6 * 3600.0
VERTICES = 25
MOST_JOURNEYS = 100
"""Journeys of a piece of work: bounds memory."""

KINDS: dict[str, tuple[StageKind, Holder]] = {
    "wait": ("wait", "us"),
    "collection": ("depot", "carrier"),
    "depot": ("depot", "carrier"),
    "trunk": ("drive", "carrier"),
    "delivery": ("depot", "carrier"),
    "counter": ("depot", "receiver"),
    "doorstep": ("doorstep", "receiver"),
}


@dataclass(frozen=True)
class Drawn:
    """What was drawn: ``lasts_s`` (sample, stage), ``place`` (sample, stage) numbers, ``late`` (sample,)."""

    lasts_s: Floats
    place: Ints
    late: Bools

    def take(self, rows: slice | Ints) -> Drawn:
        """Some of the samples."""
        return Drawn(self.lasts_s[rows], self.place[rows], self.late[rows])

    def all_late(self) -> Drawn:
        """The same journeys, every one a day late."""
        return replace(self, late=np.ones_like(self.late))


def drawn(lane: ParcelLane, samples: int, generator: np.random.Generator) -> Drawn:
    """Journeys spread evenly."""
    stages = len(lane.stages)
    point = even_points(samples, 2 * stages + 1, generator)
    low, usual, high = np.array([stage.lasts_s for stage in lane.stages]).T
    at = 2.0 * point[:, :stages] - 1.0
    lasts = usual + np.where(at < 0.0, at * (usual - low), at * (high - usual))
    place = np.zeros((samples, stages), dtype=np.int64)
    for number, stage in enumerate(lane.stages):
        edges = np.cumsum([weight for _, weight in stage.places])
        place[:, number] = np.minimum(np.searchsorted(edges, point[:, stages + number]), len(edges) - 1)
    return Drawn(lasts, place, np.asarray(point[:, -1] < late_of_100(lane) / 100.0))


def late_of_100(lane: ParcelLane) -> float:
    """How many of 100 come a day late: the user's own figure, or the usual one."""
    own = lane.service.late_of_100
    return lane_rules().late_of_100 if own is None else own


def road_of(lane: ParcelLane) -> Road:
    """The trunk's road: along the great circle, as long as its usual time."""
    a, b = lane.origin, lane.destination
    straight = max(1.0, float(great_circle_km(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg)))
    share = np.linspace(0.0, 1.0, VERTICES)
    lat, lon = intermediate(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg, share)
    trunk_s = next(stage.lasts_s[1] for stage in lane.stages if stage.kind == "trunk")
    return Road(
        lat_deg=lat,
        lon_deg=lon,
        elevation_m=np.full(VERTICES, np.nan),
        km=share * straight * winding(straight),
        drive_s=share * float(on_grid(np.array(trunk_s))),
        waypoint_vertex=(0, VERTICES - 1),
        source="great circle",
        estimated=True,
    )


def trip_of(lane: ParcelLane, places: Sequence[int]) -> Trip:
    """The parcel's way with every place settled: ``places`` number those of each stage."""
    trunk = next(number for number, stage in enumerate(lane.stages) if stage.kind == "trunk")
    stages = []
    for number, (stage, place) in enumerate(zip(lane.stages, places, strict=True)):
        kind, holder = KINDS[stage.kind]
        at = (0, 0) if number < trunk else (0, 1) if number == trunk else (1, 1)
        stages.append(
            Stage(
                kind=kind,
                waypoints=at,
                end=Moment("lasting", stage.lasts_s),
                places=((stage.places[place][0], 1.0),),
                holder=holder,
                shaking=lane_rules().shaking[stage.kind],
            )
        )
    at_s = datetime.combine(lane.monday, datetime.min.time(), ZoneInfo(lane.origin.zone)).timestamp()
    return Trip(
        title=lane.title,
        origin=lane.origin,
        destination=lane.destination,
        groups=(replace(lane.group, stages=tuple(stages)),),
        window=DepartureWindow(at_s, at_s + 7 * DAY_S, DAY_S),
        loading_places=(longest_place(lane, places),),
        tolerance=lane.tolerance,
        invented=lane.invented,
    )


def longest_place(lane: ParcelLane, places: Sequence[int]) -> str:
    """Where the parcel usually is longest: the place whose error is sampled."""
    number = max(range(len(lane.stages)), key=lambda at: lane.stages[at].lasts_s[1])
    return lane.stages[number].places[places[number]][0]


def posted_s(lane: ParcelLane, day: date) -> float:
    """When a parcel is handed in on a day."""
    midnight = datetime.combine(day, datetime.min.time())
    local = (midnight + timedelta(seconds=lane.service.post_s)).replace(tzinfo=ZoneInfo(lane.origin.zone))
    return local.timestamp()


def timeline_of(lane: ParcelLane, road: Road, journeys: Drawn, at: Posting, post_s: Floats) -> Timeline:
    """When every stage of every journey begins; one row a sample. ``post_s`` (sample,) when it is handed in."""
    lasts = journeys.lasts_s.copy()
    trunk = next(number for number, stage in enumerate(lane.stages) if stage.kind == "trunk")
    more_s = (
        lasts[:, trunk] - road.driving_s
    )  # the vehicle keeps its time: the doubt of the trunk is waited out after
    lasts[:, trunk] = road.driving_s
    waits_in = _waits_in(lane, trunk)
    lasts[:, waits_in] += more_s + DAY_S * np.where(journeys.late, at.late_extra, at.extra)
    lasts = np.maximum(on_grid(lasts), LEAST_S)
    shut_s = np.floor(post_s / 60.0) * 60.0 - (lasts[:, 0] if lane.stages[0].kind == "wait" else 0.0)
    ends = shut_s[:, None] + np.cumsum(lasts, axis=1)
    begin = np.concatenate((shut_s[:, None], ends[:, :-1]), axis=1)
    leave, arrive = begin[:, trunk], ends[:, trunk]
    return Timeline(
        departure_s=leave,
        arrive_s=np.stack((leave, arrive), axis=1),
        leave_s=np.stack((leave, arrive), axis=1),
        closed_s=shut_s[:, None],
        boarded_s=leave[:, None],
        unloaded_s=arrive[:, None],
        opened_s=ends[:, -1:],
        stage_s=begin[:, None, :],
    )


def _waits_in(lane: ParcelLane, trunk: int) -> int:
    """The stage in which a parcel waits: the last depot, or else the stage after the trunk, or the one before."""
    depots = [number for number, stage in enumerate(lane.stages) if stage.kind == "depot"]
    if depots:
        return depots[-1]
    return trunk + 1 if trunk + 1 < len(lane.stages) else max(trunk - 1, 0)


@dataclass(frozen=True)
class Ridden:
    """Journeys simulated: the ``sample`` and ``setup`` of each case, when its stages began, how it fared.

    ``shut_h`` (case,); ``around_c`` (case, 2) coldest and warmest air around the parcel, NaN where nobody asked.
    """

    sample: Ints
    setup: Ints
    stage_s: Floats
    shut_h: Floats
    judged: Assessment
    around_c: Floats


def ridden(
    lane: ParcelLane,
    road: Road,
    weather: Weather,
    catalogue: Catalogue,
    places: tuple[str, ...],
    setups: Sequence[SetUp],
    journeys: Drawn,
    sample: Sample,
    at: Posting,
    post_s: Floats,
    detail: bool = False,
    executor: Executor | None = None,
) -> Iterator[Ridden]:
    """Simulate every journey with every set-up, those of like length together.

    ``detail``: the air around the parcel is kept too.
    """
    pieces = []
    for late in (False, True):
        rows = np.flatnonzero(journeys.late == late)
        rows = rows[np.argsort(journeys.lasts_s[rows].sum(axis=1), kind="stable")]
        pieces += [part for part in np.array_split(rows, -(-rows.size // MOST_JOURNEYS) or 1) if part.size]
    jobs = [(part, journeys.take(part), sample.take(part), post_s[part]) for part in pieces]
    work = partial(_ridden, lane, road, weather, catalogue, places, tuple(setups), at, detail)
    for _, done in map_unordered(work, jobs, executor):
        yield done


Job = tuple[Ints, Drawn, Sample, Floats]


def _ridden(
    lane: ParcelLane,
    road: Road,
    weather: Weather,
    catalogue: Catalogue,
    places: tuple[str, ...],
    setups: Sequence[SetUp],
    at: Posting,
    detail: bool,
    job: Job,
) -> Ridden:
    """Some journeys in one batch."""
    rows, journeys, sample, post_s = job
    trip = trip_of(lane, [0] * len(lane.stages))
    table = ParameterTable(dict(catalogue.parameters.rows))
    grid = case_grid(trip, road, weather, catalogue, places, setups, table=table)
    leaks = np.array([catalogue.box_types[lane.group.box_type].leak_l_s for _ in setups])
    scenario = Scenario(grid, (weather,), leaks, places, load_forecast_error())
    timeline = timeline_of(lane, road, journeys, at, post_s)
    number = [np.array([places.index(name) for name, _ in stage.places]) for stage in lane.stages]
    spent_in = np.stack([names[journeys.place[:, stage]] for stage, names in enumerate(number)], axis=1)
    longest = spent_in[:, max(range(len(lane.stages)), key=lambda stage: lane.stages[stage].lasts_s[1])]
    around = _around(grid, timeline, spent_in, longest)
    count = rows.size
    row, setup = np.tile(np.arange(count), len(setups)), np.repeat(np.arange(len(setups)), count)
    none = np.zeros_like(row)
    cases = CaseTable(row, none, longest[row], setup, none, row, np.arange(row.size))
    middle_s = timeline.start_s + 0.5 * journeys.lasts_s.sum(
        axis=1
    )  # of the way in time: a day late is the same world
    varied = variations_of(scenario, sample, middle_s)
    night = shut_at_night(trip, timeline.closed_s)
    batch = simulate(
        lay_out(grid, timeline, night, cases, varied, around, LANE_STEP_S), LANE_STEP_S, detail=detail
    )
    air_c = np.full((row.size, 2), np.nan)
    if detail:
        local_c = np.where(batch.seen.closed, batch.seen.local_c, np.nan)
        air_c = np.stack((np.nanmin(local_c, axis=0), np.nanmax(local_c, axis=0)), axis=1)
    shut_h = (timeline.end_s - timeline.start_s)[row] / 3600.0
    begins = timeline.stage_begin_s[row, 0]
    return Ridden(rows[row], setup, begins, shut_h, batch.assessed(LANE_STEP_S), air_c)


Tables = TypeVar("Tables", VehicleState, OutsideWeather)


def _of(tables: Tables, span: slice, track: Ints) -> Tables:
    """Some steps of some tracks."""
    cut: dict[str, Any] = {f.name: getattr(tables, f.name)[span, track] for f in fields(tables)}
    return replace(tables, **cut)


def _air_in(grid: CaseGrid, place: LoadingPlace, vehicle: VehicleState, outside: OutsideWeather) -> LocalAir:
    """The air around parcels that are in a place all the while, as the case table has it for a stage's own place."""
    indoors = replace(vehicle, on_board=np.ones_like(vehicle.on_board))
    track = np.arange(vehicle.time_s.shape[1])
    boxes = np.full(track.size, float(grid.trip.groups[0].count))
    typical = grid.table.typical()
    air = air_around(
        indoors, outside, track, [place] * track.size, boxes, grid.ground, False, typical, LANE_STEP_S
    )
    return air if place.volume_m3 else replace(air, on_board=vehicle.on_board.astype(np.float64))


def _around(grid: CaseGrid, timeline: Timeline, spent_in: Ints, longest: Ints) -> Passage:
    """Way, weather and air of every journey; ``spent_in`` (journey, stage) of the grid's places."""
    count, places = spent_in.shape[0], len(grid.place_of)
    steps = int(np.ceil(np.max(timeline.end_s - timeline.start_s) / LANE_STEP_S))
    time_s = timeline.start_s + (np.arange(max(steps, 1))[:, None] + 0.5) * LANE_STEP_S
    vehicle = follow(grid.trip, grid.road, timeline, time_s)
    typical = grid.table.typical()
    outside = outside_weather(grid.weather, vehicle, typical.ground_albedo)
    own = spent_in[np.arange(count), vehicle.stage]
    air: dict[str, Floats] = {}
    for number in np.unique(spent_in):
        track = np.flatnonzero((spent_in == number).any(axis=1))
        within = own[:, track] == number
        when = np.flatnonzero(within.any(axis=1))
        if not when.size:
            continue
        # what a place remembers of the sun before is forgotten after REMEMBERED_S
        span = slice(max(0, int(when[0]) - round(REMEMBERED_S / LANE_STEP_S)), int(when[-1]) + 1)
        there = _air_in(grid, grid.places[number], _of(vehicle, span, track), _of(outside, span, track))
        for name, values in vars(there).items():
            into = air.setdefault(name, np.full(own.shape, np.nan))
            into[span, track] = np.where(within[span], values, into[span, track])
    pairs = np.arange(count) * places + longest
    return Passage(time_s, vehicle, outside, LocalAir(**air), np.arange(count), pairs)
