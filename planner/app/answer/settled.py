"""A candidate as a trip of its own: one departure, every group set up, placed and shut as the candidate has it.

What is asked further of a candidate (curves, minutes one may stand, tipping points, what helps) is asked of this trip,
so that it speaks of the very load that the answer judged.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from planner.app.answer.field import Field
from planner.app.answer.records import Answer, Candidate, Curve, GroupChoice
from planner.app.answer.words import Words
from planner.app.plan.closings import settled
from planner.app.plan.plan import curves, plan_trip
from planner.app.plan.results import Choice, Curves, Plan
from planner.model.catalogue import Catalogue
from planner.model.preparations import ALL, AS_DECLARED
from planner.model.records import Closing, DepartureWindow, Trip

ONLY = Choice(0, 0, 0)
"""The one candidate of a settled plan."""


def settled_trip(found: Answer, one: Candidate, catalogue: Catalogue) -> Trip:
    """The trip on which nothing is left open.

    Groups that the user pins to no place and that all ride in one stay so, in a trip that has that place alone: what
    helps may move them.
    """
    assert found.trip is not None
    free = {choice.place for choice, pinned in _pinned(found, one) if not pinned}
    setups = {setup.name: setup for setup in ALL}
    groups = tuple(
        replace(
            setups[choice.setup].change(group, catalogue.box_types[group.box_type]),
            closing=settled(group.closing or found.trip.closing, choice.closing.rule, choice.closing.at_s),
            loading_place=choice.place if pinned or len(free) > 1 else None,
        )
        for group, (choice, pinned) in zip(found.trip.groups, _pinned(found, one), strict=True)
    )
    return replace(
        found.trip,
        groups=groups,
        window=DepartureWindow(one.leave_s, one.leave_s, 60.0),
        loading_places=(found.place_of(one),),
    )


def closings_elsewhere(found: Answer, one: Candidate) -> dict[tuple[float, str], tuple[Closing, ...]]:
    """How the answer shuts a load that is set up as a candidate has it, by departure (POSIX seconds) and place.

    The place is that of the boxes pinned to none; where they ride apart, only what puts them just so is known.
    """
    assert found.trip is not None
    asked = [group.closing or found.trip.closing for group in found.trip.groups]
    out: dict[tuple[float, str], tuple[Closing, ...]] = {}
    for other in found.candidates:
        same = other.key.setups == one.key.setups and other.changes <= one.changes
        free = {choice.place for choice, pinned in _pinned(found, other) if not pinned}
        alike = len(free) < 2 or other.key.arrangement == one.key.arrangement
        if same and alike and other.harm_of_100 is not None:
            chosen = [choice.closing for choice in other.by_group]
            shut = tuple(settled(own, each.rule, each.at_s) for own, each in zip(asked, chosen, strict=True))
            out.setdefault((other.leave_s, found.place_of(other)), shut)
    return out


def asked_of_help(found: Answer, one: Candidate) -> Candidate:
    """The candidate that what helps is asked of: the load as the user has it, where the answer sets it up otherwise.

    Of boxes that have their screens on already nothing would tell that screens are what helps. What the user has chosen
    to look at is asked of as it is.
    """
    chosen_by_us = found.best is not None and one.key == found.best.key
    return found.declared if chosen_by_us and found.declared is not None else one


def _pinned(found: Answer, one: Candidate) -> list[tuple[GroupChoice, bool]]:
    """What a candidate does with each group, and whether the user has pinned the group to a place."""
    assert found.trip is not None
    return [
        (choice, group.loading_place is not None)
        for group, choice in zip(found.trip.groups, one.by_group, strict=True)
    ]


def settled_plan(found: Answer, one: Candidate, catalogue: Catalogue) -> Plan:
    """The plan of that trip; its one candidate is ``ONLY`` and bears the words the answer has for its boxes.

    To the settled trip itself those boxes are the load as declared; to the user who reads on they are not.
    """
    assert found.road is not None
    assert found.weather is not None
    trip = settled_trip(found, one, catalogue)
    plan = plan_trip(trip, found.road, found.weather, catalogue, setups=[AS_DECLARED])
    return replace(plan, setup_titles=(Words(found, catalogue).setup(one),))


def curves_of(found: Answer, one: Candidate, catalogue: Catalogue) -> Curves:
    """Histories of a candidate for drawing, calm, typical and agitated bees."""
    return curves(settled_plan(found, one, catalogue), ONLY, catalogue)


def curve_of(field: Field, found: Answer, one: Candidate, samples: int = 64) -> Curve:
    """The curve that half the samples stay below, with what 5 and 95 of 100 do.

    Not that of typical bees: what is common to all loads was narrowed for samples alone, so that bees at the middle
    of every range need not lie in the middle of what is likely.
    """
    drawn = curves_of(found, one, field.catalogue)
    time_s, bands, count = field.bands(one.key, samples)
    low, middle, high = (_at(drawn.time_s, time_s, band) for band in bands)
    return Curve(
        time_s=drawn.time_s,
        core_c=middle,
        core_low_c=low,
        core_high_c=high,
        air_c=drawn.outside_c,
        samples=count,
    )


def _at(time_s: np.ndarray, known_s: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Columns read at other instants; NaN outside."""
    return np.stack([np.interp(time_s, known_s, column, np.nan, np.nan) for column in values.T], axis=1)
