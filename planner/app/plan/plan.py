"""Planning a trip: every departure, loading place and set-up integrated, judged and ranked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from planner.app.common.limits_words import group_limits
from planner.app.common.progress import Progress, Stop
from planner.app.plan.headroom import leaders, read_headroom, tried_headroom
from planner.app.plan.notes import notes_of, shut_long
from planner.app.plan.results import (
    AGITATIONS,
    HARM,
    LEDGER_TERMS,
    TYPICAL,
    Choice,
    Curves,
    Outcomes,
    Phase,
    Plan,
)
from planner.app.plan.room import Room, room_of
from planner.app.plan.simulate import simulate_ways
from planner.errors import Fault, InputError
from planner.model import limits, sun
from planner.model.cases import AGITATION_LEVELS, CaseGrid, SimulatedBatch, case_grid, run
from planner.model.catalogue import Catalogue
from planner.model.clock import inside_hours, local_seconds
from planner.model.closing import at_home_share, closed_by_day, closing_times
from planner.model.compare import rank
from planner.model.preparations import ALL, SetUp, useful
from planner.model.records import Bools, Floats, Road, Trip, Weather
from planner.model.timeline import GRID_S, Timeline, VehicleState, build_timeline, follow
from planner.model.weather import OutsideWeather, outside_weather

MissName = Literal["arrival", "light", "gate", "break"]


def plan_trip(
    trip: Trip,
    road: Road,
    weather: Weather,
    catalogue: Catalogue,
    *,
    setups: Sequence[SetUp] | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Plan:
    """Plan a trip.

    Parameters
    ----------
    setups : box set-ups to try; by default every one that changes something
    on_progress : called with the share done, 0..1
    should_stop : polled between batches; Cancelled is raised when it says so

    Raises
    ------
    InputError : a window without departures
    """
    tried = _setups(trip, catalogue, setups)
    departures = departures_of(trip)
    closed = closing_times(trip, road, departures)
    timeline = build_timeline(trip, road, departures, closed)
    grid = case_grid(trip, road, weather, catalogue, trip.loading_places, tried)
    night = shut_at_night(trip, timeline.closed_s)
    outcomes = simulate_ways(grid, timeline, night, catalogue, on_progress, should_stop)
    by_day = closed_by_day(trip, timeline.closed_s)
    room = tuple(room_of(trip, catalogue, name) for name in trip.loading_places)
    hotter_k, colder_k = read_headroom(grid, timeline, night, outcomes, should_stop)
    headroom_k = np.minimum(hotter_k, colder_k)
    ranking = _ranking(trip, catalogue, timeline, tried, outcomes, headroom_k, by_day, room)
    return Plan(
        trip=trip,
        road=road,
        weather=weather,
        departures_s=departures,
        closed_s=timeline.start_s,
        arrives_s=timeline.arrive_s[:, -1],
        opened_s=timeline.end_s,
        closed_by_day=by_day,
        loading_places=trip.loading_places,
        loading_place_titles=tuple(catalogue.loading_places[name].title for name in trip.loading_places),
        setups=tuple(s.name for s in tried),
        setup_titles=tuple(s.title for s in tried),
        outcomes=outcomes,
        ranking=ranking,
        hotter_k=hotter_k,
        colder_k=colder_k,
        tried=tried_headroom(grid, timeline, night, leaders(ranking)),
        notes=(
            *catalogue.remarks,
            *notes_of(trip, weather, road, outcomes, ranking, room, catalogue),
            *shut_long(timeline.closed_s, timeline.boarded_s),
        ),
        room=room,
        limits=group_limits(trip, catalogue),
    )


def departures_of(trip: Trip) -> Floats:
    """Candidate departures of the window, POSIX seconds; evenly spaced on the true clock across DST."""
    window = trip.window
    if not window.step_s > 0.0 or window.last_s < window.first_s:
        raise InputError(
            [Fault("window", "", "no departure to try", "Set 'to' after 'from' and a step above 0")]
        )
    count = int((window.last_s - window.first_s) // window.step_s) + 1
    return np.round((window.first_s + np.arange(count) * window.step_s) / GRID_S) * GRID_S


def sun_heights(plan: Plan) -> Floats:
    """The sun's height in degrees over the origin at each departure."""
    origin = plan.trip.origin
    return sun.sun_position(plan.departures_s, origin.lat_deg, origin.lon_deg).elevation_deg


def curves(plan: Plan, choice: Choice, catalogue: Catalogue) -> Curves:
    """Histories of one candidate for drawing, by integrating it again in detail."""
    grid, timeline, night = single_candidate(plan, choice, catalogue)
    drawn = _curves(plan, choice, timeline, run(grid, timeline, night, detail=True))
    return replace(drawn, limits=group_limits(plan.trip, catalogue))


