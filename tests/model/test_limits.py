"""Which limits a box has, and how histories made by hand are judged against them."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from planner.model import boxes as box_model
from planner.model.integrate import Histories
from planner.model.limits import CAUTION, CLEAR, HARM, LIMITS, VERDICTS, Assessment, assess, limits_of
from tests.model.scenarios import NUC, SPRING, catalogue, typical
from tests.model.test_checks_limits import BARE, judged


def drawn(has_brood: bool, has_comb: bool, new_comb: bool) -> dict[str, tuple[str, float, int, str]]:
    return {
        one.name: (one.field, one.at_c, one.level, one.side)
        for one in limits_of(has_brood, has_comb, new_comb, typical())
    }


def test_a_box_with_brood_is_held_to_the_limits_of_brood() -> None:
    """The rows of the table: brood 37 and 40, queen 38, workers 45, old comb 42 and 45, chilled brood 30 and 20."""
    assert drawn(has_brood=True, has_comb=True, new_comb=False) == {
        "brood_caution": ("core", 37.0, CAUTION, "above"),
        "queen_caution": ("core", 38.0, CAUTION, "above"),
        "brood_danger": ("core", 40.0, HARM, "above"),
        "worker_danger": ("core", 45.0, HARM, "above"),
        "comb_caution": ("stores", 42.0, CAUTION, "above"),
        "comb_danger": ("stores", 45.0, HARM, "above"),
        "chill_caution": ("core", 30.0, CAUTION, "below"),
        "chill_danger": ("core", 20.0, HARM, "below"),
    }


def test_a_swarm_has_no_limit_of_brood_or_comb() -> None:
    """Its bees are warned of at 42 and die at 45; chill coma at 12 and 8."""
    assert drawn(has_brood=False, has_comb=False, new_comb=True) == {
        "queen_caution": ("core", 38.0, CAUTION, "above"),
        "worker_caution": ("core", 42.0, CAUTION, "above"),
        "worker_danger": ("core", 45.0, HARM, "above"),
        "chill_caution": ("core", 12.0, CAUTION, "below"),
        "chill_danger": ("core", 8.0, HARM, "below"),
    }


def test_new_comb_sags_earlier() -> None:
    new = drawn(has_brood=True, has_comb=True, new_comb=True)
    assert new["comb_caution"][1] == 37.0
    assert new["comb_danger"][1] == 41.0


# -- histories made by hand ----------------------------------------------------------------------


def crossing_s(seen: Assessment) -> float:
    """Seconds from the beginning to the first danger limit passed."""
    return float(seen.first_crossing_s[0]) - SPRING


def test_bees_without_brood_cross_the_cold_limit_at_once_and_brood_does_not() -> None:
    """7 C: chill coma from the first step on, 1 K beyond; brood stands 13 K below its cold for hours."""
    bare, brood = judged(7.0, 1, group=BARE), judged(7.0, 1)
    assert crossing_s(bare) == 30.0
    assert bare.margin_k[0] == pytest.approx(-1.0)
    assert np.isnan(brood.first_crossing_s[0])
    assert brood.margin_k[0] == pytest.approx(-13.0)


def test_the_first_crossing_is_that_of_whatever_comes_first() -> None:
    """Stores of new comb pass 41 C after 30 minutes, the core 40 C after 45."""
    core = np.where(np.arange(61) >= 45, 41.0, 35.0)
    stores = np.where(np.arange(61) >= 30, 42.0, 30.0)
    assert crossing_s(judged(core, 1, stores_c=stores)) == pytest.approx(30 * 60.0, abs=60.0)
    assert crossing_s(judged(core, 1)) == pytest.approx(45 * 60.0, abs=60.0)
    assert crossing_s(judged(core + 1.5, 1, group=BARE, stores_c=stores)) == pytest.approx(
        45 * 60.0, abs=60.0
    )
    assert np.isnan(judged(core, 1, group=BARE, stores_c=stores).first_crossing_s[0])


def test_the_margin_is_that_to_the_nearest_danger() -> None:
    """Core 36 C is 4 K below 40 and 16 above 20; new comb at 39 C is 2 K below 41; workers alone 6 K below 42."""
    assert judged(36.0, 1).margin_k[0] == pytest.approx(4.0)
    assert judged(36.0, 1, stores_c=39.0).margin_k[0] == pytest.approx(2.0)
    assert judged(36.0, 1, group=BARE, stores_c=39.0).margin_k[0] == pytest.approx(6.0)
    assert judged(23.0, 1).margin_k[0] == pytest.approx(3.0)


def test_a_limit_met_exactly_is_not_passed() -> None:
    for at_c in (37.0, 40.0):
        assert judged(at_c, 0.1).over_s[0, LIMITS.index(f"core_{at_c:.0f}")] == 0.0
    assert judged(37.0, 0.1).verdict[0].tolist() == [CLEAR] * 5
    assert np.isnan(judged(40.0, 0.1).first_crossing_s[0])
    assert judged(30.0, 0.1).verdict[0, VERDICTS.index("chill")] == CLEAR
    assert judged(8.0, 0.1, group=BARE).verdict[0, VERDICTS.index("chill")] == CAUTION


def test_time_beyond_the_limits_of_comb_and_cold_is_counted_for_what_is_there() -> None:
    over = dict(zip(LIMITS, judged(19.0, 1, stores_c=39.0).over_s[0], strict=True))
    assert [over[name] for name in LIMITS[5:]] == [3600.0, 0.0, 3600.0, 3600.0]
    bare = dict(zip(LIMITS, judged(11.0, 1, group=BARE, stores_c=50.0).over_s[0], strict=True))
    assert [bare[name] for name in LIMITS[5:]] == [0.0, 0.0, 3600.0, 0.0]


def history(**changes: np.ndarray) -> Histories:
    """Two cases over four minutes, shut in the middle two."""
    one = np.ones((4, 2))
    table = {f.name: 0.0 * one for f in fields(Histories)} | {
        "core_c": np.full((5, 2), 35.0),
        "stores_c": np.full((5, 2), 30.0),
        "closed": np.array([[False], [True], [True], [False]]) & (one > 0.0),
        "flow_m3_s": 1e-3 * one,
        "saturated_kg_m3": 0.04 * one,
        "around_kg_m3": 0.01 * one,
        "around_co2_share": 4.2e-4 * one,
        "worker_dose": np.zeros(2),
    }
    return Histories(**(table | changes))


def both(seen: Histories) -> Assessment:
    """The two judged as nuclei; the second leaves two hours later."""
    box = catalogue().box_types[NUC.box_type]
    inputs = box_model.describe(NUC, box, catalogue().frame_kinds[box.frame_kind])
    boxes = box_model.derive(box_model.gather([inputs], np.zeros(2, dtype=int)), np.ones(2), typical())
    time_s = SPRING + 60.0 * np.arange(4)[:, None] + np.array([0.0, 7200.0])
    return assess(seen, boxes, time_s, typical(), 60.0)


def test_only_what_happens_while_a_box_is_shut_is_judged() -> None:
    """Hot, cold and wasteful before and after, at rest in between."""
    outside = np.array([[50.0], [50.0], [35.0], [35.0], [5.0]]) * np.ones(2)
    wasteful = np.array([[9.0], [0.0], [0.0], [9.0]]) * np.ones(2)
    seen = both(
        history(
            core_c=np.array([[35.0], [50.0], [35.0], [35.0], [5.0]]) * np.ones(2),
            stores_c=outside,
            evaporation_w=wasteful,
            wanted_w=3.0 * wasteful,
            adults_w=1e3 * wasteful,
        )
    )
    assert seen.peak_core_c.tolist() == [35.0, 35.0]
    assert seen.low_core_c.tolist() == [35.0, 35.0]
    assert seen.peak_stores_c.tolist() == [35.0, 35.0]
    assert seen.water_ml.tolist() == seen.water_short_ml.tolist() == [0.0, 0.0]
    np.testing.assert_allclose(seen.peak_co2_share, 4.2e-4)
    assert seen.over_s[0, LIMITS.index("core_42")] == 60.0, (
        "half way from 50 to 35 C, in the first shut minute"
    )


def test_the_peak_and_the_first_crossing_have_the_clock_of_their_case() -> None:
    """Both are hottest in the third minute, the second two hours later."""
    core = np.array([[35.0, 35.0], [35.0, 35.0], [36.0, 36.0], [46.0, 47.0], [35.0, 35.0]])
    seen = both(history(core_c=core))
    assert (seen.peak_s - SPRING).tolist() == [120.0, 7320.0]
    assert (seen.first_crossing_s - SPRING).tolist() == [120.0, 7320.0]


def test_water_is_counted_in_millilitres_and_what_was_missing_apart() -> None:
    """241 W of evaporation for two minutes: 12 ml; wanted half as much again: 6 ml short; a surplus is no debt."""
    one = np.ones((4, 2))
    seen = both(history(evaporation_w=241.0 * one, wanted_w=np.array([361.5, 100.0]) * one))
    assert seen.water_ml == pytest.approx([12.0, 12.0])
    assert seen.water_short_ml == pytest.approx([6.0, 0.0])


def test_humidity_is_that_of_the_air_that_leaves_and_never_above_one() -> None:
    """10 g/m3 around, 24.1 W into 1 L/s: 10 g/m3 more, of 40; much more is saturated."""
    one = np.ones((4, 2))
    seen = both(history(evaporation_w=np.array([24.1, 900.0]) * one))
    assert seen.peak_humidity_share == pytest.approx([0.5, 1.0])
