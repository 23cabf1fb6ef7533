"""From judged rides to the options of every buyer: what is safe enough, how much nuisance it is, what it uses up."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator
from dataclasses import dataclass

import numpy as np
from scipy.sparse import csr_matrix

from planner.app.answer.records import Tolerance
from planner.app.answer.tally import interval
from planner.app.day.records import SORTS, ShortSort
from planner.app.day.serving.assign import HARM_STEP, Problem
from planner.app.day.serving.judge import Asked
from planner.app.plan.closings import cost_h
from planner.model.closing import FLIGHT_SUN_DEG, at_home_share
from planner.model.records import Bools, Floats, Ints
from planner.model.sun import sun_position
from planner.store.dayrecords import CLOSINGS
from planner.store.dayrules import day_rules

HOUR_S = 3600.0
EVENING, DAWN, HANDOVER = range(3)

Struck = tuple[int, int, int, int]
"""Buyer, slot, closing, set-up that were looked at closely and found wanting."""


@dataclass(frozen=True)
class Options:
    """A problem with what its rows mean.

    ``slot``, ``closing``, ``setup`` (option,) numbers; ``sort`` (row of limits,) index into SORTS, ``at`` the slot it
    belongs to, -1 all day. ``least`` (buyer,) the least share of harm in any slot that suits, NaN unknown.
    """

    problem: Problem
    slot: Ints
    closing: Ints
    setup: Ints
    sort: Ints
    at: Ints
    least: Floats


def options_of(
    asked: Asked,
    share: Floats,
    samples: int,
    tolerance: Tolerance,
    struck: Collection[Struck] = (),
    moved_counts: bool = False,
    most: Floats | None = None,
) -> Options:
    """Every way in which no lower end of an interval lies above the tolerance, or harm is no more than ``most``.

    Parameters
    ----------
    share : (ride, closing, slot, kind, set-up) of samples with harm, NaN unknown
    struck : ways that were found wanting
    moved_counts : whether told appointments are to stay where they are
    most : (buyer,) harm of 100 that is worth a closer look
    """
    rows = _Rows(asked)
    members: dict[tuple[bool, ...], int] = {}
    least = np.full(len(asked.day.buyers), np.nan)
    for buyer in range(len(asked.day.buyers)):
        may = _may_be_good(
            share[asked.ride[buyer]], samples, tolerance, None if most is None else most[buyer]
        )
        least[buyer] = _add(asked, share, may, struck, buyer, rows, members)
    told = np.array([b.told_s for b in asked.day.buyers])
    column = rows.columns()
    moved = np.zeros(column["buyer"].size, dtype=bool)
    if moved_counts:
        its = told[column["buyer"]]
        moved = ~np.isnan(its) & (asked.slot_s[column["slot"]] != its)
    problem = Problem(
        buyers=len(asked.day.buyers),
        buyer=column["buyer"],
        need=column["need"],
        harm=rows.harm(),
        care=rows.care(),
        moved=moved,
        uses=rows.uses(),
        limit=rows.limit,
        pool=column["pool"],
        members=np.array(list(members) or [(True,) * len(asked.kinds)], dtype=bool).reshape(
            -1, len(asked.kinds)
        ),
        kind_limit=np.array([float(len(kind.boxes)) for kind in asked.kinds]),
        stays_from=column["stays_from"],
        stays_to=column["stays_to"],
        stay_limit=rows.bays,
    )
    kinds, slots = len(asked.kinds), asked.slot_s.size
    sort = [*rows.sorts, *[SORTS.index("kind")] * kinds, *[SORTS.index("shade")] * slots]
    at = [*rows.at, *[-1] * kinds, *range(slots)]
    return Options(
        problem, column["slot"], column["closing"], column["setup"], np.array(sort), np.array(at), least
    )


class _Rows:
    """Options as they are found, and the limits of the day."""

    NAMES = ("buyer", "need", "slot", "closing", "setup", "pool", "stays_from", "stays_to")

    def __init__(self, asked: Asked) -> None:
        day, slots = asked.day, asked.slot_s.size
        hands, stock, many = day.hands, day.stock, float(len(day.boxes) + 1)
        each = day_rules().straps_each
        self.a_slot = hands.boxes_in(day.slots.lasts_s, hands.handing_s)
        rows: list[tuple[ShortSort, int, float]] = [("hands", s, float(self.a_slot)) for s in range(slots)]
        rows += [
            ("screens", -1, float(stock.roof_screens)),
            ("straps", -1, many if stock.straps is None else float(stock.straps // each)),
            (
                "boxes",
                -1,
                float(min(len(day.boxes_that_may_go), many if stock.boxes is None else stock.boxes)),
            ),
            ("evening", -1, float(hands.boxes_in(hands.evening_s, hands.closing_s))),
            ("dawn", -1, float(hands.boxes_in(hands.dawn_s, hands.closing_s))),
        ]
        self.sorts = [SORTS.index(sort) for sort, _, _ in rows]
        self.at = [at for _, at, _ in rows]
        self.limit = np.array([limit for _, _, limit in rows])
        self.first = {sort: self.sorts.index(SORTS.index(sort)) for sort in SORTS[:6]}
        height = sun_position(asked.slot_s, day.yard.lat_deg, day.yard.lon_deg).elevation_deg
        self.sun_up = np.asarray(height > FLIGHT_SUN_DEG)
        shady = [not day.shade_spans or any(a <= s < b for a, b in day.shade_spans) for s in asked.slot_s]
        self.bays = np.where(np.array(shady) | ~self.sun_up, float(day.bays), 0.0)
        shut_sun = sun_position(asked.closed_s, day.yard.lat_deg, day.yard.lon_deg).elevation_deg
        shut_h = (asked.slot_s - asked.closed_s) / HOUR_S
        home = at_home_share(shut_sun)
        costs = [cost_h(*each) for each in zip(shut_h.ravel().tolist(), home.ravel().tolist(), strict=True)]
        self.closing_h = np.reshape(costs, shut_h.shape)
        """What each closing costs in hours, (closing, slot)."""
        self.ready = np.array([[kind.ready_s <= s for kind in asked.kinds] for s in asked.slot_s])
        self.shut = [
            [_stands_shut(asked, self.sun_up, closing, slot) for slot in range(slots)]
            for closing in range(len(CLOSINGS))
        ]
        self.follows = np.append(np.diff(asked.slot_s) < day.slots.lasts_s + 1.0, False)
        self._rows: list[tuple[int, ...]] = []
        self._harm: list[float] = []
        self._care: list[float] = []
        self._uses: list[tuple[int, int, float]] = []

    def add(self, row: tuple[int, ...], harm: float, care: float, uses: Iterator[tuple[int, float]]) -> None:
        at = len(self._rows)
        self._rows.append(row)
        self._harm.append(harm)
        self._care.append(care)
        self._uses += [(resource, at, amount) for resource, amount in uses]

    def columns(self) -> dict[str, Ints]:
        table = np.array(self._rows, dtype=np.int64).reshape(-1, len(self.NAMES))
        return dict(zip(self.NAMES, table.T, strict=True))

    def harm(self) -> Floats:
        return np.array(self._harm, dtype=np.float64)

    def care(self) -> Floats:
        return np.array(self._care, dtype=np.float64)

    def uses(self) -> csr_matrix:
        shape = self.limit.size, len(self._rows)
        if not self._uses:
            return csr_matrix(shape, dtype=np.float64)
        resource, at, amount = zip(*self._uses, strict=True)
        return csr_matrix((np.array(amount), (resource, at)), shape=shape)

    def hands(self, slot: int, boxes: int) -> list[tuple[int, float]] | None:
        """What handing over so many boxes takes of this slot and those right after; None where they do not suffice."""
        taken = []
        while boxes > self.a_slot > 0 and self.follows[slot]:
            taken.append((slot, float(self.a_slot)))
            boxes, slot = boxes - self.a_slot, slot + 1
        if boxes > self.a_slot and taken:
            return None
        return [*taken, (slot, float(boxes))]


def _may_be_good(share: Floats, samples: int, tolerance: Tolerance, most: float | None) -> Bools:
    """Which shares of a ride are worth offering; unknown ones are not."""
    known = np.nan_to_num(share, nan=1.0)
    if most is not None:
        return np.asarray(100.0 * known <= most)
    allowed_low = min(tolerance.harm_of_100, tolerance.boxes_of_100)
    lows = np.array([interval(float(hits), samples)[0] for hits in range(samples + 1)])
    return np.asarray(100.0 * np.interp(known * samples, np.arange(samples + 1), lows) <= allowed_low)


def _add(
    asked: Asked,
    share: Floats,
    may_be_good: Bools,
    struck: Collection[Struck],
    number: int,
    rows: _Rows,
    members: dict[tuple[bool, ...], int],
) -> float:
    """All options of one buyer; the least share of harm among what suits, NaN where nothing is known."""
    buyer, ride = asked.day.buyers[number], share[asked.ride[number]]
    may = _may_have(asked, rows, number)[None, :, :, None] & ~np.isnan(ride)
    if buyer.setup:
        may &= np.array([setup.name == buyer.setup for setup in asked.setups])
    least = float(ride[may].min()) if may.any() else math.nan
    good = may & may_be_good
    if not buyer.setup:  # a set-up that changes nothing only makes work
        with np.errstate(invalid="ignore"):
            good[..., 1:] &= ~(ride[..., :1] <= ride[..., 1:])
    level = np.where(good, np.round(buyer.boxes * np.nan_to_num(ride) / HARM_STEP), np.inf)
    care = _care(asked, rows, number)
    # whoever shuts at handover needs nothing that others do not need: no shade, no hands beforehand
    at_handover = (level[HANDOVER] <= level[:HANDOVER]).all(axis=2) & (care[HANDOVER] <= care[:HANDOVER])
    good[:HANDOVER] &= ~at_handover[:, :, None, :]
    for closing, slot, setup in np.argwhere(good.any(axis=2)).tolist():
        hands = rows.hands(slot, buyer.boxes)
        if hands is None or (number, slot, closing, setup) in struck:
            continue
        levels = [
            at if is_good else -1.0
            for at, is_good in zip(
                level[closing, slot, :, setup].tolist(), good[closing, slot, :, setup].tolist(), strict=True
            )
        ]
        first, last = rows.shut[closing][slot]
        for at in sorted({at for at in levels if at >= 0.0}):
            pool = members.setdefault(tuple(each == at for each in levels), len(members))
            row = (number, buyer.boxes, slot, closing, setup, pool, first, last)
            uses = _uses(rows, hands, buyer.boxes, closing, asked.setups[setup].name)
            rows.add(row, at * HARM_STEP, float(care[closing, slot, setup]), uses)
    return least


def _may_have(asked: Asked, rows: _Rows, number: int) -> Bools:
    """Which kinds of boxes a buyer may have in which slot, (slot, kind)."""
    mine = np.array([kind.buyer in (None, number) for kind in asked.kinds])
    if asked.day.buyers[number].boxes_named:
        mine = np.array([kind.buyer == number for kind in asked.kinds])
    return np.asarray(suiting(asked, number)[:, None] & rows.ready & mine[None, :])


def suiting(asked: Asked, number: int) -> Bools:
    """The slots that suit a buyer, (slot,): within his times, and never before what he was told."""
    buyer = asked.day.buyers[number]
    suits = np.ones(asked.slot_s.size, dtype=bool)
    if buyer.spans:
        suits = np.array([any(a <= s < b for a, b in buyer.spans) for s in asked.slot_s])
    if not math.isnan(buyer.told_s):
        suits &= asked.slot_s >= buyer.told_s
    return suits


def _uses(
    rows: _Rows, hands: list[tuple[int, float]], boxes: int, closing: int, setup: str
) -> Iterator[tuple[int, float]]:
    yield from hands
    yield rows.first["straps"], float(boxes)
    yield rows.first["boxes"], float(boxes)
    if setup == "roof_screen":
        yield rows.first["screens"], float(boxes)
    if closing == EVENING:
        yield rows.first["evening"], float(boxes)
    if closing == DAWN:
        yield rows.first["dawn"], float(boxes)


def _stands_shut(asked: Asked, sun_up: Bools, closing: int, slot: int) -> tuple[int, int]:
    """First and last slot at which the boxes stand shut while the sun is up; -1, -1 where at none."""
    if closing == HANDOVER:
        return -1, -1
    closed_s = asked.closed_s[closing, slot]
    waits = np.flatnonzero((asked.slot_s >= closed_s) & sun_up & (np.arange(asked.slot_s.size) <= slot))
    return (int(waits[0]), int(waits[-1])) if waits.size else (-1, -1)


def _care(asked: Asked, rows: _Rows, number: int) -> Floats:
    """What is left to choose by when nobody more is put off and harm is least, (closing, slot, set-up); above 0."""
    rules, buyer = day_rules(), asked.day.buyers[number]
    off_h = 0.0 if math.isnan(buyer.wish_s) else np.abs(asked.slot_s - buyer.wish_s) / HOUR_S
    late_h = (asked.slot_s - asked.slot_s[0]) / HOUR_S * float(asked.drive_s[number]) / HOUR_S
    of_slot = rules.care_wish_h * off_h + rules.care_late_h * late_h
    of_closing = buyer.boxes * rules.care_shut_h * rows.closing_h
    effort = np.array([setup.effort for setup in asked.setups])
    return np.asarray((of_slot + of_closing)[:, :, None] + rules.care_effort * effort * buyer.boxes)
