"""Plans a collection day: judges every way, assigns, looks closely at what was chosen, and says what is missing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, ThreadPoolExecutor
from importlib import import_module

import numpy as np

from planner.app.answer.ask import tolerance_of
from planner.app.answer.records import DecisionName, Tolerance
from planner.app.answer.tally import BOX_DIGITS, span_of
from planner.app.common.executors import at_hand
from planner.app.common.progress import Progress, Stop
from planner.app.day.records import SORTS, Appointment, DayPlan, PutOff, Short, WhyName
from planner.app.day.seating import Seating, chosen, kinds_in
from planner.app.day.serving.assign import Assignment, assign, shortage
from planner.app.day.serving.bays import bays_of
from planner.app.day.serving.chosen import Choice, Close
from planner.app.day.serving.drives import planned_drive_s, trip_of
from planner.app.day.serving.judge import Asked, Judge, asked_of
from planner.app.day.serving.options import Options, options_of, suiting
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import Bools, Floats, Weather
from planner.store.dayrecords import CLOSINGS, Day
from planner.store.dayrules import day_rules

FIRST_SAMPLES, SECOND_SAMPLES, TABLE_SAMPLES, CLOSE_SAMPLES = 8, 32, 128, 256
SHOWN_BOARDS = 2
LARGE = 100
"""With more buyers than this a plan within LARGE_GAP of the best will do."""

LARGE_GAP = 0.01


def plan_day(
    day: Day,
    weather: Weather,
    catalogue: Catalogue,
    *,
    seed: int = 1,
    tolerance: Tolerance | None = None,
    judge: Judge | None = None,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Iterator[DayPlan]:
    """A first board by few samples, a second by more, the last with everything chosen looked at closely.

    Parameters
    ----------
    tolerance : the settings'; the day's own goes before it
    judge : of this very day, where somebody wants to keep it for a repair

    Raises
    ------
    InputError : a place nobody knows
    """
    judge = judge or judge_of(day, weather, catalogue, seed)
    asked, settled = judge.asked, settled_tolerance(day, tolerance)
    gap = LARGE_GAP if len(day.buyers) > LARGE else 0.0
    wanted = wanted_cells(asked)
    counts = sorted({min(count, TABLE_SAMPLES) for count in (FIRST_SAMPLES, SECOND_SAMPLES, TABLE_SAMPLES)})

    def fill_more(number: int, hands: Executor) -> None:
        first, count = counts[number - 1], counts[number]
        part = _part(on_progress, number, len(counts) + 1)
        judge.fill(slice(0, first), wanted & ~judge.tried(1), hands, None, should_stop)
        judge.fill(slice(first, count), wanted & judge.open(first, settled), hands, part, should_stop)

    with at_hand(executor) as hands, ThreadPoolExecutor(1) as beside:
        beside.submit(import_module, "scipy.optimize")  # what assigns takes half a second to be read
        part = _part(on_progress, 0, len(counts) + 1)
        judge.fill(slice(0, counts[0]), _without_evening(asked, wanted), hands, part, should_stop)
        for number, count in enumerate(counts, 1):
            share, met = judge.table.shares(asked, count)
            filling = beside.submit(fill_more, number, hands) if number < len(counts) else None
            if number <= SHOWN_BOARDS:  # the board is made while the next samples are marched
                options = options_of(asked, share, count, settled, None)
                found = assign(options.problem, gap, quick=True)
                closely = [_so_far(asked, share, choice, count) for choice in chosen(asked, options, found)]
                yield _plan(asked, settled, options, found, closely, seed, count, met, finished=False)
            if filling is not None:
                filling.result()
        yield closely_planned(judge, share, settled, seed, gap, hands, on_progress, should_stop)


def judge_of(day: Day, weather: Weather, catalogue: Catalogue, seed: int = 1) -> Judge:
    """What judges a day, with an empty table. Raises InputError for places nobody knows."""
    return Judge(asked_of(day, weather, catalogue), np.random.default_rng(seed), TABLE_SAMPLES)


def _part(on_progress: Progress | None, number: int, parts: int) -> Progress | None:
    return (lambda share: on_progress((number + share) / parts)) if on_progress else None


def settled_tolerance(day: Day, settings: Tolerance | None = None) -> Tolerance:
    """The day's own tolerance, else the settings', else the usual."""
    trip = trip_of(day, (), (), with_stop=False)
    if settings is None:
        return tolerance_of(trip)
    return tolerance_of(trip, settings.harm_of_100, settings.boxes_of_100)


def narrowed(
    judge: Judge,
    buyers: Iterable[int] | None,
    tolerance: Tolerance,
    executor: Executor | None = None,
    should_stop: Stop | None = None,
) -> None:
    """Fill the table for some buyers, or all: in few samples first, in the rest what is not past the tolerance by then.

    What is filled already is left as it is.
    """
    count = judge.table.samples
    wanted, first = wanted_cells(judge.asked, buyers) & ~judge.tried(1), min(FIRST_SAMPLES, count)
    judge.fill(slice(0, first), wanted, executor, None, should_stop)
    judge.fill(slice(first, count), wanted & judge.open(first, tolerance), executor, None, should_stop)


def wanted_cells(asked: Asked, buyers: Iterable[int] | None = None) -> Bools:
    """Which cells of the table any of some buyers needs, or anybody, (ride, knot, closing, kind, set-up).

    Boxes that are kept for somebody ride with nobody else.
    """
    knots = asked.weight.sum(axis=1) > 0.0
    shape = len(asked.rides), asked.knots.size, len(CLOSINGS), len(asked.kinds), len(asked.setups)
    wanted = np.zeros(shape, dtype=bool)
    for number in range(len(asked.day.buyers)) if buyers is None else buyers:
        suits = suiting(asked, number)
        needed = (asked.weight[:, suits] > 0.0).any(axis=1).T & knots.T
        mine = np.array([kind.buyer in (None, number) for kind in asked.kinds])
        wanted[asked.ride[number]] |= needed[:, :, None, None] & mine[:, None]
    changed = np.array(
        [[_changes(asked, k, u) for u in range(len(asked.setups))] for k in range(len(asked.kinds))]
    )
    return np.asarray(wanted & changed.reshape(1, 1, 1, len(asked.kinds), len(asked.setups)))


def _changes(asked: Asked, kind: int, setup: int) -> bool:
    """Whether a set-up changes a kind of box, or is the load as declared."""
    group = asked.kinds[kind].group
    box = asked.catalogue.box_types[group.box_type]
    return asked.setups[setup] is AS_DECLARED or asked.setups[setup].change(group, box) != group


def _without_evening(asked: Asked, wanted: Bools) -> Bools:
    """The first board leaves boxes shut the evening before to the next one: they stand longest, which takes longest."""
    if set(asked.day.closings) == {"evening_before"}:
        return wanted
    later = wanted.copy()
    later[:, :, CLOSINGS.index("evening_before")] = False
    return later


# -- looking closely -----------------------------------------------------------------------------


def closely_planned(
    judge: Judge,
    share: Floats,
    tolerance: Tolerance,
    seed: int,
    gap: float,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> DayPlan:
    """The plan with every choice within the tolerance by its own figures."""
    _, met = judge.table.shares(judge.asked, judge.table.samples)
    seating = Seating(judge, share, tolerance, CLOSE_SAMPLES, executor, should_stop)
    seated = seating.seated(gap, on_progress)
    looked = {close.choice.buyer: close for close in seating.known.values() if close.standing != "within"}
    return _plan(
        judge.asked,
        tolerance,
        seated.options,
        seated.found,
        seated.closely,
        seed,
        CLOSE_SAMPLES,
        met,
        finished=True,
        looked=looked,
        executor=executor,
    )


def _so_far(asked: Asked, share: Floats, choice: Choice, count: int) -> Close:
    """A choice by the figures of the table."""
    kinds = list(kinds_in(asked, choice.boxes))
    of = share[asked.ride[choice.buyer], choice.closing, choice.slot, kinds, choice.setup]
    buyer = asked.day.buyers[choice.buyer]
    leave_s = float(asked.slot_s[choice.slot]) + asked.day.slots.loading_s
    stop_s = day_rules().first_timer_stop_s if buyer.first_timer else 0.0
    arrive_s = leave_s + planned_drive_s(buyer, float(asked.drive_s[choice.buyer])) + stop_s
    hits = float(of.max()) * count
    return Close(
        choice,
        "open",
        span_of(hits, count),
        span_of(float(of.mean()) * count, count, float(len(choice.boxes)), BOX_DIGITS),
        count,
        leave_s,
        arrive_s,
        arrive_s + asked.day.slots.opening_s,
        float(asked.closed_s[choice.closing, choice.slot]),
    )


# -- the record ----------------------------------------------------------------------------------


def _plan(
    asked: Asked,
    tolerance: Tolerance,
    options: Options,
    found: Assignment,
    closely: Sequence[Close],
    seed: int,
    samples: int,
    met: Floats,
    *,
    finished: bool,
    looked: Mapping[int, Close] | None = None,
    executor: Executor | None = None,
) -> DayPlan:
    appointments = tuple(sorted(appointments_of(asked, closely), key=lambda one: (one.slot_s, one.order)))
    served = {one.buyer for one in appointments}
    all_served = len(served) == len(asked.day.buyers)
    missing = None
    if finished and not all_served:
        missing = shortage(options.problem, options.sort, len(served), executor)
    is_short = missing is not None or not finished
    put_off = [
        put_off_of(asked, options, number, (looked or {}).get(number), is_short, met)
        for number in range(len(asked.day.buyers))
        if number not in served
    ]
    return DayPlan(
        day=asked.day,
        weather=asked.weather,
        tolerance=tolerance,
        appointments=appointments,
        put_off=tuple(put_off),
        short=tuple(short_of(asked, options, missing.missing)) if missing else (),
        short_serves=missing.more if missing else 0,
        samples=samples,
        seed=seed,
        finished=finished,
        exact=found.exact,
    )


def short_of(asked: Asked, options: Options, missing: Sequence[tuple[int, float]]) -> Iterator[Short]:
    for row, amount in missing:
        at = int(options.at[row])
        yield Short(SORTS[int(options.sort[row])], amount, float(asked.slot_s[at]) if at >= 0 else None)


def put_off_of(
    asked: Asked, options: Options, number: int, looked: Close | None, is_short: bool, met: Floats
) -> PutOff:
    """Why a buyer is put off: no slot suits, nothing is known, harm wherever was looked, or something is short.

    Unknown without a figure is for want of weather; with one, the variants leave it open.

    ``met`` how many samples are behind the table's figures, (ride, closing, slot, kind, set-up).
    """
    least = float(options.least[number])
    samples = (
        0 if math.isnan(least) else round(float(met[asked.ride[number]][tuple(options.least_at[number])]))
    )
    shown = None if math.isnan(least) else round(100.0 * least, 1)
    why: WhyName = "harm"
    if not suiting(asked, number).any():
        why = "times"
    elif shown is None or (looked is not None and looked.standing == "unknown"):
        why, shown, samples = "unknown", None, 0
    elif is_short and (options.problem.buyer == number).any():
        why = "short"
    elif looked is not None and looked.harm_of_100 is not None:
        why, shown = ("unknown" if looked.standing == "open" else "harm"), looked.harm_of_100.value
        samples = looked.samples
    decision: DecisionName = "cannot_tell" if why == "unknown" else "do_not_go"
    return PutOff(number, decision, why, shown, samples=samples)


def appointments_of(
    asked: Asked, closely: Sequence[Close], held: Mapping[int, tuple[int, ...]] | None = None
) -> Iterator[Appointment]:
    """What was chosen as appointments, in no order; bays that somebody ``held`` stay his."""
    day = asked.day
    bays = bays_of(asked, closely, held)
    order: dict[int, int] = {}
    for close in sorted(closely, key=lambda one: (one.choice.slot, -asked.drive_s[one.choice.buyer])):
        choice = close.choice
        order[choice.slot] = order.get(choice.slot, 0) + 1
        told_s = day.buyers[choice.buyer].told_s
        slot_s = float(asked.slot_s[choice.slot])
        setup = asked.setups[choice.setup].name
        declared = setup == AS_DECLARED.name
        decision: DecisionName = "go" if declared else "go_if"
        if close.standing == "unknown":
            decision = "cannot_tell"
        assert close.harm_of_100 is not None
        assert close.boxes_harmed is not None
        yield Appointment(
            buyer=choice.buyer,
            slot_s=slot_s,
            boxes=tuple(box.name for box in choice.boxes),
            setup=setup,
            closing=CLOSINGS[choice.closing],
            closed_s=close.closed_s,
            leave_s=close.leave_s,
            arrive_s=close.arrive_s,
            open_s=close.open_s,
            decision=decision,
            harm_of_100=close.harm_of_100,
            boxes_harmed=close.boxes_harmed,
            samples=close.samples,
            bays=bays.get(choice.buyer, ()),
            order=order[choice.slot],
            moved_from_s=told_s if not math.isnan(told_s) and told_s != slot_s else None,
        )
