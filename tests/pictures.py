"""Writes pictures of the window's main states, to be looked at: ``python -m tests.pictures [folder [size]]``.

Those of the README are renewed by ``python -m tests.pictures readme``.

Everything is real: the demo trips, the model, the widgets, drawn offscreen in three palettes, at 1024 x 640, 1280 x 800
and 1920 x 1080, and at twice the pixels as on a laptop of 1920 x 1080.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
DEMOS = ROOT / "resources" / "demo"
SIZES = {
    "1024": (1024, 640, 1),
    "1280": (1280, 800, 1),
    "1920": (1920, 1080, 1),
    "960@2x": (960, 540, 2),
    "1280@2x": (1280, 800, 2),
}
PATIENCE_S = 1200.0
SEASON_FROM_S = 1_811_808_000.0
"""1 June 2027."""


def main() -> None:
    if sys.argv[1:] == ["readme"]:
        _readme()
        return
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "pictures")
    folder.mkdir(parents=True, exist_ok=True)
    if len(sys.argv) > 2:
        _take(folder, sys.argv[2])
        return
    for size, (_, _, scale) in SIZES.items():
        home = tempfile.mkdtemp()
        environment = {
            **os.environ,
            "QT_QPA_PLATFORM": "offscreen",
            "QT_SCALE_FACTOR": str(scale),
            "SKEPWAY_HOME": home,
        }
        subprocess.run(
            [sys.executable, "-m", "tests.pictures", str(folder), size], cwd=ROOT, env=environment, check=True
        )


class Studio:
    """A window that can be put into a state and pictured."""

    def __init__(self, folder: Path, size: str) -> None:
        from PySide6.QtWidgets import QApplication

        from planner.folders import config_dir, data_dir
        from planner.store.catalogue import load_catalogue
        from planner.ui.look import theme
        from planner.ui.trip.preferences import Preferences
        from planner.ui.window import Window
        from planner.ui.work.data_source import DataSource

        self.folder, self.size = folder, size
        self.app = QApplication([])
        theme.apply(self.app)
        preferences = Preferences.load(config_dir() / "window.json")
        self.window = Window(load_catalogue(), DataSource(), preferences, data_dir() / "recovery")
        wide, high, _ = SIZES[size]
        self.window.resize(wide, high)
        self.window.show()
        self.window.map.show_ground(self.window.data_source.ground())

    def wait(self, done: Callable[[], bool]) -> None:
        end = time.monotonic() + PATIENCE_S
        while not done():
            self.app.processEvents()
            time.sleep(0.003)
            if time.monotonic() > end:
                raise TimeoutError("the window did not come to rest")
        for _ in range(10):
            self.app.processEvents()
            time.sleep(0.01)

    def settle(self) -> None:
        window = self.window
        self.wait(
            lambda: (
                window.session.at_rest
                and window.curve_panel.filled
                and not window.curve_panel.stale
                and not window.board_panel.stale
                and not window.runner.busy()
            )
        )

    def open(self, name: str) -> None:
        self.window.open_demo(DEMOS / f"{name}.toml")
        self.settle()

    def shoot(self, name: str, what=None) -> None:
        self.wait(lambda: True)
        picture = (what or self.window).grab()
        picture.save(str(self.folder / f"{name}-{self.size}.png"))


def _take(folder: Path, size: str) -> None:
    studio = Studio(folder, size)
    window = studio.window
    studio.shoot("first-page")
    window.new_trip()
    studio.wait(lambda: not window.runner.busy() and bool(window.answer_bar.headline.text()))
    studio.shoot("new-trip")
    studio.open("nuc-pickup")
    for step, name in enumerate(("route", "load", "when")):
        window.steps.turn(step)
        studio.shoot(f"buyer-{name}")
    _compare(studio)
    for name in ("dark", "night"):
        window.looks.set_theme(name)
        studio.shoot(f"compare-{name}")
    window.looks.set_theme("light")
    _stale(studio)
    _pages(studio)
    _sheets(studio)
    _faults(studio)
    window.looks.scale_type(1.1**6)
    studio.shoot("larger-type")
    window.looks.scale_type(1.1**-6)
    studio.open("night-pollination")
    window.looks.set_theme("dark")
    window.steps.turn(1)
    studio.shoot("mover-dark")
    studio.open("swarm-run")
    window.looks.set_theme("night")
    studio.shoot("club-night")
    window.looks.set_theme("light")
    window._asked_to_close = True
    window.close()


def _readme() -> None:
    """The pictures of the README: the plan with two departures pinned, the same at night, how sure, what helps."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    os.environ["SKEPWAY_HOME"] = tempfile.mkdtemp()
    folder = Path(tempfile.mkdtemp())
    studio = Studio(folder, "1280")
    window = studio.window
    studio.open("nuc-pickup")
    window.steps.turn(1)
    best = window.session.answer.best
    worse = next(
        one
        for one in reversed(window.session.answer.candidates)
        if abs(one.leave_s - best.leave_s) > 3 * 3600.0 and 15 < one.harm_of_100.value < 40
    )
    _compare(studio, worse)
    studio.wait(lambda: window.showing.reserve is not None)
    studio.settle()
    studio.shoot("plan")
    window.looks.set_theme("night")
    studio.shoot("night")
    window.looks.set_theme("light")
    for number, name in ((1, "sure"), (2, "helps")):
        if name == "helps":
            window.session.look_at(worse)
            studio.settle()
        window.book.turn(number)
        page = window.book.page
        studio.wait(lambda page=page: all(query.done for query in page.queries()))
        studio.wait(lambda: not window.runner.busy())
        studio.shoot(name)
    for name in ("plan", "night", "sure", "helps"):
        (ROOT / "resources" / "pictures" / f"{name}.png").write_bytes(
            (folder / f"{name}-1280.png").read_bytes()
        )
    window._asked_to_close = True
    window.close()


