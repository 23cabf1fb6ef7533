"""How far forecasts miss: the bundled table, read by lead time."""

from __future__ import annotations

import numpy as np
import pytest

from planner.store.forecast_error import KINDS, ForecastError, load_forecast_error

MADE = ForecastError(
    by_lead={"air": (np.array([0.0, 24.0, 72.0]), np.array([1.0, 1.5, 2.7]))},
    correlation_h=12.0,
    sun_most=1.2,
    no_lead_h={},
    agitation_correlation=0.5,
)


@pytest.mark.parametrize(
    ("lead_h", "expected"), [(-5.0, 1.0), (0.0, 1.0), (12.0, 1.25), (24.0, 1.5), (48.0, 2.1), (240.0, 2.7)]
)
def test_the_spread_grows_evenly_between_the_leads_and_is_level_beyond(
    lead_h: float, expected: float
) -> None:
    assert MADE.sd("air", np.array([lead_h]))[0] == pytest.approx(expected)


def test_the_bundled_table_is_whole() -> None:
    found = load_forecast_error()
    assert set(found.by_lead) == set(KINDS) == {"air", "sun", "wind"}
    for leads, spread in found.by_lead.values():
        assert leads.size == spread.size > 2
        assert np.all(np.diff(leads) > 0)
        assert np.all(np.diff(spread) >= 0)
    assert (found.correlation_h, found.sun_most, found.agitation_correlation) == (12.0, 1.2, 0.5)
    assert found.no_lead_h == {"archive": 0.0, "own": 24.0, "invented": 24.0, "typical": 240.0}
