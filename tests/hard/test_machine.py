"""Every command on a bad machine: a full disk, a home that cannot be written, one that is held, a wrong clock."""

from __future__ import annotations

import json
import os
import random
import re
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import threading
import time
import traceback
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, nullcontext
from datetime import UTC, datetime
from pathlib import Path

import pytest

from planner.bundled import resource_path
from planner.cli.main import COMMANDS, main
from planner.cli.stopping import ASKS
from planner.files import PART
from planner.folders import cache_dir, data_dir
from planner.services.settings import save_settings
from planner.store.dayfile import write_day
from planner.store.weatherfile import weather_text
from tests.app.small_day import small_draft
from tests.app.years import season_weather
from tests.hard.clocks import DAY_S, HOUR_S, jumping, set_clock
from tests.hard.planned import two_departures
from tests.hard.readers import BOX
from tests.hard.test_disk import forked, full_disk
from tests.services.standin import StandIn

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="forks"),
    pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning"),
]
A, B = "2027-11-13T06:30,open_trailer", "2027-11-13T07:00,open_trailer"

EVERY = (
    "plan {trip}", "plan {trip} --html {out}/a.html --json {out}/a.json --pictures {out}/p", "recheck {trip}",
    "compare {trip} {a} {b} --draws 2", "sure {trip} --draws 2", "helps {trip} --draws 2", "water {trip} --draws 2",
    "reserve {trip}", "tipping {trip}", "check {trip}", "explain {out}/pages", "trade doubles_8_frames_cool --draws 2",
    "day {folder}/day.toml", "day {folder}/day.toml --json {out}/d.json --pictures {out}/p", "lane {lane}",
    "lane {lane} --json {out}/l.json", "sheets {trip} --draws 2 --to {out}/papers", "inspect {trip}",
    "inspect {trip} --box {box} straps=ok", "inspect {trip} --list {out}/list.html", "cause {trip} {box}",
    "lessons", "lessons --demo --pictures {out}/p", "logbook show", "logbook show {trip}", "logbook show --people",
    "logbook add {trip} note quiet --who AB --box {box}", "logbook export {out}/l.zip", "logbook import {folder}/l.zip",
    "logbook verify", "logbook verify {folder}/l.zip", "logbook erase AB", "logbook keep 5",
    "season {trip} --weather {folder}/year.csv --folder {out}/weeks",
    "fit {trip} {folder}/log.csv --profile {out}/p.toml", "new {out}/new.toml", "place Berlin",
    "place Berlin --save home", "route Berlin Potsdam --offline", "forecast Berlin --offline", "install-desktop",
    "roads build {folder}/none.osm.pbf --to {out}/roads",
)  # fmt: skip
"""What each command is asked: as it only answers, and as it keeps, writes or takes in."""

STATES = ("full", "read-only", "held", "clock in 1971", "clock in 2150")
SOON_S = 60.0
ENDS = (0, 2, 3, 4)


def test_every_command_is_among_them() -> None:
    assert {words.split()[0] for words in EVERY} == set(COMMANDS)


