"""Places and roads as the window asks for them: suggestions, the map's click, places remembered, tracks imported."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QFileDialog, QWidget

from planner.errors import SkepwayError
from planner.ui.look import strings as s
from planner.ui.trip.document import Document
from planner.ui.trip.edits import waypoints
from planner.ui.work.data_source import DataSource
from planner.ui.work.place_search import PlaceSearch
from planner.ui.work.runner import Runner, Watch

TRIP_ENDINGS = (".toml",)


class Taker(Protocol):
    """Somewhere a place can be put."""

    take: Callable[[dict[str, Any]], None]


class Places(PlaceSearch):
    """Asks the sources for the places of a trip and hands answers to whoever asked."""

    picking = Signal(bool)

    def __init__(self, window: QWidget, document: Document, runner: Runner, data_source: DataSource) -> None:
        super().__init__(window, runner, data_source, self._of_the_trip)
        self._window, self.document = window, document
        self._taker: Taker | None = None

    def _of_the_trip(self) -> list[tuple[float, float]]:
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
