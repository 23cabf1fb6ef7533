"""Doses against integrals by hand; five verdicts, each reached apart from the others."""

from __future__ import annotations

from dataclasses import fields

import numpy as np
import pytest

from planner.model import boxes as box_model
from planner.model import doses
from planner.model.integrate import Histories
from planner.model.limits import CAUTION, CLEAR, HARM, LIMITS, UNKNOWN, VERDICTS, Assessment, assess
from planner.model.parameters import Parameters
from planner.model.records import Group
from tests.model.scenarios import HOUR_S, NUC, SPRING, catalogue, described, replace, typical

STEP_S = 60.0
BARE = Group("swarm", 1, "swarm_box_ply", bees_kg=1.2)


def judged(
    core_c: np.ndarray | float,
    hours: float,
    *,
    group: Group = NUC,
    stores_c: np.ndarray | float = 30.0,
    worker_dose: float = 0.0,
    mantle_c: float | None = None,
    moving: bool = True,
    p: Parameters | None = None,
    adults_w: float = 10.0,
    flow_m3_s: float = 1e-3,
) -> Assessment:
    """A made-up history of one box, judged with typical parameters."""
    steps = round(hours * HOUR_S / STEP_S)
    one = np.ones((steps, 1))
    zero = {f.name: 0.0 * one for f in fields(Histories)}
    node = np.ones((steps + 1, 1))
    core = node * np.reshape(core_c, (-1, 1))
    seen = Histories(
        **zero
        | {
            "core_c": core,
            "mantle_c": 0.5 * (core[1:] + core[:-1]) if mantle_c is None else one * mantle_c,
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
    return assess(seen, boxes, time_s, p or typical(), STEP_S, one > 0.0 if moving else one < 0.0)


def verdicts(seen: Assessment) -> dict[str, int]:
    return dict(zip(VERDICTS, seen.verdict[0].tolist(), strict=True))


ALL_CLEAR = dict.fromkeys(VERDICTS, CLEAR)


def test_a_comfortable_box_is_clear_in_all_five_ways() -> None:
    seen = judged(34.5, 8)
    assert verdicts(seen) == ALL_CLEAR
    assert np.isnan(seen.first_harm_s[0])
    assert seen.headroom_k[0] > 0.0
    assert (seen.dead_share[0], seen.ruined[0]) == (0.0, False)


# -- doses ---------------------------------------------------------------------------------------


def test_the_brood_dose_is_the_law_less_its_floor() -> None:
    """By hand: ``1/13 h (10^((T - 40)/3) - 10^((36.5 - 40)/3))``, nothing at 36.5 C."""
    taken_off = 10.0 ** (-3.5 / 3.0)
    assert judged(40.0, 13).brood_dose[0] == pytest.approx(1.0 - taken_off)
    assert judged(43.0, 1.3).brood_dose[0] == pytest.approx(1.0 - 0.1 * taken_off)
    assert judged(36.5, 48).brood_dose[0] == 0.0


def test_the_brood_dose_of_a_ramp_is_its_integral() -> None:
    """By hand: rising evenly from 37 to 40 C in 2 h, ``2 h (3 K / (3 K ln 10) (1 - 0.1) - 10^(-3.5/3)) / 13 h``."""
    ramp = np.linspace(37.0, 40.0, 121)
    by_hand = 2.0 * (3.0 / (3.0 * np.log(10.0)) * (1.0 - 10.0**-1.0) - 10.0 ** (-3.5 / 3.0)) / 13.0
    assert judged(ramp, 2).brood_dose[0] == pytest.approx(by_hand, rel=1e-4)


def test_doses_set_in_without_a_step() -> None:
    """A hundredth of a kelvin beyond a floor is next to nothing."""
    p = typical()
    for law in (
        doses.brood_heat(p),
        doses.brood_cold(p),
        doses.sperm_heat(p),
        doses.sperm_cold(p),
        doses.worker_heat(p),
    ):
        side = float(np.sign(law.tenth_k))
        assert law.rate(law.floor_c - side) == law.rate(law.floor_c) == 0.0
        assert 0.0 < law.rate(law.floor_c + 0.01 * side) < 0.02 * law.rate(law.floor_c + side)


def test_chilled_brood_has_had_its_dose_after_twelve_hours_at_twenty() -> None:
    """Wang et al. 2016, PLoS ONE 11:e0154547: capped brood at 20 C for 12 h, the shortest tried; none above 28 C."""
    assert judged(20.0, 12).brood_cold_dose[0] == pytest.approx(1.0)
    assert judged(28.0, 48).brood_cold_dose[0] == 0.0
    assert judged(5.0, 12).brood_cold_dose[0] > 10.0
    assert judged(20.0, 12, group=BARE).brood_cold_dose[0] == 0.0


def test_the_queen_loses_sperm_in_the_heat_by_anchors_that_conflict() -> None:
    """Pettis et al. 2016, PLoS ONE 11:e0147220, heavy loss in 2 h at 40 C; McAfee et al. 2021, PMC8357134, none at 42.

    The gentle corner of the rows keeps more than 90 % after 2 h at 42 C, the harsh one loses more than half at 40 C.
    """
    rows = catalogue().parameters.rows

    def left(core_c: float, rate: float, tenth_k: float) -> float:
        p = replace(typical(), sperm_loss_per_h=np.array(rate), sperm_loss_z_k=np.array(tenth_k))
        return float(np.exp(-7200.0 * doses.sperm_heat(p).rate(np.array(core_c))))

    assert left(42.0, rows["sperm_loss_per_h"].low, rows["sperm_loss_z_k"].high) > 0.9
    assert left(40.0, rows["sperm_loss_per_h"].high, rows["sperm_loss_z_k"].low) < 0.5
    assert judged(40.0, 1).sperm_loss_share[0] == pytest.approx(0.1, abs=0.01)
    assert judged(36.0, 72).sperm_loss_share[0] == 0.0


def test_the_queen_loses_sperm_in_the_cold() -> None:
    """Pettis et al. 2016, PLoS ONE 11:e0147220: from 90 to 20 % alive in up to 4 h at 5 C; safe from 15 C, McAfee 2020.

    Rousseau et al. 2020, Apidologie, doi 10.1007/s13592-020-00756-3: 2 h at 6 C tell.
    """
    assert judged(5.0, 4, group=BARE).sperm_loss_share[0] == pytest.approx(0.8, abs=0.1)
    assert judged(6.0, 2, group=BARE).sperm_loss_share[0] > 0.3
    assert judged(16.0, 72, group=BARE).sperm_loss_share[0] == 0.0


def test_workers_die_by_a_dose_that_is_one_after_nine_minutes_at_fifty_one() -> None:
    """0.15 h at 51 C, ten times slower 4.1 K below, less the rate at 40 C; none there. The way back finds the share."""
    p = typical()
    law, taken_off = doses.worker_heat(p), 10.0 ** (-11.0 / 4.1)
    assert law.rate(np.array(51.0)) * 540.0 == pytest.approx(1.0 - taken_off)
    assert law.rate(np.array(46.9)) * 540.0 == pytest.approx(0.1 - taken_off)
    dead = np.array([0.02, 0.1, 0.5])
    assert doses.dead_share(doses.dose_of(dead, p), p) == pytest.approx(dead)


# -- verdicts of heat ----------------------------------------------------------------------------


def test_brood_is_warned_at_37_and_harmed_by_hours_at_40() -> None:
    assert verdicts(judged(37.3, 0.2))["brood"] == CAUTION
    assert verdicts(judged(40.0, 3.5))["brood"] == CAUTION
    assert verdicts(judged(40.0, 4.5))["brood"] == HARM


def test_a_nest_at_its_usual_warmth_takes_no_harm_however_long() -> None:
    """36 C for three days: nests are held at 33-36 C, Stabentheiner et al. 2010, PLoS ONE 5:e8967."""
    assert verdicts(judged(36.0, 72)) == ALL_CLEAR


def test_brood_is_harmed_while_workers_and_comb_are_not() -> None:
    """Two days too warm: brood pays, the queen is warned for, the workers are not."""
    assert verdicts(judged(38.0, 48)) == ALL_CLEAR | {"brood": HARM, "queen": HARM}
    assert verdicts(judged(37.5, 54)) == ALL_CLEAR | {"brood": HARM, "queen": CAUTION}


def test_the_queen_can_be_harmed_while_workers_and_comb_are_not() -> None:
    found = verdicts(judged(41.0, 2.0))
    assert found == ALL_CLEAR | {"queen": HARM, "brood": HARM}


def dose_at(dead: float) -> float:
    """The workers' dose at which so many are dead: half at 1, steepness 4."""
    return (dead / (1.0 - dead)) ** 0.25


@pytest.mark.parametrize(
    ("dead", "level", "ruined"),
    [
        (0.01, CLEAR, False),
        (0.03, CAUTION, False),
        (0.09, CAUTION, False),
        (0.11, HARM, False),
        (0.19, HARM, False),
        (0.21, HARM, True),
    ],
)
def test_workers_are_judged_by_the_share_dead(dead: float, level: int, ruined: bool) -> None:
    """Caution from 2 % dead, harm from 10 %; the box is ruined beyond 20 %."""
    seen = judged(34.5, 1, worker_dose=dose_at(dead))
    assert seen.dead_share[0] == pytest.approx(dead)
    assert verdicts(seen) == ALL_CLEAR | {"workers": level}
    assert seen.ruined[0] == ruined


def test_a_short_peak_kills_nobody() -> None:
    """Minutes at 46 C without a dose to speak of: a caution for brood, none for workers."""
    assert verdicts(judged(46.0, 0.05, worker_dose=0.01))["workers"] == CLEAR


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


def test_fallen_comb_ruins_a_box() -> None:
    assert judged(34.5, 2, stores_c=42.0).ruined[0]
    assert not judged(34.5, 2, stores_c=40.0).ruined[0]


# -- verdicts of cold ----------------------------------------------------------------------------


def test_brood_is_chilled_by_hours() -> None:
    """Caution below 30 C for 2 h; harm by 12 h at 20 C."""
    assert verdicts(judged(29.0, 1.5)) == ALL_CLEAR
    assert verdicts(judged(29.0, 2.5)) == ALL_CLEAR | {"chill": CAUTION}
    assert verdicts(judged(20.0, 11.5)) == ALL_CLEAR | {"chill": CAUTION}
    assert verdicts(judged(20.0, 12.5)) == ALL_CLEAR | {"chill": HARM}
    assert verdicts(judged(20.0, 12.5, group=BARE)) == ALL_CLEAR


def test_adults_are_chilled_from_outside_in() -> None:
    """Outer bees below 10 C: caution; a whole cluster below 8 C for 4 h, or outer bees below 6 C for 1 h under way."""
    warm_core = {"group": BARE, "core_c": 30.0, "hours": 5}
    assert verdicts(judged(mantle_c=11.0, **warm_core)) == ALL_CLEAR
    assert verdicts(judged(mantle_c=9.0, **warm_core)) == ALL_CLEAR | {"chill": CAUTION}
    lost = {"chill": HARM, "workers": HARM}  # numb bees drop from a shaken cluster: three in ten of them
    assert verdicts(judged(mantle_c=5.0, **warm_core)) == ALL_CLEAR | lost
    assert verdicts(judged(mantle_c=5.0, moving=False, **warm_core)) == ALL_CLEAR | {"chill": CAUTION}
    assert verdicts(judged(mantle_c=5.0, group=BARE, core_c=30.0, hours=0.9))["chill"] == CAUTION


def test_a_cluster_in_coma_is_harmed_after_hours_even_where_it_stands() -> None:
    """Free & Spencer-Booth 1960, Entomol Exp Appl 3:222: most die after 50 h of coma."""
    assert verdicts(judged(7.5, 3.9, group=BARE, moving=False))["chill"] == CAUTION
    seen = judged(7.5, 4.1, group=BARE, moving=False)
    assert verdicts(seen)["chill"] == HARM
    assert seen.dead_share[0] < 0.01
    assert judged(7.5, 50, group=BARE, moving=False).dead_share[0] == pytest.approx(0.5)


def test_frozen_bees_are_dead() -> None:
    seen = judged(20.0, 1, group=BARE, mantle_c=-3.5)
    assert seen.dead_share[0] == 1.0
    assert seen.ruined[0]
    assert (verdicts(seen)["workers"], verdicts(seen)["chill"]) == (HARM, HARM)


@pytest.mark.parametrize("core_c", [-5.0, 2.0, 7.0, 12.0, 19.0, 25.0, 31.0, 35.0, 37.5, 40.0, 44.0])
@pytest.mark.parametrize("hours", [0.5, 3.0, 13.0])
def test_brood_never_improves_a_verdict(core_c: float, hours: float) -> None:
    """The same temperatures, with brood and without."""
    broodless = replace(NUC, open_brood_frames=0.0, sealed_brood_frames=0.0)
    bare, brood = judged(core_c, hours, group=broodless), judged(core_c, hours)
    assert (brood.verdict >= bare.verdict).all()
    assert brood.headroom_k[0] <= bare.headroom_k[0]
    assert brood.dead_share[0] == bare.dead_share[0]


# -- what else is told ---------------------------------------------------------------------------


def test_time_beyond_each_limit_is_counted() -> None:
    """One hour at each of 36.5, 37.5, 39, 41, 43 and 46 C."""
    core = np.repeat([36.5, 37.5, 39.0, 41.0, 43.0, 46.0], 60)
    over = dict(zip(LIMITS, judged(np.append(core, 46.0), 6).over_s[0] / HOUR_S, strict=True))
    expected = {"core_37": 5, "core_38": 4, "core_40": 3, "core_42": 2, "core_45": 1}
    for name, hours in expected.items():
        assert over[name] == pytest.approx(hours, abs=0.03), name


def test_the_first_harm_is_when_the_dose_is_full() -> None:
    """By hand: at 38 C brood takes 0.31 in 27.4 h, before the queen; at 40 C the queen loses 29 % in 3.55 h, first."""
    brood_h = 0.31 * 13.0 / (10.0 ** (-2.0 / 3.0) - 10.0 ** (-3.5 / 3.0))
    queen_h = -np.log(1.0 - 0.29) / 0.1 / (1.0 - 10.0 ** (-3.5 / 2.4))
    for core_c, by_hand in ((38.0, brood_h), (40.0, queen_h)):
        seen = judged(core_c, 30)
        assert (seen.first_harm_s[0] - SPRING) / HOUR_S == pytest.approx(by_hand, abs=0.02)
        assert seen.peak_core_c[0] == core_c


def test_a_gap_makes_every_answer_unknown() -> None:
    core = np.full(121, 35.0)
    core[100:] = np.nan
    seen = judged(core, 2)
    assert set(verdicts(seen).values()) == {UNKNOWN}
    assert np.isnan([seen.peak_core_c[0], seen.headroom_k[0], seen.low_core_c[0]]).all()


def test_carbon_dioxide_follows_heat_and_air() -> None:
    """By hand: 57 ppm per kelvin of air warming when all heat leaves with the air (1180 J/m3K), plus outdoors."""
    warming_k, flow = 10.0, 1e-3
    heat_w = 1180.0 * flow * warming_k
    seen = judged(34.5, 1, adults_w=heat_w, flow_m3_s=flow)
    assert seen.peak_co2_share[0] == pytest.approx(4.2e-4 + 57e-6 * warming_k, rel=0.05)
