"""Headroom by hand, and against trips in air that really is warmer or colder by so much."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.app.plan.plan import looked_closer
from planner.app.plan.results import Choice, Headroom, Plan
from planner.model.headroom import carried_over, of_worst_box, turn_from_now
from planner.model.limits import HARM, MOST_HEADROOM_K
from tests.model.scenarios import DAY_S, HOUR_S, NUC, SPRING, catalogue, plan, replace, road, steady, trip

SHIFTS = np.array([-10.0, -4.0, 0.0, 4.0, 10.0])


def read(*spare_k: float) -> float:
    """Where nothing is left, of one case."""
    return float(turn_from_now(SHIFTS, np.array(spare_k)[:, None]).read()[0])


def test_what_runs_out_is_read_straight_between_two_shifts() -> None:
    """3 at none and -1 at +4: three quarters of the way."""
    assert read(9.0, 6.0, 3.0, -1.0, -9.0) == pytest.approx(3.0)
    assert read(9.0, 6.0, 3.0, 2.0, -2.0) == pytest.approx(7.0)


def test_harm_is_ended_by_the_nearest_shift_that_ends_it() -> None:
    """-1 at none and 3 at -4: one degree."""
    assert read(5.0, 3.0, -1.0, -9.0, -20.0) == pytest.approx(-1.0)
    assert read(2.0, -2.0, -4.0, -9.0, -20.0) == pytest.approx(-7.0)


def test_beyond_what_was_tried_nothing_is_promised() -> None:
    """No harm at +10: ten, and not more. Harm still at -10: the least there is."""
    assert read(9.0, 8.0, 7.0, 6.0, 5.0) == 10.0
    assert read(-1.0, -2.0, -3.0, -4.0, -5.0) == -20.0
    assert np.isnan(read(np.nan, np.nan, np.nan, np.nan, np.nan))


def test_looking_out_from_now_the_sign_is_that_of_now() -> None:
    """Whatever happens further off: a dead box that cools again, a box that only harms when cooler."""
    assert read(-1.0, 1.0, 2.0, -1.0, 3.0) > 0.0
    assert read(2.0, 1.0, -0.1, 5.0, 5.0) < 0.0


def test_the_worst_box_counts_and_only_those_that_follow_the_outside() -> None:
    spare = np.array([[3.0, 1.0], [2.0, 5.0], [np.nan, 1.0]])
    assert of_worst_box(spare, np.array([True, True])).tolist()[:2] == [1.0, 2.0]
    assert of_worst_box(spare, np.array([True, False])).tolist()[:2] == [3.0, 2.0]
    assert np.isnan(of_worst_box(spare, np.array([False, False]))).all()
    assert np.isnan(of_worst_box(spare, np.array([True, True]))[2])


def test_headroom_of_other_samples_is_read_along_what_they_have_to_spare() -> None:
    """Tried: 2 to spare are 5 degrees, 4 are 9; 3 to spare then 7, 1 is 2.5, 8 go on at 9 in 4. Harmed: as steep."""
    found = carried_over(np.array([5.0, 9.0]), np.array([2.0, 4.0, 3.0, 1.0, 8.0, -2.0, -50.0]))
    assert found.tolist() == pytest.approx([5.0, 9.0, 7.0, 2.5, 18.0, -5.0, -MOST_HEADROOM_K])


def test_what_does_not_rise_with_what_is_to_spare_is_evened_out() -> None:
    """8 at 1 and 4 at 2 are 6 at both."""
    assert carried_over(np.array([8.0, 4.0]), np.array([1.0, 2.0, 1.5]))[2] == pytest.approx(6.0)


@given(
    st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=60),
    st.lists(st.floats(0.0, 20.0), min_size=60, max_size=60),
    st.integers(1, 60),
)
def test_headroom_has_in_every_sample_the_sign_of_harm(
    spare: list[float], size: list[float], tried: int
) -> None:
    """However few were tried, and whatever was found in them."""
    spare_k = np.array(spare)
    harmed = spare_k < 0.0
    first = (np.where(harmed, -1.0, 1.0) * np.array(size)[: len(spare)])[:tried]
    found = carried_over(first, spare_k)
    assert np.array_equal(found < 0.0, harmed)
    assert (np.abs(found) <= MOST_HEADROOM_K).all()
    np.testing.assert_allclose(found[: first.size], first, atol=0.01)


def test_where_nothing_was_tried_or_nothing_follows_the_outside_nothing_is_made_up() -> None:
    assert carried_over(np.empty(0), np.array([1.0, 2.0])).size == 0
    assert carried_over(np.array([np.inf]), np.array([np.inf, np.inf])).tolist() == [np.inf]


@pytest.mark.parametrize(
    ("hotter_k", "colder_k", "least_k", "hopeless"),
    [
        (3.0, 5.0, 3.0, False),
        (-3.0, 5.0, -3.0, False),
        (-5.0, 3.0, -20.0, True),
        (4.0, -20.0, -20.0, True),
        (-1.0, -1.0, -20.0, True),
    ],
)
def test_harm_that_no_air_ends_has_the_least_headroom(
    hotter_k: float, colder_k: float, least_k: float, hopeless: bool
) -> None:
    """Five degrees cooler end the heat's harm, but three bring that of the cold."""
    found = Headroom(hotter_k, colder_k)
    assert (found.k, found.hopeless) == (least_k, hopeless)


