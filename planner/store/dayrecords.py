"""What a day file states: the yard and its slots, hands, shade and stock, who collects and what is for sale.

Instants are POSIX seconds UTC, NaN where nothing is said; durations are seconds.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import Literal

from planner.model.records import Group, Site, Stated, Tolerated
from planner.store.tripparts import WeatherRequest

ClosingMode = Literal["evening_before", "before_first_flight", "at_handover"]
CLOSINGS: tuple[ClosingMode, ...] = ("evening_before", "before_first_flight", "at_handover")
Check = Literal["ok", "failed", "not_looked"]
Span = tuple[float, float]


@dataclass(frozen=True, slots=True, eq=False)
class Buyer(Stated):
    """Somebody who collects.

    ``drive_s`` of driving home, NaN where only a ``place`` is known; ``rides`` the loading place; ``spans`` instants
    that suit, empty: any; ``wish_s`` the best of them; ``boxes_named`` promised already, as is ``setup``; ``told_s``
    the slot that was told.
    """

    name: str
    boxes: int
    drive_s: float
    rides: str
    place: str = ""
    spans: tuple[Span, ...] = ()
    wish_s: float = float("nan")
    language: str = "en"
    phone: str = ""
    first_timer: bool = False
    boxes_named: tuple[str, ...] = ()
    setup: str = ""
    told_s: float = float("nan")


@dataclass(frozen=True, slots=True, eq=False)
class SaleBox(Stated):
    """A box for sale: its make-up (a group of one), what the check found, from when it may go."""

    name: str
    group: Group
    check: Check = "not_looked"
    ready_s: float = float("nan")

    def __hash__(self) -> int:
        """By the name alone, which no two boxes of a day share: choices are looked up by their boxes all day long."""
        return hash(self.name)


@dataclass(frozen=True, slots=True)
class Slots:
    """``begin_s`` of every slot; ``lasts_s`` each; from handing over to leaving, from unloading to opening."""

    begin_s: tuple[float, ...]
    lasts_s: float
    loading_s: float
    opening_s: float


@dataclass(frozen=True, slots=True)
class Hands:
    """Who works, and how long one pair of hands takes to hand over or to shut a box; time there is for shutting."""

    people: int
    handing_s: float
    closing_s: float
    evening_s: float
    dawn_s: float

    def boxes_in(self, span_s: float, each_s: float) -> int:
        """How many boxes all of them manage in a time."""
        return int(self.people * span_s / each_s + 1e-9)


@dataclass(frozen=True, slots=True)
class Stock:
    """What there is of things; None: enough."""

    roof_screens: int = 0
    straps: int | None = None
    boxes: int | None = None


@dataclass(frozen=True)
class Day:
    """A collection day as stated, checked.

    ``shade_spans`` in which the bays lie in shade, empty: all day. ``setups`` by name, ``closings`` allowed.
    """

    title: str
    yard: Site
    date: date
    slots: Slots
    hands: Hands
    bays: int
    shade_spans: tuple[Span, ...]
    stock: Stock
    setups: tuple[str, ...]
    closings: tuple[ClosingMode, ...]
    buyers: tuple[Buyer, ...]
    boxes: tuple[SaleBox, ...]
    weather: WeatherRequest
    tolerance: Tolerated = field(default_factory=Tolerated)
    invented: bool = False

    @property
    def boxes_that_may_go(self) -> tuple[SaleBox, ...]:
        """Those that no check held back."""
        return tuple(box for box in self.boxes if box.check != "failed")
