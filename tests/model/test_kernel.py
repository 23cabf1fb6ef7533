"""The compiled march against the numpy march: the same histories for the same input, whatever rides.

The numpy march is the reference. Both follow the same scheme, so that they differ by rounding alone: 1e-6 K is asked
for until a box first passes 42 C; beyond, where a box may run away, 0.01 K, and less is asked of what a nudge of
1e-9 K at the start moves further by itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from functools import cache
from typing import TypeVar

import numpy as np
import pytest

from planner.app.plan.inputs import ready
from planner.bundled import resource_path
from planner.model.boxes import Boxes
from planner.model.cases import (
    Batch,
    Variations,
    agitation_variations,
    case_grid,
    cases_of,
    full_grid,
    lay_out,
)
from planner.model.closing import closing_times
from planner.model.integrate import Cases, Histories, integrate
from planner.model.kernel import hand_over
from planner.model.kernel.library import Library, library
from planner.model.limits import HARM, UNKNOWN, Assessment, assess
from planner.model.parameters import NAMES, Parameters, in_range
from planner.model.preparations import AS_DECLARED, MISTED
from planner.model.records import Floats, Group, Ints, Misting, Stop, Weather
from planner.model.timeline import GRID_S, build_timeline
from planner.store.tripfile import load_trip
from tests.model.scenarios import (
    DAY_S,
    HIVE,
    HOUR_S,
    NUC,
    SUMMER,
    catalogue,
    grid_of,
    halt,
    road,
    trip,
    weather,
)

Table = TypeVar("Table", Boxes, Parameters, Cases)

COMPILED = library()
pytestmark = pytest.mark.skipif(not isinstance(COMPILED, Library), reason="the compiled march was not built")

CLOSE_K, HOT_C, HOT_CLOSE_K = 1e-6, 42.0, 0.01
NUDGE_K = 1e-9
DEMOS = ("night-pollination", "nuc-pickup", "swarm-run")


def compiled(batch: Batch, *, detail: bool = True, step_s: float = GRID_S) -> Histories:
    assert isinstance(COMPILED, Library)
    return hand_over.integrate(COMPILED, *_input(batch), step_s=step_s, detail=detail)


def reference(batch: Batch, *, detail: bool = True, step_s: float = GRID_S) -> Histories:
    return integrate(*_input(batch), step_s=step_s, detail=detail)


def _input(batch: Batch) -> tuple:
    return batch.cases, batch.vehicle, batch.local_air, batch.parameters


def nudged(batch: Batch) -> Batch:
    """The same boxes, begun by a hair warmer."""
    boxes = replace(batch.cases.boxes, start_core_c=batch.cases.boxes.start_core_c + NUDGE_K)
    return replace(batch, cases=replace(batch.cases, boxes=boxes))


def farthest_k(one: Histories, other: Histories) -> tuple[Floats, Floats]:
    """How far core and stores lie apart, K, (case,): until the first minute above HOT_C, and in all.

    What is not known (NaN, where the weather ends) must be so in both.
    """
    for name in ("core_c", "stores_c"):
        np.testing.assert_array_equal(np.isnan(getattr(one, name)), np.isnan(getattr(other, name)))
    apart = np.maximum(np.abs(one.core_c - other.core_c), np.abs(one.stores_c - other.stores_c))
    apart = np.nan_to_num(apart)
    hot = np.maximum(one.core_c, one.stores_c) > HOT_C
    cool = ~np.maximum.accumulate(hot, axis=0)
    return np.where(cool, apart, 0.0).max(axis=0), apart.max(axis=0)


def agree(batch: Batch, *, detail: bool = False, theirs: Histories | None = None) -> Histories:
    """Both marches of a batch held together; what the compiled one saw. ``theirs`` where the other is at hand."""
    ours, theirs = compiled(batch, detail=detail), theirs or reference(batch, detail=detail)
    cool_k, all_k = farthest_k(theirs, ours)
    assert cool_k.max() < CLOSE_K
    if all_k.max() >= HOT_CLOSE_K:
        itself_k = farthest_k(theirs, reference(nudged(batch)))[1]
        assert (all_k < np.maximum(HOT_CLOSE_K, itself_k)).all()
    return ours


@cache
def demo(name: str) -> Batch:
    """Every candidate of three departures of a bundled trip, at three agitation levels."""
    found = ready(load_trip(resource_path("demo", f"{name}.toml"), catalogue()))
    window = found.trip.window
    departures = np.linspace(window.first_s, window.last_s, 3).round(-1)
    places = found.trip.loading_places
    grid = case_grid(found.trip, found.road, found.weather, catalogue(), places, [AS_DECLARED, MISTED])
    closed = closing_times(found.trip, found.road, departures)
    timeline = build_timeline(found.trip, found.road, departures, closed)
    table = full_grid(grid, len(departures))
    return lay_out(grid, timeline, np.zeros(closed.shape), table, agitation_variations(grid))


@pytest.mark.parametrize(
    "name", [name if name == "swarm-run" else pytest.param(name, marks=pytest.mark.slow) for name in DEMOS]
)
def test_both_marches_agree_on_a_bundled_trip_and_judge_it_alike(name: str) -> None:
    theirs = reference(demo(name), detail=False)
    agree(demo(name), theirs=theirs)
    agree_in_judging(demo(name), theirs)


FIGURES = {
    "water_kg": 1e-9,
    "flow_m3_s": 1e-9,
    "around_kg_m3": 1e-9,
    "around_co2_share": 1e-9,
    "saturated_kg_m3": 1e-9,
    "worker_dose": 1e-6,
}
"""What is far smaller than 1 in its own unit, and how far apart it may be; degrees and watts 1e-6."""


def test_every_figure_of_a_history_is_the_same_in_both() -> None:
    """Nodes, means of steps in detail, and first evaluations without."""
    for detail in (True, False):
        ours, theirs = (march(random_trip(3), detail=detail) for march in (compiled, reference))
        for f in fields(Histories):
            one, other = getattr(ours, f.name), getattr(theirs, f.name)
            assert one.shape == other.shape, f.name
            assert one.dtype == other.dtype, f.name
            np.testing.assert_allclose(one, other, rtol=1e-6, atol=FIGURES.get(f.name, 1e-6), err_msg=f.name)


# -- random cases --------------------------------------------------------------------------------

RANDOM_TRIPS, SAMPLES = 12, 4


def random_group(rng: np.random.Generator, number: int) -> Group:
    """Boxes of any strength, openings, stores, water and misting."""
    usual = NUC if rng.random() < 0.6 else HIVE
    share = rng.uniform(0.2, 1.0)
    return replace(
        usual,
        label=f"group {number}",
        count=int(rng.integers(1, 12)),
        frames_of_bees=usual.frames_of_bees * rng.uniform(0.3, 1.5),
        open_brood_frames=usual.open_brood_frames * share * (rng.random() < 0.7),
        sealed_brood_frames=usual.sealed_brood_frames * share,
        stores_frames=float(rng.integers(0, 3)),
        thin_syrup_share=rng.choice([0.0, 0.3]),
        floor=str(rng.choice(["mesh", "solid"])),
        floor_blocked_share=rng.choice([0.0, 0.6, 1.0]),
        roof=str(rng.choice(["solid", "screen"])),
        entrance=str(rng.choice(["shut", "mesh", "foam", "open"])),
        wet_foam_ml=rng.choice([0.0, 30.0]),
        wet_bees_ml=rng.choice([0.0, 0.0, 60.0]),
        misting=Misting(rng.uniform(20.0, 200.0), rng.uniform(600.0, 7200.0), rng.uniform(900.0, 5400.0))
        if rng.random() < 0.5
        else None,
        unload_waypoint=-1,
    )


def random_trip(seed: int) -> Batch:
    """One to three groups that share places, with halts, on a cold, a mild or a deadly day; every number drawn anew."""
    rng = np.random.default_rng(seed)
    groups = [random_group(rng, number) for number in range(int(rng.integers(1, 4)))]
    names = sorted(catalogue().loading_places)
    places = [str(name) for name in rng.choice(names, 4, replace=False)]
    stops: list[Stop] = [halt(rng.uniform(10.0, 90.0), shade=bool(rng.integers(2)))]
    leave_s = SUMMER + DAY_S + rng.uniform(0.0, 24.0) * HOUR_S
    planned = trip(groups, places, leave_s=leave_s, last_s=leave_s + 3.0 * HOUR_S, stops=stops)
    way = road(rng.uniform(0.5, 2.5), waypoints=3)
    low_c = rng.uniform(-15.0, 26.0)
    sky = weather(low_c, low_c + rng.uniform(5.0, 20.0), SUMMER, wind_ms=rng.uniform(0.0, 6.0))
    rain = np.where(rng.random(sky.rain_mm.shape) < 0.3, 2.0, 0.0)
    sky = replace(sky, rain_mm=rain)
    departures = leave_s + np.arange(4.0) * HOUR_S
    closed = closing_times(planned, way, departures)
    grid = case_grid(planned, way, sky, catalogue(), places, [AS_DECLARED, MISTED], (0.0,))
    table = catalogue().parameters
    drawn = {name: in_range(table.rows[name], rng.uniform(-1.0, 1.0, SAMPLES)) for name in NAMES}
    shape = (len(departures), SAMPLES)
    variations = Variations(
        parameters=drawn,
        place_offset_k=rng.normal(0.0, 1.0, (SAMPLES, len(grid.places))),
        air_offset_k=rng.normal(0.0, 2.0, shape),
        sun_factor=rng.uniform(0.5, 1.2, shape),
        wind_factor=rng.uniform(0.5, 1.5, shape),
    )
    axes = np.indices((len(departures), len(places), 2))
    candidates = np.stack([axis.ravel() for axis in axes], axis=1)
    timeline = build_timeline(planned, way, departures, closed)
    cases = cases_of(candidates, SAMPLES, len(groups))
    return lay_out(grid, timeline, rng.random(closed.shape), cases, variations)


def test_both_marches_agree_on_random_cases_and_judge_them_alike() -> None:
    """Halts, rain, misting, shared enclosures, water running out, bees that come and go, die and freeze.

    Harm of at least three kinds, boxes without brood and without comb.
    """
    met, judged = [], []
    for seed in range(RANDOM_TRIPS):
        batch = random_trip(seed)
        theirs = reference(batch, detail=False)
        met.append(agree(batch, theirs=theirs))
        judged.append(agree_in_judging(batch, theirs).verdict)
    assert (np.concatenate(judged) == HARM).any(axis=0).sum() >= 3
    assert sum(seen.core_c.shape[1] for seen in met) >= 2000
    assert max(seen.worker_dose.max() for seen in met) > 1.0
    assert min(seen.core_c.min() for seen in met) < 20.0


def test_both_marches_agree_where_water_runs_out() -> None:
    batch = random_trip(0)
    short = replace(batch.cases.boxes, water_kg=0.02 * batch.cases.boxes.water_kg)
    dry = replace(batch, cases=replace(batch.cases, boxes=short))
    assert agree(dry, detail=True).water_kg.min() < 1e-5


# -- cases stay apart ----------------------------------------------------------------------------


def test_a_case_alone_is_a_case_among_others() -> None:
    """To the last bit, in whatever lane it is computed."""
    batch = random_trip(0)
    whole = compiled(batch, detail=False)
    for first in (0, 5, 70):
        few = np.arange(first, first + 3)
        if batch.cases.enclosure is not None:
            few = np.flatnonzero(np.isin(batch.cases.enclosure, batch.cases.enclosure[few]))
        alone = compiled(only(batch, few), detail=False)
        np.testing.assert_array_equal(alone.core_c, whole.core_c[:, few])


def only(batch: Batch, few: Ints) -> Batch:
    """Some cases of a batch; air that they shared with others they have to themselves."""

    def picked(table: Table) -> Table:
        return replace(table, **{name: v[few] for name, v in vars(table).items() if np.ndim(v)})

    return replace(
        batch,
        cases=replace(picked(batch.cases), boxes=picked(batch.cases.boxes)),
        parameters=picked(batch.parameters),
    )


def test_many_groups_share_the_air_of_one_place() -> None:
    """More boxes in one enclosure than a block of the kernel holds."""
    groups = [replace(NUC, label=f"group {i}", frames_of_bees=3.0 + 0.02 * i) for i in range(90)]
    batch = batch_of(groups, ["van_shut_dark", "pickup_bed"])
    seen = agree(batch)
    assert np.ptp(seen.core_c[-1]) > 0.0


def batch_of(groups: Sequence[Group], places: Sequence[str]) -> Batch:
    grid, timeline = grid_of(
        trip(groups, places, leave_s=SUMMER + DAY_S), road(1.0), weather(16.0, 33.0, SUMMER)
    )
    return lay_out(grid, timeline, np.zeros(timeline.closed_s.shape), full_grid(grid, 1), Variations())


@pytest.mark.parametrize(
    "name", ["core_j_k", "leak_m3_s", "buoyant_m6_s2_k", "water_kg", "start_core_c", "fuel_j"]
)
def test_nan_in_gives_nan_out_for_that_case_alone(name: str) -> None:
    batch = random_trip(4)
    assert batch.cases.enclosure is not None
    whole = compiled(batch, detail=False)
    hurt = np.array(getattr(batch.cases.boxes, name))
    hurt[7] = np.nan
    boxes = replace(batch.cases.boxes, **{name: hurt})
    broken = compiled(replace(batch, cases=replace(batch.cases, boxes=boxes)), detail=False)
    assert np.isnan(broken.core_c[-1, 7])
    apart = batch.cases.enclosure != batch.cases.enclosure[7]
    np.testing.assert_array_equal(broken.core_c[:, apart], whole.core_c[:, apart])


def test_nan_in_the_weather_is_nan_out_from_then_on() -> None:
    batch = random_trip(5)
    base_c = np.array(batch.local_air.base_c)
    base_c[30:, 2] = np.nan
    hurt = replace(batch, local_air=replace(batch.local_air, base_c=base_c))
    ours, theirs = compiled(hurt, detail=False), reference(hurt, detail=False)
    np.testing.assert_array_equal(np.isnan(ours.core_c), np.isnan(theirs.core_c))
    assert np.isnan(ours.core_c).any()
    assert not np.isnan(ours.core_c).all()


# -- judging -------------------------------------------------------------------------------------


def agree_in_judging(batch: Batch, theirs: Histories | None = None) -> Assessment:
    """The kernel's own judgement held to that of ``limits.assess`` over the histories of the numpy march."""
    assert isinstance(COMPILED, Library)
    ours = hand_over.judge(COMPILED, *_input(batch), step_s=GRID_S)
    seen = theirs or reference(batch, detail=False)
    time_s, moving = (getattr(batch.vehicle, name)[:, batch.cases.track] for name in ("time_s", "moving"))
    expected = assess(seen, batch.cases.boxes, time_s, batch.parameters, GRID_S, moving)
    np.testing.assert_array_equal(ours.verdict, expected.verdict)
    for name in ("ruined", "chilled"):
        np.testing.assert_array_equal(getattr(ours, name), getattr(expected, name), err_msg=name)
    for name in ("first_harm_s", "peak_s", "over_s"):
        np.testing.assert_allclose(
            getattr(ours, name), getattr(expected, name), rtol=0.0, atol=GRID_S, err_msg=name
        )
    rest = {f.name for f in fields(Assessment)} - {
        "verdict",
        "ruined",
        "chilled",
        "first_harm_s",
        "peak_s",
        "over_s",
    }
    for name in rest:
        np.testing.assert_allclose(
            getattr(ours, name), getattr(expected, name), rtol=1e-6, atol=1e-7, err_msg=name
        )
    return ours


