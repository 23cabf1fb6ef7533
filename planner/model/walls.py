"""Heat through the walls and lid of a box: ISO 6946 build-ups, an outside film that thins with air speed, sun.

Source: ISO 6946:2007, table 1 (surface resistances), annex A (outside film: convective 4 + 4 v, radiative).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.model.parameters import Parameters
from planner.model.records import Floats


def layers_resistance(layers: Sequence[tuple[float, float]]) -> float:
    """Resistance m2K/W of solid layers given as (thickness m, conductivity W/mK), without surface films."""
    return sum(thickness / conductivity for thickness, conductivity in layers)


def outside_film_m2k_w(speed_ms: Floats, p: Parameters) -> Floats:
    """Outside surface resistance m2K/W at a local air speed; 0.04 at 4 m/s, about 0.11 in still air (ISO 6946)."""
    convective = p.outside_film_still_w_m2k + p.outside_film_per_speed * speed_ms
    return np.asarray(1.0 / (convective + p.outside_radiation_w_m2k))
