"""Collection days as producers write them, whose answer anybody who knows bees can give: each asked of the program."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from planner.app.day.inputs import weather_of_day
from planner.app.day.plan import plan_day
from planner.app.day.records import DayPlan
from planner.app.day.words import day_words
from planner.errors import InputError
from planner.store.dayfile import resolve_day
from tests.app.small_day import catalogue

Yard = tuple[str, float, float, str]
MOOS: Yard = ("Moos", 48.3, 11.4, "Europe/Berlin")
SEVILLE: Yard = ("Sevilla", 37.4, -6.0, "Europe/Madrid")
KENT: Yard = ("Kent", 51.2, 0.6, "Europe/London")
LYON: Yard = ("Lyon", 45.7, 4.8, "Europe/Paris")
TARTU: Yard = ("Tartu", 58.4, 26.7, "Europe/Tallinn")
WACO: Yard = ("Waco", 31.5, -97.1, "America/Chicago")
NELSON: Yard = ("Nelson", -41.3, 173.2, "Pacific/Auckland")
MAY = ("2027-05-10", 9.0, 17.0)


def buyer(name: str, minutes: float, vehicle: str = "car", **more: Any) -> dict[str, Any]:
    return {"name": name, "drive_minutes": minutes, "vehicle": vehicle, **more}


FEW = [
    buyer("Ann", 20),
    buyer("Ben", 30, "estate"),
    buyer("Cat", 45, "van", boxes=2),
    buyer("Dan", 60, "trailer"),
]


def draft(
    yard: Yard, sky: tuple[str, float, float], spans: list[str], buyers: list[dict[str, Any]], **more: Any
) -> dict[str, Any]:
    """A day file; ``sky`` the date, the lowest and the highest air, alike on the days before and after."""
    name, lat, lon, zone = yard
    day, low_c, high_c = sky
    around = [date.fromisoformat(day) + timedelta(days=days) for days in (-1, 0, 1)]
    of_day = {
        "place": name,
        "dawn_low_c": low_c,
        "afternoon_high_c": high_c,
        "dew_point_c": min(low_c - 1.0, 12.0),
        "sky": "clear",
        "wind_ms": 2.0,
    }
    made: dict[str, Any] = {
        "version": 1,
        "title": name,
        "invented": True,
        "date": day,
        "yard": {"name": name, "lat": lat, "lon": lon, "zone": zone},
        "slots": {"spans": spans, "minutes": 30, "loading_minutes": 10, "opening_minutes": 30},
        "hands": {"people": 2, "minutes_per_box": 15, "closing_minutes": 4, "dawn_minutes": 45},
        "shade": {"bays": 6},
        "stock": {"roof_screens": 4},
        "setups": ["as_declared", "roof_screen"],
        "closings": ["before_first_flight", "at_handover"],
        "box": {
            "box_type": "langstroth_nuc5_pine",
            "frames_of_bees": 4.5,
            "open_brood_frames": 1,
            "sealed_brood_frames": 1.5,
            "stores_frames": 1,
            "floor_blocked_share": 0.05,
            "entrance": "mesh",
            "comb": "old",
        },
        "weather": {"source": "own", "own": [{**of_day, "date": each.isoformat()} for each in around]},
        "buyers": buyers,
        "boxes": [{"id": f"B{number:02d}"} for number in range(1, 9)],
    }
    for key, value in more.items():
        made[key] = {**made[key], **value} if isinstance(value, dict) else value
    return made


def planned(**more: Any) -> DayPlan:
    day = resolve_day(draft(**more), catalogue())
    *_, last = plan_day(day, weather_of_day(day), catalogue())
    return last


def clock(plan: DayPlan, name: str) -> str:
    """When somebody comes, by the clock of the yard, as it is written."""
    _, ((_, lines), *_) = day_words(plan)
    (line,) = [line for line in lines if f"{name}: " in line]
    return line.split()[0]


def short(plan: DayPlan) -> set[str]:
    return {one.sort for one in plan.short}


def all_as_declared(plan: DayPlan) -> bool:
    return not plan.put_off and all(one.setup == "as_declared" for one in plan.appointments)


def test_on_a_cool_spring_day_everybody_takes_boxes_as_they_are() -> None:
    plan = planned(
        yard=MOOS,
        sky=("2027-04-20", 5.0, 14.0),
        spans=["07:00-11:00"],
        buyers=FEW,
        box={"frames_of_bees": 3.5},
    )
    assert all_as_declared(plan)
    assert plan.exact


def test_on_a_frosty_morning_nobody_gets_more_air() -> None:
    assert all_as_declared(
        planned(yard=TARTU, sky=("2027-04-05", -7.0, 4.0), spans=["08:00-12:00"], buyers=FEW)
    )


def test_in_the_afternoon_of_a_heat_wave_nobody_comes() -> None:
    """Two hours and more in shut vehicles at 42 C."""
    far = [buyer("Ann", 120, "van"), buyer("Ben", 120, "van"), buyer("Cat", 150)]
    plan = planned(yard=SEVILLE, sky=("2027-07-15", 25.0, 42.0), spans=["13:00-17:00"], buyers=far)
    assert [one.why for one in plan.put_off] == ["harm"] * 3
    assert not plan.short


def test_at_dawn_of_a_heat_wave_short_ways_in_cooled_cars_are_safe() -> None:
    near = [buyer("Ann", 20, cooling=True), buyer("Ben", 20, cooling=True)]
    plan = planned(yard=SEVILLE, sky=("2027-07-15", 20.0, 42.0), spans=["06:00-08:00"], buyers=near)
    assert not plan.put_off


def some(count: int) -> list[dict[str, Any]]:
    return [buyer(f"P{number}", 20) for number in range(count)]


def test_one_pair_of_hands_serves_four_in_an_hour() -> None:
    plan = planned(
        yard=KENT, sky=MAY, spans=["07:00-08:00"], buyers=some(6), hands={"people": 1}, slots={"minutes": 15}
    )
    assert len(plan.appointments) == 4
    assert [one.why for one in plan.put_off] == ["short"] * 2
    assert (short(plan), plan.short_serves) == ({"hands"}, 2)


def test_two_straps_a_box() -> None:
    plan = planned(yard=KENT, sky=MAY, spans=["07:00-11:00"], buyers=some(4), stock={"straps": 5})
    assert len(plan.appointments) == 2
    assert (short(plan), sum(one.amount for one in plan.short)) == ({"straps"}, 2.0)


def test_boxes_that_failed_go_to_nobody() -> None:
    boxes = [{"id": f"B{number}", "check": "failed" if number < 3 else "ok"} for number in range(1, 6)]
    plan = planned(yard=KENT, sky=MAY, spans=["07:00-11:00"], buyers=some(5), boxes=boxes)
    assert {name for one in plan.appointments for name in one.boxes} == {"B3", "B4", "B5"}
    assert len(plan.put_off) == 2
    assert "boxes" in short(plan)


def test_whoever_can_come_late_only_comes_late() -> None:
    two = [buyer("Ann", 30), buyer("Late", 40, times="21:00-22:00")]
    plan = planned(
        yard=LYON, sky=("2027-06-10", 15.0, 26.0), spans=["06:00-09:00", "19:00-22:00"], buyers=two
    )
    assert not plan.put_off
    assert clock(plan, "Late") in ("21:00", "21:30")


def test_hours_are_those_of_the_yard() -> None:
    plan = planned(yard=WACO, sky=("2027-04-24", 14.0, 25.0), spans=["06:30-09:30"], buyers=FEW)
    assert not plan.put_off
    assert all("06:30" <= clock(plan, row["name"]) < "09:30" for row in FEW)


def test_in_a_southern_january_boxes_are_shut_before_the_sun_is_up() -> None:
    plan = planned(
        yard=NELSON,
        sky=("2027-01-16", 13.0, 22.0),
        spans=["06:30-09:30"],
        buyers=FEW,
        closings=["before_first_flight"],
    )
    assert not plan.put_off
    assert {one.closing for one in plan.appointments} == {"before_first_flight"}
    hours = {(one.closed_s / 3600.0 + 13.0) % 24.0 for one in plan.appointments}
    assert max(hours) < 6.3, "sunrise there and then is at about 06:15"
    assert all(one.bays for one in plan.appointments), "boxes that stand shut stand in shade"


def test_a_promised_box_goes_to_whom_it_was_promised() -> None:
    two = [buyer("Ann", 20), buyer("Ben", 20, box="B07")]
    plan = planned(yard=KENT, sky=MAY, spans=["07:00-11:00"], buyers=two)
    got = {two[one.buyer]["name"]: one.boxes for one in plan.appointments}
    assert got["Ben"] == ("B07",)
    assert "B07" not in got["Ann"]


def test_a_screen_that_was_promised_and_is_torn_is_told_before_anything_is_planned() -> None:
    two = [buyer("Ann", 20, setup="roof_screen"), buyer("Ben", 20)]
    with pytest.raises(InputError, match="1 roof screen is promised, the stock is 0"):
        planned(yard=KENT, sky=MAY, spans=["07:00-11:00"], buyers=two, stock={"roof_screens": 0})