# -- against trips in other air --------------------------------------------------------------------

LEAVE_S = SPRING + DAY_S + 10.0 * HOUR_S
PLACES = ("open_trailer", "van_shut_dark")


def at(air_c: float) -> Plan:
    """A strong and a weak nucleus for three hours at one temperature, dew point held."""
    weak = replace(NUC, label="weak", frames_of_bees=1.0, open_brood_frames=0.0, sealed_brood_frames=0.3)
    return plan(trip((NUC, weak), PLACES, leave_s=LEAVE_S), road(3.0), steady(air_c, dew_c=-5.0))


@pytest.fixture(scope="module")
def mild() -> Plan:
    return at(14.0)


@pytest.mark.parametrize("place", range(len(PLACES)))
def test_the_headroom_found_by_trying_is_where_a_trip_in_other_air_comes_to_harm(
    mild: Plan, place: int
) -> None:
    """Just short of it nothing is harmed, just beyond something is; in the heat and in the cold.

    To a hundredth of the shift, for shifted air keeps the density of the air as it is.
    """
    choice = Choice(0, place, 0)
    found = mild.headroom(choice)
    assert found.exact
    unharmed = mild.worst_level(choice) < HARM
    for side, k in ((1.0, found.hotter_k), (-1.0, found.colder_k)):
        near = 0.05 + 0.01 * abs(k)
        if abs(k) < 20.0:
            short, beyond = (at(14.0 + side * (k + more)).worst_level(choice) for more in (-near, near))
            assert (short < HARM, beyond) == (True, HARM), (side, k)
    assert (found.k >= 0.0) == unharmed


def test_what_is_read_is_near_what_is_found(mild: Plan) -> None:
    """Within three degrees, for harm may set in like a cliff between two shifts; and never beyond what was tried."""
    for choice, found in mild.tried.items():
        cell = choice.departure, choice.loading_place, choice.setup
        assert mild.hotter_k[cell] == pytest.approx(min(found.hotter_k, 10.0), abs=3.0)
        assert mild.colder_k[cell] == pytest.approx(min(found.colder_k, 10.0), abs=3.0)


def test_any_candidate_can_be_looked_at_more_closely(mild: Plan) -> None:
    choice = Choice(0, 1, 0)
    closer = looked_closer(replace(mild, tried={}), choice, catalogue())
    assert closer.headroom(choice).exact
    assert closer.headroom_k(choice) == pytest.approx(mild.headroom_k(choice), abs=1e-6)
    assert looked_closer(closer, choice, catalogue()) is closer


def test_where_the_air_is_held_there_is_no_headroom() -> None:
    """Nothing follows the outside in an air-conditioned cabin; a group that rides elsewhere still counts."""
    cabin = plan(trip(NUC, "cabin_footwell_cooled", leave_s=LEAVE_S), road(1.0), steady(20.0))
    choice = Choice(0, 0, 0)
    assert not cabin.headroom(choice).known
    assert np.isnan(cabin.headroom_k(choice))
    beside = replace(NUC, label="beside", loading_place="open_trailer")
    both = plan(trip((NUC, beside), "cabin_footwell_cooled", leave_s=LEAVE_S), road(1.0), steady(20.0))
    assert both.headroom(choice).known
