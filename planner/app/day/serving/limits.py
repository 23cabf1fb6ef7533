"""What there is on a day (hands of a slot, screens, straps, boxes, time to shut boxes, shade), and what uses it up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import scipy  # as where options are assigned

from planner.app.day.records import SORTS, ShortSort
from planner.app.day.serving.judge import Asked
from planner.app.plan.closings import cost_h, flies_home, too_cold_to_fly
from planner.model.closing import FLIGHT_SUN_DEG, at_home_share
from planner.model.records import Bools, Floats, Ints
from planner.model.sun import sun_position
from planner.store.dayrecords import CLOSINGS
from planner.store.dayrules import day_rules

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

HOUR_S = 3600.0
EVENING, DAWN, HANDOVER = range(3)
_EACH: tuple[ShortSort, ...] = ("straps", "boxes")
"""What every box handed over takes one of."""


class Limits:
    """The limits of a day.

    ``limit`` (resource,) of ``sorts`` (indices into SORTS), ``at`` the slot each belongs to, -1 all day; ``bays``
    (slot,) in shade; ``closing_h`` (closing, slot) what each closing costs in hours; ``ready`` (slot, kind); ``shut``
    (closing, slot, 2) first and last slot at which boxes stand shut while the sun is up, -1 where at none.
    """

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
        away = ~too_cold_to_fly(asked.weather, 0.0, asked.closed_s)
        away &= any(flies_home(kind.group, asked.catalogue) for kind in asked.kinds)
        home = np.where(away, at_home_share(shut_sun), 1.0)
        costs = [cost_h(*each) for each in zip(shut_h.ravel().tolist(), home.ravel().tolist(), strict=True)]
        self.closing_h = np.reshape(costs, shut_h.shape)
        self.ready = np.array([[kind.ready_s <= s for kind in asked.kinds] for s in asked.slot_s])
        self.shut = np.array(
            [
                [_stands_shut(asked, self.sun_up, closing, slot) for slot in range(slots)]
                for closing in range(len(CLOSINGS))
            ],
            dtype=np.int64,
        )
        self.follows = np.append(np.diff(asked.slot_s) < day.slots.lasts_s + 1.0, False)
        self._handed: dict[int, tuple[Bools, Floats]] = {}

    def can_be_handed(self, boxes: int) -> Bools:
        """In which slots so many boxes can be handed over, those right after helping out, (slot,)."""
        return self._hands(boxes)[0]

    def _hands(self, boxes: int) -> tuple[Bools, Floats]:
        """Whether hands suffice, (slot,), and what handing over takes of every slot, (slot, slot taken from)."""
        if boxes not in self._handed:
            slots = self.follows.size
            can, taken = np.ones(slots, dtype=bool), np.zeros((slots, slots))
            for first in range(slots):
                left, slot = boxes, first
                while left > self.a_slot > 0 and self.follows[slot]:
                    taken[first, slot] = self.a_slot
                    left, slot = left - self.a_slot, slot + 1
                taken[first, slot] = left
                can[first] = left <= self.a_slot or slot == first
            self._handed[boxes] = can, taken
        return self._handed[boxes]

    def uses(self, slot: Ints, need: Ints, closing: Ints, setups: Sequence[str], setup: Ints) -> csr_matrix:
        """What options use up of every resource, (resource, option)."""
        boxes, at = need.astype(np.float64), np.arange(need.size)
        parts = [(np.full(at.size, self.first[sort]), at, boxes) for sort in _EACH]
        screened = np.array([name == "roof_screen" for name in setups])[setup]
        some: dict[ShortSort, Bools] = {
            "screens": screened,
            "evening": np.asarray(closing == EVENING),
            "dawn": np.asarray(closing == DAWN),
        }
        for sort, does in some.items():
            parts.append((np.full(int(does.sum()), self.first[sort]), at[does], boxes[does]))
        for count in np.unique(need).tolist():
            mine = at[need == count]
            row, of = np.nonzero(self._hands(count)[1][slot[mine]])
            parts.append((of, mine[row], self._hands(count)[1][slot[mine[row]], of]))
        resource, option, amount = (np.concatenate(column) for column in zip(*parts, strict=True))
        return scipy.sparse.csr_matrix((amount, (resource, option)), shape=(self.limit.size, need.size))

    def stands(self, slot: Ints, need: Ints, closing: Ints) -> Floats:
        """How many boxes stand shut at each slot, (slot,)."""
        first, last = self.shut[closing, slot].T
        at = np.arange(self.bays.size)[:, None]
        within = (at >= first) & (at <= last) & (first >= 0)
        return np.asarray(within @ need.astype(np.float64))


def _stands_shut(asked: Asked, sun_up: Bools, closing: int, slot: int) -> tuple[int, int]:
    """First and last slot at which the boxes stand shut while the sun is up; -1, -1 where at none."""
    if closing == HANDOVER:
        return -1, -1
    closed_s = asked.closed_s[closing, slot]
    waits = np.flatnonzero((asked.slot_s >= closed_s) & sun_up & (np.arange(asked.slot_s.size) <= slot))
    return (int(waits[0]), int(waits[-1])) if waits.size else (-1, -1)
