"""Local times: one instant each, and a question where the clocks make two or none."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from planner.errors import Fault, InputError
from planner.store.clocks import day_seconds, instant_s, require_zone


def utc(*parts: int) -> float:
    return datetime(*parts, tzinfo=UTC).timestamp()  # type: ignore[misc,arg-type]


@pytest.mark.parametrize(
    ("text", "zone", "expected"),
    [
        ("2027-01-12T21:30", "Europe/London", utc(2027, 1, 12, 21, 30)),
        ("2027-07-12T21:30", "Europe/London", utc(2027, 7, 12, 20, 30)),
        ("2027-07-12T21:30:15", "Australia/Adelaide", utc(2027, 7, 12, 12, 0, 15)),
        ("2027-07-12T21:30Z", "Australia/Adelaide", utc(2027, 7, 12, 21, 30)),
        ("2027-07-12T21:30-07:00", "Europe/London", utc(2027, 7, 13, 4, 30)),
        ("2027-07-12", "UTC", utc(2027, 7, 12)),
        ("2027-03-28T00:59", "Europe/London", utc(2027, 3, 28, 0, 59)),
        ("2027-03-28T02:00", "Europe/London", utc(2027, 3, 28, 1)),
        ("2027-10-31T00:59", "Europe/London", utc(2027, 10, 30, 23, 59)),
        ("2027-10-31T02:00", "Europe/London", utc(2027, 10, 31, 2)),
    ],
)
def test_a_local_time_is_one_instant(text: str, zone: str, expected: float) -> None:
    assert instant_s(text, zone, "window.from") == expected


@pytest.mark.parametrize(
    ("text", "problem", "remedy"),
    [
        (
            "2027-03-28T01:00",
            "the clocks of Europe/London skip this time that night",
            "Give the offset: 2027-03-28T01:00+00:00 or 2027-03-28T01:00+01:00",
        ),
        (
            "2027-10-31T01:00",
            "this time comes twice in Europe/London that night",
            "Give the offset: 2027-10-31T01:00+01:00 or 2027-10-31T01:00+00:00",
        ),
    ],
)
def test_a_time_the_clocks_skip_or_repeat_asks_for_the_offset(text: str, problem: str, remedy: str) -> None:
    with pytest.raises(InputError) as caught:
        instant_s(text, "Europe/London", "window.from")
    assert caught.value.faults == (Fault("window.from", f"{text}:00", problem, remedy),)


@pytest.mark.parametrize("text", ["tomorrow", "2027-02-29T10:00", "2027-05-12T25:00"])
def test_a_time_no_calendar_has_is_named(text: str) -> None:
    with pytest.raises(InputError, match="no such date or time") as caught:
        instant_s(text, "UTC", "window.to")
    assert (caught.value.faults[0].field, caught.value.faults[0].value) == ("window.to", text)


@pytest.mark.parametrize(("text", "seconds"), [("00:00", 0.0), ("05:30", 19_800.0), ("23:59:58", 86_398.0)])
def test_a_time_of_day_is_seconds_since_midnight(text: str, seconds: float) -> None:
    assert day_seconds(text) == seconds


def test_a_known_zone_is_itself() -> None:
    assert require_zone("Pacific/Fiji", "origin.zone") == "Pacific/Fiji"


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("Europe/Londn", "Europe/London"),
        ("fiji", "Pacific/Fiji"),
        ("Asia/Kolkatta", "Asia/Kolkata"),
        ("Antarctica/Macquary", "Antarctica/Macquarie"),
        ("America/Nwe_York", "America/New_York"),
    ],
)
def test_a_misspelt_zone_names_the_nearest(name: str, near: str) -> None:
    with pytest.raises(InputError) as caught:
        require_zone(name, "origin.zone")
    (fault,) = caught.value.faults
    assert (fault.field, fault.value, fault.problem) == ("origin.zone", name, "no such time zone")
    assert fault.remedy == f'Did you mean "{near}"?'
