"""An answer made by hand with the shape of a real one, for tests of what is shown (not of how it is judged)."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.app.answer.records import (
    AS_DECLARED,
    Answer,
    Band,
    Candidate,
    ClosingChoice,
    GroupChoice,
    GroupFate,
    Key,
    Samples,
    Span,
    Tolerance,
)
from planner.app.plan.results import Plan
from planner.ui.plan.seen import class_of


def answer(plan: Plan, decision: str = "go_if", *, finished: bool = True) -> Answer:
    """Every departure and place as declared, two places with roof screens as well; evenings are the best."""
    candidates = []
    best_of_day = np.abs(np.arange(len(plan.departures_s)) - len(plan.departures_s) * 0.55)
    for place in range(len(plan.loading_places)):
        for setup in (0, 1) if place < 2 and len(plan.setups) > 1 else (0,):
            for departure in range(len(plan.departures_s)):
                ease = 9.0 * max(place - 1, 0) if place > 1 else 6.0 * place
                harm = 26.0 + ease - 22.0 * setup + 0.5 * best_of_day[departure] ** 1.5
                candidates.append(_candidate(plan, departure, place, setup, float(np.clip(harm, 0.0, 97.0))))
    candidates.sort(key=lambda one: one.harm_of_100.value)
    best = candidates[0]
    alike = [
        c for c in candidates if (c.place, c.setup) == (best.place, best.setup) and c.harm_of_100.value < 6
    ]
    times = [c.leave_s for c in alike] or [best.leave_s]
    best = replace(best, leave_from_s=min(times), leave_to_s=max(times))
    candidates[0] = best
    return Answer(
        decision=decision,
        sentence=(
            "Go if the roof screens are on and you leave between 21:15 and 23:45, best 22:30: "
            "harm in 4 of 100 variants."
        ),
        tolerance=Tolerance(),
        samples=Samples(256 if finished else 32, 1, finished),
        candidates=tuple(candidates),
        best=best,
        next=None,
        groups=best.groups,
        how_sure=("As loaded the 6 boxes of nucs B are harmed in 26 of 100 variants.",),
        reasons=("The roof screens carry off what the bees make.",),
        cautions=("One legal break needs a place after 240 km.", "Arrival in daylight from 05:00 on."),
        trip=plan.trip,
        road=plan.road,
        weather=plan.weather,
        departures_s=tuple(plan.departures_s.tolist()),
        places=plan.loading_places,
        place_titles=plan.loading_place_titles,
        setups=plan.setups,
        setup_titles=plan.setup_titles,
    )


def _candidate(plan: Plan, departure: int, place: int, setup: int, harm: float) -> Candidate:
    leave_s = float(plan.departures_s[departure])
    shut = ClosingChoice("after_sunset", float(plan.closed_s[departure]), fixed=False)
    span = Span(max(harm - 3.0, 0.0), harm, min(harm + 4.0, 100.0))
    groups = tuple(
        GroupFate(
            g.label,
            g.count,
            plan.loading_places[place],
            {"any": span, "brood": span, "queen": span, "workers": span, "comb": span, "chill": None},
            Band(35.0, 36.0, 38.0),
            Band(28.0, 30.0, 31.0),
            Band(0.0, 0.01, 0.05),
        )
        for g in plan.trip.groups
    )
    name = plan.loading_places[place]
    made_up = plan.setups[setup] if setup else AS_DECLARED
    return Candidate(
        key=Key(departure, place, (setup,) * len(groups), (0,) * len(groups)),
        leave_s=leave_s,
        leave_from_s=leave_s,
        leave_to_s=leave_s,
        arrive_s=float(plan.arrives_s[departure]),
        shut_s=float(plan.closed_s[departure]),
        open_s=float(plan.opened_s[departure]),
        place=name,
        setup=made_up,
        by_group=tuple(GroupChoice(g.label, name, made_up, shut) for g in groups),
        samples=256,
        harm_of_100=span,
        boxes_harmed_expected=Span(0.1, harm / 20.0, harm / 10.0),
        workers_dead_share=Band(0.0, 0.01, 0.05),
        headroom_k=Band(4.0 - harm / 12.0, 5.0 - harm / 12.0, 6.5 - harm / 12.0),
        groups=groups,
        fits=place != 3,
        room="" if place != 3 else "fits 8 of 12",
        misses=("light",) if departure > len(plan.departures_s) * 0.8 else (),
        standing="within" if harm < 6 else "open" if harm < 14 else "above",
        harm_class=class_of(harm),  # type: ignore[arg-type]
        harm_agitated=10.0 < harm < 15.0,
        changes=setup,
    )
