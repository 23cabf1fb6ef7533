"""One search box: coordinates, the user's saved places, then the bundled gazetteer; all without a network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from planner.errors import InputError
from planner.model.records import Site
from planner.services.geocoding.coordinates import looks_like_coordinates, parse_coordinates
from planner.services.geocoding.gazetteer import folded, gazetteer
from planner.zones import zone_at


@dataclass(frozen=True, slots=True)
class Found:
    """One suggestion: what to show, the site it stands for, and where it comes from."""

    title: str
    site: Site
    origin: Literal["coordinates", "saved", "gazetteer"]


def suggestions(typed: str, saved: Sequence[Site] = (), most: int = 10) -> list[Found]:
    """Suggestions for what is typed so far, best first; fast enough for every keystroke.

    Unfinished coordinates give none rather than an error.
    """
    if looks_like_coordinates(typed):
        try:
            return [_at(typed)]
        except InputError:
            return []
    begun = folded(typed.strip())
    own = [
        Found(f"{site.name} (saved)", site, "saved")
        for site in saved
        if begun and any(word.startswith(begun) for word in _beginnings(site.name))
    ]
    towns = [Found(place.title, place.site(), "gazetteer") for place in gazetteer().search(typed, most)]
    return [*own, *towns][:most]


def _at(text: str) -> Found:
    lat, lon = parse_coordinates(text)
    name = f"{lat:.4f}, {lon:.4f}"
    return Found(name, Site(name, lat, lon, zone_at(lat, lon)), "coordinates")


def _beginnings(name: str) -> list[str]:
    """The name from each of its words on."""
    words = folded(name).split()
    return [" ".join(words[start:]) for start in range(len(words))]
