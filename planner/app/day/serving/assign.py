"""Who gets which of many options, so that fewest are put off: integer programmes solved one after the other by HiGHS.

An option is one way to serve one buyer: a slot, a set-up, a closing, and a pool of boxes that would do alike. What
options use up is limited: hands of a slot, screens, boxes of a kind, shade while boxes stand shut. Pure arrays; nothing
here knows of bees. The goals come in order, each kept while the next is sought (lexicographic): fewest put off, fewest
moved who were told, least harm, least care.
"""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import scipy  # and not its rooms, which take half a second: a day has them read while its first samples are marched

from planner.app.common.executors import map_unordered
from planner.model.records import Bools, Floats, Ints

if TYPE_CHECKING:
    from scipy.sparse import csr_matrix

HARM_STEP = 0.01
"""Expected harmed boxes are compared in hundredths: finer is the samples' own noise."""
SLACK = 1e-6
GUESS_NODES, PROVE_NODES = 1, 200
"""So far a search goes: counted, not timed, so that a slow machine answers alike."""

TIME_LIMIT_S = 120.0
"""Lest a machine hangs for good; no day of 160 buyers gets near it."""


@dataclass(frozen=True)
class Problem:
    """Options and what they use up.

    Parameters
    ----------
    buyers : how many there are
    buyer : (option,) whom it serves
    need : (option,) how many boxes
    harm : (option,) boxes expected to be harmed
    care : (option,) everything that is a nuisance
    moved : (option,) how much a told appointment is changed, whole numbers, 0 for not at all
    uses : (resource, option) how much of each resource
    limit : (resource,) how much there is
    pool : (option,) row of ``members``
    members : (pool, kind) which kinds of boxes would do alike
    kind_limit : (kind,) boxes of each kind
    stays_from, stays_to : (option,) first and last instant at which its boxes stand shut, -1 where never
    stay_limit : (instant,) how many may stand shut then
    """

    buyers: int
    buyer: Ints
    need: Ints
    harm: Floats
    care: Floats
    moved: Ints
    uses: csr_matrix
    limit: Floats
    pool: Ints
    members: Bools
    kind_limit: Floats
    stays_from: Ints
    stays_to: Ints
    stay_limit: Floats

    @property
    def options(self) -> int:
        return int(self.buyer.size)

    @property
    def limits(self) -> Floats:
        """Of resources, kinds and instants, one after the other."""
        return np.concatenate((self.limit, self.kind_limit, self.stay_limit))

    def with_limits(self, limits: Floats) -> Problem:
        """The same with other limits, in the order of ``limits``."""
        resources, kinds = self.limit.size, self.kind_limit.size
        cut = np.split(limits, [resources, resources + kinds])
        return replace(self, limit=cut[0], kind_limit=cut[1], stay_limit=cut[2])

    def only(self, options: Bools) -> tuple[Problem, Ints]:
        """The same with some of the options, and their numbers here."""
        kept = np.flatnonzero(options)
        per_option = ("buyer", "need", "harm", "care", "moved", "pool", "stays_from", "stays_to")
        cut = {name: getattr(self, name)[kept] for name in per_option}
        return replace(self, uses=self.uses[:, kept], **cut), kept

    @property
    def goals(self) -> list[Floats]:
        """What is made least, in this order, (option,); the first counts everybody served as less."""
        moved, stepped = self.moved.astype(np.float64), np.round(self.harm / HARM_STEP)
        return [-np.ones(self.options), moved, stepped, self.care]


@dataclass(frozen=True)
class Assignment:
    """``option`` (buyer,) of each buyer, -1 where put off; ``exact`` unless the search ended before the gap was met."""

    option: Ints
    exact: bool = True
    put_off: Ints = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "put_off", np.flatnonzero(self.option < 0))

    @property
    def taken(self) -> Ints:
        """The options taken."""
        return np.asarray(self.option[self.option >= 0])


