"""Units, palette, type size, tiles and the settings window: how everything is shown, not what."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QObject

from planner.model.catalogue import Catalogue
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.units import METRIC, US
from planner.words import Voice, set_voice

LEAST_SCALE, MOST_SCALE = 0.7, 2.5


class Looks(QObject):
    """Changes how the window looks and keeps it so."""

    def __init__(self, window: Any) -> None:
        super().__init__(window)
        self._window = window
        self._speak()

    def set_units(self, name: str) -> None:
        window = self._window
        window.preferences.units = name
        window.preferences.save()
        window.units = US if name == "us" else METRIC
        self._speak()
        for part in self._measured():
            part.set_units(window.units)
        window._summarise()

    def _speak(self) -> None:
        """The window's own sentences are English: days or units alone in another language would be a mixture."""
        set_voice(Voice(units=self._window.units))

    def set_language(self, name: str) -> None:
        """In which language sheets are written from now on, where nothing else is chosen for one."""
        self._window.preferences.language = name
        self._window.preferences.save()
        self._window.session.language = name

    def _measured(self) -> Sequence[Any]:
        """Whatever writes quantities."""
        w = self._window
        return (w.session, w.map, w.board, w.curves, w.strip, w.load_editor, w.book, w.when_pane)

    def set_theme(self, name: str) -> None:
        self._window.preferences.theme = name
        self._window.preferences.save()
        theme.apply(theme.application(), name, self._window.preferences.scale)

    def scale_type(self, factor: float) -> None:
        preferences = self._window.preferences
        preferences.scale = min(max(preferences.scale * factor, LEAST_SCALE), MOST_SCALE)
        preferences.save()
        theme.apply(theme.application(), preferences.theme, preferences.scale)

    def set_beside(self, on: bool) -> None:
        """Whether the forecast to both sides of the road is asked for and shown."""
        window = self._window
        window.preferences.beside_road = on
        window.preferences.save()
        window.map.set_beside(on)
        window.session.aside.set_beside(on)

    def choose_tiles(self) -> None:
        """Ask for a tile server."""
        from planner.ui.map.tile_dialog import TileDialog

        preferences = self._window.preferences
        dialog = TileDialog(self._window, preferences.tile_url, preferences.tile_attribution)
        if dialog.exec():
            preferences.tile_url = dialog.url.text().strip()
            preferences.tile_attribution = dialog.credit.text().strip()
            preferences.save()
            self.show_tiles()

    def show_tiles(self) -> None:
        """Lay the user's tiles under the road, if there are any."""
        window = self._window
        if not window.preferences.tile_url:
            window.map.show_tiles(None, "")
            return
        from planner.ui.map.tiles import Tiles

        source = window.data_source
        tiles = Tiles(window.preferences.tile_url, source.agent(), source.tile_folder())
        window.map.show_tiles(tiles, window.preferences.tile_attribution)

    def show_settings(self) -> None:
        """Everything that is the user's and not the trip's."""
        from planner.ui.settings.window import SettingsWindow

        dialog = SettingsWindow(
            self._window, self._window.preferences, self, _drivable(self._window.session.catalogue)
        )
        dialog.kept.connect(self._window.notice.say)
        dialog.open()


def _drivable(catalogue: Catalogue) -> dict[str, str]:
    """The bundled vehicles one of one's own can be like: id and title."""
    from planner.store.catalogue import bundled_vehicles

    return {name: s.say(catalogue.vehicles[name].title) for name in bundled_vehicles()}
