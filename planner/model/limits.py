"""From temperatures to answers: time beyond limits, doses, five separate verdicts, and how much was to spare.

Worker death, comb collapse, queen damage, brood damage and chill are judged apart; "arrived alive" is not
"unharmed". A box is *harmed* when any of the five stands at harm, and *ruined* when so many workers are dead that a
keeper calls it lost, or its comb has fallen. Adults stand the same cold whether there is brood or not. Limits and doses
with their grades stand in ``resources/parameters.toml``, the laws of the doses in ``doses``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from planner.model import doses
from planner.model.balance import LATENT_J_KG, humidity_share
from planner.model.boxes import Boxes
from planner.model.doses import HOUR_S, DoseLaw
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
``worker_caution_c`` and ``worker_danger_c``; files already written know the limits by these names. Chill counts the
time below any limit of cold that belongs to the box.
"""


@dataclass(frozen=True)
class Limit:
    """A temperature that a part of a box must not pass: ``level`` CAUTION or HARM once it lies beyond, on ``side``."""

    name: str
    field: Literal["core", "stores", "mantle"]
    at_c: float
    level: int
    side: Literal["above", "below"]


ML_PER_KG = 1000.0

MOST_HEADROOM_K = 20.0
"""Where headroom ends, either way: no weather of the same hours differs by more, so more of it tells nothing."""

COLD_REACH_K = 10.0
"""How near a limit of cold a box must come before its hours are counted out; further off its lowest degree will do."""


@dataclass(frozen=True)
class Assessment:
    """What happened in each case, ``(case,)``; ``verdict`` (case, 5) and ``over_s`` (case, limit).

    ``hotter_k``, ``colder_k`` how much hotter and colder the box's own history might have been until the first harm;
    negative where there is harm by heat or by cold, and then how much less would have ended it. ``first_harm_s`` POSIX
    seconds, NaN if never. ``dead_share`` of the workers, ``ruined`` whether a keeper would call the box lost;
    ``chilled`` whether its outermost brood was cold for long enough to warn of it, or cold did harm.
    """

    peak_core_c: Floats
    peak_stores_c: Floats
    low_core_c: Floats
    low_mantle_c: Floats
    low_brood_c: Floats
    peak_s: Floats
    first_harm_s: Floats
    verdict: Ints
    over_s: Floats
    hotter_k: Floats
    colder_k: Floats
    water_ml: Floats
    water_short_ml: Floats
    brood_dose: Floats
    brood_cold_dose: Floats
    sperm_loss_share: Floats
    worker_dose: Floats
    dead_share: Floats
    ruined: Bools
    chilled: Bools
    peak_co2_share: Floats
    peak_around_co2_share: Floats
    peak_humidity_share: Floats

    @property
    def headroom_k(self) -> Floats:
        """The smaller of the two; its sign is the verdict's: negative just where something is harmed."""
        return np.minimum(self.hotter_k, self.colder_k)


def brood_dose_rate(core_c: Floats, p: Parameters) -> Floats:
    """Heat dose of brood per second."""
    return doses.brood_heat(p).rate(core_c)


def sperm_loss_rate(core_c: Floats, p: Parameters) -> Floats:
    """Relative loss of a queen's stored sperm per second, by heat and by cold, at her own temperature: the core's."""
    return np.asarray(doses.sperm_heat(p).rate(core_c) + doses.sperm_cold(p).rate(core_c))


def co2_share(seen: Histories, p: Parameters) -> Floats:
    """Carbon dioxide in the box air, quasi-steady above the air around, from heat made and air leaving (RQ 1)."""
    return np.asarray(seen.around_co2_share + seen.adults_w * p.co2_m3_per_j / seen.flow_m3_s)


def humidity_in_box(seen: Histories) -> Floats:
    """Relative humidity of the box air, (time, case), at most 1."""
    share = humidity_share(seen.around_kg_m3, seen.evaporation_w, seen.flow_m3_s, seen.saturated_kg_m3)
    return np.asarray(np.minimum(share, 1.0))


# -- judging -------------------------------------------------------------------------------------


