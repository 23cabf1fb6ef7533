"""How the window looks: three palettes, one accent, one type scale, written out as a Qt style sheet.

Every painted widget asks :func:`current` for its colours, so a change of palette needs no bookkeeping.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from PySide6.QtCore import QDir, QObject, Signal
from PySide6.QtGui import QColor, QFont, QFontInfo, QPalette
from PySide6.QtWidgets import QApplication

from planner.bundled import resource_path


@dataclass(frozen=True, slots=True)
class Theme:
    """The colours of one palette, each named by its use; ``heat_map`` names the map for quantities."""

    name: str
    ground: str
    panel: str
    well: str
    line: str
    ink: str
    ink_soft: str
    ink_faint: str
    accent: str
    accent_soft: str
    on_accent: str
    night: str
    day: str
    land: str
    water: str
    border: str
    clear: str
    caution: str
    harm: str
    harm_ink: str
    unknown: str
    edge: str
    safe: str
    doubtful: str
    risky: str
    bad: str
    deadly: str
    core: str
    stores: str
    cool: str
    outside: str
    series: tuple[str, str, str, str]
    heat_map: str
    patterned: bool = False
    """Whether one hue has to do for everything: classes are then told by pattern and by figures on a plate."""


LIGHT = Theme(
    name="light",
    ground="#f3f0ea", panel="#fdfcfa", well="#f7f4ee", line="#e2dcd0",
    ink="#25221c", ink_soft="#665f52", ink_faint="#736c60",
    accent="#a05400", accent_soft="#f5e6cf", on_accent="#ffffff",
    night="#3c4763", day="#f3e0bd", land="#ece7db", water="#f8f6f1", border="#cfc7b6",
    clear="#4f949c", caution="#b48018", harm="#a5372b", harm_ink="#a5372b", unknown="#90897a", edge="#948976",
    safe="#e4eee4", doubtful="#f3dfae", risky="#e3a45c", bad="#c0672a", deadly="#7a2b14",
    core="#a05400", stores="#56742f", cool="#3f6fa3", outside="#686d76",
    series=("#a05400", "#2b6ca3", "#3b7a60", "#84509a"),
    heat_map="warmth",
)  # fmt: skip

DARK = Theme(
    name="dark",
    ground="#141517", panel="#1d1f22", well="#191b1d", line="#34373c",
    ink="#ece7dd", ink_soft="#aaa598", ink_faint="#908d83",
    accent="#f2ac3c", accent_soft="#43351d", on_accent="#1d1400",
    night="#05070c", day="#8d6f35", land="#2a2c2f", water="#191b1e", border="#4a4d52",
    clear="#4f8f97", caution="#dfa32c", harm="#e06c5c", harm_ink="#e8806f", unknown="#686a6e", edge="#6b6f76",
    safe="#bccbba", doubtful="#cdb37a", risky="#bd8142", bad="#994f22", deadly="#5e2012",
    core="#f2ac3c", stores="#a3c47e", cool="#7fb2e5", outside="#8d939b",
    series=("#f2ac3c", "#7fb2e5", "#7cc5a3", "#c79be0"),
    heat_map="warmth",
)  # fmt: skip

NIGHT = Theme(
    name="night",
    ground="#080000", panel="#120303", well="#0d0101", line="#3a0f0c",
    ink="#ff6a55", ink_soft="#d4574a", ink_faint="#cb5242",
    accent="#ff8a6e", accent_soft="#3d120c", on_accent="#160000",
    night="#000000", day="#6a2117", land="#1f0605", water="#0d0101", border="#4a1611",
    clear="#aa3122", caution="#c0452f", harm="#ff7a62", harm_ink="#ff7a62", unknown="#a93227", edge="#aa3122",
    safe="#8f2c1f", doubtful="#6d2118", risky="#4f1710", bad="#340e0a", deadly="#1d0705",
    core="#ff8a6e", stores="#d4574a", cool="#d4574a", outside="#cb5242",
    series=("#ff8a6e", "#e0604a", "#d4574a", "#cb5242"),
    heat_map="red", patterned=True,
)  # fmt: skip

THEMES = {theme.name: theme for theme in (LIGHT, DARK, NIGHT)}


class _Stage(QObject):
    """Holds the palette in use and says when it changes."""

    changed = Signal()

    def __init__(self) -> None:
        super().__init__()
        self.theme = LIGHT
        self.scale = 1.0
        self.system_font: QFont | None = None


stage = _Stage()


def current() -> Theme:
    """The palette in use."""
    return stage.theme


def colour(value: str, alpha: float = 1.0) -> QColor:
    """A palette colour as a QColor, ``alpha`` in 0..1."""
    shade = QColor(value)
    shade.setAlphaF(alpha)
    return shade


def font(step: float = 0.0, *, bold: bool = False) -> QFont:
    """The system's font ``step`` steps up or down the type scale (a step is a factor of 1.15)."""
    face = QFont(QApplication.font())
    face.setPointSizeF(face.pointSizeF() * 1.15**step)
    face.setWeight(QFont.Weight.DemiBold if bold else QFont.Weight.Normal)
    return face


