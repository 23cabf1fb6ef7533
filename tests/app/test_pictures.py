"""What every picture stands on: data to paper and back, ticks, curves broken where nothing is known."""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from planner.app.common.svg import MOST_POINTS, Plot, clock_ticks, line, svg, text
from planner.app.fit.pictures import fit_svg
from planner.app.plan.pictures import board_svg
from planner.app.plan.results import CAUTION, HARM, UNKNOWN, Choice
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, road, trip

PLOT = Plot(10.0, 20.0, 200.0, 100.0, (0.0, 50.0), (30.0, 40.0))


def test_data_run_from_left_to_right_and_from_the_foot_up() -> None:
    assert [PLOT.across(x) for x in (0.0, 25.0, 50.0)] == [10.0, 110.0, 210.0]
    assert [PLOT.up(y) for y in (30.0, 32.5, 40.0)] == [120.0, 95.0, 20.0]


def test_an_empty_span_does_not_divide_by_nought() -> None:
    flat = Plot(0.0, 0.0, 10.0, 10.0, (5.0, 5.0), (5.0, 5.0))
    assert (flat.across(5.0), flat.up(5.0)) == (0.0, 10.0)


def points_of(path: str) -> list[str]:
    return re.findall(r"[ML][\d.]+ [\d.]+", path)


def test_a_curve_is_lifted_where_nothing_is_known_and_held_in_the_frame() -> None:
    xs = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    ys = np.array([30.0, 45.0, np.nan, 20.0, 35.0])
    path = PLOT.curve(xs, ys, "red", 1.5, "6 3")
    assert points_of(path) == ["M10.0 120.0", "L50.0 20.0", "M130.0 120.0", "L170.0 70.0"]
    assert "stroke-dasharray='6 3'" in path
    assert "stroke-width='1.5'" in path
    assert "dasharray" not in PLOT.curve(xs, ys, "red")


@pytest.mark.parametrize(("size", "drawn"), [(600, 600), (1199, 1199), (1200, 600), (3000, 600)])
def test_a_long_curve_is_thinned(size: int, drawn: int) -> None:
    """To about six hundred points; below twice as many all are drawn."""
    assert MOST_POINTS == 600
    xs = np.linspace(0.0, 50.0, size)
    assert len(points_of(PLOT.curve(xs, np.full(size, 35.0), "red"))) == drawn


@pytest.mark.parametrize(
    ("hours", "every_h"),
    [(3.0, 1), (13.0, 1), (13.1, 2), (26.0, 2), (27.0, 3), (40.0, 6), (79.0, 12), (300.0, 24), (900.0, 48)],
)
def test_clocks_stand_at_whole_hours_and_no_closer_than_thirteen(hours: float, every_h: int) -> None:
    first = SPRING + 0.25 * HOUR_S
    at, words = clock_ticks(first, first + hours * HOUR_S, "Europe/Rome")
    assert at[0] >= first
    assert at[-1] < first + hours * HOUR_S
    assert all(t % (every_h * HOUR_S) == 0.0 for t in at)
    assert set(np.diff(at)) <= {every_h * HOUR_S}
    assert len(words) == len(at)


def test_clocks_are_local() -> None:
    at, words = clock_ticks(SPRING, SPRING + 3.0 * HOUR_S, "Europe/Rome")
    assert at == [SPRING, SPRING + HOUR_S, SPRING + 2.0 * HOUR_S]
    assert words == ["02:00", "03:00", "04:00"]


def parsed(body: Any) -> list[dict[str, str]]:
    picture = ElementTree.fromstring(svg(100, 50, list(body), "A <title>"))
    return [{"tag": e.tag.split("}")[1], "words": e.text or "", **e.attrib} for e in picture]


def test_ticks_lie_at_their_values() -> None:
    drawn = parsed(PLOT.y_ticks([30.0, 40.0], ["a", "b"], "unit"))[2:]
    lines = [e for e in drawn if e["tag"] == "line"]
    assert [(e["x1"], e["y1"], e["x2"], e["y2"]) for e in lines] == [
        ("10.0", "120.0", "210.0", "120.0"),
        ("10.0", "20.0", "210.0", "20.0"),
    ]
    assert [(e["words"], e["x"], e["y"]) for e in drawn if e["tag"] == "text"] == [
        ("a", "2.0", "124.0"),
        ("b", "2.0", "24.0"),
        ("unit", "2.0", "12.0"),
    ]
    below = parsed(PLOT.x_ticks([25.0], ["noon"]))[2:]
    assert (below[0]["x1"], below[0]["y1"], below[0]["y2"]) == ("110.0", "120.0", "124.0")
    assert (below[1]["words"], below[1]["x"], below[1]["y"]) == ("noon", "110.0", "136.0")


def test_words_are_escaped_and_lines_drawn_as_told() -> None:
    (title, paper, *rest) = parsed(
        [text(1.0, 2.0, "a < b & c", bold=True), line(0, 1, 2, 3, "red", 1.5, "6 3")]
    )
    assert title["words"] == "A <title>"
    assert paper["width"] == "100%"
    assert (rest[0]["words"], rest[0]["font-weight"]) == ("a < b & c", "600")
    assert (rest[1]["stroke-dasharray"], rest[1]["stroke-width"]) == ("6 3", "1.5")
    assert "font-weight" not in text(1.0, 2.0, "x")


def fitted(low_c: float, high_c: float) -> list[dict[str, str]]:
    """A log from a low to a high over three hours, the model half a kelvin lower before and exact after."""
    time_s = SPRING + np.arange(4) * HOUR_S
    logged = np.linspace(low_c, high_c, 4)
    found: Any = SimpleNamespace(time_s=time_s, logged_c=logged, before_c=logged - 0.5, after_c=logged)
    picture = ElementTree.fromstring(fit_svg(found, "Europe/Rome"))
    return [{"tag": e.tag.split("}")[1], "words": e.text or "", **e.attrib} for e in picture]


