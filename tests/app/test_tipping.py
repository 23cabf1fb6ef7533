"""The tipping point against long integrates on both sides of it, and its headroom against what uses it up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from planner.app.plan.inputs import ready
from planner.app.plan.plan import plan_trip, single_candidate
from planner.app.plan.results import TYPICAL, Choice, Plan
from planner.app.standing.tipping import TippingAt, frozen_states, headroom_along, tipping_at
from planner.errors import Cancelled, InputError
from planner.model import standstill
from planner.model.balance import State
from planner.model.cases import build_cases
from planner.model.catalogue import Catalogue
from planner.model.integrate import Cases
from planner.model.preparations import AS_DECLARED
from planner.model.records import DepartureWindow, Floats
from planner.model.tipping import Balance, balance_curve, core_grid, equilibria
from planner.store.tripfile import TripFile
from tests.model.scenarios import HOUR_S, NUC, catalogue, halt, plan, road, steady, trip

ONLY = Choice(0, 0, 0)
CROWD = replace(NUC, count=20, floor_blocked_share=0.6, thin_syrup_share=1.0, stores_frames=3.0)
"""Twenty nucs with gummed floors and more thin syrup than they can evaporate: they warm their van together."""


def stuck_plan(air_c: float, stands_h: float = 5.0) -> Plan:
    """The crowd in a shut van that stands for hours half way, in still weather."""
    stuck = trip(CROWD, "van_shut_white", stops=[halt(60.0 * stands_h)])
    return plan(stuck, road(2.0, waypoints=3), steady(air_c))


@pytest.fixture(scope="module")
def stuck() -> Plan:
    return stuck_plan(16.0, stands_h=18.0)


@pytest.fixture(scope="module")
def amid(stuck: Plan) -> TippingAt:
    """What is known of it in the middle of its stop."""
    return tipping_at(stuck, ONLY, catalogue(), midst_s(stuck))


def midst_s(stuck: Plan) -> float:
    return float(stuck.departures_s[0]) + 5.0 * HOUR_S


def _held_on(stuck: Plan, core_c: Floats, hours: float) -> Floats:
    """Core temperatures (node, agitation) when the integration goes on from these cores, all else in balance.

    Comb and air come into balance by the integration itself, with cores too heavy to change.
    """
    grid, timeline, night = single_candidate(stuck, ONLY, catalogue())
    way = build_cases(grid, timeline, night)
    node = round((midst_s(stuck) - float(timeline.start_s[0])) / 60.0)
    begin = standstill.checkpoints(way.cases, way.vehicle, way.local_air, way.parameters, np.array([node]))
    state = type(begin.state)(*(values[0] for values in begin.state))
    boxes = way.cases.boxes
    pull = boxes.between_w_k + boxes.stores_w_k
    state = state._replace(
        core_c=core_c,
        stores_c=(boxes.between_w_k * core_c + boxes.stores_w_k * (core_c - 2.0)) / pull,
        worker_dose=np.zeros_like(core_c),
    )
    rows = slice(node, node + round(hours * 60.0))
    heavy = replace(way.cases, boxes=replace(boxes, core_j_k=boxes.core_j_k * 1e6))

    def cut(table: object) -> dict[str, np.ndarray]:
        return {name: values[rows] for name, values in vars(table).items()}

    settled = replace(way.vehicle, since_jolt_s=np.full_like(way.vehicle.since_jolt_s, 1e9))
    vehicle, local_air = type(way.vehicle)(**cut(settled)), type(way.local_air)(**cut(way.local_air))

    def walk(cases: Cases, begin: State) -> Iterator[standstill.Checkpoint]:
        return standstill.walk(cases, vehicle, local_air, way.parameters, standstill.fresh(begin))

    *_, balanced = walk(heavy, state)
    alive = balanced.state._replace(core_c=core_c, worker_dose=np.zeros_like(core_c))
    walked = walk(way.cases, alive)
    return np.array([checkpoint.state.core_c for checkpoint in walked])


@pytest.mark.slow
def test_below_the_tipping_point_a_box_settles_and_above_it_runs_away(stuck: Plan, amid: TippingAt) -> None:
    """Typical bees in a van at 16 C: integrated for twelve hours from 1 K on either side.

    Agitated ones settle nowhere there: their breath fouls the air of the van.
    """
    found = amid.equilibria
    stable, unstable = found.stable_c[TYPICAL, 0], found.unstable_c[TYPICAL, 0]
    assert unstable > stable + 1.0
    cool, hot = (
        _held_on(stuck, np.array([36.0, unstable + more, 34.0]), 12.0)[:, TYPICAL] for more in (-1.0, 1.0)
    )
    assert cool[-1] == pytest.approx(stable, abs=0.3)
    assert hot.max() > unstable + 1.5  # then they die and make no heat


def test_a_box_left_alone_settles_at_the_stable_point(stuck: Plan, amid: TippingAt) -> None:
    """Typical bees come from above: from below a hollow narrower than the grid of cores holds them 0.6 K cooler."""
    found = amid.equilibria
    settled = _held_on(stuck, np.array([36.0, 37.8, 34.0]), 12.0)[-1]
    assert settled[:2] == pytest.approx(found.stable_c[:2, 0], abs=0.15)


@pytest.mark.slow
def test_air_warmer_by_less_than_the_headroom_keeps_the_balance_and_by_more_ends_it(
    stuck: Plan, amid: TippingAt
) -> None:
    found = amid.equilibria
    headroom = float(found.headroom_k[TYPICAL, 0])
    assert 0.5 < headroom < 20.0
    held, lost = (
        tipping_at(stuck_plan(16.0 + headroom + more), ONLY, catalogue(), midst_s(stuck)).equilibria
        for more in (-0.3, 0.3)
    )
    assert np.isfinite(held.stable_c[TYPICAL, 0])
    assert held.headroom_w[TYPICAL, 0] > 0.0
    assert np.isnan(lost.stable_c[TYPICAL, 0])
    assert lost.headroom_w[TYPICAL, 0] < 0.0
    assert lost.headroom_k[TYPICAL, 0] == 0.0


def test_as_many_more_watts_as_the_headroom_use_it_up(amid: TippingAt) -> None:
    """Heat that does not depend on temperature, given to every core, moves the curve up by just as much."""
    found = amid
    spare = found.lost_w[:, TYPICAL, 0] - found.made_w[:, TYPICAL, 0]
    watts = float(found.equilibria.headroom_w[TYPICAL, 0])
    for more, stays in ((0.98, True), (1.02, False)):
        moved = Balance(found.core_c, found.made_w[:, TYPICAL] + more * watts, found.lost_w[:, TYPICAL])
        stable, _ = equilibria(moved, 40.0)
        assert np.isfinite(stable[0]) == stays
    assert spare.max() >= watts


def test_points_of_a_known_curve_are_its_roots() -> None:
    """A cubic with roots at 34, 39 and 46 C."""
    core = core_grid()
    spare = (core - 34.0) * (39.0 - core) * (46.0 - core)
    both = np.stack((spare, spare - 1e4, spare + 1e4), axis=1)
    stable, unstable = equilibria(Balance(core, np.zeros_like(both), both))
    assert stable[0] == pytest.approx(34.0, abs=0.01)
    assert np.isnan(unstable[0])  # it settles again at 46 C
    stable, unstable = equilibria(Balance(core, np.zeros_like(both), both), 42.0)
    assert (stable[0], unstable[0]) == (pytest.approx(34.0, abs=0.01), pytest.approx(39.0, abs=0.01))
    assert np.isnan(stable[1])
    assert stable[2] == core[0]


def test_calm_bees_have_more_headroom_than_disturbed_ones(nuc_pickup: TripFile, catalogue: Catalogue) -> None:
    found = ready(nuc_pickup)
    first_s = found.trip.window.first_s
    window = DepartureWindow(first_s, first_s + 6.0 * HOUR_S, 6.0 * HOUR_S)
    planned = plan_trip(
        replace(found.trip, window=window), found.road, found.weather, catalogue, setups=[AS_DECLARED]
    )
    along = headroom_along(planned, planned.ranking[0], catalogue)
    watts = along.headroom_w
    assert np.all(watts[:, 0] >= watts[:, 1])
    assert np.all(watts[:, 1] >= watts[:, 2])
    tightest = along.tightest()
    assert tightest is not None
    at = tipping_at(planned, planned.ranking[0], catalogue, float(along.time_s[tightest]))
    assert at.equilibria.headroom_w[TYPICAL] == pytest.approx(watts[tightest, TYPICAL], rel=0.02, abs=0.5)


def test_where_air_conditioning_holds_the_air_warmer_weather_takes_no_headroom(stuck: Plan) -> None:
    """The moment before the stop: driving with the air conditioning on."""
    cooled = trip(replace(CROWD, count=2), "cabin_seat_cooled")
    planned = plan(cooled, road(3.0), steady(30.0))
    at = tipping_at(planned, ONLY, catalogue(), float(planned.departures_s[0]) + HOUR_S)
    settles = np.isfinite(at.equilibria.stable_c[:, 0])
    assert settles[: TYPICAL + 1].all()  # agitated bees over gummed floors settle in no weather
    assert np.all(np.isinf(at.equilibria.headroom_k[settles]))


@pytest.mark.slow
@pytest.mark.parametrize(("place", "shared"), [("van_shut_white", True), ("pickup_bed", False)])
def test_boxes_of_another_group_warm_the_same_van(place: str, shared: bool) -> None:
    """A second group in the van takes headroom from the first; in the open it does not."""
    few, many = replace(CROWD, count=4), replace(CROWD, count=16, label="many")
    headroom = []
    for groups in ((few,), (few, many)):
        planned = plan(trip(groups, place, stops=[halt(300)]), road(2.0, waypoints=3), steady(16.0))
        at = tipping_at(planned, ONLY, catalogue(), midst_s(planned))
        headroom.append(float(at.equilibria.headroom_w[TYPICAL, 0]))
    assert (headroom[1] < headroom[0] - 1.0) == shared


def test_an_instant_off_the_trip_is_refused(stuck: Plan) -> None:
    with pytest.raises(InputError):
        tipping_at(stuck, ONLY, catalogue(), midst_s(stuck) + 60.0 * HOUR_S)


def test_the_headroom_along_a_trip_can_be_stopped(stuck: Plan) -> None:
    with pytest.raises(Cancelled):
        headroom_along(stuck, ONLY, catalogue(), should_stop=lambda: True)


def test_the_curves_do_not_depend_on_the_grid(stuck: Plan) -> None:
    grid, timeline, night = single_candidate(stuck, ONLY, catalogue())
    moment = frozen_states(grid, timeline, build_cases(grid, timeline, night), np.array([300]))
    fine, coarse = (balance_curve(moment, core_grid(spacing_k=step)) for step in (0.1, 1.0))
    assert fine.lost_w[::10] == pytest.approx(coarse.lost_w, abs=0.01)
