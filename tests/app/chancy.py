"""Short invented trips on which chance is asked: one summer day, one road, a nucleus or several."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.app.chance.race import Chances, chances, open_scenario, space_of
from planner.app.chance.samples import SampleSpace, Scenario
from planner.app.plan.results import Plan
from planner.model.preparations import AS_DECLARED, SetUp
from planner.model.records import Floats, Group
from planner.model.timeline import Timeline
from tests.model.scenarios import DAY_S, HOUR_S, NUC, SUMMER, catalogue, plan, road, trip, weather

NOON = SUMMER + DAY_S + 12.0 * HOUR_S


def planned(
    group: Group | Sequence[Group] = NUC,
    places: str | Sequence[str] = "open_trailer",
    *,
    low_c: float = 16.0,
    high_c: float = 26.0,
    hours: float = 2.0,
    setups: Sequence[SetUp] = (AS_DECLARED,),
    leave_s: float = NOON,
    **more: object,
) -> Plan:
    """A trip of ``hours`` on a day between two temperatures, shut when lifted."""
    sky = weather(low_c, high_c, leave_s - leave_s % DAY_S - DAY_S)
    return plan(trip(group, places, leave_s=leave_s, **more), road(hours, 60.0), sky, setups)


def sampled_to_the_end(found: Plan, samples: int = 64, seed: int = 3, **more: object) -> Chances:
    """The last and sharpest answer."""
    return list(chances(found, catalogue(), np.random.default_rng(seed), samples=samples, **more))[-1]


def opened(
    found: Plan, setups: Sequence[SetUp] = (AS_DECLARED,)
) -> tuple[Scenario, Timeline, Floats, SampleSpace]:
    """What samples are made from."""
    scenario, timeline, night = open_scenario(found, catalogue(), setups)
    return scenario, timeline, night, space_of(scenario, timeline)
