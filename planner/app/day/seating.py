"""Seats buyers so that everybody is within the tolerance by his own figures: what is not is struck out and replaced.

Whoever is safe keeps his place while others are found one, which is soon done; what came of it is then held against the
best there is: where nothing was better, that is proved.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from planner.app.answer.records import Tolerance
from planner.app.common.progress import Progress, Stop
from planner.app.day.serving.assign import Assignment, assign, drawn, is_as_good, score
from planner.app.day.serving.chosen import Choice, Close, looked_at
from planner.app.day.serving.judge import Asked, Judge
from planner.app.day.serving.kinds import strength
from planner.app.day.serving.limits import Limits
from planner.app.day.serving.options import Held, Options, options_of
from planner.model.records import Bools, Floats, Ints
from planner.store.dayrecords import CLOSINGS, SaleBox

QUICK_ROUNDS, EXACT_ROUNDS, REPLACED = 6, 3, 8
"""How often a good assignment is sought, how often the best; and how often those who are not safe another place."""

PROMISING, UNLIKELY = 1.0, 1.5
"""Harm beside what is accepted, by the table: what is looked at first, and what where somebody finds no place else."""

OTHER_KIND = 100.0
"""What a box of another kind than somebody had costs beside hours of driving: more than any drive."""

WARM_C = 12.0
"""On warmer days the strong boxes go the short ways, on colder ones the weak (common practice, no source)."""


@dataclass(frozen=True)
class Seated:
    """Everybody who is served, all within the tolerance; ``found`` among ``options``, exact where proved best."""

    options: Options
    found: Assignment
    closely: list[Close]


class Seating:
    """One day whose table is filled.

    Parameters
    ----------
    share : (ride, closing, slot, kind, set-up) of samples with harm, NaN unknown
    samples : in which every choice is looked at, at the least
    """

    def __init__(
        self,
        judge: Judge,
        share: Floats,
        tolerance: Tolerance,
        samples: int,
        executor: Executor | None = None,
        should_stop: Stop | None = None,
    ) -> None:
        self.judge, self.asked, self.share, self.tolerance = judge, judge.asked, share, tolerance
        self.samples, self.executor, self.should_stop = samples, executor, should_stop
        self.known: dict[Choice, Close] = judge.looked.setdefault(tolerance, {})
        self.limits, self.struck = Limits(self.asked), nothing_struck(self.asked)
        self._allowed = min(tolerance.harm_of_100, tolerance.boxes_of_100)
        self._most = np.full(len(self.asked.day.buyers), PROMISING * self._allowed)

    def seated(self, gap: float, on_progress: Progress | None = None) -> Seated:
        """A good assignment first, then the best there are, until one stays as good when all in it are safe."""
        kept: dict[int, Close] = {}
        best: tuple[tuple[float, ...], Seated] | None = None
        goes_on, quick = False, True
        for round_ in range(QUICK_ROUNDS + EXACT_ROUNDS):
            options = self._options()  # fewer than the round before where one was struck out
            begun = at_options(self.asked, options, kept.values()) if goes_on else None
            found = assign(options.problem, gap, quick=quick, begun=begun)
            had = {number: [box.name for box in close.choice.boxes] for number, close in kept.items()}
            choices = chosen(self.asked, options, found, had)
            kept = self._replaced(self._looked(choices))
            now = at_options(self.asked, options, kept.values())
            reached = score(options.problem, now)
            as_good = is_as_good(reached, score(options.problem, found), gap)
            proved = found.exact and as_good
            if best is None or proved or reached < best[0]:
                best = reached, Seated(options, replace(now, exact=proved), list(kept.values()))
            if on_progress:
                on_progress(1.0 - 0.25 * 0.7 ** (round_ + 1))
            if proved or (as_good and not quick):
                break
            if not round_ and len(kept) < self._most.size:  # whoever found no place is looked at further
                self._most[[number for number in range(self._most.size) if number not in kept]] *= UNLIKELY
                kept, as_good = self._replaced(kept), False
            goes_on = quick and as_good
            quick = quick and not as_good and round_ < QUICK_ROUNDS - 1
        assert best is not None
        return best[1]

    def _options(self, asked: Asked | None = None, held: Held | None = None) -> Options:
        samples = self.judge.table.samples
        return options_of(
            asked or self.asked, self.share, samples, self.tolerance, self.struck, self._most, held
        )

    def _looked(self, choices: Sequence[Choice]) -> dict[int, Close]:
        """Choices within the tolerance, by buyer; the others are struck out."""
        new = [choice for choice in choices if choice not in self.known]
        for close in looked_at(
            self.judge, new, self.tolerance, self.samples, self.executor, self.should_stop
        ):
            self.known[close.choice] = close
        for choice in choices:
            if self.known[choice].standing != "within":
                strike(self.struck, self.asked, self.share, choice)
        return {
            choice.buyer: self.known[choice] for choice in choices if self.known[choice].standing == "within"
        }

    def _replaced(self, kept: dict[int, Close]) -> dict[int, Close]:
        """Who is kept, and beside them whoever else finds a place that is safe."""
        for _ in range(REPLACED):
            free = self._most.size - len(kept)
            if not free:
                break
            choices = [close.choice for close in kept.values()]
            asked = without_boxes(self.asked, choices)
            options = self._options(asked, held_beside(self.asked, self.limits, choices))
            if not options.problem.options:
                break
            more = chosen(asked, options, assign(options.problem, quick=True))
            safe = self._looked(more)
            kept = {**kept, **safe}
            if len(safe) == len(more):
                break
        return kept


def at_options(asked: Asked, options: Options, closely: Iterable[Close]) -> Assignment:
    """What was chosen as an assignment of options; whoever has none like it any more is left out."""
    problem = options.problem
    option = np.full(problem.buyers, -1)
    for close in closely:
        choice = close.choice
        kinds = list(kinds_in(asked, choice.boxes))
        alike = (problem.buyer == choice.buyer) & (options.slot == choice.slot)
        alike &= (options.closing == choice.closing) & (options.setup == choice.setup)
        at = np.flatnonzero(alike)
        fit = at[problem.members[problem.pool[at]][:, kinds].all(axis=1)]
        if fit.size:
            option[choice.buyer] = fit[0]
    return Assignment(option, exact=False)


# -- what is held --------------------------------------------------------------------------------


def without_boxes(asked: Asked, choices: Iterable[Choice]) -> Asked:
    """What is asked, less the boxes of some choices."""
    given = {box.name for choice in choices for box in choice.boxes}
    return replace(asked, kinds=tuple(kind.without(given) for kind in asked.kinds))


def held_beside(asked: Asked, limits: Limits, choices: Sequence[Choice]) -> Held:
    """What is left to all others while some choices stay as they are."""
    slot, closing, setup, need = columns(choices)
    buyers = len(asked.day.buyers)
    uses = limits.uses(slot, need, closing, [each.name for each in asked.setups], setup)
    free = np.ones(buyers, dtype=bool)
    free[[choice.buyer for choice in choices]] = False
    return Held(
        free=free,
        spent=np.asarray(uses.sum(axis=1), dtype=np.float64).ravel(),
        stands=limits.stands(slot, need, closing),
        told={},
        had=np.full(buyers, -1),
        boxes={},
        few=np.zeros(buyers, dtype=bool),
    )


def columns(choices: Collection[Choice]) -> tuple[Ints, Ints, Ints, Ints]:
    """Slot, closing, set-up and number of boxes of choices, (choice,)."""
    table = np.array([(c.slot, c.closing, c.setup, len(c.boxes)) for c in choices], dtype=np.int64)
    slot, closing, setup, need = table.reshape(-1, 4).T
    return slot, closing, setup, need


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
        of_kind = {box.name for box in asked.kinds[kind].boxes}
        getting = sorted(np.flatnonzero(column).tolist(), key=lambda row: far[row] if warm else -far[row])
        supply = list(asked.kinds[kind].boxes)
        for row in getting:
            names = had.get(int(problem.buyer[taken[row]]), ())
            its = [box for box in supply if box.name in names][: int(column[row])]
            boxes[row] += its
            supply = [box for box in supply if box.name not in {one.name for one in its}]
        promised = {name for names in had.values() for name in names}
        supply.sort(key=lambda box: box.name in promised)
        for row in getting:
            more = int(column[row]) - sum(box.name in of_kind for box in boxes[row])
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


# -- what is struck out --------------------------------------------------------------------------


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
    """The kind of each box, by its name: no two of a day have the same."""
    kind_of = {box.name: number for number, kind in enumerate(asked.kinds) for box in kind.boxes}
    return (kind_of[box.name] for box in boxes)


def is_warm(asked: Asked) -> bool:
    """Whether heat is what the day is about."""
    return float(np.nanmean(asked.weather.air_c)) >= WARM_C