def score(problem: Problem, assignment: Assignment) -> tuple[float, ...]:
    """The goals reached: put off, moved, harm in steps, care."""
    taken = assignment.taken
    sums = [float(goal[taken].sum()) for goal in problem.goals]
    return problem.buyers + sums[0], *sums[1:]


def is_as_good(reached: tuple[float, ...], best: tuple[float, ...], gap: float = 0.0) -> bool:
    """Whether a score is no worse than the best there is: care within the gap, all else alike."""
    *goals, care = zip(reached, best, strict=True)
    return all(one <= other + SLACK for one, other in goals) and care[0] <= care[1] * (1.0 + gap) + SLACK


def assign(
    problem: Problem, gap: float = 0.0, *, quick: bool = False, begun: Assignment | None = None
) -> Assignment:
    """The best assignment.

    Parameters
    ----------
    gap : the relative gap of care that will do, 0 for none
    quick : a good one at once
    begun : a quick one of the same options, to go on from
    """
    if quick:
        return _assignment(problem, np.flatnonzero(Solver(problem).guess(problem.goals)), exact=False)
    goals, begins = problem.goals, _taken(problem, begun)
    harmless = (goals[2] == 0.0) & (problem.moved == 0)
    easy, kept = problem.only(harmless)
    easily = np.zeros(problem.options, dtype=bool)
    if easy.options and harmless[begins].all():
        # whom nothing harms and nobody moves is as well served as can be: only care is left
        solver = Solver(easy)
        easily[kept] = begins[kept] if begins.any() else solver.guess(easy.goals)
        if easily.sum() >= problem.buyers - 0.5:
            found = solver.least(easy.goals[3], [(easy.goals[0], -float(problem.buyers))], easily[kept], gap)
            return _assignment(problem, kept[found], solver.exact)
    solver = Solver(problem)
    found, reached = begins if begins.any() else solver.guess(goals), Reached()
    if found.sum() < easily.sum():
        found = easily
    for goal in goals:
        found = solver.least(goal, reached, found, gap if goal is goals[-1] else 0.0)
        reached.append((goal, float(goal[found].sum())))
    return _assignment(problem, np.flatnonzero(found), solver.exact)


def _taken(problem: Problem, begun: Assignment | None) -> Bools:
    """The options of an assignment, none where there is none, (option,)."""
    taken = np.zeros(problem.options, dtype=bool)
    if begun is not None:
        taken[begun.taken] = True
    return taken


def _assignment(problem: Problem, taken: Ints, exact: bool) -> Assignment:
    option = np.full(problem.buyers, -1)
    option[problem.buyer[taken]] = taken
    return Assignment(option, exact)


Reached = list[tuple[Floats, float]]
"""Goals with the values that must not get worse."""

GUESS_WEIGHTS = (1e4, 1e1, 1.0, 1e-2)
"""How much the goals count beside each other where only a good beginning is sought."""

GUESS_GAP, HALF = 1e-4, 1e-3
GUESS_OPTIONS, MORE_OPTIONS = 12, 24
"""So many of each buyer's options are looked at first."""

MOST_OPTIONS, MOST_TO_PROVE = 6000, 1500


