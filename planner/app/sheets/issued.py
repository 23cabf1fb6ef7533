"""What the logbook adds to sheets, and what it keeps of them: findings for the receipt, the plan they came from."""

from __future__ import annotations

from dataclasses import replace

from planner.app.inspect.pinned import pin
from planner.app.inspect.records import CheckedBox, checked
from planner.app.plan.results import Choice, Plan
from planner.app.sheets.facts import BoxFound, TripFacts
from planner.app.sheets.stuck import box_names
from planner.model.catalogue import Catalogue
from planner.store.documents import Document
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Entry, PinnedPlan


def with_findings(facts: TripFacts, logbook: Logbook, trip: str) -> TripFacts:
    """The facts with what the logbook knows of the boxes: when each was shut, what the check found.

    Nothing is added as long as nobody has begun to look. Raises StorageError.
    """
    known = checked(logbook, trip)
    shut = {event.subject: event.at_s for event in logbook.told(trip=trip, kinds=("closed",))}
    if not known and not shut:
        return facts
    found = []
    for name, _ in box_names(facts):
        one = known.get(name, CheckedBox({}))
        found.append(
            BoxFound(name, one.outcome, one.said, one.override, shut.get(name), one.fixes, one.minutes)
        )
    return replace(facts, found=tuple(found))


def issued(
    facts: TripFacts,
    plan: Plan,
    choice: Choice,
    *,
    logbook: Logbook,
    trip: str,
    draft: Document,
    catalogue: Catalogue,
) -> PinnedPlan:
    """Keep the plan that sheets were printed from, and that they were. Raises StorageError."""
    at_s = facts.proof.printed_s
    kept = pin(logbook, trip, plan, choice, draft, catalogue, made_s=at_s)
    body = {"code": facts.code, "replaces": facts.proof.replaces}
    logbook.add(Entry("paper", at_s, "trip", "", body, trip, plan=kept.id))
    return kept
