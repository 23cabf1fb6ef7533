"""What people type of boxes: one word an item, or a whole list that was printed, written on and typed in."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Mapping, Sequence
from typing import TypeVar

from planner.app.inspect.items import (
    NOT_LOOKED,
    NOT_OK,
    OK,
    Finding,
    Item,
    State,
    checked_value,
    item_of,
    items,
    planned_value,
)
from planner.errors import Fault, InputError
from planner.model.records import Group
from planner.store.schema import did_you_mean
from planner.words import say

T = TypeVar("T")

WORDS: Mapping[str, State] = {
    "": NOT_LOOKED,
    "-": NOT_LOOKED,
    "ok": OK,
    "yes": OK,
    "y": OK,
    "✓": OK,
    "no": NOT_OK,
    "not_ok": NOT_OK,
    "n": NOT_OK,
    "x": NOT_OK,
}
"""What a cell or the part after ``floor=`` may say besides a figure: on the printed list a tick and a cross."""

BOX, REMARK, WHO = "box", "remark", "who"
MOST_BYTES, MOST_ROWS = 4_000_000, 5000
MOST_REMARK = 400


def found_in(words: Sequence[str]) -> dict[str, Finding]:
    """Findings as they are typed: ``floor=40 straps=ok screen=no``. Raises InputError with every fault."""
    return each_typed(words, finding_of)


def each_typed(words: Sequence[str], read: Callable[[str, str], T]) -> dict[str, T]:
    """What is typed as ``name=text``, by name, each taken by ``read``. Raises InputError with every fault."""
    faults: list[Fault] = []
    found: dict[str, T] = {}
    for word in words:
        name, _, text = word.partition("=")
        try:
            found[name] = read(name, text)
        except InputError as error:
            faults += error.faults
    if faults:
        raise InputError(faults)
    return found


def finding_of(name: str, text: str) -> Finding:
    """One finding as typed: ok, no, nothing, or a figure; a figure with a cross before it was seen not to be ok.

    Raises InputError.
    """
    item, typed = item_of(name), text.strip().lower()
    if typed in WORDS:
        return Finding(WORDS[typed])
    first, _, figure = typed.partition(" ")
    state, figure = (WORDS[first], figure) if first in WORDS and figure else (OK, typed)
    try:
        value = float(figure.removesuffix("%").strip().replace(",", "."))
    except ValueError:
        raise InputError([Fault(name, text, say("checks.no_state"), say("checks.give_state"))]) from None
    return Finding(state, checked_value(item, value))


def measured(found: Mapping[str, Finding], planned: Group) -> dict[str, Finding]:
    """Figures beside the plan's: one that is the plan's own is ok, any other not."""
    out = {}
    for name, finding in found.items():
        item = item_of(name)
        wanted = planned_value(item, planned)
        if finding.value is not None and item.failing == "judged":
            same = wanted is not None and abs(finding.value - wanted) < 1e-6
            finding = Finding(
                OK if same else NOT_OK, finding.value, finding.how, finding.remark, finding.pictures
            )
        elif finding.state == OK and item.figure and finding.value is None:
            finding = Finding(OK, wanted)
        out[name] = finding
    return out


# -- a whole list ----------------------------------------------------------------------------------


def table_csv(asked: Mapping[str, Sequence[Item]]) -> str:
    """An empty list to be typed into: a row a box, a column an item that any box is asked about."""
    text = io.StringIO()
    rows = csv.writer(text)
    columns = [item for item in items() if any(item in each for each in asked.values())]
    rows.writerow([BOX, *(item.name for item in columns), REMARK])
    rows.writerows([box, *("" for _ in columns), ""] for box in asked)
    return text.getvalue()


def typed_in(content: bytes, boxes: Sequence[str], where: str = "") -> dict[str, dict[str, Finding]]:
    """What was found on each box, from a list that was typed in; boxes of which nothing is said are left out.

    Columns are called as the items are, or as the printed list heads them; ``remark`` goes with what was not ok.
    Separated by commas, semicolons or tabs. Raises InputError with every fault and its line.
    """
    heads, rows = _rows(content, where)
    faults: list[Fault] = []
    found: dict[str, dict[str, Finding]] = {}
    for line, row in rows:
        box = row.get(BOX, "")
        if box not in boxes or box in found:
            problem = say("checks.no_box") if box not in boxes else say("checks.twice")
            faults.append(Fault(f"{line}.{BOX}", box, problem, did_you_mean(box, boxes)))
            continue
        found[box] = {}
        for name in heads:
            if name in (BOX, REMARK):
                continue
            try:
                finding = finding_of(name, row.get(name, ""))
            except InputError as error:
                faults += [Fault(f"{line}.{name}", f.value, f.problem, f.remedy) for f in error.faults]
                continue
            if finding.state != NOT_LOOKED:
                found[box][name] = finding
        _remarked(found[box], row.get(REMARK, ""))
    if faults:
        raise InputError(faults, where)
    return {box: findings for box, findings in found.items() if findings}


def _remarked(findings: dict[str, Finding], remark: str) -> None:
    """Put the remark of a row where it belongs: to what was not ok, else to the last thing looked at."""
    if not remark or not findings:
        return
    at = next((name for name, one in findings.items() if one.state == NOT_OK), [*findings][-1])
    one = findings[at]
    findings[at] = Finding(one.state, one.value, one.how, remark[:MOST_REMARK], one.pictures)


def _rows(content: bytes, where: str) -> tuple[list[str], list[tuple[int, dict[str, str]]]]:
    """The columns by the items' names, and the rows with the line each stands on. Raises InputError."""
    if len(content) > MOST_BYTES:
        raise InputError([Fault("", "", say("checks.list_too_long"), say("checks.list_remedy"))], where)
    text = content.decode("utf-8-sig", "replace").replace("\0", "")
    first = text.split("\n", 1)[0]
    table = list(csv.reader(io.StringIO(text), delimiter=max(",;\t", key=first.count), strict=False))
    if len(table) > MOST_ROWS:
        raise InputError([Fault("", "", say("checks.list_too_long"), say("checks.list_remedy"))], where)
    names = {say(f"checks.short_{item.name}").lower(): item.name for item in items()}
    heads = [names.get(head.strip().lower(), head.strip().lower()) for head in (table[0] if table else [])]
    known = [BOX, REMARK, *(item.name for item in items())]
    wrong = [
        Fault(head, "", say("checks.no_item"), did_you_mean(head, known))
        for head in heads
        if head not in known
    ]
    if BOX not in heads:
        wrong.append(Fault(BOX, first[:60], say("checks.list_no_box"), say("checks.list_remedy")))
    if wrong:
        raise InputError(wrong, where)
    rows = [
        (line, {head: cell.strip() for head, cell in zip(heads, row, strict=False)})
        for line, row in enumerate(table[1:], 2)
        if any(cell.strip() for cell in row)
    ]
    return heads, rows
