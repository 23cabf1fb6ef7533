"""The race: every departure, place and set-up in a few samples at once, those still in it in ever more.

A *slot* is a departure, an arrangement of places and the set-ups of every group; its closings are chosen. A slot leaves
when it can hardly be within the tolerance any more, or when too many others do less harm. What remains is exact: the
samples of a load do not depend on who else is judged.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from dataclasses import field as made
from functools import cached_property, partial

import numpy as np

from planner.app.answer.decide import alike, classed, is_declared, order, trouble_of
from planner.app.answer.field import Field
from planner.app.answer.records import AS_DECLARED, Candidate, Key, Tolerance
from planner.app.answer.tally import candidate_of, interval, with_headroom
from planner.app.chance.units import CLOSER_SHIFTS_K, SHIFTS_K, Unit
from planner.app.plan.closings import cost_h
from planner.app.plan.plan import MissName
from planner.model.limits import HARM

COUNTS = (8, 32, 128, 512, 1024)
"""Samples after each round."""

ROUND_SAMPLES, LEAST_RACING = 2048, 3
"""Samples of loads a round may cost, and how many slots stay to the end."""

DECLARED_SHARE = 2 / 3
"""Of those that stay, so many are as declared; the others are tried otherwise."""

LOSING_CHANCE = 0.01
SETTLED_SAMPLES = 128
"""In so many the better of a slot's closings is known well enough to go on with it alone."""

WINDOW_SAMPLES = 128
"""Samples in which departures beside the best are judged before they are called alike."""

COARSE_STEP_S = 240.0
"""Step in which headroom is read for the board, between shifts 4 to 6 K apart."""

MOST_RIVALS = 24
"""So many of the best are held against the very best where nothing is within the tolerance."""

SURE_DEVIATIONS = 2.5
MOST_ALIKE = 48
BESIDE = 3
"""So many departures on either side are judged at once, outwards as long as all of them are alike."""

CLOSE_SAMPLES = 64

MOST_SLOTS, MOST_CASE_H, COARSE_APART_S = 4096, 2e6, 1800.0
"""Where there are more slots, or cases times hours of the first look, only every so many-th departure is tried in every
way; never farther apart than this, in which neither weather nor bees change much. A rule of this program."""


@dataclass(frozen=True, slots=True)
class Slot:
    """A departure, a row of the field's arrangements, the set-up of each group; ``freed``: fixed closings too."""

    departure: int
    arrangement: int
    setups: tuple[int, ...]
    freed: bool = False