@pytest.mark.parametrize(
    ("low_c", "high_c", "ticks"),
    [
        (33.0, 36.0, ["32", "33", "34", "35", "36", "37"]),
        (31.5, 39.5, [str(t) for t in range(30, 41)]),
        (21.0, 36.0, ["20", "25", "30", "35"]),
    ],
)
def test_a_fits_axis_holds_all_with_half_a_kelvin_to_spare(
    low_c: float, high_c: float, ticks: list[str]
) -> None:
    """Whole degrees up to a span of ten, then every five."""
    drawn = fitted(low_c, high_c)
    words = [e["words"] for e in drawn if e["tag"] == "text" and e.get("text-anchor") == "end"]
    assert words[:-1] == ticks


def test_a_fit_shows_readings_as_dots_and_the_model_as_two_lines() -> None:
    drawn = fitted(33.0, 36.0)
    dots = [e for e in drawn if e["tag"] == "circle"]
    frame = next(e for e in drawn if e["tag"] == "rect" and e.get("fill") == "none")
    assert len(dots) == 4
    assert float(dots[0]["cx"]) == float(frame["x"])
    assert float(dots[-1]["cx"]) == float(frame["x"]) + float(frame["width"])
    assert float(dots[0]["cy"]) > float(dots[-1]["cy"])
    paths = [e for e in drawn if e["tag"] == "path"]
    assert ["stroke-dasharray" in path for path in paths] == [True, False]
    names = [e for e in drawn if e["tag"] == "text" and float(e["x"]) > float(dots[-1]["cx"])]
    assert len(names) == 3
    assert len({e["y"] for e in names}) == 3
    assert float(names[0]["x"]) < 960.0 - 60.0


# -- the departure board -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def board() -> list[dict[str, str]]:
    """Three hours from noon in Rome, two places: the second at noon harms, at two cautions, at one is unknown."""
    places = ("open_trailer", "pickup_bed")
    asked = trip(NUC, places, leave_s=SPRING + 34.0 * HOUR_S, last_s=SPRING + 36.0 * HOUR_S)
    verdict = np.zeros((3, 2, 1, 3, 1, 5))
    verdict[0, 1], verdict[1, 1], verdict[2, 1] = HARM, UNKNOWN, CAUTION
    peaks = np.array([[33.0, 44.0], [36.0, np.nan], [39.0, 37.0]]).reshape(3, 2, 1, 1, 1)
    found = made_plan(asked, road(1.0), verdict=verdict, peak_core_c=peaks)
    picture = ElementTree.fromstring(board_svg(found, Choice(2, 1, 0)))
    return [{"tag": e.tag.split("}")[1], "words": e.text or "", **e.attrib} for e in picture]


def cells_of(board: list[dict[str, str]]) -> list[dict[str, str]]:
    """Place by place, departures from left to right."""
    return [e for e in board if e["tag"] == "rect" and e.get("rx") == "2"]


def test_departures_run_across_and_places_down(board: list[dict[str, str]]) -> None:
    cells = cells_of(board)
    xs, ys = ([float(cell[name]) for cell in cells] for name in "xy")
    assert xs[:3] == xs[3:] == sorted(set(xs))
    assert len(set(ys[:3])) == len(set(ys[3:])) == 1
    assert ys[0] < ys[3]
    assert xs[1] - xs[0] == pytest.approx(xs[2] - xs[1], abs=0.11)


def test_the_choice_is_framed(board: list[dict[str, str]]) -> None:
    frame = next(e for e in board if e.get("stroke-width") == "2.5")
    cell = cells_of(board)[5]
    assert float(frame["x"]) == pytest.approx(float(cell["x"]) - 1.0, abs=0.06)
    assert float(frame["y"]) == pytest.approx(float(cell["y"]) - 1.0, abs=0.06)


def test_hours_stand_under_the_middle_of_their_column(board: list[dict[str, str]]) -> None:
    first = {e["words"]: float(e["x"]) for e in board if e["tag"] == "text"}
    cells = cells_of(board)
    for words, cell in zip(("12:00", "13:00", "14:00"), cells, strict=False):
        assert first[words] == pytest.approx(float(cell["x"]) + float(cell["width"]) / 2 + 0.5, abs=0.11)
    assert "Tue 30" in first


def test_harm_is_a_cross_caution_a_spot_and_the_unknown_a_question(board: list[dict[str, str]]) -> None:
    """Each in the middle of its cell."""
    harm, unknown, caution = cells_of(board)[3:]

    def middle(cell: dict[str, str]) -> tuple[float, float]:
        return float(cell["x"]) + float(cell["width"]) / 2, float(cell["y"]) + float(cell["height"]) / 2

    strokes = [e for e in board if e["tag"] == "line"]
    assert len(strokes) == 2
    for stroke in strokes:
        centre = [0.5 * (float(stroke[f"{axis}1"]) + float(stroke[f"{axis}2"])) for axis in "xy"]
        assert centre == pytest.approx(middle(harm), abs=1.1)
    (spot,) = [e for e in board if e["tag"] == "circle"]
    assert (float(spot["cx"]), float(spot["cy"])) == pytest.approx(middle(caution), abs=1.1)
    (question,) = [e for e in board if e["tag"] == "text" and e["words"] == "?"]
    assert float(question["x"]) == pytest.approx(middle(unknown)[0], abs=1.1)
