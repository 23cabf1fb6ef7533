"""Units as services write them, brought to the SI of the records; an unknown unit refuses the answer."""

from __future__ import annotations

import numpy as np

from planner.model.records import Floats
from planner.services.http import UnreadableError
from planner.units import KELVIN_AT_ZERO_C, M_PER_MILE
from planner.words import say

_KNOT_MS = 1852.0 / 3600.0
_MPH_MS = M_PER_MILE / 3600.0

_UNITS: dict[str, tuple[str, float, float]] = {
    "°C": ("temperature", 1.0, 0.0),
    "celsius": ("temperature", 1.0, 0.0),
    "degC": ("temperature", 1.0, 0.0),
    "°F": ("temperature", 1.0 / 1.8, -32.0 / 1.8),
    "fahrenheit": ("temperature", 1.0 / 1.8, -32.0 / 1.8),
    "degF": ("temperature", 1.0 / 1.8, -32.0 / 1.8),
    "K": ("temperature", 1.0, -KELVIN_AT_ZERO_C),
    "m/s": ("speed", 1.0, 0.0),
    "m_s-1": ("speed", 1.0, 0.0),
    "km/h": ("speed", 1.0 / 3.6, 0.0),
    "km_h-1": ("speed", 1.0 / 3.6, 0.0),
    "mp/h": ("speed", _MPH_MS, 0.0),
    "mph": ("speed", _MPH_MS, 0.0),
    "kn": ("speed", _KNOT_MS, 0.0),
    "°": ("angle", 1.0, 0.0),
    "degrees": ("angle", 1.0, 0.0),
    "degree_(angle)": ("angle", 1.0, 0.0),
    "%": ("share", 0.01, 0.0),
    "percent": ("share", 0.01, 0.0),
    "hPa": ("pressure", 100.0, 0.0),
    "Pa": ("pressure", 1.0, 0.0),
    "W/m²": ("irradiance", 1.0, 0.0),
    "mm": ("rain", 1.0, 0.0),
    "inch": ("rain", 25.4, 0.0),
}


def to_si(values: Floats, unit: str, quantity: str) -> Floats:
    """``values`` in C, m/s, degrees, shares, Pa, W/m2 or mm; raises UnreadableError for any other unit."""
    kind, factor, offset = _UNITS.get(unit.removeprefix("wmoUnit:"), ("", 1.0, 0.0))
    if kind != quantity:
        raise UnreadableError(
            say("services.answer_gives_which", quantity=str(quantity), value=str(repr(unit or "no unit")))
        )
    return np.asarray(values * factor + offset)


def wind_components(speed_ms: Floats, from_deg: Floats) -> tuple[Floats, Floats]:
    """Eastward and northward parts of the moving air, from its speed and the direction it comes FROM.

    No air is slower than still: a speed below nothing is unknown, not a wind from the other side.
    """
    angle, speed_ms = np.radians(from_deg), np.where(speed_ms >= 0.0, speed_ms, np.nan)
    return -speed_ms * np.sin(angle), -speed_ms * np.cos(angle)
