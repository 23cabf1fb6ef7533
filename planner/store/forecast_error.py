"""How far forecasts miss by lead time: the bundled table, each row with its grade and source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from planner.bundled import resource_path
from planner.model.records import Floats
from planner.store.documents import read_toml

KINDS = ("air", "sun", "wind")


@dataclass(frozen=True)
class ForecastError:
    """Spread of forecast errors.

    ``by_lead`` holds, for air (K), sun and wind (of the logarithm), lead times in hours and standard
    deviations; ``correlation_h`` how long an error lasts; ``no_lead_h`` the lead that weather without an issue
    time is taken to have, by its kind; ``agitation_correlation`` rank correlation of the activity rows.
    """

    by_lead: Mapping[str, tuple[Floats, Floats]]
    correlation_h: float
    sun_most: float
    no_lead_h: Mapping[str, float]
    agitation_correlation: float

    def sd(self, kind: str, lead_h: Floats) -> Floats:
        """Standard deviation of ``kind`` at each lead, same shape; level beyond the ends of the table."""
        leads, values = self.by_lead[kind]
        return np.asarray(np.interp(lead_h, leads, values))


def load_forecast_error() -> ForecastError:
    """The bundled table. Raises StorageError when it is missing."""
    rows = read_toml(resource_path("forecast_error.toml"), "the table of forecast errors")
    return ForecastError(
        by_lead={
            kind: (np.array(rows[kind]["lead_h"], float), np.array(rows[kind]["sd"], float)) for kind in KINDS
        },
        correlation_h=float(rows["correlation_h"]["value"]),
        sun_most=float(rows["sun_most"]["value"]),
        no_lead_h={k: float(v) for k, v in rows["no_lead_h"].items() if isinstance(v, int | float)},
        agitation_correlation=float(rows["agitation_correlation"]["value"]),
    )
