"""How sure: every candidate of a plan in the same drawn worlds, a first answer at once and sharper ones after.

The answer comes in rounds. The first holds the front of the plan's ranking in a few worlds, the second
every candidate, and each later round doubles the worlds for those still in the race. A candidate leaves
the race when, by its draws so far, it is as good as the leader in fewer than half of all worlds (one-sided
Clopper-Pearson bound at 99 %), or when too many others rank before it; the best at another hour, at another
place and with the boxes as declared always stay. What remains is exact: the worlds of a candidate do not
depend on who else is drawn, so the leaders' figures are those of a run that drops nobody.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import betaincinv

from planner.app.closing import closing_times
from planner.app.draws import STEP_S, Drawn, Sample, Unknowns, World, drawn, march_drawn
from planner.app.fan import open_fan
from planner.app.plan import Progress, Stop, shut_at_night
from planner.app.results import Choice, Plan
from planner.app.setups import ALL, SetUp
from planner.app.work import spread
from planner.model.compare import ENOUGH_MARGIN_K, MARGIN_STEP_K
from planner.model.limits import CAUTION, HARM, UNKNOWN, VERDICTS
from planner.model.parameters import ParameterTable
from planner.model.records import Bools, Floats, Ints, Weather
from planner.model.timeline import Timeline, build_timeline
from planner.store.catalogue import Catalogue
from planner.store.forecast_error import load_forecast_error

DRAWS = 256
FIRST_CANDIDATES, FIRST_DRAWS = 24, 8
RACE_DRAWS, LEAST_RUNNERS = 6144, 24
"""Worlds a round may cost, and how many candidates stay to the end."""

DOUBT = 0.01
UNIT_CELLS = 1_200_000
"""Cases times steps of a unit of work: about 170 MB while it runs."""

UNIT_DRAWS = 32
OTHER_WINDOW_S = 3 * 3600.0
NOT_DRAWN = -1
QUANTILES = (0.05, 0.50, 0.95)
HARM_SCORE = -100.0


@dataclass(frozen=True, slots=True)
class Share:
    """A share of draws with its standard error by counting (draws of a Sobol sequence err less)."""

    value: float
    error: float
    draws: int

    @property
    def of_hundred(self) -> int:
        return round(100.0 * self.value)


@dataclass(frozen=True, slots=True)
class Duel:
    """Two candidates in the same worlds: in how many the first is better, about equal, worse."""

    wins: int
    ties: int
    losses: int

    @property
    def draws(self) -> int:
        return self.wins + self.ties + self.losses

    @property
    def share(self) -> float:
        """Share won of the worlds in which they differ; one half when they never do."""
        apart = self.wins + self.losses
        return self.wins / apart if apart else 0.5


@dataclass(frozen=True)
class Chances:
    """What happened to the candidates of a plan in the drawn worlds.

    ``level`` (departure, place, setup, draw, verdict) with NOT_DRAWN where the candidate had left the race;
    ``peak_c``, ``margin_k`` (departure, place, setup, draw), NaN there; ``ranking`` every candidate, best
    first; ``wanted`` draws asked for; ``finished`` whether this is the last and sharpest answer;
    ``sample`` the worlds, ``uniform`` (draw, column) their points in the space of ``unknowns``.
    """

    plan: Plan
    level: np.ndarray
    peak_c: np.ndarray
    margin_k: np.ndarray
    ranking: tuple[Choice, ...]
    sample: Sample
    uniform: Floats
    unknowns: Unknowns
    wanted: int
    finished: bool

    def draws(self, choice: Choice) -> int:
        """In how many worlds a candidate was tried."""
        return int((self.level[at(choice)][:, 0] != NOT_DRAWN).sum())

    @property
    def sharpness(self) -> int:
        """Draws of the leader."""
        return self.draws(self.ranking[0])

    def no_harm(self, choice: Choice) -> Share:
        """In how many worlds no box of any group comes to any harm."""
        return share_of(self._worst(choice) < HARM)

    def harm(self, choice: Choice, verdict: str) -> Share:
        """In how many worlds one of the five harms happens to a box."""
        return share_of(self._drawn(choice)[:, VERDICTS.index(verdict)] == HARM)

    def caution_only(self, choice: Choice, verdict: str) -> float:
        """Share of worlds in which a verdict is a caution and no harm."""
        level = self._drawn(choice)[:, VERDICTS.index(verdict)]
        return float((level == CAUTION).mean()) if level.size else 0.0

    def peak_band_c(self, choice: Choice) -> Floats:
        """The hottest box's peak that 5, 50 and 95 of 100 worlds stay below."""
        return _quantiles(self.peak_c[at(choice)])

    def margin_band_k(self, choice: Choice) -> Floats:
        """The margin to the nearest danger limit, 5, 50 and 95 of 100."""
        return _quantiles(self.margin_k[at(choice)])

    def duel(self, first: Choice, second: Choice) -> Duel:
        """Compare two candidates world by world, over the worlds both were tried in."""
        gain = self.scores(first) - self.scores(second)
        gain = gain[~np.isnan(gain)]
        better, worse = gain >= MARGIN_STEP_K, gain <= -MARGIN_STEP_K
        return Duel(int(better.sum()), int((~better & ~worse).sum()), int(worse.sum()))

    def scores(self, choice: Choice) -> Floats:
        """How good each world turned out, (draw,): harm far below none, then margin up to what is enough."""
        return scores_of(self.level[at(choice)], self.margin_k[at(choice)])

    def _drawn(self, choice: Choice) -> Ints:
        level = self.level[at(choice)]
        return np.asarray(level[level[:, 0] != NOT_DRAWN])

    def _worst(self, choice: Choice) -> Ints:
        return np.asarray(self._drawn(choice).max(axis=-1, initial=0), dtype=np.int64)


