"""The temperature curves: bands and lines are really there, the clock is right, exports hold the numbers."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from PySide6.QtCore import QPoint, QPointF, Qt
from PySide6.QtGui import QColor, QImage, QWheelEvent

from planner.app.answer.records import Curve
from planner.app.common.chart import Band, Line, Rule
from planner.app.plan.results import Choice
from planner.model.limits import Limit
from planner.ui.look import clock, theme
from planner.ui.plan.curve_view import CurveView
from planner.ui.plan.road_strip import RoadStrip
from planner.units import METRIC
from tests.ui import synthetic
from tests.ui.conftest import PATIENCE_MS

CHOICE = Choice(20, 4, 0)


@pytest.fixture
def view(qtbot) -> CurveView:
    made = CurveView()
    qtbot.addWidget(made)
    made.resize(900, 420)
    made.show()
    qtbot.waitExposed(made)
    plan = synthetic.plan()
    made.show_curves(synthetic.curves(plan, CHOICE), 0, synthetic.ZONE)
    return made


def _pixel(view: CurveView, picture: QImage, time_s: float, temp_c: float) -> QColor:
    frame = view.frame()
    return picture.pixelColor(round(float(frame.across(time_s))), round(float(frame.up(temp_c))))


def _painted_near(view: CurveView, picture: QImage, time_s: float, temp_c: float, ink: str, by: int) -> bool:
    """Whether a use's colour is found within two pixels of a point."""
    frame, wanted = view.frame(), QColor(getattr(theme.current(), ink))
    x, y = round(float(frame.across(time_s))), round(float(frame.up(temp_c)))
    return any(_like(picture.pixelColor(x, y + step), wanted, by) for step in (-2, -1, 0, 1, 2))


def _like(one: QColor, two: QColor, by: int = 40) -> bool:
    return max(abs(one.red() - two.red()), abs(one.green() - two.green()), abs(one.blue() - two.blue())) <= by


def test_the_band_from_calm_to_disturbed_is_painted(view: CurveView) -> None:
    """A fill between curves can vanish in silence; half way between typical and agitated there must be colour."""
    picture = view.grab().toImage()
    curves = view.curves
    at = int(len(curves.time_s) * 0.45)
    inside = (curves.core_c[at, 1, 0] + curves.core_c[at, 2, 0]) / 2 + 0.2
    above = curves.core_c[at, 2, 0] + 1.2
    assert not _like(
        _pixel(view, picture, curves.time_s[at], inside), _pixel(view, picture, curves.time_s[at], above), 8
    )


@pytest.mark.parametrize(("temp_c", "ink"), [(40.0, "harm"), (37.0, "caution"), (30.0, "caution")])
def test_each_limit_is_a_line_across(view: CurveView, temp_c: float, ink: str) -> None:
    picture = view.grab().toImage()
    low, high = view.curves.time_s[[0, -1]]
    found = [
        _painted_near(view, picture, low + share * (high - low), temp_c, ink, 60)
        for share in np.linspace(0.02, 0.98, 60)
    ]
    assert sum(found) > 20


def test_limits_are_those_of_the_box_shown(view: CurveView) -> None:
    """Other limits come with another catalogue or another box: the lines follow, none stays."""
    swarm = (Limit("worker_caution", "core", 41.5, 1, "above"),)
    view.show_curves(replace(view.curves, limits=(swarm, swarm)), 0, synthetic.ZONE)
    rules = [mark for mark in view.chart.marks if isinstance(mark, Rule)]
    assert [rule.at for rule in rules] == [41.5]
    named = [(at, name) for at, name, colour in view._names if colour in ("caution", "harm")]
    assert named == [(41.5, "workers caution 41.5 °C")], "named in the margin, where no curve covers it"


def test_the_core_line_is_painted_in_its_own_colour(view: CurveView) -> None:
    picture = view.grab().toImage()
    rows = range(20, len(view.curves.time_s) - 20, 20)
    points = ((view.curves.time_s[at], view.curves.core_c[at, 1, 0]) for at in rows)
    assert sum(_painted_near(view, picture, *point, "core", 50) for point in points) > 10


def test_a_stop_is_shaded(view: CurveView) -> None:
    view.set_cursor(view.curves.time_s[0])  # its plate stands over the stop where it is hottest
    picture = view.grab().toImage()
    stop = next(phase for phase in view.curves.phases if phase.kind == "stop")
    driving = next(phase for phase in view.curves.phases if phase.kind == "driving")
    inside, outside = (_pixel(view, picture, (p.start_s + p.end_s) / 2, 38.6) for p in (stop, driving))
    assert inside.lightness() < outside.lightness()


