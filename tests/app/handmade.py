"""Plans whose outcomes are written down instead of worked out: nothing is integrated, every figure is known."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any

import numpy as np

from planner.app.common.limits_words import group_limits
from planner.app.plan.plan import departures_of
from planner.app.plan.results import LIMITS, TYPICAL, VERDICTS, Choice, Outcomes, Plan
from planner.model.closing import closing_times
from planner.model.preparations import AS_DECLARED, SetUp
from planner.model.records import Road, Trip, Weather
from planner.model.timeline import build_timeline
from tests.model.scenarios import catalogue, steady

USUAL = {
    "peak_core_c": 35.0,
    "peak_stores_c": 33.0,
    "low_core_c": 31.0,
    "colder_k": 20.0,
    "first_harm_s": np.nan,
}
TAILS = {"verdict": (len(VERDICTS),), "over_s": (len(LIMITS),)}


def made_plan(
    trip: Trip,
    road: Road,
    sky: Weather | None = None,
    setups: Sequence[SetUp] = (AS_DECLARED,),
    *,
    notes: tuple[str, ...] = (),
    **outcomes: Any,
) -> Plan:
    """A plan in the order of its axes; ``outcomes`` by name, broadcast to (departure, place, setup, agitation, group).

    ``verdict`` and ``over_s`` have their axis more; ``headroom_k`` is that towards the heat. What is not given is
    calm and clear.
    """
    leaves = departures_of(trip)
    timeline = build_timeline(trip, road, leaves, closing_times(trip, road, leaves))
    names = trip.loading_places
    shape = (leaves.size, len(names), len(setups), 3, len(trip.groups))
    outcomes = {"hotter_k": outcomes.pop("headroom_k", 3.0)} | outcomes
    tables = {
        f.name: np.broadcast_to(
            np.asarray(outcomes.get(f.name, USUAL.get(f.name, 0.0)), dtype=float),
            shape + TAILS.get(f.name, ()),
        ).copy()
        for f in fields(Outcomes)
    }
    tables["verdict"] = tables["verdict"].astype(np.int64)
    tables["ruined"] = tables["ruined"].astype(bool)
    return Plan(
        trip=trip,
        road=road,
        weather=sky or steady(15.0, start_s=float(leaves[0]) - 86_400.0),
        departures_s=leaves,
        closed_s=timeline.start_s,
        arrives_s=timeline.arrive_s[:, -1],
        opened_s=timeline.end_s,
        closed_by_day=np.zeros(leaves.size, dtype=bool),
        loading_places=names,
        loading_place_titles=tuple(catalogue().loading_places[name].title for name in names),
        setups=tuple(setup.name for setup in setups),
        setup_titles=tuple(setup.title for setup in setups),
        outcomes=Outcomes(**tables),
        ranking=tuple(Choice(*map(int, at)) for at in np.ndindex(shape[:3])),
        hotter_k=tables["hotter_k"][..., TYPICAL, :].min(axis=-1),
        colder_k=tables["colder_k"][..., TYPICAL, :].min(axis=-1),
        notes=notes,
        limits=group_limits(trip, catalogue()),
    )
