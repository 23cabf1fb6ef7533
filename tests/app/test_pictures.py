"""What every picture stands on: data to the picture and back, ticks, a board and a fit told as charts, SVG."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from planner.app.common.chart import (
    Axis,
    Box,
    Chart,
    Dots,
    Frame,
    Key,
    Line,
    Ramp,
    Ring,
    Rule,
    Stretch,
    Tick,
    Tile,
    day_ticks,
    hour_ticks,
    round_ticks,
    temp_ticks,
)
from planner.app.common.scale import WARMTH_C
from planner.app.common.svg import PAPER, SvgCanvas, chart_svg
from planner.app.fit.pictures import fit_chart, fit_svg
from planner.app.plan.pictures import board_chart, board_svg, ring
from planner.app.plan.results import CAUTION, HARM, UNKNOWN, Choice, Plan
from planner.units import METRIC, US, UnitSystem
from tests.app.handmade import made_plan
from tests.model.scenarios import HOUR_S, NUC, SPRING, replace, road, trip

FRAME = Frame(Box(10.0, 20.0, 200.0, 100.0), (20.0, 70.0), (30.0, 40.0))


# -- places ------------------------------------------------------------------------------------------


def test_data_run_from_left_to_right_and_from_the_foot_up() -> None:
    assert [FRAME.across(x) for x in (20.0, 45.0, 70.0)] == [10.0, 110.0, 210.0]
    assert [FRAME.up(y) for y in (30.0, 32.5, 40.0)] == [120.0, 95.0, 20.0]
    assert FRAME.up(np.array([30.0, 40.0])).tolist() == [120.0, 20.0]


def test_rows_may_read_downwards() -> None:
    rows = replace(FRAME, y_span=(4.0, 0.0))
    assert [rows.up(y) for y in (0.0, 1.0, 4.0)] == [20.0, 45.0, 120.0]
    assert rows.box(25.0, 30.0, 0.0, 1.0) == Box(30.0, 20.0, 20.0, 25.0)
    assert FRAME.box(25.0, 30.0, 30.0, 32.5) == Box(30.0, 95.0, 20.0, 25.0)


def test_an_empty_span_does_not_divide_by_nought() -> None:
    flat = Frame(Box(0.0, 0.0, 10.0, 10.0), (5.0, 5.0), (5.0, 5.0))
    assert (flat.across(5.0), flat.up(5.0)) == (0.0, 10.0)


def test_a_point_reads_back_inside_the_field_and_an_instant_is_held_at_its_ends() -> None:
    assert FRAME.at(110.0, 95.0) == (45.0, 32.5)
    assert FRAME.at(10.0, 20.0) == (20.0, 40.0)
    assert FRAME.at(210.0, 120.0) == (70.0, 30.0)
    assert [FRAME.at(*at) for at in ((9.9, 50.0), (210.1, 50.0), (50.0, 19.9), (50.0, 120.1))] == [None] * 4
    assert [FRAME.x_at(x) for x in (0.0, 60.0, 300.0)] == [20.0, 32.5, 70.0]


def test_a_box_knows_its_sides() -> None:
    box = Box(10.0, 20.0, 30.0, 40.0)
    assert (box.right, box.bottom, box.middle) == (40.0, 60.0, (25.0, 40.0))
    assert box.grown(2.0) == Box(8.0, 18.0, 34.0, 44.0)
    assert all(box.holds(*corner) for corner in ((10.0, 20.0), (40.0, 60.0)))


@pytest.mark.parametrize(
    ("other", "shared"),
    [
        (Box(0.0, 0.0, 20.0, 30.0), Box(10.0, 20.0, 10.0, 10.0)),
        (Box(30.0, 50.0, 90.0, 90.0), Box(30.0, 50.0, 10.0, 10.0)),
        (Box(15.0, 25.0, 1.0, 2.0), Box(15.0, 25.0, 1.0, 2.0)),
        (Box(40.0, 20.0, 5.0, 5.0), Box(40.0, 20.0, 0.0, 5.0)),
        (Box(5.0, 20.0, 5.0, 5.0), Box(10.0, 20.0, 0.0, 5.0)),
        (Box(10.0, 60.0, 5.0, 5.0), Box(10.0, 60.0, 5.0, 0.0)),
        (Box(10.0, 15.0, 5.0, 5.0), Box(10.0, 20.0, 5.0, 0.0)),
        (Box(70.0, 90.0, 5.0, 5.0), Box(70.0, 90.0, 0.0, 0.0)),
    ],
)
def test_boxes_that_only_touch_share_nothing(other: Box, shared: Box) -> None:
    box = Box(10.0, 20.0, 30.0, 40.0)
    assert box.within(other) == shared
    assert box.meets(other) == other.meets(box) == bool(shared.width and shared.height)


def test_a_chart_takes_another_title_and_marks_on_top() -> None:
    first, second = Rule(1.0, "y", "harm"), Rule(2.0, "y", "harm")
    chart = Chart("one", Axis(0.0, 1.0), Axis(0.0, 1.0), (first,))
    assert chart.titled("two").title == "two"
    assert chart.with_marks(second).marks == (first, second)


# -- ticks -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("hours", "every_h"),
    [
        (3.0, 1),
        (13.0, 1),
        (13.1, 2),
        (26.0, 2),
        (27.0, 3),
        (39.1, 6),
        (78.0, 6),
        (79.0, 12),
        (157.0, 24),
        (900.0, 24),
    ],
)
def test_clocks_stand_at_whole_hours_no_closer_than_thirteen(hours: float, every_h: int) -> None:
    """By the local clock, two hours ahead of Greenwich's; midnights alone where days are many."""
    first = SPRING + 0.25 * HOUR_S
    ticks = hour_ticks(first, first + hours * HOUR_S, "Europe/Rome")
    at = np.array([tick.at for tick in ticks])
    assert first <= at[0] < first + every_h * HOUR_S
    assert first + (hours - every_h) * HOUR_S < at[-1] <= first + hours * HOUR_S
    assert set(np.diff(at)) <= {every_h * HOUR_S}
    assert all((t - SPRING + 2.0 * HOUR_S) % (every_h * HOUR_S) == 0.0 for t in at)


