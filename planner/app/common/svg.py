"""What every picture is drawn with: SVG text, lines and a plotting frame; colours that read alike on paper."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

import numpy as np

from planner.app.common.wording import local
from planner.model.records import Floats

INK, FAINT, GRID, ACCENT, BLUE, PAPER = "#1d2530", "#6b7480", "#e3e6ea", "#b4470f", "#22577a", "#ffffff"
FONT = "font-family='Inter, Segoe UI, Helvetica, Arial, sans-serif'"
HOUR_S = 3600.0
MOST_POINTS = 600


@dataclass(frozen=True)
class Plot:
    """A frame in a picture: ``left``, ``top``, ``width``, ``height`` in its units, and what it spans in data."""

    left: float
    top: float
    width: float
    height: float
    x_span: tuple[float, float]
    y_span: tuple[float, float]

    def across(self, x: float) -> float:
        low, high = self.x_span
        return self.left + (x - low) / max(high - low, 1e-9) * self.width

    def up(self, y: float) -> float:
        low, high = self.y_span
        return self.top + self.height - (y - low) / max(high - low, 1e-9) * self.height

    def curve(self, xs: Floats, ys: Floats, colour: str, stroke: float = 2.0, dash: str = "") -> str:
        """A curve, broken where it is unknown and held inside the frame."""
        parts, pen_down = [], False
        held = np.clip(ys, *self.y_span)
        for i in range(0, xs.size, max(1, xs.size // MOST_POINTS)):
            if np.isnan(ys[i]):
                pen_down = False
                continue
            parts.append(
                f"{'L' if pen_down else 'M'}{self.across(float(xs[i])):.1f} {self.up(float(held[i])):.1f}"
            )
            pen_down = True
        dashed = f" stroke-dasharray='{dash}'" if dash else ""
        return f"<path d='{''.join(parts)}' fill='none' stroke='{colour}' stroke-width='{stroke}'{dashed}/>"

    def frame(self) -> str:
        place = f"x='{self.left}' y='{self.top}' width='{self.width}' height='{self.height}'"
        return f"<rect {place} fill='none' stroke='{GRID}'/>"

    def y_ticks(self, values: Sequence[float], words: Sequence[str], unit: str) -> Iterator[str]:
        for value, word in zip(values, words, strict=True):
            y = self.up(value)
            yield line(self.left, y, self.left + self.width, y, GRID, 0.7)
            yield text(self.left - 8, y + 4, word, anchor="end", size=10, colour=FAINT)
        yield text(self.left - 8, self.top - 8, unit, anchor="end", size=10, colour=FAINT)

    def x_ticks(self, values: Sequence[float], words: Sequence[str]) -> Iterator[str]:
        y = self.top + self.height
        for value, word in zip(values, words, strict=True):
            x = self.across(value)
            yield line(x, y, x, y + 4, FAINT, 1.0)
            yield text(x, y + 16, word, anchor="middle", size=10, colour=FAINT)


def clock_ticks(first_s: float, last_s: float, zone: str) -> tuple[list[float], list[str]]:
    """Instants for the ticks of a time axis and what to write there."""
    hours = (last_s - first_s) / HOUR_S
    every = next(h for h in (1, 2, 3, 6, 12, 24, 48) if hours / h <= 13 or h == 48) * HOUR_S
    at = np.arange(np.ceil(first_s / every) * every, last_s, every).tolist()
    return at, [f"{local(t, zone):%H:%M}" for t in at]


def text(
    x: float,
    y: float,
    words: str,
    *,
    anchor: str = "start",
    size: int = 12,
    colour: str = INK,
    bold: bool = False,
) -> str:
    """A line of words."""
    weight = " font-weight='600'" if bold else ""
    place = f"x='{x:.1f}' y='{y:.1f}' text-anchor='{anchor}'"
    return f"<text {place} font-size='{size}' fill='{colour}'{weight}>{escape(words)}</text>"


def line(x1: float, y1: float, x2: float, y2: float, colour: str, width: float = 1.0, dash: str = "") -> str:
    """A straight line; ``dash`` as in SVG, e.g. ``6 3``."""
    dashed = f" stroke-dasharray='{dash}'" if dash else ""
    ends = f"x1='{x1:.1f}' y1='{y1:.1f}' x2='{x2:.1f}' y2='{y2:.1f}'"
    return f"<line {ends} stroke='{colour}' stroke-width='{width}'{dashed}/>"


def svg(width: float, height: float, body: Sequence[str], title: str) -> str:
    """A whole picture."""
    return (
        f"<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width:.0f} {height:.0f}' width='{width:.0f}' "
        f"height='{height:.0f}' role='img' {FONT}><title>{escape(title)}</title>"
        f"<rect width='100%' height='100%' fill='{PAPER}'/>{''.join(body)}</svg>"
    )
