"""What helps most: every single change tried in the same samples, then the smallest set that is enough."""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from planner.app.advice.changes import (
    NOWHERE,
    Change,
    Elsewhere,
    altered,
    closings_of,
    narrowed,
    possible,
    setup_of,
    shut_by,
)
from planner.app.answer.decide import standing_of
from planner.app.answer.field import Field
from planner.app.answer.records import Candidate, Span, Tolerance
from planner.app.answer.tally import span_of
from planner.app.chance.race import NARROWED, Share, scores_of, share_of
from planner.app.chance.samples import Sample, SampleOutcomes, SampleSpace, Scenario, joined, sampled
from planner.app.chance.words import SURE
from planner.app.common.cautions import ALWAYS
from planner.app.common.progress import Progress, Stop
from planner.app.plan.headroom import tried_headroom
from planner.app.plan.plan import shut_at_night
from planner.app.plan.results import Choice, Plan
from planner.app.plan.words import choice_text
from planner.errors import Cancelled
from planner.model.cases import CaseGrid, case_grid, on_ways
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.limits import HARM, LEVELS, UNKNOWN
from planner.model.parameters import ParameterTable
from planner.model.preparations import SetUp
from planner.model.records import BoxType, Floats, Group, Ints, Road, Trip, Weather
from planner.model.timeline import Timeline, build_timeline
from planner.model.ways import likely_ways
from planner.store.forecast_error import load_forecast_error
from planner.store.posterior import bundled_posterior
from planner.units import METRIC, UnitSystem
from planner.words import Moment, say

SAMPLES = 128
REACH_S = 6 * 3600.0
MOST_CHANGES = 3
POOL = 12
"""The set is searched among so many changes that help alone, the best ones."""

MOST_SHOWN = 10
"""So many changes are offered."""

BATCH = 40
LEAST_GAIN_K = 0.5
"""Headroom that the model can tell apart: less of it is no help."""

TELLING_K = 8.0
"""Margins beyond this count as this: more of it helps nobody."""

Set = tuple[Change, ...]


@dataclass(frozen=True)
class Trial:
    """A set of changes tried: the worst level and the headroom with every number at its middle, and the samples.

    The headroom is found by trying for what is shown, a single change and none; for the sets searched it is what the
    boxes' own histories have to spare.
    ``harmed`` (sample,) whether any box of any group came to harm; ``score`` (sample,) as in a comparison;
    ``boxes_share`` (sample,) of the boxes that did, by default all of them where any did.
    """

    changes: Set
    level: int
    headroom_k: float
    harmed: np.ndarray
    score: Floats
    boxes_share: Floats | None = None

    @property
    def no_harm(self) -> Share:
        return share_of(~self.harmed)

    @property
    def known(self) -> bool:
        """Whether there was weather for it."""
        return self.level != UNKNOWN

    def enough(self, target: float = SURE) -> bool:
        """No harm in the target share of samples; the middle of all ranges is no verdict."""
        return self.known and self.no_harm.reaches(target)

    def within(self, tolerance: Tolerance) -> bool:
        """Whether it is within what is accepted, by both intervals, as the answer itself decides."""
        return self.known and standing_of(*self._spans, tolerance, 100) == "within"

    def seems_within(self, tolerance: Tolerance) -> bool:
        """The same by the figures alone, their intervals left aside: worth a closer look."""
        harm, boxes = self._spans
        return self.known and harm.value <= tolerance.harm_of_100 and boxes.value <= tolerance.boxes_of_100

    @property
    def _spans(self) -> tuple[Span, Span]:
        """Of 100 samples those with harm, of 100 boxes those harmed."""
        share = self.harmed if self.boxes_share is None else self.boxes_share
        return span_of(self.harmed.sum(), self.harmed.size), span_of(share.sum(), self.harmed.size)