def test_clocks_are_local() -> None:
    """Both ends count when they are full hours."""
    assert hour_ticks(SPRING, SPRING + 2.0 * HOUR_S, "Europe/Rome") == (
        Tick(SPRING, "02:00"),
        Tick(SPRING + HOUR_S, "03:00"),
        Tick(SPRING + 2.0 * HOUR_S, "04:00"),
    )


def test_clocks_of_a_zone_off_by_three_quarters_of_an_hour_are_whole() -> None:
    """Nepal, 5 h 45 min ahead of Greenwich."""
    ticks = hour_ticks(SPRING, SPRING + HOUR_S, "Asia/Kathmandu")
    assert ticks == (Tick(SPRING + 900.0, "06:00"),)


def test_a_new_day_is_named_at_its_first_instant() -> None:
    """Monday 29 March from noon in Rome, every six hours."""
    times = SPRING + HOUR_S * (10.0 + 6.0 * np.arange(8))
    assert day_ticks(times, "Europe/Rome") == ((0, "Mon 29"), (2, "Tue 30"), (6, "Wed 31"))


@pytest.mark.parametrize(
    ("low", "high", "most", "ticks"),
    [
        (0.0, 7.0, 7, range(8)),
        (0.0, 7.1, 7, (0.0, 2.0, 4.0, 6.0)),
        (0.0, 14.0, 7, range(0, 15, 2)),
        (0.0, 14.1, 7, (0.0, 5.0, 10.0)),
        (0.0, 35.0, 7, range(0, 36, 5)),
        (0.0, 35.1, 7, (0.0, 10.0, 20.0, 30.0)),
        (-0.25, 0.25, 5, (-0.2, -0.1, 0.0, 0.1, 0.2)),
        (30.1, 33.9, 7, (31.0, 32.0, 33.0)),
        (3.0, 3.0, 7, (3.0,)),
    ],
)
def test_ticks_are_round_and_at_most_as_many_steps_as_told(
    low: float, high: float, most: int, ticks: Any
) -> None:
    assert round_ticks(low, high, most) == pytest.approx(tuple(ticks))


