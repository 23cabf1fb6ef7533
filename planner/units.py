"""Conversions between the SI values used inside and what people read: metric or US customary units.

Exact factors by definition (international yard and pound, NIST SP 811).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

KELVIN_AT_ZERO_C = 273.15
M_PER_MILE = 1609.344
KG_PER_LB = 0.45359237
ML_PER_US_FL_OZ = 29.5735295625


def whole(of_100: float) -> int:
    """A share of 100 as it is shown everywhere: the nearest whole number, halves up."""
    return math.floor(of_100 + 0.5)


def ends(low: float, high: float) -> tuple[int, int]:
    """Ends of an interval as they are shown: outward, so that it never reads narrower than it is."""
    return math.floor(low), math.ceil(high)


def outward(low: float, high: float, digits: int) -> tuple[float, float]:
    """The same to so many digits; what a sum or a quotient blurs behind the sixth further one is none of it."""
    scale = 10.0**digits
    first, last = ends(round(low * scale, 6), round(high * scale, 6))
    return first / scale, last / scale


def kelvin(temp_c: float) -> float:
    """Degrees Celsius to kelvin."""
    return temp_c + KELVIN_AT_ZERO_C


@dataclass(frozen=True, slots=True)
class UnitSystem:
    """How quantities are written for one user; every method returns text or a number in that unit.

    ``name`` is ``"metric"`` or ``"us"``.
    """

    name: str = "metric"

    @property
    def us(self) -> bool:
        return self.name == "us"

    @property
    def temp_unit(self) -> str:
        return "°F" if self.us else "°C"

    @property
    def distance_unit(self) -> str:
        return "mi" if self.us else "km"

    @property
    def speed_unit(self) -> str:
        return "mph" if self.us else "km/h"

    def temp(self, temp_c: float) -> float:
        """Temperature from C to the user's unit."""
        return temp_c * 1.8 + 32.0 if self.us else temp_c

    def temp_from(self, shown: float) -> float:
        """Temperature from the user's unit to C."""
        return (shown - 32.0) / 1.8 if self.us else shown

    def temp_step(self, step_k: float) -> float:
        """A temperature difference from kelvin to the user's unit."""
        return step_k * 1.8 if self.us else step_k

    def distance(self, km: float) -> float:
        return km * 1000.0 / M_PER_MILE if self.us else km

    def speed(self, m_per_s: float) -> float:
        return m_per_s * 3600.0 / M_PER_MILE if self.us else m_per_s * 3.6

    def volume(self, ml: float) -> float:
        return ml / ML_PER_US_FL_OZ if self.us else ml

    def mass(self, kg: float) -> float:
        return kg / KG_PER_LB if self.us else kg

    def temp_text(self, temp_c: float, digits: int = 1, *, unit: bool = True) -> str:
        return f"{self.temp(temp_c):.{digits}f}" + (f" {self.temp_unit}" if unit else "")

    def step_text(self, step_k: float, digits: int = 1) -> str:
        """A temperature difference in a sentence, e.g. ``1.8 degrees`` or ``3.2 °F``."""
        shown = f"{self.temp_step(step_k):.{digits}f}"
        return f"{shown} {self.temp_unit if self.us else 'degree' if shown == '1' else 'degrees'}"

    def step_cell(self, step_k: float, digits: int = 1) -> str:
        """A temperature difference where there is little room, e.g. ``1.8 °C`` or ``3.2 °F``."""
        return f"{self.temp_step(step_k):.{digits}f} {self.temp_unit}"

    def distance_text(self, km: float, digits: int = 0) -> str:
        return f"{self.distance(km):.{digits}f} {self.distance_unit}"

    def speed_text(self, m_per_s: float) -> str:
        return f"{self.speed(m_per_s):.0f} {self.speed_unit}"

    def volume_text(self, ml: float) -> str:
        return f"{ml / ML_PER_US_FL_OZ:.1f} fl oz" if self.us else f"{ml:.0f} ml"

    def mass_text(self, kg: float) -> str:
        return f"{kg / KG_PER_LB:.1f} lb" if self.us else f"{kg:.1f} kg"


METRIC = UnitSystem("metric")
US = UnitSystem("us")
