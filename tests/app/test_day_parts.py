"""Small parts of a day: which box may step in, who gets strong ones, when the drive home begins, what is written."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest

from planner.app.answer.records import Span, Tolerance
from planner.app.day import plan as planning
from planner.app.day import seating
from planner.app.day.documents import day_document
from planner.app.day.records import Appointment, DayPlan, PutOff
from planner.app.day.repair import _free, told, with_failed_box, with_fewer_screens, without_box
from planner.app.day.serving.assign import assign
from planner.app.day.serving.judge import asked_of
from planner.app.day.serving.limits import Limits
from planner.app.day.serving.options import options_of
from planner.app.day.standing import drive_home
from planner.app.day.words import closing_list
from planner.app.lane.packing import packings_of
from planner.model.catalogue import Catalogue
from planner.store.dayrecords import Day
from tests.app.lanes import catalogue as lane_catalogue
from tests.app.lanes import queen_parcel, spring
from tests.app.small_day import catalogue, small_day, weather

HOUR_S = 3600.0


def planned(day: Day) -> DayPlan:
    """The first buyer at the first slot with the first box as declared, the second one put off until the day after."""
    slot_s = day.slots.begin_s[0]
    one = Appointment(
        buyer=0,
        slot_s=slot_s,
        boxes=(day.boxes[0].name,),
        setup="as_declared",
        closing="at_handover",
        closed_s=slot_s,
        leave_s=slot_s + 600.0,
        arrive_s=slot_s + 2400.0,
        open_s=slot_s + 4200.0,
        decision="go",
        harm_of_100=Span(0.0, 0.0, 1.0),
        boxes_harmed=Span(0.0, 0.0, 0.01),
        samples=256,
    )
    off = PutOff(1, "do_not_go", "harm", 12.0, slot_s + 24 * HOUR_S, 256)
    return DayPlan(
        day, weather(), Tolerance(10.0, 5.0, "usual"), (one,), (off,), (), 0, 256, 1, True, True, days_ahead=1
    )


def day_with(*ready_h: float) -> Day:
    """A small day whose boxes but the first may go only so many hours after the first slot, the rest being gone."""
    day = small_day()
    first_s = day.slots.begin_s[0]
    free = [
        replace(box, ready_s=first_s + hours * HOUR_S)
        for box, hours in zip(day.boxes[1:], ready_h, strict=False)
    ]
    return replace(day, boxes=(day.boxes[0], *free), buyers=day.buyers[:2])


@pytest.mark.parametrize(("ready_h", "swapped"), [((-1.0, 2.0), 1), ((2.0, -1.0), 2), ((2.0, 0.0), 2)])
def test_only_a_box_that_is_ready_by_then_steps_in(
    ready_h: tuple[float, float], swapped: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planner.app.day.repair.CLOSE_SAMPLES", 16)
    day = day_with(*ready_h)
    before = replace(planned(day), tolerance=Tolerance(100.0, 100.0, "usual"))
    judge = planning.judge_of(day, weather(), catalogue())
    after = without_box(judge, before, day.boxes[0].name)
    assert after.appointments[0].boxes == (day.boxes[swapped].name,)
    assert with_failed_box(told(before), day.boxes[0].name).boxes[0].check == "failed"


def test_a_box_that_is_ready_only_after_the_others_are_shut_does_not_step_in() -> None:
    """Ready an hour before the slot, when those of the evening before have been shut for long."""
    day = day_with(-1.0, -12.0)
    plan = planned(day)
    evening = replace(plan.appointments[0], closed_s=plan.appointments[0].slot_s - 10 * HOUR_S)
    judge = planning.judge_of(day, weather(), catalogue())
    assert _free(judge, plan, day, evening, day.boxes[0]) == [day.boxes[2].name]


def test_a_box_promised_to_somebody_does_not_step_in() -> None:
    day = day_with(-12.0, -12.0)
    promised = replace(day.buyers[1], boxes_named=(day.boxes[1].name,))
    day = replace(day, buyers=(day.buyers[0], promised))
    plan = planned(day)
    judge = planning.judge_of(day, weather(), catalogue())
    assert _free(judge, plan, day, plan.appointments[0], day.boxes[0]) == [day.boxes[2].name]


def test_who_moves_bees_for_the_first_time_stops_once_on_the_drive_home() -> None:
    day = small_day()
    for first_timer in (False, True):
        buyers = (replace(day.buyers[0], first_timer=first_timer), *day.buyers[1:])
        plan = planned(replace(day, buyers=buyers))
        trip, road = drive_home(plan, plan.appointments[0])
        assert len(trip.stops) == int(first_timer)
        assert len(road.waypoint_vertex) == 2 + len(trip.stops)


@pytest.mark.parametrize(("colder_k", "far_gets"), [(0.0, "weak"), (25.0, "strong")])
def test_among_boxes_of_a_kind_the_strong_go_the_short_ways_in_warmth(colder_k: float, far_gets: str) -> None:
    day = small_day()
    near, far = (replace(day.buyers[0], name=name, drive_s=s) for name, s in (("N", 1800.0), ("F", 9000.0)))
    weak, strong = (
        replace(box, name=name, group=replace(box.group, open_brood_frames=brood))
        for box, name, brood in zip(day.boxes[:2], ("weak", "strong"), (0.0, 1.0), strict=True)
    )
    for order in ((near, far), (far, near)):
        two = replace(day, buyers=order, boxes=(weak, strong))
        air = replace(weather(), air_c=weather().air_c - colder_k)
        asked = asked_of(two, air, catalogue())
        assert len(asked.kinds) == 1
        shape = len(asked.rides), 3, asked.slot_s.size, 1, len(asked.setups)
        options = options_of(asked, np.zeros(shape), 16, Tolerance(10.0, 5.0, "usual"))
        found = seating.chosen(asked, options, assign(options.problem))
        got = {two.buyers[choice.buyer].name: choice.boxes[0].name for choice in found}
        assert got == {"F": far_gets, "N": "weak" if far_gets == "strong" else "strong"}


def test_the_drive_home_begins_when_the_boxes_leave() -> None:
    plan = planned(small_day())
    one = plan.appointments[0]
    trip, _ = drive_home(plan, one)
    assert trip.window.first_s == trip.window.last_s == one.leave_s > one.slot_s
    assert [group.closing.at_s for group in trip.groups] == [one.closed_s]


def test_days_are_written_as_dates_and_instants_in_utc() -> None:
    plan = planned(small_day())
    document = day_document(plan)
    assert document["put_off"][0]["next_day"] == "2027-06-20"
    slot = datetime.strptime(document["appointments"][0]["slot"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    assert slot.timestamp() == plan.appointments[0].slot_s


def test_a_fifth_fewer_bees_are_fewer_by_weight_too() -> None:
    known: Catalogue = lane_catalogue()
    for lane in (spring(), queen_parcel(spring().origin, 6)):
        group = lane.group
        (fewer,) = packings_of(("fewer_bees",), group, known.box_types[group.box_type])
        made = fewer.change(group, known.box_types[group.box_type])
        for name in ("frames_of_bees", "bees_kg"):
            assert getattr(made, name) == pytest.approx(0.8 * getattr(group, name), nan_ok=True)


def test_what_few_samples_show_to_be_too_much_is_not_tried_in_the_others(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    judge = planning.judge_of(small_day(), weather(), catalogue())
    tried: list[tuple[slice, int]] = []
    monkeypatch.setattr(judge, "fill", lambda rows, wanted, *_: tried.append((rows, int(wanted.sum()))))
    bearable = np.zeros(judge.table.harm.shape[:-1], dtype=bool)
    wanted = np.argwhere(planning.wanted_cells(judge.asked))
    bearable[tuple(wanted[3])] = True
    monkeypatch.setattr(judge, "open", lambda *_: bearable)
    planning.narrowed(judge, None, Tolerance(10.0, 5.0, "usual"))
    first = planning.FIRST_SAMPLES
    assert tried == [(slice(0, first), len(wanted)), (slice(first, judge.table.samples), 1)]


def test_many_boxes_take_the_hands_of_the_slots_behind_too() -> None:
    """Five boxes where two are handed over in a slot: two, two and one, unless the slots end before."""
    day = small_day(hands={"people": 1})
    asked = asked_of(day, weather(), catalogue())
    limits = Limits(asked)
    assert limits.a_slot == 2
    slot, need = np.array([0, 1]), np.array([5, 1])
    names = [each.name for each in asked.setups]
    uses = limits.uses(slot, need, np.array([2, 2]), names, np.array([0, 0])).toarray()
    assert uses[: asked.slot_s.size, 0].tolist() == [2.0, 2.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    assert uses[: asked.slot_s.size, 1].tolist() == [0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    assert limits.can_be_handed(5).tolist() == [True] * 6 + [False, True]


def test_no_more_roof_screens_tear_than_there_are() -> None:
    day = small_day()
    assert with_fewer_screens(day, 1).stock.roof_screens == day.stock.roof_screens - 1
    assert with_fewer_screens(day, day.stock.roof_screens + 5).stock.roof_screens == 0


def test_boxes_are_shut_so_many_at_a_time_as_there_are_hands_the_last_by_the_hour() -> None:
    day = small_day(hands={"people": 2, "closing_minutes": 4})
    plan = planned(day)
    closed_s = plan.appointments[0].slot_s - 10 * HOUR_S
    names = tuple(box.name for box in day.boxes[:5])
    evening = replace(plan.appointments[0], boxes=names, closing="evening_before", closed_s=closed_s)
    rows = closing_list(replace(plan, appointments=(evening,)))
    assert [(closed_s - at_s) / 60.0 for at_s, _, _ in rows] == [12.0, 8.0, 8.0, 4.0, 4.0]
    assert [box for _, _, box in rows] == list(names)
