"""Which bay of the shade every shut box stands in: fewest bays, the first to leave nearest the gate."""

from __future__ import annotations

import heapq
from collections.abc import Sequence

import numpy as np

from planner.app.day.serving.chosen import Close
from planner.app.day.serving.judge import Asked
from planner.model.closing import FLIGHT_SUN_DEG
from planner.model.sun import sun_position
from planner.store.dayrecords import CLOSINGS


def bays_of(asked: Asked, closely: Sequence[Close]) -> dict[int, tuple[int, ...]]:
    """The bays of each buyer whose boxes stand shut while the sun is up, numbers from 1.

    Giving each box the lowest free bay in the order of stays never takes more bays than stand full at the worst hour.
    """
    up = (
        sun_position(asked.slot_s, asked.day.yard.lat_deg, asked.day.yard.lon_deg).elevation_deg
        > FLIGHT_SUN_DEG
    )
    stays: list[tuple[int, int, int, int]] = []
    for close in closely:
        choice = close.choice
        if CLOSINGS[choice.closing] == "at_handover":
            continue
        waits = np.flatnonzero((asked.slot_s >= close.closed_s) & up & (np.arange(up.size) <= choice.slot))
        if waits.size:
            stays.append((int(waits[0]), int(waits[-1]), choice.buyer, len(choice.boxes)))
    free: list[int] = []
    busy: list[tuple[int, int]] = []
    used = 0
    out: dict[int, tuple[int, ...]] = {}
    for first, last, buyer, boxes in sorted(stays):
        while busy and busy[0][0] < first:
            heapq.heappush(free, heapq.heappop(busy)[1])
        taken = []
        for _ in range(boxes):
            if free:
                taken.append(heapq.heappop(free))
            else:
                used += 1
                taken.append(used)
        out[buyer] = tuple(sorted(taken))
        for bay in taken:
            heapq.heappush(busy, (last, bay))
    return out
