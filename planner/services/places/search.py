"""One search box: coordinates, the user's saved places, then the bundled gazetteer; all without a network."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from planner.errors import Fault, InputError
from planner.model.records import Site
from planner.services.places.coordinates import looks_like_coordinates, parse_coordinates
from planner.services.places.gazetteer import folded, gazetteer
from planner.services.places.zone import zone_at


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


def place_named(text: str, saved: Sequence[Site] = ()) -> Site:
    """The one site a text means: its coordinates, the saved place of that name, or the largest town.

    Raises InputError where nothing fits.
    """
    if looks_like_coordinates(text):
        return _at(text).site
    for site in saved:
        if folded(site.name) == folded(text.strip()):
            return site
    found = suggestions(text, saved, most=1)
    if not found:
        remedy = "Check the spelling, write a larger place nearby, or give coordinates like 48.21, 16.37."
        raise InputError([Fault("place", text, "no such place is known", remedy)])
    return found[0].site


def _at(text: str) -> Found:
    lat, lon = parse_coordinates(text)
    name = f"{lat:.4f}, {lon:.4f}"
    return Found(name, Site(name, lat, lon, zone_at(lat, lon)), "coordinates")


def _beginnings(name: str) -> list[str]:
    """The name from each of its words on."""
    words = folded(name).split()
    return [" ".join(words[start:]) for start in range(len(words))]