def assess(
    seen: Histories,
    boxes: Boxes,
    time_s: Floats,
    p: Parameters,
    step_s: float,
    moving: Bools | None = None,
) -> Assessment:
    """Judge histories.

    Parameters
    ----------
    seen : nodes (time + 1, case), steps (time, case)
    boxes : (case,)
    time_s : (time, case) or (time,) middle of each step, POSIX seconds
    moving : (time, case) whether the load is in motion; throughout where nothing is said
    """
    shut = _Shut(seen, boxes, p, step_s, moving)
    taken, spare = shut.taken, shut.spare()
    harmed = spare < 0.0
    dropped = p.mantle_share * harmed[len(HEAT) + COLD.index("dropping")]
    died = doses.dead_share(seen.worker_dose, p), shut.coma_dead(), shut.frozen, dropped
    dead = np.stack(died).max(axis=0)
    verdict = _verdicts(shut, taken, harmed, dead, p)
    missing = np.isnan(shut.peak)
    verdict[missing] = UNKNOWN

    def known(values: Floats) -> Floats:
        return np.where(missing, np.nan, values)

    return Assessment(
        peak_core_c=known(shut.peak),
        peak_stores_c=known(shut.stores_peak),
        low_core_c=known(shut.low),
        low_mantle_c=known(shut.mantle_low),
        low_brood_c=np.where(shut.has_brood, known(shut.edge_low), np.nan),
        peak_s=known(_when(time_s, shut.high.argmax(axis=0))),
        first_harm_s=_first_harm(shut, harmed.any(axis=0) & ~missing, time_s),
        verdict=verdict,
        over_s=shut.beyond_s(),
        hotter_k=known(np.clip(spare[: len(HEAT)].min(axis=0), -MOST_HEADROOM_K, MOST_HEADROOM_K)),
        colder_k=known(np.clip(spare[len(HEAT) :].min(axis=0), -MOST_HEADROOM_K, MOST_HEADROOM_K)),
        water_ml=_integral(seen.evaporation_w, seen.closed, step_s) / LATENT_J_KG * ML_PER_KG,
        water_short_ml=_integral(np.maximum(seen.wanted_w - seen.evaporation_w, 0.0), seen.closed, step_s)
        / LATENT_J_KG
        * ML_PER_KG,
        brood_dose=taken.brood_heat,
        brood_cold_dose=taken.brood_cold,
        sperm_loss_share=1.0 - np.exp(-(taken.sperm_heat + taken.sperm_cold)),
        worker_dose=seen.worker_dose,
        dead_share=known(dead),
        ruined=(dead > p.ruined_dead) | harmed[HEAT.index("comb")],
        chilled=shut.chilled() | (verdict[:, VERDICTS.index("chill")] == HARM),
        peak_co2_share=_top(co2_share(seen, p), seen.closed),
        peak_around_co2_share=_top(seen.around_co2_share, seen.closed),
        peak_humidity_share=_top(humidity_in_box(seen), seen.closed),
    )


HEAT = ("brood", "queen", "workers", "comb")
COLD = ("brood", "queen", "coma", "dropping", "frost")
"""What heat and what cold may harm: the rows of what is to spare. ``dropping``: the outermost bees of a shaken load."""


class _Taken(NamedTuple):
    """Doses taken up while a box was shut, ``(case,)``; those of brood are zero where there is none."""

    brood_heat: Floats
    brood_cold: Floats
    sperm_heat: Floats
    sperm_cold: Floats


