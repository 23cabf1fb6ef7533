"""What a chart shows, told once for paper and screen: axes and marks in the units of the data, colours by their use.

A colour is the name of its use (``ink``, ``line``, ``core``, ``harm``, ...), which paper and every palette of the
window know, or a step on the map of :mod:`planner.app.common.scale`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TypeAlias, TypeVar

import numpy as np

from planner.app.common.scale import Scale
from planner.app.common.wording import local
from planner.model.records import Floats
from planner.units import UnitSystem

HOUR_S = 3600.0
MOST_HOURS = 13

Colour: TypeAlias = str | int
Where = TypeVar("Where", float, Floats)


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on an axis and what is written there."""

    at: float
    text: str
    strong: bool = False


@dataclass(frozen=True, slots=True)
class Axis:
    """``low`` stands left or at the foot, ``high`` right or on top; rows that read downwards have low above high.

    ``rows`` are lines of words along it, the nearest first; ``grid`` rules across at the first; an x axis may be
    ``on_top``.
    """

    low: float
    high: float
    rows: tuple[tuple[Tick, ...], ...] = ()
    title: str = ""
    grid: bool = False
    on_top: bool = False


@dataclass(frozen=True, eq=False, slots=True)
class Line:
    """A curve over ``xs``, broken where ``ys`` is NaN; a ``name`` stands at its end."""

    xs: Floats
    ys: Floats
    colour: Colour
    width: float = 2.0
    dash: str = ""
    name: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class Band:
    """The room between two curves."""

    xs: Floats
    low: Floats
    high: Floats
    colour: Colour
    opacity: float = 0.18


@dataclass(frozen=True, eq=False, slots=True)
class Dots:
    """Points of one kind; a ``name`` stands at the height of the last."""

    xs: Floats
    ys: Floats
    colour: Colour
    radius: float = 2.0
    name: str = ""


@dataclass(frozen=True, slots=True)
class Tile:
    """A rectangle ``left``..``right``, ``low``..``high``; ``sign`` dot | cross | unknown | spot | ring in its middle.

    ``gap`` pixels are left free to the next one, where there is room; ``text`` stands at its foot.
    """

    left: float
    right: float
    low: float
    high: float
    fill: Colour
    opacity: float = 1.0
    sign: str = ""
    gap: float = 0.0
    hatched: bool = False
    text: str = ""


@dataclass(frozen=True, slots=True)
class Ring:
    """A frame around a rectangle, with a letter where several are told apart."""

    left: float
    right: float
    low: float
    high: float
    colour: Colour
    width: float = 1.4
    letter: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """A straight line across the whole field at a value of ``axis`` ``x`` or ``y``, with its name along it."""

    at: float
    axis: str
    colour: Colour
    width: float = 1.0
    dash: str = ""
    text: str = ""


@dataclass(frozen=True, slots=True)
class Dot:
    """One point that matters, full or hollow, with a word beside it."""

    x: float
    y: float
    hollow: bool = False
    text: str = ""


@dataclass(frozen=True, slots=True)
class Pointer:
    """A mark on the upper edge that points down at a place, with its name."""

    x: float
    colour: Colour
    text: str


Mark: TypeAlias = Line | Band | Dots | Tile | Ring | Rule | Dot | Pointer


@dataclass(frozen=True, slots=True)
class Stretch:
    """Part of a thin strip along the upper or lower edge of the field."""

    left: float
    right: float
    colour: Colour
    opacity: float = 1.0


@dataclass(frozen=True, slots=True)
class Column:
    """Words at the right of the field under a head."""

    head: str
    cells: tuple[Tick, ...]


@dataclass(frozen=True, slots=True)
class Key:
    """What a colour, a sign, a ring (``ring``) or a stroke along the edge (``stroke``) means."""

    text: str
    fill: Colour = ""
    sign: str = ""
    hatched: bool = False
    shape: str = "tile"


@dataclass(frozen=True, slots=True)
class Ramp:
    """A colour scale with its marks written out."""

    scale: Scale
    texts: tuple[str, ...]
    title: str = ""


