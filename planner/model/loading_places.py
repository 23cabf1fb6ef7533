"""The air around a box where it rides: cabins, vans, canopies, open decks, and the ground before loading.

Enclosed places: ``T = T_out + (sun that has soaked in + heat of ALL boxes + people) / (UA + air exchange)``.
Open places: a small offset and a share of the vehicle's speed and of the wind. The boxes' own heat is
left out here, since it is only known inside the integration; ``resistance_k_w`` says what a watt of it does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np

from planner.model import air, walls
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints, LoadingPlace
from planner.model.timeline import GRID_S, VehicleState
from planner.model.weather import OutsideWeather
from planner.units import KELVIN_AT_ZERO_C

VEHICLE_WIND_HEIGHT_M = 2.0
DECK, WET = 3, 4
"""Where the warmth of the deck and the rain on the boxes stand among the kinds of ``remembered``."""

NO_FLOOR_C = -KELVIN_AT_ZERO_C
"""Least temperature of air that nothing heats or holds."""


@dataclass(frozen=True)
class LocalAir:
    """Conditions around the boxes, all ``(time, env)``; an env is one track in one loading place.

    ``base_c`` air without sun soaked in and without boxes; ``sun_rise_k`` adds the sun's share; ``least_c`` below
    which heating or the set point of a cooler holds it; ``resistance_k_w`` kelvin per watt of all boxes together (0
    in the open), ``stack_share`` how much of the flow's square that warming drives where it is as stated (0 but for
    open rows); ``outside_c`` air beyond the skin, warmed by the sun on it, ``skin_share`` of the way from there
    to the inside air at which the cold skin lies, ``skin_m3_s`` air from which it could take all vapour beyond its
    own saturation (0 in the open); ``breath_m3_s`` carbon dioxide of the people in the same air; ``speed_ms`` air
    speed at the box; ``bare_share`` of its walls that no neighbour touches; ``wet_share`` of their film of rain;
    ``pressure_root`` square root of the pressure difference between openings; ``lid_w_m2``, ``flank_w_m2``,
    ``end_w_m2`` sun on the lid and summed over both long and both short sides; ``sky_w_m2`` what a lid as warm as the
    air loses to the sky; ``change_per_s`` air changes of the
    enclosure, its fan included (inf in the open); ``volume_m3``; ``vapour_kg_m3`` outside vapour; ``heat_j_m3k`` of
    air; ``ghi_w_m2`` sun under the open sky; ``on_board`` 1 while riding.
    """

    base_c: Floats
    sun_rise_k: Floats
    least_c: Floats
    resistance_k_w: Floats
    stack_share: Floats
    outside_c: Floats
    skin_share: Floats
    skin_m3_s: Floats
    breath_m3_s: Floats
    bare_share: Floats
    wet_share: Floats
    speed_ms: Floats
    pressure_root: Floats
    lid_w_m2: Floats
    flank_w_m2: Floats
    end_w_m2: Floats
    sky_w_m2: Floats
    change_per_s: Floats
    volume_m3: Floats
    vapour_kg_m3: Floats
    heat_j_m3k: Floats
    ghi_w_m2: Floats
    on_board: Floats

    @property
    def empty_c(self) -> Floats:
        """Air around the boxes if they gave off no heat."""
        return np.asarray(np.maximum(self.base_c + self.sun_rise_k, self.least_c))


@dataclass(frozen=True)
class _Rows:
    """Catalogue rows as ``(env,)`` arrays."""

    place: dict[str, Floats]
    neighbour_base: Floats
    neighbour_per_speed: Floats

    def __getattr__(self, name: str) -> Floats:
        return self.place[name]


_ROOM = ("length_m", "width_m", "height_m", "capacity_boxes")
_NUMBERS = tuple(
    f.name for f in fields(LoadingPlace) if f.type in ("float", "bool", "int") and f.name not in _ROOM
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
    begin: Floats | None = None,
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
    begin : (kind, env) what each place remembers before the first instant, a node of ``remembered``; None where
        the vehicle is yet to be loaded
    """
    here = _Where(vehicle, outside, track)
    riding = _conditions(_rows(places), here, boxes_in_place, net, p, step_s, begin)
    waiting = _Where(vehicle, outside, None, waiting=True)
    aboard = vehicle.on_board[:, track]
    standing = riding if aboard.all() else _conditions(_rows([ground]), waiting, np.ones(1), False, p, step_s)
    return LocalAir(
        **{
            name: values if standing is riding else np.where(aboard, values, standing[name][:, track])
            for name, values in riding.items()
        },
        vapour_kg_m3=outside.vapour_kg_m3[:, track],
        heat_j_m3k=outside.heat_j_m3k[:, track],
        ghi_w_m2=outside.ghi_w_m2[:, track],
        on_board=aboard.astype(np.float64),
    )


