"""The settings window on real widgets: what is set is kept, and vehicles of one's own become rows of the catalogue."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QWheelEvent
from PySide6.QtWidgets import QAbstractSpinBox, QApplication, QComboBox, QWidget

from planner.folders import config_dir
from planner.services.settings import load_settings
from planner.store.catalogue import load_catalogue
from planner.ui.settings.window import SettingsWindow
from planner.ui.trip.preferences import Preferences
from planner.ui.window import Window
from planner.words import current
from planner.words.catalogue import source, topics, translation, words_folder

PAPERS = 6
LEFT = Qt.MouseButton.LeftButton


@pytest.fixture
def settings(window: Window, home: Path, qtbot) -> SettingsWindow:
    window.looks.show_settings()
    made = window.findChild(SettingsWindow)
    qtbot.waitExposed(made)
    return made


def test_what_is_typed_is_kept_in_settings_and_preferences(window: Window, settings, qtbot) -> None:
    settings.contact.setFocus()
    qtbot.keyClicks(settings.contact, "bees@example.org")
    settings.yard.setText("Ludlow")
    settings.harm.setValue(4)
    settings.keep()
    assert load_settings().contact == "bees@example.org"
    assert load_settings().tolerance.harm_of_100 == 4
    assert window.preferences.home_yard == "Ludlow"


def test_a_vehicle_of_ones_own_with_colour_places_and_room_is_loaded_with_the_catalogue(
    window: Window, settings, qtbot
) -> None:
    own = settings.own_vehicles
    settings.tabs.setCurrentWidget(own)
    qtbot.mouseClick(own.add, LEFT)
    qtbot.keyClicks(QApplication.focusWidget(), "Grey van")
    own.like.setCurrentIndex(own.like.findData("van"))
    own.like.activated.emit(own.like.currentIndex())
    own.colour.setCurrentIndex(own.colour.findData("white"))
    own.colour.activated.emit(own.colour.currentIndex())
    first, *others = own.places
    own.places[first][1].setValue(8)
    for name in others:
        own.places[name][0].setChecked(False)
    settings.keep()
    catalogue = load_catalogue(config_dir() / "catalogue.toml")
    named = [name for name, vehicle in catalogue.vehicles.items() if vehicle.title == "Grey van"]
    assert len(named) == 1
    places = [place for place in catalogue.loading_places.values() if place.vehicle == named[0]]
    assert [place.capacity_boxes for place in places] == [8]
    assert all(place.colour in ("", "white") for place in places)


def test_a_vehicle_taken_away_is_gone_and_one_without_a_name_is_refused_in_words(
    window: Window, settings, qtbot
) -> None:
    own = settings.own_vehicles
    settings.tabs.setCurrentWidget(own)
    qtbot.mouseClick(own.add, LEFT)
    own.title.clear()
    own.title.textEdited.emit("")
    settings.keep()
    assert settings.isVisible()
    assert "name" in settings.fault.text().lower()
    qtbot.mouseClick(own.remove, LEFT)
    settings.keep()
    assert not settings.isVisible()
    assert not (config_dir() / "catalogue.toml").exists() or not load_catalogue(
        config_dir() / "catalogue.toml"
    ).vehicles.get("own_vehicle_1")


def test_no_turn_of_the_wheel_changes_a_setting(window: Window, settings, qtbot) -> None:
    own = settings.own_vehicles
    qtbot.mouseClick(own.add, LEFT)
    editors = [*settings.findChildren(QAbstractSpinBox), *settings.findChildren(QComboBox)]
    assert len(editors) > 6
    for editor in editors:
        before = editor.currentIndex() if isinstance(editor, QComboBox) else editor.text()
        editor.setFocus()
        at, no = QPointF(3, 3), Qt.MouseButton.NoButton
        turn = QWheelEvent(
            at,
            at,
            QPoint(),
            QPoint(0, -120),
            no,
            Qt.KeyboardModifier.NoModifier,
            Qt.ScrollPhase.NoScrollPhase,
            False,
        )
        QApplication.sendEvent(editor, turn)
        after = editor.currentIndex() if isinstance(editor, QComboBox) else editor.text()
        assert after == before, editor.accessibleName()


def test_the_language_is_that_of_sheets_and_the_window_mixes_none(
    window: Window, settings, small_trip: Path, settled
) -> None:
    """The window has its words in English alone: days or units of another language among them would be a mixture."""
    settings.language.setCurrentIndex(settings.language.findData("de"))
    settings.keep()
    assert window.preferences.language == "de"
    assert Preferences.load(window.preferences.file).language == "de"
    assert current().language == "en"
    window.open_demo(small_trip)
    settled(window)
    for number in (0, PAPERS):
        window.book.turn(number)
        assert [said for said in texts(window) if foreign(said)] == []
    assert window.book.page.language.currentData() == "de"
    window.looks.set_language("en")


def texts(window: Window) -> set[str]:
    """Everything a window says on its widgets, to the eye and to a screen reader."""
    told = ("text", "toolTip", "accessibleName", "accessibleDescription", "placeholderText", "title")
    asked = ((part, name) for part in window.findChildren(QWidget) for name in told if part.isVisible())
    said = (getattr(part, name)() for part, name in asked if callable(getattr(part, name, None)))
    return {text for text in said if isinstance(text, str) and text}


def foreign(said: str) -> bool:
    """Whether a German word of the catalogue stands in it that is no English one."""
    return bool(GERMAN & set(re.findall(r"\w{4,}", said)))


def _words(text: str) -> set[str]:
    return set(re.findall(r"\w{4,}", re.sub(r"\{.*?\}", " ", text)))


def _german() -> set[str]:
    """The words of all German sentences that stand in no English one."""
    foreign, own = set(), set()
    for path in words_folder().glob("de/*.mo"):
        for english, german in translation("de", path.stem)._catalog.items():  # type: ignore[attr-defined]
            own |= _words(str(english))
            foreign |= _words(german)
    for topic in topics():
        for entry in source(topic).values():
            own |= _words(entry.one)
    return foreign - own


GERMAN = _german()
