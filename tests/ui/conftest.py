"""Real windows, offscreen, in the light palette: one that tests lend each other, and as many as a test makes itself."""

from __future__ import annotations

import gc
import sys
import time
from collections import Counter
from collections.abc import Callable, Hashable, Iterator
from functools import partial
from pathlib import Path

import pytest
from PySide6.QtCore import QCoreApplication, QEvent
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QFileDialog

from planner.app.advice import water
from planner.app.answer import ask
from planner.app.season import chart
from planner.app.standing import reserve, tipping
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.ui.look import theme
from planner.ui.trip.preferences import Preferences
from planner.ui.window import Window
from planner.ui.work.data_source import DataSource
from tests.remembered import forgetful, remember
from tests.small import small_swarm_run
from tests.ui.lent import USUAL_SIZE, Lender, emptied

DEMOS = Path(__file__).resolve().parents[2] / "resources" / "demo"
PATIENCE_MS = 240_000
"""Generous, because the machine may be busy; what must be quick is measured by name."""


@pytest.fixture(autouse=True)
def _light(qapp: QApplication) -> None:
    in_light(qapp)


def in_light(qapp: QApplication) -> None:
    """Dressed anew only where a test before it undressed the application: that goes through every widget."""
    if not qapp.styleSheet() or theme.current() is not theme.THEMES["light"] or theme.stage.scale != 1.0:
        theme.apply(qapp, "light", 1.0)


@pytest.fixture
def anew() -> Iterator[None]:
    """Asked for by a test that looks at the working out itself: nothing is remembered."""
    with forgetful():
        yield


FEW = (8,)
"""Rounds of an answer in the tests of the window: what is shown is tested, not how sharp it is."""

FEWER = ((reserve.sampled_reserve, 4), (water.water_plan, 16))
"""Samples of what the pages ask further, for the same reason."""


@pytest.fixture(scope="module", autouse=True)
def _habits() -> Iterator[None]:
    """Answers at hand are remembered, and worked out with few samples."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setitem(ask.ask.__kwdefaults__, "counts", FEW)
        patch.setitem(ask.ask.__kwdefaults__, "setups", (AS_DECLARED,))
        patch.setitem(ask.ask.__kwdefaults__, "otherwise", False)
        for use_case, samples in FEWER:
            patch.setitem(use_case.__kwdefaults__, "samples", samples)
        patch.setattr(tipping, "HALVING_SPACING_K", 1.0)
        patch.setattr(chart, "SAMPLES", 4)
        remember(patch)
        yield


@pytest.fixture
def qtbot(qtbot):
    """As patient as a busy machine needs, where a test names no patience of its own."""
    for name in ("waitUntil", "waitSignal", "waitExposed"):
        setattr(qtbot, name, partial(getattr(qtbot, name), timeout=PATIENCE_MS))
    return qtbot


@pytest.fixture(autouse=True)
def _bugs_fail(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A bug on a worker thread reaches the hook; here it fails the test."""
    caught: list[BaseException] = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: caught.append(error))
    yield
    assert not caught, caught


@pytest.fixture(autouse=True)
def _nobody_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """A dialog that waits for a person would hold the suite up for ever: it fails, unless the test answers it."""

    def unanswered(*_: object, **__: object) -> tuple[str, str]:
        raise AssertionError("a dialog was opened that nobody answers")

    for name in ("getOpenFileName", "getOpenFileNames", "getSaveFileName", "getExistingDirectory"):
        monkeypatch.setattr(QFileDialog, name, unanswered)


@pytest.fixture
def open_window(
    qapp: QApplication, qtbot, tmp_path: Path, catalogue: Catalogue
) -> Iterator[Callable[..., Window]]:
    """Makes windows that share one folder, as one user's would, and closes them at the end."""
    made: list[Window] = []

    def make(data_source: DataSource | None = None) -> Window:
        preferences = Preferences.load(tmp_path / "window.json")
        with theme.dressed_once(qapp):
            window = Window(catalogue, data_source or DataSource(), preferences, tmp_path / "recovery")
        qtbot.addWidget(window, before_close_func=lambda w: setattr(w, "_asked_to_close", True))
        made.append(window)
        window.resize(*USUAL_SIZE)
        window.show()
        qtbot.waitExposed(window)
        return window

    yield make
    for window in made:
        window._asked_to_close = True
        window.close()


