"""What a lane file states: a parcel's way by a carrier, stage by stage, the box, the week, what the carrier said."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Literal

from planner.model.records import Group, Site, Tolerated
from planner.store.tripparts import WeatherRequest

LaneStageKind = Literal["wait", "collection", "depot", "trunk", "delivery", "counter", "doorstep"]
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat")


@dataclass(frozen=True, slots=True)
class LaneStage:
    """One stretch: ``lasts_s`` lowest, usual, highest; ``places`` with weights, several where nobody knows."""

    kind: LaneStageKind
    lasts_s: tuple[float, float, float]
    places: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Service:
    """``transit_days`` working days; ``weekdays`` 0 Monday on which one can post, at ``post_s`` seconds of the day.

    ``late_of_100`` by the user's own tracking, None where he has none; ``delivery_days`` printed on the parcel.
    """

    transit_days: int
    saturday: bool
    weekdays: tuple[int, ...]
    post_s: float
    late_of_100: float | None = None
    delivery_days: int | None = None


@dataclass(frozen=True, slots=True)
class CarrierWord:
    """That the carrier takes live bees on this lane, and when the user asked."""

    accepts: bool = False
    asked_on: date | None = None


@dataclass(frozen=True)
class ParcelLane:
    """A lane as stated, checked; ``monday`` of the week; ``year`` a file of weather for weeks without a forecast."""

    title: str
    origin: Site
    destination: Site
    country: str
    region: str
    monday: date
    service: Service
    carrier: CarrierWord
    stages: tuple[LaneStage, ...]
    group: Group
    boxes: int
    setups: tuple[str, ...]
    weather: WeatherRequest | None
    year: Path | None
    tolerance: Tolerated = field(default_factory=Tolerated)
    invented: bool = False