def application() -> QApplication:
    """The one running application."""
    app = QApplication.instance()
    if not isinstance(app, QApplication):
        raise LookupError("no application with windows runs yet")
    return app


def apply(app: QApplication, name: str = "light", scale: float = 1.0) -> None:
    """Dress the whole application in palette ``name`` with the system's font scaled by ``scale``."""
    if stage.system_font is None:
        stage.system_font = QFont(app.font())
    stage.theme, stage.scale = THEMES[name], scale
    app.setStyleSheet("")  # undressed first: a sheet laid over a sheet takes three times as long
    app.setStyle("Fusion")
    app.setFont(_scaled(stage.system_font, scale))
    app.setPalette(_qt_palette(stage.theme))
    app.setStyleSheet(_sheet(stage.theme))
    stage.changed.emit()


@contextmanager
def dressed_once(app: QApplication) -> Iterator[None]:
    """Let what is built within stand first and be dressed as a whole: dressed before, every part is dressed anew each
    time it gets a parent, which takes four times as long as all the building."""
    sheet = app.styleSheet()
    app.setStyleSheet("")
    try:
        yield
    finally:
        app.setStyleSheet(sheet)


def _scaled(system: QFont, scale: float) -> QFont:
    face = QFont(system)
    if QFontInfo(system).family() == "DejaVu Sans":  # a bare desktop's fallback; its wide cut wastes a fifth
        face.setFamily("DejaVu Sans Condensed")
    face.setPointSizeF(system.pointSizeF() * scale)
    return face


def _qt_palette(theme: Theme) -> QPalette:
    palette = QPalette()
    roles = QPalette.ColorRole
    for role, value in {
        roles.Window: theme.ground, roles.Base: theme.panel, roles.AlternateBase: theme.well,
        roles.Button: theme.panel, roles.Text: theme.ink, roles.WindowText: theme.ink,
        roles.ButtonText: theme.ink, roles.ToolTipBase: theme.panel, roles.ToolTipText: theme.ink,
        roles.PlaceholderText: theme.ink_faint, roles.Highlight: theme.accent,
        roles.HighlightedText: theme.on_accent, roles.Link: theme.accent, roles.Mid: theme.line,
        roles.Dark: theme.line, roles.Light: theme.panel, roles.Midlight: theme.line, roles.Shadow: theme.line,
    }.items():  # fmt: skip
        palette.setColor(role, QColor(value))
    for role in (roles.Text, roles.WindowText, roles.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, role, QColor(theme.ink_faint))
    return palette


def _tick(theme: Theme) -> str:
    """The tick of a chosen box, pale on a dark accent and dark on a pale one.

    Named by a search path, so that no letter of the folder we lie in can break the sheet.
    """
    name = "tick-pale.svg" if QColor(theme.on_accent).lightnessF() > 0.5 else "tick-dark.svg"
    QDir.setSearchPaths(ICONS, [str(resource_path("icons", name).parent)])
    return f"{ICONS}:{name}"


ICONS = "skepwayicons"