@dataclass(frozen=True, eq=False, slots=True)
class Chart:
    """A whole chart; marks are painted in their order. ``above`` and ``below`` are strips along the field's edges.

    ``margins`` are the pixels left and right of the field, where it must stand in line with another.
    """

    title: str
    x: Axis
    y: Axis
    marks: tuple[Mark, ...]
    above: tuple[Stretch, ...] = ()
    below: tuple[Stretch, ...] = ()
    columns: tuple[Column, ...] = ()
    legend: tuple[Key | Ramp, ...] = ()
    margins: tuple[float, float] | None = None

    def titled(self, title: str) -> Chart:
        """The chart under another title."""
        return replace(self, title=title)

    def with_marks(self, *marks: Mark) -> Chart:
        """The chart with more marks on top."""
        return replace(self, marks=(*self.marks, *marks))


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of a picture, from its upper left corner."""

    left: float
    top: float
    width: float
    height: float

    @property
    def right(self) -> float:
        return self.left + self.width

    @property
    def bottom(self) -> float:
        return self.top + self.height

    @property
    def middle(self) -> tuple[float, float]:
        return self.left + self.width / 2.0, self.top + self.height / 2.0

    def grown(self, by: float) -> Box:
        """A rectangle larger by so much on each side."""
        return Box(self.left - by, self.top - by, self.width + 2.0 * by, self.height + 2.0 * by)

    def within(self, other: Box) -> Box:
        """The part that lies in another rectangle."""
        left, top = max(self.left, other.left), max(self.top, other.top)
        right, bottom = min(self.right, other.right), min(self.bottom, other.bottom)
        return Box(left, top, max(right - left, 0.0), max(bottom - top, 0.0))

    def meets(self, other: Box) -> bool:
        """Whether the two share any place."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom

    def holds(self, x: float, y: float) -> bool:
        """Whether a point lies in it."""
        return self.left <= x <= self.right and self.top <= y <= self.bottom


@dataclass(frozen=True, slots=True)
class Frame:
    """Where the field of a chart lies in a picture, and what it spans in data."""

    field: Box
    x_span: tuple[float, float]
    y_span: tuple[float, float]

    def across(self, x: Where) -> Where:
        """Data to the picture's x."""
        low, high = self.x_span
        return self.field.left + (x - low) * (self.field.width / ((high - low) or 1e-9))

    def up(self, y: Where) -> Where:
        """Data to the picture's y, which runs downwards."""
        low, high = self.y_span
        return self.field.bottom - (y - low) * (self.field.height / ((high - low) or 1e-9))

    def box(self, left: float, right: float, low: float, high: float) -> Box:
        """A rectangle of the data in the picture."""
        x0, x1 = self.across(left), self.across(right)
        y0, y1 = sorted((self.up(low), self.up(high)))
        return Box(x0, y0, x1 - x0, y1 - y0)

    def at(self, x: float, y: float) -> tuple[float, float] | None:
        """What lies under a point of the picture, in data; None outside the field."""
        if not self.field.holds(x, y):
            return None
        return self.x_at(x), float(np.interp(y, (self.field.top, self.field.bottom), self.y_span[::-1]))

    def x_at(self, x: float) -> float:
        """What stands under an x of the picture, held at the ends of the field."""
        return float(np.interp(x, (self.field.left, self.field.right), self.x_span))


# -- ticks --------------------------------------------------------------------------------------------


def hour_ticks(first_s: float, last_s: float, zone: str) -> tuple[Tick, ...]:
    """Full hours of the local clock between two instants, not too many."""
    hours = (last_s - first_s) / HOUR_S
    every = next(h for h in (1, 2, 3, 6, 12, 24, 48) if hours / h <= MOST_HOURS or h == 48)
    quarters = np.arange(np.ceil(first_s / 900.0) * 900.0, last_s + 1.0, 900.0)
    clocks = ((float(at), local(float(at), zone)) for at in quarters)
    full = ((at, c) for at, c in clocks if c.minute == 0 and c.hour % min(every, 24) == 0)
    return tuple(Tick(at, f"{c:%H:%M}") for at, c in full)


def day_ticks(times_s: Iterable[float], zone: str) -> tuple[tuple[int, str], ...]:
    """The first of the instants and every one on a new local day, with that day, e.g. ``Fri 5``."""
    days = [local(at, zone) for at in times_s]
    new = [0, *(i + 1 for i, (one, two) in enumerate(pairwise(days)) if one.date() != two.date())]
    return tuple((i, f"{days[i]:%a} {days[i].day}") for i in new)


def round_ticks(low: float, high: float, most: int = 7) -> tuple[float, ...]:
    """Round values between two others, in steps of 1, 2 or 5 times a power of ten, at most so many."""
    room = max(high - low, 1e-9) / most
    power = 10.0 ** np.floor(np.log10(room))
    step = next(m * power for m in (1.0, 2.0, 5.0, 10.0) if m * power >= room)
    return tuple(
        step * n for n in range(int(np.ceil(low / step - 1e-9)), int(np.floor(high / step + 1e-9)) + 1)
    )


def temp_ticks(low_c: float, high_c: float, units: UnitSystem) -> tuple[Tick, ...]:
    """Round temperatures of the user's unit."""
    shown = round_ticks(units.temp(low_c), units.temp(high_c))
    return tuple(Tick(units.temp_from(value), f"{value:.0f}") for value in shown)
