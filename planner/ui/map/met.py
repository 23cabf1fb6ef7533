"""What is met along the road, for colouring it: air, boxes, sun, wind, rain, and how long one may stand."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from planner.app.plan.results import TYPICAL, Curves
from planner.model.records import Floats, Weather
from planner.ui.look import strings as s
from planner.units import METRIC, UnitSystem

if TYPE_CHECKING:
    from planner.app.standing.reserve import Reserve

QUANTITIES = ("outside", "core", "sun", "wind", "rain", "stand")
LEAST_SPAN = {"outside": 6.0, "core": 6.0, "sun": 100.0, "wind": 3.0, "rain": 2.0, "stand": 7200.0}
"""The colours never spread over less than this, so that a steady day does not look like a varied one."""
HOUR_S = 3600.0
MM_PER_INCH = 25.4


def met(
    quantity: str, curves: Curves, group: int, weather: Weather | None = None, reserve: Reserve | None = None
) -> Floats:
    """A quantity at each moment of the trip, (time,); NaN where it is not known."""
    if quantity == "rain":
        return _rain_mm_h(weather, curves) if weather is not None else np.full(curves.time_s.shape, np.nan)
    if quantity == "stand":
        return _stand_s(reserve, curves) if reserve is not None else np.full(curves.time_s.shape, np.nan)
    return {
        "outside": curves.outside_c,
        "core": curves.core_c[:, TYPICAL, group],
        "sun": curves.ghi_w_m2,
        "wind": curves.wind_ms,
    }[quantity]


def _rain_mm_h(weather: Weather, curves: Curves) -> Floats:
    """Rain of the hour at each moment and place."""
    hours = weather.time_s
    at = np.clip(np.searchsorted(hours, curves.time_s), 0, hours.size - 1)
    rows = np.array(
        [np.interp(km, weather.km, weather.rain_mm[hour]) for hour, km in zip(at, curves.km, strict=True)]
    )
    return np.where((curves.time_s < hours[0] - HOUR_S) | (curves.time_s > hours[-1]), np.nan, rows)


def _stand_s(reserve: Reserve, curves: Curves) -> Floats:
    """Seconds that 95 of 100 variants have, and no more than were looked at."""
    from planner.app.standing.pictures import AGITATED_BEES

    left = np.minimum(reserve.shortest_s(0, AGITATED_BEES), reserve.horizon_s)
    known = np.isfinite(left)
    if not known.any():
        return np.full(curves.time_s.shape, np.nan)
    return np.interp(curves.time_s, reserve.time_s[known], left[known], np.nan, np.nan)


def driven(curves: Curves, values: Floats) -> tuple[Floats, Floats]:
    """Values against kilometres, once each, from the moment the wheels first turn."""
    starts = [phase.start_s for phase in curves.phases if phase.kind == "driving"]
    under_way = curves.time_s >= (starts[0] if starts else -np.inf)
    km, first = np.unique(curves.km[under_way], return_index=True)
    return km, values[under_way][first]


def spread(quantity: str, values: Floats, beside: tuple[float, float]) -> tuple[float, float]:
    """What the first and the last colour stand for: all that is met and lies beside, and never too little.

    The least time to stand has the deepest colour.
    """
    least = LEAST_SPAN[quantity]
    known = np.append(values, beside)
    known = known[np.isfinite(known)]
    if not known.size:
        return (least, 0.0) if quantity == "stand" else (0.0, least)
    low, high = float(known.min()), float(known.max())
    if quantity == "stand":
        return max(high, least), 0.0
    if quantity == "rain":
        return 0.0, max(high, least)
    return (low, high) if high - low > least else ((low + high - least) / 2, (low + high + least) / 2)


def written(quantity: str, value: float, units: UnitSystem) -> str:
    """A value of a quantity in the user's units."""
    from planner.words import Voice, duration

    if not np.isfinite(value):
        return s.say(s.UNKNOWN_VALUE)
    if quantity == "stand":
        return Voice(units=units).text(duration(value - value % 60.0))
    if quantity == "rain":
        metric = units is METRIC
        amount = f"{max(value, 0.0):.1f}" if metric else f"{max(value, 0.0) / MM_PER_INCH:.2f}"
        return s.say(s.RAIN_MM if metric else s.RAIN_IN, value=amount)
    if quantity == "sun":
        return s.say(s.STRIP_SUN_VALUE, value=f"{max(value, 0):.0f}")
    if quantity == "wind":
        return units.speed_text(max(value, 0))
    return units.temp_text(value, 0)
