"""Invented boxes with known factors, and the logs that loggers in them would have written."""

from __future__ import annotations

from dataclasses import replace
from types import MappingProxyType

import numpy as np

from planner.app.fit.fit import ACTIVITY_ROWS, FLOW_ROWS
from planner.app.plan.plan import shut_at_night
from planner.model.cases import case_grid, run
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.parameters import ParameterTable
from planner.model.preparations import AS_DECLARED
from planner.model.records import Closing, Floats, Road, Trip, Weather
from planner.model.timeline import build_timeline
from planner.store.loggerfile import LoggerLog
from tests.model.scenarios import DAY_S, HOUR_S, NUC, SPRING, road, trip, weather

CORRELATED_S = 600.0


def driven_scenario() -> tuple[Trip, Road, Weather]:
    """A nucleus shut two hours before it leaves in the morning and driven for three and a half under a canopy."""
    box = replace(NUC, entrance="foam", floor_blocked_share=0.5)
    planned = trip(
        box,
        "pickup_canopy_shut_dark",
        closing=Closing("clock", clock_s=7.0 * HOUR_S),  # summer time in Rome
        leave_s=SPRING + DAY_S + 7.0 * HOUR_S,
        open_after_s=3600.0,
    )
    return planned, road(3.5), weather(6.0, 18.0)


def with_factors(
    catalogue: Catalogue, box_type: str, activity: float, air_flow: float, leak: float
) -> Catalogue:
    """A catalogue of a sample whose bees, openings and joints differ from the bundled one by these factors."""
    rows = {name: catalogue.parameters.believed(name) for name in catalogue.parameters.rows}
    for names, factor in ((ACTIVITY_ROWS, activity), (FLOW_ROWS, air_flow)):
        for name in names:
            rows[name] = replace(rows[name], value=rows[name].value * factor)
    box = catalogue.box_types[box_type]
    leaky = replace(box, leak_l_s=(box.leak_l_s[0] * leak, *box.leak_l_s[1:]))
    return replace(
        catalogue,
        box_types=MappingProxyType({**catalogue.box_types, box_type: leaky}),
        parameters=ParameterTable(rows),
    )


def truth(
    planned: Trip, way: Road, sky: Weather, scenario: Catalogue, sensor: str = "core_c"
) -> tuple[Floats, Floats]:
    """Minutes and temperatures of the first group's box in that sample, from closing to opening."""
    departure = np.array([planned.window.first_s])
    timeline = build_timeline(planned, way, departure, closing_times(planned, way, departure))
    grid = case_grid(planned, way, sky, scenario, planned.loading_places, [AS_DECLARED], (0.0,))
    simulated = run(grid, timeline, shut_at_night(planned, timeline.closed_s), detail=True)
    values = getattr(simulated.seen, sensor)[:, 0]
    if sensor != "box_air_c":
        values = 0.5 * (values[:-1] + values[1:])
    return simulated.time_s[:, 0], values


def logged(time_s: Floats, temps_c: Floats, seed: int, noise_k: float = 0.5) -> LoggerLog:
    """What a logger would have kept: errors that last about ten minutes, one reading a minute, 0.1 K steps."""
    rng = np.random.default_rng(seed)
    knots = np.arange(time_s[0], time_s[-1] + 2 * CORRELATED_S, CORRELATED_S)
    wrong = rng.normal(0.0, noise_k, knots.size)[np.searchsorted(knots, time_s, side="right") - 1]
    return LoggerLog(time_s, np.round(temps_c + wrong, 1)[:, None], ("core",), ())
