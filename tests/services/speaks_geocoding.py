"""How the stand-in speaks the geocoders' formats, about two invented places."""

from __future__ import annotations

from typing import Any

from tests.services.standin import Seen, StandIn, speaks

PLACES = {
    "Imkerhausen": (48.5, 9.0, "Invented State", "de"),
    "Beeminster Invented": (51.2, -2.1, "Invented County", "gb"),
}


def _found(query: str) -> list[tuple[str, tuple[float, float, str, str]]]:
    return [(name, facts) for name, facts in PLACES.items() if name.lower().startswith(query.lower())]


@speaks("/search")
def _nominatim(world: StandIn, seen: Seen) -> Any:
    return [
        {
            "place_id": 1,
            "licence": "Data © OpenStreetMap contributors, ODbL 1.0.",
            "lat": f"{lat}",
            "lon": f"{lon}",
            "name": name,
            "display_name": f"{name}, {state}",
            "boundingbox": [f"{lat - 0.1}", f"{lat + 0.1}", f"{lon - 0.1}", f"{lon + 0.1}"],
        }
        for name, (lat, lon, state, _) in _found(seen.query["q"])
    ]


@speaks("/api")
def _photon(world: StandIn, seen: Seen) -> Any:
    features = [
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [lon, lat]},
            "properties": {
                "name": name,
                "state": state,
                "countrycode": country.upper(),
                "osm_value": "village",
            },
        }
        for name, (lat, lon, state, country) in _found(seen.query["q"])
    ]
    return {"type": "FeatureCollection", "features": features}