@dataclass(frozen=True)
class Gain:
    """What one change gains over none: in headroom at the middle of all ranges, and in samples without harm."""

    trial: Trial
    headroom_k: float
    no_harm: float
    no_harm_error: float

    @property
    def change(self) -> Change:
        return self.trial.changes[0]

    @property
    def certain(self) -> bool:
        """Whether more samples go well than chance would have it."""
        return self.no_harm > 2.0 * self.no_harm_error

    @property
    def told(self) -> bool:
        """Whether chance does not explain the change in safety, for better or worse."""
        return abs(self.no_harm) > 2.0 * self.no_harm_error

    @property
    def telling(self) -> bool:
        """Whether it helps at all: more samples without harm, or more headroom and no fewer of them."""
        return self.certain or (self.headroom_k >= LEAST_GAIN_K and self.no_harm >= 0.0)

    @property
    def worse(self) -> bool:
        """Whether it does not help and takes headroom, or does harm that chance does not explain."""
        harmful = self.told and self.no_harm < 0.0
        return not self.telling and (harmful or self.headroom_k <= -LEAST_GAIN_K)

    @property
    def promising(self) -> bool:
        """Whether more samples may show that it helps."""
        return self.telling or self.no_harm > 0.0


@dataclass(frozen=True)
class Helps:
    """The candidate as it stands, every change with its gain (best first), and the smallest set that is enough.

    ``smallest`` is None when no set of up to MOST_CHANGES was enough, an empty set when none was needed; its changes of
    boxes are those of as few groups as are enough;
    ``searched`` sets were tried; ``pool`` names the changes they were made of. ``tolerance`` is what enough is held
    against, ``target`` where there is none. ``elsewhere`` as it was given.
    """

    plan: Plan
    choice: Choice
    base: Trial
    gains: tuple[Gain, ...]
    smallest: Trial | None
    searched: int
    pool: tuple[Change, ...]
    target: float
    tolerance: Tolerance | None = None
    elsewhere: Elsewhere = field(default_factory=dict)


