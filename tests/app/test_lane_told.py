"""What is told of a lane whose answer is made by hand, and where a parcel that is late waits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import numpy as np
import pytest

from planner.app.answer.records import Span
from planner.app.common.chart import Tile
from planner.app.lane.calendar import Posting
from planner.app.lane.journeys import _waits_in, drawn
from planner.app.lane.packing import FEWER, FEWER_SHARE
from planner.app.lane.pictures import week_chart
from planner.app.lane.plan import _questions, rank
from planner.app.lane.records import Way
from planner.app.lane.words import arrives, its_stage_words, lane_words
from planner.model.preparations import AS_DECLARED, SetUp
from planner.store.lanerecords import LaneStage
from planner.store.lanerules import lane_rules
from tests.app.lanes import LITTLE, answered, catalogue, spring

HOUR_S = 3600.0


def on(day: date, extra: int = 0, harm: Span | None = LITTLE) -> Way:
    at = Posting(day, day + timedelta(days=1 + extra), day + timedelta(days=2 + extra), extra, extra)
    return Way(at, "roof_screen", harm, "within" if harm else "unknown", 400)


MONDAY = date(2027, 4, 19)


def test_of_two_depots_it_is_said_which() -> None:
    answer = answered(on(MONDAY))
    first, second = (n for n, stage in enumerate(answer.lane.stages) if stage.kind == "depot")
    assert "1 of 2" in its_stage_words(answer, first)
    assert "2 of 2" in its_stage_words(answer, second)


def test_nights_of_a_weekend_are_part_of_the_way() -> None:
    usual, over = (arrives(answered(on(MONDAY, extra=extra))) for extra in (0, 2))
    assert usual is not None
    assert over is not None
    assert over - usual == timedelta(days=2)


@pytest.mark.parametrize(("more_s", "told"), [(0.0, False), (60.0, True)])
def test_a_van_that_is_out_longer_than_bees_bear_is_told(more_s: float, told: bool) -> None:
    longest_s = HOUR_S * lane_rules().delivery_hours + more_s
    stages = tuple(
        replace(stage, lasts_s=(600.0, 1200.0, longest_s if stage.kind == "delivery" else 1800.0))
        for stage in spring().stages
    )
    _, sections = lane_words(answered(on(MONDAY), lane=replace(spring(), stages=stages)), {})
    said = " ".join(line for _, lines in sections for line in lines)
    assert ("van may be out" in said) is told


@pytest.mark.parametrize(
    ("kinds", "waits_in"),
    [
        (("collection", "depot", "trunk", "depot", "delivery"), 3),
        (("collection", "depot", "trunk", "delivery"), 1),
        (("wait", "collection", "trunk", "delivery"), 3),
        (("wait", "collection", "trunk"), 1),
        (("trunk",), 0),
    ],
)
def test_a_late_parcel_waits_in_the_last_depot_or_beside_the_trunk(
    kinds: tuple[str, ...], waits_in: int
) -> None:
    stages = tuple(LaneStage(kind, (1.0, 2.0, 3.0), (("depot", 1.0),)) for kind in kinds)  # type: ignore[arg-type]
    assert _waits_in(replace(spring(), stages=stages), kinds.index("trunk")) == waits_in


def test_stages_last_from_the_least_to_the_most_and_half_of_them_less_than_usual() -> None:
    lane = replace(spring(), stages=(LaneStage("trunk", (600.0, 1200.0, 7200.0), (("hall", 1.0),)),))
    lasts_s = drawn(lane, 256, np.random.default_rng(1)).lasts_s[:, 0]
    assert 600.0 <= lasts_s.min() < 650.0
    assert 7000.0 < lasts_s.max() <= 7200.0
    assert np.median(lasts_s) == pytest.approx(1200.0, abs=60.0)


def test_of_a_package_a_fifth_of_the_weight_is_left_at_home() -> None:
    package = replace(spring().group, frames_of_bees=float("nan"), bees_kg=1.5)
    packed = FEWER.change(package, catalogue().box_types[package.box_type])
    assert packed.bees_kg == pytest.approx(FEWER_SHARE * 1.5)


def test_the_week_is_drawn_in_the_order_of_its_days() -> None:
    tuesday, wednesday = (MONDAY + timedelta(days=n) for n in (1, 2))
    worse, unknown = on(MONDAY, harm=Span(30.0, 40.0, 52.0)), on(wednesday, harm=None)
    chart = week_chart(answered(on(tuesday), worse, unknown, replace(on(tuesday), setup="as_declared")))
    assert [(day.text, day.strong) for day in chart.x.rows[0]] == [
        ("Monday", False),
        ("Tuesday", True),
        ("Wednesday", False),
    ]
    assert [harm.text for harm in chart.x.rows[1]] == ["40", "2", "not known"]
    bars = [mark for mark in chart.marks if isinstance(mark, Tile)]
    assert [bar.hatched for bar in bars] == [False, False, True]
    assert bars[0].high == 40.0
    assert bars[1].high == 1.5
    assert bars[0].fill != bars[1].fill
    assert chart.y.high >= 52.0


def test_much_less_harm_goes_before_less_work_and_a_little_does_not() -> None:
    posted = Posting(MONDAY, MONDAY + timedelta(days=1), MONDAY + timedelta(days=2), 0, 0)

    def ranked(harm: float, setup: SetUp) -> tuple[float, ...]:
        return rank(posted, on(MONDAY, harm=Span(harm, harm, harm)), setup)

    assert ranked(3.0, FEWER) < ranked(9.0, AS_DECLARED)
    assert ranked(4.2, AS_DECLARED) < ranked(3.8, FEWER)


@pytest.mark.parametrize(
    ("weight", "harmed_there", "harmed_elsewhere", "asked"),
    [
        (0.5, 60, 10, True),  # 120 of 200 and 20 of 200: apart whatever the samples
        (0.5, 12, 10, False),  # by chance
        (0.5, 2, 1, False),  # of so few a difference says nothing
        (0.01, 60, 10, False),  # a place where hardly any parcel is
        (0.99, 60, 10, False),
    ],
)
def test_a_place_is_asked_about_where_parcels_fare_otherwise_in_it(
    weight: float, harmed_there: int, harmed_elsewhere: int, asked: bool
) -> None:
    """Two hundred journeys through a place and two hundred past it; harmed so many of a hundred."""
    stage = LaneStage("depot", (1.0, 2.0, 3.0), (("hall", weight), ("yard", 1.0 - weight)))
    place = np.repeat([0, 1], 200)[:, None]
    harmed = np.zeros((400, 1), dtype=bool)
    harmed[: 2 * harmed_there] = harmed[200 : 200 + 2 * harmed_elsewhere] = True
    judge = SimpleNamespace(lane=SimpleNamespace(stages=(stage,)), journeys=SimpleNamespace(place=place))
    outcome = SimpleNamespace(harmed=harmed)
    found = list(_questions(judge, outcome, 0))  # type: ignore[arg-type]
    assert ([one.place for one in found] == ["hall"]) is asked
    assert len(found) == asked
