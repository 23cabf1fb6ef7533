"""The settings window: services and their keys, home and tolerance, how everything looks; all of it the user's own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Protocol

from PySide6.QtCore import QUrl, Signal
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QDoubleSpinBox,
    QFormLayout,
    QLineEdit,
    QPushButton,
    QSpinBox,
    QTabWidget,
    QVBoxLayout,
    QWidget,
)

from planner.errors import SkepwayError
from planner.folders import config_dir
from planner.services.forecast.registry import SERVICES
from planner.services.settings import Settings, load_settings, save_settings, settings_file
from planner.store.rules import answer_rules
from planner.ui.look import strings as s
from planner.ui.look import theme
from planner.ui.look.icons import Choices
from planner.ui.look.panel import label
from planner.ui.settings.vehicles import OwnVehicles
from planner.ui.trip.hands import INNER_PX, still
from planner.ui.trip.preferences import Preferences
from planner.ui.work import keys
from planner.words import languages, say

ROADS = {
    "osrm": s.ROADS_OSRM,
    "valhalla": s.ROADS_VALHALLA,
    "openrouteservice": s.ROADS_ORS,
    "engine": s.ROADS_ENGINE,
    "estimate": s.ROADS_ESTIMATE,
}
PLACES = ("", "nominatim", "photon")
MOST_OF_100 = 50.0
PERCENT_STEPS = (70, 80, 90, 100, 110, 120, 135, 150, 177, 200, 250)


class Looks(Protocol):
    """Who changes how everything looks."""

    def set_units(self, name: str) -> None: ...
    def set_theme(self, name: str) -> None: ...
    def scale_type(self, factor: float) -> None: ...
    def set_language(self, name: str) -> None: ...


class SettingsWindow(QDialog):
    """Shows what is set and keeps it when asked to; nothing is kept before."""

    kept = Signal(str)

    def __init__(
        self, parent: QWidget, preferences: Preferences, looks: Looks, vehicles: Mapping[str, str]
    ) -> None:
        super().__init__(parent)
        self.preferences, self.looks = preferences, looks
        self.setWindowTitle(s.say(s.SETTINGS_TITLE))
        self.settings = load_settings()
        self.fault = label("", "fault")
        self.fault.setWordWrap(True)
        self.tabs = QTabWidget()
        self.tabs.setDocumentMode(True)
        self.tabs.addTab(self._services(), s.say(s.SETTINGS_SERVICES))
        self.tabs.addTab(self._home(), s.say(s.SETTINGS_HOME))
        self.own_vehicles = self._vehicles(dict(vehicles))
        self.tabs.addTab(self._look(), s.say(s.SETTINGS_LOOK))
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Save | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.keep)
        buttons.rejected.connect(self.reject)
        column = QVBoxLayout(self)
        column.addWidget(self.tabs, 1)
        column.addWidget(self.fault)
        column.addWidget(buttons)

    # -- pages -----------------------------------------------------------------------------------

    def _services(self) -> QWidget:
        held = self.settings
        self.contact = QLineEdit(held.contact)
        self.forecast = _choice([(one.name, one.title) for one in SERVICES], held.forecast.service)
        self.roads = _choice([(name, s.say(text)) for name, text in ROADS.items()], held.roads.service)
        off = s.say(s.SETTINGS_OFF)
        self.geocoding = _choice(
            [(name, name.capitalize() or off) for name in PLACES], held.geocoding.service
        )
        self.geocoding_url = QLineEdit(held.geocoding.url)
        self.secrets = {name: QLineEdit(keys.read(name)) for name in keys.NAMES}
        for line in self.secrets.values():
            line.setEchoMode(QLineEdit.EchoMode.PasswordEchoOnEdit)
        where = (
            s.say(s.SETTINGS_KEYRING)
            if keys.in_keyring()
            else s.say(s.SETTINGS_NO_KEYRING, path=str(settings_file()))
        )
        return _form(
            (
                (s.SETTINGS_CONTACT, self.contact),
                (s.SETTINGS_FORECAST, self.forecast),
                (s.SETTINGS_FORECAST_KEY, self.secrets["forecast"]),
                (s.SETTINGS_ROADS, self.roads),
                (s.SETTINGS_ROADS_KEY, self.secrets["roads"]),
                (s.SETTINGS_PLACES, self.geocoding),
                (s.SETTINGS_PLACES_URL, self.geocoding_url),
            ),
            where,
        )

    def _home(self) -> QWidget:
        own, usual = self.settings.tolerance, answer_rules()
        self.harm = _number(usual.harm_of_100 if own.harm_of_100 is None else own.harm_of_100)
        self.boxes = _number(usual.boxes_of_100 if own.boxes_of_100 is None else own.boxes_of_100)
        self.yard = QLineEdit(self.preferences.home_yard)
        self.days = QSpinBox()
        self.days.setRange(1, 365)
        self.days.setValue(self.preferences.keep_days)
        self.days.setSuffix(s.say(s.SUFFIX_DAYS))
        self.days.lineEdit().setTextMargins(*INNER_PX)
        still(self.days)
        folder = QPushButton(s.say(s.SETTINGS_OPEN_FOLDER))
        folder.clicked.connect(
            lambda _=False: QDesktopServices.openUrl(QUrl.fromLocalFile(str(config_dir())))
        )
        return _form(
            (
                (s.SETTINGS_HARM, self.harm),
                (s.SETTINGS_BOXES, self.boxes),
                (s.SETTINGS_YARD, self.yard),
                (s.SETTINGS_RETENTION, self.days),
                (s.SETTINGS_VEHICLES, folder),
            ),
            s.say(s.SETTINGS_VEHICLES_HINT, path=str(config_dir() / "catalogue.toml")),
        )

    def _vehicles(self, known: dict[str, str]) -> OwnVehicles | None:
        """Vehicles of one's own; a file that cannot be read is told and left as it is."""
        try:
            made = OwnVehicles(config_dir() / "catalogue.toml", known)
        except SkepwayError as error:
            told = label(str(error), "fault")
            told.setWordWrap(True)
            self.tabs.addTab(told, s.say(s.SETTINGS_OWN_VEHICLES))
            return None
        self.tabs.addTab(made, s.say(s.SETTINGS_OWN_VEHICLES))
        return made

    def _look(self) -> QWidget:
        preferences = self.preferences
        self.units = _choice(
            [("metric", _plain(s.ACT_UNITS_METRIC)), ("us", _plain(s.ACT_UNITS_US))], preferences.units
        )
        self.theme = _choice(
            [("light", _plain(s.ACT_LIGHT)), ("dark", _plain(s.ACT_DARK)), ("night", _plain(s.ACT_NIGHT))],
            preferences.theme,
        )
        now = min(PERCENT_STEPS, key=lambda step: abs(step - preferences.scale * 100))
        self.type = _choice([(str(step), s.say(s.PER_CENT, value=step)) for step in PERCENT_STEPS], str(now))
        self.language = _choice(
            [(one, say(f"papers.language_{one}")) for one in ("en", *languages()) if one],
            preferences.language,
        )
        return _form(
            (
                (s.SETTINGS_UNITS, self.units),
                (s.SETTINGS_THEME, self.theme),
                (s.SETTINGS_TYPE, self.type),
                (s.SETTINGS_LANGUAGE, self.language),
            ),
            "",
        )

    # -- kept ------------------------------------------------------------------------------------

    def keep(self) -> None:
        """Keep everything; what cannot be kept is said and the window stays."""
        try:
            fresh = self.own_vehicles is not None and self.own_vehicles.keep()
            save_settings(self._settings())
            for name, line in self.secrets.items():
                keys.write(name, line.text().strip())
        except SkepwayError as error:
            self.fault.setText(str(error))
            return
        held = self.preferences
        held.home_yard, held.keep_days = self.yard.text().strip(), self.days.value()
        held.save()
        self.looks.set_language(str(self.language.currentData() or "en"))
        self.looks.set_units(str(self.units.currentData()))
        if self.theme.currentData() != theme.current().name:
            self.looks.set_theme(str(self.theme.currentData()))
        wanted = float(str(self.type.currentData())) / 100.0
        if abs(wanted - held.scale) > 0.02:
            self.looks.scale_type(wanted / held.scale)
        self.kept.emit(s.say(s.VEHICLES_SAVED if fresh else s.SETTINGS_SAVED))
        self.accept()

    def _settings(self) -> Settings:
        import msgspec

        held = self.settings
        replaced = msgspec.structs.replace
        tolerance = (self.harm.value(), self.boxes.value())
        usual = answer_rules()
        if tolerance == (usual.harm_of_100, usual.boxes_of_100):
            said = replaced(held.tolerance, harm_of_100=None, boxes_of_100=None)
        else:
            said = replaced(held.tolerance, harm_of_100=tolerance[0], boxes_of_100=tolerance[1])
        changes: Mapping[str, Any] = {
            "tolerance": said,
            "contact": self.contact.text().strip(),
            "forecast": replaced(held.forecast, service=self.forecast.currentData()),
            "roads": replaced(held.roads, service=self.roads.currentData()),
            "geocoding": replaced(
                held.geocoding, service=self.geocoding.currentData(), url=self.geocoding_url.text().strip()
            ),
        }
        return replaced(held, **changes)


def _choice(options: Sequence[tuple[str, str]], now: str) -> QComboBox:
    made = Choices()
    made.setMinimumContentsLength(22)
    for name, text in dict(options).items():
        made.addItem(text, name)
    made.setCurrentIndex(max(made.findData(now), 0))
    still(made)
    return made


def _number(value: float) -> QDoubleSpinBox:
    made = QDoubleSpinBox()
    made.setRange(0.0, MOST_OF_100)
    made.setDecimals(0)
    made.setValue(value)
    made.lineEdit().setTextMargins(*INNER_PX)
    still(made)
    return made


def _form(rows: Sequence[tuple[str, QWidget]], word: str) -> QWidget:
    page = QWidget()
    form = QFormLayout(page)
    form.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
    for text, editor in rows:
        editor.setAccessibleName(s.say(text))
        form.addRow(name := label(s.say(text), ""), editor)
        name.setBuddy(editor)
        name.setMinimumHeight(editor.sizeHint().height())
    if word:
        told = label(word, "small")
        told.setWordWrap(True)
        form.addRow(told)
    return page


def _plain(text: str) -> str:
    """A menu's words without the mark of their key."""
    return s.say(text).replace("&", "")
