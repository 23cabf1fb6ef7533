"""A year on a lane: the chance of harm by week and weekday of posting, weeks as pieces for an executor."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from planner.app.answer.records import Tolerance
from planner.app.answer.tally import interval
from planner.app.common.chart import Axis, Chart, Key, Tick, Tile
from planner.app.common.executors import map_with
from planner.app.common.progress import Progress, Stop
from planner.app.common.scale import CLASS_STEPS
from planner.app.common.svg import chart_svg
from planner.app.lane.calendar import holidays_of, postings
from planner.app.lane.plan import LaneJudge, settled_tolerance
from planner.app.lane.words import setup_words
from planner.model.catalogue import Catalogue
from planner.model.records import Floats, Ints, Weather
from planner.store.chunks import ChunkStore, fingerprint
from planner.store.lanerecords import ParcelLane
from planner.store.rules import answer_rules
from planner.words import say

WEEKS, DAYS = 52, 6
YEAR_SAMPLES = 32
NONE_HARMED = 0.09
"""Upper end of the interval where none of YEAR_SAMPLES is harmed: what few samples can promise at best."""


@dataclass(frozen=True)
class LaneYear:
    """``harm`` (week, weekday) share of samples with harm, NaN where nobody posts or nothing is known."""

    lane: ParcelLane
    setup: str
    tolerance: Tolerance
    harm: Floats
    samples: int
    source: str
    reused: int

    def good(self) -> Ints:
        """Weeks with a day that the tolerance may hold, by the upper end of the interval of few samples."""
        share = np.where(np.isnan(self.harm), 2.0, self.harm).min(axis=1)
        most = [interval(float(s) * self.samples, self.samples)[1] if s <= 1.0 else 2.0 for s in share]
        least = min(self.tolerance.harm_of_100, 100.0 * NONE_HARMED)
        return np.flatnonzero(100.0 * np.array(most) <= least)


Common = tuple[ParcelLane, Weather, Catalogue, int, int]


def lane_year(
    lane: ParcelLane,
    weather: Weather,
    catalogue: Catalogue,
    *,
    setup: str = "as_declared",
    seed: int = 1,
    samples: int = YEAR_SAMPLES,
    folder: Path | None = None,
    executor: Executor | None = None,
    on_progress: Progress | None = None,
    should_stop: Stop | None = None,
) -> LaneYear:
    """Work the year of the lane's week out; finished weeks are kept in ``folder`` and found again.

    Raises InputError, Cancelled.
    """
    alone = replace(lane, setups=(setup,))
    common: Common = alone, weather, replace(catalogue, remarks=()), seed, samples
    first = date(lane.monday.year, 1, 4)
    first -= timedelta(days=first.weekday())
    mondays = [first + timedelta(days=7 * number) for number in range(WEEKS)]
    mark = fingerprint(alone, weather, catalogue.parameters, seed, samples) if folder else ""
    store = ChunkStore(folder, mark, lane.title) if folder else None
    kept = {monday: store.load(_key(monday)) for monday in mondays} if store else {}
    done = {monday: piece for monday, piece in kept.items() if piece is not None}
    reused = len(done)
    left = [monday for monday in mondays if monday not in done]
    for monday, piece in map_with(_week, common, left, executor, should_stop):
        if store:
            store.save(_key(monday), piece)
        done[monday] = piece
        if on_progress:
            on_progress(len(done) / WEEKS)
    harm = np.stack([done[monday]["harm"] for monday in mondays])
    return LaneYear(lane, setup, settled_tolerance(lane), harm, samples, weather.source, reused)


def _key(monday: date) -> str:
    return f"{monday:%Y-%m-%d}"


def _week(common: Common, monday: date) -> dict[str, np.ndarray]:
    """Share of journeys with harm on each weekday of a week."""
    lane, weather, catalogue, seed, samples = common
    judge = LaneJudge(replace(lane, monday=monday), weather, catalogue, seed, samples)
    harm = np.full(DAYS, np.nan)
    for at in postings(lane, holidays_of(lane, (monday.year, monday.year + 1)), monday):
        outcome = judge.outcome(at, [0], slice(0, samples))
        if outcome.known:
            harm[at.day.weekday()] = float(outcome.harmed.mean())
    return {"harm": harm}


def year_words(year: LaneYear) -> str:
    """How many weeks hold a day within the tolerance."""
    return say("parcel.year_head", good=int(year.good().size), weeks=WEEKS, count=year.samples)


def year_svg(year: LaneYear) -> str:
    """The chart on paper."""
    return chart_svg(year_chart(year), 960.0, 300.0)


def year_chart(year: LaneYear) -> Chart:
    """Weeks across, weekdays down, in the five classes of harm; what is unknown is hatched."""
    names = [say("locale.weekday_1"), say("locale.weekday_2"), say("locale.weekday_3")]
    names += [say("locale.weekday_4"), say("locale.weekday_5"), say("locale.weekday_6")]
    title = say("parcel.year_title", title=year.lane.title, setup=setup_words(year.setup))
    return Chart(
        title=title,
        x=Axis(0.0, float(WEEKS), (tuple(Tick(w + 0.5, str(w + 1)) for w in range(0, WEEKS, 4)),)),
        y=Axis(float(DAYS), 0.0, (tuple(Tick(d + 0.5, name) for d, name in enumerate(names)),)),
        marks=tuple(_tiles(year)),
        legend=(*_keys(), Key(say("parcel.year_none"), "unknown", hatched=True)),
    )


def _tiles(year: LaneYear) -> Iterator[Tile]:
    order = [name for name, _ in answer_rules().classes]
    for week, day in np.ndindex(year.harm.shape):
        share = float(year.harm[week, day])
        if np.isnan(share):
            yield Tile(week, week + 1, day, day + 1, "unknown", 0.35, hatched=True, gap=1.0)
        else:
            step = CLASS_STEPS[order.index(answer_rules().class_of(100.0 * share))]
            yield Tile(week, week + 1, day, day + 1, step, gap=1.0)


def _keys() -> Iterator[Key]:
    before = 0
    for step, (name, last) in enumerate(answer_rules().classes):
        yield Key(say("day.board_class", name=name, first=before, last=round(last)), CLASS_STEPS[step])
        before = round(last) + 1
