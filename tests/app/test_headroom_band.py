"""Headroom of few samples agrees with the harm of many: a band is below zero for as many as are harmed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.app.answer.records import Span
from planner.app.answer.tally import band_of, headroom_band
from tests.app.answered import asked, drawn_trip


def harm(of_100: float) -> Span:
    return Span(of_100, of_100, of_100)


def test_half_of_eight_below_zero_beside_a_quarter_harmed_is_a_middle_above_zero() -> None:
    """The middle was -5, between -20 and 10."""
    few = np.array([-20.0, -20.0, -18.0, -20.0, 10.0, 10.0, 8.0, 10.0])
    plain = band_of(few, 2)
    assert plain is not None
    assert plain.p50 < 0.0
    found = headroom_band(few, harm(23.0), whole=True)
    assert found is not None
    assert (found.p5, found.p95) == (-20.0, 10.0)
    assert found.p50 == pytest.approx(np.quantile([8.0, 10.0, 10.0, 10.0], 0.27 / 0.77), abs=0.01)


def test_a_side_of_which_no_sample_was_tried_is_told_as_just_beyond_zero() -> None:
    assert headroom_band(np.full(8, 10.0), harm(6.0), whole=True).p5 == -1.0  # type: ignore[union-attr]
    assert headroom_band(np.full(8, -20.0), harm(94.0), whole=True).p95 == 0.0  # type: ignore[union-attr]


def test_where_some_air_is_cooled_harm_tells_nothing_of_headroom() -> None:
    few = np.array([1.0, 2.0, np.inf])
    assert headroom_band(few, harm(60.0), whole=False) == band_of(few, 2)
    assert headroom_band(few, None, whole=True) == band_of(few, 2)
    assert headroom_band(np.full(3, np.inf), harm(60.0), whole=True) is None


@settings(max_examples=50)
@given(st.lists(st.integers(-20, 20), min_size=1, max_size=20), st.integers(0, 100))
def test_signs_agree_with_harm_and_the_band_is_in_order(values: list[int], of_100: int) -> None:
    found = headroom_band(np.array(values, dtype=np.float64), harm(float(of_100)), whole=True)
    assert found is not None
    assert found.p5 <= found.p50 <= found.p95
    for level, value in ((5, found.p5), (50, found.p50), (95, found.p95)):
        assert (value < 0.0) == (level < of_100)


@pytest.mark.slow
@pytest.mark.parametrize("number", [3, 11])
def test_no_candidate_of_a_trip_contradicts_its_own_harm(number: int) -> None:
    planned, way, sky = drawn_trip(number)
    found = asked(planned, way=way, sky=sky, counts=(8, 32)).answer(finished=True)
    told = [
        one for one in found.candidates if one.harm_of_100 and one.headroom_k and one.headroom_k.p50 < 20.0
    ]
    assert told
    for one in told:
        places = {choice.place for choice in one.by_group}
        if not any("cooled" in place for place in places):
            assert (one.headroom_k.p50 < 0.0) == (one.harm_of_100.value > 50.0), one  # type: ignore[union-attr]
