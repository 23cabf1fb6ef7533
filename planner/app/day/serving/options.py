"""From judged rides to the options of every buyer: what is safe enough, how much nuisance it is, what it uses up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from planner.app.answer.records import Tolerance
from planner.app.answer.tally import interval
from planner.app.day.records import SORTS
from planner.app.day.serving.assign import HARM_STEP, Problem
from planner.app.day.serving.drives import fits
from planner.app.day.serving.judge import Asked
from planner.app.day.serving.limits import HANDOVER, HOUR_S, Limits
from planner.model.records import Bools, Floats, Ints
from planner.store.dayrules import day_rules

MOVED, CHANGED = 100, 1
"""What another hour and what another set-up weigh beside each other for those who were told: the hour goes first."""


@dataclass(frozen=True)
class Options:
    """A problem with what its rows mean.

    ``slot``, ``closing``, ``setup`` (option,) numbers; ``sort`` (row of limits,) index into SORTS, ``at`` the slot it
    belongs to, -1 all day. ``least`` (buyer,) the least share of harm in any slot that suits, NaN unknown; ``least_at``
    (buyer, 4) its closing, slot, kind and set-up, -1 where unknown.
    """

    problem: Problem
    slot: Ints
    closing: Ints
    setup: Ints
    sort: Ints
    at: Ints
    least: Floats
    least_at: Ints


@dataclass(frozen=True)
class Held:
    """What a repair holds on to.

    ``free`` (buyer,) who may be served otherwise; the others keep what they have: ``spent`` (resource,) and ``stands``
    (instant,) of the limits. ``told`` slot, closing, set-up and kinds of boxes that can still be had as told: always an
    option. ``had`` (buyer,) the set-up told, -1 none; ``boxes`` the kinds of the boxes told. ``few`` (buyer,) of whom
    only the best options are looked at.
    """

    free: Bools
    spent: Floats
    stands: Floats
    told: Mapping[int, tuple[int, int, int, tuple[int, ...]]]
    had: Ints
    boxes: Mapping[int, tuple[int, ...]]
    few: Bools


def options_of(
    asked: Asked,
    share: Floats,
    samples: int,
    tolerance: Tolerance,
    struck: Bools | None = None,
    most: Floats | None = None,
    held: Held | None = None,
) -> Options:
    """Every way in which no lower end of an interval lies above the tolerance, or harm is no more than ``most``.

    Parameters
    ----------
    share : (ride, closing, slot, kind, set-up) of samples with harm, NaN unknown
    struck : (buyer, closing, slot, kind, set-up) what was found wanting
    most : (buyer,) harm of 100 that is worth a closer look
    held : what a repair holds on to
    """
    limits, buyers = Limits(asked), asked.day.buyers
    least, least_at, parts = np.full(len(buyers), np.nan), np.full((len(buyers), 4), -1), []
    good_at = _may_be_good(share, samples, tolerance) if most is None else None
    for number in range(len(buyers)):
        if held is not None and not held.free[number]:
            continue
        ride = share[asked.ride[number]]
        if most is None:
            assert good_at is not None
            good = good_at[asked.ride[number]]
        else:
            good = np.nan_to_num(100.0 * ride, nan=100.0) <= most[number]
        told = None if held is None else held.told.get(number)
        may, part = _of_buyer(
            asked, ride, good if struck is None else good & ~struck[number], number, limits, told
        )
        if may.any():
            at_best = int(np.where(may, ride, np.inf).argmin())
            least_at[number] = np.unravel_index(at_best, ride.shape)
            least[number] = ride[tuple(least_at[number])]
        parts.append(part if held is None or not held.few[number] else _best_of(part, told))
    found = _joined(parts, len(asked.kinds))
    pool, members = _pools(found.members)
    its = np.array([b.told_s for b in buyers], dtype=np.float64)[found.buyer]
    moved = MOVED * (~np.isnan(its) & (asked.slot_s[found.slot] != its)).astype(np.int64)
    if held is not None:
        had = held.had[found.buyer]
        changed = (had >= 0) & (had != found.setup)
        for number, its_kinds in held.boxes.items():
            changed |= (found.buyer == number) & ~found.members[:, list(its_kinds)].all(axis=1)
        moved += CHANGED * changed
    need = np.array([b.boxes for b in buyers], dtype=np.int64)[found.buyer]
    first, last = limits.shut[found.closing, found.slot].T
    problem = Problem(
        buyers=len(buyers),
        buyer=found.buyer,
        need=need,
        harm=found.level * HARM_STEP,
        care=found.care,
        moved=moved,
        uses=limits.uses(found.slot, need, found.closing, [s.name for s in asked.setups], found.setup),
        limit=limits.limit if held is None else np.maximum(limits.limit - held.spent, 0.0),
        pool=pool,
        members=members,
        kind_limit=np.array([float(len(kind.boxes)) for kind in asked.kinds]),
        stays_from=first,
        stays_to=last,
        stay_limit=limits.bays if held is None else np.maximum(limits.bays - held.stands, 0.0),
    )
    kinds, slots = len(asked.kinds), asked.slot_s.size
    sort = [*limits.sorts, *[SORTS.index("kind")] * kinds, *[SORTS.index("shade")] * slots]
    at = [*limits.at, *[-1] * kinds, *range(slots)]
    return Options(
        problem, found.slot, found.closing, found.setup, np.array(sort), np.array(at), least, least_at
    )


@dataclass(frozen=True)
class _Found:
    """Options (option,), ``members`` (option, kind) the kinds that would do alike, ``level`` harm in steps."""

    buyer: Ints
    slot: Ints
    closing: Ints
    setup: Ints
    level: Floats
    care: Floats
    members: Bools


def _joined(parts: Sequence[_Found], kinds: int) -> _Found:
    none = np.zeros(0, dtype=np.int64)
    empty = _Found(none, none, none, none, np.zeros(0), np.zeros(0), np.zeros((0, kinds), dtype=bool))
    names = _Found.__dataclass_fields__
    return _Found(*(np.concatenate([getattr(part, name) for part in (empty, *parts)]) for name in names))


def _pools(members: Bools) -> tuple[Ints, Bools]:
    """The pool of each option, (option,), and the pools, (pool, kind), in the order in which they are met."""
    if not members.shape[0]:
        return np.zeros(0, dtype=np.int64), np.ones((1, members.shape[1]), dtype=bool)
    _, first, of = np.unique(np.packbits(members, axis=1), axis=0, return_index=True, return_inverse=True)
    order = np.argsort(first)
    rank = np.empty_like(order)
    rank[order] = np.arange(order.size)
    return rank[of.ravel()], members[first[order]]


def _may_be_good(share: Floats, samples: int, tolerance: Tolerance) -> Bools:
    """Which shares are worth offering; unknown ones are not."""
    known = np.nan_to_num(share, nan=1.0)
    allowed_low = min(tolerance.harm_of_100, tolerance.boxes_of_100)
    lows = np.array([interval(float(hits), samples)[0] for hits in range(samples + 1)])
    return np.asarray(100.0 * np.interp(known * samples, np.arange(samples + 1), lows) <= allowed_low)


FEW = 12
"""So many options of those whom nothing forces to move are looked at beside what they were told."""


def _best_of(part: _Found, told: tuple[int, int, int, tuple[int, ...]] | None) -> _Found:
    """Every option at the hour that was told, and those with least harm and care at others."""
    at_hour = np.zeros(part.slot.size, dtype=bool) if told is None else part.slot == told[0]
    order = np.lexsort((part.care, part.level, ~at_hour))[: FEW + int(at_hour.sum())]
    kept = np.sort(order)
    return _Found(*(getattr(part, name)[kept] for name in _Found.__dataclass_fields__))


def _of_buyer(
    asked: Asked,
    ride: Floats,
    may_be_good: Bools,
    number: int,
    limits: Limits,
    told: tuple[int, int, int, tuple[int, ...]] | None = None,
) -> tuple[Bools, _Found]:
    """What suits one buyer and is known, (closing, slot, kind, set-up); and all his options.

    Parameters
    ----------
    ride, may_be_good : (closing, slot, kind, set-up)
    told : slot, closing, set-up and kinds that are an option whatever the figures say
    """
    buyer = asked.day.buyers[number]
    may = may_have(asked, limits, number)[None, :, :, None] & ~np.isnan(ride)
    if buyer.setup:
        may &= np.array([setup.name == buyer.setup for setup in asked.setups])
    good = may & may_be_good
    if not buyer.setup:  # a set-up that changes nothing only makes work
        with np.errstate(invalid="ignore"):
            good[..., 1:] &= ~(ride[..., :1] <= ride[..., 1:])
    level = np.where(good, np.round(buyer.boxes * np.nan_to_num(ride) / HARM_STEP), np.inf)
    care = _care(asked, limits, number)
    # whoever shuts at handover needs nothing that others do not need: no shade, no hands beforehand
    at_handover = (level[HANDOVER] <= level[:HANDOVER]).all(axis=2) & (care[HANDOVER] <= care[:HANDOVER])
    good[:HANDOVER] &= ~at_handover[:, :, None, :]
    good &= limits.can_be_handed(buyer.boxes)[None, :, None, None]
    if told is not None:
        slot_told, closing_told, setup_told, kinds = told
        same_way = closing_told, slot_told, list(kinds), setup_told
        good[same_way] = True
        level[same_way] = np.round(buyer.boxes * np.nan_to_num(ride[same_way]).max() / HARM_STEP)
    levels = np.moveaxis(np.where(good, level, np.inf), 2, 3)  # (closing, slot, set-up, kind)
    same = levels[..., :, None] == levels[..., None, :]
    first_of_its_level = np.isfinite(levels) & ~np.tril(same, -1).any(axis=-1)
    closing, slot, setup, kind = np.nonzero(first_of_its_level)
    its = levels[closing, slot, setup, kind]
    order = np.lexsort((its, setup, slot, closing))
    closing, slot, setup, its = closing[order], slot[order], setup[order], its[order]
    members = levels[closing, slot, setup] == its[:, None]
    who = np.full(its.size, number, dtype=np.int64)
    return may, _Found(who, slot, closing, setup, its, care[closing, slot, setup], members)


def may_have(asked: Asked, limits: Limits, number: int) -> Bools:
    """Which kinds of boxes a buyer may have in which slot, (slot, kind)."""
    mine = np.array([kind.buyer in (None, number) for kind in asked.kinds])
    if asked.day.buyers[number].boxes_named:
        mine = np.array([kind.buyer == number for kind in asked.kinds])
    mine &= np.array(fits(asked.catalogue, asked.day.buyers[number], [kind.group for kind in asked.kinds]))
    return np.asarray(suiting(asked, number)[:, None] & limits.ready & mine[None, :])


def suiting(asked: Asked, number: int) -> Bools:
    """The slots that suit a buyer, (slot,): within his times, and never before what he was told."""
    buyer = asked.day.buyers[number]
    suits = np.ones(asked.slot_s.size, dtype=bool)
    if buyer.spans:
        suits = np.array([any(a <= s < b for a, b in buyer.spans) for s in asked.slot_s])
    if not math.isnan(buyer.told_s):
        suits &= asked.slot_s >= buyer.told_s
    return suits


def _care(asked: Asked, limits: Limits, number: int) -> Floats:
    """What is left to choose by when nobody more is put off and harm is least, (closing, slot, set-up); above 0."""
    rules, buyer = day_rules(), asked.day.buyers[number]
    off_h = 0.0 if math.isnan(buyer.wish_s) else np.abs(asked.slot_s - buyer.wish_s) / HOUR_S
    late_h = (asked.slot_s - asked.slot_s[0]) / HOUR_S * float(asked.drive_s[number]) / HOUR_S
    of_slot = rules.care_wish_h * off_h + rules.care_late_h * late_h
    of_closing = buyer.boxes * rules.care_shut_h * limits.closing_h
    effort = np.array([setup.effort for setup in asked.setups])
    return np.asarray((of_slot + of_closing)[:, :, None] + rules.care_effort * effort * buyer.boxes)
