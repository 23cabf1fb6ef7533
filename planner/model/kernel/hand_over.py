"""Calling the compiled march: same records in, same records out as ``planner.model.integrate.integrate``.

Nothing is laid out for it minute by minute: it is handed the tables of the vehicle's tracks and of the places, the
constants of the boxes and the parameters, and forms the forces of each case itself. It runs without the interpreter's
lock.
"""

from __future__ import annotations

import ctypes
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from planner.model.integrate import NODE_FIELDS, STEP_FIELDS, SUMMARY_FIELDS, Cases, Histories, start
from planner.model.kernel.library import Library
from planner.model.limits import LIMITS, VERDICTS, Assessment
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
    "judged_boxes",
    "judged_parameters",
    "outcomes",
)


class _Job(ctypes.Structure):
    """One call; the struct of the same name in ``tables.h``."""

    _fields_ = (
        *((name, ctypes.c_int64) for name in ("cases", "steps")),
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
    nodes = _tables((*NODE_FIELDS, *(("water_kg",) if detail else ())), n_steps + 1, n_cases)
    seen = _tables(STEP_FIELDS if detail else SUMMARY_FIELDS, n_steps, n_cases)
    state = _call(library, cases, vehicle, local_air, p, step_s, detail=detail, nodes=nodes, seen=seen)
    unseen = dict.fromkeys((*STEP_FIELDS, "water_kg"), np.empty((0, n_cases)))
    known = {name: table for name, table in nodes.items() if name in ("core_c", "stores_c", "water_kg")}
    return Histories(
        **(unseen | seen | known),
        around_kg_m3=nodes["around_kg_m3"][1:],
        around_co2_share=nodes["co2_share"][1:],
        closed=vehicle.closed.take(cases.track, axis=1),
        worker_dose=state["worker_dose"],
    )


def judge(
    library: Library,
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    *,
    step_s: float,
) -> Assessment:
    """Walk every case through its trip and judge it on the way; no histories. Answer as of ``limits.assess``."""
    n_cases = cases.track.size
    outcomes = dict(
        zip(library.fields["outcomes"], np.empty((len(library.fields["outcomes"]), n_cases)), strict=True)
    )
    _call(library, cases, vehicle, local_air, p, step_s, outcomes=outcomes)
    first_harm = outcomes.pop("first_harm_step")
    harmed = ~np.isnan(first_harm)

    def when(step: Floats) -> Floats:
        known = ~np.isnan(step)
        at_s = vehicle.time_s[np.where(known, step, 0.0).astype(np.int64), cases.track]
        return np.where(known, at_s, np.nan)

    return Assessment(
        peak_s=when(outcomes.pop("peak_step")),
        first_harm_s=when(np.where(harmed, first_harm, np.nan)),
        verdict=np.stack([outcomes.pop(name) for name in VERDICTS], axis=-1).astype(np.int64),
        over_s=np.stack([outcomes.pop(name) for name in LIMITS], axis=-1),
        ruined=outcomes.pop("ruined") > 0.0,
        chilled=outcomes.pop("chilled") > 0.0,
        **outcomes,
    )


def _call(
    library: Library,
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    step_s: float,
    *,
    detail: bool = False,
    nodes: Mapping[str, Floats] | None = None,
    seen: Mapping[str, Floats] | None = None,
    outcomes: Mapping[str, Floats] | None = None,
) -> dict[str, Floats]:
    """Call the kernel, which fills what is wanted; the state of every case at the end."""
    n_steps, n_cases, fields = vehicle.time_s.shape[0], cases.track.size, library.fields
    begun = start(cases, vehicle, local_air, p)
    state = {name: _copy(getattr(begun, name), n_cases) for name in fields["state"]}
    records = {
        "cases": cases,
        "boxes": cases.boxes,
        "parameters": p,
        "judged_boxes": cases.boxes,
        "judged_parameters": p,
    }
    columns = {
        kind: _columns((getattr(record, name) for name in fields[kind]), n_cases)
        for kind, record in records.items()
    }
    air, around = _tables_of([getattr(local_air, name) for name in fields["air"]])
    tracks, ridden = _tables_of([getattr(vehicle, name) for name in fields["vehicle"]])
    place, track = (np.ascontiguousarray(index, dtype=np.int64) for index in (cases.local_air, cases.track))
    enclosure, order = None, np.arange(n_cases, dtype=np.int64)
    if cases.enclosure is not None:
        enclosure = np.ascontiguousarray(cases.enclosure, dtype=np.int64)
        order = np.argsort(enclosure, kind="stable")
    pointers = {
        "place": place,
        "track": track,
        "enclosure": enclosure,
        "order": order,
        "shift": columns["cases"][1],
        "boxes": columns["boxes"][1],
        "parameters": columns["parameters"][1],
        "air": around,
        "vehicle": ridden,
        "state": _addresses(list(state.values())),
        "nodes": _addresses([(nodes or {}).get(name) for name in fields["nodes"]]),
        "seen": _addresses([(seen or {}).get(name) for name in fields["steps"]]),
        "judged_boxes": columns["judged_boxes"][1],
        "judged_parameters": columns["judged_parameters"][1],
        "outcomes": None if outcomes is None else _addresses([outcomes[name] for name in fields["outcomes"]]),
    }
    job = _Job(
        n_cases,
        n_steps,
        step_s,
        int(detail),
        *(_address(pointers[name]) for name in _POINTERS),
    )
    failed = library.handle.march(ctypes.byref(job))
    del air, tracks  # kept alive until here
    if failed:
        raise MemoryError
    return state


def _tables_of(values: Iterable[np.ndarray]) -> tuple[list[Floats], Ints]:
    """Tables, kept alive, and for each its address and the numbers to the next row and column.

    A column lies in one piece (mostly it does already), for a case reads on where it read before.
    """
    held = [np.asarray(value, dtype=np.float64, order="F") for value in values]
    rows = [(_address(table) or 0, *(stride // table.itemsize for stride in table.strides)) for table in held]
    return held, np.array(rows, dtype=np.int64)


def _tables(names: Sequence[str], times: int, n_cases: int) -> dict[str, Floats]:
    """Room for some histories, in one piece: the system then gives it in large pages."""
    return dict(zip(names, np.empty((len(names), times, n_cases)), strict=True))


def _columns(values: Iterable[Floats | float], n_cases: int) -> tuple[list[Floats], Floats]:
    """The columns of a table, kept alive, and for each its address and stride: 0 where one number is meant for all."""
    held = [np.ascontiguousarray(value, dtype=np.float64) for value in values]
    held = [column if column.size in (1, n_cases) else _copy(column, n_cases) for column in held]
    pairs = [(_address(column), int(column.size > 1)) for column in held]
    return held, np.array(pairs, dtype=np.uint64)


def _copy(values: Floats, n_cases: int) -> Floats:
    return np.array(np.broadcast_to(values, n_cases), dtype=np.float64)


def _addresses(tables: Sequence[Floats | None]) -> Floats:
    return np.array([_address(table) or 0 for table in tables], dtype=np.uint64)


def _address(table: Floats | Ints | None) -> int | None:
    return None if table is None else int(table.__array_interface__["data"][0])
