"""From which side the sun shines on the load: by its way and the hour, and not at all by night."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from planner.app.plan.results import Choice, Curves
from planner.app.plan.sunny import sun_on_load
from tests.ui import synthetic

MIDSUMMER_NOON_S = datetime(2026, 6, 21, 12, 0, tzinfo=UTC).timestamp()
WINTER_NOON_S = datetime(2026, 12, 21, 12, 0, tzinfo=UTC).timestamp()


def driven(towards: tuple[float, float], noon_s: float, lat: float = 52.0) -> Curves:
    """An hour at the wheel on the meridian of Greenwich, half an hour of it before noon; then ten minutes' halt."""
    made = synthetic.curves(synthetic.plan(), Choice(18, 0, 0))
    time_s = noon_s - 1800.0 + 60.0 * np.arange(71)
    km = np.minimum(np.arange(71), 60.0)
    north, east = towards
    return replace(made, time_s=time_s, km=km, lat_deg=lat + 0.009 * north * km, lon_deg=0.009 * east * km)


@pytest.mark.parametrize(
    ("towards", "side"),
    [((0.0, 1.0), "right"), ((0.0, -1.0), "left"), ((1.0, 0.0), "back"), ((-1.0, 0.0), "front")],
)
def test_at_noon_the_sun_stands_in_the_south(towards: tuple[float, float], side: str) -> None:
    """By hand: in midwinter the sun of 52 N stands 14.6 degrees high, due south within the equation of time."""
    found = sun_on_load(driven(towards, WINTER_NOON_S), WINTER_NOON_S)
    assert found is not None
    assert found.side == side
    assert found.azimuth_deg == pytest.approx(180.0, abs=2.0)
    assert found.elevation_deg == pytest.approx(90.0 - 52.0 - 23.44, abs=0.4)


def test_a_steep_sun_is_over_the_load_whichever_way_it_points() -> None:
    found = sun_on_load(driven((0.0, 1.0), MIDSUMMER_NOON_S), MIDSUMMER_NOON_S)
    assert found is not None
    assert found.side == "above"


def test_a_vehicle_that_stands_points_as_it_drove_and_before_as_it_will() -> None:
    curves = driven((0.0, 1.0), WINTER_NOON_S)
    waited = replace(curves, time_s=curves.time_s + 1200.0, km=np.maximum(curves.km - 10.0, 0.0))
    for held, at_s in ((curves, curves.time_s[-1]), (waited, waited.time_s[0])):
        found = sun_on_load(held, float(at_s))
        assert found is not None
        assert found.side == "right"


def test_by_night_out_of_the_trip_and_where_nothing_drives_nothing_is_told() -> None:
    curves = driven((0.0, 1.0), WINTER_NOON_S)
    night = replace(curves, time_s=curves.time_s + 12 * 3600.0)
    assert sun_on_load(night, float(night.time_s[30])) is None
    assert sun_on_load(curves, float(curves.time_s[0]) - 1.0) is None
    assert sun_on_load(replace(curves, km=curves.km * 0.0), float(curves.time_s[30])) is None
