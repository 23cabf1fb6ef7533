"""To which later day somebody who was put off could come, as far as the weather in hand reaches."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import replace

import numpy as np

from planner.app.common.executors import at_hand
from planner.app.common.progress import Stop
from planner.app.day.inputs import AHEAD_DAYS, DAY_S, days_later
from planner.app.day.plan import closely_planned, judge_of, narrowed
from planner.app.day.records import DayPlan
from planner.app.day.serving.drives import fits
from planner.model.catalogue import Catalogue


def with_next_days(
    plan: DayPlan, catalogue: Catalogue, executor: Executor | None = None, should_stop: Stop | None = None
) -> DayPlan:
    """The plan with the next day on which each buyer who was put off could be served, all who wait planned together.

    A day counts as the day itself would: looked at closely, within the tolerance by the intervals of the very boxes.
    Days beyond the weather are not looked at. Boxes are gone once somebody has them; where none is left no day is
    looked at.
    """
    waiting = [one.buyer for one in plan.put_off]
    found: dict[int, float] = {}
    given = {name for one in plan.appointments for name in one.boxes}
    looked: int | None = 0
    reach_s = float(plan.weather.time_s[-1])
    with at_hand(executor) as hands:
        for days in range(1, AHEAD_DAYS + 1):
            groups = [box.group for box in plan.day.boxes_that_may_go if box.name not in given]
            left = [number for number in waiting if number not in found]
            if not left or plan.day.slots.begin_s[0] + days * DAY_S > reach_s:
                break
            left = [number for number in left if any(fits(catalogue, plan.day.buyers[number], groups))]
            if not left:  # no box is left that anybody could have
                looked = looked or None
                break
            looked = days
            buyers = tuple(plan.day.buyers[number] for number in left)
            day = days_later(plan.day, days, buyers)
            day = replace(day, boxes=tuple(box for box in day.boxes if box.name not in given))
            judge = judge_of(day, plan.weather, catalogue, plan.seed)
            narrowed(judge, None, plan.tolerance, hands, should_stop)
            share, _ = judge.table.shares(judge.asked, judge.table.samples)
            later = closely_planned(judge, share, plan.tolerance, plan.seed, 0.0, hands, None, should_stop)
            for one in later.appointments:
                if one.decision in ("go", "go_if"):
                    found[left[one.buyer]] = float(np.mean(day.slots.begin_s))
                    given |= set(one.boxes)
    put_off = tuple(replace(one, next_day_s=found.get(one.buyer)) for one in plan.put_off)
    return replace(plan, put_off=put_off, days_ahead=looked)