class Solver:
    """Solves one problem for one goal after another.

    The relaxed problem is quick and nearly whole, the whole one slow for its many alike options. So each goal is
    bounded by the relaxed problem first; an option whose reduced cost is above what the bound leaves open can be in no
    better answer and is left out of the whole one: the answer stays exact.
    """

    def __init__(self, problem: Problem) -> None:
        self.problem, self.table, self.exact = problem, _table(problem), True
        self._promise = np.zeros(problem.options)

    def guess(self, goals: list[Floats]) -> Bools:
        """A good beginning: all goals weighed together over few options of every buyer."""
        if not self.problem.options:
            return np.zeros(0, dtype=bool)
        goal = sum((w * g for w, g in zip(GUESS_WEIGHTS, goals, strict=True)), np.zeros(self.problem.options))
        answer, served = self._relaxed(goal, []), Reached()
        if answer.status == 0:
            self._promise = np.asarray(answer.lower.marginals[: goal.size])
            # nobody is served by half: once the solver is told, its bound is as good as reached
            served = [(-goals[0], float(np.floor(-goals[0] @ answer.x[: goal.size] + HALF)))]
        found, _ = self._whole(goal, served, self.best_of_each(self._promise), GUESS_GAP, GUESS_NODES)
        return np.zeros(goal.size, dtype=bool) if found is None else found

    def best_of_each(self, cost: Floats, many: int = GUESS_OPTIONS) -> Bools:
        """The few options of every buyer with the least reduced cost, the more promising first."""
        order = np.lexsort((self._promise, np.round(cost, 6), self.problem.buyer))
        buyer = self.problem.buyer[order]
        rank = np.arange(order.size) - np.searchsorted(buyer, buyer)
        few = np.zeros(order.size, dtype=bool)
        few[order[rank < many]] = True
        return few

    def least(self, goal: Floats, reached: Reached, found: Bools, gap: float) -> Bools:
        """Options that make a goal least while what was reached is kept; ``found`` keeps it already."""
        value = float(goal[found].sum())
        if not self.problem.options or (value <= 0.0 and (goal >= 0.0).all()):
            return found
        bound, cost = self.bound(goal, reached)
        whole = bool((goal == np.round(goal)).all())
        for narrow in (True, False):
            open_ = value - (np.ceil(bound - SLACK) if whole else bound)
            if open_ <= SLACK + gap * abs(value):
                return found
            room = value - bound + SLACK
            may = found | (cost <= room)
            if narrow:
                may &= found | self.best_of_each(cost)
            elif may.sum() > MOST_OPTIONS:  # too many to prove anything in time
                self.exact = False
                return found
            better, proved = self._whole(goal, reached, may, gap, PROVE_NODES)
            if better is not None and goal[better].sum() < value:
                found, value = better, float(goal[better].sum())
            if not narrow:
                self.exact = self.exact and proved
        return found

    def bound(self, goal: Floats, reached: Reached) -> tuple[float, Floats]:
        """The goal of the relaxed problem, and the reduced cost of every option."""
        answer = self._relaxed(goal, reached)
        if answer.status != 0:
            return -np.inf, np.zeros(goal.size)
        return float(answer.fun), np.asarray(answer.lower.marginals[: goal.size])

    def priced(self) -> tuple[float, Floats]:
        """Minus the most that can be served in the relaxed problem, and what each of the limits is worth, to 1e-9."""
        answer = self._relaxed(self.problem.goals[0], [])
        if answer.status != 0:
            return -np.inf, np.ones(self.table.limited.size)
        return float(answer.fun), np.round(answer.ineqlin.marginals[self.table.limited], 9)

    def _relaxed(self, goal: Floats, reached: Reached) -> Any:
        table = self.table
        rows, most = self._rows(reached)
        relaxed: Any = scipy.optimize.linprog  # its stubs know no sparse rows
        return relaxed(
            np.concatenate((goal, np.zeros(table.others))),
            A_ub=rows,
            b_ub=most,
            A_eq=table.equal,
            b_eq=np.zeros(table.equal.shape[0]),
            method="highs",
        )

    def _rows(self, reached: Reached) -> tuple[csr_matrix, Floats]:
        if not reached:
            return self.table.rows, self.table.most
        kept = scipy.sparse.csr_matrix(
            np.stack([np.concatenate((g, np.zeros(self.table.others))) for g, _ in reached])
        )
        return scipy.sparse.vstack([self.table.rows, kept], format="csr"), np.append(
            self.table.most, [v + SLACK for _, v in reached]
        )

    def _whole(
        self, goal: Floats, reached: Reached, may: Bools, gap: float, nodes: int
    ) -> tuple[Bools | None, bool]:
        """The whole problem over some of the options: those taken, and whether that is proved best."""
        rows, most = self._rows(reached)
        columns = np.concatenate((np.flatnonzero(may), goal.size + np.arange(self.table.others)))
        low = np.concatenate((np.full(most.size, -np.inf), np.zeros(self.table.equal.shape[0])))
        high = np.concatenate((most, np.zeros(self.table.equal.shape[0])))
        count = int(may.sum())
        answer = scipy.optimize.milp(
            np.concatenate((goal[may], np.zeros(self.table.others))),
            constraints=scipy.optimize.LinearConstraint(
                scipy.sparse.vstack([rows, self.table.equal], format="csr")[:, columns], low, high
            ),
            integrality=np.ones(count + self.table.others, dtype=np.int64),
            bounds=scipy.optimize.Bounds(
                0.0, np.concatenate((np.ones(count), np.full(self.table.others, np.inf)))
            ),
            options={"mip_rel_gap": gap, "node_limit": nodes, "time_limit": TIME_LIMIT_S},
        )
        if answer.x is None:
            return None, False
        found = np.zeros(goal.size, dtype=bool)
        found[np.flatnonzero(may)[answer.x[:count] > 0.5]] = True
        return found, answer.status == 0


