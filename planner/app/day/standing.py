"""How long the boxes of an appointment may stand on their way home, by what is done: the figures of a buyer's sheet."""

from __future__ import annotations

from concurrent.futures import Executor
from dataclasses import replace
from functools import partial

from planner.app.common.executors import map_unordered
from planner.app.common.progress import Progress, Stop
from planner.app.day.records import Appointment, DayPlan
from planner.app.day.serving.drives import drive_times, planned_drive_s, road_of, trip_of
from planner.app.plan.plan import plan_trip
from planner.app.plan.results import Choice
from planner.app.standing.reserve import Reserve, sampled_reserve
from planner.errors import InputError
from planner.model.catalogue import Catalogue
from planner.model.preparations import ALL
from planner.model.records import Closing, DepartureWindow, Road, Trip

ONLY = Choice(0, 0, 0)


def standing_times(
    plan: DayPlan,
    catalogue: Catalogue,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> dict[int, Reserve]:
    """The standstill reserve of every drive home by buyer, in samples of its own.

    Nothing of a buyer whose boxes do not all fit where they ride. Raises Cancelled.
    """
    work = partial(_standing, plan, catalogue)
    found: dict[int, Reserve] = {}
    for number, (one, reserve) in enumerate(
        map_unordered(work, list(plan.appointments), executor, should_stop), 1
    ):
        if reserve is not None:
            found[one.buyer] = reserve
        if on_progress:
            on_progress(number / len(plan.appointments))
    return found


def drive_home(plan: DayPlan, one: Appointment) -> tuple[Trip, Road]:
    """The drive of one appointment as it was judged: its very boxes as declared, one a group, shut when chosen.

    Raises InputError for places nobody knows.
    """
    day, buyer = plan.day, plan.day.buyers[one.buyer]
    drive_s = planned_drive_s(buyer, float(drive_times(replace(day, buyers=(buyer,)))[0]))
    declared = {box.name: box.group for box in day.boxes}
    shut = Closing("actual", at_s=one.closed_s, fixed=True)
    load = [replace(declared[name], label=name, closing=shut, loading_place=None) for name in one.boxes]
    trip = replace(
        trip_of(day, load, (buyer.rides,), buyer.first_timer),
        window=DepartureWindow(one.leave_s, one.leave_s, 60.0),
    )
    return trip, road_of(day.yard, drive_s, buyer.first_timer)


def _standing(plan: DayPlan, catalogue: Catalogue, one: Appointment) -> Reserve | None:
    trip, road = drive_home(plan, one)
    setup = next(setup for setup in ALL if setup.name == one.setup)
    try:
        settled = plan_trip(trip, road, plan.weather, catalogue, setups=[setup])
    except InputError:
        return None
    return sampled_reserve(settled, ONLY, catalogue)
