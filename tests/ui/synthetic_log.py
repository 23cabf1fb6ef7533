"""The log that a logger in the first box of a candidate would have written, where the bees are more agitated."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from planner.app.plan.results import Choice, Plan
from planner.model.catalogue import Catalogue
from tests.app.loggers import logged, truth, with_factors

ACTIVITY = 1.4


def invented_log(plan: Plan, choice: Choice, catalogue: Catalogue) -> str:
    """A CSV in local time that does not say its zone."""
    left_s = float(plan.departures_s[choice.departure])
    window = replace(plan.trip.window, first_s=left_s, last_s=left_s)
    trip = replace(plan.trip, window=window, loading_places=(plan.loading_places[choice.loading_place],))
    sample = with_factors(catalogue, trip.groups[0].box_type, ACTIVITY, 1.0, 1.0)
    log = logged(*truth(trip, plan.road, plan.weather, sample), seed=5)
    zone = ZoneInfo(trip.origin.zone)
    rows = [
        f"{datetime.fromtimestamp(at, UTC).astimezone(zone):%Y-%m-%d %H:%M:%S},{temp:.1f}"
        for at, temp in zip(log.time_s, log.temps_c[:, 0], strict=True)
        if temp == temp
    ]
    return "\n".join(["time,brood nest C", *rows]) + "\n"
