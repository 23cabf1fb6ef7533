"""A collection day planned: who is served, kept within stock and shade, repaired with few moves, said in words."""

from __future__ import annotations

import copy
import json
import math
from collections import Counter
from collections.abc import Collection
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from planner.app.answer.records import Tolerance
from planner.app.day import mending, repair, seating
from planner.app.day import plan as planning
from planner.app.day.documents import day_document
from planner.app.day.pictures import board_chart, board_svg, table_of
from planner.app.day.records import DayPlan, Short
from planner.app.day.repair import (
    as_told,
    change_words,
    changes,
    repaired,
    told,
    with_failed_box,
    with_fewer_screens,
    with_forecast,
    with_late_buyer,
    without_box,
)
from planner.app.day.serving.chosen import Choice
from planner.app.day.serving.judge import Judge, asked_of, knots_of
from planner.app.day.serving.kinds import kinds_of, strength
from planner.app.day.serving.limits import Limits
from planner.app.day.serving.options import _may_be_good, options_of
from planner.app.day.words import closing_list, day_words, short_words
from planner.errors import InputError
from planner.store.dayrecords import CLOSINGS, Day
from planner.store.daytold import load_told
from tests.app.small_day import catalogue, small_day, weather


@pytest.fixture(scope="module")
def planned() -> tuple[Judge, list[DayPlan]]:
    """The small day in few samples: what judged it, and every plan from the first board to the last."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(planning, "TABLE_SAMPLES", 16)
        patch.setattr(planning, "CLOSE_SAMPLES", 64)
        day = small_day()
        judge = planning.judge_of(day, weather(), catalogue())
        return judge, list(planning.plan_day(day, weather(), catalogue(), judge=judge))


def last(planned: tuple[Judge, list[DayPlan]]) -> DayPlan:
    return planned[1][-1]


def test_a_first_board_comes_before_the_last_one(planned: tuple[Judge, list[DayPlan]]) -> None:
    assert [(plan.samples, plan.finished) for plan in planned[1]] == [(8, False), (16, False), (64, True)]


def test_what_few_samples_leave_open_is_tried_in_all(planned: tuple[Judge, list[DayPlan]]) -> None:
    judge = planned[0]
    assert judge.table.samples == 16
    assert judge.tried(16).any()
    assert (judge.tried(16) >= (judge.tried(8) & judge.open(8, last(planned).tolerance))).all()


def test_an_option_is_offered_by_the_stricter_of_both_tolerances() -> None:
    tolerance = Tolerance(10.0, 5.0, "usual")
    shares = np.array([0.0, 0.04, 0.08, 0.2, np.nan])
    assert _may_be_good(shares, 1024, tolerance).tolist() == [True, True, False, False, False]


def check_kept(plan: DayPlan) -> None:
    """Nobody twice, no box twice, all limits of the day kept, times as they suit."""
    day: Day = plan.day
    boxes = [name for one in plan.appointments for name in one.boxes]
    assert max(Counter(boxes).values(), default=0) <= 1
    assert len({one.buyer for one in plan.appointments}) == len(plan.appointments)
    assert len(plan.appointments) + len(plan.put_off) == len(day.buyers)
    in_slot: Counter[float] = Counter()
    for one in plan.appointments:
        buyer = day.buyers[one.buyer]
        assert len(one.boxes) == buyer.boxes
        assert one.slot_s in day.slots.begin_s
        assert not buyer.spans or any(a <= one.slot_s < b for a, b in buyer.spans)
        assert math.isnan(buyer.told_s) or one.slot_s >= buyer.told_s
        assert one.closed_s <= one.slot_s < one.leave_s < one.arrive_s < one.open_s
        in_slot[one.slot_s] += len(one.boxes)
    most = day.hands.boxes_in(day.slots.lasts_s, day.hands.handing_s)
    assert all(count <= max(most, 1) for count in in_slot.values())
    screens = sum(len(one.boxes) for one in plan.appointments if one.setup == "roof_screen")
    assert screens <= day.stock.roof_screens
    assert max((max(one.bays) for one in plan.appointments if one.bays), default=0) <= day.bays


def test_a_plan_keeps_to_what_there_is(planned: tuple[Judge, list[DayPlan]]) -> None:
    for plan in planned[1]:
        check_kept(plan)


def test_everybody_served_is_within_the_tolerance_by_his_own_figures(
    planned: tuple[Judge, list[DayPlan]],
) -> None:
    plan = last(planned)
    for one in plan.appointments:
        assert one.harm_of_100.high <= plan.tolerance.harm_of_100
        assert one.decision == ("go" if one.setup == "as_declared" else "go_if")


def test_who_is_put_off_would_be_harmed_or_something_is_short(planned: tuple[Judge, list[DayPlan]]) -> None:
    plan = last(planned)
    for one in plan.put_off:
        assert one.decision in ("do_not_go", "cannot_tell")
        assert one.why in ("harm", "short", "unknown")


def test_words_picture_and_document_tell_the_same_figures(planned: tuple[Judge, list[DayPlan]]) -> None:
    plan = last(planned)
    head, sections = day_words(plan)
    lines = " ".join(line for _, rows in sections for line in rows)
    document = day_document(plan)
    assert document["sentence"] == head
    chart = board_chart(plan)
    assert len(chart.columns[0].cells) == len(plan.day.buyers)
    assert len(table_of(plan)) == len(plan.appointments)
    svg = board_svg(plan)
    for one, row in zip(plan.appointments, document["appointments"], strict=True):
        name = plan.day.buyers[one.buyer].name
        value = row["harm_of_100"]["value"]
        whole = "fewer than 1" if 0.0 < value < 0.5 else f"{math.floor(value + 0.5)}"
        assert f"harm in {whole} of 100" in lines, "as a plan says it: whole numbers"
        assert name in lines
        assert name in svg


def test_boxes_are_shut_by_the_minute_hands_can(planned: tuple[Judge, list[DayPlan]]) -> None:
    plan = last(planned)
    rows = closing_list(plan)
    at_once = Counter(at for at, _, _ in rows)
    assert all(count <= plan.day.hands.people for count in at_once.values())
    assert all(at < one.closed_s for at, one, _ in rows)


def test_a_failed_box_is_swapped_and_nobody_told_becomes_earlier(
    planned: tuple[Judge, list[DayPlan]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    judge, plans = planned
    before = plans[-1]
    box = before.appointments[0].boxes[0]
    after = repaired(judge, before, with_failed_box(told(before), box))
    check_kept(after)
    assert box not in {name for one in after.appointments for name in one.boxes}
    moved = [one for one, _ in changes(before, after)]
    assert len(moved) <= 1
    assert change_words(before, after, box)[0].startswith(box)


def test_a_failed_box_is_swapped_for_a_free_one_and_nothing_else_changes(
    planned: tuple[Judge, list[DayPlan]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(repair, "CLOSE_SAMPLES", 64)
    judge, before = copy.copy(planned[0]), planned[1][-1]
    first, *others = before.appointments
    after = without_box(judge, before, first.boxes[0])
    check_kept(after)
    now = after.of(first.buyer)
    assert now is not None
    assert now.slot_s == first.slot_s
    assert first.boxes[0] not in now.boxes
    given = {name for one in before.appointments for name in one.boxes}
    assert not (set(now.boxes) - set(first.boxes)) & given, "a box of somebody else's"
    assert [(a.buyer, a.boxes, a.slot_s, a.setup) for a in after.appointments if a.buyer != first.buyer] == [
        (a.buyer, a.boxes, a.slot_s, a.setup) for a in others
    ]
    assert change_words(before, after, first.boxes[0]) == (
        f"{first.boxes[0]} failed: swap with {next(iter(set(now.boxes) - set(first.boxes)))}",
    )


def test_whoever_gets_another_box_is_named(planned: tuple[Judge, list[DayPlan]]) -> None:
    before = planned[1][-1]
    one, two, *rest = before.appointments
    traded = (replace(one, boxes=two.boxes), replace(two, boxes=one.boxes), *rest)
    said = change_words(before, replace(before, appointments=traded))
    assert len(said) == 2
    assert all(" instead of " in line for line in said)
    fewer = change_words(before, replace(before, appointments=(one, *rest)))
    assert fewer == (f"{before.day.buyers[two.buyer].name}: put off",)


def test_a_late_buyer_moves_himself_and_hardly_anybody_else(
    planned: tuple[Judge, list[DayPlan]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    judge, plans = planned
    before = replace(plans[-1], exact=True)
    late = before.appointments[0]
    after = repaired(judge, before, with_late_buyer(told(before), late.buyer, 3600.0))
    check_kept(after)
    now = after.of(late.buyer)
    assert now is None or now.slot_s >= late.slot_s + 3600.0
    assert not after.exact, "nobody proved that the day as it is now could not be better"
    assert len([one for one, _ in changes(before, after) if one.buyer != late.buyer]) <= 1


# -- what a repair leaves alone ----------------------------------------------------------------------


def what_each_has(plan: DayPlan, but: Collection[int] = ()) -> dict[int, tuple[object, ...]]:
    """Hour, boxes, set-up, bays and figures of everybody served but some."""
    return {
        a.buyer: (a.slot_s, a.boxes, a.setup, a.closing, a.bays, a.harm_of_100)
        for a in plan.appointments
        if a.buyer not in but
    }


def test_whom_an_upset_does_not_touch_keeps_everything(
    planned: tuple[Judge, list[DayPlan]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    judge, before = copy.copy(planned[0]), planned[1][-1]
    alone = 0
    for late in before.appointments:
        after = repaired(judge, before, with_late_buyer(told(before), late.buyer, 1800.0))
        check_kept(after)
        but = {late.buyer}
        mine, theirs = what_each_has(after, but), what_each_has(before, but)
        assert {n: row[0] for n, row in mine.items()} == {n: row[0] for n, row in theirs.items()}
        alone += mine == theirs
    assert alone >= len(before.appointments) - 1, (
        "a box is traded only where somebody would be put off otherwise"
    )


def test_torn_screens_touch_only_as_many_as_there_are_too_few(
    planned: tuple[Judge, list[DayPlan]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    judge, before = copy.copy(planned[0]), planned[1][-1]
    screened = {a.buyer for a in before.appointments if a.setup == "roof_screen"}
    used = sum(len(a.boxes) for a in before.appointments if a.buyer in screened)
    assert used, "the small day is to use screens"
    kept = before.day.stock.roof_screens - (used - 1)
    after = repaired(judge, before, with_fewer_screens(told(before), kept))
    check_kept(after)
    assert what_each_has(after, screened) == what_each_has(before, screened)
    same = repaired(judge, before, with_fewer_screens(told(before), kept - 1))
    assert what_each_has(same) == what_each_has(before), "as many as are used are left"


def test_a_box_that_failed_is_never_offered_again(planned: tuple[Judge, list[DayPlan]]) -> None:
    """Not even where it was the only one of its kind."""
    judge = planned[0]
    kind = judge.asked.kinds[0]
    emptied = kind.without({box.name for box in kind.boxes})
    assert emptied.boxes == ()
    assert emptied.group == kind.group


def test_another_forecast_keeps_whoever_is_still_safe(
    planned: tuple[Judge, list[DayPlan]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    monkeypatch.setattr(planning, "TABLE_SAMPLES", 16)
    before = planned[1][-1]
    cooler = replace(weather(), air_c=weather().air_c - 1.0)
    _, after = with_forecast(before, cooler, catalogue())
    check_kept(after)
    mine, theirs = what_each_has(after), what_each_has(before)
    assert {n: row[:4] for n, row in mine.items()} == {n: row[:4] for n, row in theirs.items()}


@pytest.mark.slow
def test_a_hot_forecast_puts_off_whoever_is_no_longer_safe(
    planned: tuple[Judge, list[DayPlan]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    monkeypatch.setattr(planning, "TABLE_SAMPLES", 16)
    before = planned[1][-1]
    hot = replace(weather(), air_c=weather().air_c + 15.0)
    _, none = with_forecast(before, hot, catalogue())
    check_kept(none)
    assert len(none.appointments) < len(before.appointments)
    assert all(one.harm_of_100.high <= before.tolerance.harm_of_100 for one in none.appointments)


def test_what_was_found_wanting_spares_weaker_boxes(planned: tuple[Judge, list[DayPlan]]) -> None:
    judge = planned[0]
    asked = judge.asked
    share, _ = judge.table.shares(asked, judge.table.samples)
    order = sorted(range(len(asked.kinds)), key=lambda k: strength(asked.kinds[k].group))
    weak, strong = order[0], order[-1]
    ride, handover, slot = asked.ride[0], 2, 0
    told_of = share[ride, handover, slot, :, 0]
    struck = seating.nothing_struck(asked)
    seating.strike(struck, asked, share, Choice(0, slot, handover, 0, (asked.kinds[strong].boxes[0],)))
    assert struck[0, handover, slot, strong, 0]
    if told_of[weak] < told_of[strong] or told_of[strong] <= 0.0:
        assert not struck[0, handover, slot, weak, 0]
    assert not struck[1:].any()
    assert not struck[0, :2].any()


def test_what_fares_no_better_is_struck_out_with_what_was_found_wanting() -> None:
    """As much harm in the table or more, shut and set up alike, for the same buyer; less stays."""
    asked = asked_of(small_day(), weather(), catalogue())
    handover, slots, kinds = 2, asked.slot_s.size, len(asked.kinds)
    share = np.zeros((len(asked.rides), len(CLOSINGS), slots, kinds, len(asked.setups)))
    share[:, :, 1], share[:, :, 2], share[:, :, 3] = 0.08, 0.08, 0.09
    struck = seating.nothing_struck(asked)
    seating.strike(struck, asked, share, Choice(0, 1, handover, 0, (asked.kinds[0].boxes[0],)))
    assert struck[0, handover, 1:4, :, 0].all()
    assert not struck[0, handover, 0].any()
    assert not struck[0, handover, 4:].any()
    assert not struck[..., 1:].any()


def test_boxes_need_room_in_the_vehicle() -> None:
    day = small_day()
    crowd = replace(day.buyers[0], boxes=5)
    with pytest.raises(InputError, match="Ada wants 5 boxes") as raised:
        asked_of(replace(day, buyers=(crowd, *day.buyers[1:])), weather(), catalogue())
    assert raised.value.faults[0].field == "buyers[0].boxes"


# -- how rides and kinds are sorted ------------------------------------------------------------------


def test_buyers_of_like_drives_share_a_ride() -> None:
    asked = asked_of(small_day(), weather(), catalogue())
    assert asked.ride[0] == asked.ride[2] == asked.ride[4]
    assert all(ride.drive_s >= 900.0 for ride in asked.rides)
    for buyer, ride in zip(small_day().buyers, asked.ride, strict=True):
        factor = 1.25 if buyer.first_timer else 1.0
        assert asked.rides[ride].drive_s >= buyer.drive_s * factor


def test_every_slot_lies_between_its_knots() -> None:
    asked = asked_of(small_day(), weather(), catalogue())
    total = asked.weight.sum(axis=2)
    assert set(total.round(9).ravel().tolist()) <= {0.0, 1.0}
    assert (total[-1] == 1.0).all()
    assert knots_of(asked.slot_s, 1800.0).tolist() == [0, 2, 4, 6, 7]


def test_shutting_by_day_leaves_no_bee_behind_where_it_is_too_cold_to_fly() -> None:
    """As in a plan: handing over by day costs nothing then, nor does a box without combs whose bees do not fly home."""
    by_day = asked_of(small_day(), weather(), catalogue())
    cold = asked_of(small_day(), replace(weather(), air_c=0.0 * weather().air_c + 9.9), catalogue())
    mild = asked_of(small_day(), replace(weather(), air_c=0.0 * weather().air_c + 10.1), catalogue())
    handover = CLOSINGS.index("at_handover")
    assert (Limits(cold).closing_h[handover] == 0.0).all()
    assert Limits(mild).closing_h[handover].max() > 0.0
    assert (Limits(mild).closing_h == Limits(by_day).closing_h).all()
    package = replace(mild.kinds[0].group, box_type="package_cage")
    packages = replace(mild, kinds=tuple(replace(kind, like=package) for kind in mild.kinds))
    assert (Limits(packages).closing_h[handover] == 0.0).all()


def test_told_hours_count_when_a_day_is_planned_again(planned: tuple[Judge, list[DayPlan]]) -> None:
    judge, before = copy.copy(planned[0]), last(planned)
    judge.asked = replace(judge.asked, day=told(before))
    share, _ = judge.table.shares(judge.asked, 16)
    options = options_of(judge.asked, share, 16, before.tolerance)
    its = np.array([buyer.told_s for buyer in judge.asked.day.buyers])[options.problem.buyer]
    later = judge.asked.slot_s[options.slot] > its
    assert later.any()
    assert (options.problem.moved[later] > 0).all()
    assert (options.problem.moved[~later] == 0).all()


def test_what_was_told_is_read_back_and_kept(
    planned: tuple[Judge, list[DayPlan]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From the plan's JSON everybody keeps hour, boxes and set-up, and a newcomer finds a place."""
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    monkeypatch.setattr(planning, "TABLE_SAMPLES", 16)
    before = last(planned)
    (tmp_path / "plan.json").write_text(json.dumps(day_document(before)), "utf-8")
    gone, *others = before.appointments
    stay = tuple(b for n, b in enumerate(before.day.buyers) if n != gone.buyer)
    newcomer = replace(before.day.buyers[gone.buyer], name="Newcomer")
    day = replace(before.day, buyers=(*stay, newcomer))
    kept = as_told(day, weather(), load_told(tmp_path / "plan.json"))
    assert {day.buyers[a.buyer].name for a in kept.appointments} == {
        before.day.buyers[a.buyer].name for a in others
    }
    _, after = with_forecast(kept, weather(), catalogue())
    check_kept(after)
    now = {day.buyers[a.buyer].name: (a.slot_s, a.boxes, a.setup, a.closing) for a in after.appointments}
    for one in others:
        assert now[before.day.buyers[one.buyer].name] == (one.slot_s, one.boxes, one.setup, one.closing)
    assert "Newcomer" in now, "there is room for somebody like who went"


