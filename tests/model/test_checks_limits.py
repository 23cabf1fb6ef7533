"""Doses against integrals by hand; five verdicts, each reached apart from the others."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from planner.model import boxes as box_model
from planner.model.integrate import Histories
from planner.model.limits import CAUTION, CLEAR, HARM, LIMITS, UNKNOWN, VERDICTS, Assessment, assess
from planner.model.records import Group
from tests.model.scenarios import HOUR_S, NUC, SPRING, described, replace, typical

STEP_S = 60.0
BARE = Group("swarm", 1, "swarm_box_ply", bees_kg=1.2)


def judged(
    core_c: np.ndarray | float,
    hours: float,
    *,
    group: Group = NUC,
    stores_c: np.ndarray | float = 30.0,
    worker_dose: float = 0.0,
    adults_w: float = 10.0,
    flow_m3_s: float = 1e-3,
) -> Assessment:
    """A made-up history of one box, judged with typical parameters."""
    steps = round(hours * HOUR_S / STEP_S)
    one = np.ones((steps, 1))
    zero = {f.name: 0.0 * one for f in fields(Histories)}
    node = np.ones((steps + 1, 1))
    seen = Histories(
        **zero
        | {
            "core_c": node * np.reshape(core_c, (-1, 1)),
            "stores_c": node * np.reshape(stores_c, (-1, 1)),
            "water_kg": node,
            "closed": one > 0.0,
            "adults_w": one * adults_w,
            "flow_m3_s": one * flow_m3_s,
            "saturated_kg_m3": one * 0.04,
            "around_kg_m3": one * 0.01,
            "around_co2_share": one * 4.2e-4,
            "worker_dose": np.array([worker_dose]),
        }
    )
    boxes = box_model.derive(described(group), np.ones(1), typical())
    time_s = SPRING + (np.arange(steps) + 0.5) * STEP_S
    return assess(seen, boxes, time_s, typical(), STEP_S)


def verdicts(seen: Assessment) -> dict[str, int]:
    return dict(zip(VERDICTS, seen.verdict[0].tolist(), strict=True))


ALL_CLEAR = dict.fromkeys(VERDICTS, CLEAR)


def test_a_comfortable_box_is_clear_in_all_five_ways() -> None:
    seen = judged(34.5, 8)
    assert verdicts(seen) == ALL_CLEAR
    assert np.isnan(seen.first_crossing_s[0])
    assert seen.margin_k[0] == pytest.approx(5.5)


def test_the_brood_dose_is_one_after_thirteen_hours_at_forty() -> None:
    """By hand: 13 h at 40 C, or 1.3 h at 43 C."""
    assert judged(40.0, 13).brood_dose[0] == pytest.approx(1.0)
    assert judged(43.0, 1.3).brood_dose[0] == pytest.approx(1.0)


def test_the_brood_dose_of_a_ramp_is_its_integral() -> None:
    """By hand: rising evenly from 37 to 40 C in 2 h, ``2 h z / (3 K ln 10) (1 - 0.1) / 13 h``."""
    ramp = np.linspace(37.0, 40.0, 121)
    by_hand = 2.0 * 3.0 / (3.0 * np.log(10.0)) * (1.0 - 10.0**-1.0) / 13.0
    assert judged(ramp, 2).brood_dose[0] == pytest.approx(by_hand, rel=1e-4)


def test_the_queen_loses_sperm_by_the_published_rate() -> None:
    """Pettis 2016; McAfee 2020: 0.061 per hour at 38.2 C, ten times that 2.4 K above."""
    assert judged(38.2, 2).sperm_loss_share[0] == pytest.approx(1.0 - np.exp(-0.122), rel=1e-9)
    assert judged(40.6, 0.5).sperm_loss_share[0] == pytest.approx(1.0 - np.exp(-0.305), rel=1e-9)


def test_brood_is_warned_at_37_and_harmed_by_hours_at_40() -> None:
    assert verdicts(judged(37.3, 0.2))["brood"] == CAUTION
    assert verdicts(judged(40.0, 3.5))["brood"] == CAUTION
    assert verdicts(judged(40.0, 4.5))["brood"] == HARM


def test_brood_is_harmed_while_workers_and_comb_are_not() -> None:
    """Two days a little too warm: brood and queen pay, the workers do not."""
    assert verdicts(judged(37.2, 48)) == ALL_CLEAR | {"brood": HARM, "queen": HARM}


def test_the_queen_is_warned_after_two_hours_at_38_and_harmed_after_one_at_40() -> None:
    """The limits as stated: caution 38 C for 2 h, danger 40 C for 1 h."""
    assert verdicts(judged(38.0, 1.5))["queen"] == CLEAR
    assert verdicts(judged(38.0, 2.0))["queen"] == CAUTION
    assert verdicts(judged(40.0, 0.9))["queen"] == CAUTION
    assert verdicts(judged(40.0, 1.05))["queen"] == HARM


def test_the_queen_can_be_harmed_while_brood_workers_and_comb_are_not() -> None:
    found = verdicts(judged(40.0, 1.1))
    assert found == ALL_CLEAR | {"queen": HARM, "brood": CAUTION}


def test_workers_are_judged_by_temperature_and_by_dose() -> None:
    assert verdicts(judged(42.5, 0.05))["workers"] == CAUTION
    assert verdicts(judged(45.5, 0.05))["workers"] == HARM
    assert verdicts(judged(34.5, 1, worker_dose=0.2))["workers"] == CAUTION
    assert verdicts(judged(34.5, 1, worker_dose=0.6)) == ALL_CLEAR | {"workers": HARM}


def test_new_comb_fails_before_old_comb_and_alone() -> None:
    """The stores comb is judged by its own temperature, whatever the nest does."""
    new, old = replace(NUC, comb="new"), replace(NUC, comb="old")
    assert verdicts(judged(34.5, 2, group=new, stores_c=38.0)) == ALL_CLEAR | {"comb": CAUTION}
    assert verdicts(judged(34.5, 2, group=new, stores_c=42.0)) == ALL_CLEAR | {"comb": HARM}
    assert verdicts(judged(34.5, 2, group=old, stores_c=41.5)) == ALL_CLEAR
    assert verdicts(judged(34.5, 2, group=old, stores_c=46.0)) == ALL_CLEAR | {"comb": HARM}


def test_a_box_without_comb_has_no_comb_to_lose() -> None:
    seen = judged(34.5, 2, group=BARE, stores_c=80.0)
    assert verdicts(seen) == ALL_CLEAR
    assert np.isnan(seen.peak_stores_c[0])


def test_brood_chills_by_hours_and_bees_at_once() -> None:
    """Wang 2016, PLoS ONE 11:e0154547: 20 C for 12 h; broodless bees: chill coma below 8 C."""
    assert verdicts(judged(29.0, 1)) == ALL_CLEAR | {"chill": CAUTION}
    assert verdicts(judged(19.0, 11)) == ALL_CLEAR | {"chill": CAUTION}
    assert verdicts(judged(19.0, 12)) == ALL_CLEAR | {"chill": HARM}
    assert verdicts(judged(19.0, 12, group=BARE)) == ALL_CLEAR
    assert verdicts(judged(11.0, 1, group=BARE)) == ALL_CLEAR | {"chill": CAUTION}
    assert verdicts(judged(7.5, 0.1, group=BARE)) == ALL_CLEAR | {"chill": HARM}


def test_time_beyond_each_limit_is_counted() -> None:
    """One hour at each of 36.5, 37.5, 39, 41, 43 and 46 C."""
    core = np.repeat([36.5, 37.5, 39.0, 41.0, 43.0, 46.0], 60)
    over = dict(zip(LIMITS, judged(np.append(core, 46.0), 6).over_s[0] / HOUR_S, strict=True))
    expected = {"core_37": 5, "core_38": 4, "core_40": 3, "core_42": 2, "core_45": 1}
    for name, hours in expected.items():
        assert over[name] == pytest.approx(hours, abs=0.03), name


def test_the_first_crossing_is_when_the_danger_limit_is_passed() -> None:
    core = np.linspace(36.0, 44.0, 121)
    seen = judged(core, 2)
    assert seen.first_crossing_s[0] - SPRING == pytest.approx(HOUR_S, abs=STEP_S)
    assert seen.margin_k[0] == pytest.approx(-4.0)
    assert seen.peak_core_c[0] == pytest.approx(44.0)


def test_a_gap_makes_every_answer_unknown() -> None:
    core = np.full(121, 35.0)
    core[100:] = np.nan
    seen = judged(core, 2)
    assert set(verdicts(seen).values()) == {UNKNOWN}
    assert np.isnan([seen.peak_core_c[0], seen.margin_k[0], seen.low_core_c[0]]).all()


def test_carbon_dioxide_follows_heat_and_air() -> None:
    """By hand: 57 ppm per kelvin of air warming when all heat leaves with the air (1180 J/m3K), plus outdoors."""
    warming_k, flow = 10.0, 1e-3
    heat_w = 1180.0 * flow * warming_k
    seen = judged(34.5, 1, adults_w=heat_w, flow_m3_s=flow)
    assert seen.peak_co2_share[0] == pytest.approx(4.2e-4 + 57e-6 * warming_k, rel=0.05)
