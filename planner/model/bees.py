"""Heat, fanning, water demand and death of confined bees, as functions of the core temperature.

The law of the bees stands here and nowhere else; ``balance`` asks it twice a step. Sources stand in
``resources/parameters.toml`` beside each number. Left out: differences of age and caste, the day rhythm, and what
bees learn from a gradient (they crowd to air; ``openings`` covers it as blockage).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from planner.model.boxes import Boxes
from planner.model.parameters import Parameters
from planner.model.records import Floats

LN_10 = np.log(10.0)
REST_STATED_AT_C = 30.0
"""Temperature at which ``rest_heat_w_kg`` is stated."""

ZERO = np.array(0.0)


class BeeCoefficients(NamedTuple):
    """The law of the bees with masses applied and divisions done once, for :func:`bee_responses` and
    :func:`metabolic_heat`.

    A response, ``(10, case)``, rises straight from ``from_c`` by ``per_k`` (negative: as the core cools) up to
    ``most``. Heat, ``(2, case)``, grows exponentially between ``heat_from_c`` and ``heat_to_c``: ``heat_w`` at 0 C,
    e times more every 1 / ``heat_per_k``.
    """

    from_c: Floats
    per_k: Floats
    most: Floats
    heat_w: Floats
    heat_per_k: Floats
    heat_from_c: Floats
    heat_to_c: Floats


def bee_coefficients(boxes: Boxes, p: Parameters) -> BeeCoefficients:
    """The law for the bees of these boxes: its rows are what the two functions below return, in their order."""
    fanning_k = p.fan_full_c - p.fan_start_c
    drinking_k = p.evaporation_full_c - p.evaporation_start_c
    responses = (
        (p.agitation_start_c, p.agitation_span_k, p.agitation_gain - 1.0),
        (boxes.hold_c, -p.hold_band_k, boxes.shiver_w),
        (boxes.tighten_from_c, -boxes.tighten_span_k, 1.0),
        (p.fan_start_c, fanning_k, boxes.spread_w_k),
        (p.fan_start_c, fanning_k, boxes.fan_flow_m3_s),
        (p.evaporation_start_c, drinking_k, boxes.evaporation_w),
        (p.beard_start_c, p.beard_span_k, p.beard_share),
        (p.coma_core_c, p.rest_low_c - p.coma_core_c, 1.0),
        (p.stale_core_c, p.stale_core_span_k, boxes.vain_w),
        (p.quiet_from_c, p.quiet_span_k, p.quiet_share),
    )
    brood_per_k, brood_top_c = np.log(p.brood_q10) / 10.0, p.brood_constant_above_c
    heat = (
        (boxes.rest_w, p.rest_heat_per_k, REST_STATED_AT_C, p.rest_low_c, p.rest_plateau_c),
        (boxes.brood_w, brood_per_k, brood_top_c, -np.inf, brood_top_c),
    )
    from_c, span_k, most = _columns(responses, boxes.count.size)
    at_w, per_k, at_c, low_c, high_c = _columns(heat, boxes.count.size)
    return BeeCoefficients(from_c, most / span_k, most, at_w * np.exp(-per_k * at_c), per_k, low_c, high_c)


def _columns(rows: Sequence[Sequence[Floats | float]], cases: int) -> Floats:
    """Columns of a table as ``(column, row, case)``."""
    return np.array(
        [[np.broadcast_to(value, cases) for value in column] for column in zip(*rows, strict=True)]
    )


def bee_responses(core_c: Floats, bees: BeeCoefficients) -> Floats:
    """What the bees do at this temperature, ``(10, case)``, each from none to all of it over its span of degrees.

    In this order: what restlessness of hot bees may add to their activity (a share); shivering below the
    temperature they defend, W; how far they have drawn together (0 loose, 1 as tight as they can); the film they
    add as hot bees leave the combs, W/K; fanning, m3/s; evaporation wanted, W; the share that hangs out at an open
    entrance; how far they are awake and not in chill coma, in which no bee shivers; heat of those who would fan in
    stale air, W; how much of their activity they leave off in the heat. All straight lines are estimates (grade D);
    rows of one array because numpy takes as long over ten short rows as over one.
    """
    risen: Floats = np.maximum((core_c - bees.from_c) * bees.per_k, ZERO)
    return np.minimum(risen, bees.most)


def metabolic_heat(bees_c: Floats, core_c: Floats, bees: BeeCoefficients) -> Floats:
    """Resting heat of adults at their own mean temperature and heat of brood in the core, W, ``(2, case)``.

    Adults: ``7.7 exp(0.0665 (T - 30))`` W/kg between ``rest_low_c`` and ``rest_plateau_c``, held beyond (Kovac et
    al. 2007, J Insect Physiol 53:1250; Thermochim Acta 382:221, 2002; grade B, +-30 %). Brood: a Q10 law, 1 at
    ``brood_constant_above_c`` and held above (an estimate: Petz et al. 2004, J Comp Physiol B 174:511, doi
    10.1007/s00360-004-0439-z, see it rise on to 38 C).
    """
    valid = np.minimum(np.maximum((bees_c, core_c), bees.heat_from_c), bees.heat_to_c)
    heat: Floats = bees.heat_w * np.exp(bees.heat_per_k * valid)
    return heat


def activity(base: Floats, jolt: Floats, p: Parameters) -> Floats:
    """Activity factor on the resting heat: what is left of a jolt, 1 to 0, lifts it from the base (grade D)."""
    return base + (p.activity_jolt - base) * jolt


def jolt_left(since_jolt_s: Floats, p: Parameters) -> Floats:
    """What is left of the last jolt after so many seconds, 1 to 0; bees settle with ``jolt_decay_s`` (grade D)."""
    left: Floats = np.exp(-since_jolt_s / p.jolt_decay_s)
    return left


def ramp(value: Floats, start: Floats, span: Floats) -> Floats:
    """0 below ``start``, 1 above ``start + span``, straight between."""
    return np.minimum(np.maximum((value - start) / span, 0.0), 1.0)


def tenfold(value: Floats, one_at: Floats, tenth: Floats) -> Floats:
    """1 at ``one_at``, ten times more every ``tenth``; by an exponential, a fifth of the time of a power."""
    power: Floats = np.exp((value - one_at) * (LN_10 / tenth))
    return power


def alive_share(worker_dose: Floats, p: Parameters) -> Floats:
    """Share of workers alive at a heat dose; one half at dose 1 (grade D)."""
    return 1.0 / (1.0 + worker_dose**p.death_steepness)
