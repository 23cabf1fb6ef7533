"""Heat, fanning, water demand and death of confined bees, as functions of the core temperature.

Functions broadcast and return W per kg of bees, shares or rates; masses are applied by the caller.
Sources stand in ``resources/parameters.toml`` beside each number. Left out: differences of age and caste,
the day rhythm, and what bees learn from a gradient (they crowd to air; ``openings`` covers it as blockage).
"""

from __future__ import annotations

import numpy as np

from planner.model.parameters import Parameters
from planner.model.records import Floats

LN_10 = np.log(10.0)


def ramp(value: Floats, start: Floats, span: Floats) -> Floats:
    """0 below ``start``, 1 above ``start + span``, straight between."""
    return np.minimum(np.maximum((value - start) / span, 0.0), 1.0)


def tenfold(value: Floats, one_at: Floats, tenth: Floats) -> Floats:
    """1 at ``one_at``, ten times more every ``tenth``; by an exponential, a fifth of the time of a power."""
    power: Floats = np.exp((value - one_at) * (LN_10 / tenth))
    return power


def resting_heat_w_kg(core_c: Floats, p: Parameters) -> Floats:
    """Resting heat of adult workers, W/kg: ``7.7 exp(0.0665 (T - 30))`` from 12 to 42 C, level beyond.

    Kovac et al. 2007, J Insect Physiol 53:1250; Thermochim Acta 382:221, 2002 (grade B, +-30 %).
    """
    valid = np.minimum(np.maximum(core_c, p.rest_low_c), p.rest_plateau_c)
    return p.rest_heat_w_kg * np.exp(p.rest_heat_per_k * (valid - 30.0))


def activity(base: Floats, since_jolt_s: Floats, p: Parameters) -> Floats:
    """Activity factor on the resting heat: a jolt decays from ``activity_jolt`` to the base (grade D)."""
    return base + (p.activity_jolt - base) * np.exp(-since_jolt_s / p.jolt_decay_s)


def agitation(core_c: Floats, p: Parameters) -> Floats:
    """Further factor of bees too hot to settle, 1 below ``agitation_start_c`` (grade D)."""
    return 1.0 + (p.agitation_gain - 1.0) * ramp(core_c, p.agitation_start_c, p.agitation_span_k)


def brood_factor(core_c: Floats, p: Parameters) -> Floats:
    """Brood heat relative to 35 C: Q10 law below ``brood_constant_above_c``, level above (an estimate).

    Q10 of Petz et al. 2004, J Comp Physiol B 174:511, doi 10.1007/s00360-004-0439-z, who see it rise on to 38 C.
    """
    below = np.minimum(core_c - p.brood_constant_above_c, 0.0)
    return np.exp(np.log(p.brood_q10) * 0.1 * below)


def fanning_share(core_c: Floats, p: Parameters) -> Floats:
    """Share of adults fanning: none at 36 C, about a tenth at 37 C, a third at 40 C (grade D)."""
    return p.fan_share * ramp(core_c, p.fan_start_c, p.fan_full_c - p.fan_start_c)


def alive_share(worker_dose: Floats, p: Parameters) -> Floats:
    """Share of workers alive at a heat dose; one half at dose 1 (grade D)."""
    return 1.0 / (1.0 + worker_dose**p.death_steepness)


def worker_dose_rate(core_c: Floats, p: Parameters) -> Floats:
    """Worker heat dose per second, ``1 / t50``: ``log10 t50(h) = log10 0.15 + (51 - T)/4.1`` (grade D)."""
    return tenfold(core_c, p.worker_t50_c, p.worker_t50_z_k) / (p.worker_t50_h * 3600.0)


def cluster_conductance_w_k(bees_kg: Floats, p: Parameters) -> Floats:
    """Conductance of a tight broodless cluster, W/K; demand per kg goes with mass^-0.48.

    Southwick 1985, J Comp Physiol B 156:143, doi 10.1007/BF00692937 (5 g to 1.2 kg at 2 C).
    """
    return p.cluster_conductance_w_k * bees_kg**p.cluster_mass_exponent


def cluster_demand_w(bees_kg: Floats, core_c: Floats, air_c: Floats, p: Parameters) -> Floats:
    """Heat a tight cluster must make to hold ``core_c`` in air of ``air_c``, W."""
    return cluster_conductance_w_k(bees_kg, p) * (core_c - air_c)