def at(choice: Choice) -> tuple[int, int, int]:
    """Index of a candidate in arrays that start with departure, place, set-up."""
    return choice.departure, choice.place, choice.setup


def share_of(hits: Bools) -> Share:
    """The share of true values with its standard error."""
    if not hits.size:
        return Share(float("nan"), float("nan"), 0)
    value = float(hits.mean())
    # one more hit and one more miss, so that "always" in a few draws is not taken for certainty
    kept = (hits.sum() + 1.0) / (hits.size + 2.0)
    return Share(value, float(np.sqrt(kept * (1.0 - kept) / hits.size)), int(hits.size))


def _quantiles(values: Floats) -> Floats:
    known = values[~np.isnan(values)]
    return np.quantile(known, QUANTILES) if known.size else np.full(len(QUANTILES), np.nan)


def scores_of(level: np.ndarray, margin_k: np.ndarray) -> Floats:
    """How good each world turned out, from levels (..., verdict) and margins; NaN where unknown or not drawn."""
    worst = level.max(axis=-1)
    score = np.minimum(margin_k, ENOUGH_MARGIN_K) + np.where(worst >= HARM, HARM_SCORE, 0.0)
    return np.where((worst == UNKNOWN) | (level[..., 0] == NOT_DRAWN), np.nan, score)


# -- the rounds ----------------------------------------------------------------------------------


