"""Land, borders and towns for the map, from the bundled files below."""

from __future__ import annotations

import numpy as np

from planner.store.basemap import read_basemap
from planner.ui.map_view import Ground


def read_ground() -> Ground:
    """Read everything that lies under the road. Raises StorageError."""
    base = read_basemap()
    return Ground(
        land=base.land,
        borders=base.borders,
        town_names=(),
        town_lat_deg=np.empty(0),
        town_lon_deg=np.empty(0),
        town_people=np.empty(0),
    )
