"""From what happened in the samples to figures: shares with their intervals, bands, one candidate's record.

Intervals of shares hold 90 of 100 (Clopper & Pearson 1934, Biometrika 26:404, exact for independent samples; those of
a Sobol sequence err less). The expected share of boxes harmed gets the same interval at the sum of the shares: a number
between 0 and 1 spreads at most as widely as a yes or no of the same mean (Hoeffding 1963, JASA 58:13).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
import scipy  # and not scipy.special, which takes a third of a second: read when first asked

from planner.app.answer.field import Field
from planner.app.answer.records import (
    AS_DECLARED,
    FATES,
    MIXED,
    Band,
    Candidate,
    ClosingChoice,
    GroupChoice,
    GroupFate,
    HeadroomSide,
    Key,
    Span,
)
from planner.app.chance.units import (
    CLOSER_SHIFTS_K,
    COLDER,
    HOTTER,
    KEPT,
    SHIFTS_K,
    Judged,
    Unit,
    headroom_of,
)
from planner.app.plan.closings import cost_h
from planner.app.plan.plan import MissName
from planner.model.headroom import carried_over
from planner.model.limits import HARM, MOST_HEADROOM_K, UNKNOWN, VERDICTS
from planner.model.records import Bools, Floats, Ints

NEARLY_ALL = 0.8
"""Of the samples with least headroom, from such a share on one side is said to be the one that binds."""

TAIL = 0.05
"""What lies beyond each end of a 90 % interval."""

QUANTILES = (0.05, 0.50, 0.95)
OF_100_DIGITS, BOX_DIGITS, SHARE_DIGITS, K_DIGITS = 1, 3, 4, 2
"""Figures are rounded before anything is decided by them: what is shown is what was decided by."""


# -- intervals -------------------------------------------------------------------------------------


@lru_cache(maxsize=100_000)
def interval(hits: float, samples: int, tail: float = TAIL) -> tuple[float, float]:
    """Ends of the interval of a share, 0 to 1, ``tail`` beyond each; ``hits`` may be a sum of shares."""
    low = 0.0 if hits <= 0.0 else float(scipy.special.betaincinv(hits, samples - hits + 1.0, tail))
    high = 1.0 if hits >= samples else float(scipy.special.betaincinv(hits + 1.0, samples - hits, 1.0 - tail))
    return low, high


def span_of(hits: float, samples: int, whole: float = 100.0, digits: int = OF_100_DIGITS) -> Span:
    """A share of samples as a figure of ``whole`` with its interval."""
    hits = round(float(hits), 6)
    low, high = interval(hits, samples)
    return Span(*(round(whole * value, digits) for value in (low, hits / samples, high)))


def reached(values: Floats, digits: int) -> Band | None:
    """What 5, 50 and 95 of 100 samples do not go beyond, each the figure of a sample; None where nothing is known.

    Nothing is read between two samples: so a figure is below zero just where so many of 100 are.
    """
    known = np.sort(values[np.isfinite(values)])
    if not known.size:
        return None
    at = np.ceil(np.round(np.array(QUANTILES) * known.size, 6)).astype(np.int64) - 1
    return Band(*(round(float(value), digits) for value in known[np.maximum(at, 0)]))


def band_of(values: Floats, digits: int) -> Band | None:
    """What 5, 50 and 95 of 100 samples stay below; None where nothing is known."""
    known = np.sort(values[np.isfinite(values)])
    if not known.size:
        return None
    at = np.array(QUANTILES) * (known.size - 1)
    low = at.astype(np.int64)
    high = np.minimum(low + 1, known.size - 1)
    found = known[low] + (at - low) * (known[high] - known[low])
    return Band(*(round(float(value), digits) for value in found))


def middle_of(values: Floats) -> float:
    """The median, NaN where any is; numpy's own takes ten times as long over so few, and is asked for thousands."""
    ranked = np.sort(values)
    half = ranked.size // 2
    if np.isnan(ranked[-1]):
        return np.nan
    return float(ranked[half] if ranked.size % 2 else 0.5 * (ranked[half - 1] + ranked[half]))


# -- one load in the samples -----------------------------------------------------------------------


