"""What becomes of a box: released, released with something, released for short drives only, or held: advice."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from planner.app.inspect.items import (
    NOT_OK,
    NOTHING,
    Findings,
    Item,
    cautions,
    differing,
    failing,
    found_group,
    not_looked,
)
from planner.app.inspect.judge import Judge, Rejudged
from planner.errors import Fault, InputError
from planner.words import say

Outcome = Literal["not_looked", "released", "released_with", "released_under", "held"]
LEAST_REASON = 8
"""Letters a reason has at least, so that a slip of the thumb is none."""


@dataclass(frozen=True)
class Decision:
    """What becomes of a box and why; ``minutes`` of the longest drive where only short ones are safe.

    ``reasons`` and ``fixes`` are sentences and titles for people; ``override`` the typed reason of whoever lets the
    box go all the same, "" where nobody did.
    """

    outcome: Outcome
    reasons: tuple[str, ...] = ()
    fixes: tuple[str, ...] = ()
    fix_names: tuple[str, ...] = ()
    minutes: int = 0
    cautions: tuple[str, ...] = ()
    override: str = ""
    rejudged: Rejudged | None = None

    @property
    def goes(self) -> bool:
        """Whether the box rides: as it is, once it is mended, or because somebody said so."""
        return self.outcome in ("released", "released_with", "released_under") or bool(self.override)

    @property
    def headline(self) -> str:
        if self.override:
            return say("checks.overridden", reason=self.override)
        if self.outcome == "released_with":
            return say("checks.released_with", fixes=listed(self.fixes))
        if self.outcome == "released_under":
            return say("checks.released_under", count=self.minutes)
        return say(f"checks.outcome_{self.outcome}")


def decided(findings: Findings, box: str, judge: Judge) -> Decision:
    """What becomes of a box as it was found; figures other than planned are worked out at once."""
    planned = judge.planned(box)
    said = tuple(cautions(findings, planned))
    if held := failing(findings, planned, "hold"):
        return Decision("held", tuple(_held(item) for item in held), cautions=said)
    rejudged = None
    if differs := differing(findings, planned):
        rejudged = judge.rejudged(box, found_group(findings, planned))
    mend = failing(findings, planned, "mend")
    reasons = tuple(say(f"checks.mend_{item.name}") for item in mend)
    if rejudged is not None:
        reasons = (*reasons, *(_differs(findings, item) for item in differs), _margin(rejudged))
    found = _thermal(rejudged)
    if mend:
        found = replace(found, outcome="held")
    elif found.outcome != "held" and (left := not_looked(findings, judge.items(box))):
        reasons += (say("checks.not_looked_at", items=listed(tuple(item.title for item in left))),)
        if found.outcome == "released":
            found = replace(found, outcome="not_looked")
    return replace(found, reasons=reasons, cautions=said, rejudged=rejudged)


def _thermal(rejudged: Rejudged | None) -> Decision:
    if rejudged is None or rejudged.safe:
        return Decision("released")
    if rejudged.fix:
        fixes = tuple(change.title for change in rejudged.fix)
        return Decision("released_with", fixes=fixes, fix_names=tuple(change.name for change in rejudged.fix))
    if rejudged.minutes:
        return Decision("released_under", minutes=rejudged.minutes)
    return Decision("held")


def overridden(decision: Decision, findings: Findings, reason: str) -> Decision:
    """The box goes all the same, for a typed reason that stands on the receipt.

    Raises InputError without a reason, where there is nothing to go against, and for signs of disease: there the law
    has the word.
    """
    reason = " ".join(reason.split())
    if findings.get("disease", NOTHING).state == NOT_OK:
        raise InputError([Fault("reason", "", say("checks.no_override"), say("checks.call_inspector"))])
    if decision.outcome == "released":
        raise InputError([Fault("reason", "", say("checks.nothing_to_override"), say("checks.leave_reason"))])
    if sum(letter.isalpha() for letter in reason) < LEAST_REASON:
        raise InputError([Fault("reason", reason, say("checks.no_reason"), say("checks.give_reason"))])
    return replace(decision, override=reason)


def listed(words: tuple[str, ...]) -> str:
    """Words in a row, as a sentence has them."""
    if len(words) < 2:
        return "".join(words)
    return say("checks.and", first=", ".join(words[:-1]), last=words[-1])


def _held(item: Item) -> str:
    return say(f"checks.hold_{item.name}")


def _differs(findings: Findings, item: Item) -> str:
    value = findings[item.name].value
    if value is None:
        return say(f"checks.worse_{item.name}")
    measure = say(f"checks.measure_{item.figure}")
    return say("checks.differs", item=say(f"checks.short_{item.name}"), value=f"{value:g}", measure=measure)


def _margin(rejudged: Rejudged) -> str:
    found, planned = rejudged.found, rejudged.planned
    return say("checks.margin", before=planned.no_harm.of_hundred, now=found.no_harm.of_hundred)
