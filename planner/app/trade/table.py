"""The trade's year as data: kinds of load, rows, and what keepers say becomes of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path
from typing import Any, Literal

from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.model.catalogue import Catalogue
from planner.model.records import Grade
from planner.store.documents import Document, read_toml
from planner.store.schema import did_you_mean, schema_faults

ORDINARY_MOST, RUINING_LEAST = 0.10, 0.30
"""A row is ordinary when at most this share of its boxes is credibly ruined, ruining when at least that share is."""

Sense = Literal["ordinary", "ruining", "open"]
"""What the trade says of a row: it arrives, it is ruined, or it may go either way."""

SCHEMA = "trade_year.schema.json"


@dataclass(frozen=True)
class Kind:
    """A kind of load; ``held_out`` kinds judge what was learned from the others."""

    name: str
    title: str
    held_out: bool = False


@dataclass(frozen=True)
class Air:
    """The air of a row: knots of temperature by the sun's clock (hour of day, C), the same every day."""

    hours: tuple[float, ...]
    air_c: tuple[float, ...]
    dew_c: float
    wind_ms: float
    cloud_share: float


@dataclass(frozen=True)
class Stage:
    """Driving (``drive_s`` at ``speed_kmh``) or standing (``stand_s``, with what is done meanwhile)."""

    drive_s: float = 0.0
    speed_kmh: float = 0.0
    stand_s: float = 0.0
    shade: bool = False
    doors_open: bool = False
    engine_on: bool = False


@dataclass(frozen=True)
class Row:
    """One load on one trip.

    ``load`` holds the words of a trip file's load; ``closed_h``, ``leaves_h`` hours of day by the sun's clock;
    ``ruined`` and ``chilled`` the credible range of the share of boxes, ``chilled`` None where the row says nothing
    of cold; ``wet_bees_kg``, ``spacing`` and ``syrup_can`` are told to a trip file in its own words.
    """

    name: str
    kind: Kind
    title: str
    load: Mapping[str, Any]
    places: tuple[str, ...]
    closed_h: float
    leaves_h: float
    journey: tuple[Stage, ...]
    lat_deg: float
    month: int
    day: int
    air: Air
    ruined: tuple[float, float]
    chilled: tuple[float, float] | None
    grade: Grade
    source: str
    weight: float = 1.0
    net: bool = False
    waits_in_shade: bool = True
    loading_s: float = 1200.0
    opening_s: float = 1200.0
    wet_bees_kg: float = 0.0
    spacing: str = "apart"
    syrup_can: str = ""

    @property
    def sense(self) -> Sense:
        """What the trade says of the boxes' lives."""
        return sense_of(self.ruined)

    @property
    def chill_sense(self) -> Sense:
        """What it says of chill; open where it says nothing."""
        return "open" if self.chilled is None else sense_of(self.chilled)


@dataclass(frozen=True)
class TradeYear:
    """The whole table; ``dated`` when it was written, ISO."""

    dated: str
    kinds: Mapping[str, Kind]
    rows: Mapping[str, Row] = field(default_factory=dict)

    def of_kind(self, kind: Kind) -> tuple[Row, ...]:
        """The rows of a kind, in the order of the file."""
        return tuple(row for row in self.rows.values() if row.kind == kind)


def sense_of(share: tuple[float, float]) -> Sense:
    """What a range of shares says.

    >>> sense_of((0.0, 0.05)), sense_of((0.3, 0.9)), sense_of((0.1, 0.6))
    ('ordinary', 'ruining', 'open')
    """
    if share[1] <= ORDINARY_MOST:
        return "ordinary"
    return "ruining" if share[0] >= RUINING_LEAST else "open"


def load_trade_year(catalogue: Catalogue, path: Path | None = None) -> TradeYear:
    """The bundled table, or another of its kind.

    Raises InputError with every fault found, StorageError when the file cannot be read.
    """
    file = path or resource_path("trade_year.toml")
    draft = read_toml(file, "a table of the trade's year")
    faults = [*schema_faults(draft, SCHEMA)] or [*_faults(draft, catalogue)]
    if faults:
        raise InputError(faults, file.name)
    kinds = {name: Kind(name, **table) for name, table in draft["kinds"].items()}
    rows = {name: _row(name, table, kinds) for name, table in draft["rows"].items()}
    return TradeYear(draft["dated"], kinds, rows)


