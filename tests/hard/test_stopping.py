"""Commands asked to stop while at work: soon gone, with a shell's code, nothing torn and nothing left over."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import threading
import time
import traceback
from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from planner.app.common.executors import workers
from planner.bundled import resource_path
from planner.cli import check, lessons, stopping
from planner.cli.main import main
from planner.files import write_text
from planner.services.roads.engine import build_network
from tests.hard.test_disk import forked
from tests.services.test_engine_rules import extract, programs

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="forks"),
    pytest.mark.filterwarnings("ignore:.*fork:DeprecationWarning"),
]
CHECK = ["check", str(resource_path("demo", "swarm-run.toml"))]
ASKS = pytest.mark.parametrize("number", stopping.ASKS, ids=lambda number: signal.Signals(number).name)


@pytest.fixture
def passing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where passing folders go in this test."""
    monkeypatch.setattr(tempfile, "tempdir", str(folder := tmp_path / "passing"))
    folder.mkdir()
    return folder


@pytest.fixture(autouse=True)
def not_deaf() -> Iterator[None]:
    """Under nohup hang-ups are ignored, and commands leave what they were given so."""
    before = signal.signal(signal.SIGHUP, signal.SIG_DFL)
    yield
    signal.signal(signal.SIGHUP, before)


def stopped(words: list[str], said: Path) -> int:
    """The exit code of a command in a process of its own; what it says on the error stream stands in ``said``."""

    def work() -> int:
        signal.alarm(60)
        signal.signal(signal.SIGINT, signal.default_int_handler)
        with said.open("w", buffering=1) as sys.stderr:
            try:
                return main(words)
            except BaseException:
                traceback.print_exc()
                raise

    return forked(work)


def asking(number: int) -> Callable[..., Any]:
    """Stands in for a piece of work during which the command is asked to stop."""
    return lambda *_, **__: (signal.raise_signal(number), time.sleep(300))


