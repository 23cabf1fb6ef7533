"""The air around a box where it rides: cabins, vans, canopies, open decks, and the ground before loading.

Enclosed places: ``T = T_out + (sun that has soaked in + heat of ALL boxes + people) / (UA + air exchange)``.
Open places: a small offset and a share of the vehicle's speed and of the wind. The boxes' own heat is
left out here, since it is only known inside the integration; ``resistance_k_w`` says what a watt of it does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from planner.model import air
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints, LoadingPlace
from planner.model.timeline import GRID_S, VehicleState
from planner.model.weather import OutsideWeather

VEHICLE_WIND_HEIGHT_M = 2.0


@dataclass(frozen=True)
class LocalAir:
    """Conditions around the boxes, all ``(time, env)``; an env is one track in one loading place.

    ``base_c`` air without sun soaked in and without boxes; ``sun_rise_k`` adds the sun's share;
    ``resistance_k_w`` kelvin per watt of all boxes together (0 in the open); ``speed_ms`` air speed at the
    box; ``pressure_root`` square root of the pressure difference between openings; ``lid_w_m2``,
    ``flank_w_m2``, ``end_w_m2`` sun on the lid and summed over both long and both short sides;
    ``change_per_s`` air changes of the enclosure (inf in the open); ``volume_m3``;
    ``vapour_kg_m3`` outside vapour; ``heat_j_m3k`` of air; ``ghi_w_m2`` sun under the open sky; ``on_board`` 1
    while riding.
    """

    base_c: Floats
    sun_rise_k: Floats
    resistance_k_w: Floats
    speed_ms: Floats
    pressure_root: Floats
    lid_w_m2: Floats
    flank_w_m2: Floats
    end_w_m2: Floats
    change_per_s: Floats
    volume_m3: Floats
    vapour_kg_m3: Floats
    heat_j_m3k: Floats
    ghi_w_m2: Floats
    on_board: Floats


@dataclass(frozen=True)
class _Rows:
    """Catalogue rows as ``(env,)`` arrays."""

    place: dict[str, Floats]
    neighbour_base: Floats
    neighbour_per_speed: Floats

    def __getattr__(self, name: str) -> Floats:
        return self.place[name]


_NUMBERS = tuple(
    f.name for f in fields(LoadingPlace) if f.type in ("float", "bool", "int") and f.name != "capacity_boxes"
)


def _rows(places: Sequence[LoadingPlace]) -> _Rows:
    """Each place read once, however many envs stand in it."""
    kinds = list({id(place): place for place in places}.values())
    order = {id(kind): i for i, kind in enumerate(kinds)}
    kind = np.array([order[id(place)] for place in places])
    table = {name: np.array([float(getattr(place, name)) for place in kinds])[kind] for name in _NUMBERS}
    neighbour = np.array([place.neighbour_w_k for place in kinds]).reshape(-1, 2)[kind]
    return _Rows(table, neighbour[:, 0], neighbour[:, 1])


def air_around(
    vehicle: VehicleState,
    outside: OutsideWeather,
    track: Ints,
    places: Sequence[LoadingPlace],
    boxes_in_place: Floats,
    ground: LoadingPlace,
    net: bool,
    p: Parameters,
    step_s: float = GRID_S,
    soaked_w: Floats | None = None,
) -> LocalAir:
    """Conditions around the boxes of every env.

    Parameters
    ----------
    where, outside : (time, track)
    track : (env,) index of each env's track
    places : (env,) loading place of each env
    boxes_in_place : (env,) boxes sharing that place
    ground : where boxes stand before loading and after unloading
    net : a net over the load (open places only)
    p : typical parameters (scalars)
    step_s : time between the instants
    soaked_w : (2, env) sun heat already in the skin of each enclosure before the first instant, as
        ``soaked_sun_w`` gives it; None where the vehicle stood in the same sun before
    """
    here = _Where(vehicle, outside, track)
    riding = _conditions(_rows(places), here, boxes_in_place, net, p, step_s, soaked_w)
    standing = _conditions(_rows([ground]), _Where(vehicle, outside, None), np.ones(1), False, p, step_s)
    aboard = vehicle.on_board[:, track]
    return LocalAir(
        **{name: np.where(aboard, riding[name], standing[name][:, track]) for name in riding},
        vapour_kg_m3=outside.vapour_kg_m3[:, track],
        heat_j_m3k=outside.heat_j_m3k[:, track],
        ghi_w_m2=outside.ghi_w_m2[:, track],
        on_board=aboard.astype(np.float64),
    )


def soaked_sun_w(
    vehicle: VehicleState,
    outside: OutsideWeather,
    track: Ints,
    places: Sequence[LoadingPlace],
    net: bool,
    p: Parameters,
    step_s: float = GRID_S,
) -> Floats:
    """Sun heat on its way through the skin of each enclosure, W, ``(time + 1, 2, env)``: fast and slow part.

    Nodes before, between and after the instants, to go on from any of them; arguments as in ``environment``.
    """
    rows, here = _rows(places), _Where(vehicle, outside, track)
    gain_w = rows.sun_area_m2 * here.outside("ghi_w_m2") * _sun_share(rows, here, net, p)
    return np.stack([_lagged(gain_w, share) for share in _lag_shares(rows.sun_lag_factor, p, step_s)], axis=1)


class _Where:
    """VehicleState and surroundings picked for some tracks."""

    def __init__(self, vehicle: VehicleState, outside: OutsideWeather, track: Ints | None) -> None:
        self._where, self._outside, self._track = vehicle, outside, track

    def flag(self, name: str) -> Bools:
        values: Bools = self._pick(getattr(self._where, name))
        return values

    def speed(self) -> Floats:
        values: Floats = self._pick(self._where.speed_ms)
        return values

    def outside(self, name: str) -> Floats:
        values: Floats = self._pick(getattr(self._outside, name))
        return values

    def _pick(self, values: np.ndarray) -> np.ndarray:
        return values if self._track is None else values[:, self._track]


def _sun_share(rows: _Rows, here: _Where, net: bool, p: Parameters) -> Floats:
    """Share of the sun that shade and net let through."""
    netted = net & ~(rows.volume_m3 > 0.0)
    return np.where(here.flag("shade"), p.shade_share, 1.0) * np.where(netted, p.net_sun_factor, 1.0)


def _conditions(
    rows: _Rows,
    here: _Where,
    boxes: Floats,
    net: bool,
    p: Parameters,
    step_s: float,
    soaked_w: Floats | None = None,
) -> dict[str, Floats]:
    moving = here.flag("moving")
    enclosed = rows.volume_m3 > 0.0
    sun_share = _sun_share(rows, here, net, p)
    ghi = here.outside("ghi_w_m2") * sun_share
    speed = _air_speed(rows, here, net & ~enclosed, p)
    changes = np.where(enclosed, _air_changes(rows, here), 0.0)
    conditioned = np.isfinite(rows.set_point_c) & here.flag("engine_on") & enclosed
    conductance = _conductance(rows, here, changes)
    soaked = _soaked_sun(rows.sun_area_m2 * ghi, _lag_shares(rows.sun_lag_factor, p, step_s), p, soaked_w)
    rise = soaked / np.where(enclosed, conductance, 1.0)
    people = rows.people * p.person_w * moving / np.where(enclosed, conductance, 1.0)
    air_c = here.outside("air_c")
    base = air_c + np.where(enclosed, people, _open_offset(rows, moving, ghi, p))
    set_point = rows.set_point_c + rows.set_point_offset_k
    row_conductance = boxes * (rows.neighbour_base + rows.neighbour_per_speed * speed)
    packed = (row_conductance > 0.0) & ~enclosed
    resistance = np.where(enclosed, 1.0 / np.where(enclosed, conductance, 1.0), 0.0)
    resistance = np.where(packed, 1.0 / np.where(packed, row_conductance, 1.0), resistance)
    lid, flank, end = _sun_on_box(rows, here, sun_share)
    root = np.sqrt(rows.pressure_difference * np.where(net & ~enclosed, p.net_pressure_factor, 1.0))
    return {
        "base_c": np.where(conditioned, np.where(np.isnan(air_c), np.nan, set_point), base),
        "sun_rise_k": np.where(conditioned | ~enclosed, 0.0 * ghi, rise),
        "resistance_k_w": np.where(conditioned, 0.0, resistance),
        "speed_ms": speed,
        "pressure_root": np.broadcast_to(root, speed.shape),
        "lid_w_m2": lid,
        "flank_w_m2": flank,
        "end_w_m2": end,
        "change_per_s": np.where(enclosed, changes / 3600.0, np.inf),
        "volume_m3": np.broadcast_to(np.where(enclosed, rows.volume_m3, 1.0), speed.shape),
    }


def _air_speed(rows: _Rows, here: _Where, netted: Bools, p: Parameters) -> Floats:
    """Air speed at the box: still air, a share of the driving speed, or a share of the wind."""
    driven = rows.speed_factor * here.speed()
    blown = rows.wind_factor * here.outside("wind_ms")
    slowed = np.where(netted, p.net_speed_factor, 1.0)
    return np.asarray(np.maximum(rows.still_air_ms, np.maximum(driven, blown) * slowed))


def _air_changes(rows: _Rows, here: _Where) -> Floats:
    """Air changes per hour of an enclosure, parked or moving, fresh air of a running air conditioner included."""
    speed, moving = here.speed(), here.flag("moving")
    wind = air.wind_at_height_ms(here.outside("wind_ms"), VEHICLE_WIND_HEIGHT_M)
    parked = rows.ach_parked_base + rows.ach_parked_per_wind * wind
    parked = np.clip(parked, rows.ach_parked_min, rows.ach_parked_max)
    driven = rows.ach_moving_base + rows.ach_moving_per_speed * speed
    driven = np.clip(driven, rows.ach_moving_min, rows.ach_moving_max)
    conditioned = np.isfinite(rows.set_point_c) & here.flag("engine_on")
    fresh = rows.ach_fresh_base + rows.ach_fresh_per_speed * speed
    changes = np.where(moving, driven, parked) + np.where(here.flag("doors_open"), rows.ach_doors_open, 0.0)
    return np.where(conditioned, np.maximum(fresh, changes), changes)


def _conductance(rows: _Rows, here: _Where, changes: Floats) -> Floats:
    """Walls, air exchange and fan of an enclosure together, W/K."""
    walls = np.where(here.flag("moving"), rows.ua_moving_w_k, rows.ua_parked_w_k)
    flow_m3_h = rows.volume_m3 * changes + rows.fan_m3_h
    return np.asarray(walls + here.outside("heat_j_m3k") / 3600.0 * flow_m3_h)


def _open_offset(rows: _Rows, moving: Bools, ghi: Floats, p: Parameters) -> Floats:
    """Warming of an open place over the outside air: always a little, more when parked in the sun."""
    sun = np.minimum(ghi / p.sun_offset_reference_w_m2, 1.0)
    parked = (rows.offset_parked_sun_k - rows.offset_moving_k) * sun
    return rows.offset_moving_k + np.where(moving, 0.0, np.maximum(parked, 0.0))


def _sun_on_box(rows: _Rows, here: _Where, share: Floats) -> tuple[Floats, Floats, Floats]:
    """Sun on the lid, and summed over both long and both short sides."""
    beam, diffuse = rows.sun_direct * share, rows.sun_diffuse * share
    sides = np.where(rows.sun_lid_only > 0.0, 0.0, 1.0)
    lid = beam * here.outside("lid_beam_w_m2") + diffuse * here.outside("lid_diffuse_w_m2")
    each = 2.0 * diffuse * here.outside("side_diffuse_w_m2")
    flank = sides * (beam * here.outside("flank_beam_w_m2") + each)
    end = sides * (beam * here.outside("end_beam_w_m2") + each)
    return lid, flank, end


def _lag_shares(lag_factor: Floats, p: Parameters, step_s: float) -> tuple[Floats, Floats]:
    """Share of the way to its steady value that the fast and the slow part go in one step."""
    fast, slow = (1.0 - np.exp(-step_s / (tau * lag_factor)) for tau in (p.sun_fast_s, p.sun_slow_s))
    return fast, slow


def _soaked_sun(
    gain_w: Floats, shares: tuple[Floats, Floats], p: Parameters, before_w: Floats | None
) -> Floats:
    """Sun heat released to the air of an enclosure: 35 % with 8 min, 65 % with 53 min of lag.

    Fitted to McLaren, Null & Quinn 2005, Pediatrics 116:e109, doi 10.1542/peds.2004-2368.
    Without ``before_w`` the vehicle is taken to have stood in the same sun before: the first value is steady.
    """
    begin = (None, None) if before_w is None else before_w
    fast, slow = (
        _over_steps(_lagged(gain_w, share, first)) for share, first in zip(shares, begin, strict=True)
    )
    return np.asarray(p.sun_fast_share * fast + (1.0 - p.sun_fast_share) * slow)


def _over_steps(nodes: Floats) -> Floats:
    return np.asarray(0.5 * (nodes[:-1] + nodes[1:]))


def _lagged(values: Floats, share: Floats, first: Floats | None = None) -> Floats:
    """Nodes of a first-order lag along the time axis, ``(time + 1, ...)``, exact for values held over a step."""
    if first is None and not values.any():
        return np.zeros((values.shape[0] + 1, *values.shape[1:]))
    nodes = np.empty((values.shape[0] + 1, *values.shape[1:]))
    nodes[0] = values[0] if first is None else first
    for i, value in enumerate(values):
        nodes[i + 1] = nodes[i] + share * (value - nodes[i])
    return nodes