def looked_closer(plan: Plan, choice: Choice, catalogue: Catalogue) -> Plan:
    """The plan with the headroom of one more candidate found by trying; the same plan where that is known."""
    if choice in plan.tried:
        return plan
    grid, timeline, night = single_candidate(plan, choice, catalogue)
    (found,) = tried_headroom(grid, timeline, night, (Choice(0, 0, 0),)).values()
    return replace(plan, tried={**plan.tried, choice: found})


def single_candidate(
    plan: Plan, choice: Choice, catalogue: Catalogue, agitations: Sequence[float] = AGITATION_LEVELS
) -> tuple[CaseGrid, Timeline, Floats]:
    """One candidate of a plan ready to be run: its fan, its timeline and which boxes are shut at night."""
    trip = plan.trip
    departure = plan.departures_s[[choice.departure]]
    timeline = build_timeline(trip, plan.road, departure, closing_times(trip, plan.road, departure))
    setup = next(setup for setup in ALL if setup.name == plan.setups[choice.setup])
    place = plan.loading_places[choice.loading_place]
    grid = case_grid(trip, plan.road, plan.weather, catalogue, [place], [setup], agitations)
    return grid, timeline, shut_at_night(trip, timeline.closed_s)


def _setups(trip: Trip, catalogue: Catalogue, setups: Sequence[SetUp] | None) -> tuple[SetUp, ...]:
    types = tuple(catalogue.box_types[group.box_type] for group in trip.groups)
    return useful(trip.groups, types) if setups is None else tuple(setups)


def shut_at_night(trip: Trip, closed_s: Floats) -> Floats:
    """How far the bees of the night are at home when each group is shut, 0 to 1, (departure, group)."""
    lat = np.array([trip.waypoints[group.load_waypoint].lat_deg for group in trip.groups])
    lon = np.array([trip.waypoints[group.load_waypoint].lon_deg for group in trip.groups])
    return at_home_share(sun.sun_position(closed_s, lat, lon).elevation_deg)


def _ranking(
    trip: Trip,
    catalogue: Catalogue,
    timeline: Timeline,
    setups: Sequence[SetUp],
    outcomes: Outcomes,
    headroom_k: Floats,
    by_day: Bools,
    room: Sequence[Room],
) -> tuple[Choice, ...]:
    worst = outcomes.verdict.max(axis=(-2, -1))
    boxes = np.array([group.count for group in trip.groups], dtype=np.float64)
    share = boxes / boxes.sum()
    harmed = (outcomes.verdict.max(axis=-1) >= HARM) @ share
    first_s = outcomes.first_harm_s[..., TYPICAL, :] - timeline.closed_s[:, None, None, :]
    own_k = outcomes.headroom_k[..., TYPICAL, :].min(axis=-1)
    shape = worst.shape[:3]
    crowded = np.array([not one.enough for one in room])
    order = rank(
        crowded=np.broadcast_to(crowded[:, None], shape),
        level=worst[..., TYPICAL],
        agitated_level=worst[..., -1],
        harmed_share=harmed.mean(axis=-1),
        dead_share=outcomes.dead_share[..., TYPICAL, :] @ share,
        ruined_share=outcomes.ruined[..., TYPICAL, :] @ share,
        first_harm_s=np.nan_to_num(first_s, nan=np.inf).min(axis=-1),
        headroom_k=np.where(np.isnan(headroom_k), own_k, headroom_k),
        by_day=np.broadcast_to(by_day[:, None, None], shape),
        inconvenience=_inconvenience(trip, catalogue, timeline, setups, shape),
    )
    return tuple(
        Choice(int(d), int(k), int(u)) for d, k, u in zip(*np.unravel_index(order, shape), strict=True)
    )


def _inconvenience(
    trip: Trip, catalogue: Catalogue, timeline: Timeline, setups: Sequence[SetUp], shape: tuple[int, ...]
) -> Floats:
    """Missed wishes weigh most, then hours shut, then work; a small scale keeps harm and headroom above it."""
    missed = missed_wishes(trip, timeline.arrive_s[:, -1])
    shut_h = (timeline.end_s - timeline.start_s) / 3600.0
    place = np.array(
        [catalogue.loading_places[name].effort for name in trip.loading_places], dtype=np.float64
    )
    work = np.array([setup.effort for setup in setups], dtype=np.float64)
    total = 10.0 * missed[:, None, None] + 0.5 * shut_h[:, None, None] + place[:, None] + work
    return np.broadcast_to(total, shape)


def missed_wishes(trip: Trip, arrive_s: Floats) -> Floats:
    """How many of the arrival wishes each arrival misses, (departure,)."""
    return np.array([float(len(missed)) for missed in missed_by_kind(trip, arrive_s)])


