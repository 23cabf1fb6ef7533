"""The board of a day as a picture: hours across, buyers down, waiting and driving as bars, colour by chance of harm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from planner.app.answer.records import CLASSES
from planner.app.common.chart import Axis, Chart, Column, Key, Mark, Rule, Stretch, Tick, Tile, hour_ticks
from planner.app.common.scale import CLASS_STEPS
from planner.app.common.svg import chart_svg
from planner.app.common.wording import span_words
from planner.app.day.records import DayPlan
from planner.app.day.words import setup_words
from planner.store.rules import answer_rules
from planner.units import whole
from planner.words import Moment, duration, say, text

ROW_PX, HEAD_PX = 18.0, 150.0
BAR = 0.38
MOST_AIR_STEPS = 48
COLUMNS_ROOM = 0.06
"""What part of the hours half the name of one may take, before it runs into the head of a column."""


def board_svg(plan: DayPlan) -> str:
    """The board on paper, as high as it has buyers."""
    rows = len(plan.appointments) + len(plan.put_off)
    return chart_svg(board_chart(plan), 1100.0, HEAD_PX + ROW_PX * max(rows, 4))


def board_chart(plan: DayPlan) -> Chart:
    """One row a buyer in the order of slots, those put off at the foot; the strip below is the air at the yard."""
    rows = len(plan.appointments) + len(plan.put_off)
    first, last = _span(plan)
    zone = plan.day.yard.zone
    buyers = [*(a.buyer for a in plan.appointments), *(p.buyer for p in plan.put_off)]
    names = [plan.day.buyers[number].name for number in buyers]
    return Chart(
        title=say("day.board_title", title=plan.day.title),
        x=Axis(first, last, (_hours(first, last, zone),), grid=True, on_top=True),
        y=Axis(
            float(max(rows, 1)), 0.0, (tuple(Tick(row + 0.5, name[:26]) for row, name in enumerate(names)),)
        ),
        marks=tuple(_marks(plan)),
        below=tuple(_air(plan, first, last)),
        columns=_columns(plan),
        legend=tuple(_legend()),
    )


def _hours(first: float, last: float, zone: str) -> tuple[Tick, ...]:
    """Full hours; the last one, too near the columns, keeps its line and loses its name."""
    room = COLUMNS_ROOM * (last - first)
    return tuple(
        tick if tick.at <= last - room else replace(tick, text="") for tick in hour_ticks(first, last, zone)
    )


def _span(plan: DayPlan) -> tuple[float, float]:
    """From the first box shut this day, or the first slot, to the last one opened."""
    begins = plan.day.slots.begin_s
    first, last = begins[0], begins[-1] + plan.day.slots.lasts_s
    for one in plan.appointments:
        first = min(first, max(one.closed_s, begins[0] - 2 * 3600.0))
        last = max(last, one.open_s)
    return first, last


def _marks(plan: DayPlan) -> Iterator[Mark]:
    first, _ = _span(plan)
    for row, one in enumerate(plan.appointments):
        low, high = row + 0.5 - BAR, row + 0.5 + BAR
        if one.closed_s < one.slot_s:
            yield Tile(max(one.closed_s, first), one.slot_s, row + 0.42, row + 0.58, "unknown", 0.8)
        fill = CLASS_STEPS[_class(one.harm_of_100.value)]
        yield Tile(one.slot_s, one.leave_s, low, high, "ink_faint")
        yield Tile(one.leave_s, one.open_s, low, high, fill, hatched=not plan.finished)
    for row in range(len(plan.appointments), len(plan.appointments) + len(plan.put_off)):
        yield Tile(*_span(plan), row + 0.35, row + 0.65, "unknown", 0.35, hatched=True)
    if plan.appointments and plan.put_off:
        yield Rule(float(len(plan.appointments)), "y", "ink_faint", dash="4 3", text=say("day.board_put_off"))


def _class(harm_of_100: float) -> int:
    names: tuple[str, ...] = CLASSES
    return names.index(answer_rules().class_of(harm_of_100))


def _columns(plan: DayPlan) -> tuple[Column, ...]:
    """Harm in figures, the drive, the set-up: colour never tells alone."""
    rows = list(enumerate(plan.appointments))
    harm = [Tick(row + 0.5, str(whole(one.harm_of_100.value))) for row, one in rows]
    drive = [Tick(row + 0.5, text(duration(one.arrive_s - one.leave_s))) for row, one in rows]
    setup = [Tick(row + 0.5, setup_words(one.setup)) for row, one in rows if one.setup != "as_declared"]
    least = [
        Tick(len(rows) + row + 0.5, "" if one.least_of_100 is None else str(whole(one.least_of_100)))
        for row, one in enumerate(plan.put_off)
    ]
    columns = (
        Column(say("day.board_harm"), (*harm, *least)),
        Column(say("day.board_drive"), tuple(drive)),
        Column(say("day.board_setup"), tuple(setup)),
    )
    return tuple(column for column in columns if column.cells)


def _air(plan: DayPlan, first: float, last: float) -> Iterator[Stretch]:
    """The air at the yard, its warmest hour the deepest."""
    weather = plan.weather
    at = np.linspace(first, last, MOST_AIR_STEPS + 1)
    air = np.interp(0.5 * (at[1:] + at[:-1]), weather.time_s, weather.air_c[:, 0], np.nan, np.nan)
    known = air[~np.isnan(air)]
    if not known.size:
        return
    low, high = float(known.min()), float(known.max())
    for left, right, value in zip(at[:-1], at[1:], air, strict=True):
        if not np.isnan(value):
            share = (value - low) / max(high - low, 1.0)
            yield Stretch(float(left), float(right), "caution", 0.15 + 0.85 * float(share))


def _legend() -> Iterator[Key]:
    yield Key(say("day.board_key_waits"), "unknown")
    before = 0
    for step, (name, last) in enumerate(answer_rules().classes):
        yield Key(say("day.board_class", name=name, first=before, last=round(last)), CLASS_STEPS[step])
        before = round(last) + 1


def table_of(plan: DayPlan) -> list[list[str]]:
    """The board as rows of words, for who reads it without eyes."""
    zone = plan.day.yard.zone
    return [
        [
            text(Moment(one.slot_s, zone, "clock")),
            plan.day.buyers[one.buyer].name,
            ", ".join(one.boxes),
            setup_words(one.setup),
            text(Moment(one.closed_s, zone, "day_clock")),
            "{harm} ({low}-{high})".format(
                **span_words(one.harm_of_100.low, one.harm_of_100.value, one.harm_of_100.high)
            ),
            text(duration(one.arrive_s - one.leave_s)),
        ]
        for one in plan.appointments
    ]
