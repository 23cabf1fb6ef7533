"""One box worked out anew as it was found: in the same samples as the plan, with the least that makes it safe."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from planner.app.advice.changes import Change, box_changes
from planner.app.advice.helps import Set, smallest_set
from planner.app.chance.race import Share, scenario_of, share_of, space_of
from planner.app.chance.samples import Sample, Scenario, SimulatedSamples, evaluate_samples, joined
from planner.app.chance.words import SURE
from planner.app.common.progress import Stop
from planner.app.inspect.items import Item, boxes_of, items_of
from planner.app.inspect.pinned import Kept
from planner.app.plan.plan import departures_of, shut_at_night
from planner.app.plan.results import HARM
from planner.errors import Cancelled
from planner.model.cases import case_grid
from planner.model.catalogue import Catalogue
from planner.model.closing import closing_times
from planner.model.preparations import ALL, with_group_as
from planner.model.records import BoxType, Floats, Group, Trip
from planner.model.timeline import build_timeline
from planner.store.forecast_error import ForecastError

SAMPLES = 64
SEED = 1
"""As the plan's own chances are drawn, so that a box as planned gets the plan's own figure."""

STEP_MIN, LEAST_MIN = 15, 30
"""A drive is released in quarters of an hour, downwards, and not for less than half an hour."""

MOST_CHANGES = 2
POOL = 6
BATTENS = Change(
    "battens",
    "set it on battens",
    1,
    "stand",
    boxes=lambda group, _: replace(group, stand="battens") if group.stand == "flat" else group,
)


@dataclass(frozen=True)
class Trial:
    """One box in one state: ``no_harm`` of the samples, ``headroom_k`` what its own history has to spare at the middle
    of all ranges, ``level`` its worst verdict there; ``harm_s`` (sample,) seconds from the start of the drive to the
    first harm, infinite where there is none."""

    no_harm: Share
    headroom_k: float
    level: int
    harm_s: Floats


@dataclass(frozen=True)
class Rejudged:
    """A box as planned, as found, and with the smallest set of changes that makes it safe.

    ``fix`` is empty where none is needed and None where no set was enough; ``minutes`` the longest drive on which the
    box as found comes to no harm in the target share of samples, 0 where there is none worth the name.
    """

    planned: Trial
    found: Trial
    fix: Set | None
    fixed: Trial | None
    minutes: int
    target: float

    @property
    def safe(self) -> bool:
        return enough(self.found, self.target)


def enough(trial: Trial, target: float) -> bool:
    """Whether a box in a state is safe: no harm at the middle, nor in the target share of samples."""
    return trial.no_harm.reaches(target) and (trial.level < HARM or target < 0.5)


class Judge:
    """Judges the boxes of one candidate, one at a time; made once for a plan and kept while boxes are looked at."""

    def __init__(self, kept: Kept, catalogue: Catalogue, samples: int = SAMPLES) -> None:
        self.kept, self.catalogue = kept, catalogue
        self.setup = next(setup for setup in ALL if setup.name == kept.setup)
        self._leave_s, self._samples = kept.departure_s, samples
        self._planned: dict[int, Trial] = {}
        self._group_of = {box.name: box.group for box in boxes_of(kept.trip)}

    @cached_property
    def _drawn(self) -> tuple[tuple[str, ...], ForecastError, Sample]:
        """Names of the places in the order of the samples, how forecasts miss, and the samples, the middle first."""
        trip, departures_s = self.kept.trip, departures_of(self.kept.trip)
        scenario, timeline, _ = scenario_of(
            trip,
            self.kept.road,
            (self.kept.weather,),
            departures_s,
            trip.loading_places,
            self.catalogue,
            [self.setup],
        )
        typical, drawn = (space_of(scenario, timeline, narrowed=narrowed) for narrowed in (False, True))
        middle = typical.middle()
        uniform = drawn.uniform(self._samples, np.random.default_rng(SEED))
        return scenario.place_names, scenario.forecast_error, joined(middle, drawn.at(uniform))

    def planned(self, box: str) -> Group:
        """A box as the plan has it, its set-up done. Raises KeyError for a name that is not in the load."""
        group = self.kept.trip.groups[self._group_of[box]]
        return self.setup.change(group, self.catalogue.box_types[group.box_type])

    def items(self, box: str) -> tuple[Item, ...]:
        """What a box is asked about. Raises KeyError as ``planned`` does."""
        group = self.planned(box)
        return items_of(self.catalogue.box_types[group.box_type], group)

    def comb_of(self, box: str) -> Group:
        """The group a box belongs to as the trip file has it."""
        return self.kept.trip.groups[self._group_of[box]]

    def tried(self, box: str, states: Sequence[Group]) -> list[Trial]:
        """One box in several states, its neighbours as planned, all in the same samples."""
        done, row = self._run(box, states)
        level = done.judged.verdict.reshape((*done.shape, -1)).max(axis=-1)[..., row]
        spare_k = done.judged.headroom_k.reshape(done.shape)[..., row]
        first_s = done.judged.first_harm_s.reshape(done.shape)[..., row] - self._leave_s
        return [
            Trial(
                no_harm=share_of(level[at, 1:] < HARM),
                headroom_k=float(spare_k[at, 0]),
                level=int(level[at, 0]),
                harm_s=np.nan_to_num(first_s[at, 1:], nan=np.inf),
            )
            for at in range(len(states))
        ]

    def band(self, box: str) -> tuple[Floats, Floats]:
        """POSIX seconds (time,), and what a box as planned stays below in 5, 50, 95 of 100 samples, C (time, 3)."""
        done, row = self._run(box, [self.planned(box)])
        core_c = 0.5 * (done.seen.core_c[:-1] + done.seen.core_c[1:])
        core_c = core_c.reshape(len(core_c), *done.shape)[:, 0, 1:, row]
        shut = done.seen.closed.reshape(len(core_c), *done.shape)[:, 0, 0, row]
        found = np.quantile(core_c, (0.05, 0.5, 0.95), axis=1).T
        return done.time_s[shut, 0], found[shut]

    def _run(self, box: str, states: Sequence[Group]) -> tuple[SimulatedSamples, int]:
        """One box in several states worked out, and which of the groups it is."""
        names, forecast_error, sample = self._drawn
        kept = self.kept
        trip, row = apart(kept.trip, self._group_of[box])
        label = trip.groups[row].label
        setups = [with_group_as(self.setup, state, label, "found") for state in states]
        departure = np.array([self._leave_s])
        timeline = build_timeline(trip, kept.road, departure, closing_times(trip, kept.road, departure))
        table = self.catalogue.parameters
        places = [kept.loading_place]
        grid = case_grid(trip, kept.road, kept.weather, self.catalogue, places, setups, table=table)
        leaks = [self.catalogue.box_types[group.box_type].leak_l_s for _ in setups for group in trip.groups]
        scenario = Scenario(grid, (kept.weather,), np.array(leaks), names, forecast_error)
        night = shut_at_night(trip, timeline.closed_s)
        candidates = np.array([(0, 0, at) for at in range(len(states))], dtype=np.int64)
        return evaluate_samples(scenario, timeline, night, candidates, sample), row

    def rejudged(self, box: str, found: Group, should_stop: Stop | None = None) -> Rejudged:
        """A box as it was found; the smallest set of changes of that one box which makes it as safe as planned.

        Parameters
        ----------
        found : the box in numbers as ``found_group`` gives it
        """
        kind = self.catalogue.box_types[found.box_type]
        as_planned, as_found = self._both(box, found)
        target = min(SURE, as_planned.no_harm.value)
        if enough(as_found, target):
            return Rejudged(as_planned, as_found, (), as_found, 0, target)
        if should_stop and should_stop():
            raise Cancelled
        changes = [c for c in (*box_changes(), BATTENS) if c.boxes and c.boxes(found, kind) != found]
        singles = self.tried(box, [_with((change,), found, kind) for change in changes])
        trials: dict[Set, Trial] = {(): as_found, **{(c,): t for c, t in zip(changes, singles, strict=True)}}
        order = sorted(
            changes, key=lambda c: (-trials[(c,)].no_harm.of_hundred, -trials[(c,)].headroom_k, c.effort)
        )
        pool = [c for c in order if trials[(c,)].headroom_k > as_found.headroom_k][:POOL]
        alone = [c for c in pool if enough(trials[(c,)], target)]

        def judged(sets: list[Set]) -> list[bool]:
            fresh = [s for s in sets if s not in trials]
            if fresh:
                trials.update(
                    zip(fresh, self.tried(box, [_with(s, found, kind) for s in fresh]), strict=True)
                )
            return [enough(trials[s], target) for s in sets]

        fix, _ = smallest_set(sorted(alone, key=lambda c: c.effort) or pool, judged, MOST_CHANGES)
        fixed = None if fix is None else trials[fix]
        return Rejudged(as_planned, as_found, fix, fixed, self._minutes(box, as_found, target), target)

    def _both(self, box: str, found: Group) -> tuple[Trial, Trial]:
        """A box as planned, worked out once for its group, and as found."""
        number = self._group_of[box]
        if number in self._planned:
            return self._planned[number], self.tried(box, [found])[0]
        self._planned[number], as_found = self.tried(box, [self.planned(box), found])
        return self._planned[number], as_found

    def _minutes(self, box: str, trial: Trial, target: float) -> int:
        """The longest drive after which the box can still be opened before harm in the target share of samples."""
        group = self.comb_of(box)
        open_s = group.opening.after_s[1] if group.opening else self.kept.trip.open_after_s
        allowed = int(np.floor((1.0 - target) * trial.harm_s.size))
        soonest_s = float(np.sort(trial.harm_s)[allowed]) - open_s
        most = self.kept.road.driving_s / 60.0
        minutes = int(min(soonest_s / 60.0, most) // STEP_MIN * STEP_MIN) if soonest_s > 0.0 else 0
        return minutes if LEAST_MIN <= minutes < most else 0


def _with(changes: Set, group: Group, box: BoxType) -> Group:
    for change in changes:
        group = change.boxes(group, box) if change.boxes else group
    return group


def apart(trip: Trip, number: int) -> tuple[Trip, int]:
    """The trip with one box of a group as a group of its own, and that group's place; its fellows stay beside it."""
    group = trip.groups[number]
    alone = replace(group, count=1, label=f"{group.label} \0")
    rest = (replace(group, count=group.count - 1),) if group.count > 1 else ()
    groups = (*trip.groups[:number], alone, *rest, *trip.groups[number + 1 :])
    return replace(trip, groups=groups, boxes=()), number