def test_weather_that_ends_is_judged_unknown_alike() -> None:
    batch = random_trip(5)
    base_c = np.array(batch.local_air.base_c)
    base_c[30:, 2] = np.nan
    hurt = replace(batch, local_air=replace(batch.local_air, base_c=base_c))
    assert (agree_in_judging(hurt).verdict == UNKNOWN).any()


@pytest.mark.parametrize("air_c", [-25.0, -8.0, 4.0, 46.0])
def test_cold_and_heat_of_many_hours_are_judged_alike(air_c: float) -> None:
    """Coma, bees that drop from a shaken cluster, frost; heat that kills."""
    groups = [
        replace(
            NUC, frames_of_bees=0.3, open_brood_frames=0.0, sealed_brood_frames=0.0, floor_blocked_share=0.0
        ),
        replace(HIVE, label="hive", frames_of_bees=3.0),
    ]
    grid, timeline = grid_of(
        trip(groups, ["open_trailer"], leave_s=SUMMER + DAY_S), road(9.0), steady_at(air_c)
    )
    batch = lay_out(grid, timeline, np.zeros(timeline.closed_s.shape), full_grid(grid, 1), Variations())
    agree_in_judging(batch)


def steady_at(air_c: float) -> Weather:
    return weather(air_c, air_c + 0.1, SUMMER, dew_c=air_c - 10.0)
