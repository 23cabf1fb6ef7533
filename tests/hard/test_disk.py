"""Disks that are full, shut, shared or lost in the middle of a word: nothing torn, nothing lost, nothing left over."""

from __future__ import annotations

import gc
import io
import json
import multiprocessing
import os
import random
import re
import resource
import signal
import sqlite3
import stat
import sys
import tempfile
import time
import tomllib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from planner.app.lessons.demo import demo_logbook
from planner.cli.exits import Exit
from planner.cli.main import BUILT_ON, COMMANDS, FILLED, READ_FROM, WRITTEN_TO, _parser, main
from planner.errors import SkepwayError
from planner.files import LOOK_EVERY_S, MAKE_WAY_S, PART, foresee, passing_folder, sweep, write_text
from planner.folders import cache_dir, config_dir, data_dir
from planner.model.records import Site
from planner.services.geocoding.saved import places_file, save_place, saved_places
from planner.services.http import Client
from planner.services.settings import Settings, load_settings, save_settings, settings_file
from planner.store.journal import Journal
from tests.hard.clocks import DAY_S, set_clock
from tests.hard.planned import DEMO
from tests.services.standin import StandIn

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="forks"),
    pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning"),  # the child only saves, reads or plans
]


def forked(work: Callable[[], Any]) -> int:
    """The exit code of ``work`` in a process of its own; 0 where it returns, 9 where anything flies."""
    child = os.fork()
    if child == 0:
        code = 9
        try:
            code = int(work() or 0)
        finally:
            os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


@contextmanager
def full_disk() -> Iterator[None]:
    """No file may grow: what a full disk says, said by the system itself; where passing files go is asked anew."""
    tempfile.tempdir = None
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, resource.getrlimit(resource.RLIMIT_FSIZE)[1]))
    yield


# -- full and locked -------------------------------------------------------------------


def test_a_plan_is_told_although_the_disk_is_full(trip: Path, tmp_path: Path) -> None:
    there, here = os.pipe()

    def work() -> int:
        sys.stdout = os.fdopen(here, "w")
        sys.stderr = sys.stdout
        with full_disk():
            code = main(["plan", str(trip), "--html", str(tmp_path / "report.html")])
        sys.stdout.flush()
        return code

    code = forked(work)
    os.close(here)
    with os.fdopen(there) as told:
        said = told.read()
    assert said.startswith(("Go", "Do not go", "Cannot tell"))
    assert "report.html could not be written" in said
    assert code == Exit.STORAGE
    assert not list(tmp_path.glob("*.html"))


def test_a_full_disk_is_told_where_only_passing_files_would_be_written() -> None:
    def work() -> int:
        with full_disk():
            return main(["lessons", "--demo"])

    assert forked(work) == Exit.STORAGE


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full")
def test_a_full_disk_that_takes_neither_answer_nor_remark_ends_in_its_code() -> None:
    """Both streams led into a file on it: nobody is left to tell, and nothing flies."""

    def work() -> int:
        with open("/dev/full", "w") as sys.stdout, open("/dev/full", "w", buffering=1) as sys.stderr:
            code = main(["check", str(DEMO)])
            os._exit(code)

    assert forked(work) == Exit.STORAGE


def test_what_is_asked_for_is_written_although_nobody_reads_the_screen(trip: Path, tmp_path: Path) -> None:
    there, here = os.pipe()
    os.close(there)
    report, answer = tmp_path / "report.html", tmp_path / "new" / "answer.json"
    answer.parent.mkdir()

    def work() -> int:
        sys.stdout = os.fdopen(here, "w", buffering=1)
        return main(
            [
                "plan",
                str(trip),
                "--html",
                str(report),
                "--json",
                str(answer),
                "--pictures",
                str(tmp_path / "p"),
            ]
        )

    assert forked(work) == 0
    os.close(here)
    assert report.exists()
    assert json.loads(answer.read_text())
    assert len(list((tmp_path / "p").glob("*.svg"))) == 2


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252", "utf-8", "utf-16", "utf-7"])
def test_any_encoding_prints_something(
    encoding: str, trip: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding, errors="strict")
    monkeypatch.setattr(sys, "stdout", stream)
    trip.write_text(trip.read_text().replace("Tres Talas nuc yard", "\\u001b[2JĄźöç\\u202e蜂"))
    assert main(["check", str(trip)]) == 0
    stream.flush()
    said = stream.buffer.getvalue().decode(encoding)  # type: ignore[attr-defined]
    assert "no faults" in said
    assert "\x1b" not in said
    assert "\u202e" not in said


