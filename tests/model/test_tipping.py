"""Balance points and headroom: of curves drawn by hand, and of a box against the integration."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model.balance import State
from planner.model.integrate import prepare, start
from planner.model.records import Floats
from planner.model.tipping import (
    Balance,
    FrozenState,
    balance_curve,
    core_grid,
    equilibria,
    headroom_w,
    liveable_c,
    tipping,
)
from tests.model.scenarios import NUC, Group, bench, replace, staged, still_boxes, typical

NONE = np.nan
SWARM = Group("swarm", 1, "swarm_box_ply", bees_kg=1.2)


def curve(*spare_w: float) -> Balance:
    """One case whose spare heat is stated at 30, 31, 32, ... C."""
    spare = np.array(spare_w)[:, None]
    return Balance(30.0 + np.arange(len(spare_w)), 0.0 * spare + 50.0, spare + 50.0)


def points(of: Balance, liveable: float = np.inf) -> tuple[float, float]:
    stable, unstable = equilibria(of, liveable)
    return float(stable[0]), float(unstable[0])


def test_a_box_settles_where_it_begins_to_lose_more_and_runs_away_where_it_begins_to_make_more() -> None:
    """Spare heat -1, 1 between 31 and 32: settles at 31.5; 3, -1 between 33 and 34: runs away from 33.75."""
    assert points(curve(-2.0, -1.0, 1.0, 3.0, -1.0)) == (31.5, 33.75)


def test_a_box_that_loses_more_at_the_lowest_temperature_settles_there() -> None:
    assert points(curve(1.0, 2.0, -2.0)) == (30.0, 31.5)
    assert points(curve(0.0, 2.0, 2.0)) == (30.0, pytest.approx(NONE, nan_ok=True))


def test_a_box_that_always_makes_more_has_no_balance() -> None:
    np.testing.assert_equal(points(curve(-1.0, -2.0, -1.0)), (NONE, NONE))


def test_of_several_balances_the_coolest_counts_and_the_last_tipping_point() -> None:
    """Settles at 30.5; tips at 31.5, settles again at 32.5, and only from 33.5 on it runs away."""
    assert points(curve(-1.0, 1.0, -1.0, 1.0, -1.0)) == (30.5, 33.5)


def test_a_balance_above_what_the_box_can_stand_is_none() -> None:
    """The crossing lies at 31.5: the temperature after it must still be liveable."""
    assert points(curve(-2.0, -1.0, 1.0, 3.0), 32.0)[0] == 31.5
    np.testing.assert_equal(points(curve(-2.0, -1.0, 1.0, 3.0), 31.9), (NONE, NONE))


def test_headroom_is_the_most_that_can_be_lost_beyond_what_is_made_between_both_points() -> None:
    """3 W at 33 C; what lies beyond the tipping point, or above the limit, does not count."""
    assert headroom_w(curve(-2.0, -1.0, 1.0, 3.0, -1.0, 9.0)).tolist() == [9.0]
    assert headroom_w(curve(-2.0, -1.0, 1.0, 3.0, -1.0, -9.0)).tolist() == [3.0]
    assert headroom_w(curve(-2.0, -1.0, 1.0, 3.0, 5.0), 33.0).tolist() == [3.0]


def test_without_a_balance_headroom_is_the_least_deficit_that_can_be_lived_with() -> None:
    assert headroom_w(curve(-4.0, -2.0, -3.0)).tolist() == [-2.0]
    assert headroom_w(curve(-4.0, -3.0, -2.0), 31.0).tolist() == [-3.0]


def test_unknown_heat_leaves_headroom_unknown() -> None:
    assert np.isnan(headroom_w(curve(-1.0, NONE, 1.0))[0])


def test_the_usual_grid_is_thirty_to_fifty_by_tenths() -> None:
    grid = core_grid()
    assert grid.size == 201
    np.testing.assert_allclose(grid[[0, 1, -1]], [30.0, 30.1, 50.0])
    np.testing.assert_allclose(core_grid(34.0, 36.0, 0.5), [34.0, 34.5, 35.0, 35.5, 36.0])


def frozen(air_c: float, group: Group = NUC, cases: int = 1, follows: float = 1.0) -> FrozenState:
    """A box standing in the open, at its start."""
    stage = staged(still_boxes(group), air_c, hours=0.1)
    first = next(prepare(*stage[:3], slice(0, 6), stage.p).rows())
    return FrozenState(
        state=State(*(np.asarray(part, dtype=float) for part in start(*stage))),
        forcing=first,
        alive=np.ones(cases),
        boxes=stage.cases.boxes,
        enclosure=None,
        parameters=typical(),
        probed=np.ones(cases, dtype=bool),
        follows_outside=np.full(cases, follows),
    )


@pytest.mark.parametrize(("group", "danger_c"), [(NUC, 40.0), (SWARM, 42.0)])
def test_a_balance_must_lie_below_the_danger_limit(group: Group, danger_c: float) -> None:
    assert liveable_c(frozen(20.0, group)).tolist() == [danger_c]


BROOD_ONLY = replace(NUC, stores_frames=0.0)


def settled_c(air_c: float) -> float:
    """Where the integration takes the box in four hours, its water for the road never used up."""
    boxes = still_boxes(BROOD_ONLY, water_kg=100.0)
    return float(bench(boxes, air_c, hours=4.0).core_c[-1, 0])


def test_the_stable_point_is_where_the_integration_settles() -> None:
    moment = frozen(28.0, BROOD_ONLY)
    found = tipping(moment._replace(state=moment.state._replace(water_kg=np.array([100.0]))))
    assert found.stable_c[0] == pytest.approx(settled_c(28.0), abs=0.1)
    assert found.headroom_w[0] > 0.0


def test_headroom_in_kelvin_is_the_warming_that_takes_the_balance_away() -> None:
    """A tenth of a kelvin less and there is a balance, a tenth more and there is none."""
    grid: Floats = core_grid(34.0, 42.0, 1.0)
    found = tipping(frozen(28.0), grid)
    warmer = float(found.headroom_k[0])
    assert 1.0 < warmer < 39.0
    assert np.isfinite(tipping(frozen(28.0 + warmer - 0.1), grid).stable_c[0])
    too_warm = tipping(frozen(28.0 + warmer + 0.1), grid)
    assert np.isnan(too_warm.stable_c[0])
    assert too_warm.headroom_k[0] == 0.0
    assert too_warm.headroom_w[0] < 0.0


def test_held_air_gives_headroom_without_end_and_unknown_air_none_known() -> None:
    grid = core_grid(34.0, 42.0, 1.0)
    assert tipping(frozen(20.0, follows=0.0), grid).headroom_k[0] == np.inf
    assert np.isnan(tipping(frozen(np.nan), grid).headroom_k[0])
    assert np.isnan(tipping(frozen(np.nan), grid).headroom_w[0])


def test_only_probed_boxes_have_a_curve() -> None:
    moment = frozen(20.0)
    asked = balance_curve(moment, np.array([35.0, 38.0]))
    left = balance_curve(moment._replace(probed=np.array([False])), np.array([35.0, 38.0]))
    assert asked.made_w.shape == asked.lost_w.shape == (2, 1)
    assert np.isfinite(asked.net_loss_w).all()
    assert np.isnan(left.made_w).all()


def test_warmer_air_takes_less_heat_and_changes_nothing_of_what_is_made() -> None:
    """Loss falls by the conductance of the box for each kelvin: twice the warming, twice the fall, nearly."""
    core = np.array([36.0])
    none, one, two = (balance_curve(frozen(20.0), core, k) for k in (0.0, 1.0, 2.0))
    assert one.made_w == pytest.approx(none.made_w)
    fall = float((none.lost_w - one.lost_w)[0, 0])
    assert fall > 0.3
    assert float((none.lost_w - two.lost_w)[0, 0]) == pytest.approx(2.0 * fall, rel=0.1)
    assert balance_curve(frozen(21.0), core).lost_w == pytest.approx(one.lost_w, rel=1e-3)


def test_boxes_of_one_enclosure_warm_each_other_at_each_temperature_apart() -> None:
    """Asked at two temperatures at once or one by one: the same answer."""
    moment = frozen(20.0)._replace(enclosure=np.zeros(1, dtype=np.int64))
    weighted = moment.forcing._replace(weight=np.ones(1), resistance_k_w=np.full(1, 0.5))
    moment = moment._replace(forcing=weighted)
    both = balance_curve(moment, np.array([34.0, 39.0])).lost_w[:, 0]
    apart = [float(balance_curve(moment, np.array([one])).lost_w[0, 0]) for one in (34.0, 39.0)]
    np.testing.assert_allclose(both, apart, rtol=1e-4)
