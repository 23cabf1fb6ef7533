"""Places and roads as the window asks for them: suggestions, the map's click, places remembered, tracks imported."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Protocol

from PySide6.QtCore import QLocale, QObject, Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from planner.errors import SkepwayError
from planner.ui.look import strings as s
from planner.ui.trip.document import Document, FieldPath
from planner.ui.trip.edits import waypoints
from planner.ui.trip.place_edit import Suggestion
from planner.ui.work.data_source import DataSource
from planner.ui.work.runner import Runner, Watch

TRIP_ENDINGS = (".toml",)


class Taker(Protocol):
    """Somewhere a place can be put."""

    take: Callable[[dict[str, Any]], None]


class Places(QObject):
    """Asks the sources on a worker thread and hands answers to whoever asked."""

    said = Signal(str)
    failed = Signal(object)
    picking = Signal(bool)

    def __init__(self, window: QWidget, document: Document, runner: Runner, data_source: DataSource) -> None:
        super().__init__(window)
        self._window, self.document, self.runner, self.data_source = window, document, runner, data_source
        self.country = QLocale.territoryToCode(QLocale.system().territory())
        self._taker: Taker | None = None

    # -- asked for by name -----------------------------------------------------------------------

    def __call__(
        self, text: str, answer: Callable[[list[Suggestion]], None], *, complete: bool = False
    ) -> None:
        """Places like ``text`` while it is typed, or for good once it is ``complete``."""
        look = self.data_source.find if complete else self.data_source.suggest
        near, country = self._near(), self.country
        self.runner.start(
            "find" if complete else "suggest", lambda _: look(text, near, country), answer, self.failed.emit
        )

    def find_all(self, texts: Sequence[str], answer: Callable[[Mapping[str, dict[str, Any]]], None]) -> None:
        """The best place for each of several texts."""
        near, country = self._near(), self.country
        self.runner.start(
            "find all", lambda _: self.data_source.find_all(texts, near, country), answer, self.failed.emit
        )

    def region(self, spot: FieldPath, place: dict[str, Any], answer: Callable[[str], None]) -> None:
        """The region a place lies in."""
        held = dict(place)
        self.runner.start(f"region {spot}", lambda _: self.data_source.region(held), answer)

    def _near(self) -> list[tuple[float, float]]:
        return [(p["lat"], p["lon"]) for p in waypoints(self.document.draft) if "lat" in p and "lon" in p]

    # -- asked for by hand -----------------------------------------------------------------------

    def pick(self, taker: Taker) -> None:
        """The next click on the map is for ``taker``."""
        self._taker = taker
        self.picking.emit(True)

    def forget_pick(self) -> None:
        """No click on the map is waited for any more."""
        if self._taker is not None:
            self._taker = None
            self.picking.emit(False)

    def picked(self, lat_deg: float, lon_deg: float) -> None:
        taker = self._taker
        self.forget_pick()
        if taker is not None:
            take = taker.take
            self(
                f"{lat_deg:.5f}, {lon_deg:.5f}",
                lambda found: take(found[0].place) if found else None,
                complete=True,
            )

    def remember(self, place: dict[str, Any]) -> None:
        said = s.say(s.PLACE_KEPT, name=place.get("name", ""))
        self.runner.start(
            "remember",
            lambda _: self.data_source.remember(place),
            lambda _: self.said.emit(said),
            self.failed.emit,
        )

    # -- roads -----------------------------------------------------------------------------------

    def import_road(self, path: Path) -> None:
        """Use a recorded track as the road."""

        def work(_: Watch) -> dict[str, Any]:
            return self.data_source.import_road(path, dict(self.document.draft))

        def take(draft: dict[str, Any]) -> None:
            self.document.edit_many({(key,): value for key, value in draft.items()}, s.say(s.ACT_IMPORT))

        self.runner.start("import", work, take, self._not_imported)

    def _not_imported(self, error: SkepwayError) -> None:
        self.failed.emit(error)

    def browse_road(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self._window,
            s.say(s.DIALOG_ROAD),
            str(self.document.base_folder or Path.home()),
            s.say(s.FILTER_ROAD),
        )
        if name:
            self.import_road(Path(name))
