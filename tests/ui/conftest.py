"""A real window, offscreen, in the light palette, with its own folders."""

from __future__ import annotations

import gc
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtWidgets import QApplication

from planner.app.answer import ask
from planner.model.catalogue import Catalogue
from planner.model.preparations import AS_DECLARED
from planner.ui.look import theme
from planner.ui.trip.preferences import Preferences
from planner.ui.window import Window
from planner.ui.work.data_source import DataSource
from tests.remembered import remember
from tests.small import small_swarm_run

DEMOS = Path(__file__).resolve().parents[2] / "resources" / "demo"
PATIENCE_MS = 240_000
"""Generous, because the machine may be busy; what must be quick is measured by name."""


@pytest.fixture(autouse=True)
def _light(qapp: QApplication) -> None:
    """Dressed anew only where a test before it undressed the application: that goes through every widget."""
    if not qapp.styleSheet() or theme.current() is not theme.THEMES["light"] or theme.stage.scale != 1.0:
        theme.apply(qapp, "light", 1.0)


@pytest.fixture
def anew() -> None:
    """Asked for by a test that looks at the working out itself: nothing is remembered."""


@pytest.fixture(autouse=True)
def _remembered(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    if "anew" not in request.fixturenames:
        remember(monkeypatch)


FEW = (8,)
"""Rounds of an answer in the tests of the window: what is shown is tested, not how sharp it is."""


@pytest.fixture(autouse=True)
def _few_samples(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(ask.ask.__kwdefaults__, "counts", FEW)
    monkeypatch.setitem(ask.ask.__kwdefaults__, "setups", (AS_DECLARED,))
    monkeypatch.setitem(ask.ask.__kwdefaults__, "otherwise", False)


@pytest.fixture(autouse=True)
def _bugs_fail(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A bug on a worker thread reaches the hook; here it fails the test."""
    caught: list[BaseException] = []
    monkeypatch.setattr(sys, "excepthook", lambda kind, error, trace: caught.append(error))
    yield
    assert not caught, caught


@pytest.fixture
def open_window(qtbot, tmp_path: Path, catalogue: Catalogue) -> Iterator[Callable[..., Window]]:
    """Makes windows that share one folder, as one user's would, and closes them at the end."""
    made: list[Window] = []

    def make(data_source: DataSource | None = None) -> Window:
        window = Window(
            catalogue,
            data_source or DataSource(),
            Preferences.load(tmp_path / "window.json"),
            tmp_path / "recovery",
        )
        qtbot.addWidget(window, before_close_func=lambda w: setattr(w, "_asked_to_close", True))
        made.append(window)
        window.resize(1280, 800)
        window.show()
        qtbot.waitExposed(window)
        return window

    yield make
    for window in made:
        window._asked_to_close = True
        window.close()


@pytest.fixture
def window(open_window: Callable[..., Window]) -> Window:
    return open_window()


@pytest.fixture
def settled(qtbot) -> Callable[[Window], None]:
    """Waits until a window shows a plan and the curves of its newest question."""

    def wait(window: Window) -> None:
        def done() -> None:
            assert window.session.at_rest
            assert window.curve_panel.filled
            assert not window.curve_panel.stale
            assert not window.board_panel.stale

        qtbot.waitUntil(lambda: _holds(done), timeout=PATIENCE_MS)

    return wait


def _holds(check: Callable[[], None]) -> bool:
    try:
        check()
    except AssertionError:
        return False
    return True


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


@pytest.fixture(autouse=True)
def _sweep() -> Iterator[None]:
    """Windows of earlier tests are collected here, on the GUI thread, and not while a worker runs."""
    yield
    gc.collect()
