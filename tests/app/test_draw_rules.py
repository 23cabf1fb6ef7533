"""How a chart is painted: where its field lies, what is put down for each mark, which words give way to others."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from planner.app.common.chart import (
    Axis,
    Band,
    Box,
    Chart,
    Column,
    Dot,
    Dots,
    Key,
    Line,
    Pointer,
    Ramp,
    Ring,
    Rule,
    Stretch,
    Tick,
    Tile,
)
from planner.app.common.draw import MOST_POINTS, layout
from planner.app.common.scale import SAFE_SHARE, STEPS, WARMTH_C
from tests.app.noted import NotedCanvas, painted

LIMIT = Rule(5.0, "y", "harm", text="limit")
"""In the middle of the field; its name is 34 wide."""


def level(y: float, last_x: float = 20.0, name: str = "") -> Line:
    """A level line from the left edge, known at every half pixel or so."""
    xs = np.linspace(0.0, last_x, 401)
    return Line(xs, np.full(401, y), "core", name=name)


# -- where the field lies ------------------------------------------------------------------------------

ROW = (Tick(0.0, "tick"),)
FULL: dict[str, Any] = {
    "x": Axis(0.0, 1.0, (ROW, ROW), "across"),
    "y": Axis(0.0, 1.0, ((Tick(0.0, "five5"), Tick(1.0, "bold", strong=True)), (Tick(0.5, "a" * 50),)), "up"),
    "marks": (level(1.0, name="core"), Dots(np.zeros(1), np.zeros(1), "ink", name="dot")),
    "above": (Stretch(0.0, 1.0, "night"),),
    "below": (Stretch(0.0, 1.0, "caution"),),
    "columns": (Column("h", (Tick(0.5, "12345"),)), Column("headed", (Tick(0.5, "1", strong=True),))),
    "legend": (Key("key", "ink"),),
}


def made(**parts: Any) -> Chart:
    return Chart(**{"title": "", "x": Axis(0.0, 1.0), "y": Axis(0.0, 1.0), "marks": ()} | parts)


def field(page: Box, **parts: Any) -> Box:
    return layout(made(**parts), NotedCanvas(), page).field


def without(*parts: str) -> dict[str, Any]:
    return {name: part for name, part in FULL.items() if name not in parts}


def test_a_bare_chart_fills_its_page_but_for_a_narrow_edge() -> None:
    assert field(Box(3.0, 4.0, 200.0, 100.0)) == Box(13.0, 6.0, 174.0, 96.0)


def test_every_part_around_the_field_takes_its_room() -> None:
    """Left: ticks of 30 and 10 more. Right: a name 24, columns 42 and 48, 16 more.

    Above: title 21, strip 10, head 12. Below: strip 8, two rows 26, title 12, legend 19. Four are left free.
    """
    page = Box(0.0, 0.0, 500.0, 300.0)
    assert layout(made(**FULL), NotedCanvas(), page, titled=True).field == Box(40.0, 45.0, 330.0, 188.0)


@pytest.mark.parametrize(
    ("parts", "top", "height"),
    [
        (FULL, 24.0, 209.0),
        (FULL | {"x": Axis(0.0, 1.0, (ROW,), "across")}, 24.0, 221.0),
        (FULL | {"x": Axis(0.0, 1.0, (ROW, ROW))}, 24.0, 221.0),
        (FULL | {"x": Axis(0.0, 1.0, (ROW, ROW), "across", on_top=True)}, 50.0, 209.0),
        (without("above"), 14.0, 219.0),
        (without("below"), 24.0, 217.0),
        (without("legend"), 24.0, 228.0),
        (FULL | {"legend": (Key("key", "ink"), Ramp(WARMTH_C, ("a",) * 4))}, 24.0, 201.0),
        (without("columns"), 24.0, 209.0),
        (without("columns", "y"), 12.0, 221.0),
        (without("y"), 24.0, 209.0),
        (without("columns", "y") | {"marks": (Pointer(0.0, "harm", ""),)}, 24.0, 209.0),
    ],
)
def test_what_is_not_there_takes_no_room(parts: dict[str, Any], top: float, height: float) -> None:
    found = field(Box(0.0, 0.0, 500.0, 300.0), **parts)
    assert (found.top, found.height) == (top, height)


def test_the_word_at_the_very_top_of_an_axis_is_whole() -> None:
    """Its upper half lay beyond the edge where neither heads nor strips stood above the field."""
    page = Box(3.0, 4.0, 200.0, 100.0)
    assert field(page, y=Axis(0.0, 1.0, ((Tick(0.0, "0"), Tick(1.0, "1")),))).top == 4.0 + 6.0 + 2.0
    assert field(page, y=Axis(1.0, 0.0, ((Tick(0.0, "0"),),))).top == 4.0 + 6.0 + 2.0
    assert field(page, y=Axis(0.0, 1.0, ((Tick(0.5, "half"),),))).top == 4.0 + 2.0, "none stands there"


def test_words_beside_the_field_take_two_fifths_at_most() -> None:
    """42 of 100 on the left and 40 on the right; of ticks only the nearest row counts."""
    long = Axis(0.0, 1.0, ((Tick(0.0, "a" * 30),),))
    assert field(Box(0.0, 0.0, 100.0, 100.0), y=long, marks=(level(1.0, name="b" * 30),)).left == 42.0
    assert field(Box(0.0, 0.0, 200.0, 100.0), marks=(level(1.0, name="b" * 30),)).width == 110.0


def test_columns_are_never_cut() -> None:
    """What stands in them is read nowhere else: they take more than two fifths where they need it."""
    columns = (Column("h", (Tick(0.5, "a" * 8),)), Column("h", (Tick(0.5, "b" * 10),)))
    page = Box(0.0, 0.0, 240.0, 100.0)
    assert page.right - field(page, columns=columns).right == (48.0 + 12.0) + (60.0 + 12.0) + 16.0


def test_margins_told_are_kept_and_a_field_never_vanishes() -> None:
    assert field(Box(0.0, 0.0, 200.0, 100.0), margins=(30.0, 50.0)) == Box(30.0, 2.0, 120.0, 96.0)
    assert field(Box(0.0, 0.0, 20.0, 8.0), margins=(30.0, 50.0)) == Box(30.0, 2.0, 10.0, 10.0)


def test_the_title_stands_over_the_field() -> None:
    (where, how), *_ = painted(titled=True).of("text")
    assert where == Box(0.0, -23.0, 260.0, 17.0)
    assert how == ("title", "ink", "left", False, True)
    assert painted().put == []


# -- scales --------------------------------------------------------------------------------------------


def test_ticks_lie_at_their_values_and_give_way_to_lower_ones() -> None:
    """Ten pixels apart both are written; a tenth of a pixel less and the upper one is not, but its line is drawn."""
    ticks = (Tick(5.0, "e", strong=True), Tick(1.0, "b"), Tick(1.99, "c"), Tick(0.0, "a"))
    found = painted(y=Axis(0.0, 10.0, (ticks,), "unit", grid=True))
    assert found.of("text") == [
        (Box(-50.0, 94.0, 42.0, 12.0), ("a", "ink_soft", "right", True, False)),
        (Box(-50.0, 84.0, 42.0, 12.0), ("b", "ink_soft", "right", True, False)),
        (Box(-50.0, 44.0, 42.0, 12.0), ("e", "ink", "right", True, True)),
        (Box(-50.0, -15.0, 42.0, 12.0), ("unit", "ink_soft", "right", True, False)),
    ]
    assert found.of("stroke") == [
        ([(0.0, y), (200.0, y)], ("line", 0.8, "", 1.0)) for y in (100.0, 90.0, 80.1, 50.0)
    ]
    assert painted(y=Axis(0.0, 10.0, (ticks,))).of("stroke") == []


def test_rows_of_words_stand_under_the_field_one_by_one() -> None:
    rows = ((Tick(10.0, "noon"),), (Tick(10.0, "May", strong=True),))
    found = painted(x=Axis(0.0, 20.0, rows, "title"))
    assert found.of("stroke") == [([(100.0, 100.0), (100.0, 104.0)], ("ink_faint", 1.0, "", 1.0))]
    assert found.of("text") == [
        (Box(86.0, 103.0, 28.0, 12.0), ("noon", "ink_soft", "middle", True, False)),
        (Box(98.0, 115.0, 25.0, 12.0), ("May", "ink", "middle", True, True)),
        (Box(0.0, 126.0, 200.0, 12.0), ("title", "ink_soft", "middle", True, False)),
    ]
    lower = painted(x=Axis(0.0, 20.0, rows, "title"), below=(Stretch(0.0, 1.0, "harm"),)).words()
    assert [lower[words].top for words in ("noon", "May", "title")] == [111.0, 123.0, 134.0]


def test_rows_on_top_pile_up_and_have_no_little_ticks() -> None:
    axis = Axis(0.0, 20.0, ((Tick(10.0, "noon"),), (Tick(10.0, "May"),)), "title", on_top=True)
    plain, stripped = painted(x=axis), painted(x=axis, above=(Stretch(0.0, 1.0, "night"),))
    assert plain.of("stroke") == []
    for found, tops in ((plain, [-14.0, -26.0, 102.0]), (stripped, [-24.0, -36.0, 102.0])):
        assert [found.words()[words].top for words in ("noon", "May", "title")] == tops


@pytest.mark.parametrize(
    ("at", "written"), [(2.6, True), (2.59, False), (25.0, True), (25.1, True), (25.11, False)]
)
def test_words_along_an_axis_keep_eight_pixels_apart_and_on_the_page(at: float, written: bool) -> None:
    """Words are 18 wide: the first reaches to 9, the page to 260."""
    found = painted(x=Axis(0.0, 20.0, ((Tick(0.0, "one"), Tick(at, "two")),))).words()
    assert ("two" in found) is written


def test_strips_run_along_both_edges() -> None:
    """Six pixels high above and three below; a little wider than told, so that no seam shows."""
    found = painted(above=(Stretch(0.0, 10.0, "night", 0.5),), below=(Stretch(5.0, 6.0, "caution"),))
    assert found.of("fill") == [
        (Box(0.0, -9.0, 100.6, 6.0), ("night", 0.5)),
        (Box(50.0, 102.0, 10.6, 3.0), ("caution", 1.0)),
    ]


# -- curves --------------------------------------------------------------------------------------------


def way(where: list[tuple[float, float]]) -> list[tuple[float, float]]:
    """A path without the points it stays on, where a curve was cut at a point of its own."""
    return [point for point, before in zip(where, [None, *where], strict=False) if point != before]


def test_a_curve_is_lifted_where_nothing_is_known_and_held_in_the_field() -> None:
    """It leaves through the top half way to 15, comes in again at the foot a third of the way from -4 to 8."""
    xs = np.array([0.0, 2.0, 4.0, 6.0, 9.0, 12.0])
    ys = np.array([5.0, 15.0, np.nan, -4.0, 8.0, 9.0])
    found = painted(Line(xs, ys, "core", 1.5, "6 3")).of("stroke")
    assert [way(where) for where, _ in found] == [
        [(0.0, 50.0), (10.0, 0.0)],
        [(70.0, 100.0), (90.0, 20.0), (120.0, 10.0)],
    ]
    assert [how for _, how in found] == [("core", 1.5, "6 3", 1.0)] * 2


def test_a_curve_is_cut_at_the_sides_too() -> None:
    line = Line(np.array([-5.0, 5.0, 25.0]), np.array([0.0, 2.0, 10.0]), "core")
    assert [where for where, _ in painted(line).of("stroke")] == [[(0.0, 90.0), (50.0, 80.0), (200.0, 20.0)]]


@pytest.mark.parametrize(("upside_down", "top"), [(False, 0.0), (True, 100.0)])
def test_a_curve_that_touches_an_edge_stays_whole(upside_down: bool, top: float) -> None:
    line = Line(np.array([0.0, 10.0, 20.0]), np.array([0.0, 10.0, 0.0]), "core")
    y = Axis(10.0, 0.0) if upside_down else Axis(0.0, 10.0)
    (where, _), *rest = painted(line, y=y).of("stroke")
    assert way(where) == [(0.0, 100.0 - top), (100.0, top), (200.0, 100.0 - top)]
    assert rest == []


@pytest.mark.parametrize(
    ("size", "drawn"), [(900, 900), (1799, 1799), (1800, 901), (1801, 901), (2700, 901), (9000, 901)]
)
def test_a_long_curve_is_thinned(size: int, drawn: int) -> None:
    """To about nine hundred points, the last always among them; below twice as many all are drawn."""
    assert MOST_POINTS == 900
    xs, ys = np.linspace(1.0, 19.0, size), np.full(size, 5.0)
    found = painted(Line(xs, ys, "core"), Band(xs, ys, ys + 1.0, "core"))
    ((line, _),), ((area, _),) = found.of("stroke"), found.of("area")
    assert (len(line), len(area)) == (drawn, 2 * drawn)
    assert (line[0], line[-1]) == ((10.0, 50.0), (190.0, 50.0))
    assert (area[drawn - 1], area[drawn]) == ((190.0, 40.0), (190.0, 50.0))


def test_a_band_is_the_room_between_two_curves_held_in_the_field() -> None:
    """Forth along the upper curve and back along the lower; in two where one of them is not known."""
    xs = np.array([-1.0, 0.0, 5.0, 10.0, 15.0, 20.0, 21.0])
    low = np.array([1.0, 1.0, -3.0, np.nan, 2.0, 3.0, 3.0])
    high = np.array([4.0, 4.0, 12.0, 5.0, 6.0, 7.0, 7.0])
    assert painted(Band(xs, low, high, "core", 0.3)).of("area") == [
        ([(0.0, 60.0), (50.0, 0.0), (50.0, 100.0), (0.0, 90.0)], ("core", 0.3)),
        ([(150.0, 40.0), (200.0, 30.0), (200.0, 70.0), (150.0, 80.0)], ("core", 0.3)),
    ]


def test_a_band_ends_at_the_edges_of_any_axes() -> None:
    """From 10 to 30 across and from 5 to 15 up, points beyond the sides left out."""
    xs = np.array([7.0, 10.0, 30.0, 31.0])
    band = Band(xs, np.zeros(4), np.full(4, 20.0), "core", 1.0)
    ((where, _),) = painted(band, x=Axis(10.0, 30.0), y=Axis(5.0, 15.0)).of("area")
    assert where == [(0.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)]


def test_dots_stand_at_their_values() -> None:
    found = painted(Dots(np.array([1.0, 2.0]), np.array([3.0, 4.0]), "ink", 2.5)).of("disc")
    assert found == [((10.0, 70.0), (2.5, "ink", "", 1.4)), ((20.0, 60.0), (2.5, "ink", "", 1.4))]


def test_tiles_lie_under_the_grid_and_other_marks_in_their_order() -> None:
    marks = (level(5.0), Dots(np.ones(1), np.ones(1), "ink"), Tile(0.0, 1.0, 0.0, 1.0, "harm"))
    found = painted(*marks, y=Axis(0.0, 10.0, ((Tick(5.0, ""),),), grid=True))
    assert [one.kind for one in found.put] == ["fill", "stroke", "text", "stroke", "disc"]


# -- points and frames ---------------------------------------------------------------------------------


def test_a_ring_stands_half_a_pixel_around_its_cell_on_a_pale_ground() -> None:
    found = painted(Ring(3.0, 5.0, 2.0, 4.0, "ink", 2.0, "B"))
    around = Box(29.5, 59.5, 21.0, 21.0)
    assert found.of("outline") == [(around, ("panel", 3.6)), (around, ("ink", 2.0))]
    assert found.of("disc") == [((40.0, 57.0), (7.5, "ink", "", 1.4))]
    assert found.of("text") == [(Box(32.0, 49.0, 16.0, 16.0), ("B", "panel", "middle", True, True))]
    assert painted(Ring(3.0, 5.0, 2.0, 4.0, "ink")).of("text") == []


@pytest.mark.parametrize(("wide", "left", "width"), [(0.3, 27.5, 8.0), (0.7, 29.5, 8.0), (0.9, 29.5, 10.0)])
def test_a_ring_around_a_narrow_cell_is_seven_wide_at_least(wide: float, left: float, width: float) -> None:
    where, _ = painted(Ring(3.0, 3.0 + wide, 2.0, 4.0, "ink")).of("outline")[0]
    assert (where.left, where.width) == (left, width)


def test_a_point_is_full_or_hollow_with_its_word_beside() -> None:
    found = painted(Dot(10.0, 5.0, text="word"), Dot(4.0, 5.0, hollow=True, text="tips"))
    assert found.of("disc") == [
        ((100.0, 50.0), (5.0, "ink", "ink", 1.4)),
        ((40.0, 50.0), (5.0, "panel", "ink", 1.4)),
    ]
    assert found.of("text")[0] == (Box(105.0, 32.0, 28.0, 12.0), ("word", "ink", "left", True, False))


@pytest.mark.parametrize(
    ("x", "y", "left", "top"),
    [(16.6, 5.0, 171.0, 32.0), (16.7, 5.0, 134.0, 32.0), (10.0, 9.5, 105.0, 0.0), (10.0, -1.0, 105.0, 88.0)],
)
def test_a_word_turns_to_the_left_near_the_right_edge_and_stays_in_the_field(
    x: float, y: float, left: float, top: float
) -> None:
    box = painted(Dot(x, y, text="word")).words()["word"]
    assert (box.left, box.top) == (left, top)


def test_a_pointer_points_down_at_the_upper_edge() -> None:
    found = painted(Pointer(10.0, "harm", "worst"))
    assert found.of("area") == [([(95.0, -8.0), (105.0, -8.0), (100.0, 0.0)], ("harm", 1.0))]
    assert found.words() == {"worst": Box(109.0, -15.0, 34.0, 12.0)}


# -- rules and their names -----------------------------------------------------------------------------


@pytest.mark.parametrize(("at", "drawn"), [(0.0, 1), (10.0, 1), (-0.1, 0), (10.1, 0)])
def test_rules_are_drawn_inside_the_field_alone(at: float, drawn: int) -> None:
    assert len(painted(Rule(at, "y", "harm", text="limit")).of("stroke")) == drawn
    assert len(painted(Rule(at, "y", "harm", text="limit")).of("text")) == drawn
    assert len(painted(Rule(2.0 * at, "x", "harm", text="now")).of("stroke")) == drawn
    assert len(painted(Rule(2.0 * at, "x", "harm", text="now")).of("text")) == drawn


def test_a_rule_runs_right_across_with_its_name() -> None:
    found = painted(
        Rule(5.0, "y", "harm", 1.1, "6 3", "limit"), Rule(4.0, "x", "ink_soft", 1.0, "4 3", "now")
    )
    assert found.of("stroke") == [
        ([(0.0, 50.0), (200.0, 50.0)], ("harm", 1.1, "6 3", 1.0)),
        ([(40.0, 0.0), (40.0, 100.0)], ("ink_soft", 1.0, "4 3", 1.0)),
    ]
    assert found.of("text") == [
        (Box(45.0, 88.0, 22.0, 12.0), ("now", "ink", "left", True, False)),
        (Box(6.0, 38.0, 34.0, 12.0), ("limit", "ink_soft", "middle", True, False)),
    ]


@pytest.mark.parametrize(
    ("lines", "left", "top"),
    [
        ([level(5.5, 0.5)], 6.0, 38.0),
        ([level(5.5, 0.7)], 44.5, 38.0),
        ([level(5.5, 5.0)], 83.0, 38.0),
        ([level(5.5, 10.0)], 121.5, 38.0),
        ([level(5.5, 15.0)], 160.0, 38.0),
        ([level(5.5)], 6.0, 51.0),
        ([level(6.29)], 6.0, 51.0),
        ([level(6.3)], 6.0, 38.0),
        ([level(4.9)], 6.0, 38.0),
        ([level(5.5), level(4.0, 0.7)], 44.5, 51.0),
    ],
)
def test_a_name_goes_where_no_line_runs(lines: list[Line], left: float, top: float) -> None:
    """Above its rule at five places from the left to the right, then below; a pixel from any line."""
    box = painted(LIMIT, *lines).words()["limit"]
    assert (box.left, box.top) == (left, top)


@pytest.mark.parametrize(("x", "left"), [(0.59, 6.0), (0.6, 44.5), (2.0, 44.5), (4.0, 44.5), (4.01, 6.0)])
def test_a_line_ends_at_the_edges_of_a_name(x: float, left: float) -> None:
    """The name lies from 6 to 40: its edges count."""
    point = Line(np.array([x]), np.array([5.5]), "core")
    assert painted(LIMIT, point).words()["limit"].left == left


def test_a_name_without_room_is_left_out() -> None:
    assert painted(LIMIT, level(5.5), level(4.0)).words() == {}


@pytest.mark.parametrize(
    ("at", "top"), [(10.0, 1.0), (9.0, 11.0), (8.9, -1.0), (8.8, 0.0), (0.0, 88.0), (1.0, 78.0)]
)
def test_a_name_stays_in_the_field(at: float, top: float) -> None:
    assert painted(Rule(at, "y", "harm", text="limit")).words()["limit"].top == top


@pytest.mark.parametrize(("at", "written"), [(1.3, True), (1.2, False)])
def test_below_a_rule_a_name_needs_a_row_above_the_foot(at: float, written: bool) -> None:
    rule = Rule(at, "y", "harm", text="limit")
    assert ("limit" in painted(rule, level(at + 0.5)).words()) is written


def test_names_of_rules_do_not_cover_each_other_nor_a_rule() -> None:
    """Two rules at one height share it; five pixels apart, one is named below and the other above."""
    same = painted(LIMIT, Rule(5.0, "y", "harm", text="other")).words()
    assert (same["limit"].left, same["other"].left) == (6.0, 44.5)
    near = painted(LIMIT, Rule(5.5, "y", "harm", text="other")).words()
    assert (near["limit"].top, near["other"].top) == (51.0, 33.0)
    three = painted(LIMIT, Rule(5.5, "y", "harm", text="other"), Rule(6.0, "y", "harm", text="third"))
    assert "other" not in three.words()
    upright = painted(LIMIT, Rule(5.5, "x", "harm", text="now")).words()
    assert upright["limit"] == Box(6.0, 38.0, 34.0, 12.0)


# -- tiles and signs -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("right", "gap", "box"),
    [
        (4.0, 0.0, Box(20.0, 50.0, 20.6, 50.0)),
        (4.0, 1.0, Box(20.0, 50.0, 19.0, 49.0)),
        (2.6, 1.0, Box(20.0, 50.0, 6.0, 49.0)),
        (2.61, 1.0, Box(20.0, 50.0, 5.1, 49.0)),
        (2.01, 1.0, Box(20.0, 50.0, 0.5, 49.0)),
        (30.0, 1.0, Box(20.0, 50.0, 179.0, 49.0)),
    ],
)
def test_tiles_touch_or_keep_their_gap_where_there_is_room(right: float, gap: float, box: Box) -> None:
    assert painted(Tile(2.0, right, 0.0, 5.0, "harm", 0.7, gap=gap)).of("fill") == [(box, ("harm", 0.7))]


def test_a_tile_outside_the_field_is_not_drawn_and_a_flat_one_is_a_hair() -> None:
    assert painted(Tile(21.0, 30.0, 0.0, 5.0, "harm")).put == []
    assert painted(Tile(2.0, 3.0, 5.0, 5.0, "harm")).of("fill")[0][0] == Box(20.0, 50.0, 10.6, 0.5)


@pytest.mark.parametrize(("right", "written"), [(4.2, False), (4.25, True)])
def test_words_at_the_foot_of_a_tile_need_their_room(right: float, written: bool) -> None:
    found = painted(Tile(2.0, right, 0.0, 5.0, "harm", gap=1.0, text="abc")).of("text")
    assert len(found) == written
    if written:
        assert found == [(Box(20.0, 87.0, 21.5, 12.0), ("abc", "ink_faint", "middle", True, False))]


def signed(sign: str, high: float = 2.0) -> NotedCanvas:
    """A sign in a tile around (30, 50)."""
    return painted(Tile(1.97, 3.97, 5.0 - high / 2.0, 5.0 + high / 2.0, 7, sign=sign))


def test_a_dot_a_spot_and_a_ring_lie_in_the_middle_of_their_tile() -> None:
    assert signed("dot").of("disc") == [((30.0, 50.0), (1.65, "on 7", "", 1.4))]
    assert signed("spot").of("disc") == [((30.0, 50.0), (1.6, "on 7", "", 1.4))]
    assert signed("ring").of("disc") == [((30.0, 50.0), (2.8, "", "on 7", 0.9))]
    assert signed("").of("disc") == []


@pytest.mark.parametrize(
    ("high", "dot", "spot", "ring"), [(0.4, 1.4, 1.6, 2.0), (0.8, 1.4, 1.6, 2.4), (1.0, 1.5, 1.6, 2.8)]
)
def test_signs_shrink_with_their_tile_but_not_to_nothing(
    high: float, dot: float, spot: float, ring: float
) -> None:
    radii = [signed(sign, high).of("disc")[0][1][0] for sign in ("dot", "spot", "ring")]
    assert radii == [dot, spot, ring]


def test_a_cross_has_two_strokes_and_the_unknown_one_that_rises() -> None:
    rising, falling = [(27.25, 52.75), (32.75, 47.25)], [(27.25, 47.25), (32.75, 52.75)]
    pen = ("on 7", 1.4, "", 1.0)
    assert signed("cross").of("stroke") == [(rising, pen), (falling, pen)]
    assert signed("unknown").of("stroke") == [(rising, pen)]


def test_hatching_rises_through_the_whole_tile_every_five_pixels() -> None:
    found = painted(Tile(0.0, 1.0, 0.0, 0.7, "unknown", 0.35, hatched=True)).of("stroke")
    assert [where for where, _ in found] == [
        [(0.0, 98.0), (5.0, 93.0)],
        [(3.0, 100.0), (10.0, 93.0)],
        [(8.0, 100.0), (10.6, 97.4)],
    ]
    assert {how for _, how in found} == {("ink_faint", 1.0, "", 0.6)}


# -- words at the right --------------------------------------------------------------------------------


def test_names_at_the_ends_of_curves_are_pushed_apart_and_held_beside_the_field() -> None:
    found = painted(level(4.8, name="low"), level(5.0, name="high"), level(10.0, name="top"))
    assert found.of("text") == [
        (Box(208.0, 0.0, 52.0, 12.0), ("top", "core", "left", True, False)),
        (Box(208.0, 44.0, 52.0, 12.0), ("high", "core", "left", True, False)),
        (Box(208.0, 54.0, 52.0, 12.0), ("low", "core", "left", True, False)),
    ]
    assert painted(level(0.0, name="foot")).words()["foot"].top == 88.0


def test_a_name_stands_where_the_curve_is_last_known_in_the_field() -> None:
    xs = np.array([0.0, 10.0, 20.0, 30.0])
    line = Line(xs, np.array([1.0, 4.0, np.nan, 9.0]), "core", name="line")
    dots = Dots(xs, np.array([1.0, 2.0, 7.0, 9.0]), "ink", name="dots")
    before = Line(xs - 30.0, np.array([1.0, 2.0, 3.0, 6.0]), "core", name="edge")
    found = painted(line, dots, before).words()
    assert [found[name].top for name in ("line", "dots", "edge")] == [54.0, 24.0, 34.0]
    assert painted(Line(xs, np.full(4, np.nan), "core", name="none")).words() == {}


def test_columns_stand_side_by_side_under_their_heads() -> None:
    first = Column("h", (Tick(5.0, "12345", strong=True), Tick(2.0, "1")))
    found = painted(columns=(first, Column("headed", (Tick(5.0, "2"),)))).of("text")
    assert found == [
        (Box(208.0, -15.0, 47.0, 12.0), ("h", "ink_soft", "left", True, False)),
        (Box(208.0, 44.0, 47.0, 12.0), ("12345", "ink", "left", True, True)),
        (Box(208.0, 74.0, 47.0, 12.0), ("1", "ink_soft", "left", True, False)),
        (Box(255.0, -15.0, 48.0, 12.0), ("headed", "ink_soft", "left", True, False)),
        (Box(255.0, 44.0, 48.0, 12.0), ("2", "ink_soft", "left", True, False)),
    ]


# -- the legend ----------------------------------------------------------------------------------------


def test_keys_stand_in_a_row_under_the_field() -> None:
    found = painted(legend=(Key("abc", "harm", "dot"), Key("de", "ink", shape="ring")))
    assert found.of("fill") == [(Box(0.0, 108.5, 12.0, 11.0), ("harm", 1.0))]
    assert found.of("disc") == [((6.0, 114.0), (1.65, "on harm", "", 1.4))]
    assert found.of("outline") == [(Box(52.5, 110.0, 9.0, 8.0), ("ink", 1.4))]
    assert found.of("text") == [
        (Box(17.0, 108.0, 22.0, 12.0), ("abc", "ink_soft", "left", True, False)),
        (Box(68.0, 108.0, 16.0, 12.0), ("de", "ink_soft", "left", True, False)),
    ]


def test_a_key_of_strokes_is_thin_and_one_of_hatching_pale() -> None:
    found = painted(legend=(Key("a", "caution", shape="stroke"), Key("b", "unknown", hatched=True)))
    assert found.of("fill") == [
        (Box(0.0, 112.5, 12.0, 3.0), ("caution", 1.0)),
        (Box(39.0, 108.5, 12.0, 11.0), ("unknown", 0.35)),
    ]
    assert len(found.of("stroke")) == 4


@pytest.mark.parametrize(
    ("letters", "starts"),
    [
        ((10, 22), [17.0, 110.0]),
        ((10, 23), [-29.0, 64.0]),
        ((10, 32), [-29.0, 64.0]),
        ((10, 33), [-29.0]),
    ],
)
def test_a_long_legend_begins_at_the_edge_and_what_has_no_room_is_left_out(
    letters: tuple[int, ...], starts: list[float]
) -> None:
    """Keys are 17 and 6 a letter wide, with 16 after each; the page reaches from -50 to 260."""
    found = painted(legend=tuple(Key(word * n, "ink") for word, n in zip("ab", letters, strict=True)))
    assert [box.left for box in found.words().values()] == starts


def test_a_ramp_shows_every_step_from_its_first_mark_with_its_marks_below() -> None:
    found = painted(legend=(Ramp(WARMTH_C, ("31", "35", "40", "45 C"), "warm"), Key("k", "ink")))
    *steps, key = found.of("fill")
    assert [how for _, how in steps] == [(shade, 1.0) for shade in range(STEPS)]
    assert steps[0][0] == Box(0.0, 110.0, 2.94375, 8.0)
    assert steps[63][0] == Box(147.65625, 110.0, 2.94375, 8.0)
    words = found.words()
    assert words["31"] == Box(-8.0, 119.0, 16.0, 12.0)
    assert words["40"].middle[0] == pytest.approx(150.0 * 9.0 / 14.0)
    assert words["45 C"] == Box(136.0, 119.0, 28.0, 12.0)
    assert words["warm"] == Box(158.0, 106.0, 28.0, 12.0)
    written = [how for _, how in found.of("text")]
    assert written[0] == ("31", "ink_soft", "middle", True, False)
    assert written[4] == ("warm", "ink_soft", "left", True, False)
    assert key[0].left == 150.0 + 12.0 + 8.0 + 24.0 + 16.0
    (*_, untitled) = painted(legend=(Ramp(WARMTH_C, ("31", "35", "40", "45 C")), Key("k", "ink"))).of("fill")
    assert untitled[0].left == 150.0 + 12.0 + 16.0


def test_a_ramp_follows_what_stands_before_it() -> None:
    """A key of 23 and 16 free; its own row is higher, and the key stands at its top."""
    found = painted(legend=(Key("k", "ink"), Ramp(WARMTH_C, ("31", "35", "40", "45"), "warm")))
    key, first, *_ = found.of("fill")
    assert (key[0].top, first[0]) == (108.5, Box(39.0, 110.0, 2.94375, 8.0))
    assert (found.words()["31"].left, found.words()["warm"].left) == (31.0, 197.0)


def test_a_ramp_of_a_scale_that_falls_is_read_from_small_to_large_too() -> None:
    found = painted(legend=(Ramp(SAFE_SHARE, ("0 %", "50 %", "100 %")),))
    assert [how[0] for _, how in found.of("fill")] == list(range(STEPS))[::-1]
    assert found.words()["50 %"].middle[0] == 75.0