@dataclass(frozen=True)
class Fates:
    """What happened to a load in the samples that all of its units have met, groups in the order of the load.

    Hundreds of loads are ranked by a few of these tables, so that each is put together when it is asked for.
    ``order`` puts the parts of the units in the order of the groups.
    """

    field: Field
    units: Sequence[Unit]
    judged: Sequence[Judged]
    samples: int
    order: Ints

    def _together(self, tables: Iterable[np.ndarray]) -> np.ndarray:
        """The units' tables, each (part, sample, ...), as one by group."""
        return np.concatenate([table[:, : self.samples] for table in tables])[self.order]

    @cached_property
    def level(self) -> np.ndarray:
        """The five verdicts, (group, sample, verdict)."""
        return self._together(each.level for each in self.judged)

    @cached_property
    def ruined(self) -> Bools:
        """Whether the boxes are ruined, (group, sample)."""
        return self._together(each.ruined for each in self.judged)

    @cached_property
    def harm_h(self) -> Floats:
        """Hours from closing to the first harm, (group, sample); NaN where there is none."""
        return self._together(each.harm_h for each in self.judged)

    @cached_property
    def table(self) -> np.ndarray:
        """All of KEPT, (KEPT, group, sample)."""
        every = [each.kept[:, :, : self.samples] for each in self.judged]
        return np.concatenate(every, axis=1)[:, self.order]

    def kept(self, name: str) -> np.ndarray:
        """One of KEPT, (group, sample)."""
        return self._together(each.kept[KEPT.index(name)] for each in self.judged)

    @cached_property
    def worst(self) -> np.ndarray:
        """The worst of the five verdicts, (group, sample)."""
        return np.asarray(self.level.max(axis=2))

    @cached_property
    def harmed(self) -> Bools:
        """Whether any of the five verdicts is harm, (group, sample)."""
        return np.asarray(self.worst == HARM)

    @property
    def known(self) -> bool:
        return not bool((self.worst == UNKNOWN).any())

    @cached_property
    def headroom(self) -> tuple[Floats, bool, HeadroomSide]:
        """Headroom of the worst box, (sample,); whether the shifts of the air were close, and which way it is used up.

        Infinite where the air of no box follows the outside.
        """
        return _headroom(self.field, self.units)


def fates_of(field: Field, key: Key) -> Fates:
    """A load put together from its units, in the samples all of them have met."""
    units = field.units_of(key)
    judged = [field.judged[unit] for unit in units]
    order = np.argsort([part.group for unit in units for part in unit.parts])
    return Fates(field, units, judged, min(each.samples for each in judged), order)


def _headroom(field: Field, units: Sequence[Unit]) -> tuple[Floats, bool, HeadroomSide]:
    """Headroom of the worst box of a load, (sample,), whether the shifts were close, and which way it is used up.

    In samples in which none were tried it follows from what the boxes have to spare. Where a box is harmed whose air
    does not follow the outside, no shift of the air ends it.
    """
    if not all(field.judged[unit].shifted for unit in units):
        return np.empty(0), False, ""
    spare, colder, exact = [], [], True
    for unit in units:
        found, close, by_cold = headroom_of(field.judged[unit], field.counted(unit))
        spare.append(found)
        colder.append(by_cold)
        exact &= close
    tried = min(len(each) for each in spare)
    every = np.stack([each[:tried] for each in spare])
    binds = np.stack([each[:tried] for each in colder])[every.argmin(axis=0), np.arange(tried)]
    least, close = every.min(axis=0), exact and tried > 0
    side = headroom_side(least, binds, exact=close)
    whole = carried_over(least, _spare_now(field, units))
    return (
        np.where(_harmed_aside(field, units)[: whole.size], np.minimum(whole, -MOST_HEADROOM_K), whole),
        close,
        side,
    )


def _harmed_aside(field: Field, units: Sequence[Unit]) -> Bools:
    """Samples in which a box is harmed whose air does not follow the outside, beside others whose does, (sample,)."""
    count = min(field.judged[unit].samples for unit in units)
    follows = [field.counted(unit) for unit in units]
    if all(map(all, follows)) or not any(map(any, follows)):
        return np.zeros(count, dtype=bool)
    aside = [
        field.judged[unit].level[~np.array(counts), :count].max(axis=2) == HARM
        for unit, counts in zip(units, follows, strict=True)
    ]
    return np.asarray(np.concatenate(aside).any(axis=0))


def _spare_now(field: Field, units: Sequence[Unit]) -> Floats:
    """What the worst box whose air follows the outside has to spare in the air as it is, (sample,)."""
    count = min(field.judged[unit].samples for unit in units)
    found = np.full(count, np.inf)
    for unit in units:
        kept, counts = field.judged[unit].kept, field.counted(unit)
        for row, counted in enumerate(counts):
            if counted:
                found = np.minimum(found, np.minimum(kept[HOTTER, row, :count], kept[COLDER, row, :count]))
    return found


