"""What a voice says and how it writes values: languages, units, clocks, gaps."""

from __future__ import annotations

import threading
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner import words
from planner.units import METRIC, US
from planner.words import Moment, Stretch, Voice, say
from planner.words.catalogue import NoSuchWords

EVENING_S = datetime(2027, 5, 14, 19, 30, tzinfo=UTC).timestamp()
ENGLISH, AMERICAN = Voice(), Voice(units=US)


@pytest.mark.parametrize(
    ("value", "metric", "us"),
    [
        (words.temp(37.94), "37.9 °C", "100.3 °F"),
        (words.temp(-0.04), "0.0 °C", "31.9 °F"),
        (words.temp(-5.0, 0), "-5 °C", "23 °F"),
        (words.step(1.0, 0), "1 degree", "2 °F"),
        (words.step(3.8), "3.8 degrees", "6.8 °F"),
        (words.distance(100.0), "100 km", "62 mi"),
        (words.height(1000.0), "1000 m", "3280 ft"),
        (words.speed(25.0), "90 km/h", "56 mph"),
        (words.volume(50.0), "50 ml", "1.7 fl oz"),
        (words.mass(15.0), "15.0 kg", "33.1 lb"),
        (words.duration(3 * 3600 + 20 * 60), "3 h 20 min", "3 h 20 min"),
        (words.duration(2 * 3600), "2 h", "2 h"),
        (words.duration(40 * 60), "40 min", "40 min"),
        (words.minutes(85), "85 min", "85 min"),
        (words.share(0.125, 1), "12.5 %", "12.5 %"),
        (words.watts(41.7), "42 W", "42 W"),
        (12345, "12,345", "12,345"),
        (1024, "1024", "1024"),
        (np.int64(7), "7", "7"),
        ("as it is {so}", "as it is {so}", "as it is {so}"),
    ],
)
def test_a_value_is_written_in_the_units_of_its_reader(value: object, metric: str, us: str) -> None:
    assert (ENGLISH.text(value), AMERICAN.text(value)) == (metric, us)


@given(st.floats(-60.0, 90.0), st.integers(0, 2))
def test_temperatures_are_those_of_the_one_conversion(temp_c: float, digits: int) -> None:
    """Oracle: planner.units, which every answer used before there was a catalogue (but a minus before nothing)."""
    for units in (METRIC, US):
        expected = units.temp_text(temp_c, digits)
        if not expected.split()[0].strip("-0."):
            expected = expected.lstrip("-")
        assert Voice(units=units).text(words.temp(temp_c, digits)) == expected


@pytest.mark.parametrize("bare", [0.5, True, np.float64(2.0), None, object()])
def test_a_value_without_unit_or_digits_is_refused(bare: object) -> None:
    with pytest.raises(TypeError):
        words.text(bare)


@pytest.mark.parametrize(
    ("form", "text"),
    [
        ("clock", "21:30"),
        ("day_clock", "Friday 21:30"),
        ("date", "14 May 2027"),
        ("date_clock", "Friday 14 May, 21:30"),
        ("stamp", "2027-05-14 21:30"),
    ],
)
def test_an_instant_is_read_on_the_clock_of_its_zone(form, text: str) -> None:
    assert words.text(Moment(EVENING_S, "Europe/Berlin", form)) == text


@pytest.mark.parametrize(
    ("hours", "with_day", "text"),
    [
        (2.0, True, "Friday 21:30-23:30"),
        (2.0, False, "21:30-23:30"),
        (0.0, True, "Friday 21:30"),
        (4.0, True, "Friday 21:30 to Saturday 01:30"),
        (4.0, False, "Friday 21:30 to Saturday 01:30"),
    ],
)
def test_a_stretch_says_its_day_once(hours: float, with_day: bool, text: str) -> None:
    stretch = Stretch(EVENING_S, EVENING_S + 3600.0 * hours, "Europe/Berlin", with_day)
    assert words.text(stretch) == text


def test_a_whole_number_of_any_length_is_written() -> None:
    """A damaged file may hold one of hundreds of figures, and what is wrong with it is told in words."""
    shown = Voice().text(10**400)
    assert shown.startswith("10,000,")
    assert len(shown.replace(",", "")) == 401
    assert (Voice().number(9_999), Voice().number(10_000), Voice().number(-0.4)) == ("9999", "10,000", "0")


def test_the_count_decides_the_form() -> None:
    assert [say("common.faults", count=n) for n in (0, 1, 2)] == ["0 faults", "1 fault", "2 faults"]


@pytest.mark.parametrize(
    "call",
    [
        lambda: say("common.no_such_sentence"),
        lambda: say("no_such_topic.faults"),
        lambda: say("nonsense"),
        lambda: say("common.faults"),
        lambda: say("common.faults", count=1, more=2),
    ],
)
def test_a_missing_key_or_gap_is_an_error(call) -> None:
    with pytest.raises(NoSuchWords):
        call()


def test_a_voice_speaks_inside_its_block_alone_and_in_its_thread_alone() -> None:
    heard: list[str] = []
    with words.speaking(AMERICAN):
        thread = threading.Thread(target=lambda: heard.append(words.text(words.temp(0.0))))
        thread.start()
        thread.join()
        heard.append(words.text(words.temp(0.0)))
    heard.append(words.text(words.temp(0.0)))
    assert heard == ["0.0 °C", "32.0 °F", "0.0 °C"]


def test_the_program_speaks_one_voice_in_every_thread() -> None:
    heard: list[str] = []
    try:
        words.set_voice(AMERICAN)
        thread = threading.Thread(target=lambda: heard.append(words.text(words.temp(0.0))))
        thread.start()
        thread.join()
    finally:
        words.set_voice(ENGLISH)
    assert heard == ["32.0 °F"]
