"""To which later day somebody who was put off could come, as far as the weather in hand reaches."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import replace

import numpy as np

from planner.app.common.progress import Stop
from planner.app.day.inputs import AHEAD_DAYS, DAY_S, days_later
from planner.app.day.plan import TABLE_SAMPLES, wanted_cells
from planner.app.day.records import DayPlan
from planner.app.day.serving.judge import Judge, asked_of
from planner.app.day.serving.options import options_of
from planner.model.catalogue import Catalogue


def with_next_days(
    plan: DayPlan, catalogue: Catalogue, executor: Executor | None = None, should_stop: Stop | None = None
) -> DayPlan:
    """The plan with the next day on which each buyer who was put off finds a slot within the tolerance.

    A slot counts whose upper end, by the table's samples, leaves the tolerance open or holds it: the day itself is to
    be planned when it comes. Days beyond the weather are not looked at.
    """
    waiting = [one.buyer for one in plan.put_off]
    found: dict[int, float] = {}
    looked = 0
    reach_s = float(plan.weather.time_s[-1])
    for days in range(1, AHEAD_DAYS + 1):
        left = [number for number in waiting if number not in found]
        if not left or plan.day.slots.begin_s[0] + days * DAY_S > reach_s:
            break
        looked = days
        day = days_later(plan.day, days, tuple(plan.day.buyers[number] for number in left))
        asked = asked_of(day, plan.weather, catalogue)
        judge = Judge(asked, np.random.default_rng(plan.seed), TABLE_SAMPLES)
        judge.fill(slice(0, TABLE_SAMPLES), wanted_cells(asked), executor, None, should_stop)
        share, _ = judge.table.shares(asked, TABLE_SAMPLES)
        options = options_of(asked, share, TABLE_SAMPLES, plan.tolerance)
        for at, number in enumerate(left):
            least = options.least[at]
            if (options.problem.buyer == at).any() and 100.0 * least <= plan.tolerance.boxes_of_100:
                found[number] = float(np.mean(day.slots.begin_s))
    put_off = tuple(replace(one, next_day_s=found.get(one.buyer)) for one in plan.put_off)
    return replace(plan, put_off=put_off, days_ahead=looked)
