"""Which places are set, and whether two roads are the same one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from planner.model.records import Road, Site


def placed(place: Mapping[str, Any]) -> bool:
    """Whether a place of the draft lies anywhere yet."""
    return all(isinstance(place.get(key), int | float) for key in ("lat", "lon"))


def far_from(pins: Sequence[Site], waypoints: Sequence[Site]) -> bool:
    """Whether the places set are others than those the road goes by."""
    here = [(round(p.lat_deg, 4), round(p.lon_deg, 4)) for p in pins]
    return here != [(round(w.lat_deg, 4), round(w.lon_deg, 4)) for w in waypoints]


def same_way(one: Road, two: Road) -> bool:
    """Whether two roads go the same way."""
    return (
        len(one.km) == len(two.km)
        and np.array_equal(one.lat_deg, two.lat_deg)
        and np.array_equal(one.lon_deg, two.lon_deg)
    )
