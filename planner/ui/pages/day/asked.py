"""What is asked of a collection day in the background: its plan, a repair after an upset, its papers."""

from __future__ import annotations

import copy
import time
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from planner.ui.work.background_query import SEED
from planner.ui.work.runner import Watch
from planner.words import say

if TYPE_CHECKING:
    from planner.app.day.records import DayPlan
    from planner.app.day.serving.judge import Judge
    from planner.model.catalogue import Catalogue
    from planner.model.records import Weather
    from planner.store.dayrecords import Day


@dataclass(frozen=True, eq=False)
class AskedDay:
    """A day's draft and where its other files are."""

    draft: dict[str, Any]
    folder: Path | None
    catalogue: Catalogue


@dataclass(frozen=True, eq=False)
class Planned:
    """A plan with what judged it; after a repair what to say of it."""

    plan: DayPlan
    judge: Judge
    said: tuple[str, ...] = ()


UPSETS = ("failed", "late", "torn", "forecast")
"""What may upset a planned day: a box that fails its check, a late buyer, torn roof screens, another forecast."""


@dataclass(frozen=True, eq=False)
class Upset:
    """What happened to a planned day: ``kind`` of UPSETS, to which box or buyer, how many minutes or screens."""

    planned: Planned
    kind: str
    who: str
    much: int
    asked: AskedDay


def ask_repair(upset: Upset, watch: Watch) -> Iterator[Planned]:
    """The day mended, everybody told kept where that can be; then to which day who is put off may come."""
    from planner.app.day import repair
    from planner.app.day.later import with_next_days

    before = upset.planned.plan
    judge = copy.copy(upset.planned.judge)  # a repair that is stopped leaves that of the plan as it was
    day, stop = repair.told(before), watch.should_stop
    failed = upset.who if upset.kind == "failed" else ""
    match upset.kind:
        case "failed":
            after = repair.without_box(judge, before, failed, should_stop=stop)
        case "late":
            number = next(n for n, buyer in enumerate(day.buyers) if buyer.name == upset.who)
            late = repair.with_late_buyer(day, number, 60.0 * upset.much)
            after = repair.repaired(judge, before, late, should_stop=stop)
        case "torn":
            after = repair.repaired(
                judge, before, repair.with_fewer_screens(day, upset.much), should_stop=stop
            )
        case _:
            weather = _weather(day, upset.asked.draft, upset.asked)
            judge, after = repair.with_forecast(before, weather, upset.asked.catalogue, should_stop=stop)
    said = repair.change_words(before, after, failed)
    if not said:
        said = (say("day.nothing_to_swap", box=failed) if failed else say("day.nothing_changes"),)
    yield Planned(after, judge, said)
    if any(one.next_day_s is None for one in after.put_off):
        yield Planned(with_next_days(after, upset.asked.catalogue, None, stop), judge, said)


def _weather(day: Day, draft: dict[str, Any], asked: AskedDay) -> Weather:
    """The weather as the draft has it, asked for where it is a forecast."""
    from planner.app.day.inputs import weather_of_day
    from planner.app.plan.inputs import Sources
    from planner.store.dayfile import resolve_day

    day = replace(day, weather=resolve_day(draft, asked.catalogue, asked.folder).weather)
    sources = None
    if day.weather.weather is None and day.weather.source != "own":
        sources = Sources.open()
    try:
        return weather_of_day(day, sources, now_s=time.time())
    finally:
        if sources is not None:
            sources.close()


@dataclass(frozen=True, eq=False)
class WantedPapers:
    """All papers of a planned day into a folder."""

    plan: DayPlan
    folder: Path
    catalogue: Catalogue


def ask_papers(wanted: WantedPapers, watch: Watch) -> str:
    """Write them; says how many there are, and what was done to texts that cannot be printed."""
    from planner.app.common.executors import at_hand
    from planner.app.day.standing import standing_times
    from planner.paper.dayfolder import write_day_papers

    with at_hand() as hands:
        standing = standing_times(wanted.plan, wanted.catalogue, hands, watch.on_progress, watch.should_stop)
    paths, remarks = write_day_papers(
        wanted.folder, wanted.plan, wanted.catalogue, time.time(), standing=standing
    )
    return " ".join([say("day.papers_wrote", count=len(paths), folder=str(wanted.folder)), *remarks])


def ask_day(asked: AskedDay, watch: Watch) -> Iterator[Planned]:
    """The board by few variants, then sharper ones."""
    from planner.app.day.later import with_next_days
    from planner.app.day.plan import judge_of, plan_day
    from planner.store.dayfile import resolve_day

    day = resolve_day(asked.draft, asked.catalogue, asked.folder)
    weather = _weather(day, asked.draft, asked)
    plan, judge = None, judge_of(day, weather, asked.catalogue, SEED)
    for plan in plan_day(
        day,
        weather,
        asked.catalogue,
        seed=SEED,
        judge=judge,
        on_progress=watch.on_progress,
        should_stop=watch.should_stop,
    ):
        yield Planned(plan, judge)
    if plan is not None and plan.put_off:
        yield Planned(with_next_days(plan, asked.catalogue, None, watch.should_stop), judge)