def test_seven_steps_are_the_most_unless_told() -> None:
    assert round_ticks(0.0, 8.0) == (0.0, 2.0, 4.0, 6.0, 8.0)


def test_temperatures_are_round_in_the_users_unit() -> None:
    """From 86 to 104 °F the round ones are 90, 95 and 100; they stand at their degrees Celsius."""
    assert temp_ticks(30.0, 36.0, METRIC)[::6] == (Tick(30.0, "30"), Tick(36.0, "36"))
    shown = temp_ticks(30.0, 40.0, US)
    assert [tick.text for tick in shown] == ["90", "95", "100"]
    assert [tick.at for tick in shown] == pytest.approx([58 / 1.8, 35.0, 68 / 1.8])


# -- on paper ----------------------------------------------------------------------------------------


def test_rectangles_are_written_with_their_place_colour_and_opacity() -> None:
    canvas = SvgCanvas()
    canvas.fill(Box(1.0, 2.0, 3.0, 4.04), "harm")
    canvas.fill(Box(1.0, 2.0, 3.0, 4.0), 63, 0.35)
    canvas.outline(Box(1.0, 2.0, 3.0, 4.0), "#123456", 2.4)
    assert canvas.parts == [
        "<rect x='1.0' y='2.0' width='3.0' height='4.0' fill='#a5372b'/>",
        "<rect x='1.0' y='2.0' width='3.0' height='4.0' fill='#d50f1d' fill-opacity='0.35'/>",
        "<rect x='1.0' y='2.0' width='3.0' height='4.0' rx='2.5' fill='none' stroke='#123456' "
        "stroke-width='2.4'/>",
    ]


def test_strokes_areas_and_discs_are_written_as_told() -> None:
    canvas, xs, ys = SvgCanvas(), np.array([0.0, 1.26]), np.array([2.0, 3.0])
    canvas.stroke(xs, ys, "core", 1.5)
    canvas.stroke(xs, ys, "core", 1.5, "6 3", 0.6)
    canvas.area(xs, ys, "core", 0.2)
    canvas.disc(1.0, 2.0, 1.65, "ink")
    canvas.disc(1.0, 2.0, 2.0, "", "ink", 0.9)
    canvas.disc(1.0, 2.0, 2.0, 0, 63)
    assert canvas.parts == [
        "<path d='M0.0 2.0L1.3 3.0' fill='none' stroke='#a85a00' stroke-width='1.5'/>",
        "<path d='M0.0 2.0L1.3 3.0' fill='none' stroke='#a85a00' stroke-width='1.5' stroke-dasharray='6 3' "
        "stroke-opacity='0.6'/>",
        "<polygon points='0.0,2.0 1.3,3.0' fill='#a85a00' fill-opacity='0.2'/>",
        "<circle cx='1.0' cy='2.0' r='1.65' fill='#1d2530'/>",
        "<circle cx='1.0' cy='2.0' r='2' fill='none' stroke='#1d2530' stroke-width='0.9'/>",
        "<circle cx='1.0' cy='2.0' r='2' fill='#f1f6ca' stroke='#d50f1d' stroke-width='1.4'/>",
    ]