def headroom_side(headroom_k: Floats, colder_first: Bools, *, exact: bool) -> HeadroomSide:
    """Which way headroom is used up first, in nearly all of the half of the samples that has least; "" if unknown.

    Beyond the shifts of the air that were tried neither side is known to be nearer.
    """
    known = headroom_k < max(CLOSER_SHIFTS_K if exact else SHIFTS_K)
    if not known.any():
        return ""
    if 2 * known.sum() <= known.size:  # the middle lies beyond what was tried
        return "either"
    least = known & (headroom_k <= middle_of(headroom_k))
    colder = float(colder_first[least if least.any() else known].mean())
    return "colder" if colder >= NEARLY_ALL else "warmer" if colder <= 1.0 - NEARLY_ALL else "either"


def with_headroom(field: Field, known: Candidate) -> Candidate:
    """The record of a load of which nothing but the headroom has been looked at again."""
    if known.harm_of_100 is None:
        return known
    headroom_k, exact, side = _headroom(field, field.units_of(known.key))
    return replace(known, headroom_k=reached(headroom_k, K_DIGITS), headroom_exact=exact, headroom_side=side)


def any_harmed(fates: Fates) -> Bools:
    """Samples in which at least one box is harmed, (sample,)."""
    return np.asarray(fates.harmed.any(axis=0))


# -- its record ------------------------------------------------------------------------------------


def candidate_of(
    field: Field, key: Key, *, room: str, misses: tuple[MissName, ...], close: bool = False
) -> Candidate:
    """The record of a load that was judged; ``close`` fills in the groups."""
    fates = fates_of(field, key)
    by_group = choices_of(field, key)
    known, count = fates.known, fates.samples
    shut = [field.closings.closed_s[c, key.departure, g] for g, c in enumerate(key.closings)]
    leave = float(field.departures_s[key.departure])
    harmed = fates.harmed
    boxes = field.counts
    total = float(boxes.sum())
    any_box = any_harmed(fates)
    harm = span_of(any_box.sum(), count) if known else None
    share = boxes / total
    first_h = np.where(harmed, fates.harm_h, np.inf).min(axis=0)[any_box] if any_box.any() else np.empty(0)
    first_h = first_h[np.isfinite(first_h)]
    headroom_k, headroom_exact, side = fates.headroom
    declared = declared_places(field)
    return Candidate(
        key=key,
        leave_s=leave,
        leave_from_s=leave,
        leave_to_s=leave,
        arrive_s=float(field.arrive_s[key.departure]),
        shut_s=float(min(shut)),
        open_s=float(field.opened_s[key.departure]),
        place=_same([one.place for one in by_group]),
        setup=_same([one.setup for one in by_group]),
        by_group=by_group,
        samples=count if known else 0,
        harm_of_100=harm,
        boxes_harmed_expected=span_of((share @ harmed).sum(), count, total, BOX_DIGITS) if known else None,
        workers_dead_share=band_of(share @ fates.kept("dead_share"), SHARE_DIGITS) if known else None,
        headroom_k=reached(headroom_k, K_DIGITS) if known else None,
        groups=groups_of(field, key, fates) if close else (),
        fits=not room,
        room=room,
        misses=misses,
        headroom_exact=headroom_exact,
        headroom_side=side if known else "",
        agitated_of_100=_agitated_of_100(field, any_box) if known else None,
        changes=_changes(field, key, declared),
        work=_work(field, key),
        ruined_share=float((share @ fates.ruined).mean()),
        first_harm_h=round(float(middle_of(first_h)), 2) if first_h.size else None,
        typical=Typical(fates) if known else {},
    )


def choices_of(field: Field, key: Key) -> tuple[GroupChoice, ...]:
    """What a load does with each group."""
    out = []
    for g, group in enumerate(field.trip.groups):
        at = key.closings[g], key.departure, g
        closing = ClosingChoice(
            rule=field.closings.rules[at[0]],
            at_s=float(field.closings.closed_s[at]),
            fixed=field.closings.fixed[g],
            home_share=round(float(field.closings.home_share[at]), 3),
        )
        place = field.places[field.arrangements[key.arrangement][g]]
        out.append(GroupChoice(group.label, place, field.setups[key.setups[g]].name, closing))
    return tuple(out)


def groups_of(field: Field, key: Key, fates: Fates) -> tuple[GroupFate, ...]:
    """What happens to each group."""
    out = []
    for g, group in enumerate(field.trip.groups):
        place = field.places[field.arrangements[key.arrangement][g]]
        if not fates.known:
            out.append(GroupFate(group.label, group.count, place, dict.fromkeys(FATES)))
            continue
        harms = fates.level[g] == HARM
        spans: dict[str, Span | None] = {"any": span_of(harms.any(axis=1).sum(), fates.samples)}
        for v, name in enumerate(VERDICTS):
            spans[name] = span_of(harms[:, v].sum(), fates.samples) if holds(field, g, name) else None
        out.append(
            GroupFate(
                label=group.label,
                count=group.count,
                place=place,
                harm_of_100=spans,
                peak_c=band_of(fates.kept("peak_core_c")[g], K_DIGITS),
                low_c=band_of(fates.kept("low_core_c")[g], K_DIGITS),
                workers_dead_share=band_of(fates.kept("dead_share")[g], SHARE_DIGITS),
            )
        )
    return tuple(out)