def remembered(
    vehicle: VehicleState,
    outside: OutsideWeather,
    track: Ints,
    places: Sequence[LoadingPlace],
    net: bool,
    p: Parameters,
    step_s: float = GRID_S,
) -> Floats:
    """What each loading place remembers of the time before, ``(time + 1, kind, env)``.

    Kinds: sun heat on its way through the skin, W, fast and slow; the share by which cooling or heating has taken
    hold; kelvin by which the deck and the ground under it have warmed the air of an open place; the film of rain on
    what stands in the open. Nodes before, between and after the instants, to go on from any; arguments as in
    ``air_around``.
    """
    rows, here = _rows(places), _Where(vehicle, outside, track)
    return np.stack(_memory(rows, here, net, p, step_s), axis=1)


class _Where:
    """VehicleState and surroundings picked for some tracks; ``waiting`` where the ground is meant, no vehicle."""

    def __init__(
        self, vehicle: VehicleState, outside: OutsideWeather, track: Ints | None, waiting: bool = False
    ) -> None:
        self._where, self._outside, self._track, self.waiting = vehicle, outside, track, waiting

    def flag(self, name: str) -> Bools:
        values: Bools = self._pick(getattr(self._where, name))
        return values

    def speed(self) -> Floats:
        values: Floats = self._pick(self._where.speed_ms)
        return values

    def rolling(self, p: Parameters) -> Bools:
        """Moving fast enough that air is driven in and past; what creeps counts as parked."""
        return np.asarray(self.flag("moving") & (self.speed() >= p.creep_speed_ms))

    def outside(self, name: str) -> Floats:
        values: Floats = self._pick(getattr(self._outside, name))
        return values

    def _pick(self, values: np.ndarray) -> np.ndarray:
        return values if self._track is None else values[:, self._track]


def _sun_share(rows: _Rows, here: _Where, net: bool, p: Parameters) -> Floats:
    """Share of the sun that shade and net let through."""
    netted = net & ~(rows.volume_m3 > 0.0)
    return np.where(here.flag("shade"), p.shade_share, 1.0) * np.where(netted, p.net_sun_factor, 1.0)


def _sun_gain_w(rows: _Rows, here: _Where, net: bool, p: Parameters) -> Floats:
    """Sun taken in by each enclosure, W: what glass lets through, and what an opaque skin passes on inwards."""
    through_m2 = rows.sun_area_m2 - rows.sun_glass_m2
    taken_m2 = rows.sun_glass_m2 + through_m2 * _skin_share(_skin_speed(here), p)
    return np.asarray(taken_m2 * here.outside("ghi_w_m2") * _sun_share(rows, here, net, p))


def _skin_speed(here: _Where) -> Floats:
    """Air speed along the skin: of the drive, or of the wind."""
    wind = air.wind_at_height_ms(here.outside("wind_ms"), VEHICLE_WIND_HEIGHT_M)
    return np.asarray(np.maximum(here.speed(), wind))


def _skin_share(speed_ms: Floats, p: Parameters) -> Floats:
    """Share of the stated sun that a thin opaque skin passes on when air moves along it.

    Of the sun absorbed outside, ``Ro / (Ri + Ro)`` goes inwards (sol-air temperature on ISO 6946:2007 films); here
    over the same at the speed for which sun areas are stated. An insulated skin passes a little less.
    """

    def inwards(at_ms: Floats) -> Floats:
        outer = walls.outside_film_m2k_w(np.minimum(at_ms, p.skin_speed_most_ms), p)
        return outer / (p.inside_film_m2k_w + outer)

    return np.asarray(inwards(speed_ms) / inwards(p.skin_speed_stated_ms))