@contextmanager
def machine(state: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Something wrong around this process and its children; a full disk is the child's own affair."""
    with ExitStack() as around:
        if state == "read-only":
            monkeypatch.setenv("SKEPWAY_HOME", "/proc/nowhere")
        elif state == "held":
            for file in (data_dir() / "logbook.sqlite", cache_dir() / "answers.sqlite"):
                file.parent.mkdir(parents=True, exist_ok=True)
                around.callback((holder := sqlite3.connect(file)).close)
                holder.execute("begin exclusive")
        elif state.startswith("clock"):
            years, real = int(state[-4:]) - 2026, time.time
            monkeypatch.setattr(time, "time", lambda: real() + years * 31_556_952)
        yield


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Made once: folder ``files`` for every command (a trip whose plan is in the logbook, a day, a lane, a log, a
    bundle, a season) and the ``home`` that goes with it."""
    folder = tmp_path_factory.mktemp("whole")
    files, home = folder / "files", folder / "home"
    (files / "out").mkdir(parents=True)
    trip = two_departures(files)
    draft = small_draft()
    write_day({**draft, "buyers": draft["buyers"][:2]}, files / "day.toml")
    shut_s = datetime(2027, 11, 12, 12, tzinfo=UTC).timestamp()
    log = ["unix,temp_c", *(f"{shut_s + 600 * row:.0f},{30 + row % 7 / 2}" for row in range(400))]
    (files / "log.csv").write_text("\n".join(log), "utf-8")
    nights = season_weather(datetime(2027, 5, 1, tzinfo=UTC).timestamp(), 9)
    (files / "year.csv").write_text(weather_text(nights), "utf-8")
    with pytest.MonkeyPatch.context() as own:
        own.setenv("SKEPWAY_HOME", str(home))
        for words in (f"inspect {trip} --box {BOX} straps=ok", f"logbook export {files}/l.zip"):
            assert forked(lambda words=words: main(words.split())) == 0  # type: ignore[misc]
    return folder


@pytest.fixture
def at(whole: Path, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> dict[str, object]:
    """A copy of it all for this test, by the names that the commands ask for."""
    monkeypatch.setattr("planner.app.day.plan.FIRST_SAMPLES", 4)
    monkeypatch.setattr("planner.app.day.plan.CLOSE_SAMPLES", 16)
    files = shutil.copytree(whole / "files", tmp_path / "files")
    shutil.copytree(whole / "home", home, dirs_exist_ok=True)
    lane = resource_path("demo", "lane", "parcel-spring.toml")
    named = {"trip": files / "trip.toml", "box": BOX, "folder": files, "out": files / "out"}
    return {**named, "lane": lane, "a": A, "b": B}


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("command", EVERY)
def test_every_command_ends_in_words_on_a_bad_machine(
    command: str, state: str, at: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert ended(command.format(**at).split(), state, monkeypatch) in ENDS


def ended(words: list[str], state: str, monkeypatch: pytest.MonkeyPatch) -> int:
    """The exit code of a command in such a state; what flies is shown and counts as a bug."""

    def work() -> int:
        signal.alarm(int(SOON_S))  # what hangs is ended by the system, and that is no end in words
        try:
            with full_disk() if state == "full" else nullcontext():
                return main(words)
        except BaseException:
            traceback.print_exc()
            raise

    with machine(state, monkeypatch):
        return forked(work)


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.parametrize("ahead_s", [-HOUR_S, DAY_S], ids=["back an hour", "forward a day"])
@pytest.mark.parametrize("command", EVERY)
def test_every_command_bears_a_clock_that_jumps_at_work(
    command: str, ahead_s: float, at: dict[str, object], monkeypatch: pytest.MonkeyPatch
) -> None:
    set_clock(monkeypatch, jumping(ahead_s, after=2))
    assert ended(command.format(**at).split(), "", monkeypatch) in ENDS


FAKETIME = shutil.which("faketime")
CLOCKS = ("1901-01-01 12:00:00", "2000-02-29 23:59:50", "2026-11-29 02:30:00", "2100-03-01 00:00:00")
TIMED = {
    "plan",
    "check",
    "recheck",
    "sheets",
    "day",
    "lane",
    "season",
    "logbook",
    "forecast",
    "inspect",
    "new",
    "fit",
}


AWAKE = """
import select, time
time.sleep = lambda wait_s: select.select((), (), (), wait_s) and None
from planner.__main__ import main
raise SystemExit(main())
"""
"""Before 1970 the faked clock's own sleep never ends; a wait by ``select`` lasts as long and does."""


def ends_in_words(clock: str, words: str) -> None:
    """A command ends as it should on a machine whose every clock but the stopwatch is wrong."""
    done = subprocess.run(
        [str(FAKETIME), "-f", f"@{clock}", sys.executable, "-c", AWAKE, *words.split()],
        env={**os.environ, "TZ": "UTC", "FAKETIME_DONT_FAKE_MONOTONIC": "1", "DONT_FAKE_MONOTONIC": "1"},
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        timeout=4 * SOON_S,
        check=False,
    )
    said = f"{words} at {clock}: {done.returncode}\n{done.stdout}\n{done.stderr}"
    assert done.returncode in ENDS, said
    assert "Traceback" not in said
    assert not re.search(r"\bnan\b", said), said


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.skipif(FAKETIME is None, reason="no faketime")
@pytest.mark.parametrize("clock", CLOCKS)
@pytest.mark.parametrize("command", [words for words in EVERY if words.split()[0] in TIMED])
def test_every_command_ends_in_words_by_a_wrong_clock(
    command: str, clock: str, at: dict[str, object]
) -> None:
    ends_in_words(clock, command.format(**at))


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.skipif(FAKETIME is None, reason="no faketime")
@pytest.mark.parametrize("later", CLOCKS)
def test_every_command_bears_a_clock_that_jumps(later: str, at: dict[str, object], world: StandIn) -> None:
    """Answers, plans, entries and papers of next year, and then another clock: back, or on by a life."""
    save_settings(world.settings())
    quick = "plan --from Ludlow --to Norwich --vehicle van --rows 2 --draws 2"
    quick += " --leave 2027-11-13T18:00 --until 2027-11-13T18:30"
    before = (
        f"{quick} --save {{out}}/asked.toml", "plan {trip}", "logbook add {trip} note quiet --who AB --box {box}",
        "sheets {trip} --draws 2 --to {out}/papers", "season {trip} --weather {folder}/year.csv --folder {out}/weeks",
        "lane {lane}", "day {folder}/day.toml", "forecast Ludlow", "route Ludlow Norwich",
    )  # fmt: skip
    after = (
        f"{quick} --offline", "recheck {out}/asked.toml --offline", "check {out}/asked.toml", "recheck {trip}",
        "logbook show {trip}", "logbook verify", "logbook export {out}/l2.zip", "forecast Ludlow --offline",
        "route Ludlow Norwich --offline", *before[1:7],
    )  # fmt: skip
    for clock, commands in (("2027-11-12 12:00:00", before), (later, after)):
        for words in commands:
            ends_in_words(clock, words.format(**at))


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.parametrize("command", EVERY)
def test_every_command_stops_when_it_is_asked_to(
    command: str, at: dict[str, object], tmp_path: Path, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """At moments drawn over the whole of its work: a shell's code or its own, files whole or not there, no litter."""
    chance = random.Random(command)
    monkeypatch.setattr(tempfile, "tempdir", str(passing := tmp_path / "passing"))
    passing.mkdir()
    words, said = command.format(**at).split(), tmp_path / "said"
    began = time.monotonic()
    forked(lambda: main(words))
    whole_s = time.monotonic() - began
    for number in ASKS:
        asked_s = chance.uniform(0.0, whole_s)

        def work(number: int = number, asked_s: float = asked_s) -> int:
            threading.Timer(asked_s, os.kill, (os.getpid(), number)).start()
            signal.signal(signal.SIGINT, signal.default_int_handler)
            with said.open("w", buffering=1) as sys.stderr:
                try:
                    code = main(words)
                    for handled in ASKS:
                        signal.signal(handled, signal.SIG_IGN)
                    return code
                except BaseException:
                    traceback.print_exc()
                    raise

        code = forked(work)
        assert code in (*ENDS, 128 + number, -number), f"{code} after {asked_s} s of {whole_s}"
        assert "Traceback" not in said.read_text()
        assert [*passing.iterdir()] == [], f"after {asked_s} s of {whole_s}"
        nothing_torn(tmp_path, home)


def nothing_torn(folder: Path, home: Path) -> None:
    """No litter, every file whole, the logbook as it was written down."""
    assert [*folder.rglob(f"*{PART}"), *home.rglob(f"*{PART}")] == []
    for path in folder.rglob("out/**/*.json"):
        json.loads(path.read_text())
    for path in folder.rglob("out/**/*.svg"):
        assert path.read_text().rstrip().endswith("</svg>")
    for path in folder.rglob("out/*.zip"):
        assert zipfile.ZipFile(path).testzip() is None
    assert forked(lambda: main(["logbook", "verify"])) == 0


QUICK = ("check {trip}", "logbook show")


@pytest.mark.parametrize("lines", [0, 1])
@pytest.mark.parametrize("command", QUICK)
def test_a_command_goes_on_when_nobody_reads_it_any_more(
    command: str, lines: int, tmp_path: Path, home: Path
) -> None:
    read_no_further(command.format(trip=two_departures(tmp_path)), lines)


@pytest.mark.slow
@pytest.mark.hour
@pytest.mark.parametrize("lines", [0, 1])
@pytest.mark.parametrize("command", EVERY)
def test_every_command_goes_on_when_nobody_reads_it_any_more(
    command: str, lines: int, at: dict[str, object], tmp_path: Path, home: Path
) -> None:
    read_no_further(command.format(**at), lines)
    nothing_torn(tmp_path, home)


def read_no_further(words: str, lines: int) -> None:
    """``| head -1``: a program of its own, for what is left in a stream is written while the interpreter ends."""
    command = [sys.executable, "-m", "planner", *words.split()]
    with subprocess.Popen(
        command, cwd=Path(__file__).parents[2], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as running:
        assert running.stdout is not None
        for _ in range(lines):
            running.stdout.readline()
        running.stdout.close()
        _, said = running.communicate(timeout=4 * SOON_S)
    assert running.returncode in ENDS, said
    for told in ("Traceback", "BrokenPipe", "Exception ignored"):
        assert told not in said
