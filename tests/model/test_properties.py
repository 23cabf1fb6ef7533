"""What must hold for any box and any weather: monotony, energy, unknown stays unknown, shared heat."""

from __future__ import annotations

import numpy as np
import psychrolib
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.app.plan.results import UNKNOWN
from planner.model.records import Closing, Group, Misting, Weather
from tests.length import few_or_all
from tests.model.scenarios import (
    DAY_S,
    HIVE,
    HOUR_S,
    NUC,
    SPRING,
    SUMMER,
    catalogue,
    halt,
    peaks_c,
    plan,
    replace,
    road,
    simulated_case,
    steady,
    trip,
    weather,
)
from tests.model.test_checks_scheme import assert_energy_kept

PLACES = tuple(name for name, row in catalogue().loading_places.items() if row.vehicle != "ground")
COMB_BOXES = tuple(name for name, row in catalogue().box_types.items() if row.frames > 0)
LEAVE_S = SUMMER + DAY_S + 10.0 * HOUR_S
SHORT = road(1.0, 60.0)

share = st.floats(0.0, 1.0)


@st.composite
def groups(draw: st.DrawFn) -> Group:
    """Any sensible load of one kind."""
    box = catalogue().box_types[draw(st.sampled_from(COMB_BOXES))]
    brood = draw(share) * 0.6 * box.frames
    return Group(
        label="any",
        count=draw(st.integers(1, 40)),
        box_type=box.name,
        frames_of_bees=draw(st.floats(0.2, 1.0)) * box.frames,
        open_brood_frames=0.4 * brood,
        sealed_brood_frames=0.6 * brood,
        stores_frames=draw(share) * 0.4 * box.frames,
        thin_syrup_share=draw(share),
        floor=draw(st.sampled_from(("mesh", "solid"))),
        floor_blocked_share=draw(share),
        roof=draw(st.sampled_from(("solid", "screen", "shaded_screen"))),
        entrance=draw(st.sampled_from(("shut", "mesh", "foam", "open"))),
        wet_foam_ml=draw(st.floats(0.0, 200.0)),
        misting=draw(st.sampled_from((None, Misting(20.0, 600.0, 900.0), Misting(200.0, 0.0, 1800.0)))),
    )


@pytest.mark.parametrize("examples", few_or_all(10, 25))
def test_energy_is_kept_and_numbers_stay_sane_for_any_box(examples: int) -> None:
    """P13 for random boxes, places and weather; nothing leaves the range a box can reach."""

    @settings(max_examples=examples, deadline=None)
    @given(
        group=groups(),
        loading_place=st.sampled_from(PLACES),
        low=st.floats(-15.0, 30.0),
        swing=st.floats(0.0, 15.0),
    )
    def holds(group: Group, loading_place: str, low: float, swing: float) -> None:
        stay = trip(group, loading_place, leave_s=LEAVE_S, stops=[halt(20)])
        sky = weather(low, low + swing, SUMMER)
        simulated = simulated_case(stay, road(1.0, 60.0, waypoints=3), sky, agitations=(-1.0, 0.0, 1.0))
        assert_energy_kept(simulated)
        seen = simulated.seen
        assert np.all(np.isfinite(seen.core_c))
        assert np.all((seen.core_c > low - 10.0) & (seen.core_c < 75.0))
        assert np.all(seen.water_kg >= -1e-9)
        assert np.all(seen.flow_m3_s > 0.0)

    holds()


@settings(max_examples=15)
@given(
    group=groups(),
    loading_place=st.sampled_from(PLACES),
    air_c=st.floats(-5.0, 30.0),
    more_k=st.floats(0.5, 6.0),
)
def test_hotter_outside_never_cools(group: Group, loading_place: str, air_c: float, more_k: float) -> None:
    """Until the danger level, and without misting, whose rule switches with the air temperature."""
    dry = replace(group, misting=None, wet_foam_ml=0.0)
    stay = trip(dry, loading_place, leave_s=LEAVE_S)
    cooler, hotter = (
        simulated_case(stay, SHORT, steady(t, start_s=SUMMER, dew_c=-6.0)).seen.core_c
        for t in (air_c, air_c + more_k)
    )
    assert rises(cooler, hotter)


LIVELY_K = 0.2
"""How far a box in warmer air may be the cooler one for a while.

Seen: 0.037 K at worst in 1500 draws, then 0.096 K for forty strong boxes in one estate car, at 38.9 C, just as
they begin to evaporate; so the bound was raised from 0.05 K.

It is not strictly monotone, and should not be: bees in cooler air have drawn together and keep more of the
heat of a jolt, and cooler box air carries off less of the water they evaporate.
"""


def rises(less: np.ndarray, more: np.ndarray) -> bool:
    """Whether ``more`` is at least as warm while no box has come near the restless heat.

    Beyond it a hotter box may cool sooner: it drinks its water, dies and falls silent earlier.
    """
    free = np.cumsum((more > 39.0).any(axis=1)) == 0
    return bool(np.all(more[free] >= less[free] - LIVELY_K))


