"""From temperatures to answers: time beyond limits, doses, and five separate verdicts.

Worker death, comb collapse, queen damage, brood damage and chill are judged apart; "arrived alive" is not
"unharmed". Limits and doses with their grades stand in ``resources/parameters.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from planner.model import bees
from planner.model.balance import LATENT_J_KG
from planner.model.boxes import Boxes
from planner.model.integrate import Histories
from planner.model.parameters import Parameters
from planner.model.records import Bools, Floats, Ints

CLEAR, CAUTION, HARM, UNKNOWN = 0, 1, 2, 3
LEVELS = ("clear", "caution", "harm", "unknown")
VERDICTS = ("brood", "queen", "workers", "comb", "chill")

LIMITS = (
    "core_37",
    "core_38",
    "core_40",
    "core_42",
    "core_45",
    "comb_caution",
    "comb_danger",
    "chill_caution",
    "chill_danger",
)
"""Limits whose time beyond is reported: above for core and comb, below for chill.

The numbers in the names are the usual values of ``brood_caution_c``, ``queen_safe_c``, ``brood_danger_c``,
``worker_caution_c`` and ``worker_danger_c``; files already written know the limits by these names.
"""


@dataclass(frozen=True)
class Limit:
    """A temperature that a part of a box must not pass: ``level`` CAUTION or HARM once it lies beyond, on ``side``."""

    name: str
    field: Literal["core", "stores"]
    at_c: float
    level: int
    side: Literal["above", "below"]


ML_PER_KG = 1000.0


@dataclass(frozen=True)
class Assessment:
    """What happened in each case, ``(case,)``; ``verdict`` (case, 5) and ``over_s`` (case, limit)."""

    peak_core_c: Floats
    peak_stores_c: Floats
    low_core_c: Floats
    peak_s: Floats
    first_crossing_s: Floats
    verdict: Ints
    over_s: Floats
    margin_k: Floats
    water_ml: Floats
    water_short_ml: Floats
    brood_dose: Floats
    sperm_loss_share: Floats
    worker_dose: Floats
    peak_co2_share: Floats
    peak_around_co2_share: Floats
    peak_humidity_share: Floats


def brood_dose_rate(core_c: Floats, p: Parameters) -> Floats:
    """Brood heat dose per second; 1 after 13 h at 40 C, ten times faster per 3 K (grade D)."""
    return bees.tenfold(core_c, p.brood_dose_c, p.brood_dose_z_k) / (p.brood_dose_h * 3600.0)


def sperm_loss_rate(core_c: Floats, p: Parameters) -> Floats:
    """Relative loss of a queen's stored sperm per second.

    Anchored on McAfee et al. 2020, Nat Sustain 3:367, doi 10.1038/s41893-020-0493-x, and Pettis et al. 2016,
    PLoS ONE 11:e0147220.
    """
    return bees.tenfold(core_c, p.sperm_loss_c, p.sperm_loss_z_k) * (p.sperm_loss_per_h / 3600.0)


def co2_share(seen: Histories, p: Parameters) -> Floats:
    """Carbon dioxide in the box air, quasi-steady above the air around, from heat made and air leaving (RQ 1)."""
    return np.asarray(seen.around_co2_share + seen.adults_w * p.co2_m3_per_j / seen.flow_m3_s)


def humidity_in_box(seen: Histories) -> Floats:
    """Relative humidity of the box air, (time, case), at most 1."""
    inside = seen.around_kg_m3 + seen.evaporation_w / (LATENT_J_KG * seen.flow_m3_s)
    return np.asarray(np.minimum(inside / seen.saturated_kg_m3, 1.0))


def assess(seen: Histories, boxes: Boxes, time_s: Floats, p: Parameters, step_s: float) -> Assessment:
    """Judge histories.

    Parameters
    ----------
    seen : nodes (time + 1, case), steps (time, case)
    boxes : (case,)
    time_s : (time, case) or (time,) middle of each step, POSIX seconds
    """
    closed = seen.closed
    core = _while_shut(0.5 * (seen.core_c[:-1] + seen.core_c[1:]), closed)
    stores = _while_shut(0.5 * (seen.stores_c[:-1] + seen.stores_c[1:]), closed & (boxes.has_comb > 0.0))
    caution, danger = comb_limits(boxes, p)
    brood = boxes.has_brood > 0.0
    chill, cold = _chill_limits(brood, p)
    high = _while_shut(seen.core_c[1:], closed)
    peak = high.max(axis=0)
    stores_peak = _peak(_while_shut(seen.stores_c[1:], closed), boxes.has_comb > 0.0)
    low = np.where(closed, seen.core_c[1:], np.inf).min(axis=0)
    beyond = (
        core > p.brood_caution_c,
        core > p.queen_safe_c,
        core > p.brood_danger_c,
        core > p.worker_caution_c,
        core > p.worker_danger_c,
        stores > caution,
        stores > danger,
        closed & (core < chill),
        closed & (core < cold),
    )
    over = np.stack([flags.sum(axis=0, dtype=np.int32) * step_s for flags in beyond], axis=-1)
    brood_dose = brood_dose_rate(core, p).sum(axis=0) * step_s * brood
    sperm = 1.0 - np.exp(-sperm_loss_rate(core, p).sum(axis=0) * step_s)
    dose = seen.worker_dose
    missing = np.isnan(peak)
    verdict = np.stack(
        (
            _brood(peak, brood_dose, brood, p),
            _level(sperm > p.queen_warn_loss, sperm > p.queen_harm_loss),
            _level(
                (peak > p.worker_caution_c) | (dose > p.worker_warn_dose),
                (peak > p.worker_danger_c) | (dose > p.worker_harm_dose),
            ),
            _level(np.nan_to_num(stores_peak) > caution, np.nan_to_num(stores_peak) > danger),
            _chill(low, over[:, -1], chill, cold, brood, p),
        ),
        axis=-1,
    )
    verdict[missing] = UNKNOWN
    return Assessment(
        peak_core_c=np.where(missing, np.nan, peak),
        peak_stores_c=np.where(missing, np.nan, stores_peak),
        low_core_c=np.where(missing, np.nan, low),
        peak_s=np.where(missing, np.nan, _when(time_s, high.argmax(axis=0))),
        first_crossing_s=_first_crossing(core, stores, closed, danger, boxes, time_s, p),
        verdict=verdict,
        over_s=over,
        margin_k=np.where(missing, np.nan, _margin(peak, stores_peak, low, danger, cold, brood, p)),
        water_ml=_integral(seen.evaporation_w, closed, step_s) / LATENT_J_KG * ML_PER_KG,
        water_short_ml=_integral(np.maximum(seen.wanted_w - seen.evaporation_w, 0.0), closed, step_s)
        / LATENT_J_KG
        * ML_PER_KG,
        brood_dose=brood_dose,
        sperm_loss_share=sperm,
        worker_dose=dose,
        peak_co2_share=_top(co2_share(seen, p), closed),
        peak_around_co2_share=_top(seen.around_co2_share, closed),
        peak_humidity_share=_top(humidity_in_box(seen), closed),
    )


def limits_of(has_brood: bool, has_comb: bool, new_comb: bool, p: Parameters) -> tuple[Limit, ...]:
    """The limits that belong to a box by what is in it; ``p`` of one case, scalars.

    Brood has limits of its own, long before those of workers; where there is none, the margin is that to the
    workers' caution. A queen rides in every box, stores only where there is comb. Sealed brood stands the cold of
    ``chill_danger`` for hours, broodless bees not at all.
    """
    own: tuple[tuple[str, Floats, int], ...] = (("worker_caution", p.worker_caution_c, CAUTION),)
    if has_brood:
        own = (("brood_caution", p.brood_caution_c, CAUTION), ("brood_danger", p.brood_danger_c, HARM))
    all_have = (("queen_caution", p.queen_safe_c, CAUTION), ("worker_danger", p.worker_danger_c, HARM))
    soft, melting = _comb_limits(np.asarray(new_comb), p)
    comb = (("comb_caution", soft, CAUTION), ("comb_danger", melting, HARM)) if has_comb else ()
    chill, cold = _chill_limits(np.asarray(has_brood), p)
    frost = (("chill_caution", chill, CAUTION), ("chill_danger", cold, HARM))
    return (
        *(Limit(name, "core", float(at_c), level, "above") for name, at_c, level in (*own, *all_have)),
        *(Limit(name, "stores", float(at_c), level, "above") for name, at_c, level in comb),
        *(Limit(name, "core", float(at_c), level, "below") for name, at_c, level in frost),
    )


def comb_limits(boxes: Boxes, p: Parameters) -> tuple[Floats, Floats]:
    """Caution and danger of the stores comb, C."""
    return _comb_limits(boxes.new_comb > 0.0, p)


def _comb_limits(new: Bools, p: Parameters) -> tuple[Floats, Floats]:
    caution = np.where(new, p.new_comb_caution_c, p.old_comb_caution_c)
    return caution, np.where(new, p.new_comb_danger_c, p.old_comb_danger_c)


def _chill_limits(brood: Bools, p: Parameters) -> tuple[Floats, Floats]:
    return np.where(brood, p.brood_chill_c, p.bees_chill_c), np.where(brood, p.brood_cold_c, p.bees_cold_c)


def core_danger_c(boxes: Boxes, p: Parameters) -> Floats:
    """Core temperature that a box must not pass: of its brood, or of its workers where there is none."""
    return _hot(boxes.has_brood > 0.0, p)


def _hot(brood: Bools, p: Parameters) -> Floats:
    return np.where(brood, p.brood_danger_c, p.worker_caution_c)


def _while_shut(values: Floats, closed: Bools) -> Floats:
    """The values while a box is shut, -inf otherwise: below every limit and without any dose."""
    return np.where(closed, values, -np.inf)


def _integral(rate: Floats, closed: Bools, step_s: float) -> Floats:
    return np.asarray(np.where(closed, rate, 0.0).sum(axis=0) * step_s)


def _top(values: Floats, closed: Bools) -> Floats:
    return np.asarray(np.where(closed, values, 0.0).max(axis=0))


def _peak(values: Floats, present: Bools) -> Floats:
    return np.where(present, values.max(axis=0), np.nan)


def _level(caution: Bools, harm: Bools) -> Ints:
    return np.where(harm, HARM, np.where(caution, CAUTION, CLEAR))


def _brood(peak: Floats, dose: Floats, brood: Bools, p: Parameters) -> Ints:
    warned = (peak > p.brood_caution_c) | (dose > p.brood_warn_dose)
    return np.where(brood, _level(warned, dose > p.brood_harm_dose), CLEAR)


def _chill(low: Floats, below_s: Floats, chill: Floats, cold: Floats, brood: Bools, p: Parameters) -> Ints:
    """Sealed brood is harmed by hours of cold, broodless bees by chill coma at once."""
    harmed = np.where(brood, below_s >= p.brood_cold_h * 3600.0, low < cold)
    return _level(low < chill, harmed)


def _margin(
    peak: Floats, stores_peak: Floats, low: Floats, comb: Floats, cold: Floats, brood: Bools, p: Parameters
) -> Floats:
    """Kelvin to the nearest danger limit, negative beyond it."""
    hot = _hot(brood, p) - peak
    melting = np.where(np.isnan(stores_peak), np.inf, comb - stores_peak)
    return np.asarray(np.minimum(np.minimum(hot, melting), low - cold))


def _first_crossing(
    core: Floats, stores: Floats, closed: Bools, comb: Floats, boxes: Boxes, time_s: Floats, p: Parameters
) -> Floats:
    """When the first danger limit is passed, POSIX seconds; NaN if never."""
    hot = core_danger_c(boxes, p)
    cold = np.where(boxes.has_brood > 0.0, -np.inf, p.bees_cold_c)
    beyond = (core > hot) | (stores > comb) | (closed & (core < cold))
    return np.where(beyond.any(axis=0), _when(time_s, beyond.argmax(axis=0)), np.nan)


def _when(time_s: Floats, step: Ints) -> Floats:
    if time_s.ndim == 1:
        return time_s[step]
    return np.asarray(np.take_along_axis(time_s, step[None, :], axis=0)[0])