def test_a_told_day_with_torn_screens_puts_nobody_off_who_needs_none(
    planned: tuple[Judge, list[DayPlan]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In air that bears boxes as declared whoever was told of a screen comes without one, at the hour he was told."""
    monkeypatch.setattr(mending, "CLOSE_SAMPLES", 64)
    monkeypatch.setattr(planning, "TABLE_SAMPLES", 16)
    before = last(planned)
    assert any(one.setup == "roof_screen" for one in before.appointments), "the small day is to use screens"
    (tmp_path / "plan.json").write_text(json.dumps(day_document(before)), "utf-8")
    none_left = with_fewer_screens(before.day, before.day.stock.roof_screens)
    cool = replace(weather(), air_c=weather().air_c - 8.0)
    bears = Tolerance(harm_of_100=20.0, boxes_of_100=20.0)  # of which 64 variants are sure
    kept = as_told(none_left, cool, load_told(tmp_path / "plan.json"), bears)
    _, after = with_forecast(kept, cool, catalogue())
    check_kept(after)
    assert {one.buyer for one in before.appointments} <= {one.buyer for one in after.appointments}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[1, 2", "no plan of a day"),
        ('{"skepway_day": 1, "appointments": [{"buyer": "Ada"}]}', "appointments"),
        ('{"skepway_plan": 1}', "skepway_day"),
    ],
)
def test_what_is_no_plan_is_refused_in_words(text: str, said: str, tmp_path: Path) -> None:
    (tmp_path / "plan.json").write_text(text, "utf-8")
    with pytest.raises(InputError, match=said):
        load_told(tmp_path / "plan.json")


def test_nobody_is_told_two_hours(planned: tuple[Judge, list[DayPlan]], tmp_path: Path) -> None:
    document = day_document(last(planned))
    document["appointments"].append(document["appointments"][0])
    (tmp_path / "plan.json").write_text(json.dumps(document), "utf-8")
    with pytest.raises(InputError, match="two appointments"):
        load_told(tmp_path / "plan.json")


def test_boxes_promised_by_name_are_kept_apart() -> None:
    day = small_day()
    named = replace(day.buyers[0], boxes_named=(day.boxes[5].name,))
    kinds = kinds_of(day.boxes, (named, *day.buyers[1:]))
    assert [kind.buyer for kind in kinds].count(0) == 1
    assert sum(len(kind.boxes) for kind in kinds) == len(day.boxes)


def test_what_is_short_is_said_once() -> None:
    """One thing is one line; boxes that are short and have to be the right ones are no two shortages."""
    none = DayPlan(small_day(), weather(), Tolerance(10.0, 5.0, "usual"), (), (), (), 0, 8, 1, True, True)
    assert short_words(none) == ()
    hands = replace(none, short=(Short("hands", 1.0, none.day.slots.begin_s[0]),), short_serves=1)
    thing, serves = short_words(hands)
    assert "of hands short" in thing
    assert serves == "With that, 1 more would be served."
    both = replace(none, short=(Short("boxes", 1.0), Short("kind", 1.0)), short_serves=1)
    assert len(short_words(both)) == 2
    assert short_words(both)[0].startswith("1 box short that is weak or strong enough")
    more = (Short("boxes", 3.0), Short("kind", 2.0), Short("screens", 2.0))
    boxes, screens, serves = short_words(replace(none, short=more, short_serves=3))
    assert boxes.startswith("3 boxes short, 2 of them weak or strong enough")
    assert screens == "2 roof screens short"
    assert serves == "With all of that together, 3 more would be served."


def test_a_day_on_which_nobody_collects_or_no_box_may_go_says_so() -> None:
    with pytest.raises(InputError, match="nobody is listed who collects"):
        planning.judge_of(replace(small_day(), buyers=()), weather(), catalogue())
    failed = tuple(replace(box, check="failed") for box in small_day().boxes)
    with pytest.raises(InputError, match="no box may go"):
        planning.judge_of(replace(small_day(), boxes=failed), weather(), catalogue())
