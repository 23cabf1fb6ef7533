"""Headroom: how much hotter and colder the outside air may get until the first harm of the worst box.

Dew point, sun, wind and the density of the air are held; only its temperature is shifted, in cases of their own. What a
box's own history has to spare (``limits``) passes through zero just where harm begins, so that the shift can be read
between two that were tried.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from planner.model.cases import CaseGrid, Variations, cases_of, lay_out, simulate
from planner.model.limits import MOST_HEADROOM_K
from planner.model.records import Bools, Floats, Ints
from planner.model.timeline import GRID_S, Timeline

COMMON_SHIFTS_K = (-10.0, -4.0, 4.0, 10.0)
"""Shifts of the air tried for every candidate beside none: near ones to tell a little from none, far ones for the rest.

A rule of this program, like the next two, and no property of bees or boxes.
"""

READING_STEP_S = 2.0 * GRID_S
"""Step of what is only read: half the work, typically 0.05 K."""

LEAST_HARM_K = 0.01
"""So far beyond zero at least the headroom of a harmed box is: the last digit that is shown."""

FIRST_LOOK, CLOSER_LOOK, CLOSER_LOOKS = 11, 6, 2
"""Shifts tried over the whole range, then twice between the two that harm begins between: to 0.08 K, then read."""


def spare_at(
    grid: CaseGrid,
    timeline: Timeline,
    night: Floats,
    candidates: Ints,
    shift_k: Floats,
    step_s: float = GRID_S,
) -> tuple[Floats, Floats]:
    """What every box has to spare, hotter and colder, in shifted air; each (candidate, shift, group).

    Parameters
    ----------
    candidates : (candidate, 3) departure, searched loading place, set-up
    shift_k : (candidate, shift) degrees added to the outside air
    """
    shape = *shift_k.shape, grid.groups
    table = cases_of(candidates, shift_k.shape[1], grid.groups)
    batch = lay_out(grid, timeline, night, table, Variations(), step_s=step_s)
    offsets = np.broadcast_to(shift_k[..., None], shape).ravel()
    shifted = replace(batch, cases=replace(batch.cases, air_offset_k=offsets))
    judged = simulate(shifted, step_s).assessed(step_s)
    return judged.hotter_k.reshape(shape), judged.colder_k.reshape(shape)


class Turn(NamedTuple):
    """Two shifts that harm begins between, and what there was to spare at each, (case,); NaN where there is none.

    ``otherwise`` is the shift that stands where there is none.
    """

    low_k: Floats
    high_k: Floats
    low_spare_k: Floats
    high_spare_k: Floats
    otherwise_k: Floats

    def read(self) -> Floats:
        """The shift at which nothing is left to spare, straight between the two."""
        share = self.low_spare_k / (self.low_spare_k - self.high_spare_k)
        between = self.low_k + share * (self.high_k - self.low_k)
        return np.where(np.isnan(between), self.otherwise_k, between)


def turn_from_now(shift_k: Floats, spare_k: Floats) -> Turn:
    """Where harm begins, looking out from the air as it is: up where all is well, down where harm has come.

    Where nothing brings harm the last shift tried stands, for more is not known; where nothing ends it, minus
    MOST_HEADROOM_K.

    Parameters
    ----------
    shift_k : (shift,) rising towards harm, with 0 among them
    spare_k : (shift, case) NaN where unknown
    """
    zero = int(np.flatnonzero(shift_k == 0.0)[0])
    fine, last = spare_k[zero] >= 0.0, len(shift_k) - 1
    otherwise = np.where(fine, shift_k[-1], -MOST_HEADROOM_K)
    pairs = [(i, fine) for i in range(zero, last)] + [(i, ~fine) for i in range(zero - 1, -1, -1)]
    at = np.broadcast_to(shift_k[:, None], spare_k.shape)
    return _first_turn(at, spare_k, pairs, np.where(np.isnan(spare_k[zero]), np.nan, otherwise))


def _first_turn(
    shift_k: Floats, spare_k: Floats, pairs: Sequence[tuple[int, Bools]], otherwise_k: Floats
) -> Turn:
    """The first of the pairs (a shift and the next, where it is asked for) between which nothing is left."""
    low, high, low_spare, high_spare = np.full((4, *otherwise_k.shape), np.nan)
    for i, asked in pairs:
        turns = asked & np.isnan(low) & (spare_k[i] >= 0.0) & (spare_k[i + 1] < 0.0)
        for kept, table, row in (
            (low, shift_k, i),
            (high, shift_k, i + 1),
            (low_spare, spare_k, i),
            (high_spare, spare_k, i + 1),
        ):
            kept[turns] = table[row][turns]
    return Turn(low, high, low_spare, high_spare, otherwise_k)


def exact(
    grid: CaseGrid, timeline: Timeline, night: Floats, candidates: Ints, counted: Bools
) -> tuple[Floats, Floats]:
    """Headroom of the worst box of each candidate, hotter and colder, (candidate,), by trying ever closer.

    Parameters
    ----------
    candidates : (candidate, 3) departure, searched loading place, set-up
    counted : (candidate, group) boxes whose air follows the outside; NaN comes back where none does
    """

    def worst(shift_k: Floats) -> tuple[Floats, Floats]:
        hotter, colder = spare_at(grid, timeline, night, candidates, shift_k)
        return of_worst_box(hotter, counted[:, None]).T, of_worst_box(colder, counted[:, None]).T

    wide = np.linspace(-MOST_HEADROOM_K, MOST_HEADROOM_K, FIRST_LOOK)
    hot, cold = worst(np.broadcast_to(wide, (len(candidates), wide.size)))
    turns = turn_from_now(wide, hot), turn_from_now(wide, cold[::-1])
    inner = np.linspace(0.0, 1.0, CLOSER_LOOK + 2)[1:-1, None]
    for _ in range(CLOSER_LOOKS):
        closer = [np.nan_to_num(turn.low_k + inner * (turn.high_k - turn.low_k)) for turn in turns]
        hot, cold = worst(np.concatenate((closer[0], -closer[1])).T)
        turns = (
            _closed(turns[0], closer[0], hot[:CLOSER_LOOK]),
            _closed(turns[1], closer[1], cold[CLOSER_LOOK:]),
        )
    return turns[0].read(), turns[1].read()


def _closed(turn: Turn, shift_k: Floats, spare_k: Floats) -> Turn:
    """A turn narrowed by what was found between its two shifts, (shift, case)."""
    at = np.vstack((turn.low_k[None], shift_k, turn.high_k[None]))
    spare = np.vstack((turn.low_spare_k[None], spare_k, turn.high_spare_k[None]))
    known = ~np.isnan(turn.low_k)
    return _first_turn(at, spare, [(i, known) for i in range(len(at) - 1)], turn.otherwise_k)


def of_worst_box(spare_k: Floats, counted: Bools) -> Floats:
    """The least that any counted box has to spare, over the last axis; NaN where none counts or any is unknown."""
    least = np.where(counted, spare_k, np.inf).min(axis=-1)
    return np.where(counted.any(axis=-1), least, np.nan)


def carried_over(headroom_k: Floats, spare_k: Floats) -> Floats:
    """Headroom of every sample, (sample,), from that of the first ones, in which shifts of the air were tried.

    The more a box has to spare the farther the air may go, and nothing to spare is no headroom: what was found is made
    to rise with what there was to spare (pool of adjacent violators: Ayer et al. 1955, Ann. Math. Stat. 26:641) and
    read straight between, apart for harmed boxes and others, so that in each sample its sign is that of harm. Beyond
    the last it goes on as steeply as the whole way to there; where nothing was tried on one side, as on the other.

    Parameters
    ----------
    headroom_k : (tried,) of the first samples
    spare_k : (sample,) what the worst box has to spare in the air as it is
    """
    tried = headroom_k.size
    if not tried or not (np.isfinite(spare_k).all() and np.isfinite(headroom_k).all()):
        return headroom_k
    harmed, spare, found = spare_k < 0.0, np.abs(spare_k), np.abs(headroom_k)
    out = np.concatenate((found, np.empty(spare_k.size - tried)))
    for side in (harmed, ~harmed):
        known = side[:tried] if side[:tried].any() else ~side[:tried]
        out[tried:][side[tried:]] = _read_rising(
            spare[:tried][known], found[known], spare[tried:][side[tried:]]
        )
    return np.where(harmed, -np.maximum(out, LEAST_HARM_K), out)


def _read_rising(spare_k: Floats, found_k: Floats, wanted_k: Floats) -> Floats:
    """A curve that rises from nothing through what was found, read where it is wanted; none is below zero."""
    ranked = np.argsort(spare_k, kind="stable")
    means: list[float] = []
    sizes: list[int] = []
    for value in found_k[ranked]:
        means.append(float(value))
        sizes.append(1)
        while len(means) > 1 and means[-2] > means[-1]:
            last, many = means.pop(), sizes.pop()
            means[-1] = (means[-1] * sizes[-1] + last * many) / (sizes[-1] + many)
            sizes[-1] += many
    at = np.concatenate(([0.0], spare_k[ranked]))
    value_k = np.concatenate(([0.0], np.repeat(means, sizes)))
    beyond = np.maximum(wanted_k - at[-1], 0.0) * value_k[-1] / max(at[-1], LEAST_HARM_K)
    return np.asarray(np.minimum(np.interp(wanted_k, at, value_k) + beyond, MOST_HEADROOM_K))
