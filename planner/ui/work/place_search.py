"""Places by name, asked for on a worker thread: what every field for a place asks, whichever draft it writes."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from PySide6.QtCore import QLocale, QObject, Signal

from planner.ui.look import strings as s
from planner.ui.trip.document import FieldPath
from planner.ui.trip.place_edit import Suggestion
from planner.ui.work.data_source import DataSource
from planner.ui.work.runner import Runner

Near = Callable[[], Sequence[tuple[float, float]]]


class PlaceSearch(QObject):
    """Hands answers to whoever asked; ``near`` tells latitude and longitude of the places known already.

    Queues are named after ``whose`` draft asks: what one is asked for does not overtake what another is.
    """

    said = Signal(str)
    failed = Signal(object)

    def __init__(
        self, parent: QObject, runner: Runner, data_source: DataSource, near: Near, whose: str = ""
    ) -> None:
        super().__init__(parent)
        self.runner, self.data_source, self._near, self._whose = runner, data_source, near, whose
        self.country = QLocale.territoryToCode(QLocale.system().territory())

    def __call__(
        self, text: str, answer: Callable[[list[Suggestion]], None], *, complete: bool = False
    ) -> None:
        """Places like ``text`` while it is typed, or for good once it is ``complete``."""
        look = self.data_source.find if complete else self.data_source.suggest
        near, country = self._near(), self.country
        self._start(
            "find" if complete else "suggest", lambda: look(text, near, country), answer, self.failed.emit
        )

    def find_all(self, texts: Sequence[str], answer: Callable[[Mapping[str, dict[str, Any]]], None]) -> None:
        """The best place for each of several texts."""
        near, country = self._near(), self.country
        self._start(
            "find all", lambda: self.data_source.find_all(texts, near, country), answer, self.failed.emit
        )

    def region(self, spot: FieldPath, place: dict[str, Any], answer: Callable[[str], None]) -> None:
        """The region a place lies in."""
        held = dict(place)
        self._start(f"region {spot}", lambda: self.data_source.region(held), answer)

    def remember(self, place: dict[str, Any]) -> None:
        """Keep a place under its name."""
        said = s.say(s.PLACE_KEPT, name=place.get("name", ""))
        self._start(
            "remember",
            lambda: self.data_source.remember(place),
            lambda _: self.said.emit(said),
            self.failed.emit,
        )

    def _start(
        self,
        queue: str,
        look: Callable[[], Any],
        answer: Callable[[Any], None],
        failed: Callable[[Any], None] | None = None,
    ) -> None:
        self.runner.start(f"{self._whose} {queue}".strip(), lambda _: look(), answer, failed)
