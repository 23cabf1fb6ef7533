"""May parcels go this week, on which day, how packed: journeys in samples, decided as the one answer decides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from planner.app.answer.ask import tolerance_of
from planner.app.answer.decide import standing_of
from planner.app.answer.records import (
    DecisionName,
    StandingName,
    Tolerance,
)
from planner.app.answer.tally import span_of
from planner.app.chance.race import NARROWED
from planner.app.chance.samples import Sample, SampleSpace
from planner.app.common.executors import at_hand
from planner.app.common.progress import Progress, Stop
from planner.app.lane.calendar import Posting, holidays_of, postings
from planner.app.lane.journeys import (
    DAY_S,
    Drawn,
    drawn,
    late_of_100,
    posted_s,
    ridden,
    road_of,
    trip_of,
)
from planner.app.lane.packing import packings_of
from planner.app.lane.records import Blame, LaneAnswer, Question, Way
from planner.errors import Cancelled, Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.limits import HARM, UNKNOWN
from planner.model.preparations import SetUp
from planner.model.records import Bools, Floats, Ints, Weather
from planner.store.forecast_error import load_forecast_error
from planner.store.lanerecords import ParcelLane
from planner.store.lanerules import lane_rules
from planner.store.posterior import bundled_posterior
from planner.units import whole
from planner.words import say

FIRST_SAMPLES, SAMPLES, LATE_SAMPLES, MOST_SAMPLES = 64, 400, 128, 1024
LEAST_WEIGHT = 0.15
"""A place less likely than this is no question worth asking."""

APART = 3.0
"""Harm at one place so many times that elsewhere makes the place a question."""


@dataclass(frozen=True)
class Outcome:
    """What happened to the journeys of one day, (sample, set-up); ``stage`` of the first harm, -1 none.

    ``around_c`` (sample, 2) coldest and warmest air around the parcel, NaN where nobody asked; ``hours`` shut.
    """

    harmed: Bools
    known: bool
    stage: Ints
    cold: Bools
    around_c: Floats
    hours: Floats


class LaneJudge:
    """Everything the journeys of a lane share; judges days and set-ups."""

    def __init__(
        self,
        lane: ParcelLane,
        weather: Weather,
        catalogue: Catalogue,
        seed: int,
        most: int = MOST_SAMPLES,
        executor: Executor | None = None,
    ) -> None:
        self.executor = executor
        self.lane, self.weather, self.catalogue, self.seed = lane, weather, catalogue, seed
        box = catalogue.box_types[lane.group.box_type]
        self.setups = packings_of(lane.setups, lane.group, box)
        self.road = road_of(lane)
        self.places = tuple(dict.fromkeys(name for stage in lane.stages for name, _ in stage.places))
        generator = np.random.default_rng(seed)
        self.journeys = drawn(lane, most, generator)
        longest_s = sum(stage.lasts_s[2] for stage in lane.stages)
        self.space = SampleSpace(
            catalogue.parameters,
            self.places,
            0.0,
            min(longest_s, 4 * DAY_S),
            load_forecast_error(),
            posterior=bundled_posterior() if NARROWED else None,
        )
        self.sample = self.space.sample(most, generator)

    def outcome(
        self,
        at: Posting,
        setups: Sequence[int],
        rows: slice,
        journeys: Drawn | None = None,
        detail: bool = False,
    ) -> Outcome:
        """The journeys of one day of posting with some set-ups, in some samples."""
        part = (journeys or self.journeys).take(rows)
        count = part.late.size
        post = self._posted(at, count)
        sample = self._at_hours(rows, float(post.min()))
        chosen = [self.setups[number] for number in setups]
        args = self.lane, self.road, self.weather, self.catalogue, self.places, chosen
        shape = count, len(setups)
        harmed, cold, stage = np.zeros(shape, bool), np.zeros(shape, bool), np.full(shape, -1)
        around, hours, known = np.full((count, 2), np.nan), np.zeros(count), True
        for done in ridden(*args, part, sample, at, post, detail, self.executor):
            judged = done.judged
            worst = judged.verdict.max(axis=-1)
            known = known and not bool((worst == UNKNOWN).any())
            cells = done.sample, done.setup
            harmed[cells] = worst == HARM
            cold[cells] = (worst == HARM) & ~(judged.hotter_k < 0.0)  # queen and workers die of either
            first = np.nan_to_num(judged.first_harm_s, nan=-1.0)
            begun = (first[:, None] >= done.stage_s).sum(axis=1) - 1
            stage[cells] = np.where(worst == HARM, np.minimum(begun, len(self.lane.stages) - 1), -1)
            hours[done.sample] = done.shut_h
            around[done.sample] = done.around_c
        return Outcome(harmed, known, stage, cold, around, hours)

    def _posted(self, at: Posting, count: int) -> Floats:
        """When each journey begins: on the day, or on the same date of each year the weather holds."""
        first_s, last_s = float(self.weather.time_s[0]), float(self.weather.time_s[-1])
        here = posted_s(self.lane, at.day)
        if self.weather.kind not in ("typical", "archive"):
            return np.full(count, here)
        years = [date.fromtimestamp(s).year for s in (first_s, last_s)]
        reach_s = sum(stage.lasts_s[2] for stage in self.lane.stages) + 4 * DAY_S
        found = []
        for year in range(years[0], years[1] + 1):
            day = date(year, at.day.month, min(at.day.day, 28) if at.day.month == 2 else at.day.day)
            instant = posted_s(self.lane, day)
            if first_s + DAY_S <= instant and instant + reach_s <= last_s:
                found.append(instant)
        return np.array([found[i % len(found)] for i in range(count)]) if found else np.full(count, here)

    def _at_hours(self, rows: slice, first_s: float) -> Sample:
        """The samples with their weather's error laid from this posting on: the same journeys on every day."""
        sample = self.sample.take(rows)
        return replace(sample, knots_s=first_s - DAY_S / 4.0 + sample.knots_s)


