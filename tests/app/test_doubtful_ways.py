"""Stages of which nobody knows how long they last or where they are spent: the samples of an answer go every way."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from planner.app.answer.field import Field
from planner.app.answer.records import Key
from planner.model.preparations import AS_DECLARED
from planner.model.records import Moment, Stage
from planner.model.ways import LEANINGS, alternatives, likely_ways
from tests.app.answered import asked, tiny
from tests.model.scenarios import NUC

SAMPLES = 32
ARRIVAL = Moment("arrival")
SETTLING = Moment("lasting", (1800.0,) * 3)
SHADE, VAN = "ground_shade", "van_shut_white"


def field(lasts_min: tuple[float, float, float], *places: tuple[str, float]) -> Field:
    """A nucleus on a doorstep by a hot noon, with nobody to act; the answer's samples of it."""
    low, usual, high = (60.0 * minutes for minutes in lasts_min)
    way = (
        Stage("wait", (0, 0), ARRIVAL),
        Stage("drive", (0, 1), ARRIVAL),
        Stage("doorstep", (1, 1), Moment("lasting", (low, usual, high)), places=places, holder="receiver"),
        Stage("settle", (1, 1), SETTLING),
    )
    trip = tiny(replace(NUC, stages=way), departures=1, leave_s=tiny().window.first_s + 14.0 * 3600.0)
    found = asked(trip, 18.0, 33.0, counts=(SAMPLES,), setups=(AS_DECLARED,), otherwise=False).race.field
    assert isinstance(found, Field)
    return found


def peaks_c(found: Field) -> np.ndarray:
    """The hottest core of the one unit in each sample."""
    key = Key(0, 0, (0,), (0,))
    found.judge([key], SAMPLES)
    (unit,) = found.units_of(key)
    return found.judged[unit].kept[0, 0]


@pytest.fixture(scope="module")
def known() -> dict[str, np.ndarray]:
    """Peaks where the place is known."""
    return {name: peaks_c(field((240, 240, 240), (name, 1.0))) for name in (SHADE, VAN)}


def test_each_sample_goes_one_of_the_ways_as_if_that_alone_were_stated(known: dict[str, np.ndarray]) -> None:
    mixed = field((240, 240, 240), (SHADE, 0.75), (VAN, 0.25))
    way = mixed.sample.way
    assert way is not None
    assert np.bincount(way).tolist() == [24, 8], "as often as it is likely"
    assert np.abs(known[VAN] - known[SHADE]).max() > 1.0
    found = peaks_c(mixed)
    for number, name in enumerate((SHADE, VAN)):
        np.testing.assert_allclose(found[way == number], known[name][way == number], rtol=1e-6)


def test_a_stage_lasts_shorter_in_some_samples_and_longer_in_others() -> None:
    """Five even parts of (low, usual, high); a longer stay in a hot van is hardly ever cooler.

    Of 32 strata with a sample each, a part of 6.4 holds five whole at least and touches eight at most.
    """
    spread = field((10, 60, 300), (VAN, 1.0))
    parts = np.bincount(spread.sample.way)
    assert parts.size == 5
    assert 5 <= parts.min() <= parts.max() <= 8
    usual = field((60, 60, 60), (VAN, 1.0))
    assert usual.sample.way is None
    assert usual.scenario.ways == ()
    lean = np.array(LEANINGS)[spread.sample.way]
    assert np.array_equal(usual.sample.agitation, spread.sample.agitation)
    more_k = peaks_c(spread) - peaks_c(usual)
    assert np.abs(more_k[lean == 0.0]).max() < 1e-3
    assert (
        more_k[lean > 0.0] > -0.05
    ).mean() > 0.8  # 11 of 13; a jolt at the end may come in cooler air then
    assert (
        more_k[lean < 0.0].mean() < 0.0 < 0.1 < more_k[lean > 0.0].mean()
    )  # set down sooner is jolted sooner


def test_ways_are_as_likely_as_their_places_and_lengths_together() -> None:
    trip = field((10, 60, 300), (SHADE, 0.75), (VAN, 0.25)).trip
    ways = likely_ways(trip)
    assert len(ways) == 2 * len(LEANINGS)
    assert sum(weight for *_, weight in ways) == pytest.approx(1.0)
    assert [
        (lean, weight) for settled, lean, weight in ways if settled.groups[0].stages[2].places[0][0] == VAN
    ] == [(lean, pytest.approx(0.05)) for lean in LEANINGS]
    assert len(list(alternatives(trip))) == 2
