"""When local clocks show a time of day: across nights that skip or repeat an hour."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from planner.model.records import Bools, Floats

DAY_S = 86_400.0


def clock_moments(zone: str, clock_s: float, first_s: float, last_s: float) -> Floats:
    """Every instant from the local day of the first to the day after the last at which clocks show a time.

    Parameters
    ----------
    zone : IANA name
    clock_s : seconds of the local day; a time that a DST night skips falls where the clocks jump to
    first_s, last_s : POSIX seconds

    Returns
    -------
    (day,) POSIX seconds, increasing
    """
    local = ZoneInfo(zone)
    first = datetime.fromtimestamp(first_s, local).date()
    count = int((last_s - first_s) // DAY_S) + 3
    midnight = [datetime(first.year, first.month, first.day) + timedelta(days=i) for i in range(count)]
    return np.array(
        [(day + timedelta(seconds=clock_s)).replace(tzinfo=local).timestamp() for day in midnight]
    )


def local_seconds(time_s: Floats, zone: str) -> Floats:
    """Seconds of the local day by the wall clock."""
    zone_info = ZoneInfo(zone)
    clocks = [datetime.fromtimestamp(float(t), zone_info) for t in time_s]
    return np.array([c.hour * 3600.0 + c.minute * 60.0 + c.second for c in clocks])


def inside_hours(clock: Floats, opens: float, shuts: float) -> Bools:
    """Whether a time of day lies in hours that may run over midnight; ``shuts`` NaN: open until midnight."""
    if opens <= shuts:
        return (clock >= opens) & (clock <= shuts)
    return (clock >= opens) | (clock <= shuts)
