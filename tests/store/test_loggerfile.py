"""Loggers' files: found where the file says so, asked where it does not, refused where it cannot be."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from planner.errors import InputError
from planner.store import loggerfile
from planner.store.loggerfile import LoggerHints, parse_log, read_log

START = datetime(2027, 5, 15, 6, 0, tzinfo=UTC)
N = 40


def temps_c() -> list[float]:
    return [round(33.0 + 2.0 * np.sin(i / 7.0), 1) for i in range(N)]


def stamps(pattern: str, step_s: float = 60.0, shift_h: float = 0.0) -> list[str]:
    return [(START + timedelta(hours=shift_h, seconds=i * step_s)).strftime(pattern) for i in range(N)]


def lines(head: str, pattern: str, row: Callable[[str, float], str], **stamped: float) -> str:
    rows = [row(at, temp) for at, temp in zip(stamps(pattern, **stamped), temps_c(), strict=True)]
    return "\n".join([head, *rows]) + "\n"


def dot(at: str, temp: float) -> str:
    return f"{at},{temp}"


def comma(at: str, temp: float) -> str:
    return f"{at};{temp}".replace(".", ",") if "-" in at else at + ";" + f"{temp}".replace(".", ",")


ISO = "%Y-%m-%dT%H:%M:%SZ"

SAME_LOG = {
    "plain": (lines("time,temperature (C)", ISO, dot), LoggerHints()),
    "offset in every time": (
        lines("time,temp °C", "%Y-%m-%d %H:%M:%S+02:00", dot, shift_h=2.0),
        LoggerHints(),
    ),
    "zone in the heading": (lines("Date Time (GMT+01:00),Temp °C", "%Y-%m-%d %H:%M", dot, shift_h=1.0), LoggerHints()),
    "zone above the table": (
        "Logger 7\nclock: UTC\n\n" + lines("Time;Brood °C", "%d.%m.%Y %H:%M", comma),
        LoggerHints(),
    ),
    "zone asked": (
        lines("Time,Temp (C)", "%Y-%m-%d %H:%M", dot, shift_h=1.0),
        LoggerHints(zone="Europe/London"),
    ),
    "decimal comma, semicolons, day first": (
        lines("Zeit (UTC);Temp. °C", "%d.%m.%Y %H:%M:%S", comma),
        LoggerHints(),
    ),
    "tabs": (lines("time UTC\ttemp C\t°C", ISO, lambda at, t: f"{at}\t{t}\t{t}"), LoggerHints(columns=("°C",))),
    "fahrenheit": (
        lines("time,Temp (°F)", ISO, lambda at, t: f"{at},{t * 1.8 + 32.0:.4f}"),
        LoggerHints(),
    ),
    "fahrenheit without saying so": (
        lines("time,value", ISO, lambda at, t: f"{at},{t * 1.8 + 32.0:.4f}"),
        LoggerHints(),
    ),
    "month first, half days": (
        lines("Date Time (UTC),Temp (C)", "%m/%d/%Y %I:%M:%S %p", dot),
        LoggerHints(),
    ),
    "date and time apart, other quantities beside": (
        lines("No.,Date,Time UTC,Temp °C,Hum %", "%Y-%m-%d,%H:%M", lambda at, t: f"1,{at},{t},55.0"),
        LoggerHints(),
    ),
    "quoted, with units in the cells": (
        lines('"time","temperature"', ISO, lambda at, t: f'"{at}","{t} °C"'),
        LoggerHints(unit="C"),
    ),
    "seconds since 1970": (
        "\n".join(
            ["unix,temp_c", *(f"{START.timestamp() + i * 60:.0f},{t}" for i, t in enumerate(temps_c()))]
        ),
        LoggerHints(),
    ),
    "a counter before the time": (
        "\n".join(["#,time,x", *(f"{i},{at},{temps_c()[i]}" for i, at in enumerate(stamps(ISO)))]),
        LoggerHints(unit="C"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("kind", SAME_LOG)
def test_the_same_log_is_read_however_it_is_written(kind: str) -> None:
    text, hints = SAME_LOG[kind]
    log = parse_log(text, "log.csv", hints)
    assert log.time_s[0] == START.timestamp()
    assert np.all(np.diff(log.time_s) == 60.0)
    assert log.temps_c.shape == (N, 1)
    assert log.temps_c[:, 0] == pytest.approx(temps_c(), abs=1e-3)


def test_several_sensors_are_read_and_gaps_stay_gaps() -> None:
    text = lines("time,Brood °C,Outside °C", ISO, lambda at, t: f"{at},{t},{'' if t > 34.5 else t - 20}")
    log = parse_log(text, "log.csv")
    assert log.sensors == ("Brood °C", "Outside °C")
    assert np.isnan(log.temps_c[:, 1]).sum() == sum(t > 34.5 for t in temps_c())


def test_an_old_codepage_is_read(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes(lines("time,Temp °C", ISO, dot).encode("cp1252"))
    assert read_log(path).temps_c[:, 0] == pytest.approx(temps_c())


def test_the_hour_that_comes_twice_is_told_apart_by_the_order() -> None:
    """31 October 2027, 01:30 summer time to 02:00 winter time in London: local clocks fall back at two."""
    begin = datetime(2027, 10, 31, 0, 30, tzinfo=UTC)
    local = [begin + timedelta(minutes=i) + timedelta(hours=1 if i < 30 else 0) for i in range(90)]
    rows = [f"{at:%Y-%m-%d %H:%M},{33 + i % 3}" for i, at in enumerate(local)]
    log = parse_log("\n".join(["time,temp C", *rows]), "log.csv", LoggerHints(zone="Europe/London", unit="C"))
    assert log.time_s[0] == begin.timestamp()
    assert np.all(np.diff(log.time_s) == 60.0)


@pytest.mark.parametrize(
    ("text", "hints", "field"),
    [
        (lines("Time,Temp (C)", "%Y-%m-%d %H:%M", dot), LoggerHints(), "zone"),
        (lines("Time,Temp (C)", "%Y-%m-%d %H:%M", dot), LoggerHints(zone="Europe/Nowhere"), "zone"),
        (lines("Time UTC,Temp (C)", "%d/%m/%Y %H:%M", dot).replace("15/05", "05/04"), LoggerHints(), "dates"),
        (lines("time,value", ISO, lambda at, t: f"{at},{t + 20}"), LoggerHints(), "unit"),
        (lines("time,Humidity %", ISO, dot), LoggerHints(), "columns"),
        (lines("time,temp C", ISO, dot), LoggerHints(columns=("brood",)), "columns"),
    ],
)
def test_what_the_file_does_not_say_is_asked_for_by_name(text: str, hints: LoggerHints, field: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_log(text, "log.csv", hints)
    assert caught.value.faults[0].field == field


@pytest.mark.parametrize(("order", "month"), [("day_first", 4), ("month_first", 5)])
def test_day_and_month_go_as_the_user_says(order: str, month: int) -> None:
    text = lines("Time UTC,Temp (C)", "%d/%m/%Y %H:%M", dot).replace("15/05", "05/04")
    log = parse_log(text, "log.csv", LoggerHints(dates=order))
    assert datetime.fromtimestamp(log.time_s[0], UTC).month == month


def _edited(index: int, new: str) -> str:
    rows = lines("time,temp C", ISO, dot).splitlines()
    rows[index] = new
    return "\n".join(rows)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("hello\nworld\n", "no rows"),
        (lines("time,temp C", "1999-05-15T%H:%M:%SZ", dot), "no trip was driven"),
        ("\n".join(lines("time,temp C", ISO, dot).splitlines()[:10]), "only 9 readings"),
        (lines("time,temp C", ISO, dot, step_s=3600.0), "too seldom"),
        (_edited(20, "2027-05-15T05:00:00Z,33.0"), "goes back"),
        (_edited(20, "2027-02-30T06:19:00Z,33.0"), "no such time"),
        (_edited(20, "2027-05-15T06:19:00Z,210.0"), "not between"),
        (_edited(20, "2027-05-15T06:19:00Z,70.0"), "jumps by"),
        (lines("time,temp C", ISO, lambda at, t: f"{at},35.0", step_s=600.0), "never changes"),
        (lines("time,a °C,temp °C", ISO, lambda at, t: f"{at},{t},{'' if t > 33 else t}"), ""),
    ],
)
def test_an_absurd_log_is_refused(text: str, says: str) -> None:
    if not says:
        with pytest.raises(InputError, match=r"missing|no temperature"):
            parse_log(text, "log.csv", LoggerHints(columns=("temp °C",)))
        return
    with pytest.raises(InputError, match=says):
        parse_log(text, "log.csv")


def test_repeated_readings_are_left_out_and_said() -> None:
    rows = lines("time,temp C", ISO, dot).splitlines()
    log = parse_log("\n".join([*rows[:10], rows[9], *rows[10:]]), "log.csv")
    assert log.time_s.size == N
    assert any("left out" in note for note in log.notes)


# -- clocks ------------------------------------------------------------------------------------------


def log_of(times: list[str], head: str = "time UTC,temp C", temps: list[float] | None = None) -> str:
    """A log with these stamps."""
    values = temps or [33.0 + i % 3 for i in range(len(times))]
    return "\n".join([head, *(f"{at},{temp}" for at, temp in zip(times, values, strict=True))])


def minutes(pattern: str, count: int = 40, step: int = 1) -> list[str]:
    """Stamps minutes apart: ``{}`` stands for the minute."""
    return [pattern.format(f"{step * i:02}") for i in range(count)]


@pytest.mark.parametrize(
    ("clock", "hour"),
    [
        ("12:{} AM", 0),
        ("1:{} AM", 1),
        ("11:{} am", 11),
        ("12:{} PM", 12),
        ("01:{} p.m.", 13),
        ("11:{} pm", 23),
        ("00:{}", 0),
        ("12:{}", 12),
        ("23:{}:00", 23),
        ("13:{}:00.500", 13),
    ],
)
def test_half_days_are_told_apart(clock: str, hour: int) -> None:
    """The hour that begins at noon is 12 PM, the one that begins at midnight 12 AM."""
    log = parse_log(log_of(minutes(f"2027-05-15 {clock}")), "log.csv")
    assert datetime.fromtimestamp(log.time_s[0], UTC) == datetime(2027, 5, 15, hour, tzinfo=UTC)
    assert np.all(np.diff(log.time_s) == 60.0)


@pytest.mark.parametrize(
    ("date", "expected"),
    [
        ("2027-05-04", (2027, 5, 4)),
        ("2027/05/04", (2027, 5, 4)),
        ("04.05.2027", (2027, 5, 4)),
        ("4.5.27", (2027, 5, 4)),
        ("13/05/2027", (2027, 5, 13)),
        ("05/13/2027", (2027, 5, 13)),
        ("12.11.27", (2027, 11, 12)),
    ],
)
def test_the_order_of_a_date_is_read_where_only_one_can_be(date: str, expected: tuple[int, int, int]) -> None:
    log = parse_log(log_of(minutes(f"{date} 10:{{}}")), "log.csv")
    assert datetime.fromtimestamp(log.time_s[0], UTC) == datetime(*expected, 10, tzinfo=UTC)


@pytest.mark.parametrize("date", ["12/05/2027", "05/12/2027", "12-12-27"])
def test_a_date_that_could_be_either_is_asked_for(date: str) -> None:
    with pytest.raises(InputError, match="day and month could be either"):
        parse_log(log_of(minutes(f"{date} 10:{{}}")), "log.csv")


@pytest.mark.parametrize(
    ("offset", "hours"),
    [("Z", 0.0), (" UTC", 0.0), ("+01:00", 1.0), ("+0530", 5.5), ("-03:30", -3.5), ("-0800", -8.0)],
)
def test_an_offset_in_every_time_is_kept(offset: str, hours: float) -> None:
    log = parse_log(log_of(minutes(f"2027-05-15 12:{{}}{offset}"), "time,temp C"), "log.csv")
    assert log.time_s[0] == datetime(2027, 5, 15, 12, tzinfo=UTC).timestamp() - hours * 3600
    assert log.notes[0] == "every time carries its own offset"


@pytest.mark.parametrize(
    ("head", "hours", "named"),
    [
        ("time UTC", 0.0, "UTC"),
        ("Time (GMT-3)", -3.0, "GMT-3"),
        ("Date Time, GMT+5:30", 5.5, "GMT+5:30"),
        ("time UTC +10:00", 10.0, "UTC +10:00"),
    ],
)
def test_an_offset_above_the_times_is_kept(head: str, hours: float, named: str) -> None:
    text = log_of(minutes("2027-05-15 12:{}"), f'"{head}",temp C')
    log = parse_log(text, "log.csv")
    assert log.time_s[0] == datetime(2027, 5, 15, 12, tzinfo=UTC).timestamp() - hours * 3600
    assert log.notes[0] == f"times taken as {named}, as the file says"


def test_what_the_user_says_of_the_zone_goes_before_the_heading() -> None:
    log = parse_log(log_of(minutes("2027-05-15 12:{}")), "log.csv", LoggerHints(zone="Europe/Madrid"))
    assert log.time_s[0] == datetime(2027, 5, 15, 10, tzinfo=UTC).timestamp()
    assert log.notes[0] == "times taken as Europe/Madrid, as you said"


def test_seconds_since_1970_may_be_thousandths() -> None:
    begin = START.timestamp()
    for scale, shown in ((1, "{:.0f}"), (1, "{:.1f}"), (1000, "{:.0f}")):
        log = parse_log(log_of([shown.format(scale * (begin + 60 * i)) for i in range(40)]), "log.csv")
        assert log.time_s[0] == begin
        assert log.time_s[-1] == begin + 39 * 60


# -- what cannot be true ------------------------------------------------------------------------------


def spaced(count: int, step_s: float, temps: list[float] | None = None, year: int = 2027) -> str:
    begin = datetime(year, 5, 15, 6, tzinfo=UTC)
    return log_of(
        [f"{begin + timedelta(seconds=i * step_s):{ISO}}" for i in range(count)], "time,temp C", temps
    )


def steady(count: int, **at: float) -> list[float]:
    """Readings of 33 and 34 C in turn, with some put in by number: ``_5=70``."""
    values = [33.0 + i % 2 for i in range(count)]
    for name, value in at.items():
        values[int(name[1:])] = value
    return values


@pytest.mark.parametrize(
    ("good", "bad", "says"),
    [
        (spaced(12, 600), spaced(11, 600), "only 11 readings over 100 minutes"),
        (spaced(13, 150), spaced(13, 149), "only 13 readings over 30 minutes"),
        (spaced(12, 900), spaced(12, 901), "a reading every 15 minutes is too seldom"),
        (spaced(40, 60, year=2000), spaced(40, 60, year=1999), "no trip was driven in this year"),
        (spaced(40, 60, year=2100), spaced(40, 60, year=2101), "no trip was driven in this year"),
        (spaced(40, 600, steady(40, _5=85.0)), spaced(40, 600, steady(40, _5=85.1)), "not between -30 and 85 C"),
        (spaced(40, 600, steady(40, _5=-30.0)), spaced(40, 600, steady(40, _5=-30.1)), "not between -30 and 85 C"),
        (spaced(40, 60, steady(40, _5=58.0)), spaced(40, 60, steady(40, _5=59.5)), "it jumps by 26 degrees"),
        (spaced(40, 360, steady(40, _5=70.0)), spaced(40, 359, steady(40, _5=70.0)), "it jumps by 37 degrees"),
        (spaced(25, 600, [35.0] * 25), spaced(26, 600, [35.0] * 26), "it never changes"),
        (spaced(40, 600, [35.0] * 39 + [35.02]), spaced(40, 600, [35.0] * 39 + [35.01]), "it never changes"),
    ],
)  # fmt: skip
def test_the_bounds_of_what_a_logger_beside_bees_can_show(good: str, bad: str, says: str) -> None:
    assert parse_log(good, "log.csv").time_s.size >= 12
    with pytest.raises(InputError) as caught:
        parse_log(bad, "log.csv")
    assert says in caught.value.faults[0].problem


def test_a_fault_names_the_line_of_the_file() -> None:
    text = "Logger 7\n" + spaced(40, 60, steady(40, _5=70.0))
    with pytest.raises(InputError) as caught:
        parse_log(text, "log.csv")
    fault = caught.value.faults[0]
    assert (fault.field, fault.value) == ("temp C, line 8", "70")


@pytest.mark.parametrize(("gaps", "enough"), [(20, True), (21, False)])
def test_half_of_the_readings_must_be_there(gaps: int, enough: bool) -> None:
    rows = [f"{at},{33 + i % 2},{'' if i < gaps else 34 + i % 2}" for i, at in enumerate(stamps(ISO))]
    text = "\n".join(["time,a °C,b °C", *rows])
    hints = LoggerHints(columns=("a °C", "b °C"))
    if enough:
        assert np.isnan(parse_log(text, "log.csv", hints).temps_c[:, 1]).sum() == gaps
        return
    with pytest.raises(InputError, match="most readings are missing"):
        parse_log(text, "log.csv", hints)


@pytest.mark.parametrize(
    ("temps", "unit"),
    [
        (steady(40), None),
        ([60.0 + i % 2 for i in range(40)], "F"),
        ([60.0] * 40, None),
        ([44.0 + i % 2 * 0.5 for i in range(39)] + [31.9], "C"),
        ([45.0 + i % 2 for i in range(39)] + [31.0], None),
        ([19.5 + i % 2 * 0.6 for i in range(40)], "C"),
        ([19.5 + i % 2 * 0.5 for i in range(40)], None),
    ],
)
def test_a_unit_is_guessed_only_where_the_other_cannot_be(temps: list[float], unit: str | None) -> None:
    """Medians above 60 are no C beside bees; below 45, with something above 20 and below 32, no F."""
    text = log_of(minutes("2027-05-15 12:{}", 40), "time UTC,value", temps)
    if unit is None:
        with pytest.raises(InputError) as caught:
            parse_log(text, "log.csv")
        assert caught.value.faults[0].field == "unit"
        return
    log = parse_log(text, "log.csv")
    expected = temps if unit == "C" else [(f - 32.0) / 1.8 for f in temps]
    assert log.temps_c[:, 0] == pytest.approx(expected)
    assert log.notes[-1].startswith(f"value: {unit}, ")


@pytest.mark.parametrize(
    ("name", "unit"),
    [
        *((name, "F") for name in ("Temp °F", "t (F)", "temp_F", "Fahrenheit", "℉")),
        *((name, "C") for name in ("Temp °C", "t (C)", "temp C", "Celsius", "℃")),
    ],
)
def test_a_heading_says_the_unit_before_the_user_does(name: str, unit: str) -> None:
    """98.6 F is 37 C."""
    value = 98.6 if unit == "F" else 37.0
    temps = [value + i % 2 * 0.1 for i in range(40)]
    hints = LoggerHints(unit="C" if unit == "F" else "F")
    log = parse_log(log_of(minutes("2027-05-15 12:{}"), f"time UTC,{name}", temps), "log.csv", hints)
    assert log.temps_c[0, 0] == pytest.approx(37.0)
    assert log.notes[-1] == f"{name}: {unit}, as the file says"


OTHERS = "Humidity|RH|%|Dew point|Voltage|Battery V|Light lx|Pressure|hPa|Weight|kg|No.|Index|Record"


@pytest.mark.parametrize("name", tuple(OTHERS.split("|")))
def test_other_quantities_are_not_taken_for_temperatures(name: str) -> None:
    rows = [f"{at},{33 + i % 2},{50 + i % 3}" for i, at in enumerate(stamps(ISO))]
    log = parse_log("\n".join([f"time,value,{name}", *rows]), "log.csv", LoggerHints(unit="C"))
    assert log.sensors == ("value",)


def test_of_columns_without_a_name_all_that_could_be_are_read() -> None:
    rows = [f"{at},{33 + i % 2},{34 + i % 3},{i},{'x' if i < 21 else 9}" for i, at in enumerate(stamps(ISO))]
    log = parse_log("\n".join(["time,,out,id,word", *rows]), "log.csv", LoggerHints(unit="C"))
    assert log.sensors == ("column 2", "out")


def test_a_log_without_a_heading_numbers_its_columns() -> None:
    text = "\n".join(spaced(40, 60).splitlines()[1:])
    log = parse_log(text, "log.csv", LoggerHints(unit="C"))
    assert log.sensors == ("column 2",)
    assert log.time_s.size == 40


def test_a_log_may_be_long_but_not_endless(monkeypatch: pytest.MonkeyPatch) -> None:
    assert loggerfile.MOST_ROWS == 200_000
    monkeypatch.setattr(loggerfile, "MOST_ROWS", 40)
    assert parse_log(spaced(40, 60), "log.csv").time_s.size == 40
    with pytest.raises(InputError, match="more than 40 readings"):
        parse_log(spaced(41, 60), "log.csv")


def test_five_bad_times_are_listed_of_each_kind() -> None:
    rows = spaced(40, 60).splitlines()
    for i in range(3, 10):
        rows[i] = rows[i].replace("05-15", "02-30")
    for i in range(20, 34, 2):
        rows[i] = rows[i].replace("T06", "T05")
    with pytest.raises(InputError) as caught:
        parse_log("\n".join(rows), "log.csv")
    listed = [(fault.field, fault.problem) for fault in caught.value.faults]
    assert listed[:5] == [(f"line {line}", "no such time") for line in range(4, 9)]
    assert listed[5:] == [(f"line {line}", "the time goes back") for line in range(21, 31, 2)]
    assert [fault.value for fault in caught.value.faults[4:6]] == [
        "2027-02-30T06:06:00Z",
        "2027-05-15T05:19:00Z 34.0",
    ]


def test_a_comma_inside_quotes_and_other_delimiters_do_not_mislead() -> None:
    """The delimiter that finds most rows wins, and of those the one with fewest columns."""
    for delimiter in ";\t,|":
        rows = [
            f'"{at}"{delimiter}{temp}' for at, temp in zip(stamps("%d.%m.%Y %H:%M"), temps_c(), strict=True)
        ]
        log = parse_log("\n".join([f"time UTC{delimiter}temp C", *rows]), "log.csv")
        assert log.temps_c[:, 0] == pytest.approx(temps_c())