def test_compared_candidates_get_lines_of_their_own(view: CurveView) -> None:
    plan = synthetic.plan()
    view.show_curves(
        synthetic.curves(plan, CHOICE), 0, synthetic.ZONE, [synthetic.curves(plan, Choice(60, 1, 0))]
    )
    lines = [mark for mark in view.chart.marks if isinstance(mark, Line) and mark.colour.startswith("series")]
    assert [line.colour for line in lines] == ["series1"]
    assert lines[0].xs[0] == view.curves.time_s[0]
    named = [(at, colour) for at, name, colour in view._names if name == "B"]
    assert named == [(pytest.approx(lines[0].ys[-1]), "series1")], "named beside its own end"


@pytest.mark.parametrize(
    ("own", "others", "inks"),
    [
        ("A", ("B",), {"core A": "series0", "core B": "series1"}),
        ("B", ("A",), {"core A": "series0", "core B": "series1"}),
        ("", ("A", "B"), {"core A": "series0", "core B": "series1", "core shown": "ink"}),
        ("", ("B",), {"core B": "series1", "core shown": "ink"}),
        ("A", (), {"core A": "series0"}),
        ("", (), {"core": "core"}),
    ],
)
def test_a_compared_curve_has_the_colour_of_its_letter_whichever_is_looked_at(
    view: CurveView, own: str, others: tuple[str, ...], inks: dict[str, str]
) -> None:
    """They had the colour of their order: looking at B painted A in the blue of B's chip."""
    plan = synthetic.plan()
    view.own, view.letters = own, others
    beside = [synthetic.curves(plan, Choice(60, at, 0)) for at, _ in enumerate(others)]
    view.show_curves(synthetic.curves(plan, CHOICE), 0, synthetic.ZONE, beside)
    named = {name: ink for _, name, ink in view._names if name.startswith("core")}
    assert named == inks
    lines = {mark.colour: mark for mark in view.chart.marks if isinstance(mark, Line)}
    if "series1" in lines:
        assert lines["series1"].dash, "B is told from A without colour too"
    assert not lines.get("series0", lines["outside"]).dash or "series0" not in lines
    bands = {mark.colour for mark in view.chart.marks if isinstance(mark, Band)}
    assert inks.get("core shown" if "core shown" in inks else f"core {own}".strip()) in bands


def test_the_wheel_narrows_the_span_and_a_double_click_shows_the_whole(view: CurveView, qtbot) -> None:
    whole, middle = view.span_s, QPointF(view.rect().center())
    with qtbot.waitSignal(view.span_changed):
        view.wheelEvent(_turned(middle, 120))
    assert whole[0] < view.span_s[0] < view.span_s[1] < whole[1]
    assert view.span_s[1] - view.span_s[0] == pytest.approx((whole[1] - whole[0]) / 1.25)
    view.wheelEvent(_turned(middle, -1200))
    assert view.span_s == whole
    view.wheelEvent(_turned(middle, 240))
    qtbot.mouseDClick(view, Qt.MouseButton.LeftButton)
    assert view.span_s == whole
    assert not view.zoomed


def test_the_wheel_without_control_is_left_to_the_page(view: CurveView) -> None:
    whole = view.span_s
    turned = _turned(QPointF(view.rect().center()), 120, Qt.KeyboardModifier.NoModifier)
    view.wheelEvent(turned)
    assert not turned.isAccepted()
    assert view.span_s == whole


def _turned(at: QPointF, by: int, keys=Qt.KeyboardModifier.ControlModifier) -> QWheelEvent:
    no_button, phase = Qt.MouseButton.NoButton, Qt.ScrollPhase.NoScrollPhase
    return QWheelEvent(at, at, QPoint(), QPoint(0, by), no_button, keys, phase, False)


def test_keys_move_the_cursor_and_tell_it(view: CurveView, qtbot) -> None:
    before = view.cursor_s
    with qtbot.waitSignal(view.cursor_moved):
        qtbot.keyClick(view, Qt.Key.Key_Left)
    assert view.cursor_s == before - 300