def _faults(draft: Document, catalogue: Catalogue) -> Iterator[Fault]:
    """What no schema can say."""
    for name, table in draft["rows"].items():
        where = f"rows.{name}"
        if table["kind"] not in draft["kinds"]:
            remedy = did_you_mean(table["kind"], draft["kinds"])
            yield Fault(f"{where}.kind", table["kind"], "no such kind of load", remedy)
        for place in table["places"]:
            if place not in catalogue.loading_places:
                remedy = did_you_mean(place, catalogue.loading_places)
                yield Fault(f"{where}.places", place, "no such loading place", remedy)
        for word in ("ruined", "chilled"):
            low, high = table.get(word, (0.0, 1.0))
            if low > high:
                remedy = "Write the lower share first"
                yield Fault(f"{where}.{word}", f"{low:g}, {high:g}", "the range is upside down", remedy)
        driven = ["drive_h" in stage for stage in table["journey"]]
        if not (driven[0] and driven[-1]) or any(a == b for a, b in pairwise(driven)):
            remedy = "Begin and end with driving, and stand in between"
            yield Fault(f"{where}.journey", "", "driving and standing do not alternate", remedy)


_ROW_WORDS = {
    "kind", "title", "places", "net", "closed_at", "leaves_at", "waits", "loading_minutes", "opening_minutes",
    "journey", "lat_deg", "day", "air_c", "dew_c", "wind_ms", "cloud_share", "ruined", "chilled", "weight",
    "grade", "source", "wet_bees_ml", "spacing", "syrup_can",
}  # fmt: skip
"""The words of a row that are not the load's."""


def _row(name: str, table: Document, kinds: Mapping[str, Kind]) -> Row:
    month, day = map(int, table["day"].split("-"))
    chilled = table.get("chilled")
    return Row(
        name=name,
        kind=kinds[table["kind"]],
        title=table["title"],
        load={word: value for word, value in table.items() if word not in _ROW_WORDS},
        places=tuple(table["places"]),
        closed_h=_hours(table["closed_at"]),
        leaves_h=_hours(table["leaves_at"]),
        journey=tuple(map(_stage, table["journey"])),
        lat_deg=float(table["lat_deg"]),
        month=month,
        day=day,
        air=_air(table),
        ruined=_share(table["ruined"]),
        chilled=None if chilled is None else _share(chilled),
        grade=table["grade"],
        source=table["source"],
        weight=float(table.get("weight", 1.0)),
        net=table.get("net", False),
        waits_in_shade=table.get("waits", "shade") == "shade",
        loading_s=table.get("loading_minutes", 20.0) * 60.0,
        opening_s=table.get("opening_minutes", 20.0) * 60.0,
        wet_bees_kg=table.get("wet_bees_ml", 0.0) * 1e-3,
        spacing=table.get("spacing", "apart"),
        syrup_can=table.get("syrup_can", ""),
    )


def _hours(clock: str) -> float:
    hours, minutes = clock.split(":")
    return int(hours) + int(minutes) / 60.0


def _share(limits: list[float]) -> tuple[float, float]:
    return float(limits[0]), float(limits[1])


def _stage(table: Document) -> Stage:
    marks = {word: table.get(word, False) for word in ("shade", "doors_open", "engine_on")}
    if "drive_h" in table:
        return Stage(drive_s=table["drive_h"] * 3600.0, speed_kmh=float(table["kmh"]))
    return Stage(stand_s=table["stand_minutes"] * 60.0, **marks)


def _air(table: Document) -> Air:
    knots = sorted((_hours(clock), float(value)) for clock, value in table["air_c"].items())
    hours, values = zip(*knots, strict=True)
    return Air(hours, values, float(table["dew_c"]), float(table["wind_ms"]), float(table["cloud_share"]))
