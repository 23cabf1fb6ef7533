"""Typical years that are carried: which there are, which is near a place, and where to fetch one for elsewhere."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from planner.bundled import resource_path
from planner.model.geo import great_circle_km
from planner.words import distance, height, say

PVGIS = "https://re.jrc.ec.europa.eu/pvg_tools/"
"""Where a typical year of nearly any place on land can be downloaded."""


@dataclass(frozen=True, slots=True)
class Climate:
    """A carried typical year; ``path`` is read by :func:`planner.store.typicalyear.read_year`."""

    title: str
    lat: float
    lon: float
    elevation_m: float
    credit: str
    path: Path


@dataclass(frozen=True, slots=True)
class Near:
    """The carried year nearest to a place, and how far off it lies."""

    climate: Climate
    km: float

    @property
    def serves(self) -> bool:
        """Whether it is near enough to stand for the weather there."""
        return self.km <= near_km()

    def in_words(self) -> str:
        """Whose hours these are, how far off, how high, and whom to credit."""
        return say(
            "season.carried",
            place=self.climate.title,
            away=distance(self.km),
            height=height(self.climate.elevation_m),
            credit=self.climate.credit,
        )


@cache
def _table() -> dict[str, object]:
    return tomllib.loads(resource_path("climates.toml").read_text("utf-8"))


def near_km() -> float:
    """How far from a place a typical year may lie, km."""
    return float(_table()["near_km"])  # type: ignore[arg-type]


@cache
def climates() -> tuple[Climate, ...]:
    """Every typical year that is carried."""
    rows: dict[str, dict[str, object]] = _table()["place"]  # type: ignore[assignment]
    return tuple(
        Climate(path=resource_path("climates", f"{name}.csv.gz"), **row)  # type: ignore[arg-type]
        for name, row in rows.items()
    )


def nearest(lat: float, lon: float) -> Near:
    """The carried year nearest to a place, however far."""
    found = [Near(each, float(great_circle_km(lat, lon, each.lat, each.lon))) for each in climates()]
    return min(found, key=lambda near: near.km)


def to_fetch(lat: float, lon: float) -> str:
    """Which file to fetch for a place near which none is carried."""
    near = nearest(lat, lon)
    return say(
        "season.none_near",
        place=near.climate.title,
        away=distance(near.km),
        lat=f"{lat:.3f}",
        lon=f"{lon:.3f}",
        address=PVGIS,
    )