def _memory(
    rows: _Rows, here: _Where, net: bool, p: Parameters, step_s: float, begin: Floats | None = None
) -> tuple[Floats, ...]:
    """Nodes of what a place remembers, see ``remembered``.

    A vehicle comes to be loaded from the road, aired: until then it holds the share ``arrival_sun_share`` of what
    moving air would leave of this sun, and is as cool or warm as its driver keeps it. So it begins without
    ``begin``; the ground where boxes wait is as it is from the first.
    """
    gain_w = _sun_gain_w(rows, here, net, p)
    aboard = here.flag("on_board")
    coming_m2 = rows.sun_glass_m2 + (rows.sun_area_m2 - rows.sun_glass_m2) * _skin_share(
        p.skin_speed_most_ms, p
    )
    coming_w = p.arrival_sun_share * coming_m2 * here.outside("ghi_w_m2")
    hold = np.where(aboard, _driven_climate(rows, here), _climate(rows, here))
    hot_k = _hot_deck_k(rows, here, net, p) * (aboard | here.waiting)
    climate, deck = (1.0 - np.exp(-step_s / lag_s) for lag_s in (p.climate_lag_s, p.deck_lag_s))
    lags = (*_lag_shares(rows.sun_lag_factor, p, step_s), climate, deck)
    toward = (*(np.where(aboard, gain_w, coming_w),) * 2, hold, hot_k)
    coming = (coming_w[0], coming_w[0], _climate(rows, here)[0], hot_k[0] * here.waiting)
    shares = [np.where(aboard & (not here.waiting), lag, 1.0) for lag in lags]
    falls, dries = _film(here, p, step_s)
    return _lagged_together(
        (*toward, falls), (*shares, dries), (*coming, falls[0]) if begin is None else tuple(begin)
    )


def _film(here: _Where, p: Parameters, step_s: float) -> tuple[Floats, Floats]:
    """What the film of water on what stands under the open sky goes to, whole in rain, and its share of the way."""
    raining = here.outside("rain_mm_h") >= p.wetting_rain_mm_h
    dries = np.where(raining, 1.0, 1.0 - np.exp(-step_s / p.film_lag_s))
    return np.asarray(raining, dtype=np.float64), dries


def _lagged_together(
    values: Sequence[Floats], shares: Sequence[Floats], first: Sequence[Floats]
) -> tuple[Floats, ...]:
    """Several lags in one walk along the time axis, arguments as of ``_lagged``: each step costs more than its sums."""
    shape = np.broadcast_shapes(*(np.shape(each) for each in (*values, *shares)))

    def together(tables: Sequence[Floats]) -> Floats:
        return np.stack([np.broadcast_to(each, shape) for each in tables], axis=1)

    begin = np.stack([np.broadcast_to(each, shape[1:]) for each in first])
    return tuple(np.moveaxis(_lagged(together(values), together(shares), begin), 1, 0))


def _climate(rows: _Rows, here: _Where) -> Floats:
    """1 where a driver would keep the air cool or warm: by a set point, or by heating what is colder than that."""
    cold = here.outside("air_c") < np.nan_to_num(rows.heated_c, nan=NO_FLOOR_C)
    return np.asarray((np.isfinite(rows.set_point_c) | cold) * 1.0)


def _driven_climate(rows: _Rows, here: _Where) -> Floats:
    """The same where the engine runs, as cooling and heating need it."""
    return np.asarray(_climate(rows, here) * here.flag("engine_on"))