def lane_answer(
    lane: ParcelLane,
    weather: Weather,
    catalogue: Catalogue,
    *,
    seed: int = 1,
    samples: int = SAMPLES,
    tolerance: Tolerance | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> LaneAnswer:
    """The answer for the lane's week.

    Raises
    ------
    InputError : nobody can post in this week; Cancelled
    """
    settled = settled_tolerance(lane, tolerance)
    free = holidays_of(lane, (lane.monday.year, lane.monday.year + 1))
    days = postings(lane, free)
    if not days:
        raise InputError(
            [Fault("week", lane.monday.isoformat(), say("parcel.no_day"), say("parcel.no_day_remedy"))]
        )
    with at_hand() as executor:
        return _answered(
            LaneJudge(lane, weather, catalogue, seed, executor=executor),
            days,
            samples,
            settled,
            on_progress,
            should_stop,
        )


def _answered(
    judge: LaneJudge,
    days: Sequence[Posting],
    samples: int,
    settled: Tolerance,
    on_progress: Progress | None,
    should_stop: Stop | None,
) -> LaneAnswer:
    """Every day in few samples, the best with every set-up in all, the late branch, and what to ask."""
    lane, weather, seed = judge.lane, judge.weather, judge.seed
    tell = _Steps(len(days) + 3, on_progress, should_stop)
    every = range(len(judge.setups))
    first = [tell.done(judge.outcome(at, every, slice(0, FIRST_SAMPLES))) for at in days]
    ways = [
        (rank(at, way_of(at, judge.setups[u], out, k, settled), judge.setups[u]), at, u, out)
        for at, out in zip(days, first, strict=True)
        for k, u in enumerate(every)
    ]
    _, best_day, best_setup, _ = min(ways, key=lambda one: one[0])
    close = tell.done(judge.outcome(best_day, every, slice(0, samples)))
    listed = [way_of(best_day, judge.setups[u], close, k, settled) for k, u in enumerate(every)]
    best_setup = min(every, key=lambda u: rank(best_day, listed[u], judge.setups[u]))
    best = listed[best_setup]
    outcome, column = close, best_setup
    if best.standing == "open":
        more = tell.done(judge.outcome(best_day, [best_setup], slice(0, MOST_SAMPLES)))
        best = listed[best_setup] = way_of(best_day, judge.setups[best_setup], more, 0, settled)
        outcome, column = more, 0
    late = tell.done(judge.outcome(best_day, [best_setup], slice(0, LATE_SAMPLES), judge.journeys.all_late()))
    late_harm = span_of(float(late.harmed[:, 0].sum()), LATE_SAMPLES) if late.known else None
    late_ok = late_harm is not None and whole(late_harm.value) <= lane_rules().late_harm_of_100
    others = [
        min((w for w in ways if w[1] is at), key=lambda one: one[0])[1:] for at in days if at is not best_day
    ]
    ways_out = (*listed, *(way_of(at, judge.setups[u], out, u, settled) for at, u, out in others))
    questions = tuple(_questions(judge, outcome, column)) if outcome.known else ()
    ticked = lane.carrier.accepts and lane.carrier.asked_on is not None
    harmed = outcome.harmed[:, column]
    p5, p50, p95 = np.quantile(outcome.hours, (0.05, 0.5, 0.95))
    return LaneAnswer(
        lane=lane,
        tolerance=settled,
        decision=decided(best, late_ok, ticked, questions, settled),
        best=best,
        ways=ways_out,
        late_harm=late_harm,
        late_ok=late_ok,
        blame=tuple(_blame(outcome.stage[:, column], len(lane.stages))),
        questions=questions,
        cold_share=float(outcome.cold[:, column].sum() / max(harmed.sum(), 1)),
        ticked=ticked,
        hours=(float(p5), float(p50), float(p95)),
        samples=best.samples,
        seed=seed,
        late_of_100=late_of_100(lane),
        source=weather.source,
    )


class _Steps:
    """Counts what is done, and heeds who wants it stopped."""

    def __init__(self, steps: int, on_progress: Progress | None, should_stop: Stop | None) -> None:
        self._steps, self._at = steps, 0
        self._tell, self._stop = on_progress, should_stop

    def done(self, outcome: Outcome) -> Outcome:
        self._at += 1
        if self._stop and self._stop():
            raise Cancelled
        if self._tell:
            self._tell(min(self._at / self._steps, 1.0))
        return outcome


def settled_tolerance(lane: ParcelLane, settings: Tolerance | None = None) -> Tolerance:
    """The lane's own tolerance, else the settings', else the usual."""
    trip = trip_of(lane, [0] * len(lane.stages))
    if settings is None:
        return tolerance_of(trip)
    return tolerance_of(trip, settings.harm_of_100, settings.boxes_of_100)


def way_of(at: Posting, setup: SetUp, outcome: Outcome, column: int, tolerance: Tolerance) -> Way:
    """One day and set-up with its figure: a parcel is one box."""
    count = outcome.harmed.shape[0]
    if not outcome.known:
        return Way(at, setup.name, None, "unknown", count)
    hits = float(outcome.harmed[:, column].sum())
    harm = span_of(hits, count)
    standing: StandingName = standing_of(harm, span_of(hits, count, 1.0, 3), tolerance, 1)
    return Way(at, setup.name, harm, standing, count)


def rank(at: Posting, way: Way, setup: SetUp) -> tuple[float, ...]:
    """Sorts ways, best first: no weekend or holiday between, least harm, least work, the earlier day."""
    harm = 101.0 if way.harm_of_100 is None else way.harm_of_100.value
    return (float(at.crosses), round(harm / 2.0), float(setup.effort), harm, float(at.day.toordinal()))


def decided(
    best: Way, late_ok: bool, ticked: bool, questions: Sequence[Question], tolerance: Tolerance
) -> DecisionName:
    """The first line that holds, as in the one answer; without the carrier's word nothing is a go."""
    if best.standing == "unknown":
        return "cannot_tell"
    if best.standing == "within" and late_ok:
        if not ticked:
            return "cannot_tell"
        return "go" if best.setup == "as_declared" else "go_if"
    told_apart = any(q.there.low > tolerance.harm_of_100 >= q.elsewhere.value for q in questions)
    if best.standing == "open" or told_apart:
        return "cannot_tell"
    return "do_not_go"


def _blame(stage: Ints, stages: int) -> Iterator[Blame]:
    """In which stages the first harm comes, the worst first."""
    known = stage[stage >= 0]
    counts = np.bincount(known, minlength=stages)
    for number in np.argsort(-counts, kind="stable").tolist():
        if counts[number]:
            yield Blame(number, int(counts[number]), int(known.size))


def _questions(judge: LaneJudge, outcome: Outcome, column: int) -> Iterator[Question]:
    """Places nobody knows in which the parcel fares otherwise than elsewhere, the gravest first."""
    harmed = outcome.harmed[:, column]
    found = []
    for number, stage in enumerate(judge.lane.stages):
        for place, (name, weight) in enumerate(stage.places):
            there = judge.journeys.place[: harmed.size, number] == place
            if not LEAST_WEIGHT <= weight <= 1.0 - LEAST_WEIGHT or not there.any() or there.all():
                continue
            here = span_of(float(harmed[there].sum()), int(there.sum()))
            else_ = span_of(float(harmed[~there].sum()), int((~there).sum()))
            if here.low > else_.high or here.value >= APART * max(else_.value, 1.0):
                found.append(Question(number, name, here, else_))
    yield from sorted(found, key=lambda q: q.elsewhere.value - q.there.value)