@dataclass(frozen=True)
class _Table:
    """Rows of constraints over the options and ``others``: how pools are drawn from kinds, how many stand shut.

    ``rows`` stay at or below ``most``, ``equal`` at nothing; ``limited`` numbers the rows of ``Problem.limits``.
    """

    rows: csr_matrix
    most: Floats
    equal: csr_matrix
    others: int
    limited: Ints


def _table(problem: Problem) -> _Table:
    count, (pools, kinds), instants = problem.options, problem.members.shape, problem.stay_limit.size
    at, need = np.arange(count), problem.need.astype(np.float64)
    each = scipy.sparse.csr_matrix((np.ones(count), (problem.buyer, at)), shape=(problem.buyers, count))
    drawn = scipy.sparse.csr_matrix((need, (problem.pool, at)), shape=(pools, count))
    pool, kind = np.nonzero(problem.members)
    links = np.arange(pool.size)
    from_kinds = scipy.sparse.csr_matrix((-np.ones(pool.size), (pool, links)), shape=(pools, pool.size))
    of_kind = scipy.sparse.csr_matrix((np.ones(pool.size), (kind, links)), shape=(kinds, pool.size))
    stands = problem.stays_from >= 0
    coming = scipy.sparse.csr_matrix(
        (-need[stands], (problem.stays_from[stands], at[stands])), shape=(instants, count)
    )
    leaving = stands & (problem.stays_to + 1 < instants)
    going = scipy.sparse.csr_matrix(
        (need[leaving], (problem.stays_to[leaving] + 1, at[leaving])), shape=(instants, count)
    )
    standing = scipy.sparse.csr_matrix(np.eye(instants) - np.eye(instants, k=-1))
    join: Any = scipy.sparse.bmat  # its stubs know no empty blocks
    rows = join(
        [
            [
                each,
                scipy.sparse.csr_matrix((problem.buyers, pool.size)),
                scipy.sparse.csr_matrix((problem.buyers, instants)),
            ],
            [drawn, from_kinds, None],
            [problem.uses, None, None],
            [None, of_kind, None],
            [None, None, scipy.sparse.csr_matrix(np.eye(instants))],
        ],
        format="csr",
    )
    equal = join([[coming + going, scipy.sparse.csr_matrix((instants, pool.size)), standing]], format="csr")
    most = np.concatenate((np.ones(problem.buyers), np.zeros(pools), problem.limits))
    limited = problem.buyers + pools + np.arange(problem.limits.size)
    return _Table(rows, most, equal, int(pool.size + instants), limited)


# -- what is missing -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Shortage:
    """``more`` buyers could be served if there were so much more of these limits: (row of limits, amount)."""

    more: int
    missing: tuple[tuple[int, float], ...]


