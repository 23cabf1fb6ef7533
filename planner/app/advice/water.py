"""How much water: ml for each box, when, how much to carry, and when not to give any.

Misting plans are tried in the same samples as no misting; the smallest that gains nearly as much as the
best is advised. Water on bees in cold air chills them, so none is given below ``no_mist_below_c``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from planner.app.advice.changes import Change, misted
from planner.app.advice.helps import SAMPLES, Bench, Trial, gain_of, gained_text, safety_text
from planner.app.answer.field import Field
from planner.app.common.cautions import ALWAYS
from planner.app.common.timetext import utc_text
from planner.app.common.wording import clock_text, roughly
from planner.app.plan.plan import single_candidate
from planner.app.plan.results import TYPICAL, Choice, Plan
from planner.app.plan.words import choice_text
from planner.model.cases import build_cases
from planner.model.catalogue import Catalogue
from planner.model.records import Bools, Floats, Ints, Misting, Weather
from planner.units import METRIC, UnitSystem
from planner.words import say

ML = (10.0, 20.0, 30.0, 50.0)
"""20-50 ml an hour for a strong nucleus is an estimate (grade D); no published rule is known."""

FIRST_S = (1800.0, 3600.0)
EVERY_S = (1800.0, 3600.0)
"""Common practice, no source: the first misting after an hour, then every half hour."""

NEARLY = 0.9
WORTH_K, WORTH_SHARE = 0.3, 0.03
"""A plan that gains less headroom and fewer samples than this is not worth the stops."""

SPARE = 1.5
SPARE_HOUR_ML = 50.0
"""Carried beyond the plan: half as much again, and one hour of a standstill for every box (common practice, D)."""


@dataclass(frozen=True)
class GroupWater:
    """Water for one group: ``times_s`` when each of its boxes gets ``ml``, ``standing`` or on the road.

    ``cold_s`` when it would be due but the air is too cold; ``used_ml`` a box's bees evaporate of their own;
    ``short_ml`` what they lack: calm, typical, agitated.
    """

    label: str
    boxes: int
    ml: float
    times_s: tuple[float, ...]
    cold_s: tuple[float, ...]
    standing: tuple[bool, ...]
    used_ml: float
    short_ml: tuple[float, float, float]

    @property
    def box_ml(self) -> float:
        return self.ml * len(self.times_s)


@dataclass(frozen=True)
class WaterPlan:
    """Water for one candidate: ``misting`` None when it gains nothing; ``without`` and ``with_it`` as tried.

    ``carry_ml`` for all boxes with a reserve; ``too_cold`` the air rides below the limit all the way.
    """

    plan: Plan
    choice: Choice
    misting: Misting | None
    groups: tuple[GroupWater, ...]
    without: Trial
    with_it: Trial
    carry_ml: float
    too_cold: bool
    limit_c: float


def water_plan(
    plan: Plan,
    choice: Choice,
    catalogue: Catalogue,
    generator: np.random.Generator,
    *,
    samples: int = SAMPLES,
    weathers: Sequence[Weather] = (),
    drawn: Field | None = None,
) -> WaterPlan:
    """Find the smallest misting plan that gains nearly as much as any; ``drawn`` as in ``helps``.

    It is told in all samples of an answer, and given up where it gains nothing worth the stops in those.
    """
    plans = [Misting(ml, first, every) for ml in ML for first in FIRST_S for every in EVERY_S]
    dry = _change(None)
    bench = Bench(plan, choice, catalogue, [], generator, samples, weathers, drawn=drawn)
    without, *tried = bench.tried([(dry,), *((_change(p),) for p in plans)])
    rides = _rides(plan, choice, catalogue)
    limit_c = float(catalogue.parameters.rows["no_mist_below_c"].value)
    due = [[ride.due(p, limit_c) for ride in rides] for p in plans]
    amount_ml = [sum(times.size for times, _ in each) * p.ml for each, p in zip(due, plans, strict=True)]
    picked = _smallest(tried, without, amount_ml)
    with_it = without if picked is None else tried[picked]
    if drawn is not None and samples < drawn.most:
        told = Bench(plan, choice, catalogue, [], generator, drawn.most, weathers, drawn=drawn)
        without, with_it = told.tried([(dry,), (dry,) if picked is None else with_it.changes])
        picked = None if _smallest([with_it], without, [0.0]) is None else picked
    groups = tuple(
        _group(plan, choice, g, ride, None if picked is None else plans[picked], limit_c)
        for g, ride in enumerate(rides)
    )
    warm = any(np.nanmax(ride.air_c, initial=-np.inf) >= limit_c for ride in rides)
    planned = sum(group.boxes * group.box_ml for group in groups)
    spare = SPARE_HOUR_ML * sum(group.boxes for group in groups)
    return WaterPlan(
        plan=plan,
        choice=choice,
        misting=None if picked is None else plans[picked],
        groups=groups,
        without=without,
        with_it=without if picked is None else with_it,
        carry_ml=SPARE * planned + spare if warm else 0.0,
        too_cold=not warm,
        limit_c=limit_c,
    )


@dataclass(frozen=True)
class _Ride:
    """One group on the vehicle: when, through what air (without the boxes' own heat), standing or moving."""

    start_s: float
    time_s: Floats
    air_c: Floats
    moving: Bools

    def due(self, misting: Misting, limit_c: float) -> tuple[Floats, Floats]:
        """Instants at which a plan gives water, and those at which it is too cold for it."""
        if not self.time_s.size:
            return np.zeros(0), np.zeros(0)
        times = np.arange(self.start_s + misting.first_s, self.time_s[-1], misting.every_s)
        warm = self.air_c[self._at(times)] >= limit_c
        return times[warm], times[~warm]

    def stands(self, times_s: Floats) -> tuple[bool, ...]:
        return tuple(bool(~self.moving[i]) for i in self._at(times_s))

    def _at(self, times_s: Floats) -> Ints:
        return np.clip(np.searchsorted(self.time_s, times_s), 0, self.time_s.size - 1)


def _rides(plan: Plan, choice: Choice, catalogue: Catalogue) -> list[_Ride]:
    grid, timeline, night = single_candidate(plan, choice, catalogue, (0.0,))
    batch = build_cases(grid, timeline, night)
    out = []
    for g in range(timeline.groups):
        aboard = batch.vehicle.on_board[:, g]
        local_air = batch.cases.local_air[g]
        air_c = batch.local_air.empty_c[:, local_air]
        start_s = float(timeline.boarded_s[0, g])
        out.append(_Ride(start_s, batch.time_s[aboard, 0], air_c[aboard], batch.vehicle.moving[aboard, g]))
    return out


def _change(misting: Misting | None) -> Change:
    if misting is None:
        return Change("dry", "no water", 0, "mist", boxes=misted(0.0, 0.0, 0.0))
    name = f"mist {misting.ml:.0f} {misting.first_s:.0f} {misting.every_s:.0f}"
    return Change(name, name, 2, "mist", boxes=misted(misting.ml, misting.first_s, misting.every_s))


def _smallest(tried: Sequence[Trial], without: Trial, amount_ml: Sequence[float]) -> int | None:
    """The plan with the least water that gains nearly as much as the best; None when none gains enough."""
    gains = [gain_of(without, trial) for trial in tried]
    headroom = np.array([gain.headroom_k for gain in gains])
    saved = np.array([gain.no_harm if gain.certain else 0.0 for gain in gains])
    worth = np.maximum(headroom / WORTH_K, saved / WORTH_SHARE)
    if np.isnan(worth).any() or worth.max() < 1.0:
        return None
    good = np.flatnonzero(worth >= NEARLY * worth.max()).tolist()
    return int(min(good, key=lambda i: (amount_ml[i], -worth[i])))


def _group(
    plan: Plan, choice: Choice, g: int, ride: _Ride, misting: Misting | None, limit_c: float
) -> GroupWater:
    o, group = plan.outcomes, plan.trip.groups[g]
    at = choice.departure, choice.loading_place, choice.setup
    warm, cold = ride.due(misting, limit_c) if misting else (np.zeros(0), np.zeros(0))
    calm, typical, agitated = (float(ml) for ml in o.water_short_ml[(*at, slice(None), g)])
    return GroupWater(
        label=group.label,
        boxes=group.count,
        ml=misting.ml if misting else 0.0,
        times_s=tuple(warm.tolist()),
        cold_s=tuple(cold.tolist()),
        standing=ride.stands(warm),
        used_ml=float(o.water_ml[(*at, TYPICAL, g)]),
        short_ml=(calm, typical, agitated),
    )


# -- words ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class WaterWords:
    """What the user is told about water."""

    headline: str
    groups: tuple[str, ...]
    advice: tuple[str, ...]
    cautions: tuple[str, ...] = ALWAYS


def in_words(found: WaterPlan, units: UnitSystem = METRIC) -> WaterWords:
    """Put a water plan into words."""
    what = choice_text(found.plan, found.choice)
    if found.too_cold:
        limit = units.temp_text(found.limit_c, 0)
        headline = say("advice.no_water_the_air", what=what, limit=limit)
    elif found.misting is None:
        spare = _volume(found.carry_ml, units)
        headline = say("advice.misting_gains_nothing_worth", what=what, spare=spare)
    else:
        told = gain_of(found.without, found.with_it)
        headline = say(
            "advice.mist_on_each_box",
            what=what,
            ml=units.volume_text(found.misting.ml),
            without=f"{safety_text(found.without, told)}",
            gained=gained_text(told.headroom_k, units),
            carry_ml=f"{_volume(found.carry_ml, units)}",
        )
    groups = tuple(_group_text(found, group, units) for group in found.groups)
    return WaterWords(headline, groups, tuple(_advice(found, units)))


def _group_text(found: WaterPlan, group: GroupWater, units: UnitSystem) -> str:
    zone = found.plan.trip.origin.zone
    lacking = group.short_ml[2] > 10.0
    need = "" if lacking or group.times_s or group.cold_s else "no water needed; "
    text = say(
        "advice.each_box_s_bees",
        label=f"{group.label}",
        need=need,
        used_ml=units.volume_text(roughly(group.used_ml)),
    )
    if lacking:
        text += say(
            "advice.and_lack_to",
            short_ml=units.volume_text(roughly(group.short_ml[0])),
            short_ml_2=units.volume_text(roughly(group.short_ml[2])),
        )
    if group.times_s:
        times = ", ".join(clock_text(t, zone).split()[-1] for t in group.times_s)
        whole = _volume(group.boxes * group.box_ml, units)
        text += say("advice.a_box_at_in", ml=units.volume_text(group.ml), times=times, whole=whole)
    if group.cold_s:
        text += say(
            "advice.none_at_too_cold", value=", ".join(clock_text(t, zone).split()[-1] for t in group.cold_s)
        )
    return text + "."


def _advice(found: WaterPlan, units: UnitSystem) -> Iterator[str]:
    on_the_move = sum(not stands for group in found.groups for stands in group.standing)
    if on_the_move:
        yield (
            "Most of these hours fall on the road: mist at the nearest safe halt, or let a passenger do it where the "
            "boxes ride in the cabin."
        )
    if found.misting:
        yield "A fine spray through mesh, never a jet; a hand trigger gives about 1 ml (common practice, no source)."
    if not found.too_cold:
        limit = units.temp_text(found.limit_c, 0)
        yield say("advice.no_water_where_the", limit=limit)
        yield "The water carried holds half as much again as the plan, and an hour's standstill for every box."


def _volume(ml: float, units: UnitSystem) -> str:
    return units.volume_text(ml) if units.us or ml < 1000.0 else f"{ml / 1000.0:.1f} litres"


def as_document(found: WaterPlan, said: WaterWords) -> dict[str, Any]:
    """The water plan for machines."""
    misting = found.misting
    return {
        "skepway_water": 1,
        "trip": found.plan.trip.title,
        "answer": said.headline,
        "misting": None
        if misting is None
        else {"ml": misting.ml, "first_s": misting.first_s, "every_s": misting.every_s},
        "carry_ml": round(found.carry_ml),
        "too_cold": found.too_cold,
        "no_harm": found.with_it.no_harm.value,
        "no_harm_without": found.without.no_harm.value,
        "groups": [
            {
                "label": group.label,
                "boxes": group.boxes,
                "ml": group.ml,
                "times": [utc_text(t) for t in group.times_s],
                "too_cold_at": [utc_text(t) for t in group.cold_s],
                "used_ml": round(group.used_ml, 1),
                "short_ml": [round(ml, 1) for ml in group.short_ml],
            }
            for group in found.groups
        ],
        "advice": list(said.advice),
        "cautions": list(said.cautions),
    }
