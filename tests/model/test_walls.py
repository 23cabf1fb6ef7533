"""What a wet skin gives off, against its balance solved without the short cut."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.optimize import brentq

from planner.model import air
from planner.model.walls import outside_film_m2k_w, wet_skin_w_m2
from tests.model.scenarios import catalogue

P = catalogue().parameters.typical()
HEAT_J_M3K = 1180.0


def skin(air_c: float, humid: float, speed_ms: float) -> float:
    """Heat from a wet skin in air of this relative humidity."""
    vapour = humid * density(air_c)
    one = [np.array([value]) for value in (air_c, vapour, HEAT_J_M3K, speed_ms)]
    return float(wet_skin_w_m2(*one, P)[0])


def density(temp_c: float) -> float:
    at = np.array([temp_c])
    return float(air.vapour_density_kg_m3(at, air.saturation_pressure_fast_pa(at))[0])


@pytest.mark.parametrize("humid", [0.3, 0.6])
@pytest.mark.parametrize("speed_ms", [0.3, 3.0])
@pytest.mark.parametrize("air_c", [10.0, 25.0, 38.0])
def test_a_wet_skin_settles_where_the_film_brings_what_evaporation_takes(
    air_c: float, speed_ms: float, humid: float
) -> None:
    """Penman's slope is that at the air; the wet bulb lies below it, where vapour is less steep: within a quarter."""
    still, per_speed = float(P.outside_film_still_w_m2k), float(P.outside_film_per_speed)
    leaves = air.LATENT_HEAT_30C_J_KG * (still + per_speed * speed_ms) / HEAT_J_M3K
    film = 1.0 / float(outside_film_m2k_w(np.array([speed_ms]), P)[0])
    vapour = humid * density(air_c)

    def missing(skin_c: float) -> float:
        return film * (air_c - skin_c) - leaves * (density(skin_c) - vapour)

    true = film * (air_c - brentq(missing, air_c - 30.0, air_c))
    assert skin(air_c, humid, speed_ms) == pytest.approx(true, rel=0.25)
    assert skin(air_c, humid, speed_ms) < true


def test_nothing_evaporates_into_air_that_is_full() -> None:
    """Dew on the skin is left out, and no heat comes out of it."""
    assert skin(25.0, 1.0, 2.0) == 0.0
    assert skin(25.0, 1.2, 2.0) == 0.0
