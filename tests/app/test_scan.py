"""What must hold of any trip: random boxes in random weather in many places, all run as cases of one batch.

A scan is one hundred trips: five departures, four places, five boxes. One runs in the quick suite, fifty in all.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pytest

from planner.app.plan.plan import shut_at_night
from planner.model import doses
from planner.model.cases import (
    CaseGrid,
    SimulatedBatch,
    Variations,
    agitation_variations,
    case_grid,
    cases_of,
    lay_out,
    run,
    simulate,
)
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.limits import HARM, Assessment, assess
from planner.model.preparations import SetUp
from planner.model.records import Floats, Group, Ints, Weather
from planner.model.timeline import Timeline, build_timeline
from planner.store.catalogue import load_catalogue
from tests.model.scenarios import (
    DAY_S,
    HOUR_S,
    NUC,
    SPRING,
    SUMMER,
    halt,
    hourly,
    road,
    trip,
)

PLACES = ("open_trailer", "pickup_bed", "van_shut_dark", "cabin_windows_open")
TYPES = ("langstroth_nuc5_pine", "langstroth_nuc5_twinwall", "langstroth10_double_pine")
OPEN = 2
"""The first places are open."""

BOXES, DEPARTURES = 5, 5
SEEDS = [0, *(pytest.param(seed, marks=[pytest.mark.slow, pytest.mark.hour]) for seed in range(1, 50))]

NOISE_K = 0.1
AGITATION_NOISE_K = 0.15
"""What a step of a minute and the order of events may make of it."""

DEATHS = 0.05
"""A dose at which six workers in a million are dead; from then on a hot box makes less heat than a cool one."""


@cache
def bundled() -> Catalogue:
    """The catalogue that answers are made with: as judgement has narrowed it."""
    return load_catalogue()


class Scan(NamedTuple):
    """Random trips ready to be run, and the boxes they carry."""

    grid: CaseGrid
    timeline: Timeline
    night: Floats
    groups: tuple[Group, ...]

    @property
    def candidates(self) -> Ints:
        axes = np.indices((len(self.timeline.departure_s), *self.grid.shape[:2]))
        return np.stack([axis.ravel() for axis in axes], axis=1)

    def varied(self, **variations: Floats) -> Assessment:
        """Every trip in samples that differ by one thing; axes (trip, sample) flattened."""
        samples = next(iter(variations.values())).shape[1]
        table = cases_of(self.candidates, samples, 1)
        batch = lay_out(self.grid, self.timeline, self.night, table, Variations(**variations))
        return simulate(batch).assessed()


def random_box(rng: np.random.Generator, number: int) -> Group:
    box = str(rng.choice(TYPES))
    frames = bundled().box_types[box].frames
    bees = float(rng.uniform(0.2, 1.0)) * frames
    brood = float(rng.uniform(0.0, 0.6)) * bees * float(rng.choice((0.0, 1.0)))
    return Group(
        f"box {number}",
        1,
        box,
        frames_of_bees=bees,
        open_brood_frames=0.4 * brood,
        sealed_brood_frames=0.6 * brood,
        stores_frames=float(rng.uniform(0.0, 0.4)) * frames,
        comb=str(rng.choice(("new", "old"))),
        floor_blocked_share=float(rng.choice((0.0, 0.3, 0.8))),
    )


def random_weather(rng: np.random.Generator, start_s: float) -> Weather:
    time_s = start_s + np.arange(97) * HOUR_S
    swing = np.cos(2.0 * np.pi * (time_s / HOUR_S - 15.0) / 24.0)
    mean, span = float(rng.uniform(-8.0, 30.0)), float(rng.uniform(1.0, 9.0))
    dew = mean - span - float(rng.uniform(0.5, 10.0))
    ghi = np.maximum(swing, 0.0) * float(rng.uniform(0.0, 900.0))
    return hourly(
        time_s, air_c=mean + span * swing, dew_c=dew, ghi_w_m2=ghi, wind_ms=float(rng.uniform(0.3, 6.0))
    )


def changed_to(group: Group) -> SetUp:
    """A set-up that stands for another box altogether."""
    return SetUp(group.label, group.label, lambda _g, _b: group, 0)


def scan_of(seed: int, groups: tuple[Group, ...] | None = None, open_after_s: float = 1800.0) -> Scan:
    """One hundred trips, the same for the same seed; other boxes, or a longer wait to be opened, where given."""
    rng = np.random.default_rng(seed)
    start_s = float(rng.choice((SPRING, SUMMER)))
    hours, stand = float(rng.uniform(0.5, 4.0)), float(rng.uniform(5.0, 60.0))
    sky = random_weather(rng, start_s)
    boxes = tuple(random_box(rng, number) for number in range(BOXES))
    asked = trip(NUC, PLACES, leave_s=start_s + DAY_S, stops=[halt(stand)], open_after_s=open_after_s)
    way = road(hours, waypoints=3)
    leaves = start_s + DAY_S + np.round(np.linspace(0.0, 20.0, DEPARTURES)) * HOUR_S
    timeline = build_timeline(asked, way, leaves, closing_times(asked, way, leaves))
    carried = groups or boxes
    grid = case_grid(asked, way, sky, bundled(), PLACES, [changed_to(box) for box in carried])
    return Scan(grid, timeline, shut_at_night(asked, timeline.closed_s), carried)


def shifts(scan: Scan, *values: float) -> Floats:
    """The same few values for every departure, (departure, sample)."""
    return np.broadcast_to(np.array(values), (len(scan.timeline.departure_s), len(values)))


@pytest.fixture(scope="module", params=SEEDS)
def scan(request: pytest.FixtureRequest) -> Scan:
    return scan_of(request.param)


@pytest.fixture(scope="module")
def ran(scan: Scan) -> SimulatedBatch:
    return run(scan.grid, scan.timeline, scan.night)


def test_calm_bees_are_never_warmer_than_typical_nor_these_than_agitated_ones(ran: SimulatedBatch) -> None:
    """At every time until the first bees die; the air of the place goes with them.

    Measured: 0.112 K in one of some 2,900 trips since warm bees sit still in good air: the agitated ones, a moment
    warmer, have drunk and fanned a little earlier.
    """
    core = ran.seen.core_c.reshape(len(ran.seen.core_c), -1, 3)
    middle = 0.5 * (core[1:] + core[:-1])
    closed = ran.seen.closed.reshape(middle.shape)
    dose = np.cumsum(doses.worker_heat(bundled().parameters.typical()).rate(middle) * closed, axis=0) * 60.0
    alive = (dose.max(axis=-1) < DEATHS) & closed[..., 0]
    for cooler, warmer in ((0, 1), (1, 2)):
        over = np.where(alive, core[1:, :, cooler] - core[1:, :, warmer], -np.inf)
        assert over.max() < AGITATION_NOISE_K


def test_the_sign_of_the_headroom_is_the_verdict(ran: SimulatedBatch) -> None:
    judged = ran.assessed()
    harmed = judged.verdict.max(axis=-1) == HARM
    assert np.array_equal(judged.headroom_k < 0.0, harmed)
    assert np.array_equal(np.isfinite(judged.first_harm_s), harmed)
    assert not (judged.ruined & ~harmed).any()


def test_brood_never_improves_a_verdict(ran: SimulatedBatch) -> None:
    """The same temperatures, judged with brood in every box and in none."""
    time_s = ran.vehicle.time_s[:, ran.cases.track]
    moving = ran.vehicle.moving[:, ran.cases.track]
    bare, brood = (
        assess(
            ran.seen,
            replace(ran.cases.boxes, has_brood=np.full_like(ran.cases.boxes.has_brood, there)),
            time_s,
            ran.parameters,
            60.0,
            moving,
        )
        for there in (0.0, 1.0)
    )
    assert (brood.verdict >= bare.verdict).all()
    assert (brood.headroom_k <= bare.headroom_k).all()


def least_spare(judged: Assessment, name: str, samples: int) -> Floats:
    """What each trip has to spare, (trip, sample)."""
    spare: Floats = getattr(judged, name)
    return spare.reshape(-1, samples)


NEAR_K = 3.0
"""What is to spare where heat or cold is the worry: a cool nest warms itself, and a cluster draws together."""


def never_helps(milder_k: Floats, harder_k: Floats) -> None:
    """Where there is little to spare it gets no more, and a harm stays one."""
    fine, harmed = (milder_k >= 0.0) & (milder_k < NEAR_K), milder_k < 0.0
    assert (harder_k[fine] <= milder_k[fine] + NOISE_K).all()
    assert (harder_k[harmed] < 0.0).all()


def test_more_heat_never_helps_in_heat_and_more_cold_never_in_cold(scan: Scan) -> None:
    """Three degrees more of either, judged by what is to spare on that side."""
    judged = scan.varied(air_offset_k=shifts(scan, -3.0, 0.0, 3.0))
    hotter, colder = (least_spare(judged, name, 3) for name in ("hotter_k", "colder_k"))
    for spare in (hotter, colder[:, ::-1]):
        never_helps(spare[:, 0], spare[:, 1])
        never_helps(spare[:, 1], spare[:, 2])


def test_more_sun_never_helps_in_heat_and_shade_never_harms(scan: Scan) -> None:
    hotter = least_spare(scan.varied(sun_factor=shifts(scan, 0.6, 1.0, 1.4)), "hotter_k", 3)
    never_helps(hotter[:, 0], hotter[:, 1])
    never_helps(hotter[:, 1], hotter[:, 2])


def test_more_blockage_never_helps_in_heat_and_air_never_harms(
    scan: Scan, request: pytest.FixtureRequest
) -> None:
    """The same boxes in the open with the floor more and more gummed: less air never spares more of the heat.

    In the open, where air stays cooler than the nest: in a van of 45 C less of it lets less heat in.
    """
    seed = request.node.callspec.params["scan"]
    gummed = (tuple(replace(b, floor_blocked_share=share) for b in scan.groups) for share in (0.0, 0.4, 0.8))
    found = [scan_of(seed, boxes).varied(air_offset_k=shifts(scan, 3.0)).hotter_k for boxes in gummed]
    shape = DEPARTURES, len(PLACES), BOXES
    for airy, closed in pairwise(spare.reshape(shape)[:, :OPEN] for spare in found):
        never_helps(airy, closed)


def test_more_hours_never_help_in_heat(scan: Scan, request: pytest.FixtureRequest) -> None:
    """Shut for two hours more at the end: what is spared of the heat can only shrink."""
    late = scan_of(request.node.callspec.params["scan"], open_after_s=9000.0)
    soon_k, late_k = (one.varied(air_offset_k=shifts(scan, 5.0)).hotter_k for one in (scan, late))
    never_helps(soon_k, late_k)


def test_one_box_in_the_open_fares_as_many_do(scan: Scan, request: pytest.FixtureRequest) -> None:
    seed = request.node.callspec.params["scan"]
    many = scan_of(seed, tuple(replace(box, count=40) for box in scan.groups))
    table = {
        name: one.varied(air_offset_k=shifts(scan, 0.0)) for name, one in (("one", scan), ("many", many))
    }
    shape = DEPARTURES, len(PLACES), BOXES
    for name in ("peak_core_c", "low_core_c", "hotter_k", "colder_k"):
        one, all_of_them = (getattr(judged, name).reshape(shape)[:, 0] for judged in table.values())
        assert np.allclose(one, all_of_them, atol=1e-9, equal_nan=True), name


def test_the_agitation_levels_are_the_samples_of_a_scan(scan: Scan) -> None:
    """Three kinds of bees for each of a hundred trips."""
    assert len(scan.candidates) == 100
    assert agitation_variations(scan.grid).place_offset_k is not None
    assert scan.grid.shape == (len(PLACES), BOXES, 3, 1)
