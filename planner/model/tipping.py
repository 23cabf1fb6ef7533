"""The tipping point: heat a box makes against the heat it can lose, at every core temperature of one moment.

Forces are frozen at the moment; box air, enclosure, stores comb, moisture and carbon dioxide are brought into
balance for each core temperature, with the very ``balance.rates`` of the integration. Where the curves cross, the box
can stay: for good where a warmer core loses more than it makes (stable), on a knife's edge where it makes more
(unstable).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from planner.model import limits
from planner.model.balance import LATENT_J_KG, EnclosureSum, Forcing, Rates, State, coefficients_of, rates
from planner.model.boxes import Boxes
from planner.model.integrate import settled_co2_share, settled_vapour
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints

LOWEST_C, HIGHEST_C, SPACING_K = 30.0, 50.0, 0.1
"""Core temperatures asked by default: from below any nest to beyond any life."""

MOST_ROUNDS, SETTLED_W = 400, 1e-4
"""When a balance counts as settled, or is given up."""

WARMEST_K = 40.0
"""Warming of the outside air beyond which nobody asks."""
HALVINGS = 18
"""40 K halved 18 times: headroom to 0.0002 K."""


class FrozenState(NamedTuple):
    """Everything that decides the balance at one moment, ``(case,)``.

    ``probed`` the cases whose core is varied; the others stay as they are at the moment. ``follows_outside`` is 0
    where air conditioning holds the air whatever the weather, else 1.
    """

    state: State
    forcing: Forcing
    alive: Floats
    boxes: Boxes
    enclosure: Ints | None
    parameters: Parameters
    probed: Bools
    follows_outside: Floats


@dataclass(frozen=True)
class Balance:
    """Heat made and lost over core temperature.

    ``core_c`` (temp,); ``made_w`` by adults and brood, ``lost_w`` by air, walls, stores comb and water together,
    each ``(temp, case)``; NaN where the case is not probed or its weather unknown.
    """

    core_c: Floats
    made_w: Floats
    lost_w: Floats

    @property
    def net_loss_w(self) -> Floats:
        """What could be lost beyond what is made, (temp, case); negative where the core warms."""
        return self.lost_w - self.made_w


@dataclass(frozen=True)
class Tipping:
    """Balance points and headroom of each case, ``(case,)``.

    ``stable_c`` where the core settles; NaN when there is no such point below the danger limit.
    ``unstable_c`` beyond which the core runs away; NaN when there is none up to the highest temperature asked.
    ``headroom_w`` the most heat that can be lost beyond what is made, between the two; negative (the least
    deficit) when nothing is stable. ``headroom_k`` how much warmer outside air may get before the stable point
    vanishes; inf beyond WARMEST_K, 0 when there is none.
    """

    stable_c: Floats
    unstable_c: Floats
    headroom_w: Floats
    headroom_k: Floats


def core_grid(low_c: float = LOWEST_C, high_c: float = HIGHEST_C, spacing_k: float = SPACING_K) -> Floats:
    """Core temperatures to ask about, (temp,)."""
    return np.linspace(low_c, high_c, round((high_c - low_c) / spacing_k) + 1)


def balance_curve(moment: FrozenState, core_c: Floats, warmer_k: Floats | float = 0.0) -> Balance:
    """Heat made and lost with the core held at each temperature and all else in balance.

    Parameters
    ----------
    core_c : (temp,) temperatures of the probed cores
    warmer_k : (case,) or scalar, added to the air around where it follows the outside
    """
    n_temp, n_case = core_c.size, moment.state.core_c.size
    wide = _spread(moment, n_temp)
    held = np.where(wide.probed, np.repeat(core_c, n_case), wide.state.core_c)
    shift = np.tile(np.broadcast_to(np.asarray(warmer_k), (n_case,)), n_temp) * wide.follows_outside
    forcing = wide.forcing._replace(
        base_c=wide.forcing.base_c + shift,
        skin_base_c=wide.forcing.skin_base_c + (1.0 - wide.forcing.skin_share) * shift,
    )
    now = _settled(wide._replace(forcing=forcing, state=wide.state._replace(core_c=held)))
    made = np.where(wide.probed, now.adults_w + now.brood_w, np.nan)
    lost = made - now.core_k_s * wide.boxes.core_j_k
    return Balance(core_c, made.reshape(n_temp, n_case), lost.reshape(n_temp, n_case))


def tipping(moment: FrozenState, core_c: Floats | None = None) -> Tipping:
    """Balance points and headroom of the probed cases of a moment; ``core_c`` (temp,) replaces the usual grid."""
    grid = core_grid() if core_c is None else core_c
    curve = balance_curve(moment, grid)
    lives = liveable_c(moment)
    stable, unstable = equilibria(curve, lives)
    return Tipping(stable, unstable, headroom_w(curve, lives), _headroom_k(moment, grid, curve))


def liveable_c(moment: FrozenState) -> Floats:
    """The danger limit of the core, (case,): a balance above it helps nobody."""
    return limits.core_danger_c(moment.boxes, moment.parameters)


def equilibria(curve: Balance, liveable_c: Floats | float = np.inf) -> tuple[Floats, Floats]:
    """Stable and unstable balance points C, each (case,); straight between the temperatures asked.

    A stable point above ``liveable_c`` does not count. Of several the coolest is given, for a box comes from there,
    and the tipping point is the one beyond the last of them. A box that already loses more than it makes at the lowest
    temperature asked settles below it; that temperature stands for its stable point.
    """
    spare = curve.net_loss_w
    where = np.arange(spare.shape[0] - 1)[:, None]
    rising = (spare[:-1] < 0.0) & (spare[1:] >= 0.0) & (curve.core_c[1:, None] <= liveable_c)
    below = spare[0] >= 0.0
    stable = np.where(rising.any(axis=0), _crossing(curve, rising.argmax(axis=0)), np.nan)
    stable = np.where(below, curve.core_c[0], stable)
    last_stable = np.where(rising, where, -1).max(axis=0)
    falling = (spare[:-1] >= 0.0) & (spare[1:] < 0.0) & (where > last_stable) & ~np.isnan(stable)
    unstable = np.where(falling.any(axis=0), _crossing(curve, falling.argmax(axis=0)), np.nan)
    return stable, unstable


def headroom_w(curve: Balance, liveable_c: Floats | float = np.inf) -> Floats:
    """Most heat that can be lost beyond what is made, W, between stable and unstable point, (case,).

    Without a stable point: the least deficit there is below ``liveable_c``, negative.
    """
    stable, unstable = equilibria(curve, liveable_c)
    core = curve.core_c[:, None]
    lives = (core <= liveable_c) & np.ones(stable.shape, dtype=bool)
    inside = lives & (np.isnan(stable) | ((core >= stable) & ((core <= unstable) | np.isnan(unstable))))
    unknown = np.isnan(curve.net_loss_w).any(axis=0)
    top = np.where(inside, np.nan_to_num(curve.net_loss_w, nan=-np.inf), -np.inf).max(axis=0)
    return np.where(unknown, np.nan, top)


def _crossing(curve: Balance, index: Ints) -> Floats:
    """Temperature at which the spare heat crosses zero between ``index`` and the next, (case,)."""
    here = np.take_along_axis(curve.net_loss_w, index[None], axis=0)[0]
    there = np.take_along_axis(curve.net_loss_w, index[None] + 1, axis=0)[0]
    share = np.divide(here, here - there, out=np.zeros_like(here), where=here != there)
    return np.asarray(curve.core_c[index] + share * (curve.core_c[index + 1] - curve.core_c[index]))


def _headroom_k(moment: FrozenState, grid: Floats, curve: Balance) -> Floats:
    """Warming of the outside air at which the stable point vanishes, by halving; (case,)."""

    def holds(warmer_k: Floats) -> Bools:
        return ~np.isnan(equilibria(balance_curve(moment, grid, warmer_k), liveable_c(moment))[0])

    stable, _ = equilibria(curve, liveable_c(moment))
    low = np.zeros(stable.shape)
    high = np.full(stable.shape, WARMEST_K)
    if not np.isfinite(stable).any():
        return np.where(np.isnan(curve.net_loss_w).any(axis=0), np.nan, 0.0)
    held = holds(high)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        stays = holds(middle)
        low, high = np.where(stays, middle, low), np.where(stays, high, middle)
    found = np.where(held, np.inf, 0.5 * (low + high))
    unknown = np.isnan(curve.net_loss_w).any(axis=0)
    return np.where(unknown, np.nan, np.where(np.isnan(stable), 0.0, found))


def _spread(moment: FrozenState, n_temp: int) -> FrozenState:
    """The moment once for each temperature: cases on the axes (temp, case)."""

    def tiled(values: Floats) -> Floats:
        return np.tile(np.broadcast_to(values, moment.state.core_c.shape), n_temp)

    def all_of(table: Boxes) -> Boxes:
        return Boxes(**{name: tiled(values) for name, values in vars(table).items()})

    n_case = moment.state.core_c.size
    enclosure = moment.enclosure
    if enclosure is not None:
        size = int(enclosure.max(initial=0)) + 1
        enclosure = np.tile(enclosure, n_temp) + np.repeat(np.arange(n_temp), n_case) * size
    parameters = Parameters(
        **{name: tiled(v) if v.ndim else v for name, v in vars(moment.parameters).items()}
    )
    return FrozenState(
        State(*map(tiled, moment.state)),
        Forcing(*map(tiled, moment.forcing)),
        tiled(moment.alive),
        all_of(moment.boxes),
        enclosure,
        parameters,
        np.tile(moment.probed, n_temp),
        tiled(moment.follows_outside),
    )


def _settled(moment: FrozenState) -> Rates:
    """Rates with stores comb, moisture, carbon dioxide and enclosure in balance with the cores as they are held.

    The stores comb goes each time to where it would stand in the box air found last; the moisture is held back
    by how strongly the leaving air answers to it, so that neither swings. Both settle
    geometrically. Carbon dioxide only adds to what makes it, so that it climbs to its balance without swinging.
    """
    boxes, forcing, state = moment.boxes, moment.forcing, moment.state
    coefficients, enclosure_sum = coefficients_of(boxes, moment.parameters), EnclosureSum(moment.enclosure)
    made_before = np.full(state.core_c.shape, np.inf)
    now = rates(state, forcing, moment.alive, boxes, coefficients, enclosure_sum)
    for _ in range(MOST_ROUNDS):
        pulled = now.between_w_k * state.core_c + boxes.stores_w_k * now.box_air_c
        stores = np.where(moment.probed, pulled / (now.between_w_k + boxes.stores_w_k), state.stores_c)
        given_off = enclosure_sum.total(forcing.weight * now.evaporation_w) / LATENT_J_KG
        answer = forcing.vapour_gain * enclosure_sum.total(forcing.weight * now.flow_m3_s)
        settled = settled_vapour(given_off, now.skin_kg_m3, forcing)
        around = state.around_kg_m3 + (settled - state.around_kg_m3) / (1.0 + answer)
        made_w = enclosure_sum.total(forcing.weight * (now.adults_w + now.brood_w))
        state = state._replace(
            stores_c=stores,
            around_kg_m3=around,
            co2_share=settled_co2_share(made_w, forcing, moment.parameters),
            warming_k=now.warming_k,
            shared_w=now.shared_w,
            skin_kg_m3=now.skin_kg_m3,
        )
        now = rates(state, forcing, moment.alive, boxes, coefficients, enclosure_sum)
        change_w = np.abs(now.core_k_s - made_before) * boxes.core_j_k
        if np.nan_to_num(change_w[moment.probed]).max(initial=0.0) < SETTLED_W:
            break
        made_before = now.core_k_s
    return now
