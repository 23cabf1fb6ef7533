"""Start of the window, top to bottom: one application, the palette, the rooms below, the window, the loop."""

from __future__ import annotations

import sys
import threading
import traceback
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING

from planner.errors import SkepwayError

if TYPE_CHECKING:
    from planner.model.catalogue import Catalogue
    from planner.ui.window import Window


def main(arguments: Sequence[str] = ()) -> int:
    """Open the window, with a trip file if one is named; returns the exit code."""
    from PySide6.QtWidgets import QApplication

    running = QApplication.instance()
    app = running if isinstance(running, QApplication) else QApplication([sys.argv[0], *arguments])
    app.setApplicationName("Skepway")

    from planner.files import sweep
    from planner.folders import cache_dir, config_dir, data_dir
    from planner.ui.look import theme
    from planner.ui.trip.preferences import Preferences

    sweep(config_dir(), data_dir(), cache_dir())
    preferences = Preferences.load(config_dir() / "window.json")
    theme.apply(app, preferences.theme if preferences.theme in theme.THEMES else "light", preferences.scale)

    from planner.ui.window import Window
    from planner.ui.work.data_source import DataSource

    catalogue = _catalogue(_own_catalogue(config_dir(), data_dir()))
    with theme.dressed_once(app):
        window = Window(catalogue, DataSource(), preferences, data_dir() / "recovery")
    _catch_crashes(window)
    window.show()
    _fill_later(window)
    named = [Path(text) for text in arguments if not text.startswith("-")]
    if named:
        window.open_trip(named[0])
    return app.exec()


def _own_catalogue(folder: Path, data: Path) -> list[Path]:
    """The user's own boxes, places and numbers, laid over ours, then what was learnt of them from loggers."""
    own = folder / "catalogue.toml"
    return [*([own] if own.exists() else []), *sorted((data / "profiles").glob("*.toml"))]


def _catalogue(files: list[Path]) -> Catalogue:
    """Ours with the user's laid over it; where one of them cannot be read, ours alone rather than no window."""
    from planner.store.catalogue import load_catalogue

    try:
        return load_catalogue(*files)
    except SkepwayError as error:
        print(error, file=sys.stderr)
        return load_catalogue()


READ_LATER = ("scipy.special", "planner.app.plan.inputs")
"""What no window needs to stand, and the first trip does."""


def _fill_later(window: Window) -> None:
    """Read land, borders, towns and what only an answer needs once the window stands."""
    window.runner.start("warm", lambda _: [import_module(name) for name in READ_LATER], lambda _: None)
    window.looks.show_tiles()
    window.runner.start(
        "ground",
        lambda _: window.data_source.ground(),
        window.map.show_ground,
        window.troubles.tell,
    )


def _catch_crashes(window: Window) -> None:
    """A bug, on any thread, reaches the user as a message on the GUI thread; the recovery file is kept."""
    from PySide6.QtCore import QObject, Qt, Signal
    from PySide6.QtWidgets import QMessageBox

    from planner.ui.look import strings as s

    class Bell(QObject):
        rung = Signal(str)

    bell = Bell(window)

    def show(details: str) -> None:
        box = QMessageBox(QMessageBox.Icon.Critical, s.say(s.CRASH_TITLE), s.say(s.CRASH_TEXT), parent=window)
        box.setDetailedText(details)
        box.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        box.open()

    bell.rung.connect(show)

    def hook(kind: type[BaseException], error: BaseException | None, trace: TracebackType | None) -> None:
        traceback.print_exception(kind, error, trace)
        bell.rung.emit("".join(traceback.format_exception(kind, error, trace)))

    sys.excepthook = hook
    threading.excepthook = lambda crash: hook(crash.exc_type, crash.exc_value, crash.exc_traceback)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