@pytest.mark.parametrize(
    "damage",
    [
        "no database",
        *(
            pytest.param(how, marks=[pytest.mark.slow, pytest.mark.hour])
            for how in ("folder in its place", "later version", "locked")
        ),
    ],
)
def test_the_answer_comes_before_a_remark_on_the_journal(
    damage: str, trip: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("planner.store.logbook.database.LOCKED_FOR_S", 0.1)
    path = data_dir() / "logbook.sqlite"
    path.parent.mkdir(parents=True)
    holder = None
    if damage == "folder in its place":
        path.mkdir()
    elif damage == "no database":
        path.write_bytes(b"nothing of the kind" * 100)
    else:
        holder = sqlite3.connect(path)
        holder.execute("pragma user_version = 99" if damage == "later version" else "begin exclusive")
    for command in ("plan", "recheck"):
        assert main([command, str(trip)]) == 0
        said = capsys.readouterr()
        assert said.out.startswith(("Go", "Do not go", "Cannot tell"))
        assert "Remark: this plan is not kept for recheck." in said.err
    if holder is not None:
        holder.close()


@pytest.mark.parametrize("where", ["locked", "full", "folder", "nonsense", "unwritable name"])
def test_the_answer_comes_although_the_cache_cannot_be_used(
    where: str, tmp_path: Path, world: StandIn
) -> None:
    """Held by another program, on a full disk, a folder or nonsense in its place: the answer, and soon."""
    folder = tmp_path / "cache"
    folder.mkdir()
    file = folder / "answers.sqlite"
    holder = None
    if where == "locked":
        holder = sqlite3.connect(file)
        holder.execute("begin exclusive")
    elif where == "folder":
        file.mkdir()
    elif where == "nonsense":
        file.write_bytes(os.urandom(5000))
    elif where == "unwritable name":
        folder = tmp_path / ("x" * 300)

    def work() -> int:
        client = Client.open(folder)
        for _ in range(3):
            client.get("Plain service", f"{world.url}/plain", json.loads)
        return 0

    def on_full_disk() -> int:
        with full_disk():
            return work()

    began = time.monotonic()
    assert forked(on_full_disk if where == "full" else work) == 0
    assert time.monotonic() - began < 60.0  # soon, on the busiest machine
    if holder is not None:
        holder.close()


def test_a_cache_whose_damage_is_told_in_bytes_that_are_no_text_is_begun_anew(
    tmp_path: Path, world: StandIn
) -> None:
    """It stood in the way of every answer for ever."""
    client = Client.open(tmp_path)
    client.get("Plain service", f"{world.url}/plain", json.loads)
    client.close()
    file = tmp_path / "answers.sqlite"
    whole = file.read_bytes()
    assert b"CREATE TABLE responses" in whole
    file.write_bytes(whole.replace(b"CREATE TABLE responses", b"CREATE TABL\xe9 responses"))
    client = Client.open(tmp_path)
    for from_cache in (False, True):
        assert client.get("Plain service", f"{world.url}/plain", json.loads).from_cache == from_cache
    client.close()


def test_an_answer_from_the_future_is_asked_for_again(
    tmp_path: Path, world: StandIn, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A clock that ran a year ahead is put right; what it called fresh is as old as nobody knows."""
    client = Client.open(tmp_path)

    def ask() -> int:
        client.get("Plain service", f"{world.url}/plain", json.loads)
        return world.asked("/plain")

    with monkeypatch.context() as wrong:
        set_clock(wrong, lambda: 365 * DAY_S)
        assert [ask(), ask()] == [1, 1], "fresh by the clock it was kept by"
    assert [ask(), ask()] == [2, 2], "asked for again once, and then fresh"
    client.close()


def test_a_passing_folder_goes_with_the_last_who_holds_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    with passing_folder() as left:
        assert left.is_dir()
    assert not left.exists()
    book = demo_logbook((folder := passing_folder()).path, folder)
    del folder
    gc.collect()
    assert len(book.events()) > 900
    del book
    gc.collect()
    assert [*tmp_path.iterdir()] == []


# -- killed, and two at once ---------------------------------------------------------------------


def _saving(number: int, acknowledge: Any) -> None:
    """Save places, trips and plans for ever; say after each that it is safe."""
    book = Journal()
    for turn in range(10_000):
        name = f"place {number} {turn}"
        save_place(Site(name, 48.0, 8.0, "Europe/Berlin"))
        write_text(data_dir() / "trip.toml", f'title = "{name}"\n' + "# x\n" * 2000)
        book.keep("trip", float(turn), {"name": name})
        os.write(acknowledge, f"{name}\n".encode())


@pytest.mark.parametrize("kills", [12, pytest.param(1_500, marks=[pytest.mark.slow, pytest.mark.hour])])
def test_a_kill_loses_nothing_tears_nothing_and_leaves_no_litter(kills: int, home: Path) -> None:
    data_dir().mkdir(parents=True)
    chance = random.Random(1)
    for number in range(kills):
        if number % 40 == 0:
            places_file().unlink(missing_ok=True)
        said, acknowledge = os.pipe()
        child = os.fork()
        if child == 0:
            try:
                _saving(number, acknowledge)
            finally:
                os._exit(1)
        os.close(acknowledge)
        time.sleep(chance.uniform(0.0, 0.08))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        with os.fdopen(said) as told:
            safe = told.read().splitlines()
        names = {site.name for site in saved_places()}
        assert set(safe) <= names
        if safe:
            assert tomllib.loads((data_dir() / "trip.toml").read_text())["title"] in names
            assert Journal().last("trip") is not None
    sweep(config_dir(), data_dir(), cache_dir())
    assert not [path for path in home.rglob("*") if path.name.endswith(PART)]


@pytest.mark.parametrize("saves", [15, pytest.param(500, marks=[pytest.mark.slow, pytest.mark.hour])])
def test_two_instances_lose_nothing(saves: int, home: Path) -> None:
    """Twice so many places saved side by side; all are there."""
    fork = multiprocessing.get_context("fork")

    def work(number: int) -> None:
        for turn in range(saves):
            save_place(Site(f"place {number} {turn}", 48.0, 8.0, "Europe/Berlin"))

    both = [fork.Process(target=work, args=(number,)) for number in (1, 2)]
    for one in both:
        one.start()
    for one in both:
        one.join()
    assert [one.exitcode for one in both] == [0, 0]
    assert len(saved_places()) == 2 * saves


def test_whoever_saves_again_and_again_lets_another_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Left free between two savings for longer than another waits between two tries; the first waits for nobody."""
    waited: list[float] = []
    monkeypatch.setattr("planner.files.time.sleep", waited.append)
    for name in ("a", "b"):
        write_text(tmp_path / name, "x")
    assert waited == [MAKE_WAY_S]
    assert MAKE_WAY_S > 2 * LOOK_EVERY_S


def test_what_is_private_is_closed_to_others(world: StandIn) -> None:
    save_place(Site("home", 48.0, 8.0, "Europe/Berlin"))
    save_settings(Settings(contact="a@example.org"))
    Journal().keep("a", 1.0, {})
    client = Client.open(cache_dir())
    client.get("Plain service", f"{world.url}/plain", json.loads)
    client.close()
    for path in (
        places_file(),
        settings_file(),
        data_dir() / "logbook.sqlite",
        cache_dir() / "answers.sqlite",
    ):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path
        assert stat.S_IMODE(path.parent.stat().st_mode) == 0o700, path


def test_what_was_written_with_an_editor_is_closed_when_it_is_read(home: Path) -> None:
    for path, content in ((settings_file(), 'contact = "a@example.org"'), (places_file(), "place = []")):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(content)
        path.chmod(0o644)
    assert load_settings(environment={}).contact == "a@example.org"
    assert saved_places() == ()
    for path in (settings_file(), places_file()):
        assert stat.S_IMODE(path.stat().st_mode) == 0o600, path


def test_no_output_goes_over_the_trip_or_over_another_output(
    trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = trip.read_bytes()
    (tmp_path / "link.html").symlink_to(trip)
    for words, other in (
        (["--html", str(trip)], "TRIP"),
        (["--csv", str(tmp_path / "link.html")], "TRIP"),
        (["--json", str(tmp_path / "a"), "--html", f"{tmp_path}/b/../a"], "--json"),
    ):
        assert main(["plan", str(trip), *words]) == Exit.INPUT
        assert f"this is the same file as {other}" in capsys.readouterr().err
    assert trip.read_bytes() == before


def test_a_file_is_on_the_disk_before_it_has_its_name_and_its_name_is_too_before_it_is_called_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where power fails after the renaming and before the bytes, an empty file stands in the place of the old one."""
    done: list[str] = []
    sync, rename = os.fsync, os.replace

    def synced(handle: int) -> None:
        done.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "bytes")
        sync(handle)

    def renamed(old: str, new: Path) -> None:
        done.append("name")
        rename(old, new)

    monkeypatch.setattr("planner.files.os.fsync", synced)
    monkeypatch.setattr("planner.files.os.replace", renamed)
    write_text(tmp_path / "a", "new")
    assert done == ["bytes", "name", "folder"]


def test_saving_through_a_link_changes_the_file_it_points_to(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    real, link = tmp_path / "there" / "trip.toml", tmp_path / "trip.toml"
    real.write_text("old")
    link.symlink_to(real)
    write_text(link, "new")
    assert link.is_symlink()
    assert real.read_text() == "new"


def test_only_our_own_litter_is_swept(tmp_path: Path) -> None:
    ours, theirs = tmp_path / f".trip.toml.abc{PART}", tmp_path / ".film.mkv.part"
    ours.write_text("half")
    theirs.write_text("half")
    sweep(tmp_path, tmp_path / "not there")
    assert (ours.exists(), theirs.exists()) == (False, True)


def test_every_command_sweeps_beside_its_trip_and_among_the_users_own(trip: Path) -> None:
    left = [folder / f".a.toml.x{PART}" for folder in (trip.parent, config_dir(), data_dir(), cache_dir())]
    for path in left:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("half")
    assert main(["check", str(trip)]) == 0
    assert [path for path in left if path.exists()] == []


def test_a_folder_that_another_holds_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import fcntl

    monkeypatch.setattr("planner.files.HOLD_WITHIN_S", 0.1)
    handle = os.open(tmp_path, os.O_RDONLY)
    fcntl.flock(handle, fcntl.LOCK_EX)
    with pytest.raises(SkepwayError, match="held by another Skepway"):
        write_text(tmp_path / "a", "b")
    os.close(handle)
    write_text(tmp_path / "a", "b")


@pytest.mark.parametrize("name", ["circle", "nul\0in it", "x" * 300, "there/is/no/such/folder"])
def test_a_name_nothing_can_be_written_under_is_told(name: str, tmp_path: Path) -> None:
    (tmp_path / "circle").symlink_to("other")
    (tmp_path / "other").symlink_to("circle")
    with pytest.raises(SkepwayError, match="could not be written"):
        write_text(tmp_path / name, "a")


@pytest.mark.parametrize(
    ("option", "name"),
    [
        ("--json", "circle"), ("--csv", "x" * 300), ("--html", "file/in it"),
        ("--html", "folder"), ("--pictures", "circle"), ("--pictures", "file"), ("--pictures", "file/in it"),
    ],
)  # fmt: skip
def test_what_nothing_can_be_written_under_is_told_before_the_work(
    option: str, name: str, trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A minute of planning went before it. Folders that are missing are made, and stand in nothing's way."""
    (tmp_path / "circle").symlink_to("other")
    (tmp_path / "other").symlink_to("circle")
    (tmp_path / "file").write_text("mine")
    (tmp_path / "folder").mkdir()
    assert main(["plan", str(trip), option, str(tmp_path / name)]) == Exit.STORAGE
    told = capsys.readouterr()
    assert told.out == ""
    assert re.search("could not be written|cannot be made", told.err)
    for fine in ("a/new/folder", "folder/a", "-", "/dev/null", "/dev/full"):
        foresee(tmp_path / fine)
    foresee(tmp_path / "folder", folder=True)
    foresee(tmp_path / "a" / "b", folder=True)


@pytest.mark.parametrize(
    "words",
    [
        "fit t.toml l.csv --profile {}", "logbook export {}", "new {}", "day d.toml --papers {}",
        "lane l.toml --papers {}", "lane l.toml --year {}", "plan --from a --to b --save {}",
        "inspect t.toml --list {}", "forecast a --csv {}",
    ],
)  # fmt: skip
def test_every_command_tells_it_before_the_work(
    words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A log was fitted and a logbook packed before it was said that there is nowhere to put it."""
    monkeypatch.setattr(f"planner.cli.{words.split()[0]}.run", lambda _args: pytest.fail("at work"))
    (tmp_path / "file").write_text("mine")
    (tmp_path / "circle").symlink_to("other")
    (tmp_path / "other").symlink_to("circle")
    for wanted in (tmp_path / "file" / "in", tmp_path / "circle", tmp_path / "circle" / "in"):
        assert main(words.format(wanted).split()) == Exit.STORAGE
        told = f"({wanted}|{wanted.parent}).*(could not be written|cannot be made)"
        assert re.search(told, capsys.readouterr().err)


@pytest.mark.parametrize(
    "words", ["check {}", "logbook import {}", "day {}", "lane {}", "fit {trip} {}", "check {weather}"]
)
def test_a_circle_of_links_is_told_by_its_name_and_at_once(
    words: str, trip: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of what is read, too, and of what a file names: two seconds of work at most."""
    (tmp_path / "circle").symlink_to("other")
    (tmp_path / "other").symlink_to("circle")
    named = tmp_path / "named.toml"
    named.write_text(trip.read_text("utf-8").replace("nuc-pickup-weather.csv", "circle"), "utf-8")
    began = time.process_time()
    code = main(words.format(tmp_path / "circle", trip=trip, weather=named).split())
    assert time.process_time() - began < 2.0
    assert code in (Exit.INPUT, Exit.STORAGE)
    told = capsys.readouterr().err
    assert "circle" in told
    assert "trouble.log" not in told


def test_what_every_argument_that_is_a_path_is_for_is_known() -> None:
    """Or nobody would foresee that it cannot be written, nor keep it off what is read."""
    read = {"file", "extract", "engine", "repair"}  # nothing is written beside them, or over them on purpose
    known = {*READ_FROM, *WRITTEN_TO, *BUILT_ON, *FILLED, *read}
    for name in COMMANDS:
        parsers = [_parser([name])._subparsers._group_actions[0].choices[name]]  # type: ignore[union-attr, index]
        for parser in parsers:
            for action in parser._actions:
                if isinstance(action.choices, dict):
                    parsers += action.choices.values()
                assert action.type is not Path or action.dest in known, f"{name}: {action.dest}"


def test_folders_that_are_missing_are_made_for_whatever_is_written(tmp_path: Path) -> None:
    """Nothing is foreseen to stand in the way of them, so that nothing may."""
    for words in ("logbook export {}/a/l.zip", "new {}/b/c/trip.toml"):
        assert main(words.format(tmp_path).split()) == 0
    assert sorted(path.name for path in tmp_path.rglob("*.*")) == ["l.zip", "trip.toml"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes")
def test_what_is_no_file_is_written_into_and_stays(tmp_path: Path) -> None:
    """``--json /dev/null`` put a file in the place of the device, for whoever may."""
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    with pytest.raises(SkepwayError, match="could not be written"):
        write_text(pipe, "nobody reads")
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_text(pipe, "answer")
        assert os.read(reader, 100) == b"answer"
    finally:
        os.close(reader)
    assert pipe.is_fifo()
    assert os.listdir(tmp_path) == ["pipe"]