def _sheet(theme: Theme) -> str:
    small, base, big, head = (round(font(step).pointSizeF(), 2) for step in (-0.7, 0, 1.4, 3.2))
    return f"""
QWidget {{ font-size: {base}pt; }}
QMainWindow, QDialog {{ background: {theme.ground}; }}
QToolTip {{ background: {theme.panel}; color: {theme.ink}; border: 1px solid {theme.line}; padding: 4px; }}
QMenuBar {{ background: {theme.ground}; color: {theme.ink_soft}; padding: 1px 6px; }}
QMenuBar::item {{ background: transparent; padding: 4px 9px; border-radius: 4px; }}
QMenuBar::item:selected {{ background: {theme.accent_soft}; color: {theme.ink}; }}
QMenu {{ background: {theme.panel}; border: 1px solid {theme.line}; padding: 4px; }}
QMenu::item {{ padding: 5px 26px 5px 22px; border-radius: 4px; }}
QMenu::item:selected {{ background: {theme.accent_soft}; color: {theme.ink}; }}
QMenu::item:disabled {{ color: {theme.ink_faint}; }}
QMenu::separator {{ height: 1px; background: {theme.line}; margin: 4px 8px; }}
QFrame#panel {{ background: {theme.panel}; border: 1px solid {theme.line}; border-radius: 8px; }}
QFrame#bar {{ background: {theme.panel}; border: 1px solid {theme.line}; border-radius: 8px; }}
QFrame#card {{ background: {theme.well}; border: 1px solid {theme.line}; border-radius: 7px; }}
QFrame#card[chosen="true"] {{ background: {theme.panel}; border: 1px solid {theme.accent}; }}
QFrame#rule {{ background: {theme.line}; border: none; max-height: 1px; min-height: 1px; }}
QLabel#title {{ color: {theme.ink}; font-weight: 600; }}
QLabel#head {{ color: {theme.ink}; font-size: {head}pt; font-weight: 600; }}
QLabel#lead {{ color: {theme.ink}; font-size: {big}pt; font-weight: 600; }}
QLabel:disabled, QLabel#lead:disabled {{ color: {theme.ink_faint}; }}
QLabel#soft {{ color: {theme.ink_soft}; }}
QLabel#field {{ color: {theme.ink_soft}; font-size: {small}pt; }}
QLabel#small {{ color: {theme.ink_soft}; font-size: {small}pt; }}
QWidget#note {{ font-size: {small}pt; }}
QLabel#guide {{ color: {theme.ink_soft}; }}
QLabel#fault {{ color: {theme.harm_ink}; font-size: {small}pt; }}
QLabel#assumed {{ color: {theme.ink}; background: {theme.accent_soft}; border: 1px dashed {theme.accent};
  border-radius: 5px; padding: 3px 7px; }}
QLabel#figure {{ color: {theme.ink}; font-size: {head}pt; font-weight: 600; }}
QFrame#toast {{ background: {theme.panel}; border: 1px solid {theme.accent}; border-radius: 8px; }}
QLabel#value {{ color: {theme.ink}; font-weight: 600; }}
QPushButton {{ background: {theme.panel}; color: {theme.ink}; border: 1px solid {theme.edge};
  border-radius: 5px; padding: 4px 11px; }}
QPushButton:hover {{ border-color: {theme.ink_faint}; }}
QPushButton:focus {{ border-color: {theme.accent}; }}
QPushButton:pressed, QPushButton:checked {{ background: {theme.accent_soft}; border-color: {theme.accent};
  color: {theme.ink}; }}
QPushButton:disabled {{ color: {theme.ink_faint}; }}
QPushButton#chief {{ background: {theme.accent}; color: {theme.on_accent}; border-color: {theme.accent};
  font-weight: 600; }}
QPushButton#chief:focus {{ border: 2px solid {theme.ink}; padding: 3px 10px; }}
QToolButton {{ background: transparent; color: {theme.ink_soft}; border: 1px solid transparent;
  border-radius: 5px; padding: 2px 6px; }}
QToolButton:hover {{ background: {theme.well}; color: {theme.ink}; }}
QToolButton:focus {{ border-color: {theme.accent}; }}
QToolButton:checked {{ background: {theme.accent_soft}; color: {theme.ink}; }}
QToolButton::menu-indicator {{ image: none; width: 0; }}
QLineEdit, QAbstractSpinBox, QComboBox, QPlainTextEdit {{
  background: {theme.panel}; color: {theme.ink}; border: 1px solid {theme.edge}; border-radius: 5px;
  padding: 3px 6px; selection-background-color: {theme.accent}; selection-color: {theme.on_accent}; }}
QAbstractSpinBox QLineEdit {{ border: none; padding: 0; background: transparent; }}
QLineEdit:focus, QAbstractSpinBox:focus, QComboBox:focus {{ border-color: {theme.accent}; }}
QLineEdit:disabled, QAbstractSpinBox:disabled, QComboBox:disabled {{ color: {theme.ink_faint}; }}
QLineEdit[faulty="true"], QAbstractSpinBox[faulty="true"], QComboBox[faulty="true"] {{
  border: 2px solid {theme.harm}; padding: 2px 5px; }}
QComboBox::drop-down, QDateTimeEdit::drop-down {{ border: none; width: 18px; background: transparent; }}
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button {{ width: 0; height: 0; border: none; }}
QComboBox::down-arrow, QDateTimeEdit::down-arrow {{ image: none; }}
QComboBox QAbstractItemView, QListView {{ background: {theme.panel}; color: {theme.ink};
  border: 1px solid {theme.line}; outline: none; }}
QListWidget {{ border-radius: 6px; }}
QListView::item {{ padding: 3px 6px; }}
QListView::item:selected {{ background: {theme.accent_soft}; color: {theme.ink}; }}
QCheckBox {{ color: {theme.ink}; spacing: 7px; }}
QCheckBox::indicator {{ width: 13px; height: 13px; border: 1px solid {theme.edge}; border-radius: 3px;
  background: {theme.panel}; }}
QCheckBox::indicator:checked {{ background: {theme.accent}; border-color: {theme.accent}; image: url({_tick(theme)}); }}
QCheckBox::indicator:focus {{ border: 1px solid {theme.ink}; }}
QCheckBox::indicator:disabled {{ background: {theme.line}; border-color: {theme.line}; }}
QTabWidget::pane {{ border: none; }}
QTabBar {{ qproperty-drawBase: 0; }}
QTabBar::tab {{ background: transparent; color: {theme.ink_soft}; padding: 6px 4px; margin-right: 9px;
  border: none; border-bottom: 2px solid transparent; font-weight: 600; }}
QTabBar::scroller {{ width: 46px; }}
QTabBar QToolButton {{ background: {theme.panel}; border: 1px solid {theme.edge}; border-radius: 3px; padding: 1px; }}
QTabBar::tab:hover {{ color: {theme.ink}; }}
QTabBar::tab:selected {{ color: {theme.ink}; border-bottom: 2px solid {theme.accent}; }}
QTabBar::tab:focus {{ color: {theme.accent}; }}
QScrollArea, QScrollArea > QWidget > QWidget#page {{ background: transparent; border: none; }}
QScrollBar:vertical {{ background: transparent; width: 9px; margin: 0; }}
QScrollBar::handle:vertical {{ background: {theme.edge}; border-radius: 4px; min-height: 26px; }}
QScrollBar::handle:vertical:hover {{ background: {theme.ink_faint}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ height: 0; width: 0; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QScrollBar:horizontal {{ background: transparent; height: 9px; margin: 0; }}
QScrollBar::handle:horizontal {{ background: {theme.edge}; border-radius: 4px; min-width: 26px; }}
QSlider::groove:horizontal {{ height: 4px; background: {theme.edge}; border-radius: 2px; }}
QSlider::sub-page:horizontal {{ background: {theme.accent}; border-radius: 2px; }}
QSlider::handle:horizontal {{ background: {theme.panel}; border: 2px solid {theme.accent}; width: 11px;
  height: 11px; margin: -6px 0; border-radius: 7px; }}
QSlider::handle:horizontal:focus {{ background: {theme.accent}; }}
QSlider::sub-page:horizontal:disabled {{ background: {theme.line}; }}
QProgressBar {{ background: {theme.line}; border: none; border-radius: 2px; max-height: 4px; min-height: 4px; }}
QProgressBar::chunk {{ background: {theme.accent}; border-radius: 2px; }}
QSplitter::handle {{ background: transparent; }}
QSplitter::handle:hover {{ background: {theme.accent_soft}; border-radius: 3px; }}
QTableView {{ background: {theme.panel}; alternate-background-color: {theme.well}; color: {theme.ink};
  border: 1px solid {theme.line}; border-radius: 6px; gridline-color: {theme.line};
  selection-background-color: {theme.accent_soft}; selection-color: {theme.ink}; }}
QTableView:focus {{ border-color: {theme.accent}; }}
QTableView::item {{ padding: 0 4px; }}
QTableWidget::item {{ padding: 0 1px; }}
QTableView::item:focus {{ border: 2px solid {theme.accent}; }}
QTableView::indicator {{ width: 13px; height: 13px; border: 1px solid {theme.edge}; border-radius: 3px;
  background: {theme.panel}; }}
QTableView::indicator:checked {{ background: {theme.accent}; border-color: {theme.accent};
  image: url({_tick(theme)}); }}
QTableView QLineEdit, QTableView QComboBox {{ border-radius: 0; padding: 0 3px; border-color: {theme.accent}; }}
QHeaderView {{ background: {theme.panel}; border: none; }}
QHeaderView::section {{ background: {theme.panel}; color: {theme.ink_soft}; border: none;
  border-bottom: 1px solid {theme.line}; padding: 2px 4px; font-size: {small}pt; }}
QTableCornerButton::section {{ background: {theme.panel}; border: none; }}
QCalendarWidget QWidget#qt_calendar_navigationbar {{ background: {theme.panel}; }}
QCalendarWidget QToolButton {{ color: {theme.ink}; font-weight: 600; background: {theme.panel}; }}
QCalendarWidget QToolButton::menu-indicator {{ image: none; }}
QToolButton#qt_calendar_prevmonth, QToolButton#qt_calendar_nextmonth {{ font-size: {big}pt; padding: 0 9px; }}
QCalendarWidget QAbstractItemView {{ background: {theme.panel}; color: {theme.ink};
  selection-background-color: {theme.accent}; selection-color: {theme.on_accent}; }}
QCalendarWidget QTableView::item, QCalendarWidget QTableView::item:focus {{ border: none; padding: 0; }}
QCalendarWidget QAbstractItemView:disabled {{ color: {theme.ink_faint}; }}
QCalendarWidget QSpinBox {{ color: {theme.ink}; }}
"""
