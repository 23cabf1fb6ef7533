"""A plan put as an answer, and candidates of an answer found again in a plan: what is shown meets what is drawn."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from planner.app.answer.records import (
    Answer,
    Band,
    Candidate,
    ClosingChoice,
    GroupChoice,
    GroupFate,
    Key,
    Samples,
    Tolerance,
)
from planner.app.plan.results import UNKNOWN, Choice, Plan
from planner.app.plan.words import Answer as Words


def as_answer(plan: Plan, words: Words) -> Answer:
    """Every candidate of a plan with its headroom; shares of harm are not known from a plan alone."""
    candidates = tuple(_candidate(plan, choice) for choice in plan.ranking)
    return Answer(
        decision="cannot_tell",
        sentence=words.headline,
        tolerance=Tolerance(),
        samples=Samples(0, 0, finished=False),
        candidates=candidates,
        best=candidates[0] if candidates else None,
        next=None,
        groups=candidates[0].groups if candidates else (),
        next_best=words.next_best,
        reasons=words.reasons,
        how_sure=words.how_sure,
        cautions=words.cautions,
        notes=words.notes,
        trip=plan.trip,
        road=plan.road,
        weather=plan.weather,
        departures_s=tuple(plan.departures_s.tolist()),
        places=plan.loading_places,
        place_titles=plan.loading_place_titles,
        setups=plan.setups,
        setup_titles=plan.setup_titles,
    )


def _candidate(plan: Plan, choice: Choice) -> Candidate:
    place, setup = plan.loading_places[choice.loading_place], plan.setups[choice.setup]
    headroom_k = plan.headroom(choice).k
    known = plan.worst_level(choice) != UNKNOWN and np.isfinite(headroom_k)
    leave_s, d = float(plan.departures_s[choice.departure]), choice.departure
    groups = tuple(
        GroupFate(group.label, group.count, group.loading_place or place, {}) for group in plan.trip.groups
    )
    shut = ClosingChoice(plan.trip.closing.rule, float(plan.closed_s[d]), fixed=True)
    return Candidate(
        key=Key(d, choice.loading_place, (choice.setup,), ()),
        leave_s=leave_s,
        leave_from_s=leave_s,
        leave_to_s=leave_s,
        arrive_s=float(plan.arrives_s[d]),
        shut_s=float(plan.closed_s[d]),
        open_s=float(plan.opened_s[d]),
        place=place,
        setup=setup,
        by_group=tuple(GroupChoice(g.label, g.place or place, setup, shut) for g in groups),
        samples=0,
        harm_of_100=None,
        boxes_harmed_expected=None,
        workers_dead_share=None,
        headroom_k=Band(headroom_k, headroom_k, headroom_k) if known else None,
        groups=groups,
        fits=plan.fits(choice),
        room="" if plan.fits(choice) else plan.room[choice.loading_place].text,
    )


def choice_of(plan: Plan, candidate: Candidate) -> Choice:
    """The candidate of the plan that stands for one of the answer's; of a mixed one the most boxes decide."""
    departure = int(np.argmin(np.abs(plan.departures_s - candidate.leave_s)))
    place = candidate.place if candidate.place in plan.loading_places else _most(candidate, "place")
    setup = candidate.setup if candidate.setup in plan.setups else _most(candidate, "setup")
    return Choice(
        departure,
        plan.loading_places.index(place) if place in plan.loading_places else 0,
        plan.setups.index(setup) if setup in plan.setups else 0,
    )


def _most(candidate: Candidate, what: str) -> str:
    counts: dict[str, int] = {}
    for choice, fate in zip(candidate.by_group, candidate.groups, strict=False):
        name = str(getattr(choice, what))
        counts[name] = counts.get(name, 0) + fate.count
    return max(counts, key=lambda name: counts[name], default="")


def candidate_of(answer: Answer, plan: Plan, choice: Choice) -> Candidate | None:
    """The candidate of the answer that a candidate of the plan stands for."""
    place, setup = plan.loading_places[choice.loading_place], plan.setups[choice.setup]
    return _nearest(answer.candidates, float(plan.departures_s[choice.departure]), place, setup)


def same_candidate(answer: Answer, before: Candidate | None) -> Candidate | None:
    """The candidate of a newer answer for the same departure, place and set-up."""
    if before is None:
        return None
    return _nearest(answer.candidates, before.leave_s, before.place, before.setup)


def _nearest(candidates: Sequence[Candidate], leave_s: float, place: str, setup: str) -> Candidate | None:
    same = [c for c in candidates if (c.place, c.setup) == (place, setup)]
    return min(same, key=lambda c: abs(c.leave_s - leave_s), default=None)
