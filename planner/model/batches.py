"""Batches of other roads, loads or vehicles integrated as one: the calls are the cost while cases are few."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields, replace
from typing import Any, TypeVar

import numpy as np

from planner.model.boxes import Boxes
from planner.model.cases import Batch
from planner.model.integrate import Cases
from planner.model.parameters import Parameters
from planner.model.records import Floats

Table = TypeVar("Table", Boxes, Parameters)


def together(batches: Sequence[Batch]) -> Batch:
    """Batches of other roads, loads or vehicles as one, their cases one after the other; none shares air with another.

    A shorter one stands still, opened, until the longest is over.
    """
    steps = max(len(batch.time_s) for batch in batches)
    tracks = np.cumsum([0, *(batch.vehicle.time_s.shape[1] for batch in batches)])
    pairs = np.cumsum([0, *(batch.local_air.base_c.shape[1] for batch in batches)])
    enclosure, taken = [], 0
    for batch in batches:
        own = batch.cases.enclosure
        own = np.arange(batch.cases.track.size) if own is None else own
        enclosure.append(own + taken)
        taken += int(own.max()) + 1

    def beside(name: str) -> Any:
        """A table of each batch beside those of the others, the last row held on to the end."""
        parts = [getattr(batch, name) for batch in batches]
        held = {
            f.name: np.concatenate([_held_on(getattr(part, f.name), steps) for part in parts], axis=1)
            for f in fields(parts[0])
        }
        return replace(parts[0], **held)

    def of_cases(name: str) -> Floats:
        return np.concatenate(
            [np.broadcast_to(getattr(batch.cases, name), batch.cases.track.shape) for batch in batches]
        )

    vehicle = beside("vehicle")
    over = [
        np.arange(steps)[:, None] >= len(batch.vehicle.time_s) + 0 * batch.vehicle.stage[:1]
        for batch in batches
    ]
    sizes = [batch.cases.track.size for batch in batches]
    varied = {f.name for f in fields(Cases)} - {"track", "local_air", "enclosure", "boxes"}
    cases = Cases(
        track=np.concatenate([b.cases.track + first for b, first in zip(batches, tracks, strict=False)]),
        local_air=np.concatenate(
            [b.cases.local_air + first for b, first in zip(batches, pairs, strict=False)]
        ),
        enclosure=np.concatenate(enclosure),
        boxes=_one_after_another([batch.cases.boxes for batch in batches], sizes),
        **{name: of_cases(name) for name in varied},
    )
    return Batch(
        time_s=np.concatenate([_held_on(batch.time_s, steps) for batch in batches], axis=1),
        vehicle=replace(vehicle, closed=vehicle.closed & ~np.concatenate(over, axis=1)),
        outside=beside("outside"),
        local_air=beside("local_air"),
        cases=cases,
        parameters=_one_after_another([batch.parameters for batch in batches], sizes),
    )


def _held_on(values: np.ndarray, steps: int) -> np.ndarray:
    """A table ``(time, ...)`` made longer by its last row."""
    return np.concatenate([values, np.repeat(values[-1:], steps - len(values), axis=0)])


def _one_after_another(tables: Sequence[Table], sizes: Sequence[int]) -> Table:
    """Records of ``(case,)`` arrays or scalars, joined case by case; scalars that all share stay scalars."""
    joined = {}
    for f in fields(tables[0]):
        each = [np.asarray(getattr(table, f.name)) for table in tables]
        alike = all(value.ndim == 0 and value == each[0] for value in each)
        joined[f.name] = (
            each[0]
            if alike
            else np.concatenate([np.broadcast_to(v, (size,)) for v, size in zip(each, sizes, strict=True)])
        )
    return replace(tables[0], **joined)