def shortage(problem: Problem, sorts: Ints, served: int, executor: Executor | None = None) -> Shortage | None:
    """What binds when somebody is put off: the sort of limit that helps most alone, or all of them together.

    Parameters
    ----------
    sorts : (row of limits,) rows of one sort are raised together: hands of any slot, shade at any hour
    served : how many are served with what there is

    None where more of anything would help nobody.
    """
    everything = np.arange(sorts.size)
    groups = [np.flatnonzero(sorts == sort) for sort in np.unique(sorts)]
    if problem.options and int(np.floor(SLACK - (relaxed := Solver(problem).priced())[0])) <= served:
        groups = [rows for rows in groups if relaxed[1][rows].any()]  # a limit without a price binds nobody
    if not groups or _may_serve(problem, everything) <= served:
        return None
    bound_of = dict(map_unordered(partial(_may_serve_more, problem, groups), range(len(groups)), executor))
    bounds = [bound_of[at] for at in range(len(groups))]
    best = served, everything, np.zeros(problem.options, dtype=bool)
    for bound, rows in sorted(zip(bounds, groups, strict=True), key=lambda one: -one[0]):
        if bound > best[0] and (taken := _most_served(problem, rows)).sum() > best[0]:
            best = int(taken.sum()), rows, taken
    if best[0] == served:
        taken = _most_served(problem, everything)
        best = int(taken.sum()), everything, taken
    more = best[0] - served
    return Shortage(more, _least_more(problem, best[1], best[0], best[2])) if more > 0 else None


def _raised(problem: Problem, raised: Ints) -> Problem:
    """The same with enough of some limits."""
    limits = problem.limits
    limits[raised] = problem.need.sum() * max(1.0, float(problem.uses.max()) if problem.uses.nnz else 1.0)
    return problem.with_limits(limits)


def _may_serve(problem: Problem, raised: Ints) -> int:
    """No more than so many could be served with enough of some limits: by the relaxed problem."""
    if not problem.options:
        return 0
    bound, _ = Solver(_raised(problem, raised)).bound(problem.goals[0], [])
    return problem.buyers if np.isinf(bound) else int(np.floor(SLACK - bound))


def _may_serve_more(problem: Problem, groups: Sequence[Ints], at: int) -> int:
    return _may_serve(problem, groups[at])


def _most_served(problem: Problem, raised: Ints) -> Bools:
    """The options that serve most with enough of some limits."""
    solver = Solver(_raised(problem, raised))
    goals = solver.problem.goals
    return solver.least(goals[0], [], solver.guess(goals), 0.0)


def _least_more(problem: Problem, raised: Ints, served: int, taken: Bools) -> tuple[tuple[int, float], ...]:
    """How much more of some limits is enough to serve so many; rows that need nothing are left out.

    Some options of each buyer are tried first, those of the relaxed problem or with the least reduced cost there, and
    those ``taken``, which are known to serve so many: where they do with what that says is least, nothing else can do
    with less. Where it is more, and there are too many options to try them all, what is told is enough, and perhaps a
    little more than the least.
    """
    relaxed = _more_needed(problem, raised, served, whole=False)
    if relaxed is None:
        return ()
    least, _, cost, part = relaxed
    few, _ = problem.only(Solver(problem).best_of_each(cost, MORE_OPTIONS) | taken | (part > SLACK))
    found = _more_needed(few, raised, served, whole=True)
    if (found is None or found[0] > np.ceil(least - SLACK) + SLACK) and problem.options <= MOST_TO_PROVE:
        found = _more_needed(problem, raised, served, whole=True) or found
    found = found or _over(problem, raised, taken)
    much = np.ceil(found[1] - 0.5 + SLACK)
    return tuple((int(row), float(more)) for row, more in zip(raised, much, strict=True) if more > 0.5)


def _over(problem: Problem, raised: Ints, taken: Bools) -> tuple[float, Floats, Floats, Floats]:
    """By how much what is taken is over some limits; the kinds of boxes as the relaxed problem would draw them."""
    only, _ = problem.only(taken)
    found = _more_needed(only, raised, int(taken.sum()), whole=False)
    much = np.zeros(raised.size) if found is None else np.ceil(found[1] - SLACK)
    return float(much.sum()), much, np.zeros(problem.options), taken.astype(np.float64)


