"""Mends a planned day: first only whom an upset touches, then, lest somebody be put off, as few others as can be."""

from __future__ import annotations

from collections.abc import Collection
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from planner.app.common.progress import Stop
from planner.app.day.plan import CLOSE_SAMPLES, appointments_of, narrowed, put_off_of, short_of
from planner.app.day.records import Appointment, DayPlan, PutOff, Short
from planner.app.day.seating import (
    PROMISING,
    UNLIKELY,
    chosen,
    columns,
    held_beside,
    kinds_in,
    nothing_struck,
    strike,
    without_boxes,
)
from planner.app.day.serving.assign import assign, shortage
from planner.app.day.serving.chosen import Choice, Close, looked_at
from planner.app.day.serving.judge import Judge
from planner.app.day.serving.limits import Limits
from planner.app.day.serving.options import Held, Options, may_have, options_of
from planner.store.dayrecords import CLOSINGS

EPS = 1e-6
ROUNDS = 12
"""How often what close looking strikes out is assigned anew."""


@dataclass(frozen=True)
class Settled:
    """What was found for some buyers: the choices looked at closely, and the options they were taken from."""

    closely: dict[int, Close]
    options: Options


class Mending:
    """One upset of one plan.

    Parameters
    ----------
    judge : of the changed day
    plan : as it was told
    anew : whether its figures are to be worked out anew, because the forecast is another
    """

    def __init__(
        self,
        judge: Judge,
        plan: DayPlan,
        executor: Executor,
        should_stop: Stop | None = None,
        *,
        anew: bool = False,
    ) -> None:
        self.judge, self.asked, self.plan = judge, judge.asked, plan
        self.executor, self.should_stop = executor, should_stop
        self.limits, self.tolerance = Limits(self.asked), plan.tolerance
        self.known: dict[Choice, Close] = judge.looked.setdefault(plan.tolerance, {})
        self.before = {one.buyer: one for one in plan.appointments}
        self.had = {number: one.boxes for number, one in self.before.items()}
        self._boxes = {box.name: box for kind in self.asked.kinds for box in kind.boxes}
        self.setup = np.full(len(self.asked.day.buyers), -1)
        self.kept = self._still_possible()
        """What everybody has who keeps it, by buyer."""
        self.anew = anew
        if anew:
            self._look_again()
            off = {one.buyer for one in plan.put_off}
            new = {n for n in range(len(self.asked.day.buyers)) if n not in self.kept} - off
            self._fill(new | self._too_much())
        self.share, self.met = judge.table.shares(self.asked, judge.table.samples)
        self.struck = nothing_struck(self.asked)

    # -- who is touched ----------------------------------------------------------------------------

    def _still_possible(self) -> dict[int, Close]:
        """Appointments as told whose boxes, hour and set-up can still be had, each with its figures of before."""
        asked, out = self.asked, {}
        boxes = self._boxes
        setups = [setup.name for setup in asked.setups]
        for number, one in self.before.items():
            self.setup[number] = setups.index(one.setup) if one.setup in setups else -1
            slot = np.flatnonzero(asked.slot_s == one.slot_s)
            there = [boxes[name] for name in one.boxes if name in boxes]
            as_many = len(there) == len(one.boxes) == asked.day.buyers[number].boxes
            if not slot.size or not as_many or self.setup[number] < 0:
                continue
            kinds = list(kinds_in(asked, there))
            if not may_have(asked, self.limits, number)[slot[0], kinds].all():
                continue
            closing = CLOSINGS.index(one.closing)
            choice = Choice(
                number,
                int(slot[0]),
                closing,
                int(self.setup[number]),
                tuple(there),
            )
            if CLOSINGS[closing] in asked.day.closings:
                out[number] = _as_it_was(choice, one)
        return out

    def _look_again(self) -> None:
        """Everybody by the new forecast; whoever is not within the tolerance any more is touched."""
        choices = [close.choice for close in self.kept.values()]
        found = looked_at(self.judge, choices, self.tolerance, CLOSE_SAMPLES, self.executor, self.should_stop)
        self.known |= {close.choice: close for close in found}
        self.kept = {close.choice.buyer: close for close in found if close.standing == "within"}

    def _fill(self, buyers: Collection[int]) -> None:
        """The table for some buyers."""
        narrowed(self.judge, buyers, self.tolerance, self.executor, self.should_stop)

    def _too_much(self) -> set[int]:
        """Who uses up what there is too little of: any of them may have to do without."""
        choices = [close.choice for close in self.kept.values()]
        slot, closing, setup, need = columns(choices)
        names = [each.name for each in self.asked.setups]
        uses = self.limits.uses(slot, need, closing, names, setup)
        over = np.asarray(uses.sum(axis=1)).ravel() > self.limits.limit + EPS
        crowded = self.limits.stands(slot, need, closing) > self.limits.bays + EPS
        out = {choices[at].buyer for at in np.unique(uses[over].nonzero()[1]).tolist()}
        for choice in choices:
            first, last = self.limits.shut[choice.closing, choice.slot]
            if first >= 0 and crowded[first : last + 1].any():
                out.add(choice.buyer)
        return out

    # -- mending -----------------------------------------------------------------------------------

    def mended(self) -> DayPlan:
        """The plan mended."""
        loose = self._too_much()
        touched = {number for number in self.before if number not in self.kept}
        found = self._settled(touched | loose, frozenset(), PROMISING)
        missing = (touched | loose) - found.closely.keys()
        if missing:
            wider = self._settled(touched | loose, frozenset(), UNLIKELY)
            found = max(found, wider, key=lambda one: len(one.closely))
            missing = (touched | loose) - found.closely.keys()
        now = self._beside(touched | loose, found)
        if missing:
            everybody = set(self.before)
            if self.anew:  # nobody can be moved to where nothing is known of him
                self._fill(everybody)
                self.share, self.met = self.judge.table.shares(self.asked, self.judge.table.samples)
            wider = self._settled(everybody, everybody - touched - missing, PROMISING)
            if len(wider.closely) > len(now):
                now = wider.closely
        self.kept = now
        freed = any(number not in now for number in self.before) or any(
            close.choice.slot != self._slot_before(number) for number, close in now.items()
        )
        waiting = set(range(len(self.asked.day.buyers))) - self.before.keys()
        new = waiting - {one.buyer for one in self.plan.put_off}
        if new or (freed and waiting):  # what became free may serve who was put off
            self.kept |= self._settled(waiting, frozenset(), PROMISING).closely
        return self._plan()

    def _beside(self, free: Collection[int], found: Settled) -> dict[int, Close]:
        """Who keeps what he has, and what was found for the others."""
        return {n: close for n, close in self.kept.items() if n not in free} | found.closely

    def _slot_before(self, number: int) -> int:
        return int(np.searchsorted(self.asked.slot_s, self.before[number].slot_s))

    def _settled(self, free: Collection[int], few: Collection[int], most: float) -> Settled:
        """The best for those who are ``free`` while all others keep what they have; of ``few`` little is tried.

        ``most``: harm beside what is accepted that is worth a closer look.
        """
        kept = [close.choice for number, close in self.kept.items() if number not in free]
        asked = without_boxes(self.asked, kept)
        held, buyers = self._held(kept, free, few), len(self.asked.day.buyers)
        allowed = min(self.tolerance.harm_of_100, self.tolerance.boxes_of_100)
        had = {number: boxes for number, boxes in self.had.items() if number in free}
        for round_ in range(ROUNDS):
            options = options_of(
                asked,
                self.share,
                self.judge.table.samples,
                self.tolerance,
                self.struck,
                most=np.full(buyers, most * allowed),
                held=held,
            )
            choices = chosen(asked, options, assign(options.problem), had)
            new = [choice for choice in choices if choice not in self.known]
            for close in looked_at(
                self.judge, new, self.tolerance, CLOSE_SAMPLES, self.executor, self.should_stop
            ):
                self.known[close.choice] = close
            closely = [self._close(choice) for choice in choices]
            failed = [close.choice for close in closely if close.standing != "within"]
            if not failed or round_ == ROUNDS - 1:
                break
            for choice in failed:
                strike(self.struck, self.asked, self.share, choice)
        return Settled({c.choice.buyer: c for c in closely if c.standing == "within"}, options)

    def _close(self, choice: Choice) -> Close:
        """A choice with its figures: those of before where it is as told."""
        kept = self.kept.get(choice.buyer)
        return kept if kept is not None and kept.choice == choice else self.known[choice]

    def _held(self, kept: list[Choice], free: Collection[int], few: Collection[int]) -> Held:
        """What is left beside those who are kept, and what holds the others to what they were told."""
        buyers = range(len(self.asked.day.buyers))
        told = {
            number: (
                c.choice.slot,
                c.choice.closing,
                c.choice.setup,
                tuple(kinds_in(self.asked, c.choice.boxes)),
            )
            for number, c in self.kept.items()
            if number in free
        }
        return replace(
            held_beside(self.asked, self.limits, kept),
            free=np.array([number in free for number in buyers]),
            told=told,
            had=self.setup,
            boxes={
                number: tuple(
                    kinds_in(self.asked, (self._boxes[name] for name in one.boxes if name in self._boxes))
                )
                for number, one in self.before.items()
                if number in free
            },
            few=np.array([number in few for number in buyers]),
        )

    # -- the record --------------------------------------------------------------------------------

    def _plan(self) -> DayPlan:
        closely = list(self.kept.values())
        bays = {number: one.bays for number, one in self.before.items()}
        appointments = sorted(
            appointments_of(self.asked, closely, bays), key=lambda one: (one.slot_s, one.order)
        )
        off = [number for number in range(len(self.asked.day.buyers)) if number not in self.kept]
        were = {one.buyer: one for one in self.plan.put_off}
        put_off, short, serves = [were[n] for n in off if n in were], self.plan.short, self.plan.short_serves
        new = [number for number in off if number not in were]
        if new:
            more, short, serves = self._why(off, new)
            put_off += more
        moved = any(number not in self.kept for number in self.before) or any(
            one.moved_from_s is not None for one in appointments
        )
        return replace(
            self.plan,
            day=self.asked.day,
            weather=self.asked.weather,
            appointments=tuple(appointments),
            put_off=tuple(sorted(put_off, key=lambda one: one.buyer)),
            short=short,
            short_serves=serves,
            exact=self.plan.exact and not moved,
        )

    def _why(self, off: list[int], new: list[int]) -> tuple[list[PutOff], tuple[Short, ...], int]:
        """Why somebody is put off now, and what would serve how many of all who are, the others kept as they are."""
        settled = self._settled(off, frozenset(), PROMISING)
        missing = shortage(settled.options.problem, settled.options.sort, len(settled.closely))
        looked = {close.choice.buyer: close for close in self.known.values() if close.standing != "within"}
        why = [
            put_off_of(self.asked, settled.options, number, looked.get(number), missing is not None, self.met)
            for number in new
        ]
        if missing is None:
            return why, self.plan.short, self.plan.short_serves
        return why, tuple(short_of(self.asked, settled.options, missing.missing)), missing.more


def _as_it_was(choice: Choice, one: Appointment) -> Close:
    return Close(
        choice,
        "within",
        one.harm_of_100,
        one.boxes_harmed,
        one.samples,
        one.leave_s,
        one.arrive_s,
        one.open_s,
        one.closed_s,
    )
