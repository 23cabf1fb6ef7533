"""The water plan: none in the cold, enough in the heat, at hours when the boxes ride."""

from __future__ import annotations

import numpy as np
import pytest

from planner.app.advice.water import ML, SPARE_HOUR_ML, as_document, in_words, water_plan
from planner.app.plan.results import Choice, Plan
from planner.units import US
from tests.app.chancy import planned
from tests.model.scenarios import DAY_S, HOUR_S, NUC, SPRING, catalogue, replace

ONLY = Choice(0, 0, 0)


def rng() -> np.random.Generator:
    return np.random.default_rng(6)


@pytest.fixture(scope="module")
def hot() -> Plan:
    """A hot dry day on an open trailer: three hours, four strong nucs with a roof screen."""
    strong = replace(NUC, count=4, roof="shaded_screen", frames_of_bees=6.0)
    return planned(strong, low_c=24, high_c=36, hours=3.0)


def test_hot_boxes_get_water_at_hours_when_they_ride(hot: Plan) -> None:
    found = water_plan(hot, ONLY, catalogue(), rng())
    (group,) = found.groups
    assert found.misting is not None
    assert found.misting.ml in ML
    leave, arrive = hot.departures_s[0] - hot.trip.loading_s, hot.arrives_s[0]
    assert group.times_s
    assert all(leave <= t <= arrive for t in group.times_s)
    assert found.carry_ml >= group.boxes * (group.box_ml + SPARE_HOUR_ML)
    assert found.with_it.no_harm.value >= found.without.no_harm.value


def test_cold_boxes_get_none_and_the_words_say_why() -> None:
    found = water_plan(
        planned(low_c=0, high_c=8, leave_s=SPRING + DAY_S + 8.0 * HOUR_S), ONLY, catalogue(), rng()
    )
    assert found.too_cold
    assert found.misting is None
    assert found.carry_ml == 0.0
    assert "no water" in in_words(found).headline


def test_hours_too_cold_for_water_are_named() -> None:
    """A night of 10 C that warms to 36 C while the boxes ride; the bees of 30 C do without water."""
    strong = replace(NUC, count=4, roof="shaded_screen", frames_of_bees=6.0)
    early = planned(strong, low_c=10, high_c=36, hours=9.0, leave_s=SPRING + DAY_S + 3.0 * HOUR_S)
    found = water_plan(early, ONLY, catalogue(), rng())
    (group,) = found.groups
    assert found.misting is not None
    assert group.cold_s
    assert max(group.cold_s) < min(group.times_s)
    assert "too cold" in in_words(found).groups[0]


def test_boxes_that_need_none_are_left_alone() -> None:
    mild = replace(NUC, roof="shaded_screen", frames_of_bees=3.0)
    found = water_plan(planned(mild, low_c=12, high_c=20), ONLY, catalogue(), rng())
    assert found.misting is None
    assert not found.too_cold
    assert "gains nothing" in in_words(found).headline


def test_words_and_document_agree(hot: Plan) -> None:
    found = water_plan(hot, ONLY, catalogue(), rng())
    said = in_words(found, US)
    assert "fl oz" in said.headline
    document = as_document(found, said)
    assert document["carry_ml"] == round(found.carry_ml)
    assert len(document["groups"][0]["times"]) == len(found.groups[0].times_s)