@pytest.mark.parametrize(
    ("anchor", "x", "side"),
    [("left", "10.0", "start"), ("middle", "25.0", "middle"), ("right", "40.0", "end")],
)
def test_words_are_escaped_and_stand_in_the_middle_of_their_height(anchor: str, x: str, side: str) -> None:
    canvas = SvgCanvas()
    canvas.text(Box(10.0, 20.0, 30.0, 12.0), "a < b & c", "ink", anchor, bold=True)
    canvas.text(Box(10.0, 20.0, 30.0, 12.0), "x", "ink", anchor, small=True)
    assert canvas.parts == [
        f"<text x='{x}' y='30.7' text-anchor='{side}' font-size='13' fill='#1d2530' font-weight='600'>"
        "a &lt; b &amp; c</text>",
        f"<text x='{x}' y='30.0' text-anchor='{side}' font-size='11' fill='#1d2530'>x</text>",
    ]


def test_words_take_the_room_of_a_mean_letter() -> None:
    canvas = SvgCanvas()
    assert canvas.wide("ten") == pytest.approx(3 * 13 * 0.56)
    assert canvas.wide("ten", small=True) == pytest.approx(3 * 11 * 0.56)
    assert canvas.wide("ten", bold=True) == pytest.approx(3 * 13 * 0.56 * 1.06)
    assert (canvas.high(), canvas.high(small=True)) == (16.25, 13.75)


def test_ink_on_a_colour_is_what_reads_on_paper() -> None:
    canvas = SvgCanvas()
    assert [canvas.ink_on(colour) for colour in ("well", "night", 0, "harm")] == [
        "#000000",
        "#ffffff",
        "#000000",
        "#ffffff",
    ]


def parsed(picture: str) -> list[dict[str, str]]:
    """The elements of a picture, each with its words."""
    return [
        {"tag": e.tag.split("}")[1], "words": e.text or "", **e.attrib}
        for e in ElementTree.fromstring(picture)
    ]


def test_a_picture_has_its_title_its_size_and_white_paper() -> None:
    """Twelve pixels are left free on each side; an empty chart has ten more on the left."""
    rule = Chart("A <title>", Axis(0.0, 1.0), Axis(0.0, 1.0), (Rule(0.0, "y", "harm"),))
    drawing = chart_svg(rule, 124.0, 100.0)
    assert "viewBox='0 0 124 100' width='124' height='100' role='img'" in drawing
    assert "viewBox='0 0 960 380'" in chart_svg(rule)
    title, paper, words, stroke = parsed(drawing)
    assert title["words"] == words["words"] == "A <title>"
    assert (paper["width"], paper["height"], paper["fill"]) == ("100%", "100%", "#ffffff")
    assert stroke["d"] == "M22.0 86.0L96.0 86.0"
    assert (words["x"], words["font-weight"]) == ("22.0", "600")


# -- a fit -------------------------------------------------------------------------------------------


def fit(low_c: float, high_c: float) -> Any:
    """A log from a low to a high over three hours, the model half a kelvin lower before and exact after."""
    time_s = SPRING + np.arange(4) * HOUR_S
    logged = np.linspace(low_c, high_c, 4)
    return SimpleNamespace(time_s=time_s, logged_c=logged, before_c=logged - 0.5, after_c=logged)


@pytest.mark.parametrize(
    ("low_c", "high_c", "span", "ticks"),
    [
        (33.0, 36.0, (32.0, 37.0), range(32, 38)),
        (31.5, 39.5, (30.0, 40.0), range(30, 41, 2)),
        (21.0, 36.0, (20.0, 37.0), range(20, 36, 5)),
    ],
)
def test_a_fits_axis_holds_all_with_half_a_kelvin_to_spare(
    low_c: float, high_c: float, span: tuple[float, float], ticks: range
) -> None:
    """In whole degrees, read off the log and both curves."""
    axis = fit_chart(fit(low_c, high_c), "Europe/Rome").y
    assert (axis.low, axis.high, axis.title) == (*span, "°C")
    assert axis.rows == (tuple(Tick(float(t), str(t)) for t in ticks),)