def chances(
    plan: Plan,
    catalogue: Catalogue,
    generator: np.random.Generator,
    *,
    draws: int = DRAWS,
    weathers: Sequence[Weather] = (),
    setups: Sequence[SetUp] = ALL,
    executor: Executor | None = None,
    screen: bool = True,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Iterator[Chances]:
    """Try the candidates of a plan in drawn worlds; each answer is sharper than the one before.

    Parameters
    ----------
    draws : worlds for those who stay in the race
    weathers : members of an ensemble forecast; by default the plan's weather with the errors of its lead
    setups : where the plan's set-ups are found by name
    executor : runs the units of work (threads or processes); by default here and now
    screen : drop candidates that cannot win; False draws every world for every candidate
    should_stop : polled between units; Cancelled is raised when it says so
    """
    race = _Race(plan, catalogue, generator, draws, weathers, setups)
    everyone = race.order()
    rounds = [(everyone[:FIRST_CANDIDATES], min(FIRST_DRAWS, draws))]
    rounds += [(everyone, count) for count in _doublings(min(FIRST_DRAWS, draws), draws)]
    for number, (runners, count) in enumerate(rounds):
        if screen and number > 1:
            runners = race.still_in(max(RACE_DRAWS // count, LEAST_RUNNERS))
        units = race.units(runners, count)
        jobs = ((unit, race.work(unit)) for unit in units)
        for done, ((unit, _), result) in enumerate(spread(_work, jobs, executor, should_stop), 1):
            race.take(unit, result)
            if on_progress:
                on_progress((number + done / len(units)) / len(rounds))
        yield race.answer(finished=number == len(rounds) - 1)


def _doublings(first: int, last: int) -> list[int]:
    """first, twice that, ... up to last."""
    out = [first]
    while out[-1] < last:
        out.append(min(2 * out[-1], last))
    return out


@dataclass(frozen=True)
class _Unit:
    """One batch of work: rows of candidates and a run of worlds."""

    candidates: Ints
    rows: slice


class _Race:
    """Who has been drawn in which worlds so far."""

    def __init__(
        self,
        plan: Plan,
        catalogue: Catalogue,
        generator: np.random.Generator,
        draws: int,
        weathers: Sequence[Weather],
        setups: Sequence[SetUp],
    ) -> None:
        self.plan, self.wanted = plan, draws
        known = {setup.name: setup for setup in setups}
        self.world, self.timeline, self.night = open_world(
            plan, catalogue, [known[name] for name in plan.setups], weathers
        )
        self.unknowns = unknowns_of(self.world, self.timeline)
        self.uniform = self.unknowns.uniform(draws, generator)
        self.sample = self.unknowns.at(self.uniform)
        shape = plan.outcomes.verdict.shape[:3]
        self.level = np.full((*shape, draws, len(VERDICTS)), NOT_DRAWN, dtype=np.int8)
        self.peak = np.full((*shape, draws), np.nan, dtype=np.float32)
        self.margin = np.full((*shape, draws), np.nan, dtype=np.float32)

    def order(self) -> Ints:
        """Every candidate as (candidate, 3), in the plan's ranking."""
        return np.array([at(choice) for choice in self.plan.ranking], dtype=np.int64)

    def units(self, runners: Ints, count: int) -> list[_Unit]:
        """The worlds up to ``count`` that the runners have not met, cut into units of like duration."""
        length = (self.timeline.end_s - self.timeline.start_s)[runners[:, 0]]
        runners = runners[np.lexsort((runners[:, 0], length))]
        met = (self.level[tuple(runners.T)][:, :, 0] != NOT_DRAWN).sum(axis=1)
        units = []
        for begun in np.unique(met[met < count]):
            late = runners[met == begun]
            for first in range(int(begun), count, UNIT_DRAWS):
                rows = slice(first, min(first + UNIT_DRAWS, count))
                units += [_Unit(part, rows) for part in self._cut(late, rows.stop - rows.start)]
        return units

    def _cut(self, runners: Ints, draws: int) -> Iterator[Ints]:
        """Runners in order of duration, cut so that cases times steps stay bounded."""
        steps = (self.timeline.end_s - self.timeline.start_s)[runners[:, 0]] / STEP_S
        first = 0
        while first < len(runners):
            cells = np.arange(1, len(runners) - first + 1) * draws * self.timeline.groups * steps[first:]
            size = max(1, int(np.searchsorted(cells, UNIT_CELLS)))
            yield runners[first : first + size]
            first += size

    def work(self, unit: _Unit) -> tuple[World, Timeline, Floats, Ints, Sample]:
        """What a unit needs, and no more: plain data for another process."""
        return self.world, self.timeline, self.night, unit.candidates, self.sample.take(unit.rows)

    def take(self, unit: _Unit, result: Drawn) -> None:
        where = (*(unit.candidates[:, i, None] for i in range(3)), np.arange(self.wanted)[None, unit.rows])
        self.level[where], self.peak[where], self.margin[where] = result.level, result.peak_c, result.margin_k

    def still_in(self, most: int) -> Ints:
        """Those that may still win, best first, and the leader's rivals of another kind."""
        ranked = self._ranked()
        cells = tuple(ranked.T)
        scores = scores_of(self.level[cells], self.margin[cells])
        gain = scores - scores[0]
        met = (~np.isnan(gain)).sum(axis=1)
        if not met[0]:
            return np.asarray(ranked[:1], dtype=np.int64)
        held = (gain > -MARGIN_STEP_K).sum(axis=1)
        bound = betaincinv(held + 1.0, np.maximum(met - held, 1e-9), 1.0 - DOUBT)
        stays = (met > 0) & (bound >= 0.5)
        stays &= np.cumsum(stays) <= most
        stays[list(self._rivals(ranked))] = True
        return np.asarray(ranked[stays], dtype=np.int64)

    def _rivals(self, ranked: Ints) -> Iterator[int]:
        """Rows of the best at another hour, at another place, and as declared."""
        departures = self.plan.departures_s[ranked[:, 0]]
        other_hour = np.abs(departures - departures[0]) >= OTHER_WINDOW_S
        for kind in (other_hour, ranked[:, 1] != ranked[0, 1], ranked[:, 2] == 0):
            if kind.any():
                yield int(np.argmax(kind))

    def answer(self, finished: bool) -> Chances:
        return Chances(
            plan=self.plan,
            level=self.level.copy(),
            peak_c=self.peak.copy(),
            margin_k=self.margin.copy(),
            ranking=tuple(Choice(int(d), int(k), int(u)) for d, k, u in self._ranked()),
            sample=self.sample,
            uniform=self.uniform,
            unknowns=self.unknowns,
            wanted=self.wanted,
            finished=finished,
        )

    def _ranked(self) -> Ints:
        """Candidates by draws: those that fit, in the race longest, least harm, margin, then the plan's own order.

        Harm is compared in steps of its standard error, and margins in steps the model can tell apart.
        """
        order = self.order()
        cells = tuple(order.T)
        level, margin = self.level[cells], self.margin[cells]
        met = (level[:, :, 0] != NOT_DRAWN).sum(axis=1)
        harm = (level.max(axis=-1) >= HARM).sum(axis=1) / np.maximum(met, 1)
        step = np.maximum(0.5 / np.sqrt(max(int(met.max()), 1)), 0.02)
        middle = np.full(len(order), -np.inf)
        known = ~np.isnan(margin).all(axis=1)
        middle[known] = np.nanmedian(margin[known], axis=1)
        stepped = np.floor(np.minimum(middle, ENOUGH_MARGIN_K) / MARGIN_STEP_K)
        crowded = np.array([not self.plan.fits(choice) for choice in self.plan.ranking])
        return order[np.lexsort((np.arange(len(order)), -stepped, np.round(harm / step), -met, crowded))]


def _work(job: tuple[_Unit, tuple[World, Timeline, Floats, Ints, Sample]]) -> Drawn:
    """One unit of work, wherever it is done."""
    return drawn(*job[1])


def open_world(
    plan: Plan, catalogue: Catalogue, setups: Sequence[SetUp], weathers: Sequence[Weather] = ()
) -> tuple[World, Timeline, Floats]:
    """The plan's departures, places and the given set-ups, ready to be drawn."""
    trip, road = plan.trip, plan.road
    timeline = build_timeline(trip, road, plan.departures_s, closing_times(trip, road, plan.departures_s))
    members = tuple(weathers) or (plan.weather,)
    table = ParameterTable(dict(catalogue.parameters.rows))
    fan = open_fan(trip, road, members[0], catalogue, plan.places, setups, table=table)
    leaks = [catalogue.box_types[group.box_type].leak_l_s for _ in setups for group in trip.groups]
    world = World(
        fan, members, np.array(leaks), tuple(place.name for place in fan.places), load_forecast_error()
    )
    return world, timeline, shut_at_night(trip, timeline.closed_s)


def unknowns_of(world: World, timeline: Timeline) -> Unknowns:
    """What is not known about these trips."""
    first, last = float(timeline.start_s.min()), float(timeline.end_s.max())
    return Unknowns(
        world.fan.table, world.place_names, first, last, world.misses, members=len(world.weathers)
    )


# -- bands of curves -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Bands:
    """Temperatures of one candidate that 5, 50 and 95 of 100 worlds stay below, (time, quantile, group)."""

    choice: Choice
    time_s: Floats
    core_c: Floats
    stores_c: Floats
    draws: int


def bands(known: Chances, choice: Choice, catalogue: Catalogue, draws: int = 64) -> Bands:
    """Bands of a candidate's curves from its first worlds; NaN while a group's boxes are open."""
    setups = {setup.name: setup for setup in ALL}
    plan = known.plan
    world, timeline, night = open_world(plan, catalogue, [setups[plan.setups[choice.setup]]])
    world = replace(
        world,
        place_names=tuple(n.removeprefix("place ") for n in known.unknowns.columns if n.startswith("place ")),
    )
    sample = known.sample.take(slice(0, draws))
    marched = march_drawn(world, timeline, night, np.array([[choice.departure, choice.place, 0]]), sample)
    _, count, groups = marched.shape
    closed = marched.seen.closed.reshape(-1, count, groups)

    def band(nodes: Floats) -> Floats:
        middle = 0.5 * (nodes[:-1] + nodes[1:]).reshape(-1, count, groups)
        found = np.moveaxis(np.quantile(middle, QUANTILES, axis=1), 0, 1)
        return np.where(closed[:, :1], found, np.nan)

    return Bands(choice, marched.time_s[:, 0], band(marched.seen.core_c), band(marched.seen.stores_c), count)
