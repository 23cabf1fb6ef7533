"""Finding places by what people write; among namesakes those that make the shortest trip, and while it is typed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise, product

from planner.errors import Fault, InputError
from planner.model.geo import great_circle_km
from planner.model.records import Site
from planner.services.geocoding.coordinates import looks_like_coordinates, parse_coordinates
from planner.services.geocoding.gazetteer import Town, folded, gazetteer
from planner.services.geocoding.saved import saved_place, saved_places
from planner.services.geocoding.search import Found, suggestions
from planner.words import say
from planner.zones import zone_at

MOST_NAMESAKES = 8
OFFERED, LOOKED_AT = 8, 40
"""So many places are offered while a name is typed, the best of so many looked at."""
DRIVE_KM = 1500.0
NEAR_KM = 25.0
SAME_DEG = 0.001


def find_sites(asked: Mapping[str, str]) -> tuple[dict[str, Site], tuple[str, ...]]:
    """The places meant, and remarks about namesakes.

    Parameters
    ----------
    asked : what was written for each field, the two ends of the trip first; fields are named in faults

    Raises
    ------
    InputError : with a fault for every place that is not known
    """
    offered = {field: _offers(text) for field, text in asked.items()}
    remedy = "Try a nearby town, or coordinates: 52.1, -2.3"
    if missing := [field for field, offers in offered.items() if not offers]:
        raise InputError([Fault(field, asked[field], "no such place is known", remedy) for field in missing])
    fields = list(offered)
    ends = min(product(*(offered[field] for field in fields[:2])), key=_span)
    taken = dict(zip(fields[:2], ends, strict=True))
    for field in fields[2:]:
        taken[field] = min(offered[field], key=lambda offer: _span((ends[0], offer, ends[-1])))
    remarks = [_remark(asked[field], taken[field], offered[field]) for field in fields]
    return {field: _site(place) for field, place in taken.items()}, tuple(filter(None, remarks))


def suggest(typed: str, near: Sequence[tuple[float, float]] = ()) -> list[Found]:
    """Places like what is typed so far: coordinates, the user's own, then towns; quick enough for every letter.

    Towns within a drive of a point of ``near`` (latitude, longitude) come before their larger namesakes
    across the sea.
    """

    def far(site: Site) -> bool:
        away_km = (float(great_circle_km(site.lat_deg, site.lon_deg, *point)) for point in near)
        return min(away_km, default=0.0) > DRIVE_KM

    found = suggestions(typed, saved_places(), LOOKED_AT if near else OFFERED)
    return sorted(found, key=lambda one: one.origin == "gazetteer" and far(one.site))[:OFFERED]


def named_from(near: Sequence[tuple[float, float]], name: str, lat_deg: float, lon_deg: float) -> str:
    """What to write for a place that is to be found from a point of ``near``: its name where that leads there."""
    point = f"{lat_deg:.5f}, {lon_deg:.5f}"
    if near:
        try:
            found = find_sites({"from": "{}, {}".format(*near[0]), "to": name})[0]["to"]
        except InputError:
            return point
        if abs(found.lat_deg - lat_deg) + abs(found.lon_deg - lon_deg) < SAME_DEG:
            return name
    return point


def nearest_town(site: Site) -> str:
    """The town a point may be named after; empty in the wilderness."""
    town, away_km = gazetteer().nearest(site.lat_deg, site.lon_deg)
    return town.name if away_km <= NEAR_KM else ""


def _offers(text: str) -> list[Town | Site]:
    """All the text could mean: coordinates, a saved place, towns of that very name, else the best match."""
    if looks_like_coordinates(text):
        lat, lon = parse_coordinates(text)
        return [Site(text.strip(), lat, lon, zone_at(lat, lon))]
    if (own := saved_place(text.strip())) is not None:
        return [own]
    found = gazetteer().search(text, MOST_NAMESAKES)
    wanted = folded(text.split(",")[0])
    return list([place for place in found if folded(place.name) == wanted] or found[:1])


def _span(places: tuple[Town | Site, ...]) -> float:
    """Kilometres from each place to the next."""
    return sum(
        float(great_circle_km(a.lat_deg, a.lon_deg, b.lat_deg, b.lon_deg)) for a, b in pairwise(places)
    )


def _site(place: Town | Site) -> Site:
    return place.site() if isinstance(place, Town) else place


def _remark(text: str, taken: Town | Site, offers: list[Town | Site]) -> str:
    if not isinstance(taken, Town) or len(offers) < 2:
        return ""
    others = "; ".join(other.title for other in offers if isinstance(other, Town) and other is not taken)
    return say("services.is_taken_as_there", text=f"{text}", title=f"{taken.title}", others=others)
