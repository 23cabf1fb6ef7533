"""The model in one drawing, on any canvas: heat made on the left, carried off on the right, the box in between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from planner.app.common.chart import Box, Colour
from planner.app.common.draw import Canvas
from planner.app.explain.page import Figure
from planner.app.explain.words import say

LINE = 21.0
HEIGHT = 400.0
SIDE_SHARE = 0.32
"""Share of the width that the words on either side take."""


@dataclass(frozen=True)
class Noted:
    """What stands at a term: words, figure and grade."""

    text: str
    figure: str
    grade: str


def model_figure(made: Sequence[Noted], lost: Sequence[Noted], stands: Sequence[Noted]) -> Figure:
    """The drawing for these terms."""

    def paint(canvas: Canvas, page: Box) -> None:
        side = page.width * SIDE_SHARE
        left = Box(page.left + 12.0, page.top + 12.0, side - 24.0, page.height - 24.0)
        right = Box(page.right - side + 12.0, left.top, left.width, left.height)
        middle = Box(page.left + side, left.top, page.width - 2.0 * side, left.height)
        _column(canvas, left, say("draw_heat"), made)
        _column(canvas, right, say("draw_lost"), lost)
        core, air = _box(canvas, middle)
        _arrow(canvas, left.right + 4.0, core.left, core.middle[1], "harm")
        _arrow(canvas, air.right, right.left - 4.0, air.middle[1], "series1")
        below = Box(middle.left, middle.bottom - LINE * (len(stands) + 1.2), middle.width, 0.0)
        _column(canvas, below, say("draw_limits"), stands)

    return Figure(say("drawing_title"), HEIGHT, paint)


def _column(canvas: Canvas, room: Box, head: str, notes: Sequence[Noted]) -> None:
    canvas.text(Box(room.left, room.top, room.width, LINE), head, "ink", bold=True)
    for number, note in enumerate(notes, 1):
        line = Box(room.left, room.top + number * LINE, room.width, LINE)
        figure = f"{note.figure} ({note.grade})"
        taken = canvas.wide(figure, small=True) + 6.0
        canvas.text(Box(line.left, line.top, line.width - taken, LINE), note.text, "ink_soft", small=True)
        canvas.text(line, figure, "ink", "right", small=True)


def _box(canvas: Canvas, room: Box) -> tuple[Box, Box]:
    """Outside air around the place around the box with its two parts; returned are the bees and the box air."""
    high = room.height * 0.68
    outside = Box(room.left, room.top, room.width, high)
    frames = [outside, outside.grown(-LINE - 4.0)]
    frames.append(frames[-1].grown(-LINE - 4.0))
    for frame, name, colour in zip(
        frames, ("draw_outside", "draw_place", "draw_box_air"), ("well", "panel", "well"), strict=True
    ):
        canvas.fill(frame, colour)
        canvas.outline(frame, "ink_faint", 1.2)
        canvas.text(
            Box(frame.left, frame.top + 2.0, frame.width, LINE), say(name), "ink_soft", "middle", small=True
        )
    inner = frames[-1]
    half = (inner.height - LINE - 18.0) / 2.0
    core = Box(inner.left + 10.0, inner.top + LINE, inner.width - 20.0, half)
    stores = Box(core.left, core.bottom + 8.0, core.width, half)
    for part, name, part_colour in ((core, "draw_core", "core"), (stores, "draw_stores", "stores")):
        _part(canvas, part, say(name), part_colour)
    return core, inner


def _part(canvas: Canvas, box: Box, name: str, colour: Colour) -> None:
    canvas.fill(box, colour)
    canvas.text(box, name, canvas.ink_on(colour), "middle", bold=True)


def _arrow(canvas: Canvas, start: float, end: float, height: float, colour: Colour) -> None:
    canvas.stroke(np.array([start, end - 7.0]), np.array([height, height]), colour, 3.0)
    canvas.area(
        np.array([end - 9.0, end, end - 9.0]), np.array([height - 6.0, height, height + 6.0]), colour, 1.0
    )


# -- before and after ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Span:
    """A number before and after, as places 0..1 in its range: low, median and high of each."""

    name: str
    before: tuple[float, float, float]
    after: tuple[float, float, float]


ROW = 34.0
NAME_SHARE = 0.34


def spans_figure(spans: Sequence[Span]) -> Figure:
    """Every narrowed number as two bars, one above the other."""

    def paint(canvas: Canvas, page: Box) -> None:
        across = page.width * (1.0 - NAME_SHARE) - 24.0
        left = page.left + page.width * NAME_SHARE
        for number, span in enumerate(spans):
            top = page.top + 26.0 + number * ROW
            canvas.text(
                Box(page.left + 12.0, top, left - page.left - 24.0, ROW), span.name, "ink", small=True
            )
            canvas.fill(Box(left, top + 4.0, across, ROW - 8.0), "well")
            for bar, colour, shift in ((span.before, "unknown", 7.0), (span.after, "series1", 17.0)):
                low, middle, high = (left + across * float(np.clip(at, 0.0, 1.0)) for at in bar)
                canvas.fill(Box(low, top + shift, max(high - low, 1.0), 9.0), colour)
                canvas.stroke(
                    np.array([middle, middle]), np.array([top + shift, top + shift + 9.0]), "ink", 2.0
                )
        for text, colour, at in ((say("before"), "unknown", 0.0), (say("after"), "series1", 90.0)):
            canvas.fill(Box(left + at, page.top + 8.0, 12.0, 9.0), colour)
            canvas.text(Box(left + at + 17.0, page.top + 2.0, 70.0, LINE), text, "ink_soft", small=True)

    return Figure(say("narrowed_drawing"), 34.0 + ROW * len(spans), paint)
