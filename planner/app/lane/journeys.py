"""One journey of a parcel in each sample: where it is and for how long, drawn from what nobody knows.

Each stage lasts evenly between its lowest and its usual time in half of the samples, evenly between usual and highest
in the other half; a place is drawn by its weight; so many of 100 come a day late. The same journeys for every day and
set-up, so that two of them differ by what they are.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from planner.app.chance.samples import STEP_S, Sample, Scenario, variations_of
from planner.app.lane.calendar import Posting
from planner.app.plan.plan import shut_at_night
from planner.model.batches import together
from planner.model.cases import CaseTable, SimulatedBatch, case_grid, lay_out, simulate
from planner.model.catalogue import Catalogue
from planner.model.geo import great_circle_km, intermediate
from planner.model.preparations import SetUp
from planner.model.records import (
    Bools,
    DepartureWindow,
    Floats,
    Holder,
    Ints,
    Moment,
    Road,
    Stage,
    StageKind,
    Trip,
    Weather,
)
from planner.model.timeline import Timeline
from planner.model.ways import on_grid
from planner.services.roads.estimate import winding
from planner.store.forecast_error import load_forecast_error
from planner.store.lanerecords import ParcelLane
from planner.store.lanerules import lane_rules

DAY_S = 86_400.0
LEAST_S = 60.0
VERTICES = 25
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
    """Journeys by a scrambled Sobol sequence."""
    from scipy.stats import qmc  # late: scipy.stats takes longer to import than all the rest

    stages = len(lane.stages)
    sobol = qmc.Sobol(2 * stages + 1, scramble=True, seed=generator)
    point = sobol.random(1 << max(samples - 1, 0).bit_length())[:samples]
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


def combinations(journeys: Drawn) -> Iterator[tuple[tuple[int, ...], Ints]]:
    """Every set of places that was drawn, with the samples that drew it."""
    found, which = np.unique(journeys.place, axis=0, return_inverse=True)
    for number, places in enumerate(found):
        yield tuple(places.tolist()), np.flatnonzero(which.ravel() == number)


@dataclass(frozen=True)
class Ridden:
    """Journeys simulated: the ``sample`` and ``setup`` of each case, when its stages began, what it did."""

    sample: Ints
    setup: Ints
    stage_s: Floats
    batch: SimulatedBatch


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
) -> Iterator[Ridden]:
    """Simulate every journey with every set-up: those in time in one batch, those a day late in another.

    ``detail``: the air around the parcel is kept too.
    """
    for late in (False, True):
        rows = np.flatnonzero(journeys.late == late)
        if rows.size:
            args = lane, road, weather, catalogue, places, setups, journeys.take(rows), sample.take(rows), at
            done = _ridden(*args, post_s[rows], detail)
            yield replace(done, sample=rows[done.sample])


def _ridden(
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
    detail: bool,
) -> Ridden:
    """Journeys of like length in one batch."""
    batches, samples, which, begins = [], [], [], []
    table = catalogue.parameters
    leaks = np.array([catalogue.box_types[lane.group.box_type].leak_l_s for _ in setups])
    for chosen, rows in combinations(journeys):
        trip = trip_of(lane, chosen)
        grid = case_grid(trip, road, weather, catalogue, trip.loading_places, setups, table=table)
        scenario = Scenario(grid, (weather,), leaks, places, load_forecast_error())
        timeline = timeline_of(lane, road, journeys.take(rows), at, post_s[rows])
        count = rows.size
        row, setup = np.tile(np.arange(count), len(setups)), np.repeat(np.arange(len(setups)), count)
        none = np.zeros_like(row)
        cases = CaseTable(row, none, none, setup, none, row, np.arange(row.size))
        varied = variations_of(scenario, sample.take(rows), 0.5 * (timeline.start_s + timeline.end_s))
        night = shut_at_night(trip, timeline.closed_s)
        batches.append(lay_out(grid, timeline, night, cases, varied, step_s=STEP_S))
        samples.append(rows[row])
        which.append(setup)
        begins.append(timeline.stage_begin_s[row, 0])
    simulated = simulate(together(batches), STEP_S, detail=detail)
    return Ridden(np.concatenate(samples), np.concatenate(which), np.concatenate(begins), simulated)