@dataclass
class Race:
    """Who has been judged in which samples so far.

    ``room`` text of each arrangement that does not hold the load, "" where it does; ``misses`` (departure,) wishes that
    each departure misses; ``counts`` samples after each round, the last how many the answer rests on; ``stride`` every
    how many-th departure is tried in every way.
    """

    field: Field
    tolerance: Tolerance
    room: Callable[[tuple[int, ...]], str]
    misses: Sequence[tuple[MissName, ...]]
    counts: tuple[int, ...] = COUNTS
    screen: bool = True
    stride: int = 1
    slots: dict[Slot, list[Key]] = made(default_factory=dict)
    _records: dict[Key, tuple[tuple[int, int, bool], Candidate]] = made(default_factory=dict)
    _best: dict[Slot, tuple[int, Candidate, tuple[float, ...]]] = made(default_factory=dict)
    _order: tuple[tuple[int, int], list[Slot]] | None = None

    @cached_property
    def boxes(self) -> int:
        return int(self.field.counts.sum())

    # -- who runs --------------------------------------------------------------------------------

    def enter_all(self, slots: Iterable[Slot]) -> None:
        """Enter slots; where they are very many those between coarser departures as declared alone.

        Their closings are those that did best on the nearest coarse departure. What else may matter between is entered
        when the departures beside the best are looked at.
        """
        every = list(slots)
        self.stride = self._stride_of(every)
        self.enter(slot for slot in every if slot.departure % self.stride == 0)
        self.enter_between(slot for slot in every if not any(slot.setups))

    def _stride_of(self, slots: Sequence[Slot]) -> int:
        """Every how many-th departure is tried in every way."""
        field, departures_s = self.field, self.field.departures_s
        if not self.screen or departures_s.size < 2:
            return 1
        shut_s = np.nanmin(field.closings.closed_s, axis=(0, 2))
        cases = len(slots) * len(field.closings.rules) * field.groups * self.counts[0]
        many = max(
            len(slots) / MOST_SLOTS, cases * float((field.opened_s - shut_s).mean()) / 3600.0 / MOST_CASE_H
        )
        apart_s = float(np.diff(departures_s).max())
        return max(min(math.ceil(many), int(COARSE_APART_S // apart_s)), 1)

    def enter_between(self, slots: Iterable[Slot]) -> None:
        """Enter slots between the coarse departures, shut as the like slot on the nearest of them is."""
        last = (self.field.departures_s.size - 1) // self.stride
        like: dict[Slot, Slot] = {}
        for slot in slots:
            nearest = min(round(slot.departure / self.stride), last) * self.stride
            model = replace(slot, departure=nearest)
            if slot not in self.slots and model in self.slots:
                like[slot] = model
        if like:
            self.enter(like, like)

    def enter(self, slots: Iterable[Slot], like: Mapping[Slot, Slot] | None = None) -> None:
        """Judge new slots in the first samples, with every closing, and choose the closings that stay.

        ``like`` names for each a slot on another departure of which only the closings that stayed are tried.
        """
        new = [slot for slot in dict.fromkeys(slots) if slot not in self.slots]
        if like is None:
            tried = {slot: list(self._closings(slot)) for slot in new}
        else:
            tried = {slot: list(self._closings_of(slot, like[slot])) for slot in new}
        first = self.counts[0]
        self.field.judge((key for keys in tried.values() for key in keys), first)
        for slot in new:
            self.slots[slot] = self._chosen(slot, tried[slot])
        self.field.judge((key for slot in new for key in self.slots[slot]), first)

    def _closings(self, slot: Slot) -> Iterator[Key]:
        """The slot's keys: each rule for all groups that can have it."""
        closings, groups = self.field.closings, range(self.field.groups)
        for rule in range(len(closings.rules)):
            rows = tuple(closings.take(rule, slot.departure, g, freed=slot.freed) for g in groups)
            yield Key(slot.departure, slot.arrangement, slot.setups, rows)

    def _closings_of(self, slot: Slot, model: Slot) -> Iterator[Key]:
        """The slot's keys with the closings that stayed of a slot on another departure."""
        closings = self.field.closings
        for key in self.slots[model]:
            rows = tuple(
                closings.take(rule, slot.departure, g, freed=slot.freed)
                for g, rule in enumerate(key.closings)
            )
            yield Key(slot.departure, slot.arrangement, slot.setups, rows)

    def _chosen(self, slot: Slot, keys: Sequence[Key]) -> list[Key]:
        """The closings that stay, unit by unit: the one that costs least of those alike, and the least harmful."""
        cheap: dict[int, int] = {}
        mild: dict[int, int] = {}
        options: dict[tuple[int, ...], list[Unit]] = {}
        for key in dict.fromkeys(keys):
            for unit in self.field.units_of(key):
                same = options.setdefault(tuple(part.group for part in unit.parts), [])
                if unit not in same:
                    same.append(unit)
        for units in options.values():
            met = min(self.field.judged[unit].samples for unit in units)
            harmed = [self.field.judged[unit].level[:, :met].max(axis=(0, 2)) >= HARM for unit in units]
            least = min(range(len(units)), key=lambda i: (harmed[i].sum(), self._cost_h(units[i])))
            close = [i for i in range(len(units)) if _alike(harmed[i], harmed[least])]
            easiest = min(close, key=lambda i: (self._cost_h(units[i]), harmed[i].sum()))
            cheap |= {part.group: part.closing for part in units[easiest].parts}
            mild |= {part.group: part.closing for part in units[least].parts}
        both = [tuple(found[g] for g in range(self.field.groups)) for found in (cheap, mild)]
        return [Key(slot.departure, slot.arrangement, slot.setups, rows) for rows in dict.fromkeys(both)]

    def _cost_h(self, unit: Unit) -> float:
        """What the closings of a unit cost, in hours shut."""
        closings = self.field.closings
        each = (
            cost_h(
                (self.field.opened_s[unit.departure] - closings.closed_s[p.closing, unit.departure, p.group])
                / 3600.0,
                float(closings.home_share[p.closing, unit.departure, p.group]),
            )
            for p in unit.parts
        )
        return max(each)

    # -- rounds ----------------------------------------------------------------------------------

    def rounds(self) -> Iterator[int]:
        """Run every round after the first; gives the samples of those still in the race after each."""
        yield self.counts[0]
        for count in self.counts[1:]:
            racing = self.survivors(count) if self.screen else list(self.slots)
            self.raise_to(racing, count)
            if self.screen and count >= SETTLED_SAMPLES:
                self._settle_closings(racing)
            yield count
        if self.screen:
            self.settle_open()
        self.find_headroom()

    def find_headroom(self) -> None:
        """Headroom of every candidate, read from a few shifts of the air in the first samples."""
        keys = [one.key for one in self.candidates() if one.harm_of_100 is not None]
        self.field.judge_shifted(keys, self.counts[0], SHIFTS_K, COARSE_STEP_S)

    def _settle_closings(self, slots: Iterable[Slot]) -> None:
        """Go on with the better closing of each slot alone."""
        for slot in slots:
            self.slots[slot] = [self.best_of(slot).key]

    def raise_to(self, slots: Iterable[Slot], count: int) -> None:
        """Judge some slots in more samples."""
        self.field.judge((key for slot in slots for key in self.slots[slot]), count)

    def survivors(self, count: int) -> list[Slot]:
        """Slots that go on, by what is known so far."""
        most = max(ROUND_SAMPLES // count, LEAST_RACING)
        ranked = self.ranked()
        best = [(slot, self.best_of(slot)) for slot in ranked]
        hopeful = [(slot, one) for slot, one in best if self._hopeful(one)]
        declared = [slot for slot, one in hopeful if is_declared(one)]
        others = [slot for slot, one in hopeful if not is_declared(one)]
        kept = declared[: max(int(DECLARED_SHARE * most), 3)]
        kept += others[: max(most - len(kept), 2)]
        leaders = [slot for slot, one in best if is_declared(one)][:1] + ranked[:1]
        return list(dict.fromkeys([*kept, *leaders]))

    def may_be_within(self, slot: Slot) -> bool:
        """Whether the tolerance is still within reach: the share of harm is not surely above it."""
        return self._hopeful(self.best_of(slot))

    def _hopeful(self, one: Candidate) -> bool:
        if one.harm_of_100 is None or not one.fits:
            return False
        hits = round(one.harm_of_100.value / 100.0 * one.samples)
        least, _ = interval(hits, one.samples, LOSING_CHANCE)
        return 100.0 * least <= self.tolerance.harm_of_100

    def settle_open(self) -> None:
        """Judge on who left early while the tolerance may still be within reach: few samples decide nothing.

        The load as declared goes first, for only it can be a plain *go*; others matter where it is not within.
        """
        for declared in (True, False):
            while not self.any_within(declared=declared):
                early = [slot for slot in self.slots if self._left_open(slot, declared=declared)]
                if not early:
                    break
                early.sort(key=self.order_of)
                begun = self.best_of(early[0]).samples
                count = self._next(begun)
                same = [slot for slot in early if self.best_of(slot).samples == begun]
                self.raise_to(same[: max(ROUND_SAMPLES // count, LEAST_RACING)], count)
        self._settle_changes()

    def _settle_changes(self) -> None:
        """Judge on what might do with fewer wishes missed (bees left behind are one), changes, or less work.

        One harm in 8 samples says nothing yet: who is dropped for it is not surely above the tolerance.
        """
        while True:
            best = self.candidates()[0]
            if best.standing != "within":
                return
            most = trouble_of(best)
            early = {
                slot: trouble_of(one)
                for slot in self.slots
                if (one := self.best_of(slot)).samples < self.counts[-1]
                and trouble_of(one) < most
                and self._hopeful(one)
            }
            if not early:
                return
            ranked = sorted(early, key=lambda slot: (early[slot], self.order_of(slot)))
            count = self._next(self.best_of(ranked[0]).samples)
            same = [slot for slot in ranked if self._next(self.best_of(slot).samples) == count]
            self.raise_to(same[: max(ROUND_SAMPLES // count, LEAST_RACING)], count)

    def settle_least(self) -> None:
        """Judge on who may stand behind the best for want of samples alone.

        Where nothing is within, that is who seems to do less harm: else a start would be called the best above one that
        shows a smaller figure. Where the best is within, who would lead if it were as surely known: fewer hours shut
        are not to be lost to a wider interval. Only those that stand near are looked at: nobody reads the others.
        """
        while (best := self.candidates()[0]).standing != "unknown":
            behind = _would_lead if best.standing == "within" else self._seems_less
            rivals = [slot for slot in self.ranked()[1:MOST_RIVALS] if behind(self.best_of(slot), best)]
            if not rivals:
                return
            count = min(self._next(self.best_of(slot).samples) for slot in rivals)
            self.raise_to([slot for slot in rivals if self.best_of(slot).samples < count][:LEADERS], count)

    @staticmethod
    def _seems_less(one: Candidate, best: Candidate) -> bool:
        """Whether a candidate judged in fewer samples than the best shows a smaller share of harm."""
        if one.harm_of_100 is None or best.harm_of_100 is None or one.fits != best.fits:
            return False
        return one.samples < best.samples and one.harm_of_100.value < best.harm_of_100.value

    def settled(self, slot: Slot) -> bool:
        """Whether a slot is within the tolerance, judged on as long as it seems to be."""
        while self.best_of(slot).standing != "within" and self.seems_within(slot):
            if self.best_of(slot).samples >= self.counts[-1]:
                return False
            self.raise_to([slot], self._next(self.best_of(slot).samples))
        return self.best_of(slot).standing == "within"

    def seems_within(self, slot: Slot) -> bool:
        """Whether the tolerance is kept by the figures themselves, their intervals left aside."""
        one = self.best_of(slot)
        if one.harm_of_100 is None or one.boxes_harmed_expected is None or not one.fits:
            return False
        boxes = one.boxes_harmed_expected.value <= self.tolerance.boxes_of_100 * self.boxes / 100.0
        return boxes and one.harm_of_100.value <= self.tolerance.harm_of_100

    def any_within(self, *, declared: bool = False) -> bool:
        """Whether any load, or any as declared, is within the tolerance."""
        return any(
            one.standing == "within" and one.fits and (is_declared(one) or not declared)
            for one in map(self.best_of, self.slots)
        )

    def _left_open(self, slot: Slot, *, declared: bool) -> bool:
        one = self.best_of(slot)
        asked = is_declared(one) or not declared
        return asked and one.samples < self.counts[-1] and self._hopeful(one)

    def lead(self) -> Candidate:
        """The best of all, judged in all samples: who seems better in fewer is judged on until nobody does.

        Several go on at once, for luck in few samples is common; loads as declared, those of which only the place is
        another, and changed ones each have a best.
        """
        last = self.counts[-1]
        while True:
            ranked = self.candidates()
            declared = [one for one in ranked if is_declared(one)]
            untouched = [one for one in ranked if one.setup == AS_DECLARED]
            before = [one for each in (ranked, declared, untouched) for one in _ahead(each, last)]
            if not before:
                return ranked[0]
            for count in self.counts:
                self.field.judge((one.key for one in before if self._next(one.samples) == count), count)

    def _next(self, samples: int) -> int:
        """The samples of the round after those a load was judged in."""
        return next(count for count in self.counts if count > samples)

    # -- records ---------------------------------------------------------------------------------

    def record(self, key: Key, *, close: bool = False) -> Candidate:
        """The record of a load as far as it was judged."""
        field_ = self.field
        units = [field_.judged[unit] for unit in field_.units_of(key)]
        state = min(each.samples for each in units), min(len(each.shifted) for each in units), close
        kept = self._records.get(key)
        if kept and kept[0] == state:
            return kept[1]
        if kept and not close and (kept[0][0], kept[0][2]) == (state[0], close):
            found = with_headroom(field_, kept[1])
        else:
            found = candidate_of(
                field_,
                key,
                room=self.room(field_.arrangements[key.arrangement]),
                misses=self.misses[key.departure],
                close=close,
            )
            found = classed(found, self.tolerance, self.boxes)
        self._records[key] = state, found
        return found

    def best_of(self, slot: Slot) -> Candidate:
        """The better of the slot's closings, by those judged in most samples."""
        return self._ranked(slot)[0]

    def order_of(self, slot: Slot) -> tuple[float, ...]:
        """Sorts slots, best first, by the better of their closings."""
        return self._ranked(slot)[1]

    def _ranked(self, slot: Slot) -> tuple[Candidate, tuple[float, ...]]:
        """The better of the slot's closings and how it ranks; kept until the field looks at its departure again."""
        kept = self._best.get(slot)
        if kept is None or kept[0] < self.field.looked.get(slot.departure, 0):
            one = self._better_closing(slot)
            rank = kept[2] if kept and kept[1] is one else order(one, self.boxes)
            kept = self._best[slot] = self.field.looks, one, rank
        return kept[1], kept[2]

    def _better_closing(self, slot: Slot) -> Candidate:
        records = [self.record(key) for key in self.slots[slot]]
        most = max(one.samples for one in records)
        sharp = [one for one in records if one.samples == most]
        return sharp[0] if len(sharp) == 1 else min(sharp, key=partial(order, boxes=self.boxes))

    def ranked(self) -> list[Slot]:
        """Every slot, best first; kept until the field looks again or one is entered."""
        state = self.field.looks, len(self.slots)
        if self._order is None or self._order[0] != state:
            self._order = state, sorted(self.slots, key=self.order_of)
        return self._order[1]

    def candidates(self) -> list[Candidate]:
        """One for each load, best first: a slot whose freed closing is the fixed one is no other load."""
        found: dict[Key, Candidate] = {}
        for slot in self.ranked():
            one = self.best_of(slot)
            found.setdefault(one.key, one)
        return list(found.values())

    def look_closer(self, keys: Sequence[Key], samples: int = CLOSE_SAMPLES) -> None:
        """Find the headroom of some loads in more samples and finer steps."""
        count = min(
            samples,
            *(min(self.field.judged[unit].samples for unit in self.field.units_of(key)) for key in keys),
        )
        self.field.judge_shifted(keys, count, CLOSER_SHIFTS_K)

    def beside(self, best: Candidate) -> None:
        """Judge the departures around the best in samples enough to call them alike or not, as far as they are."""
        kind = best.key.arrangement, best.key.setups
        if self.stride > 1:
            middle, most = best.key.departure, self.field.departures_s.size
            near = range(max(middle - MOST_ALIKE // 2, 0), min(middle + MOST_ALIKE // 2 + 1, most))
            self.enter_between(Slot(departure, *kind) for departure in near)
        same = {slot.departure: slot for slot in self.slots if (slot.arrangement, slot.setups) == kind}
        count = min(WINDOW_SAMPLES, self.counts[-1])
        row = sorted(same)
        at = row.index(best.key.departure) if best.key.departure in same else 0
        sides = [row[:at][::-1][: MOST_ALIKE // 2], row[at + 1 :][: MOST_ALIKE // 2]]
        while any(sides):
            some = [same[departure] for side in sides for departure in side[:BESIDE]]
            self.raise_to([slot for slot in some if self.may_be_within(slot)], count)
            self._decide_beside(best, some)
            sides = [
                side[BESIDE:] if all(alike(best, self.best_of(same[d])) for d in side[:BESIDE]) else []
                for side in sides
            ]

    def _decide_beside(self, best: Candidate, slots: Sequence[Slot]) -> None:
        """Judge on who would be one answer with the best if only few samples did not leave it open."""
        for slot in slots:
            while (
                best.standing == "within"
                and (one := self.best_of(slot)).standing == "open"
                and one.samples < best.samples
                and self.seems_within(slot)
            ):
                self.raise_to([slot], self._next(one.samples))

    def raise_helpful(self, keys: Iterable[Key], best: Candidate) -> None:
        """Judge loads in as many samples as the best one as long as they may do less harm than it, beyond chance."""
        for key in keys:
            for count in self.counts:
                self.field.judge([key], min(count, best.samples))
                one = self.record(key)
                if count >= best.samples or not self._may_help(one, best):
                    break

    def _may_help(self, one: Candidate, best: Candidate) -> bool:
        if one.harm_of_100 is None or best.harm_of_100 is None:
            return False
        least, _ = interval(round(one.harm_of_100.value / 100.0 * one.samples), one.samples, LOSING_CHANCE)
        return 100.0 * least < best.harm_of_100.low


LEADERS = 6
"""So many of those that seem better than the best judged in all samples are judged on at once."""


def _would_lead(one: Candidate, best: Candidate) -> bool:
    """Whether a candidate judged in fewer samples than the best would come before it, were its interval no wider."""
    harm, sure = one.harm_of_100, best.harm_of_100
    if harm is None or sure is None or one.standing != "within" or one.samples >= best.samples:
        return False
    as_sure = replace(harm, high=max(harm.value, min(harm.high, sure.high)))
    known = replace(one, harm_of_100=as_sure)
    *ahead, _, _ = order(known, 1)
    *first, _, _ = order(best, 1)
    return ahead < first


def _ahead(ranked: Sequence[Candidate], samples: int) -> list[Candidate]:
    """The first of those that stand before the first one judged in so many samples."""
    out: list[Candidate] = []
    for one in ranked:
        if one.samples >= samples or one.harm_of_100 is None or len(out) == LEADERS:
            break
        out.append(one)
    return out


def surely_more(first: np.ndarray, second: np.ndarray) -> bool:
    """Whether the first is harmed more often than the second in the same samples, beyond chance.

    Of samples in which they differ as many fall either way by chance; 2.5 deviations of that are 1 in 160.
    """
    apart = int((first != second).sum())
    more = int(first.sum()) - int(second.sum())
    return more > 0 and more**2 > SURE_DEVIATIONS**2 * apart


def _alike(first: np.ndarray, second: np.ndarray) -> bool:
    """Whether two series of harmed or not, in the same samples, differ by no more than chance would have it."""
    apart = int((first != second).sum())
    return abs(int(first.sum()) - int(second.sum())) ** 2 <= apart