@pytest.fixture(scope="session")
def lender(qapp: QApplication, catalogue: Catalogue, tmp_path_factory) -> Iterator[Lender]:
    lender = Lender(partial(_made, qapp, catalogue, tmp_path_factory.mktemp("lent")), emptied)
    yield lender
    lender.retire()


def _made(qapp: QApplication, catalogue: Catalogue, folder: Path) -> Window:
    with theme.dressed_once(qapp):
        preferences = Preferences.load(folder / "window.json")
        window = Window(catalogue, DataSource(), preferences, folder / "recovery")
    window.resize(*USUAL_SIZE)
    window.show()
    return window


@pytest.fixture
def window(lender: Lender, _light: None, qtbot) -> Iterator[Window]:
    """On its first page, as new: lent by one test to the next. What begins or closes a window makes its own."""
    window = lender.lend()
    window.activateWindow()  # as one just shown has the keyboard
    qtbot.waitUntil(window.isActiveWindow)
    yield window
    lender.take_back()


@pytest.fixture
def settled(qtbot) -> Callable[[Window], None]:
    """Waits until a window shows a plan and the curves of its newest question."""
    return lambda window: qtbot.waitUntil(lambda: _at_rest(window))


def _at_rest(window: Window) -> bool:
    return (
        window.session.at_rest
        and window.curve_panel.filled
        and not window.curve_panel.stale
        and not window.board_panel.stale
    )


@pytest.fixture(scope="session")
def small_trip(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The smallest demo, cut smaller."""
    return small_swarm_run(tmp_path_factory.mktemp("small"))


@pytest.fixture
def swarm_run(window: Window, settled, small_trip: Path) -> Window:
    """The smallest demo, cut smaller and worked out."""
    window.open_demo(small_trip)
    settled(window)
    return window


@pytest.fixture(scope="session")
def _standing(
    qapp: QApplication, catalogue: Catalogue, small_trip: Path, tmp_path_factory
) -> Iterator[Lender]:
    folder = tmp_path_factory.mktemp("standing")

    def make() -> Window:
        with pytest.MonkeyPatch.context() as patch:
            patch.setenv("SKEPWAY_HOME", str(folder))
            window = _made(qapp, catalogue, folder)
            window.open_demo(small_trip)
            _wait(lambda: _at_rest(window))
        return window

    lender = Lender(make, _looked_at)
    yield lender
    lender.retire()
    swept()


def _looked_at(window: Window) -> Counter[Hashable]:
    """The plan turned to again and whatever was asked answered; what may not be changed by looking."""
    window.book.turn(0)
    _wait(lambda: not window.runner.busy())
    session, document = window.session, window.document
    best = session.answer.best if session.answer else None
    held = document.draft, document.stack.count(), window.units.name, session.candidate is best, *session.pins
    given_up = [
        query.queue for page in window.book.made.values() for query in page.queries() if query.stopped
    ]
    return Counter([str(held), *given_up])


def _wait(done: Callable[[], bool]) -> None:
    deadline = time.monotonic() + PATIENCE_MS / 1000.0
    while not done():
        assert time.monotonic() < deadline
        QTest.qWait(10)


@pytest.fixture
def standing_run(_standing: Lender, _light: None) -> Iterator[Window]:
    """The same, made once for all tests of a module that look at it and leave draft, units and choice as they are.

    Not for longer: with its pages made it would be dressed anew with every other window.
    """
    yield _standing.lend()
    _standing.take_back()


@pytest.fixture(autouse=True)
def _sweep() -> Iterator[None]:
    """Windows of earlier tests are collected here, on the GUI thread, and not while a worker runs."""
    yield
    swept()


def swept() -> None:
    """What is to be deleted is: a window that is only closed is dressed anew with every other."""
    QCoreApplication.sendPostedEvents(None, QEvent.Type.DeferredDelete)
    gc.collect()