def helps(
    plan: Plan,
    choice: Choice,
    catalogue: Catalogue,
    generator: np.random.Generator,
    *,
    samples: int = SAMPLES,
    roads: Sequence[tuple[str, Road]] = (),
    places: Sequence[str] = (),
    weathers: Sequence[Weather] = (),
    target: float = SURE,
    tolerance: Tolerance | None = None,
    drawn: Field | None = None,
    elsewhere: Elsewhere = NOWHERE,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> Helps:
    """Try every change alone, then find the smallest set that makes the candidate safe.

    Parameters
    ----------
    roads : other ways with the same calls, each with a title
    places : loading places of the trip asked about, where the plan is that of one candidate alone
    target : share of samples without harm that is enough, where there is no tolerance
    tolerance : what is accepted; a set is enough that is within it by the intervals of all samples, as the answer is
    drawn : the field of the answer, whose samples are taken; by default samples of its own are made
    elsewhere : how the answer shuts the boxes at other hours and places; what it does not know is shut by the same rule
    """
    every = possible(plan, choice, catalogue, roads, places)
    given = plan, choice, catalogue, every, generator
    bench = Bench(*given, samples, weathers, should_stop, drawn, elsewhere)
    base, *singles = bench.tried([(), *((change,) for change in every)])
    if on_progress:
        on_progress(0.5)
    gains = tuple(sorted((gain_of(base, t) for t in singles if t.known), key=_order))
    trials: dict[Set, Trial] = {(): base, **{t.changes: t for t in singles}}
    told = bench
    if drawn is not None and samples < drawn.most:
        told = Bench(*given, drawn.most, weathers, should_stop, drawn, elsewhere)
    pool = tuple(g.change for g in gains if g.telling or (told is not bench and g.promising))[:POOL]

    close = trials if told is bench else {}

    def enough(sets: list[Set]) -> list[bool]:
        fresh = [s for s in sets if s not in trials]
        trials.update(zip(fresh, bench.tried(fresh), strict=True))
        if tolerance is None:
            return [trials[s].enough(target) for s in sets]
        near = [s for s in sets if trials[s].seems_within(tolerance) and s not in close]
        close.update(zip(near, told.tried(near), strict=True))
        return [s in close and close[s].within(tolerance) for s in sets]

    found, searched = smallest_set(pool, enough)
    for change in found or ():
        labels = altered(change, plan, choice, catalogue)
        found, more = on_fewest_groups(found or (), change, labels, enough)
        searched += more
    smallest = None if found is None else trials[found]
    if told is not bench:
        base, gains, smallest = _told_anew(told, gains, smallest)
    if on_progress:
        on_progress(1.0)
    return Helps(plan, choice, base, gains, smallest, searched, pool, target, tolerance, elsewhere)


def _told_anew(
    bench: Bench, gains: Sequence[Gain], smallest: Trial | None
) -> tuple[Trial, tuple[Gain, ...], Trial | None]:
    """What is offered, told in all samples of the answer, those without any change too; what helps no more is left."""
    shown = [gain.trial.changes for gain in gains if gain.promising][:MOST_SHOWN]
    last = [] if smallest is None else [smallest.changes]
    base, *trials = bench.tried([(), *shown, *last])
    found = [gain_of(base, trial) for trial in trials[: len(shown)]]
    rest = [gain_of(base, gain.trial) for gain in gains if not gain.promising and gain.headroom_k < 0.0]
    return base, (*sorted(found, key=_order), *rest), trials[-1] if last else None


def gain_of(base: Trial, trial: Trial) -> Gain:
    """What a trial gains over another in the same samples."""
    met = min(base.harmed.size, trial.harmed.size)  # the samples that both were tried in
    better = base.harmed[:met].astype(float) - trial.harmed[:met].astype(float)
    error = float(np.sqrt((better.var() + 1.0 / better.size) / better.size))
    headroom = min(trial.headroom_k, TELLING_K) - min(base.headroom_k, TELLING_K)
    return Gain(trial, headroom, float(better.mean()), error)


def _order(gain: Gain) -> tuple[float, float, int]:
    """Samples saved in steps of what they are known to, then headroom in half kelvins, then work."""
    return -round(gain.no_harm / 0.05), -round(2.0 * gain.headroom_k), gain.change.effort


def smallest_set(
    pool: Sequence[Change], enough: Callable[[list[Set]], list[bool]], most: int = MOST_CHANGES
) -> tuple[Set | None, int]:
    """The smallest set that is enough: fewest changes first, then least work, then the pool's own order.

    Best-first: sets come off a heap in just that order and are only ever followed by larger ones, so the
    first that is enough is the smallest.

    Parameters
    ----------
    enough : judges a batch of sets
    most : changes in a set at most

    Returns
    -------
    The set, or None; and how many sets were judged.
    """
    heap: list[tuple[int, int, tuple[int, ...]]] = [(0, 0, ())]
    judged = 0
    while heap:
        batch = [heapq.heappop(heap) for _ in range(min(BATCH, len(heap)))]
        size = batch[0][0]
        for late in [entry for entry in batch if entry[0] > size]:
            heapq.heappush(heap, late)  # larger sets wait until their smaller ones are judged
        batch = [entry for entry in batch if entry[0] == size]
        sets = [tuple(pool[i] for i in picked) for _, _, picked in batch]
        judged += len(sets)
        for candidate, fits in zip(sets, enough(sets), strict=True):
            if fits:
                return candidate, judged
        for _, effort, picked in batch if size < most else ():
            taken = {pool[i].slot for i in picked}
            for i in range(picked[-1] + 1 if picked else 0, len(pool)):
                if pool[i].slot not in taken:
                    heapq.heappush(heap, (size + 1, effort + pool[i].effort, (*picked, i)))
    return None, judged


def on_fewest_groups(
    found: Set, change: Change, labels: Sequence[str], enough: Callable[[list[Set]], list[bool]]
) -> tuple[Set, int]:
    """A set that is enough, one change of it left out of one group after the other as long as it stays enough.

    Who needs it least is left out first: of those that can be, whose boxes are most.

    Parameters
    ----------
    labels : of the groups it alters, the fewest boxes first

    Returns
    -------
    The set; and how many were judged.
    """
    judged, left = 0, tuple(labels)
    while len(left) > 1:
        fewer = [tuple(label for label in left if label != out) for out in reversed(left)]
        sets = [
            tuple(narrowed(change, each) if c.name == change.name else c for c in found) for each in fewer
        ]
        judged += len(sets)
        fits = next((row for row, fine in enumerate(enough(sets)) if fine), None)
        if fits is None:
            break
        found, left = sets[fits], fewer[fits]
    return found, judged


# -- trying sets of changes ----------------------------------------------------------------------


class Bench:
    """Tries sets of changes on one candidate, all in the same samples."""

    def __init__(
        self,
        plan: Plan,
        choice: Choice,
        catalogue: Catalogue,
        changes: Sequence[Change],
        generator: np.random.Generator,
        samples: int = SAMPLES,
        weathers: Sequence[Weather] = (),
        should_stop: Stop | None = None,
        drawn: Field | None = None,
        elsewhere: Elsewhere = NOWHERE,
    ) -> None:
        self._sample: Sample
        self._elsewhere = elsewhere
        self._plan, self._catalogue, self._should_stop = plan, catalogue, should_stop
        self._weathers = tuple(weathers) or (plan.weather,)
        self._forecast_error = load_forecast_error()
        self._table = catalogue.parameters
        self._place = plan.loading_places[choice.loading_place]
        self._leave_s = float(plan.departures_s[choice.departure])
        self._setup = setup_of(plan, choice)
        pinned = [group.loading_place for group in plan.trip.groups if group.loading_place]
        self._places = tuple(dict.fromkeys([self._place, *(c.place for c in changes if c.place), *pinned]))
        shifts = [c.shift_s for c in changes] or [0.0]
        first = float(plan.closed_s[choice.departure]) + min(shifts) - REACH_S
        last = float(plan.opened_s[choice.departure]) + max(shifts) + REACH_S
        likely = [weight for *_, weight in likely_ways(plan.trip)]
        if drawn is not None:
            self._places = tuple(dict.fromkeys([*drawn.places, *self._places]))
            self._weathers = drawn.weathers
            self._sample = _of_answer(drawn, self._places, self._table, samples, (first, last))
        else:
            space = SampleSpace(
                self._table,
                self._places,
                first,
                last,
                self._forecast_error,
                members=len(self._weathers),
                posterior=bundled_posterior() if NARROWED else None,
                ways=likely,
            )
            # the plan's own answer first
            middle = _likeliest(space.middle(), likely)
            self._sample = joined(middle, space.at(space.uniform(samples, generator)))

    def tried(self, sets: Sequence[Set]) -> list[Trial]:
        """Try sets of changes; those that leave the trip itself alike are integrated together."""
        alike: dict[tuple[str, ...], list[int]] = {}
        for i, changes in enumerate(sets):
            alike.setdefault(tuple(sorted(c.name for c in changes if c.trip)), []).append(i)
        trials: dict[int, Trial] = {}
        for rows in alike.values():
            if self._should_stop and self._should_stop():
                raise Cancelled
            trials.update(zip(rows, self._simulate([sets[i] for i in rows]), strict=True))
        return [trials[i] for i in range(len(sets))]

    def _simulate(self, sets: list[Set]) -> list[Trial]:
        trip, road = self._changed_trip(sets[0])
        rides = [next((c.place for c in changes if c.place), self._place) for changes in sets]
        leaves = [self._leave_s + sum(c.shift_s for c in changes) for changes in sets]
        starts = [
            (leave_s, closings_of(trip, changes, self._elsewhere, leave_s, ride))
            for leave_s, ride, changes in zip(leaves, rides, sets, strict=True)
        ]
        rows = list(dict.fromkeys(starts))
        places = list(dict.fromkeys(rides))
        prepared: dict[tuple[tuple[str, tuple[str, ...]], ...], SetUp] = {}
        keys = [tuple(sorted((c.name, c.groups) for c in changes if c.boxes)) for changes in sets]
        for key, changes in zip(keys, sets, strict=True):
            prepared.setdefault(key, self._prepared(changes))
        order = list(prepared)
        candidates: Ints = np.array(
            [
                (rows.index(start), places.index(ride), order.index(key))
                for start, ride, key in zip(starts, rides, keys, strict=True)
            ],
            dtype=np.int64,
        )
        setups = list(prepared.values())
        grid = case_grid(trip, road, self._weathers[0], self._catalogue, places, setups, table=self._table)
        leaks = [self._catalogue.box_types[g.box_type].leak_l_s for _ in setups for g in trip.groups]
        ways = [(on_ways(grid, settled, self._catalogue), lean) for settled, lean, _ in likely_ways(trip)]
        open_ways = tuple(ways) if len(ways) > 1 else ()
        error = self._forecast_error
        scenario = Scenario(grid, self._weathers, np.array(leaks), self._places, error, open_ways)
        departures = np.array([leave_s for leave_s, _ in rows])
        closed = [
            closing_times(shut_by(trip, closings), road, np.array([leave_s]))[0] for leave_s, closings in rows
        ]
        timeline = build_timeline(trip, road, departures, np.stack(closed))
        night = shut_at_night(trip, timeline.closed_s)
        seen = sampled(scenario, timeline, night, candidates, self._sample)
        headroom = seen.headroom_k[:, 0].astype(np.float64)
        shown = [i for i, changes in enumerate(sets) if len(changes) <= 1]
        if shown:
            headroom[shown] = _tried(grid, timeline, night, candidates[shown], headroom[shown])
        counts = np.array([group.count for group in trip.groups], dtype=np.float64)
        return [_trial(changes, seen, i, float(headroom[i]), counts) for i, changes in enumerate(sets)]

    def _changed_trip(self, changes: Set) -> tuple[Trip, Road]:
        trip, road = self._plan.trip, self._plan.road
        for change in changes:
            if change.trip:
                trip, road = change.trip(trip, road)
        return trip, road

    def _prepared(self, changes: Set) -> SetUp:
        """The candidate's set-up and then the changes to the boxes, as one set-up."""

        def change(group: Group, box: BoxType) -> Group:
            group = self._setup.change(group, box)
            for one in changes:
                group = one.boxes(group, box) if one.boxes else group
            return group

        return replace(self._setup, name="changed", change=change)


def _of_answer(
    drawn: Field, places: Sequence[str], table: ParameterTable, samples: int, span_s: tuple[float, float]
) -> Sample:
    """What is typical, then the first samples of an answer, at the places and in the hours of what is tried."""
    known = drawn.sample_for(places, *span_s).take(slice(0, samples))
    first, last = float(known.knots_s[0]), float(known.knots_s[-1])
    typical = SampleSpace(table, places, first, last, load_forecast_error(), steady=True)
    likely = [weight for *_, weight in drawn.likely]
    return joined(_likeliest(typical.middle(), likely), known)


def _likeliest(sample: Sample, likely: Sequence[float]) -> Sample:
    """The sample on the likeliest way a box may go, the middle one of several."""
    if len(likely) < 2:
        return sample
    best = np.flatnonzero(np.isclose(likely, max(likely)))
    return replace(sample, way=best[[(best.size - 1) // 2]])


def _tried(grid: CaseGrid, timeline: Timeline, night: Floats, candidates: Ints, own_k: Floats) -> Floats:
    """Headroom of candidates found by trying; where air conditioning holds the air, what the boxes have to spare."""
    choices = [Choice(*map(int, candidate)) for candidate in candidates]
    tried = tried_headroom(grid, timeline, night, tuple(dict.fromkeys(choices)))
    found = [tried[choice] for choice in choices]
    return np.array([one.k if one.known else own for one, own in zip(found, own_k.tolist(), strict=True)])


def _trial(changes: Set, seen: SampleOutcomes, row: int, headroom_k: float, counts: Floats) -> Trial:
    level = seen.level[row]
    return Trial(
        changes=changes,
        level=int(level[0].max()),
        headroom_k=headroom_k,
        harmed=level[1:].max(axis=-1) >= HARM,
        score=scores_of(level[1:], seen.headroom_k[row, 1:], seen.harm_h[row, 1:]),
        boxes_share=(seen.group_level[row, 1:].max(axis=-1) >= HARM) @ counts / counts.sum(),
    )


# -- words ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class HelpWords:
    """What the user is told about changes; ``start`` which start that is, where the answer names another."""

    headline: str
    changes: tuple[str, ...]
    worse: tuple[str, ...]
    smallest: str
    start: str = ""
    cautions: tuple[str, ...] = ALWAYS


def in_words(
    found: Helps, units: UnitSystem = METRIC, most: int = 10, best: Candidate | None = None
) -> HelpWords:
    """Put the changes into words, the best first; ``best`` is the answer's, if it is that of another question."""
    base = found.base
    helping = [gain for gain in found.gains if gain.telling]
    worse = [gain for gain in reversed(found.gains) if gain.worse]
    return HelpWords(
        headline=say(
            "advice.helps_headline",
            choice=choice_text(found.plan, found.choice),
            of=base.no_harm.of_hundred,
            headroom=units.step_text(base.headroom_k, 0),
        ),
        changes=tuple(_gain_text(base, gain, units) for gain in helping[:most])
        or ("Nothing tried here makes it better.",),
        worse=tuple(_gain_text(base, gain, units) for gain in worse[:3]),
        smallest=_smallest_text(found),
        start=_start_text(found, best),
    )


def starts_apart(leave_s: float, best: Candidate | None) -> bool:
    """Whether what is asked of one start is not what an answer names, whose window of alike starts counts as one."""
    return best is not None and not best.leave_from_s <= leave_s <= best.leave_to_s


def _start_text(found: Helps, best: Candidate | None) -> str:
    leave_s, zone = float(found.plan.departures_s[found.choice.departure]), found.plan.trip.origin.zone
    if best is None or not starts_apart(leave_s, best):
        return ""
    own, answer = Moment(leave_s, zone), Moment(best.leave_s, zone)
    return say("advice.helps_start", own=own, answer=answer)


def _gain_text(base: Trial, gain: Gain, units: UnitSystem) -> str:
    title = gain.change.title
    return say(
        "advice.gain",
        title=f"{title[:1].upper()}{title[1:]}",
        safety=safety_text(base, gain),
        gained=gained_text(gain.headroom_k, units),
        effort=gain.change.effort,
    )


def gained_text(headroom_k: float, units: UnitSystem) -> str:
    """Headroom gained or lost with every figure at its middle: not the headroom of the variants, which answers tell."""
    step = units.step_text(abs(headroom_k))
    if step == units.step_text(0.0):
        return say("advice.gained_same")
    return say("advice.gained_more" if headroom_k > 0.0 else "advice.gained_less", step=step)


def safety_text(base: Trial, gain: Gain) -> str:
    """What a change does to safety; what chance alone may have made is called no change."""
    before, after = base.no_harm.of_hundred, gain.trial.no_harm.of_hundred
    if not gain.told:
        return say("advice.safety_same", before=before)
    return say("advice.safety_other", before=before, after=after)


def _wanted(found: Helps) -> str:
    if found.tolerance is None:
        return say("advice.wanted_safe", of=round(100.0 * found.target))
    accepted = found.tolerance
    harm, boxes = f"{accepted.harm_of_100:g}", f"{accepted.boxes_of_100:g}"
    return say("advice.wanted_accepted", harm=harm, boxes=boxes)


def _smallest_text(found: Helps) -> str:
    if found.smallest is None and not found.pool:
        return say("advice.none_helps", tried=len(found.gains))
    if found.smallest is None:
        return say(
            "advice.no_set",
            most=MOST_CHANGES,
            pool=len(found.pool),
            wanted=_wanted(found),
            tried=found.searched,
        )
    if not found.smallest.changes:
        return say("advice.nothing_needed", wanted=_wanted(found))
    titles = " and ".join(change.title for change in found.smallest.changes)
    share = found.smallest.no_harm
    error = round(100.0 * share.error)
    if not gain_of(found.base, found.smallest).told:
        return say(
            "advice.smallest_untold",
            samples=share.samples,
            before=found.base.no_harm.of_hundred,
            after=share.of_hundred,
            error=error,
            titles=titles,
        )
    return say("advice.smallest", titles=titles, of=share.of_hundred, error=error, tried=found.searched)


def as_document(found: Helps, said: HelpWords) -> dict[str, Any]:
    """The changes for machines."""
    return {
        "skepway_helps": 1,
        "trip": found.plan.trip.title,
        "answer": said.headline,
        "start_text": said.start,
        "smallest": None if found.smallest is None else [c.name for c in found.smallest.changes],
        "smallest_groups": None
        if found.smallest is None
        else {c.name: list(c.groups) for c in found.smallest.changes if c.groups},
        "smallest_text": said.smallest,
        "no_harm": found.base.no_harm.value,
        "headroom_k": _number(found.base.headroom_k),
        "margin_k": _number(found.base.headroom_k),
        "changes": [
            {
                "name": gain.change.name,
                "title": gain.change.title,
                "effort": gain.change.effort,
                "level": LEVELS[gain.trial.level],
                "no_harm": gain.trial.no_harm.value,
                "no_harm_gain": round(gain.no_harm, 4),
                "no_harm_gain_error": round(gain.no_harm_error, 4),
                "headroom_gain_k": _number(gain.headroom_k),
                "margin_gain_k": _number(gain.headroom_k),
            }
            for gain in found.gains
        ],
        "cautions": list(said.cautions),
    }


def _number(value: float) -> float | None:
    return round(value, 4) if np.isfinite(value) else None
