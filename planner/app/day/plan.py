"""Plans a collection day: judges every way, assigns, looks closely at what was chosen, and says what is missing."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor

import numpy as np

from planner.app.answer.ask import tolerance_of
from planner.app.answer.records import DecisionName, Tolerance
from planner.app.answer.tally import BOX_DIGITS, span_of
from planner.app.common.executors import at_hand
from planner.app.common.progress import Progress, Stop
from planner.app.day.records import SORTS, Appointment, DayPlan, PutOff, Short, WhyName
from planner.app.day.serving.assign import Assignment, Begun, assign, drawn, most_served, shortage
from planner.app.day.serving.bays import bays_of
from planner.app.day.serving.chosen import Choice, Close, looked_at
from planner.app.day.serving.drives import planned_drive_s, trip_of
from planner.app.day.serving.judge import Asked, Judge, asked_of
from planner.app.day.serving.kinds import strength
from planner.app.day.serving.options import Options, options_of, suiting
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.model.records import Bools, Floats, Weather
from planner.store.dayrecords import CLOSINGS, Day, SaleBox
from planner.store.dayrules import day_rules

FIRST_SAMPLES, SECOND_SAMPLES, TABLE_SAMPLES, CLOSE_SAMPLES = 8, 32, 128, 256
SHOWN_BOARDS = 2
LARGE = 40
"""With more buyers than this a plan within LARGE_GAP of the best will do."""

LARGE_GAP = 0.01
ROUNDS, EXACT_ROUNDS, FEW_EXACT = 16, 4, 2
"""How often what close looking strikes out is assigned anew, how often of these as well as can be, and how often of a
large day that could go as it is."""

PROMISING, UNLIKELY = 1.0, 1.5
"""Harm beside what is accepted, by the table: what is looked at first, and what where somebody finds no place else."""

OTHER_KIND = 100.0
"""What a box of another kind than somebody had costs beside hours of driving: more than any drive."""

WARM_C = 12.0
"""On warmer days the strong boxes go the short ways, on colder ones the weak (common practice, no source)."""


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
    wanted, first = wanted_cells(asked), 0
    choices: list[Choice] = []
    counts = sorted({min(count, TABLE_SAMPLES) for count in (FIRST_SAMPLES, SECOND_SAMPLES, TABLE_SAMPLES)})
    with at_hand(executor) as hands:
        for number, count in enumerate(counts):
            part = _part(on_progress, number, len(counts) + 1)
            if not number:
                judge.fill(slice(first, count), _without_evening(asked, wanted), hands, part, should_stop)
            else:
                judge.fill(slice(0, first), wanted & ~judge.tried(1), hands, None, should_stop)
                judge.fill(slice(first, count), wanted & judge.open(first, settled), hands, part, should_stop)
            share, met = judge.table.shares(asked, count)
            if number < SHOWN_BOARDS:
                options = options_of(asked, share, count, settled, None)
                found = assign(
                    options.problem, gap, quick=True, begun=begun_with(asked, options, choices, len(choices))
                )
                choices = chosen(asked, options, found)
                closely = [_so_far(asked, share, choice, count) for choice in choices]
                yield _plan(asked, settled, options, found, closely, seed, count, met, finished=False)
            first = count
        yield closely_planned(judge, share, settled, seed, gap, hands, on_progress, should_stop)


def begun_with(asked: Asked, options: Options, choices: Sequence[Choice], served: int) -> Begun | None:
    """What was chosen before as options of now, to go on from: who has one no more is left out. None for nobody."""
    problem, taken = options.problem, np.zeros(options.problem.options, dtype=bool)
    for choice in choices:
        kinds = list(kinds_in(asked, choice.boxes))
        alike = (problem.buyer == choice.buyer) & (options.slot == choice.slot)
        alike &= (options.closing == choice.closing) & (options.setup == choice.setup)
        at = np.flatnonzero(alike)
        taken[at[problem.members[problem.pool[at]][:, kinds].all(axis=1)][:1]] = True
    return Begun(taken, served) if taken.any() else None


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


# -- which boxes ---------------------------------------------------------------------------------


def chosen(
    asked: Asked, options: Options, found: Assignment, had: Mapping[int, Collection[str]] | None = None
) -> list[Choice]:
    """The very boxes for everybody served: in warmth the strong ones to the short drives, in the cold to the long.

    Whoever ``had`` boxes already keeps them where that can be.
    """
    had = had or {}
    taken = found.taken
    problem = options.problem
    if not taken.size:
        return []
    warm = is_warm(asked)
    far = asked.drive_s[problem.buyer[taken]] / 3600.0
    rank = np.argsort(np.argsort([-strength(kind.group) for kind in asked.kinds])) / len(asked.kinds)
    cost = np.outer(far, (1.0 - rank) if warm else rank)
    own = np.array(
        [
            [sum(box.name in had.get(buyer, ()) for box in kind.boxes) for kind in asked.kinds]
            for buyer in problem.buyer[taken].tolist()
        ]
    )
    counts = drawn(problem, taken, cost + 1e-6 + np.where(own > 0, 0.0, OTHER_KIND if had else 0.0))
    if counts is None:
        return []
    boxes: list[list[SaleBox]] = [[] for _ in taken]
    for kind, column in enumerate(counts.T):
        getting = sorted(np.flatnonzero(column).tolist(), key=lambda row: far[row] if warm else -far[row])
        supply = list(asked.kinds[kind].boxes)
        for row in getting:
            names = had.get(int(problem.buyer[taken[row]]), ())
            its = [box for box in supply if box.name in names][: int(column[row])]
            boxes[row] += its
            supply = [box for box in supply if box not in its]
        promised = {name for names in had.values() for name in names}
        supply.sort(key=lambda box: box.name in promised)
        for row in getting:
            more = int(column[row]) - sum(box in asked.kinds[kind].boxes for box in boxes[row])
            boxes[row] += [supply.pop(0) for _ in range(more)]
    return [
        Choice(
            int(problem.buyer[o]),
            int(options.slot[o]),
            int(options.closing[o]),
            int(options.setup[o]),
            tuple(b),
        )
        for o, b in zip(taken, boxes, strict=True)
    ]


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
    """The plan with every choice within the tolerance by its own figures: what is not is struck out and replaced.

    First by good assignments found at once; who finds no place then gets a look at what is less promising too; the
    last assignments are the best there are.
    """
    asked, struck = judge.asked, nothing_struck(judge.asked)
    _, met = judge.table.shares(asked, judge.table.samples)
    known: dict[Choice, Close] = judge.looked.setdefault(tolerance, {})
    allowed = min(tolerance.harm_of_100, tolerance.boxes_of_100)
    most = np.full(len(asked.day.buyers), PROMISING * allowed)
    closely: list[Close] = []
    safe: tuple[Options, Assignment, list[Close]] | None = None
    quick, again, round_, exactly = True, True, 0, 0
    while True:
        options = options_of(asked, share, judge.table.samples, tolerance, struck, most)
        within = [close.choice for close in closely if close.standing == "within"]
        begun = begun_with(asked, options, within, len(closely))
        found = assign(options.problem, gap, quick=quick, begun=begun)
        choices = chosen(asked, options, found)
        new = [choice for choice in choices if choice not in known]
        for close in looked_at(judge, new, tolerance, CLOSE_SAMPLES, executor, should_stop):
            known[close.choice] = close
        closely = [known[choice] for choice in choices]
        failed = [close.choice for close in closely if close.standing != "within"]
        round_, exactly = round_ + 1, exactly + (not quick)
        if on_progress:
            on_progress(1.0 - 0.25 * 0.7**round_)
        if not failed and (safe is None or len(closely) >= len(safe[2])):
            safe = options, found, closely
        done = not failed and not quick
        enough = gap > 0.0 and safe is not None and exactly >= FEW_EXACT
        if done or enough or round_ == ROUNDS:  # who is not safe now is put off, or all stays as it was
            if safe is not None and len(safe[2]) >= len(closely) - len(failed):
                options, found, closely = safe
            closely = [close for close in closely if close.standing == "within"]
            kept = [close.choice.buyer for close in closely]
            option = np.where(np.isin(np.arange(len(asked.day.buyers)), kept), found.option, -1)
            off = len(kept) < len(asked.day.buyers)
            proved = found.exact if done else off and len(kept) >= most_served(options.problem)
            found = Assignment(option, exact=proved)
            break
        for choice in failed:
            strike(struck, asked, share, choice)
        if not failed and again and found.put_off.size:
            most[found.put_off], again = UNLIKELY * allowed, False
        elif not failed or round_ >= ROUNDS - EXACT_ROUNDS:
            quick = False
    looked = {close.choice.buyer: close for close in known.values() if close.standing != "within"}
    return _plan(
        asked, tolerance, options, found, closely, seed, CLOSE_SAMPLES, met, finished=True, looked=looked
    )


def nothing_struck(asked: Asked) -> Bools:
    """Where it is noted what was found wanting, (buyer, closing, slot, kind, set-up)."""
    shape = len(asked.day.buyers), len(CLOSINGS), asked.slot_s.size, len(asked.kinds), len(asked.setups)
    return np.zeros(shape, dtype=bool)


def strike(struck: Bools, asked: Asked, share: Floats, choice: Choice) -> None:
    """Strike out what was found wanting, and what fares no better for the same buyer: it needs no looking at.

    Of several boxes the worst is to blame. No better are boxes shut and set up alike with as much harm in the table;
    where the table shows none of either, boxes of the kind or stronger ones at this hour and at warmer ones on a warm
    day, boxes of the kind at colder hours on a cold one.
    """
    of = share[asked.ride[choice.buyer], choice.closing][:, :, choice.setup]
    kinds = np.array(list(dict.fromkeys(kinds_in(asked, choice.boxes))))
    mine = float(np.nan_to_num(of[choice.slot, kinds]).max())
    worst = kinds[np.nan_to_num(of[choice.slot, kinds]) >= mine]
    bad = of >= mine
    if mine <= 0.0:
        air_c = np.interp(asked.slot_s, asked.weather.time_s, asked.weather.air_c[:, 0])
        warm = is_warm(asked)
        worse = air_c >= air_c[choice.slot] if warm else air_c <= air_c[choice.slot]
        strong = np.array([strength(kind.group) for kind in asked.kinds])
        like = strong >= strong[worst].max() if warm else np.isin(np.arange(strong.size), worst)
        bad = (of > mine) | ((of == mine) & worse[:, None] & like)
    bad[choice.slot, worst] = True
    struck[choice.buyer, choice.closing, :, :, choice.setup] |= bad


def kinds_in(asked: Asked, boxes: Iterable[SaleBox]) -> Iterator[int]:
    """The kind of each box."""
    for box in boxes:
        yield next(k for k, kind in enumerate(asked.kinds) if box in kind.boxes)


def is_warm(asked: Asked) -> bool:
    """Whether heat is what the day is about."""
    return float(np.nanmean(asked.weather.air_c)) >= WARM_C


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
) -> DayPlan:
    appointments = tuple(sorted(appointments_of(asked, closely), key=lambda one: (one.slot_s, one.order)))
    served = {one.buyer for one in appointments}
    all_served = len(served) == len(asked.day.buyers)
    missing = None if all_served or not finished else shortage(options.problem, options.sort, len(served))
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
