"""How sure: every candidate of a plan in the same samples, a first answer at once and sharper ones after.

The answer comes in rounds. The first holds the front of the plan's ranking in a few samples, the second
every candidate, and each later round doubles the samples for those still in the race. A candidate leaves
the race when, by its samples so far, it is as good as the leader in fewer than half of all samples (one-sided
Clopper-Pearson bound at 99 %), or when too many others rank before it; the best at another hour, at another
place and with the boxes as declared always stay. What remains is exact: the samples of a candidate do not
depend on who else is drawn, so the leaders' figures are those of a run that drops nobody.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np
import scipy  # and not scipy.special, which takes a third of a second: read when first asked

from planner.app.chance.samples import (
    STEP_S,
    Sample,
    SampleOutcomes,
    SampleSpace,
    Scenario,
    evaluate_samples,
    sampled,
)
from planner.app.common.executors import map_with
from planner.app.common.progress import Progress, Stop
from planner.app.plan.plan import shut_at_night
from planner.app.plan.results import Choice, Plan
from planner.model.cases import case_grid
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.compare import ENOUGH_HEADROOM_K, HEADROOM_STEP_K
from planner.model.limits import CAUTION, HARM, UNKNOWN, VERDICTS
from planner.model.preparations import ALL, TRIED, SetUp
from planner.model.records import Bools, Floats, Ints, Road, Trip, Weather
from planner.model.timeline import Timeline, build_timeline
from planner.store.forecast_error import load_forecast_error
from planner.store.posterior import bundled_posterior

SAMPLES = 256
FIRST_CANDIDATES, FIRST_SAMPLES = 24, 8
RACE_SAMPLES, LEAST_RACING = 6144, 24
"""Samples a round may cost, and how many candidates stay to the end."""

LOSING_CHANCE = 0.01
UNIT_CELLS = 1_200_000
"""Cases times steps of a unit of work: about 170 MB while it runs."""

UNIT_SAMPLES = 32
OTHER_WINDOW_S = 3 * 3600.0
NOT_SAMPLED = -1
QUANTILES = (0.05, 0.50, 0.95)
HARM_SCORE, LATEST_HARM_H = -100.0, 48.0


@dataclass(frozen=True, slots=True)
class Share:
    """A share of samples with its standard error by counting (samples of a Sobol sequence err less)."""

    value: float
    error: float
    samples: int

    @property
    def of_hundred(self) -> int:
        return round(100.0 * self.value)

    def reaches(self, target: float) -> bool:
        """Whether the figure that is shown reaches a target: word and figure must not contradict each other."""
        return self.of_hundred >= round(100.0 * target)


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two candidates in the same samples: in how many the first is better, about equal, worse."""

    wins: int
    ties: int
    losses: int

    @property
    def samples(self) -> int:
        return self.wins + self.ties + self.losses

    @property
    def share(self) -> float:
        """Share won of the samples in which they differ; one half when they never do."""
        apart = self.wins + self.losses
        return self.wins / apart if apart else 0.5


