"""A round along the boxes: the hand goes from item to item and box to box, every answer a key of its own."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from planner.app.inspect.decide import Decision, decided, overridden
from planner.app.inspect.items import (
    NOT_LOOKED,
    NOT_OK,
    NOTHING,
    OK,
    Finding,
    Findings,
    How,
    Item,
    State,
    boxes_of,
    checked_value,
    differing,
    items,
    planned_value,
)
from planner.app.inspect.judge import Judge
from planner.app.inspect.records import CheckedBox, checked, write_decision, write_findings
from planner.app.inspect.typed import measured
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Picture

__all__ = ["NOT_LOOKED", "NOT_OK", "OK", "Finding", "Item", "Round", "State", "items"]


class Round:
    """Which box and item is looked at, and what was found; nothing is written before ``keep``."""

    def __init__(self, logbook: Logbook, trip: str, judge: Judge, plan: str = "") -> None:
        self.logbook, self.trip, self.judge, self.plan = logbook, trip, judge, plan
        self.boxes = tuple(box.name for box in boxes_of(judge.kept.trip))
        self.known: dict[str, CheckedBox] = dict(checked(logbook, trip))
        self.at = 0
        self._found: dict[str, dict[str, Finding]] = {}
        self._pictures: dict[str, list[Picture]] = {}

    @property
    def box(self) -> str:
        """The box that is looked at."""
        return self.boxes[self.at]

    @property
    def items(self) -> tuple[Item, ...]:
        """What it is asked about, in the order of the hand."""
        return self.judge.items(self.box)

    def findings(self, box: str = "") -> Findings:
        """What was found on a box, kept or not yet."""
        box = box or self.box
        before = self.known[box].findings if box in self.known else {}
        return {**before, **self._found.get(box, {})}

    def answer(
        self,
        item: Item,
        state: State,
        value: float | None = None,
        how: How = "eye",
        pictures: tuple[str, ...] = (),
    ) -> None:
        """One answer on one item; as planned takes the plan's own figure. Raises InputError out of bounds."""
        if state == OK and item.figure:
            value = planned_value(item, self.judge.planned(self.box))
        finding = Finding(
            state, None if state == NOT_LOOKED else checked_value(item, value), how, "", pictures
        )
        self._found.setdefault(self.box, {})[item.name] = finding

    def take(self, box: str, found: Findings, pictures: Iterable[Picture] = ()) -> None:
        """What a photo or a list that was typed says of a box, beside what was found before."""
        planned = self.judge.planned(box)
        self._found.setdefault(box, {}).update(measured(found, planned))
        self._pictures.setdefault(box, []).extend(pictures)

    @property
    def quick(self) -> bool:
        """Whether the box can be decided on without working anything out anew."""
        return not differing(self.findings(), self.judge.planned(self.box))

    def decided(self, box: str = "") -> Decision:
        """What becomes of a box as it was found; takes a moment where a figure differs."""
        return decided(self.findings(box), box or self.box, self.judge)

    def keep(self, at_s: float, *, box: str = "", who: str = "", offset_s: int = 0) -> bool:
        """Write what is new of a box down, the one that is looked at; true where there was anything."""
        box = box or self.box
        before = self.known[box].findings if box in self.known else {}
        after = self.findings(box)
        pictures = self._pictures.pop(box, [])
        if after == before and not pictures:
            return False
        write_findings(
            self.logbook,
            self.trip,
            box,
            after,
            at_s=at_s,
            who=who,
            plan=self.plan,
            offset_s=offset_s,
            pictures=pictures,
            known=before,
        )
        self.known[box] = CheckedBox(after)
        self._found.pop(box, None)
        return True

    def settle(
        self, box: str, decision: Decision, at_s: float, *, who: str = "", reason: str = ""
    ) -> Decision:
        """Write down what becomes of a box, against advice where a reason is typed. Raises InputError."""
        if reason:
            decision = overridden(decision, self.findings(box), reason)
        write_decision(self.logbook, self.trip, box, decision, at_s=at_s, who=who, plan=self.plan)
        findings = self.known[box].findings if box in self.known else {}
        self.known[box] = CheckedBox(findings, decision.outcome, decision.override, decision.headline)
        return decision

    def state_of(self, item: Item) -> Finding:
        """What was found on an item of the box."""
        return self.findings().get(item.name, NOTHING)

    def outcomes(self) -> Mapping[str, str]:
        """How each box stands: an outcome, or "" where nobody has decided."""
        return {box: self.known[box].said if box in self.known else "" for box in self.boxes}