def _conditions(
    rows: _Rows,
    here: _Where,
    boxes: Floats,
    net: bool,
    p: Parameters,
    step_s: float,
    begin: Floats | None = None,
) -> dict[str, Floats]:
    enclosed = rows.volume_m3 > 0.0
    air_c = here.outside("air_c")
    speed = _air_speed(rows, here, net & ~enclosed, p)
    share = _sun_share(rows, here, net, p)
    lid, flank, end = _sun_on_box(rows, here, share)
    open_sky = np.where(enclosed, 0.0, rows.sun_diffuse * share)
    root = np.sqrt(rows.pressure_difference * np.where(net & ~enclosed, p.net_pressure_factor, 1.0))
    memory = [_over_steps(nodes) for nodes in _memory(rows, here, net, p, step_s, begin)]
    inside = _inside(rows, here, memory, p)
    in_the_open = {
        "base_c": air_c + rows.offset_moving_k + memory[DECK],
        "outside_c": air_c,
        "resistance_k_w": _between_boxes_k_w(rows, boxes, speed),
        "stack_share": _stack_share(rows, speed),
        "least_c": np.full_like(air_c, NO_FLOOR_C),
        "change_per_s": np.full_like(air_c, np.inf),
        "volume_m3": np.ones_like(air_c),
        "wet_share": memory[WET],
    }
    none = np.zeros_like(air_c)
    return {
        **{name: np.where(enclosed, found, in_the_open.get(name, none)) for name, found in inside.items()},
        "bare_share": np.broadcast_to(rows.bare_share, speed.shape),
        "speed_ms": speed,
        "pressure_root": np.broadcast_to(root, speed.shape),
        "lid_w_m2": lid,
        "flank_w_m2": flank,
        "end_w_m2": end,
        "sky_w_m2": p.lid_emissivity * open_sky * here.outside("sky_w_m2"),
    }


def _inside(rows: _Rows, here: _Where, memory: Sequence[Floats], p: Parameters) -> dict[str, Floats]:
    """The air of each enclosure, ``(time, env)``; without meaning for open places.

    While the engine runs, cooling takes off up to its power and the air goes to its set point with a lag; after
    that it warms up with the same lag, boxes and sun being felt by as much as the hold has gone. ``memory``, see
    ``remembered``, as means of the steps.
    """
    fast, slow, held = memory[:DECK]
    changes = _air_changes(rows, here, p)
    walls_w_k = np.where(here.rolling(p), rows.ua_moving_w_k, rows.ua_parked_w_k)
    walls_w_k = np.where(rows.volume_m3 > 0.0, walls_w_k, 1.0)
    heat_j_m3k = here.outside("heat_j_m3k")
    resistance = 1.0 / (walls_w_k + heat_j_m3k / 3600.0 * rows.volume_m3 * changes)
    sun_w = p.sun_fast_share * fast + (1.0 - p.sun_fast_share) * slow
    sun_k = sun_w * resistance
    base_c = here.outside("air_c") + rows.people * p.person_w * here.flag("moving") * resistance
    free_c = base_c + sun_k
    cooled = np.isfinite(rows.set_point_c)
    heating_k = np.maximum(np.nan_to_num(rows.heated_c, nan=NO_FLOOR_C) - free_c, 0.0)
    moved_k = held * np.where(cooled, rows.set_point_c + rows.set_point_offset_k - free_c, heating_k)
    running = _driven_climate(rows, here) > 0.0
    power_k = held * np.where(cooled, rows.cooling_w, 0.0) * resistance
    floored = running & (cooled | (heating_k > 0.0))
    skin_m2 = np.maximum(rows.skin_m2, walls_w_k * p.inside_film_m2k_w)
    return {
        "base_c": base_c + np.where(running, -power_k, moved_k),
        "sun_rise_k": sun_k,
        "least_c": np.where(floored, free_c + moved_k, NO_FLOOR_C),
        "resistance_k_w": np.where(running | ~cooled, 1.0, 1.0 - held) * resistance,
        "stack_share": np.zeros_like(base_c),
        "outside_c": here.outside("air_c") + sun_w / walls_w_k,
        "skin_share": 1.0 - walls_w_k * p.inside_film_m2k_w / skin_m2,
        "skin_m3_s": rows.skin_m2 * p.skin_film_w_m2k / heat_j_m3k,
        "breath_m3_s": rows.people * p.person_co2_m3_s + np.zeros_like(base_c),
        "change_per_s": changes / 3600.0,
        "volume_m3": np.broadcast_to(rows.volume_m3, base_c.shape),
        "wet_share": np.zeros_like(base_c),
    }


def _between_boxes_k_w(rows: _Rows, boxes: Floats, speed: Floats) -> Floats:
    """Kelvin by which a watt of all boxes of an open row together warms the air between them; 0 freely open.

    So it is where that air is warmed by ``row_stated_k``; ``balance.between_boxes`` says what it is elsewhere.
    """
    return _inverse(boxes * (rows.neighbour_base + rows.neighbour_per_speed * speed))


