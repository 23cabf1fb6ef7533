"""A canvas that notes what is put down on it, with letters of a known size, and charts on a field of a known place."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from planner.app.common.chart import Axis, Box, Chart, Colour, Mark
from planner.app.common.draw import draw, layout
from planner.model.records import Floats

X, Y = Axis(0.0, 20.0), Axis(0.0, 10.0)
"""Ten pixels to a unit on the field of :func:`painted`."""
LEFT, RIGHT = 50.0, 60.0
ORIGIN = 64.0, 32.0
"""Where the field really lies, so that a place counted from the corner of the picture is a wrong one."""


class Put(NamedTuple):
    """One thing put down: its kind, where, and how."""

    kind: str
    where: Any
    how: tuple[Any, ...]


class NotedCanvas:
    """Small letters are 6 wide and 9 high, others 8 and 13, bold ones a pixel wider; so a row of words is 12 high."""

    def __init__(self) -> None:
        self.put: list[Put] = []
        self.origin = 0.0, 0.0

    def of(self, kind: str) -> list[tuple[Any, tuple[Any, ...]]]:
        """Where and how things of a kind were put down, in order."""
        return [(one.where, one.how) for one in self.put if one.kind == kind]

    def words(self) -> dict[str, Box]:
        """What is written, with its box; nothing is written twice."""
        written = [(how[0], where) for where, how in self.of("text")]
        assert len(dict(written)) == len(written)
        return dict(written)

    def wide(self, words: str, *, small: bool = False, bold: bool = False) -> float:
        return len(words) * ((6.0 if small else 8.0) + bold)

    def high(self, *, small: bool = False) -> float:
        return 9.0 if small else 13.0

    def fill(self, box: Box, colour: Colour, opacity: float = 1.0) -> None:
        self._note("fill", self._box(box), colour, opacity)

    def outline(self, box: Box, colour: Colour, width: float) -> None:
        self._note("outline", self._box(box), colour, round(width, 6))

    def stroke(
        self, xs: Floats, ys: Floats, colour: Colour, width: float, dash: str = "", opacity: float = 1.0
    ) -> None:
        self._note("stroke", self._points(xs, ys), colour, width, dash, opacity)

    def area(self, xs: Floats, ys: Floats, colour: Colour, opacity: float) -> None:
        self._note("area", self._points(xs, ys), colour, opacity)

    def disc(
        self, x: float, y: float, radius: float, fill: Colour, edge: Colour = "", width: float = 1.4
    ) -> None:
        self._note("disc", self._points(np.array([x]), np.array([y]))[0], round(radius, 6), fill, edge, width)

    def text(
        self,
        box: Box,
        words: str,
        colour: Colour,
        anchor: str = "left",
        *,
        small: bool = False,
        bold: bool = False,
    ) -> None:
        self._note("text", self._box(box), words, colour, anchor, small, bold)

    def ink_on(self, colour: Colour) -> Colour:
        return f"on {colour}"

    def _note(self, kind: str, where: Any, *how: Any) -> None:
        self.put.append(Put(kind, where, how))

    def _box(self, box: Box) -> Box:
        left, top = box.left - self.origin[0], box.top - self.origin[1]
        return Box(*(round(side, 6) for side in (left, top, box.width, box.height)))

    def _points(self, xs: Floats, ys: Floats) -> list[tuple[float, float]]:
        xs, ys = np.round(xs - self.origin[0], 6), np.round(ys - self.origin[1], 6)
        return list(zip(xs.tolist(), ys.tolist(), strict=True))


def painted(*marks: Mark, **parts: Any) -> NotedCanvas:
    """A chart of some marks, 200 by 100 pixels with 50 left of it and 60 right; noted from its field's corner.

    ``titled`` is for the painting, other ``parts`` are the chart's.
    """
    titled = {"titled": parts.pop("titled")} if "titled" in parts else {}
    chart = Chart(**{"title": "title", "x": X, "y": Y, "margins": (LEFT, RIGHT)} | parts, marks=marks)
    canvas, wide = NotedCanvas(), 200.0 + LEFT + RIGHT
    field = layout(chart, canvas, Box(0.0, 0.0, wide, 500.0), **titled).field
    canvas.origin = ORIGIN
    page = Box(ORIGIN[0] - LEFT, ORIGIN[1] - field.top, wide, 600.0 - field.height)
    assert draw(chart, canvas, page, **titled).field == Box(*ORIGIN, 200.0, 100.0)
    return canvas
