"""Candidates found again: the same departure, place and set-up in a newer answer, the one nearest to a wish."""

from __future__ import annotations

from planner.app.answer.records import Answer, Candidate


def same_candidate(answer: Answer, before: Candidate | None) -> Candidate | None:
    """The candidate of a newer answer for the same departure, place and set-up, as near as it has one."""
    if before is None:
        return None
    same = [one for one in answer.candidates if (one.place, one.setup) == (before.place, before.setup)]
    return min(same, key=lambda one: abs(one.leave_s - before.leave_s), default=None)


def same_trip(one: Candidate, two: Candidate) -> bool:
    """Whether two records are of one and the same trip: an early answer and a later judge it in other samples."""
    return (one.key, one.leave_s, one.place, one.setup) == (two.key, two.leave_s, two.place, two.setup)


def nearest(answer: Answer, leave_s: float, place: str = "") -> Candidate | None:
    """The best of those that leave nearest to an instant, with the boxes that are free to ride in ``place`` if any."""
    every = answer.candidates
    there = [one for one in every if place and answer.place_of(one) == place] or every
    return min(there, key=lambda one: abs(one.leave_s - leave_s), default=None)
