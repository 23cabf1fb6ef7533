"""Times of the answers about the edge: ``python -m tests.benchmarks.edge``.

Standstill reserve and headroom of the bundled pickup at five and fifteen minutes, a week of a season, a fit to a log.
"""

from __future__ import annotations

import os
from collections.abc import Callable

from planner.app.fit.fit import Driven, fit
from planner.app.plan.inputs import Ready, ready
from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Plan
from planner.app.season.chart import Lane, season
from planner.app.standing.reserve import reserve
from planner.app.standing.tipping import headroom_along, tipping_at
from planner.bundled import resource_path
from planner.store.tripfile import load_trip
from tests.app.loggers import driven_scenario, logged, truth
from tests.app.years import season_weather
from tests.benchmarks.timing import timed
from tests.model.scenarios import at, catalogue

RUNS = 5


def main() -> int:
    """Print the table."""
    print(f"{os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; best on the clock, best of the processor")
    pickup, migration = (_demo(name) for name in ("nuc-pickup", "night-pollination"))
    for name, (_, plan) in (("pickup", pickup), ("pollination", migration)):
        moments = reserve(plan, plan.ranking[0], catalogue()).time_s.size
        row(
            f"reserve, {name}, {moments} moments",
            lambda plan=plan: reserve(plan, plan.ranking[0], catalogue()),
        )
    plan = pickup[1]
    row("headroom every 15 min", lambda: headroom_along(plan, plan.ranking[0], catalogue()))
    leave_s = float(plan.departures_s[plan.ranking[0].departure])
    row("tipping point, one moment", lambda: tipping_at(plan, plan.ranking[0], catalogue(), leave_s))
    given = pickup[0]
    lane, week = Lane(given.trip, given.road, "cabin_windows_open"), season_weather(at(2027, 6, 1), 8)
    row("season, one week of hourly departures", lambda: season(lane, week, catalogue()))
    trip, road, weather = driven_scenario()
    log = logged(*truth(trip, road, weather, catalogue()), seed=1)
    driven = Driven(trip.window.first_s, trip.loading_places[0])
    row("fit to a log of seven hours", lambda: fit(trip, road, weather, catalogue(), log, driven))
    return 0


def row(name: str, work: Callable[[], object]) -> None:
    """Time a piece of work and print it."""
    took = timed(work, RUNS)
    print(f"{name:<44} {took.clock:6.2f} s {took.processor:6.2f} s")


def _demo(name: str) -> tuple[Ready, Plan]:
    """A bundled trip with its plan."""
    given = ready(load_trip(resource_path("demo", f"{name}.toml"), catalogue()))
    return given, plan_trip(given.trip, given.road, given.weather, catalogue())


if __name__ == "__main__":
    raise SystemExit(main())