def holds(field: Field, group: int, fate: str) -> bool:
    """Whether a box of a group holds what a verdict is about: brood, comb; every box has queen, workers and cold."""
    boxes = field.trip.groups[group]
    if fate == "brood":
        return boxes.open_brood_frames + boxes.sealed_brood_frames > 0.0
    if fate == "comb":
        return field.catalogue.box_types[boxes.box_type].frames > 0.0
    return True


def cost_of(candidate: Candidate) -> float:
    """What a candidate costs, in hours shut: the load's longest, with the bees it leaves behind."""
    return cost_h(candidate.shut_h, candidate.home_share)


def declared_places(field: Field) -> tuple[str | None, ...]:
    """The place each group is pinned to, None where it is open."""
    return tuple(group.loading_place for group in field.trip.groups)


def _changes(field: Field, key: Key, declared: Sequence[str | None]) -> int:
    """Things done otherwise than the user has fixed: a set-up, another place or closing for any groups, a group's own.

    A closing fixed for the trip is one word: all groups that another rule shuts are one change.
    """
    places = [field.places[place] for place in field.arrangements[key.arrangement]]
    moved = sum(1 for pin, place in zip(declared, places, strict=True) if pin and pin != place)
    moved += len(
        {
            place
            for pin, place in zip(declared, places, strict=True)
            if not pin and place not in field.trip.loading_places
        }
    )
    setups = len({setup for setup in key.setups if setup})
    shut = len(
        {
            (closing, g if field.trip.groups[g].closing else None)
            for g, closing in enumerate(key.closings)
            if field.closings.fixed[g] and closing != field.closings.declared[g]
        }
    )
    return moved + setups + shut


def _work(field: Field, key: Key) -> int:
    """Work of a load: what is done to each box, and how awkward its place is."""
    places = field.arrangements[key.arrangement]
    return sum(
        group.count * (field.setups[setup].effort + field.scenario.grid.places[place].effort)
        for group, setup, place in zip(field.trip.groups, key.setups, places, strict=True)
    )


class Typical(Mapping[str, float | None]):
    """Medians of the box that is worst in each figure, and levels that most samples reach; found when asked for.

    Hundreds of candidates have them, a few are looked at.
    """

    def __init__(self, fates: Fates) -> None:
        self._fates = fates

    @cached_property
    def _found(self) -> dict[str, float | None]:
        return _typical(self._fates)

    def __getitem__(self, name: str) -> float | None:
        return self._found[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)


def _typical(fates: Fates) -> dict[str, float | None]:
    """Medians of the box that is worst in each figure, and levels that most samples reach."""
    at = fates.samples // 2
    middle = np.partition(fates.table, at, axis=2)[:, :, at]
    out = {name: _number(float(value)) for name, value in zip(KEPT, middle.max(axis=1), strict=True)}
    out["low_core_c"] = _number(float(middle[KEPT.index("low_core_c")].min()))
    peak = band_of(fates.kept("peak_core_c").max(axis=0), K_DIGITS)
    levels = np.sort(fates.level.max(axis=0), axis=0)  # (sample, verdict)
    level, worst = levels[len(levels) // 2], np.sort(fates.worst.max(axis=0))
    out |= {f"level_{name}": float(value) for name, value in zip(VERDICTS, level, strict=True)}
    out["level"] = float(worst[worst.size // 2])
    out["level_p95"] = float(worst[int(0.95 * (worst.size - 1))])
    if peak:
        out |= {"peak_p5": peak.p5, "peak_p50": peak.p50, "peak_p95": peak.p95}
    return out


def _number(value: float) -> float | None:
    return round(value, 4) if np.isfinite(value) else None


def _agitated_of_100(field: Field, harmed: Bools) -> float:
    """Share of harm among the samples with the most agitated bees."""
    upper = field.most_agitated(harmed.size)
    share = float(np.count_nonzero(harmed[upper])) / float(np.count_nonzero(upper))
    return round(100.0 * share, OF_100_DIGITS)


def _same(names: Sequence[str]) -> str:
    return names[0] if len(set(names)) == 1 else MIXED


__all__ = [
    "AS_DECLARED",
    "Fates",
    "any_harmed",
    "band_of",
    "candidate_of",
    "cost_of",
    "fates_of",
    "groups_of",
    "span_of",
    "with_headroom",
]
