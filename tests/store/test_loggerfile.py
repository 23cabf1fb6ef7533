"""Loggers' files: found where the file says so, asked where it does not, refused where it cannot be."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from planner.errors import InputError
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
