"""Calling the compiled march: same records in, same records out as ``planner.model.integrate.integrate``.

Nothing is laid out for it minute by minute: it is handed the tables of the vehicle's tracks and of the places, the
constants of the boxes and the parameters, and forms the forces of each case itself. It runs without the interpreter's
lock.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterable, Sequence

import numpy as np

from planner.model.integrate import NODE_FIELDS, STEP_FIELDS, SUMMARY_FIELDS, Cases, Histories, start
from planner.model.kernel.library import Library
from planner.model.loading_places import LocalAir
from planner.model.parameters import Parameters
from planner.model.records import Floats, Ints
from planner.model.timeline import VehicleState

_POINTERS = (
    "place",
    "track",
    "enclosure",
    "order",
    "shift",
    "boxes",
    "parameters",
    "air",
    "vehicle",
    "state",
    "nodes",
    "seen",
    "room",
)


class _Job(ctypes.Structure):
    """One call; the struct of the same name in ``march.c``."""

    _fields_ = (
        *((name, ctypes.c_int64) for name in ("cases", "steps", "places", "tracks")),
        ("step_s", ctypes.c_double),
        ("detail", ctypes.c_int64),
        *((name, ctypes.c_void_p) for name in _POINTERS),
    )


def integrate(
    library: Library,
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    *,
    step_s: float,
    detail: bool,
) -> Histories:
    """Walk every case through its trip; arguments and answer as of the numpy march."""
    n_steps, n_cases = vehicle.time_s.shape[0], cases.track.size
    wanted_nodes = (*NODE_FIELDS, *(("water_kg",) if detail else ()))
    wanted_steps = STEP_FIELDS if detail else SUMMARY_FIELDS
    nodes = dict(zip(wanted_nodes, np.empty((len(wanted_nodes), n_steps + 1, n_cases)), strict=True))
    seen = dict(zip(wanted_steps, np.empty((len(wanted_steps), n_steps, n_cases)), strict=True))
    begun = start(cases, vehicle, local_air, p)
    state = {name: _copy(getattr(begun, name), n_cases) for name in library.fields["state"]}
    columns = [
        _columns((getattr(table, name) for name in library.fields[kind]), n_cases)
        for kind, table in (("cases", cases), ("boxes", cases.boxes), ("parameters", p))
    ]
    air = [_table(getattr(local_air, name)) for name in library.fields["air"]]
    tracks = [_table(getattr(vehicle, name)) for name in library.fields["vehicle"]]
    indices = [np.ascontiguousarray(index, dtype=np.int64) for index in (cases.local_air, cases.track)]
    enclosure, order = None, np.arange(n_cases, dtype=np.int64)
    if cases.enclosure is not None:
        enclosure = np.ascontiguousarray(cases.enclosure, dtype=np.int64)
        order = np.argsort(enclosure, kind="stable")
    addresses = [
        _addresses(tables)
        for tables in (
            air,
            tracks,
            list(state.values()),
            [nodes.get(name) for name in library.fields["nodes"]],
            [seen.get(name) for name in library.fields["steps"]],
        )
    ]
    room = np.empty(n_steps * sum(len(tables) * tables[0].shape[1] for tables in (air, tracks)))
    job = _Job(
        n_cases,
        n_steps,
        air[0].shape[1],
        tracks[0].shape[1],
        step_s,
        int(detail),
        *(_address(index) for index in (*indices, enclosure, order)),
        *(_address(table) for _, table in columns),
        *(_address(table) for table in (*addresses, room)),
    )
    if library.handle.march(ctypes.byref(job)):
        raise MemoryError
    unseen = dict.fromkeys((*STEP_FIELDS, "water_kg"), np.empty((0, n_cases)))
    known = {name: nodes[name] for name in wanted_nodes if name in ("core_c", "stores_c", "water_kg")}
    return Histories(
        **(unseen | seen | known),
        around_kg_m3=nodes["around_kg_m3"][1:],
        around_co2_share=nodes["co2_share"][1:],
        closed=vehicle.closed.take(cases.track, axis=1),
        worker_dose=state["worker_dose"],
    )


def _columns(values: Iterable[Floats | float], n_cases: int) -> tuple[list[Floats], Floats]:
    """The columns of a table, kept alive, and for each its address and stride: 0 where one number is meant for all."""
    held = [np.ascontiguousarray(value, dtype=np.float64) for value in values]
    held = [column if column.size in (1, n_cases) else _copy(column, n_cases) for column in held]
    pairs = [(_address(column), int(column.size > 1)) for column in held]
    return held, np.array(pairs, dtype=np.uint64)


def _copy(values: Floats, n_cases: int) -> Floats:
    return np.array(np.broadcast_to(values, n_cases), dtype=np.float64)


def _table(values: Floats) -> Floats:
    return np.ascontiguousarray(values, dtype=np.float64)


def _addresses(tables: Sequence[Floats | None]) -> Floats:
    return np.array([_address(table) or 0 for table in tables], dtype=np.uint64)


def _address(table: Floats | Ints | None) -> int | None:
    return None if table is None else int(table.__array_interface__["data"][0])
