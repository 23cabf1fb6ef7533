"""Paints a chart on any canvas: where its field lies, its marks, scales, names and legend.

There is one canvas for paper (:mod:`planner.app.common.svg`) and one for the screen; each knows how to put down
rectangles, strokes and words, and what colour a use has there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import singledispatchmethod
from typing import Protocol

import numpy as np

from planner.app.common.chart import (
    Axis,
    Band,
    Box,
    Chart,
    Colour,
    Dot,
    Dots,
    Frame,
    Key,
    Line,
    Mark,
    Pointer,
    Ramp,
    Ring,
    Rule,
    Stretch,
    Tick,
    Tile,
)
from planner.app.common.scale import STEPS
from planner.model.records import Bools, Floats, Ints

GAP = 8.0
STRIP = 6.0
MOST_LEFT_SHARE, MOST_RIGHT_SHARE = 0.42, 0.4
LEAST_FIELD = 10.0
MOST_POINTS = 900
WIDE_ENOUGH = 6.0
"""Tiles narrower than this stand without a gap."""
HATCH_EVERY = 5.0
RAMP_WIDTH, RAMP_HEIGHT = 150.0, 8.0


class Metrics(Protocol):
    """How much room words take."""

    def wide(self, words: str, *, small: bool = False, bold: bool = False) -> float: ...

    def high(self, *, small: bool = False) -> float: ...


class Canvas(Metrics, Protocol):
    """What a chart is painted on; all places in pixels of the picture, from its upper left corner."""

    def fill(self, box: Box, colour: Colour, opacity: float = 1.0) -> None: ...

    def outline(self, box: Box, colour: Colour, width: float) -> None: ...

    def stroke(
        self, xs: Floats, ys: Floats, colour: Colour, width: float, dash: str = "", opacity: float = 1.0
    ) -> None: ...

    def area(self, xs: Floats, ys: Floats, colour: Colour, opacity: float) -> None: ...

    def disc(
        self, x: float, y: float, radius: float, fill: Colour, edge: Colour = "", width: float = 1.4
    ) -> None: ...

    def text(
        self,
        box: Box,
        words: str,
        colour: Colour,
        anchor: str = "left",
        *,
        small: bool = False,
        bold: bool = False,
    ) -> None: ...

    def ink_on(self, colour: Colour) -> Colour: ...


def draw(chart: Chart, canvas: Canvas, page: Box, *, titled: bool = False) -> Frame:
    """Paint a chart onto a page, with its title where nothing else tells it; gives where the field lies."""
    frame = layout(chart, canvas, page, titled=titled)
    _Painter(chart, canvas, page, frame).paint(titled=titled)
    return frame


def layout(chart: Chart, measure: Metrics, page: Box, *, titled: bool = False) -> Frame:
    """Where the field of a chart lies on a page."""
    row = measure.high(small=True) + 3.0
    left = min(_widest(measure, chart.y) + GAP + 2.0, page.width * MOST_LEFT_SHARE)
    right = min(
        _right(chart, measure), max(page.width * MOST_RIGHT_SHARE, _columns_wide(chart, measure) + 2.0 * GAP)
    )
    left, right = chart.margins or (left, right)
    words = row * len(chart.x.rows) + (2.0 if chart.x.rows else 0.0)
    head = bool(chart.y.title or any(column.head for column in chart.columns) or _pointed(chart))
    strips = (STRIP + 4.0) * bool(chart.above), (STRIP + 2.0) * bool(chart.below)
    top = strips[0] + row * head + (words if chart.x.on_top else 0.0)
    top += measure.high() + GAP if titled else 0.0
    top = max(top, row / 2.0) if _ends_in_a_tick(chart.y) else top
    foot = strips[1] + (0.0 if chart.x.on_top else words) + row * bool(chart.x.title)
    foot += _legend_high(chart, measure)
    field = Box(
        page.left + left,
        page.top + top + 2.0,
        max(page.width - left - right, LEAST_FIELD),
        max(page.height - top - foot - 4.0, LEAST_FIELD),
    )
    return Frame(field, (chart.x.low, chart.x.high), (chart.y.low, chart.y.high))


def _widest(measure: Metrics, axis: Axis) -> float:
    ticks = axis.rows[0] if axis.rows else ()
    return max((measure.wide(tick.text, small=True, bold=tick.strong) for tick in ticks), default=0.0)


def _ends_in_a_tick(axis: Axis) -> bool:
    """Whether a word of the axis stands at its very end, half of it beyond the field."""
    return any(tick.at == axis.high for tick in (axis.rows[0] if axis.rows else ()))


def _right(chart: Chart, measure: Metrics) -> float:
    names = [measure.wide(mark.name, small=True) for mark in chart.marks if isinstance(mark, Line | Dots)]
    return max(names, default=0.0) + _columns_wide(chart, measure) + 2.0 * GAP


def _columns_wide(chart: Chart, measure: Metrics) -> float:
    return sum(_column_wide(measure, column.head, column.cells) for column in chart.columns)


def _column_wide(measure: Metrics, head: str, cells: Sequence[Tick]) -> float:
    widths = [measure.wide(cell.text, small=True, bold=cell.strong) for cell in cells]
    return max(measure.wide(head, small=True), *widths) + 1.5 * GAP


def _pointed(chart: Chart) -> bool:
    return any(isinstance(mark, Pointer) for mark in chart.marks)


def _legend_high(chart: Chart, measure: Metrics) -> float:
    if not chart.legend:
        return 0.0
    ramp = any(isinstance(part, Ramp) for part in chart.legend)
    return GAP + (RAMP_HEIGHT + measure.high(small=True) + 2.0 if ramp else measure.high(small=True) + 2.0)


class _Painter:
    """One chart on one canvas."""

    def __init__(self, chart: Chart, canvas: Canvas, page: Box, frame: Frame) -> None:
        self._chart, self._canvas, self._page, self._frame = chart, canvas, page, frame
        self._row = canvas.high(small=True) + 3.0
        self._taken: list[Box] = []

    def paint(self, *, titled: bool) -> None:
        chart, canvas, page = self._chart, self._canvas, self._page
        if titled:
            title = Box(
                self._frame.field.left, page.top, page.right - self._frame.field.left, canvas.high() + 4.0
            )
            canvas.text(title, chart.title, "ink", bold=True)
        self._tiles_first()
        self._y_axis()
        self._x_axis()
        self._strips()
        for mark in chart.marks:
            self._put(mark)
        self._rule_names()
        self._names()
        self._columns()
        self._legend()

    # -- scales --------------------------------------------------------------------------------------

    def _y_axis(self) -> None:
        axis, field, canvas = self._chart.y, self._frame.field, self._canvas
        last = np.inf
        for tick in sorted(axis.rows[0] if axis.rows else (), key=lambda t: -self._frame.up(t.at)):
            y = self._frame.up(tick.at)
            if axis.grid:
                self._across(y, "line", 0.8)
            if y + self._row / 2.0 > last + 2.0:
                continue
            last = y - self._row / 2.0
            box = Box(self._page.left, last, field.left - GAP - self._page.left, self._row)
            ink = "ink" if tick.strong else "ink_soft"
            canvas.text(box, tick.text, ink, "right", small=True, bold=tick.strong)
        if axis.title:
            box = Box(
                self._page.left, field.top - self._row - 3.0, field.left - GAP - self._page.left, self._row
            )
            canvas.text(box, axis.title, "ink_soft", "right", small=True)

    def _x_axis(self) -> None:
        axis, field = self._chart.x, self._frame.field
        strips = (STRIP + 4.0) * bool(self._chart.above), (STRIP + 2.0) * bool(self._chart.below)
        for number, row in enumerate(axis.rows):
            if axis.on_top:
                top = field.top - strips[0] - self._row * (number + 1) - 2.0
            else:
                top = field.bottom + strips[1] + self._row * number + 3.0
                self._little_ticks(row if number == 0 else ())
            self._x_words(row, top)
        if axis.title:
            top = field.bottom + strips[1] + self._row * (0 if axis.on_top else len(axis.rows)) + 2.0
            self._canvas.text(
                Box(field.left, top, field.width, self._row), axis.title, "ink_soft", "middle", small=True
            )

    def _little_ticks(self, row: Sequence[Tick]) -> None:
        for tick in row:
            x, foot = self._frame.across(tick.at), self._frame.field.bottom
            self._canvas.stroke(np.array([x, x]), np.array([foot, foot + 4.0]), "ink_faint", 1.0)

    def _x_words(self, row: Sequence[Tick], top: float) -> None:
        """Words along an axis, those left out that would cover the one before."""
        free_from = -np.inf
        for tick in row:
            half = self._canvas.wide(tick.text, small=True, bold=tick.strong) / 2.0
            x = self._frame.across(tick.at) + (half if tick.strong else 0.0)
            if x - half < free_from or x + half > self._page.right:
                continue
            free_from = x + half + GAP
            ink = "ink" if tick.strong else "ink_soft"
            box = Box(x - half - 2.0, top, 2.0 * half + 4.0, self._row)
            self._canvas.text(box, tick.text, ink, "middle", small=True, bold=tick.strong)

    def _across(self, y: float, colour: Colour, width: float, dash: str = "") -> None:
        field = self._frame.field
        self._canvas.stroke(np.array([field.left, field.right]), np.array([y, y]), colour, width, dash)

    def _strips(self) -> None:
        field = self._frame.field
        for stretches, top in (
            (self._chart.above, field.top - STRIP - 3.0),
            (self._chart.below, field.bottom + 2.0),
        ):
            for stretch in stretches:
                self._stretch(stretch, top)

    def _stretch(self, stretch: Stretch, top: float) -> None:
        x0, x1 = (self._frame.across(x) for x in (stretch.left, stretch.right))
        high = STRIP if stretch in self._chart.above else STRIP / 2.0
        self._canvas.fill(Box(x0, top, x1 - x0 + 0.6, high), stretch.colour, stretch.opacity)

    # -- marks ---------------------------------------------------------------------------------------

    def _tiles_first(self) -> None:
        """Tiles lie under the grid: they are the ground of what is drawn."""
        for mark in self._chart.marks:
            if isinstance(mark, Tile):
                self._tile(mark)

    @singledispatchmethod
    def _put(self, mark: Mark) -> None:
        """Put down one mark; tiles lie there already."""

    @_put.register
    def _(self, mark: Line) -> None:
        for xs, ys in self._pieces(mark.xs, mark.ys):
            self._canvas.stroke(xs, ys, mark.colour, mark.width, mark.dash)

    @_put.register
    def _(self, mark: Band) -> None:
        spans = self._frame.x_span, self._frame.y_span
        inside = (mark.xs >= min(spans[0])) & (mark.xs <= max(spans[0]))
        low, high = (np.clip(edge, min(spans[1]), max(spans[1])) for edge in (mark.low, mark.high))
        for rows in _known_runs(inside & np.isfinite(low) & np.isfinite(high)):
            kept = _thinned(rows)
            xs, up, down = (
                self._frame.across(mark.xs[kept]),
                self._frame.up(high[kept]),
                self._frame.up(low[kept]),
            )
            self._canvas.area(np.append(xs, xs[::-1]), np.append(up, down[::-1]), mark.colour, mark.opacity)

    def _pieces(self, xs: Floats, ys: Floats) -> Iterator[tuple[Floats, Floats]]:
        """The stretches of a curve that are known and inside the field, in the picture, not too many points each."""
        xs, ys = _cut(xs, ys, self._frame.y_span)
        ys, xs = _cut(ys, xs, self._frame.x_span)
        for rows in _known_runs(np.isfinite(xs) & np.isfinite(ys)):
            kept = _thinned(rows)
            yield self._frame.across(xs[kept]), self._frame.up(ys[kept])

    @_put.register
    def _(self, mark: Dots) -> None:
        for x, y in zip(self._frame.across(mark.xs), self._frame.up(mark.ys), strict=True):
            self._canvas.disc(float(x), float(y), mark.radius, mark.colour)

    @_put.register
    def _(self, mark: Ring) -> None:
        box = self._frame.box(mark.left, mark.right, mark.low, mark.high)
        slim = max(0.0, WIDE_ENOUGH + 1.0 - box.width) / 2.0
        around = Box(box.left - slim, box.top, box.width + 2.0 * slim, box.height).grown(0.5)
        self._canvas.outline(around, "panel", mark.width + 1.6)
        self._canvas.outline(around, mark.colour, mark.width)
        if mark.letter:
            x, y = box.middle[0], box.top - 3.0
            self._canvas.disc(x, y, 7.5, mark.colour)
            self._canvas.text(
                Box(x - 8, y - 8, 16, 16), mark.letter, "panel", "middle", small=True, bold=True
            )

    @_put.register
    def _(self, mark: Rule) -> None:
        field = self._frame.field
        if mark.axis == "y":
            y = self._frame.up(mark.at)
            if field.top <= y <= field.bottom:
                self._across(y, mark.colour, mark.width, mark.dash)
            return
        x = self._frame.across(mark.at)
        if field.left <= x <= field.right:
            self._canvas.stroke(
                np.array([x, x]), np.array([field.top, field.bottom]), mark.colour, mark.width, mark.dash
            )
            self._tag(x, field.bottom - self._row, mark.text)

    @_put.register
    def _(self, mark: Dot) -> None:
        x, y = self._frame.across(mark.x), self._frame.up(mark.y)
        self._canvas.disc(x, y, 5.0, "panel" if mark.hollow else "ink", "ink")
        self._tag(x, y - self._row - 6.0, mark.text)

    @_put.register
    def _(self, mark: Pointer) -> None:
        x, top = self._frame.across(mark.x), self._frame.field.top
        tip = np.array([x - 5.0, x + 5.0, x]), np.array([top - 8.0, top - 8.0, top])
        self._canvas.area(*tip, mark.colour, 1.0)
        self._tag(x + 4.0, top - self._row - 3.0, mark.text, above=True)

    def _tag(self, x: float, top: float, words: str, *, above: bool = False) -> None:
        """A word beside a point, on its left where the right edge is near."""
        field, room = self._frame.field, self._canvas.wide(words, small=True) + 4.0
        left = x + 5.0 if x + room + 5.0 < field.right else x - room - 5.0
        held = top if above else min(max(top, field.top), field.bottom - self._row)
        self._canvas.text(Box(left, held, room, self._row), words, "ink", small=True)

    # -- tiles ---------------------------------------------------------------------------------------

    def _tile(self, tile: Tile) -> None:
        canvas, field = self._canvas, self._frame.field
        whole = self._frame.box(tile.left, tile.right, tile.low, tile.high).within(field)
        if not whole.width:
            return
        gap = tile.gap if whole.width > WIDE_ENOUGH else 0.0
        over = 0.0 if tile.gap else 0.6  # no seams between tiles that touch
        box = Box(
            whole.left, whole.top, max(whole.width - gap + over, 0.5), max(whole.height - tile.gap, 0.5)
        )
        canvas.fill(box, tile.fill, tile.opacity)
        if tile.hatched:
            self._hatch(box)
        if tile.sign:
            self._sign(tile.sign, box, canvas.ink_on(tile.fill))
        if tile.text and canvas.wide(tile.text, small=True) + 4.0 < whole.width:
            foot = Box(box.left, box.bottom - self._row, box.width, self._row)
            canvas.text(foot, tile.text, "ink_faint", "middle", small=True)

    def _sign(self, sign: str, box: Box, ink: Colour) -> None:
        """A dot for caution, a cross for harm, a slanted stroke for unknown; spot and ring for what to rely on."""
        x, y = box.middle
        reach = max(min(box.width, box.height, 11.0) / 4.0, 1.6)
        if sign == "dot":
            self._canvas.disc(x, y, max(reach * 0.6, 1.4), ink)
        elif sign == "spot":
            self._canvas.disc(x, y, 1.6, ink)
        elif sign == "ring":
            self._canvas.disc(x, y, min(reach + 0.4, 2.8), "", ink, 0.9)
        else:
            slants = ((1.0, -1.0), (1.0, 1.0)) if sign == "cross" else ((1.0, -1.0),)
            for dx, dy in slants:
                xs = np.array([x - dx * reach, x + dx * reach])
                self._canvas.stroke(xs, np.array([y - dy * reach, y + dy * reach]), ink, 1.4)

    def _hatch(self, box: Box) -> None:
        """Slanted strokes: not known."""
        for start in np.arange(box.left - box.height, box.right, HATCH_EVERY):
            low, high = max(box.left - start, 0.0), min(box.right - start, box.height)
            if high > low:
                ends = np.array([low, high])
                self._canvas.stroke(start + ends, box.bottom - ends, "ink_faint", 1.0, opacity=0.6)

    # -- names ---------------------------------------------------------------------------------------

    def _names(self) -> None:
        """Names at the right ends of lines, pushed apart so that none covers another."""
        field, above = self._frame.field, -np.inf
        for y, name, colour in sorted(self._ends()):
            top = max(min(y, field.bottom - self._row / 2.0), field.top + self._row / 2.0) - self._row / 2.0
            top = max(top, above)
            above = top + self._row - 2.0
            room = Box(field.right + GAP, top, self._page.right - field.right - GAP, self._row)
            self._canvas.text(room, name, colour, small=True)

    def _ends(self) -> Iterator[tuple[float, str, str]]:
        for mark in self._chart.marks:
            if isinstance(mark, Line | Dots) and mark.name:
                low, high = self._frame.x_span
                known = np.flatnonzero(np.isfinite(mark.ys) & (mark.xs >= low) & (mark.xs <= high))
                if known.size:
                    yield self._frame.up(float(mark.ys[known[-1]])), mark.name, str(mark.colour)

    def _rule_names(self) -> None:
        """Each rule across named above its line or below, where no line runs; nowhere rather than over another name."""
        for rule in self._chart.marks:
            if isinstance(rule, Rule) and rule.axis == "y" and rule.text:
                y = self._frame.up(rule.at)
                if self._frame.field.top <= y <= self._frame.field.bottom:
                    self._name_rule(rule.text, y)

    def _name_rule(self, words: str, y: float) -> None:
        for box in self._spots(y, self._canvas.wide(words, small=True) + 4.0):
            if not any(box.meets(other) for other in self._taken) and not self._crossed(box):
                self._canvas.text(box, words, "ink_soft", "middle", small=True)
                self._taken.append(box)
                return

    def _spots(self, y: float, wide: float) -> Iterator[Box]:
        field, room = self._frame.field, self._row
        for top in (y - room, y + 1.0):
            if field.top - 1.0 <= top and top + room <= field.bottom:
                for share in (0.0, 0.25, 0.5, 0.75, 1.0):
                    yield Box(field.left + 6.0 + share * (field.width - wide - 12.0), top, wide, room)

    def _crossed(self, box: Box) -> bool:
        """Whether a line or a rule of the chart runs through a rectangle."""
        marks = self._chart.marks
        heights = (self._frame.up(mark.at) for mark in marks if isinstance(mark, Rule) and mark.axis == "y")
        if any(box.top + 1.0 < y < box.bottom - 1.0 for y in heights):
            return True
        return any(self._runs_through(mark, box) for mark in marks if isinstance(mark, Line))

    def _runs_through(self, line: Line, box: Box) -> bool:
        xs = self._frame.across(line.xs)
        here = self._frame.up(line.ys)[(xs >= box.left) & (xs <= box.right)]
        here = here[np.isfinite(here)]
        return bool(here.size and here.min() < box.bottom + 1.0 and here.max() > box.top - 1.0)

    # -- columns and legend --------------------------------------------------------------------------

    def _columns(self) -> None:
        field, canvas = self._frame.field, self._canvas
        left = field.right + GAP
        for column in self._chart.columns:
            wide = _column_wide(canvas, column.head, column.cells)
            head = Box(left, field.top - self._row - 3.0, wide, self._row)
            canvas.text(head, column.head, "ink_soft", small=True)
            for cell in column.cells:
                top = self._frame.up(cell.at) - self._row / 2.0
                ink = "ink" if cell.strong else "ink_soft"
                canvas.text(Box(left, top, wide, self._row), cell.text, ink, small=True, bold=cell.strong)
            left += wide

    def _legend(self) -> None:
        x, top = self._legend_left(), self._page.bottom - _legend_high(self._chart, self._canvas) + GAP
        for part in self._chart.legend:
            wide = self._legend_wide(part)
            if x + wide > self._page.right:
                return
            if isinstance(part, Ramp):
                self._ramp(part, x, top)
            else:
                self._key(part, x, top)
            x += wide + 2.0 * GAP

    def _legend_left(self) -> float:
        """Under the field where there is room for all, else from the edge of the page."""
        need = sum(self._legend_wide(part) + 2.0 * GAP for part in self._chart.legend)
        field = self._frame.field.left
        return field if field + need <= self._page.right else self._page.left + 4.0

    def _legend_wide(self, part: Key | Ramp) -> float:
        if isinstance(part, Key):
            return 17.0 + self._canvas.wide(part.text, small=True)
        ends = self._canvas.wide(part.texts[-1], small=True) / 2.0
        return RAMP_WIDTH + ends + (GAP + self._canvas.wide(part.title, small=True) if part.title else 0.0)

    def _key(self, key: Key, x: float, top: float) -> None:
        box, canvas = Box(x, top + (self._row - 11.0) / 2.0 - 2.0, 12.0, 11.0), self._canvas
        if key.shape == "ring":
            canvas.outline(box.grown(-1.5), key.fill, 1.4)
        elif key.shape == "stroke":
            canvas.fill(Box(x, box.top + 4.0, 12.0, 3.0), key.fill)
        else:
            canvas.fill(box, key.fill, 0.35 if key.hatched else 1.0)
        if key.hatched:
            self._hatch(box)
        if key.sign:
            self._sign(key.sign, box, canvas.ink_on(key.fill))
        words = Box(x + 17.0, top - 2.0, canvas.wide(key.text, small=True) + 4.0, self._row)
        canvas.text(words, key.text, "ink_soft", small=True)

    def _ramp(self, ramp: Ramp, x: float, top: float) -> None:
        step, canvas, scale = RAMP_WIDTH / STEPS, self._canvas, ramp.scale
        rising = scale.marks[-1] == scale.last
        for i in range(STEPS):
            shade = i if rising else STEPS - 1 - i
            canvas.fill(Box(x + i * step, top, step + 0.6, RAMP_HEIGHT), shade)
        low, high = scale.marks[0], scale.marks[-1]
        for mark, words in zip(scale.marks, ramp.texts, strict=True):
            at, wide = x + (mark - low) / (high - low) * RAMP_WIDTH, canvas.wide(words, small=True) + 4.0
            box = Box(at - wide / 2.0, top + RAMP_HEIGHT + 1.0, wide, self._row)
            canvas.text(box, words, "ink_soft", "middle", small=True)
        if ramp.title:
            words_box = Box(
                x + RAMP_WIDTH + GAP, top - 4.0, canvas.wide(ramp.title, small=True) + 4.0, self._row
            )
            canvas.text(words_box, ramp.title, "ink_soft", small=True)


def _cut(xs: Floats, ys: Floats, span: tuple[float, float]) -> tuple[Floats, Floats]:
    """A curve with a point more wherever it leaves the span of ``ys`` or enters it, and NaN outside."""
    low, high = min(span), max(span)
    for bound in (low, high):
        beyond = ys > bound
        at = np.flatnonzero((beyond[1:] != beyond[:-1]) & np.isfinite(ys[1:]) & np.isfinite(ys[:-1]))
        share = (bound - ys[at]) / (ys[at + 1] - ys[at])
        xs = np.insert(xs, at + 1, xs[at] + share * (xs[at + 1] - xs[at]))
        ys = np.insert(ys, at + 1, bound)
    return xs, np.where((ys < low) | (ys > high), np.nan, ys)


def _known_runs(known: Bools) -> Iterator[Ints]:
    """Rows of every unbroken run of true flags."""
    rows = np.flatnonzero(known)
    yield from (run for run in np.split(rows, np.flatnonzero(np.diff(rows) > 1) + 1) if run.size)


def _thinned(rows: Ints) -> Ints:
    """Every so many of the rows, the last always."""
    every = max(1, rows.size // MOST_POINTS)
    kept = rows[::every]
    return kept if kept[-1] == rows[-1] else np.append(kept, rows[-1])