def _more_needed(
    problem: Problem, raised: Ints, served: int, *, whole: bool
) -> tuple[float, Floats, Floats, Floats] | None:
    """The least sum by which limits are raised to serve so many, of each; every option's reduced cost and part."""
    table, count = _table(problem), problem.options
    extra = scipy.sparse.csr_matrix(
        (-np.ones(raised.size), (table.limited[raised], np.arange(raised.size))),
        shape=(table.most.size, raised.size),
    )
    none = scipy.sparse.csr_matrix((table.equal.shape[0], raised.size))
    all_served = scipy.sparse.csr_matrix(
        np.concatenate((-np.ones(count), np.zeros(table.others + raised.size)))
    )
    join: Any = scipy.sparse.bmat
    rows = scipy.sparse.vstack([join([[table.rows, extra]], format="csr"), all_served], format="csr")
    equal = join([[table.equal, none]], format="csr")
    most, level = np.append(table.most, -float(served)), np.zeros(table.equal.shape[0])
    goal = np.concatenate((np.zeros(count + table.others), np.ones(raised.size)))
    if not whole:
        relaxed: Any = scipy.optimize.linprog
        answer = relaxed(goal, A_ub=rows, b_ub=most, A_eq=equal, b_eq=level, method="highs")
        if answer.status != 0:
            return None
        return float(answer.fun), answer.x[-raised.size :], answer.lower.marginals[:count], answer.x[:count]
    low = np.concatenate((np.full(most.size, -np.inf), level))
    answer = scipy.optimize.milp(
        goal,
        constraints=scipy.optimize.LinearConstraint(
            scipy.sparse.vstack([rows, equal]), low, np.concatenate((most, level))
        ),
        integrality=np.ones(goal.size, dtype=np.int64),
        bounds=scipy.optimize.Bounds(
            0.0, np.concatenate((np.ones(count), np.full(goal.size - count, np.inf)))
        ),
        options={"node_limit": PROVE_NODES, "time_limit": TIME_LIMIT_S},
    )
    if answer.x is None:
        return None
    return float(answer.fun), answer.x[-raised.size :], np.zeros(count), answer.x[:count]


# -- what is used --------------------------------------------------------------------------------


def used(problem: Problem, assignment: Assignment) -> tuple[Floats, Floats]:
    """How much of each resource is used, (resource,), and how many boxes stand shut at each instant, (instant,)."""
    taken = assignment.taken
    of = np.asarray(problem.uses[:, taken].sum(axis=1)).ravel()
    at = np.arange(problem.stay_limit.size)[:, None]
    stands = (
        (at >= problem.stays_from[taken]) & (at <= problem.stays_to[taken]) & (problem.stays_from[taken] >= 0)
    )
    return np.asarray(of, dtype=np.float64), np.asarray(stands @ problem.need[taken], dtype=np.float64)


def drawn(problem: Problem, taken: Ints, cost: Floats) -> Ints | None:
    """How many boxes of each kind each of the taken options gets, (taken, kind), at the least cost (taken, kind) a box.

    None where the kinds do not suffice. A transport problem: its corners are whole numbers.
    """
    count, kinds = taken.size, problem.kind_limit.size
    may = problem.members[problem.pool[taken]]
    each = np.kron(np.eye(count), np.ones((1, kinds)))
    of_kind = np.kron(np.ones((1, count)), np.eye(kinds))
    answer = scipy.optimize.linprog(
        np.where(may, cost, 0.0).ravel(),
        A_ub=of_kind,
        b_ub=problem.kind_limit,
        A_eq=each,
        b_eq=problem.need[taken],
        bounds=[(0, None if allowed else 0) for allowed in may.ravel()],
    )
    if answer.status != 0 or answer.x is None:
        return None
    return np.asarray(np.round(answer.x.reshape(count, kinds)), dtype=np.int64)