@dataclass(frozen=True)
class Chances:
    """What happened to the candidates of a plan in the samples.

    ``level`` (departure, place, setup, sample, verdict) with NOT_DRAWN where the candidate had left the race;
    ``peak_c``, ``headroom_k``, ``harm_h`` (departure, place, setup, sample), NaN there; ``ranking`` every
    candidate, best first; ``wanted`` samples asked for; ``finished`` whether this is the last and sharpest answer;
    ``sample`` the samples, ``uniform`` (sample, column) their points in the space of ``unknowns``; ``group_level``
    (departure, place, setup, sample, group) the worst verdict of each group.
    """

    plan: Plan
    level: np.ndarray
    peak_c: np.ndarray
    headroom_k: np.ndarray
    harm_h: np.ndarray
    ranking: tuple[Choice, ...]
    sample: Sample
    uniform: Floats
    space: SampleSpace
    wanted: int
    finished: bool
    group_level: np.ndarray | None = None

    def no_harm_of(self, box: str, choice: Choice) -> Share:
        """In how many samples one named box comes to no harm, whatever happens to others of the load."""
        assert self.group_level is not None
        level = self.group_level[at(choice)][:, self.plan.group_of(box)]
        return share_of(level[level != NOT_SAMPLED] < HARM)

    def samples(self, choice: Choice) -> int:
        """In how many samples a candidate was tried."""
        return int((self.level[at(choice)][:, 0] != NOT_SAMPLED).sum())

    @property
    def sharpness(self) -> int:
        """Samples of the leader."""
        return self.samples(self.ranking[0])

    def no_harm(self, choice: Choice) -> Share:
        """In how many samples no box of any group comes to any harm."""
        return share_of(self._worst(choice) < HARM)

    def harm(self, choice: Choice, verdict: str) -> Share:
        """In how many samples one of the five harms happens to a box."""
        return share_of(self._sampled(choice)[:, VERDICTS.index(verdict)] == HARM)

    def caution_only(self, choice: Choice, verdict: str) -> float:
        """Share of samples in which a verdict is a caution and no harm."""
        level = self._sampled(choice)[:, VERDICTS.index(verdict)]
        return float((level == CAUTION).mean()) if level.size else 0.0

    def peak_band_c(self, choice: Choice) -> Floats:
        """The hottest box's peak that 5, 50 and 95 of 100 samples stay below."""
        return _quantiles(self.peak_c[at(choice)])

    def headroom_band_k(self, choice: Choice) -> Floats:
        """What the box that has least can spare, 5, 50 and 95 of 100."""
        return _quantiles(self.headroom_k[at(choice)])

    def comparison(self, first: Choice, second: Choice) -> Comparison:
        """Compare two candidates sample by sample, over the samples both were tried in."""
        gain = self.scores(first) - self.scores(second)
        gain = gain[~np.isnan(gain)]
        better, worse = gain >= HEADROOM_STEP_K, gain <= -HEADROOM_STEP_K
        return Comparison(int(better.sum()), int((~better & ~worse).sum()), int(worse.sum()))

    def scores(self, choice: Choice) -> Floats:
        """How good each sample turned out, (sample,): harm far below none, then headroom up to what is enough."""
        return scores_of(self.level[at(choice)], self.headroom_k[at(choice)], self.harm_h[at(choice)])

    def _sampled(self, choice: Choice) -> Ints:
        level = self.level[at(choice)]
        return np.asarray(level[level[:, 0] != NOT_SAMPLED])

    def _worst(self, choice: Choice) -> Ints:
        return np.asarray(self._sampled(choice).max(axis=-1, initial=0), dtype=np.int64)


def at(choice: Choice) -> tuple[int, int, int]:
    """Index of a candidate in arrays that start with departure, place, set-up."""
    return choice.departure, choice.loading_place, choice.setup


def share_of(hits: Bools) -> Share:
    """The share of true values with its standard error."""
    if not hits.size:
        return Share(float("nan"), float("nan"), 0)
    value = float(hits.mean())
    # one more hit and one more miss, so that "always" in a few samples is not taken for certainty
    kept = (hits.sum() + 1.0) / (hits.size + 2.0)
    return Share(value, float(np.sqrt(kept * (1.0 - kept) / hits.size)), int(hits.size))


def _quantiles(values: Floats) -> Floats:
    known = values[~np.isnan(values)]
    return np.quantile(known, QUANTILES) if known.size else np.full(len(QUANTILES), np.nan)