def test_hours_are_right_on_the_night_the_clocks_go_back() -> None:
    """Europe/London, 2026-10-25: 01:00 happens twice, the hours stay full."""
    start = 1_792_875_600.0  # 2026-10-24 22:00 +01:00
    shown = [
        clock.hour(mark, "Europe/London") for mark in clock.hours(start, start + 6 * 3600, "Europe/London")
    ]
    assert shown == ["23:00", "00:00", "01:00", "01:00", "02:00", "03:00"]


def test_the_table_holds_what_is_drawn(view: CurveView, tmp_path: Path) -> None:
    view.candidate = "Fri 20:00, in the van"
    view.export_csv(tmp_path / "t.csv")
    with (tmp_path / "t.csv").open() as file:
        assert file.readline() == '"# Fri 20:00, in the van"\n', "whose curves they are"
        rows = list(csv.DictReader(file))
    assert len(rows) == len(view.curves.time_s)
    assert float(rows[100]["core_central_c"]) == pytest.approx(view.curves.core_c[100, 1, 0], abs=0.001)
    assert float(rows[100]["core_half_c"]) == pytest.approx(view.curves.core_c[100, 1, 0], abs=0.001)
    assert rows[0]["time_utc"].endswith("Z")


def test_once_known_what_half_the_variants_stay_below_is_drawn_told_and_written(
    view: CurveView, tmp_path: Path
) -> None:
    """One and the same curve in the field, on the plate, in the table and in the file; typical bees only until then."""
    curves = view.curves
    half = curves.core_c[:, 1, :] + 0.7
    view.show_band(Curve(curves.time_s, half, half - 1.0, half + 2.0, curves.outside_c, 64))
    core = next(m for m in view.chart.marks if isinstance(m, Line) and m.colour == "core")
    assert core.ys == pytest.approx(half[:, 0], nan_ok=True)
    assert view.chart.y.high > float(np.nanmax(half[:, 0])) + 2.0, "the band was cut off at the top"
    fan = next(m for m in view.chart.marks if isinstance(m, Band) and m.colour == "core")
    assert fan.low == pytest.approx(half[:, 0] - 1.0, nan_ok=True)
    assert fan.high == pytest.approx(half[:, 0] + 2.0, nan_ok=True)
    at = int(np.searchsorted(curves.time_s, view.cursor_s))
    told = METRIC.temp_text(float(half[at, 0]))
    assert told in view.flag_lines()[1]
    assert METRIC.temp_text(float(half[0, 0])) in view.table()[1][0]
    view.export_csv(tmp_path / "t.csv")
    with (tmp_path / "t.csv").open() as file:
        file.readline()
        rows = list(csv.DictReader(file))
    assert float(rows[100]["core_half_c"]) == pytest.approx(half[100, 0], abs=0.001)
    view.show_curves(curves, 0, synthetic.ZONE)
    core = next(m for m in view.chart.marks if isinstance(m, Line) and m.colour == "core")
    assert core.ys == pytest.approx(curves.core_c[:, 1, 0], nan_ok=True), "another question, its own curve"


def test_picture_and_drawing_are_written(view: CurveView, tmp_path: Path) -> None:
    view.export_png(tmp_path / "t.png")
    view.export_svg(tmp_path / "t.svg")
    assert (tmp_path / "t.png").read_bytes()[:4] == b"\x89PNG"
    drawing = (tmp_path / "t.svg").read_text()
    assert "brood caution 37 °C" in drawing
    longest = max(re.findall(r" d='M([^']+)'", drawing), key=len)
    across = [float(point.split()[0]) for point in longest.split("L")]
    assert len(set(across)) > 100, "instants keep their digits in a drawing"


def test_curves_with_the_keyboard_show_it(view: CurveView, qtbot) -> None:
    view.activateWindow()
    view.setFocus()
    qtbot.waitUntil(view.hasFocus, timeout=PATIENCE_MS)
    with_it = view.grab().toImage()
    view.clearFocus()
    assert view.grab().toImage() != with_it


def test_what_lies_along_the_road_is_told_every_half_hour(qtbot) -> None:
    strip = RoadStrip()
    qtbot.addWidget(strip)
    strip.zone = "UTC"
    strip.show_curves(synthetic.curves(synthetic.plan(), CHOICE))
    heads, rows = strip.table()
    minutes = [int(row[0][-5:-3]) * 60 + int(row[0][-2:]) for row in rows]
    assert {(b - a) % 1440 for a, b in pairwise(minutes)} == {30}
    assert all(len(row) == len(heads) == 7 for row in rows)
