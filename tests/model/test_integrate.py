"""The forces of a step, the state a box begins with and the dose of its workers, worked out by hand."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model.balance import EnclosureSum, Forcing, coefficients_of, rates
from planner.model.integrate import blocks, dose_rate, prepare, start
from planner.model.records import Floats, Misting
from tests.model.scenarios import NUC, Group, Stage, replace, staged, still_boxes, typical

PLAIN = still_boxes(
    NUC,
    lid_m2=0.1,
    lid_m2k_w=0.2,
    body_m2=0.5,
    body_m2k_w=0.3,
    long_side_m2=0.12,
    short_side_m2=0.06,
    absorptance=0.65,
    sun_transmittance=0.0,
    screen_sun_m2=0.0,
    through_m2=0.02,
    single_m2=0.001,
)
FILM = 1.0 / (4.0 + 4.0 * 2.0 + 4.6)
"""Outside resistance at 2 m/s of air, ISO 6946."""


def forces(stage: Stage) -> Forcing:
    """Of the first ten minutes, (step, case)."""
    return prepare(*stage[:3], slice(0, 10), stage.p)


def test_walls_carry_heat_through_lid_and_body() -> None:
    found = forces(staged(PLAIN, 20.0, hours=0.2, speed_ms=2.0))
    assert found.walls_w_k[0, 0] == pytest.approx(0.1 / (0.2 + FILM) + 0.5 / (0.3 + FILM))
    assert found.base_c[0, 0] == 20.0


def test_wind_drives_air_through_or_in_and_out_of_one_side() -> None:
    """Through 0.02 m2 under a pressure root of 0.5, single sided 0.001 m2, at 2 m/s, added as squares."""
    found = forces(staged(PLAIN, 20.0, hours=0.2, speed_ms=2.0, pressure_root=0.5))
    assert found.wind_m6_s2[0, 0] == pytest.approx(4.0 * (0.01**2 + 0.001**2))


def test_sun_soaks_into_walls_and_shines_through_clear_ones_and_screens() -> None:
    """500 W/m2 on the lid, 300 on the long sides, 100 on the short ones, all summed over their pairs."""
    stage = staged(PLAIN, 20.0, hours=0.2, speed_ms=2.0, lid_w_m2=500.0)
    one = np.ones_like(stage.local_air.lid_w_m2)
    lit = replace(stage.local_air, flank_w_m2=300.0 * one, end_w_m2=100.0 * one)
    soaked = 0.65 * FILM * (500.0 * 0.1 / (0.2 + FILM) + (300.0 * 0.12 + 100.0 * 0.06) / (0.3 + FILM))
    assert forces(stage._replace(local_air=lit)).sun_w[0, 0] == pytest.approx(soaked)
    clear = replace(PLAIN, sun_transmittance=np.array([0.5]), screen_sun_m2=np.array([0.02]))
    through = 0.5 * (500.0 * 0.1 + 300.0 * 0.12 + 100.0 * 0.06) + 0.02 * 500.0
    cases = replace(stage.cases, boxes=clear, sun_factor=0.8)
    found = forces(stage._replace(local_air=lit, cases=cases)).sun_w[0, 0]
    assert found == pytest.approx(0.8 * (soaked + through))


def test_a_case_may_have_weather_of_its_own() -> None:
    """Air 2 K warmer, the place 3 K more once aboard, half the wind."""
    riding, waiting = (staged(PLAIN, 20.0, hours=0.2, speed_ms=2.0, riding=on) for on in (True, False))
    own = {"air_offset_k": 2.0, "place_offset_k": 3.0, "wind_factor": 0.5}
    aboard, ground = (forces(one._replace(cases=replace(one.cases, **own))) for one in (riding, waiting))
    assert (aboard.base_c[0, 0], ground.base_c[0, 0]) == (25.0, 22.0)
    assert aboard.walls_w_k[0, 0] == pytest.approx(0.1 / (0.2 + 1.0 / 12.6) + 0.5 / (0.3 + 1.0 / 12.6))


def test_bees_are_more_active_on_the_road_and_most_when_just_jolted() -> None:
    """1.3 waiting, 2 driving, 5 at a jolt."""

    def active(**more: object) -> float:
        return float(forces(staged(PLAIN, 20.0, hours=0.2, **more)).activity[0, 0])

    assert active() == pytest.approx(1.3)
    assert active(riding=True) == pytest.approx(2.0)
    assert active(riding=True, since_jolt_s=0.0) == pytest.approx(5.0)


def test_an_enclosure_dilutes_vapour_by_its_air_changes() -> None:
    """10 m3 changed once in 600 s: 60 s/m3 of vapour held for what is given off; half a minute keeps exp(-0.05)."""
    stage = staged(PLAIN, 20.0, hours=0.2, riding=True)
    one = np.ones_like(stage.local_air.volume_m3)
    shut = replace(stage.local_air, volume_m3=10.0 * one, change_per_s=one / 600.0, resistance_k_w=0.02 * one)
    found = forces(stage._replace(local_air=shut))
    assert found.vapour_gain[0, 0] == pytest.approx(60.0)
    assert found.vapour_keep_half[0, 0] == pytest.approx(np.exp(-0.05))
    assert found.resistance_k_w[0, 0] == 0.02
    assert found.weight[0, 0] == 1.0
    in_the_open = forces(stage)
    assert (in_the_open.vapour_gain[0, 0], in_the_open.vapour_keep_half[0, 0]) == (0.0, 0.0)


def misted_kg(plan: Misting, air_c: float = 20.0) -> list[float]:
    stage = staged(still_boxes(replace(NUC, misting=plan)), air_c, hours=0.2, riding=True)
    return prepare(*stage[:3], slice(0, 12), stage.p).mist_kg[:, 0].tolist()


def test_misting_keeps_its_timetable_from_the_lifting_on() -> None:
    """20 ml after 3 minutes and every 4: in the steps that contain 3:00, 7:00 and 11:00."""
    expected = [0.0] * 12
    for minute in (3, 7, 11):
        expected[minute] = 0.02
    assert misted_kg(Misting(20.0, 180.0, 240.0)) == pytest.approx(expected)
    assert sum(misted_kg(Misting(20.0, 0.0, 240.0))) == pytest.approx(0.06)


def test_no_water_is_put_on_bees_in_cold_air() -> None:
    """At 15 C it is, at 14.9 C not."""
    assert sum(misted_kg(Misting(20.0, 180.0, 240.0), air_c=15.0)) == pytest.approx(0.06)
    assert sum(misted_kg(Misting(20.0, 180.0, 240.0), air_c=14.9)) == 0.0


@pytest.mark.parametrize(("air_c", "core_c"), [(20.0, 34.5), (35.5, 35.5), (39.0, 36.0)])
def test_a_box_begins_with_its_nest_warm_and_its_stores_between(air_c: float, core_c: float) -> None:
    """The nest at 34.5 C or with warmer air, up to 36 C; stores six tenths of the way from the air to the nest."""
    begun = start(*staged(still_boxes(replace(NUC, wet_foam_ml=50.0)), air_c, hours=0.1))
    assert begun.core_c.tolist() == [core_c]
    assert begun.stores_c == pytest.approx([air_c + 0.6 * (core_c - air_c)])
    assert begun.water_kg == pytest.approx([0.115 + 0.05])
    assert begun.around_kg_m3 == pytest.approx([0.008])
    assert (begun.mist_kg[0], begun.worker_dose[0], begun.shared_w[0]) == (0.0, 0.0, 0.0)


def death_per_s(water_kg: float, around_kg_m3: float) -> float:
    """At 46.9 C, in air that would be saturated by what ``around`` is a share of."""
    stage = staged(still_boxes(NUC), 30.0, hours=0.1)
    begun = start(*stage)._replace(water_kg=np.array([water_kg]), around_kg_m3=np.array([around_kg_m3]))
    boxes = stage.cases.boxes
    now = rates(
        begun, next(forces(stage).rows()), None, boxes, coefficients_of(boxes, stage.p), EnclosureSum(None)
    )
    dry_air = now._replace(evaporation_w=np.zeros(1), saturated_kg_m3=np.full(1, 0.04))
    return float(dose_rate(np.array([46.9]), begun, dry_air, boxes, typical())[0])


def test_bees_without_honey_starve_in_half_a_day() -> None:
    """Dose 1 after 12 h once all is eaten; half that pace with 15 kJ left for each kg of bees."""
    stage = staged(still_boxes(NUC), 30.0, hours=0.1)
    boxes, cool = stage.cases.boxes, np.array([10.0])
    begun = start(*stage)
    now = rates(
        begun, next(forces(stage).rows()), None, boxes, coefficients_of(boxes, stage.p), EnclosureSum(None)
    )
    left = np.array([0.0, 15_000.0, 30_000.0]) * boxes.bees_kg
    paces = [
        float(dose_rate(cool, begun._replace(fuel_j=np.array([j])), now, boxes, typical())[0]) for j in left
    ]
    assert np.array(paces) * 12.0 * 3600.0 == pytest.approx([1.0, 0.5, 0.0], abs=1e-4)


def test_workers_die_four_times_faster_in_humid_air_without_water() -> None:
    """1.5 h to dose 1 at 46.9 C, less the rate at 40 C; humid from 90 % on over 5 points, dry below 2 g."""
    usual = (1.0 - 10.0 ** (-6.9 / 4.1)) / 5400.0
    assert death_per_s(0.1, 0.04) == pytest.approx(usual)
    assert death_per_s(0.0, 0.04 * 0.9) == pytest.approx(usual)
    assert death_per_s(0.0, 0.04 * 0.925) == pytest.approx(2.5 * usual)
    assert death_per_s(0.0, 0.04) == pytest.approx(4.0 * usual)
    assert death_per_s(0.001, 0.04) == pytest.approx(2.5 * usual)


def test_steps_are_taken_in_runs_that_cover_them_all_once() -> None:
    runs = list(blocks(500, 400))
    assert [run.start for run in runs] == [0, 150, 300, 450]
    assert [run.stop for run in runs] == [150, 300, 450, 500]
    assert list(blocks(3, 10**6)) == [slice(0, 1), slice(1, 2), slice(2, 3)]
    assert list(blocks(7, 1)) == [slice(0, 7)]


def test_boxes_of_an_enclosure_share_their_sums() -> None:
    values: Floats = np.array([1.0, 2.0, 4.0, 8.0])
    assert EnclosureSum(np.array([0, 1, 0, 2])).total(values).tolist() == [5.0, 2.0, 5.0, 8.0]
    assert EnclosureSum(None).total(values) is values


def test_a_swarm_begins_cooler_than_a_nest() -> None:
    swarm = Group("swarm", 1, "swarm_box_ply", bees_kg=1.2)
    assert start(*staged(still_boxes(swarm), 20.0, hours=0.1)).core_c.tolist() == [30.0]
