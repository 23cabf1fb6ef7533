"""How long records are kept: the rules of some countries as data, and the user's own choice with its day."""

from __future__ import annotations

import json
import sqlite3
import tomllib
from dataclasses import dataclass
from datetime import date

from planner.bundled import resource_path
from planner.errors import Fault, InputError
from planner.store.logbook.book import Logbook
from planner.store.logbook.records import Person
from planner.words import say

YEAR_S = 365.25 * 86400.0
SETTING = "retention"
MOST_YEARS = 100


@dataclass(frozen=True)
class Retention:
    """How many years records are kept, and the ISO day somebody last looked whether that is what the law asks."""

    years: int
    checked_on: str


@dataclass(frozen=True)
class Rule:
    """What one body of rules asks for."""

    title: str
    years: int
    asks: str
    grade: str
    source: str
    checked_on: str


def rules() -> tuple[Rule, ...]:
    """The rules we bring."""
    table = tomllib.loads(resource_path("retention.toml").read_text("utf-8"))
    return tuple(Rule(**row) for row in table["rule"])


def retention(logbook: Logbook) -> Retention:
    """The user's choice, or the longest rule we know as long as none was made."""
    kept = logbook.setting(SETTING)
    if kept is None:
        longest = max(rules(), key=lambda rule: rule.years)
        return Retention(longest.years, longest.checked_on)
    found = json.loads(kept)
    return Retention(int(found["years"]), str(found["checked_on"]))


def keep_for(logbook: Logbook, years: int, checked_on: str) -> None:
    """Choose how long records are kept. Raises InputError."""
    faults = []
    if not 1 <= years <= MOST_YEARS:
        faults.append(
            Fault(
                "years", str(years), say("logbook.years_wrong"), say("logbook.years_remedy", most=MOST_YEARS)
            )
        )
    try:
        date.fromisoformat(checked_on)
    except ValueError:
        faults.append(Fault("checked", checked_on, say("logbook.day_wrong"), say("logbook.day_remedy")))
    if faults:
        raise InputError(faults)
    logbook.set_setting(SETTING, json.dumps({"years": years, "checked_on": checked_on}))


def due(logbook: Logbook, now_s: float) -> tuple[Person, ...]:
    """People of whom nothing has been written down for longer than records are kept, and who could be erased."""
    oldest_s = now_s - retention(logbook).years * YEAR_S

    def asked(book: sqlite3.Connection) -> tuple[str, ...]:
        text = (
            "select p.key from person p where p.erased_s is null and not exists (select 1 from event e where "
            "(e.who = p.key or e.subject = p.key or instr(e.body, p.key) > 0) and e.at_s >= ?)"
        )
        return tuple(key for (key,) in book.execute(text, (oldest_s,)))

    keys = set(logbook.asked(asked))
    return tuple(person for person in logbook.people() if person.key in keys)
