"""A draft of which only the way is known: what to ask for a road with before load and weather are there."""

from __future__ import annotations

from typing import Any

from planner.ui.trip.edits import waypoints

DAY = {"date": "2027-06-01", "dawn_low_c": 10.0, "afternoon_high_c": 20.0, "dew_point_c": 8.0}


def way_key(draft: dict[str, Any]) -> str:
    """What the road alone depends on."""
    places = [[place.get("lat"), place.get("lon")] for place in waypoints(draft)]
    return repr([places, draft.get("road"), (draft.get("vehicle") or {}).get("kind")])


def only_the_way(draft: dict[str, Any]) -> dict[str, Any] | None:
    """The draft with everything but its places made up; None while a place is missing."""
    if any("lat" not in place for place in waypoints(draft)):
        return None
    ends = (0, len(draft.get("stops") or []) + 1)
    made_up = {
        "title": draft.get("title") or "-",
        "load": [{"label": "-", "count": 1, "box_type": "national_nuc5_pine", "frames_of_bees": 4.0}],
        "closing": {"rule": "at_loading"},
        "window": {"from": "2027-06-01T08:00", "to": "2027-06-01T08:00"},
        "arrival": {},
        "weather": {"source": "own", "own": [{"place": end, **DAY} for end in ends]},
    }
    return {**draft, **made_up}
