"""Marching on from the middle of a trip: what each box remembers at a moment, and when it must be acted upon.

The integrate of a whole trip keeps histories; here only what has a memory is kept, so that many what-ifs can start
from the same moment as cases of one batch.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from planner.model import doses, limits
from planner.model.balance import EnclosureSum, State, coefficients_of
from planner.model.boxes import Boxes
from planner.model.integrate import STEP_S, Cases, advance, blocks, prepare, settle, start
from planner.model.loading_places import LocalAir
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints
from planner.model.timeline import VehicleState

CAUSES = ("core", "comb", "dose")
"""What reaches the action level first: the brood core, the stores comb, or time in the heat."""


class Checkpoint(NamedTuple):
    """What a box carries over a moment: its state and its doses since closing, ``(case,)`` or ``(node, case)``.

    ``sperm_exponent`` is the integral of the loss rate of stored sperm, ``brood_dose`` as in ``limits``.
    """

    state: State
    sperm_exponent: Floats
    brood_dose: Floats


class Onset(NamedTuple):
    """When the action level is reached, ``(case,)``.

    ``after_s`` seconds from the beginning: 0 when it is reached already, inf when not within the time walked, NaN when
    the weather is not known that long; ``cause`` indexes CAUSES, -1 where there is none.
    """

    after_s: Floats
    cause: Ints


def walk(
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    begin: Checkpoint | None = None,
    step_s: float = STEP_S,
) -> Iterator[Checkpoint]:
    """What every case remembers before the first step and after each one.

    Parameters
    ----------
    cases, where, env, p : as in ``integrate.integrate``
    begin : the memory to go on from, ``(case,)``; by default every box is shut afresh
    """
    coefficients, enclosure_sum = coefficients_of(cases.boxes, p), EnclosureSum(cases.enclosure)
    checkpoint = begin or fresh(start(cases, vehicle, local_air, p))
    first = True
    for rows in blocks(vehicle.time_s.shape[0], cases.track.size):
        for forcing in prepare(cases, vehicle, local_air, rows, p, step_s).rows():
            if first:
                checkpoint = checkpoint._replace(
                    state=settle(checkpoint.state, forcing, cases.boxes, coefficients, enclosure_sum)
                )
                yield checkpoint
                first = False
            state, _, _ = advance(checkpoint.state, forcing, cases.boxes, coefficients, enclosure_sum, p)
            core = 0.5 * (checkpoint.state.core_c + state.core_c)
            checkpoint = Checkpoint(
                state,
                checkpoint.sperm_exponent + forcing.active_s * limits.sperm_loss_rate(core, p),
                checkpoint.brood_dose + forcing.active_s * limits.brood_dose_rate(core, p),
            )
            yield checkpoint


def fresh(state: State) -> Checkpoint:
    """A memory without any dose."""
    none = np.zeros_like(state.core_c)
    return Checkpoint(state, none, none)


def checkpoints(
    cases: Cases, vehicle: VehicleState, local_air: LocalAir, p: Parameters, nodes: Ints
) -> Checkpoint:
    """What every case remembers at the given nodes of its integrate, ``(node, case)``; nodes increase."""
    wanted = set(nodes.tolist())
    kept = []
    for node, checkpoint in enumerate(walk(cases, vehicle, local_air, p)):
        if node in wanted:
            kept.append(checkpoint)
        if node >= nodes[-1]:
            break
    states = State(
        *(np.array(values) for values in zip(*(checkpoint.state for checkpoint in kept), strict=True))
    )
    return Checkpoint(
        states,
        np.array([checkpoint.sperm_exponent for checkpoint in kept]),
        np.array([checkpoint.brood_dose for checkpoint in kept]),
    )


def time_to_action(
    cases: Cases,
    vehicle: VehicleState,
    local_air: LocalAir,
    p: Parameters,
    begin: Checkpoint,
    step_s: float = STEP_S,
) -> Onset:
    """When each case reaches its action level: a step before a danger limit, or a dose that does harm.

    Temperatures are taken as straight between steps. The walk ends once every case has got there.
    """
    after_s = np.full(cases.track.size, np.inf)
    cause = np.full(cases.track.size, -1)
    before = np.full(cases.track.size, np.nan)
    for node, checkpoint in enumerate(walk(cases, vehicle, local_air, p, begin, step_s)):
        excess = _excess_k(checkpoint, cases.boxes, p)
        now = np.max(excess, axis=0)
        open_still = np.isinf(after_s)
        unknown = open_still & np.isnan(checkpoint.state.core_c)
        reached = open_still & ~unknown & (now >= 0.0)
        after_s[reached] = (
            (node - 1 + _share_of_step(before[reached], now[reached])) * step_s if node else 0.0
        )
        after_s[unknown] = np.nan
        cause[reached] = np.argmax(excess, axis=0)[reached]
        if not np.isinf(after_s).any():
            break
        before = now
    return Onset(after_s, cause)


def _share_of_step(before: Floats, now: Floats) -> Floats:
    """Where within its step an excess crosses zero; a dose counts at the end of its step."""
    return np.where(np.isinf(now), 1.0, before / (before - np.where(np.isinf(now), 0.0, now)))


def _excess_k(checkpoint: Checkpoint, boxes: Boxes, p: Parameters) -> Floats:
    """How far each of CAUSES is beyond its action level, ``(cause, case)``: kelvin, and inf once a dose harms."""
    _, comb = limits.comb_limits(boxes, p)
    core = checkpoint.state.core_c - (limits.core_danger_c(boxes, p) - p.action_before_danger_k)
    stores = checkpoint.state.stores_c - (comb - p.action_before_danger_k)
    stores = np.where(boxes.has_comb > 0.0, stores, -np.inf)
    return np.stack((core, stores, np.where(_harmed(checkpoint, boxes, p), np.inf, -np.inf)))


def _harmed(checkpoint: Checkpoint, boxes: Boxes, p: Parameters) -> Bools:
    """Whether time in the heat has done harm: to stored sperm, to brood or to workers."""
    sperm = checkpoint.sperm_exponent > -np.log1p(-p.queen_harm_loss)
    brood = (boxes.has_brood > 0.0) & (checkpoint.brood_dose > p.brood_harm_dose)
    workers = checkpoint.state.worker_dose > doses.dose_of(p.worker_harm_dead, p)
    return np.asarray(sperm | brood | workers)
