"""Background work: newest wins, nothing stale is applied, closing waits."""

from __future__ import annotations

import sys
import threading
import time

import pytest

from planner.errors import Cancelled, ServiceError
from planner.ui.work.runner import BrokenError, Runner


@pytest.fixture
def runner(qapp):
    made = Runner()
    yield made
    made.close()


def test_the_answer_is_applied_on_the_gui_thread(runner: Runner, qtbot) -> None:
    seen = []
    runner.start(
        "queue",
        lambda watch: threading.get_ident(),
        lambda made: seen.append((made, threading.get_ident())),
    )
    qtbot.waitUntil(lambda: bool(seen))
    worked, applied = seen[0]
    assert applied == threading.get_ident() != worked


def test_a_newer_request_stops_the_older_and_only_the_newest_is_applied(runner: Runner, qtbot) -> None:
    applied, stopped = [], []

    def slow(watch):
        while not watch.should_stop():
            time.sleep(0.005)
        stopped.append(True)
        raise Cancelled

    runner.start("queue", slow, applied.append)
    runner.start("queue", lambda watch: "newest", applied.append)
    qtbot.waitUntil(lambda: applied == ["newest"] and stopped == [True])
    qtbot.wait(30)
    assert applied == ["newest"]
    assert not runner.busy()


def test_an_answer_overtaken_while_under_way_is_dropped(runner: Runner, qtbot) -> None:
    applied = []
    gate = threading.Event()
    runner.start("queue", lambda watch: gate.wait(5) and "old", applied.append)
    runner.stop("queue")
    gate.set()
    qtbot.wait(60)
    assert applied == []


def test_lanes_do_not_disturb_each_other(runner: Runner, qtbot) -> None:
    applied = []
    for queue in ("one", "two"):
        runner.start(queue, lambda watch, queue=queue: queue, applied.append)
    qtbot.waitUntil(lambda: sorted(applied) == ["one", "two"])


def test_explained_errors_reach_the_asker(runner: Runner, qtbot) -> None:
    told = []

    def fail(watch):
        raise ServiceError("roads", "no answer", "Try again")

    runner.start("queue", fail, lambda made: None, told.append)
    qtbot.waitUntil(lambda: bool(told))
    assert told[0].service == "roads"


def test_a_bug_reaches_the_hook_and_frees_the_lane(
    runner: Runner, qtbot, monkeypatch: pytest.MonkeyPatch
) -> None:
    hooked, told = [], []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: hooked.append(kind))
    runner.start("queue", lambda watch: 1 / 0, lambda made: None, told.append)
    qtbot.waitUntil(lambda: bool(told))
    assert hooked == [ZeroDivisionError]
    assert isinstance(told[0], BrokenError)
    assert not runner.busy("queue")


def test_progress_is_told_for_the_newest_only(runner: Runner, qtbot) -> None:
    shares = []
    runner.progress.connect(lambda queue, share: shares.append((queue, share)))

    def work(watch):
        watch.on_progress(0.5)
        return

    runner.start("queue", work, lambda made: None)
    qtbot.waitUntil(lambda: shares == [("queue", 0.5)])


def test_closing_waits_for_the_threads(qapp) -> None:
    runner = Runner()
    begun, ended = threading.Event(), []

    def slow(watch):
        begun.set()
        while not watch.should_stop():
            time.sleep(0.005)
        time.sleep(0.05)
        ended.append(True)

    runner.start("queue", slow, lambda made: None)
    assert begun.wait(60.0)
    runner.close()
    assert ended == [True]