def scores_of(level: np.ndarray, headroom_k: np.ndarray, harm_h: np.ndarray) -> Floats:
    """How good each sample turned out, NaN where unknown or not sampled: the headroom that counts, and harm far below.

    Of harms the later is the better, an hour as good as a degree; how hot the dead get is no measure.

    Parameters
    ----------
    level : (..., verdict)
    headroom_k, harm_h : (...)
    """
    worst = level.max(axis=-1)
    harm = HARM_SCORE + np.minimum(np.nan_to_num(harm_h), LATEST_HARM_H)
    score = np.where(worst >= HARM, harm, np.minimum(headroom_k, ENOUGH_HEADROOM_K))
    return np.where((worst == UNKNOWN) | (level[..., 0] == NOT_SAMPLED), np.nan, score)


# -- the rounds ----------------------------------------------------------------------------------


def chances(
    plan: Plan,
    catalogue: Catalogue,
    generator: np.random.Generator,
    *,
    samples: int = SAMPLES,
    weathers: Sequence[Weather] = (),
    setups: Sequence[SetUp] = TRIED,
    executor: Executor | None = None,
    screen: bool = True,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Iterator[Chances]:
    """Try the candidates of a plan in samples; each answer is sharper than the one before.

    Parameters
    ----------
    samples : samples for those who stay in the race
    weathers : members of an ensemble forecast; by default the plan's weather with the errors of its lead
    setups : where the plan's set-ups are found by name
    executor : runs the units of work (threads or processes); by default here and now
    screen : drop candidates that cannot win; False samples every sample for every candidate
    should_stop : polled between units; Cancelled is raised when it says so
    """
    race = _Race(plan, catalogue, generator, samples, weathers, setups)
    everyone = race.order()
    rounds = [(everyone[:FIRST_CANDIDATES], min(FIRST_SAMPLES, samples))]
    rounds += [(everyone, count) for count in _doublings(min(FIRST_SAMPLES, samples), samples)]
    for number, (racing, count) in enumerate(rounds):
        if screen and number > 1:
            racing = race.survivors(max(RACE_SAMPLES // count, LEAST_RACING))
        units = race.units(racing, count)
        jobs = ((unit, race.sample.take(unit.rows)) for unit in units)
        results = map_with(_work, race.common, jobs, executor, should_stop)
        for done, ((unit, _), result) in enumerate(results, 1):
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
    """One batch of work: rows of candidates and a run of samples."""

    candidates: Ints
    rows: slice


class _Race:
    """Who has been drawn in which samples so far."""

    def __init__(
        self,
        plan: Plan,
        catalogue: Catalogue,
        generator: np.random.Generator,
        samples: int,
        weathers: Sequence[Weather],
        setups: Sequence[SetUp],
    ) -> None:
        self.plan, self.wanted = plan, samples
        known = {setup.name: setup for setup in setups}
        self.scenario, self.timeline, self.night = open_scenario(
            plan, catalogue, [known[name] for name in plan.setups], weathers
        )
        self.common = self.scenario, self.timeline, self.night
        self.space = space_of(self.scenario, self.timeline)
        self.uniform = self.space.uniform(samples, generator)
        self.sample = self.space.at(self.uniform)
        shape = plan.outcomes.verdict.shape[:3]
        self.level = np.full((*shape, samples, len(VERDICTS)), NOT_SAMPLED, dtype=np.int8)
        groups = len(plan.trip.groups)
        self.group_level = np.full((*shape, samples, groups), NOT_SAMPLED, dtype=np.int8)
        self.peak = np.full((*shape, samples), np.nan, dtype=np.float32)
        self.headroom = np.full((*shape, samples), np.nan, dtype=np.float32)
        self.harm = np.full((*shape, samples), np.nan, dtype=np.float32)

    def order(self) -> Ints:
        """Every candidate as (candidate, 3), in the plan's ranking."""
        return np.array([at(choice) for choice in self.plan.ranking], dtype=np.int64)

    def units(self, racing: Ints, count: int) -> list[_Unit]:
        """The samples up to ``count`` that the runners have not met, cut into units of like duration."""
        length = (self.timeline.end_s - self.timeline.start_s)[racing[:, 0]]
        racing = racing[np.lexsort((racing[:, 0], length))]
        met = (self.level[tuple(racing.T)][:, :, 0] != NOT_SAMPLED).sum(axis=1)
        units = []
        for begun in np.unique(met[met < count]):
            late = racing[met == begun]
            for first in range(int(begun), count, UNIT_SAMPLES):
                rows = slice(first, min(first + UNIT_SAMPLES, count))
                units += [_Unit(part, rows) for part in self._cut(late, rows.stop - rows.start)]
        return units

    def _cut(self, racing: Ints, samples: int) -> Iterator[Ints]:
        """Runners in order of duration, cut so that cases times steps stay bounded."""
        steps = (self.timeline.end_s - self.timeline.start_s)[racing[:, 0]] / STEP_S
        first = 0
        while first < len(racing):
            cells = np.arange(1, len(racing) - first + 1) * samples * self.timeline.groups * steps[first:]
            size = max(1, int(np.searchsorted(cells, UNIT_CELLS)))
            yield racing[first : first + size]
            first += size

    def take(self, unit: _Unit, result: SampleOutcomes) -> None:
        cells = (*(unit.candidates[:, i, None] for i in range(3)), np.arange(self.wanted)[None, unit.rows])
        self.level[cells], self.peak[cells] = result.level, result.peak_c
        self.group_level[cells] = result.group_level.max(axis=-1)
        self.headroom[cells], self.harm[cells] = result.headroom_k, result.harm_h

    def survivors(self, most: int) -> Ints:
        """Those that may still win, best first, and the leader's rivals of another kind."""
        ranked = self._ranked()
        cells = tuple(ranked.T)
        scores = scores_of(self.level[cells], self.headroom[cells], self.harm[cells])
        gain = scores - scores[0]
        met = (~np.isnan(gain)).sum(axis=1)
        if not met[0]:
            return np.asarray(ranked[:1], dtype=np.int64)
        held = (gain > -HEADROOM_STEP_K).sum(axis=1)
        bound = scipy.special.betaincinv(held + 1.0, np.maximum(met - held, 1e-9), 1.0 - LOSING_CHANCE)
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
            group_level=self.group_level.copy(),
            peak_c=self.peak.copy(),
            headroom_k=self.headroom.copy(),
            harm_h=self.harm.copy(),
            ranking=tuple(Choice(int(d), int(k), int(u)) for d, k, u in self._ranked()),
            sample=self.sample,
            uniform=self.uniform,
            space=self.space,
            wanted=self.wanted,
            finished=finished,
        )

    def _ranked(self) -> Ints:
        """Candidates by samples: those that fit, in the race longest, least harm, score, then the plan's own order.

        Harm is compared in steps of its standard error, and middle scores in steps the model can tell apart.
        """
        order = self.order()
        cells = tuple(order.T)
        level = self.level[cells]
        scores = scores_of(level, self.headroom[cells], self.harm[cells])
        met = (level[:, :, 0] != NOT_SAMPLED).sum(axis=1)
        harm = (level.max(axis=-1) >= HARM).sum(axis=1) / np.maximum(met, 1)
        step = np.maximum(0.5 / np.sqrt(max(int(met.max()), 1)), 0.02)
        middle = np.full(len(order), -np.inf)
        known = ~np.isnan(scores).all(axis=1)
        middle[known] = np.nanmedian(scores[known], axis=1)
        stepped = np.floor(middle / HEADROOM_STEP_K)
        crowded = np.array([not self.plan.fits(choice) for choice in self.plan.ranking])
        return order[np.lexsort((np.arange(len(order)), -stepped, np.round(harm / step), -met, crowded))]


def _work(common: tuple[Scenario, Timeline, Floats], job: tuple[_Unit, Sample]) -> SampleOutcomes:
    """One unit of work, where what all of them need is at hand."""
    unit, sample = job
    return sampled(*common, unit.candidates, sample)


NARROWED = True
"""Whether samples come from the ranges as the trade's judgement narrows them: the one switch."""


def open_scenario(
    plan: Plan, catalogue: Catalogue, setups: Sequence[SetUp], weathers: Sequence[Weather] = ()
) -> tuple[Scenario, Timeline, Floats]:
    """The plan's departures, places and the given set-ups, ready to be drawn."""
    return scenario_of(
        plan.trip,
        plan.road,
        tuple(weathers) or (plan.weather,),
        plan.departures_s,
        plan.loading_places,
        catalogue,
        setups,
    )


def scenario_of(
    trip: Trip,
    road: Road,
    weathers: tuple[Weather, ...],
    departures_s: Floats,
    loading_places: Sequence[str],
    catalogue: Catalogue,
    setups: Sequence[SetUp],
) -> tuple[Scenario, Timeline, Floats]:
    """Departures, places and set-ups of a trip that nobody has planned, ready to be sampled."""
    timeline = build_timeline(trip, road, departures_s, closing_times(trip, road, departures_s))
    table = catalogue.parameters
    grid = case_grid(trip, road, weathers[0], catalogue, loading_places, setups, table=table)
    leaks = [catalogue.box_types[group.box_type].leak_l_s for _ in setups for group in trip.groups]
    scenario = Scenario(
        grid, weathers, np.array(leaks), tuple(place.name for place in grid.places), load_forecast_error()
    )
    return scenario, timeline, shut_at_night(trip, timeline.closed_s)


def space_of(
    scenario: Scenario,
    timeline: Timeline,
    *,
    narrowed: bool = NARROWED,
    ways: Sequence[float] = (),
    steady: bool = False,
) -> SampleSpace:
    """What is not known about these trips: ``narrowed`` by the trade's judgement, or as wide as the table's ranges.

    ``ways`` and ``steady`` as of the space.
    """
    first, last = float(timeline.start_s.min()), float(timeline.end_s.max())
    return SampleSpace(
        scenario.grid.table,
        scenario.place_names,
        first,
        last,
        scenario.forecast_error,
        members=len(scenario.weathers),
        posterior=bundled_posterior() if narrowed else None,
        ways=ways,
        steady=steady,
    )


# -- bands of curves -----------------------------------------------------------------------------


@dataclass(frozen=True)
class Bands:
    """Temperatures of one candidate that 5, 50 and 95 of 100 samples stay below, (time, quantile, group)."""

    choice: Choice
    time_s: Floats
    core_c: Floats
    stores_c: Floats
    samples: int


def bands(known: Chances, choice: Choice, catalogue: Catalogue, samples: int = 64) -> Bands:
    """Bands of a candidate's curves from its first samples; NaN while a group's boxes are open."""
    setups = {setup.name: setup for setup in ALL}
    plan = known.plan
    scenario, timeline, night = open_scenario(plan, catalogue, [setups[plan.setups[choice.setup]]])
    scenario = replace(
        scenario,
        place_names=tuple(n.removeprefix("place ") for n in known.space.columns if n.startswith("place ")),
    )
    sample = known.sample.take(slice(0, samples))
    simulated = evaluate_samples(
        scenario, timeline, night, np.array([[choice.departure, choice.loading_place, 0]]), sample
    )
    _, count, groups = simulated.shape
    closed = simulated.seen.closed.reshape(-1, count, groups)

    def band(nodes: Floats) -> Floats:
        middle = 0.5 * (nodes[:-1] + nodes[1:]).reshape(-1, count, groups)
        found = np.moveaxis(np.quantile(middle, QUANTILES, axis=1), 0, 1)
        return np.where(closed[:, :1], found, np.nan)

    return Bands(
        choice, simulated.time_s[:, 0], band(simulated.seen.core_c), band(simulated.seen.stores_c), count
    )
