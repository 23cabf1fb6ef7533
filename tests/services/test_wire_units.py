"""Units as services write them, and winds by where they come from."""

from __future__ import annotations

import numpy as np
import pytest

from planner.services.forecast.wire_units import to_si, wind_components
from planner.services.http import UnreadableError


@pytest.mark.parametrize(
    ("value", "unit", "quantity", "expected"),
    [
        *((10.0, unit, "temperature", 10.0) for unit in ("°C", "celsius", "degC", "wmoUnit:degC")),
        *((50.0, unit, "temperature", 10.0) for unit in ("°F", "fahrenheit", "degF", "wmoUnit:degF")),
        (283.15, "K", "temperature", 10.0),
        *((5.0, unit, "speed", 5.0) for unit in ("m/s", "m_s-1")),
        *((36.0, unit, "speed", 10.0) for unit in ("km/h", "km_h-1")),
        *((10.0, unit, "speed", 4.4704) for unit in ("mp/h", "mph")),
        (10.0, "kn", "speed", 18.52 / 3.6),
        *((90.0, unit, "angle", 90.0) for unit in ("°", "degrees", "degree_(angle)")),
        *((50.0, unit, "share", 0.5) for unit in ("%", "percent")),
        (1013.0, "hPa", "pressure", 101_300.0),
        (101_300.0, "Pa", "pressure", 101_300.0),
        (800.0, "W/m²", "irradiance", 800.0),
        (3.0, "mm", "rain", 3.0),
        (1.0, "inch", "rain", 25.4),
    ],
)
def test_every_unit_is_brought_to_si(value: float, unit: str, quantity: str, expected: float) -> None:
    """50 F is 10 C; 1 mph is 0.44704 m/s and 1 knot 1.852 km/h by definition."""
    assert to_si(np.array([value]), unit, quantity) == pytest.approx([expected], rel=1e-12)


@pytest.mark.parametrize(
    ("unit", "quantity"), [("°R", "temperature"), ("m/s", "temperature"), ("", "share"), ("%", "rain")]
)
def test_a_unit_unknown_or_of_another_quantity_refuses_the_answer(unit: str, quantity: str) -> None:
    with pytest.raises(UnreadableError, match=rf"gives {quantity} in .*{unit or 'no unit'}"):
        to_si(np.zeros(1), unit, quantity)


@pytest.mark.parametrize(
    ("from_deg", "east", "north"),
    [(0.0, 0.0, -2.0), (90.0, -2.0, 0.0), (180.0, 0.0, 2.0), (270.0, 2.0, 0.0), (225.0, 2**0.5, 2**0.5)],
)
def test_a_wind_blows_away_from_where_it_comes_from(from_deg: float, east: float, north: float) -> None:
    """A north wind of 2 m/s moves the air south, a south-west wind moves it north-east."""
    assert wind_components(np.array([2.0]), np.array([from_deg])) == (
        pytest.approx([east], abs=1e-12),
        pytest.approx([north], abs=1e-12),
    )