def _stack_share(rows: _Rows, speed: Floats) -> Floats:
    """Share of the square of the flow between boxes of an open row that their own warmth drives, where it is as stated.

    What still air carries is the stack's; stack and wind add as squares (ASHRAE Fundamentals ch. 16).
    """
    w_k = rows.neighbour_base + rows.neighbour_per_speed * speed
    return np.asarray((rows.neighbour_base * _inverse(w_k)) ** 2)


def _inverse(w_k: Floats) -> Floats:
    return np.where(w_k > 0.0, 1.0 / np.where(w_k > 0.0, w_k, 1.0), 0.0)


def _air_speed(rows: _Rows, here: _Where, netted: Bools, p: Parameters) -> Floats:
    """Air speed at the box: still air, a share of the driving speed, or a share of the wind."""
    driven = rows.speed_factor * here.speed()
    blown = rows.wind_factor * here.outside("wind_ms")
    slowed = np.where(netted, p.net_speed_factor, 1.0)
    return np.asarray(np.maximum(rows.still_air_ms, np.maximum(driven, blown) * slowed))


def _air_changes(rows: _Rows, here: _Where, p: Parameters) -> Floats:
    """Air changes per hour of an enclosure, parked or moving, with what a fan and a running air conditioner draw.

    One flow for heat, vapour and carbon dioxide; 0 in the open.
    """
    speed, moving = here.speed(), here.rolling(p)
    wind = air.wind_at_height_ms(here.outside("wind_ms"), VEHICLE_WIND_HEIGHT_M)
    parked = rows.ach_parked_base + rows.ach_parked_per_wind * wind
    parked = np.clip(parked, rows.ach_parked_min, rows.ach_parked_max)
    driven = rows.ach_moving_base + rows.ach_moving_per_speed * speed
    driven = np.clip(driven, rows.ach_moving_min, rows.ach_moving_max)
    conditioned = np.isfinite(rows.set_point_c) & here.flag("engine_on")
    fresh = rows.ach_fresh_base + rows.ach_fresh_per_speed * speed
    changes = np.where(moving, driven, parked) + np.where(here.flag("doors_open"), rows.ach_doors_open, 0.0)
    fan = rows.fan_m3_h / np.where(rows.volume_m3 > 0.0, rows.volume_m3, 1.0)
    return np.where(conditioned, np.maximum(fresh, changes), changes) + fan


def _hot_deck_k(rows: _Rows, here: _Where, net: bool, p: Parameters) -> Floats:
    """What deck and ground add to the air of an open place once it has stood in this sun for long, K."""
    ghi = here.outside("ghi_w_m2") * _sun_share(rows, here, net, p)
    sun = np.minimum(ghi / p.sun_offset_reference_w_m2, 1.0)
    parked = (rows.offset_parked_sun_k - rows.offset_moving_k) * sun
    return np.where(here.rolling(p), 0.0, np.maximum(parked, 0.0))


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
    """Share of the way to its steady value that the sun's heat goes in one step, fast and slow part.

    35 % with 8 min, 65 % with 53 min of lag: fitted to McLaren, Null & Quinn 2005, Pediatrics 116:e109,
    doi 10.1542/peds.2004-2368.
    """
    fast, slow = (1.0 - np.exp(-step_s / (tau * lag_factor)) for tau in (p.sun_fast_s, p.sun_slow_s))
    return fast, slow


def _over_steps(nodes: Floats) -> Floats:
    return np.asarray(0.5 * (nodes[:-1] + nodes[1:]))


def _lagged(values: Floats, share: Floats, first: Floats) -> Floats:
    """Nodes of a first-order lag along the time axis, ``(time + 1, ...)``, exact for values held over a step.

    ``share`` of the way to its value that it goes in each step, shaped as ``values``.
    """
    nodes = np.empty((values.shape[0] + 1, *values.shape[1:]))
    nodes[0] = first
    for i, value in enumerate(values):
        nodes[i + 1] = nodes[i] + share[i] * (value - nodes[i])
    return nodes
