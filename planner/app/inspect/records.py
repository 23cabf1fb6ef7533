"""Checks in the logbook: each finding an event, corrections new events, the last word on each item what stands."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from planner.app.inspect.decide import Decision
from planner.app.inspect.items import (
    NOT_LOOKED,
    NOTHING,
    Finding,
    Findings,
    Item,
    asked_by_box,
    items,
    not_looked,
)
from planner.errors import StorageError
from planner.model.catalogue import Catalogue
from planner.model.records import Trip
from planner.store.logbook.book import Logbook
from planner.store.logbook.identity import trip_key
from planner.store.logbook.records import Entry, Event, Picture
from planner.words import say

SOON_S = 12 * 3600.0
"""A start so near is told of boxes nobody has looked at."""

KNOWN = tuple(item.name for item in items())


@dataclass(frozen=True)
class CheckedBox:
    """What the logbook says of one box: the last finding of each item, and the last decision.

    Of that its outcome, the typed reason of whoever went against it, its sentence as it was said then, and what that
    says without a language: the names of the changes it is released with, the minutes of the longest drive.
    """

    findings: Findings
    outcome: str = ""
    override: str = ""
    said: str = ""
    fixes: tuple[str, ...] = ()
    minutes: int = 0

    @property
    def looked(self) -> int:
        """Of how many items somebody has said what they are."""
        return sum(finding.state != NOT_LOOKED for finding in self.findings.values())


def write_findings(
    logbook: Logbook,
    trip: str,
    box: str,
    findings: Findings,
    *,
    at_s: float,
    who: str = "",
    plan: str = "",
    offset_s: int = 0,
    pictures: Iterable[Picture] = (),
    known: Findings | None = None,
) -> tuple[Event, ...]:
    """Write findings of a box down, those that say something new; safe on the disk when this returns.

    Pictures that no finding rests on are kept as photos of the box.
    """
    known = known or {}
    entries = [
        Entry("check", at_s, "box", box, _body(name, finding), trip, who, plan, "", offset_s)
        for name, finding in findings.items()
        if finding != known.get(name, NOTHING)
    ]
    pictures = tuple(pictures)
    told = {mark for finding in findings.values() for mark in finding.pictures}
    marks = [hashlib.sha256(picture.content).hexdigest() for picture in pictures]
    if bare := [mark for mark in marks if mark not in told]:
        entries.append(Entry("photo", at_s, "box", box, {"pictures": bare}, trip, who, plan, "", offset_s))
    return logbook.add(*entries, pictures=pictures) if entries else ()


def write_decision(
    logbook: Logbook, trip: str, box: str, decision: Decision, *, at_s: float, who: str = "", plan: str = ""
) -> Event:
    """Write down what became of a box."""
    body = {
        "outcome": decision.outcome,
        "text": decision.headline,
        "fixes": list(decision.fix_names),
        "minutes": decision.minutes,
        "override": decision.override,
        "reasons": list(decision.reasons),
    }
    (event,) = logbook.add(Entry("released", at_s, "box", box, body, trip, who, plan))
    return event


def _body(name: str, finding: Finding) -> dict[str, object]:
    body: dict[str, object] = {"item": name, "state": finding.state, "how": finding.how}
    if finding.value is not None:
        body["value"] = finding.value
    if finding.remark:
        body["text"] = finding.remark
    if finding.pictures:
        body["pictures"] = list(finding.pictures)
    return body


def checked(logbook: Logbook, trip: str) -> Mapping[str, CheckedBox]:
    """What the logbook says of every box of a trip that anybody has looked at."""
    findings: dict[str, dict[str, Finding]] = {}
    decisions: dict[str, CheckedBox] = {}
    for event in logbook.told(trip=trip, kinds=("check", "released")):
        if event.kind == "released":
            decisions[event.subject] = _decision(event)
        elif event.body.get("item") in KNOWN:
            findings.setdefault(event.subject, {})[str(event.body["item"])] = _finding(event)
            decisions.pop(event.subject, None)  # what is found after a decision undoes it
    names = findings.keys() | decisions.keys()
    undecided = CheckedBox({})
    return {box: replace(decisions.get(box, undecided), findings=findings.get(box, {})) for box in names}


def _decision(event: Event) -> CheckedBox:
    outcome, override, text = (str(event.body.get(name, "")) for name in ("outcome", "override", "text"))
    fixes, minutes = event.body.get("fixes"), event.body.get("minutes")
    names = tuple(map(str, fixes)) if isinstance(fixes, list) else ()
    return CheckedBox({}, outcome, override, text, names, minutes if isinstance(minutes, int) else 0)


def _finding(event: Event) -> Finding:
    body = event.body
    value = body.get("value")
    return Finding(
        state=body["state"] if body.get("state") in ("ok", "not_ok") else NOT_LOOKED,
        value=float(value) if isinstance(value, int | float) else None,
        how=body["how"] if body.get("how") in ("photo", "scale") else "eye",
        remark=str(body.get("text", "")),
        pictures=tuple(map(str, body.get("pictures", ()))),
    )


def start_remarks(trip: Trip, known: Mapping[str, CheckedBox], catalogue: Catalogue) -> tuple[str, ...]:
    """What a start has to say of its boxes: those nobody looked at, those held, those that go against advice."""
    names = asked_by_box(trip, catalogue)
    unlooked = [name for name, asked in names.items() if _unlooked(known, name, asked)]
    held = [name for name in names if _outcome(known, name) == "held"]
    against = [name for name in names if name in known and known[name].override]
    said = []
    if unlooked:
        said.append(say("checks.start_unlooked", count=len(unlooked), all=len(names), boxes=_few(unlooked)))
    if held:
        said.append(say("checks.start_held", count=len(held), boxes=_few(held)))
    if against:
        said.append(say("checks.start_against", count=len(against), boxes=_few(against)))
    return tuple(said)


def start_cautions(
    path: Path | None,
    trip: Trip,
    catalogue: Catalogue,
    leave_s: float,
    now_s: float,
    logbook: Logbook | None = None,
) -> tuple[str, ...]:
    """What the answer has to say of the boxes of a trip file: nothing before anybody begins to look, or starts soon.

    Never raises: where the logbook cannot be read, that is what is said.
    """
    if path is None:
        return ()
    try:
        known = checked(logbook or Logbook(), trip_key(path))
    except StorageError as error:
        return (say("checks.start_unread", reason=str(error)),)
    soon = 0.0 <= leave_s - now_s <= SOON_S
    return start_remarks(trip, known, catalogue) if known or soon else ()


def _unlooked(known: Mapping[str, CheckedBox], name: str, asked: Sequence[Item]) -> bool:
    """Whether nobody has looked at all of a box; one that is released with something may be such a one too."""
    outcome = _outcome(known, name)
    if outcome in ("released_with", "released_under"):
        return bool(not_looked(known[name].findings, asked))
    return outcome in ("", "not_looked")


def _outcome(known: Mapping[str, CheckedBox], name: str) -> str:
    found = known.get(name)
    return "" if found is None else "overridden" if found.override else found.outcome


def _few(names: list[str], most: int = 6) -> str:
    shown = ", ".join(names[:most])
    return say("checks.and_more", shown=shown, count=len(names) - most) if len(names) > most else shown
