"""Heat through the walls and lid of a box: ISO 6946 build-ups, an outside film that thins with air speed, sun.

Source: ISO 6946:2007, table 1 (surface resistances), annex A (outside film: convective 4 + 4 v, radiative).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.model import air
from planner.model.parameters import Parameters
from planner.model.records import Floats


def layers_resistance(layers: Sequence[tuple[float, float]]) -> float:
    """Resistance m2K/W of solid layers given as (thickness m, conductivity W/mK), without surface films."""
    return sum(thickness / conductivity for thickness, conductivity in layers)


def wet_skin_w_m2(
    air_c: Floats, vapour_kg_m3: Floats, heat_j_m3k: Floats, speed_ms: Floats, p: Parameters
) -> Floats:
    """Heat that evaporates from a wet skin in moving air, W/m2, the skin having cooled for it.

    Vapour leaves as heat does (Lewis relation on the convective film of ISO 6946:2007, annex A); the skin settles
    where film and evaporation balance (Penman 1948, Proc R Soc A 193:120, without sun and without heat from inside:
    a closed box gives it a few W/m2). The slope of the saturation is taken over the kelvin below the air.
    """
    convective = p.outside_film_still_w_m2k + p.outside_film_per_speed * speed_ms
    leaves = air.LATENT_HEAT_30C_J_KG * convective / heat_j_m3k
    saturated, cooler = (
        air.vapour_density_kg_m3(temp_c, air.saturation_pressure_fast_pa(temp_c))
        for temp_c in (air_c, air_c - 1.0)
    )
    slope = leaves * (saturated - cooler) * outside_film_m2k_w(speed_ms, p)
    return np.asarray(leaves * np.maximum(saturated - vapour_kg_m3, 0.0) / (1.0 + slope))


def outside_film_m2k_w(speed_ms: Floats, p: Parameters) -> Floats:
    """Outside surface resistance m2K/W at a local air speed; 0.04 at 4 m/s, about 0.11 in still air (ISO 6946)."""
    convective = p.outside_film_still_w_m2k + p.outside_film_per_speed * speed_ms
    return np.asarray(1.0 / (convective + p.outside_radiation_w_m2k))