def _compare(studio: Studio, other=None) -> None:
    """The best pinned as A, another, or the middle of the list, as B."""
    session = studio.window.session
    answer = session.answer
    session.pin("A", answer.best)
    session.pin("B", other or answer.candidates[len(answer.candidates) // 2])
    studio.wait(lambda: bool(session.verdict))
    studio.settle()
    studio.shoot("compare")


def _stale(studio: Studio) -> None:
    """Dimmed, because the hand is on a slider."""
    window = studio.window
    slider = window.load_editor.box.bees.slider
    slider.setValue(slider.value() - 2)
    studio.wait(lambda: window.board_panel.stale and window.answer_bar.progress.isVisible())
    studio.shoot("working")
    window.document.stack.undo()
    studio.settle()


def _pages(studio: Studio) -> None:
    """How sure, what helps and standing still, of the trip that is open; then a season and a logger's box."""
    book = studio.window.book
    for number, name in ((1, "page-sure"), (2, "page-helps"), (3, "page-standing")):
        book.turn(number)
        studio.wait(lambda: all(query.answer is not None for query in book.page.queries()))
        studio.wait(lambda: not studio.window.runner.busy())
        studio.shoot(name)
    _season(studio)
    _my_box(studio)
    book.turn(0)
    studio.settle()


def _season(studio: Studio) -> None:
    """A short run of invented weeks; a whole year looks the same and takes a minute."""
    from planner.store.weatherfile import write_weather
    from tests.app.years import season_weather

    path = Path(tempfile.mkdtemp()) / "invented-hours.csv"
    write_weather(season_weather(SEASON_FROM_S, 65), path)
    studio.window.book.turn(4)
    page = studio.window.book.page
    page.take(path)
    studio.wait(lambda: page.season.done)
    studio.shoot("page-season")


def _my_box(studio: Studio) -> None:
    """First a question the log leaves open, then the fit."""
    from tests.ui.synthetic_log import invented_log

    path = Path(tempfile.mkdtemp()) / "logger.csv"
    session = studio.window.session
    path.write_text(invented_log(session.plan, session.choice, session.catalogue))
    studio.window.book.turn(5)
    page = studio.window.book.page
    page.document.edit(("file",), str(path))
    page.start()
    studio.wait(lambda: page.fit.trouble is not None)
    studio.shoot("page-my-box-asked")
    page.document.edit(("zone",), session.plan.trip.origin.zone)
    page.start()
    studio.wait(lambda: page.fit.done)
    studio.shoot("page-my-box")


def _sheets(studio: Studio) -> None:
    for name, show in (
        ("cautions", studio.window.sheets.show_cautions),
        ("why", studio.window.sheets.show_reasons),
        ("read", studio.window.sheets.read_picture),
    ):
        show()
        studio.shoot(name, studio.window.sheets.sheet)
        studio.window.sheets.sheet.close()


def _faults(studio: Studio) -> None:
    window = studio.window
    window.steps.turn(2)
    window.document.edit(("window", "to"), "2020-01-01T00:00")
    window.document.edit(("title",), "")
    studio.wait(lambda: len(window.faults) >= 2)
    studio.shoot("faults")
    window.document.stack.undo()
    window.document.stack.undo()
    studio.settle()


if __name__ == "__main__":
    main()