class _Shut:
    """The histories of the boxes while they are shut, and everything that is asked of them more than once.

    Extremes are those of nodes at the end of a step, doses go by the middle of steps; the mantle is known by steps.
    """

    def __init__(
        self, seen: Histories, boxes: Boxes, p: Parameters, step_s: float, moving: Bools | None
    ) -> None:
        closed = seen.closed
        self.p, self.step_s, self.closed, self.worker_dose = p, step_s, closed, seen.worker_dose
        self.shaken = closed if moving is None else closed & moving
        self.has_brood, self.has_comb = boxes.has_brood > 0.0, boxes.has_comb > 0.0
        self.core, self.stores = (0.5 * (nodes[:-1] + nodes[1:]) for nodes in (seen.core_c, seen.stores_c))
        self.mantle = seen.mantle_c
        self.edge = self.core - p.brood_edge_share * boxes.brood_reach * np.maximum(
            self.core - self.mantle, 0.0
        )
        self.high = np.where(closed, seen.core_c[1:], -np.inf)
        self.coldest = np.where(closed, np.minimum(seen.core_c[1:], self.mantle), np.inf)
        self.melting = np.where(closed, seen.stores_c[1:], -np.inf)
        self._warmest = np.where(closed, self.core, -np.inf).max(axis=0)
        self._coolest = np.where(closed, self.core, np.inf).min(axis=0)
        self.edge_low = np.where(closed, self.edge, np.inf).min(axis=0)
        self.peak = self.high.max(axis=0)
        self.low = np.where(closed, seen.core_c[1:], np.inf).min(axis=0)
        self.mantle_low = np.where(closed, self.mantle, np.inf).min(axis=0)
        self.stores_peak = np.where(self.has_comb, self.melting.max(axis=0), np.nan)
        self.lasts_s = closed.sum(axis=0) * step_s
        self.comb_caution_c, self.comb_danger_c = comb_limits(boxes, p)

    @property
    def frozen(self) -> Bools:
        """Whether any zone of the bees fell below what they survive."""
        return np.asarray(np.minimum(self.low, self.mantle_low) < self.p.freezing_c)

    @cached_property
    def taken(self) -> _Taken:
        """The doses taken up."""
        brood_heat, brood_cold = (
            self._dose(law) * self.has_brood for law in (doses.brood_heat(self.p), doses.brood_cold(self.p))
        )
        heat, cold = self._dose(doses.sperm_heat(self.p)), self._dose(doses.sperm_cold(self.p))
        return _Taken(brood_heat, brood_cold, heat, cold)

    def extreme(self, law: DoseLaw) -> Floats:
        """The hottest or the coldest it was in the middle of a step, whichever the law goes by."""
        coolest = self.edge_low if law.of_edge else self._coolest
        return np.asarray(np.where(law.tenth_k > 0.0, self._warmest, coolest), dtype=np.float64)

    def _dose(self, law: DoseLaw) -> Floats:
        """The integral of a law over the core; only cases beyond its floor are looked at step by step."""
        dose = np.where(np.isnan(self.peak), np.nan, 0.0)
        beyond = law.beyond_k(self.extreme(law)) > 0.0
        if beyond.any():
            dose[beyond] = self.rates(law, beyond).sum(axis=0) * self.step_s
        return dose

    def rates(self, law: DoseLaw, cases: Bools) -> Floats:
        """Dose per second of some cases while they are shut, (time, case)."""
        temps_c = self.edge if law.of_edge else self.core
        return np.asarray(np.where(self.closed[:, cases], law.take(cases).rate(temps_c[:, cases]), 0.0))

    def spare(self) -> Floats:
        """Kelvin to spare until each harm of HEAT and then of COLD, (harm, case); negative where it has come."""
        p, taken = self.p, self.taken

        def by_dose(law: DoseLaw, dose: Floats, most: Floats) -> Floats:
            return law.spare_k(dose, most, self.lasts_s, self.extreme(law))

        none = np.full(self.peak.shape, np.inf)
        loss = -np.log1p(-p.queen_harm_loss)
        rest = [np.where(other < loss, loss - other, loss) for other in (taken.sperm_cold, taken.sperm_heat)]
        return np.stack(
            (
                np.where(
                    self.has_brood, by_dose(doses.brood_heat(p), taken.brood_heat, p.brood_harm_dose), none
                ),
                by_dose(doses.sperm_heat(p), taken.sperm_heat, rest[0]),
                by_dose(doses.worker_heat(p), self.worker_dose, doses.dose_of(p.worker_harm_dead, p)),
                np.where(self.has_comb, self.comb_danger_c - self.stores_peak, none),
                np.where(self.has_brood, by_dose(doses.brood_cold(p), taken.brood_cold, WHOLE), none),
                by_dose(doses.sperm_cold(p), taken.sperm_cold, rest[1]),
                self._spare_hours(self.core, self.closed, p.coma_core_c, self.coma_h()),
                self._spare_hours(self.mantle, self.shaken, p.coma_mantle_c, p.coma_mantle_h),
                np.minimum(self.low, self.mantle_low) - p.freezing_c,
            )
        )

    def coma_h(self) -> Floats:
        """Hours of coma that do harm: those of the limit, or those in which as many die as heat may kill."""
        dying = self.p.coma_lethal_h * doses.dose_of(self.p.worker_harm_dead, self.p)
        return np.asarray(np.minimum(self.p.coma_core_h, dying))

    def _spare_hours(self, temps_c: Floats, counts: Bools, limit_c: Floats, hours: Floats) -> Floats:
        """Kelvin by which temperatures may fall until they lie below a limit for so many hours, (case,)."""
        seen = np.where(counts, temps_c, np.inf)
        lowest = seen.min(axis=0, initial=np.inf)
        spare = lowest - limit_c
        spare[counts.sum(axis=0) * self.step_s < hours * HOUR_S] = np.inf
        near = spare < COLD_REACH_K
        if near.any():
            of_near = np.broadcast_to(hours, spare.shape)[near]
            rank = np.ceil(of_near * HOUR_S / self.step_s).astype(np.int64) - 1
            ordered = np.sort(seen[:, near], axis=0)
            held = np.take_along_axis(ordered, rank[None], axis=0)[0]
            spare[near] = held - np.broadcast_to(limit_c, near.shape)[near]
        return np.asarray(spare)

    def coma_s(self) -> Floats:
        """Seconds the whole cluster lies in chill coma."""
        return np.asarray((self.closed & (self.core < self.p.coma_core_c)).sum(axis=0) * self.step_s)

    def coma_dead(self) -> Floats:
        """Share of the workers dead of coma."""
        return doses.dead_share(self.coma_s() / (self.p.coma_lethal_h * HOUR_S), self.p)

    def chilled_s(self) -> Floats:
        """Seconds for which the outermost brood lies below the temperature at which it chills."""
        return np.asarray((self.closed & (self.edge < self.p.brood_chill_c)).sum(axis=0) * self.step_s)

    def chilled(self) -> Bools:
        """Whether the outermost brood lay there for so long that it is worth a warning."""
        return np.asarray(self.has_brood & (self.chilled_s() >= self.p.brood_chill_h * HOUR_S))

    def beyond_s(self) -> Floats:
        """Seconds beyond each of LIMITS, (case, limit)."""
        p, closed = self.p, self.closed
        core, stores = (np.where(closed, values, -np.inf) for values in (self.core, self.stores))
        stores = np.where(self.has_comb, stores, -np.inf)
        chill = (self.has_brood & (self.edge < p.brood_chill_c)) | (self.mantle < p.mantle_chill_c)
        cold = (self.has_brood & (self.edge < p.brood_cold_c)) | (self.core < p.coma_core_c)
        beyond = (
            core > p.brood_caution_c,
            core > p.queen_safe_c,
            core > p.brood_danger_c,
            core > p.worker_caution_c,
            core > p.worker_danger_c,
            stores > self.comb_caution_c,
            stores > self.comb_danger_c,
            closed & chill,
            closed & (cold | (self.shaken & (self.mantle < p.coma_mantle_c))),
        )
        return np.stack([flags.sum(axis=0, dtype=np.int32) * self.step_s for flags in beyond], axis=-1)


