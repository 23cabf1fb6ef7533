"""Who is put off is told a later day only where that day would serve him as the day itself must."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from planner.app.day import later
from planner.app.day import plan as planning
from planner.app.day.records import Appointment, DayPlan, PutOff
from planner.app.day.words import put_off_words
from planner.store.dayrecords import Day
from tests.app.small_day import catalogue, small_day, weather


@pytest.fixture(scope="module")
def planned() -> DayPlan:
    """The small day in few samples."""
    with pytest.MonkeyPatch.context() as patch:
        for name, count in (("TABLE_SAMPLES", 8), ("CLOSE_SAMPLES", 32)):
            patch.setattr(planning, name, count)
        *_, plan = planning.plan_day(small_day(), weather(), catalogue())
    return plan


def put_off(plan: DayPlan, **given: object) -> DayPlan:
    """The plan with its first buyer put off and nobody else."""
    one = PutOff(plan.appointments[0].buyer, "cannot_tell", "unknown", **given)
    return replace(plan, appointments=(), put_off=(one,), days_ahead=None)


def next_day(plan: DayPlan, monkeypatch: pytest.MonkeyPatch, *found: Appointment) -> float | None:
    """What is told where the one day after is planned with those appointments."""
    monkeypatch.setattr(later, "AHEAD_DAYS", 1)
    monkeypatch.setattr(planning, "TABLE_SAMPLES", 8)
    close = partial(replace, plan, appointments=found)
    monkeypatch.setattr(later, "closely_planned", lambda *_, **__: close())
    held = replace(plan, weather=replace(plan.weather, time_s=plan.weather.time_s + later.DAY_S))
    monkeypatch.setattr(later, "judge_of", lambda day, *_: planning.judge_of(day, plan.weather, catalogue()))
    return later.with_next_days(held, catalogue()).put_off[0].next_day_s


def test_who_waits_gets_no_box_that_somebody_has(planned: DayPlan, monkeypatch: pytest.MonkeyPatch) -> None:
    """Boxes that went on the day, or to somebody else on the day after, are gone."""
    first, second, *_ = planned.appointments
    waits = tuple(PutOff(one.buyer, "do_not_go", "short") for one in planned.appointments[1:3])
    given, seen = set(first.boxes), []
    plan = replace(planned, appointments=(first,), put_off=waits, days_ahead=None)
    plan = replace(plan, weather=replace(plan.weather, time_s=plan.weather.time_s + 3 * later.DAY_S))
    monkeypatch.setattr(planning, "TABLE_SAMPLES", 8)
    monkeypatch.setattr(planning.Judge, "fill", lambda *_: None)

    def judge_of(day: Day, *_: object) -> planning.Judge:
        seen.append({box.name for box in day.boxes})
        return planning.judge_of(day, planned.weather, catalogue())

    monkeypatch.setattr(later, "judge_of", judge_of)
    found = iter(((replace(second, buyer=0),), ()))
    monkeypatch.setattr(
        later, "closely_planned", lambda *_, **__: replace(plan, appointments=next(found, ()))
    )
    later.with_next_days(plan, catalogue())
    names = {box.name for box in plan.day.boxes}
    assert seen[0] == names - given
    assert seen[1] == names - given - set(second.boxes)
    everything = replace(first, boxes=tuple(names))
    told = later.with_next_days(replace(plan, appointments=(everything,)), catalogue())
    assert [one.next_day_s for one in told.put_off] == [None, None]
    assert told.days_ahead is None, "no box is left: no day was looked at"


@pytest.mark.parametrize(("decision", "told"), [("go", True), ("go_if", True), ("cannot_tell", False)])
def test_a_later_day_is_safe_only_where_its_own_plan_serves(
    planned: DayPlan, decision: str, told: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(planning.Judge, "fill", lambda *_: None)  # what is judged is another test's
    served = replace(planned.appointments[0], buyer=0, decision=decision)
    assert (next_day(put_off(planned), monkeypatch, served) is not None) == told
    assert next_day(put_off(planned), monkeypatch) is None


def test_want_of_weather_and_want_of_certainty_are_told_apart(planned: DayPlan) -> None:
    missing, unsettled = put_off(planned), put_off(planned, least_of_100=4.3, samples=512)
    assert "weather is missing" in put_off_words(missing, missing.put_off[0])
    said = put_off_words(unsettled, unsettled.put_off[0])
    assert "weather" not in said
    assert "512 variants leave open" in said