def test_a_fits_axis_is_in_the_users_unit() -> None:
    axis = fit_chart(fit(33.0, 36.0), "Europe/Rome", US).y
    assert (axis.low, axis.high, axis.title) == (32.0, 37.0, "°F")
    assert [tick.text for tick in axis.rows[0]] == ["90", "92", "94", "96", "98"]


def test_a_fit_shows_readings_as_dots_and_the_model_as_two_lines() -> None:
    chart = fit_chart(fit(33.0, 36.0), "Europe/Rome")
    logged, before, after = chart.marks
    assert isinstance(logged, Dots)
    assert isinstance(before, Line)
    assert isinstance(after, Line)
    assert logged.ys.tolist() == after.ys.tolist() == [33.0, 34.0, 35.0, 36.0]
    assert before.ys.tolist() == [32.5, 33.5, 34.5, 35.5]
    assert (before.dash, after.dash) == ("6 3", "")
    assert (chart.x.low, chart.x.high) == (SPRING, SPRING + 3.0 * HOUR_S)
    assert [tick.text for tick in chart.x.rows[0]] == ["02:00", "03:00", "04:00", "05:00"]


def test_a_fit_on_paper_names_its_three_curves_apart() -> None:
    drawn = parsed(fit_svg(fit(33.0, 36.0), "Europe/Rome"))
    dots = [e for e in drawn if e["tag"] == "circle"]
    assert len(dots) == 4
    assert float(dots[0]["cy"]) > float(dots[-1]["cy"])
    names = {e["words"]: e for e in drawn if e["words"] in ("logged", "before", "after")}
    heights = sorted(float(e["y"]) for e in names.values())
    assert len(names) == 3
    assert min(np.diff(heights)) > 11.0
    assert all(float(dots[-1]["cx"]) < float(e["x"]) < 960.0 - 40.0 for e in names.values())


# -- the departure board -----------------------------------------------------------------------------

CHOICE = Choice(2, 1, 0)


@pytest.fixture(scope="module")
def three() -> Plan:
    """Three hours from noon in Rome, two places: the second at noon harms, at two cautions, at one is unknown."""
    places = ("open_trailer", "pickup_bed")
    asked = trip(NUC, places, leave_s=SPRING + 34.0 * HOUR_S, last_s=SPRING + 36.0 * HOUR_S)
    verdict = np.zeros((3, 2, 1, 3, 1, 5))
    verdict[0, 1], verdict[1, 1], verdict[2, 1] = HARM, UNKNOWN, CAUTION
    peaks = np.array([[31.0, 45.0], [36.0, np.nan], [20.0, 38.0]]).reshape(3, 2, 1, 1, 1)
    return made_plan(asked, road(1.0), verdict=verdict, peak_core_c=peaks)


def board(plan: Plan, units: UnitSystem = METRIC, *, by_verdict: bool = False) -> Chart:
    """At sunset: six degrees up, on the horizon, six degrees below it."""
    return board_chart(plan, CHOICE, np.array([6.0, 0.0, -6.0]), units, by_verdict=by_verdict)


def cells(chart: Chart) -> dict[tuple[float, float], Tile]:
    return {(mark.left, mark.low): mark for mark in chart.marks if isinstance(mark, Tile)}


def test_departures_run_across_and_places_down(three: Plan) -> None:
    chart = board(three)
    assert (chart.x.low, chart.x.high, chart.y.low, chart.y.high) == (0.0, 3.0, 2.0, 0.0)
    assert chart.x.on_top
    assert set(cells(chart)) == {(d, k) for d in range(3) for k in range(2)}
    assert {(cell.right - cell.left, cell.high - cell.low) for cell in cells(chart).values()} == {(1, 1)}
    assert [(tick.at, tick.strong) for tick in chart.y.rows[0]] == [(0.5, False), (1.5, True)]
    assert [tick.text for tick in chart.y.rows[0]] == list(three.loading_place_titles)