RUNG = {
    "frames_of_bees": (1.0, 2.0, 3.0, 4.0, 5.0),
    "floor_blocked_share": (0.0, 0.25, 0.5, 0.75, 1.0),
}


@pytest.mark.parametrize(
    "loading_place",
    [
        "cabin_windows_open",
        *(pytest.param(p, marks=pytest.mark.slow) for p in ("open_trailer", "boot_dark", "flatbed_inner")),
    ],
)
@pytest.mark.parametrize("what", RUNG)
@pytest.mark.parametrize("high_c", [16.0, 22.0])
def test_more_bees_and_blocked_floors_are_never_cooler_while_bees_cope(
    loading_place: str, what: str, high_c: float
) -> None:
    """Monotone in bees and in blockage up to the restless heat, at every moment of a trip without brood.

    Brood is left out: shivering to hold it at 34 C, a weak colony heats harder than a strong one in the cold.
    """
    without = replace(NUC, open_brood_frames=0.0, sealed_brood_frames=0.0, stores_frames=0.0)
    sky = weather(high_c - 6.0, high_c, SUMMER)
    peaks = []
    for rung in RUNG[what]:
        stay = trip(replace(without, **{what: rung}), loading_place, leave_s=LEAVE_S)
        peaks.append(float(peaks_c(plan(stay, SHORT, sky))[0, 0, 0]))
    settled = np.minimum(peaks, 39.5)
    assert np.all(np.diff(settled) >= -1e-6), peaks


@pytest.mark.parametrize(
    "loading_place",
    [
        "van_shut_white",
        *(
            pytest.param(p, marks=pytest.mark.slow)
            for p in ("open_trailer", "cabin_windows_open", "boot_dark")
        ),
    ],
)
def test_more_sun_and_warmer_air_never_give_a_lower_peak(loading_place: str) -> None:
    """Monotone in ambient and in sun up to the restless heat; runaway peaks stay above it whatever is added."""
    stay = trip(NUC, loading_place, leave_s=LEAVE_S)
    by_air = [
        peaks_c(plan(stay, SHORT, weather(t - 6.0, t, SUMMER, dew_c=2.0)))[0, 0, 0] for t in range(10, 34, 4)
    ]
    by_sun = [
        peaks_c(plan(stay, SHORT, weather(10.0, 20.0, SUMMER, sunshine=part)))[0, 0, 0]
        for part in (0.0, 0.3, 0.6, 1.0)
    ]
    for peaks in (by_air, by_sun):
        assert np.all(np.diff(np.minimum(peaks, 39.5)) >= -1e-6), peaks


@pytest.mark.slow
def test_a_runaway_only_gets_worse_with_bees_heat_and_blockage() -> None:
    """In the runaway region: once a box runs away it does so with more bees, blockage and warmer air too."""
    for changed in ("frames_of_bees", "floor_blocked_share", "air"):
        ran = []
        for step in np.linspace(0.0, 1.0, 6):
            group = replace(NUC, floor_blocked_share=0.97)
            high_c = 28.0
            if changed == "frames_of_bees":
                group = replace(group, frames_of_bees=1.0 + 4.0 * step)
            elif changed == "floor_blocked_share":
                group = replace(group, floor_blocked_share=step)
            else:
                high_c = -4.0 + 38.0 * step
            stay = trip(group, "pickup_canopy_shut_white", leave_s=LEAVE_S)
            ran.append(
                bool(peaks_c(plan(stay, road(2.5), weather(high_c - 6.0, high_c, SUMMER)))[0, 0, 0] > 45.0)
            )
        assert ran == sorted(ran), (changed, ran)
        assert ran[-1], changed
        assert not ran[0], changed


def gap_in(sky: Weather, first_s: float, name: str = "air_c") -> Weather:
    """Weather without one of its columns from an instant on."""
    values = getattr(sky, name).copy()
    values[sky.time_s >= first_s] = np.nan
    return replace(sky, **{name: values})


@pytest.mark.parametrize("missing", ["air_c", "dew_c", "wind_east_ms", "ghi_w_m2", "pressure_pa"])
def test_unknown_weather_gives_an_unknown_verdict(missing: str) -> None:
    """Weather missing for part of the trip is never filled in silently."""
    sky = gap_in(weather(10, 20, SUMMER), LEAVE_S + 1800.0, missing)
    planned = plan(trip(NUC, ("open_trailer", "van_shut_white"), leave_s=LEAVE_S), SHORT, sky)
    assert np.all(planned.outcomes.verdict == UNKNOWN)
    assert np.all(np.isnan(planned.outcomes.peak_core_c))
    assert any("No weather" in note for note in planned.notes)


