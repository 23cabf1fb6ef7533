"""A lid under the open sky sends heat to it: what is lost by the air's own laws, and what it is worth in a box."""

from __future__ import annotations

import numpy as np
import pytest

from planner.model import air
from planner.model.records import Group
from tests.model.scenarios import DAY_S, HIVE, HOUR_S, SPRING, replace, road, simulated_case, trip, weather

NIGHT_S = SPRING + DAY_S + 20.0 * HOUR_S


def lost(air_c: float, dew_c: float, cloud: float) -> float:
    return float(air.lost_to_sky_w_m2(np.array(air_c), np.array(dew_c), np.array(cloud)))


def test_the_clear_sky_takes_what_was_measured() -> None:
    """Berdahl & Martin 1984: about 95 W/m2 at a dew point of 5 C, 70 in muggy air; clear desert nights reach 120."""
    assert lost(10.0, 5.0, 0.0) == pytest.approx(95.0, abs=3.0)
    assert lost(24.0, 20.0, 0.0) == pytest.approx(66.0, abs=4.0)
    assert lost(20.0, -10.0, 0.0) == pytest.approx(142.0, abs=6.0)


def test_cloud_gives_four_fifths_of_it_back_and_what_nobody_says_lies_between() -> None:
    assert lost(10.0, 5.0, 1.0) == pytest.approx(0.2 * lost(10.0, 5.0, 0.0))
    assert lost(10.0, 5.0, 1.0) < lost(10.0, 5.0, float("nan")) < lost(10.0, 5.0, 0.0)


def night(place: str, cloud: float, group: Group = HIVE) -> tuple[float, float]:
    """Mean air in a box and heat through lid and sun, of a clear or covered night without sun."""
    sky = replace(weather(10.0, 18.0), cloud_share=np.full(weather(10.0, 18.0).air_c.shape, cloud))
    batch = simulated_case(trip(group, place, leave_s=NIGHT_S), road(6.0, 36.0), sky)
    steps = slice(60, 360)
    return float(batch.seen.box_air_c[steps, 0].mean()), float(batch.seen.sun_w[300, 0])


def test_a_clear_night_cools_a_box_on_an_open_trailer_and_none_in_a_van() -> None:
    """0.7 to 1.4 K of box air are expected on a stand in still air (own balance, grade D); on the move less."""
    covered, clear = (night("open_trailer", cloud)[0] for cloud in (1.0, 0.0))
    assert 0.1 < covered - clear < 1.4
    assert night("van_shut_white", 0.0) == pytest.approx(night("van_shut_white", 1.0))


def test_the_lid_loses_by_its_own_build_up_only() -> None:
    """The loss of the box is what the lid passes on of it: never more than a bare lid would send."""
    _, lost_w = night("open_trailer", 0.0)
    assert -40.0 < lost_w < -0.5