@ASKS
def test_a_passing_folder_goes_with_the_command_that_is_stopped(
    number: int, passing: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(lessons, "demo_logbook", asking(number))
    assert stopped(["lessons", "--demo"], tmp_path / "said") == 128 + number
    assert (tmp_path / "said").read_text() == ""
    assert list(passing.iterdir()) == []


@ASKS
def test_a_file_half_written_is_the_old_one_and_its_litter_is_gone(
    number: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    there = tmp_path / "there" / "file"
    there.parent.mkdir()
    write_text(there, "old")
    monkeypatch.setattr(check, "run", lambda _: write_text(there, "new"))
    monkeypatch.setattr("planner.files.os.fsync", asking(number))
    assert stopped(CHECK, tmp_path / "said") == 128 + number
    assert there.read_text() == "old"
    assert [path.name for path in there.parent.iterdir()] == ["file"]


def test_what_the_surroundings_made_it_deaf_to_does_not_stop_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """``nohup``: the terminal may be shut."""
    real = check.run

    def run(args: Any) -> int:
        signal.raise_signal(signal.SIGHUP)
        return int(real(args))

    monkeypatch.setattr(check, "run", run)
    before = signal.signal(signal.SIGHUP, signal.SIG_IGN)
    try:
        assert stopped(CHECK, tmp_path / "said") == 0
    finally:
        signal.signal(signal.SIGHUP, before)


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")
def test_a_question_that_python_swallows_is_asked_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is raised while an object is thrown away is printed and forgotten, by the language's rules."""

    class Asking:
        def __del__(self) -> None:
            signal.raise_signal(signal.SIGTERM)

    def run(_: Any) -> int:
        Asking()
        time.sleep(300)
        return 0

    monkeypatch.setattr(check, "run", run)
    monkeypatch.setattr(stopping, "UNWOUND_WITHIN_S", 600.0)
    assert stopped(CHECK, tmp_path / "said") == 128 + signal.SIGTERM
    assert (tmp_path / "said").read_text() == ""


def test_asking_twice_does_not_break_the_tidying_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    left = tmp_path / "left"

    def run(_: Any) -> int:
        left.mkdir()
        try:
            signal.raise_signal(signal.SIGHUP)
        finally:
            signal.raise_signal(signal.SIGTERM)
            left.rmdir()
        return 0

    monkeypatch.setattr(check, "run", run)
    assert stopped(CHECK, tmp_path / "said") == 128 + signal.SIGHUP
    assert not left.exists()


def test_who_does_not_get_ready_is_left_as_it_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def run(_: Any) -> int:
        try:
            signal.raise_signal(signal.SIGTERM)
        finally:
            time.sleep(600)
        return 0

    monkeypatch.setattr(check, "run", run)
    monkeypatch.setattr(stopping, "UNWOUND_WITHIN_S", 0.1)
    assert stopped(CHECK, tmp_path / "said") == 128 + signal.SIGTERM


def test_a_command_leaves_the_signals_as_it_found_them() -> None:
    before = [signal.getsignal(number) for number in stopping.ASKS]
    assert main(CHECK) == 0
    assert [signal.getsignal(number) for number in stopping.ASKS] == before


def test_a_command_in_another_thread_runs_all_the_same() -> None:
    """Only a main thread can be asked."""
    codes: list[int] = []
    thread = threading.Thread(target=lambda: codes.append(main(CHECK)))
    thread.start()
    thread.join()
    assert codes == [0]


def test_ctrl_c_while_the_program_is_still_loading_says_nothing() -> None:
    """Raised at the import of the commands, where a traceback came."""
    told = """
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # whoever started the tests may have it ignored
class Asking:
    def find_spec(self, name, *_):
        if name == "planner.cli.main":
            signal.raise_signal(signal.SIGINT)
sys.meta_path.insert(0, Asking())
sys.argv = ["skepway", "check", "x"]
from planner.__main__ import main
main()
"""
    done = subprocess.run([sys.executable, "-c", told], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (-signal.SIGINT, "")


def test_an_engine_at_work_is_seen_out(tmp_path: Path) -> None:
    """It would have been waited for until a country was built."""
    engine = programs(tmp_path / "bin", f"echo $$ > {tmp_path}/number; echo begun; exec sleep 600")

    def stop(_: str) -> None:
        raise stopping.Stopped(signal.SIGTERM)

    with pytest.raises(KeyboardInterrupt):
        build_network(engine, extract(tmp_path), tmp_path / "tiles", on_line=stop)
    with pytest.raises(ProcessLookupError):
        os.kill(int((tmp_path / "number").read_text()), 0)
    assert not list(tmp_path.glob(".tiles*"))


def _number(_: int) -> int:
    return os.getpid()


@pytest.mark.slow
def test_processes_end_with_a_parent_that_is_killed(tmp_path: Path) -> None:
    """They waited for work for ever, 150 MB each."""
    told = tmp_path / "numbers"

    def work() -> None:
        with workers(2) as executor:
            assert executor is not None
            told.write_text(str(executor.submit(_number, 0).result()))
            os.kill(os.getpid(), signal.SIGKILL)

    assert forked(work) == -signal.SIGKILL
    until = time.monotonic() + 60.0
    while _lives(int(told.read_text())) and time.monotonic() < until:
        time.sleep(0.05)
    assert not _lives(int(told.read_text()))


def _lives(number: int) -> bool:
    """An orphan may stay in the table of processes where nobody sees it out; then it is dead all the same."""
    with suppress(OSError):
        return Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    return False


@pytest.mark.slow
def test_processes_are_deaf_to_what_a_terminal_tells_all(tmp_path: Path) -> None:
    """Each answered Ctrl-C with a traceback of its own."""
    with workers(2) as executor:
        assert executor is not None
        number = executor.submit(_number, 0).result()
        blocked = next(
            line for line in Path(f"/proc/{number}/status").read_text().splitlines() if "SigBlk" in line
        )
        mask = int(blocked.split()[1], 16)
        assert mask >> (signal.SIGINT - 1) & 1
        assert mask >> (signal.SIGHUP - 1) & 1
        assert not mask >> (signal.SIGTERM - 1) & 1
