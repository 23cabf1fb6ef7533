"""Collection days of many buyers, invented anew from a seed: sixty and eighty boxes, or as many as are asked for."""

from __future__ import annotations

from typing import Any

import numpy as np

from planner.bundled import resource_path
from planner.store.dayfile import read_day, resolve_day
from planner.store.dayrecords import Day
from tests.app.small_day import catalogue

VEHICLES = (
    ("car", True),
    ("car", False),
    ("estate", True),
    ("estate", False),
    ("van", False),
    ("trailer", False),
)


def crowded_draft(seed: int, buyers: int = 60, boxes: int = 80) -> dict[str, Any]:
    """The demo's yard and weather; two pairs of hands, eight screens and shade for twenty of eighty boxes."""
    rng = np.random.default_rng(seed)
    draft = read_day(resource_path("demo", "day", "collection-day.toml"))
    for key in ("buyers_file", "boxes_file"):
        del draft[key]
    more = boxes / 80.0
    draft["hands"]["people"] = max(1, round(2 * more))
    draft["shade"]["bays"] = round(20 * more)
    draft["stock"] = {"roof_screens": round(8 * more), "straps": 2 * boxes}
    wanted = np.ones(buyers, dtype=int)
    spare = max((boxes - buyers) // 2, 0)
    wanted[rng.choice(buyers, min(spare, buyers), replace=False)] = 2
    rows = []
    for number, count in enumerate(wanted.tolist()):
        vehicle, cooling = VEHICLES[int(rng.integers(len(VEHICLES)))]
        row: dict[str, Any] = {
            "name": f"Buyer {number + 1:03d}",
            "drive_minutes": int(rng.choice([15, 20, 30, 45, 60, 75, 90, 110, 140])),
            "vehicle": vehicle,
            "cooling": cooling,
            "boxes": count,
        }
        luck = rng.random(3)
        if luck[0] < 0.25:
            row["times"] = str(rng.choice(["05:00-07:30", "06:00-09:00", "07:00-10:00", "18:30-21:30"]))
        if luck[1] < 0.3:
            row["wish"] = str(rng.choice(["06:00", "07:00", "08:30", "19:00", "20:00"]))
        if luck[2] < 0.15:
            row["first_timer"] = True
        rows.append(row)
    draft["buyers"] = rows
    draft["boxes"] = [
        {
            "id": f"N{number + 1:03d}",
            "frames_of_bees": float(rng.choice([3.0, 3.5, 4.0, 4.5])),
            "open_brood_frames": float(rng.choice([0.5, 1.0, 1.5])),
            "floor_blocked_share": float(rng.choice([0.05, 0.05, 0.1])),
        }
        for number in range(boxes)
    ]
    return draft


def crowded_day(seed: int, buyers: int = 60, boxes: int = 80) -> Day:
    return resolve_day(crowded_draft(seed, buyers, boxes), catalogue())