def test_only_departures_that_meet_the_gap_are_unknown_and_rank_last() -> None:
    sky = gap_in(weather(10, 18, SUMMER), SUMMER + DAY_S + 16.0 * HOUR_S)
    stay = trip(NUC, "open_trailer", leave_s=LEAVE_S, last_s=LEAVE_S + 8 * HOUR_S, step_s=4 * HOUR_S)
    planned = plan(stay, SHORT, sky)
    unknown = (planned.outcomes.verdict == UNKNOWN).any(axis=(1, 2, 3, 4, 5))
    np.testing.assert_array_equal(unknown, [False, True, True])
    assert planned.ranking[0].departure == 0


def test_groups_in_one_van_heat_one_another() -> None:
    """Mixed loads share the enclosure's heat: two groups in a van are hotter than either alone."""
    first, second = replace(NUC, count=12, label="first"), replace(HIVE, count=10, label="second")
    sky = weather(12, 20, SUMMER)

    def peak(*load: Group) -> np.ndarray:
        return plan(trip(load, "van_shut_white", leave_s=LEAVE_S), road(2), sky).outcomes.peak_core_c[
            0, 0, 0, 1
        ]

    both = peak(first, second)
    assert both[0] > peak(first)[0] + 0.05
    assert both[1] > peak(second)[0] + 0.05


def test_groups_pinned_to_different_places_do_not_share_air() -> None:
    first = replace(NUC, count=12, loading_place="van_shut_white")
    second = replace(NUC, count=12, loading_place="open_trailer")
    sky = weather(12, 20, SUMMER)
    both = plan(trip((first, second), "van_shut_white", leave_s=LEAVE_S), road(2), sky)
    alone = [plan(trip(group, "van_shut_white", leave_s=LEAVE_S), road(2), sky) for group in (first, second)]
    together = both.outcomes.peak_core_c[0, 0, 0, 1]
    np.testing.assert_allclose(
        together, [one.outcomes.peak_core_c[0, 0, 0, 1, 0] for one in alone], atol=1e-9
    )


def test_a_group_feels_the_van_only_once_it_is_aboard() -> None:
    """Loaded at different stops: the first rides longer, the second waits open on the ground until it is shut."""
    first, second = replace(NUC, count=4), replace(NUC, count=4, load_waypoint=1)
    stay = trip((first, second), "van_shut_white", leave_s=LEAVE_S, stops=[halt(30, "load")])
    simulated = simulated_case(stay, road(2.0, waypoints=3), weather(14, 22, SUMMER))
    aboard = simulated.vehicle.on_board.sum(axis=0)
    assert aboard[0] - aboard[1] == pytest.approx(30 + 60, abs=1)
    seen = simulated.seen
    before = np.argmax(seen.closed[:, 1])
    assert before > 60
    np.testing.assert_array_equal(np.ptp(seen.core_c[: before + 1, 1]), 0.0)
    assert seen.core_c[before + 30, 1] != seen.core_c[before, 1]


def test_a_box_stands_still_before_it_is_shut_and_after_it_is_opened() -> None:
    groups = (replace(NUC, closing=Closing("before_sunrise")), replace(NUC, closing=Closing("at_loading")))
    stay = trip(groups, "open_trailer", leave_s=LEAVE_S)
    seen = simulated_case(stay, SHORT, weather(10, 20, SUMMER)).seen
    changed = np.any(np.diff(seen.core_c, axis=0) != 0.0, axis=1)
    for case in range(2):
        still = ~seen.closed[:, case]
        assert np.all(np.diff(seen.core_c[:, case])[still] == 0.0)
        assert np.all(np.diff(seen.water_kg[:, case])[still] == 0.0)
    assert changed.any()
    assert seen.closed[:, 0].sum() > seen.closed[:, 1].sum()


@pytest.mark.parametrize("air_c", [16.0, 25.0, 34.0])
def test_a_soaked_box_never_cools_below_the_wet_bulb(air_c: float) -> None:
    """Water cools to the wet bulb of the air around and no further, whatever is poured on."""
    drowned = replace(NUC, misting=Misting(2000.0, 0.0, 600.0), frames_of_bees=0.5)
    bare = replace(drowned, open_brood_frames=0.0, sealed_brood_frames=0.0, stores_frames=0.0)
    stay = trip(bare, "open_trailer", leave_s=LEAVE_S)
    core = simulated_case(stay, road(3.0), steady(air_c, dew_c=5.0, start_s=SUMMER)).seen.core_c
    psychrolib.SetUnitSystem(psychrolib.SI)
    wet_bulb_c = psychrolib.GetTWetBulbFromTDewPoint(air_c, 5.0, 99_000.0)
    assert core.min() > wet_bulb_c - 1.0


def test_frost_is_survived_by_a_broodless_swarm_and_unknown_to_none() -> None:
    swarm = Group("swarm", 1, "package_cage", bees_kg=1.36, floor="solid", entrance="shut")
    stay = trip(swarm, "pickup_bed", leave_s=SPRING + DAY_S + 20 * HOUR_S)
    outcomes = plan(stay, road(3), weather(-8, 0)).outcomes
    assert np.isfinite(outcomes.low_core_c).all()
    assert np.isnan(outcomes.peak_stores_c).all()
