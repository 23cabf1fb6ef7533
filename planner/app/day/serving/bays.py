"""Which bay of the shade every shut box stands in: fewest bays, the first to leave nearest the gate."""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence

import numpy as np

from planner.app.day.serving.chosen import Close
from planner.app.day.serving.judge import Asked
from planner.model.closing import FLIGHT_SUN_DEG
from planner.model.sun import sun_position
from planner.store.dayrecords import CLOSINGS


def bays_of(
    asked: Asked, closely: Sequence[Close], held: Mapping[int, tuple[int, ...]] | None = None
) -> dict[int, tuple[int, ...]]:
    """The bays of each buyer whose boxes stand shut while the sun is up, numbers from 1.

    Giving each box the lowest free bay in the order of stays never takes more bays than stand full at the worst hour.
    Bays that somebody ``held`` before stay his where the others find room beside him.
    """
    stays = _stays(asked, closely)
    if held:
        kept = {buyer: held[buyer] for _, _, buyer, boxes in stays if len(held.get(buyer, ())) == boxes}
        found = _beside(stays, kept)
        if max((max(bays) for bays in found.values()), default=0) <= asked.day.bays:
            return found
    return _anew(stays)


Stay = tuple[int, int, int, int]
"""First and last slot in the shade, buyer, boxes."""


def _beside(stays: Sequence[Stay], kept: Mapping[int, tuple[int, ...]]) -> dict[int, tuple[int, ...]]:
    """Bays for everybody who has none yet, each the lowest that is free all the while."""
    taken = [(bay, first, last) for first, last, buyer, _ in stays for bay in kept.get(buyer, ())]
    out = dict(kept)
    for first, last, buyer, boxes in sorted(stays):
        bays: list[int] = []
        bay = 1
        while buyer not in kept and len(bays) < boxes:
            if not any(bay == b and first <= z and a <= last for b, a, z in taken):
                bays.append(bay)
            bay += 1
        if bays:
            taken += [(bay, first, last) for bay in bays]
            out[buyer] = tuple(bays)
    return out


def _stays(asked: Asked, closely: Sequence[Close]) -> list[Stay]:
    up = (
        sun_position(asked.slot_s, asked.day.yard.lat_deg, asked.day.yard.lon_deg).elevation_deg
        > FLIGHT_SUN_DEG
    )
    stays: list[Stay] = []
    for close in closely:
        choice = close.choice
        if CLOSINGS[choice.closing] == "at_handover":
            continue
        waits = np.flatnonzero((asked.slot_s >= close.closed_s) & up & (np.arange(up.size) <= choice.slot))
        if waits.size:
            stays.append((int(waits[0]), int(waits[-1]), choice.buyer, len(choice.boxes)))
    return stays


def _anew(stays: Sequence[Stay]) -> dict[int, tuple[int, ...]]:
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
