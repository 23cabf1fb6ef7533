"""Small and large made-up assignment problems, and the answer by trying everything."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, combinations

import numpy as np
from scipy.sparse import csr_matrix

from planner.app.day.serving.assign import HARM_STEP, Problem


def made(
    seed: int, buyers: int, slots: int, *, kinds: int = 2, closings: int = 2, told: bool = False
) -> Problem:
    """Buyers with one or two boxes, two set-ups of which one needs a screen, boxes of some kinds, shade for few."""
    rng = np.random.default_rng(seed)
    rows: list[tuple[int, int, float, float, bool, int, int, int]] = []
    uses: list[tuple[int, int, int]] = []
    members = [tuple(bool(mask >> kind & 1) for kind in range(kinds)) for mask in range(1, 2**kinds)]
    need = rng.choice([1, 1, 2], buyers)
    told_slot = rng.integers(0, slots, buyers)
    for buyer in range(buyers):
        for slot in range(slots):
            for screen in range(2):
                for closing in range(closings):
                    if rng.random() < 0.25:
                        continue
                    at = len(rows)
                    harm = int(need[buyer]) * HARM_STEP * int(rng.choice([0, 0, 0, 2, 5]))
                    stays = slot if closing else -1
                    moved = told and slot != told_slot[buyer]
                    if told and slot < told_slot[buyer]:
                        continue
                    rows.append(
                        (
                            buyer,
                            int(need[buyer]),
                            harm,
                            round(float(rng.uniform(0, 9)), 2),
                            moved,
                            int(rng.integers(len(members))),
                            0 if closing else -1,
                            stays,
                        )
                    )
                    uses.append((slot, at, int(need[buyer])))
                    if screen:
                        uses.append((slots, at, int(need[buyer])))
    count = len(rows)
    column = [np.array(values) for values in zip(*rows, strict=True)] if rows else [np.zeros(0, int)] * 8
    r, c, v = (np.array(part) for part in zip(*uses, strict=True)) if uses else (np.zeros(0, int),) * 3
    return Problem(
        buyers=buyers,
        buyer=column[0].astype(np.int64),
        need=column[1].astype(np.int64),
        harm=column[2].astype(np.float64),
        care=column[3].astype(np.float64),
        moved=column[4].astype(bool),
        uses=csr_matrix((v.astype(float), (r, c)), shape=(slots + 1, count)),
        limit=np.append(rng.integers(1, 4, slots), rng.integers(0, 4)).astype(float),
        pool=column[5].astype(np.int64),
        members=np.array(members),
        kind_limit=rng.integers(1, buyers + 1, kinds).astype(float),
        stays_from=column[6].astype(np.int64),
        stays_to=column[7].astype(np.int64),
        stay_limit=rng.integers(0, 5, slots).astype(float),
    )


def is_kept(problem: Problem, taken: list[int]) -> bool:
    """Whether what is taken keeps every limit: counted one by one, kinds by Hall's condition."""
    of = problem.uses.toarray()
    if (of[:, taken].sum(axis=1) > problem.limit + 1e-9).any():
        return False
    for instant, most in enumerate(problem.stay_limit):
        standing = [
            problem.need[i]
            for i in taken
            if problem.stays_from[i] >= 0 and problem.stays_from[i] <= instant <= problem.stays_to[i]
        ]
        if sum(standing) > most:
            return False
    kinds = range(problem.kind_limit.size)
    for group in chain.from_iterable(combinations(kinds, n) for n in range(1, len(kinds) + 1)):
        within = [i for i in taken if not set(np.flatnonzero(problem.members[problem.pool[i]])) - set(group)]
        if problem.need[within].sum() > problem.kind_limit[list(group)].sum():
            return False
    return True


def by_trying(problem: Problem) -> tuple[float, ...]:
    """The best score of all there are."""
    options = [[-1, *np.flatnonzero(problem.buyer == b).tolist()] for b in range(problem.buyers)]
    goals = problem.goals

    def every(buyer: int, taken: list[int]) -> Iterator[list[int]]:
        if buyer == problem.buyers:
            yield taken
            return
        for option in options[buyer]:
            more = taken if option < 0 else [*taken, option]
            if option < 0 or is_kept(problem, more):  # nothing that is too much becomes less by taking more
                yield from every(buyer + 1, more)

    def scored(taken: list[int]) -> tuple[float, ...]:
        sums = [round(float(goal[taken].sum()), 6) for goal in goals]
        return problem.buyers + sums[0], *sums[1:]

    return min(scored(taken) for taken in every(0, []))