def test_hours_stand_over_the_middle_of_their_column_and_days_at_their_first(three: Plan) -> None:
    hours, days = board(three).x.rows
    assert hours == (Tick(0.5, "12:00"), Tick(1.5, "13:00"), Tick(2.5, "14:00"))
    assert days == (Tick(0, "Tue 30", strong=True),)


def test_harm_is_a_cross_caution_a_dot_and_the_unknown_a_stroke_on_grey(three: Plan) -> None:
    """Coloured by warmth from 31 to 45 °C in 64 steps, or by the verdict itself."""
    by_warmth = {at: (cell.fill, cell.sign) for at, cell in cells(board(three)).items()}
    assert by_warmth == {
        (0, 0): (0, ""),
        (1, 0): (22, ""),
        (2, 0): (0, ""),
        (0, 1): (63, "cross"),
        (1, 1): ("unknown", "unknown"),
        (2, 1): (32, "dot"),
    }
    by_verdict = cells(board(three, by_verdict=True))
    assert [by_verdict[d, 1].fill for d in range(3)] == ["harm", "unknown", "caution"]
    assert by_verdict[0, 0].fill == "clear"


def test_the_best_three_are_ringed(three: Plan) -> None:
    rings = [mark for mark in board(three).marks if isinstance(mark, Ring)]
    assert [(one.left, one.right, one.low, one.high) for one in rings] == [
        (c.departure, c.departure + 1, c.loading_place, c.loading_place + 1) for c in three.ranking[:3]
    ]
    assert {one.colour for one in rings} == {"ink"}
    assert ring(CHOICE, "accent", 2.4, "B") == Ring(2, 3, 1, 2, "accent", 2.4, "B")


def test_night_lies_under_day_by_the_height_of_the_sun(three: Plan) -> None:
    """Day from six degrees above the horizon, night from six below, half and half upon it."""
    assert board(three).above == (
        Stretch(0.0, 3.0, "night"),
        Stretch(0, 1, "day", 1.0),
        Stretch(1, 2, "day", 0.5),
    )


def test_departures_that_lose_the_foragers_are_underlined(three: Plan) -> None:
    closed = replace(three, closed_by_day=np.array([False, True, False]))
    assert board(three).below == ()
    assert board(closed).below == (Stretch(1, 2, "caution"),)
    texts = ["caution", "harm", "not known", "best"]
    for plan, more in ((three, []), (closed, ["bees flying when shut"])):
        assert [part.text for part in board(plan).legend if isinstance(part, Key)] == texts + more


def test_the_scale_of_warmth_stands_under_a_board_coloured_by_it(three: Plan) -> None:
    assert board(three).legend[0] == Ramp(WARMTH_C, ("31", "35", "40", "45 °C"))
    assert board(three, US).legend[0] == Ramp(WARMTH_C, ("88", "95", "104", "113 °F"))
    assert not any(isinstance(part, Ramp) for part in board(three, by_verdict=True).legend)


def test_the_choice_is_framed_on_paper(three: Plan) -> None:
    """Half a pixel around its cell, which keeps a pixel free on its right and at its foot."""
    drawn = parsed(board_svg(three, CHOICE))
    frame = next(e for e in drawn if e.get("stroke-width") == "2.4")
    assert frame["stroke"] == PAPER["accent"]
    tiles = [e for e in drawn if e["tag"] == "rect" and e.get("rx") is None][1:7]
    chosen = max(tiles, key=lambda e: (float(e["x"]), float(e["y"])))
    assert float(frame["x"]) == pytest.approx(float(chosen["x"]) - 0.5, abs=0.11)
    assert float(frame["y"]) == pytest.approx(float(chosen["y"]) - 0.5, abs=0.11)
    assert float(frame["width"]) == pytest.approx(float(chosen["width"]) + 2.0, abs=0.11)
