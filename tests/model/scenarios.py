"""Small invented scenarios for tests: a straight road, a smooth day, boxes of ordinary strength, benches.

Nothing here is measured: it is the stage on which the model is asked questions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import UTC, datetime
from functools import cache
from typing import Any, NamedTuple

import numpy as np

from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Plan
from planner.model import boxes as box_model
from planner.model import sun
from planner.model.cases import CaseGrid, SimulatedBatch, case_grid, run
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.integrate import Cases, Histories
from planner.model.loading_places import LocalAir
from planner.model.march import march
from planner.model.parameters import Parameters
from planner.model.preparations import AS_DECLARED, SetUp
from planner.model.records import (
    Closing,
    DepartureWindow,
    Floats,
    Group,
    LoadingPlace,
    Road,
    Site,
    Stop,
    Trip,
    Weather,
)
from planner.model.timeline import GRID_S, Timeline, VehicleState, build_timeline
from planner.store.catalogue import load_catalogue

HOUR_S = 3600.0
DAY_S = 86_400.0
KM_PER_DEGREE = 111.2

ORIGIN = Site("Old Yard", 45.0, 8.0, "Europe/Rome", 200.0)
DESTINATION = Site("New Yard", 47.5, 8.0, "Europe/Zurich", 200.0)

NUC = Group(
    "nuc",
    1,
    "langstroth_nuc5_pine",
    frames_of_bees=5.0,
    open_brood_frames=1.0,
    sealed_brood_frames=2.0,
    stores_frames=2.0,
)
"""A strong five-frame nucleus on a clean mesh floor under a solid roof, entrance shut by foam."""

HIVE = Group(
    "hive",
    1,
    "langstroth10_double_pine",
    frames_of_bees=14.0,
    open_brood_frames=3.0,
    sealed_brood_frames=5.0,
    stores_frames=6.0,
    comb="old",
)
"""A strong double hive."""


@cache
def catalogue() -> Catalogue:
    """The bundled catalogues, read once, every number as published: no judgement may help a check to be met."""
    bundled = load_catalogue()
    return replace(bundled, parameters=bundled.parameters.published())


@cache
def typical() -> Parameters:
    """Every number at its typical value."""
    return catalogue().parameters.typical()


def at(year: int, month: int, day: int, hour: float = 0.0) -> float:
    """POSIX seconds of an hour of a UTC day."""
    return datetime(year, month, day, tzinfo=UTC).timestamp() + hour * HOUR_S


SPRING = at(2027, 3, 29)
SUMMER = at(2027, 7, 5)


def road(hours: float = 3.5, speed_kmh: float = 80.0, waypoints: int = 2, vertices: int = 9) -> Road:
    """Due north from the origin at one speed; ``calls`` spread evenly, the origin and the end included."""
    per_leg = max(1, (vertices - 1) // (waypoints - 1))
    share = np.linspace(0.0, 1.0, per_leg * (waypoints - 1) + 1)
    km = share * hours * speed_kmh
    return Road(
        lat_deg=ORIGIN.lat_deg + km / KM_PER_DEGREE,
        lon_deg=np.full(km.size, ORIGIN.lon_deg),
        elevation_m=np.full(km.size, 200.0),
        km=km,
        drive_s=share * hours * HOUR_S,
        waypoint_vertex=tuple(range(0, km.size, per_leg)),
        source="invented",
    )


def weather(
    low_c: float,
    high_c: float,
    start_s: float = SPRING,
    *,
    days: int = 3,
    dew_c: float | None = None,
    cloud: float = 0.2,
    wind_ms: float = 2.0,
    sunshine: float = 1.0,
) -> Weather:
    """The same smooth day over and over: coldest at three, warmest at fifteen by the sun; wind from the west."""
    time_s = start_s + np.arange(24 * days + 1) * HOUR_S
    solar_h = (time_s / HOUR_S + ORIGIN.lon_deg / 15.0) % 24.0
    swing = np.cos(2.0 * np.pi * (solar_h - 15.0) / 24.0)
    air_c = 0.5 * (low_c + high_c) + 0.5 * (high_c - low_c) * swing
    zenith = sun.sun_position(time_s - 0.5 * HOUR_S, ORIGIN.lat_deg, ORIGIN.lon_deg).zenith_deg
    ghi = sun.cloudy_global(sun.clear_sky(time_s, zenith)[0], cloud) * sunshine
    return hourly(
        time_s, air_c=air_c, dew_c=low_c - 1.0 if dew_c is None else dew_c, ghi_w_m2=ghi, wind_ms=wind_ms
    )


def steady(air_c: float, *, dew_c: float = 8.0, wind_ms: float = 2.0, start_s: float = SPRING) -> Weather:
    """One temperature without sun for three days."""
    time_s = start_s + np.arange(73) * HOUR_S
    return hourly(time_s, air_c=air_c, dew_c=dew_c, ghi_w_m2=0.0, wind_ms=wind_ms)


def hourly(
    time_s: Floats,
    *,
    air_c: Floats | float,
    dew_c: Floats | float,
    ghi_w_m2: Floats | float,
    wind_ms: Floats | float = 2.0,
    pressure_pa: Floats | float = 99_000.0,
    cloud: Floats | float = 0.2,
    dni_w_m2: Floats | float = np.nan,
    dhi_w_m2: Floats | float = np.nan,
    site: Site = ORIGIN,
    kind: str = "invented",
) -> Weather:
    """One weather point for the whole road from hourly columns."""

    def column(values: Floats | float) -> Floats:
        return np.broadcast_to(np.asarray(values, dtype=np.float64), time_s.shape)[:, None].copy()

    return Weather(
        time_s=time_s,
        km=np.array([0.0]),
        lat_deg=np.array([site.lat_deg]),
        lon_deg=np.array([site.lon_deg]),
        elevation_m=np.array([site.elevation_m or 0.0]),
        air_c=column(air_c),
        dew_c=column(dew_c),
        wind_east_ms=column(wind_ms),
        wind_north_ms=column(0.0),
        gust_ms=column(np.nan),
        ghi_w_m2=column(ghi_w_m2),
        dni_w_m2=column(dni_w_m2),
        dhi_w_m2=column(dhi_w_m2),
        cloud_share=column(cloud),
        pressure_pa=column(pressure_pa),
        rain_mm=column(0.0),
        source="invented",
        kind=kind,
    )


def trip(
    groups: Sequence[Group] | Group,
    places: Sequence[str] | str,
    *,
    leave_s: float = SPRING + DAY_S + 10.0 * HOUR_S,
    last_s: float | None = None,
    step_s: float = HOUR_S,
    stops: Sequence[Stop] = (),
    closing: Closing | None = None,
    **more: object,
) -> Trip:
    """A trip of one departure, or of several up to ``last_s``; shut when lifted unless told otherwise."""
    return Trip(
        title="test",
        origin=ORIGIN,
        destination=DESTINATION,
        groups=(groups,) if isinstance(groups, Group) else tuple(groups),
        window=DepartureWindow(leave_s, leave_s if last_s is None else last_s, step_s),
        loading_places=(places,) if isinstance(places, str) else tuple(places),
        stops=tuple(stops),
        closing=closing or Closing("at_loading"),
        **more,
    )


def halt(minutes: float, purpose: str = "rest", **more: bool) -> Stop:
    """A stop half way."""
    return Stop(Site("Lay-by", 46.2, 8.0, "Europe/Rome", 200.0), purpose, minutes * 60.0, **more)


def plan(planned: Trip, way: Road, sky: Weather, setups: Sequence[SetUp] | None = (AS_DECLARED,)) -> Plan:
    """The trip planned with the bundled catalogues."""
    return plan_trip(planned, way, sky, catalogue(), setups=setups)


def peaks_c(planned: Plan, agitation: int = 1) -> Floats:
    """Peak core temperature of the hottest box, (departure, place, setup)."""
    return planned.outcomes.peak_core_c[..., agitation, :].max(axis=-1)


def harmed(planned: Plan, agitation: int = 1) -> np.ndarray:
    """Whether any box is harmed in any of the five ways, (departure, place, setup)."""
    return planned.outcomes.verdict[..., agitation, :, :].max(axis=(-2, -1)) >= 2


def grid_of(
    planned: Trip, way: Road, sky: Weather, agitations: Sequence[float] = (0.0,), setup: SetUp = AS_DECLARED
) -> tuple[CaseGrid, Timeline]:
    """A case grid and its timeline, ready to run."""
    departures = np.arange(planned.window.first_s, planned.window.last_s + 1.0, planned.window.step_s)
    timeline = build_timeline(planned, way, departures, closing_times(planned, way, departures))
    return case_grid(planned, way, sky, catalogue(), planned.loading_places, [setup], agitations), timeline


def simulated_case(
    planned: Trip,
    way: Road,
    sky: Weather,
    agitations: Sequence[float] = (0.0,),
    setup: SetUp = AS_DECLARED,
    night: float = 0.0,
) -> SimulatedBatch:
    """A trip integrated in detail; cases on the axes (departure, place, setup, agitation, group)."""
    grid, timeline = grid_of(planned, way, sky, agitations, setup)
    return run(grid, timeline, np.full(timeline.closed_s.shape, night), detail=True)


# -- benches: boxes under forces stated by hand --------------------------------------------------


def described(group: Group, **changes: float) -> box_model.BoxInputs:
    """A group of the catalogue as numbers on a case axis of one, some of them changed."""
    box = catalogue().box_types[group.box_type]
    inputs = box_model.describe(group, box, catalogue().frame_kinds[box.frame_kind])
    inputs = replace(inputs, **{name: np.asarray(value, dtype=np.float64) for name, value in changes.items()})
    return box_model.gather([inputs], np.zeros(1, dtype=np.int64))


def still_boxes(group: Group, **changes: float) -> box_model.Boxes:
    """Constants of the balance of one box by day with typical parameters; ``changes`` override them."""
    boxes = box_model.derive(described(group), np.ones(1), typical())
    return replace(boxes, **{name: np.array([value]) for name, value in changes.items()})


def vehicle_at(time_s: Floats, **states: Floats | float) -> VehicleState:
    """One track standing unloaded at the origin, ``(time, 1)``; ``states`` say what is different."""
    one = np.ones((time_s.size, 1))
    column = np.reshape(time_s, (-1, 1))
    usual = {"time_s": column, "lat_deg": ORIGIN.lat_deg, "lon_deg": ORIGIN.lon_deg, "elevation_m": 200.0}
    given = usual | states
    return VehicleState(
        **{f.name: one * given.get(f.name, 0.0) for f in fields(VehicleState) if f.type == "Floats"},
        **{f.name: one * given.get(f.name, 0.0) > 0.0 for f in fields(VehicleState) if f.type == "Bools"},
        **{f.name: one.astype(int) * 0 for f in fields(VehicleState) if f.type == "Ints"},
    )


class Stage(NamedTuple):
    """What the integration asks for."""

    cases: Cases
    vehicle: VehicleState
    local_air: LocalAir
    p: Parameters


def staged(
    boxes: box_model.Boxes,
    air_c: Floats | float,
    *,
    hours: float,
    speed_ms: float = 0.1,
    vapour_kg_m3: Floats | float = 0.008,
    ghi_w_m2: Floats | float = 0.0,
    pressure_root: float = 0.0,
    lid_w_m2: float = 0.0,
    heat_j_m3k: float = 1180.0,
    riding: bool = False,
    since_jolt_s: float | None = None,
    parameters: Parameters | None = None,
) -> Stage:
    """Boxes in the open under stated air, moisture and sun (of the sky; none falls on them), one value or one a minute.

    ``riding`` takes the activity of the road instead of that of waiting; ``since_jolt_s`` None is long ago.
    """
    steps = round(hours * 60)
    one = np.ones((steps, 1))

    def course(values: Floats | float) -> Floats:
        return one * np.reshape(np.broadcast_to(values, (steps,)), (-1, 1))

    time_s = SPRING + (np.arange(steps) + 0.5) * GRID_S
    vehicle = vehicle_at(
        time_s,
        closed=1.0,
        on_board=float(riding),
        moving=float(riding),
        since_jolt_s=1e9 if since_jolt_s is None else since_jolt_s,
        riding_s=time_s[:, None] - SPRING,
    )
    local_air = LocalAir(**{f.name: 0.0 * one for f in fields(LocalAir)})
    local_air = replace(
        local_air,
        base_c=course(air_c),
        bare_share=one,
        speed_ms=one * speed_ms,
        pressure_root=one * pressure_root,
        lid_w_m2=one * lid_w_m2,
        change_per_s=one * np.inf,
        volume_m3=one,
        vapour_kg_m3=course(vapour_kg_m3),
        ghi_w_m2=course(ghi_w_m2),
        heat_j_m3k=one * heat_j_m3k,
        on_board=one * float(riding),
    )
    here = np.zeros(boxes.count.size, dtype=np.int64)
    return Stage(Cases(here, here, None, boxes), vehicle, local_air, parameters or typical())


def bench(boxes: box_model.Boxes, air_c: Floats | float, *, hours: float, **more: Any) -> Histories:
    """The boxes of a stage integrated in detail, by the march in use; arguments as in :func:`staged`."""
    return march(*staged(boxes, air_c, hours=hours, **more))


def place(name: str, **changes: object) -> LoadingPlace:
    """A row of the catalogue of loading places, some figures changed."""
    return replace(catalogue().loading_places[name], **changes)
