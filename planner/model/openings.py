"""Air flow through the openings of a box: orifice, stack, wind, one-opening exchange, and how they add up.

All functions broadcast; areas in m2, flows in m3/s, temperatures in K or K differences. ASHRAE Fundamentals
ch. 16 stands for ASHRAE Handbook Fundamentals 2017, ch. 16, Ventilation and infiltration.
"""

from __future__ import annotations

import numpy as np

from planner.model.records import Floats

GRAVITY_MS2 = 9.81
"""Mean acceleration at the ground."""


def effective_area(first_m2: Floats, second_m2: Floats) -> Floats:
    """Two openings in series as one: ``1/A^2 = 1/A1^2 + 1/A2^2`` (ASHRAE Fundamentals ch. 16); 0 if either is shut."""
    product = first_m2 * second_m2
    norm = np.hypot(first_m2, second_m2)
    return np.divide(product, norm, out=np.zeros_like(norm), where=norm > 0.0)


def stack_flow_squared(discharge: Floats, area_m2: Floats, height_m: Floats, mean_k: Floats) -> Floats:
    """Square of the stack flow per kelvin of warming, ``(Cd A)^2 2 g H / T`` (ASHRAE Fundamentals ch. 16).

    Kept as a square per kelvin because the warming is only known inside the integration: ``Q = sqrt(value * dT)``.

    Parameters
    ----------
    discharge : 1, about 0.4 for bee mesh, 0.65 for a plain hole
    area_m2 : effective area of the low and the high opening, :func:`effective_area`
    height_m : their vertical distance
    mean_k : mean absolute temperature of the air inside and outside, K

    Returns
    -------
    m6/s2 per K
    """
    return (discharge * area_m2) ** 2 * 2.0 * GRAVITY_MS2 * height_m / mean_k


def cooper_flow_squared(coefficient: Floats, diameter_m: Floats, mean_k: Floats) -> Floats:
    """Square per kelvin of the exchange through one horizontal opening over warm air.

    ``Q = 0.055 sqrt(g (drho/rho) D^5)`` with ``drho/rho = dT/T`` and D the diameter of a round vent, m. Cooper
    1989, Calculation of the flow through a horizontal ceiling/floor vent, NISTIR 89-4052 (0.055 from memory).
    """
    return coefficient**2 * GRAVITY_MS2 / mean_k * diameter_m**5


def brown_solvason_flow_squared(
    discharge: Floats, area_m2: Floats, height_m: Floats, mean_k: Floats
) -> Floats:
    """Square per kelvin of the exchange through one vertical opening, ``height_m`` from its foot to its top.

    Brown & Solvason 1962, Int J Heat Mass Transfer 5:859, eq. 6.
    """
    return (discharge / 3.0 * area_m2) ** 2 * GRAVITY_MS2 * height_m / mean_k


def circle_diameter(area_m2: Floats) -> Floats:
    """Diameter of the circle with the given area."""
    return np.sqrt(4.0 * area_m2 / np.pi)
