"""Charts on paper: the canvas that writes SVG, in colours that read on white."""

from __future__ import annotations

from xml.sax.saxutils import escape

from planner.app.common.chart import Box, Chart, Colour
from planner.app.common.draw import draw
from planner.app.common.scale import SHADES, ink_on
from planner.model.records import Floats

PAPER: dict[str, str] = {
    "panel": "#ffffff",
    "well": "#f1f3f5",
    "line": "#e3e6ea",
    "ink": "#1d2530",
    "ink_soft": "#56606c",
    "ink_faint": "#8a939d",
    "accent": "#a85a00",
    "night": "#3c4763",
    "day": "#f3e0bd",
    "clear": "#7fb7be",
    "caution": "#e3a72f",
    "harm": "#a5372b",
    "unknown": "#c9ced4",
    "core": "#a85a00",
    "stores": "#56742f",
    "outside": "#6b7480",
    "series0": "#a85a00",
    "series1": "#2b6ca3",
    "series2": "#3b8064",
    "series3": "#84509a",
}
"""The colour of each use on white paper; the window's palettes name the same uses."""
FONT = "font-family='Inter, Segoe UI, Helvetica, Arial, sans-serif'"
SIZE, SMALL = 13, 11
WIDE_SHARE = 0.56
"""Mean width of a letter in its size, for want of the reader's font."""
MARGIN = 12.0


def chart_svg(chart: Chart, width: float = 960.0, height: float = 380.0) -> str:
    """A chart as a whole picture."""
    canvas = SvgCanvas()
    page = Box(MARGIN, MARGIN, width - 2.0 * MARGIN, height - 2.0 * MARGIN)
    draw(chart, canvas, page, titled=True)
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width:.0f} {height:.0f}' width='{width:.0f}' "
        f"height='{height:.0f}' role='img' {FONT}><title>{escape(chart.title)}</title>"
        f"<rect width='100%' height='100%' fill='{PAPER['panel']}'/>{''.join(canvas.parts)}</svg>"
    )


class SvgCanvas:
    """Collects elements in :attr:`parts`."""

    def __init__(self) -> None:
        self.parts: list[str] = []

    def wide(self, words: str, *, small: bool = False, bold: bool = False) -> float:
        return len(words) * (SMALL if small else SIZE) * WIDE_SHARE * (1.06 if bold else 1.0)

    def high(self, *, small: bool = False) -> float:
        return (SMALL if small else SIZE) * 1.25

    def fill(self, box: Box, colour: Colour, opacity: float = 1.0) -> None:
        self.parts.append(f"<rect {_place(box)} fill='{_ink(colour)}'{_opacity('fill', opacity)}/>")

    def outline(self, box: Box, colour: Colour, width: float) -> None:
        self.parts.append(
            f"<rect {_place(box)} rx='2.5' fill='none' stroke='{_ink(colour)}' stroke-width='{width:g}'/>"
        )

    def stroke(
        self, xs: Floats, ys: Floats, colour: Colour, width: float, dash: str = "", opacity: float = 1.0
    ) -> None:
        path = "L".join(f"{x:.1f} {y:.1f}" for x, y in zip(xs, ys, strict=True))
        dashed = f" stroke-dasharray='{dash}'" if dash else ""
        self.parts.append(
            f"<path d='M{path}' fill='none' stroke='{_ink(colour)}' stroke-width='{width:g}'"
            f"{dashed}{_opacity('stroke', opacity)}/>"
        )

    def area(self, xs: Floats, ys: Floats, colour: Colour, opacity: float) -> None:
        points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(xs, ys, strict=True))
        self.parts.append(f"<polygon points='{points}' fill='{_ink(colour)}'{_opacity('fill', opacity)}/>")

    def disc(
        self, x: float, y: float, radius: float, fill: Colour, edge: Colour = "", width: float = 1.4
    ) -> None:
        inside = "none" if fill == "" else _ink(fill)
        around = "" if edge == "" else f" stroke='{_ink(edge)}' stroke-width='{width:g}'"
        self.parts.append(f"<circle cx='{x:.1f}' cy='{y:.1f}' r='{radius:g}' fill='{inside}'{around}/>")

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
        x = {"left": box.left, "middle": box.middle[0], "right": box.right}[anchor]
        side = {"left": "start", "middle": "middle", "right": "end"}[anchor]
        size = SMALL if small else SIZE
        weight = " font-weight='600'" if bold else ""
        self.parts.append(
            f"<text x='{x:.1f}' y='{box.middle[1] + size * 0.36:.1f}' text-anchor='{side}' font-size='{size}' "
            f"fill='{_ink(colour)}'{weight}>{escape(words)}</text>"
        )

    def ink_on(self, colour: Colour) -> Colour:
        return ink_on(_ink(colour))


def _ink(colour: Colour) -> str:
    if isinstance(colour, int):
        return SHADES[colour]
    return colour if colour.startswith("#") else PAPER[colour]


def _place(box: Box) -> str:
    return f"x='{box.left:.1f}' y='{box.top:.1f}' width='{box.width:.1f}' height='{box.height:.1f}'"


def _opacity(what: str, opacity: float) -> str:
    return "" if opacity == 1.0 else f" {what}-opacity='{opacity:g}'"
