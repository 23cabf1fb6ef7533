"""Parcel lanes as producers write them, whose answer anybody who knows bees and the post can give."""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from typing import Any

from planner.app.lane.inputs import weather_of_lane
from planner.app.lane.plan import lane_answer
from planner.app.lane.records import LaneAnswer
from planner.app.lane.words import lane_words
from planner.store.lanefile import resolve_lane
from tests.app.lanes import catalogue, lane_draft

SPAIN = {
    "origin": {"lat": 37.4, "lon": -6.0, "zone": "Europe/Madrid"},
    "destination": {"lat": 40.4, "lon": -3.7, "zone": "Europe/Madrid"},
    "country": "ES",
    "region": "MD",
}
SOUTH = {
    "origin": {"lat": 33.7, "lon": -84.4, "zone": "America/New_York"},
    "destination": {"lat": 36.2, "lon": -86.8, "zone": "America/Chicago"},
    "country": "US",
    "region": "GA",
    "service": {"transit_days": 2, "saturday": True},
}


def stage(kind: str, *minutes: int) -> dict[str, Any]:
    return {"kind": kind, "minutes": list(minutes)}


NIGHT = [
    stage("collection", 45, 90, 180),
    stage("depot", 60, 150, 300),
    stage("trunk", 420, 480, 600),
    stage("depot", 60, 120, 240),
]
QUICK = [*NIGHT, stage("delivery", 15, 30, 60)]
SLOW = [*NIGHT, stage("delivery", 180, 360, 540), stage("doorstep", 240, 360, 480)]


def asked(week: str, low_c: float, high_c: float, samples: int = 96, **more: Any) -> LaneAnswer:
    """The bundled lane in other air and another week, with some sections changed."""
    draft = lane_draft()
    for side, name in (("origin", "Here"), ("destination", "There")):
        draft[side]["name"] = name
    if "country" in more:
        draft.pop("region")
    for key, value in more.items():
        draft[key] = {**draft[key], **value} if isinstance(value, dict) else value
    monday = date.fromisoformat(week)
    sky = {
        "dawn_low_c": low_c,
        "afternoon_high_c": high_c,
        "dew_point_c": min(low_c - 2.0, 14.0),
        "sky": "clear",
        "wind_ms": 2.0,
    }
    days = [(monday + timedelta(days=number)).isoformat() for number in range(-1, 14)]
    own = [{"place": place, "date": day, **sky} for place in ("Here", "There") for day in days]
    draft |= {"week": week, "weather": {"source": "own", "own": own}}
    lane = resolve_lane(draft, catalogue())
    return lane_answer(lane, weather_of_lane(lane), catalogue(), samples=samples)


@cache
def cool_april() -> LaneAnswer:
    return asked("2027-04-19", 4.0, 13.0)


def harm(answer: LaneAnswer) -> float:
    assert answer.best is not None
    assert answer.best.harm_of_100 is not None
    return answer.best.harm_of_100.value


def driven_by(answer: LaneAnswer) -> str:
    titles = {name: place.title for name, place in catalogue().loading_places.items()}
    _, sections = lane_words(answer, titles)
    return " ".join(dict(sections)["What drives it"])


def test_small_nuclei_travel_a_cool_night() -> None:
    answer = cool_april()
    assert answer.decision in ("go", "go_if")
    assert harm(answer) < 10.0


def test_whoever_has_not_asked_the_carrier_gets_no_go() -> None:
    assert asked("2027-04-19", 4.0, 13.0, carrier={"accepts_live_bees": False}).decision == "cannot_tell"


def test_no_nucleus_is_posted_through_a_spanish_july() -> None:
    answer = asked("2027-07-12", 26.0, 42.0, **SPAIN)
    assert answer.decision == "do_not_go"
    assert "Most harm is heat" in driven_by(answer)


def test_a_handful_of_bees_dies_of_the_cold_in_a_frosty_week() -> None:
    """Not of heat, which the page would then advise to remedy by a cooler week."""
    answer = asked(
        "2027-01-18", -18.0, -8.0, country="PL", box={"frames_of_bees": 1.0, "open_brood_frames": 1.0}
    )
    assert answer.decision == "do_not_go"
    assert answer.cold_share > 0.9
    assert "Most harm is cold" in driven_by(answer)


def test_over_ascension_day_parcels_are_posted_before_or_after() -> None:
    answer = asked("2027-05-03", 5.0, 15.0)
    assert answer.best is not None
    assert not answer.best.posting.crosses
    assert date(2027, 5, 6) not in {way.posting.day for way in answer.ways}


def test_nobody_posts_on_the_monday_that_stands_in_for_the_fourth_of_july() -> None:
    answer = asked("2027-07-05", 18.0, 33.0, **SOUTH)
    assert date(2027, 7, 5) not in {way.posting.day for way in answer.ways}


def test_a_long_van_and_a_sunny_doorstep_do_more_harm_than_a_short_way() -> None:
    quick, slow = (
        asked("2027-06-14", 14.0, 32.0, setups=["as_declared"], stages=way) for way in (QUICK, SLOW)
    )
    assert harm(slow) > harm(quick)
    assert slow.hours[1] > quick.hours[1] + 9.0