def missed_by_kind(trip: Trip, arrive_s: Floats) -> list[tuple[MissName, ...]]:
    """Which of the arrival wishes each arrival misses: too late, after light, while the gate is shut."""
    wishes, site = trip.arrival, trip.destination
    missed: dict[MissName, Bools] = {"arrival": arrive_s > wishes.latest_s}
    if wishes.before_light:
        height = sun.sun_position(arrive_s, site.lat_deg, site.lon_deg).elevation_deg
        missed["light"] = height > sun.CIVIL_TWILIGHT_DEG
    if np.isfinite(wishes.gate_open_s):
        clock = local_seconds(arrive_s, site.zone)
        missed["gate"] = ~inside_hours(clock, wishes.gate_open_s, wishes.gate_shut_s)
    return [tuple(kind for kind, hits in missed.items() if hits[d]) for d in range(arrive_s.size)]


def _curves(plan: Plan, choice: Choice, timeline: Timeline, simulated: SimulatedBatch) -> Curves:
    seen, cases = simulated.seen, simulated.cases
    shape = (len(simulated.time_s), len(AGITATIONS), timeline.groups)
    hidden = np.where(seen.closed, 1.0, np.nan)

    def steps(values: Floats) -> Floats:
        return (values * hidden).reshape(shape)

    def nodes(values: Floats) -> Floats:
        return steps(0.5 * (values[:-1] + values[1:]))

    lost = seen.walls_w + seen.air_w + seen.evaporation_w
    made = seen.adults_w + seen.brood_w + seen.sun_w
    terms = {
        "adults": seen.adults_w,
        "brood": seen.brood_w,
        "sun": seen.sun_w,
        "air": -seen.air_w,
        "walls": -seen.walls_w,
        "water": -seen.evaporation_w,
        "stored": lost - made,
    }
    vehicle, outside = vehicle_track(plan, timeline, simulated.time_s)
    along = {
        name: getattr(vehicle, name)[:, 0] for name in ("speed_ms", "elevation_m", "km", "lat_deg", "lon_deg")
    }
    around = {name: getattr(outside, name)[:, 0] for name in OUTSIDE_FIELDS}
    return Curves(
        choice=choice,
        time_s=simulated.time_s[:, 0],
        core_c=nodes(seen.core_c),
        stores_c=nodes(seen.stores_c * np.where(cases.boxes.has_comb > 0.0, 1.0, np.nan)),
        box_air_c=steps(seen.box_air_c),
        local_c=steps(seen.local_c),
        closed=seen.closed.reshape(shape)[:, TYPICAL],
        humidity_share=steps(limits.humidity_in_box(seen)),
        co2_share=steps(limits.co2_share(seen, simulated.parameters)),
        water_ml=nodes(seen.water_kg) * limits.ML_PER_KG,
        ledger_w=np.stack([steps(terms[name]) for name in LEDGER_TERMS], axis=-1),
        outside_c=outside.air_c[:, 0],
        phases=_phases(plan.trip, plan.road, timeline),
        **along,
        **around,
    )


OUTSIDE_FIELDS = ("dew_c", "ghi_w_m2", "wind_ms", "wind_east_ms", "wind_north_ms", "sun_elevation_deg")


def vehicle_track(plan: Plan, timeline: Timeline, time_s: Floats) -> tuple[VehicleState, OutsideWeather]:
    """The vehicle itself as a track: aboard from loading at the origin to the destination."""
    trip = replace(
        plan.trip, groups=(replace(plan.trip.groups[0], load_waypoint=0, unload_waypoint=-1, stages=()),)
    )
    alone = replace(
        timeline,
        closed_s=timeline.start_s[:, None],
        boarded_s=timeline.arrive_s[:, :1],
        unloaded_s=timeline.arrive_s[:, -1:],
        opened_s=timeline.end_s[:, None],
        stage_s=None,
    )
    vehicle = follow(trip, plan.road, alone, time_s)
    return vehicle, outside_weather(plan.weather, vehicle, np.array(0.0))


def _phases(trip: Trip, road: Road, timeline: Timeline) -> tuple[Phase, ...]:
    """The stretches of the one departure in ``timeline``."""
    km = road.km[list(road.waypoint_vertex)]
    arrive, leave = timeline.arrive_s[0], timeline.leave_s[0]
    out = []
    if timeline.start_s[0] < arrive[0]:
        out.append(Phase("waiting", trip.origin.name, float(timeline.start_s[0]), float(arrive[0]), 0.0))
    out.append(Phase("loading", trip.origin.name, float(arrive[0]), float(leave[0]), 0.0))
    for waypoint in range(1, len(km)):
        site = trip.waypoints[waypoint].name
        out.append(
            Phase(
                "driving", site, float(leave[waypoint - 1]), float(arrive[waypoint]), float(km[waypoint - 1])
            )
        )
        if waypoint <= len(trip.stops):
            out.append(
                Phase("stop", site, float(arrive[waypoint]), float(leave[waypoint]), float(km[waypoint]))
            )
    out.append(
        Phase("settling", trip.destination.name, float(arrive[-1]), float(timeline.end_s[0]), float(km[-1]))
    )
    return tuple(phase for phase in out if phase.end_s > phase.start_s)