WHOLE = np.array(1.0)
"""The dose of cold that harms brood: the unit of its law."""


def _verdicts(shut: _Shut, taken: _Taken, harmed: Bools, dead: Floats, p: Parameters) -> Ints:
    """The five levels, (case, verdict)."""
    heat = dict(zip(HEAT, harmed, strict=False))
    cold = dict(zip(COLD, harmed[len(HEAT) :], strict=True))
    warm = (shut.peak > p.brood_caution_c) | (taken.brood_heat > p.brood_warn_dose)
    lost = taken.sperm_heat + taken.sperm_cold > -np.log1p(-p.queen_warn_loss)
    soft = np.nan_to_num(shut.stores_peak, nan=-np.inf) > shut.comb_caution_c
    cooled = shut.chilled() | (shut.mantle_low < p.mantle_chill_c)
    return np.stack(
        (
            _level(shut.has_brood & warm, heat["brood"]),
            _level(lost, heat["queen"] | cold["queen"]),
            _level(dead > p.worker_warn_dead, heat["workers"] | (dead > p.worker_harm_dead)),
            _level(soft, heat["comb"]),
            _level(cooled, cold["brood"] | cold["coma"] | cold["dropping"] | cold["frost"]),
        ),
        axis=-1,
    )


def _first_harm(shut: _Shut, harmed: Bools, time_s: Floats) -> Floats:
    """When the first harm of the harmed is done, POSIX seconds; NaN for the others.

    The workers' dose is taken to grow as heat alone would make it, up to what the integration found.
    """
    first = np.full(harmed.shape, np.nan)
    if not harmed.any():
        return first
    p, step_s = shut.p, shut.step_s

    def of_harmed(values: Floats) -> Floats:
        return np.broadcast_to(values, harmed.shape)[harmed]

    def running(law: DoseLaw) -> Floats:
        if not (law.beyond_k(shut.extreme(law)) > 0.0)[harmed].any():
            return np.zeros((1, 1))
        return np.asarray(np.cumsum(shut.rates(law, harmed), axis=0) * step_s)

    def hours(temps_c: Floats, counts: Bools, limit_c: Floats) -> Floats:
        below = (counts & (temps_c < limit_c))[:, harmed]
        return np.asarray(np.cumsum(below, axis=0) * (step_s / HOUR_S), dtype=np.float64)

    workers = running(doses.worker_heat(p))
    scale = of_harmed(shut.worker_dose) / np.where(workers[-1] > 0.0, workers[-1], np.inf)
    brood, comb = shut.has_brood[harmed], shut.has_comb[harmed]
    done = (
        brood & (running(doses.brood_heat(p)) > of_harmed(p.brood_harm_dose))
        | brood & (running(doses.brood_cold(p)) > WHOLE)
        | (
            running(doses.sperm_heat(p)) + running(doses.sperm_cold(p))
            > of_harmed(-np.log1p(-p.queen_harm_loss))
        )
        | (workers * scale > of_harmed(doses.dose_of(p.worker_harm_dead, p)))
        | comb & (shut.melting[:, harmed] > of_harmed(shut.comb_danger_c))
        | (shut.coldest[:, harmed] < of_harmed(p.freezing_c))
        | (hours(shut.core, shut.closed, p.coma_core_c) >= of_harmed(shut.coma_h()))
        | (hours(shut.mantle, shut.shaken, p.coma_mantle_c) >= of_harmed(p.coma_mantle_h))
    )
    step = np.where(done.any(axis=0), done.argmax(axis=0), len(done) - 1)
    whole = np.zeros(harmed.shape, dtype=np.int64)
    whole[harmed] = step
    return np.where(harmed, _when(time_s, whole), np.nan)


