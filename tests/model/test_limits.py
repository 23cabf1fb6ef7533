"""Which limits a box has, and how histories made by hand are judged against them."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.app.chance.samples import subject_of
from planner.model import boxes as box_model
from planner.model import doses
from planner.model.integrate import Histories
from planner.model.limits import (
    CAUTION,
    CLEAR,
    HARM,
    LIMITS,
    MOST_HEADROOM_K,
    VERDICTS,
    Assessment,
    assess,
    limits_of,
    sperm_loss_rate,
)
from planner.model.parameters import in_range
from planner.model.records import Group
from tests.length import few_or_all
from tests.model.scenarios import NUC, SPRING, catalogue, typical
from tests.model.test_checks_limits import BARE, judged


def drawn(has_brood: bool, has_comb: bool, new_comb: bool) -> dict[str, tuple[str, float, int, str]]:
    return {
        one.name: (one.field, one.at_c, one.level, one.side)
        for one in limits_of(has_brood, has_comb, new_comb, typical())
    }


def test_a_box_with_brood_is_held_to_the_limits_of_brood_too() -> None:
    """The rows of the table: brood 37 and 40, queen 38, workers 45, old comb 42 and 45, chilled brood 30 and 20."""
    assert drawn(has_brood=True, has_comb=True, new_comb=False) == {
        "brood_caution": ("core", 37.0, CAUTION, "above"),
        "queen_caution": ("core", 38.0, CAUTION, "above"),
        "brood_danger": ("core", 40.0, HARM, "above"),
        "worker_danger": ("core", 45.0, HARM, "above"),
        "comb_caution": ("stores", 42.0, CAUTION, "above"),
        "comb_danger": ("stores", 45.0, HARM, "above"),
        "brood_chill": ("core", 30.0, CAUTION, "below"),
        "brood_cold": ("core", 20.0, HARM, "below"),
        "chill_caution": ("mantle", 10.0, CAUTION, "below"),
        "chill_danger": ("core", 8.0, HARM, "below"),
    }


def test_a_swarm_has_no_limit_of_brood_or_comb() -> None:
    """Its bees are warned of at 42 and die at 45; their outermost chill at 10, the cluster lies in coma at 8."""
    assert drawn(has_brood=False, has_comb=False, new_comb=True) == {
        "queen_caution": ("core", 38.0, CAUTION, "above"),
        "worker_caution": ("core", 42.0, CAUTION, "above"),
        "worker_danger": ("core", 45.0, HARM, "above"),
        "chill_caution": ("mantle", 10.0, CAUTION, "below"),
        "chill_danger": ("core", 8.0, HARM, "below"),
    }


@pytest.mark.parametrize("has_comb", [True, False])
def test_brood_only_adds_limits_of_cold(has_comb: bool) -> None:
    bare, brood = (
        {k: v for k, v in drawn(has_brood, has_comb, new_comb=True).items() if v[3] == "below"}
        for has_brood in (False, True)
    )
    assert bare.items() < brood.items()


def test_new_comb_sags_earlier() -> None:
    new = drawn(has_brood=True, has_comb=True, new_comb=True)
    assert new["comb_caution"][1] == 37.0
    assert new["comb_danger"][1] == 41.0


# -- histories made by hand ----------------------------------------------------------------------


def harm_s(seen: Assessment) -> float:
    """Seconds from the beginning to the first harm."""
    return float(seen.first_harm_s[0]) - SPRING


def test_the_first_harm_is_that_of_whatever_comes_first() -> None:
    """Stores of new comb pass 41 C after 30 minutes; the core stands at 50 C from the 45th, which kills in minutes."""
    core = np.where(np.arange(121) >= 45, 50.0, 35.0)
    stores = np.where(np.arange(121) >= 30, 42.0, 30.0)
    hot = {"worker_dose": 3.0}
    assert harm_s(judged(core, 2, stores_c=stores, **hot)) == pytest.approx(30 * 60.0, abs=60.0)
    assert 45 * 60.0 < harm_s(judged(core, 2, **hot)) < 60 * 60.0
    assert np.isnan(judged(35.0, 2).first_harm_s[0])


def test_the_first_harm_of_cold_is_told_too() -> None:
    """The outermost bees of a shaken load are lost after an hour below 6 C, frozen ones at once."""
    assert harm_s(judged(20.0, 6, group=BARE, mantle_c=-4.0)) == pytest.approx(0.0, abs=60.0)
    assert harm_s(judged(20.0, 6, group=BARE, mantle_c=5.0)) == pytest.approx(3600.0, abs=60.0)
    assert harm_s(judged(np.where(np.arange(121) >= 60, -4.0, 20.0), 2, group=BARE)) == pytest.approx(
        3600.0, abs=60.0
    )


# -- what there is to spare ----------------------------------------------------------------------


@pytest.mark.parametrize("group", [NUC, BARE])
@pytest.mark.parametrize("core_c", [32.0, 35.0, 36.0, 38.0, 39.0, 41.0, 43.0])
def test_shifting_an_even_history_by_what_it_has_to_spare_brings_it_to_the_brink(
    core_c: float, group: Group
) -> None:
    """Five hours at one temperature: a tenth of a kelvin short of the headroom all is well, a tenth beyond is harm."""
    lasts_s = 5 * 3600.0

    def at(temp_c: float) -> Assessment:
        dose = float(doses.worker_heat(typical()).rate(np.array(temp_c))) * lasts_s
        return judged(temp_c, 5, group=group, worker_dose=dose)

    spare_k = float(at(core_c).hotter_k[0])
    assert at(core_c + spare_k - 0.1).verdict.max() < HARM
    assert at(core_c + spare_k + 0.1).verdict.max() == HARM


@pytest.mark.parametrize("group", [NUC, BARE])
@pytest.mark.parametrize("core_c", [-5.0, 0.0, 5.0, 9.0, 14.0, 18.0, 22.0])
@pytest.mark.parametrize("hours", [0.5, 3.0, 13.0])
def test_the_same_in_the_cold(core_c: float, group: Group, hours: float) -> None:
    spare_k = float(judged(core_c, hours, group=group).colder_k[0])
    if spare_k > -MOST_HEADROOM_K:
        assert judged(core_c - spare_k + 0.1, hours, group=group).verdict.max() < HARM
    if spare_k < MOST_HEADROOM_K:
        assert judged(core_c - spare_k - 0.1, hours, group=group).verdict.max() == HARM


def test_comb_is_spared_by_degrees() -> None:
    """New comb at 39 C is 2 K below 41."""
    assert judged(34.0, 1, stores_c=39.0).hotter_k[0] == pytest.approx(2.0)
    assert judged(34.0, 1, group=BARE, stores_c=39.0).hotter_k[0] > 2.0


def test_headroom_ends_at_twenty() -> None:
    seen = judged(20.0, 0.1, group=BARE)
    assert (seen.hotter_k[0], judged(80.0, 9, worker_dose=99.0).hotter_k[0]) == (20.0, -20.0)


@pytest.mark.parametrize("examples", few_or_all(50, 200))
def test_the_sign_of_the_headroom_is_the_verdict(examples: int) -> None:
    """Any history, any value of the limits within their ranges: negative just where something is harmed."""

    @settings(max_examples=examples, deadline=None)
    @given(
        st.lists(st.floats(-15.0, 55.0), min_size=2, max_size=8),
        st.floats(0.2, 60.0),
        st.booleans(),
        st.booleans(),
        st.floats(-1.0, 1.0),
    )
    def holds(knots_c: list[float], hours: float, brood: bool, moving: bool, position: float) -> None:
        rows = catalogue().parameters.rows
        p = catalogue().parameters.with_values(
            {
                name: in_range(row, np.array(position))
                for name, row in rows.items()
                if subject_of(name) == "limits"
            }
        )
        steps = round(hours * 60.0)
        core = np.interp(np.linspace(0.0, len(knots_c) - 1.0, steps + 1), np.arange(len(knots_c)), knots_c)
        middle = 0.5 * (core[1:] + core[:-1])
        dose = float(np.sum(doses.worker_heat(p).rate(middle)) * 60.0)
        group = NUC if brood else BARE
        seen = judged(core, steps / 60.0, group=group, worker_dose=dose, moving=moving, p=p)
        harmed = seen.verdict.max() == HARM
        assert (seen.headroom_k[0] < 0.0) == harmed
        assert np.isfinite(seen.first_harm_s[0]) == harmed

    holds()


def test_a_limit_met_exactly_is_not_passed() -> None:
    for at_c in (37.0, 40.0):
        assert judged(at_c, 0.1).over_s[0, LIMITS.index(f"core_{at_c:.0f}")] == 0.0
    assert judged(37.0, 0.1).verdict[0].tolist() == [CLEAR] * 5
    assert judged(30.0, 3).verdict[0, VERDICTS.index("chill")] == CLEAR
    assert judged(8.0, 5, group=BARE).verdict[0, VERDICTS.index("chill")] == CAUTION


def test_time_beyond_the_limits_of_comb_and_cold_is_counted_for_what_is_there() -> None:
    over = dict(zip(LIMITS, judged(19.0, 1, stores_c=39.0).over_s[0], strict=True))
    assert [over[name] for name in LIMITS[5:]] == [3600.0, 0.0, 3600.0, 3600.0]
    bare = dict(zip(LIMITS, judged(9.0, 1, group=BARE, stores_c=50.0).over_s[0], strict=True))
    assert [bare[name] for name in LIMITS[5:]] == [0.0, 0.0, 3600.0, 0.0]


def history(**changes: np.ndarray) -> Histories:
    """Two cases over four minutes, shut in the middle two."""
    one = np.ones((4, 2))
    table = {f.name: 0.0 * one for f in fields(Histories)} | {
        "core_c": np.full((5, 2), 35.0),
        "stores_c": np.full((5, 2), 30.0),
        "mantle_c": 35.0 * one,
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


def test_the_peak_and_the_first_harm_have_the_clock_of_their_case() -> None:
    """Both are hottest in the third minute, the second two hours later; comb falls then."""
    core = np.array([[35.0, 35.0], [35.0, 35.0], [36.0, 36.0], [46.0, 47.0], [35.0, 35.0]])
    stores = np.array([[30.0], [30.0], [30.0], [42.0], [30.0]]) * np.ones(2)
    seen = both(history(core_c=core, stores_c=stores))
    assert (seen.peak_s - SPRING).tolist() == [120.0, 7320.0]
    assert (seen.first_harm_s - SPRING).tolist() == [120.0, 7320.0]


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


def test_a_queen_loses_sperm_in_the_cold_as_well_as_in_the_heat() -> None:
    """Four hours at 5 C: from 90 to 20 of 100 alive (Pettis et al. 2016); a calm cluster loses none."""
    p = catalogue().parameters.typical()
    cold, calm, hot = sperm_loss_rate(np.array([4.0, 25.0, 43.0]), p)
    assert cold > 20.0 * calm
    assert hot > 20.0 * calm