# -- limits to draw ------------------------------------------------------------------------------


def limits_of(has_brood: bool, has_comb: bool, new_comb: bool, p: Parameters) -> tuple[Limit, ...]:
    """The limits that belong to a box by what is in it; ``p`` of one case, scalars.

    Brood has limits of its own, long before those of workers, and so against the cold; where there is none, heat is
    held against the workers' caution. Every box has a queen and adults, stores only where there is comb.
    """
    own: tuple[tuple[str, Floats, int], ...] = (("worker_caution", p.worker_caution_c, CAUTION),)
    young: tuple[tuple[str, Floats, int], ...] = ()
    if has_brood:
        own = (("brood_caution", p.brood_caution_c, CAUTION), ("brood_danger", p.brood_danger_c, HARM))
        young = (("brood_chill", p.brood_chill_c, CAUTION), ("brood_cold", p.brood_cold_c, HARM))
    all_have = (("queen_caution", p.queen_safe_c, CAUTION), ("worker_danger", p.worker_danger_c, HARM))
    soft, melting = _comb_limits(np.asarray(new_comb), p)
    comb = (("comb_caution", soft, CAUTION), ("comb_danger", melting, HARM)) if has_comb else ()
    return (
        *(Limit(name, "core", float(at_c), level, "above") for name, at_c, level in (*own, *all_have)),
        *(Limit(name, "stores", float(at_c), level, "above") for name, at_c, level in comb),
        *(Limit(name, "core", float(at_c), level, "below") for name, at_c, level in young),
        Limit("chill_caution", "mantle", float(p.mantle_chill_c), CAUTION, "below"),
        Limit("chill_danger", "core", float(p.coma_core_c), HARM, "below"),
    )


def comb_limits(boxes: Boxes, p: Parameters) -> tuple[Floats, Floats]:
    """Caution and danger of the stores comb, C."""
    return _comb_limits(boxes.new_comb > 0.0, p)


def _comb_limits(new: Bools, p: Parameters) -> tuple[Floats, Floats]:
    caution = np.where(new, p.new_comb_caution_c, p.old_comb_caution_c)
    return caution, np.where(new, p.new_comb_danger_c, p.old_comb_danger_c)


def core_danger_c(boxes: Boxes, p: Parameters) -> Floats:
    """Core temperature that a box must not pass: of its brood, or of its workers where there is none."""
    return np.where(boxes.has_brood > 0.0, p.brood_danger_c, p.worker_caution_c)


def _integral(rate: Floats, closed: Bools, step_s: float) -> Floats:
    return np.asarray(np.where(closed, rate, 0.0).sum(axis=0) * step_s)


def _top(values: Floats, closed: Bools) -> Floats:
    return np.asarray(np.where(closed, values, 0.0).max(axis=0))


def _level(caution: Bools, harm: Bools) -> Ints:
    return np.where(harm, HARM, np.where(caution, CAUTION, CLEAR))


def _when(time_s: Floats, step: Ints) -> Floats:
    if time_s.ndim == 1:
        return time_s[step]
    return np.asarray(np.take_along_axis(time_s, step[None, :], axis=0)[0])
